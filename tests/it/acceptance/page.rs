//! What hands read: causes that come of the work itself, equal ones said once, and what is kept.

use slotwright::acceptance::{
    AcceptanceCheck, AcceptanceRecord, AcceptanceRequest, CheckNote, Condition, FaultSort, SlotVerdict, Step, WorkFault,
};
use slotwright::module::{Individual, MemoryModule};
use slotwright::platform::RatePolicy;
use slotwright::population::{
    Fitted, ModuleFact, Observed, Occupant, PlaceState, Population, Report, ReportDate, SeenModule,
};
use slotwright::purchase::PlanRequest;
use slotwright::unit::{DataRate, Name};
use slotwright::{Machine, Planner, RuleBook, sheet};

use crate::acceptance::world::{machine, sorts};
use crate::boards::{module, name};

fn small() -> Machine {
    machine(2, 2, 2, RatePolicy::PerMachine, None)
}

fn named(module: &MemoryModule, slots: &[(&str, &str)]) -> Population {
    let fitted = |id: &str| Fitted::new(module.clone()).individual(Individual::new(name(id)));
    slots.iter().map(|(slot, id)| (name(slot), Occupant::Module(fitted(id)))).collect()
}

fn of(slots: &[(&str, &MemoryModule)]) -> Population {
    slots.iter().map(|(slot, module)| (name(slot), Occupant::module((*module).clone()))).collect()
}

fn report(machine: &Machine, population: &Population) -> Report {
    Planner::new(machine, &RuleBook::standard()).expected_report(population, None, &[]).unwrap()
}

fn changed(mut report: Report, change: impl Fn(SeenModule) -> SeenModule) -> Report {
    for place in &mut report.places {
        place.module = place.module.take().map(&change);
    }
    report
}

fn check(machine: &Machine, request: &AcceptanceRequest) -> AcceptanceCheck {
    Planner::new(machine, &RuleBook::standard()).acceptance(request).unwrap()
}

fn text(machine: &Machine, check: &AcceptanceCheck) -> String {
    sheet::Job::new("job", machine, &PlanRequest::new()).acceptance(check).to_text(100)
}

/// A page without its breaks.
fn flat(page: &str) -> String {
    page.split_whitespace().collect::<Vec<_>>().join(" ")
}

fn four() -> Population {
    let large = &sorts()[1];
    of(&[("1A1", large), ("1B1", large), ("2A1", large), ("2B1", large)])
}

#[test]
fn a_low_rate_is_explained_by_the_grade_of_the_modules_beside_a_cap() {
    let machine = small();
    let mut slow = changed(report(&machine, &four()), |module| module.grade(DataRate::DDR4_2133));
    for place in slow.places.iter_mut().filter(|place| place.module.is_some()) {
        place.running_rate_mts = Some(DataRate::DDR4_2133);
    }
    let slow = check(&machine, &AcceptanceRequest::new(four(), Observed::from(slow)));
    let slots = ["1A1", "1B1", "2A1", "2B1"].map(name).to_vec();
    assert!(slow.notes.contains(&CheckNote::LowerRated { slots: slots.clone() }), "{slow}");
    let group = &slow.causes.as_ref().unwrap().groups[0];
    let faults: Vec<&WorkFault> = group.alternatives.iter().map(|own| &own.causes[0].fault).collect();
    let lower = WorkFault::LowerGrade { slots, rate_mts: DataRate::DDR4_2133 };
    assert_eq!(faults, [&WorkFault::RateCap { rate_mts: DataRate::DDR4_2133 }, &lower]);
    assert_eq!((slow.causes.as_ref().unwrap().groups.len(), group.next.step), (1, Step::ReadLabels));
    let page = flat(&text(&machine, &slow));
    assert!(page.contains("read the label of one module of each part"), "{page}");
    assert!(page.contains("the modules that are seen would run at 2666 MT/s as planned"), "{page}");
    assert!(!page.contains("reported give"), "{page}");
}

