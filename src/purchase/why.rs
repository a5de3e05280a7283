use core::fmt;
use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use itertools::iproduct;

use crate::figure::usable::{depends_on_places, rank_size, usable_of};
use crate::figure::{RunningRate, deciding};
use crate::module::ModuleKind;
use crate::population::Population;
use crate::purchase::PlanNote;
use crate::purchase::ground::{Ground, Needs};
use crate::purchase::solve::Solver;
use crate::purchase::supply::Amount;
use crate::purchase::{PlanRequest, supply};
use crate::search::{Budget, Spent};
use crate::unit::exact::gcd;
use crate::unit::{Bandwidth, Capacity, Currency, DataRate, Price};

/// Why nothing meets a request.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct WhyNot {
    /// Requirements that cannot be met together, while every proper part of them can. None where even
    /// no requirement at all leaves a legal population; all of them where the search stopped.
    pub clash: Vec<Requirement>,
    /// For each requirement that has values: the best one reachable while the others stand.
    pub reachable: Vec<Reachable>,
    /// What else is worth saying.
    pub notes: Vec<PlanNote>,
}

/// A requirement of a request.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Requirement {
    /// At least so much usable memory.
    UsableAtLeastMib(Capacity),
    /// At most so much usable memory.
    UsableAtMostMib(Capacity),
    /// At least this rate.
    RateAtLeastMts(DataRate),
    /// At least this bandwidth, by its lower bound.
    BandwidthAtLeastMbps(Bandwidth),
    /// At least so many free slots.
    FreeSlotsAtLeast(usize),
    /// At most this cost.
    Budget(Price),
    /// These kinds only.
    Kinds(BTreeSet<ModuleKind>),
    /// One part only.
    OnePartNumber,
    /// Modules of known facts only.
    KnownFactsOnly,
}

/// How far a requirement can be met while the others stand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Reachable {
    /// The requirement.
    pub requirement: Requirement,
    /// The best value of it that leaves the request feasible; absent where no value helps.
    pub best: Option<Requirement>,
    /// A population that shows it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub witness: Option<Population>,
}

impl fmt::Display for Requirement {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UsableAtLeastMib(capacity) => write!(f, "at least {capacity}"),
            Self::UsableAtMostMib(capacity) => write!(f, "at most {capacity}"),
            Self::RateAtLeastMts(rate) => write!(f, "at least {rate}"),
            Self::BandwidthAtLeastMbps(bandwidth) => {
                let (numerator, denominator) = <(u64, u64)>::from(*bandwidth);
                write!(f, "at least {}", bandwidth.floor_mbps())?;
                match numerator % denominator {
                    0 => {}
                    rest => write!(f, " {rest}/{denominator}")?,
                }
                write!(f, " MB/s of bandwidth ({bandwidth})")
            }
            Self::FreeSlotsAtLeast(slots) => write!(f, "at least {slots} free slots"),
            Self::Budget(price) => write!(f, "at most {price}"),
            Self::Kinds(kinds) => {
                let kinds: Vec<_> = kinds.iter().map(ToString::to_string).collect();
                write!(f, "only {} modules", kinds.join(" or "))
            }
            Self::OnePartNumber => f.write_str("one part only"),
            Self::KnownFactsOnly => f.write_str("modules of known facts only"),
        }
    }
}

impl fmt::Display for WhyNot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.clash.as_slice() {
            [] => f.write_str("No legal population can be made of what is there, whatever is required.")?,
            [one] => write!(f, "Not to be had: {one}.")?,
            many => {
                let many: Vec<_> = many.iter().map(ToString::to_string).collect();
                write!(f, "Not to be had together: {}.", many.join("; "))?;
            }
        }
        for reachable in &self.reachable {
            match &reachable.best {
                Some(best) => write!(f, "\nWith {best} instead of {} it can be done.", reachable.requirement)?,
                None if self.clash.contains(&reachable.requirement) => {
                    write!(f, "\nNo other value of \"{}\" helps by itself.", reachable.requirement)?;
                }
                None => {}
            }
        }
        let without = self.notes.iter().filter(|note| matches!(note, PlanNote::PossibleWithout { .. }));
        without.into_iter().try_for_each(|note| write!(f, "\n{note}"))
    }
}

/// Finds out why nothing meets a request.
pub(crate) struct Inquiry<'s, 'a> {
    pub(crate) ground: &'s Ground<'a>,
    pub(crate) request: &'a PlanRequest,
    pub(crate) describe: &'s dyn Fn(&[Option<usize>]) -> Population,
}

impl Inquiry<'_, '_> {
    pub(crate) fn answer(&self, notes: Vec<PlanNote>, budget: &mut Budget) -> WhyNot {
        let all = self.requirements();
        let clash = self.clash(&all, budget).unwrap_or_else(|Spent| all.clone());
        let reachable =
            all.iter().filter_map(|requirement| self.reachable(&all, requirement, budget).ok().flatten()).collect();
        WhyNot { clash, reachable, notes }
    }

