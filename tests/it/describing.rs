//! From a manual to a proven description: gaps, coverage, maps, and the board of the examples.

use serde_json::json;
use slotwright::platform::{Platform, PlatformDescription};
use slotwright::stated::Basis;
use slotwright::worked::{self, Held};
use slotwright::{Capacity, Label, Machine, Name, Offer, Outcome, PlanRequest, Planner, Price, RuleBook, reference};

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

/// The report of a reference board, as it is kept, and what it says of held limits proved by hand.
fn report(board: &str) {
    let platform = reference::by_name(board).unwrap();
    let coverage = worked::coverage(&platform, 60);
    let path = format!("{}/tests/it/golden/coverage/{board}.txt", env!("CARGO_MANIFEST_DIR"));
    expect_test::expect_file![path].assert_eq(&format!("{coverage}\n"));
    let mut held = 0;
    for limit in &coverage.limits {
        if let Held::Held { rows } = &limit.held {
            held += 1;
            assert!(!rows.is_empty());
            // the same loosened in the document, by other code
            let changed = loosened(&platform, &limit.place.to_string(), &limit.step);
            let noticed = worked::check(&changed).into_iter().filter(|row| !row.holds()).count();
            assert_eq!(noticed, rows.len(), "{limit}");
        }
    }
    assert!(held > 0, "{board}");
}

/// The platform with one limit loosened in its document, as the report says that it was.
fn loosened(platform: &Platform, place: &str, step: &str) -> Platform {
    let mut document = serde_json::to_value(platform).unwrap();
    let (own, field) = match place.strip_prefix("processors[").and_then(|rest| rest.split_once("].")) {
        None => (&mut document, place),
        Some((processor, field)) => {
            let processors = document["processors"].as_array_mut().unwrap();
            (processors.iter_mut().find(|own| own["name"] == processor).unwrap(), field)
        }
    };
    let (list, rest) = field.split_once('[').unwrap_or((field, ""));
    let (index, rest) = rest.split_once(']').unwrap_or((rest, ""));
    let number = |text: &str| -> u64 { text.split(' ').next().unwrap().parse().unwrap() };
    let at = index.parse::<usize>();
    match (list, rest) {
        ("rate_table.rows", "") => {
            let rate = number(step.rsplit_once(": ").unwrap().1);
            own["rate_table"]["rows"][at.unwrap()]["cell"] = json!({ "rate_mts": rate });
        }
        ("max_rate_mts", "") => own[list]["value"] = number(step).into(),
        ("mix_limits", "") => own[list][at.unwrap()]["value"]["at_most"] = number(step).into(),
        ("shared_load_caps", "") => own[list][at.unwrap()]["value"]["modules_per_channel"] = number(step).into(),
        ("module_limits", ".at_most_per_channel") => {
            own[list][at.unwrap()]["value"]["at_most_per_channel"] = number(step).into();
        }
        ("pair_bans", "") => drop(own[list].as_array_mut().unwrap().remove(at.unwrap())),
        ("same_rank_count", "") => drop(own.as_object_mut().unwrap().remove(list)),
        ("modes", ".ecc") => {
            let mode = own[list].as_array_mut().unwrap().iter_mut().find(|mode| mode["name"] == index).unwrap();
            mode.as_object_mut().unwrap().remove("ecc");
        }
        ("die_densities_mbit", "") => own[list]["value"].as_array_mut().unwrap().push((number(step) * 1024).into()),
        ("kinds", "") => own[list]["value"].as_array_mut().unwrap().push(step.split(' ').next().unwrap().into()),
        ("ecc", "") => {
            assert_eq!(step, "no error correction as well");
            own[list]["value"].as_array_mut().unwrap().push("none".into());
        }
        ("capacity_cap", "") => {
            let cap = &mut own[list]["value"]["capacity_mib"];
            *cap = (cap.as_u64().unwrap() * 2).into();
        }
        _ => panic!("{place} ({step}) cannot be loosened by hand yet"),
    }
    serde_json::from_value::<PlatformDescription>(document).unwrap().build().unwrap()
}

macro_rules! reports {
    ($($test:ident: $board:literal;)*) => {
        $(
            #[test]
            fn $test() {
                report($board);
            }
        )*

        #[test]
        fn every_reference_board_has_its_report() {
            assert_eq!([$($board),*].len(), reference::all().len());
        }
    };
}

reports! {
    ddr3_1s_3ch_3spc: "ddr3-1s-3ch-3spc";
    ddr3_1s_uneven: "ddr3-1s-uneven";
    ddr3_2s_4ch_3spc: "ddr3-2s-4ch-3spc";
    ddr4_1s_2ch_2spc_unbuffered: "ddr4-1s-2ch-2spc-unbuffered";
    ddr4_2s_4ch_2spc: "ddr4-2s-4ch-2spc";
    ddr4_2s_4ch_3spc: "ddr4-2s-4ch-3spc";
    ddr4_2s_6ch_2spc: "ddr4-2s-6ch-2spc";
    ddr4_2s_8ch_2spc: "ddr4-2s-8ch-2spc";
    ddr5_1s_12ch_1spc: "ddr5-1s-12ch-1spc";
    ddr5_2s_8ch_2spc: "ddr5-2s-8ch-2spc";
}

