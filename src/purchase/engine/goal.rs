use std::collections::HashMap;

use crate::fill::ClassId;
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::stock::Lines;

/// Classes and how many modules of each, in one machine.
pub(crate) type Counts = Vec<(ClassId, usize)>;

/// What a search is for.
#[derive(Debug, Clone, Default)]
pub(crate) enum Goal {
    /// The best plan.
    #[default]
    Best,
    /// Some plan, whichever is found first.
    Any,
    /// The best plan whose purchase lines are none of these.
    Except(Vec<Lines>),
    /// For all numbers of modules that can be had within the budget, the least that each costs.
    Every(HashMap<Counts, Amount>),
}

impl Goal {
    /// Whether plans with these lines do not count.
    pub(crate) fn is_taken(&self, list: &Lines) -> bool {
        matches!(self, Self::Except(taken) if taken.contains(list))
    }

    /// How many lists do not count.
    pub(crate) fn lists_taken(&self) -> usize {
        match self {
            Self::Except(taken) => taken.len(),
            Self::Best | Self::Any | Self::Every(_) => 0,
        }
    }
}
