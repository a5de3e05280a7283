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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fill::drive::Drive;
    use crate::fill::{Demand, KindIx};
    use crate::finding::Severity;
    use crate::machine::Machine;
    use crate::population::Layout;
    use crate::processor::{InterleaveSet, InterleaveSets, PermittedSet};
    use crate::rule::RuleBook;
    use crate::search::{Budget, Index};
    use crate::stated::{Basis, Stated};
    use crate::testing::{board_of, name, plain, processor};

    /// Twins on a board of two processors, of which each permits sets of so many channels.
    fn twins_with(sets: [&[u8]; 2]) -> Vec<Option<SocketIx>> {
        let mut builder = Machine::builder(board_of(2, 2, 1).build().unwrap());
        for (socket, sets) in ["1", "2"].into_iter().zip(sets) {
            let mut processor = processor();
            let permitted = sets.iter().map(|&ways| PermittedSet::of(InterleaveSet::Ways(ways))).collect();
            let sets = InterleaveSets { channels: ["A", "B"].map(name).to_vec(), permitted };
            processor.interleave = Some(Stated::new(sets, Basis::DataSheet));
            builder = builder.processor(socket, processor.build().unwrap());
        }
        let machine = builder.build().unwrap();
        let (plain, rules) = (plain(), RuleBook::standard());
        let model = SlotModel::new(&machine, &rules, Severity::Error, vec![&plain], Layout::empty(&machine));
        let counts = model.classes.ids().map(|class| (class, 4)).collect();
        let demand = Demand { counts, any_will_do: true, ..Demand::default() };
        let loads =
            Loads::new(&model, &model, (&demand, Drive::Hoped), &mut Budget::new(1_000, None)).unwrap().unwrap();
        assert_eq!(loads.counts.get(KindIx::of(0)), Some(&4));
        let groups = model.sockets.ids().map(|_| vec![None; 2]).collect();
        twins(&model, &loads, &groups).into_values().collect()
    }

    #[test]
    fn processors_that_interleave_otherwise_are_no_twins() {
        let first = Some(SocketIx::of(0));
        assert_eq!(twins_with([&[2], &[2]]), [None, first]);
        assert_eq!(twins_with([&[2], &[1]]), [None, None]);
    }
}
