//! Documents held against their schemas by a validator that knows nothing of this crate, and the schemas held
//! against what is read.

use std::path::Path;
use std::sync::LazyLock;

use boon::{Compiler, SchemaIndex, Schemas};
use proptest::prelude::*;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Value, json};
use slotwright::acceptance::{AcceptanceRecord, AcceptanceRequest, SwapRequest, WorkDone};
use slotwright::assess::Planner;
use slotwright::ceiling::{Acceptance, Ceiling};
use slotwright::fill::{EvenOut, FillOrder};
use slotwright::finding::Severity;
use slotwright::goods_in::{Delivery, OrderLine, Piece, SpdFault};
use slotwright::intake::titles::{self, Words};
use slotwright::machine::Machine;
use slotwright::module::{Individual, MemoryModule};
use slotwright::platform::PlatformDescription;
use slotwright::population::{
    ErrorCounter, Fitted, MachineIdentity, MakerId, Medium, ModuleFact, Observed, Occupant, PlaceState, Population,
    Remark, Report, SeenModule, SeenProcessor, SeenTotal, TotalOf,
};
use slotwright::processor::ProcessorDescription;
use slotwright::purchase::Present;
use slotwright::rule::{RuleBook, RuleSettings, SeveritySetting};
use slotwright::schema::Document;
use slotwright::unit::{Capacity, DataRate, Name};
use slotwright::work_order::{FoundBad, OrderRequest};
use slotwright::{reference, schema};

use crate::arrange_oracle::task;
use crate::boards::{self, Source, bytes, config, name};
use crate::examples::plan_json;
use crate::purchase_oracle::request;
use crate::reports::report;

/// The schemas of one sort of document, as the validator has them.
struct Held {
    name: &'static str,
    schemas: Schemas,
    read: SchemaIndex,
    written: SchemaIndex,
}

impl Held {
    fn of(document: Document) -> Self {
        let (mut schemas, mut compiler) = (Schemas::new(), Compiler::new());
        let mut compile = |which: &str, schema: Value| {
            let place = format!("https://slotwright.invalid/{}/{which}", document.name);
            compiler.add_resource(&place, schema).unwrap();
            compiler.compile(&place, &mut schemas).unwrap_or_else(|error| panic!("{place}: {error:#}"))
        };
        let read = compile("read", document.read.to_value());
        let written = compile("written", document.written.to_value());
        Self { name: document.name, schemas, read, written }
    }

    fn reads(&self, value: &Value) -> bool {
        self.schemas.validate(value, self.read).is_ok()
    }

    /// What is wrong with something that is written, by either schema.
    fn faults(&self, value: &Value) -> Option<String> {
        let fault = |index| self.schemas.validate(value, index).err().map(|error| format!("{}: {error}", self.name));
        fault(self.written).or_else(|| fault(self.read))
    }
}

/// The documents, and the answers that are no documents of their own.
fn all() -> impl Iterator<Item = Document> {
    let answers = [
        Document::of::<Acceptance>("acceptance"),
        Document::of::<Ceiling>("ceiling"),
        Document::of::<EvenOut>("even-out"),
        Document::of::<FillOrder>("fill-order"),
    ];
    schema::documents().into_iter().chain(answers)
}

/// Their schemas, compiled once.
static ALL: LazyLock<Vec<Held>> = LazyLock::new(|| all().map(Held::of).collect());

fn held(name: &str) -> &'static Held {
    ALL.iter().find(|held| held.name == name).unwrap()
}

/// A document of some sort, and whether another text of that sort is read.
struct Sample {
    name: &'static str,
    value: Value,
    is_read: fn(&Value) -> bool,
}

impl Sample {
    fn of<T: Serialize + DeserializeOwned>(name: &'static str, value: &T) -> Self {
        let is_read = |value: &Value| serde_json::from_str::<T>(&value.to_string()).is_ok();
        Self { name, value: serde_json::to_value(value).unwrap(), is_read }
    }
}

fn settings(source: &mut Source<'_>) -> RuleSettings {
    let mut settings = RuleSettings::default().unknown_is_error(source.once_in(2));
    for code in ["sockets-alike", "rank-mix"] {
        let severity = [SeveritySetting::Off, SeveritySetting::Note, SeveritySetting::Warning, SeveritySetting::Error];
        settings.severities.insert(name(code), source.pick(&severity));
    }
    settings
}

