use std::collections::BTreeSet;

use crate::assess::Planner;
use crate::purchase::answered::Merits;
use crate::purchase::engine::{Engine, Found, Goal, Needs, RequestRules};
use crate::purchase::{Axis, Frontier, PlanRequest, RequestError};
use crate::search::{Budget, StopReason};
use crate::stated::Schema;
use crate::unit::{Bandwidth, Capacity};

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
    /// // eight slow ones, eight fast ones, all sixteen; twelve would leave channels uneven
    /// assert_eq!(costs, ["240.00 EUR", "320.00 EUR", "560.00 EUR"]);
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
        request.check_cheapest(self.machine(), "which plans no other beats")?;
        let request = &*request.as_it_runs(self.machine());
        let mut seen = BTreeSet::new();
        let axes: Vec<Axis> = axes.into_iter().filter(|axis| seen.insert(*axis)).collect();
        let rules = RequestRules::of(self.rules(), request);
        let engine = Engine::new(*self, request, &rules);
        let mut needs = Needs::of(request);
        needs.terms.by_identity = axes.contains(&Axis::Power);
        let mut budget = engine.budget();
        let mut gathering = Gathering { engine: &engine, found: Vec::new(), asked: Vec::new() };
        let others: Vec<Axis> = axes.iter().copied().filter(|&axis| axis != Axis::Cost).collect();
        let stopped = gathering.gather(&others, &needs, &mut budget).err();
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
        let plans: Result<Vec<_>, _> = kept.iter().map(|(_, found)| engine.write(&needs, found, &mut budget)).collect();
        Ok(match plans {
            Ok(plans) => Frontier { schema: Schema, axes, plans, stopped },
            Err(reason) => Frontier { schema: Schema, axes, plans: Vec::new(), stopped: Some(reason) },
        })
    }
}

struct Gathering<'d, 'a> {
    engine: &'d Engine<'a>,
    found: Vec<(Merits, Found<'a>)>,
    /// What was needed, and what the best plan then is like.
    asked: Vec<(Needs, Option<Merits>)>,
}

impl Gathering<'_, '_> {
    /// Finds the best plan that has what is needed, and then the same with a little more of the first axis than any
    /// plan found has, and so on; for each, all that the other axes bring. Gives the merits of what was found.
    fn gather(&mut self, axes: &[Axis], needs: &Needs, budget: &mut Budget<'_>) -> Result<Vec<Merits>, StopReason> {
        let Some((&axis, rest)) = axes.split_first() else {
            return Ok(self.best(needs, budget)?.into_iter().collect());
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

    /// What the best plan that has what is needed is like, if there is one. What is the best of more plans and has what is
    /// needed is the best of these as well; and where there is none, there is none with more.
    fn best(&mut self, needs: &Needs, budget: &mut Budget<'_>) -> Result<Option<Merits>, StopReason> {
        let settles = |(asked, best): &&(Needs, Option<Merits>)| {
            includes(asked, needs) && best.is_none_or(|best| meets(&best, needs))
        };
        if let Some((_, best)) = self.asked.iter().find(settles) {
            return Ok(*best);
        }
        let found = self.engine.solve(needs, Goal::Best, budget).proved()?;
        let best = found.as_ref().map(|found| self.merits(needs, found, budget)).transpose()?;
        self.asked.push((needs.clone(), best));
        let is_new = |found: &Found<'_>| !self.found.iter().any(|(_, known)| known.key == found.key);
        let new = best.zip(found.filter(is_new));
        self.found.extend(new);
        Ok(best)
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
                let steps = self.engine.planner.machine().rate_steps();
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

    fn merits(&self, needs: &Needs, found: &Found<'_>, budget: &mut Budget<'_>) -> Result<Merits, StopReason> {
        let context = self.engine.context(&needs.terms, budget)?;
        Ok(found.merits(&context.model))
    }
}

/// Whether every plan that has what is needed has what is asked for, too.
fn includes(asked: &Needs, needed: &Needs) -> bool {
    let power = asked.power.is_none_or(|most| needed.power.is_some_and(|power| power <= most));
    let of = |needs: &Needs| (needs.usable_at_least, needs.rate, needs.bandwidth, needs.free_slots);
    let ((usable, rate, bandwidth, free), more) = (of(asked), of(needed));
    power && usable <= more.0 && rate <= more.1 && bandwidth <= more.2 && free <= more.3
}

/// Whether a plan has what is needed of the axes.
fn meets(merits: &Merits, needs: &Needs) -> bool {
    needs.power.is_none_or(|most| merits.power.is_some_and(|power| power <= most))
        && merits.usable >= needs.usable_at_least
        && needs.rate.is_none_or(|least| merits.rate.is_some_and(|rate| rate >= least))
        && needs.bandwidth.is_none_or(|least| merits.bandwidth >= least)
        && merits.free >= needs.free_slots
}
