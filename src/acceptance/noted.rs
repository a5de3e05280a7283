//! What stands in the head of an acceptance, beside the verdict.

use std::collections::{BTreeMap, BTreeSet};

use crate::acceptance::compare::Judge;
use crate::acceptance::first::changed;
use crate::acceptance::pieces::{is_note, serials};
use crate::acceptance::state::Sums;
use crate::acceptance::{CheckNote, SlotCheck, SlotVerdict, Told, TotalCheck};
use crate::population::{About, Medium, ModuleFact, PlaceState, TotalOf};
use crate::unit::Name;

impl Judge<'_, '_> {
    /// Whether reports of the machine contradict each other about a slot so that nothing is taken.
    pub(crate) fn reports_disagree(&self, slot: &Name) -> bool {
        let mut own = self.sited.disagreements.iter().filter(|own| own.slot == *slot && own.taken.is_none());
        own.any(|own| {
            let matters = match &own.about {
                About::State | About::RunningRate => true,
                About::Fact(fact) => !is_note(*fact),
                _ => false,
            };
            let said = own.said.iter().filter(|said| said.medium == Medium::Machine);
            matters && said.map(|said| &said.value).collect::<BTreeSet<_>>().len() > 1
        })
    }

    /// What stands in the head.
    pub(crate) fn notes(&self, slots: &[SlotCheck], totals: &[TotalCheck], sums: &Sums) -> Vec<CheckNote> {
        let of = |is: &dyn Fn(&SlotCheck) -> bool| -> Vec<Name> {
            slots.iter().filter(|slot| is(slot)).map(|slot| slot.slot.clone()).collect()
        };
        let to_change = self.to_change(totals);
        let untold =
            of(&|slot| slot.verdict == SlotVerdict::Open && !slot.reports_disagree && to_change.contains(&slot.slot));
        let disagree = of(&|slot| slot.reports_disagree);
        let mut notes = Vec::new();
        notes.extend((!untold.is_empty()).then_some(CheckNote::Untold { slots: untold }));
        notes.extend((!disagree.is_empty()).then_some(CheckNote::ReportsDisagree { slots: disagree }));
        let not_done = of(&|slot| slot.verdict == SlotVerdict::Differs && self.is_old(&slot.slot));
        notes.extend((!not_done.is_empty()).then_some(CheckNote::NotDone { slots: not_done }));
        notes.extend(self.doubled());
        notes.extend(self.short(totals, sums));
        let other_kind = of(&|slot| slot.notes.contains(&ModuleFact::Kind));
        notes.extend((!other_kind.is_empty()).then_some(CheckNote::OtherKind { slots: other_kind }));
        let lower = of(&|slot| slot.notes.contains(&ModuleFact::Grade));
        notes.extend((!lower.is_empty()).then_some(CheckNote::LowerRated { slots: lower }));
        notes
    }

    /// Whether the module that was in a slot before, by its serial number, is still reported there.
    fn is_old(&self, slot: &Name) -> bool {
        let at = self.scene.machine.platform().slot_named(slot.as_str()).map(crate::platform::SlotId::index);
        let was = at.zip(self.before).and_then(|(at, before)| before.get(at)?.as_ref());
        let seen = at.and_then(|at| self.scene.seen(at));
        was.zip(seen).is_some_and(|(was, seen)| was.serial.is_some() && serials(was, seen) == Some(true))
    }

    /// Serial numbers that are read in more than one slot.
    fn doubled(&self) -> Vec<CheckNote> {
        let platform = self.scene.machine.platform();
        let mut read: BTreeMap<&String, (&Name, Vec<Name>)> = BTreeMap::new();
        for (seen, slot) in self.scene.seen.slots.iter().zip(platform.slots()) {
            if let Some((name, number)) = seen.serial.as_ref().filter(|_| seen.state != PlaceState::Absent) {
                read.entry(number).or_insert_with(|| (name, Vec::new())).1.push(slot.label().clone());
            }
        }
        let twice = read.into_values().filter(|(_, slots)| slots.len() > 1);
        twice.map(|(serial, slots)| CheckNote::SerialTwice { serial: serial.clone(), slots }).collect()
    }

    /// Whether the operating system counts so much less that a module may be missing, and nothing tells why.
    fn short(&self, totals: &[TotalCheck], sums: &Sums) -> Option<CheckNote> {
        let reserve_mib = self.request.system_reserve_mib;
        let is_firmware = |total: &TotalCheck| total.of == TotalOf::Firmware && total.agrees == Told::Yes;
        if sums.is_open || totals.iter().any(is_firmware) {
            return None;
        }
        let own = totals.iter().filter(|total| total.of == TotalOf::OperatingSystem && total.agrees == Told::NotSaid);
        let short_mib = own.map(|total| total.by_slots_mib.saturating_sub(total.reported_mib)).max()?;
        let may_be_module = !short_mib.is_zero() && short_mib >= sums.smallest;
        let is_kept = reserve_mib.is_some_and(|reserve| short_mib <= reserve);
        (may_be_module && !is_kept).then_some(CheckNote::SystemTotalShort { short_mib, reserve_mib })
    }

    /// The slots that were to change. Where nobody says what was there before, all that were to be filled; a total that agrees tells of them then.
    fn to_change(&self, totals: &[TotalCheck]) -> BTreeSet<Name> {
        let (platform, pieces) = (self.scene.machine.platform(), self.scene.pieces);
        let filled = |at: &usize| self.scene.piece(*at).is_some();
        let changed: Vec<usize> = match &self.before {
            Some(before) => {
                // another of the same sort was to come for one that is faulty
                let is_faulty = |at: &usize| {
                    let was = before.get(*at).and_then(Option::as_ref);
                    let is = self.scene.piece(*at);
                    was.is_some_and(|was| was.fault.is_some()) && is.is_some_and(|is| is.fault.is_none())
                };
                changed(pieces, before).into_iter().chain((0..pieces.len()).filter(is_faulty)).collect()
            }
            None if totals.iter().any(|total| total.agrees == Told::Yes) => Vec::new(),
            None => (0..pieces.len()).filter(filled).collect(),
        };
        changed.into_iter().filter_map(|at| Some(platform.slots().get(at)?.label().clone())).collect()
    }
}
