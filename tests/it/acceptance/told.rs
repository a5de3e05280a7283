//! What a report leaves open: slots of which it tells nothing, and reports that contradict each other.

use slotwright::acceptance::{
    AcceptanceCheck, AcceptanceRecord, AcceptanceRequest, AcceptanceVerdict, CheckNote, Condition, SlotHolds,
    SlotVerdict,
};
use slotwright::module::{Individual, ModuleKind};
use slotwright::platform::RatePolicy;
use slotwright::population::{Fitted, Medium, Observed, Occupant, PlaceState, Population, Report, SeenModule};
use slotwright::unit::{Capacity, Name};
use slotwright::{Machine, Planner, RuleBook};

use crate::acceptance::world::{machine, sorts};
use crate::boards::name;

fn small() -> Machine {
    machine(2, 2, 2, RatePolicy::PerMachine, None)
}

/// A module of 32 GB with a serial number in each of these slots.
fn population(slots: &[(&str, &str)]) -> Population {
    let fitted = |id: &str| Fitted::new(sorts()[1].clone()).individual(Individual::new(name(id)));
    slots.iter().map(|(slot, id)| (name(slot), Occupant::Module(fitted(id)))).collect()
}

fn planned() -> Population {
    population(&[("1A1", "5A01"), ("1B1", "5A02"), ("2A1", "5A03"), ("2B1", "5A04")])
}

fn before() -> Population {
    population(&[("1A1", "5A01"), ("1B1", "5A02")])
}

fn sound(planned: &Population) -> Report {
    Planner::new(&small(), &RuleBook::standard()).expected_report(planned, None, &[]).unwrap()
}

fn request(reports: impl IntoIterator<Item = Report>) -> AcceptanceRequest {
    AcceptanceRequest::new(planned(), Observed::of(reports).unwrap()).before(before())
}

fn check(request: &AcceptanceRequest) -> AcceptanceCheck {
    Planner::new(&small(), &RuleBook::standard()).acceptance(request).unwrap()
}

fn slot<'c>(check: &'c AcceptanceCheck, label: &str) -> &'c SlotVerdict {
    &check.slots.iter().find(|slot| slot.slot == *label).unwrap().verdict
}

fn names(labels: &[&str]) -> Vec<Name> {
    labels.iter().map(|label| name(label)).collect()
}

#[test]
fn a_slot_that_was_to_change_and_is_not_told_leaves_the_verdict_open() {
    let without = |labels: &[&str]| {
        let mut report = sound(&planned());
        report.places.retain(|place| !labels.contains(&place.id.as_str()));
        report.totals.clear();
        report.is_incomplete = true;
        request([report])
    };
    // of the two that came in, one is not told
    let asked = without(&["1B1", "2B1"]);
    let open = check(&asked);
    assert_eq!(open.verdict, AcceptanceVerdict::Open, "{open}");
    assert_eq!(open.notes, [CheckNote::Untold { slots: names(&["2B1"]) }]);
    assert!(open.conditions.contains(&Condition::Slots { slots: names(&["1B1"]) }), "{open}");
    assert!(!AcceptanceRecord::of(&asked, &open).credits_are_due());
    // one that was to stay is a condition
    let kept = check(&without(&["1B1"]));
    assert!(kept.is_accepted() && kept.notes.is_empty(), "{kept}");
    assert!(kept.conditions.contains(&Condition::Slots { slots: names(&["1B1"]) }));
    // the record holds what was seen, and nothing in the place of what was not
    let record = AcceptanceRecord::of(&without(&["1B1"]), &kept);
    let holds = |label: &str| &record.after.iter().find(|slot| slot.slot == *label).unwrap().holds;
    assert_eq!((holds("1B1"), holds("2B1").module().is_some()), (&SlotHolds::NotTold, true));
    assert!(slotwright::sheet::acceptance_record(&record).to_text(100).contains("not told"));
    assert_eq!(serde_json::to_value(&record).unwrap()["after"][1]["holds"], "not_told");
    // nobody says what was there: each may have come in
    let mut asked = without(&["1B1"]);
    asked.before = None;
    assert_eq!(check(&asked).verdict, AcceptanceVerdict::Open);
    // without a size nothing is told, without the rest enough
    let change = |change: &dyn Fn(SeenModule) -> SeenModule| {
        let mut report = sound(&planned());
        let place = report.places.iter_mut().find(|place| place.id == *"2B1").unwrap();
        place.module = place.module.take().map(change);
        check(&request([report]))
    };
    assert_eq!(change(&|module| module.capacity(None)).verdict, AcceptanceVerdict::Open);
    assert!(change(&|module| module.serial(None).kind(None)).is_accepted());
    // one that was to be emptied
    let mut asked = without(&["2B1"]);
    asked.planned = before();
    asked.before = Some(planned());
    asked.observed = {
        let mut report = sound(&before());
        report.places.retain(|place| place.id != *"2B1");
        report.is_incomplete = true;
        Observed::from(report)
    };
    assert_eq!(check(&asked).notes, [CheckNote::Untold { slots: names(&["2B1"]) }]);
}

