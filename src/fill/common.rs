//! What processors and channels have in common where the rules ask that they be alike.

use crate::fill::loads::{Load, Loads};
use crate::fill::{CommonIx, KeyIx, KindIx, SlotModel, SocketIx, VectorIx};
use crate::search::{Index, StateSet, Table, wide};

/// What each processor with memory has.
pub(crate) struct Common {
    /// The key of all its loads, where it is one.
    pub(crate) key: Option<KeyIx>,
    /// The states that have it, and those of no module.
    pub(crate) states: StateSet,
}

/// The keys that a processor's channels may share; one absent key where they need not be alike.
pub(crate) fn keys(model: &SlotModel<'_>, loads: &Loads, socket: SocketIx) -> Vec<Option<KeyIx>> {
    if !model.channels_are_alike() {
        return vec![None];
    }
    let keys = loads.of_channels(model.channels_of(socket)).map(|load| load.key);
    let mut keys: Vec<Option<KeyIx>> = keys.filter(Option::is_some).collect();
    keys.sort_unstable();
    keys.dedup();
    if keys.is_empty() { vec![None] } else { keys }
}

/// What processors with memory can have in common when everything is shared out; `None` where they need
/// not be alike, or there is nothing to share.
pub(crate) fn in_common(model: &SlotModel<'_>, loads: &Loads) -> Option<Table<CommonIx, Common>> {
    let firsts = model.alike_to_sockets(&loads.kinds).filter(|_| model.sockets.len() > 1 && loads.total() > 0)?;
    Some(if model.sockets_repeat() { repeated_loads(model, loads) } else { equal_parts(model, loads, &firsts) })
}

/// Equal parts of everything that the rule on processors tells apart, by how many processors have memory.
fn equal_parts(model: &SlotModel<'_>, loads: &Loads, firsts: &Table<KindIx, KindIx>) -> Table<CommonIx, Common> {
    let sums = |count_of: &dyn Fn(KindIx) -> usize| {
        let mut sums: Table<KindIx, usize> = Table::filled(0, firsts.len());
        for (kind, &first) in firsts.iter() {
            sums.get_mut(first).into_iter().for_each(|sum| *sum += count_of(kind));
        }
        sums
    };
    // every kind has a count
    let all = sums(&|kind| loads.counts.get(kind).copied().unwrap_or(0));
    let parts = (1..=model.sockets.len()).filter(|parts| all.values().iter().all(|sum| sum % parts == 0));
    let common = |parts: usize| {
        let states = loads.states_that(|vector| {
            let own = sums(&|kind| loads.states.count(vector, kind));
            let is_part = || own.values().iter().zip(all.values()).all(|(own, all)| own * parts == *all);
            vector == VectorIx::of(0) || is_part()
        });
        Common { key: None, states }
    };
    parts.map(common).collect()
}

/// What the key of a load says of it.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct KeyedLoad {
    key: KeyIx,
    modules: usize,
    capacity: u64,
}

/// A load that repeats over so many channels of each processor with memory.
fn repeated_loads(model: &SlotModel<'_>, loads: &Loads) -> Table<CommonIx, Common> {
    let mut keyed: Vec<KeyedLoad> = Vec::new();
    for load in loads.channels.values().iter().flat_map(|loads| loads.iter()) {
        keyed.extend(load.key.map(|key| keyed_load(model, loads, load, key)));
    }
    keyed.sort_unstable();
    keyed.dedup();
    let widest = model.sockets.values().iter().map(|socket| socket.channels.len()).max().unwrap_or(0);
    let mut commons = Table::default();
    for KeyedLoad { key, modules, capacity } in keyed {
        let times = loads.total().checked_div(modules).filter(|times| times * modules == loads.total());
        let Some(times) = times else { continue };
        // sums of capacity saturate far beyond any machine
        if capacity.saturating_mul(wide(times)) != loads.total_capacity() {
            continue;
        }
        let may_be = |&channels: &usize| times % channels == 0 && times / channels <= model.sockets.len();
        for channels in (1..=widest).filter(may_be) {
            let states = loads.states_where(|count| count == 0 || count == channels * modules);
            commons.push(Common { key: Some(key), states });
        }
    }
    commons
}

/// The key of a load says how many modules it has and how much they hold.
fn keyed_load(model: &SlotModel<'_>, loads: &Loads, load: &Load, key: KeyIx) -> KeyedLoad {
    let kinds = || load.contents.iter().filter_map(|content| content.decided().flatten());
    let size = |kind: KindIx| loads.kinds.get(kind).map_or(0, |&class| model.capacity_of(class));
    KeyedLoad { key, modules: kinds().count(), capacity: kinds().map(size).fold(0u64, u64::saturating_add) }
}
