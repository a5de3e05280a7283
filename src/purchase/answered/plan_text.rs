//! A plan as text.

use core::fmt;

use crate::finding::{Finding, Severity};
use crate::module::{MemoryModule, Telling};
use crate::purchase::{Condition, CostSheet, Plan, PlanLine, SpareLine};
use crate::unit::{Cost, Name, counted};

/// An amount of all machines together, and said to be where there are several.
pub(crate) fn together(machines: u32, cost: Cost) -> String {
    if machines == 1 { cost.to_string() } else { format!("{cost} together") }
}

/// What is taken of one source, who sells it, in what state and when it comes.
fn taken(line: &PlanLine, telling: &Telling) -> String {
    let PlanLine { source, module, quantity, returned, unit_price, line_price, .. } = line;
    let mut text = format!("{quantity} x {} from {source}", telling.text(module));
    let mut terms: Vec<String> = line.supplier.iter().map(Name::to_string).collect();
    terms.extend(line.condition.iter().map(Condition::to_string));
    let days = line.lead_time_days.map(|days| if days == 1 { "1 day".to_owned() } else { format!("{days} days") });
    terms.extend(days.map(|days| format!("arrives in {days}")));
    if !terms.is_empty() {
        text.push_str(&format!(" ({})", terms.join(", ")));
    }
    if let Some(price) = unit_price.filter(|_| *quantity != 1) {
        text.push_str(&format!(", {price} each"));
    }
    line_price.iter().for_each(|price| text.push_str(&format!(", {price}")));
    if *returned > 0 {
        let kept = quantity.saturating_sub(*returned);
        text.push_str(&format!(" for {kept}: {returned} of them sent back"));
    }
    text
}

impl Plan {
    /// Every module that its text names.
    pub(crate) fn modules(&self) -> impl Iterator<Item = &MemoryModule> {
        let lines = self.lines.iter().map(|line| &line.module);
        let slots = self.slots.iter().map(|slot| &slot.module);
        let pulled = self.pulled.iter().map(|pulled| &pulled.module);
        lines.chain(slots).chain(pulled)
    }

    fn is_one(&self) -> bool {
        self.machines == 1
    }

    fn heading(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let figures = &self.assessment.figures;
        if self.is_one() {
            return writeln!(f, "Plan: {}, {}", figures.amounts(), self.cost.total);
        }
        let all = figures.usable.total_mib.times(u64::from(self.machines));
        let cost = self.cost.total;
        writeln!(f, "Plan for {} machines, each: {}", self.machines, figures.amounts())?;
        writeln!(f, "For all machines together: {all} usable, {cost}, {}", self.cost_of_each())
    }

    /// What is bought and taken, and what becomes of the rest: all machines together.
    fn bought(&self, f: &mut fmt::Formatter<'_>, telling: &Telling) -> fmt::Result {
        let Self { lines, charges, to_shelf, spares, .. } = self;
        for line in lines {
            writeln!(f, "  {}", taken(line, telling))?;
        }
        for charge in charges {
            writeln!(f, "  charge of supplier {}, {}", charge.supplier, charge.charge)?;
        }
        for line in to_shelf {
            writeln!(f, "  {} x {} of offer {} to the shelf", line.quantity, telling.text(&line.module), line.id)?;
        }
        let bare: Vec<_> = self.modules().map(MemoryModule::without_identity).collect();
        let sorts = Telling::among(&bare);
        for SpareLine { module, per_part, on_shelf, pulled, bought } in spares {
            let module = if *per_part { telling.text(module) } else { format!("{}, of any part", sorts.text(module)) };
            writeln!(f, "  spares of {module}: {bought} bought, {on_shelf} on the shelf, {pulled} pulled")?;
        }
        Ok(())
    }

    /// What is pulled, and the handlings: of each machine.
    fn work(&self, f: &mut fmt::Formatter<'_>, telling: &Telling) -> fmt::Result {
        if !self.is_one() {
            writeln!(f, "In each machine:")?;
        }
        for pulled in &self.pulled {
            let credit = pulled.credit.map_or(String::new(), |credit| format!(", credit {credit}"));
            let fault = pulled.fault.map_or(String::new(), |fault| format!(", {fault}"));
            writeln!(f, "  pulled from {}: {}{fault}{credit}", pulled.slot, telling.text(&pulled.module))?;
        }
        write!(f, "  {}", counted(self.handlings, "handling"))?;
        match usize::try_from(self.machines) {
            Ok(machines) if machines > 1 => writeln!(f, ", {} together", self.handlings.saturating_mul(machines)),
            _ => writeln!(f),
        }
    }

