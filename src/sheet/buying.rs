//! What is bought, taken, pulled, and what it comes to.

use crate::module::Telling;
use crate::purchase::{ModuleSource, Plan, PlanLine, PlanRequest};
use crate::sheet::{Cell, Column, Job, Section, Sheet, Table};
use crate::unit::{Cost, Price};

impl Job<'_> {
    /// The buying list of a plan: what is ordered of whom, by supplier, and what it costs.
    #[must_use]
    pub fn buying_list(&self, plan: &Plan) -> Sheet {
        let mut sheet = Sheet::new(format!("BUYING LIST   {}", self.title)).section(self.asked());
        let telling = telling(plan);
        let mut suppliers: Vec<_> = offers(plan).map(|line| &line.supplier).collect();
        suppliers.sort();
        suppliers.dedup();
        for supplier in suppliers {
            let heading = supplier.as_ref().map_or("NO SUPPLIER GIVEN".to_owned(), ToString::to_string);
            let mut table = lines_table();
            for line in offers(plan).filter(|line| line.supplier == *supplier) {
                row(&mut table, self.request, line, &telling, false);
            }
            let charges = plan.charges.iter().filter(|charge| Some(&charge.supplier) == supplier.as_ref());
            sheet = sheet.section(
                Section::new(heading)
                    .table(table.without_empty_columns())
                    .items(charges.map(|charge| format!("charge for the order: {}", charge.charge))),
            );
        }
        if offers(plan).next().is_none() {
            sheet = sheet.section(Section::new("ORDER").line("Nothing is bought."));
        }
        sheet.section(money(self.request, plan)).section(self.foundation(self.assumed_of(plan)))
    }
}

fn offers(plan: &Plan) -> impl Iterator<Item = &PlanLine> {
    plan.lines.iter().filter(|line| matches!(line.source, ModuleSource::Offer { .. }))
}

/// What tells the modules of a plan's lines apart.
pub(super) fn telling(plan: &Plan) -> Telling {
    let pulled = plan.pulled.iter().map(|pulled| &pulled.module);
    Telling::among(plan.lines.iter().map(|line| &line.module).chain(pulled))
}

fn lines_table() -> Table {
    Table::new([
        Column::count("qty"),
        Column::text("from"),
        Column::text("module"),
        Column::money("each"),
        Column::money("line"),
        Column::text("terms"),
    ])
}

fn row(table: &mut Table, request: &PlanRequest, line: &PlanLine, telling: &Telling, has_supplier: bool) {
    let PlanLine {
        source,
        module,
        quantity,
        returned,
        unit_price,
        line_price,
        supplier,
        condition,
        lead_time_days,
        data,
    } = line;
    let mut from = source.to_string();
    let offer = request.offers.iter().find(|offer| source.is_offer(&offer.id)).filter(|offer| offer.pack > 1);
    if let Some(offer) = offer {
        let packs = quantity / usize::try_from(offer.pack).unwrap_or(1).max(1);
        let word = if packs == 1 { "pack" } else { "packs" };
        from.push_str(&format!(", {packs} {word} of {}", offer.pack));
    }
    let mut terms: Vec<String> = supplier.iter().filter(|_| has_supplier).map(ToString::to_string).collect();
    terms.extend(condition.map(|condition| condition.to_string()));
    terms.extend(lead_time_days.map(|days| format!("{days} days")));
    terms.extend((*returned > 0).then(|| format!("{returned} of them sent back")));
    terms.extend(data.iter().filter(|text| !text.is_empty()).cloned());
    let money = |price: &Option<Price>| price.map_or(Cell::text("not valued"), |price| Cell::Money(price.into()));
    table.row([
        Cell::count(*quantity),
        Cell::text(from),
        Cell::text(telling.text(module)),
        money(unit_price),
        money(line_price),
        if terms.is_empty() { Cell::Empty } else { Cell::text(terms.join("; ")) },
    ]);
}