#[test]
fn a_lower_grade_that_the_report_tells_apart_is_that_of_the_module() {
    let machine = small();
    let (large, slower) = (sorts()[1].clone(), module("32GB 2Rx4 PC4-2400T-RB2-11"));
    let planned = of(&[("1A1", &large), ("1B1", &slower), ("2A1", &slower)]);
    let swapped = of(&[("1A1", &slower), ("1B1", &large), ("2A1", &slower)]);
    let both = check(&machine, &AcceptanceRequest::new(planned.clone(), Observed::from(report(&machine, &swapped))));
    let differing = both.slots.iter().filter(|slot| slot.verdict == SlotVerdict::Differs).count();
    assert_eq!((differing, both.causes.as_ref().unwrap().faults_at_least), (2, 1), "{both}");
    // one that is of a lower grade, by a report that tells rated and running apart: read its label before anything is exchanged
    let one = of(&[("1A1", &slower), ("1B1", &slower), ("2A1", &large)]);
    let planned = of(&[("1A1", &large), ("1B1", &slower), ("2A1", &large)]);
    let one = check(&machine, &AcceptanceRequest::new(planned, Observed::from(report(&machine, &one))));
    let next = &one.causes.as_ref().unwrap().groups[0].next;
    assert_eq!((next.step, next.slots.as_slice()), (Step::ReadLabels, &[name("1A1")][..]), "{one}");
}

#[test]
fn whole_places_may_not_have_been_filled_and_a_report_without_memory_is_looked_at_first() {
    let machine = small();
    let large = &sorts()[1];
    let planned = of(&[("1A1", large), ("1A2", large), ("1B1", large), ("2A1", large), ("2B1", large)]);
    let first = |population: &Population| {
        let request = AcceptanceRequest::new(planned.clone(), Observed::from(report(&machine, population)));
        let check = check(&machine, &request);
        let causes = check.causes.unwrap();
        assert_eq!(causes.faults_at_least, 1, "{causes}");
        let cause = &causes.groups[0].alternatives[0].causes[0];
        (cause.may_be.clone(), causes.groups[0].next.step)
    };
    let (channel, look) = first(&of(&[("1B1", large), ("2A1", large), ("2B1", large)]));
    assert!(channel.contains(&FaultSort::LeftOut) && channel.contains(&FaultSort::ChannelDead));
    assert_eq!(look, Step::Look);
    let (socket, look) = first(&of(&[("1A1", large), ("1A2", large), ("1B1", large)]));
    assert_eq!(socket, [FaultSort::LeftOut, FaultSort::ProcessorOrRiser]);
    assert_eq!(look, Step::Look);
    let (nothing, report) = first(&Population::new());
    assert!(nothing.contains(&FaultSort::ReportAtFault) && nothing.contains(&FaultSort::LeftOut), "{nothing:?}");
    assert_eq!(report, Step::NewReport);
}

#[test]
fn what_was_there_before_is_claimed_only_where_something_tells() {
    let machine = small();
    let (old, new) = (module("32GB 2Rx4 PC4-2400T-RB2-11"), sorts()[1].clone());
    let before = of(&[("1A1", &old)]);
    let planned = of(&[("1A1", &new), ("2A1", &new)]);
    let asked = |change: fn(SeenModule) -> SeenModule| {
        let report = changed(report(&machine, &before), change);
        check(&machine, &AcceptanceRequest::new(planned.clone(), Observed::from(report)).before(before.clone()))
    };
    // the size alone is that of both
    let size = asked(|module| SeenModule::new().capacity(module.capacity_mib));
    assert!(!size.time.is_as_before && !size.to_string().contains("slot 1A1 shows what was there before"), "{size}");
    // the rated rate is that of before, though it is the running rate too
    let told = asked(|module| module);
    assert!(told.time.is_as_before && told.causes.as_ref().unwrap().faults_at_least == 1, "{told}");
}

#[test]
fn equal_faults_are_said_once_and_the_machine_is_opened_once() {
    let machine = machine(4, 3, 2, RatePolicy::PerMachine, None);
    let slots: Vec<Name> = machine.platform().slots().iter().map(|slot| slot.label().clone()).collect();
    let planned: Population = slots.iter().map(|slot| (slot.clone(), Occupant::module(sorts()[1].clone()))).collect();
    let lost = ["1A2", "1B2", "2A2", "2B2", "3A2", "3B2", "4A2"];
    let seen: Population = slots
        .iter()
        .filter(|slot| !lost.contains(&slot.as_str()))
        .map(|slot| (slot.clone(), Occupant::module(sorts()[1].clone())))
        .collect();
    let check = check(&machine, &AcceptanceRequest::new(planned, Observed::from(report(&machine, &seen))));
    assert_eq!(check.causes.as_ref().unwrap().faults_at_least, 7);
    let page = text(&machine, &check);
    assert!(page.lines().count() < 105, "{page}");
    assert!(page.contains("WHY: 7 FAULTS") && page.contains("no smaller set of faults does"), "{page}");
    assert!(
        flat(&page).contains("7 faults: the modules planned for slots 1A2, 1B2, 2A2, 2B2, 3A2, 3B2, 4A2 are not seen")
    );
    assert_eq!(page.matches("[ ] Power off").count(), 1, "{page}");
    // a search that was stopped says what "at least" means
    let request = AcceptanceRequest::new(
        slots.iter().map(|slot| (slot.clone(), Occupant::module(sorts()[0].clone()))).collect(),
        Observed::from(report(&machine, &seen)),
    );
    let stopped = Planner::new(&machine, &RuleBook::standard()).acceptance(&request.nodes(4)).unwrap();
    let page = flat(&text(&machine, &stopped));
    assert!(
        page.contains("WHY: AT LEAST") && page.contains("No smaller set of faults explains this report."),
        "{page}"
    );
}

