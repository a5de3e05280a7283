//! What processors and channels have in common where the rules ask that they be alike.

use crate::fill::loads::{Load, Loads};
use crate::fill::{CommonIx, KindIx, SlotModel, SortIx, VectorIx};
use crate::search::{Index, StateSet, Table, wide};

/// What each processor with memory has.
pub(crate) struct Common {
    /// What all its loads are, where it is one sort.
    pub(crate) sort: Option<SortIx>,
    /// The states that have it, and those of no module.
    pub(crate) states: StateSet,
}

/// What processors with memory, of which some may stay as they were, can have in common when everything is shared out; `None` where they need
/// not be alike, or there is nothing to share.
pub(crate) fn in_common(model: &SlotModel<'_>, loads: &Loads, keep_some: bool) -> Option<Table<CommonIx, Common>> {
    let firsts = model.alike_to_sockets(&loads.kinds).filter(|_| model.sockets.len() > 1 && loads.total() > 0)?;
    // where some stay as they were, and were alike, all have equal parts still
    if keep_some {
        return model
            .before
            .as_ref()
            .filter(|before| !before.processors_differ)
            .map(|_| equal_parts(model, loads, &firsts));
    }
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
    // a processor without memory may be held against it too
    let none_is_exempt = model.in_force.like_processors().is_some_and(|like| like.none_is_exempt);
    let fewest = if none_is_exempt { model.sockets.len() } else { 1 };
    let parts = (fewest..=model.sockets.len()).filter(|parts| all.values().iter().all(|sum| sum % parts == 0));
    let common = |parts: usize| {
        let states = loads.states_that(|vector| {
            let own = sums(&|kind| loads.states.count(vector, kind));
            let is_part = || own.values().iter().zip(all.values()).all(|(own, all)| own * parts == *all);
            vector == VectorIx::of(0) || is_part()
        });
        Common { sort: None, states }
    };
    parts.map(common).collect()
}

/// What the sort of a load says of it.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct SortedLoad {
    sort: SortIx,
    modules: usize,
    capacity: u64,
}

/// A load that repeats over so many channels of each processor with memory.
fn repeated_loads(model: &SlotModel<'_>, loads: &Loads) -> Table<CommonIx, Common> {
    let mut known: Vec<SortedLoad> = Vec::new();
    for load in loads.channels.values().iter().flat_map(|loads| loads.iter()) {
        known.extend(load.sort.map(|sort| sorted_load(model, loads, load, sort)));
    }
    known.sort_unstable();
    known.dedup();
    let widest = model.sockets.values().iter().map(|socket| socket.channels.len()).max().unwrap_or(0);
    let mut commons = Table::default();
    for SortedLoad { sort, modules, capacity } in known {
        let times = loads.total().checked_div(modules).filter(|times| times * modules == loads.total());
        let Some(times) = times else { continue };
        // sums of capacity saturate far beyond any machine
        if capacity.saturating_mul(wide(times)) != loads.total_capacity() {
            continue;
        }
        let may_be = |&channels: &usize| times % channels == 0 && times / channels <= model.sockets.len();
        for channels in (1..=widest).filter(may_be) {
            let states = loads.states_where(|count| count == 0 || count == channels * modules);
            commons.push(Common { sort: Some(sort), states });
        }
    }
    commons
}

/// The sort of a load says how many modules it has and how much they hold.
fn sorted_load(model: &SlotModel<'_>, loads: &Loads, load: &Load, sort: SortIx) -> SortedLoad {
    let kinds = || load.contents.iter().filter_map(|content| content.decided().flatten());
    let size = |kind: KindIx| loads.kinds.get(kind).map_or(0, |&class| model.capacity_of(class));
    SortedLoad { sort, modules: kinds().count(), capacity: kinds().map(size).fold(0u64, u64::saturating_add) }
}
