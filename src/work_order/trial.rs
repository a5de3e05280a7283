//! A start with one piece of each new part.

use std::collections::{BTreeMap, BTreeSet};

use itertools::Itertools;
use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::fill::ArrangeRequest;
use crate::finding::{Finding, Severity};
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{Occupant, Population};
use crate::rule::code;
use crate::unit::Name;
use crate::work_order::assign::{Assigned, Held, Item, handlings};
use crate::work_order::bench::errors;
use crate::work_order::leg::population;

/// Whether one piece of each new part is tried before the others are fitted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
// an order holds one; its size is no matter
#[allow(clippy::large_enum_variant)]
pub enum TrialStart {
    /// Nobody asked for it.
    NotAsked,
    /// No part comes in that does not work in the machine already.
    NothingNew,
    /// This is tried.
    Made(Trial),
    /// No population was found with which the machine would start, and that has just one piece of each new part.
    NoneFound,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// A trial start: in set-up, without an operating system, with nothing saved. It shows that firmware, kind and die go together, says
/// nothing of the other pieces, and accepts nothing.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Trial {
    /// What is in each slot for it.
    pub population: Population,
    /// The slots of the pieces that are tried: one of each new part.
    pub slots: Vec<Name>,
    /// How many handlings it takes beyond those of the order without it.
    pub handlings: usize,
    /// Whether it is not known that none takes fewer.
    #[serde(default, skip_serializing_if = "is_false")]
    pub is_not_proved: bool,
    /// The warnings that it carries, and what it leaves unmet of the mode.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<Finding>,
}

// serde hands over a reference
#[allow(clippy::trivially_copy_pass_by_ref)]
const fn is_false(value: &bool) -> bool {
    !*value
}

/// How many populations are looked at one by one.
const MOST: usize = 2_000;
/// How many ways to choose the pieces are looked at.
const MOST_CHOICES: usize = 64;

/// The trial start of the fewest handlings, and what is where for it.
pub(crate) fn find(planner: &Planner<'_>, assigned: &Assigned<'_>) -> (TrialStart, Option<Held>) {
    let parts = new_parts(assigned);
    if parts.is_empty() {
        return (TrialStart::NothingNew, None);
    }
    let search = Search { planner, assigned, parts };
    let (all, is_whole) = search.candidates();
    let without = handlings(&assigned.start, &assigned.target);
    let turns = |slots: &[SlotId]| {
        let platform = assigned.machine.platform();
        slots.iter().map(|&slot| platform.slot(slot).order()).collect::<Vec<_>>()
    };
    let mut ranked: Vec<((usize, usize, Vec<usize>), &Held, &Vec<SlotId>)> = all
        .iter()
        .map(|(held, pieces)| {
            let first = handlings(&assigned.start, held);
            let more = (first + handlings(held, &assigned.target)).saturating_sub(without);
            ((more, first, turns(pieces)), held, pieces)
        })
        .collect();
    ranked.sort();
    ranked.dedup();
    for ((more, ..), held, pieces) in ranked {
        if let Some((population, findings)) = search.judge(held) {
            let slots = pieces.iter().map(|&slot| assigned.label(slot).clone()).collect();
            // a piece that is not on its way costs two handlings
            let is_not_proved = more > if is_whole { 2 } else { 0 };
            let trial = Trial { population, slots, handlings: more, is_not_proved, findings };
            return (TrialStart::Made(trial), Some(held.clone()));
        }
    }
    (TrialStart::NoneFound, None)
}

/// The slots of the new parts that come in: of each part the slots that get one, in fill order.
fn new_parts(assigned: &Assigned<'_>) -> Vec<Vec<SlotId>> {
    let works = |module: &MemoryModule| {
        assigned.before.values().any(|there| there.fault.is_none() && there.module.is_like(module))
    };
    let platform = assigned.machine.platform();
    let mut parts: BTreeMap<&MemoryModule, Vec<SlotId>> = BTreeMap::new();
    for &item in assigned.target.values() {
        if let (Item::New(slot), Some(fitted)) = (item, assigned.fitted(item)) {
            if !works(&fitted.module) {
                parts.entry(&fitted.module).or_default().push(slot);
            }
        }
    }
    let mut parts: Vec<Vec<SlotId>> = parts.into_values().collect();
    parts.iter_mut().for_each(|slots| slots.sort_by_key(|&slot| platform.slot(slot).order()));
    parts.sort_by_key(|slots| slots.first().map(|&slot| platform.slot(slot).order()));
    parts
}

struct Search<'s, 'a> {
    planner: &'s Planner<'a>,
    assigned: &'s Assigned<'a>,
    parts: Vec<Vec<SlotId>>,
}

impl Search<'_, '_> {
    /// What a state carries, where the machine starts with it: nothing that is an error, but for what the mode asks.
    fn judge(&self, held: &Held) -> Option<(Population, Vec<Finding>)> {
        let blanks = self.assigned.blanks.iter().copied().filter(|slot| !held.contains_key(slot)).collect();
        let population = population(self.assigned, held, &blanks);
        let assessment = self.planner.assess(&population).ok()?;
        let starts = errors(&assessment.findings).all(|found| found.as_str() == code::MODE_UNMET);
        let carried = |finding: &Finding| finding.severity >= Severity::Warning;
        starts.then(|| (population, assessment.findings.into_iter().filter(carried).collect()))
    }

