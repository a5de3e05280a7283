//! Warnings allowed: only errors refuse. Each channel may then carry what no error rule objects to in it, whatever the
//! others carry; across channels there remain the capacity that a processor takes, and kinds that do not go together in
//! one machine.
//!
//! Channels are grouped by processor, slots and what they hold now. There is an integer for each pattern in each group:
//! the channels that carry it. Where modules are present, a pattern that lets one of them stay counts in each order,
//! with gaps too.

use std::collections::BTreeMap;

use slotwright::platform::ChannelId;

use super::super::patterns::{Sequence, by_content, sequences, sorted};
use super::linear::{Compare, Term, Variable};
use super::present::Cells;
use super::{Form, Program};

impl Program<'_> {
    pub(super) fn free(&mut self) {
        let with_gaps = !self.holds_nothing();
        let mut known = BTreeMap::new();
        let caps = self.caps();
        let classes = self.look_classes();
        let is_allowed: BTreeMap<usize, Variable> =
            classes.iter().map(|&class| (class, self.linear.binary(0))).collect();
        self.linear.row(is_allowed.values().map(|&allowed| (allowed, 1)), Compare::AtMost, 1);
        let mut capacity: Vec<Term> = Vec::new();
        let mut of_capped: BTreeMap<usize, Vec<Term>> = BTreeMap::new();
        for ((owner, _, cells), channels) in self.groups() {
            let count = channels.len() as i64;
            let kind = (self.like(owner), self.slots_of(channels[0]));
            let found = known.entry(kind).or_insert_with(|| {
                let judge = self.judge();
                let alone = |sequence: &Sequence| judge.allows(&[(channels[0], sequence.clone())], &[]);
                by_content(sequences(self.looks.len(), kind.1, with_gaps), !with_gaps, alone)
            });
            let mut carried: Vec<(Sequence, Variable)> = Vec::new();
            for (content, orders) in found.clone() {
                let mib = self.looks.mib(&orders[0]) as i64;
                let orders: Vec<Sequence> = (orders.iter().enumerate())
                    .filter(|(index, order)| *index == 0 || self.keeps(&cells, order))
                    .map(|(_, order)| order.clone())
                    .collect();
                for order in orders {
                    let carrying = self.linear.integer(self.labour() * content.len() as i64, 0, count);
                    capacity.push((carrying, mib));
                    content.iter().for_each(|&look| self.need[look].push((carrying, 1)));
                    carried.push((order, carrying));
                    if caps[owner].is_some() {
                        of_capped.entry(owner).or_default().push((carrying, mib));
                    }
                }
            }
            self.linear.row(carried.iter().map(|&(_, carrying)| (carrying, 1)), Compare::AtMost, count);
            self.one_class(&carried, count, &classes, &is_allowed);
            self.fates(&cells, count, &carried);
        }
        for (owner, carried) in of_capped {
            self.linear.row(carried, Compare::AtMost, caps[owner].unwrap() as i64);
        }
        self.reach(capacity);
    }

    /// Capacity as asked for; tight, in the common unit of the sizes.
    fn reach(&mut self, capacity: Vec<Term>) {
        let common = |a: i64, b: i64| {
            let (mut a, mut b) = (a, b);
            while b != 0 {
                (a, b) = (b, a % b);
            }
            a
        };
        let unit = if self.form == Form::Tight { capacity.iter().map(|&(_, mib)| mib).fold(0, common) } else { 1 };
        let unit = unit.max(1);
        let target = (self.target() as i64 + unit - 1) / unit;
        self.linear.row(capacity.into_iter().map(|(carrying, mib)| (carrying, mib / unit)), Compare::AtLeast, target);
    }

    /// Channels that nothing tells apart, by processor, slots and what they hold now. Tight, like processors are one.
    fn groups(&self) -> BTreeMap<(usize, usize, Cells), Vec<ChannelId>> {
        let caps = self.caps();
        let mut groups: BTreeMap<_, Vec<ChannelId>> = BTreeMap::new();
        for (index, channels) in self.channels().into_iter().enumerate() {
            let owner = if self.form == Form::Tight && caps[index].is_none() { self.like(index) } else { index };
            for channel in channels {
                groups.entry((owner, self.slots_of(channel), self.cells(channel))).or_default().push(channel);
            }
        }
        groups
    }

    /// The first processor that is like one.
    fn like(&self, index: usize) -> usize {
        let processors: Vec<_> = self.planner.machine().processors().map(|(_, processor)| processor).collect();
        (0..index).find(|&other| processors[other] == processors[index]).unwrap_or(index)
    }

    /// The looks by which may be in one machine together.
    fn look_classes(&self) -> Vec<usize> {
        let judge = self.judge();
        // two channels of each sort tell as much as all
        let mut asked: BTreeMap<(usize, usize), Vec<ChannelId>> = BTreeMap::new();
        for (index, channels) in self.channels().into_iter().enumerate() {
            for channel in channels {
                let sort = asked.entry((self.like(index), self.slots_of(channel))).or_default();
                if sort.len() < 2 {
                    sort.push(channel);
                }
            }
        }
        let takes = |look: usize| {
            let channels = asked.values().flatten().copied();
            channels.filter(|&channel| judge.allows(&[(channel, vec![Some(look)])], &[])).collect()
        };
        let places: Vec<Vec<ChannelId>> = (0..self.looks.len()).map(takes).collect();
        judge.classes(&places)
    }

    /// Only one class of looks is in a machine.
    fn one_class(
        &mut self,
        carried: &[(Sequence, Variable)],
        count: i64,
        classes: &[usize],
        is_allowed: &BTreeMap<usize, Variable>,
    ) {
        if is_allowed.len() < 2 {
            return;
        }
        for (class, &allowed) in is_allowed {
            let of_class =
                carried.iter().filter(|(sequence, _)| sorted(sequence).iter().any(|&look| classes[look] == *class));
            let of_class: Vec<Term> = of_class.map(|&(_, carrying)| (carrying, 1)).collect();
            if self.form == Form::Tight {
                self.linear.row(of_class.into_iter().chain([(allowed, -count)]), Compare::AtMost, 0);
            } else {
                for term in of_class {
                    self.linear.row([term, (allowed, -count)], Compare::AtMost, 0);
                }
            }
        }
    }
}
