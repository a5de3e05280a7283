use crate::machine::{Machine, Unit};
use crate::module::MemoryModule;
use crate::platform::{SlotId, SocketId};
use crate::population::{Content, Layout, ModuleSite};

/// What sits in a channel, or in the channels that the mode joins, round by round.
#[derive(Debug, Clone, Copy)]
pub(crate) struct UnitLoad<'a> {
    layout: &'a Layout<'a>,
    unit: &'a Unit,
}

impl<'a> UnitLoad<'a> {
    /// The units of a processor.
    pub(crate) fn all(layout: &'a Layout<'a>, socket: SocketId) -> impl Iterator<Item = Self> + Clone + use<'a> {
        layout.machine().units(socket).iter().map(move |unit| Self { layout, unit })
    }

    pub(crate) fn machine(&self) -> &'a Machine {
        self.layout.machine()
    }

    pub(crate) fn layout(&self) -> &'a Layout<'a> {
        self.layout
    }

    pub(crate) fn unit(&self) -> &'a Unit {
        self.unit
    }

    /// The slots of a round that a module could sit in; none where another device sits in one.
    pub(crate) fn slots_of(&self, round: usize) -> &'a [SlotId] {
        let slots = self.unit.rounds.get(round).map_or(&[][..], Vec::as_slice);
        let is_taken = |&slot: &SlotId| matches!(self.layout.get(slot), Content::Other(_));
        if slots.iter().any(is_taken) { &[] } else { slots }
    }

    /// The modules of a round.
    pub(crate) fn modules_of(&self, round: usize) -> impl Iterator<Item = ModuleSite<'a>> + Clone + use<'a> {
        let (layout, machine) = (self.layout, self.machine());
        self.slots_of(round)
            .iter()
            .filter_map(move |&slot| Some(ModuleSite { machine, slot, module: layout.get(slot).module()? }))
    }

    /// By round the modules; absent for a round in which no module could sit.
    pub(crate) fn rounds(&self) -> Vec<Option<Vec<&'a MemoryModule>>> {
        let round = |round| match self.slots_of(round) {
            [] => None,
            _ => Some(self.modules_of(round).map(|site| site.module).collect()),
        };
        (0..self.unit.rounds.len()).map(round).collect()
    }

    pub(crate) fn is_empty(&self) -> bool {
        (0..self.unit.rounds.len()).all(|round| self.modules_of(round).next().is_none())
    }

    /// The last round that holds a module.
    pub(crate) fn last_filled(&self) -> Option<usize> {
        (0..self.unit.rounds.len()).rev().find(|&round| self.modules_of(round).next().is_some())
    }

    /// The first round in which modules could sit and none does.
    pub(crate) fn first_empty(&self) -> Option<usize> {
        let is_empty = |round| !self.slots_of(round).is_empty() && self.modules_of(round).next().is_none();
        (0..self.unit.rounds.len()).find(|&round| is_empty(round))
    }
}
