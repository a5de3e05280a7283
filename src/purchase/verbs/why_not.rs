//! Finds out why nothing meets a request.

use std::collections::BTreeSet;
use std::rc::Rc;

use itertools::{Itertools, iproduct};

use crate::figure::usable::{depends_on_places, rank_size, usable_of};
use crate::finding::{Finding, Severity};
use crate::module::ModuleKind;
use crate::population::Population;
use crate::purchase::answered::Merits;
use crate::purchase::engine::{Engine, Found, Goal, Needs, SearchContext, Terms};
use crate::purchase::verbs::rules_in_the_way::{Accused, refused};
use crate::purchase::{
    Condition, HeldFast, KindReach, Plan, PlanNote, PlanRequest, Reach, Reachable, RefusedModule, Requirement,
    RulesInTheWay, Waiver, WhyNot,
};
use crate::rule::Rule;
use crate::search::{Budget, StopReason};
use crate::stated::{Schema, Scope};
use crate::unit::exact::gcd;
use crate::unit::{Bandwidth, Capacity, Currency, Name, Price};

/// Why nothing meets the request of an engine.
pub(crate) fn why_not(engine: &Engine<'_>) -> WhyNot {
    let notes = engine.notes();
    match engine.context(&Terms::default(), &mut engine.budget()) {
        Ok(context) => Inquiry { engine, context }.answer(notes),
        Err(reason) => WhyNot {
            schema: Schema,
            clash: Requirement::of(engine.request),
            reachable: Vec::new(),
            waivers: Vec::new(),
            refused: Vec::new(),
            rules: None,
            rules_stopped: None,
            nothing_at_hand: false,
            pinned: Vec::new(),
            stopped: Some(reason),
            notes,
        },
    }
}

/// A request that nothing meets.
struct Inquiry<'d, 'a> {
    engine: &'d Engine<'a>,
    /// Of everything that is at hand.
    context: Rc<SearchContext<'a>>,
}

/// The values that a requirement could have instead.
enum Others {
    /// From the easiest to the hardest: what is feasible is a first part of them.
    Chain(Vec<Requirement>),
    /// The best first; each by itself.
    Each(Vec<Requirement>),
}

/// A best value with its plan, if another value helps.
type Best = Option<(Requirement, Plan)>;

impl Inquiry<'_, '_> {
    fn answer(&self, notes: Vec<PlanNote>) -> WhyNot {
        let mut budget = self.engine.budget();
        let all = Requirement::of(self.engine.request);
        let clash = self.clash(&all, &mut budget);
        let mut stopped = clash.as_ref().err().copied();
        let mut reachable = Vec::new();
        for requirement in &all {
            let others: Vec<_> = all.iter().filter(|other| *other != requirement).cloned().collect();
            // where what clashes is all among the others, no value helps
            let hopeless = clash.as_ref().is_ok_and(|clash| !clash.contains(requirement));
            let reach = match hopeless {
                true => Reach::Nothing,
                false => {
                    self.reach(&others, requirement, &mut budget).unwrap_or_else(|reason| Reach::Unknown { reason })
                }
            };
            let by_kind = self.by_kind(&others, requirement, hopeless, &mut budget);
            if let Reach::Unknown { reason } = &reach {
                stopped = stopped.or(Some(*reason));
            }
            reachable.push(Reachable { requirement: requirement.clone(), reach, by_kind });
        }
        let refused = refused(self.engine, &self.context);
        let (waivers, untold) = self.waivers(&budget);
        // what can be had for one machine is refused by no rule
        let is_for_many = waivers.iter().any(|waiver| waiver.given_up == HeldFast::SeveralMachines);
        let rules = match &clash {
            Ok(clash) if !is_for_many => self.rules(&all, clash, &refused, &budget),
            _ => Ok(None),
        };
        let clash = clash.unwrap_or_else(|_| all.clone());
        WhyNot {
            schema: Schema,
            clash,
            reachable,
            waivers,
            refused,
            rules_stopped: rules.as_ref().err().copied(),
            rules: rules.ok().flatten(),
            nothing_at_hand: self.context.classes.all.is_empty(),
            pinned: self.pinned(),
            stopped: stopped.or(untold),
            notes,
        }
    }