/// The lines of an order.
pub(super) fn order(request: &PlanRequest, plan: &Plan) -> Section {
    let section = Section::new("ORDER");
    if plan.lines.is_empty() {
        return section.line("Nothing is bought and nothing is taken from the shelf.");
    }
    let (mut table, telling) = (lines_table(), telling(plan));
    for line in &plan.lines {
        row(&mut table, request, line, &telling, true);
    }
    section.table(table.without_empty_columns())
}

/// Everything that costs or gives money, to the total.
pub(super) fn money(request: &PlanRequest, plan: &Plan) -> Section {
    let mut table = Table::new([Column::text("money"), Column::money("amount")]);
    let mut amount = |what: String, cost: Cost| table.row([Cell::text(what), Cell::Money(cost)]);
    let cost = &plan.cost;
    let is_some = |cost: &Cost| cost.amount_minor() != 0;
    if is_some(&cost.purchases) {
        amount("bought".to_owned(), cost.purchases);
    }
    if is_some(&cost.shelf) {
        amount("taken from the shelf".to_owned(), cost.shelf);
    }
    for charge in &plan.charges {
        amount(format!("{} charges for an order", charge.supplier), charge.charge.into());
    }
    if is_some(&cost.returns) {
        amount("sending back what is not kept".to_owned(), cost.returns);
    }
    if plan.handlings > 0 {
        let each = request.labour_per_handling.map_or(String::new(), |each| format!(" at {each}"));
        let machines =
            if plan.machines == 1 { String::new() } else { format!(" in each of {} machines", plan.machines) };
        amount(format!("labour: {} handlings{each}{machines}", plan.handlings), cost.labour);
    }
    if is_some(&cost.credit) {
        amount("credit for what is pulled".to_owned(), cost.credit);
    }
    if is_some(&cost.surplus) {
        amount("what goes to the shelf is worth".to_owned(), cost.surplus);
    }
    amount("TOTAL".to_owned(), cost.total);
    if let Some((gb, each)) = per_gb(plan) {
        amount(format!("for each of the {gb} GB afterwards, rounded"), each);
    }
    let mut section = Section::new("MONEY").table(table);
    section = section.items(pulled(plan));
    for surplus in &plan.to_shelf {
        let text = format!("{} x {} of {} are not fitted: to the shelf", surplus.quantity, surplus.module, surplus.id);
        section = section.items([text]);
    }
    for spare in &plan.spares {
        let at_hand = spare.bought + spare.on_shelf + spare.pulled;
        section = section.items([format!("spares: {at_hand} x {} are at hand and not fitted", spare.module)]);
    }
    section.items([match request.budget {
        Some(budget) => format!("the budget is {budget}"),
        None => "no budget was given".to_owned(),
    }])
}

/// What is taken out for good, equal modules together.
pub(super) fn pulled(plan: &Plan) -> Vec<String> {
    let telling = telling(plan);
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for pulled in &plan.pulled {
        let credit = pulled.credit.map_or(String::new(), |credit| format!(", credit {credit} each"));
        let fault = pulled.fault.map_or(String::new(), |fault| format!(", {fault}"));
        let text = format!("{}{credit}{fault}", telling.text(&pulled.module));
        match groups.iter_mut().find(|(known, _)| *known == text) {
            Some((_, slots)) => slots.push(pulled.slot.to_string()),
            None => groups.push((text, vec![pulled.slot.to_string()])),
        }
    }
    let of_each = if plan.machines == 1 { "" } else { " of each machine" };
    let line = |(text, slots): (String, Vec<String>)| {
        format!("pulled: {} x {text}, from {}{of_each}", slots.len(), slots.join(", "))
    };
    groups.into_iter().map(line).collect()
}

/// The figure by which quotes are compared, to the nearest minor unit.
fn per_gb(plan: &Plan) -> Option<(i64, Cost)> {
    let installed = plan.assessment.figures.installed.total_mib.times(u64::from(plan.machines));
    let gb = installed.whole_gib().and_then(|gb| i64::try_from(gb).ok()).filter(|gb| *gb > 0)?;
    let rounded = plan.cost.total.amount_minor().saturating_mul(2).saturating_add(gb).div_euclid(2 * gb);
    Some((gb, Cost::new(rounded, plan.cost.total.currency())))
}
