//! Causes against every set of one and two faults.

use std::collections::{BTreeSet, HashMap};

use itertools::Itertools;
use slotwright::acceptance::{AcceptanceCheck, AcceptanceRequest, AcceptanceVerdict, Explanation, WorkFault};
use slotwright::platform::RatePolicy;
use slotwright::population::{Observed, PlaceState, Report};

use crate::acceptance::world::{Injected, Item, View, World, machine, words};

/// All explanations of a check, each as the set of its faults.
pub fn explanations(check: &AcceptanceCheck) -> Vec<Vec<&WorkFault>> {
    let Some(causes) = &check.causes else { return vec![Vec::new()] };
    let groups = causes.groups.iter().map(|group| {
        assert!(group.is_proved && group.further == 0, "{check}");
        group.alternatives.iter()
    });
    fn faults(chosen: Vec<&Explanation>) -> Vec<&WorkFault> {
        chosen.into_iter().flat_map(|one| &one.causes).map(|cause| &cause.fault).collect()
    }
    groups.multi_cartesian_product().map(faults).collect()
}

/// Whether a report that was made says what was seen, wherever that tells anything.
fn replays(world: &World, made: &Report, seen: &Report, faults: &[WorkFault]) -> bool {
    let is_total_at_fault = faults.iter().any(|fault| matches!(fault, WorkFault::TotalAtFault { .. }));
    let places = seen.places.iter().all(|place| {
        let other = made.places.iter().find(|other| other.locator == place.locator).unwrap();
        let facts = place.module.as_ref().is_none_or(|module| {
            let other = other.module.clone().unwrap_or_default();
            let told = (module.capacity_mib, &module.serial, module.width);
            let own = (other.capacity_mib, &other.serial, module.width.and(other.width));
            // what is given as rated may be the running rate
            told == own && (world.running_for_rated || module.grade_mts == other.grade_mts)
        });
        // that of a machine with a module of which little is told is not known
        let rate = [None, place.running_rate_mts].contains(&other.running_rate_mts) || place.running_rate_mts.is_none();
        place.state == other.state && facts && rate
    });
    places && (is_total_at_fault || seen.totals == made.totals)
}

fn holds(world: &World, short: bool) -> usize {
    let singles = world.faults();
    let mut known: HashMap<View, Vec<Vec<Injected>>> = HashMap::new();
    let none = std::iter::once(Vec::new());
    let ones = singles.iter().map(|fault| vec![fault.clone()]);
    let twos = singles.iter().tuple_combinations().map(|(one, other)| vec![one.clone(), other.clone()]);
    let mut asked: Vec<(View, usize)> = Vec::new();
    for set in none.chain(ones).chain(twos) {
        if let Some(view) = world.view(&set) {
            asked.push((view.clone(), set.len()));
            known.entry(view).or_default().push(set);
        }
    }
    add_short_totals(world, &singles, &mut known);
    let planned = world.population();
    let before = (!world.before.is_empty()).then(|| world.population_of(&world.before));
    for (view, injected) in &asked {
        let report = world.report(view, short);
        let request = AcceptanceRequest::new(planned.clone(), Observed::from(report.clone())).alternatives(100_000);
        let check = world.planner().acceptance(&request.before(before.clone())).unwrap();
        // that is another question
        if check.time.is_as_before {
            continue;
        }
        let sets = &known[view];
        let least = sets.iter().map(Vec::len).min().unwrap();
        let brute: BTreeSet<BTreeSet<String>> = sets
            .iter()
            .filter(|set| set.len() == least)
            .map(|set| set.iter().map(|fault| world.words(fault)).collect())
            .collect();
        let answered = explanations(&check);
        let ours: BTreeSet<BTreeSet<String>> =
            answered.iter().map(|set| set.iter().map(|fault| words(fault)).collect()).collect();
        assert!(least <= *injected);
        assert_eq!(ours, brute, "of {:?}\n{check}", sets[0]);
        assert_eq!(check.causes.as_ref().map_or(0, |causes| causes.faults_at_least), least);
        assert_eq!(check.verdict == AcceptanceVerdict::AsPlanned, least == 0);
        for set in answered {
            let faults: Vec<WorkFault> = set.into_iter().cloned().collect();
            let made = world.planner().expected_report(&planned, before.as_ref(), &faults).unwrap();
            assert!(replays(world, &made, &report, &faults), "{faults:?}");
        }
    }
    asked.len()
}

/// A total that is short by less than the smallest rank in use may be at fault, beside up to one other fault: then the slots are as they are.
fn add_short_totals(world: &World, singles: &[Injected], known: &mut HashMap<View, Vec<Vec<Injected>>>) {
    let mut short: Vec<(View, Vec<Injected>)> = Vec::new();
    let ones = singles.iter().filter(|fault| !matches!(fault, Injected::Mode(_))).map(|fault| vec![fault.clone()]);
    for set in std::iter::once(Vec::new()).chain(ones) {
        let (Some((slots, total)), Some(smallest)) = (world.view(&set), world.smallest(&set)) else { continue };
        let is_short = |view: &&View| view.0 == slots && view.1 < total && total - view.1 < smallest;
        let with = [set, vec![Injected::Total]].concat();
        short.extend(known.keys().filter(is_short).map(|view| (view.clone(), with.clone())));
    }
    for (view, set) in short {
        known.entry(view).or_default().push(set);
    }
}

