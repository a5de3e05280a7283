//! Gives the slots of a pattern their turns, and holds these against its positions.

use std::collections::{BTreeMap, BTreeSet};

use itertools::Itertools;

use crate::platform::pattern::expand::{Place, place};
use crate::platform::pattern::{BoardPattern, BoardProblem, ProcessorTurns, Turns};
use crate::platform::{FillRow, PositionOrder};
use crate::stated::{Demand, FieldPath, Stated};
use crate::unit::{Name, Names};

impl BoardPattern {
    /// Gives the slots their turns.
    pub(super) fn take_turns(
        &self,
        (turns, order): (&Stated<Turns>, &PositionOrder),
        channels: &[Vec<Name>],
        slots: &mut [Place],
        fill_rows: &mut Vec<FillRow>,
        problems: &mut Vec<BoardProblem>,
    ) {
        let path = place("turns").field("value");
        match &turns.value {
            Turns::ByPosition { channels: listed, processors } => {
                let path = path.field("by_position").field("channels");
                let first = channels.first().map_or(&[][..], Vec::as_slice);
                let ranks = ranks(listed, first, &path, problems);
                let sorted = (0..slots.len()).sorted_by_key(|&index| {
                    slots.get(index).map(|slot| {
                        let channel = if listed.is_empty() {
                            slot.channel
                        } else {
                            ranks.get(&slot.channel).copied().unwrap_or(slot.channel)
                        };
                        let position = slot
                            .described
                            .position
                            .map_or((0, u8::try_from(slot.index).unwrap_or(u8::MAX)), |position| order.rank(position));
                        match processors {
                            ProcessorTurns::Alternating => (0, position, channel, slot.socket),
                            ProcessorTurns::OneAfterOther => (slot.socket, position, channel, 0),
                        }
                    })
                });
                number(slots, &sorted.collect_vec());
            }
            Turns::Listed(listed) => {
                let path = path.field("listed");
                if let Some(order) = named(listed, slots, None, &path, problems) {
                    number(slots, &order);
                }
            }
            Turns::Printed { rows, processors } => {
                let path = path.field("printed").field("rows");
                let only = processors.map(|_| 0);
                self.printed((rows, *processors, only), turns, (slots, &path), fill_rows, problems);
            }
        }
    }

    fn printed(
        &self,
        (rows, processors, only): (&[Vec<Name>], Option<ProcessorTurns>, Option<usize>),
        turns: &Stated<Turns>,
        (slots, path): (&mut [Place], &FieldPath),
        fill_rows: &mut Vec<FillRow>,
        problems: &mut Vec<BoardProblem>,
    ) {
        let mut by_length: Vec<(usize, &Vec<Name>)> = rows.iter().enumerate().collect();
        by_length.sort_by_key(|(_, row)| row.len());
        let before = problems.len();
        let read: Vec<Vec<usize>> = by_length
            .iter()
            .map(|&(index, row)| indices(row, slots, only, &path.clone().index(index), problems))
            .collect();
        if problems.len() > before {
            return;
        }
        let mut order: Vec<usize> = Vec::new();
        let mut named = BTreeSet::new();
        let mut nests = true;
        for row in &read {
            let of_row: BTreeSet<usize> = row.iter().copied().collect();
            nests &= named.is_subset(&of_row);
            order.extend(row.iter().copied().filter(|slot| named.insert(*slot)));
        }
        // the longest row is the whole board
        let whole: BTreeSet<usize> = read.last().into_iter().flatten().copied().collect();
        let missing = slots
            .iter()
            .enumerate()
            .filter(|(index, slot)| only.is_none_or(|only| slot.socket == only) && !whole.contains(index));
        let missing = missing.map(|(_, slot)| &slot.label).collect_vec();
        if !missing.is_empty() {
            let missing = missing.into_iter().collect();
            problems.push(BoardProblem::LeftOut { place: path.clone(), what: "slots", missing });
            return;
        }
        if !nests {
            let row = |row: &Vec<usize>, socket: usize| {
                let own = row.iter().filter_map(|&index| {
                    let of = slots.get(index)?;
                    let like =
                        |slot: &&Place| slot.socket == socket && slot.channel == of.channel && slot.index == of.index;
                    Some(if processors.is_some() { slots.iter().find(like)? } else { of })
                });
                let processors = if processors.is_some() { None } else { u8::try_from(self.sockets.len()).ok() };
                let source = turns.source.clone();
                FillRow {
                    processors,
                    source,
                    ..FillRow::new(own.map(|slot| slot.label.clone()), Demand::Advised, turns.basis)
                }
            };
            let sockets = if processors.is_some() { self.sockets.len() } else { 1 };
            fill_rows.extend((0..sockets).flat_map(|socket| read.iter().map(move |of| row(of, socket))));
            return;
        }
        let order = match processors {
            None => order,
            Some(processors) => {
                let rank_of = |slot: &Place| {
                    let like = |&index: &usize| {
                        slots.get(index).is_some_and(|of| of.channel == slot.channel && of.index == slot.index)
                    };
                    order.iter().position(like).unwrap_or(usize::MAX)
                };
                let key = |slot: &Place| match processors {
                    ProcessorTurns::Alternating => (rank_of(slot), slot.socket),
                    ProcessorTurns::OneAfterOther => (slot.socket, rank_of(slot)),
                };
                (0..slots.len()).sorted_by_key(|&index| slots.get(index).map(key)).collect()
            }
        };
        number(slots, &order);
    }

