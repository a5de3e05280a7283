//! Indices with a type of their own, and lists that are asked by them alone.

use std::marker::PhantomData;

/// An index into one sort of list.
pub(crate) trait Index: Copy + Eq + Ord {
    fn of(index: usize) -> Self;
    fn get(self) -> usize;

    /// The index so many further on.
    fn after(self, count: usize) -> Self {
        Self::of(self.get() + count)
    }
}

/// A size in 64 bits. Sizes of this machine have no more, so that nothing is ever clamped.
pub(crate) fn wide(size: usize) -> u64 {
    u64::try_from(size).unwrap_or(u64::MAX)
}

/// Defines index types.
macro_rules! index_types {
    ($($(#[$doc:meta])* $name:ident;)+) => {
        $(
            $(#[$doc])*
            #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
            pub(crate) struct $name(usize);

            impl $crate::search::Index for $name {
                fn of(index: usize) -> Self {
                    Self(index)
                }

                fn get(self) -> usize {
                    self.0
                }
            }
        )+
    };
}

pub(crate) use index_types;

/// A list whose entries are found by their own sort of index.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Table<I, T> {
    entries: Vec<T>,
    index: PhantomData<I>,
}

impl<I, T: Clone> Clone for Table<I, T> {
    fn clone(&self) -> Self {
        Self { entries: self.entries.clone(), index: PhantomData }
    }

    fn clone_from(&mut self, source: &Self) {
        self.entries.clone_from(&source.entries);
    }
}

impl<I, T> Default for Table<I, T> {
    fn default() -> Self {
        Self { entries: Vec::new(), index: PhantomData }
    }
}

impl<I: Index, T> Table<I, T> {
    /// The same for each of so many entries.
    pub(crate) fn filled(value: T, len: usize) -> Self
    where
        T: Clone,
    {
        Self { entries: vec![value; len], index: PhantomData }
    }

    pub(crate) fn get(&self, index: I) -> Option<&T> {
        self.entries.get(index.get())
    }

    pub(crate) fn get_mut(&mut self, index: I) -> Option<&mut T> {
        self.entries.get_mut(index.get())
    }

    /// Adds an entry to the end.
    pub(crate) fn push(&mut self, entry: T) -> I {
        self.entries.push(entry);
        I::of(self.entries.len() - 1)
    }

    pub(crate) fn len(&self) -> usize {
        self.entries.len()
    }

    pub(crate) fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// The indices, in order.
    pub(crate) fn ids(&self) -> impl DoubleEndedIterator<Item = I> + ExactSizeIterator + Clone + use<I, T> {
        (0..self.entries.len()).map(I::of)
    }

    /// The entries with their indices, in order.
    pub(crate) fn iter(&self) -> impl DoubleEndedIterator<Item = (I, &T)> + ExactSizeIterator + Clone {
        self.entries.iter().enumerate().map(|(index, entry)| (I::of(index), entry))
    }

    pub(crate) fn iter_mut(&mut self) -> impl Iterator<Item = (I, &mut T)> {
        self.entries.iter_mut().enumerate().map(|(index, entry)| (I::of(index), entry))
    }

    /// The entries alone, in order.
    pub(crate) fn values(&self) -> &[T] {
        &self.entries
    }

    /// The entries alone, taken out in order.
    pub(crate) fn into_values(self) -> impl Iterator<Item = T> {
        self.entries.into_iter()
    }

    /// The first entry that is so.
    pub(crate) fn find(&self, is_it: impl Fn(&T) -> bool) -> Option<I> {
        self.entries.iter().position(is_it).map(I::of)
    }
}

impl<I: Index, T> FromIterator<T> for Table<I, T> {
    fn from_iter<Entries: IntoIterator<Item = T>>(entries: Entries) -> Self {
        Self { entries: entries.into_iter().collect(), index: PhantomData }
    }
}
