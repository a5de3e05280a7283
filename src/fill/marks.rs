//! Which loads the channels of a processor may carry, as marks: what is asked of every load for each way to fill the channels is
//! asked once, and the rest is a comparison of marks.

use std::cmp::Reverse;
use std::rc::Rc;

use itertools::Itertools;

use crate::fill::loads::{Load, Loads};
use crate::fill::{ShapeIx, SlotModel, SocketIx};

/// For each load of a processor's channels whether it is let pass.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Marks(Vec<bool>);

impl Marks {
    pub(crate) fn has(&self, load: usize) -> bool {
        self.0.get(load) == Some(&true)
    }

    /// Those that both let pass.
    pub(crate) fn and(&self, other: &Self) -> Self {
        Self(self.0.iter().zip(&other.0).map(|(one, other)| *one && *other).collect())
    }

    /// Whether these let pass nothing that others do not.
    fn is_within(&self, other: &Self) -> bool {
        self.0.iter().zip(&other.0).all(|(one, other)| *one <= *other)
    }

    fn count(&self) -> usize {
        self.0.iter().filter(|&&is_marked| is_marked).count()
    }

    /// Those that lie within no other: what is reached with the others is reached with these.
    pub(crate) fn largest(mut all: Vec<Self>) -> Vec<Self> {
        all.sort_unstable();
        all.dedup();
        all.sort_by_cached_key(|marks| Reverse(marks.count()));
        let mut largest: Vec<Self> = Vec::new();
        for marks in all {
            if !largest.iter().any(|other| marks.is_within(other)) {
                largest.push(marks);
            }
        }
        largest
    }
}

/// The loads of a processor's channels; of channels that carry the same ones they are there once.
pub(crate) struct OwnLoads<'m> {
    all: Vec<(ShapeIx, &'m Load)>,
    /// For each channel, where its loads begin, and how many there are.
    channels: Vec<(usize, usize)>,
}

impl<'m> OwnLoads<'m> {
    pub(crate) fn new(model: &SlotModel<'_>, loads: &'m Loads, socket: SocketIx) -> Self {
        let mut known: Vec<(&Rc<Vec<Load>>, usize)> = Vec::new();
        let (mut all, mut channels) = (Vec::new(), Vec::new());
        for &channel in model.channels_of(socket) {
            let (Some(own), Some(entry)) = (loads.channels.get(channel), model.channels.get(channel)) else { continue };
            let begin = match known.iter().find(|(other, _)| Rc::ptr_eq(other, own)) {
                Some(&(_, begin)) => begin,
                None => {
                    let begin = all.len();
                    known.push((own, begin));
                    all.extend(own.iter().map(|load| (entry.shape, load)));
                    begin
                }
            };
            channels.push((begin, own.len()));
        }
        Self { all, channels }
    }

    /// The loads that something lets pass.
    pub(crate) fn marks(&self, passes: impl Fn(ShapeIx, &Load) -> bool) -> Marks {
        Marks(self.all.iter().map(|&(shape, load)| passes(shape, load)).collect())
    }

    /// The loads of some marks.
    pub(crate) fn marked<'s>(&'s self, marks: &'s Marks) -> impl Iterator<Item = &'m Load> + 's {
        self.all.iter().zip(&marks.0).filter(|(_, is_marked)| **is_marked).map(|((_, load), _)| *load)
    }

    /// The loads of a channel, the channels being counted from 0, each with its number.
    pub(crate) fn of_channel(&self, channel: usize) -> impl Iterator<Item = (usize, &'m Load)> + '_ {
        let (begin, count) = self.channels.get(channel).copied().unwrap_or_default();
        self.all.iter().enumerate().skip(begin).take(count).map(|(number, &(_, load))| (number, load))
    }

    /// Whether two channels carry the same loads.
    pub(crate) fn are_alike(&self, one: usize, other: usize) -> bool {
        self.channels.get(one).is_some() && self.channels.get(one) == self.channels.get(other)
    }

    /// How many modules each marked load with some has, where all have as many.
    pub(crate) fn modules_of_each(&self, marks: &Marks) -> Option<usize> {
        self.marked(marks).map(|load| load.modules).filter(|&modules| modules > 0).all_equal_value().ok()
    }
}
