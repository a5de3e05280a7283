//! Rates that stand by themselves.

use crate::intake::titles::reader::Reader;
use crate::intake::titles::tokens::{Token, is_dash};
use crate::intake::titles::{Claim, Says, numbers};
use crate::module::Generation;

impl Reader<'_> {
    /// Standard rates by themselves, where no other number touches them: "DDR4 RDIMM 2400".
    pub(super) fn rates_without_unit(&mut self) {
        let generations: Vec<Generation> = self.claims.iter().flat_map(Claim::generations).collect();
        let generation = generations.first().copied().filter(|first| generations.iter().all(|other| other == first));
        for generation in [generation, None] {
            // a rate of another generation is meant where there is none of this one
            if generation.is_none() && self.claims.iter().any(Claim::says_rate) {
                return;
            }
            for at in 0..self.tokens.len() {
                if let Some((says, next)) = self.rate_without_unit(at, generation) {
                    self.claim(at, next, vec![says]);
                }
            }
        }
    }

    fn rate_without_unit(&self, at: usize, generation: Option<Generation>) -> Option<(Vec<Says>, usize)> {
        let number = self.tokens.number(at).filter(|_| self.is_claimed.get(at) == Some(&false))?;
        let is_free = |at: Option<usize>| at.and_then(|at| self.is_claimed.get(at)) != Some(&true);
        let before = at.checked_sub(1);
        let is_joined = |at: usize| {
            is_dash(self.tokens.mark(at))
                || matches!(self.tokens.mark(at), Some('.' | ',' | '/' | '+' | '#' | ':' | '$' | '€' | '£'))
        };
        let stands_free_before = match before {
            None => true,
            Some(before) if self.tokens.mark(before).is_none() => {
                !self.tokens.get(before).is_some_and(Token::is_number) && !self.tokens.is_touched_before(at)
                    || !is_free(Some(before))
            }
            // "DDR4-2400" is read above; what else is joined on is part of another number or name
            Some(before) => {
                !(self.tokens.is_glued(at) && is_joined(before))
                    || !is_free(before.checked_sub(1)) && self.tokens.mark(before) != Some('.')
            }
        };
        // "postcode 3200": a number behind a word that is not understood is that word's
        let is_of_a_word = before.is_some_and(|before| {
            let is_mark = self.tokens.get(before).is_some_and(Token::is_mark);
            let word = if is_mark { before.checked_sub(1) } else { Some(before) };
            word.is_some_and(|word| self.tokens.word(word).is_some() && self.is_claimed.get(word) == Some(&false))
        });
        if !stands_free_before || is_of_a_word {
            return None;
        }
        let (rate, mut says, next) = numbers::rate_and_letters(&self.tokens, at, generation, number)?;
        let is_unread = |at: usize| self.is_claimed.get(at) == Some(&false);
        let goes_on =
            self.tokens.is_glued(next) && is_joined(next) && self.tokens.is_glued(next + 1) && is_unread(next + 1);
        let is_one_of_several = self.tokens.get(next).is_some_and(Token::is_number) && is_unread(next);
        let ends_free = !(self.tokens.is_touched_behind(next - 1) || goes_on || is_one_of_several);
        says.push(Says::Rate(rate));
        ends_free.then_some((says, next))
    }
}
