//! Shares out parts that work alike: as few different ones in a channel as can be, then in a processor.

use std::collections::BTreeMap;

use itertools::Itertools;

use crate::module::MemoryModule;
use crate::platform::{Platform, SlotId};

/// Modules that work alike, those of one part side by side, as they go into `open` slots in turn order beside others
/// that stay: see [`ShareOut`]. As many as there are slots.
pub(crate) fn share_out<T>(
    platform: &Platform,
    open: &[SlotId],
    there: &[(SlotId, &MemoryModule)],
    modules: Vec<(MemoryModule, T)>,
) -> Vec<(MemoryModule, T)> {
    if modules.iter().map(|(module, _)| module).all_equal() {
        return modules;
    }
    let parts: Vec<MemoryModule> = modules.iter().map(|(module, _)| module.clone()).sorted().dedup().collect();
    let number = |module: &MemoryModule| parts.iter().position(|part| part == module);
    let mut piles: Vec<Vec<(MemoryModule, T)>> = parts.iter().map(|_| Vec::new()).collect();
    for entry in modules.into_iter().rev() {
        let pile = number(&entry.0).and_then(|part| piles.get_mut(part));
        if let Some(pile) = pile {
            pile.push(entry);
        }
    }
    // of a part that is not to be shared out it matters only which one it is
    let others: Vec<&MemoryModule> = there.iter().map(|&(_, module)| module).sorted().dedup().collect();
    let there_as = |module: &MemoryModule| {
        let other = others.iter().position(|&other| other == module).unwrap_or(0);
        number(module).unwrap_or(parts.len() + other)
    };
    let there: Vec<(SlotId, usize)> = there.iter().map(|&(slot, module)| (slot, there_as(module))).collect();
    let counts: Vec<usize> = piles.iter().map(Vec::len).collect();
    let shared = ShareOut::new(platform, open, &there).parts(&counts);
    shared.into_iter().filter_map(|part| piles.get_mut(part)?.pop()).collect()
}

/// Which of several parts that work alike goes into each slot.
///
/// Parts are said by their number, from 0. So few different ones as can be sit in a channel, summed over channels, then
/// in a processor; of choices as good the first parts go to the first channels, and within one to the first slots.
struct ShareOut {
    /// The channels that are to be filled, those of a processor together.
    channels: Vec<ToFill>,
    /// Which slots belong to each channel, as places in the list of slots.
    slots: Vec<Vec<usize>>,
}

/// What is to be filled of a channel.
struct ToFill {
    slots: usize,
    /// Parts that are there and stay.
    there: Vec<usize>,
    /// Whether it is the first of its processor, and what stays in other channels of that.
    first: Option<Vec<usize>>,
}

/// How many different parts, summed over channels and then processors.
type Different = (usize, usize);

/// What is left of each part, and which the processor has that is being filled.
type State = (usize, Vec<usize>, Vec<usize>);

impl ShareOut {
    /// How many states an exact search looks at; beyond it each channel takes the part that fills it best.
    const MOST: usize = 20_000;

    /// To fill `open`, in turn order, beside the parts that stay in other slots.
    fn new(platform: &Platform, open: &[SlotId], there: &[(SlotId, usize)]) -> Self {
        let channel_of = |slot: SlotId| (platform.slot(slot).socket, platform.slot(slot).channel);
        let sockets: Vec<_> = open.iter().map(|&slot| platform.slot(slot).socket).sorted().dedup().collect();
        let (mut channels, mut slots) = (Vec::new(), Vec::new());
        for &socket in &sockets {
            let own = open.iter().map(|&slot| channel_of(slot)).filter(|(of, _)| *of == socket).sorted().dedup();
            for (nth, channel) in own.enumerate() {
                let places: Vec<usize> = open.iter().positions(|&slot| channel_of(slot) == channel).collect();
                let stays = |is_here: &dyn Fn(SlotId) -> bool| -> Vec<usize> {
                    there.iter().filter(|(slot, _)| is_here(*slot)).map(|&(_, part)| part).sorted().dedup().collect()
                };
                let first = (nth == 0).then(|| stays(&|slot| platform.slot(slot).socket == socket));
                let here = stays(&|slot| channel_of(slot) == channel);
                channels.push(ToFill { slots: places.len(), there: here, first });
                slots.push(places);
            }
        }
        Self { channels, slots }
    }

