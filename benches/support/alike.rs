//! Warnings refused, and all channels wired alike. The standard rules then ask that all populated channels hold the
//! same, at all processors alike, that none stays empty while another has two modules, and that an odd number of them
//! is one, or all. So there is a binary for each pattern, of which one is chosen, and an integer for the channels of a
//! processor that carry it, within what the capacity asks for at least and what there are at most, or none.
//!
//! Order along a channel is no matter but for what stays: for present modules, grouped by processor and what their
//! channel holds, there is an integer for the channels of the group in use, and one for those that carry a pattern in
//! an order in which something can stay.

use std::collections::BTreeMap;

use super::super::patterns::{Sequence, by_content, sequences};
use super::linear::{Compare, Term, Variable};
use super::present::Cells;
use super::{Form, Program};

/// The rule that is counted here, not judged: patterns are judged in all channels at once.
const COUNTED: &str = "socket-capacity";

/// A pattern in each order, whether it is chosen, and how many channels of a processor carry it.
struct Pattern {
    orders: Vec<Sequence>,
    is_chosen: Variable,
    carrying: Variable,
}

impl Program<'_> {
    pub(super) fn alike(&mut self) {
        let of_each = self.channels();
        let (processors, all) = (of_each.len() as u64, of_each[0].len() as i64);
        let machine = self.planner.machine();
        let lists_sets = machine.processors().any(|(_, processor)| processor.description().interleave.is_some());
        let cap = self.caps().into_iter().flatten().min();
        let everywhere = |sequence: &Sequence| -> Vec<_> {
            of_each.iter().flatten().map(|&channel| (channel, sequence.clone())).collect()
        };
        let judge = self.judge();
        let all_sequences = sequences(self.looks.len(), self.slots_of(of_each[0][0]), false);
        let found =
            by_content(all_sequences, self.holds_nothing(), |sequence| judge.allows(&everywhere(sequence), &[COUNTED]));
        let (labour, target) = (self.labour(), self.target());
        let (mut patterns, mut capacity) = (Vec::new(), Vec::new());
        for (content, orders) in found {
            let mib = self.looks.mib(&orders[0]);
            // so many modules in a channel of each processor
            let modules = (processors as usize * content.len()) as i64;
            let least = if self.form == Form::Tight { target.div_ceil(mib * processors).max(1) as i64 } else { 1 };
            let most = cap.map_or(all, |cap| all.min((cap / mib) as i64));
            // every channel has its first module before any has a second
            let least = if content.len() > 1 { least.max(all) } else { least };
            // an odd number of channels above one is none but that of all
            let may_be = |&count: &i64| lists_sets || count == 1 || count % 2 == 0 || count == all;
            let counts: Vec<i64> = (least..=most).filter(may_be).collect();
            let (Some(&least), Some(&most)) = (counts.first(), counts.last()) else { continue };
            let is_chosen = self.linear.binary(0);
            let carrying = self.linear.integer(labour * modules, 0, most);
            if least == most {
                self.linear.row([(carrying, 1), (is_chosen, -most)], Compare::Equal, 0);
            } else {
                self.linear.row([(carrying, 1), (is_chosen, -least)], Compare::AtLeast, 0);
                self.linear.row([(carrying, 1), (is_chosen, -most)], Compare::AtMost, 0);
            }
            if counts.len() > 1 && counts.len() as i64 != most - least + 1 {
                let ways: Vec<(Variable, i64)> = counts.iter().map(|&count| (self.linear.binary(0), count)).collect();
                let one = ways.iter().map(|&(way, _)| (way, 1)).chain([(is_chosen, -1)]);
                self.linear.row(one, Compare::Equal, 0);
                self.linear.row(ways.iter().copied().chain([(carrying, -1)]), Compare::Equal, 0);
            }
            capacity.push((carrying, (mib * processors) as i64));
            content.iter().for_each(|&look| self.need[look].push((carrying, processors as i64)));
            patterns.push(Pattern { orders, is_chosen, carrying });
        }
        self.linear.row(patterns.iter().map(|pattern| (pattern.is_chosen, 1)), Compare::Equal, 1);
        if self.form == Form::Plain {
            self.linear.row(capacity, Compare::AtLeast, target as i64);
        }
        if !self.holds_nothing() {
            self.kept(&patterns);
        }
    }

    /// Which channels of each processor carry the pattern, in which order, and what stays there.
    fn kept(&mut self, patterns: &[Pattern]) {
        for channels in self.channels() {
            let mut groups: BTreeMap<Cells, i64> = BTreeMap::new();
            channels.iter().for_each(|&channel| *groups.entry(self.cells(channel)).or_insert(0) += 1);
            let mut in_use: Vec<Term> = patterns.iter().map(|pattern| (pattern.carrying, -1)).collect();
            for (cells, channels) in groups {
                let used = self.linear.integer(0, 0, channels);
                in_use.push((used, 1));
                let mut carried: Vec<(Sequence, Variable)> = Vec::new();
                for pattern in patterns {
                    let keeping = pattern.orders.iter().filter(|order| self.keeps(&cells, order));
                    for order in keeping.cloned().collect::<Vec<Sequence>>() {
                        let carrying = self.linear.integer(0, 0, channels);
                        self.linear.row([(carrying, 1), (pattern.is_chosen, -channels)], Compare::AtMost, 0);
                        carried.push((order, carrying));
                    }
                }
                let in_order = carried.iter().map(|&(_, carrying)| (carrying, 1));
                self.linear.row(in_order.chain([(used, -1)]), Compare::AtMost, 0);
                self.fates(&cells, channels, &carried);
            }
            self.linear.row(in_use, Compare::Equal, 0);
        }
    }
}
