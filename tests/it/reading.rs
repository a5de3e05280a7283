//! Answers that a newer version wrote are read as far as they are known; requests are not.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use std::fmt::Debug;

use serde::Serialize;
use serde_json::{Value, json};
use slotwright::acceptance::{AcceptanceRecord, AcceptanceRequest, SwapRequest, WorkFault};
use slotwright::assess::{Planner, StopReason};
use slotwright::fill::Arrangement;
use slotwright::finding::{FactName, FactValue, Finding, Place, Remedy};
use slotwright::goods_in::{Delivery, OrderLine, Piece, SpdFault};
use slotwright::machine::Machine;
use slotwright::module::{Label, MemoryModule};
use slotwright::population::{Medium, Observed, Occupant, PlaceState, Population, SeenModule};
use slotwright::purchase::{Axis, ModuleSource, Offer, Outcome, PlanNote, PlanRequest, Present};
use slotwright::reading::{AnswerDocument, read_answer};
use slotwright::reference;
use slotwright::rule::RuleBook;
use slotwright::unit::{Capacity, DataRate, Price};
use slotwright::work_order::{FoundBad, HaltAt, OrderRequest};

use crate::boards::name;
use crate::reports::report;

/// What no version writes.
const NEW: &str = "of_a_newer_version";

fn module() -> MemoryModule {
    "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>().unwrap().to_module()
}

fn machine() -> Machine {
    Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build().unwrap()
}

fn request() -> PlanRequest {
    let price = |minor| Price::new(minor, "EUR".parse().unwrap());
    let mut present: Population =
        ["A1", "B1", "D1"].into_iter().map(|slot| (name(slot), Occupant::module(module()))).collect();
    present.put(name("A2"), Occupant::Blank);
    PlanRequest::new()
        .usable_at_least(Capacity::from_gib(128))
        .present(Present::new(present).credits([(name("A1"), price(2_000))]))
        .offer(Offer::new(name("lot-1"), module(), price(1_000), 12).supplier(name("Harbour Lots")))
}

/// The places of all objects in a document, as pointers and as paths.
fn objects(value: &Value, pointer: &str, path: &str, found: &mut Vec<(String, String)>) {
    match value {
        Value::Object(fields) => {
            found.push((pointer.to_owned(), path.to_owned()));
            for (field, value) in fields {
                let path = if path.is_empty() { field.clone() } else { format!("{path}.{field}") };
                objects(value, &format!("{pointer}/{field}"), &path, found);
            }
        }
        Value::Array(items) => {
            for (index, item) in items.iter().enumerate() {
                objects(item, &format!("{pointer}/{index}"), &format!("{path}[{index}]"), found);
            }
        }
        _ => {}
    }
}

/// Puts a new field into each object of an answer in turn, and gives how many of them are structs: others are maps, whose
/// entries have names of their own, or name a variant.
fn with_new_fields<T: AnswerDocument + Serialize + PartialEq + Debug>(answer: &T) -> usize {
    let document = serde_json::to_value(answer).unwrap();
    assert_eq!(read_answer::<T, _>(document.clone()).unwrap().skipped, [""; 0]);
    let mut places = Vec::new();
    objects(&document, "", "", &mut places);
    let mut structs = 0;
    for (pointer, path) in places {
        let mut newer = document.clone();
        newer.pointer_mut(&pointer).unwrap()[NEW] = json!({ "more": [1, 2] });
        // by slot, by place, by fact
        let of_population =
            ["population/slots", "before/slots", "after/slots"].iter().any(|end| pointer.ends_with(end));
        let is_map = of_population
            || pointer.starts_with("/placements/") && pointer.ends_with("/slots")
            || pointer.ends_with("/said_by");
        match read_answer::<T, _>(newer.clone()) {
            Ok(read) => {
                assert_eq!(read.answer, *answer, "{path}");
                let at = if path.is_empty() { NEW.to_owned() } else { format!("{path}.{NEW}") };
                assert_eq!(read.skipped, [at]);
                assert!(!is_map, "{path}");
                structs += 1;
            }
            Err(error) => {
                let text = error.to_string();
                let is_variant = text.contains("in an object that names a variant") || text.contains("unknown variant");
                assert!(is_variant || is_map, "{path}: {error}");
            }
        }
        // read as what a person wrote, it is refused
        assert!(serde_json::from_value::<T>(newer).is_err(), "{path}");
    }
    structs
}

