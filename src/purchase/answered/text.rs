//! Plans as text.

use core::fmt;

use crate::finding::Severity;
use crate::purchase::{
    CostSheet, Frontier, ModuleSource, Outcome, Plan, PlanNote, Plans, Savings, SpareLine, Stages, StandIn, TotalsNear,
};
use crate::search::StopReason;

impl fmt::Display for ModuleSource {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Stays => f.write_str("stays"),
            Self::MovesFrom { slot } => write!(f, "moves from {slot}"),
            Self::Shelf { id } => write!(f, "shelf {id}"),
            Self::Offer { id } => write!(f, "offer {id}"),
        }
    }
}

impl fmt::Display for PlanNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::WarningsNotCompared { reason } => {
                write!(f, "whether there is a plan without warnings is not known: the search {reason}")
            }
            Self::NoStock { id } => {
                write!(f, "nothing can be had of {id}: no stock, or less than a pack or the smallest order")
            }
            Self::OtherDevicesStay { devices } => {
                write!(f, "{devices} other devices stay as they are; planning with them is not offered")
            }
            Self::NotStated { id } => write!(f, "{id} is left out: it does not state its condition or lead time"),
            Self::NoOfferFrom { supplier } => {
                write!(f, "supplier {supplier} charges for an order, but no offer is from a supplier of that name")
            }
            Self::CreditAbovePrice { slot, credit, offer, price } => {
                write!(
                    f,
                    "the credit of {credit} for slot {slot} is above the {price} of offer {offer}: money for nothing"
                )
            }
            Self::Assumed { limit } => write!(f, "assumed: {limit}"),
        }
    }
}

/// Cost lines, slots, rate with reasons, findings, notes: a block each.
impl fmt::Display for Plan {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let machines = if self.machines == 1 { String::new() } else { format!(" for {} machines", self.machines) };
        let figures = &self.assessment.figures;
        let usable = match figures.usable.total_mib {
            usable if usable == figures.installed.total_mib => String::new(),
            usable => format!(" ({usable} usable)"),
        };
        writeln!(f, "Plan{machines}: {}{usable}, {}", figures.installed.total_mib, self.cost.total)?;
        for line in &self.lines {
            let price = line.line_price.map_or(String::new(), |price| format!(", {price}"));
            writeln!(f, "  {} x {} from {}{price}", line.quantity, line.module, line.source)?;
            if line.returned > 0 {
                writeln!(f, "    {} of them sent back", line.returned)?;
            }
        }
        for charge in &self.charges {
            writeln!(f, "  charge of supplier {}, {}", charge.supplier, charge.charge)?;
        }
        for pulled in &self.pulled {
            let credit = pulled.credit.map_or(String::new(), |credit| format!(", credit {credit}"));
            let fault = pulled.fault.map_or(String::new(), |fault| format!(" ({fault})"));
            writeln!(f, "  pulled from {}: {}{fault}{credit}", pulled.slot, pulled.module)?;
        }
        for line in &self.to_shelf {
            writeln!(f, "  {} x {} of offer {} to the shelf", line.quantity, line.module, line.id)?;
        }
        for line in &self.spares {
            let SpareLine { module, on_shelf, pulled, bought } = line;
            writeln!(f, "  spares of {module}: {bought} bought, {on_shelf} on the shelf, {pulled} pulled")?;
        }
        let of_all = u64::try_from(self.handlings).unwrap_or(u64::MAX).saturating_mul(u64::from(self.machines));
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
        writeln!(f, "  {of_all} handlings")?;
        write!(f, "Cost:")?;
        for (what, cost) in parts.into_iter().filter(|(_, cost)| cost.amount_minor() != 0) {
            write!(f, " {what} {cost};")?;
        }
        writeln!(f, " total {total}")?;
        writeln!(f, "Slots, by turn:")?;
        for slot in &self.slots {
            writeln!(f, "  {:<6} {} ({})", slot.slot, slot.module, slot.source)?;
        }
        write!(f, "Running rate: {}", figures.running_rate)?;
        write!(f, "\nBandwidth, estimated: {}", figures.bandwidth)?;
        for finding in self.assessment.from(Severity::Note) {
            write!(f, "\n{finding}")?;
            if self.was_so_before.contains(finding) {
                f.write_str(" (was so before)")?;
            }
        }
        self.notes.iter().try_for_each(|note| write!(f, "\nnote: {note}"))?;
        match &self.without_warnings {
            Some(plan) => write!(f, "\nWithout warnings: {}", Brief(plan)),
            None => Ok(()),
        }
    }
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Optimal(plan) => plan.fmt(f),
            Self::Infeasible(why) => why.fmt(f),
            Self::Stopped { best, cost_at_least, reason } => {
                write!(f, "Not proved: the search {reason}. ")?;
                if self.is_cost_proved() {
                    f.write_str(
                        "No plan costs less than this one; another of its cost may be better in other respects.",
                    )?;
                } else {
                    write!(f, "Any plan costs at least {cost_at_least}.")?;
                }
                best.as_ref().map_or(Ok(()), |plan| write!(f, " Best so far:\n{plan}"))
            }
        }
    }
}

/// A plan on one line: what it costs and gives, and what it takes and buys.
struct Brief<'p>(&'p Plan);

impl fmt::Display for Brief<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let plan = self.0;
        write!(f, "{}: {}", plan.cost.total, plan.assessment.figures.usable.total_mib)?;
        if let Some(rate) = plan.running_rate() {
            write!(f, " at {rate}")?;
        }
        write!(f, ", {} slots free", plan.free_slots.len())?;
        for (index, line) in plan.lines.iter().enumerate() {
            let before = if index == 0 { "; " } else { ", " };
            write!(f, "{before}{} x {} from {}", line.quantity, line.module, line.source)?;
        }
        Ok(())
    }
}

