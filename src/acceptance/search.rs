//! The least sets of faults that give what is seen.
//!
//! Sets are tried by size. Each must hold a fault that changes the first slot in which what is seen is not yet explained; so only those are
//! tried there. Slots are searched together only where one fault could touch both.

use std::collections::BTreeSet;

use crate::acceptance::figures::Figured;
use crate::acceptance::pieces::SeenSlot;
use crate::acceptance::scene::Scene;
use crate::acceptance::state::{Fault, Held, State, Unit, as_set};
use crate::population::PlaceState;
use crate::search::{Budget, StopReason};

/// The least explanations of some slots.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Least {
    /// How many faults each has; at least, where the search was stopped.
    pub(crate) size: usize,
    /// Each sorted; those that were found.
    pub(crate) found: BTreeSet<Vec<Fault>>,
    pub(crate) stopped: Option<StopReason>,
}

/// Slots, and sums where they are open, that are explained together.
pub(crate) struct Matter<'s, 'a> {
    pub(crate) scene: &'s Scene<'a>,
    /// The slots looked at, in order.
    pub(crate) slots: Vec<usize>,
    /// What is summed up, where that is to be explained too.
    pub(crate) figured: Option<&'s Figured<'a>>,
    /// Slots that may hold more than one of the planned modules, by what is seen of them.
    pub(crate) free: Vec<bool>,
    /// What explains the other slots.
    pub(crate) base: Vec<Fault>,
}

impl Matter<'_, '_> {
    /// The least explanations of at most so many faults.
    pub(crate) fn least(&self, at_most: usize, budget: &mut Budget<'_>) -> Least {
        for size in 0..=at_most {
            let mut found = BTreeSet::new();
            let mut faults = self.base.clone();
            if let Err(stopped) = self.explain(&mut faults, size, &mut found, budget) {
                return Least { size, found, stopped: Some(stopped) };
            }
            if !found.is_empty() {
                return Least { size, found, stopped: None };
            }
        }
        Least { size: at_most + 1, found: BTreeSet::new(), stopped: None }
    }

    fn explain(
        &self,
        faults: &mut Vec<Fault>,
        left: usize,
        found: &mut BTreeSet<Vec<Fault>>,
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        budget.spend()?;
        let state = self.scene.state(faults);
        let set = self.figured.filter(|figured| figured.masks_differ).map(|_| as_set(self.scene.machine, faults));
        let machine = set.as_ref().unwrap_or(self.scene.machine);
        let bad = self.slots.iter().copied().find(|&slot| !self.scene.agrees_on(machine, &state, slot));
        let figures = || self.figured.is_none_or(|figured| figured.agrees(self.scene, &state, faults));
        if bad.is_none() && figures() {
            let mut explanation = faults.get(self.base.len()..).unwrap_or_default().to_vec();
            explanation.sort();
            found.insert(explanation);
            return Ok(());
        }
        if left == 0 {
            return Ok(());
        }
        let candidates = match bad {
            Some(slot) => self.candidates(slot, &state, faults, budget)?,
            None => self.of_sums(&state, faults),
        };
        for fault in candidates {
            faults.push(fault);
            let end = self.explain(faults, left - 1, found, budget);
            faults.pop();
            end?;
        }
        Ok(())
    }

    /// The faults that change what a slot shows.
    fn candidates(
        &self,
        slot: usize,
        state: &State,
        faults: &[Fault],
        budget: &mut Budget<'_>,
    ) -> Result<Vec<Fault>, StopReason> {
        let mut candidates = Vec::new();
        self.add_unread(slot, state, &mut candidates);
        self.add_foreign(slot, state, &mut candidates);
        self.add_moves(slot, faults, &mut candidates, budget)?;
        if self.figured.is_some_and(|figured| figured.masks_differ) {
            candidates.extend(self.figured.into_iter().flat_map(|figured| figured.settings(faults)));
        }
        candidates.retain(|fault| !faults.contains(fault));
        Ok(candidates)
    }

    /// A fault of a slot alone that changes what it shows.
    pub(crate) fn single(&self, slot: usize, state: &State) -> Option<Fault> {
        let mut candidates = Vec::new();
        self.add_foreign(slot, state, &mut candidates);
        self.add_unread(slot, state, &mut candidates);
        let is_single = |fault: &Fault| match fault {
            Fault::Unread { unit, .. } => self.scene.units.get(*unit).is_some_and(|unit| unit.slots.len() == 1),
            _ => true,
        };
        candidates.into_iter().find(is_single)
    }

