//! A caller's rules in a search.
#![allow(clippy::unwrap_used)]

use proptest::prelude::*;
use slotwright::figure::RunningRate;
use slotwright::finding::{FactValue, Place};
use slotwright::module::MemoryModule;
use slotwright::platform::{ChannelGroup, ChannelId, DomainScheme, Domains, FillRow};
use slotwright::population::{ChannelLoad, Layout, ModuleSite, SocketLoad};
use slotwright::rule::{Detail, Hint, MixBound, Report, Rule};
use slotwright::stated::{Basis, Demand, Scope};
use slotwright::unit::{Name, Voltage};
use slotwright::{
    Capacity, Interleave, Label, Machine, Offer, Outcome, PlanRequest, Planner, Population, Price, RuleBook, Severity,
    reference,
};

use crate::boards::{self, Source, bytes, config, name};
use crate::evenness::{unlike_channels, unlike_processors};
use crate::found;
use crate::purchase_oracle::{case, compare_under, euros};

fn machine() -> Machine {
    let builder = Machine::builder(reference::ddr4_2s_4ch_3spc());
    builder.processor_named("1", "later").processor_named("2", "later").build().unwrap()
}

/// Two sorts, of which only both together give what is asked for.
fn request() -> PlanRequest {
    let offer = |id: &str, label: &str, minor: u64, stock: u32| {
        let module = label.parse::<Label>().unwrap().to_module();
        Offer::new(name(id), module, Price::new(minor, "EUR".parse().unwrap()), stock)
    };
    PlanRequest::new()
        .usable_at_least(Capacity::from_gib(256))
        .offer(offer("a", "32GB 2Rx4 PC4-2400T-RB2-11", 3_000, 5))
        .offer(offer("b", "16GB 2Rx4 PC4-2400T-RA0-11", 1_400, 9))
}

/// As many modules in each populated channel of a processor, whatever they are.
fn as_many(code: &str) -> Rule {
    let key = |load: &ChannelLoad<'_>| Ok(Some(FactValue::count(load.len())));
    Rule::channel_mix(code, "channels of unlike numbers", Severity::Error, MixBound::new(Scope::Socket, 1), key)
        .unwrap()
}

#[test]
fn a_rule_in_the_place_of_a_standard_one_is_the_callers() {
    let machine = machine();
    let bare = RuleBook::standard().without("channels-alike").unwrap().without("sockets-alike").unwrap();
    // enough of the large ones for the first round of both processors
    let mut request = request().usable_at_least(Capacity::from_gib(384));
    request.offers[0].stock = 8;
    let total = |rules: &RuleBook| {
        let outcome = Planner::new(&machine, rules).plan(&request).unwrap();
        outcome.optimal().map(|plan| plan.cost.total).unwrap_or_else(|| panic!("{outcome}"))
    };
    let own = total(&bare.clone().with(as_many("own-alike")).unwrap());
    assert_eq!(total(&bare.clone().with(as_many("channels-alike")).unwrap()), own);
    // beside the standard rule on processors, too
    let with_sockets = RuleBook::standard().without("channels-alike").unwrap();
    let replaced = total(&with_sockets.clone().with(as_many("channels-alike")).unwrap());
    assert_eq!(total(&with_sockets.with(as_many("own-alike")).unwrap()), replaced);
}

/// Modules in one slot and modules in all the others are never together: a key that knows its slot.
fn either_there_or_elsewhere(slot: Name) -> Rule {
    let key = move |site: &ModuleSite<'_>| Ok(Some(FactValue::count(usize::from(*site.slot().label() != slot))));
    Rule::mix("own-mix", "unlike slots", Severity::Error, MixBound::new(Scope::Machine, 1), key).unwrap()
}

