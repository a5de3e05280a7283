//! Writes a pattern out: every socket, channel and slot.

use std::collections::BTreeMap;

use crate::platform::check::AT_MOST;
use crate::platform::pattern::{
    AddressPattern, BoardPattern, BoardProblem, ChannelEnd, ChannelLabels, KeyFacings, SlotAt, SlotLabels,
    SlotOverride, SlotsPerChannel, Turns,
};
use crate::platform::{
    ChannelDescription, ControllerDescription, FillRow, PositionOrder, SlotAddress, SlotDescription, SocketDescription,
};
use crate::stated::{Basis, FieldPath};
use crate::unit::{Name, Names};

/// The most slots that printed rows may name for all sockets.
const MOST_PRINTED: usize = 1 << 18;

/// The most schemes of addresses.
const MOST_SCHEMES: usize = 16;

/// What a pattern comes to.
pub(crate) struct Expanded {
    pub(crate) sockets: Vec<SocketDescription>,
    /// Printed rows that are no turns.
    pub(crate) fill_rows: Vec<FillRow>,
    pub(crate) position_basis: Option<Basis>,
    pub(crate) turn_basis: Option<Basis>,
    pub(crate) problems: Vec<BoardProblem>,
}

/// A slot of the pattern in the making, by its places.
pub(super) struct Place {
    pub(super) socket: usize,
    /// In its socket.
    pub(super) channel: usize,
    /// In its channel, from 0.
    pub(super) index: usize,
    /// What the pattern labels it.
    pub(super) label: Name,
    pub(super) described: SlotDescription,
}

impl BoardPattern {
    /// Writes the pattern out, as far as it can be, with all problems.
    pub(crate) fn expand(&self, order: &PositionOrder) -> Expanded {
        if let Some(problem) = self.too_many() {
            let (sockets, fill_rows, problems) = (Vec::new(), Vec::new(), vec![problem]);
            return Expanded { sockets, fill_rows, position_basis: None, turn_basis: None, problems };
        }
        let mut problems = Vec::new();
        let channels = self.channel_labels(&mut problems);
        self.lengths(&channels, &mut problems);
        let mut slots = self.places(&channels, &mut problems);
        collisions(self, &channels, &slots, &mut problems);
        let mut rows = Vec::new();
        if let (Some(turns), true) = (&self.turns, problems.is_empty()) {
            self.take_turns((turns, order), &channels, &mut slots, &mut rows, &mut problems);
        }
        self.override_slots(&mut slots, &mut problems);
        if problems.is_empty() {
            collisions(self, &channels, &slots, &mut problems);
            self.ends(order, &channels, &slots, &mut problems);
        }
        let knows_turns = slots.iter().any(|slot| slot.described.turn.is_some());
        Expanded {
            sockets: self.assemble(&channels, slots),
            fill_rows: rows,
            position_basis: self.number_one.as_ref().map(|end| end.basis),
            turn_basis: self.turns.as_ref().filter(|_| knows_turns).map(|turns| turns.basis),
            problems,
        }
    }

    /// More sockets, channels or slots than the library plans for, which are not written out.
    fn too_many(&self) -> Option<BoardProblem> {
        let sockets = self.sockets.len();
        let channels = match &self.channels {
            ChannelLabels::LettersStartingAgain(count) | ChannelLabels::LettersRunningOn(count) => {
                sockets.saturating_mul(usize::from(*count))
            }
            ChannelLabels::Listed(labels) => sockets.saturating_mul(labels.len()),
            ChannelLabels::ListedBySocket(labels) => labels.iter().map(Vec::len).sum(),
        };
        let most = match &self.slots_per_channel {
            SlotsPerChannel::All(slots) => *slots,
            SlotsPerChannel::Each(each) => each.iter().copied().max().unwrap_or(0),
        };
        let slots = channels.saturating_mul(usize::from(most));
        // rows of the first socket are written out for each of them
        let printed = match self.turns.as_ref().map(|turns| &turns.value) {
            Some(Turns::Printed { rows, .. }) => rows.iter().map(Vec::len).sum::<usize>().saturating_mul(sockets),
            _ => 0,
        };
        let counts = [
            ("sockets", sockets, AT_MOST),
            ("channels", channels, AT_MOST),
            ("slots", slots, AT_MOST),
            ("slots in printed rows", printed, MOST_PRINTED),
            ("address schemes", self.addresses.len(), MOST_SCHEMES),
        ];
        let (what, found, at_most) = counts.into_iter().find(|&(_, found, at_most)| found > at_most)?;
        Some(BoardProblem::TooMany { what, found, at_most })
    }

