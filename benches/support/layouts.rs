//! Warnings refused, and uneven wiring. The standard rules then ask that in a processor every channel has its first module
//! before any has a second, and that channels hold the same as far as both reach. So a processor carries one module in
//! some channels, or is filled to a depth; and all processors hold the same look at each depth. Which of these layouts the
//! rules admit is asked of the planner, first for each processor alone, then for all together. There is a binary for
//! each; the capacity of each is known.

use slotwright::platform::ChannelId;

use super::super::patterns::{Sequence, sequences};
use super::linear::{Compare, Term};
use super::{Form, Program};

/// What the channels of a processor, or of a machine, carry.
type Layout = Vec<(ChannelId, Sequence)>;

impl Program<'_> {
    /// # Panics
    /// Where modules are present: what could stay is not modelled here.
    pub(super) fn whole_layouts(&mut self) {
        assert!(self.request.present.population.is_empty());
        let depth = self.channels().iter().flatten().map(|&channel| self.slots_of(channel)).max().unwrap_or(0);
        let mut layouts: Vec<Layout> = Vec::new();
        for sequence in sequences(self.looks.len(), depth, false) {
            layouts.extend(self.layouts_of(&sequence));
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
    fn layouts_of(&self, sequence: &Sequence) -> Vec<Layout> {
        let judge = self.judge();
        // a processor without memory is a warning for those alone
        let of_each = self.channels().into_iter().map(|channels| {
            let mut states = self.states(&channels, sequence);
            states.retain(|layout| judge.allows(layout, &["socket-minimum"]));
            states
        });
        let mut all: Vec<Layout> = vec![Vec::new()];
        for states in of_each.filter(|states| !states.is_empty()) {
            all = all
                .iter()
                .flat_map(|so_far| states.iter().map(|state| [so_far.clone(), state.clone()].concat()))
                .collect();
        }
        let is_whole = |layout: &Layout| layout.iter().any(|(_, carried)| carried.len() == sequence.len());
        all.retain(|layout| is_whole(layout) && judge.allows(layout, &[]));
        all
    }

    /// The ways to fill a processor with what begins a sequence.
    fn states(&self, channels: &[ChannelId], sequence: &Sequence) -> Vec<Layout> {
        let judge = self.judge();
        let first = vec![sequence[0]];
        let taking: Vec<ChannelId> = channels
            .iter()
            .copied()
            .filter(|&channel| judge.allows(&[(channel, first.clone())], &["socket-minimum"]))
            .collect();
        let some =
            (1..=taking.len()).map(|count| taking[..count].iter().map(|&channel| (channel, first.clone())).collect());
        let reach = channels.iter().map(|&channel| self.slots_of(channel)).max().unwrap_or(0);
        let to_depth = (2..=sequence.len().min(reach)).map(|depth| {
            let carried = |&channel: &ChannelId| (channel, sequence[..depth.min(self.slots_of(channel))].to_vec());
            channels.iter().map(carried).collect()
        });
        some.chain(to_depth).collect()
    }
}
