//! Slots and modules that must not be used: closed slots, slots to be kept empty, faulty modules.

use slotwright::assess::{Legality, Planner};
use slotwright::ceiling::Acceptance;
use slotwright::fill::{ArrangeRequest, EvenRequest};
use slotwright::finding::{Severity, Verdict};
use slotwright::machine::{Machine, MachineDescription, SlotState};
use slotwright::module::{Individual, Label, MemoryModule};
use slotwright::platform::Settings;
use slotwright::population::{DeviceSort, Fault, Fitted, Occupant, OtherDevice, Population};
use slotwright::purchase::{
    ModeRequest, ModuleSource, MustGo, Offer, Outcome, Plan, PlanRequest, Present, RequestProblem, ShelfItem,
};
use slotwright::reference;
use slotwright::rule::RuleBook;
use slotwright::unit::{Capacity, DataRate, Name, Price};

use crate::boards::{self, name};

const DUAL: &str = "32GB 2Rx4 PC4-2400T-RB2-11";

fn module(label: &str) -> MemoryModule {
    label.parse::<Label>().unwrap().to_module()
}

fn one_processor() -> MachineDescription {
    Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later")
}

fn closing(slots: &[&str]) -> Machine {
    slots
        .iter()
        .fold(one_processor(), |machine, slot| machine.closed_slot(name(slot), name("bent contact")))
        .build()
        .unwrap()
}

fn fitted(slots: &[&str]) -> Population {
    slots.iter().fold(Population::new(), |all, slot| all.with(name(slot), module(DUAL)))
}

fn failed(population: Population, slot: &str) -> Population {
    let mut population = population;
    population.put(name(slot), Occupant::Module(Fitted::new(module(DUAL)).fault(Fault::Failed)));
    population
}

fn lot() -> Offer {
    Offer::new(name("lot"), module(DUAL), Price::new(3_000, "EUR".parse().unwrap()), 40)
}

fn plan(machine: &Machine, request: &PlanRequest) -> Plan {
    let rules = RuleBook::standard();
    match Planner::new(machine, &rules).plan(request).unwrap() {
        Outcome::Optimal(plan) => plan,
        other => panic!("{other}"),
    }
}

fn slots(plan: &Plan) -> String {
    plan.slots.iter().map(|slot| slot.slot.to_string()).collect::<Vec<_>>().join(" ")
}

fn gib(gib: u32) -> PlanRequest {
    PlanRequest::new().usable_at_least(Capacity::from_gib(gib))
}

#[test]
fn a_closed_slot_is_live_in_no_verb() {
    let machine = closing(&["D2"]);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let slot = machine.platform().slot_named("D2").unwrap();
    assert_eq!(*machine.slot_state(slot), SlotState::Closed { reason: name("bent contact") });
    let label = name("D2");
    let order = planner.fill_order(11).unwrap();
    assert!(!order.slots.contains(&label));
    assert_eq!(planner.fill_order(12), None);
    let arranged = planner.arrange([(module(DUAL), 8)]).unwrap();
    let best = arranged.best().unwrap();
    assert!(best.population.get("D2").is_none() && !best.free_slots.contains(&label));
    // D3 lies behind an empty position: it is of no use either
    let Acceptance { fits, at_most, .. } = planner.accepts(&module(DUAL));
    assert_eq!((fits.len(), at_most), (10, 10));
    assert_eq!(planner.ceiling_of(&[module(DUAL)]).rows.iter().map(|row| row.count).max().unwrap(), 10);
}

/// A board filled to its last slot that can be used is even.
#[test]
fn a_closed_second_slot_is_no_matter_of_evenness() {
    let board = Machine::builder(reference::ddr4_2s_4ch_2spc()).processor_named("1", "later");
    let machine = board.closed_slot(name("D2"), name("bent contact")).build().unwrap();
    let seven = plan(&machine, &gib(224).offer(lot()));
    assert_eq!(slots(&seven), "A1 B1 C1 D1 A2 B2 C2");
    assert!(seven.assessment.from_severity(Severity::Warning).next().is_none(), "{seven}");
}

