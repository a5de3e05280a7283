//! Evenness worked out anew, from the words of the rules: rounds, what is alike, and what could move.

use std::collections::BTreeMap;

use itertools::Itertools;
use slotwright::finding::FactValue;
use slotwright::machine::Machine;
use slotwright::module::MemoryModule;
use slotwright::platform::{ChannelId, SlotId, SocketId};
use slotwright::population::{Content, Layout};

pub type Fact = fn(&MemoryModule) -> FactValue;

/// By round the slots of channels that count as one; absent where no module could sit.
pub struct Unit {
    pub rounds: Vec<Option<Vec<SlotId>>>,
}

/// The units of a processor: channels, or those that the mode joins.
pub fn units(layout: &Layout<'_>, socket: SocketId) -> Vec<Unit> {
    let machine: &Machine = layout.machine();
    let platform = machine.platform();
    let mut left: Vec<ChannelId> = platform.socket(socket).channels.clone();
    let mut joined: Vec<Vec<ChannelId>> = Vec::new();
    for group in machine.mode_description().into_iter().flat_map(|mode| &mode.groups) {
        if group.socket == platform.socket(socket).label {
            let is_in = |channel: &ChannelId| group.channels.contains(&platform.channel(*channel).label);
            joined.push(left.iter().copied().filter(is_in).collect());
            left.retain(|channel| !is_in(channel));
        }
    }
    joined.extend(left.into_iter().map(|channel| vec![channel]));
    let usable = |slot: SlotId| machine.is_live(slot) && !matches!(layout.get(slot), Content::Other(_));
    let by_turn = |channel: &ChannelId| {
        platform
            .channel(*channel)
            .slots
            .iter()
            .copied()
            .sorted_by_key(|&slot| platform.slot(slot).order())
            .collect_vec()
    };
    let unit = |channels: Vec<ChannelId>| {
        let slots = channels.iter().map(by_turn).collect_vec();
        let most = slots.iter().map(Vec::len).max().unwrap_or(0);
        let round = |round: usize| -> Option<Vec<SlotId>> {
            slots.iter().map(|slots| slots.get(round).copied().filter(|&slot| usable(slot))).collect()
        };
        Unit { rounds: (0..most).map(round).collect() }
    };
    joined.into_iter().map(unit).filter(|unit| unit.rounds.iter().any(Option::is_some)).collect()
}

/// The facts of the modules of each round.
pub fn held(layout: &Layout<'_>, unit: &Unit, fact: Fact) -> BTreeMap<usize, Vec<FactValue>> {
    let of = |slots: &Vec<SlotId>| slots.iter().filter_map(|&slot| layout.get(slot).module().map(fact)).collect();
    let rounds = unit.rounds.iter().enumerate();
    rounds.filter_map(|(round, slots)| Some((round, of(slots.as_ref()?)))).collect()
}

fn all(held: &BTreeMap<usize, Vec<FactValue>>) -> Vec<FactValue> {
    held.values().flatten().cloned().sorted().collect()
}

/// The different loads of the channels with memory of some processors: two that hold the same over the rounds that both have
/// are alike. Where just one sort is allowed, whether there is more.
pub fn unlike_channels(layout: &Layout<'_>, sockets: &[SocketId], fact: Fact, at_most: usize) -> bool {
    let units = sockets.iter().flat_map(|&socket| units(layout, socket));
    let loads = units.map(|unit| held(layout, &unit, fact)).filter(|held| !all(held).is_empty()).collect_vec();
    if at_most != 1 {
        return loads.iter().map(all).sorted().dedup().count() > at_most;
    }
    loads.iter().tuple_combinations().any(|(a, b)| {
        let common = |held: &BTreeMap<usize, Vec<FactValue>>| -> Vec<FactValue> {
            let both = held.iter().filter(|(round, _)| a.contains_key(round) && b.contains_key(round));
            both.flat_map(|(_, facts)| facts).cloned().sorted().collect()
        };
        common(a) != common(b)
    })
}

/// Whether two processors with memory differ in what their channels hold; of unlike wiring, in the modules of some round, or
/// in how full they are, by as much as moving one module would mend.
pub fn unlike_processors(layout: &Layout<'_>, fact: Fact) -> bool {
    let sockets = layout.sockets().map(|load| load.id()).collect_vec();
    let held = |socket: SocketId| units(layout, socket).iter().map(|unit| held(layout, unit, fact)).collect_vec();
    let all_held = sockets.into_iter().map(held).filter(|units| units.iter().any(|unit| !all(unit).is_empty()));
    all_held.collect_vec().iter().tuple_combinations().any(|(a, b)| {
        let wiring = |units: &[BTreeMap<usize, Vec<FactValue>>]| {
            units.iter().map(|unit| unit.keys().copied().collect_vec()).sorted().collect_vec()
        };
        if wiring(a) == wiring(b) {
            let loads = |units: &[BTreeMap<usize, Vec<FactValue>>]| units.iter().map(all).sorted().collect_vec();
            return loads(a) != loads(b);
        }
        let round = |units: &[BTreeMap<usize, Vec<FactValue>>], round: usize| {
            units.iter().filter_map(|unit| unit.get(&round)).flatten().cloned().sorted().dedup().collect_vec()
        };
        let unlike = (0..8).any(|at| {
            let (one, other) = (round(a, at), round(b, at));
            !one.is_empty() && !other.is_empty() && one != other
        });
        unlike || a_move_helps(layout, &[count(a), count(b)], &[slots(a), slots(b)])
    })
}

fn count(units: &[BTreeMap<usize, Vec<FactValue>>]) -> i64 {
    i64::try_from(units.iter().flat_map(BTreeMap::values).map(Vec::len).sum::<usize>()).unwrap()
}

fn slots(units: &[BTreeMap<usize, Vec<FactValue>>]) -> i64 {
    i64::try_from(units.iter().map(BTreeMap::len).sum::<usize>()).unwrap()
}

/// Whether one module less here and one more there lowers the difference of modules per slot.
fn a_move_helps(layout: &Layout<'_>, modules: &[i64; 2], rounds: &[i64; 2]) -> bool {
    // joined channels have as many slots in each round
    let joined = layout.machine().mode_description().and_then(|mode| mode.groups.first());
    let joined = joined.map_or(1, |group| i64::try_from(group.channels.len()).unwrap());
    let slots = [rounds[0] * joined, rounds[1] * joined];
    let difference = |a: i64, b: i64| (a * slots[1] - b * slots[0]).abs();
    let now = modules[0] * slots[1] - modules[1] * slots[0];
    match now.signum() {
        1 => modules[1] < slots[1] && difference(modules[0] - 1, modules[1] + 1) < now.abs(),
        -1 => modules[0] < slots[0] && difference(modules[0] + 1, modules[1] - 1) < now.abs(),
        _ => false,
    }
}
