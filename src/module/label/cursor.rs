use core::ops::Range;

use crate::module::{LabelError, LabelField};

/// A place in a label. It moves over ASCII only, so it always stands between two characters.
pub(crate) struct Cursor<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Cursor<'a> {
    pub(crate) const fn new(text: &'a str) -> Self {
        Self { text, at: 0 }
    }

    pub(crate) const fn is_at_end(&self) -> bool {
        self.at == self.text.len()
    }

    /// The text moved over since `start`, and where it is.
    pub(crate) fn since(&self, start: usize) -> (&'a str, Range<usize>) {
        (self.text.get(start..self.at).unwrap_or_default(), start..self.at)
    }

    pub(crate) fn peek(&self) -> Option<u8> {
        self.text.as_bytes().get(self.at).copied()
    }

    /// Moves over one byte of ASCII where it is the next one.
    pub(crate) fn eat(&mut self, byte: u8) -> bool {
        let there = byte.is_ascii() && self.peek() == Some(byte);
        if there {
            self.at += 1;
        }
        there
    }

    /// Moves over all the ASCII bytes that satisfy the condition and returns them.
    pub(crate) fn run(&mut self, condition: impl Fn(u8) -> bool) -> Run<'a> {
        let start = self.at;
        while self.peek().is_some_and(|byte| byte.is_ascii() && condition(byte)) {
            self.at += 1;
        }
        Run { text: self.text.get(start..self.at).unwrap_or_default(), start }
    }

    pub(crate) fn digits(&mut self) -> Run<'a> {
        self.run(|byte| byte.is_ascii_digit())
    }

    /// Moves over one digit and returns its value.
    pub(crate) fn digit(&mut self, field: LabelField, allowed: &'static str) -> Result<u8, LabelError> {
        match self.peek() {
            Some(digit @ b'0'..=b'9') => {
                self.at += 1;
                Ok(digit - b'0')
            }
            _ => Err(self.next_unexpected(field, allowed)),
        }
    }

    /// Moves over one byte of ASCII that separates or marks fields.
    pub(crate) fn expect(&mut self, byte: u8, field: LabelField, allowed: &'static str) -> Result<(), LabelError> {
        if self.eat(byte) { Ok(()) } else { Err(self.next_unexpected(field, allowed)) }
    }

    /// The next character, or the end, is no part of this field.
    pub(crate) fn next_unexpected(&self, field: LabelField, allowed: &'static str) -> LabelError {
        let rest = self.text.get(self.at..).unwrap_or_default();
        let length = rest.chars().next().map_or(0, char::len_utf8);
        let found = rest.get(..length).unwrap_or_default();
        Run { text: found, start: self.at }.unexpected(field, allowed)
    }

    /// The run is no part of this field; the next character is not, where the run is empty.
    pub(crate) fn unexpected(&self, run: Run<'_>, field: LabelField, allowed: &'static str) -> LabelError {
        if run.text.is_empty() { self.next_unexpected(field, allowed) } else { run.unexpected(field, allowed) }
    }
}

/// Some bytes of ASCII of a label and where they start.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Run<'a> {
    pub(crate) text: &'a str,
    pub(crate) start: usize,
}

impl<'a> Run<'a> {
    /// The first `length` bytes and the others.
    pub(crate) fn split_at(self, length: usize) -> (Run<'a>, Run<'a>) {
        let (first, second) = self.text.split_at_checked(length).unwrap_or((self.text, ""));
        (Run { text: first, start: self.start }, Run { text: second, start: self.start + first.len() })
    }

    pub(crate) const fn span(&self) -> Range<usize> {
        self.start..self.start + self.text.len()
    }

    /// The number that the digits make, where it is at most 99,999 and has no leading zero.
    pub(crate) fn number(&self) -> Option<u32> {
        let digits = self.text.as_bytes();
        let plain = !digits.is_empty() && digits.len() <= 5 && digits.first() != Some(&b'0');
        plain.then(|| digits.iter().fold(0, |number, digit| number * 10 + u32::from(digit.wrapping_sub(b'0'))))
    }

    pub(crate) fn unexpected(&self, field: LabelField, allowed: &'static str) -> LabelError {
        let hint = hint(field, self.text);
        LabelError::Unexpected { field, span: self.span(), found: self.text.to_owned(), allowed, hint }
    }
}

/// What the writer of a label may have meant.
fn hint(field: LabelField, found: &str) -> Option<&'static str> {
    match (field, found) {
        (LabelField::Width, "X") => Some("the x before the width is a small letter"),
        (LabelField::Capacity, unit) if unit.starts_with(['R', 'D', 'Q', 'S']) => {
            Some("a label begins with the capacity; the ranks follow it")
        }
        (LabelField::Ranks, "8" | "16") => {
            Some("only package ranks are counted here; a module of stacked packages is written 2S4R, for example")
        }
        (LabelField::Stack, "S") => Some("a stack is written with its height: S2, S4 or S8"),
        (LabelField::Generation, "A") => Some("an A here is often a misread 4"),
        (LabelField::RawCard, "8") => Some("an 8 here is often a misread B"),
        (_, "O") => Some("an O here is often a misread 0"),
        (_, letters) if letters.bytes().any(|byte| byte.is_ascii_lowercase()) => {
            Some("the letters of a label are capitals, all but the x before the width")
        }
        _ => None,
    }
}