/// What is asked of the manual tells the two descriptions apart, whichever way the manual answers.
#[test]
fn a_question_of_the_manual_tells_the_two_apart() {
    let platform = reference::ddr4_1s_2ch_2spc_unbuffered();
    let asked = worked::coverage(&platform, 60).limits.into_iter().find_map(|limit| match limit.held {
        Held::NotHeld { question, .. } if limit.place.to_string().ends_with("kinds") => Some(question),
        _ => None,
    });
    let question = asked.unwrap();
    let mut machine = Machine::builder(platform);
    for (socket, processor) in &question.processors {
        machine = machine.processor_named(socket.as_str(), processor.as_str());
    }
    let (machine, rules) = (machine.build().unwrap(), RuleBook::standard());
    let mut population = slotwright::Population::new();
    for (module, slots) in &question.modules {
        slots.iter().for_each(|slot| {
            population.put(slot.clone(), slotwright::Occupant::module(module.clone()));
        });
    }
    let seen = Planner::new(&machine, &rules).assess(&population).unwrap();
    assert!(seen.findings.iter().any(|finding| finding.code == *"kind-accepted"), "{seen}");
}

const BOARD: &str = include_str!("../../examples/data/board.toml");

#[test]
fn two_processors_of_eight_channels_in_forty_lines_plan() {
    assert!(BOARD.lines().count() <= 40);
    let board: PlatformDescription = toml::from_str(BOARD).unwrap();
    let board = board.build().unwrap();
    assert_eq!(board.slots().len(), 32);
    assert!(worked::check(&board).iter().all(worked::WorkedResult::holds));
    let machine = ["1", "2"]
        .iter()
        .fold(Machine::builder(board), |machine, socket| machine.processor_named(socket, "four-eight"));
    let (machine, rules) = (machine.build().unwrap(), RuleBook::standard());
    let module = "64GB 2Rx4 PC5-4800B-RA0-1010-XT".parse::<Label>().unwrap().to_module();
    let offer = Offer::new(name("lot"), module, Price::new(9_000, "EUR".parse().unwrap()), 40);
    let request = PlanRequest::new().usable_at_least(Capacity::from_gib(1024)).offer(offer);
    let Outcome::Optimal(plan) = Planner::new(&machine, &rules).plan(&request).unwrap() else { panic!() };
    assert_eq!(plan.slots.len(), 16);
    // all rests on the manual
    let text = serde_json::to_string(machine.platform()).unwrap();
    assert!(!text.contains(&format!("\"{}\"", Basis::Assumed)), "{text}");
}

/// Where no position and no turn is known, a plan is found all the same, a note a channel says so, and so does the map.
#[test]
fn what_is_not_known_of_the_order_is_said() {
    let text = BOARD
        .replace("number_one = { value = \"far\", basis = \"board-manual\" }\n", "")
        .lines()
        .filter(|line| !line.starts_with("turns"))
        .collect::<Vec<_>>()
        .join("\n");
    let board = toml::from_str::<PlatformDescription>(&text).unwrap().build().unwrap();
    let map = board.map().to_string();
    assert!(
        map.contains("A1?") && map.contains("In which order channels are filled is not described: see the board."),
        "{map}"
    );
    let machine = Machine::builder(board).processor_named("1", "four-eight").build().unwrap();
    let rules = RuleBook::standard();
    let module = "64GB 2Rx4 PC5-4800B-RA0-1010-XT".parse::<Label>().unwrap().to_module();
    let offer = Offer::new(name("lot"), module, Price::new(9_000, "EUR".parse().unwrap()), 40);
    let request = PlanRequest::new().usable_at_least(Capacity::from_gib(256)).offer(offer);
    let outcome = Planner::new(&machine, &rules).plan(&request).unwrap();
    let plan = outcome.optimal().unwrap();
    let notes = plan.assessment.findings.iter().filter(|finding| finding.code == *"first-slot");
    assert_eq!((plan.slots.len(), notes.count()), (4, 4), "{plan}");
    let slots: Vec<&str> = plan.slots.iter().map(|slot| slot.slot.as_str()).collect();
    assert_eq!(slots, ["A1", "B1", "C1", "D1"]);
    let arranged = Planner::new(&machine, &rules).arrange([(plan.slots[0].module.clone(), 4)]).unwrap();
    let text = arranged.best().unwrap().to_string();
    assert!(text.contains("round 1, turn 1 of 8 [order assumed: see the board]"), "{text}");
}
