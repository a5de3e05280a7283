//! Layouts and plans as a technician would sign them, worked out by hand (common practice, no source).

use std::collections::BTreeMap;

use itertools::Itertools;
use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::finding::{Finding, Severity};
use slotwright::machine::Machine;
use slotwright::module::{Ecc, FormFactor, Generation, Label, MemoryModule, ModuleKind, Stack, Voltages};
use slotwright::platform::{
    ChannelDescription, ControllerDescription, Platform, PlatformDescription, Settings, SlotDescription, SlotId,
    SocketDescription,
};
use slotwright::population::{Layout, Population};
use slotwright::processor::{MissingFact, ProcessorDescription};
use slotwright::purchase::{Axis, ModuleSource, Offer, Plan, PlanRequest};
use slotwright::reference;
use slotwright::rule::RuleBook;
use slotwright::stated::Basis;
use slotwright::unit::{Capacity, Cost, DataRate, Name, Price, Voltage};

use crate::boards::{self, Source, bytes, config, name};
use crate::evenness::{Unit, units};
use crate::judge;

fn module(label: &str) -> MemoryModule {
    label.parse::<Label>().unwrap().to_module()
}

/// A board with the same processor in every socket.
fn machine(platform: Platform, processor: &str) -> Machine {
    let sockets: Vec<String> = platform.socket_ids().map(|id| platform.socket(id).label.to_string()).collect();
    let machine = Machine::builder(platform);
    sockets.iter().fold(machine, |machine, socket| machine.processor_named(socket, processor)).build().unwrap()
}

/// The labels of the filled slots, and what each processor holds in GB.
fn arranged(machine: &Machine, pieces: &[(&str, usize)]) -> (String, Vec<u64>) {
    let rules = RuleBook::standard();
    let pieces: Vec<_> = pieces.iter().map(|&(label, count)| (module(label), count)).collect();
    let arranged = Planner::new(machine, &rules).arrange(pieces).unwrap();
    let best = arranged.best().unwrap();
    let mut slots: Vec<String> = best.population.modules().map(|(slot, _)| slot.to_string()).collect();
    slots.sort_by_key(|slot| (slot[1..].to_owned(), slot.clone()));
    let held = best.assessment.figures.installed.sockets.iter().map(|socket| socket.capacity_mib.mib() / 1024);
    (slots.join(" "), held.collect())
}

const DUAL: &str = "32GB 2Rx4 PC4-2400T-RB2-11";

// 6 + 6, never 8 + 4 for a larger sum of bandwidths.
#[test]
fn twelve_alike_are_six_and_six() {
    let machine = machine(reference::ddr4_2s_4ch_3spc(), "later");
    let (slots, held) = arranged(&machine, &[(DUAL, 12)]);
    assert_eq!(slots, "A1 B1 C1 D1 E1 F1 G1 H1 A2 B2 E2 F2");
    assert_eq!(held, [192, 192]);
}

#[test]
fn an_odd_half_is_shared_out_all_the_same() {
    let machine = machine(reference::ddr4_2s_4ch_3spc(), "later");
    let (_, held) = arranged(&machine, &[(DUAL, 14)]);
    assert_eq!(held, [7 * 32, 7 * 32]);
    let (_, held) = arranged(&machine, &[(DUAL, 10)]);
    assert_eq!(held, [5 * 32, 5 * 32]);
}

#[test]
fn twenty_two_alike_on_eight_channels_are_eleven_and_eleven() {
    let machine = machine(reference::ddr4_2s_8ch_2spc(), "plain");
    let (_, held) = arranged(&machine, &[("32GB 2Rx4 PC4-3200AA-RB2-12", 22)]);
    assert_eq!(held, [11 * 32, 11 * 32]);
}