// Three modules are uneven in three of four channels, and in one channel while others are empty; but not where a rule
// leaves that channel alone.
#[test]
fn a_rule_that_bars_the_other_channels_takes_the_warning_away() {
    let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build().unwrap();
    let only = Rule::module("own-channel", "in channel A alone", Severity::Error, |site, report| {
        if !site.slot().label().as_str().starts_with('A') {
            report.violation(|| Detail::at(Place::Machine));
        }
    });
    let barred = RuleBook::standard().with(only.unwrap()).unwrap();
    let mut request = request().usable_at_least(Capacity::from_gib(96));
    request.offers.to_mut().truncate(1);
    let planned = |rules: &RuleBook, request: &PlanRequest| {
        let outcome = Planner::new(&machine, rules).plan(request).unwrap();
        let plan = outcome.optimal().unwrap_or_else(|| panic!("{outcome}"));
        (
            plan.cost.total.amount_minor(),
            plan.population.modules().map(|(slot, _)| slot.to_string()).collect::<Vec<_>>(),
        )
    };
    assert_eq!(planned(&RuleBook::standard(), &request).0, 12_000);
    assert_eq!(planned(&barred, &request), (9_000, vec!["A1".to_owned(), "A2".to_owned(), "A3".to_owned()]));
}

#[test]
fn a_mix_of_the_callers_is_held_in_every_slot() {
    let machine = machine();
    let request = request().refuse_from(Severity::Error);
    let plan = |rules: &RuleBook| {
        let outcome = Planner::new(&machine, rules).plan(&request).unwrap();
        outcome.optimal().cloned().unwrap_or_else(|| panic!("{outcome}"))
    };
    // four of the large ones and eight of the small ones; by the fill order one of them sits in the first slot
    let free = plan(&RuleBook::standard());
    assert_eq!(free.cost.total.amount_minor(), 4 * 3_000 + 8 * 1_400);
    assert!(free.population.get("A1").is_some());
    // the same go into other slots
    let held = plan(&RuleBook::standard().with(either_there_or_elsewhere(name("A1"))).unwrap());
    assert_eq!(held.cost.total, free.cost.total);
    assert!(held.assessment.is_legal() && held.population.get("A1").is_none(), "{held}");
    assert_eq!(held.population.modules().count(), 12);
}

proptest! {
    #![proptest_config(config(300))]

    #[test]
    fn mixes_of_the_callers_are_what_brute_force_finds(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 4);
        let request = crate::purchase_oracle::request(&mut source, &machine, 3);
        let slot = source.pick(&boards::live_or_any(&machine));
        let rules = RuleBook::standard().with(either_there_or_elsewhere(slot)).unwrap();
        compare_under(&rules, &machine, &request)?;
    }
}