#[test]
fn a_new_field_is_left_out_wherever_it_is() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let request = request();
    let outcome = planner.plan(&request).unwrap();
    assert!(with_new_fields(&outcome) > 100);
    let infeasible = planner.plan(&request.clone().usable_at_least(Capacity::from_gib(4_096))).unwrap();
    assert!(matches!(infeasible, Outcome::Infeasible(_)));
    assert!(with_new_fields(&infeasible) > 50);
    assert!(with_new_fields(&planner.plan(&request.clone().nodes(0)).unwrap()) > 0);
    assert!(with_new_fields(&planner.frontier(&request, [Axis::Cost]).unwrap()) > 100);
    assert!(with_new_fields(&planner.savings(&request).unwrap()) > 0);
    assert!(with_new_fields(&planner.accepts(&module())) > 2);
    assert!(with_new_fields(&planner.arrange([(module(), 5)]).unwrap()) > 50);
    assert!(with_new_fields(&planner.arrange([(module(), 25)]).unwrap()) > 5);
    assert!(with_new_fields(&planner.assess(&request.present.population).unwrap()) > 20);
    assert!(with_new_fields(&planner.even_out(&request.present.population).unwrap()) > 10);
    assert!(with_new_fields(&planner.stand_ins(&request, "B1").unwrap()) > 0);
    let seen = |label: &str| SeenModule::of(label.parse::<Label>().unwrap().module()).serial(name("7A12"));
    let piece = |id: &str, label: &str| Piece::new(name(id)).said(Medium::Spd, seen(label));
    let torn = piece("4", "32GB 1Rx4 PC4-2400T-RC2-11").said(Medium::Label, SeenModule::of(&module()));
    let delivery = Delivery::new().line(OrderLine::of_module(name("lot-1"), &module(), 2)).pieces([
        piece("1", "32GB 2Rx4 PC4-2400T-RB2-11"),
        piece("2", "32GB 2Rx4 PC4-2666V-RB2-11"),
        Piece::new(name("3")).said(Medium::Rows, SeenModule::of(&module())),
        torn,
        Piece::new(name("5")).label(&"32GB 2Rx4 PC4-2400T-RB2-11".parse().unwrap()).spd(Err(SpdFault::Damaged)),
    ]);
    assert!(with_new_fields(&delivery.judge().unwrap()) > 10);
    assert!(with_new_fields(&delivery.bins().unwrap()) > 5);
    let mut report = report(machine.platform(), &request.present.population);
    for place in &mut report.places {
        place.module = place.module.take().map(|module| module.width(None).die_density(None));
    }
    let sited = Observed::from(report).on(machine.platform()).unwrap();
    assert!(with_new_fields(&sited) > 10);
    let slot = |slot: &str| Place::Slot { slot: name(slot) };
    let planned = &request.present.population;
    let faults = [
        WorkFault::Unread { unit: slot("A1"), slots: vec![name("A1")], reads: PlaceState::Absent },
        WorkFault::RateCap { rate_mts: DataRate::DDR4_1866 },
    ];
    let after = planner.expected_report(planned, None, &faults).unwrap();
    let asked = AcceptanceRequest::new(planned.clone(), Observed::from(after)).before(planned.clone());
    let check = planner.acceptance(&asked).unwrap();
    assert!(with_new_fields(&check) > 30);
    assert!(with_new_fields(&AcceptanceRecord::of(&asked, &check)) > 20);
    assert!(with_new_fields(&planner.swap_test(&SwapRequest::new(planned.clone(), name("A1"))).unwrap()) > 10);
    assert!(with_new_fields(&planner.assess_open(&sited).unwrap()) > 5);
    assert!(with_new_fields(&planner.questions(&sited, &request).unwrap()) > 0);
    let present = request.present.population.clone();
    let order = OrderRequest::of_plan(present.clone(), outcome.optimal().unwrap()).trial_start(true);
    let order = planner.work_order(&order).unwrap();
    assert!(with_new_fields(&order) > 50);
    let bad = FoundBad::InSlot { slot: name("B1") };
    let back = planner.way_back(&order, &HaltAt::Started, &[bad]).unwrap();
    assert!(back.without.is_some() && with_new_fields(&back) > 20);
    assert!(with_new_fields(&planner.without_or_replaced(&request, &[name("A1")]).unwrap()) > 20);
}