    fn costs(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let CostSheet { purchases, returns, charges, shelf, labour, credit, surplus, total } = &self.cost;
        let parts = [
            ("bought", purchases),
            ("sent back", returns),
            ("charges", charges),
            ("from the shelf", shelf),
            ("labour", labour),
            ("credit", credit),
            ("to the shelf", surplus),
        ];
        f.write_str(if self.is_one() { "Cost:" } else { "Cost of all machines together:" })?;
        for (what, cost) in parts.into_iter().filter(|(_, cost)| cost.amount_minor() != 0) {
            write!(f, " {what} {cost};")?;
        }
        writeln!(f, " total {total}")
    }

    /// What each of several machines costs: to the nearest minor unit, and said to be rounded where it is.
    fn cost_of_each(&self) -> String {
        let (all, machines) = (i128::from(self.cost.total.amount_minor()), i128::from(self.machines.max(1)));
        let nearest = (2 * all + machines).div_euclid(2 * machines);
        // no larger than the amount of all
        let each = Cost::new(i64::try_from(nearest).unwrap_or(i64::MAX), self.cost.total.currency());
        if all % machines == 0 { format!("{each} each") } else { format!("{each} each, rounded") }
    }

    /// A finding, with what a warning that does not refuse the plan is let pass for.
    fn finding(&self, f: &mut fmt::Formatter<'_>, finding: &Finding) -> fmt::Result {
        write!(f, "\n{finding}")?;
        if self.was_so_before.contains(finding) {
            f.write_str(" (was so before)")
        } else if finding.severity >= Severity::Warning {
            f.write_str(" (accepted)")
        } else {
            Ok(())
        }
    }
}

/// Cost lines, slots, rate with reasons, findings, notes: a block each. Of several machines every amount is said to be of each
/// or of all together. A warning that the request accepts is marked.
impl fmt::Display for Plan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let figures = &self.assessment.figures;
        let telling = Telling::among(self.modules());
        self.heading(f)?;
        self.bought(f, &telling)?;
        self.work(f, &telling)?;
        self.costs(f)?;
        writeln!(f, "Slots{}, by turn:", if self.is_one() { "" } else { " of each machine" })?;
        for slot in &self.slots {
            writeln!(f, "  {:<6} {} ({})", slot.slot, telling.text(&slot.module), slot.source)?;
        }
        write!(f, "Running rate: {}", figures.running_rate)?;
        write!(f, "\nInterleave: {}", figures.interleave)?;
        write!(f, "\nBandwidth, estimated: {}", figures.bandwidth)?;
        self.assessment.from_severity(Severity::Note).try_for_each(|finding| self.finding(f, finding))?;
        self.accepting.iter().try_for_each(|cheaper| write!(f, "\n{cheaper}"))?;
        self.notes.iter().try_for_each(|note| write!(f, "\nnote: {note}"))?;
        match &self.without_warnings {
            Some(plan) => {
                let telling = Telling::among(self.modules().chain(plan.modules()));
                write!(f, "\nWithout warnings: {}", Brief { plan, telling: &telling })
            }
            None => Ok(()),
        }
    }
}

/// A plan on one line: what it costs and gives, and what it takes and buys.
pub(crate) struct Brief<'p> {
    pub(crate) plan: &'p Plan,
    pub(crate) telling: &'p Telling,
}

impl fmt::Display for Brief<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plan = self.plan;
        let in_each = if plan.is_one() { "" } else { " in each" };
        let usable = plan.assessment.figures.usable.total_mib;
        write!(f, "{}: {usable}{in_each}", together(plan.machines, plan.cost.total))?;
        if let Some(rate) = plan.running_rate() {
            write!(f, " at {rate}")?;
        }
        write!(f, ", {} free{in_each}", counted(plan.free_slots.len(), "slot"))?;
        self.taken(f)
    }
}

