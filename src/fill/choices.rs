//! What each place may still hold, as bits over the kinds of a demand.

use crate::fill::{KindIx, PlaceId};
use crate::search::{Index, Table};

/// What each place may still hold.
pub(crate) type OpenPlaces = Table<PlaceId, Choices>;

/// What a place may hold: bit 0 for nothing, then a bit for each kind.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Choices(u64);

impl Choices {
    /// The most kinds that find room beside the bit for nothing, with one bit to spare.
    pub(crate) const MOST_KINDS: usize = 62;
    /// Not even nothing: a place like this makes a placing impossible.
    pub(crate) const NONE: Self = Self(0);
    /// A module of any kind, but not nothing.
    pub(crate) const ANY_MODULE: Self = Self(u64::MAX ^ 1);

    /// Just this: a module of a kind, or nothing.
    pub(crate) fn only(content: Option<KindIx>) -> Self {
        Self(1 << bit(content))
    }

    /// A module of one of these kinds, but not nothing.
    pub(crate) fn modules(kinds: impl Iterator<Item = KindIx>) -> Self {
        Self(kinds.fold(0, |bits, kind| bits | 1 << bit(Some(kind))))
    }

    /// The same or nothing.
    pub(crate) const fn or_nothing(self) -> Self {
        Self(self.0 | 1)
    }

    /// What both allow.
    pub(crate) const fn and(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    /// Whether both allow some one thing.
    pub(crate) const fn meets(self, other: Self) -> bool {
        self.0 & other.0 != 0
    }

    pub(crate) fn allows(self, content: Option<KindIx>) -> bool {
        self.0 >> bit(content) & 1 == 1
    }

    /// What is left to hold where it is just one thing: a module of a kind, or nothing.
    pub(crate) fn decided(self) -> Option<Option<KindIx>> {
        let first = usize::try_from(self.0.trailing_zeros()).ok()?;
        self.0.is_power_of_two().then(|| first.checked_sub(1).map(KindIx::of))
    }

    /// What it may hold, the best first: modules by priority, then nothing.
    pub(crate) fn best_first(self) -> impl Iterator<Item = Option<KindIx>> {
        let mut modules = self.and(Self::ANY_MODULE).0;
        let kinds = std::iter::from_fn(move || {
            let bit = (modules != 0).then(|| modules.trailing_zeros())?;
            modules &= modules - 1;
            Some(Some(KindIx::of(usize::try_from(bit).ok()?.checked_sub(1)?)))
        });
        kinds.chain(self.allows(None).then_some(None))
    }
}

/// The bit of a content. Kinds are no more than find room.
fn bit(content: Option<KindIx>) -> usize {
    content.map_or(0, |kind| kind.get() + 1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_best_comes_first_and_nothing_last() {
        let kind = |kind| Some(KindIx::of(kind));
        let choices = Choices::modules([KindIx::of(4), KindIx::of(0)].into_iter()).or_nothing();
        assert_eq!(choices.best_first().collect::<Vec<_>>(), [kind(0), kind(4), None]);
        assert_eq!(choices.decided(), None);
        assert_eq!(choices.or_nothing(), choices);
        assert!(choices.meets(Choices::only(None)) && !choices.meets(Choices::only(kind(1))));
        assert_eq!(choices.and(Choices::ANY_MODULE).and(Choices::only(kind(4))).decided(), Some(kind(4)));
        assert_eq!(choices.and(Choices::only(None)).decided(), Some(None));
        assert_eq!(Choices::NONE.decided(), None);
        assert_eq!(Choices::NONE.best_first().count(), 0);
        assert_eq!(Choices::ANY_MODULE.best_first().last(), Some(kind(Choices::MOST_KINDS)));
    }
}