/// Two processors of eight channels with a slot each, "A1" to "H1" and "I1" to "P1", in this order by turn.
fn two_by_eight_by_one() -> Machine {
    let slot = |at: u8| {
        let label = format!("{}1", char::from(b'A' + at));
        ChannelDescription::new(
            label[..1].parse().unwrap(),
            [SlotDescription::new(label.parse().unwrap(), 0, u16::from(at))],
        )
    };
    let socket = |at: u8| {
        SocketDescription::new(
            (at + 1).to_string().parse().unwrap(),
            [ControllerDescription::new("0".parse().unwrap(), (at * 8..at * 8 + 8).map(slot))],
        )
    };
    let board =
        PlatformDescription::new("two by eight".parse().unwrap(), Generation::Ddr4, (0..2).map(socket).collect());
    let kinds = [ModuleKind::Registered];
    let name = "plain".parse().unwrap();
    let processor = ProcessorDescription::new(name, Generation::Ddr4, kinds, DataRate::DDR4_2400, Basis::DataSheet);
    let processor = processor.build().unwrap();
    let machine = Machine::builder(board.build().unwrap()).processor("1", processor.clone());
    machine.processor("2", processor).build().unwrap()
}

#[test]
fn two_sizes_are_shared_out_alike() {
    let (_, held) = arranged(&two_by_eight_by_one(), &[("64GB 4Rx4 PC4-2400T-RB2-11", 4), (DUAL, 4)]);
    assert_eq!(held, [192, 192]);
}

/// A machine with processors in its first sockets alone.
fn in_sockets(platform: Platform, processor: &str, sockets: usize) -> Machine {
    let labels: Vec<String> = platform.socket_ids().map(|id| platform.socket(id).label.to_string()).collect();
    let machine = Machine::builder(platform);
    let fitted = labels.iter().take(sockets);
    fitted.fold(machine, |machine, socket| machine.processor_named(socket, processor)).build().unwrap()
}

/// Offers of forty each, at so many minor units.
fn offers(lots: &[(&str, u64)]) -> Vec<Offer> {
    let price = |minor| Price::new(minor, "EUR".parse().unwrap());
    let offer = |&(label, minor): &(&str, u64)| {
        Offer::new(label.replace(' ', "-").parse().unwrap(), module(label), price(minor), 40)
    };
    lots.iter().map(offer).collect()
}

/// At so many GB, these lots, and this in these slots.
fn wish(gib: u32, lots: &[(&str, u64)], present: &[(&str, &str)]) -> PlanRequest {
    let fitted = present.iter().flat_map(|(slots, label)| slots.split(' ').map(move |slot| (slot, *label)));
    let population = fitted
        .fold(Population::new(), |population, (slot, label)| population.with(slot.parse().unwrap(), module(label)));
    PlanRequest::new().usable_at_least(Capacity::from_gib(gib)).offers(offers(lots)).present(population)
}

/// A plan in short: what it costs, its handlings, and what sits in which slots.
fn signed(machine: &Machine, request: &PlanRequest) -> (Plan, String) {
    let rules = RuleBook::standard();
    let outcome = Planner::new(machine, &rules).plan(request).unwrap();
    let plan = outcome.optimal().cloned().unwrap_or_else(|| panic!("{outcome}"));
    let mut by_module: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for slot in &plan.slots {
        by_module.entry(slot.module.capacity().to_string()).or_default().push(slot.slot.as_str());
    }
    let sorted = |mut slots: Vec<&str>| {
        slots.sort_unstable();
        slots.join(" ")
    };
    let fitted = by_module.into_iter().map(|(capacity, slots)| format!("; {capacity} in {}", sorted(slots)));
    let text = format!("{}, {} handlings{}", plan.cost.total, plan.handlings, fitted.collect::<String>());
    (plan, text)
}

/// The codes of the warnings of a plan.
fn warnings(plan: &Plan) -> Vec<&str> {
    plan.assessment.from_severity(Severity::Warning).map(|finding| finding.code.as_str()).collect()
}

/// What accepting all that is accepted saves in minor units, and the share of the best bandwidth then.
fn saved(machine: &Machine, request: &PlanRequest) -> (i64, Vec<String>, String) {
    let rules = RuleBook::standard();
    let savings = Planner::new(machine, &rules).savings(request).unwrap();
    let saving = savings.accepting.first().unwrap_or_else(|| panic!("{savings}"));
    let codes = saving.warnings.iter().map(ToString::to_string).collect();
    let share =
        saving.plan.assessment.figures.bandwidth.relative_spread.map_or_else(String::new, |share| share.to_string());
    (saving.saves.map_or(0, Cost::amount_minor), codes, share)
}

