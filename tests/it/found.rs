//! What reading and probing found wrong once, each kept as a test.

use std::collections::BTreeSet;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicU64, Ordering};

use slotwright::assess::{Planner, Progress, SearchSize, StopReason};
use slotwright::fill::Arrangement;
use slotwright::machine::Machine;
use slotwright::module::{Generation, MemoryModule, ModuleKind};
use slotwright::platform::{
    ChannelDescription, ChannelGroup, ControllerDescription, Identical, Mode, PlatformDescription, Redundancy,
    Settings, SlotDescription, SocketDescription,
};
use slotwright::population::{Layout, Population};
use slotwright::processor::{ModulePattern, ProcessorDescription, RateTable};
use slotwright::purchase::{Offer, Outcome, PlanRequest, Present};
use slotwright::reference;
use slotwright::rule::RuleBook;
use slotwright::stated::Basis;
use slotwright::unit::{Capacity, DataRate};
use slotwright::{Severity, ShelfItem};

use crate::boards::{module, name};
use crate::purchase_oracle::euros;

/// A processor that states no more than it must.
pub fn processor() -> ProcessorDescription {
    let kinds = [ModuleKind::Registered, ModuleKind::LoadReduced];
    ProcessorDescription::new(name("processor"), Generation::Ddr4, kinds, DataRate::DDR4_2400, Basis::DataSheet)
}

/// Sockets of so many channels of so many slots.
pub fn description(sockets: usize, channels: usize, slots: usize) -> PlatformDescription {
    let slot = |s: usize, c: usize, p: usize| {
        let label = name(&format!("{}{}{}", s + 1, char::from(b'A' + u8::try_from(c).unwrap()), p + 1));
        let turn = (p * channels + c) * sockets + s;
        SlotDescription::new(label, u8::try_from(p).unwrap(), u16::try_from(turn).unwrap())
    };
    let channel = |s: usize, c: usize| {
        ChannelDescription::new(
            name(&char::from(b'A' + u8::try_from(c).unwrap()).to_string()),
            (0..slots).map(|p| slot(s, c, p)),
        )
    };
    let socket = |s: usize| {
        SocketDescription::new(
            name(&(s + 1).to_string()),
            [ControllerDescription::new(name("0"), (0..channels).map(|c| channel(s, c)))],
        )
    };
    PlatformDescription::new(name("board"), Generation::Ddr4, (0..sockets).map(socket).collect())
}

pub fn machine(description: PlatformDescription, processor: ProcessorDescription) -> Machine {
    let sockets: Vec<_> = description.sockets.iter().map(|socket| socket.label.clone()).collect();
    let processor = processor.build().unwrap();
    let start = Machine::builder(description.build().unwrap());
    sockets.iter().fold(start, |machine, socket| machine.processor(socket.as_str(), processor.clone())).build().unwrap()
}

fn board(sockets: usize, channels: usize, slots: usize) -> Machine {
    machine(description(sockets, channels, slots), processor())
}

/// Modules that differ in a fact that rules may read: the maker's class.
fn sort(number: usize) -> MemoryModule {
    plain().to_builder().class(name(&format!("class {number}"))).build().unwrap()
}

fn plain() -> MemoryModule {
    module("32GB 2Rx4 PC4-2400T-RB2-11")
}

/// A request for nothing but that these modules stay where they are.
fn pinned(modules: &[(String, MemoryModule)]) -> PlanRequest {
    let population: Population =
        modules.iter().map(|(slot, module)| (name(slot), slotwright::Occupant::module(module.clone()))).collect();
    let present = Present::new(population).pinned(modules.iter().map(|(slot, _)| name(slot)));
    PlanRequest::new().present(present).refuse_from(Severity::Error)
}

// The search must not refuse what the rule book only warns of.

