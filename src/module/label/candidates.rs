//! The labels as which a text may be meant, by where its blanks stand: how long each field is decides it, and what they say
//! is not asked here.

use crate::module::label::glyphs::{Glyph, Written};

/// A piece of a label's form.
#[derive(Debug, Clone, Copy)]
enum Item {
    /// What a module holds, up to its unit.
    Size,
    /// Ranks, stack and width, up to the P of PC.
    Layout,
    /// So many characters, but hyphens.
    Some(usize, usize),
    Space,
    Hyphen,
    /// All that follows, if a hyphen goes before it.
    Tail,
}

const HEAD: [Item; 5] = [Item::Size, Item::Space, Item::Layout, Item::Space, Item::Some(3, 3)];
/// Letter of the voltage, rate, type, latency, SPD revision, raw card.
const DDR3: [Item; 11] = [
    Item::Some(0, 1),
    Item::Hyphen,
    Item::Some(4, 5),
    Item::Some(1, 1),
    Item::Hyphen,
    Item::Some(1, 2),
    Item::Hyphen,
    Item::Some(2, 2),
    Item::Hyphen,
    Item::Some(2, 3),
    Item::Tail,
];
/// Letter, rate, bin, type, raw card, SPD revision.
const DDR4: [Item; 10] = [
    Item::Some(0, 1),
    Item::Hyphen,
    Item::Some(4, 5),
    Item::Some(1, 2),
    Item::Hyphen,
    Item::Some(1, 1),
    Item::Some(2, 3),
    Item::Hyphen,
    Item::Some(2, 2),
    Item::Tail,
];
/// Rate, bin, type, raw card, two SPD revisions, temperature range.
const DDR5: [Item; 11] = [
    Item::Hyphen,
    Item::Some(4, 4),
    Item::Some(1, 2),
    Item::Hyphen,
    Item::Some(1, 1),
    Item::Some(2, 3),
    Item::Hyphen,
    Item::Some(4, 4),
    Item::Hyphen,
    Item::Some(2, 3),
    Item::Tail,
];

/// Every text as which the characters may be meant, none twice; at most 16, and at least one.
pub(crate) fn candidates(glyphs: &[Glyph]) -> Vec<Written> {
    let mut all: Vec<Written> = Vec::new();
    for (written, rest) in steps(&HEAD, Written::default(), glyphs) {
        let items: &[Item] = match (rest.is_empty(), written.text.as_bytes().last()) {
            (false, Some(b'3')) => &DDR3,
            (false, Some(b'4')) => &DDR4,
            (false, Some(b'5')) => &DDR5,
            _ => &[],
        };
        for (mut written, rest) in steps(items, written, rest) {
            as_found(&mut written, rest);
            if !all.iter().any(|other| other.text == written.text) {
                all.push(written);
            }
        }
    }
    all
}

/// What may have been written when the items are through or one does not fit, with what is left.
fn steps<'g>(items: &[Item], written: Written, glyphs: &'g [Glyph]) -> Vec<(Written, &'g [Glyph])> {
    let mut open = vec![(written, glyphs)];
    let mut ended = Vec::new();
    for &item in items {
        let mut next = Vec::new();
        for (written, glyphs) in open {
            let taken = if glyphs.is_empty() { Vec::new() } else { step(item, &written, glyphs) };
            if taken.is_empty() {
                ended.push((written, glyphs));
            }
            next.extend(taken);
        }
        open = next;
    }
    ended.extend(open);
    ended
}

/// Every way to write one item, with what is left.
fn step<'g>(item: Item, written: &Written, glyphs: &'g [Glyph]) -> Vec<(Written, &'g [Glyph])> {
    let upper = |glyph: &Glyph| glyph.letter.to_ascii_uppercase();
    let write = |count: usize, letter: &dyn Fn(usize, &Glyph) -> char| {
        let (taken, rest) = glyphs.split_at_checked(count).unwrap_or((glyphs, &[]));
        let mut written = written.clone();
        for (at, glyph) in taken.iter().enumerate() {
            written.push(letter(at, glyph), glyph.span.clone());
        }
        (written, rest)
    };
    let plain = |_: usize, glyph: &Glyph| upper(glyph);
    let Some(first) = glyphs.first() else { return Vec::new() };
    match item {
        Item::Size => {
            let is_unit = |pair: &[Glyph]| matches!(pair, [g, b] if matches!(upper(g), 'G' | 'M') && upper(b) == 'B');
            let unit = glyphs.windows(2).take(7).position(is_unit);
            unit.map(|unit| write(unit + 2, &plain)).into_iter().collect()
        }
        Item::Layout => {
            let is_end = |pair: &[Glyph]| matches!(pair, [p, c] if upper(p) == 'P' && upper(c) == 'C');
            let end = glyphs.windows(2).take(10).position(is_end);
            let crosses = |at: usize, glyph: &Glyph| {
                let is_behind_r =
                    at.checked_sub(1).and_then(|at| glyphs.get(at)).is_some_and(|before| upper(before) == 'R');
                match upper(glyph) {
                    'X' | '\u{d7}' | '\u{2715}' | '\u{2716}' | '*' if is_behind_r => 'x',
                    letter => letter,
                }
            };
            // hyphens for blanks around it are no part of it
            let end = end.map(|end| {
                let hyphens = glyphs.iter().take(end).rev().take_while(|glyph| glyph.is_hyphen()).count();
                end - hyphens
            });
            end.filter(|&end| end > 0).map(|end| write(end, &crosses)).into_iter().collect()
        }
        Item::Some(least, most) => {
            let run = glyphs.iter().take(most).take_while(|glyph| !glyph.is_hyphen()).count();
            // the end of the text may come in the middle of a field
            let least = least.min(glyphs.len());
            (least..=run).map(|count| write(count, &plain)).collect()
        }
        Item::Space | Item::Hyphen => {
            let hyphens = glyphs.iter().take_while(|glyph| glyph.is_hyphen()).count();
            let Some((hyphens, rest)) = glyphs.split_at_checked(hyphens) else { return Vec::new() };
            let from = match (hyphens.first(), hyphens.last()) {
                (Some(first), Some(last)) => first.span.start..last.span.end,
                _ => first.gap.clone(),
            };
            let is_space = matches!(item, Item::Space);
            if from.is_empty() && !is_space {
                return Vec::new();
            }
            let mut written = written.clone();
            written.push(if is_space { ' ' } else { '-' }, from);
            vec![(written, rest)]
        }
        Item::Tail if first.is_hyphen() => {
            let hyphens = glyphs.iter().take_while(|glyph| glyph.is_hyphen()).count();
            let letter = |_: usize, glyph: &Glyph| if glyph.is_hyphen() { '-' } else { upper(glyph) };
            let (opened, rest) = step(Item::Hyphen, written, glyphs).pop().unwrap_or_else(|| write(hyphens, &plain));
            let mut opened = opened;
            for (at, glyph) in rest.iter().enumerate() {
                opened.push(letter(at, glyph), glyph.span.clone());
            }
            vec![(opened, &[])]
        }
        Item::Tail => Vec::new(),
    }
}

/// Writes what is left as it was found, with a blank for blanks.
fn as_found(written: &mut Written, glyphs: &[Glyph]) {
    for glyph in glyphs {
        if !glyph.gap.is_empty() && written.end() <= glyph.gap.start {
            written.push(' ', glyph.gap.clone());
        }
        written.push(glyph.letter, glyph.span.clone());
    }
}