/// A population with everything that can sit in a slot, of no machine.
fn motley(source: &mut Source<'_>, mut population: Population, module: &MemoryModule) -> Population {
    let rate = DataRate::from_fraction(5001, 2).unwrap(); // written as a text
    let module = if source.once_in(2) { module.to_builder().grade(rate).build().unwrap() } else { module.clone() };
    let condition = Some(name("tested")).filter(|_| source.once_in(2));
    let individual = Individual::new(name("serial 1")).condition(condition);
    population.put(name("X1"), Occupant::Module(Fitted::new(module).individual(individual)));
    population.put(name("X2"), boards::other_device());
    population.put(name("X3"), Occupant::Blank);
    population
}

/// What a machine reports where some facts are not told, some are inferred, and some of the rest of a report is there.
fn report_in_part(source: &mut Source<'_>, machine: &Machine, population: &Population) -> Report {
    let mut report = report(machine.platform(), population);
    for place in &mut report.places {
        if let Some(module) = &mut place.module {
            if source.once_in(2) {
                (module.width, module.die_density_mbit, module.stack) = (None, None, None);
            }
            if source.once_in(3) {
                module.rank_number = module.package_ranks.take();
            }
            if source.once_in(4) {
                module.inferred.insert(ModuleFact::Generation);
                module.serial = Some(name("7A0012"));
                module.maker_id = MakerId::from_spd(0x80, 0x04);
            }
        }
        if source.once_in(3) && place.state.is_filled() {
            place.state = source.pick(&[PlaceState::NotInUse, PlaceState::Failed, PlaceState::Unknown]);
            place.running_rate_mts = Some(DataRate::DDR4_2133);
        }
    }
    let remark = Remark::unbelievable("byte 0x10", "size", "1", "too small");
    report
        .remarks([remark, Remark::unread("line 3", "a part", "a reason")])
        .processor(SeenProcessor::new(name("CPU1")).is_present(true).text(name("made up")))
        .totals([SeenTotal::new(TotalOf::Firmware, Capacity::from_gib(8))])
        .counters([ErrorCounter::new(name("A1")).corrected(3)])
        .date("2026-11-27".parse().ok())
        .identity(MachineIdentity::new().product(name("Gale 24")))
}

/// Pieces with and without gaps against a line, some of them wrong, doubled or held back.
fn delivery(source: &mut Source<'_>, sorts: &[MemoryModule]) -> Delivery {
    let mut delivery = Delivery::new().line(OrderLine::of_module(name("lot-1"), &sorts[0], 1 + source.below(3)));
    for id in ["1", "2", "3", "4", "5"] {
        let mut seen = SeenModule::of(&source.pick(sorts));
        if source.once_in(3) {
            (seen.kind, seen.grade_mts) = (None, None);
        }
        if source.once_in(2) {
            seen.serial = Some(name("7A0012"));
        }
        let piece = Piece::new(name(id)).said(Medium::Spd, seen);
        let other = SeenModule::of(&source.pick(sorts));
        let piece = if source.once_in(4) { piece.spd(Err(SpdFault::Damaged)) } else { piece };
        delivery = delivery.piece(if source.once_in(3) { piece.said(Medium::Label, other) } else { piece });
    }
    delivery
}

