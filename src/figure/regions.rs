//! Water-filling: which channels are interleaved with which, and how far.

use std::cmp::Reverse;
use std::collections::HashMap;

use crate::machine::{WiredChannels, WiredSet, Wiring};

/// Channels that are interleaved, as bits, and how much of each.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Level {
    pub(crate) channels: u64,
    pub(crate) height: u64,
}

impl Level {
    pub(crate) const fn ways(self) -> u32 {
        self.channels.count_ones()
    }
}

/// A domain and its regions, the widest first.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Domain {
    pub(crate) channels: u64,
    pub(crate) regions: Vec<Level>,
}

impl Domain {
    /// What its channels hold together.
    pub(crate) fn capacity(&self) -> u64 {
        self.regions
            .iter()
            .fold(0, |sum, region| sum.saturating_add(region.height.saturating_mul(u64::from(region.ways()))))
    }

    /// What its fullest channel holds.
    pub(crate) fn most(&self, caps: &[u64]) -> u64 {
        members(self.channels).filter_map(|channel| caps.get(channel)).max().copied().unwrap_or(0)
    }

    /// What a single channel would hold that takes as long as the regions one after another.
    pub(crate) fn time(&self) -> u64 {
        self.regions.iter().fold(0, |sum, region| sum.saturating_add(region.height))
    }
}

/// The places of the bits of a set.
pub(crate) fn members(set: u64) -> impl Iterator<Item = usize> + Clone {
    let mut rest = set;
    std::iter::from_fn(move || {
        let bit = (rest != 0).then(|| rest.trailing_zeros())?;
        rest &= rest - 1;
        usize::try_from(bit).ok()
    })
}

/// The domains of a processor whose channels hold so much, with so many modules: those of the first division that firmware
/// allows, and which division that is.
pub(crate) fn domains(wiring: &Wiring, caps: &[u64], modules: usize) -> (Vec<Domain>, Option<usize>) {
    domains_by(wiring, (caps, modules), &mut Splits::default())
}

/// The same, with the splits of this wiring that are known; adds to them.
pub(crate) fn domains_by(
    wiring: &Wiring,
    (caps, modules): (&[u64], usize),
    splits: &mut Splits,
) -> (Vec<Domain>, Option<usize>) {
    let holds = |domain: u64| members(domain).any(|channel| caps.get(channel).is_some_and(|&cap| cap > 0));
    let division = wiring.divisions.iter().position(|division| {
        division.holds_at(modules)
            && (!division.needs_memory_in_each || division.domains.iter().all(|&domain| holds(domain)))
    });
    let mut regions =
        |channels: u64| Domain { channels, regions: fill(channels, caps, wiring.sets.as_deref(), splits) };
    match division.and_then(|index| wiring.divisions.get(index)) {
        Some(chosen) => (chosen.domains.iter().map(|&channels| regions(channels)).collect(), division),
        None => (vec![regions(wiring.all())], None),
    }
}

/// Level by level the channels with capacity left form a region, or the fewest permitted ones.
fn fill(domain: u64, caps: &[u64], sets: Option<&[WiredSet]>, splits: &mut Splits) -> Vec<Level> {
    let mut regions: Vec<Level> = Vec::with_capacity(2);
    let mut level = 0;
    loop {
        let (mut active, mut next) = (0_u64, u64::MAX);
        for channel in members(domain) {
            if let Some(&cap) = caps.get(channel).filter(|&&cap| cap > level) {
                active |= 1 << channel;
                next = next.min(cap);
            }
        }
        if active == 0 {
            return regions;
        }
        let height = next - level;
        let mut add = |channels: u64| match regions.iter_mut().find(|known| known.channels == channels) {
            Some(known) => known.height += height,
            None => regions.push(Level { channels, height }),
        };
        match sets {
            None => add(active),
            Some(sets) if is_permitted(active, caps, sets) => add(active),
            Some(sets) => splits.of(active, caps, sets).iter().copied().for_each(add),
        }
        level = next;
    }
}

fn alike(set: u64, caps: &[u64]) -> bool {
    let mut held = members(set).map(|channel| caps.get(channel));
    let first = held.next();
    held.all(|cap| Some(cap) == first)
}

fn is_permitted(set: u64, caps: &[u64], sets: &[WiredSet]) -> bool {
    set.count_ones() == 1
        || sets.iter().any(|permitted| {
            let fits = match permitted.channels {
                WiredChannels::Any(ways) => ways == set.count_ones(),
                WiredChannels::These(channels) => channels == set,
            };
            fits && (!permitted.equal || alike(set, caps))
        })
}