    /// States to look at, with the slots of the pieces; and whether these are all on the way, or in slots that are to be filled.
    fn candidates(&self) -> (Vec<(Held, Vec<SlotId>)>, bool) {
        let choices = self.parts.iter().map(|slots| slots.iter().copied()).multi_cartesian_product();
        let many = self.parts.iter().fold(1_usize, |many, slots| many.saturating_mul(slots.len()));
        let mut found: Vec<(Held, Vec<SlotId>)> = Vec::new();
        // modules that move, and more of what works already, can be in more places than those that are looked at
        let is_simple = self.assigned.target.iter().all(|(slot, item)| match item {
            Item::Own(from) => from == slot,
            Item::New(_) => self.is_new(*item),
        });
        let mut is_whole = is_simple && many <= MOST_CHOICES;
        for pieces in choices.take(MOST_CHOICES) {
            let (ways, is_all) = self.around(&pieces, MOST / many.clamp(1, MOST_CHOICES));
            is_whole &= is_all;
            found.extend(ways.into_iter().map(|held| (held, pieces.clone())));
        }
        found.extend(self.arranged());
        (found, is_whole)
    }

    fn is_new(&self, item: Item) -> bool {
        self.parts.iter().flatten().any(|&slot| item == Item::New(slot))
    }

    /// What can be in the slots beside the pieces: what is there, what comes and is not new, or nothing.
    fn around(&self, pieces: &[SlotId], most: usize) -> (Vec<Held>, bool) {
        let Assigned { start, target, .. } = self.assigned;
        let is_new = |item: &Item| self.is_new(*item);
        let base: Held = pieces.iter().map(|&slot| (slot, Item::New(slot))).collect();
        let mut open: Vec<(SlotId, Vec<Option<Item>>)> = Vec::new();
        for slot in start.keys().chain(target.keys()).copied().collect::<BTreeSet<SlotId>>() {
            if !base.contains_key(&slot) {
                let mut can: Vec<Option<Item>> = vec![start.get(&slot).copied()];
                can.push(target.get(&slot).copied().filter(|item| !is_new(item)));
                can.push(None);
                can.dedup();
                open.push((slot, can.into_iter().unique().collect()));
            }
        }
        let many = open.iter().fold(1_usize, |many, (_, can)| many.saturating_mul(can.len()));
        let with = |chosen: Vec<(SlotId, Option<Item>)>| {
            let mut held = base.clone();
            held.extend(chosen.into_iter().filter_map(|(slot, item)| Some((slot, item?))));
            held
        };
        let is_possible = |held: &Held| held.values().all_unique();
        if many <= most {
            let each = open.iter().map(|(slot, can)| can.iter().map(|&item| (*slot, item))).multi_cartesian_product();
            return (each.map(with).filter(is_possible).collect(), true);
        }
        let by =
            |rule: &dyn Fn(SlotId) -> Option<Item>| with(open.iter().map(|&(slot, _)| (slot, rule(slot))).collect());
        let stays = |slot: SlotId| start.get(&slot).copied().filter(|item| target.get(&slot) == Some(item));
        let mut ways = vec![
            by(&|slot| start.get(&slot).copied()),
            by(&stays),
            by(&|slot| target.get(&slot).copied().filter(|item| !is_new(item))),
            base.clone(),
        ];
        // what stays, as far as some place of the fill order
        let order = |slot: SlotId| self.assigned.machine.platform().slot(slot).order();
        for end in open.iter().map(|&(slot, _)| order(slot)) {
            ways.push(by(&|slot| stays(slot).filter(|_| order(slot) < end)));
        }
        ways.retain(is_possible);
        (ways, false)
    }

    /// The pieces alone, wherever they are best.
    fn arranged(&self) -> Option<(Held, Vec<SlotId>)> {
        let firsts: Vec<SlotId> = self.parts.iter().filter_map(|slots| slots.first().copied()).collect();
        let mut request = ArrangeRequest::new().nodes(20_000);
        for (label, occupant) in self.assigned.request.before.iter() {
            if matches!(occupant, Occupant::OtherDevice(_)) {
                request.around.put(label.clone(), occupant.clone());
            }
        }
        let mut open: BTreeMap<&MemoryModule, SlotId> = BTreeMap::new();
        for &slot in &firsts {
            let fitted = self.assigned.fitted(Item::New(slot))?;
            open.insert(&fitted.module, slot);
            request = request.piece(fitted.module.clone(), 1);
        }
        let arrangement = self.planner.arrange_with(&request).ok()?;
        let best = arrangement.best().ok()?;
        let mut held = Held::new();
        for (label, fitted) in best.population.modules() {
            let slot = self.assigned.machine.platform().slot_named(label.as_str())?;
            held.insert(slot, Item::New(*open.get(&fitted.module)?));
        }
        let pieces = held.keys().copied().collect();
        Some((held, pieces))
    }
}
