//! Amounts: counts, sizes, both together, and numbers with a unit.

use crate::intake::titles::reader::{Found, Reader};
use crate::intake::titles::tokens::{Token, Tokens, is_dash, is_times};
use crate::intake::titles::{Aside, Meaning, Says, numbers};
use crate::unit::{Capacity, Voltage};

impl Reader<'_> {
    /// A number alone in a cell of a table that was pasted as text: a count, or anything else.
    pub(super) fn cell(&self, at: usize) -> Option<Found> {
        let count = self.tokens.number(at).filter(|count| (1..800).contains(count))?;
        if let Some(Meaning::Counts) = self.heading(at).as_ref().and_then(|cell| Some(self.words.at(cell, 0)?.0)) {
            return Some((vec![vec![Says::Count(count)]], at + 1));
        }
        let is_edge = |at: Option<usize>| matches!(at.and_then(|at| self.tokens.mark(at)), Some('|' | ';'));
        let has_tab = |from: usize, to: usize| {
            let between = self.tokens.bytes(0, from + 1).end..self.tokens.bytes(to, to).start;
            self.title.get(between).is_some_and(|blanks| blanks.contains('\t'))
        };
        let before = at.checked_sub(1);
        let opens = is_edge(before) || before.is_some_and(|before| has_tab(before, at));
        let closes = is_edge(Some(at + 1)) || has_tab(at, at + 1);
        let is_last = at + 1 == self.tokens.len();
        (opens && (closes || is_last) || before.is_none() && closes)
            .then(|| (vec![vec![Says::Count(count)], vec![Says::Aside(Aside::Sale)]], at + 1))
    }

    /// "(2) 8GB".
    pub(super) fn count_in_brackets(&self, at: usize) -> Option<Found> {
        let count = self.tokens.number(at + 1).filter(|count| (1..800).contains(count))?;
        let is_bracket = self.tokens.mark(at) == Some('(') && self.tokens.mark(at + 2) == Some(')');
        (is_bracket && self.size(at + 3).is_some()).then(|| (vec![vec![Says::Count(count)]], at + 3))
    }

    /// The cell above a token in the first line of a table that was pasted as text.
    pub(super) fn heading(&self, at: usize) -> Option<Tokens> {
        let is_edge = |letter: char| matches!(letter, '\t' | '|' | ';');
        let (first, _) = self.title.split_once('\n')?;
        let before = self.title.get(..self.tokens.bytes(at, at).start).filter(|before| before.len() > first.len())?;
        let column = before.rsplit('\n').next()?.matches(is_edge).count();
        first.split(is_edge).nth(column).map(Tokens::of)
    }

    /// "x4", "x8" by itself: the width of the devices or, also, a count.
    pub(super) fn width_alone(&self, at: usize) -> Option<Found> {
        if !is_times(&self.tokens, at) || self.tokens.is_touched_before(at) {
            return None;
        }
        let number = self.tokens.number(at + 1).filter(|_| !self.tokens.is_touched_behind(at + 1))?;
        if !(1..=9_999).contains(&number) {
            return None;
        }
        let width = numbers::width(number).filter(|_| self.tokens.is_glued(at + 1));
        let mut ways: Vec<Vec<Says>> = width.into_iter().map(|width| vec![Says::Width(width)]).collect();
        if let (Some(_), Some((Meaning::Devices, next))) = (width, self.meaning(at + 2)) {
            return Some((ways, next));
        }
        ways.push(vec![Says::Count(number)]);
        Some((ways, at + 2))
    }

    /// A number of modules, sizes and both together.
    pub(super) fn amount(&self, at: usize) -> Option<Found> {
        if self.tokens.is_touched_before(at) && self.is_claimed.get(at.wrapping_sub(1)) != Some(&true) {
            return None;
        }
        if let Some((size, next)) = self.size(at) {
            return Some(self.behind_size(size, next));
        }
        let count = self.tokens.number(at).filter(|count| (1..=9_999).contains(count))?;
        if is_times(&self.tokens, at + 1) {
            if let Some((ways, next)) = self.label(at + 2) {
                let count = |way: Vec<Says>| core::iter::once(Says::Count(count)).chain(way).collect();
                return Some((ways.into_iter().map(count).collect(), next));
            }
            if let Some((size, next)) = self.size(at + 2) {
                return Some((vec![vec![Says::Modules { count, capacity_mib: size }]], next));
            }
            if let Some(other) = self.tokens.number(at + 2) {
                return self.times(count, other, at + 3);
            }
            // "8x DDR4"
            let is_number = self.tokens.get(at + 2).is_some_and(Token::is_number);
            return (!is_number && (self.tokens.word(at + 1).is_some()))
                .then(|| (vec![vec![Says::Count(count)]], at + 2));
        }
        let (meaning, next) = self.meaning(at + 1)?;
        match meaning {
            Meaning::Counted => Some((vec![vec![Says::Count(count)]], next)),
            Meaning::Set => {
                // "2 kits", and "4er-Set", "4-piece kit" where it is glued
                let says = if self.tokens.is_glued(at + 1) { Says::SetOf(count) } else { Says::Sets(count) };
                Some((vec![vec![says]], next))
            }
            Meaning::Says(says)
                if count <= 999
                    && says.iter().any(|says| matches!(says, Says::Form(_)))
                    && !self.tokens.is_glued(at + 1) =>
            {
                let mut says = says.clone();
                says.push(Says::Count(count));
                Some((vec![says], next))
            }
            Meaning::Says(says) if says.contains(&Says::Aside(Aside::Pins)) => Some((vec![says.clone()], next)),
            Meaning::Ranks if matches!(count, 1 | 2 | 4 | 8) => {
                Some((vec![vec![Says::Ranks(u8::try_from(count).unwrap_or_default())]], next))
            }
            _ => None,
        }
    }

    /// What follows a size: "x 4", "each", "total".
    pub(super) fn behind_size(&self, size: Capacity, next: usize) -> Found {
        let alone = (vec![vec![Says::Size(size)]], next);
        if is_times(&self.tokens, next) {
            let count = self.tokens.number(next + 1).filter(|count| (1..=9_999).contains(count));
            let is_other = self.size(next + 1).is_some() || self.tokens.is_touched_behind(next + 1);
            let Some(count) = count.filter(|_| !is_other) else { return alone };
            let modules = vec![Says::Modules { count, capacity_mib: size }];
            // "16GB x 4" and "16GB*4" count; "x4" may be the width
            let is_tight = self.tokens.word(next) == Some("x") && self.tokens.is_glued(next + 1);
            let width = numbers::width(count).filter(|_| is_tight);
            let width = width.map(|width| vec![Says::Size(size), Says::Width(width)]);
            return (core::iter::once(modules).chain(width).collect(), next + 2);
        }
        match self.meaning(next) {
            Some((Meaning::Each, end)) => (vec![vec![Says::Each(size)]], end),
            Some((Meaning::Together, end)) => (vec![vec![Says::Together(size)]], end),
            _ => alone,
        }
    }

    /// "4x16" and "2x8" without a unit: an amount, or ranks and width.
    pub(super) fn times(&self, count: u32, other: u32, next: usize) -> Option<Found> {
        if self.tokens.is_touched_behind(next - 1) || other == 0 || other > 1_024 {
            return None;
        }
        let mut ways = vec![vec![Says::Times { count, capacity_mib: Capacity::from_gib(other) }]];
        if let (1 | 2 | 4 | 8, Some(width)) = (count, numbers::width(other)) {
            ways.push(vec![Says::Ranks(u8::try_from(count).unwrap_or_default()), Says::Width(width)]);
        }
        Some((ways, next))
    }

    /// "16GB", "0.5 TB", "16384 MB".
    pub(super) fn size(&self, at: usize) -> Option<(Capacity, usize)> {
        let number = self.tokens.number(at)?;
        let mut unit_at = at + 1;
        let mut half = false;
        if matches!(self.tokens.mark(at + 1), Some('.' | ',')) && self.tokens.is_glued(at + 1) {
            // only halves are whole numbers of MiB that anybody writes
            half = self.tokens.glued_number(at + 2)? == 5 && self.tokens.text(at + 2) == "5";
            if !half {
                return None;
            }
            unit_at = at + 3;
        }
        let (mib, next) = self.unit(unit_at)?;
        let whole = u64::from(number).checked_mul(mib)?.checked_add(if half { mib / 2 } else { 0 })?;
        (1..=64 * 1024 * 1024).contains(&whole).then(|| (Capacity::from_mib(whole), next))
    }

    /// A unit of size, and how many MiB it is.
    pub(super) fn unit(&self, at: usize) -> Option<(u64, usize)> {
        let at = if self.tokens.is_glued(at) && is_dash(self.tokens.mark(at)) { at + 1 } else { at };
        match self.words.at(&self.tokens, at) {
            // short words that are others too must touch their number
            Some((Meaning::Unit(_), _)) if matches!(self.tokens.text(at), "to" | "mo") && !self.tokens.is_glued(at) => {
                None
            }
            // "GB/s" is a bandwidth
            Some((Meaning::Unit(_), next))
                if self.tokens.mark(next) == Some('/') && self.tokens.glued_word(next + 1) == Some("s") =>
            {
                None
            }
            Some((Meaning::Unit(mib), next)) => Some((*mib, next)),
            _ if self.tokens.glued_word(at) == Some("g") && !self.tokens.is_touched_behind(at) => Some((1024, at + 1)),
            _ => None,
        }
    }

    /// "2Rx4", "2S4Rx4", "4DRx4", "2R".
    pub(super) fn ranks(&self, at: usize) -> Option<Found> {
        if self.tokens.is_touched_before(at) && self.is_claimed.get(at.wrapping_sub(1)) != Some(&true) {
            return None;
        }
        numbers::ranks(&self.tokens, at).map(|(says, next)| (vec![says], next))
    }

    /// "2400 MHz", "1.2V".
    pub(super) fn with_unit(&self, at: usize) -> Option<Found> {
        if self.tokens.is_touched_before(at) {
            return None;
        }
        let number = self.tokens.number(at)?;
        if matches!(self.tokens.mark(at + 1), Some('.' | ',')) && self.tokens.is_glued(at + 1) {
            self.tokens.glued_number(at + 2)?;
            let (Meaning::Volts, next) = self.meaning(at + 3)? else { return None };
            let decimals = self.tokens.text(at + 2);
            let thousandths: u16 = format!("{decimals:0<3}").parse().ok().filter(|_| decimals.len() <= 3)?;
            let mv = u16::try_from(number.checked_mul(1_000)?).ok()?.checked_add(thousandths)?;
            let voltage = [Voltage::V1_1, Voltage::V1_2, Voltage::V1_25, Voltage::V1_35, Voltage::V1_5]
                .into_iter()
                .find(|voltage| voltage.mv() == mv)?;
            return Some((vec![vec![Says::Voltage(voltage)]], next));
        }
        let (Meaning::RateUnit, next) = self.meaning(at + 1)? else { return None };
        let says = match numbers::rate(None, number) {
            Some(rate) => Says::Rate(rate),
            None if (100..=20_000).contains(&number) => Says::OtherRate(number),
            None => return None,
        };
        Some((vec![vec![says]], next))
    }
}