    fn requirements(&self) -> Vec<Requirement> {
        let request = self.request;
        let mut all = Vec::new();
        all.extend(request.usable_at_least_mib.map(Requirement::UsableAtLeastMib));
        all.extend(request.usable_at_most_mib.map(Requirement::UsableAtMostMib));
        all.extend(request.rate_at_least_mts.map(Requirement::RateAtLeastMts));
        all.extend(request.bandwidth_at_least_mbps.map(Requirement::BandwidthAtLeastMbps));
        all.extend(request.free_slots_at_least.map(Requirement::FreeSlotsAtLeast));
        all.extend(request.budget.map(Requirement::Budget));
        all.extend(request.kinds.clone().map(Requirement::Kinds));
        all.extend(request.one_part_number.then_some(Requirement::OnePartNumber));
        all.extend(request.known_facts_only.then_some(Requirement::KnownFactsOnly));
        all
    }

    /// A smallest set, found by leaving out one requirement after the other.
    fn clash(&self, all: &[Requirement], budget: &mut Budget) -> Result<Vec<Requirement>, Spent> {
        let mut clash = all.to_vec();
        for requirement in all {
            let fewer: Vec<_> = clash.iter().filter(|other| *other != requirement).cloned().collect();
            if self.witness(&fewer, budget)?.is_none() {
                clash = fewer;
            }
        }
        Ok(clash)
    }

    fn reachable(
        &self,
        all: &[Requirement],
        requirement: &Requirement,
        budget: &mut Budget,
    ) -> Result<Option<Reachable>, Spent> {
        let others: Vec<_> = all.iter().filter(|other| *other != requirement).cloned().collect();
        if matches!(requirement, Requirement::Budget(_)) {
            return self.least_cost(&others, requirement, budget).map(Some);
        }
        if let Requirement::BandwidthAtLeastMbps(wanted) = requirement {
            return self.most_bandwidth(&others, *wanted, budget).map(Some);
        }
        let values = self.values(requirement);
        if values.is_empty() {
            return Ok(None);
        }
        let mut ask = |value: &Requirement| self.witness(&[&others[..], std::slice::from_ref(value)].concat(), budget);
        // values run from the easiest to the hardest: what is feasible is a first part of them
        let (mut feasible, mut count) = (None, values.len());
        let mut known = 0;
        while known < count {
            let middle = known + (count - known) / 2;
            let Some(value) = values.get(middle) else { break };
            match ask(value)? {
                Some(witness) => {
                    feasible = Some((value.clone(), witness));
                    known = middle + 1;
                }
                None => count = middle,
            }
        }
        let (best, witness) = feasible.map_or((None, None), |(value, at)| (Some(value), Some((self.describe)(&at.0))));
        Ok(Some(Reachable { requirement: requirement.clone(), best, witness }))
    }

    /// The most bandwidth that the others leave, short of what is wanted: by halving what is not known, until
    /// nothing above what a witness has can be had.
    fn most_bandwidth(
        &self,
        others: &[Requirement],
        wanted: Bandwidth,
        budget: &mut Budget,
    ) -> Result<Reachable, Spent> {
        let tiny = Bandwidth::from_mbps(1, 1_000_000).unwrap_or(Bandwidth::ZERO);
        let requirement = Requirement::BandwidthAtLeastMbps(wanted);
        let mut ask = |least: Bandwidth| {
            let asked = [others, &[Requirement::BandwidthAtLeastMbps(least)]].concat();
            let found = self.witness(&asked, budget)?;
            Ok(found.map(|(at, _)| (self.swept(&at), at)))
        };
        let Some((mut known, mut at)) = ask(Bandwidth::ZERO)? else {
            return Ok(Reachable { requirement, best: None, witness: None });
        };
        let mut beyond = wanted;
        while known < beyond {
            let middle = (known + beyond).times(1, 2).max(known + tiny);
            // once nothing lies between, the witness is the best if nothing above it can be had
            let asked = if middle + tiny < beyond { middle } else { known + tiny };
            match ask(asked)? {
                Some((more, better)) => (known, at) = (more, better),
                None if asked <= known + tiny => break,
                None => beyond = asked,
            }
        }
        let best = Some(Requirement::BandwidthAtLeastMbps(known));
        Ok(Reachable { requirement, best, witness: Some((self.describe)(&at)) })
    }

    /// The lower bound of the bandwidth of a placing.
    fn swept(&self, at: &[Option<usize>]) -> Bandwidth {
        let layout = self.ground.grid.layout(at);
        deciding(&layout, &RunningRate::of(&layout)).1
    }

