//! Modules that are known one by one: two of equal facts are never exchanged, unless something depends on which one it is.

use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::fill::ArrangeRequest;
use slotwright::machine::Machine;
use slotwright::module::{Individual, Label, MemoryModule};
use slotwright::platform::Settings;
use slotwright::population::{Changes, Fitted, Occupant, Population};
use slotwright::purchase::{ModuleSource, Offer, Outcome, Plan, PlanRequest, Present};
use slotwright::reference;
use slotwright::rule::RuleBook;
use slotwright::unit::{Capacity, DataRate, Name, Price};

use crate::boards::{self, Source, bytes, name};
use crate::purchase_oracle::{self, case};

fn module() -> MemoryModule {
    "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>().unwrap().to_module()
}

fn one(module: MemoryModule, id: &str) -> Occupant {
    let individual = Some(Individual::new(name(id)));
    Occupant::Module(Fitted::new(module).individual(individual))
}

/// Equal modules, each named after the slot in which it is now.
fn named(slots: &[&str]) -> Population {
    slots.iter().map(|slot| (name(slot), one(module(), &format!("from {slot}")))).collect()
}

/// Which module sits in each slot.
fn which(population: &Population) -> Vec<String> {
    let id = |fitted: &Fitted| fitted.individual.as_ref().map_or("new".to_owned(), |one| one.id.to_string());
    population.modules().map(|(slot, fitted)| format!("{slot} {}", id(fitted))).collect()
}

fn machine(mode: &str) -> Machine {
    let settings = Settings::default().mode(name(mode));
    let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later");
    machine.settings(settings).build().unwrap()
}

fn euros(minor: u64) -> Price {
    Price::new(minor, "EUR".parse().unwrap())
}

fn plan(machine: &Machine, request: &PlanRequest) -> Plan {
    let rules = RuleBook::standard();
    match Planner::new(machine, &rules).plan(request).unwrap() {
        Outcome::Optimal(plan) => plan,
        other => panic!("{other}"),
    }
}

/// So much bandwidth that two modules must move.
fn four_channels() -> PlanRequest {
    PlanRequest::new().bandwidth_at_least(DataRate::DDR4_2400.peak_bandwidth().times(4, 1))
}

#[test]
fn a_plan_moves_what_must_move_and_exchanges_no_equals() {
    let before = named(&["A1", "A2", "B1", "B2"]);
    let request = four_channels().present(before.clone());
    let plan = plan(&machine("independent"), &request);
    assert_eq!(which(&plan.population), ["A1 from A1", "B1 from B1", "C1 from A2", "D1 from B2"]);
    assert_eq!(plan.handlings, 4);
    let text = Changes(&before.changes_to(&plan.population)).to_string();
    assert_eq!(text.lines().count(), 4, "{text}");
}

#[test]
fn a_plan_that_adds_leaves_what_is_there() {
    let offer = Offer::new(name("lot"), module(), euros(100), 8);
    let request = PlanRequest::new().usable_at_least(Capacity::from_gib(256)).offer(offer);
    let plan = plan(&machine("independent"), &request.present(named(&["B1", "C1", "A1", "D1"])));
    let stay: Vec<String> = which(&plan.population).into_iter().filter(|text| !text.ends_with("new")).collect();
    assert_eq!(stay, ["A1 from A1", "B1 from B1", "C1 from C1", "D1 from D1"]);
    assert_eq!(plan.handlings, 4);
}

/// Which of two equal modules is pulled is no matter until one of them is credited, or must stay.
#[test]
fn names_matter_where_a_request_speaks_of_one_of_them() {
    let machine = machine("independent");
    let request = PlanRequest::new().usable_at_least(Capacity::from_gib(32)).usable_at_most(Capacity::from_gib(32));
    let present = Present::new(named(&["A1", "B1"]));
    let pulled = |present: Present| {
        let plan = plan(&machine, &request.clone().present(present));
        assert_eq!(plan.handlings, 1);
        plan.pulled[0].individual.as_ref().unwrap().id.to_string()
    };
    assert_eq!(pulled(present.clone()), "from B1");
    assert_eq!(pulled(present.clone().credits([(name("A1"), euros(500))])), "from A1");
    assert_eq!(pulled(present.pinned([name("B1")])), "from A1");
}

#[test]
fn arranging_around_named_modules_leaves_each_where_it_is() {
    let (machine, rules) = (machine("independent"), RuleBook::standard());
    let request = ArrangeRequest::new().piece(module(), 2).around(named(&["D1", "B1"]));
    let arranged = Planner::new(&machine, &rules).arrange_with(&request).unwrap();
    let population = arranged.best().unwrap().population.clone();
    assert_eq!(which(&population), ["A1 new", "B1 from B1", "C1 new", "D1 from D1"]);
}