    /// The labels of the channels of each socket.
    fn channel_labels(&self, problems: &mut Vec<BoardProblem>) -> Vec<Vec<Name>> {
        let labels = self.channels.of_sockets(self.sockets.len()).unwrap_or_else(|| {
            problems.push(BoardProblem::LettersRunOut);
            Vec::new()
        });
        if labels.len() != self.sockets.len() && problems.is_empty() {
            let place = place("channels").field("listed_by_socket");
            problems.push(length(place, "sockets", labels.len(), self.sockets.len()));
        }
        for (socket, labels) in self.sockets.iter().zip(&labels) {
            if self.controllers.is_empty() || labels.len() % self.controllers.len() > 0 {
                let (socket, channels, controllers) = (socket.clone(), labels.len(), self.controllers.len());
                problems.push(BoardProblem::UnevenControllers { socket, channels, controllers });
            }
        }
        labels
    }

    /// Checks the lengths of lists that have an entry for each channel or socket.
    fn lengths(&self, channels: &[Vec<Name>], problems: &mut Vec<BoardProblem>) {
        if let SlotsPerChannel::Each(each) = &self.slots_per_channel {
            if let Some(labels) = channels.iter().find(|labels| labels.len() != each.len()) {
                problems.push(length(place("slots_per_channel"), "channels of a processor", each.len(), labels.len()));
            }
        }
        match &self.key_facing {
            Some(KeyFacings::BySocket(facings)) if facings.len() != self.sockets.len() => {
                let place = place("key_facing").field("by_socket");
                problems.push(length(place, "sockets", facings.len(), self.sockets.len()));
            }
            Some(KeyFacings::ByChannel(facings)) => {
                if let Some(labels) = channels.iter().find(|labels| labels.len() != facings.len()) {
                    let place = place("key_facing").field("by_channel");
                    problems.push(length(place, "channels of a processor", facings.len(), labels.len()));
                }
            }
            Some(KeyFacings::BySocket(_) | KeyFacings::All(_)) | None => {}
        }
        if let SlotLabels::Listed(lists) = &self.slot_labels {
            let all = channels.iter().map(Vec::len).sum();
            if lists.len() != all {
                problems.push(length(place("slot_labels"), "channels", lists.len(), all));
            }
            let counts = channels
                .iter()
                .flat_map(|labels| (0..labels.len()).map(|channel| self.slots_per_channel.of_channel(channel)));
            for (index, (list, count)) in lists.iter().zip(counts).enumerate() {
                if list.len() != usize::from(count) {
                    problems.push(length(
                        place("slot_labels").index(index),
                        "slots of the channel",
                        list.len(),
                        usize::from(count),
                    ));
                }
            }
        }
    }

    /// Every slot, without turns yet.
    fn places(&self, channels: &[Vec<Name>], problems: &mut Vec<BoardProblem>) -> Vec<Place> {
        let mut slots = Vec::new();
        let mut of_board = 0;
        for (socket, labels) in channels.iter().enumerate() {
            let mut in_socket = 0;
            for (channel, label) in labels.iter().enumerate() {
                let count = usize::from(self.slots_per_channel.of_channel(channel));
                for index in 0..count {
                    in_socket += 1;
                    match self.label((socket, label), (of_board, index), in_socket) {
                        Ok(own) => {
                            let described = self.describe((socket, channel, labels.len()), (index, count), own.clone());
                            slots.push(Place { socket, channel, index, label: own, described });
                        }
                        Err(problem) => problems.extend(problem),
                    }
                }
                of_board += 1;
            }
        }
        slots
    }

    /// The label of a slot; without a problem where a list is too short, which is said elsewhere.
    fn label(
        &self,
        (socket, channel): (usize, &Name),
        (of_board, index): (usize, usize),
        in_socket: usize,
    ) -> Result<Name, Option<BoardProblem>> {
        match &self.slot_labels {
            SlotLabels::Listed(lists) => lists.get(of_board).and_then(|list| list.get(index)).cloned().ok_or(None),
            SlotLabels::Pieces(pattern) => {
                let socket = self.sockets.get(socket).ok_or(None)?;
                let label = pattern.label(socket, channel, index + 1, in_socket);
                Name::new(&label).map_err(|problem| {
                    let (socket, channel) = (socket.clone(), channel.clone());
                    Some(BoardProblem::Label { socket, channel, number: index + 1, problem })
                })
            }
        }
    }