#[test]
fn what_is_not_told_is_named_and_what_is_inferred_is_marked() {
    let machine = small();
    let bare =
        changed(report(&machine, &four()), |module| module.kind(None).package_ranks(None).part_number(name("P-1")));
    let bare_check = check(&machine, &AcceptanceRequest::new(four(), Observed::from(bare.clone())));
    let facts = vec![ModuleFact::Serial, ModuleFact::Kind, ModuleFact::RankNumber];
    assert!(bare_check.conditions.contains(&Condition::Facts { facts }), "{bare_check}");
    // of one slot no size is told, and a like module elsewhere has one
    let mut silent = bare;
    let place = silent.places.iter_mut().find(|place| place.id == *"1A1").unwrap();
    place.module = place.module.take().map(|module| module.capacity(None));
    let request = AcceptanceRequest::new(four(), Observed::from(silent));
    let inferred = check(&machine, &request);
    assert_eq!(inferred.slots[0].inferred, [ModuleFact::Capacity], "{inferred}");
    assert!(flat(&text(&machine, &inferred)).contains("size inferred"));
    let record = AcceptanceRecord::of(&request, &inferred);
    assert!(sheet::acceptance_record(&record).to_text(140).contains("size inferred"));
    // one more slot than planned is in use
    let large = &sorts()[1];
    let five = of(&[("1A1", large), ("1A2", large), ("1B1", large), ("2A1", large), ("2B1", large)]);
    let more = check(&machine, &AcceptanceRequest::new(four(), Observed::from(report(&machine, &five))));
    assert!(more.to_string().contains("4 of 5 as planned (4 to be filled, and 1 more"), "{more}");
    assert_eq!(more.slots.iter().filter(|slot| slot.state == PlaceState::InUse).count(), 5);
}

#[test]
fn the_record_holds_what_came_out_and_whose_dates_they_are() {
    let machine = small();
    let large = &sorts()[1];
    let before = named(large, &[("1A1", "5A01"), ("1B1", "5A02"), ("2A1", "5A03")]);
    let planned = named(large, &[("1A1", "5A01"), ("1B1", "6B01"), ("2A1", "6B02")]);
    let date: ReportDate = "2026-11-27".parse().unwrap();
    let report = report(&machine, &planned).date(date.clone());
    let request = AcceptanceRequest::new(planned, Observed::from(report)).before(before);
    let record = AcceptanceRecord::of(&request, &check(&machine, &request));
    let out: Vec<(&str, &str)> =
        record.taken_out.iter().map(|one| (one.slot.as_str(), one.individual.as_ref().unwrap().id.as_str())).collect();
    assert_eq!(out, [("1B1", "5A02"), ("2A1", "5A03")]);
    assert_eq!((record.reported.as_ref(), record.on.as_ref(), record.platform.as_str()), (Some(&date), None, "small"));
    let page = sheet::acceptance_record(&record).to_text(100);
    for said in
        ["Report of    2026-11-27", "Accepted on  not said", "Board        description small", "5A02", "TAKEN OUT"]
    {
        assert!(page.contains(said), "{said}: {page}");
    }
    // equal ones are interchangeable where nothing names them
    let bare = of(&[("1A1", large), ("1B1", large)]);
    let request = AcceptanceRequest::new(of(&[("2A1", large), ("1B1", &sorts()[0])]), request.observed).before(bare);
    let record = AcceptanceRecord::of(&request, &check(&machine, &request));
    assert_eq!(record.taken_out.len(), 1, "{record}");
}
