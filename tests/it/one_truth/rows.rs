//! Printed rows.

use std::collections::BTreeMap;

use slotwright::platform::{
    CountRow, FillRow, FillSlot, Mode, RelativeSize, SocketDescription, WorkedModules, WorkedRow,
};
use slotwright::processor::Processor;
use slotwright::unit::Name;

use crate::boards::name;
use crate::one_truth::board;
use crate::one_truth::draw::Draw;

/// The mode of a row: mostly the one that the machine is set to.
fn mode(draw: &mut Draw<'_, '_>, modes: &[Mode], set: Option<&Name>) -> Option<Name> {
    match draw.below(6) {
        4 => None,
        5 if !modes.is_empty() => Some(draw.pick(modes).name),
        _ => set.cloned(),
    }
}

fn processors(draw: &mut Draw<'_, '_>) -> Option<u8> {
    if draw.once_in(4) { Some(draw.pick(&[1, 2])) } else { None }
}

pub fn fill_rows(
    draw: &mut Draw<'_, '_>,
    sockets: &[SocketDescription],
    modes: &[Mode],
    set: Option<&Name>,
) -> Vec<FillRow> {
    let mut rows = Vec::new();
    for _ in 0..draw.pick(&[1, 2, 3]) {
        let among = if draw.once_in(2) { vec![draw.pick(sockets)] } else { sockets.to_vec() };
        let mut labels = board::slots(&among);
        if labels.is_empty() {
            continue;
        }
        if draw.once_in(2) {
            draw.source.shuffle(&mut labels);
        }
        labels.truncate(draw.below(labels.len()) + 1);
        let slot = |slot| FillSlot::new(slot).module(draw.once_in(8).then(|| draw.pattern()));
        let slots: Vec<_> = labels.into_iter().map(slot).collect();
        let mut row = FillRow::new([], draw.demand(), draw.basis())
            .slots(slots)
            .processors(processors(draw))
            .mode(mode(draw, modes, set))
            .source(draw.text());
        // every second row; which slots come first is drawn already
        if rows.len() % 2 == 1 && row.slots.len() > 1 {
            let marks = [Some(RelativeSize::Larger), Some(RelativeSize::Smaller), None].into_iter().cycle();
            row.slots.iter_mut().zip(marks).for_each(|(slot, mark)| slot.size = mark);
        }
        rows.push(row);
    }
    rows
}

pub fn count_rows(draw: &mut Draw<'_, '_>, modes: &[Mode], set: Option<&Name>) -> Vec<CountRow> {
    let mut rows = Vec::new();
    for _ in 0..draw.pick(&[1, 1, 2]) {
        rows.push(
            CountRow::new(
                draw.scope(),
                draw.pick(&[vec![1, 2], vec![2, 4], vec![2], vec![1, 3]]),
                draw.demand(),
                draw.basis(),
            )
            .processors(processors(draw))
            .mode(mode(draw, modes, set))
            .source(draw.text()),
        );
    }
    rows
}

/// A line of a table for the processors that the platform describes.
pub fn worked_row(
    draw: &mut Draw<'_, '_>,
    sockets: &[SocketDescription],
    described: &[Processor],
    modes: &[Mode],
    set: Option<&Name>,
    options: &[Name],
) -> WorkedRow {
    let fitted = sockets.iter().map(|socket| (socket.label.clone(), draw.pick(described).name().clone()));
    let fitted: BTreeMap<_, _> = fitted.collect();
    let mut labels = board::slots(sockets);
    if draw.once_in(3) {
        draw.source.shuffle(&mut labels);
    }
    labels.truncate(draw.below(labels.len()) + 1);
    let module = draw.sort();
    let capacity = module.capacity().times(labels.len() as u64);
    let count = u16::try_from(labels.len()).unwrap();
    WorkedRow::new(name("row"), fitted, draw.basis())
        .options(options.iter().filter(|_| draw.once_in(2)).cloned())
        .mode(mode(draw, modes, set))
        .modules([WorkedModules::new(module, count, if draw.once_in(3) { Vec::new() } else { labels })])
        .rate(draw.once_in(2).then(|| draw.rate()))
        .capacity(draw.once_in(2).then_some(capacity))
        .usable(draw.once_in(2).then_some(capacity))
        .refused_by(draw.once_in(3).then(|| name(draw.pick(&["channel-ranks", "fill-row"]))))
        .source(draw.once_in(2).then(|| slotwright::stated::Source::new(name("table"))))
}
