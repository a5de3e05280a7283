//! What processors can take between them: what a search asks of `reach.rs` and hands to `split.rs`.

use std::rc::Rc;

use crate::fill::pace::PaceAtRate;
use crate::fill::target::{Speed, Target};
use crate::fill::{CommonIx, Level, SocketIx, WayIx};
use crate::search::{StateSet, Table};

/// What each processor can take; shared by processors of which the same is asked.
pub(crate) type PacedBySocket = Table<SocketIx, Rc<Vec<PacedStates>>>;

/// States of a processor that have one pace at one rate.
pub(crate) struct PacedStates {
    pub(crate) origin: Origin,
    pub(crate) pace: PaceAtRate,
    /// The most speed of any of the states.
    pub(crate) fastest: Speed,
    pub(crate) states: StateSet,
}

/// Where paced states come from; by this they are found again when they are asked for anew.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) struct Origin {
    /// The level that the processor's loads reach.
    pub(crate) level: Level,
    /// The way to fill its channels.
    pub(crate) way: WayIx,
}

/// What processors can take between them.
pub(crate) struct Reachable {
    /// What they have in common.
    pub(crate) common: CommonIx,
    /// Processors after one that can take nothing at all are left out.
    pub(crate) sockets: PacedBySocket,
}

/// What is still looked at where processors have one thing in common.
pub(crate) struct Narrowed {
    pub(crate) common: CommonIx,
    pub(crate) sockets: Table<SocketIx, Vec<Origin>>,
}

/// The most speed that a processor can have.
pub(crate) fn fastest_of(entries: &[PacedStates]) -> Speed {
    entries.iter().map(|paced| paced.fastest).fold(Speed::ZERO, Speed::highest)
}

/// The origins of which states a way of a target can be made.
pub(crate) fn narrowed_to(all: &[Reachable], target: Target) -> Vec<Narrowed> {
    let useful = |sockets: &PacedBySocket| -> Table<SocketIx, Vec<Origin>> {
        let all = sockets.values().iter().map(|entries| fastest_of(entries)).fold(Speed::ZERO, Speed::plus);
        let of_socket = |entries: &Rc<Vec<PacedStates>>| {
            // nothing is left where the sum was clamped, and then too much is kept, which does no harm
            let others = all.spread.saturating_sub(fastest_of(entries).spread);
            let suits = |paced: &&PacedStates| paced.fastest.spread.saturating_add(others) >= target.speed.spread;
            entries.iter().filter(suits).map(|paced| paced.origin).collect()
        };
        sockets.values().iter().map(of_socket).collect()
    };
    let narrowed = all.iter().map(|all| Narrowed { common: all.common, sockets: useful(&all.sockets) });
    narrowed.filter(|narrowed| narrowed.sockets.values().iter().all(|origins| !origins.is_empty())).collect()
}
