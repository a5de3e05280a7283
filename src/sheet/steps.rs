//! Steps as a table of one row a slot, and as ranges of their numbers.

use crate::platform::{KeyFacing, Platform, SlotId};
use crate::population::{Fitted, Occupant, Population};
use crate::sheet::slots::{brief, occupant};
use crate::sheet::{Cell, Column, Table};
use crate::unit::Name;
use crate::work_order::bench::board_order;
use crate::work_order::{Action, PutDown, Step};

/// A step, and its number.
pub(super) type Numbered<'a> = (usize, &'a Step);

/// What is in the slots before the steps, and what is said of it.
pub(super) struct Board<'a> {
    pub(super) platform: &'a Platform,
    pub(super) now: &'a Population,
    /// Whether only some of the steps are done, so that what is there now is not known: just what comes out and goes in is said.
    pub(super) only_some: bool,
}

impl Board<'_> {
    /// One row a slot that is touched or holds something, in the order in which modules come out: processor by processor, as the slots lie on the board where
    /// that is described, else by channel; and the slots that are empty and stay so. Columns that say nothing are left out.
    pub(super) fn table(&self, steps: &[Numbered<'_>]) -> (Table, Vec<String>) {
        let headings = match self.only_some {
            true => ["out", "in", "slot", "mark", "key", "comes out", "no. out", "put", "goes in", "no. in", "from"],
            false => ["out", "in", "slot", "mark", "key", "now", "no. now", "put", "afterwards", "no. then", "from"],
        };
        let mut table = Table::new(headings.map(Column::text));
        let mut empty = Vec::new();
        let known: Vec<&Name> = steps.iter().filter_map(|(_, step)| individual(taken_out(step)?)).collect();
        for slot in in_board_order(self.platform) {
            let label = self.platform.slot(slot).label();
            let of_slot: Vec<Numbered<'_>> = steps.iter().copied().filter(|(_, step)| step.slot == *label).collect();
            match (of_slot.is_empty(), self.now.get(label.as_str())) {
                (true, None) => empty.push(label.to_string()),
                (_, now) => table.row(self.row(slot, now, &of_slot, &known)),
            }
        }
        (table.without_empty_columns(), empty)
    }

    fn row(&self, slot: SlotId, now: Option<&Occupant>, steps: &[Numbered<'_>], known: &[&Name]) -> [Cell; 11] {
        let description = self.platform.slot(slot).description();
        let of = |is_out: bool| steps.iter().copied().filter(move |(_, step)| is_hand_out(&step.action) == is_out);
        // a slot is emptied once, and filled once
        let number = |is_out: bool| of(is_out).next().map_or(Cell::Empty, |(number, _)| Cell::step(number));
        let held = of(true).find_map(|(_, step)| taken_out(step)).or(match now {
            Some(Occupant::Module(held)) => Some(held),
            _ => None,
        });
        let comes = of(false).find_map(|(_, step)| put_in(step));
        let is_blank_out = of(true).any(|(_, step)| step.action == Action::TakeOutBlank);
        let is_blank_in = of(false).any(|(_, step)| step.action == Action::PutInBlank);
        let empty = if self.only_some { Cell::Empty } else { Cell::text("empty") };
        let before = match (held, now) {
            (Some(held), _) => Cell::Text(brief(&held.module)),
            (None, _) if is_blank_out => Cell::text("blank"),
            (None, now) => now.map_or(empty.clone(), |now| Cell::Text(occupant(now))),
        };
        let after = match comes {
            _ if steps.is_empty() => Cell::text("stays"),
            Some(module) => Cell::Text(brief(&module.module)),
            None if is_blank_in => Cell::text("blank"),
            None => empty,
        };
        let from = of(false).filter_map(|(_, step)| {
            let mind = (!step.data_beside.is_empty()).then(|| "data beside!".to_owned());
            let from = from(&step.slot, &step.action);
            (from.is_some() || mind.is_some()).then(|| from.into_iter().chain(mind).collect::<Vec<_>>().join(", "))
        });
        let mind = of(true).any(|(_, step)| !step.data_beside.is_empty()) && of(false).next().is_none();
        let put = of(true).filter_map(|(_, step)| put_down(&step.slot, &step.action));
        let put = put.chain(mind.then(|| "data beside!".to_owned()));
        let new = comes.and_then(individual).filter(|id| !known.contains(id));
        [
            number(true),
            number(false),
            Cell::text(self.platform.slot(slot).label()),
            Cell::maybe(description.marking.as_ref()),
            Cell::maybe(is_turned(self.platform, slot).then_some("180")),
            before,
            Cell::maybe(held.and_then(individual)),
            joined(put, ", "),
            after,
            Cell::maybe(new),
            joined(from, ", "),
        ]
    }
}

fn joined(texts: impl Iterator<Item = String>, between: &str) -> Cell {
    let text = texts.collect::<Vec<_>>().join(between);
    if text.is_empty() { Cell::Empty } else { Cell::Text(text) }
}

fn in_board_order(platform: &Platform) -> Vec<SlotId> {
    let places = board_order(platform);
    let mut slots: Vec<SlotId> = platform.slot_ids().collect();
    slots.sort_by_key(|slot| places.get(slot));
    slots
}

/// Whether the key of a slot is turned against that of most of the board.
pub(super) fn is_turned(platform: &Platform, slot: SlotId) -> bool {
    platform.slot(slot).description().key_facing == Some(KeyFacing::Turned)
}

fn individual(held: &Fitted) -> Option<&Name> {
    held.individual.as_ref().map(|individual| &individual.id)
}

const fn taken_out(step: &Step) -> Option<&Fitted> {
    match &step.action {
        Action::TakeOut { module, .. } => Some(module),
        _ => None,
    }
}

const fn put_in(step: &Step) -> Option<&Fitted> {
    match &step.action {
        Action::PutIn { module, .. } => Some(module),
        _ => None,
    }
}

/// Whether it takes something out.
pub(super) const fn is_hand_out(action: &Action) -> bool {
    matches!(action, Action::TakeOut { .. } | Action::TakeOutBlank)
}

/// Where what comes out is put; what goes into the bag of its slot, and blanks, need no word.
fn put_down(slot: &Name, action: &Action) -> Option<String> {
    match action {
        Action::TakeOut { to: PutDown::Bag { slot: bag }, .. } if bag == slot => None,
        Action::TakeOut { to, .. } => Some(place(to)),
        Action::Other(name) => Some(name.to_string()),
        _ => None,
    }
}

/// Where what goes in comes from; what comes from the bag of its slot needs no word.
fn from(slot: &Name, action: &Action) -> Option<String> {
    match action {
        Action::PutIn { from: PutDown::Bag { slot: bag }, .. } if bag == slot => None,
        Action::PutIn { from, .. } => Some(place(from)),
        Action::PutInBlank => Some("the blanks".to_owned()),
        Action::Other(name) => Some(name.to_string()),
        Action::TakeOut { .. } | Action::TakeOutBlank => None,
    }
}

fn place(put_down: &PutDown) -> String {
    match put_down {
        PutDown::Bag { slot } => format!("bag of {slot}"),
        other => other.to_string(),
    }
}

/// Whether a step puts something in from the bag of its slot.
pub(super) fn is_from_own_bag(step: &Step) -> bool {
    matches!(&step.action, Action::PutIn { from: PutDown::Bag { slot }, .. } if *slot == step.slot)
}

/// "1 to 6, 9".
pub(super) fn ranges(numbers: impl IntoIterator<Item = usize>) -> String {
    let mut ranges: Vec<(usize, usize)> = Vec::new();
    for number in numbers {
        match ranges.last_mut() {
            Some((_, last)) if last.checked_add(1) == Some(number) => *last = number,
            _ => ranges.push((number, number)),
        }
    }
    let text = |(first, last): (usize, usize)| match last - first {
        0 => first.to_string(),
        1 => format!("{first}, {last}"),
        _ => format!("{first} to {last}"),
    };
    ranges.into_iter().map(text).collect::<Vec<_>>().join(", ")
}
