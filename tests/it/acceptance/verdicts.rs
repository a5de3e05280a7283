//! What an acceptance says first: machine, time, strength, conditions, totals, mode, bad input.

use slotwright::acceptance::{
    AcceptanceCheck, AcceptanceError, AcceptanceRecord, AcceptanceRequest, AcceptanceVerdict, Condition, Evidence,
    FaultSort, SlotVerdict, Step, Strength, SwapRequest, SwapVerdict, Told, WorkDone, WorkFault,
};
use slotwright::module::Individual;
use slotwright::platform::RatePolicy;
use slotwright::population::{
    Fault, Fitted, MachineIdentity, Medium, ModuleFact, Observed, Occupant, PlaceState, Population, Report, ReportDate,
    SeenModule, SeenPlace, SeenTotal, TotalOf,
};
use slotwright::unit::{Capacity, DataRate, Name};
use slotwright::{Machine, Planner, RuleBook};

use crate::acceptance::world::{machine, sorts};
use crate::boards::name;

fn small(mode: Option<&str>) -> Machine {
    machine(2, 2, 2, RatePolicy::PerMachine, mode)
}

/// A module of 32 GB with a serial number in each of these slots.
fn population(slots: &[(&str, &str)]) -> Population {
    let module = &sorts()[1];
    let fitted = |id: &str| Fitted::new(module.clone()).individual(Individual::new(name(id)));
    slots.iter().map(|(slot, id)| (name(slot), Occupant::Module(fitted(id)))).collect()
}

fn planned() -> Population {
    population(&[("1A1", "5A01"), ("1B1", "5A02"), ("2A1", "5A03"), ("2B1", "5A04")])
}

fn sound(machine: &Machine, planned: &Population) -> Report {
    Planner::new(machine, &RuleBook::standard()).expected_report(planned, None, &[]).unwrap()
}

fn check(machine: &Machine, request: &AcceptanceRequest) -> AcceptanceCheck {
    Planner::new(machine, &RuleBook::standard()).acceptance(request).unwrap()
}

fn place<'r>(report: &'r mut Report, slot: &str) -> &'r mut SeenPlace {
    report.places.iter_mut().find(|place| place.id == *slot).unwrap()
}

fn only(check: &AcceptanceCheck) -> Vec<WorkFault> {
    let groups = &check.causes.as_ref().unwrap().groups;
    groups.iter().flat_map(|group| &group.alternatives[0].causes).map(|cause| cause.fault.clone()).collect()
}

#[test]
fn only_a_clear_no_of_machine_or_time_withholds_the_verdict() {
    let machine = small(None);
    let identity = MachineIdentity::new().product(name("Gale 24")).serial(name("GW-0417"));
    let report = sound(&machine, &planned()).identity(identity).date("2026-11-27".parse::<ReportDate>().unwrap());
    let request = AcceptanceRequest::new(planned(), Observed::from(report));
    let after = |day: &str| WorkDone::On(day.parse().unwrap());
    let asked = |request: AcceptanceRequest| {
        let check = check(&machine, &request);
        (check.verdict, check.machine.is_it, check.time.is_later)
    };
    let (yes, no, not_said) = (Told::Yes, Told::No, Told::NotSaid);
    assert_eq!(asked(request.clone()), (AcceptanceVerdict::AsPlanned, not_said, not_said));
    let right = request.clone().serial(name("gw-0417"));
    assert_eq!(asked(right.clone()), (AcceptanceVerdict::AsPlanned, yes, not_said));
    assert_eq!(asked(right.clone().work(after("2026-11-26"))), (AcceptanceVerdict::AsPlanned, yes, yes));
    assert_eq!(asked(right.clone().work(after("2026-11-27"))), (AcceptanceVerdict::AsPlanned, yes, not_said));
    assert_eq!(asked(right.clone().work(WorkDone::BeforeReport)), (AcceptanceVerdict::AsPlanned, yes, yes));
    assert_eq!(asked(right.clone().work(after("2026-11-28"))), (AcceptanceVerdict::Withheld, yes, no));
    assert_eq!(asked(request.clone().product(name("Gale 24"))), (AcceptanceVerdict::AsPlanned, yes, not_said));
    let other = check(&machine, &request.serial(name("GW-0418")));
    assert_eq!((other.verdict, other.slots.len()), (AcceptanceVerdict::Withheld, 0));
    assert_eq!(only(&other), [WorkFault::OtherMachine]);
    assert_eq!(other.causes.unwrap().groups[0].next.step, Step::NewReport);
}