/// One document of each sort, all of one machine.
fn samples(source: &mut Source<'_>) -> Vec<Sample> {
    let machine = boards::machine(source, 5);
    let task = task(source, &machine, true);
    let sorts = boards::sorts(source, machine.platform().generation(), 3);
    let population = boards::fitted(source, &boards::live(&machine), &sorts, 2);
    let request = request(source, &machine, 3);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let processor = machine.processors().next().unwrap().1.clone();
    let sit = |report| {
        let observed = Observed::from(report);
        let sited = observed.on(machine.platform()).unwrap();
        (observed, planner.narrow(&sited))
    };
    let empty = Population::new();
    let slots: Vec<Name> = population.modules().map(|(slot, _)| slot.clone()).collect();
    let devices = population.iter().filter(|(_, held)| matches!(held, Occupant::OtherDevice(_)));
    let before: Population = devices.map(|(slot, held)| (slot.clone(), held.clone())).collect();
    let order_request = OrderRequest::new(before, population.clone()).trial_start(true).blanks(true);
    let order = planner.work_order(&order_request).unwrap();
    let way_back = match order.halts().last() {
        Some(halt) => planner.way_back(&order, &halt.at, &[FoundBad::InSlot { slot: slots[0].clone() }]).unwrap(),
        None => {
            // nothing is fitted: of an order that there always is
            let one = empty.clone().with(machine.platform().slots()[0].label().clone(), sorts[0].clone());
            let order = planner.work_order(&OrderRequest::new(one, empty)).unwrap();
            order.ways_back[0].clone()
        }
    };
    let (_, sited_whole) = sit(report(machine.platform(), &population));
    let (observed, sited) = sit(report_in_part(source, &machine, &population));
    let asked = AcceptanceRequest::new(population.clone(), observed.clone())
        .before(source.once_in(2).then(Population::new))
        .serial(name("GW-0417"))
        .work(WorkDone::On("2026-11-27".parse().unwrap()))
        .nodes(500);
    let checked = planner.acceptance(&asked).unwrap();
    let mut accepted = vec![
        Sample::of("acceptance-request", &asked),
        Sample::of("acceptance-check", &checked),
        Sample::of("acceptance-record", &AcceptanceRecord::of(&asked, &checked).by(name("M. Weber"))),
    ];
    if let Some((slot, _)) = population.modules().next() {
        let swap = SwapRequest::new(population.clone(), slot.clone());
        accepted.push(Sample::of("swap-request", &swap));
        accepted.extend(planner.swap_test(&swap).ok().map(|test| Sample::of("swap-test", &test)));
    }
    let mut samples = vec![
        Sample::of("platform", &PlatformDescription::from(machine.platform().clone())),
        Sample::of("processor", &ProcessorDescription::from(processor)),
        Sample::of("machine", &machine),
        Sample::of("population", &motley(source, population.clone(), &sorts[0])),
        Sample::of(
            "seen-module",
            observed.reports()[0].places.iter().find_map(|place| place.module.as_ref()).unwrap_or(&SeenModule::new()),
        ),
        Sample::of("observed", &observed),
        Sample::of(
            "lot",
            &titles::read("Lot of 8: 64GB 2Rx4 PC4-2400T-R ECC REG x4 unbuffered 30 EUR foo", &Words::standard()),
        ),
        Sample::of("sited", &sited),
        Sample::of("seen-changes", &sited.changes_to(&sited_whole)),
        Sample::of(
            "questions",
            &planner.questions(&sited, &request.clone().present(Present::default()).nodes(2_000)).unwrap(),
        ),
        Sample::of("open-assessment", &planner.assess_open(&sited_whole).unwrap()),
        Sample::of("order-request", &order_request),
        Sample::of("work-order", &order),
        Sample::of("way-back", &way_back),
        Sample::of("without", &planner.without(&population, slots.get(..1).unwrap_or_default()).unwrap()),
        Sample::of("rule-settings", &settings(source)),
        Sample::of("assessment", &planner.assess(&population).unwrap()),
        Sample::of("arrangement", &planner.arrange_with(&task.request()).unwrap()),
        Sample::of("request", &request),
        Sample::of("outcome", &planner.plan(&request).unwrap()),
        Sample::of("plans", &planner.plans(&request, 2).unwrap()),
        Sample::of("acceptance", &planner.accepts(&sorts[0])),
        Sample::of("ceiling", &planner.ceiling_of(&sorts)),
        Sample::of("even-out", &planner.even_out(&population).unwrap()),
        Sample::of("fill-order", &planner.fill_order(boards::live(&machine).len()).unwrap()),
    ];
    let delivery = delivery(source, &sorts);
    samples.push(Sample::of("delivery", &delivery));
    samples.push(Sample::of("goods-in", &delivery.judge().unwrap()));
    samples.push(Sample::of("bins", &delivery.bins().unwrap()));
    samples.extend(accepted);
    samples
}

/// Every part of a document, from the whole to the leaves, as a pointer.
fn parts(value: &Value, at: &str, found: &mut Vec<String>) {
    found.push(at.to_owned());
    match value {
        Value::Array(items) => {
            items.iter().enumerate().for_each(|(index, item)| parts(item, &format!("{at}/{index}"), found));
        }
        Value::Object(fields) => {
            for (key, value) in fields {
                parts(value, &format!("{at}/{}", key.replace('~', "~0").replace('/', "~1")), found);
            }
        }
        _ => {}
    }
}

