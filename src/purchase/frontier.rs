use std::cmp::Ordering;
use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::figure::{PowerDraw, UsableCapacity};
use crate::purchase::desk::{Asked, Desk, Rules};
use crate::purchase::ground::Needs;
use crate::purchase::solve::Found;
use crate::purchase::{Plan, PlanRequest, RequestError, StopReason};
use crate::search::{Budget, Spent};
use crate::unit::{Bandwidth, Capacity, DataRate, Price};

/// What plans are compared in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Axis {
    /// The cost of all machines together: less is better.
    Cost,
    /// The usable capacity of a machine: more is better.
    UsableCapacity,
    /// The running rate of a machine: more is better, and any is better than none.
    RunningRate,
    /// The bandwidth of a machine, by its lower bound: more is better.
    Bandwidth,
    /// The free slots of a machine: more is better.
    FreeSlots,
    /// The power of a machine's modules: less is better, and any is better than one that is not known.
    Power,
}

/// The plans that no other plan beats.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Frontier {
    /// What they were compared in, each once, in the order given.
    pub axes: Vec<Axis>,
    /// The plans, in the [documented order](crate::purchase): the cheapest first.
    pub plans: Vec<Plan>,
    /// Why the search stopped, if it did: some plans may be missing then, and some that are there may be beaten by
    /// one that is missing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}

/// A plan's figures on every axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Merits {
    cost: i128,
    usable: Capacity,
    rate: Option<DataRate>,
    bandwidth: Bandwidth,
    free: usize,
    /// Absent where it is not known.
    power: Option<u64>,
}

impl Merits {
    /// Less is better.
    fn compare(&self, other: &Self, axis: Axis) -> Ordering {
        match axis {
            Axis::Cost => self.cost.cmp(&other.cost),
            Axis::UsableCapacity => other.usable.cmp(&self.usable),
            Axis::RunningRate => other.rate.cmp(&self.rate),
            Axis::Bandwidth => other.bandwidth.cmp(&self.bandwidth),
            Axis::FreeSlots => other.free.cmp(&self.free),
            Axis::Power => self.power.unwrap_or(u64::MAX).cmp(&other.power.unwrap_or(u64::MAX)),
        }
    }

    /// Better on one of the axes, and not worse on any.
    fn beats(&self, other: &Self, axes: &[Axis]) -> bool {
        let mut orders = axes.iter().map(|&axis| self.compare(other, axis));
        orders.clone().all(Ordering::is_le) && orders.any(Ordering::is_lt)
    }

    fn equals(&self, other: &Self, axes: &[Axis]) -> bool {
        axes.iter().all(|&axis| self.compare(other, axis).is_eq())
    }
}

impl Frontier {
    /// The best plan that costs no more than a budget: the one that is best on the axes in the order in which they were
    /// given, cost last.
    ///
    /// "The most memory for the money, and of that the fastest": a frontier over usable capacity, running rate and cost.
    /// Cost must be among the axes, or plans within the budget are missing where a dearer one beats them; and the budget
    /// in the currency of the plans.
    #[must_use]
    pub fn best_under(&self, budget: Price) -> Option<&Plan> {
        let affordable = |plan: &&Plan| {
            let cost = plan.cost.total;
            // plans for nothing at all are in no currency
            (cost.currency() == budget.currency() || cost.amount_minor() <= 0)
                && i128::from(cost.amount_minor()) <= i128::from(budget.amount_minor())
        };
        let (costs, others): (Vec<Axis>, Vec<Axis>) = self.axes.iter().partition(|&&axis| axis == Axis::Cost);
        let order = |a: &Merits, b: &Merits| {
            let axes = others.iter().chain(&costs);
            axes.map(|&axis| a.compare(b, axis)).find(|order| order.is_ne()).unwrap_or(Ordering::Equal)
        };
        let affordable = self.plans.iter().filter(affordable);
        affordable.min_by(|a, b| order(&merits_of_plan(a), &merits_of_plan(b)))
    }
}

fn merits_of_plan(plan: &Plan) -> Merits {
    let figures = &plan.assessment.figures;
    Merits {
        cost: i128::from(plan.cost.total.amount_minor()),
        usable: figures.usable.total_mib,
        rate: plan.running_rate(),
        bandwidth: figures.bandwidth.swept_mbps,
        free: plan.free_slots.len(),
        power: power(figures.power),
    }
}

fn power(draw: PowerDraw) -> Option<u64> {
    (draw.unknown_modules == 0).then(|| u64::from(draw.known_mw.mw()))
}

