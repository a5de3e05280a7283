//! Warnings refused, and uneven wiring. The standard rules then ask that in a processor every channel has its first
//! module before any has a second, and that channels hold the same as far as both reach. So a processor carries one
//! module in some channels, or is filled to a depth; and all processors hold the same look at each depth. Which of
//! these layouts the rules admit is asked of the planner, first for each processor alone, then for all together. There
//! is a binary for each; the capacity of each is known.

use std::collections::BTreeMap;

use slotwright::platform::ChannelId;

use super::super::patterns::{Sequence, sequences};
use super::linear::{Compare, Term};
use super::{Form, Program};

/// What the channels of a processor, or of a machine, carry.
type Layout = Vec<(ChannelId, Sequence)>;

/// By processor and sequence, the ways to fill it alone.
type Known = BTreeMap<(usize, Sequence), Vec<Layout>>;

impl Program<'_> {
    /// # Panics
    /// Where modules are present: what could stay is not modelled here.
    pub(super) fn whole_layouts(&mut self) {
        assert!(self.holds_nothing());
        let depth = self.channels().iter().flatten().map(|&channel| self.slots_of(channel)).max().unwrap_or(0);
        let mut known = Known::new();
        let mut layouts: Vec<Layout> = Vec::new();
        for sequence in sequences(self.looks.len(), depth, false) {
            layouts.extend(self.layouts_of(&sequence, &mut known));
        }
        let (labour, target) = (self.labour(), self.target());
        let (mut one, mut capacity): (Vec<Term>, Vec<Term>) = (Vec::new(), Vec::new());
        for layout in layouts {
            let looks: Vec<usize> =
                layout.iter().flat_map(|(_, sequence)| sequence.iter().copied().flatten()).collect();
            let mib: u64 = layout.iter().map(|(_, sequence)| self.looks.mib(sequence)).sum();
            if self.form == Form::Tight && mib < target {
                continue;
            }
            let is_chosen = self.linear.binary(labour * looks.len() as i64);
            looks.iter().for_each(|&look| self.need[look].push((is_chosen, 1)));
            one.push((is_chosen, 1));
            capacity.push((is_chosen, mib as i64));
        }
        self.linear.row(one, Compare::Equal, 1);
        if self.form == Form::Plain {
            self.linear.row(capacity, Compare::AtLeast, target as i64);
        }
    }

    /// The layouts in which some channel carries the whole of a sequence, and none anything else.
    fn layouts_of(&self, sequence: &Sequence, known: &mut Known) -> Vec<Layout> {
        let judge = self.judge();
        let mut all: Vec<Layout> = vec![Vec::new()];
        for (index, channels) in self.channels().into_iter().enumerate().filter(|(_, channels)| !channels.is_empty()) {
            let mut states = Vec::new();
            for length in 1..=sequence.len() {
                let prefix = sequence[..length].to_vec();
                let found =
                    known.entry((index, prefix)).or_insert_with_key(|(_, prefix)| self.states(&channels, prefix));
                states.extend(found.iter().cloned());
            }
            let with = |so_far: &Layout| -> Vec<Layout> {
                states.iter().map(|state: &Layout| [so_far.clone(), state.clone()].concat()).collect()
            };
            all = all.iter().flat_map(with).collect();
        }
        let is_whole = |layout: &Layout| layout.iter().any(|(_, carried)| carried.len() == sequence.len());
        all.retain(|layout| is_whole(layout) && judge.allows(layout, &[]));
        all
    }

    /// The ways to fill a processor alone in which some channel carries the whole of a sequence.
    fn states(&self, channels: &[ChannelId], sequence: &Sequence) -> Vec<Layout> {
        let judge = self.judge();
        // a processor without memory is a warning for those alone
        let allows = |layout: &Layout| judge.allows(layout, &["socket-minimum"]);
        let mut states: Vec<Layout> = if sequence.len() == 1 {
            let alone = channels.iter().map(|&channel| (channel, sequence.clone()));
            let taking: Layout = alone.filter(|at| allows(&vec![at.clone()])).collect();
            (1..=taking.len()).map(|count| taking[..count].to_vec()).collect()
        } else if channels.iter().any(|&channel| self.slots_of(channel) >= sequence.len()) {
            let reach = |channel: ChannelId| sequence.len().min(self.slots_of(channel));
            vec![channels.iter().map(|&channel| (channel, sequence[..reach(channel)].to_vec())).collect()]
        } else {
            Vec::new()
        };
        states.retain(allows);
        states
    }
}
