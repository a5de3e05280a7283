//! From tokens to claims.

use crate::intake::titles::tokens::{Token, Tokens, is_dash, is_times};
use crate::intake::titles::{Aside, Claim, LotCondition, Meaning, Says, Words, numbers};
use crate::module::ModuleKind;

/// What a pattern has found: the ways to read it, and the token behind it.
pub(super) type Found = (Vec<Vec<Says>>, usize);

/// One claim that says one thing.
#[allow(clippy::unnecessary_wraps)] // as the patterns do
pub(super) fn one(says: Says, next: usize) -> Option<Found> {
    Some((vec![vec![says]], next))
}

/// Reads a title token by token; the first pattern that fits takes the longest piece that it can.
pub(super) struct Reader<'t> {
    pub(super) title: &'t str,
    pub(super) tokens: Tokens,
    pub(super) words: &'t Words,
    pub(super) claims: Vec<Claim>,
    /// Which tokens are in a claim.
    pub(super) is_claimed: Vec<bool>,
}

impl<'t> Reader<'t> {
    pub(super) fn read(title: &'t str, words: &'t Words) -> Self {
        let tokens = Tokens::of(title);
        let is_claimed = vec![false; tokens.len()];
        let mut reader = Self { title, tokens, words, claims: Vec::new(), is_claimed };
        let mut at = 0;
        while at < reader.tokens.len() {
            at = match reader.at(at) {
                Some((ways, next)) if next > at => {
                    reader.claim(at, next, ways);
                    next
                }
                _ => at + 1,
            };
        }
        reader.rates_without_unit();
        reader.claims.sort_by_key(|claim| claim.start);
        reader
    }

    pub(super) fn claim(&mut self, from: usize, until: usize, ways: Vec<Vec<Says>>) {
        let bytes = self.tokens.bytes(from, until);
        let text = self.title.get(bytes.clone()).unwrap_or_default().to_owned();
        self.claims.push(Claim { start: bytes.start, end: bytes.end, text, ways });
        if let Some(claimed) = self.is_claimed.get_mut(from..until) {
            claimed.fill(true);
        }
    }

    fn at(&self, at: usize) -> Option<Found> {
        if self.tokens.mark(at).is_some() {
            if self.tokens.mark(at) == Some('?') {
                return Some((vec![vec![Says::Aside(Aside::Hedge)]], at + 1));
            }
            return self.money_behind_sign(at).or_else(|| self.count_in_brackets(at));
        }
        if self.tokens.number(at).is_none() && !self.tokens.get(at)?.is_number() {
            return self
                .module_name(at)
                .or_else(|| numbers::ranks_in_letters(&self.tokens, at))
                .or_else(|| self.width_alone(at))
                .or_else(|| self.phrase(at));
        }
        self.label(at)
            .or_else(|| self.date(at))
            .or_else(|| self.money(at))
            .or_else(|| self.ranks(at))
            .or_else(|| self.amount(at))
            .or_else(|| self.with_unit(at))
            .or_else(|| self.phrase(at))
            .or_else(|| self.cell(at))
    }

    /// The words behind a token, passing a hyphen or a point: "16-pin", "4er-Set".
    pub(super) fn meaning(&self, at: usize) -> Option<(&'t Meaning, usize)> {
        let at = if self.tokens.is_glued(at) && is_dash(self.tokens.mark(at)) { at + 1 } else { at };
        self.words.at(&self.tokens, at)
    }

    /// A standard label, whole: "32GB 2Rx4 PC4-2400T-RB2-11".
    pub(super) fn label(&self, at: usize) -> Option<Found> {
        let unit = self.words.at(&self.tokens, at + 1)?;
        if !matches!(unit.0, Meaning::Unit(_)) || self.tokens.is_touched_before(at) {
            return None;
        }
        let (_, name) = numbers::ranks(&self.tokens, unit.1)?;
        if self.tokens.word(name) != Some("pc") {
            return None;
        }
        let mut end = name;
        while end + 1 < self.tokens.len() && self.tokens.is_glued(end + 1) {
            end += 1;
        }
        // marks at the end belong to the sentence
        while end > name && self.tokens.get(end).is_some_and(Token::is_mark) {
            end -= 1;
        }
        let bytes = self.tokens.bytes(at, end + 1);
        let label = numbers::label(self.title.get(bytes)?)?;
        Some((vec![vec![Says::Label(label)]], end + 1))
    }