    /// A smallest set, found by leaving out one requirement after the other.
    fn clash(&self, all: &[Requirement], budget: &mut Budget<'_>) -> Result<Vec<Requirement>, StopReason> {
        let mut clash = all.to_vec();
        for requirement in all {
            let fewer: Vec<_> = clash.iter().filter(|other| *other != requirement).cloned().collect();
            if !self.is_feasible(&fewer, budget)? {
                clash = fewer;
            }
        }
        Ok(clash)
    }

    fn reach(
        &self,
        others: &[Requirement],
        requirement: &Requirement,
        budget: &mut Budget<'_>,
    ) -> Result<Reach, StopReason> {
        if let Some((best, witness)) = self.best_value(others, requirement, budget)? {
            return Ok(Reach::Value { best, witness: Box::new(witness) });
        }
        let found = if can_be_dropped(requirement) { self.best_plan(others, budget)? } else { None };
        Ok(found.map_or(Reach::Nothing, |witness| Reach::GivenUp { witness: Box::new(witness) }))
    }

    /// The best other value that leaves the others feasible, with the best plan.
    fn best_value(
        &self,
        others: &[Requirement],
        requirement: &Requirement,
        budget: &mut Budget<'_>,
    ) -> Result<Best, StopReason> {
        match requirement {
            Requirement::Budget(_) => {
                let currency = self.engine.request.currency().unwrap_or(Currency::NONE);
                // a plan that brings money in needs no budget
                let price = |plan: &Plan| {
                    Price::new(u64::try_from(plan.cost.total.amount_minor().max(0)).unwrap_or(0), currency)
                };
                return Ok(self.best_plan(others, budget)?.map(|plan| (Requirement::Budget(price(&plan)), plan)));
            }
            Requirement::BandwidthAtLeastMbps(wanted) => return self.most_bandwidth(others, *wanted, budget),
            _ => {}
        }
        let Some(best) = self.best_of_values(others, requirement, budget)? else { return Ok(None) };
        let plan = self.best_plan(&[others, std::slice::from_ref(&best)].concat(), budget)?;
        Ok(plan.map(|plan| (best, plan)))
    }

    /// The best of the values that a requirement could have instead, if one leaves the others feasible.
    fn best_of_values(
        &self,
        others: &[Requirement],
        requirement: &Requirement,
        budget: &mut Budget<'_>,
    ) -> Result<Option<Requirement>, StopReason> {
        let mut some_plan = |value: &Requirement| {
            let needs = Needs::all(others.iter().chain([value]));
            let found = self.engine.solve(&needs, Goal::Any, budget).any()?;
            found.map(|found| self.merits(&needs, &found, budget)).transpose()
        };
        match self.values(requirement) {
            Others::Chain(values) => {
                let (mut known, mut count) = (0, values.len());
                while known < count {
                    let middle = known + (count - known) / 2;
                    let Some(value) = values.get(middle) else { break };
                    match some_plan(value)? {
                        // what is found often has more than is asked for
                        Some(merits) => known = values.partition_point(|value| is_met(value, &merits)).max(middle + 1),
                        None => count = middle,
                    }
                }
                Ok(known.checked_sub(1).and_then(|last| values.into_iter().nth(last)))
            }
            Others::Each(values) => {
                for value in values {
                    if some_plan(&value)?.is_some() {
                        return Ok(Some(value));
                    }
                }
                Ok(None)
            }
        }
    }

    fn merits(&self, needs: &Needs, found: &Found<'_>, budget: &mut Budget<'_>) -> Result<Merits, StopReason> {
        let context = self.engine.context(&needs.terms, budget)?;
        Ok(found.merits(&context.model))
    }

