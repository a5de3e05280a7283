//! The printed population rows that hold for a machine, over its places.

use std::collections::BTreeSet;

use crate::fill::choices::{Choices, OpenPlaces};
use crate::fill::in_force::PrintedRow;
use crate::fill::loads::Loads;
use crate::fill::slot_model::ModelSlot;
use crate::fill::{ClassId, FollowedRow, PlaceId, SlotModel, SocketIx};
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::{FillSlot, SlotId, SocketId, TwoSizes};
use crate::search::{Index, StateSet, Table};

/// A place to fill, and what the row says of it.
pub(crate) struct RowSlot {
    pub(crate) place: PlaceId,
    wanted: FillSlot,
}

/// A row that could be filled on this machine.
pub(crate) struct Row {
    pub(crate) followed: FollowedRow,
    /// The places to fill.
    pub(crate) slots: Vec<RowSlot>,
    /// Whether it speaks of modules of two sizes only.
    pub(crate) marks_sizes: bool,
}

impl RowSlot {
    /// Whether a module can be what belongs there among modules of these sizes, as far as is known.
    pub(crate) fn suits(&self, module: &MemoryModule, sizes: Option<TwoSizes>) -> bool {
        self.wanted.takes(module, sizes) != Ok(false)
    }
}

impl Row {
    /// Whether it speaks of so many modules, of two sizes or not.
    pub(crate) fn speaks_of(&self, modules: usize, sizes: Option<TwoSizes>) -> bool {
        self.slots.len() == modules && (sizes.is_some() || !self.marks_sizes)
    }

    /// What places may hold with the row, for modules of these sizes, imposed on those of one processor, or on all.
    pub(crate) fn impose(
        &self,
        (model, loads): (&SlotModel<'_>, &Loads),
        sizes: Option<TwoSizes>,
        open: &OpenPlaces,
        socket: Option<SocketIx>,
    ) -> OpenPlaces {
        let fits = |slot: &RowSlot| {
            let suits = |class| model.classes.get(class).is_some_and(|module| slot.suits(module, sizes));
            Choices::modules(loads.kinds.iter().filter(|&(_, &class)| suits(class)).map(|(kind, _)| kind))
        };
        let imposed = |place: PlaceId| match self.slots.iter().find(|slot| slot.place == place) {
            Some(slot) => fits(slot),
            None => Choices::only(None),
        };
        let socket_of = |place: PlaceId| model.slots.get(place).map(|slot| slot.socket);
        let concerns = |place: PlaceId| socket.is_none_or(|socket| socket_of(place) == Some(socket));
        let under = |(place, &choices): (PlaceId, &Choices)| match concerns(place) {
            true => choices.and(imposed(place)),
            false => choices,
        };
        open.iter().map(under).collect()
    }
}

/// The rows that speak of one set of sockets.
pub(crate) struct RowGroup {
    pub(crate) sockets: Vec<SocketIx>,
    pub(crate) rows: Vec<Row>,
    /// The numbers of modules for which there is a row, fillable or not; and whether it is for two sizes only.
    counts: BTreeSet<(usize, bool)>,
    /// Those for which breaking every row is refused.
    required: BTreeSet<(usize, bool)>,
}

impl RowGroup {
    fn new(sockets: Vec<SocketIx>) -> Self {
        Self { sockets, rows: Vec::new(), counts: BTreeSet::new(), required: BTreeSet::new() }
    }

    /// The states of which no row that must be followed speaks.
    pub(crate) fn unlisted(&self, rows: RowsInForce, model: &SlotModel<'_>, loads: &Loads) -> StateSet {
        let mut states = loads.states_where(|count| !rows.speak_of(self, count, None));
        if self.counts.iter().any(|&(_, marks_sizes)| marks_sizes) {
            let is_listed = |vector| {
                let there = loads.kinds.iter().map(|(kind, class)| (class, loads.states.count(vector, kind)));
                let there = there.filter(|&(_, count)| count > 0);
                let sizes = sizes_of(model, there.clone().map(|(&class, _)| class));
                sizes.is_some() && rows.speak_of(self, there.map(|(_, count)| count).sum(), sizes)
            };
            states.remove(&loads.states_that(is_listed));
        }
        states
    }
}

/// Which printed rows a candidate must follow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum RowsInForce {
    All,
    Required,
    None,
}

impl RowsInForce {
    /// Whether so many modules of a group's processors, of two sizes or not, must follow one of its rows.
    pub(crate) fn speak_of(self, group: &RowGroup, count: usize, sizes: Option<TwoSizes>) -> bool {
        let counts = match self {
            Self::All => &group.counts,
            Self::Required => &group.required,
            Self::None => return false,
        };
        counts.contains(&(count, false)) || (sizes.is_some() && counts.contains(&(count, true)))
    }
}

/// The two sizes of some classes, where they have just two.
pub(crate) fn sizes_of(model: &SlotModel<'_>, classes: impl Iterator<Item = ClassId>) -> Option<TwoSizes> {
    TwoSizes::of(classes.filter_map(|class| model.classes.get(class).copied()))
}

#[derive(Default)]
pub(crate) struct Rows {
    pub(crate) groups: Vec<RowGroup>,
}

impl Rows {
    /// The rows that rules hold populations to and that speak of this machine.
    pub(crate) fn new(machine: &Machine, slots: &Table<PlaceId, ModelSlot>, all: &[PrintedRow]) -> Self {
        let platform = machine.platform();
        let present: Vec<SocketId> = machine.processors().map(|(id, _)| id).collect();
        let mut rows = Self::default();
        for PrintedRow { row, is_required } in all {
            if !row.is_for(machine.mode(), present.len()) {
                continue;
            }
            let ids: Vec<SlotId> =
                row.slots.iter().filter_map(|slot| platform.slot_named(slot.slot.as_str())).collect();
            let sockets: BTreeSet<SocketId> = ids.iter().map(|&id| platform.slot(id).socket).collect();
            let index_of = |socket: &SocketId| present.iter().position(|other| other == socket).map(SocketIx::of);
            let Some(sockets) = sockets.iter().map(index_of).collect::<Option<Vec<SocketIx>>>() else { continue };
            let Some(group) = rows.group_of(sockets) else { continue };
            let marks_sizes = row.marks_sizes();
            group.counts.insert((row.slots.len(), marks_sizes));
            if *is_required {
                group.required.insert((row.slots.len(), marks_sizes));
            }
            let row_slots = ids
                .iter()
                .zip(&row.slots)
                .map(|(id, slot)| Some(RowSlot { place: slots.find(|known| known.id == *id)?, wanted: slot.clone() }));
            // a row with a slot that cannot be used cannot be filled
            let fillable: Option<Vec<RowSlot>> = row_slots.collect();
            let index = platform.description().fill_rows.iter().position(|other| other == row);
            group.rows.extend(fillable.map(|slots| Row { followed: FollowedRow::of(row, index), slots, marks_sizes }));
        }
        rows
    }

    /// The group of these sockets, which is put to the end where it is new.
    fn group_of(&mut self, sockets: Vec<SocketIx>) -> Option<&mut RowGroup> {
        if let Some(known) = self.groups.iter().position(|group| group.sockets == sockets) {
            return self.groups.get_mut(known);
        }
        self.groups.push(RowGroup::new(sockets));
        self.groups.last_mut()
    }

    /// The rows that speak of one processor alone.
    pub(crate) fn of_socket(&self, socket: SocketIx) -> Option<&RowGroup> {
        self.groups.iter().find(|group| group.sockets == [socket])
    }
}
