use std::collections::BTreeMap;

use crate::population::{Fitted, Population};
use crate::unit::Name;
use crate::work_order::{PutDown, Supply};

/// Where everything is at some point of the work.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct WorkState {
    /// What is in each slot.
    pub slots: Population,
    /// The module in each bag, by the label of its slot.
    pub bags: BTreeMap<Name, Fitted>,
    /// What was brought and is not fitted.
    pub supplies: Vec<Supply>,
    /// The blanks at hand.
    pub blanks: usize,
    /// What was found bad and is put by.
    pub bad: Vec<Fitted>,
    /// By slot, where its module lay before the work: in the bag of a slot if it was in that slot.
    pub(crate) homes: BTreeMap<Name, PutDown>,
}

impl WorkState {
    /// By slot, where its module belongs when it is taken out: the bag of the slot in which it was before the work, or what was brought.
    pub fn homes(&self) -> impl Iterator<Item = (&Name, &PutDown)> {
        self.homes.iter()
    }
}
