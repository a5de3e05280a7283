//! What several sources say together, what is settled, what is refused.

use std::collections::BTreeMap;

use slotwright::module::{DeviceWidth, Generation, Label, MemoryModule, ModuleKind, Stack};
use slotwright::population::{
    About, Answer, Assumed, DeviceSort, Fault, MachineIdentity, Medium, MergeError, ModuleFact, Observed, Occupant,
    PartFacts, PlaceState, Report, SeenModule, SeenPlace, Sited,
};
use slotwright::unit::{Capacity, DataRate, Name};
use slotwright::{Platform, reference};

use crate::boards::{module, name};

fn platform() -> Platform {
    reference::ddr4_2s_4ch_3spc()
}

/// A machine's report of one slot.
fn dump(called: &str, slot: &str, seen: SeenModule) -> Report {
    let place = SeenPlace::new(name("0x1100"), PlaceState::InUse).locator(name(slot)).module(seen);
    Report::new(name(called), Medium::Machine).place(place)
}

fn other(medium: Medium, called: &str, slot: Option<&str>, seen: SeenModule) -> Report {
    let place = SeenPlace::new(name("1"), PlaceState::Unknown).locator(slot.map(name)).module(seen);
    Report::new(name(called), medium).place(place)
}

/// What a machine report mostly tells: neither kind nor width nor density.
fn bare() -> SeenModule {
    let seen = SeenModule::new().generation(Generation::Ddr4).capacity(Capacity::from_gib(16));
    seen.rank_number(2).grade(DataRate::DDR4_2400)
}

fn sited(reports: impl IntoIterator<Item = Report>) -> Sited {
    Observed::of(reports).unwrap().on(&platform()).unwrap()
}

fn whole() -> MemoryModule {
    module("16GB 2Rx4 PC4-2400T-RA1-11")
}

#[test]
fn sources_of_one_start_are_joined_by_slot_and_others_by_serial_number() {
    let label = || other(Medium::Label, "label", Some("A1"), SeenModule::of(&whole()));
    let settled = |reports: [Report; 2]| sited(reports).modules[0].is_settled();
    // of another start, or nobody said: a label at a slot proves nothing of what sits there now
    assert!(!settled([dump("dump", "A1", bare()), label()]));
    let start = |report: Report| report.start(name("today"));
    assert!(settled([start(dump("dump", "A1", bare())), start(label())]));
    assert!(!settled([start(dump("dump", "A1", bare())), label().start(name("yesterday"))]));
    // the serial number says that it is the same module, wherever it sat
    let serial = |report: Report, serial: &str| {
        let mut report = report;
        report.places[0].module.as_mut().unwrap().serial = Some(name(serial));
        report
    };
    let spd = || other(Medium::Spd, "spd", None, SeenModule::of(&whole()));
    assert!(settled([serial(dump("dump", "A1", bare()), "0x0033436bce"), serial(spd(), "33436BCE")]));
    assert!(settled([serial(dump("dump", "A1", bare()), "33436BCE"), serial(spd(), "80CE02253633436BCE")]));
    for nothing in ["00000000", "0x0"] {
        assert!(!settled([serial(dump("dump", "A1", bare()), nothing), serial(spd(), nothing)]));
    }
    // makers that are known to differ
    let mut made = serial(spd(), "33436BCE");
    made.places[0].module.as_mut().unwrap().maker = Some(name("Made Up Memory"));
    let mut by_other = serial(dump("dump", "A1", bare()), "33436BCE");
    by_other.places[0].module.as_mut().unwrap().maker = Some(name("Someone Else"));
    let apart = sited([by_other, made]);
    assert!(!apart.modules[0].is_settled());
    assert_eq!(apart.unplaced[0].report, *"spd"); // shown, and not counted
    assert_eq!(apart.slots.len(), 1);
}

#[test]
fn serial_numbers_that_come_twice_in_a_source_match_nothing() {
    let mut double = dump("dump", "A1", bare().serial(name("33436BCE")));
    let mut second = double.places[0].clone();
    (second.id, second.locator) = (name("0x1101"), Some(name("B1")));
    double.places.push(second);
    let found = sited([double, other(Medium::Spd, "spd", None, SeenModule::of(&whole()).serial(name("33436BCE")))]);
    assert!(found.modules.iter().all(|module| !module.is_settled()));
    // and name no module: a plan must tell individuals apart
    let registered = Answer::Module { slot: name("A1"), facts: SeenModule::new().kind(ModuleKind::Registered) };
    let other = Answer::Module { slot: name("B1"), facts: SeenModule::new().kind(ModuleKind::Registered) };
    let population = found.settle([registered, other]).unwrap().population().unwrap();
    assert!(population.modules().all(|(_, fitted)| fitted.individual.is_none()));
}