/// A part of a document that is of some form.
fn part(source: &mut Source<'_>, document: &Value, of_form: fn(&Value) -> bool) -> Option<String> {
    let mut found = Vec::new();
    parts(document, "", &mut found);
    found.retain(|at| of_form(document.pointer(at).unwrap()));
    if found.is_empty() {
        return None;
    }
    let at = source.below(256) * 256 + source.below(256);
    Some(found[at % found.len()].clone())
}

/// The document with something in the place of a part.
fn replaced(document: &Value, at: &str, by: Value) -> Value {
    let mut changed = document.clone();
    *changed.pointer_mut(at).unwrap() = by;
    changed
}

/// Leaves a field out, or puts something else in the place of a part.
fn change(source: &mut Source<'_>, document: &mut Value) {
    // an object's fields are read without their names as well, in their order; no schema tells that
    let Some(at) = part(source, document, |part| !part.is_object()) else { return };
    if source.once_in(3) {
        let (folder, key) = at.rsplit_once('/').unwrap();
        if let Value::Object(fields) = document.pointer_mut(folder).unwrap() {
            fields.remove(key);
        }
        return;
    }
    let others = json!([
        null,
        false,
        0,
        1,
        -1,
        300,
        2.5,
        "",
        "A",
        " A",
        "8000/3",
        [],
        {},
        "32GB 2Rx4 PC4-2400T-RB2-11",
        [0, 0],
        [3, 7]
    ]);
    *document = replaced(document, &at, source.pick(others.as_array().unwrap()));
}

proptest! {
    #![proptest_config(config(80))]

    #[test]
    fn law_what_is_written_is_valid(bytes in bytes(220)) {
        for sample in samples(&mut Source::new(&bytes)) {
            let fault = held(sample.name).faults(&sample.value);
            prop_assert!(fault.is_none(), "{}\n{}", fault.unwrap(), sample.value);
        }
    }

    #[test]
    fn law_neither_schema_nor_reading_takes_what_is_not_known(bytes in bytes(260)) {
        let mut source = Source::new(&bytes);
        for sample in samples(&mut source) {
            let held = held(sample.name);
            let at = part(&mut source, &sample.value, Value::is_object).unwrap();
            let mut surplus = sample.value.clone();
            surplus.pointer_mut(&at).unwrap()["surplus"] = Value::Null;
            prop_assert!(!held.reads(&surplus) && !(sample.is_read)(&surplus), "{} {at}", sample.name);
            if let Some(at) = part(&mut source, &sample.value, Value::is_number) {
                let wrong = replaced(&sample.value, &at, json!(true));
                prop_assert!(!held.reads(&wrong) && !(sample.is_read)(&wrong), "{} {at}", sample.name);
            }
        }
    }

    /// Fields left out, other values and other types: whatever is read for all that is valid.
    #[test]
    fn law_what_is_read_is_valid(bytes in bytes(260)) {
        let mut source = Source::new(&bytes);
        for sample in samples(&mut source) {
            for _ in 0..4 {
                let mut changed = sample.value.clone();
                change(&mut source, &mut changed);
                prop_assert!(
                    held(sample.name).reads(&changed) || !(sample.is_read)(&changed),
                    "{} {changed}",
                    sample.name
                );
            }
        }
    }

    /// The pattern of a name allows just what is a name, but for its length in bytes.
    #[test]
    fn law_a_name_is_what_its_schema_says(text in "[ A-Zé0\u{1}\u{85}\u{a0}\u{2003}\u{3000}\u{feff}\u{200b}]{0,4}") {
        let population = json!({ "schema": 1, "slots": { "A1": { "module": {
            "facts": { "generation": "ddr4", "kind": "registered", "capacity_mib": 1024, "maker": text.clone() },
        } } } });
        let is_valid = held("population").reads(&population);
        prop_assert_eq!(is_valid, Name::new(&text).is_ok(), "{:?}", text);
        let slots = json!({ "schema": 1, "slots": { text.clone(): "blank" } });
        prop_assert_eq!(held("population").reads(&slots), is_valid, "{:?}", text);
    }
}

fn document(name: &str) -> Document {
    schema::documents().into_iter().find(|document| document.name == name).unwrap()
}

