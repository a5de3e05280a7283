//! What a placing is asked for.

use std::cmp::Ordering;

use crate::fill::SlotModel;
use crate::unit::Bandwidth;

/// What is to be placed.
#[derive(Debug, Clone, Default)]
pub(crate) struct Demand {
    /// Classes and how many of each, pinned ones included.
    pub(crate) counts: Vec<(usize, usize)>,
    /// Slots whose content is settled: a class, or nothing.
    pub(crate) pinned: Vec<(usize, Option<usize>)>,
    /// The class and group of the present module in each usable slot, where some of that group are used;
    /// empty where what is present is no matter.
    pub(crate) present: Vec<Option<Present>>,
    /// How many present modules of each group are used. Those that do not stay in their slots move.
    pub(crate) used: Vec<usize>,
    /// Whether a move costs money, so that fewer moves come before a higher rate.
    pub(crate) moves_first: bool,
    /// The lowest step that will do; any, or no rate at all, where absent.
    pub(crate) least_level: Option<i32>,
    /// The least bandwidth that will do, by its lower bound.
    pub(crate) least_swept: Option<Bandwidth>,
    /// The least and the most MiB that there may be less spare ranks.
    pub(crate) usable: Usable,
    /// What every channel with usable slots must hold, in MiB; anything where absent.
    pub(crate) even: Option<u64>,
    /// Whether any legal placing will do, the best one or not.
    pub(crate) any_will_do: bool,
    /// How many empty slots may be lost at most.
    pub(crate) most_lost: Option<usize>,
    /// How many present modules may move at most.
    pub(crate) most_moves: Option<usize>,
}

/// The least and the most capacity that will do, in MiB.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Usable(pub(crate) u64, pub(crate) u64);

impl Default for Usable {
    fn default() -> Self {
        Self(0, u64::MAX)
    }
}

/// A present module as a placing sees it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Present {
    pub(crate) class: usize,
    /// Present modules of one group stand in for each other: of some groups not all are used.
    pub(crate) group: usize,
}

impl Demand {
    /// The classes of which there are some, with their numbers, that of highest priority first.
    pub(crate) fn kinds_by_priority(&self, model: &SlotModel<'_>) -> Vec<(usize, usize)> {
        let mut kinds: Vec<(usize, usize)> = self.counts.iter().copied().filter(|&(_, count)| count > 0).collect();
        let priority = model.machine.platform().fill_priority;
        kinds.sort_by(|a, b| match (model.classes.get(a.0), model.classes.get(b.0)) {
            (Some(a), Some(b)) => priority.compare(a, b).then_with(|| a.cmp(b)),
            _ => Ordering::Equal,
        });
        kinds
    }

    pub(crate) fn present_at(&self, slot: usize) -> Option<Present> {
        self.present.get(slot).copied().flatten()
    }

    /// How many modules of a group could stay.
    pub(crate) fn slots_of(&self, group: usize) -> usize {
        self.present.iter().flatten().filter(|present| present.group == group).count()
    }

    /// How many present modules that are used do not stay, given how many of each group could.
    pub(crate) fn moves(&self, stays: impl Iterator<Item = usize>) -> usize {
        self.used.iter().zip(stays).map(|(used, stay)| used.saturating_sub(stay)).sum()
    }
}