#[test]
fn a_module_that_came_in_proves_that_the_report_is_later_and_a_report_as_before_is_stale_or_not_done() {
    let machine = small(None);
    let before = population(&[("1A1", "5A01"), ("1B1", "5A02")]);
    let request = |report: Report| {
        AcceptanceRequest::new(planned(), Observed::from(report)).before(before.clone()).work(WorkDone::Unknown)
    };
    let done = check(&machine, &request(sound(&machine, &planned())));
    assert_eq!((done.time.is_later, done.time.came_in), (Told::Yes, Some(name("5A03"))));
    let stale = check(&machine, &request(sound(&machine, &before)));
    assert!(stale.time.is_as_before && stale.verdict == AcceptanceVerdict::NotAsPlanned);
    assert_eq!(only(&stale), [WorkFault::AsBefore]);
    assert_eq!(stale.causes.as_ref().unwrap().faults_at_least, 1);
    // where just one slot was to change, stale is one explanation of two sorts
    let one = AcceptanceRequest::new(
        planned(),
        Observed::from(sound(&machine, &population(&[("1A1", "5A01"), ("1B1", "5A02"), ("2A1", "5A03")]))),
    )
    .before(population(&[("1A1", "5A01"), ("1B1", "5A02"), ("2A1", "5A03")]));
    let one = check(&machine, &one);
    let group = &one.causes.as_ref().unwrap().groups[0];
    assert_eq!(group.alternatives.len(), 2, "{one}");
    assert!(group.alternatives.iter().any(|own| own.causes[0].fault == WorkFault::AsBefore));
}

#[test]
fn slots_agree_by_serial_part_facts_or_size_and_half_silent_reports_accept() {
    let machine = small(None);
    let strengths = |change: &dyn Fn(SeenModule) -> SeenModule| {
        let mut report = sound(&machine, &planned());
        for place in &mut report.places {
            place.module = place.module.take().map(change);
        }
        let check = check(&machine, &AcceptanceRequest::new(planned(), Observed::from(report)));
        assert_eq!(check.verdict, AcceptanceVerdict::AsPlanned, "{check}");
        check.slots[0].verdict
    };
    let size = |module: &SeenModule| SeenModule::new().capacity(module.capacity_mib);
    assert_eq!(strengths(&|module| module), SlotVerdict::AsPlanned(Strength::Serial));
    assert_eq!(strengths(&|module| module.serial(None)), SlotVerdict::AsPlanned(Strength::Facts));
    assert_eq!(strengths(&|module| size(&module)), SlotVerdict::AsPlanned(Strength::Size));
    // ranks, voltages and the way of buffering are what machines often get wrong
    let wrong = |module: SeenModule| module.package_ranks(4).kind(slotwright::module::ModuleKind::Unbuffered);
    assert_eq!(strengths(&wrong), SlotVerdict::AsPlanned(Strength::Serial));
    // another part number under the same serial number is a note
    let parts = strengths(&|module| module.part_number(name("OTHER")));
    assert_eq!(parts, SlotVerdict::AsPlanned(Strength::Serial));
}

