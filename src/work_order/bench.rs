//! What hands know of a board.

use std::collections::BTreeMap;

use crate::finding::Severity;
use crate::machine::Machine;
use crate::platform::{KeyFacing, Latches, Platform, SlotId};
use crate::population::{Occupant, Population};
use crate::unit::Name;
use crate::work_order::{Action, Step};

/// What hands know of a board.
#[derive(Debug, Clone)]
pub(crate) struct Bench<'a> {
    machine: &'a Machine,
    /// By channel that has some, the slots of other devices.
    devices: BTreeMap<usize, Vec<Name>>,
    latches: Option<Latches>,
    places: BTreeMap<SlotId, BoardPlace>,
}

/// Where a slot lies along the board: its processor, its place in the rows, itself.
pub(crate) type BoardPlace = (usize, usize, SlotId);

impl<'a> Bench<'a> {
    pub(crate) fn new(machine: &'a Machine, before: &Population) -> Self {
        let platform = machine.platform();
        let mut devices: BTreeMap<usize, Vec<Name>> = BTreeMap::new();
        for (label, occupant) in before.iter() {
            if let (Occupant::OtherDevice(_), Some(slot)) = (occupant, platform.slot_named(label.as_str())) {
                devices.entry(platform.slot(slot).channel.index()).or_default().push(label.clone());
            }
        }
        let hands = platform.description().hands.as_ref();
        Self { machine, devices, latches: hands.and_then(|hands| hands.value.latches), places: board_order(platform) }
    }

    /// Whether the board's maker asks for a blank in an empty slot, and it is one that takes part.
    pub(crate) fn wants_blank(&self, asked: Option<bool>, slot: SlotId) -> bool {
        let is_asked = asked.unwrap_or_else(|| self.machine.platform().description().blanks.is_some());
        is_asked && self.machine.is_position(slot)
    }

    fn step(&self, slot: SlotId, action: Action) -> Step {
        let slot = self.machine.platform().slot(slot);
        let description = slot.description();
        Step {
            slot: slot.label().clone(),
            marking: description.marking.clone(),
            action,
            key_facing: description.key_facing,
            key_turns: false,
            latches: self.latches,
            data_beside: self.devices.get(&slot.channel.index()).cloned().unwrap_or_default(),
        }
    }

    /// Steps that take something out, along the board.
    pub(crate) fn outs(&self, mut actions: Vec<(SlotId, Action)>) -> Vec<Step> {
        actions.sort_by_key(|(slot, _)| self.places.get(slot));
        actions.into_iter().map(|(slot, action)| self.step(slot, action)).collect()
    }

    /// Steps that put something in: modules in fill order, then blanks along the board.
    pub(crate) fn ins(&self, mut actions: Vec<(SlotId, Action)>, blanks: Vec<SlotId>) -> Vec<Step> {
        let platform = self.machine.platform();
        actions.sort_by_key(|&(slot, _)| (platform.slot(slot).socket, platform.slot(slot).order()));
        let mut faces = Some(KeyFacing::Usual);
        let module = |(slot, action)| {
            let mut step = self.step(slot, action);
            step.key_turns = faces.is_some() && step.key_facing.is_some() && step.key_facing != faces;
            faces = step.key_facing.or(faces);
            step
        };
        let mut steps: Vec<Step> = actions.into_iter().map(module).collect();
        steps.extend(self.outs(blanks.into_iter().map(|slot| (slot, Action::PutInBlank)).collect()));
        steps
    }
}

/// The places of slots along the board: processor by processor, by its rows where these are described.
pub(crate) fn board_order(platform: &Platform) -> BTreeMap<SlotId, BoardPlace> {
    let rows = platform.description().rows.iter().flatten().enumerate();
    let in_rows: BTreeMap<SlotId, usize> =
        rows.filter_map(|(place, name)| Some((platform.slot_named(name.as_str())?, place))).collect();
    let place = |slot: SlotId| {
        let row = in_rows.get(&slot).copied().unwrap_or(usize::MAX);
        (slot, (platform.slot(slot).socket.index(), row, slot))
    };
    platform.slot_ids().map(place).collect()
}

/// The codes of findings that are errors.
pub(crate) fn errors(findings: &[crate::finding::Finding]) -> impl Iterator<Item = &Name> {
    findings.iter().filter(|finding| finding.severity == Severity::Error).map(|finding| &finding.code)
}
