//! Evening out and meeting a mode against brute force: every population there is.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::fill::Evened;
use slotwright::machine::Machine;
use slotwright::module::MemoryModule;
use slotwright::platform::Redundancy;
use slotwright::population::{Occupant, Population};
use slotwright::purchase::ModeChange;
use slotwright::rule::RuleBook;
use slotwright::unit::{Capacity, Name};

use crate::arrange_oracle::Task;
use crate::boards::{self, Source, bytes};
use crate::judge::{self, Channels};

mod plans;

/// A machine with a mode, where a few tries find one.
fn with_mode(source: &mut Source<'_>) -> Machine {
    let machines = (0..5).map(|_| boards::machine(source, 5));
    let mut last = None;
    for machine in machines {
        let found = machine.mode_description().is_some();
        last = Some(machine);
        if found {
            break;
        }
    }
    last.unwrap()
}

/// Every way to put modules of these sorts in some of the slots.
pub fn fillings(slots: &[Name], sorts: &[MemoryModule], base: &Population) -> Vec<Population> {
    let mut populations = vec![base.clone()];
    let is_open = |slot: &&Name| matches!(base.get(slot.as_str()), None | Some(Occupant::Blank));
    for slot in slots.iter().filter(is_open) {
        let more: Vec<_> = populations
            .iter()
            .flat_map(|population| sorts.iter().map(|sort| population.clone().with(slot.clone(), sort.clone())))
            .collect();
        populations.extend(more);
    }
    populations
}

/// What is no module.
fn others(population: &Population) -> Population {
    let others = population.iter().filter(|(_, occupant)| !matches!(occupant, Occupant::Module(_)));
    others.map(|(slot, occupant)| (slot.clone(), occupant.clone())).collect()
}

fn at<'a>(population: &'a Population, slot: &Name) -> Option<&'a MemoryModule> {
    match population.get(slot.as_str()) {
        Some(Occupant::Module(fitted)) => Some(&fitted.module),
        _ => None,
    }
}

/// Whether all channels of the processors present that take memory hold the same.
fn is_even(planner: &Planner<'_>, population: &Population, sorts: &[MemoryModule]) -> bool {
    let (machine, platform) = (planner.machine(), planner.machine().platform());
    let taking = Channels::new(planner).with_memory(population, sorts);
    let mut held: BTreeMap<_, Capacity> = taking.iter().map(|channel| (*channel, Capacity::ZERO)).collect();
    for label in boards::live(machine) {
        let slot = platform.slot(platform.slot_named(label.as_str()).unwrap());
        if let (Some(Occupant::Module(fitted)), Some(sum)) =
            (population.get(label.as_str()), held.get_mut(&slot.channel))
        {
            *sum = *sum + fitted.module.capacity();
        }
    }
    held.values().collect::<BTreeSet<_>>().len() < 2
}

/// Whether the mode spares no ranks: what a channel holds is then what its modules hold.
fn plain(machine: &Machine) -> bool {
    machine.mode_description().is_none_or(|mode| mode.spare_ranks() == 0)
}

fn sorts_of(population: &Population) -> Vec<MemoryModule> {
    judge::modules(population).into_iter().cloned().collect()
}

/// How many modules sit where no equal one sat.
fn arrivals(before: &Population, after: &Population) -> usize {
    after.modules().filter(|(slot, fitted)| at(before, slot) != Some(&fitted.module)).count()
}

/// Of the populations that take least, the one that arranges best; those with errors and uneven ones aside.
fn least(
    planner: &Planner<'_>,
    sorts: &[MemoryModule],
    candidates: Vec<(usize, Population)>,
) -> Option<(usize, Population)> {
    let machine = planner.machine();
    let by_turn = boards::live(machine);
    let mut channels = Channels::new(planner);
    let mut best: Option<(_, Population)> = None;
    for (count, population) in candidates {
        let assessment = planner.assess(&population).unwrap();
        if !is_even(planner, &population, sorts) || !judge::has_no_error(&assessment) {
            continue;
        }
        let bandwidth = Reverse(judge::bandwidth(&assessment));
        let (rate, spread) = (Reverse(judge::rate(&assessment)), judge::spread(machine, &assessment));
        let free = Reverse(channels.free_slots(&population).len());
        let (outside, bare) = (judge::breaks_rows(&assessment), judge::bare(&assessment));
        let key = (count, outside, bare, rate, spread, bandwidth, free);
        let better = best.as_ref().is_none_or(|(known, other)| {
            key.cmp(known).then_with(|| judge::fill_order(machine, &by_turn, &population, other)).is_lt()
        });
        if better {
            best = Some((key, population));
        }
    }
    best.map(|(key, population)| (key.0, population))
}