#[test]
fn a_report_without_places_is_open_or_accepts_by_its_total() {
    let machine = small(None);
    let bare = Report::new(name("free"), Medium::Machine);
    let asked = |report: Report, reserve: Option<u64>| {
        let request = AcceptanceRequest::new(planned(), Observed::from(report));
        check(&machine, &request.system_reserve(reserve.map(Capacity::from_mib)))
    };
    let open = asked(bare.clone(), None);
    assert_eq!(open.verdict, AcceptanceVerdict::Open);
    assert!(open.conditions.contains(&Condition::Total) && open.conditions.contains(&Condition::Rate));
    let system = |mib: u64| bare.clone().totals([SeenTotal::new(TotalOf::OperatingSystem, Capacity::from_mib(mib))]);
    // 128 GB, of which the system keeps a part
    assert_eq!(asked(system(130_000), Some(2_048)).verdict, AcceptanceVerdict::AsPlanned);
    assert_eq!(asked(system(130_000), None).totals[0].agrees, Told::NotSaid);
    assert_eq!(asked(system(130_000), Some(65_536)).totals[0].agrees, Told::NotSaid, "as much as a module");
    let short = asked(system(97_500), Some(2_048));
    assert_eq!(short.verdict, AcceptanceVerdict::NotAsPlanned);
    let causes = short.causes.as_ref().unwrap();
    assert_eq!((causes.faults_at_least, causes.groups[0].alternatives.len()), (1, 4), "one of four modules: {short}");
    assert_eq!(asked(system(140_000), Some(2_048)).verdict, AcceptanceVerdict::NotAsPlanned, "more than there is");
    assert_eq!(asked(system(140_000), None).verdict, AcceptanceVerdict::NotAsPlanned, "no reserve makes more of it");
}

#[test]
fn what_is_not_a_report_of_the_machine_never_accepts_and_a_label_speaks_against() {
    let machine = small(None);
    let mut label = sound(&machine, &planned());
    label.medium = Medium::Label;
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let error = planner.acceptance(&AcceptanceRequest::new(planned(), Observed::from(label.clone()))).unwrap_err();
    assert!(matches!(error, AcceptanceError::NoMachineReport { .. }));
    assert!(error.to_string().starts_with("there is no more than label; only a report"), "{error}");
    // the machine tells no size: the label does not fill in
    let mut report = sound(&machine, &planned()).start(name("one"));
    place(&mut report, "1A1").module = None;
    label.start = Some(name("one"));
    label.name = name("labels");
    label.places.retain(|place| place.id == *"1A1");
    let both = |label: &Report| Observed::merge([report.clone().into(), label.clone().into()]).unwrap();
    let open = check(&machine, &AcceptanceRequest::new(planned(), both(&label)));
    assert_eq!(open.slots[0].verdict, SlotVerdict::Open);
    // and one of another module contradicts
    let other = place(&mut label, "1A1");
    other.module = Some(SeenModule::new().capacity(Capacity::from_gib(16)));
    let differs = check(&machine, &AcceptanceRequest::new(planned(), both(&label)));
    assert_eq!(
        (differs.slots[0].verdict, differs.slots[0].differs.as_slice()),
        (SlotVerdict::Differs, &[ModuleFact::Capacity][..])
    );
}

#[test]
fn modes_are_shown_by_totals_and_explain_them() {
    let machine = small(Some("mirrored"));
    let mut report = sound(&machine, &planned());
    report.mode = None;
    let asked = |report: &Report| check(&machine, &AcceptanceRequest::new(planned(), Observed::from(report.clone())));
    let mode = asked(&report).mode.unwrap();
    assert_eq!((mode.is_on, mode.may_be.len()), (Told::NotSaid, 1), "a spare rank leaves half, too");
    report.totals = vec![SeenTotal::new(TotalOf::Firmware, Capacity::from_gib(128))];
    let off = asked(&report);
    assert_eq!(only(&off), [WorkFault::Mode { runs: name("independent") }]);
    assert_eq!(off.causes.as_ref().unwrap().groups[0].next.step, Step::SetAsPlanned);
    report.totals = vec![SeenTotal::new(TotalOf::Firmware, Capacity::from_gib(63))];
    assert_eq!(
        only(&asked(&report)),
        [WorkFault::TotalAtFault { of: TotalOf::Firmware }],
        "short by less than a module"
    );
}