/// What sets of channels split into, as far as it was worked out: many fillings of the channels of one processor come to the
/// same sets.
#[derive(Debug, Default)]
pub(crate) struct Splits(HashMap<(u64, Vec<u64>), Vec<u64>>);

impl Splits {
    fn of(&mut self, active: u64, caps: &[u64], sets: &[WiredSet]) -> &[u64] {
        // what the channels hold is no matter but to sets that must hold the same
        let mut held = Vec::new();
        for set in sets.iter().filter(|set| set.equal) {
            match set.channels {
                WiredChannels::These(these) => held.push(u64::from(alike(these, caps))),
                WiredChannels::Any(_) => held.extend(members(active).filter_map(|channel| caps.get(channel))),
            }
        }
        self.0.entry((active, held)).or_insert_with(|| Splitting::new(active, caps, sets).all())
    }
}

/// The splitting of a set into the fewest permitted ones.
struct Splitting<'s> {
    active: u64,
    caps: &'s [u64],
    sets: &'s [WiredSet],
    /// Channels that no set in play tells apart.
    classes: Vec<u64>,
    /// The sizes of the fewest sets that make up what is left, the largest first.
    known: HashMap<u64, Vec<u32>>,
}

impl<'s> Splitting<'s> {
    fn new(active: u64, caps: &'s [u64], sets: &'s [WiredSet]) -> Self {
        let equal_matters = sets.iter().any(|set| set.equal && matches!(set.channels, WiredChannels::Any(_)));
        let signature = |channel: usize| {
            let in_sets = sets.iter().map(|set| match set.channels {
                WiredChannels::These(these) => these & !active == 0 && these >> channel & 1 == 1,
                WiredChannels::Any(_) => false,
            });
            (in_sets.collect::<Vec<bool>>(), caps.get(channel).filter(|_| equal_matters))
        };
        let mut classes: Vec<((Vec<bool>, Option<&u64>), u64)> = Vec::new();
        for channel in members(active) {
            let own = signature(channel);
            match classes.iter_mut().find(|(known, _)| *known == own) {
                Some((_, class)) => *class |= 1 << channel,
                None => classes.push((own, 1 << channel)),
            }
        }
        let classes = classes.into_iter().map(|(_, class)| class).collect();
        Self { active, caps, sets, classes, known: HashMap::new() }
    }

    /// The fewest permitted sets, larger ones first, then in channel order: each the first in channel order that
    /// leaves the sizes of the rest.
    fn all(&mut self) -> Vec<u64> {
        let mut rest = self.active;
        let mut sizes = self.sizes(rest);
        let mut chosen = Vec::with_capacity(sizes.len());
        while !sizes.is_empty() {
            let size = sizes.remove(0);
            let mut parts = self.parts(rest, None);
            parts.retain(|part| part.count_ones() == size);
            parts.sort_unstable_by_key(|part| Reverse(part.reverse_bits()));
            let Some(part) = parts.into_iter().find(|part| self.sizes(rest & !part) == sizes) else { break };
            chosen.push(part);
            rest &= !part;
        }
        chosen
    }

    /// The sizes of the fewest permitted sets that make up `rest`, the largest first.
    fn sizes(&mut self, rest: u64) -> Vec<u32> {
        if rest == 0 {
            return Vec::new();
        }
        if let Some(known) = self.known.get(&rest) {
            return known.clone();
        }
        let mut best: Option<Vec<u32>> = None;
        for part in self.parts(rest, Some(rest & rest.wrapping_neg())) {
            let mut sizes = self.sizes(rest & !part);
            sizes.push(part.count_ones());
            sizes.sort_unstable_by_key(|&size| Reverse(size));
            if best.as_ref().is_none_or(|best| (sizes.len(), Reverse(&sizes)) < (best.len(), Reverse(best))) {
                best = Some(sizes);
            }
        }
        let best = best.unwrap_or_default();
        self.known.insert(rest, best.clone());
        best
    }

