//! Sets of count vectors, as bits over a mixed-radix numbering.

use crate::search::{SearchSize, StopReason};

/// The count vectors from zero up to a limit in each digit, numbered so that adding a vector is adding
/// its number.
#[derive(Debug, Clone)]
pub(crate) struct Space {
    limits: Vec<usize>,
    strides: Vec<usize>,
    size: usize,
}

impl Space {
    /// The most vectors that a space may have.
    const MOST: usize = 1 << 22;

    /// The space up to these limits.
    ///
    /// # Errors
    /// Where it is too large to search.
    pub(crate) fn new(limits: Vec<usize>) -> Result<Self, StopReason> {
        let mut strides = Vec::with_capacity(limits.len());
        let mut size = 1usize;
        for &limit in &limits {
            strides.push(size);
            let next = limit.checked_add(1).and_then(|values| size.checked_mul(values));
            match next.filter(|&size| size <= Self::MOST) {
                Some(next) => size = next,
                None => return Err(Self::too_large(&limits)),
            }
        }
        Ok(Self { limits, strides, size })
    }

    fn too_large(limits: &[usize]) -> StopReason {
        let values = |&limit: &usize| u64::try_from(limit).ok()?.checked_add(1);
        // as far as that can be counted
        let found = limits.iter().map(values).try_fold(1_u64, |size, values| size.checked_mul(values?));
        let limit = u64::try_from(Self::MOST).unwrap_or(u64::MAX);
        StopReason::TooLarge { what: SearchSize::SplitsOfModules, found: found.unwrap_or(u64::MAX), limit }
    }

    pub(crate) fn size(&self) -> usize {
        self.size
    }

    /// The number of a vector within the limits; `None` for one beyond them.
    pub(crate) fn number(&self, digits: &[usize]) -> Option<usize> {
        let mut number = 0;
        for ((&digit, &limit), &stride) in digits.iter().zip(&self.limits).zip(&self.strides) {
            if digit > limit {
                return None;
            }
            number += digit * stride;
        }
        Some(number)
    }

    /// One digit of a vector.
    pub(crate) fn digit(&self, number: usize, index: usize) -> usize {
        match (self.strides.get(index), self.limits.get(index)) {
            (Some(&stride), Some(&limit)) => number / stride % (limit + 1),
            _ => 0,
        }
    }

    /// The vectors to which `digits` can be added without passing a limit.
    pub(crate) fn below(&self, digits: &[usize]) -> StateSet {
        let mut set = StateSet::empty(self.size);
        set.insert(0);
        for ((&digit, &limit), &stride) in digits.iter().zip(&self.limits).zip(&self.strides) {
            // doubling: a set of the first few values of a digit makes one of twice as many
            let (mut values, wanted) = (1, (limit + 1).saturating_sub(digit));
            while values < wanted {
                let more = values.min(wanted - values);
                let known = set.clone();
                set.add_shifted(&known, more * stride);
                values += more;
            }
        }
        set
    }
}

/// A set of numbered vectors.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct StateSet {
    words: Vec<u64>,
}

impl StateSet {
    pub(crate) fn empty(size: usize) -> Self {
        Self { words: vec![0; size.div_ceil(64)] }
    }

    pub(crate) fn clear(&mut self) {
        self.words.fill(0);
    }

    pub(crate) fn insert(&mut self, number: usize) {
        if let Some(word) = self.words.get_mut(number / 64) {
            *word |= 1 << (number % 64);
        }
    }

    pub(crate) fn contains(&self, number: usize) -> bool {
        self.words.get(number / 64).is_some_and(|word| word >> (number % 64) & 1 == 1)
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.words.iter().all(|&word| word == 0)
    }

    pub(crate) fn add(&mut self, other: &Self) {
        self.words.iter_mut().zip(&other.words).for_each(|(word, other)| *word |= other);
    }

    /// Takes the numbers of another set out.
    pub(crate) fn remove(&mut self, other: &Self) {
        self.words.iter_mut().zip(&other.words).for_each(|(word, other)| *word &= !other);
    }

    pub(crate) fn keep(&mut self, other: &Self) {
        self.words.iter_mut().zip(&other.words).for_each(|(word, other)| *word &= other);
    }

    /// Adds `from` within `mask`, every number raised by `offset`.
    pub(crate) fn add_raised(&mut self, from: &Self, mask: &Self, offset: usize) {
        self.add_words(from.words.iter().zip(&mask.words).map(|(word, mask)| word & mask), offset);
    }

    /// Adds `from`, every number raised by `offset`.
    fn add_shifted(&mut self, from: &Self, offset: usize) {
        self.add_words(from.words.iter().copied(), offset);
    }

    fn add_words(&mut self, words: impl Iterator<Item = u64>, offset: usize) {
        let (whole, bits) = (offset / 64, offset % 64);
        for (index, word) in words.enumerate() {
            if word == 0 {
                continue;
            }
            if let Some(low) = self.words.get_mut(index + whole) {
                *low |= word << bits;
            }
            if bits > 0 {
                if let Some(high) = self.words.get_mut(index + whole + 1) {
                    *high |= word >> (64 - bits);
                }
            }
        }
    }

    /// The numbers, lowest first.
    pub(crate) fn iter(&self) -> impl Iterator<Item = usize> + '_ {
        self.words.iter().enumerate().flat_map(|(index, &word)| {
            let mut rest = word;
            std::iter::from_fn(move || {
                let bit = (rest != 0).then(|| rest.trailing_zeros())?;
                rest &= rest - 1;
                Some(index * 64 + usize::try_from(bit).unwrap_or(0))
            })
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Raising a set is adding the vector to each of its members that has room for it.
        #[test]
        fn raising_adds_vectors(
            limits in prop::collection::vec(0usize..6, 1..4),
            members in prop::collection::vec(prop::collection::vec(0usize..6, 3), 0..20),
            step in prop::collection::vec(0usize..3, 3),
        ) {
            let space = Space::new(limits.clone()).unwrap();
            let step = &step[..limits.len()];
            let Some(offset) = space.number(step) else { return Ok(()) };
            let mut from = StateSet::empty(space.size());
            let mut expected = StateSet::empty(space.size());
            for member in &members {
                let member = &member[..limits.len()];
                if let Some(number) = space.number(member) {
                    from.insert(number);
                    let sum: Vec<_> = member.iter().zip(step).map(|(a, b)| a + b).collect();
                    if let Some(number) = space.number(&sum) {
                        expected.insert(number);
                    }
                }
            }
            let mut raised = StateSet::empty(space.size());
            raised.add_raised(&from, &space.below(step), offset);
            prop_assert_eq!(raised, expected);
        }
    }

    #[test]
    fn a_space_too_large_says_so() {
        let too_large =
            StopReason::TooLarge { what: SearchSize::SplitsOfModules, found: 1001 * 1001 * 1001, limit: 1 << 22 };
        assert_eq!(Space::new(vec![1000, 1000, 1000]).unwrap_err(), too_large);
        assert_eq!(Space::new(vec![2, 3]).unwrap().size(), 12);
    }
}
