//! What was planned and what is seen, slot by slot, as the search compares them.

use std::collections::BTreeSet;

use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::population::{
    self, Fault, Medium, ModuleFact, Observed, Occupant, PlaceState, Population, SeenModule, SeenTotal, Sited,
    SitedModule,
};
use crate::unit::{DataRate, Name};

/// A module, or another device, that is planned for a slot.
#[derive(Debug, Clone)]
pub(crate) struct Piece<'a> {
    /// The module; nothing for another device.
    pub(crate) module: Option<&'a MemoryModule>,
    /// Its facts, without a serial number.
    pub(crate) facts: SeenModule,
    /// Its serial number, and that as it is compared.
    pub(crate) serial: Option<(Name, String)>,
    pub(crate) fault: Option<Fault>,
}

/// What a population has in each slot of the machine's board, by the board's order.
pub(crate) fn pieces<'a>(
    machine: &Machine,
    population: &'a Population,
    own_ids: &BTreeSet<Name>,
) -> Vec<Option<Piece<'a>>> {
    let platform = machine.platform();
    let mut pieces: Vec<Option<Piece<'a>>> = vec![None; platform.slots().len()];
    for (label, occupant) in population.iter() {
        let piece = match occupant {
            Occupant::Blank => continue,
            Occupant::OtherDevice(device) => Piece {
                module: None,
                facts: SeenModule::new().device(device.sort).capacity(device.capacity_mib),
                serial: None,
                fault: None,
            },
            Occupant::Module(fitted) => {
                let id = fitted.individual.as_ref().map(|individual| &individual.id);
                let id = id.filter(|id| !own_ids.contains(*id));
                Piece {
                    module: Some(&fitted.module),
                    facts: SeenModule::of(&fitted.module),
                    serial: id.and_then(|id| Some((id.clone(), population::serial(id.as_str())?))),
                    fault: fitted.fault,
                }
            }
        };
        let place = platform.slot_named(label.as_str()).and_then(|slot| pieces.get_mut(slot.index()));
        if let Some(place) = place {
            *place = Some(piece);
        }
    }
    pieces
}

/// What is seen of a slot.
#[derive(Debug, Clone)]
pub(crate) struct SeenSlot<'s> {
    pub(crate) state: PlaceState,
    /// The facts of the module, without a serial number.
    pub(crate) module: Option<&'s SeenModule>,
    /// Those that the machine itself tells.
    pub(crate) own: Option<&'s SeenModule>,
    /// The facts that SPD, a label or the caller tell.
    pub(crate) firm: BTreeSet<ModuleFact>,
    pub(crate) serial: Option<(Name, String)>,
    pub(crate) rate: Option<DataRate>,
    /// Whether its serial number is that of a known module: it is none of those that are planned without a number.
    pub(crate) is_known: bool,
    /// The facts that are not told of this slot, but of modules of the same part number.
    pub(crate) inferred: Vec<ModuleFact>,
    /// Whether a rated rate below the planned one may be no more than the running rate, told twice.
    pub(crate) may_be_running: bool,
}

impl SeenSlot<'_> {
    /// What is read of its module, with its serial number.
    pub(crate) fn shows(&self) -> SeenModule {
        let serial = self.serial.as_ref().map(|(name, _)| name.clone());
        self.module.cloned().unwrap_or_default().serial(serial)
    }

    /// Whether it runs at a rate for which its module may be rated, and for no more.
    pub(crate) fn may_be_slower(&self) -> bool {
        let rated = self.module.and_then(|module| module.grade_mts);
        self.state == PlaceState::InUse && (rated.is_none() || self.may_be_running && rated == self.rate)
    }

    /// Whether nothing is told of what is there.
    pub(crate) fn is_untold(&self) -> bool {
        self.state == PlaceState::Unknown && self.module.is_none()
    }
}

/// What is seen of a machine.
#[derive(Debug)]
pub(crate) struct Seen<'s> {
    /// By the board's order.
    pub(crate) slots: Vec<SeenSlot<'s>>,
    pub(crate) totals: Vec<SeenTotal>,
    pub(crate) mode: Option<Name>,
    /// By socket: whether a processor is there.
    pub(crate) processors: Vec<Option<bool>>,
}