/// Behind a closed first slot nothing works: the channel is left alone, and nothing is advised for it.
#[test]
fn a_closed_first_slot_closes_its_channel() {
    let machine = closing(&["B1"]);
    let rules = RuleBook::standard();
    let three = plan(&machine, &gib(96).offer(lot()));
    assert_eq!(slots(&three), "A1 C1 D1");
    assert!(three.assessment.from_severity(Severity::Warning).next().is_none(), "{three}");
    let six = plan(&machine, &gib(192).offer(lot()));
    assert_eq!(slots(&six), "A1 C1 D1 A2 C2 D2");
    let planner = Planner::new(&machine, &rules);
    // three channels that hold the same are even, and totals are those of three
    assert!(planner.even_out(&three.population).unwrap().is_even);
    let added = planner.even_out(&fitted(&["A1", "C1", "D1", "A2"])).unwrap();
    assert_eq!((added.adding.unwrap().added[0].1, added.taking_out.unwrap().taken_out.len()), (2, 1));
    let near = planner.totals_near(&PlanRequest::new().offer(lot()), Capacity::from_gib(128)).unwrap();
    let (below, above) = (near.below.unwrap(), near.above.unwrap());
    assert_eq!(
        (below.assessment.figures.usable.total_mib, above.assessment.figures.usable.total_mib),
        (Capacity::from_gib(96), Capacity::from_gib(192))
    );
    let behind = planner.assess(&fitted(&["B2"])).unwrap();
    let codes: Vec<&str> = behind.from_severity(Severity::Error).map(|finding| finding.code.as_str()).collect();
    assert_eq!(codes, ["position-order"]);
}

#[test]
fn a_module_in_a_closed_slot_is_pulled() {
    let machine = closing(&["D1"]);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let present = fitted(&["A1", "B1", "C1", "D1"]);
    let error = planner.assess(&present).unwrap().from_severity(Severity::Error).next().unwrap().to_string();
    assert!(error.starts_with("error slot-live: ") && error.contains("a closed slot: bent contact"), "{error}");
    // what is left meets the wish: a plan that only pulls
    let plan = plan(&machine, &gib(96).present(present.clone()));
    assert_eq!((plan.pulled[0].slot.as_str(), plan.handlings, plan.lines.len()), ("D1", 1, 0));
    let pinned = gib(96).present(Present::new(present).pinned([name("D1")]));
    let error = planner.plan(&pinned).unwrap_err();
    let why = MustGo::Closed { reason: name("bent contact") };
    assert_eq!(error.problems, [RequestProblem::CannotStay { slot: name("D1"), why }]);
}

#[test]
fn only_slots_of_the_board_can_be_closed() {
    let error = one_processor().closed_slot(name("Z9"), name("damaged")).build().unwrap_err().to_string();
    assert!(error.contains("there is no slot \"Z9\"; allowed: A1, A2, A3, B1"), "{error}");
}

#[test]
fn a_failed_module_is_pulled_and_never_counted() {
    let machine = one_processor().build().unwrap();
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let present = failed(fitted(&["A1", "B1", "C1"]), "D1");
    let now = planner.assess(&present).unwrap();
    assert_eq!(now.figures.installed.total_mib, Capacity::from_gib(96));
    assert_eq!(now.findings[0].code.as_str(), "faulty-module");
    // by itself, though three channels of four are then odd
    let pulled = plan(&machine, &gib(96).present(present.clone()));
    assert_eq!((pulled.pulled[0].slot.as_str(), pulled.handlings), ("D1", 1));
    assert_eq!(pulled.pulled[0].fault, Some(Fault::Failed));
    // and another in its place, where the wish asks for it
    let request = gib(128).present(present.clone()).offer(lot());
    let replaced = plan(&machine, &request);
    assert_eq!((slots(&replaced).as_str(), replaced.handlings), ("A1 B1 C1 D1", 2));
    assert_eq!(replaced.slots[3].source, ModuleSource::Offer { id: name("lot") });
    // it is put on no shelf
    assert!(request.after(&replaced).shelf.is_empty());
    // nor is it one that may be asked for
    assert!(matches!(planner.plan(&gib(128).present(present.clone())).unwrap(), Outcome::Infeasible(_)));
    let error = planner.plan(&gib(96).present(Present::new(present).pinned([name("D1")]))).unwrap_err();
    assert_eq!(error.to_string(), "request: slot D1 is pinned but its module cannot stay: it is failed");
}