/// Reads a part of an outcome that is put in the place of another.
fn read_with(pointer: &str, by: Value) -> (Outcome, Vec<String>) {
    let (machine, rules) = (machine(), RuleBook::standard());
    let outcome = Planner::new(&machine, &rules).plan(&request()).unwrap();
    let mut document = serde_json::to_value(outcome).unwrap();
    *document.pointer_mut(pointer).unwrap_or_else(|| panic!("{pointer}")) = by;
    let read = read_answer(document).unwrap();
    (read.answer, read.skipped)
}

#[test]
fn a_new_variant_is_read_by_its_name() {
    let notes = json!(["delivery", { "delivery_late": { "days": 3 } }, { "delivery_late": null }]);
    let (outcome, skipped) = read_with("/optimal/notes", notes);
    let other = |text: &str| PlanNote::Other(name(text));
    let plan = outcome.optimal().unwrap();
    assert_eq!(plan.notes, [other("delivery"), other("delivery_late"), other("delivery_late")]);
    assert_eq!(plan.notes[0].to_string(), "delivery");
    let places = ["optimal.notes[0].delivery", "optimal.notes[1].delivery_late", "optimal.notes[2].delivery_late"];
    assert_eq!(skipped, places);

    let (outcome, skipped) = read_with("/optimal/slots/0/source", json!({ "leased": { "from": "anyone" } }));
    assert_eq!(outcome.optimal().unwrap().slots[0].source, ModuleSource::Other(name("leased")));
    assert_eq!(skipped, ["optimal.slots[0].source.leased"]);

    let finding = json!({
        "code": "of-a-newer-version", "severity": "note", "verdict": "violated", "summary": "something new",
        "places": [{ "rack": { "rack": "7" } }, "machine"],
        "facts": [{ "name": "humidity", "value": { "humidity_percent": 40 } }],
        "remedy": "wait",
    });
    let read = read_answer::<Finding, _>(finding).unwrap();
    assert_eq!(read.answer.places, [Place::Other(name("rack")), Place::Machine]);
    let fact = &read.answer.facts[0];
    assert_eq!((fact.name, &fact.value), (FactName::Other, &FactValue::Other(name("humidity_percent"))));
    assert_eq!(read.answer.remedy, Some(Remedy::Other(name("wait"))));
    assert_eq!(read.skipped.len(), 4, "{:?}", read.skipped);
    // what was read is written and read again as it is
    let again = serde_json::to_value(&read.answer).unwrap();
    assert_eq!(serde_json::from_value::<Finding>(again).unwrap(), read.answer);

    let stopped = json!({ "stopped": { "schema": 1, "reason": { "out_of_memory": { "mib": 512 } } } });
    let read = read_answer::<Arrangement, _>(stopped).unwrap();
    assert!(matches!(read.answer, Arrangement::Stopped { reason: StopReason::Other, .. }), "{:?}", read.answer);
}

/// What has no such variant, and what is malformed, is refused in the words of the format.
#[test]
fn what_cannot_be_read_is_refused() {
    let (machine, rules) = (machine(), RuleBook::standard());
    let document = serde_json::to_value(Planner::new(&machine, &rules).accepts(&module())).unwrap();
    let refused = |pointer: &str, by: Value| {
        let mut changed = document.clone();
        *changed.pointer_mut(pointer).unwrap_or_else(|| panic!("{pointer}")) = by;
        read_answer::<slotwright::Acceptance, _>(changed).unwrap_err().to_string()
    };
    assert!(refused("/module/generation", json!("ddr9")).contains("unknown variant `ddr9`"));
    assert!(refused("/module/generation", json!({})).contains("names no variant"));
    assert!(refused("/at_most", json!("many")).contains("invalid type"));
    assert!(refused("/module", json!(7)).contains("a module's facts or the text of its label"));
}

/// A document of an outcome, with a new field, is no request; and a request with a new field is refused with its path.
#[test]
fn requests_are_read_strictly() {
    let mut document = serde_json::to_value(request()).unwrap();
    document["offers"][0]["module"][NEW] = json!(1);
    let text = document.to_string();
    let error = serde_path_to_error::deserialize::<_, PlanRequest>(&mut serde_json::Deserializer::from_str(&text));
    let error = error.unwrap_err();
    assert_eq!(error.path().to_string(), format!("offers[0].module.{NEW}"));
    assert!(error.to_string().contains("unknown field"), "{error}");
}