#[test]
fn a_mode_on_a_makers_list_refuses_no_plan_that_accepts_warnings() {
    let group = ChannelGroup::new(name("1"), ["A", "B"].map(name).to_vec());
    let mode = Mode::new(name("mirrored"), Redundancy::Mirrored, Basis::MakersList)
        .groups([group])
        .identical(Identical::Capacity);
    let default_settings = Settings::default().mode(name("mirrored"));
    let board = description(1, 2, 1).default_settings(default_settings).modes([mode]);
    let (machine, rules) = (machine(board, processor()), RuleBook::standard());
    let small = module("16GB 2Rx4 PC4-2400T-RA1-11");
    let outcome =
        Planner::new(&machine, &rules).plan(&pinned(&[("1A1".into(), small), ("1B1".into(), plain())])).unwrap();
    assert!(outcome.optimal().is_some(), "{outcome}");
}

#[test]
fn a_rate_table_of_a_makers_list_refuses_no_plan_that_accepts_warnings() {
    let registered = ModulePattern::kind(ModuleKind::Registered);
    let rate_table = Some(RateTable::new(Basis::MakersList).by_load(&registered, &[None]));
    let machine = machine(description(1, 2, 1), processor().rate_table(rate_table));
    let rules = RuleBook::standard();
    let outcome = Planner::new(&machine, &rules).plan(&pinned(&[("1A1".into(), plain())])).unwrap();
    assert!(outcome.optimal().is_some(), "{outcome}");
}

// Sizes are no budgets, and no proofs.

#[test]
fn any_number_of_sorts_can_be_pinned() {
    let (machine, rules) = (board(8, 8, 1), RuleBook::standard());
    for sorts in [21, 63, 64] {
        let slots = machine.live_slots().map(|slot| machine.platform().slot(slot).label().to_string());
        let modules: Vec<_> = slots.zip((0..sorts).map(sort)).collect();
        let outcome = Planner::new(&machine, &rules).plan(&pinned(&modules)).unwrap();
        assert!(outcome.optimal().is_some_and(|plan| plan.slots.len() == sorts), "{sorts}: {outcome}");
    }
}

