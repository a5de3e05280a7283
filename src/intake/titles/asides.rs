//! Numbers that are none of a module: money, dates, numbers to call.

use crate::intake::titles::reader::{Found, Reader};
use crate::intake::titles::tokens::Token;
use crate::intake::titles::{Aside, Meaning, Says};

fn aside(aside: Aside, next: usize) -> Option<Found> {
    Some((vec![vec![Says::Aside(aside)]], next))
}

const fn is_sign(mark: Option<char>) -> bool {
    matches!(mark, Some('€' | '$' | '£' | '¥' | '₹' | '₽' | '₩' | '₺' | '₴' | '¢'))
}

impl Reader<'_> {
    /// "€ 25.00".
    pub(super) fn money_behind_sign(&self, at: usize) -> Option<Found> {
        if !is_sign(self.tokens.mark(at)) {
            return None;
        }
        let end = self.decimal(at + 1)?;
        aside(Aside::Money, end)
    }

    /// "25,00 EUR", "25 €", "25,-".
    pub(super) fn money(&self, at: usize) -> Option<Found> {
        if self.tokens.is_touched_before(at) {
            return None;
        }
        let end = self.decimal(at)?;
        if is_sign(self.tokens.mark(end)) {
            return aside(Aside::Money, end + 1);
        }
        let is_even = self.tokens.mark(end) == Some(',') && self.tokens.mark(end + 1) == Some('-');
        if is_even && self.tokens.is_glued(end) && self.tokens.is_glued(end + 1) {
            return aside(Aside::Money, end + 2);
        }
        match self.words.at(&self.tokens, end) {
            Some((Meaning::Currency, next)) => aside(Aside::Money, next),
            _ => None,
        }
    }

    /// The token behind a number with points and commas: "1,250.00".
    pub(super) fn decimal(&self, at: usize) -> Option<usize> {
        let is_number = |at: usize| self.tokens.get(at).is_some_and(Token::is_number);
        let mut end = is_number(at).then_some(at + 1)?;
        while self.tokens.is_glued(end)
            && matches!(self.tokens.mark(end), Some('.' | ',' | '\''))
            && self.tokens.is_glued(end + 1)
            && is_number(end + 1)
        {
            end += 2;
        }
        Some(end)
    }

    /// "2024-05-17", "17.05.2024", "5/17/24".
    pub(super) fn date(&self, at: usize) -> Option<Found> {
        let mark = self.tokens.mark(at + 1).filter(|mark| matches!(mark, '-' | '.' | '/'))?;
        let day = self.tokens.number(at + 2)?;
        let last = self.tokens.number(at + 4)?;
        let first = self.tokens.number(at)?;
        let is_one_word = (at + 1..at + 5).all(|at| self.tokens.is_glued(at)) && !self.tokens.is_touched_before(at);
        let is_date = matches!(
            (first, day, last),
            (1_990..=2_099, 1..=12, 1..=31) | (1..=31, 1..=31, 1_990..=2_099 | 0..=99)
        );
        if self.tokens.mark(at + 3) != Some(mark) || !is_one_word || !is_date {
            return None;
        }
        aside(Aside::Date, at + 5)
    }

    /// The digits behind "tel".
    pub(super) fn digits_to_call(&self, mut at: usize) -> Option<Found> {
        let from = at;
        let mut last = None;
        while let Some(token) = self.tokens.get(at) {
            if token.is_number() {
                last = Some(at);
            } else if !matches!(self.tokens.mark(at), Some('+' | '(' | ')' | '-' | '/' | '.' | ':')) {
                break;
            }
            at += 1;
        }
        aside(Aside::Phone, last? + 1).filter(|(_, next)| *next > from)
    }
}
