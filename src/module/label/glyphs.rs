//! A text as found, character by character, and the texts that it may be meant as.

use core::ops::Range;

use crate::module::{CorrectionSort, LabelCorrection};

/// A character that is no blank, and what stands before it.
#[derive(Debug, Clone)]
pub(crate) struct Glyph {
    pub(crate) letter: char,
    pub(crate) span: Range<usize>,
    /// The blanks before it; empty where there are none.
    pub(crate) gap: Range<usize>,
}

impl Glyph {
    pub(crate) fn is_hyphen(&self) -> bool {
        is_dash(self.letter)
    }
}

/// Blanks of every sort, ends of lines, and what takes no room.
fn is_blank(letter: char) -> bool {
    letter.is_whitespace()
        || matches!(letter, '\u{ad}' | '\u{180e}' | '\u{200b}'..='\u{200d}' | '\u{2060}' | '\u{feff}')
}

/// A hyphen or a dash of any sort.
pub(crate) const fn is_dash(letter: char) -> bool {
    matches!(letter, '-' | '\u{2010}'..='\u{2015}' | '\u{2212}' | '\u{fe58}' | '\u{fe63}' | '\u{ff0d}')
}

fn is_quote(letter: char) -> bool {
    matches!(
        letter,
        '"' | '\'' | '`' | '\u{b4}' | '\u{ab}' | '\u{bb}' | '\u{2018}'..='\u{201f}' | '\u{2039}' | '\u{203a}'
    )
}

/// The characters of a text, without blanks, and without quote marks and dashes around it.
pub(crate) fn glyphs(text: &str) -> Vec<Glyph> {
    let is_around = |letter: char| is_blank(letter) || is_quote(letter) || is_dash(letter);
    let inner = text.trim_start_matches(is_around);
    let first = text.len() - inner.len();
    let inner = inner.trim_end_matches(is_around);
    let mut glyphs = Vec::new();
    let mut end = first;
    for (at, letter) in inner.char_indices().map(|(at, letter)| (first + at, letter)) {
        if !is_blank(letter) {
            let span = at..at + letter.len_utf8();
            glyphs.push(Glyph { letter, gap: end..at, span: span.clone() });
            end = span.end;
        }
    }
    glyphs
}

/// A text that is written from one as found: what, and of which bytes each character was made.
#[derive(Debug, Clone, Default)]
pub(crate) struct Written {
    pub(crate) text: String,
    /// Where each character stands in `text`, and the bytes of the text as found.
    from: Vec<(usize, Range<usize>)>,
}

impl Written {
    pub(crate) fn push(&mut self, letter: char, from: Range<usize>) {
        self.from.push((self.text.len(), from));
        self.text.push(letter);
    }

    /// Up to where the text as found has been written.
    pub(crate) fn end(&self) -> usize {
        self.from.last().map_or(0, |(_, from)| from.end)
    }

    /// The bytes as found of which some bytes were made.
    pub(crate) fn found(&self, span: &Range<usize>) -> Range<usize> {
        let end = self.end();
        let of = |at: usize| self.from.iter().find(|(place, _)| *place >= at).map(|(_, from)| from);
        let start = of(span.start).map_or(end, |from| from.start);
        if span.is_empty() {
            return start..start;
        }
        let behind = self.from.iter().rev().find(|(place, _)| *place < span.end).map_or(end, |(_, from)| from.end);
        start..behind.max(start)
    }

    /// What was changed of the text as found, where `read` has taken the place of what was written.
    pub(crate) fn corrections(&self, found: &str, read: &str) -> Vec<LabelCorrection> {
        let mut corrections: Vec<LabelCorrection> = Vec::new();
        let mut end = 0;
        let last = found.len();
        let written = self.text.chars().zip(read.chars()).zip(&self.from);
        let letters = written.map(|((written, read), (_, from))| (Some((written, read)), from.clone()));
        for (letters, from) in letters.chain([(None, last..last)]) {
            let left_out = found.get(end..from.start).unwrap_or_default();
            add(&mut corrections, end, left_out, "");
            let stood = found.get(from.clone()).unwrap_or_default();
            if let Some((written, read)) = letters {
                let is_misread = written != read;
                let read = read.encode_utf8(&mut [0; 4]).to_owned();
                if is_misread {
                    merge(
                        &mut corrections,
                        LabelCorrection {
                            sort: CorrectionSort::Misread,
                            at: from.start,
                            found: stood.to_owned(),
                            read,
                        },
                    );
                } else {
                    add(&mut corrections, from.start, stood, &read);
                }
            }
            end = from.end;
        }
        corrections
    }
}

/// Adds what stood somewhere and what was read, if these differ.
fn add(corrections: &mut Vec<LabelCorrection>, at: usize, found: &str, read: &str) {
    if found == read {
        return;
    }
    let sort = if read == "-" {
        CorrectionSort::Hyphen
    } else if read == " " || found.chars().all(is_blank) {
        CorrectionSort::Blank
    } else if found.chars().all(|letter| is_blank(letter) || is_dash(letter) || is_quote(letter)) {
        CorrectionSort::Around
    } else if found.eq_ignore_ascii_case(read) {
        CorrectionSort::Case
    } else {
        CorrectionSort::Cross
    };
    merge(corrections, LabelCorrection { sort, at, found: found.to_owned(), read: read.to_owned() });
}

/// Adds a correction, to the one before where it goes on with the same.
fn merge(corrections: &mut Vec<LabelCorrection>, next: LabelCorrection) {
    match corrections.last_mut() {
        Some(last) if last.sort == next.sort && last.span().end == next.at => {
            last.found.push_str(&next.found);
            last.read.push_str(&next.read);
        }
        _ => corrections.push(next),
    }
}
