//! What is said of requests as text.

use core::fmt;

use crate::finding::Severity;
use crate::module::Telling;
use crate::purchase::answered::plan_text::{Brief, together};
use crate::purchase::{
    Axis, Frontier, ModuleSource, Outcome, Plan, PlanNote, Plans, Savings, Stages, StandIn, TotalsNear,
};
use crate::search::StopReason;
use crate::unit::counted;

impl fmt::Display for ModuleSource {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Stays => f.write_str("stays"),
            Self::MovesFrom { slot } => write!(f, "moves from {slot}"),
            Self::Shelf { id } => write!(f, "shelf {id}"),
            Self::Offer { id } => write!(f, "offer {id}"),
            Self::Other(name) => name.fmt(f),
        }
    }
}

impl fmt::Display for PlanNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Other(name) => name.fmt(f),
            Self::WorthPaying { least, most } => {
                write!(f, "the cheapest plan costs {least}; up to {most} the best was looked for")
            }
            Self::QualityNotProved { most } => {
                write!(f, "that no plan up to {most} is better in rate, balance or bandwidth is not proved")
            }
            Self::SavingsNotKnown { reason } => {
                write!(
                    f,
                    "what accepting warnings would save is not known to the end: a search for it, within savings_nodes, {reason}"
                )
            }
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
            Self::Slower { now_mts, afterwards_mts } => {
                write!(f, "the memory runs at {now_mts} now, and at {afterwards_mts} afterwards")
            }
            Self::Assumed { limit } => write!(f, "assumed: {limit}"),
        }
    }
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Optimal(plan) => plan.fmt(f),
            Self::Infeasible(why) => why.fmt(f),
            Self::Stopped { schema: _, best, cost_at_least, reason } => {
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

/// A line for each plan; and that there may be more.
fn listed<'p>(
    f: &mut fmt::Formatter<'_>,
    plans: &'p [Plan],
    stopped: Option<StopReason>,
    line: &dyn Fn(&mut fmt::Formatter<'_>, &'p Plan, &Telling) -> fmt::Result,
) -> fmt::Result {
    if plans.is_empty() {
        f.write_str(if stopped.is_some() { "No plan was found." } else { "There is no plan." })?;
    }
    let telling = Telling::among(plans.iter().flat_map(Plan::modules));
    for (index, plan) in plans.iter().enumerate() {
        f.write_str(if index == 0 { "" } else { "\n" })?;
        line(f, plan, &telling)?;
    }
    stopped.map_or(Ok(()), |reason| write!(f, "\nThere may be more: the search {reason}."))
}

impl fmt::Display for Plans {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        listed(f, &self.plans, self.stopped, &|f, plan, telling| write!(f, "{}", Brief { plan, telling }))
    }
}

/// What a plan reaches on an axis, with its unit.
fn on_axis(plan: &Plan, axis: Axis) -> String {
    let figures = &plan.assessment.figures;
    match axis {
        Axis::Cost => together(plan.machines, plan.cost.total),
        Axis::UsableCapacity => format!("{} usable", figures.usable.total_mib),
        Axis::RunningRate => plan.running_rate().map_or_else(|| "no known rate".to_owned(), |rate| rate.to_string()),
        Axis::Bandwidth => format!("{} swept", figures.bandwidth.swept_mbps),
        Axis::FreeSlots => format!("{} free", counted(plan.free_slots.len(), "slot")),
        Axis::Power => figures.power.to_string(),
    }
}

/// The axes; then a line for each plan, with what it reaches on each of them, and what it takes and buys.
impl fmt::Display for Frontier {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.axes.is_empty() || self.plans.is_empty() {
            return listed(f, &self.plans, self.stopped, &|f, plan, telling| write!(f, "{}", Brief { plan, telling }));
        }
        let axes: Vec<String> = self.axes.iter().map(ToString::to_string).collect();
        write!(f, "Not beaten in {}", axes.join(", "))?;
        if let Some(plan) = self.plans.first().filter(|plan| plan.machines != 1) {
            write!(f, "; of each of {} machines, but for the cost", plan.machines)?;
        }
        f.write_str(":\n")?;
        listed(f, &self.plans, self.stopped, &|f, plan, telling| {
            let reached: Vec<String> = self.axes.iter().map(|&axis| on_axis(plan, axis)).collect();
            f.write_str(&reached.join(", "))?;
            Brief { plan, telling }.taken(f)
        })
    }
}

/// Modules that may stand in for another as text: told apart, the findings of each below it.
///
/// ```
/// use slotwright::purchase::StandIns;
///
/// assert_eq!(StandIns(&[]).to_string(), "Nothing at hand may stand in.");
/// ```
#[derive(Debug, Clone, Copy)]
pub struct StandIns<'s>(pub &'s [StandIn]);

impl fmt::Display for StandIns<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.0.is_empty() {
            return f.write_str("Nothing at hand may stand in.");
        }
        let telling = Telling::among(self.0.iter().map(|stand_in| &stand_in.module));
        for (index, stand_in) in self.0.iter().enumerate() {
            f.write_str(if index == 0 { "" } else { "\n" })?;
            stand_in.line(f, &telling)?;
        }
        Ok(())
    }
}

