//! What processors and channels have in common where the rules ask that they be alike.

use crate::fill::SlotModel;
use crate::fill::loads::Loads;
use crate::search::StateSet;

/// What each processor with memory has.
pub(crate) struct Repeat {
    /// The key of all its loads, where it is one.
    pub(crate) key: Option<usize>,
    /// The states that have it, and those of no module.
    pub(crate) counts: StateSet,
}

/// The keys that a processor's channels may share; one absent key where they need not be alike.
pub(crate) fn keys(grid: &SlotModel<'_>, loads: &Loads, socket: usize) -> Vec<Option<usize>> {
    if !grid.channels_are_alike() {
        return vec![None];
    }
    let channels = grid.sockets.get(socket).into_iter().flat_map(|socket| &socket.channels);
    let loads = channels.filter_map(|&channel| loads.channels.get(channel)).flat_map(|loads| loads.iter());
    let mut keys: Vec<Option<usize>> = loads.map(|load| load.key).filter(Option::is_some).collect();
    keys.sort_unstable();
    keys.dedup();
    if keys.is_empty() { vec![None] } else { keys }
}

/// What processors with memory can have in common when everything is shared out; `None` where they need
/// not be alike, or there is nothing to share.
pub(crate) fn repeats(grid: &SlotModel<'_>, loads: &Loads) -> Option<Vec<Repeat>> {
    let total: usize = loads.counts.iter().sum();
    let firsts = grid.alike_to_sockets(&loads.kinds).filter(|_| grid.sockets.len() > 1 && total > 0)?;
    Some(if grid.sockets_repeat() { repeated_loads(grid, loads) } else { equal_parts(grid, loads, &firsts) })
}

/// Equal parts of everything that the rule on processors tells apart, by how many processors have memory.
fn equal_parts(grid: &SlotModel<'_>, loads: &Loads, firsts: &[usize]) -> Vec<Repeat> {
    let sums = |count_of: &dyn Fn(usize) -> usize| {
        let mut sums = vec![0usize; firsts.len()];
        for (local, &first) in firsts.iter().enumerate() {
            sums.get_mut(first).into_iter().for_each(|sum| *sum += count_of(local));
        }
        sums
    };
    let all = sums(&|local| loads.counts.get(local).copied().unwrap_or(0));
    let parts = (1..=grid.sockets.len()).filter(|parts| all.iter().all(|sum| sum % parts == 0));
    parts
        .map(|parts| {
            let mut counts = StateSet::empty(loads.space.size());
            for vector in 0..loads.vectors {
                let own = sums(&|local| loads.space.digit(vector, local));
                if vector == 0 || own.iter().zip(&all).all(|(own, all)| own * parts == *all) {
                    (vector..loads.space.size()).step_by(loads.vectors).for_each(|state| counts.insert(state));
                }
            }
            Repeat { key: None, counts }
        })
        .collect()
}

/// A load that repeats over so many channels of each processor with memory.
fn repeated_loads(grid: &SlotModel<'_>, loads: &Loads) -> Vec<Repeat> {
    let total: usize = loads.counts.iter().sum();
    let capacity = loads.capacities.last().copied().unwrap_or(0);
    let size = |local: usize| {
        let class = loads.kinds.get(local).and_then(|&class| grid.classes.get(class));
        class.map_or(0, |module| module.capacity().mib())
    };
    // the key of a load says how many modules it has and how much they hold
    let mut keys: Vec<(usize, usize, u64)> = Vec::new();
    for load in loads.channels.iter().flat_map(|loads| loads.iter()) {
        let locals = || load.digits.iter().filter_map(|digit| digit.checked_sub(1));
        let sizes = locals().map(size).fold(0u64, u64::saturating_add);
        keys.extend(load.key.map(|key| (key, locals().count(), sizes)));
    }
    keys.sort_unstable();
    keys.dedup();
    let widest = grid.sockets.iter().map(|socket| socket.channels.len()).max().unwrap_or(0);
    let mut repeats = Vec::new();
    for (key, modules, holds) in keys {
        let times = total.checked_div(modules).filter(|times| times * modules == total).unwrap_or(0);
        if holds.saturating_mul(u64::try_from(times).unwrap_or(u64::MAX)) != capacity {
            continue;
        }
        for channels in (1..=widest).filter(|&channels| times % channels == 0 && times / channels <= grid.sockets.len())
        {
            let counts = loads.states_where(|count| count == 0 || count == channels * modules);
            repeats.push(Repeat { key: Some(key), counts });
        }
    }
    repeats
}
