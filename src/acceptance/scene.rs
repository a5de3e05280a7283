//! What was planned against what is seen, with all that the search for causes asks of it.

use crate::acceptance::pieces::{Piece, Seen, SeenSlot, facts_unlike, serials};
use crate::acceptance::state::{Fault, Held, State, Unit, UnitSort, may_read};
use crate::machine::Machine;
use crate::population::{PlaceState, SeenModule};

/// A planned population beside what is seen.
pub(crate) struct Scene<'a> {
    pub(crate) machine: &'a Machine,
    pub(crate) pieces: &'a [Option<Piece<'a>>],
    pub(crate) seen: &'a Seen<'a>,
    pub(crate) units: Vec<Unit>,
    /// By slot: which of the classes of equal facts its planned module is of.
    class: Vec<Option<usize>>,
    /// By class and slot: whether what is told there may be of it; and where the serial number is that of the module.
    fits: Vec<Vec<(bool, bool)>>,
    /// Whether any serial number is seen.
    tells_serials: bool,
    /// What was there before the work, where that is known.
    before: Option<&'a [Option<Piece<'a>>]>,
}

/// The units of planned modules: single slots first, then, of more than one, all of them, channels, processors and parts.
pub(crate) fn units(machine: &Machine, pieces: &[Option<Piece<'_>>]) -> Vec<Unit> {
    let platform = machine.platform();
    let filled: Vec<usize> = (0..pieces.len()).filter(|&slot| pieces.get(slot).is_some_and(Option::is_some)).collect();
    let mut units: Vec<Unit> = filled.iter().map(|&slot| Unit { sort: UnitSort::Slot, slots: vec![slot] }).collect();
    let mut add = |sort: UnitSort, slots: Vec<usize>| {
        if slots.len() > 1 && units.iter().all(|unit| unit.slots != slots) {
            units.push(Unit { sort, slots });
        }
    };
    add(UnitSort::Machine, filled.clone());
    let place = |slot: &usize| platform.slots().get(*slot);
    for (at, channel) in platform.channel_ids().enumerate() {
        let slots = filled.iter().copied().filter(|slot| place(slot).is_some_and(|slot| slot.channel == channel));
        add(UnitSort::Channel(at), slots.collect());
    }
    for (at, socket) in platform.socket_ids().enumerate() {
        let slots = filled.iter().copied().filter(|slot| place(slot).is_some_and(|slot| slot.socket == socket));
        add(UnitSort::Socket(at), slots.collect());
    }
    let facts = |slot: &usize| pieces.get(*slot).and_then(Option::as_ref).map(|piece| &piece.facts);
    let mut parts: Vec<(Option<&SeenModule>, Vec<usize>)> = Vec::new();
    for slot in &filled {
        match parts.iter_mut().find(|(known, _)| *known == facts(slot)) {
            Some((_, slots)) => slots.push(*slot),
            None => parts.push((facts(slot), vec![*slot])),
        }
    }
    parts.into_iter().for_each(|(_, slots)| add(UnitSort::Part, slots));
    units
}

impl<'a> Scene<'a> {
    /// To compare slot by slot; to search, it has to be [prepared](Self::prepared).
    pub(crate) fn new(machine: &'a Machine, pieces: &'a [Option<Piece<'a>>], seen: &'a Seen<'a>) -> Self {
        let tells_serials = seen.slots.iter().any(|slot| slot.serial.is_some());
        Self {
            machine,
            pieces,
            seen,
            units: Vec::new(),
            class: Vec::new(),
            fits: Vec::new(),
            tells_serials,
            before: None,
        }
    }

    /// With units, and with all pairs of slots and modules compared.
    pub(crate) fn prepared(self) -> Self {
        let Self { machine, pieces, seen, tells_serials, before, .. } = self;
        let mut classes: Vec<&SeenModule> = Vec::new();
        let mut class_of = |piece: &'a Piece<'a>| {
            classes.iter().position(|known| **known == piece.facts).unwrap_or_else(|| {
                classes.push(&piece.facts);
                classes.len() - 1
            })
        };
        let class = pieces.iter().map(|piece| piece.as_ref().map(&mut class_of)).collect();
        let fit = |facts: &SeenModule, slot: &SeenSlot<'_>| {
            let fits = |same_serial| facts_unlike(facts, slot, same_serial).differs.is_empty();
            (fits(false), fits(true))
        };
        let fits = classes.iter().map(|facts| seen.slots.iter().map(|slot| fit(facts, slot)).collect()).collect();
        Self { machine, pieces, seen, units: units(machine, pieces), class, fits, tells_serials, before }
    }

    /// With what was there before the work.
    pub(crate) fn with_before(self, before: Option<&'a [Option<Piece<'a>>]>) -> Self {
        Self { before, ..self }
    }

    /// Whether a move to a slot that was empty may not have been done, so that nothing could come in its place: the slot that it was to come from shows
    /// the module, as before.
    pub(crate) fn is_undone(&self, from: usize, to: usize) -> bool {
        let Some(before) = self.before else { return false };
        let of_before = |slot: usize| before.get(slot).and_then(Option::as_ref);
        let (Some(was), Some(own)) = (of_before(from), self.piece(to)) else { return false };
        let serial = |piece: &Piece<'_>| piece.serial.as_ref().map(|(_, serial)| serial.clone());
        let is_it = was.facts == own.facts && serial(was).zip(serial(own)).is_none_or(|(was, own)| was == own);
        let is_other = self.piece(from).is_some() && !self.alike(from, to);
        is_it && is_other && of_before(to).is_none() && self.may_hold(from) && self.fits(from, to)
    }

    pub(crate) fn piece(&self, slot: usize) -> Option<&'a Piece<'a>> {
        self.pieces.get(slot).and_then(Option::as_ref)
    }

    pub(crate) fn seen(&self, slot: usize) -> Option<&'a SeenSlot<'a>> {
        self.seen.slots.get(slot)
    }

    pub(crate) fn state(&self, faults: &[Fault]) -> State {
        State::of(self.pieces, &self.units, faults)
    }

    /// Whether what is told of a slot may be the module planned for another.
    pub(crate) fn fits(&self, slot: usize, piece: usize) -> bool {
        let (Some(own), Some(seen)) = (self.piece(piece), self.seen(slot)) else { return false };
        let class = self.class.get(piece).copied().flatten();
        let fits = class.and_then(|class| self.fits.get(class)).and_then(|row| row.get(slot));
        let direct = |same_serial| facts_unlike(&own.facts, seen, same_serial).differs.is_empty();
        match serials(own, seen) {
            Some(true) => fits.map_or_else(|| direct(true), |(_, same)| *same),
            Some(false) => false,
            None => fits.map_or_else(|| direct(false), |(plain, _)| *plain),
        }
    }

    /// Whether no report of this sort could tell two planned modules apart.
    pub(crate) fn alike(&self, one: usize, other: usize) -> bool {
        let serial = |slot: usize| self.piece(slot).and_then(|piece| piece.serial.as_ref()).map(|(_, serial)| serial);
        if self.tells_serials && serial(one) != serial(other) {
            return false;
        }
        let class = |slot: usize| self.class.get(slot).copied().flatten();
        let row = |slot: usize| class(slot).and_then(|class| self.fits.get(class));
        class(one) == class(other) || row(one) == row(other)
    }

    /// Whether a slot may hold a module by what is seen of it.
    pub(crate) fn may_hold(&self, slot: usize) -> bool {
        self.seen(slot).is_some_and(|seen| seen.state != PlaceState::Absent)
    }

    /// Whether a state shows in a slot what is seen there.
    pub(crate) fn agrees(&self, state: &State, slot: usize) -> bool {
        self.agrees_on(self.machine, state, slot)
    }

    /// The same on the machine as it is set.
    pub(crate) fn agrees_on(&self, machine: &Machine, state: &State, slot: usize) -> bool {
        let Some(seen) = self.seen(slot) else { return true };
        match state.held(slot) {
            Held::Clash => false,
            Held::Empty => seen.state == PlaceState::Absent || seen.is_untold(),
            Held::Foreign => seen.state == state.reads(slot) || seen.state == PlaceState::Unknown,
            Held::Planned(from) => {
                let Some(piece) = self.piece(from) else { return false };
                let readable = may_read(machine, slot, piece, state.reads(slot));
                match seen.state {
                    PlaceState::Absent => readable.allows(PlaceState::Absent),
                    PlaceState::Unknown => self.fits(slot, from),
                    own => readable.allows(own) && self.fits(slot, from),
                }
            }
        }
    }

    /// Whether everything in the slots is as planned, as far as it is told.
    pub(crate) fn bad_slots(&self, state: &State) -> Vec<usize> {
        (0..self.pieces.len()).filter(|&slot| !self.agrees(state, slot)).collect()
    }
}