impl Brief<'_> {
    /// What the plan takes and buys.
    pub(crate) fn taken(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, line) in self.plan.lines.iter().enumerate() {
            let before = if index == 0 { "; " } else { ", " };
            write!(f, "{before}{} x {} from {}", line.quantity, self.telling.text(&line.module), line.source)?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use expect_test::expect;

    use crate::assess::Planner;
    use crate::finding::Severity;
    use crate::module::Voltages;
    use crate::purchase::{Condition, Offer, Outcome, Plan, PlanRequest, Present, ShelfItem};
    use crate::rule::RuleBook;
    use crate::testing::{board_of, machine, module, name, plain, population, processor};
    use crate::unit::{Currency, Price, Voltage};

    fn planned(request: &PlanRequest) -> Plan {
        let (machine, rules) = (machine(board_of(1, 2, 2), processor()), RuleBook::standard());
        match Planner::new(&machine, &rules).plan(request).unwrap() {
            Outcome::Optimal(plan) => plan,
            other => panic!("{other}"),
        }
    }

    fn euros(cents: u64) -> Price {
        Price::new(cents, "EUR".parse().unwrap())
    }

    fn offer(id: &str, price: Price, stock: u32) -> Offer {
        Offer::new(name(id), plain(), price, stock)
    }

    #[test]
    fn a_plan_says_where_everything_comes_from() {
        let small = module("8GB 1Rx8 PC4-2133P-RD0-10");
        let request = PlanRequest::new()
            .usable_at_least(plain().capacity().times(3))
            .offer(
                offer("lot", euros(2_005), 3)
                    .supplier(name("Fernleaf"))
                    .condition(Condition::Tested)
                    .lead_time(1)
                    .return_cost(euros(100))
                    .pack(3),
            )
            .shelf([ShelfItem::new(name("bin"), plain(), 2).condition(Condition::Pulled)])
            .supplier_charges([(name("Fernleaf"), euros(450))])
            .labour_per_handling(euros(150))
            .present(Present::new(population(&[("1A1", &small)])).credits([(name("1A1"), euros(300))]))
            .savings_nodes(1_000);
        expect![[r#"
            Plan: 128 GB installed and usable, 50.10 EUR
              2 x 32GB 2Rx4 DDR4-2400 registered from shelf bin (pulled)
              3 x 32GB 2Rx4 DDR4-2400 registered from offer lot (Fernleaf, tested, arrives in 1 day), 20.05 EUR each, 40.10 EUR for 2: 1 of them sent back
              charge of supplier Fernleaf, 4.50 EUR
              pulled from 1A1: 8GB 1Rx8 DDR4-2133 registered, credit 3.00 EUR
              5 handlings
            Cost: bought 40.10 EUR; sent back 1.00 EUR; charges 4.50 EUR; labour 7.50 EUR; credit -3.00 EUR; total 50.10 EUR
            Slots, by turn:
              1A1    32GB 2Rx4 DDR4-2400 registered (shelf bin)
              1B1    32GB 2Rx4 DDR4-2400 registered (shelf bin)
              1A2    32GB 2Rx4 DDR4-2400 registered (offer lot)
              1B2    32GB 2Rx4 DDR4-2400 registered (offer lot)
            Running rate: 2400 MT/s at 1.2 V. Binding, at most 2400 MT/s: the modules' grade (slots 1A1, 1A2, 1B1, 1B2); lifting it alone does not help. Binding, at most 2400 MT/s: the highest rate of processor proc (processor 1) [data sheet]; lifting it alone does not help.
            Interleave: processor 1: all 128 GB at 2 ways (channels A, B) [any set of channels, assumed]
            Bandwidth, estimated: 38.4 GB/s, 100 % of the board's 38.4 GB/s; peak of the channels filled 38.4 GB/s
            Accepting that the populated channels of a processor do not hold the same (channels-alike), and that the memory of a processor is interleaved in unlike regions (uneven-interleave) saves 20.55 EUR: 29.55 EUR for 96 GB at 2400 MT/s; bandwidth, estimated: 28.8 GB/s, 75 % of the board's 38.4 GB/s; peak of the channels filled 38.4 GB/s; processor 1: 33.3 % of its memory not interleaved (channel A)
            Accepting that the populated channels of a processor do not hold the same (channels-alike) saves 19.05 EUR: 31.05 EUR for 104 GB at 2133 MT/s; bandwidth, estimated: 27.7 GB/s, 72.2 % of the board's 38.4 GB/s; peak of the channels filled 34.1 GB/s; processor 1: 23 % of its memory not interleaved (channel B)"#]].assert_eq(&planned(&request).to_string());
    }

    #[test]
    fn of_several_machines_amounts_are_each_or_together() {
        let small = module("8GB 1Rx8 PC4-2133P-RD0-10");
        let request = PlanRequest::new()
            .machines(3)
            .usable_at_least(plain().capacity().times(2))
            .offer(offer("lot", euros(2_000), 9))
            .labour_per_handling(euros(150))
            .supplier_charges([(name("nobody"), euros(100))])
            .present(Present::new(population(&[("1A1", &small)])).credits([(name("1A1"), euros(300))]));
        expect![[r#"
            Plan for 3 machines, each: 64 GB installed and usable
            For all machines together: 192 GB usable, 124.50 EUR, 41.50 EUR each
              6 x 32GB 2Rx4 DDR4-2400 registered from offer lot, 20.00 EUR each, 120.00 EUR
            In each machine:
              pulled from 1A1: 8GB 1Rx8 DDR4-2133 registered, credit 3.00 EUR
              3 handlings, 9 together
            Cost of all machines together: bought 120.00 EUR; labour 13.50 EUR; credit -9.00 EUR; total 124.50 EUR
            Slots of each machine, by turn:
              1A1    32GB 2Rx4 DDR4-2400 registered (offer lot)
              1B1    32GB 2Rx4 DDR4-2400 registered (offer lot)
            Running rate: 2400 MT/s at 1.2 V. Binding, at most 2400 MT/s: the modules' grade (slots 1A1, 1B1); lifting it alone does not help. Binding, at most 2400 MT/s: the highest rate of processor proc (processor 1) [data sheet]; lifting it alone does not help.
            Interleave: processor 1: all 64 GB at 2 ways (channels A, B) [any set of channels, assumed]
            Bandwidth, estimated: 38.4 GB/s, 100 % of the board's 38.4 GB/s; peak of the channels filled 38.4 GB/s
            note: supplier nobody charges for an order, but no offer is from a supplier of that name"#]].assert_eq(&planned(&request).to_string());
        let uneven = request.offer(offer("one", euros(1_999), 1));
        let text = planned(&uneven).to_string();
        assert!(text.contains("together: 192 GB usable, 124.49 EUR, 41.50 EUR each, rounded\n"), "{text}");
    }

    #[test]
    fn warnings_that_are_accepted_are_marked() {
        let request = PlanRequest::new()
            .usable_at_least(plain().capacity().times(3))
            .offer(offer("lot", euros(2_000), 4))
            .refuse_from(Severity::Error);
        let (text, is_warning) = (planned(&request).to_string(), |line: &&str| line.starts_with("warning "));
        assert!(text.lines().any(|line| is_warning(&line)), "{text}");
        assert!(text.lines().filter(is_warning).all(|line| line.ends_with(" (accepted)")), "{text}");
        assert!(!text.lines().any(|line| line.starts_with("note ") && line.ends_with(" (accepted)")), "{text}");
    }

    #[test]
    fn modules_that_differ_in_more_than_their_short_text_are_told_apart() {
        let low = plain().to_builder().voltages(Voltages::new([Voltage::V1_2, Voltage::V1_35]).unwrap());
        let request = PlanRequest::new()
            .usable_at_least(plain().capacity().times(2))
            .offer(offer("lot", euros(2_000), 1))
            .offer(Offer::new(name("low"), low.build().unwrap(), euros(2_000), 1));
        let text = planned(&request).to_string();
        assert!(text.contains("1 x 32GB 2Rx4 DDR4-2400 registered (1.2 V) from offer lot, 20.00 EUR"), "{text}");
        assert!(text.contains("32GB 2Rx4 DDR4-2400 registered (1.2 V or 1.35 V) (offer low)"), "{text}");
    }

    #[test]
    fn a_plan_without_amounts_names_no_currency() {
        let request = PlanRequest::new().usable_at_least(plain().capacity().times(2)).shelf([ShelfItem::new(
            name("bin"),
            plain(),
            2,
        )]);
        let plan = planned(&request);
        assert_eq!(plan.cost.total.currency(), Currency::NONE);
        let (text, document) = (plan.to_string(), serde_json::to_string(&plan).unwrap());
        assert!(text.starts_with("Plan: 64 GB installed and usable, 0.00\n"), "{text}");
        assert!(text.contains("\nCost: total 0.00\n"), "{text}");
        assert!(!text.contains("XXX") && !document.contains("XXX"), "{text}");
        assert_eq!(serde_json::from_str::<Plan>(&document).unwrap(), plan);
    }
}
