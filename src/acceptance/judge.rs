//! The verb: what was planned against what is reported.

use std::collections::{BTreeMap, BTreeSet};

use crate::acceptance::figures::{Figured, Stands, modes, named_mode, seen_rates};
use crate::acceptance::next::NextStep;
use crate::acceptance::pieces::{Piece, Seen, machine_reports, pieces, unlike};
use crate::acceptance::scene::Scene;
use crate::acceptance::solve::{Solved, solve};
use crate::acceptance::state::{Fault, SettingFault, State, Sums, as_set};
use crate::acceptance::tell::Teller;
use crate::acceptance::{
    AcceptanceCheck, AcceptanceError, AcceptanceRequest, AcceptanceVerdict, Cause, CauseGroup, Causes, Condition,
    Explanation, FaultSort, MachineCheck, ModeCheck, RateCheck, SlotCheck, SlotVerdict, Strength, TimeCheck, Told,
    TotalCheck, WorkDone, WorkFault,
};
use crate::assess::Planner;
use crate::figure::DomainRate;
use crate::machine::Machine;
use crate::population::{
    self, Layout, MachineIdentity, Medium, ModuleFact, Observed, PlaceState, Population, Report, SeenModule, SeenTotal,
    Sited,
};
use crate::stated::Schema;
use crate::unit::{DataRate, Name};

impl Planner<'_> {
    /// Whether the machine reports what was planned, and if not, why.
    ///
    /// ```
    /// use slotwright::acceptance::{AcceptanceRequest, SlotVerdict, WorkFault};
    /// use slotwright::population::{Observed, Population};
    /// use slotwright::{Label, Machine, Planner, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let planner = Planner::new(&machine, &rules);
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let planned = Population::new().with("A1".parse()?, module.clone()).with("B1".parse()?, module);
    ///
    /// // what a sound machine would report
    /// let report = planner.report_after(&planned, None, &[])?;
    /// let check = planner.acceptance(&AcceptanceRequest::new(planned.clone(), Observed::from(report)))?;
    /// assert!(check.is_accepted());
    ///
    /// // the module of B1 went into C1
    /// let fault = WorkFault::WrongSlot { from: "B1".parse()?, to: "C1".parse()? };
    /// let report = planner.report_after(&planned, None, &[fault.clone()])?;
    /// let check = planner.acceptance(&AcceptanceRequest::new(planned, Observed::from(report)))?;
    /// assert_eq!(check.slots.iter().filter(|slot| slot.verdict == SlotVerdict::Differs).count(), 2);
    /// assert_eq!(check.causes.unwrap().groups[0].alternatives[0].causes[0].fault, fault);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// Populations that name slots which the board lacks, or one module in two slots; a module that is of one sort before and of another
    /// after; no report of the machine itself; a report that does not fit the board, or of a virtual machine.
    pub fn acceptance(&self, request: &AcceptanceRequest) -> Result<AcceptanceCheck, AcceptanceError> {
        let machine = self.machine();
        check_populations(machine, request)?;
        let observed = judged_reports(request)?;
        let sited = observed.bare_on(machine.platform())?;
        let is_alone = observed.reports().iter().all(|report| report.medium == Medium::Machine);
        let alone =
            if is_alone { None } else { Some(observed.of_media(&[Medium::Machine]).bare_on(machine.platform())?) };
        let identity = identity(request);
        let planned = pieces(machine, &request.planned, &request.own_ids);
        let before = request.before.as_ref().map(|before| pieces(machine, before, &request.own_ids));
        let seen = Seen::of(machine, &sited, alone.as_ref(), &observed);
        let time = time(request, &planned, before.as_deref(), &seen);
        if let Some(check) = withheld(&identity, &time) {
            return Ok(check);
        }
        let judge =
            Judge { planner: *self, request, scene: Scene::new(machine, &planned, &seen), before, sited: &sited };
        Ok(judge.check(identity, time))
    }
}