#[test]
fn the_newest_report_tells_where_modules_sit() {
    let dated =
        |called: &str, slot: &str, date: &str| dump(called, slot, SeenModule::of(&whole())).date(date.parse().ok());
    let old_and_new = [dated("old", "A1", "2026-01-01"), dated("new", "B1", "2026-02-01")];
    let found = sited(old_and_new);
    assert_eq!(found.slots.iter().map(|slot| slot.slot.as_str()).collect::<Vec<_>>(), ["B1"]);
    // of one day: open
    let mut gone = dump("other", "A1", SeenModule::new());
    gone.places[0] = SeenPlace::new(name("1"), PlaceState::Absent).locator(name("A1"));
    let found = sited([dump("dump", "A1", SeenModule::of(&whole())), gone.clone()]);
    assert_eq!(found.slots[0].state, PlaceState::Unknown);
    let error = found.population().unwrap_err().to_string();
    assert!(error.contains("whether a module is there and works (in use or listed as empty)"), "{error}");
    assert!(found.assumed.iter().any(|assumed| matches!(assumed, Assumed::UnlikeStarts { .. })));
    let there = found.settle([Answer::State { slot: name("A1"), state: PlaceState::InUse }]).unwrap();
    assert_eq!(there.population().unwrap().len(), 1);
    let gone = found.settle([Answer::State { slot: name("A1"), state: PlaceState::Absent }]).unwrap();
    assert!(gone.population().unwrap().is_empty());
    // what is open of a module that is not there is open no more
    let unknown = sited([dump("dump", "A1", bare())]);
    let gone = unknown.settle([Answer::State { slot: name("A1"), state: PlaceState::Absent }]).unwrap();
    assert!(gone.population().unwrap().is_empty() && gone.modules.is_empty());
}

#[test]
fn firm_sources_that_contradict_each_other_hold_a_module_back() {
    let start = |report: Report| report.start(name("today"));
    let label = SeenModule::of(&module("16GB 2Rx8 PC4-2400T-RE1-11"));
    let reports = [
        start(dump("dump", "A1", bare())),
        start(other(Medium::Spd, "spd", Some("A1"), SeenModule::of(&whole()))),
        start(other(Medium::Label, "label", Some("A1"), label)),
    ];
    let found = sited(reports);
    assert_eq!(found.held_back().map(Name::as_str).collect::<Vec<_>>(), ["A1"]);
    assert!(found.present().unwrap().pinned.contains(&name("A1")));
    assert!(found.to_string().contains("A1, device width: spd says x4, label says x8; taken: x4"), "{found}");
    // a machine report against them is a note
    let wrong = bare().kind(ModuleKind::Unbuffered);
    let found = sited([
        start(dump("dump", "A1", wrong)),
        start(other(Medium::Spd, "spd", Some("A1"), SeenModule::of(&whole()))),
    ]);
    assert_eq!(found.held_back().count(), 0);
    assert!(found.disagreements.iter().all(|one| one.is_note && one.taken.is_some()));
    assert_eq!(found.module_in("A1").unwrap().common(), Some(whole()));
}

#[test]
fn faults_and_other_devices_come_through() {
    let mut report = dump("dump", "A1", SeenModule::of(&whole()));
    for (id, slot, state) in [("2", "B1", PlaceState::Failed), ("3", "C1", PlaceState::NotInUse)] {
        let place = SeenPlace::new(name(id), state).locator(name(slot)).module(SeenModule::of(&whole()));
        report = report.place(place);
    }
    let persistent = SeenModule::new().device(DeviceSort::Persistent).capacity(Capacity::from_mib(129_408));
    report = report.place(SeenPlace::new(name("4"), PlaceState::InUse).locator(name("D1")).module(persistent));
    let population = sited([report]).population().unwrap();
    let faults: Vec<Option<Fault>> = population.modules().map(|(_, fitted)| fitted.fault).collect();
    assert_eq!(faults, [None, Some(Fault::Failed), Some(Fault::Suspect)]);
    let Some(Occupant::OtherDevice(device)) = population.get("D1") else { panic!() };
    assert_eq!((device.sort, device.capacity_mib.mib()), (DeviceSort::Persistent, 129_408));
}