/// A line for each plan; and that there may be more.
fn listed(f: &mut fmt::Formatter<'_>, plans: &[Plan], stopped: Option<StopReason>) -> fmt::Result {
    if plans.is_empty() {
        f.write_str(if stopped.is_some() { "No plan was found." } else { "There is no plan." })?;
    }
    for (index, plan) in plans.iter().enumerate() {
        write!(f, "{}{}", if index == 0 { "" } else { "\n" }, Brief(plan))?;
    }
    stopped.map_or(Ok(()), |reason| write!(f, "\nThere may be more: the search {reason}."))
}

impl fmt::Display for Plans {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        listed(f, &self.plans, self.stopped)
    }
}

impl fmt::Display for Frontier {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        listed(f, &self.plans, self.stopped)
    }
}

/// What it is and costs, what is usable then, and what a report would say that it does not say now.
impl fmt::Display for StandIn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let cost = self.cost.map_or(String::new(), |cost| format!(", {cost}"));
        write!(f, "{} from {}{cost}; {} usable then", self.module, self.source, self.usable_mib)?;
        self.new_findings.iter().try_for_each(|finding| write!(f, "\n  {finding}"))
    }
}

/// The best plan below the wish, for just that, and above it: a line each.
impl fmt::Display for TotalsNear {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Even totals near {}:", self.wish_mib)?;
        for (what, plan) in [("below", &self.below), ("just that", &self.just), ("above", &self.above)] {
            match plan {
                Some(plan) => write!(f, "\n{what}: {}", Brief(plan))?,
                None => write!(f, "\n{what}: none")?,
            }
        }
        match self.stopped {
            Some(reason) => write!(f, "\nNot proved: the search {reason}; a nearer total may exist."),
            None => Ok(()),
        }
    }
}

impl fmt::Display for Savings {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.without {
            Some(plan) => write!(f, "Without warnings {}", Brief(plan))?,
            None if self.stopped.is_some() => f.write_str("Whether there is a plan without warnings is not known.")?,
            None => f.write_str("Without warnings there is no plan.")?,
        }
        self.accepting.iter().try_for_each(|saving| write!(f, "\n{saving}"))?;
        self.stopped.map_or(Ok(()), |reason| write!(f, "\nThere may be more to save: a search {reason}."))
    }
}

impl fmt::Display for Stages {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { best, alone, why, cost_at_least, stopped } = self;
        match (best, why) {
            (Some(best), _) => {
                write!(f, "{best}.\nNow {}\nLater {}", Brief(&best.now), Brief(&best.later))?;
            }
            (None, Some(why)) => why.fmt(f)?,
            (None, None) => f.write_str("No sequence was found.")?,
        }
        if let Some(alone) = alone {
            write!(f, "\nEach planned alone: {alone}.")?;
        }
        match (stopped, cost_at_least) {
            (None, _) => Ok(()),
            (Some(reason), Some(cost)) => {
                write!(f, "\nNot proved: the search {reason}. No sequence costs less than {cost}.")
            }
            (Some(reason), None) => write!(f, "\nNot proved: the search {reason}."),
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::assess::Planner;
    use crate::purchase::{Axis, Offer, PlanRequest};
    use crate::rule::RuleBook;
    use crate::testing::{board_of, machine, name, plain, population, processor};
    use crate::unit::{Capacity, Price};

    #[test]
    fn answers_read_as_lines() {
        let (machine, rules) = (machine(board_of(1, 2, 2), processor()), RuleBook::standard());
        let planner = Planner::new(&machine, &rules);
        let price = Price::new(2_000, "EUR".parse().unwrap());
        let size = plain().capacity();
        let request =
            PlanRequest::new().usable_at_least(size.times(2)).offer(Offer::new(name("lot"), plain(), price, 4));
        let plans = planner.plans(&request, 1).unwrap().to_string();
        assert!(
            plans.starts_with("40.00 EUR: ") && plans.contains("2 x ") && plans.ends_with(" from offer lot"),
            "{plans}"
        );
        let frontier = planner.frontier(&request, [Axis::UsableCapacity, Axis::Cost]).unwrap().to_string();
        assert_eq!(frontier.lines().count(), 2, "{frontier}");
        let savings = planner.savings(&request).unwrap().to_string();
        assert!(savings.starts_with("Without warnings 40.00 EUR: "), "{savings}");
        let later = request.clone().usable_at_least(size.times(4));
        let stages = planner.stages(&request, &later).unwrap().to_string();
        assert!(
            stages.starts_with("40.00 EUR now and 40.00 EUR later, 80.00 EUR together.\nNow 40.00 EUR: "),
            "{stages}"
        );
        let never = planner.stages(&request, &request.clone().usable_at_least(Capacity::from_gib(1 << 20))).unwrap();
        assert!(never.to_string().starts_with("Not to be had: "), "{never}");
        let totals = planner.totals_near(&request, size.times(2)).unwrap().to_string();
        assert!(totals.starts_with("Even totals near 64 GB:\nbelow: none\njust that: 40.00 EUR: "), "{totals}");
        let fitted = request.present(population(&[("1A1", &plain()), ("1B1", &plain())]));
        let spare = planner.stand_ins(&fitted, "1A1").unwrap().first().map(ToString::to_string);
        assert_eq!(
            spare.as_deref(),
            Some("32GB 2Rx4 DDR4-2400 registered from offer lot, 20.00 EUR; 64 GB usable then")
        );
        let nothing = planner.plans(&PlanRequest::new().usable_at_least(size), 2).unwrap();
        assert_eq!(nothing.to_string(), "There is no plan.");
    }
}
