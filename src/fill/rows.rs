//! The printed population rows that hold for a machine, over its places.

use std::collections::BTreeSet;

use crate::fill::in_force::PrintedRow;
use crate::fill::slot_model::ModelSlot;
use crate::fill::{FollowedRow, PlaceId, SocketIx};
use crate::machine::Machine;
use crate::platform::{SlotId, SocketId};
use crate::processor::ModulePattern;
use crate::search::{Index, Table};

/// A place to fill, and the modules that belong there; any where absent.
pub(crate) struct RowSlot {
    pub(crate) place: PlaceId,
    pub(crate) module: Option<ModulePattern>,
}

/// A row that could be filled on this machine.
pub(crate) struct Row {
    pub(crate) followed: FollowedRow,
    /// The places to fill.
    pub(crate) slots: Vec<RowSlot>,
}

/// The rows that speak of one set of sockets.
pub(crate) struct RowGroup {
    pub(crate) sockets: Vec<SocketIx>,
    pub(crate) rows: Vec<Row>,
    /// The numbers of modules for which there is a row, fillable or not.
    pub(crate) counts: BTreeSet<usize>,
    /// Those for which breaking every row is refused.
    pub(crate) required: BTreeSet<usize>,
}

impl RowGroup {
    fn new(sockets: Vec<SocketIx>) -> Self {
        Self { sockets, rows: Vec::new(), counts: BTreeSet::new(), required: BTreeSet::new() }
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
    /// Whether so many modules of a group's processors must follow one of its rows.
    pub(crate) fn speak_of(self, group: &RowGroup, count: usize) -> bool {
        match self {
            Self::All => group.counts.contains(&count),
            Self::Required => group.required.contains(&count),
            Self::None => false,
        }
    }
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
            group.counts.insert(row.slots.len());
            if *is_required {
                group.required.insert(row.slots.len());
            }
            let row_slots = ids.iter().zip(&row.slots).map(|(id, slot)| {
                Some(RowSlot { place: slots.find(|known| known.id == *id)?, module: slot.module.clone() })
            });
            // a row with a slot that cannot be used cannot be filled
            let fillable: Option<Vec<RowSlot>> = row_slots.collect();
            let index = platform.fill_rows.iter().position(|other| other == row);
            group.rows.extend(fillable.map(|slots| Row { followed: FollowedRow::of(row, index), slots }));
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
