//! Faults as causes: what they may be at bottom, what speaks for and against them.

use crate::acceptance::figures::lower_graded;
use crate::acceptance::pieces::{Piece, shows_before};
use crate::acceptance::scene::Scene;
use crate::acceptance::state::{Fault, SettingFault, Unit, UnitSort};
use crate::acceptance::{Cause, CauseGroup, Evidence, Explanation, FaultSort, NextStep, WorkFault};
use crate::figure::RateLimit;
use crate::finding::Place;
use crate::platform::{self, NeededBy};
use crate::population::{ModuleFact, PlaceState, TotalOf};
use crate::unit::{Capacity, Name};

/// What faults are told with: what was planned and seen, and what was there before.
pub(crate) struct Teller<'t, 'a> {
    pub(crate) scene: &'t Scene<'a>,
    /// What was there before, by slot.
    pub(crate) before: Option<&'t [Option<Piece<'a>>]>,
    /// The firmware that is reported.
    pub(crate) firmware: Option<Name>,
    /// What the description assumes of the limits that give the rate by the slots.
    pub(crate) assumed: Vec<RateLimit>,
}

impl Teller<'_, '_> {
    fn label(&self, slot: usize) -> Name {
        let slots = self.scene.machine.platform().slots();
        slots.get(slot).map_or_else(|| Name::lossy("?"), |slot| slot.label().clone())
    }

