//! The labels as which a text may be meant, by where its blanks stand: how long each field is decides it, and what they
//! say is not asked here.

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
    let one = |end: Option<usize>| end.map(|end| write(written, glyphs, end, upper)).into_iter().collect();
    match item {
        Item::Size => {
            let is_unit = |pair: &[Glyph]| matches!(pair, [g, b] if matches!(upper(g), 'G' | 'M') && upper(b) == 'B');
            one(glyphs.windows(2).take(7).position(is_unit).map(|unit| unit + 2))
        }
        Item::Layout => layout(written, glyphs),
        Item::Some(least, most) => {
            let run = glyphs.iter().take(most).take_while(|glyph| !glyph.is_hyphen()).count();
            // the end of the text may come in the middle of a field
            let least = least.min(glyphs.len());
            (least..=run).map(|count| write(written, glyphs, count, upper)).collect()
        }
        Item::Space => vec![separator(written, glyphs, ' ')],
        Item::Hyphen if glyphs.first().is_some_and(|first| first.is_hyphen() || !first.gap.is_empty()) => {
            vec![separator(written, glyphs, '-')]
        }
        Item::Tail if glyphs.first().is_some_and(Glyph::is_hyphen) => {
            let (written, rest) = separator(written, glyphs, '-');
            let letter = |glyph: &Glyph| if glyph.is_hyphen() { '-' } else { upper(glyph) };
            vec![write(&written, rest, rest.len(), letter)]
        }
        Item::Hyphen | Item::Tail => Vec::new(),
    }
}

fn upper(glyph: &Glyph) -> char {
    glyph.letter.to_ascii_uppercase()
}

/// Writes so many characters, each as `letter` says.
fn write<'g>(
    written: &Written,
    glyphs: &'g [Glyph],
    count: usize,
    letter: impl Fn(&Glyph) -> char,
) -> (Written, &'g [Glyph]) {
    let (taken, rest) = glyphs.split_at_checked(count).unwrap_or((glyphs, &[]));
    let mut written = written.clone();
    taken.iter().for_each(|glyph| written.push(letter(glyph), glyph.span.clone()));
    (written, rest)
}

/// Ranks, stack and width: up to PC, without hyphens before that.
fn layout<'g>(written: &Written, glyphs: &'g [Glyph]) -> Vec<(Written, &'g [Glyph])> {
    let is_end = |pair: &[Glyph]| matches!(pair, [p, c] if upper(p) == 'P' && upper(c) == 'C');
    let Some(end) = glyphs.windows(2).take(10).position(is_end) else { return Vec::new() };
    let (layout, _) = glyphs.split_at_checked(end).unwrap_or((glyphs, &[]));
    let end = end - layout.iter().rev().take_while(|glyph| glyph.is_hyphen()).count();
    if end == 0 {
        return Vec::new();
    }
    // only behind the R there is an x
    let is_cross = |glyph: &Glyph| matches!(upper(glyph), 'X' | '\u{d7}' | '\u{2715}' | '\u{2716}' | '*');
    let crosses = layout.windows(2).filter_map(|pair| match pair {
        [r, cross] if upper(r) == 'R' && is_cross(cross) => Some(cross.span.start),
        _ => None,
    });
    let crosses: Vec<usize> = crosses.collect();
    let letter = |glyph: &Glyph| if crosses.contains(&glyph.span.start) { 'x' } else { upper(glyph) };
    vec![write(written, glyphs, end, letter)]
}

/// Writes a blank or a hyphen, from the hyphens that come next, or else from the blanks, or from nothing.
fn separator<'g>(written: &Written, glyphs: &'g [Glyph], letter: char) -> (Written, &'g [Glyph]) {
    let hyphens = glyphs.iter().take_while(|glyph| glyph.is_hyphen()).count();
    let (hyphens, rest) = glyphs.split_at_checked(hyphens).unwrap_or((&[], glyphs));
    let from = match (hyphens.first(), hyphens.last()) {
        (Some(first), Some(last)) => first.span.start..last.span.end,
        _ => glyphs.first().map_or(written.end()..written.end(), |first| first.gap.clone()),
    };
    let mut written = written.clone();
    written.push(letter, from);
    (written, rest)
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
