//! Reading and printing module labels.

use std::hint::black_box;

use criterion::Criterion;
use slotwright::module::Label;

const LABELS: [&str; 4] = [
    "16GB 2Rx4 PC3L-12800R-11-13-E2",
    "32GB 2Rx4 PC4-2400T-RB2-11",
    "64GB 4DRx4 PC4-2666V-LD2-12-MA0",
    "64GB 2Rx4 PC5-4800B-RA0-1010-XT",
];

fn labels(criterion: &mut Criterion) {
    for text in LABELS {
        criterion.bench_function(&format!("parse {text}"), |bencher| bencher.iter(|| black_box(text).parse::<Label>()));
    }
    let label = LABELS[1].parse::<Label>();
    criterion.bench_function("print", |bencher| bencher.iter(|| black_box(&label).as_ref().map(Label::to_string)));
    let cut = "32GB 2Rx4 PC4-2400T-R";
    criterion.bench_function("refuse a cut label", |bencher| bencher.iter(|| black_box(cut).parse::<Label>()));
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    labels(&mut criterion);
    criterion.final_summary();
}