/// What is wrong with a layout, if anything is.
type Check = fn(&Layout<'_>) -> bool;

/// A rule on anything, which a search knows nothing of.
fn bare(check: impl Fn(&Layout<'_>) -> bool + Send + Sync + 'static) -> Rule {
    Rule::population("own", "not so", Severity::Error, move |layout, report| {
        if check(layout) {
            report.violation(|| Detail::at(Place::Machine));
        }
    })
    .unwrap()
}

/// The facts of a channel's modules, in order from the far end.
fn facts(fact: fn(&MemoryModule) -> FactValue, load: &ChannelLoad<'_>) -> Vec<FactValue> {
    load.modules().map(|site| fact(site.module)).collect()
}

fn capacity(module: &MemoryModule) -> FactValue {
    FactValue::CapacityMib(module.capacity())
}

fn ranks(module: &MemoryModule) -> FactValue {
    module.package_ranks().map_or_else(|| FactValue::list([]), FactValue::PackageRanks)
}

fn one(_: &MemoryModule) -> FactValue {
    FactValue::count(1)
}

/// The first two channels of each processor that has so many.
fn pairs(machine: &Machine) -> Vec<Vec<ChannelId>> {
    let ids = |load: &SocketLoad<'_>| load.channels().map(|load| load.id()).take(2).collect::<Vec<_>>();
    Layout::empty(machine).sockets().map(|load| ids(&load)).filter(|ids| ids.len() == 2).collect()
}

fn mate(load: &ChannelLoad<'_>) -> FactValue {
    FactValue::list(facts(capacity, load))
}

fn is_unlike_pair(layout: &Layout<'_>) -> bool {
    let key = |id: &ChannelId| layout.channels().find(|load| load.id() == *id).map(|load| mate(&load));
    pairs(layout.machine()).iter().any(|pair| key(&pair[0]) != key(&pair[1]))
}

/// Whether a load is none that is wanted at a voltage: two or more modules at the lowest, or any of two ranks and more
/// beside another one at all others.
fn is_barred(load: &ChannelLoad<'_>, voltage: Option<Voltage>) -> bool {
    match voltage {
        Some(Voltage::V1_35 | Voltage::V1_2) => load.len() > 1,
        _ => load.len() > 1 && load.modules().any(|site| site.module.package_ranks().is_some_and(|ranks| ranks > 1)),
    }
}

/// Asks that of every channel, at the voltage at which its processor's memory runs.
fn holds_a_barred_load(layout: &Layout<'_>) -> bool {
    let rate = RunningRate::of(layout);
    layout.sockets().any(|load| {
        let label = &layout.machine().platform().socket(load.id()).label;
        let domain = rate.domains.iter().find(|domain| domain.sockets.contains(label));
        let voltage = domain.and_then(|domain| domain.voltage.voltage_mv);
        load.channels().any(|load| is_barred(&load, voltage))
    })
}

/// Whether a processor's usable slots hold modules of unlike ranks.
fn holds_unlike_ranks(layout: &Layout<'_>) -> bool {
    let ranks_of = |load: SocketLoad<'_>| {
        let live = load.modules().filter(ModuleSite::is_live);
        live.map(|site| ranks(site.module)).collect::<std::collections::BTreeSet<_>>()
    };
    layout.sockets().any(|load| ranks_of(load).len() > 1)
}

fn report_barred(load: &ChannelLoad<'_>, voltage: Option<Voltage>, report: &mut Report<'_>) {
    if is_barred(load, voltage) {
        report.violation(|| Detail::at(Place::Machine));
    }
}

/// Whether a processor with memory has none in one of the domains that the scheme would make.
fn lacks_a_domain(layout: &Layout<'_>) -> bool {
    let interleave = Interleave::of(layout);
    let holds = |socket: &Name| {
        interleave.domains.iter().any(|domain| domain.sockets.contains(socket) && !domain.regions.is_empty())
    };
    let mut empty = interleave.without_memory.domains.iter().flatten();
    empty.any(|place| matches!(place, Place::Channel { socket, .. } if holds(socket)))
}

/// A rule with what it tells a search, and the same rule without.
#[derive(Debug)]
struct Twins {
    /// What the search is told.
    word: &'static str,
    hinting: Rule,
    silent: Rule,
}

fn twins(source: &mut Source<'_>, machine: &Machine) -> Twins {
    let hinted = |word: &'static str, check: Check, hints: fn(&Machine) -> Vec<Hint>| {
        let silent = bare(check);
        Twins { word, hinting: silent.clone().hinting(hints), silent }
    };
    match source.below(8) {
        0 => {
            let fact = source.pick(&[capacity as fn(&MemoryModule) -> FactValue, ranks, one]);
            let (within, at_most) = (source.pick(&[Scope::Socket, Scope::Machine]), source.below(2) + 1);
            let bound = MixBound::new(within, at_most);
            let check = move |layout: &Layout<'_>| {
                let sockets: Vec<_> = layout.sockets().map(|load| load.id()).collect();
                match within {
                    Scope::Machine => unlike_channels(layout, &sockets, fact, at_most),
                    _ => sockets.iter().any(|&socket| unlike_channels(layout, &[socket], fact, at_most)),
                }
            };
            let hinting = Rule::like_channels("own", "not so", Severity::Error, bound, fact).unwrap();
            Twins { word: "like channels", hinting, silent: bare(check) }
        }
        1 => {
            let fact = source.pick(&[capacity as fn(&MemoryModule) -> FactValue, ranks, one]);
            let check = move |layout: &Layout<'_>| unlike_processors(layout, fact);
            let bound = MixBound::new(Scope::Machine, 1);
            let hinting = Rule::like_processors("own", "not so", Severity::Error, bound, fact).unwrap();
            Twins { word: "like processors", hinting, silent: bare(check) }
        }
        2 => hinted(
            "one region",
            |layout| Interleave::of(layout).domains.iter().any(|domain| domain.regions.len() > 1),
            |_| vec![Hint::one_region()],
        ),
        3 => hinted("memory in each domain", lacks_a_domain, |_| vec![Hint::memory_in_each_domain()]),
        4 => hinted("like groups", is_unlike_pair, |machine| vec![Hint::like_groups(pairs(machine), mate)]),
        5 => hinted("barred loads", holds_a_barred_load, |_| vec![Hint::barred_loads(report_barred)]),
        6 => hinted("kept apart", holds_unlike_ranks, |_| {
            vec![Hint::kept_apart(|one, other, _| ranks(one) != ranks(other))]
        }),
        _ => {
            let mut slots = boards::live_or_any(machine);
            source.shuffle(&mut slots);
            let socket = |slot: &Name| {
                let platform = machine.platform();
                platform.slot(platform.slot_named(slot.as_str()).unwrap()).socket
            };
            let first = socket(&slots[0]);
            slots.retain(|slot| socket(slot) == first && machine.processor(first).is_some());
            slots.truncate(source.below(2) + 1);
            let wanted = slots.clone();
            // a number of modules for which there is a row, and other slots than the row's
            let check = move |layout: &Layout<'_>| {
                let held = layout.sockets().filter(|load| load.id() == first).flat_map(|load| load.modules());
                let mut held: Vec<_> =
                    held.filter(ModuleSite::is_live).map(|site| site.slot().label().clone()).collect();
                let mut wanted = wanted.clone();
                held.sort();
                wanted.sort();
                !wanted.is_empty() && held.len() == wanted.len() && held != wanted
            };
            let silent = bare(check);
            let row = (!slots.is_empty()).then(|| FillRow::new(slots, Demand::Required, Basis::BoardManual));
            let hinting = silent.clone().hinting(move |_| vec![Hint::rows(row.clone())]);
            Twins { word: "rows", hinting, silent }
        }
    }
}

