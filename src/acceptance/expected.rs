//! The report of a machine with some faults.

use std::collections::BTreeSet;

use crate::acceptance::pieces::{Piece, pieces};
use crate::acceptance::state::{
    Fault, Held, SettingFault, State, Unit, UnitSort, as_set, foreign_module, may_read, sums,
};
use crate::acceptance::{AcceptanceError, WorkFault};
use crate::assess::Planner;
use crate::finding::Place;
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::Mode;
use crate::population::{
    Layout, Medium, PlaceState, Population, Report, SeenModule, SeenPlace, SeenProcessor, SeenTotal, TotalOf,
};
use crate::unit::{DataRate, Name};

impl Planner<'_> {
    /// What the machine would report with faults; with none, what a sound machine reports: every slot of the board by its label, with
    /// facts, serial numbers (the ids of individuals), state and running rate, the firmware's total, the mode, processors.
    ///
    /// What a fault makes a report contradict is left out: a total or running rates that are at fault in themselves. A module read
    /// as empty says nothing; one that is failed or not in use still tells its facts.
    ///
    /// ```
    /// use slotwright::acceptance::WorkFault;
    /// use slotwright::population::Population;
    /// use slotwright::{Capacity, Label, Machine, Planner, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let planned = Population::new().with("A1".parse()?, module);
    /// let report = Planner::new(&machine, &rules).expected_report(&planned, None, &[])?;
    /// assert_eq!(report.filled().count(), 1);
    /// assert_eq!(report.totals[0].capacity_mib, Capacity::from_gib(32));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// A population that names slots which the board lacks; a fault that cannot be: slots that the board lacks or that hold no
    /// module, two modules in one slot, all as before where nobody says what was before, a mode or profile that the board does not have.
    pub fn expected_report(
        &self,
        planned: &Population,
        before: Option<&Population>,
        faults: &[WorkFault],
    ) -> Result<Report, AcceptanceError> {
        let machine = self.machine();
        Layout::new(machine, planned).map_err(AcceptanceError::Planned)?;
        let as_before = faults.iter().find(|fault| **fault == WorkFault::AsBefore);
        let population = match (as_before, before) {
            (None, _) => planned,
            (Some(_), Some(before)) => before,
            (Some(fault), None) => return Err(unsuited(fault, "nobody says what was there before")),
        };
        Layout::new(machine, population).map_err(AcceptanceError::Before)?;
        let pieces = pieces(machine, population, &BTreeSet::new());
        let mut read = Read::new(machine, &pieces);
        for fault in faults {
            read.add(fault)?;
        }
        read.report(faults)
    }
}

/// What a sound machine reports of a population that names no slot beside its own.
pub(crate) fn sound_report(machine: &Machine, population: &Population) -> Report {
    let pieces = pieces(machine, population, &BTreeSet::new());
    let read = Read::new(machine, &pieces);
    read.written(&State::of(&pieces, &[], &[]), &[])
}

fn unsuited(fault: &WorkFault, why: &'static str) -> AcceptanceError {
    AcceptanceError::UnsuitedFault { fault: Box::new(fault.clone()), why }
}

/// Public faults on the way to a state.
struct Read<'r, 'a> {
    machine: &'a Machine,
    pieces: &'r [Option<Piece<'a>>],
    units: Vec<Unit>,
    faults: Vec<Fault>,
    /// By slot: what is read of another module than planned.
    shows: Vec<Option<SeenModule>>,
    /// Slots of modules that are rated for no more than a rate.
    lower: Vec<(Vec<usize>, DataRate)>,
}

