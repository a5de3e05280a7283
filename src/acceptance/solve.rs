//! The least explanations of everything that is not as planned.

use std::collections::BTreeSet;

use crate::acceptance::figures::Figured;
use crate::acceptance::pieces::SeenSlot;
use crate::acceptance::scene::Scene;
use crate::acceptance::search::{Least, Matter, components, free_slots};
use crate::acceptance::state::Fault;
use crate::search::{Budget, StopReason};
use crate::unit::Capacity;

/// Least explanations in groups, over one population.
pub(crate) struct Solved {
    pub(crate) groups: Vec<Least>,
}

impl Solved {
    /// How many faults at least.
    pub(crate) fn size(&self) -> usize {
        self.groups.iter().map(|group| group.size).sum()
    }

    pub(crate) fn stopped(&self) -> Option<StopReason> {
        self.groups.iter().find_map(|group| group.stopped)
    }

    /// Everything that is explained together, as one: at most so many, and how many more there are.
    pub(crate) fn products(&self, at_most: usize) -> (Vec<Vec<Fault>>, u64) {
        let mut all: Vec<Vec<Fault>> = vec![Vec::new()];
        let mut count: u64 = 1;
        for group in &self.groups {
            count = count.saturating_mul(u64::try_from(group.found.len()).unwrap_or(u64::MAX));
            let joined =
                all.iter().flat_map(|one| group.found.iter().map(move |other| [&one[..], &other[..]].concat()));
            all = joined.take(at_most).collect();
        }
        let listed = u64::try_from(all.len()).unwrap_or(u64::MAX);
        (all, count.saturating_sub(listed))
    }
}

/// Faults beside those of slots that are looked for together at most: a mode, a profile or a cap, and a module.
const OF_SUMS: usize = 3;

/// Explains what is seen by faults on what is planned.
pub(crate) fn solve(scene: &Scene<'_>, reserve: Option<Capacity>, budget: &mut Budget<'_>) -> Solved {
    let planned = scene.state(&[]);
    let bad = scene.bad_slots(&planned);
    let free = free_slots(scene, &planned);
    let new = || Figured::new(scene, reserve);
    let first = new().with_settings(scene, &planned, false);
    let is_untold = scene.seen.slots.iter().any(SeenSlot::is_untold);
    let is_off = !first.agrees(scene, &planned, &[]);
    if first.masks_differ || is_untold && (is_off || !bad.is_empty()) {
        let last = new().with_settings(scene, &planned, true);
        let all = (0..scene.pieces.len()).collect::<Vec<_>>();
        let figures: [&Figured<'_>; 2] = [&first, &last];
        let matter = |figured| Matter { scene, slots: all.clone(), figured, free: free.clone(), base: Vec::new() };
        let group = together(matter, figures, bad.len() + OF_SUMS, budget);
        return Solved { groups: vec![group].into_iter().filter(|group| group.size > 0).collect() };
    }
    let mut groups: Vec<Least> = Vec::new();
    let components = components(scene, &bad, &free);
    for slots in &components {
        let most = 2 * slots.len();
        let base = Vec::new();
        let matter = Matter { scene, slots: slots.clone(), figured: None, free: free.clone(), base };
        let mut least = matter.least(most, budget);
        // something is not as planned there, however early the search was stopped
        least.size = least.size.max(1);
        if least.found.is_empty() {
            least.found.extend(each_by_itself(scene, slots));
        }
        groups.push(least);
    }
    // a module that is not the planned one may hold the rate down: that is explained with the figures
    let may_hold = |slot: &usize| bad.contains(slot) && scene.seen(*slot).is_some_and(SeenSlot::may_be_slower);
    let (mixed, apart): (Vec<_>, Vec<_>) =
        components.into_iter().zip(groups).partition(|(slots, _)| slots.iter().any(may_hold));
    let mut groups: Vec<Least> = apart.into_iter().map(|(_, group)| group).collect();
    let base = first_of(&groups);
    let (mut slots, mixed): (Vec<usize>, Vec<Least>) = {
        let (slots, mixed): (Vec<Vec<usize>>, Vec<Least>) = mixed.into_iter().unzip();
        (slots.concat(), mixed)
    };
    slots.sort_unstable();
    // what the slots, as they are reported, do not imply
    let faults = [base.as_slice(), &first_of(&mixed)].concat();
    let state = scene.state(&faults);
    let is_off = !new().agrees(scene, &state, &[]);
    if mixed.is_empty() && !is_off {
        return Solved { groups };
    }
    let [first, last] = [false, true].map(|is_last| new().with_settings(scene, &state, is_last));
    let at_most = mixed.iter().map(|group| group.size).sum::<usize>() + if is_off { OF_SUMS } else { 0 };
    let joint = if mixed.is_empty() {
        None
    } else {
        let matter = |figured| Matter { scene, slots: slots.clone(), figured, free: free.clone(), base: base.clone() };
        Some(together(matter, [&first, &last], at_most, budget)).filter(|joint| !joint.found.is_empty())
    };
    match joint {
        Some(joint) => groups.push(joint),
        None => {
            groups.extend(mixed);
            groups.extend(is_off.then(|| of_sums(scene, &faults, [&first, &last], budget)));
        }
    }
    Solved { groups }
}

/// What the first explanation of each group has.
fn first_of(groups: &[Least]) -> Vec<Fault> {
    groups.iter().filter_map(|group| group.found.first()).flatten().cloned().collect()
}

/// Slots and sums together: what a report has wrong in itself only where nothing else is found.
fn together<'s, 'a: 's>(
    matter: impl Fn(Option<&'s Figured<'a>>) -> Matter<'s, 'a>,
    [first, last]: [&'s Figured<'a>; 2],
    at_most: usize,
    budget: &mut Budget<'_>,
) -> Least {
    let mut half = budget.half();
    let least = matter(Some(first)).least(at_most, &mut half);
    if !least.found.is_empty() {
        return least;
    }
    matter(Some(last)).least(at_most, budget)
}