/// A board that states nothing but two domains, and few modules of several sizes, so that own rules are what decides.
fn plain_world(source: &mut Source<'_>) -> (Machine, PlanRequest) {
    let (sockets, channels, slots) = source.pick(&[(1, 3, 1), (2, 2, 1), (1, 2, 2), (1, 3, 2), (2, 3, 1)]);
    let mut board = found::description(sockets, channels, slots);
    let mut groups = Vec::new();
    for socket in &board.sockets {
        let labels = socket.controllers[0].channels.iter().map(|channel| channel.label.clone()).collect::<Vec<_>>();
        for part in [&labels[..1], &labels[1..]] {
            groups.push(ChannelGroup::new(socket.label.clone(), part.to_vec()));
        }
    }
    if source.once_in(2) {
        let domains = Domains::Groups { groups, needs_memory_in_each: source.once_in(2) };
        let basis = Basis::BoardManual;
        board.domain_schemes = vec![DomainScheme::new(name("two"), domains, basis)];
        board.default_settings.domain_scheme = Some(name("two"));
    }
    let machine = found::machine(board, found::processor());
    let labels = ["16GB 2Rx4 PC4-2400T-RA1-11", "8GB 1Rx4 PC4-2400T-RA1-11", "16GB 1Rx4 PC4-2400T-RA1-11"];
    let mut request = PlanRequest::new().refuse_from(Severity::Error);
    for (index, label) in labels.into_iter().enumerate() {
        let (price, stock) = (euros(source.below(12) + 1), source.below(4) as u32 + 1);
        request = request.offer(Offer::new(name(&format!("o{index}")), boards::module(label), price, stock));
    }
    let live = boards::live(&machine);
    if source.once_in(2) {
        let sorts = labels.map(boards::module);
        request.present.population = boards::fitted(source, &live, &sorts, 3);
    }
    let most = live.len() * 12;
    (machine, request.usable_at_least(Capacity::from_gib((source.below(most) + 8) as u32)))
}