    /// The permitted sets within `rest` that hold a channel, if one is given; of sets that differ only in channels
    /// that nothing tells apart, the first in channel order.
    fn parts(&self, rest: u64, with: Option<u64>) -> Vec<u64> {
        let start = with.unwrap_or(0);
        let mut parts = match with {
            Some(channel) => vec![channel],
            None => self.classes.iter().map(|class| class & rest).map(|own| own & own.wrapping_neg()).collect(),
        };
        for set in self.sets {
            match set.channels {
                WiredChannels::These(these) => {
                    let fits = these & !rest == 0 && these & start == start && (!set.equal || alike(these, self.caps));
                    parts.extend(fits.then_some(these));
                }
                WiredChannels::Any(ways) => {
                    let wanted = ways.saturating_sub(start.count_ones());
                    for usable in self.equals(rest, start, set.equal) {
                        self.choose(0, usable & !start, wanted, start, &mut parts);
                    }
                }
            }
        }
        parts.retain(|&part| part != 0);
        parts.sort_unstable();
        parts.dedup();
        parts
    }

    /// The channels of `rest` that may be in one set: all, or by what they hold, that of `start` alone if given.
    fn equals(&self, rest: u64, start: u64, equal: bool) -> Vec<u64> {
        if !equal {
            return vec![rest];
        }
        let alike_to = |channel: usize| {
            members(rest)
                .filter(|&other| self.caps.get(other) == self.caps.get(channel))
                .fold(0, |set, other| set | 1_u64 << other)
        };
        let mut sets: Vec<u64> = members(if start == 0 { rest } else { start }).map(alike_to).collect();
        sets.sort_unstable();
        sets.dedup();
        sets
    }

