//! A placing, with what decides between placings of the same modules.

use std::cmp::Ordering;

use crate::fill::slot_model::Contents;
use crate::fill::target::{Speed, Target};
use crate::fill::{ClassId, KindIx};
use crate::search::{Index, Table};
use crate::unit::{Bandwidth, DataRate};

/// The fill priority of what sits in a place: the lower comes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Rank {
    /// A module; 0 for that of highest priority.
    Filled(u32),
    /// Nothing.
    Empty,
}

impl Rank {
    /// The rank of each place's content, where classes come in this order. All that is placed is of these classes.
    pub(crate) fn of_each(at: &Contents, kinds: &Table<KindIx, ClassId>) -> Vec<Self> {
        let rank = |&class: &Option<ClassId>| {
            let kind = class.and_then(|class| kinds.find(|&kind| kind == class));
            // no demand has so many kinds that this would be clamped
            kind.map_or(Self::Empty, |kind| Self::Filled(u32::try_from(kind.get()).unwrap_or(u32::MAX)))
        };
        at.values().iter().map(rank).collect()
    }
}

/// A placing, with what decides between placings of the same modules.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Placed {
    pub(crate) at: Contents,
    pub(crate) rate: Option<DataRate>,
    /// Spread, then swept.
    pub(crate) bandwidth: (Bandwidth, Bandwidth),
    pub(crate) target: Target,
    /// The priority of what sits in each place.
    pub(crate) ranks: Vec<Rank>,
    pub(crate) moves_first: bool,
    /// Whether it breaks the platform's printed rows.
    pub(crate) outside_rows: bool,
}

impl Placed {
    /// The same, marked as breaking the platform's printed rows.
    pub(crate) fn outside(self) -> Self {
        Self { outside_rows: true, ..self }
    }

    /// Better first, inside printed rows or outside them; where moves cost money, fewer come before rows.
    pub(crate) fn order_by_rows(&self, other: &Self) -> Ordering {
        let first = |placed: &Self| (if placed.moves_first { placed.target.moves } else { 0 }, placed.outside_rows);
        first(self).cmp(&first(other)).then_with(|| self.order(other))
    }

    /// Better first: the documented order, as far as placing decides.
    pub(crate) fn order(&self, other: &Self) -> Ordering {
        let moves = |placed: &Self| if self.moves_first { placed.target.moves } else { 0 };
        // speeds are counted in parts, which differ from search to search; the bandwidth says it all
        let rest = |placed: &Self| Target { speed: Speed::ZERO, ..placed.target }.rank(self.moves_first);
        moves(self)
            .cmp(&moves(other))
            .then_with(|| self.target.bare.cmp(&other.target.bare))
            .then_with(|| other.rate.cmp(&self.rate))
            .then_with(|| self.target.spread.cmp(&other.target.spread))
            .then_with(|| other.bandwidth.cmp(&self.bandwidth))
            .then_with(|| rest(self).cmp(&rest(other)))
            .then_with(|| self.ranks.cmp(&other.ranks))
    }
}