/// A book with or without the standard rules of the same sort.
fn book(dropped: bool, rule: Rule) -> RuleBook {
    let codes = ["channels-alike", "sockets-alike", "uneven-interleave", "empty-domain"];
    let codes = codes.iter().filter(|_| dropped);
    codes.fold(RuleBook::standard(), |book, code| book.without(code).unwrap()).with(rule).unwrap()
}

/// The free slots of a population. A rule on populations that gives no hint bars no single channel, and takes no slot
/// from those that could still take a module.
fn free(planner: &Planner<'_>, request: &PlanRequest, population: &Population) -> Vec<Name> {
    let mut kept = PlanRequest::new().refuse_from(request.refuse_from).present(population.clone());
    kept.present.pinned = population.modules().map(|(slot, _)| slot.clone()).collect();
    let outcome = planner.plan(&kept).unwrap();
    outcome.optimal().unwrap_or_else(|| panic!("{outcome}")).free_slots.clone()
}

proptest! {
    #![proptest_config(config(300))]

    #[test]
    fn law_hints_change_no_answer(bytes in bytes(200)) {
        let mut source = Source::new(&bytes);
        let (machine, mut request) = match source.once_in(4) {
            true => {
                let machine = boards::machine(&mut source, 5);
                let request = crate::purchase_oracle::request(&mut source, &machine, 3);
                (machine, request)
            }
            false => plain_world(&mut source),
        };
        request.free_slots_at_least = None;
        let Twins { word, hinting, silent } = twins(&mut source, &machine);
        let dropped = source.once_in(2);
        let (hinted, silent) = (book(dropped, hinting), book(dropped, silent));
        let answer = |rules: &RuleBook| Planner::new(&machine, rules).plan(&request).unwrap();
        let (with, without) = (answer(&hinted), answer(&silent));
        let text = || format!("{word}\nwith hints {with:?}
without {without:?}
{}", case(&machine, &request));
        match (&with, &without) {
            (Outcome::Optimal(with), Outcome::Optimal(without)) => {
                prop_assert_eq!(with.cost.total, without.cost.total, "{}", text());
                // free slots are more where no hint takes any away, and come before handlings
                let same_slots = [with, without].iter().all(|plan| {
                    let [one, other] = [&hinted, &silent].map(|rules| free(&Planner::new(&machine, rules), &request, &plan.population));
                    one == other
                });
                if same_slots {
                    prop_assert_eq!(&with.population, &without.population, "{}", text());
                }
            }
            (Outcome::Infeasible(_), Outcome::Infeasible(_)) => {}
            _ => prop_assert!(false, "{}", text()),
        }
    }
}

/// Two sorts of module of one size for a large board, of which the rule lets nothing pass.
#[test]
fn a_rule_that_looks_at_no_place_ends_with_a_proof() {
    let machine = machine();
    let request = request().refuse_from(Severity::Error).nodes(20_000);
    // only an odd number of both sorts together would do, and then never more than one
    let nearly_nothing = || {
        Rule::population("own-numbers", "not so many", Severity::Error, |layout, report| {
            if layout.modules().count() != 1 {
                report.violation(|| Detail::at(Place::Machine));
            }
        })
        .unwrap()
    };
    let answer = |rule: Rule| {
        let rules = RuleBook::standard().with(rule).unwrap();
        Planner::new(&machine, &rules).plan(&request).unwrap()
    };
    let promised = answer(nearly_nothing().placement_free());
    assert!(matches!(promised, Outcome::Infeasible(_)), "{promised}");
    let silent = answer(nearly_nothing());
    assert!(matches!(silent, Outcome::Stopped { .. }), "{silent}");
}