    /// The part of each slot, where there are so many of each.
    fn parts(&self, counts: &[usize]) -> Vec<usize> {
        let exact = Exact { channels: &self.channels, known: BTreeMap::new() }.choice(counts);
        let chosen = exact.unwrap_or_else(|| self.one_by_one(counts));
        let total = self.slots.iter().map(Vec::len).sum();
        let mut parts = vec![0; total];
        for (places, chosen) in self.slots.iter().zip(chosen) {
            for (&place, part) in places.iter().zip(chosen) {
                parts.get_mut(place).into_iter().for_each(|entry| *entry = part);
            }
        }
        parts
    }

    /// Channel by channel, the part that fills it alone, that which is there first; else those with most left.
    fn one_by_one(&self, counts: &[usize]) -> Vec<Vec<usize>> {
        let mut left = counts.to_vec();
        let mut chosen = Vec::new();
        for channel in &self.channels {
            let mut own = Vec::new();
            while own.len() < channel.slots {
                let open = channel.slots - own.len();
                let is_there = |part: usize| channel.there.contains(&part) || own.contains(&part);
                let rank = |&(part, &left): &(usize, &usize)| (left >= open, is_there(part), left.min(open));
                let some = left.iter().enumerate().filter(|(_, left)| **left > 0);
                let Some((part, _)) = some.rev().max_by_key(rank) else { break };
                left.get_mut(part).into_iter().for_each(|left| *left -= 1);
                own.push(part);
            }
            own.sort_unstable();
            chosen.push(own);
        }
        chosen
    }
}

/// A search through what each channel may take.
struct Exact<'s> {
    channels: &'s [ToFill],
    /// The fewest different parts from a state on, and what the next channel takes.
    known: BTreeMap<State, (Different, Vec<usize>)>,
}