const LARGE: (&str, u64) = (DUAL, 3_000);
const SMALL: (&str, u64) = ("16GB 1Rx4 PC4-2400T-RC1-11", 1_700);

#[test]
fn an_empty_machine_gets_its_first_round() {
    let machine = machine(reference::ddr4_2s_4ch_3spc(), "later");
    let (plan, text) = signed(&machine, &wish(256, &[LARGE, SMALL], &[]).rate_at_least(DataRate::DDR4_2400));
    assert_eq!(text, "240.00 EUR, 8 handlings; 32 GB in A1 B1 C1 D1 E1 F1 G1 H1");
    assert!(warnings(&plan).is_empty());
}

#[test]
fn no_channel_is_emptied_to_escape_a_warning() {
    let machine = machine(reference::ddr4_2s_4ch_3spc(), "later");
    let request = wish(384, &[LARGE, SMALL], &[]).rate_at_least(DataRate::DDR4_2400);
    let (_, text) = signed(&machine, &request);
    let wanted = "376.00 EUR, 16 handlings; 16 GB in A2 B2 C2 D2 E2 F2 G2 H2; 32 GB in A1 B1 C1 D1 E1 F1 G1 H1";
    assert_eq!(text, wanted);
    let (saves, codes, share) = saved(&machine, &request);
    assert_eq!((saves, share.as_str()), (1_600, "75 %"), "{codes:?}");
}

#[test]
fn one_processor_has_no_use_for_the_slots_of_the_other() {
    let machine = in_sockets(reference::ddr4_2s_4ch_3spc(), "later", 1);
    let (plan, text) = signed(&machine, &wish(128, &[LARGE, SMALL], &[]));
    assert_eq!(text, "120.00 EUR, 4 handlings; 32 GB in A1 B1 C1 D1");
    let free: Vec<&str> = plan.free_slots.iter().map(Name::as_str).collect();
    assert_eq!(free.join(" "), "A2 B2 C2 D2 A3 B3 C3 D3");
}

#[test]
fn the_second_processor_gets_what_the_first_has() {
    let machine = machine(reference::ddr4_2s_4ch_3spc(), "later");
    let (plan, text) = signed(&machine, &wish(256, &[LARGE, SMALL], &[("A1 B1 C1 D1", DUAL)]));
    assert_eq!(text, "120.00 EUR, 4 handlings; 32 GB in A1 B1 C1 D1 E1 F1 G1 H1");
    assert!(plan.slots.iter().filter(|slot| slot.source == ModuleSource::Stays).count() == 4 && plan.pulled.is_empty());
    let part = "16GB 2Rx4 PC4-2400T-RB2-11";
    let request = wish(256, &[(part, 1_500)], &[("A1 B1 C1 D1 E1 F1 G1 H1", part)]);
    let (_, text) = signed(&machine, &request.rate_at_least(DataRate::DDR4_2400));
    let all = "A1 A2 B1 B2 C1 C2 D1 D2 E1 E2 F1 F2 G1 G2 H1 H2";
    assert_eq!(text, format!("120.00 EUR, 8 handlings; 16 GB in {all}"));
}

#[test]
fn six_channels_are_filled_twice() {
    let machine = machine(reference::ddr4_2s_6ch_2spc(), "later");
    let lots = [("32GB 2Rx4 PC4-2933Y-RB2-12", 3_000), ("16GB 1Rx4 PC4-2933Y-RC1-12", 1_700)];
    let (plan, text) = signed(&machine, &wish(512, &lots, &[]));
    let first = "A1 B1 C1 D1 E1 F1 G1 H1 I1 J1 K1 L1";
    let second = first.replace('1', "2");
    assert_eq!(text, format!("564.00 EUR, 24 handlings; 16 GB in {second}; 32 GB in {first}"));
    assert!(warnings(&plan).is_empty());
    assert_eq!(saved(&machine, &wish(512, &lots, &[])).0, 8_400);
}

