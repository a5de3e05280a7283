use std::cmp::Reverse;

use crate::fill::{ClassId, SlotModel};
use crate::module::MemoryModule;
use crate::purchase::engine::classes::ModuleClasses;
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::stock::Lines;
use crate::search::Table;
use crate::unit::{Bandwidth, DataRate};

/// What decides between plans, in the documented order; less is better.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct PlanKey {
    /// What comes before quality: cost, and whether anything is touched; the same for all where quality comes first.
    pub(crate) first: (Amount, bool),
    pub(crate) outside_rows: bool,
    /// Processors without memory.
    pub(crate) bare: usize,
    pub(crate) rate: Reverse<Option<DataRate>>,
    /// The largest difference between processors.
    pub(crate) spread: u64,
    /// Spread, then swept.
    pub(crate) bandwidth: Reverse<(Bandwidth, Bandwidth)>,
    pub(crate) cost: Amount,
    /// Whether anything is taken out or put in, beside what is faulty.
    pub(crate) touched: bool,
    pub(crate) handlings: usize,
    pub(crate) parts: usize,
    pub(crate) free: Reverse<usize>,
    /// What sits in each place.
    pub(crate) priorities: Vec<Priority>,
    /// Units taken from offers and the shelf, fitted or not.
    pub(crate) taken: u64,
    pub(crate) list: Lines,
    pub(crate) pulled: usize,
}

impl PlanKey {
    /// The same at another cost.
    pub(crate) fn costing(self, cost: Amount, quality_first: bool) -> Self {
        let first = if quality_first { self.first } else { (cost, self.first.1) };
        Self { first, cost, ..self }
    }
}

/// The place of what sits in a slot in the order of filling.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Priority {
    /// A module: of higher priority first.
    Filled(usize),
    /// Nothing.
    Empty,
}

/// The fill priority of each class; modules that work alike come in the same place.
pub(crate) fn priorities(model: &SlotModel<'_>, classes: &ModuleClasses<'_>) -> Table<ClassId, Priority> {
    let fill_priority = model.machine.platform().description().fill_priority;
    let mut order: Vec<(ClassId, &MemoryModule)> = classes.all.iter().map(|(id, class)| (id, class.module)).collect();
    order.sort_by(|(_, a), (_, b)| fill_priority.compare(a, b).then_with(|| a.cmp(b)));
    let mut priorities = Table::filled(Priority::Empty, classes.all.len());
    let (mut place, mut before) = (0, None);
    for (index, (class, module)) in order.into_iter().enumerate() {
        let works = Some(module.without_identity());
        place = if works == before { place } else { index };
        before = works;
        priorities.get_mut(class).into_iter().for_each(|entry| *entry = Priority::Filled(place));
    }
    priorities
}
