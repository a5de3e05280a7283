//! From tokens to claims.

use crate::intake::titles::tokens::{Token, Tokens, is_dash, is_times};
use crate::intake::titles::{Aside, Claim, LotCondition, Meaning, Says, Words, numbers};
use crate::module::{Generation, ModuleKind};
use crate::unit::{Capacity, Voltage};

/// What a pattern has found: the ways to read it, and the token behind it.
pub(super) type Found = (Vec<Vec<Says>>, usize);

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

    /// A number alone in a cell of a table that was pasted as text: a count, or anything else.
    fn cell(&self, at: usize) -> Option<Found> {
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
    fn count_in_brackets(&self, at: usize) -> Option<Found> {
        let count = self.tokens.number(at + 1).filter(|count| (1..800).contains(count))?;
        let is_bracket = self.tokens.mark(at) == Some('(') && self.tokens.mark(at + 2) == Some(')');
        (is_bracket && self.size(at + 3).is_some()).then(|| (vec![vec![Says::Count(count)]], at + 3))
    }

    /// The cell above a token in the first line of a table that was pasted as text.
    fn heading(&self, at: usize) -> Option<Tokens> {
        let is_edge = |letter: char| matches!(letter, '\t' | '|' | ';');
        let (first, _) = self.title.split_once('\n')?;
        let before = self.title.get(..self.tokens.bytes(at, at).start).filter(|before| before.len() > first.len())?;
        let column = before.rsplit('\n').next()?.matches(is_edge).count();
        first.split(is_edge).nth(column).map(Tokens::of)
    }

    /// The words behind a token, passing a hyphen or a point: "16-pin", "4er-Set".
    pub(super) fn meaning(&self, at: usize) -> Option<(&'t Meaning, usize)> {
        let at = if self.tokens.is_glued(at) && is_dash(self.tokens.mark(at)) { at + 1 } else { at };
        self.words.at(&self.tokens, at)
    }

    /// A standard label, whole: "32GB 2Rx4 PC4-2400T-RB2-11".
    fn label(&self, at: usize) -> Option<Found> {
        let unit = self.words.at(&self.tokens, at + 1)?;
        if !matches!(unit.0, Meaning::Unit(_)) || self.tokens.is_touched_before(at) {
            return None;
        }
        // the name of the module is at most a dozen tokens off
        let name = (unit.1..unit.1 + 9).find(|&next| self.tokens.word(next) == Some("pc"))?;
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
            Meaning::Not => self.turned(next).or_else(|| Some((vec![vec![Says::Aside(Aside::Denial)]], next))),
            Meaning::Counts => {
                let number = self.passing(next, &[':', '#', '=']);
                let count = self.tokens.number(number).filter(|count| (1..=9_999).contains(count))?;
                // "lot of 4x16GB" and "lot of 16GB" count nothing by this word
                let is_amount = is_times(&self.tokens, number + 1) || self.unit(number + 1).is_some();
                if is_amount
                    || self.tokens.is_touched_behind(number) && self.words.at(&self.tokens, number + 1).is_none()
                {
                    return Some((vec![vec![Says::Aside(Aside::Sale)]], next));
                }
                let end = match self.words.at(&self.tokens, number + 1) {
                    Some((Meaning::Counted, end)) => end,
                    _ => number + 1,
                };
                Some((vec![vec![Says::Count(count)]], end))
            }
            Meaning::Set => {
                let number = self.passing(next, &[':']);
                let count = self.tokens.number(number).filter(|count| (2..=99).contains(count));
                let is_amount = is_times(&self.tokens, number + 1) || self.unit(number + 1).is_some();
                match count {
                    Some(count) if !is_amount && !self.tokens.is_touched_behind(number) => {
                        Some((vec![vec![Says::SetOf(count)]], number + 1))
                    }
                    _ => Some((vec![vec![Says::Aside(Aside::Sale)]], next)),
                }
            }
            Meaning::Each | Meaning::Together => {
                // "total 64GB"; the size before the word is read with the size
                let number = self.passing(next, &[':', '=']);
                let Some((size, end)) = self.size(number) else {
                    return Some((vec![vec![Says::Aside(Aside::Sale)]], next));
                };
                let says = if *meaning == Meaning::Each { Says::Each(size) } else { Says::Together(size) };
                Some((vec![vec![says]], end))
            }
            Meaning::Currency => {
                let number = self.passing(next, &['.', ':']);
                let end = self.decimal(number)?;
                Some((vec![vec![Says::Aside(Aside::Money)]], end))
            }
            Meaning::Phone => self.digits_to_call(next),
            Meaning::From => {
                // "discount from 10 pcs", and not "from 16GB"
                let number = self.passing(next, &[':', '.']);
                let least = self.tokens.number(number).filter(|_| {
                    let is_amount = self.unit(number + 1).is_some() || is_times(&self.tokens, number + 1);
                    !is_amount && !self.tokens.is_touched_behind(number)
                })?;
                let (is_counted, end) = match self.words.at(&self.tokens, number + 1) {
                    Some((Meaning::Counted, end)) => (true, end),
                    _ => (false, number + 1),
                };
                // "from 10 pcs" is a price break, "MOQ 10" the fewest that are sold
                let says = match self.tokens.text(at) {
                    "moq" | "min" | "minimum" | "mindestens" | "mindestabnahme" => Says::AtLeast(least),
                    _ if is_counted => Says::Aside(Aside::Sale),
                    _ => return None,
                };
                Some((vec![vec![says]], end))
            }
            Meaning::Counted => {
                // "pcs: 12"
                let number = self.passing(next, &[':', '.', '=']);
                match self.tokens.number(number).filter(|count| number > next && (1..=9_999).contains(count)) {
                    Some(count) if self.unit(number + 1).is_none() && !is_times(&self.tokens, number + 1) => {
                        Some((vec![vec![Says::Count(count)]], number + 1))
                    }
                    _ => Some((vec![vec![Says::Aside(Aside::Sale)]], next)),
                }
            }
            Meaning::Ranks => {
                // "Rank: 2"
                let number = self.passing(next, &[':', '=']);
                let ranks =
                    self.tokens.number(number).filter(|ranks| number > next && matches!(ranks, 1 | 2 | 4 | 8))?;
                Some((vec![vec![Says::Ranks(u8::try_from(ranks).ok()?)]], number + 1))
            }
            Meaning::Devices => {
                // "Org: x8"
                let times = self.passing(next, &[':', '=']);
                let width = self.tokens.number(times + 1).and_then(numbers::width)?;
                (times > next && is_times(&self.tokens, times)).then(|| (vec![vec![Says::Width(width)]], times + 2))
            }
            Meaning::Unit(_) | Meaning::RateUnit | Meaning::Volts => None,
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
    fn module_name(&self, at: usize) -> Option<Found> {
        numbers::module_name(&self.tokens, at, |next| {
            self.words.at(&self.tokens, next).map(|(meaning, next)| (meaning.clone(), next))
        })
    }

    /// "x4", "x8" by itself: the width of the devices or, also, a count.
    fn width_alone(&self, at: usize) -> Option<Found> {
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
    fn amount(&self, at: usize) -> Option<Found> {
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
    fn behind_size(&self, size: Capacity, next: usize) -> Found {
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
    fn times(&self, count: u32, other: u32, next: usize) -> Option<Found> {
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
    fn unit(&self, at: usize) -> Option<(u64, usize)> {
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
    fn ranks(&self, at: usize) -> Option<Found> {
        if self.tokens.is_touched_before(at) && self.is_claimed.get(at.wrapping_sub(1)) != Some(&true) {
            return None;
        }
        numbers::ranks(&self.tokens, at).map(|(says, next)| (vec![says], next))
    }

    /// "2400 MHz", "1.2V".
    fn with_unit(&self, at: usize) -> Option<Found> {
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

    /// Standard rates by themselves, where no other number touches them: "DDR4 RDIMM 2400".
    fn rates_without_unit(&mut self) {
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
