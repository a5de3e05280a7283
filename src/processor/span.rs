//! Values from a least to a most, both included.

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Span<T> {
    pub(crate) least: T,
    pub(crate) most: T,
}

impl<T: Copy + Ord> Span<T> {
    /// The part of it that a single value and bounds leave; `None` where there are none of these. Nothing may be left: the
    /// least is then above the most.
    pub(crate) fn narrowed(self, single: Option<T>, at_least: Option<T>, at_most: Option<T>) -> Option<Self> {
        let least = [single, at_least].into_iter().flatten().max();
        let most = [single, at_most].into_iter().flatten().min();
        (least.is_some() || most.is_some()).then(|| Self {
            least: least.map_or(self.least, |least| least.max(self.least)),
            most: most.map_or(self.most, |most| most.min(self.most)),
        })
    }

    pub(crate) fn contains(self, value: T) -> bool {
        (self.least..=self.most).contains(&value)
    }

    pub(crate) fn is_empty(self) -> bool {
        self.least > self.most
    }

    pub(crate) fn is_single(self) -> bool {
        self.least == self.most
    }

    pub(crate) fn meets(self, other: Self) -> bool {
        self.least <= other.most && other.least <= self.most
    }

    pub(crate) fn lies_within(self, other: Self) -> bool {
        other.least <= self.least && self.most <= other.most
    }
}