#[test]
fn eight_channels_are_filled_twice_or_half() {
    let machine = machine(reference::ddr4_2s_8ch_2spc(), "plain");
    let lots = [("32GB 2Rx4 PC4-3200AA-RB2-12", 3_000), ("16GB 1Rx4 PC4-3200AA-RC1-12", 1_700)];
    let (_, text) = signed(&machine, &wish(768, &lots, &[]));
    assert!(text.starts_with("752.00 EUR, 32 handlings; 16 GB in A2 B2 "), "{text}");
    // uneven channels save 32.00
    let (_, text) = signed(&machine, &wish(768, &lots, &[]).refuse_from(Severity::Error));
    assert!(text.starts_with("720.00 EUR, 24 handlings; 32 GB in "), "{text}");
    let (plan, text) = signed(&machine, &wish(256, &lots, &[]));
    assert_eq!(text, "240.00 EUR, 8 handlings; 32 GB in C1 D1 G1 H1 K1 L1 O1 P1");
    assert!(plan.assessment.findings.iter().any(|finding| finding.code == "empty-channel"));
}

#[test]
fn three_channels_are_filled_twice() {
    let machine = in_sockets(reference::ddr3_1s_3ch_3spc(), "plain", 1);
    let lots = [("8GB 2Rx4 PC3-10600R-9-10-B0", 600), ("4GB 1Rx4 PC3-10600R-9-10-A0", 350)];
    let (_, text) = signed(&machine, &wish(32, &lots, &[]));
    assert_eq!(text, "28.50 EUR, 6 handlings; 4 GB in A2 B2 C2; 8 GB in A1 B1 C1");
    assert_eq!(saved(&machine, &wish(32, &lots, &[])).0, 450);
}

#[test]
fn a_full_board_of_uneven_wiring_is_even() {
    let machine = in_sockets(reference::ddr3_1s_uneven(), "plain", 1);
    let (plan, text) = signed(&machine, &wish(64, &[("8GB 2Rx4 PC3-10600R-9-10-B0", 600)], &[]));
    assert_eq!(text, "48.00 EUR, 8 handlings; 8 GB in A1 A2 A3 B1 B2 B3 C1 C2");
    assert!(warnings(&plan).is_empty());
}

#[test]
fn a_printed_number_is_no_warning() {
    let machine = machine(reference::ddr5_2s_8ch_2spc(), "plain");
    let request = wish(1536, &[("64GB 2Rx4 PC5-4800B-RA0-1010-XT", 9_000)], &[]);
    let (plan, text) = signed(&machine, &request.usable_at_most(Capacity::from_gib(1536)));
    assert!(text.starts_with("2160.00 EUR, 24 handlings; "), "{text}");
    assert!(warnings(&plan).is_empty());
    let named = |finding: &&Finding| finding.to_string().contains("asked by a printed row of 24 modules");
    assert!(plan.assessment.findings.iter().filter(named).count() >= 2, "{}", plan.assessment);
}

// With offers of the large module alone; with small ones at 17.00 four of these make 192 GB for less.
#[test]
fn four_are_added_rather_than_two() {
    let machine = in_sockets(reference::ddr4_2s_4ch_3spc(), "later", 1);
    let request = wish(192, &[LARGE], &[("A1 B1 C1 D1", DUAL)]);
    let (plan, text) = signed(&machine, &request);
    assert_eq!(text, "120.00 EUR, 4 handlings; 32 GB in A1 A2 B1 B2 C1 C2 D1 D2");
    assert!(warnings(&plan).is_empty());
    assert_eq!(saved(&machine, &request).0, 6_000);
    let (_, text) = signed(&machine, &request.refuse_from(Severity::Error));
    assert_eq!(text, "60.00 EUR, 2 handlings; 32 GB in A1 A2 B1 B2 C1 D1");
    let both = wish(192, &[LARGE, SMALL], &[("A1 B1 C1 D1", DUAL)]);
    assert_eq!(signed(&machine, &both).1, "68.00 EUR, 4 handlings; 16 GB in A2 B2 C2 D2; 32 GB in A1 B1 C1 D1");
}