#[test]
fn stand_ins_for_what_failed_and_for_what_is_gone() {
    let machine = one_processor().build().unwrap();
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let shelf = [
        ShelfItem::new(name("like"), module(DUAL), 1),
        ShelfItem::new(name("slower"), module("32GB 2Rx4 PC4-2133P-RB0-10"), 1),
        ShelfItem::new(name("smaller"), module("16GB 2Rx4 PC4-2400T-RA1-11"), 1),
    ];
    let sources = |request: &PlanRequest| {
        let found = planner.stand_ins(request, "D1").unwrap();
        found.iter().map(|found| found.source.to_string()).collect::<Vec<_>>().join(", ")
    };
    let there = fitted(&["A1", "B1", "C1"]);
    let faulty = PlanRequest::new().present(failed(there.clone(), "D1")).shelf(shelf.clone());
    assert_eq!(sources(&faulty), "shelf like");
    // at which rate it ran nobody knows once it is gone
    let gone = PlanRequest::new().present(there).shelf(shelf);
    assert_eq!(sources(&gone), "shelf like, shelf slower");
    assert_eq!(sources(&gone.rate_at_least(DataRate::DDR4_2400)), "shelf like");
}

#[test]
fn a_slot_to_be_kept_empty_stays_live_and_empty() {
    let machine = one_processor().build().unwrap();
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let request = gib(128).offer(lot()).present(Present::default().keep_empty([name("D1")]));
    // to leave a channel empty beside two in another is not to be signed
    assert!(planner.plan(&request).unwrap().optimal().is_none());
    let plan = plan(&machine, &request.refuse_from(Severity::Error));
    assert_eq!(slots(&plan), "A1 B1 C1 A2");
    let present = fitted(&["A1", "B1", "C1", "D1"]);
    let moved = planner
        .plan(&gib(96).present(Present::new(present.clone()).keep_empty([name("D1")])).refuse_from(Severity::Error))
        .unwrap();
    assert_eq!(moved.optimal().unwrap().pulled[0].slot.as_str(), "D1");
    let error = planner
        .plan(&gib(96).present(Present::new(present).keep_empty([name("D1")]).pinned([name("D1")])))
        .unwrap_err();
    assert_eq!(
        error.to_string(),
        "request: slot D1 is pinned but its module cannot stay: the slot is to be kept empty"
    );
    let error = planner.plan(&gib(96).present(Present::default().keep_empty([name("Z9")]))).unwrap_err().to_string();
    assert!(error.starts_with("request: slot Z9 is to be kept empty but the board has no such slot"), "{error}");
}

#[test]
fn a_slot_with_another_device_cannot_be_kept_empty() {
    let machine = one_processor().build().unwrap();
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let mut there = Population::new();
    there.put(name("D1"), boards::other_device());
    let kept = [name("D1")];
    let planned = planner.plan(&gib(96).offer(lot()).present(Present::new(there.clone()).keep_empty(kept.clone())));
    assert_eq!(
        planned.unwrap_err().to_string(),
        "request: slot D1 is to be kept empty, but holds another device (persistent device), and such devices stay where \
         they are"
    );
    let met = planner.meet_mode_with(&ModeRequest::new(there.clone()).keep_empty(kept.clone())).unwrap_err();
    assert_eq!(met.problems, [RequestProblem::OtherDevice { slot: name("D1"), device: name("persistent device") }]);
    let said = "slot D1 is to be kept empty, but a module or another device stays there";
    let even = planner.even_out_with(&EvenRequest::new(there.clone()).keep_empty(kept.clone())).unwrap_err();
    assert_eq!(even.to_string(), said);
    let arranged = planner.arrange_with(&ArrangeRequest::new().around(there).keep_empty(kept)).unwrap_err();
    assert_eq!(arranged.to_string(), said);
}