impl Exact<'_> {
    /// What each channel takes; `None` where there are too many ways.
    fn choice(mut self, counts: &[usize]) -> Option<Vec<Vec<usize>>> {
        // what is left of each part, before each channel
        let states = counts.iter().fold(self.channels.len(), |states, count| states.saturating_mul(count + 1));
        if states > ShareOut::MOST {
            return None;
        }
        let mut state: State = (0, counts.to_vec(), Vec::new());
        self.fewest(&state)?;
        let mut chosen = Vec::new();
        while state.0 < self.channels.len() {
            let (_, own) = self.known.get(&state)?;
            chosen.push(own.clone());
            state = self.after(&state, own)?;
        }
        Some(chosen)
    }

    fn fewest(&mut self, state: &State) -> Option<Different> {
        let Some(channel) = self.channels.get(state.0) else { return Some((0, 0)) };
        if let Some((known, _)) = self.known.get(state) {
            return Some(*known);
        }
        if self.known.len() >= ShareOut::MOST {
            return None;
        }
        let mut best: Option<(Different, Vec<usize>)> = None;
        let parts = || (0..state.1.len()).filter(|&part| state.1.get(part).is_some_and(|&left| left > 0));
        for own in parts().combinations_with_replacement(channel.slots) {
            let Some(after) = self.after(state, &own) else { continue };
            let rest = self.fewest(&after)?;
            let different = own.iter().chain(&channel.there).unique().count();
            let before = channel.first.as_ref().map_or(state.2.len(), |_| 0);
            let sum = (rest.0 + different, rest.1 + after.2.len() - before);
            if best.as_ref().is_none_or(|(best, _)| sum < *best) {
                best = Some((sum, own));
            }
        }
        // more slots than modules never come
        let (sum, own) = best.unwrap_or_default();
        self.known.insert(state.clone(), (sum, own));
        Some(sum)
    }

    /// The state behind what a channel takes; `None` where less of a part is left.
    fn after(&self, (at, left, processor): &State, own: &[usize]) -> Option<State> {
        let channel = self.channels.get(*at)?;
        let mut left = left.clone();
        for &part in own {
            let entry = left.get_mut(part)?;
            *entry = entry.checked_sub(1)?;
        }
        let held = channel.first.as_ref().unwrap_or(processor);
        let held = held.iter().chain(own).copied().sorted().dedup().collect();
        Some((at + 1, left, held))
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    use crate::testing::{board_of, machine, processor};

    /// How many different parts, summed over channels and then processors.
    fn different(platform: &Platform, slots: &[SlotId], parts: &[usize], there: &[(SlotId, usize)]) -> Different {
        let all = || slots.iter().copied().zip(parts.iter().copied()).chain(there.iter().copied());
        let channel = |slot: SlotId| platform.slot(slot).channel;
        let filled: Vec<_> = slots.iter().map(|&slot| channel(slot)).unique().collect();
        let in_channels = all().filter(|(slot, _)| filled.contains(&channel(*slot)));
        let in_channels = in_channels.map(|(slot, part)| (channel(slot), part)).unique().count();
        let sockets: Vec<_> = slots.iter().map(|&slot| platform.slot(slot).socket).unique().collect();
        let in_sockets = all().map(|(slot, part)| (platform.slot(slot).socket, part));
        (in_channels, in_sockets.filter(|(socket, _)| sockets.contains(socket)).unique().count())
    }

    proptest! {
        /// As few different parts in a channel, then in a processor, as any way to share them out has.
        #[test]
        fn no_way_to_share_out_has_fewer_parts_in_a_channel(
            slots in 1_usize..=3,
            parts in proptest::collection::vec(0_usize..3, 6..=7),
            stays in proptest::collection::vec(any::<bool>(), 12),
        ) {
            let machine = machine(board_of(2, 2, slots), processor());
            let platform = machine.platform();
            let all: Vec<SlotId> = platform.slot_ids().collect();
            let here = |index: usize| stays.get(index).copied() == Some(true);
            let (stay, open): (Vec<_>, Vec<_>) = all.iter().copied().enumerate().partition(|&(index, _)| here(index));
            let there: Vec<_> = stay.into_iter().map(|(index, slot)| (slot, index % 4)).collect();
            let open: Vec<_> = open.into_iter().map(|(_, slot)| slot).take(parts.len()).collect();
            let own: Vec<usize> = parts.iter().copied().take(open.len()).collect();
            let counts: Vec<usize> = (0..3).map(|part| own.iter().filter(|&&other| other == part).count()).collect();
            let shared = ShareOut::new(platform, &open, &there);
            let found = different(platform, &open, &shared.parts(&counts), &there);
            let ways = own.iter().copied().permutations(own.len()).unique();
            let least = ways.map(|way| different(platform, &open, &way, &there)).min().unwrap_or_default();
            prop_assert_eq!(found, least);
            // without a search the numbers are right too
            let quick = shared.one_by_one(&counts);
            let of_part = |part: usize| quick.iter().flatten().filter(|&&other| other == part).count();
            prop_assert_eq!((0..3).map(of_part).collect::<Vec<_>>(), counts);
        }
    }

    /// Four parts of six each on twelve channels of two: a part a channel.
    #[test]
    fn many_parts_are_shared_out_a_channel_each() {
        let machine = machine(board_of(2, 6, 2), processor());
        let platform = machine.platform();
        let open: Vec<SlotId> = platform.slot_ids().collect();
        let parts = ShareOut::new(platform, &open, &[]).parts(&[6, 6, 6, 6]);
        assert_eq!(different(platform, &open, &parts, &[]), (12, 4));
        let many = ShareOut::new(platform, &open, &[]).parts(&[2; 12]);
        assert_eq!(different(platform, &open, &many, &[]), (12, 12));
    }
}