// Half of what is fitted can be used, and that is what is interleaved.
#[test]
fn mirrored_memory_is_twice_what_is_usable() {
    let board = reference::ddr4_2s_4ch_3spc();
    let settings = Settings::default().mode(name("mirrored"));
    let machine = Machine::builder(board).processor_named("1", "later").processor_named("2", "later");
    let machine = machine.settings(settings).build().unwrap();
    let (plan, text) = signed(&machine, &wish(128, &[LARGE, SMALL], &[]));
    assert_eq!(text, "240.00 EUR, 8 handlings; 32 GB in A1 B1 C1 D1 E1 F1 G1 H1");
    assert!(warnings(&plan).is_empty());
    let figures = &plan.assessment.figures;
    let amounts = [figures.installed.total_mib, figures.usable.total_mib];
    assert_eq!(amounts.map(Capacity::whole_gib), [Some(256), Some(128)]);
    let regions = figures.interleave.domains.iter().flat_map(|domain| &domain.regions);
    let regions: Vec<_> = regions.map(|region| (region.ways, region.capacity_mib.whole_gib())).collect();
    assert_eq!(regions, [(4, Some(64)); 2]);
}

#[test]
fn what_meets_the_wish_already_is_left_alone() {
    let machine = machine(reference::ddr4_2s_4ch_3spc(), "later");
    let (plan, text) = signed(&machine, &wish(128, &[LARGE, SMALL], &[("A1 A2 B1 B2", DUAL)]));
    assert_eq!(text, "0.00 EUR, 0 handlings; 32 GB in A1 A2 B1 B2");
    let mut codes: Vec<&str> = plan.was_so_before.iter().map(|finding| finding.code.as_str()).collect();
    codes.sort_unstable();
    assert_eq!(codes, ["socket-minimum", "spread-first"]);
    assert_eq!(plan.to_string().matches(" (was so before)").count(), 2);
    // one large beside two small ones
    let machine = in_sockets(reference::ddr3_1s_3ch_3spc(), "plain", 1);
    let (large, small) = ("8GB 2Rx4 PC3-10600R-9-10-B0", "4GB 1Rx4 PC3-10600R-9-10-A0");
    let (plan, text) = signed(&machine, &wish(16, &[(large, 600), (small, 350)], &[("A1", large), ("B1 C1", small)]));
    assert_eq!(text, "0.00 EUR, 0 handlings; 4 GB in B1 C1; 8 GB in A1");
    assert_eq!(plan.was_so_before.len(), 2);
}

// A second processor never stays without memory where both can have some, whatever rate or bandwidth that costs.
#[test]
fn no_processor_stays_without_memory() {
    let machine = machine(reference::ddr4_2s_4ch_3spc(), "later");
    let (slots, held) = arranged(&machine, &[(DUAL, 1), ("16GB 1Rx4 PC4-2133P-RC1-10", 1)]);
    assert_eq!((slots.as_str(), held), ("A1 E1", vec![32, 16]));
}

/// The channels of a processor of which one could give a module of a later round to another that is empty in an earlier one,
/// without an error that was not there.
fn could_spread(planner: &Planner<'_>, population: &Population) -> Vec<String> {
    let layout = Layout::new(planner.machine(), population).unwrap();
    let platform = planner.machine().platform();
    let errors = |population: &Population| planner.assess(population).unwrap().from_severity(Severity::Error).count();
    let before = errors(population);
    let mut found = Vec::new();
    for (socket, _) in planner.machine().processors() {
        let units = units(&layout, socket);
        for (to, from) in units.iter().cartesian_product(&units) {
            let rounds = |unit: &Unit| {
                let held = |slots: &Vec<SlotId>| slots.iter().any(|&slot| layout.get(slot).module().is_some());
                unit.rounds.iter().map(|slots| slots.as_ref().map(held)).collect::<Vec<_>>()
            };
            let empty = rounds(to).iter().position(|held| *held == Some(false));
            let last = rounds(from).iter().rposition(|held| *held == Some(true));
            let (Some(empty), Some(last)) = (empty, last) else { continue };
            if empty >= last {
                continue;
            }
            let label = |unit: &Unit, round: usize| {
                let slots = unit.rounds[round].clone().unwrap();
                slots.into_iter().map(|slot| platform.slot(slot).label().clone()).collect::<Vec<_>>()
            };
            let mut moved = population.clone();
            for (slot, target) in label(from, last).iter().zip(label(to, empty)) {
                if let Some(occupant) = moved.take(slot.as_str()) {
                    moved.put(target, occupant);
                }
            }
            if errors(&moved) <= before {
                found.push(format!("{:?} to {:?}", label(from, last), label(to, empty)));
            }
        }
    }
    found
}