impl<'s> Seen<'s> {
    /// `own` is what the machine's reports alone say, where there are others.
    pub(crate) fn of(machine: &Machine, sited: &'s Sited, own: Option<&'s Sited>, observed: &Observed) -> Self {
        let platform = machine.platform();
        let untold = |state| SeenSlot {
            state,
            module: None,
            own: None,
            firm: BTreeSet::new(),
            serial: None,
            rate: None,
            is_known: false,
            inferred: Vec::new(),
            may_be_running: false,
        };
        let mut slots: Vec<SeenSlot<'s>> = vec![untold(PlaceState::Absent); platform.slots().len()];
        let mut put = |label: &Name, seen: SeenSlot<'s>| {
            let slot = platform.slot_named(label.as_str()).and_then(|slot| slots.get_mut(slot.index()));
            if let Some(place) = slot {
                *place = seen;
            }
        };
        for label in &sited.untold {
            put(label, untold(PlaceState::Unknown));
        }
        let is_firm = |report: &Name| observed.report(report.as_str()).is_some_and(|report| report.medium.is_firm());
        for slot in &sited.slots {
            let module = slot.module.and_then(|at| sited.modules.get(at));
            let firm = module.into_iter().flat_map(|module| &module.said_by);
            let number = |name: &Name| Some((name.clone(), population::serial(name.as_str())?));
            let told = |module: Option<&'s SitedModule>| {
                module.map(|module| &module.seen).filter(|seen| **seen != SeenModule::default())
            };
            let seen = SeenSlot {
                state: slot.state,
                own: told(own.map_or(module, |own| own.module_in(slot.slot.as_str()))),
                module: told(module),
                firm: firm.filter(|(_, report)| is_firm(report)).map(|(fact, _)| *fact).collect(),
                serial: slot.serial.as_ref().and_then(number),
                rate: slot.running_rate_mts,
                is_known: false,
                inferred: Vec::new(),
                may_be_running: false,
            };
            put(&slot.slot, seen);
        }
        let present = |socket| {
            let label = &platform.socket(socket).label;
            sited.processors.iter().find(|seen| seen.socket == *label)?.is_present
        };
        Self {
            slots,
            totals: sited.totals.clone(),
            mode: sited.mode.clone(),
            processors: platform.socket_ids().map(present).collect(),
        }
    }
}

impl Seen<'_> {
    /// Marks modules that are known by their serial numbers, so that none is taken for another one that came in. One that was there before is known
    /// where what is planned names what stays, where it is faulty, and where no module of its sort is planned without a number.
    pub(crate) fn know(&mut self, planned: &[Option<Piece<'_>>], before: Option<&[Option<Piece<'_>>]>) {
        let number = |piece: &Piece<'_>| piece.serial.as_ref().map(|(_, number)| number.clone());
        let stays: BTreeSet<String> = planned.iter().flatten().filter_map(number).collect();
        let was = || before.into_iter().flatten().flatten();
        let is_named = was().filter_map(number).any(|number| stays.contains(&number));
        let is_planned_bare =
            |facts: &SeenModule| planned.iter().flatten().any(|piece| piece.serial.is_none() && piece.facts == *facts);
        let is_out = |piece: &&Piece<'_>| is_named || piece.fault.is_some() || !is_planned_bare(&piece.facts);
        let out: BTreeSet<String> = was().filter(is_out).filter_map(number).collect();
        for seen in &mut self.slots {
            seen.is_known = seen.serial.as_ref().is_some_and(|(_, own)| stays.contains(own) || out.contains(own));
        }
        self.know_rated(planned, before);
    }

    /// Marks the facts that are not told of a slot itself. `each` is what is told without part numbers, so that no module is taken for a like of another.
    pub(crate) fn know_inferred(&mut self, machine: &Machine, each: &Sited) {
        for (seen, slot) in self.slots.iter_mut().zip(machine.platform().slots()) {
            let Some(module) = seen.module else { continue };
            let told = each.module_in(slot.label().as_str()).map(|module| &module.seen);
            let is_own = |fact: ModuleFact| told.is_some_and(|told| told.has(fact));
            let facts = ModuleFact::ALL.into_iter().filter(|fact| *fact != ModuleFact::PartNumber);
            seen.inferred = facts.filter(|fact| module.has(*fact) && !is_own(*fact)).collect();
        }
    }

    /// Whether rated rates may be running rates told twice. They are not where a slot in use has two unlike rates, or one that is rated for more than
    /// is planned there; nor is the rated rate of the module that was in the slot before.
    fn know_rated(&mut self, planned: &[Option<Piece<'_>>], before: Option<&[Option<Piece<'_>>]>) {
        fn grade(pieces: &[Option<Piece<'_>>], slot: usize) -> Option<DataRate> {
            pieces.get(slot).and_then(Option::as_ref).and_then(|piece| piece.facts.grade_mts)
        }
        let rated = |seen: &SeenSlot<'_>| seen.own.and_then(|module| module.grade_mts);
        let tells_apart = self.slots.iter().enumerate().any(|(slot, seen)| {
            let (Some(rated), Some(running)) = (rated(seen), seen.rate) else { return false };
            let is_more = grade(planned, slot).is_some_and(|planned| rated > planned);
            seen.state == PlaceState::InUse && (rated != running || is_more)
        });
        for (slot, seen) in self.slots.iter_mut().enumerate() {
            let was = before.and_then(|before| before.get(slot)?.as_ref());
            let is_it =
                was.is_some_and(|was| was.facts.grade_mts == rated(seen) && unlike(was, seen).differs.is_empty());
            let is_as_before = is_it && rated(seen).is_some() && rated(seen) != grade(planned, slot);
            seen.may_be_running = !tells_apart && !is_as_before;
        }
    }
}

