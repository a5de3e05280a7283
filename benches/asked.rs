//! How long a caller who wants to stop a search waits at most: the longest time between two times that it is asked, from
//! the start to the end of each verb.
// criterion writes public functions without documentation
#![allow(missing_docs)]
// a bench may stop at what it did not expect
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::cast_possible_truncation)]

#[path = "support/mod.rs"]
mod support;

use std::hint::black_box;
use std::ops::ControlFlow;
use std::sync::Mutex;
use std::time::{Duration, Instant};

use criterion::{Criterion, criterion_group, criterion_main};
use slotwright::purchase::Axis;
use slotwright::{Capacity, PlanRequest, Planner, Population, RuleBook, Severity};
use support::{LABELS, machine, module, name, offers};

/// The longest time between two times that the watch is asked while something is asked of a planner.
fn longest(planner: Planner<'_>, ask: &dyn Fn(Planner<'_>)) -> Duration {
    let seen = Mutex::new((Instant::now(), Duration::ZERO));
    let look = || {
        let mut seen = seen.lock().unwrap();
        let now = Instant::now();
        *seen = (now, seen.1.max(now - seen.0));
    };
    let watch = |_| {
        look();
        ControlFlow::Continue(())
    };
    ask(planner.watched(&watch));
    look();
    seen.into_inner().unwrap().1
}

fn asked(c: &mut Criterion) {
    let rules = RuleBook::standard();
    let mut group = c.benchmark_group("longest time between two asks");
    group.sample_size(10);
    let mut measure = |what: &str, (sockets, channels, slots): (usize, usize, usize), ask: &dyn Fn(Planner<'_>)| {
        let machine = machine(sockets, channels, slots);
        let planner = Planner::new(&machine, &rules);
        group.bench_function(what, |b| {
            b.iter_custom(|runs| (0..runs).map(|_| longest(planner, ask)).sum::<Duration>());
        });
    };
    let request = |gib, count| {
        PlanRequest::new().savings_nodes(0).usable_at_least(Capacity::from_gib(gib)).offers(offers(count, false))
    };
    let plain = request(768, 200);
    let loose = plain.clone().refuse_from(Severity::Error);
    let impossible = plain.clone().budget(slotwright::Price::new(1, "EUR".parse().unwrap()));
    let few = request(512, 12);
    let pieces: Vec<_> = LABELS[3..7].iter().map(|label| (module(label), 6)).collect();
    let mixed: Vec<_> = [LABELS[4], LABELS[14]].iter().map(|label| (module(label), 12)).collect();
    let slots = ["1A1", "1B1", "2A1", "2C2"].map(|slot| (name(slot), module(LABELS[4])));
    let uneven = slots.into_iter().fold(Population::new(), |uneven, (slot, module)| uneven.with(slot, module));
    measure("plan, 200 plain offers, 2x8x2", (2, 8, 2), &|planner| drop(black_box(planner.plan(&plain))));
    measure("plan, warnings allowed, 200 offers, 2x8x2", (2, 8, 2), &|planner| drop(black_box(planner.plan(&loose))));
    measure("plan, why there is none, 2x8x2", (2, 8, 2), &|planner| drop(black_box(planner.plan(&impossible))));
    measure("plan, 200 offers, 4x8x2", (4, 8, 2), &|planner| drop(black_box(planner.plan(&plain))));
    measure("frontier, 2x8x2", (2, 8, 2), &|planner| {
        drop(black_box(planner.frontier(&few, [Axis::Cost, Axis::UsableCapacity])));
    });
    measure("savings, 2x8x2", (2, 8, 2), &|planner| drop(black_box(planner.savings(&plain))));
    measure("stages, 12 offers, 2x8x2", (2, 8, 2), &|planner| drop(black_box(planner.stages(&few, &few))));
    measure("totals near, 2x8x2", (2, 8, 2), &|planner| {
        drop(black_box(planner.totals_near(&few, Capacity::from_gib(700))));
    });
    measure("arrange, 4 types, 2x4x3", (2, 4, 3), &|planner| drop(black_box(planner.arrange(pieces.clone()))));
    measure("arrange, not to be mixed, 2x4x3", (2, 4, 3), &|planner| drop(black_box(planner.arrange(mixed.clone()))));
    measure("ceiling, 2x12x2", (2, 12, 2), &|planner| drop(black_box(planner.ceiling())));
    measure("accepts, 2x12x2", (2, 12, 2), &|planner| drop(black_box(planner.accepts(&module(LABELS[4])))));
    measure("even out, 2x8x2", (2, 8, 2), &|planner| drop(black_box(planner.even_out(&uneven))));
    measure("meet mode, 2x8x2", (2, 8, 2), &|planner| drop(black_box(planner.meet_mode(&uneven))));
    group.finish();
}

criterion_group! {
    name = benches;
    config = Criterion::default().warm_up_time(Duration::from_millis(300)).measurement_time(Duration::from_secs(1));
    targets = asked
}
criterion_main!(benches);
