//! Words that say what a number beside them is.

use crate::intake::titles::reader::{Found, Reader, one};
use crate::intake::titles::tokens::is_times;
use crate::intake::titles::{Aside, Meaning, Says, numbers};

impl Reader<'_> {
    /// A word that helps what stands behind it.
    pub(super) fn helped(&self, meaning: &Meaning, next: usize) -> Option<Found> {
        match meaning {
            Meaning::Counts => self.counts(next),
            Meaning::Counted => self.counted_behind(next),
            Meaning::Set => self.set(next),
            Meaning::From | Meaning::AtLeast => self.least(meaning, next),
            Meaning::Each | Meaning::Together => {
                // "total 64GB"; the size before the word is read with the size
                let number = self.passing(next, &[':', '=']);
                match self.size(number) {
                    Some((size, end)) if *meaning == Meaning::Each => one(Says::Each(size), end),
                    Some((size, end)) => one(Says::Together(size), end),
                    None => one(Says::Aside(Aside::Sale), next),
                }
            }
            Meaning::Currency => {
                let number = self.passing(next, &['.', ':']);
                one(Says::Aside(Aside::Money), self.decimal(number)?)
            }
            Meaning::Ranks => {
                // "Rank: 2"
                let number = self.passing(next, &[':', '=']);
                let ranks =
                    self.tokens.number(number).filter(|ranks| number > next && matches!(ranks, 1 | 2 | 4 | 8))?;
                one(Says::Ranks(u8::try_from(ranks).ok()?), number + 1)
            }
            Meaning::Devices => {
                // "Org: x8"
                let times = self.passing(next, &[':', '=']);
                let width = self.tokens.number(times + 1).and_then(numbers::width)?;
                if times > next && is_times(&self.tokens, times) { one(Says::Width(width), times + 2) } else { None }
            }
            _ => None,
        }
    }

    /// Whether a size, or "times", follows a number: then it counts nothing by the word before it.
    fn is_of_amount(&self, number: usize) -> bool {
        is_times(&self.tokens, number + 1) || self.unit(number + 1).is_some()
    }

    /// "lot of 8", "qty: 12 pcs".
    fn counts(&self, next: usize) -> Option<Found> {
        let number = self.passing(next, &[':', '#', '=']);
        let count = self.tokens.number(number).filter(|count| (1..=9_999).contains(count))?;
        let behind = self.words.at(&self.tokens, number + 1);
        // "lot of 4x16GB" and "lot of 16GB" count nothing by this word
        if self.is_of_amount(number) || self.tokens.is_touched_behind(number) && behind.is_none() {
            return one(Says::Aside(Aside::Sale), next);
        }
        match behind {
            Some((Meaning::Counted, end)) => one(Says::Count(count), end),
            _ => one(Says::Count(count), number + 1),
        }
    }

    /// "pcs: 12".
    fn counted_behind(&self, next: usize) -> Option<Found> {
        let number = self.passing(next, &[':', '.', '=']);
        let count = self.tokens.number(number).filter(|count| number > next && (1..=9_999).contains(count));
        match count.filter(|_| !self.is_of_amount(number)) {
            Some(count) => one(Says::Count(count), number + 1),
            None => one(Says::Aside(Aside::Sale), next),
        }
    }

    /// "kit of 4".
    fn set(&self, next: usize) -> Option<Found> {
        let number = self.passing(next, &[':']);
        let count = self.tokens.number(number).filter(|count| (2..=99).contains(count));
        match count.filter(|_| !self.is_of_amount(number) && !self.tokens.is_touched_behind(number)) {
            Some(count) => one(Says::SetOf(count), number + 1),
            None => one(Says::Aside(Aside::Sale), next),
        }
    }

    /// "MOQ 10" is the fewest that are sold, "from 10 pcs" the start of another price; "from 16GB" is neither.
    fn least(&self, meaning: &Meaning, next: usize) -> Option<Found> {
        let number = self.passing(next, &[':', '.']);
        let least = self.tokens.number(number)?;
        if self.is_of_amount(number) || self.tokens.is_touched_behind(number) {
            return None;
        }
        let (is_counted, end) = match self.words.at(&self.tokens, number + 1) {
            Some((Meaning::Counted, end)) => (true, end),
            _ => (false, number + 1),
        };
        match meaning {
            Meaning::AtLeast => one(Says::AtLeast(least), end),
            _ if is_counted => one(Says::Aside(Aside::Sale), end),
            _ => None,
        }
    }
}