fn check_populations(machine: &Machine, request: &AcceptanceRequest) -> Result<(), AcceptanceError> {
    Layout::new(machine, &request.planned).map_err(AcceptanceError::Planned)?;
    let planned = individuals(&request.planned, "planned", &request.own_ids)?;
    let Some(before) = &request.before else { return Ok(()) };
    Layout::new(machine, before).map_err(AcceptanceError::Before)?;
    for (id, (_, module)) in individuals(before, "before", &request.own_ids)? {
        let unlike = planned.get(&id).filter(|(_, other)| SeenModule::of(other).is_unlike(&SeenModule::of(module)));
        if let Some((_, other)) = unlike {
            let (before, planned) = (module.to_string(), other.to_string());
            return Err(AcceptanceError::UnlikeIndividual { id, before, planned });
        }
    }
    Ok(())
}

type Individuals<'p> = BTreeMap<Name, (&'p Name, &'p crate::module::MemoryModule)>;

/// The named modules of a population, each in one slot.
fn individuals<'p>(
    population: &'p Population,
    which: &'static str,
    own_ids: &BTreeSet<Name>,
) -> Result<Individuals<'p>, AcceptanceError> {
    let mut individuals: Individuals<'p> = BTreeMap::new();
    for (slot, fitted) in population.modules() {
        let Some(individual) = fitted.individual.as_ref().filter(|own| !own_ids.contains(&own.id)) else { continue };
        if let Some((other, _)) = individuals.insert(individual.id.clone(), (slot, &fitted.module)) {
            let slots = [other, slot].into_iter().collect();
            return Err(AcceptanceError::IndividualTwice { population: which, id: individual.id.clone(), slots });
        }
    }
    Ok(individuals)
}

/// The reports that are judged: the machine's own, and SPD, labels and the caller's word beside them.
fn judged_reports(request: &AcceptanceRequest) -> Result<Observed, AcceptanceError> {
    if machine_reports(&request.observed).next().is_none() {
        let media: Vec<String> = request.observed.reports().iter().map(|report| report.medium.to_string()).collect();
        let found = match media.as_slice() {
            [] => "there is no report".to_owned(),
            media => format!("there is no more than {}", media.join(", ")),
        };
        return Err(AcceptanceError::NoMachineReport { found });
    }
    Ok(request.observed.of_media(&[Medium::Machine, Medium::Spd, Medium::Label, Medium::Caller]))
}

/// Whether the reports are of the machine.
fn identity(request: &AcceptanceRequest) -> MachineCheck {
    let reports: Vec<&Report> = machine_reports(&request.observed).collect();
    let told = |of: fn(&MachineIdentity) -> Option<&Name>| reports.iter().filter_map(move |r| of(&r.identity));
    let compare = |expected: &Option<Name>, of: fn(&MachineIdentity) -> Option<&Name>| {
        let expected = expected.as_ref().map(|name| population::folded(name.as_str()));
        let Some(expected) = expected else { return Told::NotSaid };
        let told: Vec<bool> = told(of).map(|name| population::folded(name.as_str()) == expected).collect();
        match told.as_slice() {
            [] => Told::NotSaid,
            told if told.iter().all(|is_it| *is_it) => Told::Yes,
            _ => Told::No,
        }
    };
    let serial = compare(&request.serial, |identity| identity.serial.as_ref());
    let product = compare(&request.product, |identity| identity.product.as_ref());
    let is_it = match (serial, product) {
        (Told::No, _) | (_, Told::No) => Told::No,
        (Told::Yes, _) => Told::Yes,
        (Told::NotSaid, Told::Yes) if request.serial.is_none() => Told::Yes,
        (Told::NotSaid, _) => Told::NotSaid,
    };
    let mut reported = MachineIdentity::new();
    for report in &reports {
        let MachineIdentity { maker, product, serial, board, firmware } = &report.identity;
        reported.maker = reported.maker.or_else(|| maker.clone());
        reported.product = reported.product.or_else(|| product.clone());
        reported.serial = reported.serial.or_else(|| serial.clone());
        reported.board = reported.board.or_else(|| board.clone());
        reported.firmware = reported.firmware.or_else(|| firmware.clone());
    }
    MachineCheck { is_it, serial: request.serial.clone(), product: request.product.clone(), reported }
}

