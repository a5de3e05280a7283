//! What a search for a placing aims at: how fast it is, and what it gives up.

use std::cmp::Reverse;

/// Bandwidth in parts of a channel's, by the scales of paces and rates; more is better.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Speed {
    /// Where all memory is read at once: the upper bound.
    pub(crate) spread: u128,
    /// Where one region is read after another: the lower bound.
    pub(crate) swept: u128,
}

impl Speed {
    pub(crate) const ZERO: Self = Self { spread: 0, swept: 0 };

    /// Both bounds times so much. What 128 bits cannot hold is compared as the most that they can.
    pub(crate) fn times(self, factor: u128) -> Self {
        Self { spread: self.spread.saturating_mul(factor), swept: self.swept.saturating_mul(factor) }
    }

    /// The sum of both bounds, held in 128 bits alike.
    pub(crate) fn plus(self, other: Self) -> Self {
        Self { spread: self.spread.saturating_add(other.spread), swept: self.swept.saturating_add(other.swept) }
    }

    /// The higher of each bound.
    pub(crate) fn highest(self, other: Self) -> Self {
        Self { spread: self.spread.max(other.spread), swept: self.swept.max(other.swept) }
    }
}

/// What a way of sharing out gives up, and how fast it is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Target {
    /// Present modules that are used and do not stay in their slots; less is better.
    pub(crate) moves: usize,
    /// Processors without memory; less is better.
    pub(crate) bare: usize,
    pub(crate) speed: Speed,
    /// Largest difference between processors, in weighted MiB; less is better.
    pub(crate) spread: u64,
    /// Empty slots that can no longer take a module; less is better.
    pub(crate) lost: usize,
}

/// The order in which targets are tried.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct TargetRank {
    moves_that_cost: usize,
    bare: usize,
    spread: u64,
    speed: Reverse<Speed>,
    moves: usize,
    lost: usize,
}

impl Target {
    pub(crate) const NONE: Self = Self { moves: 0, bare: 0, speed: Speed::ZERO, spread: 0, lost: 0 };

    /// Where moves cost money they come first, else after what the layout is worth.
    pub(crate) fn rank(self, moves_first: bool) -> TargetRank {
        TargetRank {
            moves_that_cost: if moves_first { self.moves } else { 0 },
            bare: self.bare,
            spread: self.spread,
            speed: Reverse(self.speed),
            moves: if moves_first { 0 } else { self.moves },
            lost: self.lost,
        }
    }
}
