//! Slots, totals, rates and the mode, as planned and as reported.

use std::collections::BTreeSet;

use crate::acceptance::figures::{Figured, Stands, modes, named_mode, seen_rates};
use crate::acceptance::pieces::{Piece, SeenSlot, serials, unlike};
use crate::acceptance::scene::Scene;
use crate::acceptance::state::{Fault, SettingFault, State, Sums, as_set};
use crate::acceptance::{
    AcceptanceCheck, AcceptanceRequest, AcceptanceVerdict, CheckNote, Condition, MachineCheck, ModeCheck, RateCheck,
    SlotCheck, SlotVerdict, Strength, TimeCheck, Told, TotalCheck,
};
use crate::assess::Planner;
use crate::figure::DomainRate;
use crate::population::{ModuleFact, PlaceState, SeenModule, SeenTotal, Sited};
use crate::stated::Schema;
use crate::unit::{DataRate, Name};

/// What is compared, part by part.
pub(crate) struct Judge<'p, 'a> {
    pub(crate) planner: Planner<'a>,
    pub(crate) request: &'p AcceptanceRequest,
    pub(crate) scene: Scene<'a>,
    pub(crate) before: Option<&'a [Option<Piece<'a>>]>,
    pub(crate) sited: &'p Sited,
}

impl<'a> Judge<'_, 'a> {
    pub(crate) fn check(self, machine: MachineCheck, time: TimeCheck) -> AcceptanceCheck {
        let reserve = self.request.system_reserve_mib;
        let planned = self.scene.state(&[]);
        let figured = Figured::new(&self.scene, reserve);
        let planned_sums = figured.sums(self.scene.machine, &self.scene, &planned);
        let slots = self.slots();
        let missing_processors = self.missing_processors();
        let is_clean = slots.iter().all(|slot| slot.verdict != SlotVerdict::Differs)
            && figured.agrees_with(&self.scene, self.scene.machine.mode(), (&planned, &planned_sums), &[])
            && missing_processors.is_empty();
        let (causes, by_slots, sums) = if is_clean {
            (None, planned, planned_sums.clone())
        } else {
            let (causes, state) = self.causes(&time, machine.reported.firmware.clone(), &missing_processors);
            let sums = figured.sums(self.scene.machine, &self.scene, &state);
            (Some(causes), state, sums)
        };
        let totals = self.totals(&figured, &planned_sums, &sums);
        let rates = self.rates(&planned_sums, &sums);
        let mode = self.mode(&figured, &by_slots, &totals);
        let is_told = slots.iter().any(|slot| slot.planned.is_some() && slot.verdict != SlotVerdict::Open)
            || self.request.planned.modules().next().is_none()
            || totals.iter().any(|total| total.agrees != Told::NotSaid);
        let notes = self.notes(&slots, &totals, &sums);
        let is_told = is_told && !notes.iter().any(CheckNote::is_open);
        let verdict = match (is_clean, is_told) {
            (false, _) => AcceptanceVerdict::NotAsPlanned,
            (true, true) => AcceptanceVerdict::AsPlanned,
            (true, false) => AcceptanceVerdict::Open,
        };
        let conditions = self.conditions((&machine, &time), &notes, &slots, &totals, &rates, &mode);
        AcceptanceCheck {
            schema: Schema,
            platform: self.scene.machine.platform().name().clone(),
            verdict,
            notes,
            machine,
            time,
            slots,
            totals,
            rates,
            mode: Some(mode),
            missing_processors,
            conditions,
            causes,
        }
    }

    fn slots(&self) -> Vec<SlotCheck> {
        let planned = self.scene.state(&[]);
        let platform = self.scene.machine.platform();
        let mut slots = Vec::new();
        for (at, slot) in platform.slots().iter().enumerate() {
            let (piece, Some(seen)) = (self.scene.piece(at), self.scene.seen(at)) else { continue };
            if piece.is_none() && seen.state == PlaceState::Absent {
                continue;
            }
            let unlike = piece.map(|piece| unlike(piece, seen)).unwrap_or_default();
            let is_sized = seen.own.is_some_and(|module| module.has(ModuleFact::Capacity));
            let reports_disagree = self.reports_disagree(slot.label());
            let verdict = match piece {
                None if reports_disagree => SlotVerdict::Open,
                _ if !self.scene.agrees(&planned, at) => SlotVerdict::Differs,
                _ if reports_disagree => SlotVerdict::Open,
                None => SlotVerdict::Open,
                Some(_) if seen.state == PlaceState::Unknown || seen.state == PlaceState::InUse && !is_sized => {
                    SlotVerdict::Open
                }
                Some(_) if !is_sized => SlotVerdict::AsPlanned(Strength::State),
                Some(piece) => SlotVerdict::AsPlanned(strength(piece, seen)),
            };
            let number = |module: &SeenModule, serial: Option<&(Name, String)>| {
                module.clone().serial(serial.map(|(name, _)| name.clone()))
            };
            let reported = seen.shows();
            let differs = if verdict == SlotVerdict::Differs && seen.state != PlaceState::Absent {
                unlike.differs
            } else {
                Vec::new()
            };
            slots.push(SlotCheck {
                slot: slot.label().clone(),
                verdict,
                planned: piece.map(|piece| number(&piece.facts, piece.serial.as_ref())),
                state: seen.state,
                reports_disagree: reports_disagree && verdict != SlotVerdict::Differs,
                reported: (reported != SeenModule::default()).then_some(reported),
                running_rate_mts: seen.rate,
                differs,
                inferred: seen.inferred.clone(),
                notes: unlike.notes,
            });
        }
        slots
    }

    fn missing_processors(&self) -> Vec<Name> {
        let platform = self.scene.machine.platform();
        let is_missing = |(at, told): (usize, &Option<bool>)| {
            let socket = platform.socket_ids().nth(at)?;
            let is_planned = self.scene.machine.processor(socket).is_some();
            (is_planned && *told == Some(false)).then(|| platform.socket(socket).label.clone())
        };
        self.scene.seen.processors.iter().enumerate().filter_map(is_missing).collect()
    }

    fn totals(&self, figured: &Figured<'_>, planned: &Sums, by_slots: &Sums) -> Vec<TotalCheck> {
        let check = |(at, total): (usize, &SeenTotal)| TotalCheck {
            of: total.of.clone(),
            reported_mib: total.capacity_mib,
            planned_mib: planned.usable,
            by_slots_mib: by_slots.usable,
            agrees: told_as(figured.total(&self.scene, by_slots, at)),
        };
        self.scene.seen.totals.iter().enumerate().map(check).collect()
    }

    fn rates(&self, planned: &Sums, by_slots: &Sums) -> Vec<RateCheck> {
        let platform = self.scene.machine.platform();
        let check = |domain: &DomainRate| {
            let is_of = |slot: usize| {
                let slot = platform.slots().get(slot);
                slot.is_some_and(|slot| domain.sockets.contains(&platform.socket(slot.socket).label))
            };
            let reported: BTreeSet<DataRate> =
                seen_rates(&self.scene).filter(|(slot, _)| is_of(*slot)).map(|(_, rate)| rate).collect();
            let own = by_slots.rate.domains.iter().find(|own| own.sockets == domain.sockets);
            let by_slots_mts = own.and_then(|own| own.rate_mts);
            let agrees = match by_slots_mts {
                Some(rate) if !reported.is_empty() => match reported.iter().all(|own| *own == rate) {
                    true => Told::Yes,
                    false => Told::No,
                },
                _ => Told::NotSaid,
            };
            RateCheck {
                sockets: domain.sockets.clone(),
                reported_mts: reported.into_iter().collect(),
                planned_mts: domain.rate_mts,
                by_slots_mts,
                agrees,
                limits: own.map(|own| own.binding().cloned().collect()).unwrap_or_default(),
            }
        };
        planned.rate.domains.iter().map(check).collect()
    }

    fn mode(&self, figured: &Figured<'_>, state: &State, totals: &[TotalCheck]) -> ModeCheck {
        let machine = self.scene.machine;
        let planned = Name::lossy(machine.mode());
        let reported = named_mode(&self.scene);
        let agrees = totals.iter().filter(|total| total.agrees != Told::NotSaid);
        let (is_on, may_be) = match &reported {
            Some(named) if *named == planned => (Told::Yes, Vec::new()),
            Some(_) => (Told::No, Vec::new()),
            None if agrees.clone().next().is_none() => (Told::NotSaid, Vec::new()),
            None if agrees.clone().any(|total| total.agrees == Told::No) => (Told::No, Vec::new()),
            None => {
                let gives = |mode: &Name| {
                    let other = as_set(machine, &[Fault::Setting(SettingFault::Mode(mode.clone()))]);
                    let sums = figured.sums(&other, &self.scene, state);
                    (0..totals.len()).all(|at| figured.total(&self.scene, &sums, at) != Stands::Differs)
                };
                let others: Vec<Name> =
                    modes(machine.platform()).filter(|mode| *mode != planned).filter(gives).collect();
                (if others.is_empty() { Told::Yes } else { Told::NotSaid }, others)
            }
        };
        ModeCheck { planned, reported: self.scene.seen.mode.clone(), is_on, may_be }
    }

    fn conditions(
        &self,
        (machine, time): (&MachineCheck, &TimeCheck),
        notes: &[CheckNote],
        slots: &[SlotCheck],
        totals: &[TotalCheck],
        rates: &[RateCheck],
        mode: &ModeCheck,
    ) -> Vec<Condition> {
        let mut conditions = Vec::new();
        if machine.is_it == Told::NotSaid {
            conditions.push(Condition::Machine);
        }
        if time.is_later == Told::NotSaid {
            conditions.push(Condition::Time);
        }
        let is_noted = |slot: &Name| {
            notes.iter().any(|note| match note {
                CheckNote::Untold { slots } | CheckNote::ReportsDisagree { slots } => slots.contains(slot),
                _ => false,
            })
        };
        let open = slots.iter().filter(|slot| slot.verdict == SlotVerdict::Open && !is_noted(&slot.slot));
        let open: Vec<Name> = open.map(|slot| slot.slot.clone()).collect();
        if !open.is_empty() {
            conditions.push(Condition::Slots { slots: open });
        }
        let told = |is: fn(&SeenSlot<'_>) -> bool| {
            let mut used = self.scene.seen.slots.iter().filter(|seen| seen.state == PlaceState::InUse).peekable();
            used.peek().is_none() || used.any(is)
        };
        let is_told = [
            (ModuleFact::Serial, told(|seen| seen.serial.is_some())),
            (ModuleFact::Kind, told(|seen| seen.own.is_some_and(|module| module.kind.is_some()))),
            (
                ModuleFact::RankNumber,
                told(|seen| seen.own.is_some_and(|own| own.rank_number.is_some() || own.package_ranks.is_some())),
            ),
        ];
        let facts: Vec<ModuleFact> =
            is_told.into_iter().filter(|(_, is_told)| !is_told).map(|(fact, _)| fact).collect();
        if !facts.is_empty() {
            conditions.push(Condition::Facts { facts });
        }
        if !mode.may_be.is_empty() {
            let may_be = std::iter::once(&mode.planned).chain(&mode.may_be).cloned().collect();
            conditions.push(Condition::Mode { may_be });
        }
        if totals.is_empty() {
            conditions.push(Condition::Total);
        }
        if rates.iter().any(|rate| rate.agrees == Told::NotSaid) {
            conditions.push(Condition::Rate);
        }
        let unplaced = self.sited.unplaced.iter().filter(|place| place.state.is_filled());
        let texts: Vec<Name> = unplaced.map(|place| place.texts.first().unwrap_or(&place.id).clone()).collect();
        if !texts.is_empty() {
            conditions.push(Condition::Places { texts });
        }
        conditions
    }
}

fn told_as(stands: Stands) -> Told {
    match stands {
        Stands::Agrees => Told::Yes,
        Stands::Differs => Told::No,
        Stands::Silent => Told::NotSaid,
    }
}

/// How much of a module agrees.
fn strength(piece: &Piece<'_>, seen: &SeenSlot<'_>) -> Strength {
    let Some(module) = seen.own else { return Strength::State };
    let both = |fact: ModuleFact| piece.facts.has(fact) && module.has(fact) && !piece.facts.contradicts(module, fact);
    if serials(piece, seen) == Some(true) {
        Strength::Serial
    } else if both(ModuleFact::PartNumber) {
        Strength::PartNumber
    } else if ModuleFact::ALL.into_iter().any(|fact| fact != ModuleFact::Capacity && both(fact)) {
        Strength::Facts
    } else {
        Strength::Size
    }
}
