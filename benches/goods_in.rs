//! Pieces that have come against order lines, and labels as they are found.
// a bench may stop at what it did not expect
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use std::hint::black_box;

use criterion::Criterion;
use slotwright::goods_in::{Delivery, OrderLine, Piece};
use slotwright::population::{Medium, SeenModule};
use slotwright::{Label, MemoryModule, Name};

fn modules() -> Vec<MemoryModule> {
    let sizes = ["8GB 1Rx4", "16GB 2Rx4", "16GB 1Rx4", "32GB 2Rx4", "32GB 4Rx4"];
    let rates = ["2133P", "2400T", "2666V", "3200AA"];
    let labels = sizes.iter().flat_map(|size| rates.iter().map(move |rate| format!("{size} PC4-{rate}-RB2-11")));
    labels.map(|label| label.parse::<Label>().unwrap().to_module()).collect()
}

/// 200 pieces of 20 parts, each with its label and SPD and a serial number of its own, against 20 lines of ten. Where
/// `gaps`, one in three has an SPD that leaves out some facts, and no label.
fn delivery(gaps: bool) -> Delivery {
    let modules = modules();
    let lines = modules.iter().enumerate().map(|(at, module)| OrderLine::of_module(name("L", at), module, 10));
    let piece = |at: usize| {
        let mut seen = SeenModule::of(&modules[at * 7 % modules.len()]);
        let label = seen.clone();
        seen = seen.serial(name("7A", at));
        if gaps && at % 3 == 0 {
            match at % 4 {
                0 => seen.grade_mts = None,
                1 => (seen.package_ranks, seen.die_density_mbit) = (None, None),
                2 => seen.kind = None,
                _ => (seen.capacity_mib, seen.die_density_mbit) = (None, None),
            }
            return Piece::new(name("P", at)).said(Medium::Spd, seen);
        }
        Piece::new(name("P", at)).said(Medium::Spd, seen).said(Medium::Label, label)
    };
    Delivery::new().lines(lines).pieces((0..200).map(piece))
}

fn name(of: &str, at: usize) -> Name {
    Name::lossy(&format!("{of}{at:03}"))
}

fn goods_in(criterion: &mut Criterion) {
    for (called, gaps) in [("all is known", false), ("with gaps", true)] {
        let delivery = delivery(gaps);
        let answer = delivery.judge().unwrap();
        assert_eq!((answer.pieces.len(), answer.is_all_right()), (200, !gaps));
        criterion.bench_function(&format!("200 pieces against 20 lines, {called}"), |bench| {
            bench.iter(|| black_box(&delivery).judge().unwrap());
        });
    }
    let delivery = delivery(true);
    criterion.bench_function("200 pieces into bins", |bench| bench.iter(|| black_box(&delivery).bins().unwrap()));
}

fn labels(criterion: &mut Criterion) {
    for text in ["32GB 2Rx4 PC4-2400T-RB2-11", "32gb2rx4\npc4 – 2400t-rb2-1O", "32GB ZRx4 PC4-2400T-RB2-11"] {
        criterion.bench_function(&format!("a label as found: {text:?}"), |bench| {
            bench.iter(|| Label::found(black_box(text)));
        });
    }
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    goods_in(&mut criterion);
    labels(&mut criterion);
    criterion.final_summary();
}