/// Totals, rates and the mode, where the slots are explained.
fn of_sums(scene: &Scene<'_>, faults: &[Fault], figures: [&Figured<'_>; 2], budget: &mut Budget<'_>) -> Least {
    let state = scene.state(faults);
    let mut least = Least { size: 1, found: BTreeSet::new(), stopped: None };
    for figured in figures {
        for size in 1..=OF_SUMS {
            least.size = size;
            let mut sets = vec![Vec::new()];
            for _ in 0..size {
                let longer = |set: &Vec<Fault>| {
                    let last = set.last().cloned();
                    let next = figured.settings(set).filter(move |fault| last.as_ref().is_none_or(|last| fault > last));
                    next.map(|fault| [&set[..], &[fault]].concat()).collect::<Vec<_>>()
                };
                sets = sets.iter().flat_map(longer).collect();
            }
            for set in sets {
                if let Err(stopped) = budget.spend() {
                    least.stopped = Some(stopped);
                    return least;
                }
                if figured.agrees(scene, &state, &set) {
                    least.found.insert(set);
                }
            }
            if !least.found.is_empty() {
                return least;
            }
        }
    }
    least
}

/// An explanation that takes each slot by itself: it may hold more faults than are needed.
fn each_by_itself(scene: &Scene<'_>, slots: &[usize]) -> Option<Vec<Fault>> {
    let mut faults: Vec<Fault> = Vec::new();
    for &slot in slots {
        for _ in 0..3 {
            let state = scene.state(&faults);
            if scene.agrees(&state, slot) {
                break;
            }
            let matter = Matter { scene, slots: vec![slot], figured: None, free: Vec::new(), base: Vec::new() };
            faults.push(matter.single(slot, &state)?);
        }
    }
    let state = scene.state(&faults);
    faults.sort();
    slots.iter().all(|&slot| scene.agrees(&state, slot)).then_some(faults)
}