impl Planner<'_> {
    /// The plans that meet a request and that no other plan beats on some axes: better on one, and not worse on any.
    /// Of plans that are equal on all of them, the best in the [documented order](crate::purchase). All of them,
    /// exactly; with no axis at all, the best plan.
    ///
    /// The nodes of the request are those of all searches together.
    ///
    /// ```
    /// use slotwright::purchase::{Axis, Offer, PlanRequest};
    /// use slotwright::{Capacity, Label, Machine, Planner, Price, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc())
    ///     .processor_named("1", "later")
    ///     .processor_named("2", "later")
    ///     .build()?;
    /// let rules = RuleBook::standard();
    /// let offer = |id: &str, label: &str, cents: u64| -> Result<Offer, Box<dyn std::error::Error>> {
    ///     Ok(Offer::new(id.parse()?, label.parse::<Label>()?.to_module(), Price::new(cents, "EUR".parse()?), 8))
    /// };
    /// let request = PlanRequest::new()
    ///     .usable_at_least(Capacity::from_gib(256))
    ///     .offer(offer("slow", "32GB 2Rx4 PC4-2133P-RB0-10", 3_000)?)
    ///     .offer(offer("fast", "32GB 2Rx4 PC4-2400T-RB2-11", 4_000)?);
    ///
    /// let axes = [Axis::UsableCapacity, Axis::RunningRate, Axis::Cost];
    /// let frontier = Planner::new(&machine, &rules).frontier(&request, axes)?;
    /// let costs: Vec<_> = frontier.plans.iter().map(|plan| plan.cost.total.to_string()).collect();
    /// // eight slow ones, eight fast ones, eight slow and four fast ones, all sixteen
    /// assert_eq!(costs, ["240.00 EUR", "320.00 EUR", "400.00 EUR", "560.00 EUR"]);
    ///
    /// let best = frontier.best_under(Price::new(35_000, "EUR".parse()?)).unwrap();
    /// assert_eq!(best.cost.total.to_string(), "320.00 EUR"); // no more memory for 350.00 EUR, but faster
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Planner::plan`].
    pub fn frontier(
        &self,
        request: &PlanRequest,
        axes: impl IntoIterator<Item = Axis>,
    ) -> Result<Frontier, RequestError> {
        request.check(self.machine())?;
        let mut seen = BTreeSet::new();
        let axes: Vec<Axis> = axes.into_iter().filter(|axis| seen.insert(*axis)).collect();
        let rules = Rules::of(self.rules(), request);
        let desk = Desk::new(*self, request, &rules);
        let mut needs = Needs::of(request);
        needs.terms.by_identity = axes.contains(&Axis::Power);
        let mut budget = desk.budget();
        let mut gathering = Gathering { desk: &desk, found: Vec::new() };
        let others: Vec<Axis> = axes.iter().copied().filter(|&axis| axis != Axis::Cost).collect();
        let stopped = gathering.gather(&others, &needs, &mut budget).is_err().then(|| desk.stop_reason(&budget));
        let mut found = gathering.found;
        let all: Vec<Merits> = found.iter().map(|(merits, _)| *merits).collect();
        found.retain(|(merits, _)| !all.iter().any(|other| other.beats(merits, &axes)));
        found.sort_by(|(_, a), (_, b)| a.key.cmp(&b.key));
        let mut kept: Vec<(Merits, Found<'_>)> = Vec::new();
        for (merits, found) in found {
            if !kept.iter().any(|(known, _)| known.equals(&merits, &axes)) {
                kept.push((merits, found));
            }
        }
        let plans = kept.iter().map(|(_, found)| desk.write(&needs, found)).collect();
        Ok(Frontier { axes, plans, stopped })
    }
}

struct Gathering<'d, 'a> {
    desk: &'d Desk<'a>,
    found: Vec<(Merits, Found<'a>)>,
}

impl Gathering<'_, '_> {
    /// Finds the best plan that has what is needed, and then the same with a little more of the first axis than any
    /// plan found has, and so on; for each, all that the other axes bring. Gives the merits of what was found.
    fn gather(&mut self, axes: &[Axis], needs: &Needs, budget: &mut Budget<'_>) -> Result<Vec<Merits>, Spent> {
        let Some((&axis, rest)) = axes.split_first() else {
            let answer = self.desk.solve(needs, Asked::default(), budget);
            if answer.stopped {
                return Err(Spent);
            }
            let Some(found) = answer.found else { return Ok(Vec::new()) };
            let merits = self.merits(needs, &found);
            if !self.found.iter().any(|(_, known)| known.key == found.key) {
                self.found.push((merits, found));
            }
            return Ok(vec![merits]);
        };
        let (mut needs, mut all) = (needs.clone(), Vec::new());
        loop {
            let more = self.gather(rest, &needs, budget)?;
            all.extend_from_slice(&more);
            let worst = more.into_iter().max_by(|a, b| a.compare(b, axis));
            let Some(next) = worst.and_then(|worst| self.beyond(axis, &worst, &needs)) else { return Ok(all) };
            needs = next;
        }
    }

    /// Needs that a plan meets only if it is better on an axis than this one; `None` where none can be.
    fn beyond(&self, axis: Axis, worst: &Merits, needs: &Needs) -> Option<Needs> {
        let mut needs = needs.clone();
        match axis {
            Axis::Cost => return None,
            Axis::UsableCapacity => {
                needs.usable_at_least = Capacity::from_mib(worst.usable.mib().checked_add(1)?);
            }
            Axis::RunningRate => {
                let steps = self.desk.planner.machine().rate_steps();
                needs.rate = Some(*steps.iter().find(|&&step| worst.rate.is_none_or(|rate| step > rate))?);
            }
            Axis::Bandwidth => {
                let tiny = Bandwidth::from_mbps(1, 1_000_000).unwrap_or(Bandwidth::ZERO);
                needs.bandwidth = Some(worst.bandwidth + tiny);
            }
            Axis::FreeSlots => needs.free_slots = worst.free + 1,
            Axis::Power => {
                needs.power = Some(match worst.power {
                    None => u64::MAX,
                    Some(power) => power.checked_sub(1)?,
                });
            }
        }
        Some(needs)
    }

    fn merits(&self, needs: &Needs, found: &Found<'_>) -> Merits {
        let ground = self.desk.ground(&needs.terms);
        let layout = ground.grid.layout(&found.placed.at);
        Merits {
            cost: found.key.cost,
            usable: UsableCapacity::of(&layout).total_mib,
            rate: found.key.rate.0,
            bandwidth: found.key.bandwidth.0.1,
            free: found.key.free.0,
            power: power(PowerDraw::of(&layout)),
        }
    }
}
