//! Arranging and purchasing at real sizes.
// criterion writes public functions without documentation
#![allow(missing_docs)]
// a bench may stop at what it did not expect
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::cast_possible_truncation)]

#[path = "support/mod.rs"]
mod support;

use criterion::{Criterion, criterion_group, criterion_main};
use slotwright::purchase::{Axis, QuantityBreak};
use slotwright::stated::Scope;
use slotwright::{Capacity, Machine, PlanRequest, Planner, Population, Price, RuleBook, Severity};
use std::hint::black_box;
use std::sync::Mutex;
use support::{LABELS, machine, module, name, offers};

/// What was expected to be proved and was not: all others are measured first, then the bench fails.
static NOT_PROVED: Mutex<Vec<String>> = Mutex::new(Vec::new());

/// Whether something is proved; if not, it is left out, and told at the end.
fn is_proved(is_so: bool, what: &str, answer: impl ToString) -> bool {
    if !is_so {
        NOT_PROVED.lock().unwrap().push(format!("{what}: {}", answer.to_string()));
    }
    is_so
}

fn all_proved(_: &mut Criterion) {
    let missing = NOT_PROVED.lock().unwrap();
    assert!(missing.is_empty(), "{}", missing.join("\n"));
}

fn arrange(c: &mut Criterion) {
    let (machine, rules) = (machine(2, 4, 3), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let mut group = c.benchmark_group("arrange 24 modules, 2x4x3");
    for (types, labels) in [(1, &LABELS[4..5]), (2, &LABELS[3..5]), (4, &LABELS[3..7])] {
        let pieces: Vec<_> = labels.iter().map(|label| (module(label), 24 / types)).collect();
        assert!(planner.arrange(pieces.clone()).unwrap().best().is_ok());
        group.bench_function(format!("{types} types"), |b| b.iter(|| planner.arrange(black_box(pieces.clone()))));
    }
    group.finish();
    let mixed: Vec<_> = [LABELS[4], LABELS[14]].iter().map(|label| (module(label), 12)).collect();
    assert!(planner.arrange(mixed.clone()).unwrap().best().is_err());
    c.bench_function("arrange 24 modules that may not be mixed, 2x4x3", |b| {
        b.iter(|| planner.arrange(black_box(mixed.clone())));
    });
}

fn accepts(c: &mut Criterion) {
    let (machine, rules) = (machine(2, 4, 3), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let module = module(LABELS[4]);
    c.bench_function("accepts, 2x4x3", |b| b.iter(|| planner.accepts(black_box(&module))));
    let large = support::machine(2, 12, 2);
    let planner = Planner::new(&large, &rules);
    c.bench_function("accepts, 2x12x2", |b| b.iter(|| planner.accepts(black_box(&module))));
    c.bench_function("ceiling, 2x12x2", |b| b.iter(|| planner.ceiling()));
}

/// Modules that differ in part number alone.
fn parts(c: &mut Criterion) {
    let (machine, rules) = (machine(2, 8, 2), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let part = |number: usize| {
        let builder = module(LABELS[4]).to_builder();
        (builder.part_number(name(&format!("part {number}"))).build().unwrap(), 2)
    };
    let pieces: Vec<_> = (0..16).map(part).collect();
    c.bench_function("arrange 16 parts, 2 of each, 2x8x2", |b| b.iter(|| planner.arrange(black_box(pieces.clone()))));
    let four = support::machine(4, 8, 2);
    let planner = Planner::new(&four, &rules);
    let pieces: Vec<_> = (0..64).map(|number| (part(number).0, 1)).collect();
    c.bench_function("arrange 64 parts, 1 of each, 4x8x2", |b| b.iter(|| planner.arrange(black_box(pieces.clone()))));
}

fn plan(c: &mut Criterion, what: &str, machine: &Machine, request: &PlanRequest) {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    c.bench_function(what, |b| {
        let outcome = planner.plan(request).unwrap();
        assert!(outcome.optimal().is_some(), "{what}: {outcome}");
        b.iter(|| planner.plan(black_box(request)));
    });
}

fn purchase(c: &mut Criterion) {
    let request = |gib, count, proportional| {
        PlanRequest::new().savings_nodes(0).usable_at_least(Capacity::from_gib(gib)).offers(offers(count, proportional))
    };
    plan(c, "purchase, 200 plain offers, 2x8x2", &machine(2, 8, 2), &request(768, 200, false));
    plan(c, "purchase, 60 plain offers, 2x8x2", &machine(2, 8, 2), &request(768, 60, false));
    plan(c, "purchase, 200 plain offers, 2x12x2", &machine(2, 12, 2), &request(1024, 200, false));
    plan(c, "purchase, 200 plain offers, 4x6x2", &machine(4, 6, 2), &request(1024, 200, false));
    plan(c, "purchase, prices proportional to size, 2x8x2", &machine(2, 8, 2), &request(768, 200, true));
    let saving = request(768, 200, false).savings_nodes(PlanRequest::SAVINGS_NODES);
    plan(c, "purchase, and what warnings would save, 200 plain offers, 2x8x2", &machine(2, 8, 2), &saving);
    let loose = request(768, 200, false).refuse_from(Severity::Error);
    plan(c, "purchase, warnings allowed, 200 plain offers, 2x8x2", &machine(2, 8, 2), &loose);

    let half = half_filled();
    let euro = "EUR".parse().unwrap();
    let mut present = request(768, 200, false).present(half).labour_per_handling(Price::new(300, euro));
    for (index, offer) in present.offers.iter_mut().enumerate() {
        offer.pack = if index % 5 == 0 { 4 } else { 1 };
        if index % 3 == 0 {
            let cheaper = Price::new(offer.unit_price.amount_minor() * 95 / 100, euro);
            offer.breaks = vec![QuantityBreak::new(8, cheaper)];
        }
    }
    plan(c, "purchase, present modules, labour, packs, breaks, 2x8x2", &machine(2, 8, 2), &present);
}

/// How the cost grows with offers, slots and processors.
fn growth(c: &mut Criterion) {
    let rules = RuleBook::standard();
    let mut group = c.benchmark_group("growth");
    let mut measure = |what: String, machine: &Machine, request: &PlanRequest| {
        let planner = Planner::new(machine, &rules);
        let outcome = planner.plan(request).unwrap();
        if is_proved(outcome.optimal().is_some(), &what, outcome) {
            group.bench_function(what, |b| b.iter(|| planner.plan(black_box(request))));
        }
    };
    let request = |gib, count| {
        PlanRequest::new().savings_nodes(0).usable_at_least(Capacity::from_gib(gib)).offers(offers(count, false))
    };
    for count in [50, 200, 800, 2_000, 5_000] {
        measure(format!("{count} offers, 2x8x2"), &machine(2, 8, 2), &request(768, count));
    }
    for slots in 1..=3 {
        measure(format!("{slots} slots a channel, 2x8x{slots}"), &machine(2, 8, slots), &request(512, 200));
    }
    for sockets in [1, 2, 4, 8] {
        let gib = 384 * sockets as u32;
        measure(format!("{sockets} processors, {sockets}x8x2"), &machine(sockets, 8, 2), &request(gib, 400));
    }
    for count in [4, 16, 64] {
        let mut parts = request(768, 200).one_part_number(Scope::Machine);
        for (index, offer) in parts.offers.iter_mut().enumerate() {
            let part = offer.module.to_builder().part_number(name(&format!("part {}", index * 7 % count)));
            (offer.module, offer.stock) = (part.build().unwrap(), 40);
        }
        measure(format!("one part number, {count} of them in 200 offers, 2x8x2"), &machine(2, 8, 2), &parts);
    }
    for gib in [768, 775] {
        let accepting = request(gib, 60).refuse_from(Severity::Error);
        measure(format!("{gib} GB, warnings allowed, 60 offers, 2x8x2"), &machine(2, 8, 2), &accepting);
    }
    group.finish();
}

/// Suppliers that charge for an order, and several machines from one stock: 200 offers for 2 x 8 x 2.
fn together(c: &mut Criterion) {
    let (machine, rules) = (machine(2, 8, 2), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let mut group = c.benchmark_group("together, 200 offers, 2x8x2");
    let request =
        || PlanRequest::new().savings_nodes(0).usable_at_least(Capacity::from_gib(768)).offers(offers(200, false));
    for (allowed, refuse_from) in [("refused", Severity::Warning), ("allowed", Severity::Error)] {
        for (what, request) in [
            ("10 of 30 suppliers charge", charging(request(), 10)),
            ("30 of 30 suppliers charge", charging(request(), 30)),
            ("2 machines", request().machines(2)),
            ("8 machines, 8 times the stock", with_stock(request().machines(8), 8)),
            ("40 machines, 40 times the stock", with_stock(request().machines(40), 40)),
        ] {
            let (what, request) = (format!("{what}, warnings {allowed}"), request.refuse_from(refuse_from));
            let outcome = planner.plan(&request).unwrap();
            if is_proved(outcome.optimal().is_some(), &what, outcome) {
                group.bench_function(what, |b| b.iter(|| planner.plan(black_box(&request))));
            }
        }
    }
    group.finish();
}

/// The same offers, so many times as many units of each.
fn with_stock(mut request: PlanRequest, times: u32) -> PlanRequest {
    request.offers.iter_mut().for_each(|offer| offer.stock *= times);
    request
}

/// The same offers from 30 suppliers, of whom so many charge two to 22 euros for an order.
fn charging(mut request: PlanRequest, suppliers: u64) -> PlanRequest {
    for (index, offer) in (0_u64..).zip(&mut request.offers) {
        offer.supplier = Some(name(&format!("supplier {:02}", ((index * 2_654_435_761) >> 7) % 30)));
    }
    (0..suppliers).fold(request, |request, index| {
        let charge = Price::new(200 * (1 + index * 37 % 11), "EUR".parse().unwrap());
        request.supplier_charges([(name(&format!("supplier {:02}", index * 7 % 30)), charge)])
    })
}

/// The other verbs on a request: 200 plain offers for 2 x 8 x 2.
fn verbs(c: &mut Criterion) {
    let (machine, rules) = (machine(2, 8, 2), RuleBook::standard());
    let planner = Planner::new(&machine, &rules);
    let request =
        PlanRequest::new().savings_nodes(0).usable_at_least(Capacity::from_gib(768)).offers(offers(200, false));
    let mut group = c.benchmark_group("verbs, 200 plain offers, 2x8x2");
    let best = planner.plan(&request).unwrap();
    let best = best.optimal().unwrap();
    let bought = best.lines[0].source.to_string().replace("offer ", "");
    let outside = request.offers.iter().map(|offer| offer.id.to_string());
    let outside = outside.into_iter().find(|id| !best.lines.iter().any(|line| line.source.to_string().contains(id)));
    let outside = outside.unwrap();
    group.bench_function("plans(3)", |b| b.iter(|| planner.plans(black_box(&request), 3)));
    let three = [Axis::Cost, Axis::UsableCapacity, Axis::RunningRate];
    let four = [Axis::Cost, Axis::UsableCapacity, Axis::RunningRate, Axis::Bandwidth];
    for (what, axes) in [("cost, capacity, rate", &three[..]), ("cost, capacity, rate, bandwidth", &four)] {
        let what = format!("frontier: {what}");
        let frontier = planner.frontier(&request, axes.iter().copied()).unwrap();
        if is_proved(frontier.stopped.is_none(), &what, frontier) {
            group.bench_function(what, |b| b.iter(|| planner.frontier(black_box(&request), axes.iter().copied())));
        }
    }
    for (what, id) in [("an offer in the plan", &bought), ("an offer outside it", &outside)] {
        group.bench_function(format!("break_even, {what}"), |b| b.iter(|| planner.break_even(black_box(&request), id)));
    }
    let bold =
        request.clone().rate_at_least(slotwright::DataRate::DDR4_3200).budget(Price::new(1, "EUR".parse().unwrap()));
    assert!(planner.plan(&bold).unwrap().optimal().is_none());
    group.sample_size(10);
    for count in [12, 200] {
        let now =
            PlanRequest::new().savings_nodes(0).usable_at_least(Capacity::from_gib(512)).offers(offers(count, false));
        let same = now.clone().usable_at_least(Capacity::from_gib(768));
        let mut cheaper = same.clone();
        for (index, offer) in cheaper.offers.iter_mut().enumerate() {
            let minor = offer.unit_price.amount_minor() * (85 + index as u64 * 7 % 10) / 100;
            offer.unit_price = Price::new(minor, offer.unit_price.currency());
        }
        for (prices, later) in [("the same prices", same), ("other prices", cheaper)] {
            let what = format!("stages, {count} offers, 512 GB and 768 GB later at {prices}");
            let stages = planner.stages(&now, &later).unwrap();
            if is_proved(stages.stopped.is_none(), &what, stages) {
                group.bench_function(what, |b| b.iter(|| planner.stages(black_box(&now), &later)));
            }
        }
    }
    let savings = planner.savings(&request.clone().nodes(200_000)).unwrap();
    if is_proved(savings.stopped.is_none(), "savings", savings) {
        group.bench_function("savings", |b| b.iter(|| planner.savings(black_box(&request))));
    }
    group.bench_function("why there is no plan", |b| b.iter(|| planner.plan(black_box(&bold))));
    group.finish();
}

/// One 16 GB module in the first slot of every channel of 2 x 8 x 2.
fn half_filled() -> Population {
    let module = module(LABELS[3]);
    let slots = (1..=2).flat_map(|socket| ('A'..='H').map(move |channel| format!("{socket}{channel}1")));
    slots.fold(Population::new(), |population, slot| population.with(name(&slot), module.clone()))
}

criterion_group! {
    name = benches;
    config = Criterion::default().sample_size(20).warm_up_time(std::time::Duration::from_millis(500)).measurement_time(std::time::Duration::from_secs(2));
    targets = arrange, parts, accepts, purchase, growth, together, verbs, all_proved
}
criterion_main!(benches);