    /// A word or phrase of the table.
    fn phrase(&self, at: usize) -> Option<Found> {
        if self.tokens.is_touched_before(at) && self.is_claimed.get(at.wrapping_sub(1)) != Some(&true) {
            return None;
        }
        let (meaning, next) = self.words.at(&self.tokens, at)?;
        if self.tokens.is_touched_behind(next - 1) && !self.may_touch(next) {
            return None;
        }
        match meaning {
            Meaning::Says(says) => Some(self.said(at, says, next)),
            Meaning::Not => self.turned(next).or_else(|| one(Says::Aside(Aside::Denial), next)),
            Meaning::Phone => self.digits_to_call(next),
            Meaning::Unit(_) | Meaning::RateUnit | Meaning::Volts => None,
            other => self.helped(other, next),
        }
    }

    /// What a word says, with what stands behind it: "Buffered: no", "dual rank x8".
    fn said(&self, at: usize, says: &[Says], next: usize) -> Found {
        let answer = self.passing(next, &[':', '=']);
        if answer > next {
            match self.words.at(&self.tokens, answer) {
                Some((Meaning::Not, end)) => {
                    if let Some((turned, _)) = self.turned(at) {
                        return (turned, end);
                    }
                }
                _ if matches!(self.tokens.word(answer), Some("yes" | "y" | "ja" | "oui" | "si" | "sí" | "tak")) => {
                    return (vec![says.to_vec()], answer + 1);
                }
                _ => {}
            }
        }
        let width = self.tokens.number(next + 1).and_then(numbers::width).filter(|_| {
            says.iter().any(|says| matches!(says, Says::Ranks(_)))
                && is_times(&self.tokens, next)
                && self.tokens.is_glued(next + 1)
                && !self.tokens.is_touched_behind(next + 1)
        });
        match width {
            Some(width) => (vec![says.iter().cloned().chain([Says::Width(width)]).collect()], next + 2),
            None => (vec![says.to_vec()], next),
        }
    }

    /// What stands behind "not".
    fn turned(&self, at: usize) -> Option<Found> {
        let at = self.passing(at, &['-', '‐', '–']);
        if let Some((_, next)) = self.module_name(at) {
            return Some((vec![vec![Says::Aside(Aside::Use)]], next));
        }
        let (meaning, next) = self.words.at(&self.tokens, at)?;
        let Meaning::Says(says) = meaning else { return None };
        let usual = [ModuleKind::Unbuffered, ModuleKind::Registered, ModuleKind::LoadReduced];
        let turned = says.iter().filter_map(|says| match says {
            Says::Kinds(kinds) => {
                Some(Says::Kinds(usual.iter().filter(|kind| !kinds.contains(kind)).copied().collect()))
            }
            Says::CheckBits(has) => Some(Says::CheckBits(!has)),
            Says::Aside(Aside::Use) => Some(Says::Aside(Aside::Use)),
            Says::Condition(LotCondition::New) => Some(Says::Condition(LotCondition::Used)),
            Says::Condition(LotCondition::Tested) => Some(Says::Condition(LotCondition::Untested)),
            _ => None,
        });
        let turned: Vec<Says> = turned.collect();
        (!turned.is_empty()).then(|| (vec![turned], next))
    }

    /// Whether what touches a word from behind may do so: digits of an amount or a rate.
    fn may_touch(&self, next: usize) -> bool {
        self.tokens.number(next).is_some() || self.words.at(&self.tokens, next).is_some()
    }

    /// The token behind some marks.
    pub(super) fn passing(&self, mut at: usize, marks: &[char]) -> usize {
        while self.tokens.mark(at).is_some_and(|mark| marks.contains(&mark)) {
            at += 1;
        }
        at
    }

    /// "DDR4-2400", "PC3L-12800R", "PC4-2400T-RA1-11".
    pub(super) fn module_name(&self, at: usize) -> Option<Found> {
        numbers::module_name(&self.tokens, at, |next| {
            self.words.at(&self.tokens, next).map(|(meaning, next)| (meaning.clone(), next))
        })
    }
}
