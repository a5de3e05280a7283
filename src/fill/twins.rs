//! Processors whose channels can take the same, so that one set of states does for both.

use std::rc::Rc;

use crate::fill::loads::Loads;
use crate::fill::{LikeGroup, SlotModel, SocketIx};
use crate::search::Table;

/// For each processor an earlier one that is like it: with the same loads, interleave and groups in its channels, and
/// no rows of its own.
pub(crate) fn twins(
    model: &SlotModel<'_>,
    loads: &Loads,
    groups: &Table<SocketIx, Vec<Option<LikeGroup>>>,
) -> Table<SocketIx, Option<SocketIx>> {
    let wiring = |socket: SocketIx| model.sockets.get(socket).and_then(|socket| model.machine.wiring(socket.id));
    let channels = |socket: SocketIx| model.channels_of(socket).iter().map(|&channel| loads.channels.get(channel));
    let like = |a: SocketIx, b: SocketIx| {
        let wired_alike = match (wiring(a), wiring(b)) {
            (Some(a), Some(b)) => (&a.sets, &a.divisions) == (&b.sets, &b.divisions),
            _ => false,
        };
        model.rows.of_socket(a).is_none()
            && model.rows.of_socket(b).is_none()
            && wired_alike
            && groups.get(a) == groups.get(b)
            && channels(a).count() == channels(b).count()
            && channels(a).zip(channels(b)).all(|pair| match pair {
                (Some(a), Some(b)) => Rc::ptr_eq(a, b),
                _ => false,
            })
    };
    let twin =
        |socket: SocketIx| model.sockets.ids().take_while(|&other| other < socket).find(|&other| like(other, socket));
    model.sockets.ids().map(twin).collect()
}
