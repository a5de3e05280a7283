use std::cmp::Ordering;

use serde::{Deserialize, Serialize};

use crate::figure::PowerDraw;
use crate::purchase::{Axis, Plan};
use crate::search::StopReason;
use crate::stated::Schema;
use crate::unit::{Bandwidth, Capacity, DataRate, Price};

/// The plans that no other plan beats.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Frontier {
    /// The version of the document's form.
    pub schema: Schema,
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
pub(crate) struct Merits {
    pub(crate) cost: i128,
    pub(crate) usable: Capacity,
    pub(crate) rate: Option<DataRate>,
    pub(crate) bandwidth: Bandwidth,
    pub(crate) free: usize,
    /// Absent where it is not known.
    pub(crate) power: Option<u64>,
}

impl Merits {
    /// Less is better.
    pub(crate) fn compare(&self, other: &Self, axis: Axis) -> Ordering {
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
    pub(crate) fn beats(&self, other: &Self, axes: &[Axis]) -> bool {
        let mut orders = axes.iter().map(|&axis| self.compare(other, axis));
        orders.clone().all(Ordering::is_le) && orders.any(Ordering::is_lt)
    }

    pub(crate) fn equals(&self, other: &Self, axes: &[Axis]) -> bool {
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

pub(crate) fn power(draw: PowerDraw) -> Option<u64> {
    (draw.unknown_modules == 0).then(|| u64::from(draw.known_mw.mw()))
}