#[test]
fn ready_made_platforms_are_valid() {
    let held = held("platform");
    for (name, platform) in reference::all() {
        let fault = held.faults(&serde_json::to_value(platform()).unwrap());
        assert!(fault.is_none(), "{name}: {}", fault.unwrap());
    }
}

fn example(file: &str) -> Value {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data").join(file);
    serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap()
}

#[test]
fn the_requests_of_the_examples_are_valid() {
    for mut request in [example("request.json"), example("plan_json.json")["request"].take()] {
        assert!(held("request").reads(&request), "{request}");
        request["usable_at_least_mib"] = json!("384 GB");
        assert!(!held("request").reads(&request), "{request}");
    }
}

/// The examples' documents name a ready-made platform; with its description in that place they are machines.
#[test]
fn the_machines_of_the_examples_are_valid() {
    let held = held("machine");
    for file in ["machine.json", "plan_json.json"] {
        let mut machine = example(file);
        let fields = machine.as_object_mut().unwrap();
        fields.retain(|field, _| ["schema", "platform", "processors", "options", "settings"].contains(&field.as_str()));
        let platform = reference::by_name(fields["platform"].as_str().unwrap()).unwrap();
        fields["platform"] = serde_json::to_value(platform).unwrap();
        assert!(held.reads(&machine), "{file}");
        assert!(serde_json::from_value::<Machine>(machine.clone()).is_ok(), "{file}");
        machine["processors"]["1"] = json!(1);
        assert!(!held.reads(&machine), "{file}");
    }
}

#[test]
fn a_label_is_read_for_a_module_and_never_written() {
    let held = held("population");
    let label = json!("32GB 2Rx4 PC4-2400T-RB2-11");
    for occupant in [json!({ "module": label }), json!({ "module": { "facts": label } })] {
        let population = json!({ "schema": 1, "slots": { "A1": occupant } });
        assert!(held.reads(&population) && held.faults(&population).is_some());
        let read: Population = serde_json::from_value(population).unwrap();
        assert!(held.faults(&serde_json::to_value(read).unwrap()).is_none());
    }
}

/// Every part of every schema, with where it stands.
fn all_parts() -> Vec<(String, Value)> {
    let schemas = all().flat_map(|all| [("read", all.name, all.read), ("written", all.name, all.written)]);
    schemas
        .flat_map(|(which, name, schema)| {
            let (schema, mut found) = (schema.to_value(), Vec::new());
            parts(&schema, "", &mut found);
            let part = |at: String| (format!("{name} {which} {at}"), schema.pointer(&at).unwrap().clone());
            found.into_iter().map(part).collect::<Vec<_>>()
        })
        .collect()
}

#[test]
fn every_object_is_closed() {
    for (at, part) in all_parts() {
        let is_closed = part.get("additionalProperties") == Some(&json!(false));
        assert!(is_closed || !part["properties"].is_object(), "{at}");
    }
}

/// No code and no links, as documentation comments have them.
#[test]
fn descriptions_are_text() {
    let mut count = 0;
    for (at, part) in all_parts() {
        if let Some(text) = part["description"].as_str() {
            let is_text = ["```", "[`", "](", "\n\n\n"].iter().all(|mark| !text.contains(mark)) && text.trim() == text;
            assert!(is_text && !text.is_empty(), "{at}: {text}");
            count += 1;
        }
    }
    assert!(count > 1000, "{count}");
}