    /// Holds turns that were copied against the end that has number 1.
    pub(super) fn ends(
        &self,
        order: &PositionOrder,
        channels: &[Vec<Name>],
        slots: &[Place],
        problems: &mut Vec<BoardProblem>,
    ) {
        if *order == PositionOrder::Any {
            return;
        }
        for (_, own) in &slots.iter().chunk_by(|slot| (slot.socket, slot.channel)) {
            let mut own: Vec<&Place> = own.collect();
            own.sort_by_key(|slot| slot.described.turn);
            let against = own.iter().tuple_windows().find(|(first, second)| {
                let rank = |slot: &Place| slot.described.position.map(|position| order.rank(position));
                let turns = first.described.turn.zip(second.described.turn).is_some();
                turns && rank(first).zip(rank(second)).is_some_and(|(first, second)| first > second)
            });
            if let Some((first, second)) = against {
                let (Some(socket), Some(channel)) = (
                    self.sockets.get(first.socket),
                    channels.get(first.socket).and_then(|labels| labels.get(first.channel)),
                ) else {
                    continue;
                };
                problems.push(BoardProblem::EndAgainstTurns {
                    socket: socket.clone(),
                    channel: channel.clone(),
                    first: first.label.clone(),
                    second: second.label.clone(),
                });
            }
        }
    }
}

/// The ranks of a processor's channels in a listed order; empty where none is listed.
fn ranks(
    listed: &[Name],
    labels: &[Name],
    path: &FieldPath,
    problems: &mut Vec<BoardProblem>,
) -> BTreeMap<usize, usize> {
    let mut ranks = BTreeMap::new();
    for (rank, name) in listed.iter().enumerate() {
        let place = path.clone().index(rank);
        match labels.iter().position(|label| label == name) {
            None => problems.push(BoardProblem::Unknown {
                place,
                what: "channel",
                name: name.clone(),
                allowed: labels.iter().collect(),
            }),
            Some(channel) if ranks.contains_key(&channel) => {
                problems.push(BoardProblem::Repeated { place, what: "channel", name: name.clone() });
            }
            Some(channel) => {
                ranks.insert(channel, rank);
            }
        }
    }
    let missing = labels
        .iter()
        .enumerate()
        .filter(|(channel, _)| !ranks.contains_key(channel))
        .map(|(_, label)| label)
        .collect_vec();
    if !listed.is_empty() && !missing.is_empty() {
        let missing = missing.into_iter().collect();
        problems.push(BoardProblem::LeftOut { place: path.clone(), what: "channels", missing });
    }
    ranks
}

/// The slots of a list, each once; of one socket where it may name no other.
fn indices(
    list: &[Name],
    slots: &[Place],
    only: Option<usize>,
    path: &FieldPath,
    problems: &mut Vec<BoardProblem>,
) -> Vec<usize> {
    let is_allowed = |slot: &&Place| only.is_none_or(|only| slot.socket == only);
    let by_label: BTreeMap<&Name, usize> = slots
        .iter()
        .enumerate()
        .filter(|(_, slot)| is_allowed(slot))
        .map(|(index, slot)| (&slot.label, index))
        .collect();
    let allowed: Names = slots.iter().filter(is_allowed).map(|slot| &slot.label).collect();
    let mut found = Vec::new();
    let mut seen = BTreeSet::new();
    for (index, name) in list.iter().enumerate() {
        let place = || path.clone().index(index);
        match by_label.get(name).copied() {
            None => problems.push(BoardProblem::Unknown {
                place: place(),
                what: "slot",
                name: name.clone(),
                allowed: allowed.clone(),
            }),
            Some(slot) if !seen.insert(slot) => {
                problems.push(BoardProblem::Repeated { place: place(), what: "slot", name: name.clone() });
            }
            Some(slot) => found.push(slot),
        }
    }
    found
}

/// The same for a list that must name all.
fn named(
    list: &[Name],
    slots: &[Place],
    only: Option<usize>,
    path: &FieldPath,
    problems: &mut Vec<BoardProblem>,
) -> Option<Vec<usize>> {
    let before = problems.len();
    let found = indices(list, slots, only, path, problems);
    let missing =
        slots.iter().enumerate().filter(|(index, _)| !found.contains(index)).map(|(_, slot)| &slot.label).collect_vec();
    if !missing.is_empty() {
        let missing = missing.into_iter().collect();
        problems.push(BoardProblem::LeftOut { place: path.clone(), what: "slots", missing });
    }
    (problems.len() == before).then_some(found)
}

/// Gives the slots their turns, in this order.
fn number(slots: &mut [Place], order: &[usize]) {
    for (turn, &index) in (0..).zip(order) {
        if let Some(slot) = slots.get_mut(index) {
            slot.described.turn = Some(turn);
        }
    }
}