proptest! {
    #![proptest_config(config(120))]

    // outside printed rows
    #[test]
    fn law_no_channel_is_empty_beside_one_of_two_modules(bytes in bytes(80)) {
        let (machine, request) = wished(&mut Source::new(&bytes));
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let outcome = planner.plan(&request).unwrap();
        let Some(plan) = outcome.optimal() else { return Ok(()) };
        prop_assert!(warnings(plan).is_empty());
        if !plan.assessment.to_string().contains("asked by a") {
            let found = could_spread(&planner, &plan.population);
            prop_assert!(found.is_empty(), "{:?}\n{plan}", found);
        }
    }

    #[test]
    fn law_no_plan_has_less_bandwidth_than_the_fill_order_of_its_modules(bytes in bytes(80)) {
        let (machine, request) = wished(&mut Source::new(&bytes));
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let outcome = planner.plan(&request).unwrap();
        let Some(plan) = outcome.optimal() else { return Ok(()) };
        let mut modules: Vec<&MemoryModule> = plan.slots.iter().map(|slot| &slot.module).collect();
        let Some(order) = planner.fill_order(modules.len()) else { return Ok(()) };
        modules.sort_by(|a, b| machine.platform().description().fill_priority.compare(a, b));
        let by_turn = order.slots.into_iter().zip(modules);
        let by_turn = by_turn.fold(Population::new(), |all, (slot, module)| all.with(slot, module.clone()));
        let other = planner.assess(&by_turn).unwrap();
        let (ours, spread) = (&plan.assessment, |assessment| judge::spread(&machine, assessment));
        let is_as_good = other.from_severity(request.refuse_from).next().is_none()
            && judge::bare(&other) <= judge::bare(ours)
            && judge::rate(&other) >= judge::rate(ours)
            && spread(&other) <= spread(ours);
        if is_as_good {
            prop_assert!(judge::bandwidth(ours) >= judge::bandwidth(&other), "{plan}\nbut by turn\n{other}");
        }
    }
}

/// A machine on a reference board, and a wish for memory from some offers.
fn wished(source: &mut Source<'_>) -> (Machine, PlanRequest) {
    let (_, platform) = source.pick(reference::all());
    let platform = platform();
    let processor = source.pick(&platform.description().processors).name().to_string();
    let sockets = source.below(platform.sockets().len()) + 1;
    let generation = platform.generation();
    let machine = in_sockets(platform, &processor, sockets);
    let mut request = PlanRequest::new().nodes(200_000).savings_nodes(0);
    for index in 0..=source.below(4) {
        let price = Price::new(source.below(400) as u64 + 100, "EUR".parse().unwrap());
        let module = boards::any_module(source, generation);
        let id = format!("lot-{index}").parse().unwrap();
        request = request.offer(Offer::new(id, module, price, source.below(24) as u32 + 1));
    }
    let gib = source.below(12 * machine.live_slots().count()) as u32 + 8;
    (machine, request.usable_at_least(Capacity::from_gib(gib)))
}

/// 16 GB, registered, of two ranks, of which nobody knows density and width.
fn hardly_described() -> MemoryModule {
    MemoryModule::builder(Generation::Ddr4, ModuleKind::Registered, Capacity::from_gib(16))
        .form_factor(FormFactor::Dimm)
        .voltages(Voltages::only(Voltage::V1_2))
        .package_ranks(2)
        .stack(Stack::Single)
        .ecc(Ecc::Ecc)
        .grade(DataRate::DDR4_2400)
        .build()
        .unwrap()
}

