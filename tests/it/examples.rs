//! What the examples print, and that their input errors say where they are.

#[path = "../../examples/plan_machine/job/mod.rs"]
mod job;

#[path = "../../examples/layouts_for_total.rs"]
#[allow(dead_code)]
mod layouts_for_total;

#[path = "../../examples/many_machines.rs"]
#[allow(dead_code)]
mod many_machines;

#[path = "../../examples/read_machine/page.rs"]
#[allow(dead_code)]
mod read_machine;

#[path = "../../examples/read_titles.rs"]
#[allow(dead_code)]
mod read_titles;

#[path = "../../examples/service/main.rs"]
#[allow(dead_code)]
mod service;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use expect_test::expect_file;
use job::{Files, Job};
use serde_json::{Value, json};
use slotwright::Capacity;
use slotwright::purchase::Present;
use slotwright::question::{Answer, Ask, NamedOr, Question, QuestionError};

fn data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data")
}

fn demo() -> Job {
    Job::read(&Files::demo(&data())).unwrap()
}

/// A page, once it is known to keep to its width.
fn page(job: &Job) -> String {
    let page = job.page().unwrap();
    let widest = page.lines().max_by_key(|line| line.chars().count()).unwrap();
    assert!(widest.chars().count() <= 100, "{widest}");
    page
}

#[test]
fn the_page_of_the_demo() {
    expect_file!["golden/plan_machine.txt"].assert_eq(&page(&demo()));
}

#[test]
fn the_page_of_a_job_that_cannot_be_done() {
    let mut job = demo();
    (job.request.present, job.request.labour_per_handling) = (Present::default(), None);
    job.request.shelf.clear();
    job.request.offers.to_mut().retain(|offer| ["pallet-4", "tray-12"].contains(&offer.id.as_str()));
    job.request.usable_at_least_mib = Some(Capacity::from_gib(1024));
    expect_file!["golden/plan_machine_infeasible.txt"].assert_eq(&page(&job));
}

/// A page of the demo, with what is fitted read from these files.
fn reported(files: &[&str]) -> String {
    let files = Files { fitted: files.iter().map(|file| data().join(file)).collect(), ..Files::demo(&data()) };
    page(&Job::read(&files).unwrap())
}

// the law of the main job: a report and one SPD say as much as a list of labels
#[test]
fn a_report_and_one_spd_plan_as_the_labels_do() {
    let from_labels = page(&demo());
    let order = |page: &str| {
        let from = page.find("ORDER ---").unwrap();
        let to = page.find("SLOTS, NOW").unwrap();
        // of the two modules that are pulled, no source tells more than the ranks
        page[from..to].replace("1Rx8", "1R").replace(' ', "")
    };
    let from_text = reported(&["report.txt", "spd-16gb.bin"]);
    assert_eq!(order(&from_text), order(&from_labels));
    assert!(from_text.contains("384 GB running at 2400 MT/s for 259.40 EUR. Proved:"));
    // bytes and text are one
    let from_bytes = reported(&["report.bin", "spd-16gb.bin"]);
    assert_eq!(from_bytes.replace("report.bin", "report.txt"), from_text);
    // what is assumed on the way is printed
    assert!(from_text.contains("WHAT THIS RESTS ON"));
}

#[test]
fn a_report_alone_says_what_to_find_out() {
    let job = |file: &str| Job::read(&Files { fitted: vec![data().join(file)], ..Files::demo(&data()) }).unwrap();
    let from_text = job("report.txt");
    // bytes and text are one
    assert_eq!(from_text.request, job("report.bin").request);
    let questions = from_text.questions().unwrap().unwrap();
    assert_eq!(questions.questions.len(), 1);
    expect_file!["golden/plan_machine_questions.txt"].assert_eq(&(questions.to_string() + "\n"));
}

#[cfg(feature = "redfish")]
#[test]
fn an_answer_of_a_controller_plans_as_a_table_of_firmware() {
    let of = |file: &str| reported(&[file, "spd-16gb.bin"]);
    let order = |page: &str| page[page.find("ORDER ---").unwrap()..page.find("RUNNING RATE").unwrap()].to_owned();
    assert_eq!(order(&of("report-redfish.json")), order(&of("report.txt")));
}

