//! The printed population rows that hold for a machine, as masks over its usable slots.

use std::collections::BTreeSet;

use crate::fill::slot_model::ModelSlot;
use crate::machine::Machine;
use crate::platform::FillRow;
use crate::platform::SocketId;
use crate::processor::ModulePattern;

/// A row that could be filled on this machine.
pub(crate) struct Row {
    /// Index in the platform's list; a caller's own row has none.
    pub(crate) index: Option<usize>,
    /// The usable slots to fill, with what belongs there.
    pub(crate) slots: Vec<(usize, Option<ModulePattern>)>,
}

/// The rows that speak of one set of sockets.
pub(crate) struct RowGroup {
    /// Indices of the grid's sockets.
    pub(crate) sockets: Vec<usize>,
    pub(crate) rows: Vec<Row>,
    /// The numbers of modules for which there is a row, fillable or not.
    pub(crate) counts: BTreeSet<usize>,
    /// Those for which breaking every row is refused.
    pub(crate) required: BTreeSet<usize>,
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
    /// The rows that rules hold populations to, each with whether breaking it is refused.
    pub(crate) fn new(machine: &Machine, slots: &[ModelSlot], all: &[(FillRow, bool)]) -> Self {
        let platform = machine.platform();
        let present: Vec<SocketId> = machine.processors().map(|(id, _)| id).collect();
        let mut groups: Vec<RowGroup> = Vec::new();
        for (row, is_required) in all {
            let index = platform.fill_rows.iter().position(|other| other == row);
            if !row.is_for(machine.mode(), present.len()) {
                continue;
            }
            let ids: Vec<_> = row.slots.iter().filter_map(|slot| platform.slot_named(slot.slot.as_str())).collect();
            let sockets: BTreeSet<_> = ids.iter().map(|&id| platform.slot(id).socket).collect();
            let sockets: Option<Vec<usize>> =
                sockets.iter().map(|socket| present.iter().position(|other| other == socket)).collect();
            let Some(sockets) = sockets else { continue };
            let place = match groups.iter().position(|group| group.sockets == sockets) {
                Some(place) => place,
                None => {
                    groups.push(RowGroup {
                        sockets,
                        rows: Vec::new(),
                        counts: BTreeSet::new(),
                        required: BTreeSet::new(),
                    });
                    groups.len() - 1
                }
            };
            let Some(group) = groups.get_mut(place) else { continue };
            group.counts.insert(row.slots.len());
            let fillable: Option<Vec<_>> = ids
                .iter()
                .zip(&row.slots)
                .map(|(id, slot)| Some((slots.iter().position(|known| known.id == *id)?, slot.module.clone())))
                .collect();
            if *is_required {
                group.required.insert(row.slots.len());
            }
            group.rows.extend(fillable.map(|slots| Row { index, slots }));
        }
        Self { groups }
    }
}