#[test]
fn too_many_sorts_are_said_to_be_too_many() {
    let (machine, rules) = (board(8, 8, 1), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let Arrangement::Stopped { reason, best, .. } = planner.arrange((0..63).map(|number| (sort(number), 1))).unwrap()
    else {
        panic!("63 sorts are more than are looked at");
    };
    assert_eq!(reason, StopReason::TooLarge { what: SearchSize::SortsOfModule, found: 63, limit: 62 });
    assert!(best.is_some_and(|legal| legal.assessment.is_legal() && legal.population.modules().count() == 63));
    let Arrangement::Stopped { reason, best, .. } = planner.arrange((0..40).map(|number| (sort(number), 1))).unwrap()
    else {
        panic!("40 sorts can be split in too many ways");
    };
    let is_size = matches!(reason, StopReason::TooLarge { what: SearchSize::SplitsOfModules, limit: 4_194_304, .. });
    assert!(is_size && best.is_some(), "{reason}");
}

#[test]
fn any_number_of_suppliers_may_charge() {
    let builder = Machine::builder(reference::ddr4_2s_8ch_2spc());
    let machine = builder.processor_named("1", "plain").processor_named("2", "plain").build().unwrap();
    let rules = RuleBook::standard();
    let mut request = PlanRequest::new().usable_at_least(Capacity::from_gib(512));
    for number in 0..20_usize {
        let (supplier, id) = (name(&format!("supplier {number}")), name(&format!("lot {number}")));
        request = request
            .offer(Offer::new(id, plain(), euros(3_000 + 100 * (number % 5)), 4).supplier(supplier.clone()))
            .supplier_charges([(supplier, euros(100 * (1 + number % 3)))]);
    }
    let outcome = Planner::new(&machine, &rules).plan(&request).unwrap();
    let plan = outcome.optimal().unwrap_or_else(|| panic!("{outcome}"));
    // four lots of four: three at 30.00 that charge 1.00, 3.00 and 2.00, and so on
    assert_eq!(plan.charges.len(), 4, "{plan}");
    let by_hand = (0..20_usize).map(|number| 4 * (3_000 + 100 * (number % 5)) + 100 * (1 + number % 3));
    let mut by_hand: Vec<usize> = by_hand.collect();
    by_hand.sort_unstable();
    assert_eq!(plan.cost.total.amount_minor(), i64::try_from(by_hand[..4].iter().sum::<usize>()).unwrap());
}

#[test]
fn every_slot_of_a_large_board_takes_a_module() {
    let (machine, rules) = (board(8, 8, 3), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let accepts = planner.accepts(&plain());
    assert_eq!((accepts.fits.len(), accepts.at_most, accepts.stopped), (192, 192, None));
    assert_eq!(accepts.capacity_mib, Capacity::from_gib(192 * 32));
}

#[test]
fn the_search_for_the_most_is_watched() {
    let (machine, rules) = (board(2, 8, 3), RuleBook::standard());
    let asked = AtomicU64::new(0);
    let watch = |_: Progress| {
        asked.fetch_add(1, Ordering::Relaxed);
        ControlFlow::Continue(())
    };
    let ceiling = Planner::new(&machine, &rules).watched(&watch).ceiling();
    assert!(ceiling.stopped.is_none() && !ceiling.rows.is_empty());
    assert!(asked.load(Ordering::Relaxed) > 0);
    let none = |_: Progress| ControlFlow::Break(());
    let planner = Planner::new(&machine, &rules);
    let planner = planner.watched(&none);
    assert_eq!(planner.ceiling().stopped, Some(StopReason::Cancelled));
    // what is known to fit is said all the same
    let accepts = planner.accepts(&plain());
    assert_eq!((accepts.at_most, accepts.stopped), (48, Some(StopReason::Cancelled)));
    assert!(accepts.to_string().contains("at least 48"), "{accepts}");
    assert_eq!(planner.fitting([&plain()]).len(), 1);
}

// One number does not end the process.

#[test]
fn packs_of_thousands_of_millions_are_no_matter() {
    let builder = Machine::builder(reference::ddr4_2s_4ch_3spc());
    let machine = builder.processor_named("1", "later").processor_named("2", "later").build().unwrap();
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let mut large = Offer::new(name("crate"), plain(), slotwright::Price::new(1, "EUR".parse().unwrap()), u32::MAX);
    large.pack = 2_000_000_000;
    let large = large.return_cost(slotwright::Price::new(0, "EUR".parse().unwrap()));
    let request = PlanRequest::new().usable_at_least(Capacity::from_gib(256)).offer(large);
    let plans = planner.plans(&request, 3).unwrap();
    assert!(plans.stopped.is_none(), "{plans}");
    assert_eq!(plans.plans[0].lines[0].returned, 2_000_000_000 - 8);
    let later = PlanRequest::new().usable_at_least(Capacity::from_gib(512));
    let stages = planner.stages(&request, &later).unwrap();
    assert!(stages.best.is_some() || stages.stopped.is_some(), "{stages}");
}

#[test]
fn packs_with_surplus_values_are_sourced() {
    let builder = Machine::builder(reference::ddr4_2s_8ch_2spc());
    let machine = builder.processor_named("1", "plain").processor_named("2", "plain").build().unwrap();
    let rules = RuleBook::standard();
    let cents = |minor: u64| slotwright::Price::new(minor, "EUR".parse().unwrap());
    let mut request = PlanRequest::new().usable_at_least(Capacity::from_gib(256));
    for number in 0..9_u64 {
        let price = 3_000 + 37 * number;
        let offer = Offer::new(name(&format!("lot {number}")), plain(), cents(price), 60);
        let pack = u32::try_from(3 + number % 5).unwrap();
        request = request.offer(offer.pack(pack).surplus_value(cents(price - 400 - 29 * (number % 4))));
    }
    let outcome = Planner::new(&machine, &rules).plan(&request).unwrap();
    assert!(outcome.optimal().is_some(), "{outcome}");
    // the search itself is small
    let few = Planner::new(&machine, &rules).plan(&request.nodes(50_000)).unwrap();
    assert_eq!(few.optimal().map(|plan| plan.cost.total), outcome.optimal().map(|plan| plan.cost.total));
}

// What differs in part number alone is placed as one.

#[test]
fn many_parts_are_arranged() {
    let builder = Machine::builder(reference::ddr4_2s_8ch_2spc());
    let machine = builder.processor_named("1", "plain").processor_named("2", "plain").build().unwrap();
    let rules = RuleBook::standard();
    let part = |number: usize| plain().to_builder().part_number(name(&format!("part {number:02}"))).build().unwrap();
    let arrangement = Planner::new(&machine, &rules).arrange((0..16).map(|number| (part(number), 2))).unwrap();
    let legal = arrangement.best().unwrap();
    assert_eq!(legal.population.modules().count(), 32);
    // two of a part in each channel
    let layout = Layout::new(&machine, &legal.population).unwrap();
    for channel in layout.channels() {
        let parts: BTreeSet<_> = channel.modules().map(|site| site.module).collect();
        assert_eq!(parts.len(), 1, "{parts:?}");
    }
}

// An end says why it ended, and what is proved all the same.

#[test]
fn a_stop_names_what_is_proved() {
    let builder = Machine::builder(reference::ddr4_2s_4ch_3spc());
    let machine = builder.processor_named("1", "later").processor_named("2", "later").build().unwrap();
    let rules = RuleBook::standard();
    let shelf = (0..6).map(|number| ShelfItem::new(name(&format!("bin {number}")), sort(number), 24));
    let request = PlanRequest::new().usable_at_least(Capacity::from_gib(384)).refuse_from(Severity::Error).shelf(shelf);
    let mut proved = 0;
    for nodes in [10, 30, 100, 300, 1_000, 3_000, 10_000] {
        let outcome = Planner::new(&machine, &rules).plan(&request.clone().nodes(nodes)).unwrap();
        if let Outcome::Stopped { best: Some(best), cost_at_least, .. } = &outcome {
            let is_proved = best.cost.total.amount_minor() == cost_at_least.amount_minor();
            assert_eq!(outcome.is_cost_proved(), is_proved, "{outcome}");
            assert_eq!(outcome.to_string().contains("No plan costs less"), is_proved, "{outcome}");
            proved += usize::from(is_proved);
        }
    }
    assert!(proved > 0);
}

#[test]
fn what_any_plan_costs_at_least_is_never_too_much() {
    let machine = board(1, 2, 2);
    let rules = RuleBook::standard();
    let quick = module("32GB 2Rx4 PC4-2666V-RB2-12");
    let charges = name("charges");
    let offer = |id: &str, module: &MemoryModule, price: usize, stock| {
        Offer::new(name(id), module.clone(), euros(price), stock)
    };
    // two of 32 GiB cost the least but for the charge, one of each sort much more; four of 16 GiB cost a little more
    let request = PlanRequest::new()
        .usable_at_least(Capacity::from_gib(64))
        .offer(offer("plain", &plain(), 1_000, 2).supplier(charges.clone()))
        .offer(offer("quick", &quick, 3_000, 2).supplier(charges.clone()))
        .offer(offer("small", &module("16GB 2Rx8 PC4-2400T-RE2-11"), 600, 4))
        .supplier_charges([(charges, euros(100_000))]);
    let planner = Planner::new(&machine, &rules);
    let outcome = planner.plan(&request).unwrap();
    let proved = outcome.optimal().unwrap_or_else(|| panic!("{outcome}")).cost.total.amount_minor();
    assert_eq!(proved, 2_400);
    for nodes in 0..200 {
        if let Outcome::Stopped { cost_at_least, .. } = planner.plan(&request.clone().nodes(nodes)).unwrap() {
            assert!(cost_at_least.amount_minor() <= proved, "{nodes} nodes: {cost_at_least}");
        }
    }
}