    /// The best value with modules of one kind alone, where that says something.
    fn by_kind(
        &self,
        others: &[Requirement],
        requirement: &Requirement,
        hopeless: bool,
        budget: &mut Budget<'_>,
    ) -> Vec<KindReach> {
        if !matches!(requirement, Requirement::RateAtLeastMts(_) | Requirement::UsableAtLeastMib(_)) {
            return Vec::new();
        }
        let kinds = self.kinds();
        let allowed = |kind: &ModuleKind| {
            !others.iter().any(|other| matches!(other, Requirement::Kinds(kinds) if !kinds.contains(kind)))
        };
        let kinds: Vec<ModuleKind> = kinds.into_iter().filter(allowed).collect();
        if kinds.len() < 2 {
            return Vec::new();
        }
        let others: Vec<_> = others.iter().filter(|other| !matches!(other, Requirement::Kinds(_))).cloned().collect();
        let reach = |kind: ModuleKind| {
            let alone = [&others[..], &[Requirement::Kinds(BTreeSet::from([kind]))]].concat();
            let best = if hopeless { Ok(None) } else { self.best_of_values(&alone, requirement, budget) };
            match best {
                Ok(best) => KindReach { kind, best, stopped: None },
                Err(reason) => KindReach { kind, best: None, stopped: Some(reason) },
            }
        };
        kinds.into_iter().map(reach).collect()
    }

    /// The kinds that are at hand.
    fn kinds(&self) -> BTreeSet<ModuleKind> {
        self.context.classes.all.values().iter().map(|class| class.module.kind()).collect()
    }

    /// The most bandwidth that the others leave, short of what is wanted: by halving what is not known, until
    /// nothing above what a witness has can be had.
    fn most_bandwidth(
        &self,
        others: &[Requirement],
        wanted: Bandwidth,
        budget: &mut Budget<'_>,
    ) -> Result<Best, StopReason> {
        let tiny = Bandwidth::from_mbps(1, 1_000_000).unwrap_or(Bandwidth::ZERO);
        let mut ask = |least: Bandwidth| -> Result<Option<Bandwidth>, StopReason> {
            let asked = [others, &[Requirement::BandwidthAtLeastMbps(least)]].concat();
            let needs = Needs::all(&asked);
            let answer = self.engine.solve(&needs, Goal::Any, budget);
            Ok(answer.any()?.map(|found| found.key.bandwidth.0.1))
        };
        let Some(mut known) = ask(Bandwidth::ZERO)? else { return Ok(None) };
        let mut beyond = wanted;
        while known < beyond {
            let middle = (known + beyond).times(1, 2).max(known + tiny);
            // once nothing lies between, the witness is the best if nothing above it can be had
            let asked = if middle + tiny < beyond { middle } else { known + tiny };
            match ask(asked)? {
                Some(more) => known = more,
                None if asked <= known + tiny => break,
                None => beyond = asked,
            }
        }
        let best = Requirement::BandwidthAtLeastMbps(known);
        let plan = self.best_plan(&[others, std::slice::from_ref(&best)].concat(), budget)?;
        Ok(plan.map(|plan| (best, plan)))
    }