impl StandIn {
    fn line(&self, f: &mut fmt::Formatter<'_>, telling: &Telling) -> fmt::Result {
        let cost = self.cost.map_or(String::new(), |cost| format!(", {cost}"));
        write!(f, "{} from {}{cost}; {} usable then", telling.text(&self.module), self.source, self.usable_mib)?;
        self.new_findings.iter().try_for_each(|finding| {
            let accepted = if finding.severity >= Severity::Warning { " (accepted)" } else { "" };
            write!(f, "\n  {finding}{accepted}")
        })
    }
}

/// What it is and costs, what is usable then, and what a report would say that it does not say now.
impl fmt::Display for StandIn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.line(f, &Telling::default())
    }
}

/// The best plan below the wish, for just that, and above it: a line each.
impl fmt::Display for TotalsNear {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Even totals near {}:", self.wish_mib)?;
        let plans = [&self.below, &self.exact, &self.above].into_iter().flatten();
        let telling = &Telling::among(plans.flat_map(Plan::modules));
        for (what, plan) in [("below", &self.below), ("just that", &self.exact), ("above", &self.above)] {
            match plan {
                Some(plan) => write!(f, "\n{what}: {}", Brief { plan, telling })?,
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
            Some(plan) => {
                write!(f, "Without warnings {}", Brief { plan, telling: &Telling::among(plan.modules()) })?;
            }
            None if self.stopped.is_some() => f.write_str("Whether there is a plan without warnings is not known.")?,
            None => f.write_str("Without warnings there is no plan.")?,
        }
        self.accepting.iter().try_for_each(|saving| write!(f, "\n{saving}"))?;
        self.stopped.map_or(Ok(()), |reason| write!(f, "\nThere may be more to save: a search {reason}."))
    }
}

impl fmt::Display for Stages {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { schema: _, best, alone, why, cost_at_least, stopped } = self;
        match (best, why) {
            (Some(best), _) => {
                let telling = &Telling::among(best.now.modules().chain(best.later.modules()));
                let [now, later] = [&best.now, &best.later].map(|plan| Brief { plan, telling });
                write!(f, "{best}.\nNow {now}\nLater {later}")?;
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
    use crate::finding::Severity;
    use crate::module::Voltages;
    use crate::purchase::{Axis, Offer, PlanRequest, StandIns};
    use crate::rule::RuleBook;
    use crate::testing::{board_of, machine, module, name, plain, population, processor};
    use crate::unit::{Capacity, Price, Voltage};

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
        assert_eq!(
            frontier,
            "Not beaten in usable memory, cost:\n\
             64 GB usable, 40.00 EUR; 2 x 32GB 2Rx4 DDR4-2400 registered from offer lot\n\
             128 GB usable, 80.00 EUR; 4 x 32GB 2Rx4 DDR4-2400 registered from offer lot"
        );
        let axes = [Axis::RunningRate, Axis::Bandwidth, Axis::FreeSlots, Axis::Power];
        let others = planner.frontier(&request.clone().machines(2), axes).unwrap().to_string();
        assert!(
            others.starts_with(
                "Not beaten in running rate, bandwidth, free slots, power; of each of 2 machines, but for the cost:\n\
                 2400 MT/s, 38.4 GB/s swept, 2 slots free, 0 W and what 2 more modules draw"
            ),
            "{others}"
        );
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
        let small = module("16GB 1Rx4 PC4-2400T-RC1-11");
        let fitted = request.present(population(&[("1A1", &plain()), ("1B1", &plain())]));
        let smaller = fitted.clone().refuse_from(Severity::Error).offer(Offer::new(name("small"), small, price, 4));
        let smaller = StandIns(&planner.stand_ins(&smaller, "1A1").unwrap()).to_string();
        assert!(smaller.contains("\n  warning channels-alike: ") && smaller.contains(" (accepted)"), "{smaller}");
        let spare = planner.stand_ins(&fitted, "1A1").unwrap().first().map(ToString::to_string);
        assert_eq!(
            spare.as_deref(),
            Some("32GB 2Rx4 DDR4-2400 registered from offer lot, 20.00 EUR; 64 GB usable then")
        );
        let low = plain().to_builder().voltages(Voltages::new([Voltage::V1_2, Voltage::V1_35]).unwrap());
        let alike = fitted.clone().offer(Offer::new(name("low"), low.build().unwrap(), price, 4));
        let alike = StandIns(&planner.stand_ins(&alike, "1A1").unwrap()).to_string();
        assert_eq!(
            alike,
            "32GB 2Rx4 DDR4-2400 registered (1.2 V) from offer lot, 20.00 EUR; 64 GB usable then\n\
             32GB 2Rx4 DDR4-2400 registered (1.2 V or 1.35 V) from offer low, 20.00 EUR; 64 GB usable then"
        );
        let nothing = planner.plans(&PlanRequest::new().usable_at_least(size), 2).unwrap();
        assert_eq!(nothing.to_string(), "There is no plan.");
    }
}
