//! What is bought, taken, pulled, and what it comes to.

use slotwright::module::Telling;
use slotwright::purchase::{ModuleSource, PlanLine};
use slotwright::unit::Cost;
use slotwright::{Plan, PlanRequest, Price};

use super::paper::Paper;

/// The lines of the order and everything else that costs or gives money.
pub(crate) fn write(paper: &mut Paper, request: &PlanRequest, plan: &Plan) {
    paper.heading("ORDER");
    row(paper, ["qty", "from", "module", "each", "line"]);
    let named = plan.lines.iter().map(|line| &line.module).chain(plan.pulled.iter().map(|pulled| &pulled.module));
    let telling = Telling::among(named);
    plan.lines.iter().for_each(|entry| line(paper, request, entry, &telling));
    if plan.lines.is_empty() {
        paper.line("Nothing is bought and nothing is taken from the shelf.");
    }
    for charge in &plan.charges {
        amount(paper, &format!("{} charges for an order", charge.supplier), charge.charge.into());
    }
    let cost = &plan.cost;
    if cost.returns.amount_minor() != 0 {
        amount(paper, "sending back what is not kept", cost.returns);
    }
    if plan.handlings > 0 {
        let each = request.labour_per_handling.map_or(String::new(), |each| format!(" at {each}"));
        let machines =
            if plan.machines == 1 { String::new() } else { format!(" in each of {} machines", plan.machines) };
        amount(paper, &format!("labour: {} handlings{each}{machines}", plan.handlings), cost.labour);
    }
    pulled(paper, plan, &telling);
    for surplus in &plan.to_shelf {
        let text = format!("{} x {} of {} are not fitted: to the shelf", surplus.quantity, surplus.module, surplus.id);
        paper.line(&format!("     {text}"));
    }
    for spare in &plan.spares {
        let at_hand = spare.bought + spare.on_shelf + spare.pulled;
        paper.line(&format!("     spares: {at_hand} x {} are at hand and not fitted", spare.module));
    }
    if cost.surplus.amount_minor() != 0 {
        amount(paper, "what goes to the shelf is worth", cost.surplus);
    }
    amount(paper, "TOTAL", cost.total);
    per_gb(paper, plan);
    match request.budget {
        Some(budget) => paper.line(&format!("     The budget is {budget}.")),
        None => paper.line("     No budget was given."),
    }
}

fn row(paper: &mut Paper, [quantity, from, module, each, line]: [&str; 5]) {
    paper.line(&format!("{quantity:>3}  {from:<34}{module:<33}{each:>13} {line:>14}"));
}

fn line(paper: &mut Paper, request: &PlanRequest, line: &PlanLine, telling: &Telling) {
    let PlanLine { source, module, quantity, unit_price, line_price, supplier, data, .. } = line;
    let pack = request.offers.iter().find(|offer| *source == ModuleSource::Offer { id: offer.id.clone() });
    let mut from = source.to_string();
    if let Some(offer) = pack.filter(|offer| offer.pack > 1) {
        let packs = *quantity / usize::try_from(offer.pack).unwrap_or(1).max(1);
        let word = if packs == 1 { "pack" } else { "packs" };
        from.push_str(&format!(", {packs} {word} of {}", offer.pack));
    }
    let price = |price: &Option<Price>| price.map_or("not valued".to_owned(), |price| price.to_string());
    row(paper, [&quantity.to_string(), &from, &telling.text(module), &price(unit_price), &price(line_price)]);
    let mut said: Vec<String> = supplier.iter().map(ToString::to_string).collect();
    said.extend(line.condition.map(|condition| condition.to_string()));
    said.extend(line.lead_time_days.map(|days| format!("{days} days")));
    said.extend((line.returned > 0).then(|| format!("{} of them sent back", line.returned)));
    said.extend(data.iter().filter(|text| !text.is_empty()).cloned());
    if !said.is_empty() {
        paper.line(&format!("       {}", said.join("; ")));
    }
}

fn amount(paper: &mut Paper, what: &str, cost: Cost) {
    paper.line(&format!("     {what:<80}{:>14}", cost.to_string()));
}

/// What is taken out for good, equal modules together.
fn pulled(paper: &mut Paper, plan: &Plan, telling: &Telling) {
    let mut groups: Vec<(String, Vec<String>)> = Vec::new();
    for pulled in &plan.pulled {
        let credit = pulled.credit.map_or(String::new(), |credit| format!(", credit {credit} each"));
        let text = format!("{}{credit}", telling.text(&pulled.module));
        match groups.iter_mut().find(|(known, _)| *known == text) {
            Some((_, slots)) => slots.push(pulled.slot.to_string()),
            None => groups.push((text, vec![pulled.slot.to_string()])),
        }
    }
    for (text, slots) in groups {
        let of_each = if plan.machines == 1 { "" } else { " of each machine" };
        paper.line(&format!("     pulled: {} x {text}, from {}{of_each}", slots.len(), slots.join(", ")));
    }
    if plan.cost.credit.amount_minor() != 0 {
        amount(paper, "credit for what is pulled", plan.cost.credit);
    }
}

/// The figure by which quotes are compared, to the nearest minor unit.
fn per_gb(paper: &mut Paper, plan: &Plan) {
    let machines = u64::from(plan.machines);
    let gb =
        plan.assessment.figures.installed.total_mib.times(machines).whole_gib().and_then(|gb| i64::try_from(gb).ok());
    if let Some(gb) = gb.filter(|gb| *gb > 0) {
        let rounded = plan.cost.total.amount_minor().saturating_mul(2).saturating_add(gb).div_euclid(2 * gb);
        let each = Cost::new(rounded, plan.cost.total.currency());
        amount(paper, &format!("for each of the {gb} GB afterwards, rounded"), each);
    }
}