    /// The values that a requirement could have instead.
    fn values(&self, requirement: &Requirement) -> Others {
        let slots = self.context.model.slots.len();
        Others::Chain(match requirement {
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
                let steps = self.context.model.machine.rate_steps().iter();
                steps.copied().filter(|step| step < wanted).map(Requirement::RateAtLeastMts).collect()
            }
            Requirement::FreeSlotsAtLeast(wanted) => {
                (0..(*wanted).min(slots + 1)).map(Requirement::FreeSlotsAtLeast).collect()
            }
            Requirement::OnePartNumber(wanted) => {
                let scopes = [Scope::Channel, Scope::Socket].into_iter().filter(|scope| scope < wanted);
                scopes.map(Requirement::OnePartNumber).collect()
            }
            Requirement::LeadTimeAtMostDays(wanted) => {
                let days: BTreeSet<u32> =
                    self.engine.request.offers.iter().filter_map(|offer| offer.lead_time_days).collect();
                let later = days.into_iter().rev().filter(|days| days > wanted);
                later.map(Requirement::LeadTimeAtMostDays).collect()
            }
            Requirement::Spares(wanted) => (0..*wanted).map(Requirement::Spares).collect(),
            Requirement::SparesPerPart(wanted) => (0..*wanted).map(Requirement::SparesPerPart).collect(),
            Requirement::Kinds(kinds) => {
                return Others::Each(wider(kinds, self.kinds()).map(Requirement::Kinds).collect());
            }
            Requirement::Conditions(conditions) => {
                let all = BTreeSet::from([Condition::New, Condition::Tested, Condition::Pulled]);
                return Others::Each(wider(conditions, all).map(Requirement::Conditions).collect());
            }
            Requirement::Budget(_) | Requirement::BandwidthAtLeastMbps(_) | Requirement::KnownFactsOnly => Vec::new(),
        })
    }

    /// Every usable capacity that some number of each class of module could have, as far as slots go: what the
    /// mode leaves of the multiples of their greatest common part.
    fn capacities(&self) -> Vec<Capacity> {
        let sizes = || self.context.classes.all.values().iter().map(|class| class.module.capacity().mib());
        let unit = sizes().chain(self.spare_sizes()).fold(0, gcd).max(1);
        let slots = u64::try_from(self.context.model.slots.len()).unwrap_or(0);
        let most = sizes().max().unwrap_or(0).saturating_mul(slots);
        let mode = self.context.model.machine.mode_description();
        let mut all: Vec<Capacity> =
            (0..=(most / unit).min(1 << 20)).map(|count| usable_of(mode, count * unit)).collect();
        all.dedup();
        all
    }

    /// What one rank of each class can hold where the mode spares ranks, in MiB.
    fn spare_sizes(&self) -> Vec<u64> {
        let model = &self.context.model;
        if !depends_on_places(model.machine) {
            return Vec::new();
        }
        let widest = model.channels.values().iter().map(|channel| channel.slots.len()).max().unwrap_or(0);
        let lines = model.machine.processors().map(|(_, processor)| processor.description().counted_ranks.as_slice());
        iproduct!(lines, self.context.classes.all.values(), 1..=widest)
            .map(|(lines, class, count)| rank_size(lines, class.module, count).0)
            .collect()
    }

    /// Whether something meets the requirements.
    fn is_feasible(&self, requirements: &[Requirement], budget: &mut Budget<'_>) -> Result<bool, StopReason> {
        let any = Goal::Any;
        let answer = self.engine.solve(&Needs::all(requirements), any, budget);
        Ok(answer.any()?.is_some())
    }

    /// The best plan that meets the requirements.
    fn best_plan(&self, requirements: &[Requirement], budget: &mut Budget<'_>) -> Result<Option<Plan>, StopReason> {
        let needs = Needs::all(requirements);
        let found = self.engine.solve(&needs, Goal::Best, budget).proved()?;
        found.map(|found| self.engine.write(&needs, &found, budget)).transpose()
    }

    /// What a request holds fast beside its requirements of which giving up one is enough; and whether that is known
    /// of everything that it holds fast, or why not.
    fn waivers(&self, budget: &Budget<'_>) -> (Vec<Waiver>, Option<StopReason>) {
        let request = self.engine.request;
        let mut relaxed: Vec<(HeldFast, PlanRequest)> = Vec::new();
        if !request.present.pinned.is_empty() {
            let mut request = request.clone();
            request.present.pinned.clear();
            relaxed.push((HeldFast::Pins, request));
        }
        if request.refuse_from < Severity::Error {
            relaxed.push((HeldFast::NoWarnings, request.clone().refuse_from(Severity::Error)));
        }
        if request.machines > 1 {
            relaxed.push((HeldFast::SeveralMachines, request.clone().machines(1)));
        }
        // a side question: it has a share of the nodes
        let nodes = request.nodes / 10;
        let mut untold = None;
        let waiver = |(given_up, request): (HeldFast, PlanRequest)| {
            let (plan, stopped) = self.engine.planner.found(&request, &mut budget.part(nodes));
            untold = untold.or(stopped.filter(|_| plan.is_none()));
            let (plan, proved) = (plan?, stopped.is_none());
            let warnings = if given_up == HeldFast::NoWarnings { warnings(&plan) } else { Vec::new() };
            Some(Waiver { given_up, warnings, plan: Box::new(plan), proved })
        };
        let waivers = relaxed.into_iter().filter_map(waiver).collect();
        (waivers, untold)
    }

    /// The rules that stand in the way where a single requirement, or none at all, is too much; the search has a tenth of the
    /// request's nodes.
    fn rules(
        &self,
        all: &[Requirement],
        clash: &[Requirement],
        refused: &[RefusedModule],
        budget: &Budget<'_>,
    ) -> Result<Option<RulesInTheWay>, StopReason> {
        let classes = self.context.classes.all.values().iter().filter(|class| !class.faulty);
        let some_fit =
            classes.map(|class| class.module).any(|module| refused.iter().all(|other| !other.module.is_like(module)));
        if clash.len() > 1 || !some_fit {
            return Ok(None);
        }
        let mut budget = budget.part(self.engine.request.nodes / 10);
        Accused { engine: self.engine, all, clash }.rules(&mut budget)
    }

    /// What the rules have against the pinned modules that further modules never mend.
    fn pinned(&self) -> Vec<Finding> {
        let present = &self.engine.request.present;
        let pinned: Population = present
            .population
            .iter()
            .filter(|(slot, _)| present.pinned.contains(*slot))
            .map(|(slot, occupant)| (slot.clone(), occupant.clone()))
            .collect();
        let planner = &self.engine.planner;
        let is_lasting =
            |finding: &&Finding| planner.rules().get(finding.code.as_str()).is_some_and(Rule::is_hereditary);
        let assessment = planner.assess(&pinned);
        assessment
            .iter()
            .flat_map(|assessment| assessment.from_severity(self.engine.request.refuse_from))
            .filter(is_lasting)
            .cloned()
            .collect()
    }
}