// What runs is evidence: a fact that nobody knows pulls no module that works.
#[test]
fn what_runs_is_not_pulled_for_being_unknown() {
    let machine = machine(reference::ddr4_2s_4ch_3spc(), "later");
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let slots = ["A1", "B1", "C1", "D1", "E1", "F1", "G1", "H1"];
    let present = slots.iter().fold(Population::new(), |all, slot| all.with(name(slot), hardly_described()));
    let lot = Offer::new(name("lot"), module(DUAL), Price::new(3_000, "EUR".parse().unwrap()), 40);
    let request =
        |gib| PlanRequest::new().usable_at_least(Capacity::from_gib(gib)).present(present.clone()).offer(lot.clone());
    let plan = |request: &PlanRequest| planner.plan(request).unwrap().optimal().unwrap().clone();
    let met = plan(&request(128));
    assert_eq!((met.handlings, met.cost.total.amount_minor()), (0, 0));
    let said: Vec<String> = met.assessment.findings.iter().map(ToString::to_string).collect();
    assert!(said.iter().any(|said| said.starts_with("note die-density: taken not to be so: ")), "{said:#?}");
    assert!(met.assessment.from_severity(Severity::Warning).next().is_none(), "{said:#?}");
    assert_eq!(met.population, present);
    let more = plan(&request(384));
    assert!(more.pulled.is_empty(), "{more}");
    assert_eq!(more.slots.iter().filter(|slot| slot.module == hardly_described()).count(), 8, "{more}");
    // what is bought is held to known facts, unless they are accepted by name
    let unknown = Offer::new(name("unknown"), hardly_described(), Price::new(100, "EUR".parse().unwrap()), 40);
    let empty = PlanRequest::new().usable_at_least(Capacity::from_gib(128)).offer(unknown);
    assert!(planner.plan(&empty).unwrap().optimal().is_none());
    let accepting = empty.accept_unknown([MissingFact::DieDensity]);
    assert_eq!(plan(&accepting).lines[0].quantity, 8);
    // in a machine that stops for what is unknown, too
    let strict = RuleBook::standard().unknown_is_error();
    let kept = Planner::new(&machine, &strict).plan(&request(128)).unwrap();
    assert_eq!(kept.optimal().unwrap().handlings, 0);
}

// Eight large modules leave half of the channels empty; sixteen small ones cost 32.00 more.
#[test]
fn what_it_is_worth_to_fill_every_channel() {
    let machine = machine(reference::ddr4_2s_8ch_2spc(), "plain");
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let euros = |minor| Price::new(minor, "EUR".parse().unwrap());
    let offer = |id: &str, label: &str, minor| Offer::new(name(id), module(label), euros(minor), 40);
    let request = PlanRequest::new()
        .usable_at_least(Capacity::from_gib(256))
        .offer(offer("large", "32GB 2Rx4 PC4-3200AA-RB2-12", 3_000))
        .offer(offer("small", "16GB 1Rx4 PC4-3200AA-RC2-12", 1_700));
    let cost = |request: &PlanRequest| {
        let plan = planner.plan(request).unwrap().optimal().unwrap().clone();
        (plan.cost.total.to_string(), plan.slots.len())
    };
    assert_eq!(cost(&request), ("240.00 EUR".to_owned(), 8));
    assert_eq!(cost(&request.clone().worth_paying(euros(0))), ("240.00 EUR".to_owned(), 8));
    assert_eq!(cost(&request.clone().worth_paying(euros(3_100))), ("240.00 EUR".to_owned(), 8));
    let paying = request.clone().worth_paying(euros(4_000));
    assert_eq!(cost(&paying), ("272.00 EUR".to_owned(), 16));
    let plan = planner.plan(&paying).unwrap().to_string();
    assert!(
        plan.contains("note: the cheapest plan costs 240.00 EUR; up to 280.00 EUR the best was looked for"),
        "{plan}"
    );
    // the best, then the cheapest, then what else there is
    let plans = planner.plans(&paying, 3).unwrap().plans;
    assert_eq!(plans[0].cost.total.to_string(), "272.00 EUR");
    assert_eq!(plans[1].cost.total.to_string(), "240.00 EUR");
    let refused = planner.savings(&paying).unwrap_err().to_string();
    let text = "request: a plan may cost more for being better; what accepting warnings would save can only be asked of the \
                cheapest";
    assert_eq!(refused, text);
    assert!(planner.frontier(&paying, [Axis::Cost]).is_err() && planner.break_even(&paying, "large").is_err());
    assert!(
        planner.totals_near(&paying, Capacity::from_gib(256)).is_err() && planner.stages(&paying, &request).is_err()
    );
    let other = request.worth_paying(Price::new(1, "USD".parse().unwrap()));
    let error = planner.plan(&other).unwrap_err().to_string();
    assert!(
        error.contains("worth_paying is in USD, the request in EUR; all amounts must be in one currency"),
        "{error}"
    );
}