impl<'r, 'a> Read<'r, 'a> {
    fn new(machine: &'a Machine, pieces: &'r [Option<Piece<'a>>]) -> Self {
        let shows = vec![None; pieces.len()];
        Self { machine, pieces, units: Vec::new(), faults: Vec::new(), shows, lower: Vec::new() }
    }

    fn slot(&self, fault: &WorkFault, label: &Name) -> Result<usize, AcceptanceError> {
        let slot = self.machine.platform().slot_named(label.as_str());
        slot.map(crate::platform::SlotId::index).ok_or_else(|| unsuited(fault, "the board has no such slot"))
    }

    /// A slot for which a module is planned.
    fn filled(&self, fault: &WorkFault, label: &Name) -> Result<usize, AcceptanceError> {
        let slot = self.slot(fault, label)?;
        match self.pieces.get(slot) {
            Some(Some(_)) => Ok(slot),
            _ => Err(unsuited(fault, "no module is planned there")),
        }
    }

    fn add(&mut self, fault: &WorkFault) -> Result<(), AcceptanceError> {
        let platform = self.machine.platform();
        let internal = match fault {
            WorkFault::Unread { slots, reads, .. } | WorkFault::PartUnread { slots, reads } => {
                if !matches!(reads, PlaceState::Absent | PlaceState::Failed | PlaceState::NotInUse) {
                    return Err(unsuited(fault, "what is unread is empty, failed or not in use"));
                }
                let slots = slots.iter().map(|slot| self.filled(fault, slot)).collect::<Result<Vec<_>, _>>()?;
                self.units.push(Unit { sort: UnitSort::Part, slots });
                Fault::Unread { unit: self.units.len() - 1, reads: *reads }
            }
            WorkFault::WrongSlot { from, to } => {
                let path = vec![self.filled(fault, from)?, self.slot(fault, to)?];
                Fault::Move { path, is_closed: false }
            }
            WorkFault::MoveUndone { from, to } => {
                Fault::Undone { from: self.filled(fault, from)?, to: self.filled(fault, to)? }
            }
            WorkFault::Swapped { first, second } => {
                let path = vec![self.filled(fault, first)?, self.filled(fault, second)?];
                Fault::Move { path, is_closed: true }
            }
            WorkFault::Rotated { slots } => {
                let path = slots.iter().map(|slot| self.filled(fault, slot)).collect::<Result<Vec<_>, _>>()?;
                Fault::Move { path, is_closed: true }
            }
            WorkFault::WrongPart { slot, reads, shows } | WorkFault::Unplanned { slot, reads, shows } => {
                let slot = self.slot(fault, slot)?;
                if let Some(place) = self.shows.get_mut(slot) {
                    *place = Some((**shows).clone());
                }
                Fault::Foreign { slot, reads: *reads }
            }
            WorkFault::Mode { runs } => {
                let is_known =
                    *runs == *Mode::INDEPENDENT || platform.description().modes.iter().any(|m| m.name == *runs);
                if !is_known {
                    return Err(unsuited(fault, "the board has no such mode"));
                }
                Fault::Setting(SettingFault::Mode(runs.clone()))
            }
            WorkFault::PowerProfile { runs } => {
                if platform.description().power_profiles.iter().all(|profile| profile.name != *runs) {
                    return Err(unsuited(fault, "the board has no such power profile"));
                }
                Fault::Setting(SettingFault::Profile(runs.clone()))
            }
            WorkFault::RateCap { rate_mts } => Fault::Setting(SettingFault::Cap(*rate_mts)),
            WorkFault::LowerGrade { slots, rate_mts } => {
                let slots = slots.iter().map(|slot| self.slot(fault, slot)).collect::<Result<Vec<_>, _>>()?;
                self.lower.push((slots, *rate_mts));
                return Ok(());
            }
            WorkFault::RatedForRunning => Fault::Setting(SettingFault::RatedForRunning),
            WorkFault::TotalAtFault { .. }
            | WorkFault::RateAtFault
            | WorkFault::AsBefore
            | WorkFault::OtherMachine
            | WorkFault::OldReport
            | WorkFault::NoProcessor { .. } => return Ok(()),
            WorkFault::Other(_) => return Err(unsuited(fault, "this version does not know it")),
        };
        self.faults.push(internal);
        Ok(())
    }

    fn report(&self, faults: &[WorkFault]) -> Result<Report, AcceptanceError> {
        let state = State::of(self.pieces, &self.units, &self.faults);
        if state.held.contains(&Held::Clash) {
            let fault = faults.first().cloned().unwrap_or(WorkFault::AsBefore);
            return Err(unsuited(
                &fault,
                "with the others, two modules would sit in one slot, or one where nothing is read",
            ));
        }
        Ok(self.written(&state, faults))
    }

    /// The report of a state that can be.
    fn written(&self, state: &State, faults: &[WorkFault]) -> Report {
        let machine = as_set(self.machine, &self.faults);
        let module = |(at, shows): (usize, &Option<SeenModule>)| {
            shows.as_ref().and_then(|shows| foreign_module(self.machine, self.pieces, at, shows))
        };
        let foreign: Vec<Option<MemoryModule>> = self.shows.iter().enumerate().map(module).collect();
        let sums = sums(&machine, self.pieces, state, &foreign);
        let platform = machine.platform();
        let domain = |slot: usize| {
            let socket = &platform.socket(platform.slots().get(slot)?.socket).label;
            sums.rate.domains.iter().find(|domain| domain.sockets.contains(socket))
        };
        let rate = |slot: usize| -> Option<DataRate> {
            let own = domain(slot)?;
            let slow = self.lower.iter().filter(|(slots, _)| slots.iter().any(|slot| domain(*slot) == Some(own)));
            slow.map(|(_, rate)| *rate).chain([own.rate_mts?]).min()
        };
        let mut report = Report::new(Name::lossy("expected report"), Medium::Machine).mode(Name::lossy(machine.mode()));
        for socket in platform.socket_ids() {
            let label = &platform.socket(socket).label;
            let is_lost = |fault: &WorkFault| matches!(fault, WorkFault::Unread { unit: Place::Socket { socket }, .. } if socket == label);
            let is_gone = |fault: &WorkFault| matches!(fault, WorkFault::NoProcessor { socket } if socket == label);
            let is_present = machine.processor(socket).is_some() && !faults.iter().any(is_gone);
            // nobody knows whether it is the processor or what its modules hang on
            let told = (!faults.iter().any(is_lost)).then_some(is_present);
            report = report.processor(SeenProcessor::new(label.clone()).is_present(told));
        }
        for (at, slot) in platform.slots().iter().enumerate() {
            let place = self.place(&machine, state, at, slot.label());
            let is_used = place.state == PlaceState::InUse && place.module.as_ref().is_some_and(|m| m.device.is_none());
            let running = match &place.module {
                _ if faults.contains(&WorkFault::RateAtFault) || !is_used => None,
                Some(module) if faults.contains(&WorkFault::RatedForRunning) => module.grade_mts,
                _ => rate(at),
            };
            report = report.place(place.running_rate(running));
        }
        if !faults.contains(&(WorkFault::TotalAtFault { of: TotalOf::Firmware })) {
            report = report.totals([SeenTotal::new(TotalOf::Firmware, sums.usable)]);
        }
        report
    }

    /// A slot as it is read.
    fn place(&self, machine: &Machine, state: &State, slot: usize, label: &Name) -> SeenPlace {
        let (reads, module) = match state.held(slot) {
            Held::Empty | Held::Clash => (PlaceState::Absent, None),
            Held::Foreign => (state.reads(slot), self.shows.get(slot).cloned().flatten()),
            Held::Planned(from) => match self.pieces.get(from).and_then(Option::as_ref) {
                Some(piece) => {
                    let reads = may_read(machine, slot, piece, state.reads(slot)).written();
                    let serial = piece.serial.as_ref().map(|(name, _)| name.clone());
                    (reads, Some(piece.facts.clone().serial(serial)))
                }
                None => (PlaceState::Absent, None),
            },
        };
        let lower = self.lower.iter().filter(|(slots, _)| slots.contains(&slot)).map(|(_, rate)| *rate).min();
        let module = module.filter(|_| reads != PlaceState::Absent).map(|module| match lower {
            Some(rate) => module.grade(rate),
            None => module,
        });
        SeenPlace::new(label.clone(), reads).locator(label.clone()).module(module)
    }
}