#[test]
fn what_titles_say_and_offers_of_them() {
    let offers_file = written("offers.json", "");
    let page = read_titles::run(&data().join("titles.txt"), Some(&offers_file)).unwrap();
    expect_file!["golden/read_titles.txt"].assert_eq(&page);
    // the offers file is one of the other examples
    let job = Job::read(&Files { offers: offers_file, ..Files::demo(&data()) }).unwrap();
    assert_eq!(job.request.offers.len(), 3);
    assert!(job.page().unwrap().contains("line-2"));
    // a line that is wrong stops no other, and what others wrote does nothing to a terminal
    let list = "8x 16GB DDR4-2400 RDIMM\tcheap\r8x 16GB DDR4-2400 RDIMM\t0 EUR\r\n8x 16GB DDR4-2400 RDIMM\t12,50 eur\n\
                \u{1b}[31m8x 16GB DDR4-2400 RDIMM 12 EUR\t12.50 USD";
    let page = read_titles::run(&written("titles.txt", list), None).unwrap();
    for text in [
        "no offer: \"cheap\" is no price of one module such as 25.00 EUR",
        "no offer: \"0 EUR\" is no price",
        "offer line-3: 8 at 12.50 EUR",
        "\\u{1b}[31m8x",
    ] {
        assert!(page.contains(text), "{text} is not in {page}");
    }
}

#[test]
fn what_is_read_of_the_demo() {
    let mut asked = read_machine::Asked::default();
    asked.demo();
    let page = asked.page().unwrap();
    expect_file!["golden/read_machine.txt"].assert_eq(&(page + "\n"));
    asked.files.push(data().join("spd-16gb.bin"));
    let settled = asked.page().unwrap();
    assert!(settled.contains("it can only be 16GB 2Rx4 DDR4-2400 registered"), "{settled}");
    asked.json = true;
    let json: Value = serde_json::from_str(&asked.page().unwrap()).unwrap();
    assert_eq!(json["sited"]["platform"], "ddr4-2s-4ch-3spc");
    // what is none of what it reads
    asked.files = vec![written("nothing.txt", "hello\n")];
    assert!(asked.page().unwrap_err().ends_with("nothing.txt: it is not clear what this is"));
}

#[test]
fn the_page_of_a_search_that_stopped() {
    let mut job = demo();
    job.request.nodes = 40;
    let page = page(&job);
    assert!(page.contains("NOT PROVED: the search used up its 40 nodes;"), "{page}");
}

/// Writes a file beside the test binary and gives its path.
fn written(name: &str, text: &str) -> PathBuf {
    let file = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&file, text).unwrap();
    file
}

/// What a job says whose named file is this text instead.
fn refusal(which: &str, text: &str) -> String {
    let mut files = Files::demo(&data());
    let place = match which {
        "machine" => &mut files.machine,
        "fitted" => &mut files.fitted[0],
        "offers" => &mut files.offers,
        "shelf" => &mut files.shelf,
        "request" => &mut files.request,
        other => panic!("{other}"),
    };
    // tests run side by side: each has files of its own
    let digest = text.bytes().fold(0_u32, |sum, byte| sum.wrapping_mul(31).wrapping_add(u32::from(byte)));
    *place = written(&format!("{which}-{digest:08x}"), text);
    let shown = place.display().to_string();
    let error = Job::read(&files).and_then(|job| job.page()).expect_err("a broken file");
    error.replace(&shown, which)
}

#[test]
fn a_file_that_is_not_there_is_named() {
    let files = Files { offers: data().join("no-such-file"), ..Files::demo(&data()) };
    let error = Job::read(&files).err().unwrap();
    assert!(error.contains("no-such-file: "), "{error}");
}