#[test]
fn modules_of_one_part_are_one_unknown() {
    let part = |part: &str, rank: u8| bare().part_number(name(part)).rank_number(rank);
    let mut report = dump("dump", "A1", part("GW-16-2R4", 2));
    for (id, slot, seen) in [
        ("2", "B1", part("gw 16 2r4", 2)),
        ("3", "C1", part("GW-16-1R8", 2)),
        ("4", "D1", bare()),
        ("5", "E1", bare()),
        ("6", "F1", part("GW-16-2R4", 1)),
    ] {
        report = report.place(SeenPlace::new(name(id), PlaceState::InUse).locator(name(slot)).module(seen));
    }
    let found = sited([report]);
    let slots = |found: &Sited| {
        let of = |module: &slotwright::population::SitedModule| {
            module.slots.iter().map(Name::as_str).collect::<Vec<_>>().join(" ")
        };
        found.modules.iter().map(of).collect::<Vec<_>>()
    };
    // a reported fact that differs makes another unknown, and so does the want of a part number
    assert_eq!(slots(&found), ["A1 B1", "C1", "D1", "E1", "F1"]);
    let alike = found.settle([Answer::Alike { slots: vec![name("D1"), name("E1"), name("A1")] }]).unwrap();
    assert_eq!(slots(&alike), ["C1", "D1 E1 A1 B1", "F1"]);
    assert!(alike.to_string().contains("the modules in slots D1, E1, A1 are taken to be alike: so said"));
    let error = found.settle([Answer::Alike { slots: vec![name("A1"), name("F1")] }]).unwrap_err().to_string();
    assert_eq!(error, "the modules in A1 and F1 are not alike: rank number");
    // an answer is on all of them
    let facts = SeenModule::new().kind(ModuleKind::Registered).width(DeviceWidth::X4).stack(Stack::Single);
    let settled = found.settle([Answer::Module { slot: name("B1"), facts }]).unwrap();
    assert_eq!(settled.module_in("A1").unwrap().common().unwrap().organization().unwrap().to_string(), "2Rx4");
    let impossible = SeenModule::new().package_ranks(7);
    let error = found.settle([Answer::Module { slot: name("A1"), facts: impossible }]).unwrap_err().to_string();
    assert_eq!(error, "no module of 16 GB can be as answered for slot A1");
    let error = found.settle([Answer::State { slot: name("H3"), state: PlaceState::InUse }]).unwrap_err().to_string();
    assert_eq!(error, "no report names a module in slot H3; there are modules in A1, B1, C1, D1, E1, F1");
}

#[test]
fn parts_that_a_caller_knows_are_settled() {
    let parts: BTreeMap<Name, MemoryModule> = [(name("GW-16-2R4"), whole())].into();
    assert_eq!(parts.facts(&name("gw162r4"), None), Some(SeenModule::of(&whole())));
    let found = sited([dump("dump", "A1", bare().part_number(name("GW-16-2R4")))]);
    let known = found.with_parts(&parts);
    let common = known.modules[0].common().unwrap();
    assert_eq!(common.to_builder().part_number(None).build().unwrap(), whole());
    // what the report says against it is noted
    let wrong = sited([dump("dump", "A1", bare().part_number(name("GW-16-2R4")).kind(ModuleKind::LoadReduced))]);
    let known = wrong.with_parts(&parts);
    assert_eq!(known.disagreements[0].about, About::Fact(ModuleFact::Kind));
    assert_eq!(known.modules[0].common().unwrap().kind(), ModuleKind::Registered);
}

#[test]
fn sizes_that_are_not_told_are_asked_for() {
    let least = SeenModule::new().generation(Generation::Ddr3).capacity_at_least(Capacity::from_gib(32));
    let found = Observed::from(dump("dump", "A1", least)).on(&reference::ddr3_2s_4ch_3spc());
    let found = found.unwrap_or_else(|error| panic!("{error}"));
    let error = found.population().unwrap_err().to_string();
    assert_eq!(error, "what is in A1 is open: size");
    assert!(found.to_string().contains("at least 32 GB (size unknown)"), "{found}");
    assert!(!found.to_string().contains("32767"));
    let known: Label = "32GB 4Rx4 PC3L-10600L-09-11-D2".parse().unwrap();
    let settled = found.settle([Answer::Module { slot: name("A1"), facts: SeenModule::of(known.module()) }]).unwrap();
    assert_eq!(settled.population().unwrap().modules().count(), 1);
}

