//! What a placing is asked for.

use std::cmp::Ordering;

use crate::fill::{ClassId, Level, PlaceId, PresentGroup, SlotModel};
use crate::search::Table;
use crate::unit::Bandwidth;

/// What is to be placed.
#[derive(Debug, Clone, Default)]
pub(crate) struct Demand {
    /// Classes and how many of each, pinned ones included.
    pub(crate) counts: Vec<(ClassId, usize)>,
    /// Places whose content is settled: a class, or nothing.
    pub(crate) pinned: Vec<(PlaceId, Option<ClassId>)>,
    /// The class and group of the present module in each place, where some of that group are used;
    /// empty where what is present is no matter.
    pub(crate) present: Table<PlaceId, Option<Present>>,
    /// How many present modules of each group are used. Those that do not stay in their places move.
    pub(crate) used: Table<PresentGroup, usize>,
    /// Whether a move costs money, so that fewer moves come before a higher rate.
    pub(crate) moves_first: bool,
    /// Whether a better placing comes before leaving what is there as it is.
    pub(crate) quality_first: bool,
    /// The lowest level that will do; any, or no rate at all, where absent.
    pub(crate) least_level: Option<Level>,
    /// What comes after this in the order of layouts will not do either; anything will where absent.
    pub(crate) to_match: Option<ToMatch>,
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

/// What a placing must come up to, in the order of layouts: less and less matters where more is better before it.
#[derive(Debug, Clone, Copy)]
pub(crate) struct ToMatch {
    /// Processors without memory.
    pub(crate) bare: usize,
    pub(crate) level: Level,
    /// The largest difference between processors, in weighted MiB.
    pub(crate) spread: u64,
    /// Spread, then swept.
    pub(crate) bandwidth: (Bandwidth, Bandwidth),
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
    pub(crate) class: ClassId,
    /// Present modules of one group stand in for each other: of some groups not all are used.
    pub(crate) group: PresentGroup,
}

/// Whether a number is more than a limit, where there is one.
pub(crate) fn exceeds(number: usize, most: Option<usize>) -> bool {
    most.is_some_and(|most| number > most)
}

impl Demand {
    /// The classes of which there are some, with their numbers, that of highest priority first.
    pub(crate) fn kinds_by_priority(&self, model: &SlotModel<'_>) -> Vec<(ClassId, usize)> {
        let mut kinds: Vec<(ClassId, usize)> = self.counts.iter().copied().filter(|&(_, count)| count > 0).collect();
        let priority = model.machine.platform().description().fill_priority;
        kinds.sort_by(|a, b| match (model.classes.get(a.0), model.classes.get(b.0)) {
            (Some(a), Some(b)) => priority.compare(a, b).then_with(|| a.cmp(b)),
            _ => Ordering::Equal,
        });
        kinds
    }

    pub(crate) fn is_pinned(&self, place: PlaceId) -> bool {
        self.pinned.iter().any(|&(pinned, _)| pinned == place)
    }

    pub(crate) fn present_at(&self, place: PlaceId) -> Option<Present> {
        self.present.get(place).copied().flatten()
    }

    /// How many modules of a group could stay.
    pub(crate) fn places_of(&self, group: PresentGroup) -> usize {
        self.present.values().iter().flatten().filter(|present| present.group == group).count()
    }

    /// How many present modules that are used do not stay, given how many of each group could.
    pub(crate) fn moves(&self, stays: impl Fn(PresentGroup) -> usize) -> usize {
        // more can stay than are used, where others of their group are pulled
        self.used.iter().map(|(group, used)| used.saturating_sub(stays(group))).sum()
    }
}