/// Whether the newest report is later than the work.
fn time(
    request: &AcceptanceRequest,
    planned: &[Option<Piece<'_>>],
    before: Option<&[Option<Piece<'_>>]>,
    seen: &Seen<'_>,
) -> TimeCheck {
    let dates = machine_reports(&request.observed).filter_map(|report| report.date.as_ref());
    let newest = dates.max().cloned();
    let serial = |piece: &Piece<'_>| piece.serial.as_ref().map(|(_, serial)| serial.clone());
    let was: BTreeSet<String> = before.into_iter().flatten().flatten().filter_map(serial).collect();
    let came: BTreeSet<String> = match before {
        Some(_) => planned.iter().flatten().filter_map(serial).filter(|serial| !was.contains(serial)).collect(),
        None => BTreeSet::new(),
    };
    let read = seen.slots.iter().filter_map(|slot| slot.serial.as_ref());
    let came_in = read.into_iter().find(|(_, serial)| came.contains(serial)).map(|(name, _)| name.clone());
    let is_later = match (&request.work, &newest) {
        _ if came_in.is_some() => Told::Yes,
        (WorkDone::BeforeReport, _) => Told::Yes,
        (WorkDone::On(work), Some(date)) if date.is_later_than(work) => Told::Yes,
        (WorkDone::On(work), Some(date)) if work.is_later_than(date) => Told::No,
        (WorkDone::On(_) | WorkDone::Unknown, _) => Told::NotSaid,
    };
    let is_as_before = before.is_some_and(|before| is_as_before(planned, before, seen));
    TimeCheck { is_later, reported: newest, came_in, is_as_before }
}

/// Whether every slot that was to change is told to be as before.
fn is_as_before(planned: &[Option<Piece<'_>>], before: &[Option<Piece<'_>>], seen: &Seen<'_>) -> bool {
    let same = |one: &Option<Piece<'_>>, other: &Option<Piece<'_>>| match (one, other) {
        (Some(one), Some(other)) => one.facts == other.facts && one.serial == other.serial,
        (None, None) => true,
        _ => false,
    };
    let changed: Vec<usize> = (0..planned.len())
        .filter(|&at| !planned.get(at).zip(before.get(at)).is_none_or(|(one, other)| same(one, other)))
        .collect();
    let fits = |piece: &Option<Piece<'_>>, at: usize| {
        let Some(seen) = seen.slots.get(at) else { return false };
        match piece {
            Some(piece) => seen.state.is_filled() && unlike(piece, seen).differs.is_empty(),
            None => seen.state == PlaceState::Absent,
        }
    };
    let all =
        |pieces: &[Option<Piece<'_>>]| changed.iter().all(|&at| pieces.get(at).is_some_and(|piece| fits(piece, at)));
    !changed.is_empty() && all(before) && !all(planned)
}

/// Without a verdict, where a report is not of the machine, or older than the work.
fn withheld(machine: &MachineCheck, time: &TimeCheck) -> Option<AcceptanceCheck> {
    let fault = match (machine.is_it, time.is_later) {
        (Told::No, _) => WorkFault::OtherMachine,
        (_, Told::No) => WorkFault::OldReport,
        _ => return None,
    };
    Some(AcceptanceCheck {
        schema: Schema,
        verdict: AcceptanceVerdict::Withheld,
        machine: machine.clone(),
        time: time.clone(),
        slots: Vec::new(),
        totals: Vec::new(),
        rates: Vec::new(),
        mode: None,
        missing_processors: Vec::new(),
        conditions: Vec::new(),
        causes: Some(Causes {
            faults_at_least: 1,
            groups: vec![plain_group(fault, FaultSort::ReportAtFault, Vec::new())],
            stopped: None,
        }),
    })
}

/// A group of one fault of one sort.
fn plain_group(fault: WorkFault, sort: FaultSort, slots: Vec<Name>) -> CauseGroup {
    let next = NextStep::among(&[sort], slots);
    let cause =
        Cause { fault, may_be: vec![sort], speaks_for: Vec::new(), speaks_against: Vec::new(), next: next.clone() };
    let alternatives = vec![Explanation { causes: vec![cause] }];
    CauseGroup { faults_at_least: 1, is_proved: true, alternatives, further: 0, next }
}

struct Judge<'p, 'a> {
    planner: Planner<'a>,
    request: &'p AcceptanceRequest,
    scene: Scene<'a>,
    before: Option<Vec<Option<Piece<'a>>>>,
    sited: &'p Sited,
}

impl<'a> Judge<'_, 'a> {
    fn check(self, machine: MachineCheck, time: TimeCheck) -> AcceptanceCheck {
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
        let verdict = match (is_clean, is_told) {
            (false, _) => AcceptanceVerdict::NotAsPlanned,
            (true, true) => AcceptanceVerdict::AsPlanned,
            (true, false) => AcceptanceVerdict::Open,
        };
        let conditions = self.conditions(&machine, &time, &slots, &totals, &rates, &mode);
        AcceptanceCheck {
            schema: Schema,
            verdict,
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
            let verdict = match piece {
                _ if !self.scene.agrees(&planned, at) => SlotVerdict::Differs,
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
                reported: (reported != SeenModule::default()).then_some(reported),
                running_rate_mts: seen.rate,
                differs,
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

    /// Why it is not as planned, and the state of the slots by the first explanation.
    fn causes(&self, time: &TimeCheck, firmware: Option<Name>, missing: &[Name]) -> (Causes, State) {
        let (request, seen, machine) = (self.request, self.scene.seen, self.scene.machine);
        let mut budget = self.planner.budget(request.nodes);
        let scene = Scene::new(machine, self.scene.pieces, seen).prepared();
        let solved = solve(&scene, request.system_reserve_mib, &mut budget);
        let teller = Teller { scene: &scene, before: self.before.as_deref(), firmware: firmware.clone() };
        let first = |solved: &Solved| -> Vec<Fault> {
            let setting = |fault: &Fault| matches!(fault, Fault::Setting(SettingFault::Total(_) | SettingFault::Rate));
            let found = solved.groups.iter().filter_map(|group| group.found.first()).flatten();
            found.filter(|fault| !setting(fault)).cloned().collect()
        };
        let most = request.alternatives.max(1);
        let mut groups = Vec::new();
        let mut state = scene.state(&first(&solved));
        let mut stopped = solved.stopped();
        let before = self.before.as_deref().filter(|_| time.is_as_before);
        let scene_before = before.map(|pieces| Scene::new(machine, pieces, seen).prepared());
        let solved_before = scene_before.as_ref().map(|scene| solve(scene, request.system_reserve_mib, &mut budget));
        match (&scene_before, &solved_before) {
            (Some(other), Some(as_before)) if as_before.size() < solved.size() => {
                // nothing but what was there before, and what that does not explain
                stopped = stopped.or(as_before.stopped());
                groups.push(as_before_group());
                if as_before.size() + 1 == solved.size() {
                    let both = self.either(&teller, &solved, other, as_before, firmware, most);
                    groups = vec![both];
                } else {
                    let teller = Teller { scene: other, before: None, firmware };
                    groups.extend(told(&teller, as_before, most));
                    state = other.state(&first(as_before));
                }
            }
            _ => groups.extend(told(&teller, &solved, most)),
        }
        for socket in missing.iter().filter(|socket| !self.has_planned(socket)) {
            let fault = WorkFault::NoProcessor { socket: socket.clone() };
            groups.push(plain_group(fault, FaultSort::ProcessorOrRiser, Vec::new()));
        }
        let faults_at_least = groups.iter().map(|group| group.faults_at_least).sum();
        (Causes { faults_at_least, groups, stopped }, state)
    }

    /// Explanations over what was planned, and those by which all is as before, where both take as many faults: one group of all.
    fn either(
        &self,
        teller: &Teller<'_, 'a>,
        solved: &Solved,
        other: &Scene<'a>,
        as_before: &Solved,
        firmware: Option<Name>,
        most: usize,
    ) -> CauseGroup {
        let is_proved = solved.stopped().is_none() && as_before.stopped().is_none();
        let (found, further) = solved.products(most);
        let mut group = teller.group(solved.size(), is_proved, found, further, most);
        let (found, further) = as_before.products(most);
        let teller = Teller { scene: other, before: None, firmware };
        let told = teller.group(as_before.size(), is_proved, found, further, most);
        let first = as_before_group();
        let stale = first.alternatives.iter().flat_map(|explanation| &explanation.causes);
        let stale: Vec<Cause> = stale.cloned().collect();
        let mut alternatives = told.alternatives;
        for explanation in &mut alternatives {
            explanation.causes.splice(0..0, stale.iter().cloned());
        }
        alternatives.append(&mut group.alternatives);
        let key = |explanation: &Explanation| {
            let mut sorts: Vec<FaultSort> =
                explanation.causes.iter().filter_map(|cause| cause.may_be.first().copied()).collect();
            sorts.sort();
            sorts
        };
        alternatives.sort_by_cached_key(key);
        let cut = alternatives.len().saturating_sub(most);
        alternatives.truncate(most);
        let sorts =
            |next: &NextStep| next.outcomes.iter().flat_map(|outcome| outcome.means.clone()).collect::<Vec<_>>();
        let mut all = sorts(&group.next);
        all.extend(sorts(&told.next));
        all.extend(sorts(&first.next));
        group.next = NextStep::among(&all, group.next.slots.clone());
        let cut = u64::try_from(cut).unwrap_or(u64::MAX);
        group.further = group.further.saturating_add(told.further).saturating_add(cut);
        group.alternatives = alternatives;
        group
    }

    fn has_planned(&self, socket: &Name) -> bool {
        let platform = self.scene.machine.platform();
        let is_there = |(at, piece): (usize, &Option<Piece<'_>>)| {
            let slot = platform.slots().get(at);
            piece.is_some() && slot.is_some_and(|slot| platform.socket(slot.socket).label == *socket)
        };
        self.scene.pieces.iter().enumerate().any(is_there)
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
        machine: &MachineCheck,
        time: &TimeCheck,
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
        let open = slots.iter().filter(|slot| slot.verdict == SlotVerdict::Open);
        let open: Vec<Name> = open.map(|slot| slot.slot.clone()).collect();
        if !open.is_empty() {
            conditions.push(Condition::Slots { slots: open });
        }
        if !mode.may_be.is_empty() {
            let may_be = std::iter::once(&mode.planned).chain(&mode.may_be).cloned().collect();
            conditions.push(Condition::Mode { may_be });
        }
        if totals.iter().all(|total| total.agrees == Told::NotSaid) {
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
fn strength(piece: &Piece<'_>, seen: &crate::acceptance::pieces::SeenSlot<'_>) -> Strength {
    let Some(module) = seen.own else { return Strength::State };
    let both = |fact: ModuleFact| piece.facts.has(fact) && module.has(fact) && !piece.facts.contradicts(module, fact);
    if crate::acceptance::pieces::serials(piece, seen) == Some(true) {
        Strength::Serial
    } else if both(ModuleFact::PartNumber) {
        Strength::PartNumber
    } else if ModuleFact::ALL.into_iter().any(|fact| fact != ModuleFact::Capacity && both(fact)) {
        Strength::Facts
    } else {
        Strength::Size
    }
}

/// The group of a report that shows what was there before.
fn as_before_group() -> CauseGroup {
    let sorts = [FaultSort::ReportAtFault, FaultSort::NotDone];
    let next = NextStep::among(&sorts, Vec::new());
    let cause = Cause {
        fault: WorkFault::AsBefore,
        may_be: sorts.to_vec(),
        speaks_for: Vec::new(),
        speaks_against: Vec::new(),
        next: next.clone(),
    };
    let alternatives = vec![Explanation { causes: vec![cause] }];
    CauseGroup { faults_at_least: 1, is_proved: true, alternatives, further: 0, next }
}

/// The groups of what is solved, as they are told.
fn told(teller: &Teller<'_, '_>, solved: &Solved, most: usize) -> Vec<CauseGroup> {
    let group = |least: &crate::acceptance::search::Least| {
        let found: Vec<Vec<Fault>> = least.found.iter().cloned().collect();
        teller.group(least.size, least.stopped.is_none(), found, 0, most)
    };
    solved.groups.iter().map(group).collect()
}