#[test]
fn reports_that_do_not_go_together_are_refused() {
    let of = |called: &str, serial: &str| {
        let identity = MachineIdentity::new().serial(name(serial));
        Report::new(name(called), Medium::Machine).identity(identity)
    };
    let error = Observed::of([of("a", "M1"), of("b", "M2")]).unwrap_err();
    assert!(
        error.to_string().starts_with("a is of the machine with the serial number M1, b of the one with M2"),
        "{error}"
    );
    assert!(Observed::of([of("a", "M1"), of("b", "m1")]).is_ok());
    let error = Observed::of([of("a", "M1"), of("a", "M1").mode(name("mirrored"))]).unwrap_err();
    assert_eq!(error, MergeError::NameTwice { name: name("a") });
    assert_eq!(Observed::of([of("a", "M1"), of("a", "M1")]).unwrap().reports().len(), 1);
    let mut twice = dump("a", "A1", bare());
    twice.places.push(twice.places[0].clone());
    assert!(matches!(Observed::of([twice]), Err(MergeError::PlaceTwice { .. })));
}

#[test]
fn two_states_of_one_machine_are_compared_by_what_both_tell() {
    let of = |places: &[(&str, PlaceState, SeenModule)]| {
        let mut report = Report::new(name("dump"), Medium::Machine);
        for (at, (slot, state, seen)) in places.iter().enumerate() {
            let place =
                SeenPlace::new(name(&format!("{at}")), *state).locator(name(slot)).running_rate(DataRate::DDR4_2400);
            report = report.place(place.module((*seen != SeenModule::new()).then(|| seen.clone())));
        }
        sited([report])
    };
    let serial = |number: &str| bare().serial(name(number));
    let before = of(&[
        ("A1", PlaceState::InUse, serial("11")),
        ("B1", PlaceState::InUse, serial("22")),
        ("C1", PlaceState::InUse, serial("33")),
        ("D1", PlaceState::InUse, bare()),
        ("E1", PlaceState::Absent, SeenModule::new()),
    ]);
    let after = of(&[
        ("A1", PlaceState::InUse, serial("0x0022")),
        ("B1", PlaceState::InUse, serial("11")),
        ("C1", PlaceState::Absent, SeenModule::new()),
        ("D1", PlaceState::InUse, bare().rank_number(1).kind(ModuleKind::Registered)),
        ("E1", PlaceState::InUse, serial("44")),
        ("F1", PlaceState::Failed, serial("55")),
    ]);
    assert_eq!(before.changes_to(&before).to_string(), "the same, as far as both tell");
    let text = before.changes_to(&after).to_string();
    assert_eq!(
        text,
        "module 0x0022 moved from B1 to A1\nmodule 11 moved from A1 to B1\n\
         C1: in use before, listed as empty now\nD1: rank number 2 before, 1 now\n\
         E1: listed as empty before, in use now\nF1: listed as empty before, failed now"
    );
    let document = serde_json::to_string(&before.changes_to(&after)).unwrap();
    let again: slotwright::population::SeenChanges = serde_json::from_str(&document).unwrap();
    assert_eq!(again, before.changes_to(&after));
}

#[test]
fn reports_are_asked_about_as_documents_too() {
    let observed = Observed::from(dump("dump", "A1", bare()));
    let ask = |ask: serde_json::Value| {
        let question = serde_json::json!({
            "schema": 1,
            "platform": "ddr4-2s-4ch-3spc",
            "processors": { "1": "later" },
            "request": { "schema": 1, "usable_at_least_mib": 16384 },
            "ask": ask,
        });
        let question: slotwright::Question = serde_json::from_value(question).unwrap();
        question
            .answer()
            .map_or_else(|error| serde_json::to_value(error).unwrap(), |answer| serde_json::to_value(answer).unwrap())
    };
    let sited = ask(serde_json::json!({ "lay": observed }));
    assert_eq!(sited["slots"][0]["slot"], "A1");
    let questions = ask(serde_json::json!({ "questions": sited }));
    assert_eq!(questions["questions"][0]["about"], serde_json::json!({ "fact": "kind" }));
    let answer = questions["questions"][0]["answers"][0]["answer"].clone();
    let settled = ask(serde_json::json!({ "settle": { "sited": sited, "answers": [answer] } }));
    let open = ask(serde_json::json!({ "assess_open": settled }));
    assert_eq!(open["is_exact"], true, "{open}");
    // what is wrong is a document too
    let nowhere = Observed::from(dump("dump", "Z9", bare()));
    let error = ask(serde_json::json!({ "lay": nowhere }));
    assert_eq!(
        (&error["in"], &error["problems"][0]["data"]["does_not_fit"]["platform"]),
        (&"ask".into(), &"ddr4-2s-4ch-3spc".into())
    );
    let wrong = serde_json::json!({ "state": { "slot": "B1", "state": "in-use" } });
    let error = ask(serde_json::json!({ "settle": { "sited": settled, "answers": [wrong] } }));
    assert_eq!(error["problems"][0]["text"], "no report names a module in slot B1; there are modules in A1");
}