    /// The faults that change what is summed up and nothing of what slots tell.
    fn of_sums(&self, state: &State, faults: &[Fault]) -> Vec<Fault> {
        let mut candidates: Vec<Fault> =
            self.figured.into_iter().flat_map(|figured| figured.settings(faults)).collect();
        let is_open = |slot: usize| self.scene.seen(slot).is_some_and(SeenSlot::is_untold);
        for (at, unit) in self.scene.units.iter().enumerate() {
            let is_own = |&slot: &usize| is_open(slot) && state.held(slot) == Held::Planned(slot);
            let reads = PlaceState::Absent;
            if unit.slots.iter().any(is_own) && self.may_be_unread(unit, reads) {
                candidates.push(Fault::Unread { unit: at, reads });
            }
        }
        candidates.retain(|fault| !faults.contains(fault));
        candidates
    }

    fn add_unread(&self, slot: usize, state: &State, candidates: &mut Vec<Fault>) {
        let Some(seen) = self.scene.seen(slot) else { return };
        let is_home = state.held(slot) == Held::Planned(slot);
        for (at, unit) in self.scene.units.iter().enumerate().filter(|(_, unit)| unit.slots.contains(&slot)) {
            for reads in [PlaceState::Absent, PlaceState::Failed, PlaceState::NotInUse] {
                let is_single = unit.slots.len() == 1;
                let shows = match reads {
                    // what is not there leaves room for what came
                    PlaceState::Absent if is_single => {
                        state.held(slot) == Held::Clash || seen.state == reads && is_home
                    }
                    reads if is_single => seen.state == reads,
                    reads => self.may_be_unread(unit, reads),
                };
                if shows {
                    candidates.push(Fault::Unread { unit: at, reads });
                }
            }
        }
    }

    /// Whether a unit may be read so by what is seen: of what hides more, nothing is known.
    fn may_be_unread(&self, unit: &Unit, reads: PlaceState) -> bool {
        let allowed = |state: PlaceState| match state {
            PlaceState::Absent | PlaceState::Unknown => true,
            PlaceState::Failed => reads != PlaceState::Absent,
            PlaceState::NotInUse => reads == PlaceState::NotInUse,
            PlaceState::InUse => false,
        };
        unit.slots.iter().all(|&slot| self.scene.seen(slot).is_none_or(|seen| allowed(seen.state)))
    }

    fn add_foreign(&self, slot: usize, state: &State, candidates: &mut Vec<Fault>) {
        let Some(seen) = self.scene.seen(slot).filter(|seen| seen.state != PlaceState::Absent && !seen.is_untold())
        else {
            return;
        };
        let is_other = match state.held(slot) {
            Held::Planned(own) => own == slot && !self.scene.fits(slot, own),
            Held::Empty => true,
            Held::Foreign | Held::Clash => false,
        };
        if is_other {
            let reads = if seen.state.is_filled() { seen.state } else { PlaceState::InUse };
            candidates.push(Fault::Foreign { slot, reads });
        }
    }

    fn add_moves(
        &self,
        slot: usize,
        faults: &[Fault],
        candidates: &mut Vec<Fault>,
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        let scene = self.scene;
        let is_planned = |at: usize| scene.piece(at).is_some();
        let moves = |at: usize| {
            faults.iter().any(|fault| match fault {
                Fault::Move { path, .. } => path.contains(&at),
                Fault::Undone { from, to } => [*from, *to].contains(&at),
                _ => false,
            })
        };
        let leaves = |at: usize| {
            faults.iter().any(|fault| match fault {
                Fault::Move { path, is_closed } => {
                    path.iter().take(path.len() - usize::from(!is_closed)).any(|own| *own == at)
                }
                Fault::Unread { unit, reads: PlaceState::Absent } => {
                    scene.units.get(*unit).is_some_and(|unit| unit.slots == [at])
                }
                Fault::Undone { from, to } => [*from, *to].contains(&at),
                Fault::Unread { .. } | Fault::Foreign { .. } | Fault::Setting(_) => false,
            })
        };
        let comes = |at: usize| {
            faults.iter().any(|fault| match fault {
                Fault::Move { path, is_closed } => path.iter().skip(usize::from(!is_closed)).any(|own| *own == at),
                _ => false,
            })
        };
        let may_come = |from: usize, to: usize| {
            from != to && scene.may_hold(to) && scene.fits(to, from) && !(is_planned(to) && scene.alike(from, to))
        };
        for &other in &self.slots {
            if other == slot || !self.is_free(other) {
                continue;
            }
            let undone = [(slot, other), (other, slot)].into_iter().filter(|(from, to)| {
                scene.is_undone(*from, *to)
                    // what was to go stays in its slot, so that another may have come to where it was to go
                    && !leaves(*from)
                    && !leaves(*to)
                    && !comes(*from)
                    && self.is_in_order(*from, *to, faults)
            });
            candidates.extend(undone.map(|(from, to)| Fault::Undone { from, to }));
            let open = |from: usize, to: usize| Fault::Move { path: vec![from, to], is_closed: false };
            if is_planned(other) && !leaves(other) && may_come(other, slot) {
                candidates.push(open(other, slot));
                let is_swap = is_planned(slot) && !moves(slot) && !moves(other) && may_come(slot, other);
                if is_swap && !leaves(slot) {
                    let path = vec![slot.min(other), slot.max(other)];
                    candidates.push(Fault::Move { path, is_closed: true });
                }
            }
            if is_planned(slot) && !leaves(slot) && may_come(slot, other) {
                candidates.push(open(slot, other));
            }
        }
        let is_told = scene.seen(slot).is_some_and(|seen| !seen.is_untold());
        if is_planned(slot) && !moves(slot) && is_told {
            let mut path = vec![slot];
            let is_at_home = |at: usize| is_planned(at) && !moves(at) && !leaves(at);
            self.add_rotations(&mut path, &is_at_home, &may_come, candidates, budget)?;
        }
        Ok(())
    }