    fn describe(
        &self,
        (socket, channel, channels): (usize, usize, usize),
        (index, count): (usize, usize),
        label: Name,
    ) -> SlotDescription {
        let position = self.number_one.as_ref().map(|end| match end.value {
            ChannelEnd::Far => index,
            ChannelEnd::Near => count - 1 - index,
        });
        let mut slot = SlotDescription::new(label, position.and_then(|position| u8::try_from(position).ok()), None);
        slot.form_factor = self.form_factor;
        slot.height_limit_um = self.height_limit_um;
        slot.marking = self.markings.get(position.unwrap_or(index)).cloned();
        slot.key_facing = match &self.key_facing {
            None => None,
            Some(KeyFacings::All(facing)) => Some(*facing),
            Some(KeyFacings::BySocket(facings)) => facings.get(socket).copied(),
            Some(KeyFacings::ByChannel(facings)) => facings.get(channel).copied(),
        };
        let of_controller = channels.checked_div(self.controllers.len()).unwrap_or(0).max(1);
        let number = |from: Option<u16>, index: usize| {
            from.map(|from| from.saturating_add(u16::try_from(index).unwrap_or(u16::MAX)))
        };
        let address = |pattern: &AddressPattern| SlotAddress {
            scheme: pattern.scheme.clone(),
            socket: number(pattern.socket_from, socket),
            controller: number(pattern.controller_from, channel / of_controller),
            channel: number(
                pattern.channel_from,
                if pattern.controller_from.is_some() { channel % of_controller } else { channel },
            ),
            slot: number(pattern.slot_from, index),
        };
        slot.addresses = self.addresses.iter().map(address).collect();
        slot
    }

    fn override_slots(&self, slots: &mut [Place], problems: &mut Vec<BoardProblem>) {
        let by_label: BTreeMap<Name, usize> =
            slots.iter().enumerate().map(|(index, slot)| (slot.label.clone(), index)).collect();
        let allowed: Names = slots.iter().map(|slot| &slot.label).collect();
        for (label, own) in &self.slots {
            let Some(slot) = by_label.get(label).and_then(|&index| slots.get_mut(index)) else {
                let allowed = allowed.clone();
                let place = place("slots").named(label);
                problems.push(BoardProblem::Unknown { place, what: "slot", name: label.clone(), allowed });
                continue;
            };
            let described = &mut slot.described;
            let SlotOverride { label, position, turn, form_factor, height_limit_um, marking, key_facing, addresses } =
                own;
            if let Some(label) = label {
                described.label = label.clone();
            }
            described.position = position.or(described.position);
            described.turn = turn.or(described.turn);
            described.form_factor = form_factor.unwrap_or(described.form_factor);
            described.height_limit_um = height_limit_um.or(described.height_limit_um);
            described.marking = marking.clone().or_else(|| described.marking.take());
            described.key_facing = key_facing.or(described.key_facing);
            if let Some(addresses) = addresses {
                described.addresses.clone_from(addresses);
            }
        }
    }

    fn assemble(&self, channels: &[Vec<Name>], slots: Vec<Place>) -> Vec<SocketDescription> {
        let mut by_channel: BTreeMap<(usize, usize), Vec<SlotDescription>> = BTreeMap::new();
        for slot in slots {
            by_channel.entry((slot.socket, slot.channel)).or_default().push(slot.described);
        }
        let mut socket = |(number, label): (usize, &Name)| {
            let labels = channels.get(number).map_or(&[][..], Vec::as_slice);
            let of_controller = labels.len().checked_div(self.controllers.len()).unwrap_or(0).max(1);
            let channel = |(channel, label): (usize, &Name)| {
                ChannelDescription::new(label.clone(), by_channel.remove(&(number, channel)).unwrap_or_default())
            };
            let channels: Vec<ChannelDescription> = labels.iter().enumerate().map(channel).collect();
            let parts = channels.chunks(of_controller);
            let controllers = self
                .controllers
                .iter()
                .zip(parts)
                .map(|(label, part)| ControllerDescription::new(label.clone(), part.to_vec()));
            SocketDescription::new(label.clone(), controllers)
        };
        self.sockets.iter().enumerate().map(&mut socket).collect()
    }
}

pub(super) fn place(field: &'static str) -> FieldPath {
    FieldPath::of("pattern").field(field)
}

fn length(place: FieldPath, what: &'static str, found: usize, wanted: usize) -> BoardProblem {
    BoardProblem::Length { place, what, found, wanted }
}

/// Reports labels that two slots have.
fn collisions(pattern: &BoardPattern, channels: &[Vec<Name>], slots: &[Place], problems: &mut Vec<BoardProblem>) {
    let at = |slot: &Place| {
        let socket = pattern.sockets.get(slot.socket)?.clone();
        let channel = channels.get(slot.socket)?.get(slot.channel)?.clone();
        Some(SlotAt { socket, channel, number: slot.index + 1 })
    };
    let mut seen: BTreeMap<&Name, &Place> = BTreeMap::new();
    for slot in slots {
        let label = &slot.described.label;
        let both = seen.get(label).and_then(|first| at(first).zip(at(slot)));
        if let Some((first, second)) = both {
            problems.push(BoardProblem::Collision { label: label.clone(), first, second });
        }
        seen.entry(label).or_insert(slot);
    }
}