#[test]
fn what_no_report_tells_is_not_empty() {
    // cut in half: the slots that it does not name may be filled
    let half = dump("half", "A1", SeenModule::of(&whole())).is_incomplete(true);
    let found = sited([half.clone()]);
    assert_eq!(found.untold.len(), 23);
    let error = found.population().unwrap_err().to_string();
    assert!(
        error.starts_with("no report tells what is in A2, A3, ") && error.ends_with("or say that they are empty"),
        "{error}"
    );
    let settled = found.settle([Answer::RestIsEmpty]).unwrap();
    assert_eq!(settled.population().unwrap().len(), 1);
    // nothing that was read says nothing of any slot
    let spd = sited([other(Medium::Spd, "spd", None, SeenModule::of(&whole()))]);
    assert_eq!(spd.untold.len(), 24);
    assert!(sited([Report::new(name("nothing"), Medium::Machine)]).population().is_err());
    // of a report that broke off at night nobody has taken modules out
    let yesterday = sited([dump("dump", "A1", SeenModule::of(&whole()))]);
    let mut elsewhere = half;
    elsewhere.places[0].locator = Some(name("B1"));
    let text = yesterday.changes_to(&sited([elsewhere])).to_string();
    assert_eq!(text, "B1: listed as empty before, in use now");
}

#[test]
fn an_spd_of_another_module_is_not_taken_for_the_one_in_the_slot() {
    let start = |report: Report| report.start(name("today"));
    let here = start(dump("dump", "A1", bare().serial(name("4B300100"))));
    let image = start(other(Medium::Spd, "spd", Some("A1"), SeenModule::of(&whole()).serial(name("99999999"))));
    let found = sited([here, image]);
    assert_eq!(found.slots[0].serial, Some(name("4B300100")));
    assert_eq!(found.unplaced[0].report, *"spd");
    assert!(!found.modules[0].is_settled());
}

#[test]
fn what_rows_say_against_the_machine_is_kept() {
    let start = |report: Report| report.start(name("today"));
    let mut report = dump("dump", "A1", SeenModule::of(&whole()));
    report = report.place(SeenPlace::new(name("2"), PlaceState::Absent).locator(name("B1")));
    let rows = Report::new(name("rows"), Medium::Rows)
        .place(SeenPlace::new(name("row 2"), PlaceState::Failed).locator(name("A1")))
        .place(SeenPlace::new(name("row 3"), PlaceState::Unknown).locator(name("B1")).module(SeenModule::of(&whole())));
    let found = sited([start(report), start(rows)]);
    let told: Vec<String> = found.disagreements.iter().map(ToString::to_string).collect();
    assert_eq!(
        told,
        [
            "A1, what is there: dump says in use, rows says failed; taken: in use",
            "B1, what is there: dump says listed as empty, rows says a module; taken: listed as empty"
        ]
    );
    // a rank number that is neither of what the label counts
    let label = start(other(Medium::Label, "label", Some("A1"), SeenModule::of(&module("16GB 1Rx4 PC4-2666V-RC2-12"))));
    let found = sited([start(dump("dump", "A1", bare())), label]);
    assert!(found.to_string().contains("A1, rank number: label says 1, dump says 2; taken: 1"), "{found}");
}

#[test]
fn a_caller_says_which_slot_a_place_is() {
    let report = dump("dump", "no such text", SeenModule::of(&whole()));
    let observed = Observed::from(report);
    assert!(observed.on(&platform()).unwrap_err().to_string().contains("(no such text names no slot)"));
    let placement = slotwright::population::Placement::new(name("dump"), [(name("0x1100"), name("C2"))]);
    let found = observed.on_as(&platform(), &[placement]).unwrap();
    assert_eq!(found.slots[0].slot, *"C2");
}
