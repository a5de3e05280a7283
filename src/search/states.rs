//! Sets of count vectors, as bits over a mixed-radix numbering.

use crate::search::{Index, SearchSize, StopReason, Table, index_types, wide};

index_types! {
    /// A vector of a [`Space`], by its number.
    StateIx;
    /// One of the numbers that the vectors of a [`Space`] are made of.
    DigitIx;
}

/// The count vectors from zero up to a limit in each digit, numbered so that adding a vector is adding
/// its number.
#[derive(Debug, Clone)]
pub(crate) struct Space {
    digits: Table<DigitIx, Digit>,
    size: usize,
}

/// What is known of a digit.
#[derive(Debug, Clone, Copy)]
struct Digit {
    limit: usize,
    /// By how much the number of a vector grows where the digit grows by one.
    stride: usize,
}

impl Space {
    /// The most vectors that a space may have.
    const MOST: usize = 1 << 22;

    /// The space up to these limits.
    ///
    /// # Errors
    /// Where it is too large to search.
    pub(crate) fn new(limits: &[usize]) -> Result<Self, StopReason> {
        let mut digits = Table::default();
        let mut size = 1usize;
        for &limit in limits {
            digits.push(Digit { limit, stride: size });
            let next = limit.checked_add(1).and_then(|values| size.checked_mul(values));
            match next.filter(|&size| size <= Self::MOST) {
                Some(next) => size = next,
                None => return Err(Self::too_large(limits)),
            }
        }
        Ok(Self { digits, size })
    }

    fn too_large(limits: &[usize]) -> StopReason {
        let values = |&limit: &usize| wide(limit).checked_add(1);
        let found = limits.iter().map(values).try_fold(1_u64, |size, values| size.checked_mul(values?));
        // told as far as it can be counted
        let found = found.unwrap_or(u64::MAX);
        StopReason::TooLarge { what: SearchSize::SplitsOfModules, found, limit: wide(Self::MOST) }
    }

    /// How many vectors there are.
    pub(crate) fn size(&self) -> usize {
        self.size
    }

    /// A set of no vector.
    pub(crate) fn no_states(&self) -> StateSet {
        StateSet { words: vec![0; self.size.div_ceil(64)] }
    }

    /// The number of a vector within the limits; `None` for one beyond them.
    pub(crate) fn number(&self, counts: impl Iterator<Item = usize>) -> Option<StateIx> {
        let mut number = 0;
        for (count, digit) in counts.zip(self.digits.values()) {
            if count > digit.limit {
                return None;
            }
            number += count * digit.stride;
        }
        Some(StateIx::of(number))
    }

    /// One digit of a vector. Of what has no digit, vectors count nothing.
    pub(crate) fn digit(&self, state: StateIx, index: DigitIx) -> usize {
        self.digits.get(index).map_or(0, |digit| state.get() / digit.stride % (digit.limit + 1))
    }

    /// The vectors to which a vector within the limits can be added without passing one.
    pub(crate) fn below(&self, counts: impl Iterator<Item = usize>) -> StateSet {
        let mut set = self.no_states();
        set.insert(StateIx::of(0));
        for (count, &Digit { limit, stride }) in counts.zip(self.digits.values()) {
            // doubling: a set of the first few values of a digit makes one of twice as many
            let (mut values, wanted) = (1, limit - count.min(limit) + 1);
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
    pub(crate) fn clear(&mut self) {
        self.words.fill(0);
    }

    pub(crate) fn insert(&mut self, state: StateIx) {
        if let Some(word) = self.words.get_mut(state.get() / 64) {
            *word |= 1 << (state.get() % 64);
        }
    }

    pub(crate) fn contains(&self, state: StateIx) -> bool {
        self.words.get(state.get() / 64).is_some_and(|word| word >> (state.get() % 64) & 1 == 1)
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.words.iter().all(|&word| word == 0)
    }

    pub(crate) fn add(&mut self, other: &Self) {
        self.words.iter_mut().zip(&other.words).for_each(|(word, other)| *word |= other);
    }

    /// Takes the vectors of another set out.
    pub(crate) fn remove(&mut self, other: &Self) {
        self.words.iter_mut().zip(&other.words).for_each(|(word, other)| *word &= !other);
    }

    /// Takes out what another set does not have.
    pub(crate) fn keep(&mut self, other: &Self) {
        self.words.iter_mut().zip(&other.words).for_each(|(word, other)| *word &= other);
    }

    /// Adds the sums of a vector and of each in `from` that has room for it.
    pub(crate) fn add_raised(&mut self, from: &Self, room: &Self, by: StateIx) {
        self.add_words(from.words.iter().zip(&room.words).map(|(word, room)| word & room), by.get());
    }

    /// Adds `from`, every number raised by `offset`.
    fn add_shifted(&mut self, from: &Self, offset: usize) {
        self.add_words(from.words.iter().copied(), offset);
    }

    /// Adds the bits of `words` from number 0 on, every number raised by `offset`; what is raised beyond the end is lost.
    fn add_words(&mut self, words: impl Iterator<Item = u64>, offset: usize) {
        let (whole, bits) = (offset / 64, offset % 64);
        let Some(raised) = self.words.get_mut(whole..) else { return };
        if bits == 0 {
            raised.iter_mut().zip(words).for_each(|(raised, word)| *raised |= word);
            return;
        }
        // a zero word adds nothing, and to ask first takes longer than to add it
        let mut carried = 0;
        for (raised, word) in raised.iter_mut().zip(words) {
            *raised |= word << bits | carried;
            carried = word >> (64 - bits);
        }
    }

    /// The vectors, the lowest number first.
    pub(crate) fn iter(&self) -> impl Iterator<Item = StateIx> + '_ {
        self.words.iter().enumerate().flat_map(|(index, &word)| {
            let mut rest = word;
            std::iter::from_fn(move || {
                let bit = (rest != 0).then(|| rest.trailing_zeros())?;
                rest &= rest - 1;
                // less than 64, which is a size on any machine
                Some(StateIx::of(index * 64 + usize::try_from(bit).ok()?))
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
            let space = Space::new(&limits).unwrap();
            let step = &step[..limits.len()];
            let Some(offset) = space.number(step.iter().copied()) else { return Ok(()) };
            let mut from = space.no_states();
            let mut expected = space.no_states();
            for member in &members {
                let member = &member[..limits.len()];
                if let Some(number) = space.number(member.iter().copied()) {
                    from.insert(number);
                    let sum: Vec<_> = member.iter().zip(step).map(|(a, b)| a + b).collect();
                    if let Some(number) = space.number(sum.into_iter()) {
                        expected.insert(number);
                    }
                }
            }
            let mut raised = space.no_states();
            raised.add_raised(&from, &space.below(step.iter().copied()), offset);
            prop_assert_eq!(raised, expected);
        }
    }

    #[test]
    fn a_space_too_large_says_so() {
        let too_large =
            StopReason::TooLarge { what: SearchSize::SplitsOfModules, found: 1001 * 1001 * 1001, limit: 1 << 22 };
        assert_eq!(Space::new(&[1000, 1000, 1000]).unwrap_err(), too_large);
        assert_eq!(Space::new(&[2, 3]).unwrap().size(), 12);
    }
}
