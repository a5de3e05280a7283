//! Evening out and meeting a mode against brute force: every population there is.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use std::cmp::Reverse;
use std::collections::BTreeSet;

use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::fill::Evened;
use slotwright::machine::Machine;
use slotwright::module::MemoryModule;
use slotwright::population::{Occupant, Population};
use slotwright::purchase::{ModeChange, ModeOutcome};
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
    for slot in slots.iter().filter(|slot| base.get(slot.as_str()).is_none()) {
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

/// Whether all channels with slots of the processors present hold the same.
fn is_even(machine: &Machine, population: &Population) -> bool {
    let platform = machine.platform();
    let mut held = BTreeSet::new();
    for (socket, _) in machine.processors() {
        let channels = platform.socket(socket).channels.iter().map(|&channel| platform.channel(channel));
        for channel in channels.filter(|channel| !channel.slots.is_empty()) {
            let modules = channel.slots.iter().filter_map(|&slot| at(population, &platform.slot(slot).label));
            held.insert(modules.map(MemoryModule::capacity).sum::<Capacity>());
        }
    }
    held.len() < 2
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
fn least(planner: &Planner<'_>, candidates: Vec<(usize, Population)>) -> Option<(usize, Population)> {
    let machine = planner.machine();
    let by_turn = boards::live(machine);
    let mut channels = Channels::new(planner);
    let mut best: Option<(_, Population)> = None;
    for (count, population) in candidates {
        let assessment = planner.assess(&population).unwrap();
        if !is_even(machine, &population) || !assessment.is_legal() {
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
        (added + evened.moves, evened.population.clone())
    })
}

/// Modules that some even population without errors holds, in other slots, rarely less one.
fn disturbed(source: &mut Source<'_>, machine: &Machine, sorts: &[MemoryModule]) -> Option<Population> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let mut live = boards::live(machine);
    let mut even = fillings(&live, sorts, &Population::new());
    even.retain(|population| {
        let legal = || planner.assess(population).unwrap().is_legal();
        !population.is_empty() && is_even(machine, population) && legal()
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
    prop_assert!(found.stopped.is_none() && found.is_even == is_even(machine, population), "{}", text());
    prop_assert_eq!(&found.bandwidth, &planner.assess(population).unwrap().figures.bandwidth);
    if found.is_even {
        prop_assert!(found.adding.is_none() && found.moving.is_none(), "{}", text());
        return Ok(());
    }
    let count = |population: &Population| population.modules().count();
    let added = fillings(&boards::live(machine), &sorts_of(population), population);
    let added = added.into_iter().map(|after| (count(&after) - count(population), after)).collect();
    prop_assert_eq!(shown(found.adding.as_ref()), least(&planner, added), "adding\n{}", text());
    let pieces = population.modules().map(|(_, fitted)| (fitted.module.clone(), 1)).collect();
    let task = Task { pieces, around: others(population), keep_empty: BTreeSet::new() };
    let moved = task.placements(machine).into_iter().map(|after| (arrivals(population, &after), after)).collect();
    prop_assert_eq!(shown(found.moving.as_ref()), least(&planner, moved), "moving\n{}", text());
    for evened in found.adding.iter().chain(&found.moving) {
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

fn compare_mode(machine: &Machine, population: &Population) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    let usable = |population: &Population| planner.assess(population).unwrap().figures.usable.total_mib;
    let wanted = usable(population);
    let live = boards::live(machine);
    let dead: Vec<_> = population.modules().filter(|(slot, _)| !live.contains(slot)).collect();
    // modules in slots that cannot be used stay there or go
    let bases = (0..1_usize << dead.len()).map(|kept| {
        let stay = dead.iter().enumerate().filter(|(index, _)| kept >> index & 1 == 1);
        stay.fold(others(population), |base, (_, (slot, fitted))| base.with((*slot).clone(), fitted.module.clone()))
    });
    let sorts = sorts_of(population);
    let mut all: Vec<_> = bases.flat_map(|base| fillings(&live, &sorts, &base)).collect();
    all.sort_by_key(|after| handlings(population, after));
    let fits = |after: &&Population| planner.assess(after).unwrap().is_legal() && usable(after) >= wanted;
    let fewest = all.iter().find(fits);
    let found = planner.meet_mode(population).unwrap();
    let text = || format!("{found:?}\nbut brute force {fewest:?}\n{}", json(machine, population));
    let Some(change) = found.change() else {
        prop_assert!(fewest.is_none() && found == ModeOutcome::Nothing, "{}", text());
        return Ok(());
    };
    prop_assert!(fewest.is_some_and(|after| handlings(population, after) == change.handlings), "{}", text());
    prop_assert!(fits(&&change.population) && usable(&change.population) == change.usable_mib, "{}", text());
    prop_assert_eq!(handlings(population, &change.population), change.handlings, "{}", text());
    prop_assert_eq!(changed(population, change), change.population.clone(), "{}", text());
    let said = 2 * change.moves.len() + change.added.len() + change.pulled.len();
    prop_assert_eq!(said, change.handlings, "{}", text());
    Ok(())
}

proptest! {
    #![proptest_config(boards::config(300))]

    #[test]
    fn evening_out_is_what_brute_force_finds(bytes in bytes(140)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 5);
        let sorts = boards::sorts(&mut source, machine.platform().generation, 2);
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
        let sorts = boards::sorts(&mut source, machine.platform().generation, 2);
        let slots: Vec<_> = machine.platform().slots().iter().map(|slot| slot.label.clone()).collect();
        let population = boards::fitted(&mut source, &slots, &sorts, 2);
        compare_mode(&machine, &population)?;
    }
}