#[test]
fn evening_out_and_meeting_a_mode_keep_slots_empty() {
    let mirrored = Settings::default().mode(name("mirrored"));
    let machine = one_processor().settings(mirrored).build().unwrap();
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let three = fitted(&["A1", "B1", "C1"]);
    let request = ModeRequest::new(three.clone()).keep_empty([name("D1")]);
    let answer = planner.meet_mode_with(&request).unwrap();
    let adding = answer.adding.unwrap();
    assert!(adding.population.get("D1").is_none(), "{adding}");
    let machine = one_processor().build().unwrap();
    let planner = Planner::new(&machine, &rules);
    let even = planner.even_out_with(&EvenRequest::new(three.clone()).keep_empty([name("D1")])).unwrap();
    assert!(even.adding.is_none() && even.moving.is_none() && even.taking_out.is_none(), "{even}");
    let error = planner.even_out_with(&EvenRequest::new(three.clone()).keep_empty([name("C1")])).unwrap_err();
    assert_eq!(error.to_string(), "slot C1 is to be kept empty, but a module or another device stays there");
    // what failed is taken out in any case
    let even = planner.even_out(&failed(three, "A2")).unwrap();
    assert_eq!(even.adding.unwrap().taken_out, [name("A2")]);
    let arranged =
        planner.arrange_with(&ArrangeRequest::new().piece(module(DUAL), 1).around(failed(Population::new(), "A1")));
    assert!(arranged.unwrap().best().is_err());
}

#[test]
fn what_stays_keeps_its_name() {
    let machine = one_processor().build().unwrap();
    let rules = RuleBook::standard();
    let individual = Individual::new(name("S-1"));
    let named = Occupant::Module(Fitted::new(module(DUAL)).individual(individual));
    let mut present = fitted(&["B1", "C1"]);
    present.put(name("A1"), named.clone());
    let even = Planner::new(&machine, &rules).even_out(&present).unwrap();
    let adding = even.adding.unwrap();
    assert_eq!((adding.added[0].1, adding.population.get("A1")), (1, Some(&named)));
}

#[test]
fn what_nobody_judges_is_not_legal() {
    let machine = one_processor().build().unwrap();
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let mut population = fitted(&["A1", "B1", "C1", "D1"]);
    assert_eq!(planner.assess(&population).unwrap().legality(), Legality::Legal);
    let device = OtherDevice::new(DeviceSort::Persistent, Capacity::from_gib(128), name("persistent device"));
    population.put(name("A2"), Occupant::OtherDevice(device));
    let assessment = planner.assess(&population).unwrap();
    assert_eq!(assessment.legality(), Legality::Unknown);
    assert!(!assessment.is_legal());
    assert!(assessment.findings.iter().any(|finding| finding.verdict == Verdict::Unknown));
    population.put(name("A3"), Occupant::module(module("16GB 2Rx8 PC4-2400T-EE2-11")));
    assert_eq!(planner.assess(&population).unwrap().legality(), Legality::Illegal);
}

#[test]
fn blanks_stay_where_nothing_comes() {
    let machine = one_processor().build().unwrap();
    let mut present = fitted(&["A1", "B1", "C1"]);
    for slot in ["D1", "A2"] {
        present.put(name(slot), Occupant::Blank);
    }
    let plan = plan(&machine, &gib(128).present(present).offer(lot()));
    assert_eq!(plan.handlings, 1);
    assert_eq!(plan.population.get("A2"), Some(&Occupant::Blank));
    assert!(matches!(plan.population.get("D1"), Some(Occupant::Module(_))));
}

// What lies behind a closed slot cannot be filled: the board fills a channel from its far end.
#[test]
fn a_slot_behind_a_closed_one_takes_nothing() {
    let closed = Machine::builder(reference::ddr4_2s_4ch_3spc())
        .processor_named("1", "later")
        .closed_slot(name("B1"), name("bent contacts"))
        // what is closed stays closed
        .settings(Settings::default().rate_cap(DataRate::DDR4_2133))
        .build()
        .unwrap();
    let rules = RuleBook::standard();
    let accepted = Planner::new(&closed, &rules).accepts(&module("32GB 2Rx4 PC4-2400T-RB2-11"));
    assert_eq!((accepted.at_most, accepted.fits.len()), (9, 9));
    let refused: Vec<&str> = accepted.refused.iter().flat_map(|refused| &refused.slots).map(Name::as_str).collect();
    assert_eq!(refused, ["B2", "B3"]);
    let text = accepted.to_string();
    assert!(text.contains("found slot B1 closed: bent contacts"), "{text}");
}