type Case<'c> = (usize, usize, usize, RatePolicy, Option<&'c str>, &'c [Option<usize>], bool, bool);

#[test]
fn least_explanations_are_those_of_brute_force() {
    let cases: [Case<'_>; 6] = [
        (
            2,
            2,
            2,
            RatePolicy::PerMachine,
            None,
            &[Some(1), None, Some(1), None, Some(0), None, None, None],
            false,
            false,
        ),
        (
            2,
            2,
            2,
            RatePolicy::PerMachine,
            None,
            &[Some(1), Some(0), Some(0), None, Some(1), None, None, None],
            true,
            false,
        ),
        (
            2,
            2,
            2,
            RatePolicy::PerSocket,
            None,
            &[Some(1), Some(0), None, None, Some(1), Some(0), None, None],
            false,
            true,
        ),
        (
            1,
            2,
            3,
            RatePolicy::PerMachine,
            Some("mirrored"),
            &[Some(1), Some(1), None, Some(1), Some(1), None],
            false,
            false,
        ),
        (1, 2, 2, RatePolicy::PerMachine, Some("spare"), &[Some(1), Some(1), Some(1), None], true, true),
        (1, 2, 2, RatePolicy::PerMachine, None, &[Some(1), Some(1), Some(0), Some(0)], false, false),
    ];
    for (sockets, channels, slots, policy, mode, plan, serials, short) in cases {
        let world = World::new(machine(sockets, channels, slots, policy, mode), plan.to_vec(), serials);
        assert!(holds(&world, short) > 50);
    }
}

#[test]
fn least_explanations_where_a_report_gives_the_running_rate_as_the_rated_one() {
    let plans: [(RatePolicy, usize, usize, [Option<usize>; 4]); 2] = [
        (RatePolicy::PerSocket, 2, 1, [Some(1), Some(0), Some(1), None]),
        (RatePolicy::PerMachine, 1, 2, [Some(1), Some(1), Some(0), None]),
    ];
    for (policy, sockets, slots, plan) in plans {
        let mut world = World::new(machine(sockets, 2, slots, policy, None), plan.to_vec(), false);
        world.running_for_rated = true;
        assert!(holds(&world, false) > 50);
    }
}

#[test]
fn a_move_that_was_not_done_is_one_fault() {
    let item = |sort| Some(Item { sort, serial: None });
    // two alike go to the second slots, and larger ones come in their places
    let mut world =
        World::new(machine(1, 2, 2, RatePolicy::PerMachine, None), vec![Some(1), Some(0), Some(1), Some(0)], false);
    world.before = vec![item(0), None, item(0), None];
    assert!(holds(&world, false) > 50);
    let mut world = World::new(
        machine(2, 2, 2, RatePolicy::PerSocket, None),
        vec![Some(1), Some(0), None, None, Some(1), None, Some(1), None],
        false,
    );
    world.before = vec![item(0), None, item(2), None, None, None, item(1), None];
    assert!(holds(&world, false) > 50);
    // and the rate that follows from it is no other
    let undone = Injected::Undone(0, 1);
    let report = world.report(&world.view(std::slice::from_ref(&undone)).unwrap(), false);
    let request = AcceptanceRequest::new(world.population(), Observed::from(report));
    let check = world.planner().acceptance(&request.before(world.population_of(&world.before))).unwrap();
    assert_eq!(check.causes.as_ref().unwrap().faults_at_least, 1, "{check}");
    assert_ne!(check.rates[0].reported_mts, check.rates[0].planned_mts.into_iter().collect::<Vec<_>>());
    assert!(check.to_string().contains("the module that was to go from slot 1A1 to 1A2 is still in 1A1"), "{check}");
}

#[test]
fn a_report_as_before_takes_one_fault_and_those_that_it_does_not_explain() {
    let board = || machine(2, 2, 2, RatePolicy::PerMachine, None);
    // the module of slot 4 was to go to slot 2, and others to come into slots 1 and 5
    let was = World::new(board(), vec![Some(1), None, None, None, Some(0), None, Some(1), None], false);
    let world = World::new(board(), vec![Some(1), Some(2), Some(0), None, None, Some(2), Some(1), None], false);
    let (planned, before) = (world.population(), was.population());
    let unchanged = [0, 6].map(|slot| Injected::Unread(BTreeSet::from([slot]), PlaceState::Absent));
    for faults in [&unchanged[..0], &unchanged[..1], &unchanged[1..]] {
        let report = was.report(&was.view(faults).unwrap(), false);
        let request = AcceptanceRequest::new(planned.clone(), Observed::from(report.clone())).before(before.clone());
        let check = world.planner().acceptance(&request).unwrap();
        assert_eq!(check.causes.as_ref().unwrap().faults_at_least, 1 + faults.len(), "{check}");
        for set in explanations(&check) {
            assert!(set.contains(&&WorkFault::AsBefore));
            let faults: Vec<WorkFault> = set.into_iter().cloned().collect();
            let made = world.planner().expected_report(&planned, Some(&before), &faults).unwrap();
            assert!(replays(&was, &made, &report, &faults), "{faults:?}");
        }
    }
}
