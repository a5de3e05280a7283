//! What stays, moves or is pulled.

use slotwright::platform::ChannelId;

use super::linear::{Compare, Term, Variable};
use super::{Program, minor};

use super::super::patterns::Sequence;

/// A present module, as far as its fate depends on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Cell {
    /// Absent where it is too slow to be kept.
    part: Option<usize>,
    is_pinned: bool,
    credit: i64,
}

/// What the slots of a channel hold now, from the far end.
pub(super) type Cells = Vec<Option<Cell>>;

impl Program<'_> {
    pub(super) fn cells(&self, channel: ChannelId) -> Cells {
        let present = &self.request.present;
        let cell = |label| {
            let (_, fitted) = present.population.modules().find(|(slot, _)| *slot == label)?;
            let credit = minor(present.credits.get(label).copied());
            Some(Cell { part: self.part(&fitted.module), is_pinned: present.pinned.contains(label), credit })
        };
        let slots = &self.planner.machine().platform().channel(channel).slots;
        slots.iter().map(|&slot| cell(self.label(slot))).collect()
    }

    /// Whether a cell could stay where a sequence is.
    fn fits(&self, cell: Option<Cell>, look: Option<&Option<usize>>) -> bool {
        let look = look.copied().flatten();
        look.is_some() && cell.and_then(|cell| cell.part).map(|part| self.parts[part].1) == look
    }

    /// Whether anything could stay.
    pub(super) fn keeps(&self, cells: &Cells, sequence: &Sequence) -> bool {
        cells.iter().enumerate().any(|(position, cell)| self.fits(*cell, sequence.get(position)))
    }

    /// The fates of what so many channels hold, where so many of them carry each of these sequences.
    pub(super) fn fates(&mut self, cells: &Cells, channels: i64, carried: &[(Sequence, Variable)]) {
        let machines = i64::from(self.request.machines);
        let labour = self.labour();
        for (position, cell) in cells.iter().enumerate() {
            let Some(Cell { part, is_pinned, credit }) = *cell else { continue };
            // it is taken out; it need not be where it stays, nor is what is there put in
            let credit = credit * machines;
            self.linear.fixed_cost += channels * (labour - credit);
            let matching = carried.iter().filter(|(sequence, _)| self.fits(*cell, sequence.get(position)));
            let stays_where: Vec<Term> = matching.map(|&(_, carrying)| (carrying, -1)).collect();
            let least = if is_pinned { channels } else { 0 };
            let stays = self.linear.integer(credit - 2 * labour, least, channels);
            self.linear.row(stays_where.into_iter().chain([(stays, 1)]), Compare::AtMost, 0);
            let Some(part) = part else { continue };
            let moves = self.linear.integer(credit, 0, channels - least);
            self.linear.row([(stays, 1), (moves, 1)], Compare::AtMost, channels);
            self.supply[part].extend([(stays, machines), (moves, machines)]);
        }
    }
}
