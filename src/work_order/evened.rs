//! Which partners to take out for evenness.

use std::collections::{BTreeMap, BTreeSet};

use itertools::Itertools;

use crate::assess::{Assessment, Planner};
use crate::machine::Machine;
use crate::platform::SlotId;
use crate::population::PopulationError;
use crate::work_order::without::faults;
use crate::work_order::{Without, WithoutWay};

/// How many sets of partners are looked at one by one.
const SETS: usize = 600;

/// Ways that take partners out too: for each number of partners the best set, where it leaves fewer errors or warnings than any with fewer.
pub(crate) fn evened(
    planner: &Planner<'_>,
    base: &Without,
    failing: &[SlotId],
) -> Result<Vec<Without>, PopulationError> {
    let machine = planner.machine();
    let platform = machine.platform();
    let held: Vec<SlotId> = base
        .population
        .modules()
        .filter(|(_, fitted)| fitted.fault.is_none())
        .filter_map(|(label, _)| platform.slot_named(label.as_str()))
        .filter(|&slot| machine.is_live(slot))
        .collect();
    let mut least = base.faults();
    let (mut ways, mut looked, mut proved_below) = (Vec::new(), 0_usize, 1_usize);
    let judge = |sets: &mut dyn Iterator<Item = Vec<SlotId>>| -> Result<Option<(Vec<SlotId>, Assessment)>, _> {
        let mut best: Option<(Vec<SlotId>, Assessment)> = None;
        for partners in sets {
            let mut population = base.population.clone();
            for &slot in &partners {
                population.take(platform.slot(slot).label().as_str());
            }
            let assessment = planner.assess(&population)?;
            let rank = |one: &Assessment| {
                let usable = std::cmp::Reverse(one.figures.usable.total_mib);
                (faults(&one.findings), usable, std::cmp::Reverse(one.figures.running_rate.rate()))
            };
            if best.as_ref().is_none_or(|(_, known)| rank(&assessment) < rank(known)) {
                best = Some((partners, assessment));
            }
        }
        Ok(best)
    };
    let mut take = |found: Option<(Vec<SlotId>, Assessment)>, is_proved: bool| {
        let Some((partners, assessment)) = found.filter(|(_, found)| faults(&found.findings) < least) else { return };
        least = faults(&assessment.findings);
        ways.push(with_partners(machine, base, &partners, assessment, is_proved));
    };
    for number in 1..held.len() {
        looked = looked.saturating_add(binomial(held.len(), number));
        if looked > SETS {
            break;
        }
        take(judge(&mut held.iter().copied().combinations(number))?, true);
        proved_below = number + 1;
    }
    let mut regular = regular(machine, &held, base, failing);
    regular.retain(|partners| partners.len() >= proved_below && partners.len() < held.len());
    regular.sort_by_key(Vec::len);
    for (_, sets) in &regular.into_iter().chunk_by(Vec::len) {
        take(judge(&mut sets.into_iter())?, false);
    }
    ways.retain(|way: &Without| way.faults().0 == 0 || way.faults().0 < base.faults().0);
    Ok(ways)
}

fn with_partners(
    machine: &Machine,
    base: &Without,
    partners: &[SlotId],
    assessment: Assessment,
    is_proved: bool,
) -> Without {
    let mut way = Without {
        way: WithoutWay::Evened,
        usable_mib: assessment.figures.usable.total_mib,
        rate_mts: assessment.figures.running_rate.rate(),
        findings: assessment.findings,
        is_not_proved: !is_proved,
        ..base.clone()
    };
    for &slot in partners {
        let label = machine.platform().slot(slot).label();
        way.population.take(label.as_str());
        // what would come forward only to be taken out again is taken out where it is
        let came = way.moved.iter().position(|(_, to)| to == label).map(|at| way.moved.remove(at).0);
        way.taken_out.push(came.unwrap_or_else(|| label.clone()));
    }
    way.taken_out.sort();
    way.handlings = way.taken_out.len() + 2 * way.moved.len();
    way
}

/// Sets that the trade would take out: the same round in the other channels, of a processor or of all; the same channel at the other processors.
fn regular(machine: &Machine, held: &[SlotId], base: &Without, failing: &[SlotId]) -> Vec<Vec<SlotId>> {
    let platform = machine.platform();
    let mut rounds: BTreeMap<SlotId, usize> = BTreeMap::new();
    for channel in platform.channel_ids() {
        let mut slots = platform.channel(channel).slots.clone();
        slots.sort_by_key(|&slot| platform.slot(slot).order());
        rounds.extend(slots.into_iter().enumerate().map(|(round, slot)| (slot, round)));
    }
    // what fell empty: the slots themselves, or those from which modules came forward
    let from = base.moved.iter().filter_map(|(from, _)| platform.slot_named(from.as_str()));
    let empty: BTreeSet<SlotId> = failing
        .iter()
        .copied()
        .filter(|&slot| base.population.get(platform.slot(slot).label().as_str()).is_none())
        .chain(from)
        .collect();
    let of_socket = |slot: SlotId| platform.slot(slot).socket;
    let place = |slot: SlotId| {
        let socket = platform.socket(of_socket(slot));
        socket.channels.iter().position(|&channel| channel == platform.slot(slot).channel)
    };
    let mut sets: BTreeSet<Vec<SlotId>> = BTreeSet::new();
    for &slot in &empty {
        let from_round = |other: &SlotId| rounds.get(other) >= rounds.get(&slot);
        let same_round = |other: &SlotId| rounds.get(other) == rounds.get(&slot);
        let chosen = |is_chosen: &dyn Fn(&SlotId) -> bool| held.iter().copied().filter(is_chosen).collect::<Vec<_>>();
        sets.insert(chosen(&|other| of_socket(*other) == of_socket(slot) && same_round(other)));
        sets.insert(chosen(&|other| of_socket(*other) == of_socket(slot) && from_round(other)));
        sets.insert(chosen(&same_round));
        sets.insert(chosen(&from_round));
        sets.insert(chosen(&|other| place(*other) == place(slot)));
        for &channel in &platform.socket(of_socket(slot)).channels {
            let with = platform.channel(channel).slots.first().map(|&first| place(first));
            sets.insert(chosen(&|other| platform.slot(*other).channel == channel));
            sets.insert(chosen(&|other| Some(place(*other)) == with || place(*other) == place(slot)));
        }
    }
    sets.into_iter().filter(|partners| !partners.is_empty()).collect()
}

/// How many sets of so many there are among so many; at most the largest number.
fn binomial(of: usize, number: usize) -> usize {
    (0..number).try_fold(1_usize, |sets, taken| Some(sets.checked_mul(of - taken)? / (taken + 1))).unwrap_or(usize::MAX)
}