#[test]
fn a_mode_that_takes_slots_away_explains_slots_that_are_not_in_use() {
    // of three channels, mirroring uses two
    let machine = machine(1, 3, 2, RatePolicy::PerMachine, None);
    let planned = population(&[("1A1", "5A01"), ("1B1", "5A02"), ("1C1", "5A03")]);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let fault = WorkFault::Mode { runs: name("mirrored") };
    let mut report = planner.expected_report(&planned, None, std::slice::from_ref(&fault)).unwrap();
    assert_eq!(place(&mut report, "1C1").state, PlaceState::NotInUse);
    report.mode = None;
    let masked = check(&machine, &AcceptanceRequest::new(planned, Observed::from(report)));
    assert_eq!((only(&masked), masked.causes.unwrap().faults_at_least), (vec![fault], 1));
}

#[test]
fn rates_follow_from_slots_and_limits() {
    let machine = small(None);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    // a module that sits second in a channel lowers the rate: nothing else is needed
    let fault = WorkFault::WrongSlot { from: name("1B1"), to: name("1A2") };
    let report = planner.expected_report(&planned(), None, std::slice::from_ref(&fault)).unwrap();
    let moved = check(&machine, &AcceptanceRequest::new(planned(), Observed::from(report)));
    assert_eq!(only(&moved), [fault]);
    assert_eq!(moved.rates[0].agrees, Told::Yes);
    assert_eq!(moved.rates[0].limits[0].rate_mts, DataRate::DDR4_2400);
    let report =
        planner.expected_report(&planned(), None, &[WorkFault::RateCap { rate_mts: DataRate::DDR4_1866 }]).unwrap();
    let slow = check(&machine, &AcceptanceRequest::new(planned(), Observed::from(report)));
    let group = &slow.causes.as_ref().unwrap().groups[0];
    assert_eq!(group.alternatives.len(), 2, "a cap or the quiet profile: {slow}");
    assert_eq!(group.next.step, Step::SetAsPlanned);
}

#[test]
fn what_was_faulty_before_speaks_for_a_slot_that_is_still_mapped_out() {
    let machine = small(None);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let mut before = population(&[("1A1", "5A01"), ("1B1", "5A02"), ("2A1", "5A09"), ("2B1", "5A04")]);
    let faulty = Fitted::new(sorts()[1].clone()).individual(Individual::new(name("5A09"))).fault(Fault::Failed);
    before.put(name("2A1"), Occupant::Module(faulty));
    let fault = WorkFault::Unread {
        unit: slotwright::Place::Slot { slot: name("2A1") },
        slots: vec![name("2A1")],
        reads: PlaceState::NotInUse,
    };
    let report = planner.expected_report(&planned(), None, std::slice::from_ref(&fault)).unwrap();
    let request = AcceptanceRequest::new(planned(), Observed::from(report)).before(before);
    let check = check(&machine, &request);
    let cause = &check.causes.as_ref().unwrap().groups[0].alternatives[0].causes[0];
    assert_eq!((&cause.fault, cause.may_be[0]), (&fault, FaultSort::MappedOut));
    assert!(cause.speaks_for.contains(&Evidence::FaultyBefore { slot: name("2A1") }));
    assert_eq!(cause.next.step, Step::ReadSetUp);
}