#[test]
fn errors_say_where_they_are() {
    const OFFERS: &str = "id, label, price, currency, stock, supplier, pack, remark";
    let offer = |line: &str| refusal("offers", &format!("# first\n{OFFERS}\n{line}\n"));
    let said = [
        offer("a, 32GB 2RX4 PC4-2400T-RB2-11, 1, EUR, 1, , ,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, 1.5, EUR, 1, , ,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, -1, EUR, 1, , ,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, 99999999999999999999, EUR, 1, , ,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, 1, euro, 1, , ,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, 1, EUR, some, , ,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, 1, EUR, 1, , 0,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, 1, EUR"),
        offer("a, \"32GB\", 1, EUR, 1, , ,"),
        offer(", 32GB 2Rx4 PC4-2400T-RB2-11, 1, EUR, 1, , ,"),
        refusal("offers", "id, label\n"),
        refusal("offers", ""),
        refusal("fitted", "A1\n"),
        refusal("fitted", "A1 blank\nA1 blank\n"),
        refusal("fitted", "Z9 blank\n"),
        refusal("request", "{\n\"usable\": 3 }"),
        refusal(
            "request",
            r#"{"offers": [{"id": "a", "module": "32GB 2Rx4 PC4-2400T-RB2-11", "unit_price": {"amount_minor": 1, "currency": "EUR"}, "stock": 1}]}"#,
        ),
        refusal("machine", r#"{"schema": 1, "title": "t", "platform": "ddr9", "processors": {}}"#),
        refusal(
            "machine",
            r#"{"schema": 1, "title": "t", "platform": "ddr4-2s-4ch-3spc", "processors": {"3": "later"}}"#,
        ),
        refusal("machine", r#"{"schema": 2, "title": "t", "platform": "ddr4-2s-4ch-3spc", "processors": {}}"#),
    ];
    expect_file!["golden/plan_machine_errors.txt"].assert_eq(&(said.join("\n") + "\n"));
}

#[allow(dead_code)]
#[path = "../../examples/custom_rule.rs"]
mod custom_rule;
#[allow(dead_code)]
#[path = "../../examples/describe_board.rs"]
mod describe_board;
#[allow(dead_code)]
#[path = "../../examples/plan_json.rs"]
pub mod plan_json;
#[allow(dead_code)]
#[path = "../../examples/upgrade/main.rs"]
mod upgrade;
#[allow(dead_code)]
#[path = "../../examples/will_it_fit.rs"]
mod will_it_fit;

#[test]
fn the_report_of_a_described_board() {
    let board = include_str!("../../examples/data/board.toml");
    expect_file!["golden/describe_board.txt"].assert_eq(&describe_board::report("board.toml", board).unwrap().0);
    // the same as JSON
    let described: slotwright::platform::PlatformDescription = toml::from_str(board).unwrap();
    let json = serde_json::to_string(&described).unwrap();
    let (report, holds) = describe_board::report("board.json", &json).unwrap();
    assert!(holds && report.contains("\nferry-2s, 32 slots."));
    // a row that does not hold is a failure
    let wrong = board.replace("4400 MT/s, 2048 GB", "4800 MT/s, 2048 GB");
    assert!(!describe_board::report("board.toml", &wrong).unwrap().1);
}

#[test]
fn a_described_board_that_is_wrong_says_all_that_is_wrong() {
    let board = include_str!("../../examples/data/board.toml");
    let said = |from: &str, to: &str| {
        assert!(board.contains(from), "{from}");
        describe_board::report("board.toml", &board.replace(from, to)).unwrap_err()
    };
    let all = [
        said("slot_labels = \"{channel}{number}\"", "slot_labels = \"{channel}\""),
        said("A E C G B F D H", "A E C G B F D Q"),
        said("\"C1 C2 D1 D2 A1", "\"C1 C2 D1 D2 X1"),
        said("{channel}{number}", "{channel}{numbre}"),
        said("RDIMM: 4800 4400", "RDIMM: 4800 fast"),
        said("counts = \"1 2 4", "counts = \"1 to 4"),
        said("[pattern]", "sockets = [{ label = \"1\", controllers = [] }]\n[pattern]"),
        said("16 x 64GB 2Rx4", "16 x 64GB 2Qx4"),
        said("value = \"far\"", "value = \"left\""),
    ];
    let short = |said: &str| {
        said.lines().take(4).map(|line| line.chars().take(240).collect::<String>()).collect::<Vec<_>>().join("\n")
    };
    let all: Vec<String> = all.iter().map(|said| short(said)).collect();
    expect_file!["golden/describe_board_wrong.txt"].assert_eq(&format!("{}\n", all.join("\n\n")));
}

#[test]
fn a_callers_rules_change_the_plan() {
    expect_file!["golden/custom_rule.txt"].assert_eq(&custom_rule::text().unwrap());
}

#[test]
fn what_is_said_of_labels() {
    let labels = [
        "32GB 2Rx4 PC4-2400T-RB2-11",
        "32GB 4Rx4 PC4-2133P-RA1-11",
        "64GB 2Rx4 PC4-3200AA-RB2-14",
        "16GB 2Rx8 PC4-2666V-EB1-11",
        "32GB 2RX4 PC4-2400T-RB2-11",
        "32GB 2Rx4 PC4-2400é-RB2-11",
        "",
    ];
    let (text, all_read) = will_it_fit::answer("ddr4-2s-4ch-3spc", &labels.map(str::to_owned)).unwrap();
    assert!(!all_read);
    expect_file!["golden/will_it_fit.txt"].assert_eq(&text);
    assert!(will_it_fit::answer("ddr9", &[]).unwrap_err().contains("there is no ready-made platform \"ddr9\""));
}

/// A question to the planner: a half-filled machine and so many offers of finite stock.
fn question(offers: u32) -> Value {
    const LABELS: [&str; 8] = [
        "16GB 1Rx8 PC4-3200AA-RD3-12",
        "32GB 2Rx8 PC4-3200AA-RE3-12",
        "32GB 2Rx4 PC4-2933Y-RB2-12",
        "32GB 1Rx4 PC4-3200AA-RC3-12",
        "64GB 2Rx4 PC4-3200AA-RB2-14",
        "64GB 4DRx4 PC4-2666V-LD2-12",
        "16GB 2Rx4 PC4-2133P-RA0-10",
        "128GB 4DRx4 PC4-3200AA-LD3-12",
    ];
    let price = |minor: u32| serde_json::json!({ "amount_minor": minor, "currency": "EUR" });
    let offer = |index: u32| {
        let label = LABELS[index as usize % LABELS.len()];
        let gb: u32 = label.split_once("GB").unwrap().0.parse().unwrap();
        let minor = gb * 150 + index * 7919 % 97 * gb / 2;
        serde_json::json!({
            "id": format!("lot-{index:03}"), "module": label, "unit_price": price(minor), "stock": index * 13 % 17,
        })
    };
    let fitted = ('A'..='P').map(|channel| (format!("{channel}1"), "32GB 2Rx8 PC4-3200AA-RE3-12"));
    let slots: serde_json::Map<_, _> =
        fitted.map(|(slot, label)| (slot, serde_json::json!({ "module": { "facts": label } }))).collect();
    serde_json::json!({
        "schema": 1,
        "platform": "ddr4-2s-8ch-2spc",
        "processors": { "1": "plain", "2": "plain" },
        "request": {
            "usable_at_least_mib": 1 << 20,
            "present": { "population": { "schema": 1, "slots": slots } },
            "offers": (0..offers).map(offer).collect::<Vec<_>>(),
        },
    })
}

#[test]
fn questions_as_json() {
    let demo = std::fs::read_to_string(data().join("plan_json.json")).unwrap();
    // what is fitted is on offer or not, handlings cost nothing or something
    let with_labour = |offers: u32, gib: u32, fitted: &str| {
        let mut question = question(offers);
        question["request"]["usable_at_least_mib"] = serde_json::json!(gib << 10);
        question["request"]["labour_per_handling"] = serde_json::json!({ "amount_minor": 250, "currency": "EUR" });
        for (_, occupant) in question["request"]["present"]["population"]["slots"].as_object_mut().unwrap() {
            occupant["module"]["facts"] = serde_json::json!(fitted);
        }
        question
    };
    let questions = [
        question(60),
        question(200),
        with_labour(60, 768, "32GB 2Rx4 PC4-2933Y-RB2-12"),
        with_labour(200, 1024, "32GB 2Rx4 PC4-2933Y-RB2-12"),
        with_labour(200, 1536, "16GB 2Rx8 PC4-2400T-RE1-11"),
    ];
    for question in questions.iter().map(ToString::to_string).chain([demo]) {
        let Answer::Plan(outcome) = plan_json::answer(&question).unwrap() else { panic!("{question}") };
        assert!(outcome.optimal().is_some(), "{outcome}");
        let written = serde_json::to_string(&outcome).unwrap();
        assert_eq!(serde_json::from_str::<slotwright::Outcome>(&written).unwrap(), outcome);
    }
}

#[test]
fn everything_can_be_asked_as_json() {
    let upgrade: Value = serde_json::from_str(&std::fs::read_to_string(data().join("upgrade.json")).unwrap()).unwrap();
    let answer = |ask: Value| {
        let mut question = upgrade.clone();
        question["ask"] = ask;
        serde_json::to_value(plan_json::answer(&question.to_string()).unwrap()).unwrap()
    };
    let cost = |plan: &Value| plan["cost"]["total"]["amount_minor"].as_i64().unwrap();
    assert_eq!(cost(&answer(json!("plan"))["optimal"]), 29_600);
    let plans = answer(json!({ "plans": 3 }));
    assert_eq!(plans["plans"].as_array().unwrap().iter().map(cost).collect::<Vec<_>>(), [29_600, 29_700, 30_250]);
    let frontier = answer(json!({ "frontier": ["usable_capacity", "cost"] }));
    assert!(frontier["plans"].as_array().unwrap().iter().map(cost).is_sorted_by(|a, b| a < b), "{frontier}");
    assert_eq!(answer(json!({ "break_even": "crate-7" }))["known"]["from"]["amount_minor"], 2_400);
    assert_eq!(answer(json!("savings"))["accepting"][0]["saves"]["amount_minor"], 1_350);
    let mut later = upgrade["request"].clone();
    (later["present"], later["shelf"]) = (json!({}), json!([]));
    later["usable_at_least_mib"] = json!(512 << 10);
    let stages = answer(json!({ "stages": later }));
    let [best, alone] = ["best", "alone"].map(|which| stages[which]["cost"]["amount_minor"].as_i64().unwrap());
    assert!(best < alone && stages["stopped"].is_null(), "{best} {alone}");
    assert_eq!(answer(json!({ "stand_ins": "A1" })), json!([]));
    let near = answer(json!({ "totals_near": { "wish_mib": 320 << 10 } }));
    assert!(near["below"]["cost"].is_object(), "{near}");
    let after = answer(json!({ "after": answer(json!("plan"))["optimal"] }));
    assert_ne!(after["present"], upgrade["request"]["present"]);

    // what is asked of the machine, or of a population
    let population = &upgrade["request"]["present"]["population"];
    let label = "32GB 2Rx4 PC4-2400T-RB2-11";
    assert_eq!(answer(json!({ "accepts": label }))["at_most"], 24);
    assert!(answer(json!("ceiling"))["rows"].as_array().unwrap().len() > 2);
    assert_eq!(answer(json!({ "ceiling_of": [label] }))["rows"][0]["capacity_mib"], json!(512 << 10));
    assert_eq!(answer(json!({ "fill_order": 2 }))["slots"], json!(["A1", "E1"]));
    assert_eq!(answer(json!({ "fill_order": 99 })), json!(null));
    let arranged = answer(json!({ "arrange": { "pieces": [[label, 8]], "keep_empty": ["A3"] } }));
    assert_eq!(arranged["best"]["assessment"]["figures"]["usable"]["total_mib"], json!(256 << 10));
    assert!(answer(json!({ "even_out": { "schema": 1, "population": population } }))["is_even"].is_boolean());
    assert_eq!(answer(json!({ "assess": population }))["schema"], 1);
    assert_eq!(answer(json!({ "assess_in_use": population }))["schema"], 1);
    assert_eq!(answer(json!({ "modes": population }))[0]["mode"], "independent");
    let one = json!({ "schema": 1, "slots": { "A1": { "module": { "facts": label } } } });
    let (machine, rules) = plan_json::read(&upgrade.to_string()).unwrap().context().unwrap();
    let planned = serde_json::from_value(one.clone()).unwrap();
    let report = slotwright::Planner::new(&machine, &rules).expected_report(&planned, None, &[]).unwrap();
    let observed = slotwright::population::Observed::from(report);
    assert_eq!(answer(json!({ "acceptance": { "planned": one, "observed": observed } }))["verdict"], "as_planned");
    let swap = answer(json!({ "swap_test": { "population": population, "suspect": "A1" } }));
    assert_eq!(swap["states"][0]["module_in"], "A1");
    assert_eq!(answer(json!({ "meet_mode": { "schema": 1, "population": population } }))["mode"], "independent");
}

/// A question is a document: it is written as it reads.
#[test]
fn questions_read_back() {
    let text = std::fs::read_to_string(data().join("upgrade.json")).unwrap();
    let question = plan_json::read(&text).unwrap();
    let written = serde_json::to_string(&question).unwrap();
    assert_eq!(plan_json::read(&written).unwrap(), question);
    let own = Question::new(NamedOr::from("ddr4-2s-4ch-3spc")).ask(Ask::Plan);
    assert_eq!(own.processors([("1".to_owned(), "later".into())]).answer(), Err(QuestionError::NoRequest));
}

#[test]
fn the_advice_on_an_upgrade() {
    let advice = upgrade::demo().unwrap();
    expect_file!["golden/upgrade.txt"].assert_eq(&advice);
    assert!(advice.lines().all(|line| line.chars().count() <= 100));
}

#[test]
fn bad_questions_get_every_problem() {
    let broken = |path: &str, value: Value| {
        let mut question = question(2);
        match path.rsplit_once('/') {
            Some((parent, key)) => question.pointer_mut(parent).unwrap()[key] = value,
            None => question = value,
        }
        serde_json::to_string(&plan_json::answer(&question.to_string()).unwrap_err()).unwrap()
    };
    let platform = serde_json::to_value(slotwright::reference::ddr4_2s_8ch_2spc()).unwrap();
    let said = [
        broken("", serde_json::json!([])),
        broken("/schema", serde_json::json!(2)),
        broken("/platform", serde_json::json!("ddr9")),
        broken("/platform", serde_json::json!({ "schema": 1 })),
        broken("/processors", serde_json::json!({ "1": "other", "3": "plain" })),
        broken("/processors/1", serde_json::json!({ "name": "own" })),
        broken("/options", serde_json::json!(["riser"])),
        broken("/settings", serde_json::json!({ "mode": "mirrored" })),
        broken("/rules", serde_json::json!({ "severities": { "no-such-rule": "off" } })),
        broken("/request/machines", serde_json::json!(0)),
        broken("/request/present/pinned", serde_json::json!(["A2", "Z1"])),
        broken("/request/usable_at_least_mib", serde_json::json!(-1)),
        broken("/request", serde_json::json!(null)),
        broken("/ask", serde_json::json!({ "assess": { "schema": 1, "slots": { "Z9": "blank" } } })),
        broken("/ask", serde_json::json!({ "arrange": { "keep_empty": ["Z9"] } })),
        broken(
            "/ask",
            serde_json::json!({ "even_out": { "population": { "schema": 1, "slots": { "Z9": "blank" } } } }),
        ),
        broken("/ask", serde_json::json!({ "meet_mode": { "population": { "schema": 1 }, "keep_empty": ["Z9"] } })),
        broken("/ask", serde_json::json!({ "stages": { "machines": 2 } })),
        broken(
            "/ask",
            serde_json::json!({ "acceptance": { "planned": { "schema": 1, "slots": { "Z9": "blank" } }, "observed": { "schema": 1, "reports": [] } } }),
        ),
        broken(
            "/ask",
            serde_json::json!({ "acceptance": { "planned": { "schema": 1, "slots": {} }, "observed": { "schema": 1, "reports": [] } } }),
        ),
        broken(
            "/ask",
            serde_json::json!({ "swap_test": { "population": { "schema": 1, "slots": {} }, "suspect": "A1" } }),
        ),
        broken("/ask", serde_json::json!("guess")),
    ];
    expect_file!["golden/plan_json_errors.txt"].assert_eq(&(said.join("\n") + "\n"));
    let mut question = question(60);
    question["platform"] = platform;
    assert!(plan_json::answer(&question.to_string()).is_ok(), "a platform may be described in place");
}

#[test]
fn machines_one_after_the_other() {
    let tables = ["machines.csv", "inventory.csv", "price_list.csv"];
    let tables = tables.map(|table| std::fs::read_to_string(data().join(table)).unwrap());
    let [machines, modules, prices] = tables.each_ref().map(String::as_str);
    expect_file!["golden/many_machines.txt"].assert_eq(&many_machines::page([machines, modules, prices]).unwrap());
    // every line that does not read is told
    let problems = many_machines::page([
        "head\none,no-such-board,later,64\ntwo,ddr4-2s-4ch-3spc,later,much\nthree,ddr4-2s-4ch-3spc,later,64\n",
        "head\nthree,Z9,32GB 2Rx4 PC4-2400T-RB2-11\nthree,A1,32GB\nfour,A1\n",
        "head\nlot,32GB 2Rx4 PC4-2400T-RB2-11,1.5,3\n",
    ]);
    expect_file!["golden/many_machines_errors.txt"].assert_eq(&(problems.unwrap_err().join("\n") + "\n"));
}

/// Lines in, lines out, each by its id; a search that is given no time has a plan and a bound all the same.
#[test]
fn a_service_answers_line_by_line() {
    let served = |input: String| -> BTreeMap<u64, Value> {
        let mut output = Vec::new();
        service::serve(input.as_bytes(), &mut output).unwrap();
        let lines = String::from_utf8(output).unwrap();
        let lines = lines.lines().map(|line| serde_json::from_str::<Value>(line).unwrap());
        lines.map(|line| (line["id"].as_u64().unwrap_or(u64::MAX), line)).collect()
    };
    let demo = served(std::fs::read_to_string(data().join("service.jsonl")).unwrap());
    assert_eq!(demo[&2]["answer"]["at_most"], 12);
    assert_eq!(demo[&3]["error"]["problems"][0]["data"]["unknown_socket"]["socket"], "9");
    let unread = demo[&4]["error"]["problems"][0]["text"].as_str().unwrap();
    assert!(unread.starts_with("question.request.usable_at_least_gb: unknown field"), "{unread}");

    let hard = |id: u64| {
        let mut question = question(200);
        question["request"]["refuse_from"] = json!("error");
        question["request"]["usable_at_least_mib"] = json!((768 + id) << 10);
        json!({ "id": id, "limit_ms": 0, "question": question }).to_string()
    };
    let stopped = served((0..40).map(hard).collect::<Vec<_>>().join("\n"));
    assert_eq!(stopped.len(), 40);
    for line in stopped.values() {
        let stopped = &line["answer"]["stopped"];
        assert_eq!(stopped["reason"], "cancelled", "{line}");
        let [cost, bound] = [&stopped["best"]["cost"]["total"], &stopped["cost_at_least"]];
        assert!(bound["amount_minor"].as_i64().unwrap() <= cost["amount_minor"].as_i64().unwrap(), "{line}");
    }

    // without a limit it takes as long as it takes, unless somebody stops it
    let mut endless = question(200);
    endless["request"]["refuse_from"] = json!("error");
    endless["request"]["nodes"] = json!(u64::MAX);
    let asked = json!({ "id": 7, "question": endless });
    let cancelled = served(format!("{asked}\n{{\"cancel\": 7}}\n{{\"cancel\": 8}}\n"));
    assert_eq!(cancelled[&7]["answer"]["stopped"]["reason"], "cancelled");
    let refused = served("{}\n\nnot JSON\n{\"id\": 1}\n".to_owned());
    let text = |id: u64| refused[&id]["error"]["problems"][0]["text"].as_str().unwrap().to_owned();
    assert!(text(u64::MAX).contains("expected ident") && text(1).contains("missing field `question`"), "{refused:?}");
}

#[test]
fn layouts_for_two_totals() {
    expect_file!["golden/layouts_for_total.txt"].assert_eq(&layouts_for_total::demo().unwrap());
}

#[test]
fn a_price_list_that_does_not_read_is_told_by_line() {
    let refused = |line: &str| {
        let list = format!("id,label,price,stock\n{line}\n");
        layouts_for_total::layouts(64, "ddr4-2s-4ch-3spc", "later", &list).unwrap_err().to_string()
    };
    let label = "32GB 2Rx4 PC4-2400T-RB2-11";
    assert_eq!(refused("one,two"), "price list, line 2: four fields are needed: id, label, price, stock");
    assert_eq!(refused(&format!("a,{label},29,1")), "price list, line 2: \"29\" is not a price such as 29.00");
    assert_eq!(refused(&format!("a,{label},29.00,-1")), "price list, line 2: \"-1\" is no whole number");
    assert!(refused("a,32GB,29.00,1").starts_with("price list, line 2: "));
}

/// The readme shows what the examples print: every line of its text blocks is one of a golden page.
#[test]
fn the_readme_shows_real_output() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let read = |file: &str| std::fs::read_to_string(root.join(file)).unwrap();
    let golden = [
        "plan_machine",
        "will_it_fit",
        "layouts_for_total",
        "measured_bandwidth",
        "upgrade",
        "read_machine",
        "read_titles",
        "work_order",
        "accept",
        "accept_two_faults",
        "one_is_lost",
    ];
    let pages: String = golden.iter().map(|page| read(&format!("tests/it/golden/{page}.txt"))).collect();
    let readme = read("README.md");
    let shown: Vec<&str> = readme.split("```text\n").skip(1).filter_map(|block| block.split("\n```").next()).collect();
    assert!(shown.len() >= 2, "the readme shows the page and a label");
    for line in shown.iter().flat_map(|block| block.lines()) {
        assert!(pages.lines().any(|printed| printed == line), "no example prints {line:?}");
    }
}
