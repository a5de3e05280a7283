//! What to do next: limits that are assumed, what the firmware takes out of use, modules too many, and what holds credits back.

use slotwright::acceptance::{
    AcceptanceCheck, AcceptanceRecord, AcceptanceRequest, AcceptanceVerdict, CauseGroup, CheckNote, Condition,
    FaultSort, NextStep, RecordedTest, Shown, Step, TestOutcome, Told, WorkFault,
};
use slotwright::module::Individual;
use slotwright::population::{Fitted, MachineIdentity, Observed, Occupant, Population, Report, SeenTotal, TotalOf};
use slotwright::purchase::PlanRequest;
use slotwright::unit::{Capacity, DataRate};
use slotwright::{Machine, Planner, RuleBook, reference, sheet};

use crate::boards::{module, name};

/// A board whose limits on the rate are assumed.
fn machine() -> Machine {
    let board = Machine::builder(reference::ddr4_2s_4ch_3spc());
    board.processor_named("1", "later").processor_named("2", "later").build().unwrap()
}

const MODULE: &str = "32GB 2Rx4 PC4-2400T-RB2-11";

fn of(slots: &[&str]) -> Population {
    slots.iter().map(|slot| (name(slot), Occupant::module(module(MODULE)))).collect()
}

fn report(population: &Population) -> Report {
    Planner::new(&machine(), &RuleBook::standard()).expected_report(population, None, &[]).unwrap()
}

fn running(mut report: Report, rate: DataRate) -> Report {
    for place in report.places.iter_mut().filter(|place| place.module.is_some()) {
        place.running_rate_mts = Some(rate);
    }
    report
}

fn request(planned: &Population, report: Report) -> AcceptanceRequest {
    AcceptanceRequest::new(planned.clone(), Observed::from(report))
}

fn check(request: &AcceptanceRequest) -> AcceptanceCheck {
    Planner::new(&machine(), &RuleBook::standard()).acceptance(request).unwrap()
}