#[test]
fn schemas_say_what_they_should() {
    let processor = document("processor");
    let text = |pointer: &str| processor.read.pointer(pointer).unwrap().as_str().unwrap().to_owned();
    assert_eq!(
        processor.read.get("required").unwrap(),
        &json!(["schema", "name", "generation", "kinds", "max_rate_mts", "voltages_mv"])
    );
    assert_eq!(text("/properties/max_rate_mts/description"), "The highest rate of its controllers.");
    assert!(text("/$defs/DataRate/description").starts_with("A data rate in MT/s"));
    assert!(text("/$defs/Density/description").starts_with("How much one memory die holds, in megabits"));
    assert_eq!(text("/$defs/Voltage/description"), "A supply voltage in whole millivolts.");
    let rate = processor.read.pointer("/$defs/DataRate/anyOf").unwrap();
    assert_eq!((&rate[0]["type"], &rate[0]["maximum"]), (&json!("integer"), &json!(DataRate::MAX_MTS)));
    assert_eq!(rate[1]["type"], "string");
    assert_eq!(processor.read.pointer("/$defs/Name/maxLength"), Some(&json!(Name::MAX_BYTES)));
    assert_eq!(processor.read.pointer("/$defs/Schema/const"), Some(&json!(1)));

    let population = document("population");
    let facts = population.read.pointer("/$defs/MemoryModuleFacts").unwrap();
    assert_eq!(facts["required"], json!(["generation", "kind", "capacity_mib"]));
    assert_eq!(facts["properties"]["form_factor"]["default"], Value::Null);
    assert_eq!(facts["properties"]["height_um"]["description"], "How tall it is, in micrometres.");
    assert_eq!(population.read.pointer("/$defs/Capacity/type"), Some(&json!("integer")));
    // descriptions are text: no code, no links
    let shown = population.read.get("description").unwrap().as_str().unwrap();
    assert_eq!(
        shown,
        "What sits in each slot, by slot label. A slot that is not named is empty.\n\nIt belongs to no machine until it \
         is used with one; a label that the machine lacks is an error then."
    );

    let settings = document("rule-settings");
    assert_eq!(
        (settings.read.get("required"), settings.read.pointer("/properties/schema/default")),
        (None, Some(&json!(1)))
    );

    let request = document("request");
    let offer = request.read.pointer("/$defs/Offer").unwrap();
    assert_eq!(offer["required"], json!(["id", "module", "unit_price", "stock"]));
    assert_eq!(request.read.get("required"), None);
    let price = request.read.pointer("/$defs/Price/description").unwrap().as_str().unwrap();
    assert!(price.starts_with("A price that is not negative, in whole minor units (cents) of a currency."));

    let assessment = document("assessment");
    let bandwidth = assessment.written.pointer("/$defs/Bandwidth").unwrap();
    assert_eq!((&bandwidth["minItems"], &bandwidth["maxItems"]), (&json!(2), &json!(2)));
    assert_eq!(bandwidth["prefixItems"][1]["minimum"], 1);
    assert!(bandwidth["description"].as_str().unwrap().contains("`[numerator, denominator]`"));
}

#[test]
fn the_schema_of_one_type() {
    let read = schemars::schema_for!(Severity);
    let words: Vec<_> = read.get("oneOf").unwrap().as_array().unwrap().iter().map(|word| &word["const"]).collect();
    assert_eq!(words, ["note", "warning", "error"]);
}

#[test]
fn answers_to_the_demo_questions_have_their_form() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data");
    let read = |file: &str| serde_json::from_str::<Value>(&std::fs::read_to_string(root.join(file)).unwrap()).unwrap();
    let answer = |question: &Value| serde_json::to_value(plan_json::answer(&question.to_string()).unwrap()).unwrap();
    let holds = |name: &str, answer: &Value| assert_eq!(held(name).faults(answer), None, "{answer}");
    for file in ["plan_json.json", "upgrade.json"] {
        let question = read(file);
        assert!(held("question").reads(&question), "{file}");
        assert!(held("request").reads(&question["request"]), "{file}");
        let ask = |ask: Value| {
            let mut question = question.clone();
            question["ask"] = ask;
            question
        };
        holds("outcome", &answer(&question));
        let mut bold = question.clone();
        bold["request"]["usable_at_least_mib"] = json!(1 << 24);
        holds("outcome", &answer(&bold));
        holds("plans", &answer(&ask(json!({ "plans": 3 }))));
        holds("frontier", &answer(&ask(json!({ "frontier": ["usable_capacity", "running_rate", "cost"] }))));
        holds("savings", &answer(&ask(json!("savings"))));
        let offer = &question["request"]["offers"][0]["id"];
        holds("break-even", &answer(&ask(json!({ "break_even": offer }))));
        let mut later = question["request"].clone();
        later["usable_at_least_mib"] = json!(512 << 10);
        (later["present"], later["shelf"]) = (json!({}), json!([]));
        holds("stages", &answer(&ask(json!({ "stages": later }))));
    }
    for stand_in in answer(&{
        let mut question = read("upgrade.json");
        question["request"]["rate_at_least_mts"] = json!(null);
        question["ask"] = json!({ "stand_ins": "A1" });
        question
    })
    .as_array()
    .unwrap()
    {
        holds("stand-in", stand_in);
    }
}