/// The reports of the machine itself, and what speaks of modules with them: all but typed rows.
pub(crate) fn machine_reports(observed: &Observed) -> impl Iterator<Item = &population::Report> {
    observed.reports().iter().filter(|report| report.medium == Medium::Machine)
}

/// In what a module that is seen is not the planned one.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Unlike {
    /// What makes it another module.
    pub(crate) differs: Vec<ModuleFact>,
    /// What reports often get wrong, or that matters to nothing.
    pub(crate) notes: Vec<ModuleFact>,
}

/// How much the serial numbers of a planned module and a seen one say.
pub(crate) fn serials(piece: &Piece<'_>, seen: &SeenSlot<'_>) -> Option<bool> {
    match (&piece.serial, &seen.serial) {
        (Some((_, planned)), Some((_, seen))) => Some(planned == seen),
        (None, Some(_)) if seen.is_known => Some(false),
        _ => None,
    }
}

/// Whether a machine's report that contradicts a planned module in this says nothing against it.
pub(crate) fn is_note(fact: ModuleFact) -> bool {
    match fact {
        ModuleFact::PackageRanks | ModuleFact::RankNumber | ModuleFact::Kind | ModuleFact::Voltages => true,
        ModuleFact::Maker | ModuleFact::Height | ModuleFact::FormFactor => true,
        ModuleFact::Grade
        | ModuleFact::PartNumber
        | ModuleFact::Device
        | ModuleFact::Generation
        | ModuleFact::Capacity
        | ModuleFact::Ecc
        | ModuleFact::Stack
        | ModuleFact::Width
        | ModuleFact::DieDensity
        | ModuleFact::Serial => false,
    }
}

/// Compares the facts that are told of a module with those of a planned one, serial numbers aside.
pub(crate) fn facts_unlike(facts: &SeenModule, seen: &SeenSlot<'_>, same_serial: bool) -> Unlike {
    let mut unlike = Unlike::default();
    let Some(module) = seen.module else { return unlike };
    for fact in ModuleFact::ALL {
        if fact == ModuleFact::Serial || !facts.contradicts(module, fact) {
            continue;
        }
        let is_firm = seen.firm.contains(&fact);
        // a rated rate that is that at which it runs
        let is_running = || {
            let (rated, running) = (module.grade_mts, seen.rate);
            seen.may_be_running && running.is_some() && rated == running && rated < facts.grade_mts
        };
        let is_note = match fact {
            ModuleFact::Kind | ModuleFact::Voltages => !is_firm,
            ModuleFact::PartNumber => same_serial,
            ModuleFact::Grade => !is_firm && is_running(),
            fact => is_note(fact),
        };
        if is_note { unlike.notes.push(fact) } else { unlike.differs.push(fact) }
    }
    unlike
}

/// Whether a slot that was to change shows what was there before: what is told is of that and not of what was planned.
pub(crate) fn shows_before(before: Option<&Piece<'_>>, planned: Option<&Piece<'_>>, seen: &SeenSlot<'_>) -> bool {
    let is_of = |piece: Option<&Piece<'_>>| match piece {
        Some(piece) => seen.state.is_filled() && unlike(piece, seen).differs.is_empty(),
        None => seen.state == PlaceState::Absent,
    };
    is_of(before) && !is_of(planned)
}

/// Compares what is seen of a module with a planned one.
pub(crate) fn unlike(piece: &Piece<'_>, seen: &SeenSlot<'_>) -> Unlike {
    let serials = serials(piece, seen);
    let mut unlike = facts_unlike(&piece.facts, seen, serials == Some(true));
    if serials == Some(false) {
        unlike.differs.push(ModuleFact::Serial);
    }
    unlike
}
