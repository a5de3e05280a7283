//! The layouts that a board's manual prints: rows of slots, numbers of modules through the fill order, worked rows.

use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::{CountRow, FillRow, FillSlot, SlotId, SocketId, TwoSizes, WorkedRow};
use crate::processor::ModulePattern;
use crate::stated::{Basis, Scope};
use crate::unit::Name;

/// A layout that is printed: which slots of some processors are filled, and just these.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct PrintedLayout {
    /// The processors of which it speaks, in order.
    pub(crate) sockets: Vec<SocketId>,
    pub(crate) slots: Vec<(SlotId, Wanted)>,
    /// Whether it speaks of modules of two sizes only.
    pub(crate) marks_sizes: bool,
    pub(crate) basis: Basis,
    /// What it is called in a finding.
    pub(crate) text: Name,
}

/// What belongs into a slot.
#[derive(Debug, Clone, PartialEq)]
pub(crate) enum Wanted {
    Any,
    /// What a row says of the slot.
    InRow(Box<FillSlot>),
    /// A module of just these facts, whatever its part, maker and power.
    Facts(Box<MemoryModule>),
}

impl Wanted {
    /// Whether a module can be what belongs there among modules of these sizes, as far as is known.
    pub(crate) fn suits(&self, module: &MemoryModule, sizes: Option<TwoSizes>) -> bool {
        match self {
            Self::Any => true,
            Self::InRow(slot) => slot.takes(module, sizes) != Ok(false),
            Self::Facts(facts) => facts.is_like(&module.without_identity()),
        }
    }

    fn names_a_size(&self) -> bool {
        match self {
            Self::Any => false,
            Self::InRow(slot) => slot.module.as_ref().is_some_and(ModulePattern::names_a_size),
            Self::Facts(_) => true,
        }
    }
}

impl PrintedLayout {
    /// Whether it names what size of module belongs into each slot.
    pub(crate) fn names_sizes(&self) -> bool {
        self.slots.iter().all(|(_, wanted)| wanted.names_a_size())
    }

    /// The layouts that are printed for a machine as it is set; those with a slot that is not live are left out.
    pub(super) fn all(machine: &Machine) -> Vec<Self> {
        let platform = machine.platform();
        let present = machine.processors().count();
        let mut all: Vec<Self> = Vec::new();
        let rows = platform.description().fill_rows.iter().filter(|row| row.is_for(machine.mode(), present));
        all.extend(rows.filter_map(|row| Self::of_row(machine, row)));
        let rows = platform.description().count_rows.iter().filter(|row| row.is_for(machine.mode(), present));
        all.extend(rows.flat_map(|row| Self::of_counts(machine, row)));
        let rows = platform.description().worked_rows.iter().filter(|row| row.refused_by.is_none());
        all.extend(rows.filter_map(|row| Self::of_worked(machine, row)));
        all.retain(|layout| !layout.slots.is_empty());
        all
    }

    fn new(machine: &Machine, slots: Vec<(SlotId, Wanted)>, basis: Basis, text: &str) -> Option<Self> {
        if !slots.iter().all(|&(slot, _)| machine.is_live(slot)) {
            return None;
        }
        let mut sockets: Vec<SocketId> = slots.iter().map(|&(slot, _)| machine.platform().slot(slot).socket).collect();
        sockets.sort_unstable();
        sockets.dedup();
        Some(Self { sockets, slots, marks_sizes: false, basis, text: Name::lossy(text) })
    }

    fn of_row(machine: &Machine, row: &FillRow) -> Option<Self> {
        let marks_sizes = row.marks_sizes();
        let slot = |slot: &FillSlot| {
            let is_any = slot.module.is_none() && !marks_sizes;
            let wanted = if is_any { Wanted::Any } else { Wanted::InRow(Box::new(slot.clone())) };
            Some((machine.platform().slot_named(slot.slot.as_str())?, wanted))
        };
        let slots: Option<Vec<_>> = row.slots.iter().map(slot).collect();
        let layout = Self::new(machine, slots?, row.basis, &format!("a printed row of {} modules", row.slots.len()))?;
        Some(Self { marks_sizes, ..layout })
    }

    /// The first slots of the fill order, so many as are listed.
    fn of_counts(machine: &Machine, row: &CountRow) -> Vec<Self> {
        let of = |sockets: &[SocketId]| -> Vec<Self> {
            let live = machine.live_slots().filter(|&slot| sockets.contains(&machine.platform().slot(slot).socket));
            let live: Vec<(SlotId, Wanted)> = live.map(|slot| (slot, Wanted::Any)).collect();
            let layout = |&count: &u16| {
                let slots = live.get(..usize::from(count))?.to_vec();
                let text = format!("a listed number of {count} modules a {}", row.within);
                let layout = Self::new(machine, slots, row.basis, &text)?;
                Some(Self { sockets: sockets.to_vec(), ..layout })
            };
            row.counts.iter().filter_map(layout).collect()
        };
        let sockets: Vec<SocketId> = machine.processors().map(|(socket, _)| socket).collect();
        match row.within {
            // a number for a channel says nothing of which channels are filled
            Scope::Channel => Vec::new(),
            Scope::Socket => sockets.into_iter().flat_map(|socket| of(&[socket])).collect(),
            Scope::Machine => of(&sockets),
        }
    }

    fn of_worked(machine: &Machine, row: &WorkedRow) -> Option<Self> {
        let platform = machine.platform();
        let fitted = |(socket, processor): (SocketId, &crate::processor::Processor)| {
            row.processors.get(&platform.socket(socket).label) == Some(processor.name())
        };
        let as_fitted = row.processors.len() == machine.processors().count() && machine.processors().all(fitted);
        let mode = row.mode.as_ref().map_or(crate::platform::Mode::INDEPENDENT, Name::as_str);
        let options = row.options.len() == machine.options().count()
            && machine.options().all(|option| row.options.contains(&option.name));
        if !as_fitted || mode != machine.mode() || !options {
            return None;
        }
        let mut slots = Vec::new();
        for modules in &row.modules {
            if modules.slots.len() != usize::from(modules.count) {
                return None;
            }
            for slot in &modules.slots {
                let wanted = Wanted::Facts(Box::new(modules.module.without_identity()));
                slots.push((platform.slot_named(slot.as_str())?, wanted));
            }
        }
        let layout = Self::new(machine, slots, row.basis, &format!("the worked row {}", row.name))?;
        Some(Self { sockets: machine.processors().map(|(socket, _)| socket).collect(), ..layout })
    }
}