#[test]
fn evening_out_moves_as_few_as_if_none_had_a_name() {
    let (machine, rules) = (machine("independent"), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let before = named(&["A1", "A2", "B1", "C1"]);
    let moving = planner.even_out(&before).unwrap().moving.unwrap();
    assert_eq!(moving.moves, 1);
    // of what moves it is not said which one it is
    assert_eq!(which(&moving.population), ["A1 from A1", "B1 from B1", "C1 from C1", "D1 new"]);
    assert_eq!(before.changes_to(&moving.population).len(), 2);
    let adding = planner.even_out(&named(&["A1", "B1", "C1"])).unwrap().adding.unwrap();
    assert_eq!(which(&adding.population), ["A1 from A1", "B1 from B1", "C1 from C1", "D1 new"]);
    let taking_out = planner.even_out(&named(&["A1", "B1", "C1", "D1", "A2"])).unwrap().taking_out.unwrap();
    assert_eq!(which(&taking_out.population), ["A1 from A1", "B1 from B1", "C1 from C1", "D1 from D1"]);
}

#[test]
fn a_mode_is_met_without_exchanging_equals() {
    let (machine, rules) = (machine("mirrored"), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let met = planner.meet_mode(&named(&["A1", "B1", "C1", "D1"])).unwrap().moving.unwrap();
    assert_eq!((met.handlings, met.moves.len()), (0, 0));
    let moving = planner.meet_mode(&named(&["A1", "B1", "C1", "C2"])).unwrap().moving.unwrap();
    assert_eq!((moving.handlings, moving.moves.as_slice()), (2, &[(name("C2"), name("D1"))][..]));
    assert_eq!(which(&moving.population), ["A1 from A1", "B1 from B1", "C1 from C1", "D1 from C2"]);
    let pulling = planner.meet_mode(&named(&["A1", "B1", "C1"])).unwrap().pulling.unwrap();
    assert_eq!(which(&pulling.population), ["A1 from A1", "B1 from B1"]);
}

#[test]
fn the_second_stage_leaves_what_the_first_one_put_in() {
    let (machine, rules) = (machine("independent"), RuleBook::standard());
    let offer = || Offer::new(name("lot"), module(), euros(100), 16);
    let now = four_channels().offer(offer()).present(named(&["A1", "A2", "B1", "B2"]));
    let later = PlanRequest::new().usable_at_least(Capacity::from_gib(256)).offer(offer());
    let stages = Planner::new(&machine, &rules).stages(&now, &later).unwrap();
    let best = stages.best.unwrap();
    let moved = ["A1 from A1", "B1 from B1", "C1 from A2", "D1 from B2"];
    assert_eq!(which(&best.now.population), moved);
    let kept: Vec<String> = which(&best.later.population).into_iter().filter(|text| !text.ends_with("new")).collect();
    assert_eq!(kept, moved);
    assert_eq!((best.now.handlings, best.later.handlings), (4, 4));
}

/// Two records of what is fitted are another matter: there a module that is elsewhere is a change.
#[test]
fn a_named_module_that_is_recorded_elsewhere_is_a_change() {
    let before = named(&["A1", "B1"]);
    let after: Population =
        [("A1", "from B1"), ("B1", "from A1")].map(|(slot, id)| (name(slot), one(module(), id))).into_iter().collect();
    assert_eq!(before.changes_to(&after).len(), 2);
}

/// The same request where each present module has a name.
fn with_names(request: &PlanRequest) -> PlanRequest {
    let with_name = |(slot, occupant): (&Name, &Occupant)| match occupant {
        Occupant::Module(fitted) => {
            let individual = Some(Individual::new(slot.clone()));
            (slot.clone(), Occupant::Module(fitted.clone().individual(individual)))
        }
        other => (slot.clone(), other.clone()),
    };
    let mut named = request.clone();
    named.present.population = request.present.population.iter().map(with_name).collect();
    named
}

fn without_names(mut plan: Plan) -> Plan {
    let bare = |(slot, occupant): (&Name, &Occupant)| match occupant {
        Occupant::Module(fitted) => (slot.clone(), Occupant::Module(fitted.clone().individual(None))),
        other => (slot.clone(), other.clone()),
    };
    plan.population = plan.population.iter().map(bare).collect();
    plan.pulled.iter_mut().for_each(|pulled| pulled.individual = None);
    plan.without_warnings = plan.without_warnings.map(|plan| Box::new(without_names(*plan)));
    plan
}

proptest! {
    #![proptest_config(boards::config(300))]

    /// Names change no plan; and where a module comes to a slot whose own is equal to it, that one is pulled, for a credit.
    #[test]
    fn law_equal_modules_are_not_exchanged(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 4);
        let request = purchase_oracle::request(&mut source, &machine, 2);
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let (Outcome::Optimal(bare), Outcome::Optimal(named)) =
            (planner.plan(&request).unwrap(), planner.plan(&with_names(&request)).unwrap()) else { return Ok(()) };
        for planned in named.slots.iter().filter(|planned| planned.source != ModuleSource::Stays) {
            let Some(Occupant::Module(own)) = request.present.population.get(planned.slot.as_str()) else { continue };
            let goes = named.pulled.iter().any(|pulled| pulled.slot == planned.slot);
            let credited = request.present.credits.contains_key(&planned.slot);
            prop_assert!(own.module != planned.module || (goes && credited), "{named}\n{}", case(&machine, &request));
        }
        prop_assert_eq!(without_names(named), bare, "{}", case(&machine, &request));
    }
}