/// The codes of the warnings of a plan.
pub(crate) fn warnings(plan: &Plan) -> Vec<Name> {
    let mut codes: Vec<_> =
        plan.assessment.from_severity(Severity::Warning).map(|finding| finding.code.clone()).collect();
    codes.sort();
    codes.dedup();
    codes
}

/// Whether a plan that is like this meets a requirement, as far as that shows.
fn is_met(requirement: &Requirement, merits: &Merits) -> bool {
    match requirement {
        Requirement::UsableAtLeastMib(least) => merits.usable >= *least,
        Requirement::RateAtLeastMts(least) => merits.rate.is_some_and(|rate| rate >= *least),
        Requirement::FreeSlotsAtLeast(least) => merits.free >= *least,
        _ => false,
    }
}

/// Whether a requirement can be given up, beside having another value.
fn can_be_dropped(requirement: &Requirement) -> bool {
    match requirement {
        // there may be plans of no rate
        Requirement::RateAtLeastMts(_)
        | Requirement::Kinds(_)
        | Requirement::OnePartNumber(_)
        | Requirement::KnownFactsOnly
        | Requirement::Conditions(_)
        | Requirement::LeadTimeAtMostDays(_) => true,
        Requirement::UsableAtLeastMib(_)
        | Requirement::UsableAtMostMib(_)
        | Requirement::BandwidthAtLeastMbps(_)
        | Requirement::FreeSlotsAtLeast(_)
        | Requirement::Budget(_)
        | Requirement::Spares(_)
        | Requirement::SparesPerPart(_) => false,
    }
}

/// A set with some of the others, fewest first.
fn wider<T: Ord + Clone>(set: &BTreeSet<T>, all: BTreeSet<T>) -> impl Iterator<Item = BTreeSet<T>> {
    let set = set.clone();
    let others: Vec<T> = all.difference(&set).cloned().collect();
    let more = others.into_iter().powerset().skip(1);
    more.map(move |more| set.iter().cloned().chain(more).collect())
}