    /// What meeting the others costs at least.
    fn least_cost(
        &self,
        others: &[Requirement],
        budgeted: &Requirement,
        budget: &mut Budget,
    ) -> Result<Reachable, Spent> {
        let mut solver = Solver::new(self.ground, self.request, self.needs(others));
        solver.run(budget)?;
        let currency = self.request.currency().unwrap_or(Currency::NONE);
        let price = |cost: Amount| Price::new(u64::try_from(cost).unwrap_or(0), currency);
        Ok(Reachable {
            requirement: budgeted.clone(),
            best: solver.best.as_ref().map(|found| Requirement::Budget(price(found.key.cost))),
            witness: solver.best.map(|found| (self.describe)(&found.placed.at)),
        })
    }

    /// The values that a requirement could have instead, easiest first.
    fn values(&self, requirement: &Requirement) -> Vec<Requirement> {
        let slots = self.ground.grid.slots.len();
        match requirement {
            Requirement::UsableAtLeastMib(wanted) => {
                let mut values = self.capacities();
                values.retain(|value| value < wanted);
                values.into_iter().map(Requirement::UsableAtLeastMib).collect()
            }
            Requirement::UsableAtMostMib(wanted) => {
                let mut values = self.capacities();
                values.retain(|value| value > wanted);
                values.into_iter().rev().map(Requirement::UsableAtMostMib).collect()
            }
            Requirement::RateAtLeastMts(wanted) => {
                let steps = self.ground.grid.machine.rate_steps().iter();
                steps.copied().filter(|step| step < wanted).map(Requirement::RateAtLeastMts).collect()
            }
            Requirement::FreeSlotsAtLeast(wanted) => {
                (0..(*wanted).min(slots + 1)).map(Requirement::FreeSlotsAtLeast).collect()
            }
            Requirement::Budget(_)
            | Requirement::BandwidthAtLeastMbps(_)
            | Requirement::Kinds(_)
            | Requirement::OnePartNumber
            | Requirement::KnownFactsOnly => Vec::new(),
        }
    }

    /// Every usable capacity that some number of each class of module could have, as far as slots go: what the
    /// mode leaves of the multiples of their greatest common part.
    fn capacities(&self) -> Vec<Capacity> {
        let sizes = || self.ground.supply.classes.iter().map(|class: &supply::Class<'_>| class.module.capacity().mib());
        let unit = sizes().chain(self.spare_sizes()).fold(0, gcd).max(1);
        let slots = u64::try_from(self.ground.grid.slots.len()).unwrap_or(0);
        let most = sizes().max().unwrap_or(0).saturating_mul(slots);
        let mode = self.ground.grid.machine.mode_description();
        let mut all: Vec<Capacity> =
            (0..=(most / unit).min(1 << 20)).map(|count| usable_of(mode, count * unit)).collect();
        all.dedup();
        all
    }

    /// What one rank of each class can hold where the mode spares ranks, in MiB.
    fn spare_sizes(&self) -> Vec<u64> {
        let grid = &self.ground.grid;
        if !depends_on_places(grid.machine) {
            return Vec::new();
        }
        let widest = grid.channels.iter().map(|channel| channel.slots.len()).max().unwrap_or(0);
        let lines = grid.machine.processors().map(|(_, processor)| processor.counted_ranks.as_slice());
        iproduct!(lines, &self.ground.supply.classes, 1..=widest)
            .map(|(lines, class, count)| rank_size(lines, class.module, count).0)
            .collect()
    }

    /// A placing that meets the requirements, if there is one, and what it costs.
    fn witness(
        &self,
        requirements: &[Requirement],
        budget: &mut Budget,
    ) -> Result<Option<(Vec<Option<usize>>, Amount)>, Spent> {
        let mut solver = Solver::new(self.ground, self.request, self.needs(requirements));
        solver.any_will_do = true;
        solver.run(budget)?;
        Ok(solver.best.map(|found| (found.placed.at, found.key.cost)))
    }

    fn needs(&self, requirements: &[Requirement]) -> Needs {
        let mut needs = Needs {
            usable_at_least: Capacity::ZERO,
            usable_at_most: None,
            rate: None,
            bandwidth: None,
            even: None,
            free_slots: 0,
            budget: None,
            one_part: false,
            kinds: false,
            known_facts: false,
        };
        for requirement in requirements {
            match requirement {
                Requirement::UsableAtLeastMib(capacity) => needs.usable_at_least = *capacity,
                Requirement::UsableAtMostMib(capacity) => needs.usable_at_most = Some(*capacity),
                Requirement::RateAtLeastMts(rate) => needs.rate = Some(*rate),
                Requirement::BandwidthAtLeastMbps(bandwidth) => needs.bandwidth = Some(*bandwidth),
                Requirement::FreeSlotsAtLeast(slots) => needs.free_slots = *slots,
                Requirement::Budget(price) => needs.budget = Some(Amount::from(price.amount_minor())),
                Requirement::Kinds(_) => needs.kinds = true,
                Requirement::OnePartNumber => needs.one_part = true,
                Requirement::KnownFactsOnly => needs.known_facts = true,
            }
        }
        needs
    }
}