// Two more would do, uneven; the plan is even, and says what the two that it buys beyond them cost.
#[test]
fn a_plan_says_what_accepting_uneven_channels_would_save() {
    let machine = in_sockets(reference::ddr4_2s_4ch_3spc(), "later", 1);
    let rules = RuleBook::standard();
    let lot = Offer::new(name("lot"), module(DUAL), Price::new(3_000, "EUR".parse().unwrap()), 40);
    let slots = ["A1", "B1", "C1", "D1"];
    let present = slots.iter().fold(Population::new(), |all, slot| all.with(name(slot), module(DUAL)));
    let request = PlanRequest::new().usable_at_least(Capacity::from_gib(192)).present(present).offer(lot);
    let plan = Planner::new(&machine, &rules).plan(&request).unwrap().optimal().unwrap().clone();
    assert_eq!(plan.cost.total.to_string(), "120.00 EUR");
    let cheaper = &plan.accepting[0];
    assert_eq!((cheaper.saves.to_string().as_str(), cheaper.usable_mib.whole_gib()), ("60.00 EUR", Some(192)));
    assert!(cheaper.bandwidth.spread_mbps < plan.assessment.figures.bandwidth.spread_mbps);
    let said = plan.to_string();
    assert!(
        said.contains("saves 60.00 EUR: 60.00 EUR for 192 GB at 2400 MT/s; bandwidth, estimated: 57.6 GB/s"),
        "{said}"
    );
    let silent = Planner::new(&machine, &rules).plan(&request.savings_nodes(0)).unwrap().optimal().unwrap().clone();
    assert!(silent.accepting.is_empty(), "{silent}");
}

// What accepting uneven channels would save stands in the plan by itself, also where the boards are large.
#[test]
fn plans_say_what_uneven_channels_would_save() {
    let of = |grade: &str| [format!("32GB 2Rx4 {grade}-RB2-12"), format!("16GB 1Rx4 {grade}-RC2-12")];
    let saves = |machine: &Machine, gib, [large, small]: [&str; 2], prices: [u64; 2]| {
        let (plan, _) = signed(machine, &wish(gib, &[(large, prices[0]), (small, prices[1])], &[]));
        plan.accepting.iter().map(|cheaper| cheaper.saves.to_string()).next()
    };
    let both =
        |labels: &[String; 2], machine: Machine, gib| saves(&machine, gib, [&labels[0], &labels[1]], [3_000, 1_700]);
    let four = machine(reference::ddr4_2s_4ch_3spc(), "later");
    assert_eq!(both(&of("PC4-2400T"), four, 384).as_deref(), Some("16.00 EUR"));
    let six = machine(reference::ddr4_2s_6ch_2spc(), "later");
    assert_eq!(both(&of("PC4-2933Y"), six, 512).as_deref(), Some("84.00 EUR"));
    let eight = machine(reference::ddr4_2s_8ch_2spc(), "plain");
    assert_eq!(both(&of("PC4-3200AA"), eight, 768).as_deref(), Some("32.00 EUR"));
    let three = in_sockets(reference::ddr3_1s_3ch_3spc(), "plain", 1);
    let labels = ["8GB 2Rx4 PC3-10600R-9-10-B0", "4GB 1Rx4 PC3-10600R-9-10-A0"];
    assert_eq!(saves(&three, 32, labels, [600, 350]).as_deref(), Some("4.50 EUR"));
    // nothing is cheaper than eight of the large ones
    let eight = machine(reference::ddr4_2s_8ch_2spc(), "plain");
    assert_eq!(both(&of("PC4-3200AA"), eight, 256), None);
}