    /// Of alike modules the first is the one that was to go to the first slot: nothing tells which it was.
    fn is_in_order(&self, from: usize, to: usize, faults: &[Fault]) -> bool {
        faults.iter().all(|fault| match fault {
            Fault::Undone { from: other, to: its } if self.scene.alike(to, *its) => (from < *other) == (to < *its),
            _ => true,
        })
    }

    fn is_free(&self, slot: usize) -> bool {
        self.free.get(slot).copied().unwrap_or(false)
    }

    /// Rotations that go on from a path: the module of each slot may sit in the next.
    fn add_rotations(
        &self,
        path: &mut Vec<usize>,
        is_at_home: &impl Fn(usize) -> bool,
        may_come: &impl Fn(usize, usize) -> bool,
        candidates: &mut Vec<Fault>,
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        budget.spend()?;
        let (Some(&first), Some(&last)) = (path.first(), path.last()) else { return Ok(()) };
        if path.len() > 2 && may_come(last, first) {
            let least = path.iter().enumerate().min_by_key(|(_, slot)| **slot).map_or(0, |(at, _)| at);
            let mut turned = path.clone();
            turned.rotate_left(least);
            candidates.push(Fault::Move { path: turned, is_closed: true });
        }
        for &next in &self.slots {
            // what a slot does not tell is seen in no rotation
            let is_told = self.scene.seen(next).is_some_and(|seen| !seen.is_untold());
            let is_new = is_told && !path.contains(&next) && path.iter().all(|&slot| !self.scene.alike(slot, next));
            if is_new && self.is_free(next) && is_at_home(next) && may_come(last, next) {
                path.push(next);
                let end = self.add_rotations(path, is_at_home, may_come, candidates, budget);
                path.pop();
                end?;
            }
        }
        Ok(())
    }
}

/// The slots that may hold another planned module than their own, or are not as planned: no others are touched by a least explanation.
pub(crate) fn free_slots(scene: &Scene<'_>, state: &State) -> Vec<bool> {
    let count = scene.pieces.len();
    let is_free = |slot: usize| {
        if !scene.agrees(state, slot) {
            return true;
        }
        let others = || (0..count).filter(|&other| scene.piece(other).is_some() && other != slot);
        scene.may_hold(slot)
            && others()
                .any(|other| scene.fits(slot, other) && !(scene.piece(slot).is_some() && scene.alike(slot, other)))
    };
    (0..count).map(is_free).collect()
}

/// The slots that some fault could touch together, of those with something to explain.
pub(crate) fn components(scene: &Scene<'_>, bad: &[usize], free: &[bool]) -> Vec<Vec<usize>> {
    let is_free = |slot: usize| free.get(slot).copied().unwrap_or(false);
    let is_unit = |slot: usize, other: usize| {
        let holds = |unit: &&Unit| unit.slots.len() > 1 && unit.slots.contains(&slot) && unit.slots.contains(&other);
        let seen = |slot: usize| scene.seen(slot).map_or(PlaceState::Unknown, |seen| seen.state);
        scene.units.iter().filter(holds).any(|unit| unit.slots.iter().all(|&slot| seen(slot) != PlaceState::InUse))
    };
    let is_move = |from: usize, to: usize| {
        scene.piece(from).is_some()
            && scene.may_hold(to)
            && scene.fits(to, from)
            && !(scene.piece(to).is_some() && scene.alike(from, to))
    };
    let all: Vec<usize> = (0..scene.pieces.len()).filter(|&slot| is_free(slot)).collect();
    let mut left = all.clone();
    let mut components = Vec::new();
    for &slot in bad {
        if !left.contains(&slot) {
            continue;
        }
        let mut own = vec![slot];
        left.retain(|&other| other != slot);
        let mut at = 0;
        while let Some(&from) = own.get(at) {
            let touches = |other: &usize| is_move(from, *other) || is_move(*other, from) || is_unit(from, *other);
            own.extend(left.iter().copied().filter(touches));
            left.retain(|other| !touches(other));
            at += 1;
        }
        own.sort_unstable();
        components.push(own);
    }
    components
}