#[test]
fn bad_input_is_answered_by_typed_errors() {
    let machine = small(None);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let report = sound(&machine, &planned());
    let asked = |planned: Population, before: Option<Population>| {
        planner.acceptance(&AcceptanceRequest::new(planned, Observed::from(report.clone())).before(before)).unwrap_err()
    };
    assert!(matches!(asked(population(&[("9Z9", "1")]), None), AcceptanceError::Planned(_)));
    assert!(matches!(asked(planned(), Some(population(&[("9Z9", "1")]))), AcceptanceError::Before(_)));
    let twice = asked(population(&[("1A1", "7"), ("1B1", "7")]), None);
    assert_eq!(twice.to_string(), "planned has the module 7 in the slots 1A1, 1B1; one module sits in one slot");
    let other = Fitted::new(sorts()[0].clone()).individual(Individual::new(name("5A01")));
    let before = Population::from_iter([(name("2B2"), Occupant::Module(other))]);
    assert!(matches!(asked(planned(), Some(before)), AcceptanceError::UnlikeIndividual { .. }));
    let own = planner.acceptance(
        &AcceptanceRequest::new(population(&[("1A1", "7"), ("1B1", "8")]), Observed::from(report.clone()))
            .own_ids([name("7"), name("8")]),
    );
    assert_eq!(own.unwrap().slots[0].verdict, SlotVerdict::AsPlanned(Strength::Facts), "ids of the owner's own");
    let fault = WorkFault::WrongSlot { from: name("1A2"), to: name("1B2") };
    let error = planner.expected_report(&planned(), None, &[fault]).unwrap_err();
    assert!(matches!(error, AcceptanceError::UnsuitedFault { .. }), "{error}");
    let clash =
        [("1A1", "2B2"), ("1B1", "2B2")].map(|(from, to)| WorkFault::WrongSlot { from: name(from), to: name(to) });
    assert!(planner.expected_report(&planned(), None, &clash).is_err());
    let elsewhere = Report::new(name("other"), Medium::Machine)
        .place(SeenPlace::new(name("x"), PlaceState::InUse).locator(name("DIMM_Q77")));
    let error = planner.acceptance(&AcceptanceRequest::new(planned(), Observed::from(elsewhere))).unwrap_err();
    assert!(matches!(error, AcceptanceError::Siting(_)));
}

#[test]
fn swap_tests_tell_module_slot_processor_and_contact_apart() {
    let machine = small(None);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let test = planner.swap_test(&SwapRequest::new(planned(), name("1A1"))).unwrap();
    assert_eq!(test.look_into, ["1A1", "1B1", "2A1"].map(name));
    assert_eq!(test.states[1].if_module.unread, Some(name("1B1")));
    assert_eq!(test.states[1].if_module.usable_mib, Capacity::from_gib(96));
    assert_eq!(test.states[2].if_slot.unread, Some(name("1A1")));
    let seen = |near: &[&str], far: &[&str]| {
        let list = |slots: &[&str]| slots.iter().map(|slot| name(slot)).collect::<Vec<Name>>();
        test.verdict(&[list(&["1A1"]), list(near), list(far)])
    };
    assert_eq!(seen(&["1B1"], &["2A1"]), SwapVerdict::FollowsModule);
    assert_eq!(seen(&["1A1"], &["1A1"]), SwapVerdict::StaysWithSlot);
    assert_eq!(seen(&["1A1", "1B1"], &["1A1"]), SwapVerdict::StaysWithProcessor);
    assert_eq!(seen(&[], &[]), SwapVerdict::Gone);
    assert_eq!(seen(&["1A1"], &["2A1"]), SwapVerdict::Unclear);
    assert_eq!(test.verdict(&[]), SwapVerdict::Unclear);
    // each state is the population with two modules exchanged
    for state in &test.states[1..] {
        assert_eq!(state.population.len(), planned().len());
        assert_eq!(state.population.get(state.module_in.as_str()), planned().get("1A1"));
    }
    let error = planner.swap_test(&SwapRequest::new(planned(), name("1A2"))).unwrap_err();
    assert_eq!(error.to_string(), "slot 1A2: it holds no module; 1A1, 1B1, 2A1, 2B1 would do");
    let alone = planner.swap_test(&SwapRequest::new(population(&[("1A1", "5A01")]), name("1A1")));
    assert!(alone.is_err());
}

#[test]
fn the_record_keeps_what_was_accepted() {
    let machine = small(None);
    let request =
        AcceptanceRequest::new(planned(), Observed::from(sound(&machine, &planned()))).serial_read(name("S1"));
    let record = AcceptanceRecord::of(&request, &check(&machine, &request)).by(name("M. Weber"));
    assert!(record.credits_are_due());
    let serials: Vec<Name> = record.after.iter().filter_map(|slot| slot.holds.module()?.serial.clone()).collect();
    assert_eq!(serials, ["5A01", "5A02", "5A03", "5A04"].map(name));
    let text = serde_json::to_string(&record).unwrap();
    assert_eq!(serde_json::from_str::<AcceptanceRecord>(&text).unwrap(), record);
}