fn json(machine: &Machine, population: &Population) -> String {
    let machine = serde_json::to_string(machine).unwrap();
    format!("machine {machine}\npopulation {}", serde_json::to_string(population).unwrap())
}

fn shown(found: Option<&Evened>) -> Option<(usize, Population)> {
    found.map(|evened| {
        let added: usize = evened.added.iter().map(|(_, count)| count).sum();
        (added + evened.moves + evened.taken_out.len(), evened.population.clone())
    })
}

/// Modules that some even population without errors holds, in other slots, rarely less one.
fn disturbed(source: &mut Source<'_>, machine: &Machine, sorts: &[MemoryModule]) -> Option<Population> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let mut live = boards::live(machine);
    let mut even = fillings(&live, sorts, &Population::new());
    even.retain(|population| {
        let legal = || judge::has_no_error(&planner.assess(population).unwrap());
        !population.is_empty() && is_even(&planner, population, sorts) && legal()
    });
    if even.is_empty() {
        return None;
    }
    let mut modules: Vec<_> = source.pick(&even).modules().map(|(_, fitted)| fitted.module.clone()).collect();
    source.shuffle(&mut live);
    if source.once_in(3) {
        modules.pop();
    }
    let slots = live.into_iter().zip(modules);
    Some(slots.fold(Population::new(), |population, (slot, module)| population.with(slot, module)))
}

fn compare_even(machine: &Machine, population: &Population) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let found = planner.even_out(population).unwrap();
    let text = || format!("{found:?}\n{}", json(machine, population));
    prop_assert!(
        found.stopped.is_none() && found.is_even == is_even(&planner, population, &sorts_of(population)),
        "{}",
        text()
    );
    prop_assert_eq!(&found.bandwidth, &planner.assess(population).unwrap().figures.bandwidth);
    if found.is_even {
        prop_assert!(found.adding.is_none() && found.moving.is_none(), "{}", text());
        return Ok(());
    }
    let sorts = sorts_of(population);
    let count = |population: &Population| population.modules().count();
    let added = fillings(&boards::live(machine), &sorts_of(population), population);
    let added = added.into_iter().map(|after| (count(&after) - count(population), after)).collect();
    prop_assert_eq!(shown(found.adding.as_ref()), least(&planner, &sorts, added), "adding\n{}", text());
    let pieces = population.modules().map(|(_, fitted)| (fitted.module.clone(), 1)).collect();
    let task = Task { pieces, around: others(population), keep_empty: BTreeSet::new() };
    let moved = task.placements(machine).into_iter().map(|after| (arrivals(population, &after), after)).collect();
    prop_assert_eq!(shown(found.moving.as_ref()), least(&planner, &sorts, moved), "moving\n{}", text());
    let mut taken: Vec<(usize, Population)> = vec![(0, population.clone())];
    for (slot, _) in population.modules() {
        let without = |(count, population): &(usize, Population)| {
            let mut less = population.clone();
            less.take(slot.as_str());
            (count + 1, less)
        };
        let more: Vec<_> = taken.iter().map(without).collect();
        taken.extend(more);
    }
    taken.retain(|(_, population)| population.modules().next().is_some());
    prop_assert_eq!(shown(found.taking_out.as_ref()), least(&planner, &sorts, taken), "taking out\n{}", text());
    for evened in found.adding.iter().chain(&found.moving).chain(&found.taking_out) {
        prop_assert_eq!(&evened.bandwidth, &planner.assess(&evened.population).unwrap().figures.bandwidth);
    }
    let moved_and_added = found.adding.as_ref().is_some_and(|adding| adding.moves > 0)
        || found.moving.as_ref().is_some_and(|moving| !moving.added.is_empty());
    prop_assert!(!moved_and_added, "{}", text());
    Ok(())
}

/// Modules taken out and put in, slot by slot.
fn handlings(before: &Population, after: &Population) -> usize {
    arrivals(before, after) + arrivals(after, before)
}

/// What becomes of a population that is changed as it is said.
fn changed(before: &Population, change: &ModeChange) -> Population {
    let mut after = before.clone();
    for slot in change.pulled.iter().chain(change.moves.iter().map(|(from, _)| from)) {
        after.take(slot.as_str());
    }
    for (from, to) in &change.moves {
        after.put(to.clone(), before.get(from.as_str()).unwrap().clone());
    }
    change.added.iter().fold(after, |after, (slot, module)| after.with(slot.clone(), module.clone()))
}