#[test]
fn reports_that_contradict_each_other_are_no_agreement() {
    let other = |change: &dyn Fn(&mut slotwright::population::SeenPlace)| {
        let mut report = sound(&planned());
        (report.name, report.start) = (name("other"), Some(name("one")));
        report.places.iter_mut().filter(|place| place.id == *"1B1").for_each(change);
        check(&request([sound(&planned()).start(name("one")), report]))
    };
    let sized = other(&|place| place.module = place.module.take().map(|own| own.capacity(Capacity::from_gib(16))));
    assert_eq!(sized.verdict, AcceptanceVerdict::Open, "{sized}");
    assert_eq!(sized.notes, [CheckNote::ReportsDisagree { slots: names(&["1B1"]) }]);
    assert!(sized.to_string().contains("1B1: open: reports disagree"), "{sized}");
    let failed = other(&|place| place.state = PlaceState::Failed);
    assert_eq!((failed.verdict, slot(&failed, "1B1")), (AcceptanceVerdict::Open, &SlotVerdict::Open), "{failed}");
    // what reports often get wrong is no contradiction
    let ranks = other(&|place| place.module = place.module.take().map(|own| own.package_ranks(4)));
    assert!(ranks.is_accepted(), "{ranks}");
    assert!(other(&|_| ()).is_accepted());
    // typed rows contradict nothing
    let mut typed = sound(&planned());
    typed.medium = Medium::Rows;
    typed.places.iter_mut().for_each(|place| place.state = PlaceState::Failed);
    (typed.name, typed.start) = (name("typed"), Some(name("one")));
    assert!(check(&request([sound(&planned()).start(name("one")), typed])).is_accepted());
}

#[test]
fn a_module_that_was_to_come_out_is_not_taken_for_the_new_one() {
    // one of another number of ranks came in for 5A02, and its number is not known
    let (old, new) = (sorts()[1].clone(), sorts()[1].clone());
    let asked = |planned: Population, before: Population, report: &Population| {
        let mut report = sound(report);
        for place in &mut report.places {
            place.module = place.module.take().map(|own| own.kind(None));
        }
        check(&AcceptanceRequest::new(planned, Observed::from(report)).before(before))
    };
    let planned = before().with(name("2A1"), new.clone());
    let was = || population(&[("1A1", "5A01"), ("1B1", "5A02"), ("2A1", "5A09")]);
    let stale = asked(planned.clone(), was(), &was());
    assert_eq!(
        (stale.verdict, slot(&stale, "2A1")),
        (AcceptanceVerdict::NotAsPlanned, &SlotVerdict::Differs),
        "{stale}"
    );
    assert_eq!(stale.notes, [CheckNote::NotDone { slots: names(&["2A1"]) }]);
    assert!(stale.to_string().contains("the work was not done there"), "{stale}");
    // it sits in another slot, where a new one was to come
    let elsewhere = population(&[("1A1", "5A01"), ("1B1", "5A02"), ("2B1", "5A09")]);
    let moved = asked(planned.clone(), elsewhere, &was());
    assert_eq!(slot(&moved, "2A1"), &SlotVerdict::Differs, "{moved}");
    // a new number is a new module
    let done = asked(planned, was(), &population(&[("1A1", "5A01"), ("1B1", "5A02"), ("2A1", "77")]));
    assert!(done.is_accepted() && done.notes.is_empty(), "{done}");
    // where nothing names what stays, alike modules are interchangeable
    let bare: Population = Population::new().with(name("1A1"), old);
    let kept = asked(bare, population(&[("1A1", "5A01")]), &population(&[("1A1", "5A01")]));
    assert!(kept.is_accepted(), "{kept}");
}

#[test]
fn what_the_head_says_beside_an_accepted_verdict() {
    // two modules of one serial number
    let bare = Population::new().with(name("1A1"), sorts()[1].clone()).with(name("1B1"), sorts()[1].clone());
    let report = sound(&population(&[("1A1", "77"), ("1B1", "77")]));
    let request = |report: &Report| AcceptanceRequest::new(bare.clone(), Observed::from(report.clone()));
    let twice = check(&request(&report));
    let note = CheckNote::SerialTwice { serial: name("77"), slots: names(&["1A1", "1B1"]) };
    assert!(twice.verdict == AcceptanceVerdict::Open && twice.notes == [note.clone()], "{twice}");
    assert_eq!(note.to_string(), "serial number 77 comes twice: 1A1, 1B1");
    assert_eq!(AcceptanceRecord::of(&request(&report), &twice).notes, [note]);
    // another kind than planned
    let mut report = sound(&bare);
    for place in &mut report.places {
        place.module = place.module.take().map(|own| own.kind(ModuleKind::Unbuffered));
    }
    let other = check(&request(&report));
    assert!(other.is_accepted(), "{other}");
    let said = "other kind reported in 2 slots: a report's kind bit is not trusted alone; read one label";
    assert_eq!(other.notes.iter().map(ToString::to_string).collect::<Vec<_>>(), [said]);
}
