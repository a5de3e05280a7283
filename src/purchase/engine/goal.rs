use std::collections::HashMap;
use std::rc::Rc;

use crate::fill::ClassId;
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::sequel::Sequel;
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
    /// All numbers of modules that may be had within the budget.
    Every(Every),
}

/// Numbers of modules, each with the least that it costs, with what follows.
#[derive(Debug, Clone)]
pub(crate) struct Every {
    pub(crate) found: HashMap<Counts, Amount>,
    pub(crate) follows: Follows,
}

/// What follows a plan costs at least.
#[derive(Debug, Clone, Default)]
pub(crate) struct Follows {
    /// Whatever is fitted.
    pub(crate) at_least: Amount,
    /// By what is fitted, where that is known.
    pub(crate) sequel: Option<Rc<Sequel>>,
}

impl Goal {
    /// Whether plans with these lines do not count.
    pub(crate) fn is_taken(&self, list: &Lines) -> bool {
        matches!(self, Self::Except(taken) if taken.contains(list))
    }

    /// What follows so many modules of each class at least; `None` where nothing can.
    pub(crate) fn follows_at_least(&self, counts: impl IntoIterator<Item = (ClassId, usize)>) -> Option<Amount> {
        let Self::Every(Every { follows, .. }) = self else { return Some(0) };
        match &follows.sequel {
            Some(sequel) => Some(sequel.least(counts)?.max(follows.at_least)),
            None => Some(follows.at_least),
        }
    }

    /// What follows at least whatever is fitted.
    pub(crate) fn follows_in_any_case(&self) -> Amount {
        if let Self::Every(Every { follows, .. }) = self { follows.at_least } else { 0 }
    }

    /// How many lists do not count.
    pub(crate) fn lists_taken(&self) -> usize {
        match self {
            Self::Except(taken) => taken.len(),
            Self::Best | Self::Any | Self::Every(_) => 0,
        }
    }
}