/// What the mode leaves of so much, where it does not hang on places.
fn share(machine: &Machine, all: Capacity) -> Capacity {
    let mib = u128::from(all.mib());
    let left = match machine.mode_description().map(|mode| mode.redundancy) {
        Some(Redundancy::Mirrored) => mib / 2,
        Some(Redundancy::PartlyMirrored { mirrored_per_mille }) => mib * (1000 - u128::from(mirrored_per_mille)) / 1000,
        Some(Redundancy::Own { usable_per_mille }) => mib * u128::from(usable_per_mille) / 1000,
        _ => mib,
    };
    Capacity::from_mib(u64::try_from(left).unwrap())
}

/// How many modules a population has more than another, sort by sort.
fn further(before: &Population, after: &Population) -> usize {
    let count = |population: &Population, module: &MemoryModule| {
        population.modules().filter(|(_, fitted)| fitted.module == *module).count()
    };
    sorts_of(after).iter().map(|module| count(after, module).saturating_sub(count(before, module))).sum()
}

fn compare_mode(machine: &Machine, population: &Population) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let usable = |population: &Population| planner.assess(population).unwrap().figures.usable.total_mib;
    let whole: Capacity = population.modules().map(|(_, fitted)| fitted.module.capacity()).sum();
    let wanted = if plain(machine) { share(machine, whole) } else { usable(population) };
    // nothing stays in a slot that cannot be used
    let all = fillings(&boards::live(machine), &sorts_of(population), &others(population));
    let legal = |after: &&Population| judge::has_no_error(&planner.assess(after).unwrap());
    let legal: Vec<&Population> = all.iter().filter(legal).collect();
    let enough = || legal.iter().filter(|after| usable(after) >= wanted);
    let with = |after: &&&Population| (further(population, after), handlings(population, after));
    let moving = enough().map(|after| with(&after)).filter(|(more, _)| *more == 0).min();
    let found = planner.meet_mode(population).unwrap();
    let text = || format!("{found:?}\n{}", json(machine, population));
    prop_assert!(found.stopped.is_none(), "{}", text());
    let said = |change: Option<&ModeChange>| change.map(|change| (change.added.len(), change.handlings));
    prop_assert_eq!(said(found.moving.as_ref()), moving, "moving {}", text());
    if moving.is_none() {
        prop_assert_eq!(said(found.adding.as_ref()), enough().map(|after| with(&after)).min(), "adding {}", text());
        let pulled = legal.iter().map(|after| with(&after)).filter(|(more, _)| *more == 0).min();
        prop_assert_eq!(said(found.pulling.as_ref()), pulled, "pulling {}", text());
    }
    for change in found.moving.iter().chain(&found.adding).chain(&found.pulling) {
        let assessment = planner.assess(&change.population).unwrap();
        prop_assert!(judge::has_no_error(&assessment), "{}", text());
        prop_assert_eq!(usable(&change.population), change.usable_mib, "{}", text());
        prop_assert_eq!(handlings(population, &change.population), change.handlings, "{}", text());
        prop_assert_eq!(changed(population, change), change.population.clone(), "{}", text());
        let said = 2 * change.moves.len() + change.added.len() + change.pulled.len();
        prop_assert_eq!(said, change.handlings, "{}", text());
    }
    Ok(())
}

proptest! {
    #![proptest_config(boards::config(300))]

    #[test]
    fn evening_out_is_what_brute_force_finds(bytes in bytes(140)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 5);
        let sorts = boards::sorts(&mut source, machine.platform().generation(), 2);
        let disturbed = disturbed(&mut source, &machine, &sorts).filter(|_| !source.once_in(2));
        let population =
            disturbed.unwrap_or_else(|| boards::fitted(&mut source, &boards::live(&machine), &sorts, 2));
        if plain(&machine) {
            compare_even(&machine, &population)?;
        }
    }

    #[test]
    fn meeting_a_mode_is_what_brute_force_finds(bytes in bytes(400)) {
        let mut source = Source::new(&bytes);
        let machine = with_mode(&mut source);
        let sorts = boards::sorts(&mut source, machine.platform().generation(), 2);
        let slots: Vec<_> = machine.platform().slots().iter().map(|slot| slot.label().clone()).collect();
        let population = boards::fitted(&mut source, &slots, &sorts, 2);
        compare_mode(&machine, &population)?;
    }
}