    /// Adds every way to choose so many of the usable channels, the first ones of each class.
    fn choose(&self, class: usize, usable: u64, left: u32, chosen: u64, parts: &mut Vec<u64>) {
        if left == 0 {
            parts.push(chosen);
            return;
        }
        let Some(&members_of) = self.classes.get(class) else { return };
        let mut with = chosen;
        self.choose(class + 1, usable, left, chosen, parts);
        for (taken, channel) in (1..=left).zip(members(usable & members_of)) {
            with |= 1 << channel;
            self.choose(class + 1, usable, left - taken, with, parts);
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn these(channels: &str) -> WiredSet {
        let bits = channels.bytes().fold(0, |bits, letter| bits | 1 << (letter - b'A'));
        WiredSet { channels: WiredChannels::These(bits), equal: false }
    }

    fn shown(set: u64) -> String {
        members(set).map(|channel| char::from(b'A' + u8::try_from(channel).unwrap())).collect()
    }

    fn regions(caps: &[u64], sets: Option<&[WiredSet]>) -> Vec<(String, u64)> {
        let all = (1 << caps.len()) - 1;
        fill(all, caps, sets, &mut Splits::default())
            .into_iter()
            .map(|level| (shown(level.channels), level.height))
            .collect()
    }

    fn owned(regions: &[(&str, u64)]) -> Vec<(String, u64)> {
        regions.iter().map(|&(channels, height)| (channels.to_owned(), height)).collect()
    }

    // Denneman, Memory Deep Dive (2015): 2-2-1-1 modules give 4 ways, then 2
    #[test]
    fn uneven_channels_form_levels() {
        assert_eq!(regions(&[2, 2, 1, 1], None), owned(&[("ABCD", 1), ("AB", 1)]));
        assert_eq!(regions(&[0, 5, 3, 0], None), owned(&[("BC", 3), ("B", 2)]));
        assert_eq!(regions(&[0, 0], None), []);
    }

    /// One 8-channel family of servers, as the trade describes it (T, Thomas-Krenn wiki): 8; 6 of A C D E G H where
    /// equal; 4 of ABCD, EFGH or CDGH; pairs.
    fn eight() -> Vec<WiredSet> {
        let six = WiredSet { equal: true, ..these("ACDEGH") };
        let all = ["ABCDEFGH", "ABCD", "EFGH", "CDGH", "AB", "CD", "EF", "GH"].map(these);
        [six].into_iter().chain(all).collect()
    }

    #[test]
    fn exact_sets_decide() {
        let sets = eight();
        let of = |channels: &str| {
            let caps: Vec<u64> = (b'A'..=b'H').map(|letter| u64::from(channels.as_bytes().contains(&letter))).collect();
            let found = regions(&caps, Some(&sets)).into_iter().map(|(channels, _)| channels).collect::<Vec<_>>();
            found.join(" ")
        };
        for (populated, split) in [
            ("ABCDEFGH", "ABCDEFGH"),
            ("ACDEGH", "ACDEGH"),
            ("ABCDEF", "ABCD EF"),
            ("ABCD", "ABCD"),
            ("CDGH", "CDGH"),
            ("ABEF", "AB EF"),
            ("CD", "CD"),
            ("CG", "C G"),
            ("ACEG", "A C E G"),
            ("CDG", "CD G"),
            ("ABCDEFG", "ABCD EF G"),
        ] {
            assert_eq!(of(populated), split, "{populated}");
        }
        // six channels that are not equal: the lower level is no permitted set of six
        assert_eq!(regions(&[2, 0, 1, 1, 1, 0, 1, 1], Some(&sets)), owned(&[("CDGH", 1), ("A", 2), ("E", 1)]));
    }

    #[test]
    fn sizes_are_split_into_the_fewest() {
        let any = |ways: u32| WiredSet { channels: WiredChannels::Any(ways), equal: false };
        let of = |count: usize, sets: &[WiredSet]| {
            regions(&vec![1; count], Some(sets)).into_iter().map(|(channels, _)| channels).collect::<Vec<_>>()
        };
        assert_eq!(of(6, &[any(8), any(4), any(3), any(2)]), ["ABCD", "EF"]);
        assert_eq!(of(6, &[any(4), any(3)]), ["ABC", "DEF"]);
        assert_eq!(of(3, &[]), ["A", "B", "C"]);
        // an exact set that uses up the sixth channel leaves four for the size
        assert_eq!(of(6, &[any(4), these("BF")]), ["ACDE", "BF"]);
        let equal = WiredSet { equal: true, ..any(4) };
        assert_eq!(regions(&[2, 1, 2, 2, 1, 2], Some(&[equal])), owned(&[("ACDF", 2), ("B", 1), ("E", 1)]));
        // the larger set takes the first channels, whatever the first channel is left with
        let equal = WiredSet { equal: true, ..any(3) };
        let found = regions(&[8, 16, 16, 16, 16], Some(&[any(2), equal]));
        assert_eq!(found, owned(&[("BCD", 16), ("AE", 8), ("E", 8)]));
        // larger sets first, over all of them
        let found = of(7, &[these("BEG"), these("CDF"), these("BCG"), any(2)]);
        assert_eq!(found, ["BEG", "CDF", "A"]);
    }

    /// The fewest permitted sets by trying every set for the first channel.
    fn fewest(rest: u64, caps: &[u64], sets: &[WiredSet]) -> usize {
        if rest == 0 {
            return 0;
        }
        let first = rest & rest.wrapping_neg();
        let subsets = (1..=rest).filter(|set| set & !rest == 0 && set & first != 0);
        subsets
            .filter(|&set| is_permitted(set, caps, sets))
            .map(|set| 1 + fewest(rest & !set, caps, sets))
            .min()
            .unwrap()
    }

    fn sets() -> impl Strategy<Value = Vec<WiredSet>> {
        let channels = prop_oneof![(2_u32..6).prop_map(WiredChannels::Any), (1_u64..64).prop_map(WiredChannels::These)];
        let set = (channels, any::<bool>()).prop_map(|(channels, equal)| WiredSet { channels, equal });
        proptest::collection::vec(set, 0..5)
    }

    proptest! {
        #[test]
        fn splits_are_permitted_and_the_fewest(caps in proptest::collection::vec(1_u64..3, 6), sets in sets()) {
            let split = Splitting::new(63, &caps, &sets).all();
            prop_assert_eq!(split.iter().fold(0, |all, set| all | set), 63);
            prop_assert_eq!(split.iter().map(|set| set.count_ones()).sum::<u32>(), 6);
            prop_assert!(split.iter().all(|&set| is_permitted(set, &caps, &sets)));
            prop_assert_eq!(split.len(), fewest(63, &caps, &sets));
        }

        #[test]
        fn known_splits_are_those_worked_out(
            fillings in proptest::collection::vec(proptest::collection::vec(0_u64..3, 6), 1..12),
            sets in sets(),
        ) {
            let mut splits = Splits::default();
            for caps in fillings {
                let known = fill(63, &caps, Some(&sets), &mut splits);
                prop_assert_eq!(known, fill(63, &caps, Some(&sets), &mut Splits::default()));
            }
        }

        #[test]
        fn regions_hold_what_the_channels_hold(caps in proptest::collection::vec(0_u64..5, 1..7), sets in sets()) {
            let all = (1 << caps.len()) - 1;
            for sets in [None, Some(sets.as_slice())] {
                let regions = fill(all, &caps, sets, &mut Splits::default());
                for (channel, &cap) in caps.iter().enumerate() {
                    let held: u64 = regions.iter().filter(|r| r.channels >> channel & 1 == 1).map(|r| r.height).sum();
                    prop_assert_eq!(held, cap);
                }
            }
        }
    }
}