fn page_with(check: &AcceptanceCheck, tests: &[RecordedTest]) -> String {
    let machine = machine();
    let page = sheet::Job::new("job", &machine, &PlanRequest::new()).tests(tests).acceptance(check).to_text(100);
    page.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn page(check: &AcceptanceCheck) -> String {
    page_with(check, &[])
}

fn group(check: &AcceptanceCheck) -> &CauseGroup {
    &check.causes.as_ref().unwrap().groups[0]
}

fn sorts(group: &CauseGroup) -> Vec<FaultSort> {
    group.alternatives.iter().flat_map(|own| &own.causes).flat_map(|cause| cause.may_be.clone()).collect()
}

#[test]
fn an_assumed_limit_is_looked_up_before_anything_is_set() {
    let planned = of(&["A1", "A2", "B1", "B2"]);
    let slow = check(&request(&planned, running(report(&planned), DataRate::DDR4_2133)));
    let group = group(&slow);
    assert!(matches!(group.alternatives[0].causes[0].fault, WorkFault::RateCap { .. }), "{slow}");
    assert_eq!(group.alternatives[0].causes[0].may_be, [FaultSort::AssumedLimit, FaultSort::RateSetting]);
    assert_eq!((group.next.step, group.next.is_remedy), (Step::ReadManual, false));
    let then = |shows| group.next.outcomes.iter().find(|outcome| outcome.shows == shows).unwrap().remedy;
    assert_eq!(then(Shown::OtherLimit), Some(Step::CorrectDescription));
    let page = page(&slow);
    assert!(page.contains("Next Look up in the platform maker's manual the limits that are marked assumed."), "{page}");
    assert!(page.contains("assumed: registered modules, 2 a channel, by the table of processor later"), "{page}");
    // without a word of the manual nothing is set
    assert!(page.matches("et it as planned").count() == page.matches("et it as planned, as the platform").count());
}

#[test]
fn a_machine_that_is_faster_than_an_assumed_limit_may_be_right() {
    // of modules of a higher grade, and of those that are rated for just that rate
    for label in ["32GB 2Rx4 PC4-2666V-RB2-11", MODULE] {
        let planned: Population =
            ["A1", "A2", "A3"].iter().map(|slot| (name(slot), Occupant::module(module(label)))).collect();
        let sound = report(&planned);
        assert_eq!(sound.places[0].running_rate_mts, Some(DataRate::DDR4_1866));
        let fast = check(&request(&planned, running(sound, DataRate::DDR4_2400)));
        let group = group(&fast);
        let sorts = sorts(group);
        assert!(sorts.contains(&FaultSort::AssumedLimit) && sorts.contains(&FaultSort::ReportAtFault), "{fast}");
        assert_eq!(group.next.step, Step::ReadManual, "{fast}");
        assert!(!group.next.outcomes.iter().any(|outcome| outcome.means.is_empty()));
    }
}

#[test]
fn a_total_that_is_short_of_what_is_listed_is_looked_for_in_the_log() {
    let planned = of(&["A1", "B1", "C1"]);
    let mut sound = report(&planned);
    sound.totals = vec![SeenTotal::new(TotalOf::Firmware, Capacity::from_gib(80))];
    let short = check(&request(&planned, sound.clone()));
    let group = group(&short);
    assert_eq!(sorts(group), [FaultSort::OutOfUse, FaultSort::ReportAtFault, FaultSort::ModeOrSetting], "{short}");
    assert_eq!(group.next.step, Step::ReadSetUp);
    let on_log = group.next.outcomes.iter().find(|outcome| outcome.shows == Shown::OnLog).unwrap();
    assert_eq!(on_log.remedy, Some(Step::Reseat));
    let page = page(&short);
    assert!(page.contains("listed but taken out of use by the firmware"), "{page}");
    assert!(page.contains("Read the event log and the set-up") && page.contains("the same again"), "{page}");
    // more than is listed is no module out of use
    sound.totals = vec![SeenTotal::new(TotalOf::Firmware, Capacity::from_gib(120))];
    let more = check(&request(&planned, sound));
    assert!(!sorts(self::group(&more)).contains(&FaultSort::OutOfUse), "{more}");
}

#[test]
fn a_system_total_that_is_short_without_a_reserve_is_open() {
    let planned = of(&["A1", "B1", "C1", "D1"]);
    let mut sound = report(&planned);
    sound.totals = vec![SeenTotal::new(TotalOf::OperatingSystem, Capacity::from_gib(44))];
    let asked = |report: &Report, reserve: Option<u32>| {
        let request = request(&planned, report.clone()).serial_read(name("S1"));
        check(&request.system_reserve(reserve.map(Capacity::from_gib)))
    };
    let open = asked(&sound, None);
    assert_eq!(open.verdict, AcceptanceVerdict::Open, "{open}");
    let (short_mib, reserve_mib) = (Capacity::from_gib(84), None);
    assert!(open.notes.contains(&CheckNote::SystemTotalShort { short_mib, reserve_mib }), "{open}");
    assert!(!open.conditions.contains(&Condition::Total), "{open}");
    let page = page(&open);
    assert!(
        page.contains(
            "Open The operating system counts 84 GB less than the modules give; give the reserve (memory kept"
        ),
        "{page}"
    );
    assert!(page.contains("credits are not due while it is open"), "{page}");
    // a reserve that is less does not explain it, one that is enough tells nothing
    assert_eq!(asked(&sound, Some(40)).verdict, AcceptanceVerdict::Open);
    assert_eq!(asked(&sound, Some(2)).verdict, AcceptanceVerdict::NotAsPlanned);
    // less than a module is kept by the system, and what the firmware counts tells enough
    sound.totals = vec![SeenTotal::new(TotalOf::OperatingSystem, Capacity::from_gib(126))];
    assert!(asked(&sound, None).is_accepted());
    sound.totals = vec![
        SeenTotal::new(TotalOf::OperatingSystem, Capacity::from_gib(44)),
        SeenTotal::new(TotalOf::Firmware, Capacity::from_gib(128)),
    ];
    assert!(asked(&sound, None).is_accepted());
}

#[test]
fn a_module_too_many_is_taken_out() {
    let planned = of(&["A1", "B1"]);
    let more = check(&request(&planned, report(&of(&["A1", "B1", "C1"]))));
    let group = group(&more);
    assert_eq!((sorts(group), group.next.step), (vec![FaultSort::NotPlanned], Step::TakeOut), "{more}");
    let page = page(&more);
    assert!(page.contains("take out the module: its slot stays empty (C1)"), "{page}");
    assert!(!page.to_lowercase().contains("exchange the modules"), "{page}");
    // it was there before and was to come out
    let request = request(&of(&["A1"]), report(&of(&["A1", "C1"]))).before(of(&["A1", "C1"]));
    let left = check(&request);
    assert!(sorts(self::group(&left)).contains(&FaultSort::NotPlanned), "{left}");
    assert_eq!(self::group(&left).next.step, Step::NewReport, "{left}");
}

#[test]
fn every_step_that_does_not_tell_is_followed_by_another() {
    let planned = of(&["A1", "A2", "B1", "B2"]);
    let lost = check(&request(&planned, report(&of(&["A1", "B1", "B2"]))));
    let mut steps = Vec::new();
    let mut next: Option<NextStep> = Some(group(&lost).next.clone());
    while let Some(step) = next {
        steps.push(step.step);
        next = step.outcomes.iter().find_map(|outcome| step.following(outcome));
    }
    assert_eq!(steps, [Step::Look, Step::Reseat, Step::KnownGood]);
    let page = page(&lost);
    assert!(!page.contains("next step") && page.contains("make a swap test"), "{page}");
}

#[test]
fn a_machine_that_its_report_does_not_name_is_not_proved() {
    let planned = of(&["A1", "B1"]);
    let identity = MachineIdentity::new().product(name("Gale 24"));
    let asked =
        request(&planned, report(&planned).identity(identity.clone())).serial(name("BW-1")).product(name("Gale 24"));
    let unproved = check(&asked);
    let record = AcceptanceRecord::of(&asked, &unproved);
    assert!(unproved.is_accepted() && unproved.machine.is_it == Told::NotSaid && !record.credits_are_due());
    assert!(page(&unproved).contains("Next Read the serial number on the machine itself."));
    // planned and reported are kept apart
    assert_eq!((record.machine.serial.as_ref(), &record.machine.reported), (Some(&name("BW-1")), &identity));
    let text = sheet::acceptance_record(&record).to_text(120);
    for said in
        ["RECORD   Gale 24, serial BW-1", "Planned: Gale 24, serial BW-1.", "names no serial number", "does not prove"]
    {
        assert!(text.contains(said), "{said}: {text}");
    }
    // a person reads it
    let read = asked.clone().serial_read(name("bw-1"));
    let proved = check(&read);
    let record = AcceptanceRecord::of(&read, &proved);
    assert!(record.credits_are_due() && proved.machine.is_it == Told::Yes, "{proved}");
    assert!(sheet::acceptance_record(&record).to_text(120).contains("Read on the machine: serial bw-1."));
    let other = check(&asked.serial_read(name("BW-2")));
    assert_eq!(other.verdict, AcceptanceVerdict::Withheld);
    assert!(other.to_string().contains("with the serial number BW-2 read on it"), "{other}");
}

#[test]
fn a_test_that_has_not_passed_stands_in_the_head() {
    let planned = of(&["A1", "B1"]);
    let asked = request(&planned, report(&planned)).serial_read(name("S1"));
    let sound = check(&asked);
    let due = |result: &str| {
        let test = RecordedTest::new(name("memory test"), name(result)).outcome(TestOutcome::said(result));
        let record = AcceptanceRecord::of(&asked, &sound).tests([test.clone()]);
        (record.credits_are_due(), page_with(&sound, &[test]), sheet::acceptance_record(&record).to_text(100))
    };
    let (is_due, page, _) = due("passed");
    assert!(is_due && page.contains("Next Record it"), "{page}");
    for result in ["not run", "3 errors found", "bypassed", "passé"] {
        let (is_due, page, record) = due(result);
        assert!(!is_due && page.contains("a test is still open") && !page.contains("Record it"), "{page}");
        assert!(record.contains("Not due") && record.contains("TEST NOT"), "{record}");
    }
    let (is_due, page, _) = due("FAILED: 3 errors");
    assert!(!is_due && page.contains("Verdict NOT ACCEPTED: a test failed."), "{page}");
    assert!(page.contains("Test failed memory test: FAILED: 3 errors.") && !page.contains("Record it"), "{page}");
}

#[test]
fn one_serial_number_in_two_slots_leaves_the_verdict_open() {
    let planned = of(&["A1", "B1"]);
    let fitted = Fitted::new(module(MODULE)).individual(Individual::new(name("77")));
    let seen: Population = ["A1", "B1"].iter().map(|slot| (name(slot), Occupant::Module(fitted.clone()))).collect();
    let asked = request(&planned, report(&seen)).serial_read(name("S1"));
    let twice = check(&asked);
    assert_eq!(twice.verdict, AcceptanceVerdict::Open, "{twice}");
    assert!(!AcceptanceRecord::of(&asked, &twice).credits_are_due());
    let page = page(&twice);
    assert!(page.contains("read both labels (A1, B1)") && page.contains("Open Serial number 77 comes twice"), "{page}");
}