    fn labels<'s>(&self, slots: impl IntoIterator<Item = &'s usize>) -> Vec<Name> {
        slots.into_iter().map(|slot| self.label(*slot)).collect()
    }

    fn socket(&self, at: usize) -> Name {
        self.scene.machine.platform().sockets().get(at).map_or_else(|| Name::lossy("?"), |socket| socket.label.clone())
    }

    fn unit(&self, unit: usize) -> Option<&Unit> {
        self.scene.units.get(unit)
    }

    /// A fault in public words.
    pub(crate) fn fault(&self, fault: &Fault) -> WorkFault {
        match fault {
            Fault::Unread { unit, reads } => {
                let platform = self.scene.machine.platform();
                let (sort, slots) =
                    self.unit(*unit).map_or((UnitSort::Part, Vec::new()), |unit| (unit.sort, self.labels(&unit.slots)));
                if sort == UnitSort::Part {
                    return WorkFault::PartUnread { slots, reads: *reads };
                }
                let unit = match (sort, slots.first()) {
                    (UnitSort::Slot, Some(slot)) => Place::Slot { slot: slot.clone() },
                    (UnitSort::Channel(at), _) => {
                        platform.channel_ids().nth(at).map_or(Place::Machine, |id| Place::channel(platform, id))
                    }
                    (UnitSort::Socket(at), _) => Place::Socket { socket: self.socket(at) },
                    _ => Place::Machine,
                };
                WorkFault::Unread { unit, slots, reads: *reads }
            }
            Fault::Move { path, is_closed } => match (path.as_slice(), is_closed) {
                ([from, to], false) => WorkFault::WrongSlot { from: self.label(*from), to: self.label(*to) },
                ([first, second], true) => {
                    WorkFault::Swapped { first: self.label(*first), second: self.label(*second) }
                }
                _ => WorkFault::Rotated { slots: self.labels(path) },
            },
            Fault::Undone { from, to } => WorkFault::MoveUndone { from: self.label(*from), to: self.label(*to) },
            Fault::Foreign { slot, reads } => {
                let shows = self.scene.seen(*slot).map(|seen| Box::new(seen.shows())).unwrap_or_default();
                let (slot, is_planned, reads) = (self.label(*slot), self.scene.piece(*slot).is_some(), *reads);
                if is_planned {
                    WorkFault::WrongPart { slot, reads, shows }
                } else {
                    WorkFault::Unplanned { slot, reads, shows }
                }
            }
            Fault::Setting(setting) => match setting {
                SettingFault::Mode(runs) => WorkFault::Mode { runs: runs.clone() },
                SettingFault::Profile(runs) => WorkFault::PowerProfile { runs: runs.clone() },
                SettingFault::Cap(rate) => WorkFault::RateCap { rate_mts: *rate },
                SettingFault::LowerGrade(rate) => {
                    WorkFault::LowerGrade { slots: self.labels(&lower_graded(self.scene, *rate)), rate_mts: *rate }
                }
                SettingFault::RatedForRunning => WorkFault::RatedForRunning,
                SettingFault::Total(at) => {
                    let of = self.scene.seen.totals.get(*at).map_or(TotalOf::Firmware, |total| total.of.clone());
                    WorkFault::TotalAtFault { of }
                }
                SettingFault::Rate => WorkFault::RateAtFault,
            },
        }
    }

    /// The slots that a fault is about.
    fn slots(&self, fault: &Fault) -> Vec<usize> {
        match fault {
            Fault::Unread { unit, .. } => self.unit(*unit).map_or_else(Vec::new, |unit| unit.slots.clone()),
            Fault::Move { path, .. } => path.clone(),
            Fault::Undone { from, to } => vec![*from, *to],
            Fault::Foreign { slot, .. } => vec![*slot],
            Fault::Setting(SettingFault::LowerGrade(rate)) => lower_graded(self.scene, *rate),
            Fault::Setting(_) => Vec::new(),
        }
    }

    /// What a fault may be at bottom.
    pub(crate) fn sorts(&self, fault: &Fault) -> Vec<FaultSort> {
        let mut sorts = match fault {
            Fault::Unread { unit, reads } => self.unit(*unit).map_or(Vec::new(), |unit| self.unread(unit, *reads)),
            Fault::Move { path, .. } if path.iter().all(|&slot| self.is_changed(slot) && self.is_as_before(slot)) => {
                vec![FaultSort::WrongSlot, FaultSort::NotDone]
            }
            Fault::Move { .. } => vec![FaultSort::WrongSlot],
            Fault::Undone { .. } => vec![FaultSort::NotDone],
            Fault::Foreign { slot, .. } if self.scene.piece(*slot).is_none() => match self.is_as_before(*slot) {
                true => vec![FaultSort::NotDone, FaultSort::NotPlanned],
                false => vec![FaultSort::NotPlanned],
            },
            Fault::Foreign { slot, .. } if self.is_as_before(*slot) => vec![FaultSort::NotDone, FaultSort::WrongPart],
            Fault::Foreign { slot, .. } if self.is_of_lower_grade(*slot) => vec![FaultSort::SlowGrade],
            Fault::Foreign { .. } => vec![FaultSort::WrongPart],
            Fault::Setting(SettingFault::Mode(_) | SettingFault::Profile(_)) => vec![FaultSort::ModeOrSetting],
            Fault::Setting(SettingFault::Cap(_)) => self.or_assumed(&[FaultSort::RateSetting]),
            Fault::Setting(SettingFault::LowerGrade(_)) => vec![FaultSort::SlowGrade],
            Fault::Setting(SettingFault::RatedForRunning) => self.or_assumed(&[FaultSort::ReportAtFault]),
            Fault::Setting(SettingFault::Rate) => self.or_assumed(&[FaultSort::RateSetting, FaultSort::ReportAtFault]),
            Fault::Setting(SettingFault::Total(at)) if self.is_short(*at) => {
                vec![FaultSort::OutOfUse, FaultSort::ModeOrSetting, FaultSort::ReportAtFault]
            }
            Fault::Setting(SettingFault::Total(_)) => vec![FaultSort::ReportAtFault],
        };
        sorts.sort();
        sorts.dedup();
        sorts
    }

    /// Reasons for another rate, and that what is assumed of the limits is wrong.
    fn or_assumed(&self, sorts: &[FaultSort]) -> Vec<FaultSort> {
        let assumed = (!self.assumed.is_empty()).then_some(FaultSort::AssumedLimit);
        sorts.iter().copied().chain(assumed).collect()
    }

    /// Whether a total is less than the modules that are listed as in use.
    fn is_short(&self, at: usize) -> bool {
        let used = self.scene.seen.slots.iter().filter(|seen| seen.state == PlaceState::InUse);
        let sizes = used.filter_map(|seen| seen.module?.capacity_mib.map(Capacity::mib));
        let listed: u64 = sizes.fold(0, u64::saturating_add);
        self.scene.seen.totals.get(at).is_some_and(|total| total.capacity_mib.mib() < listed)
    }

    /// What keeps modules from being read.
    fn unread(&self, unit: &Unit, reads: PlaceState) -> Vec<FaultSort> {
        use FaultSort::{
            ChannelDead, Dead, LeftOut, MappedOut, NotDone, NotSeated, OldFirmware, ProcessorOrRiser, Refused,
            ReportAtFault, SlotDamaged, SpdUnreadable, WrongSlot,
        };
        let platform = self.scene.machine.platform();
        let hands = platform.description().hands.as_ref().and_then(|hands| hands.value.mapped_out);
        let is_single = unit.slots.len() == 1;
        let mut sorts = Vec::new();
        match reads {
            PlaceState::Absent if is_single => {
                sorts.extend([NotSeated, LeftOut, Dead, SpdUnreadable, SlotDamaged]);
                if self.has_hidden_place() {
                    sorts.push(WrongSlot);
                }
            }
            PlaceState::Absent => sorts.push(LeftOut),
            PlaceState::Failed if is_single => sorts.extend([NotSeated, Dead]),
            PlaceState::Failed => sorts.push(Dead),
            _ if is_single => sorts.extend([MappedOut, SpdUnreadable]),
            _ => sorts.push(MappedOut),
        }
        if unit.slots.iter().all(|&slot| self.is_changed(slot) && self.is_as_before(slot)) {
            sorts.push(NotDone);
        }
        if self.is_whole(unit, |slot| platform.slots().get(slot).map(|slot| slot.channel.index())) {
            sorts.push(ChannelDead);
            sorts.extend((reads == PlaceState::Absent).then_some(NotSeated));
            if hands == Some(platform::MappedOut::Channel) {
                sorts.push(Dead);
            }
        }
        if self.is_whole(unit, |slot| platform.slots().get(slot).map(|slot| slot.socket.index())) {
            sorts.push(ProcessorOrRiser);
        }
        // a machine without any memory makes no report
        if reads == PlaceState::Absent && self.is_whole(unit, |_| Some(())) && self.reads_nothing() {
            sorts.extend([ReportAtFault, NotSeated, ProcessorOrRiser]);
        }
        let facts = |slot: usize| self.scene.piece(slot).map(|piece| &piece.facts);
        if self.is_whole(unit, facts) && unit.slots.iter().any(|&slot| self.is_changed(slot)) {
            sorts.push(Refused);
            if reads == PlaceState::NotInUse {
                sorts.push(OldFirmware);
            }
        }
        if sorts.is_empty() {
            sorts.push(NotSeated);
        }
        sorts
    }

    /// Whether the report has no module in any slot.
    fn reads_nothing(&self) -> bool {
        self.scene.seen.slots.iter().all(|seen| !seen.state.is_filled())
    }

    /// Whether a unit is all that is planned with one key.
    fn is_whole<K: PartialEq>(&self, unit: &Unit, key: impl Fn(usize) -> Option<K>) -> bool {
        let Some(first) = unit.slots.first().and_then(|&slot| key(slot)) else { return false };
        let count = self.scene.pieces.len();
        let all = (0..count).filter(|&slot| self.scene.piece(slot).is_some());
        let all: Vec<usize> = all.filter(|&slot| key(slot).as_ref() == Some(&first)).collect();
        all == unit.slots
    }

    /// Whether a module could sit where it would not be read: in a slot that is not live, or behind an empty first position.
    fn has_hidden_place(&self) -> bool {
        let (machine, platform) = (self.scene.machine, self.scene.machine.platform());
        let is_empty = |at: usize| self.scene.piece(at).is_none();
        platform.slot_ids().filter(|slot| is_empty(slot.index())).any(|slot| {
            let channel = platform.channel(platform.slot(slot).channel);
            let before = channel.slots.iter().take_while(|other| **other != slot);
            !machine.is_live(slot) || before.into_iter().any(|other| is_empty(other.index()))
        })
    }

    fn of_before(&self, slot: usize) -> Option<&Piece<'_>> {
        self.before?.get(slot)?.as_ref()
    }

    fn is_changed(&self, slot: usize) -> bool {
        let unlike = |one: &Piece<'_>, other: &Piece<'_>| one.facts != other.facts || one.serial != other.serial;
        match (self.of_before(slot), self.scene.piece(slot)) {
            (Some(one), Some(other)) => unlike(one, other),
            (None, None) => false,
            _ => true,
        }
    }

    /// Whether what is read in a slot is the planned module but for a lower rated rate.
    fn is_of_lower_grade(&self, slot: usize) -> bool {
        let (Some(piece), Some(seen)) = (self.scene.piece(slot), self.scene.seen(slot)) else { return false };
        let is_lower = seen.module.is_some_and(|module| module.grade_mts < piece.facts.grade_mts);
        is_lower && crate::acceptance::pieces::unlike(piece, seen).differs == [ModuleFact::Grade]
    }

    /// Whether a slot shows what was there before.
    fn is_as_before(&self, slot: usize) -> bool {
        let (Some(_), Some(seen)) = (self.before, self.scene.seen(slot)) else { return false };
        shows_before(self.of_before(slot), self.scene.piece(slot), seen)
    }

    fn cause(&self, fault: &Fault) -> Cause {
        let may_be = self.sorts(fault);
        let slots = self.labels(&self.slots(fault));
        let next = NextStep::among(&may_be, slots);
        let (mut speaks_for, mut speaks_against) = (Vec::new(), Vec::new());
        for &slot in self.slots(fault).iter().take(8) {
            self.of_slot(fault, slot, &mut speaks_for, &mut speaks_against);
        }
        if let Fault::Unread { .. } = fault {
            self.of_unit(fault, &may_be, &mut speaks_for, &mut speaks_against);
        }
        if let (Fault::Setting(SettingFault::Mode(mode)), Some(named)) = (fault, self.scene.seen.mode.as_ref()) {
            let is_named = crate::acceptance::figures::named_mode(self.scene).as_ref() == Some(mode);
            let evidence = Evidence::ModeNamed { mode: named.clone() };
            if is_named { speaks_for.push(evidence) } else { speaks_against.push(evidence) }
        }
        if may_be.contains(&FaultSort::AssumedLimit) {
            let assumed =
                |limit: &RateLimit| Evidence::LimitAssumed { cause: limit.cause.clone(), rate_mts: limit.rate_mts };
            speaks_for.extend(self.assumed.iter().map(assumed));
        }
        let is_told_apart = self.scene.seen.slots.iter().any(|seen| seen.serial.is_some());
        if matches!(fault, Fault::Move { .. } | Fault::Undone { .. }) && !is_told_apart {
            speaks_against.push(Evidence::NoSerials);
        }
        Cause { fault: self.fault(fault), may_be, speaks_for, speaks_against, next }
    }

    fn of_slot(&self, fault: &Fault, slot: usize, speaks_for: &mut Vec<Evidence>, against: &mut Vec<Evidence>) {
        let Some(seen) = self.scene.seen(slot) else { return };
        let label = self.label(slot);
        speaks_for.push(Evidence::Reads { slot: label.clone(), state: seen.state });
        let planned = |number: &str| {
            let has = |piece: &Piece<'_>| piece.serial.as_ref().is_some_and(|(_, own)| own == number);
            self.scene.pieces.iter().flatten().any(has)
        };
        if let Some((name, number)) = &seen.serial {
            let (slot, serial) = (label.clone(), name.clone());
            match (fault, planned(number)) {
                (Fault::Move { .. } | Fault::Undone { .. }, true) => {
                    speaks_for.push(Evidence::SerialRead { slot, serial });
                }
                (Fault::Foreign { .. }, true) => against.push(Evidence::SerialRead { slot, serial }),
                (Fault::Foreign { .. }, false) if self.scene.pieces.iter().flatten().any(|p| p.serial.is_some()) => {
                    speaks_for.push(Evidence::SerialNotPlanned { slot, serial });
                }
                _ => {}
            }
        }
        let is_done = !self.sorts(fault).contains(&FaultSort::NotDone);
        if !is_done && self.is_changed(slot) && self.is_as_before(slot) {
            speaks_for.push(Evidence::AsBefore { slot: label.clone() });
        }
        if matches!(fault, Fault::Unread { reads: PlaceState::NotInUse, .. }) {
            if self.of_before(slot).is_some_and(|piece| piece.fault.is_some()) {
                speaks_for.push(Evidence::FaultyBefore { slot: label.clone() });
            }
            if seen.module.is_none() {
                speaks_for.push(Evidence::NothingRead { slot: label });
            }
        }
    }

    fn of_unit(&self, fault: &Fault, sorts: &[FaultSort], speaks_for: &mut Vec<Evidence>, against: &mut Vec<Evidence>) {
        let platform = self.scene.machine.platform();
        let place = |slot: usize| platform.slots().get(slot);
        let Some(first) = self.slots(fault).first().copied().and_then(place) else { return };
        let others = platform.channel(first.channel).slots.iter().map(|slot| slot.index());
        let read = others.filter(|slot| !self.slots(fault).contains(slot)).find(|&slot| {
            self.scene.piece(slot).is_some()
                && self.scene.seen(slot).is_some_and(|seen| seen.state == PlaceState::InUse)
        });
        if let Some(slot) = read.filter(|_| sorts.contains(&FaultSort::SlotDamaged)) {
            speaks_for.push(Evidence::ChannelReads { slot: self.label(slot) });
        }
        let told = self.scene.seen.processors.get(first.socket.index()).copied().flatten();
        if let Some(is_present) = told.filter(|_| sorts.contains(&FaultSort::ProcessorOrRiser)) {
            let evidence = Evidence::Processor { socket: self.socket(first.socket.index()), is_present };
            if is_present { against.push(evidence) } else { speaks_for.push(evidence) }
        }
        if sorts.contains(&FaultSort::OldFirmware) {
            self.of_firmware(fault, speaks_for, against);
        }
    }

    fn of_firmware(&self, fault: &Fault, speaks_for: &mut Vec<Evidence>, against: &mut Vec<Evidence>) {
        let hands = self.scene.machine.platform().description().hands.as_ref();
        let modules: Vec<_> = self.slots(fault).iter().filter_map(|&slot| self.scene.piece(slot)?.module).collect();
        let is_needed = |needed_by: &NeededBy| match needed_by {
            NeededBy::Modules(pattern) => modules.iter().any(|module| pattern.matches(module) == Ok(true)),
            NeededBy::Processor(_) => false,
        };
        let needs = hands.into_iter().flat_map(|hands| &hands.value.firmware).filter(|need| is_needed(&need.needed_by));
        for need in needs {
            if let Some(found) = &self.firmware {
                let evidence = Evidence::Firmware { found: found.clone(), needed: need.version.clone() };
                // versions are compared by people
                if *found == need.version { against.push(evidence) } else { speaks_for.push(evidence) }
            }
        }
    }

    /// Explanations as they are told, the likeliest first, and what to do next.
    pub(crate) fn group(
        &self,
        size: usize,
        is_proved: bool,
        found: Vec<Vec<Fault>>,
        further: u64,
        at_most: usize,
    ) -> CauseGroup {
        let key = |faults: &Vec<Fault>| {
            let mut sorts: Vec<FaultSort> =
                faults.iter().filter_map(|fault| FaultSort::most_frequent(&self.sorts(fault))).collect();
            sorts.sort();
            let places: Vec<usize> = faults.iter().flat_map(|fault| self.slots(fault)).collect();
            (sorts, places)
        };
        let mut found = found;
        found.sort_by_cached_key(|faults| (key(faults), faults.clone()));
        let more = u64::try_from(found.len().saturating_sub(at_most)).unwrap_or(u64::MAX);
        let mut sorts: Vec<FaultSort> = Vec::new();
        let mut slots: Vec<usize> = Vec::new();
        for fault in found.iter().flatten() {
            sorts.extend(self.sorts(fault));
            slots.extend(self.slots(fault));
        }
        if found.is_empty() {
            // nothing was found in time: it may be anything that is not of the rate alone
            let is_of_rate = |sort: &FaultSort| {
                matches!(sort, FaultSort::AssumedLimit | FaultSort::SlowGrade | FaultSort::RateSetting)
            };
            sorts.extend(FaultSort::ALL.into_iter().filter(|sort| !is_of_rate(sort)));
        }
        slots.sort_unstable();
        slots.dedup();
        found.truncate(at_most);
        let is_proved = is_proved && !found.is_empty();
        let alternatives = found
            .iter()
            .map(|faults| Explanation { causes: faults.iter().map(|fault| self.cause(fault)).collect() })
            .collect();
        let next = NextStep::among(&sorts, self.labels(&slots));
        CauseGroup { faults_at_least: size, is_proved, alternatives, further: further.saturating_add(more), next }
    }
}
