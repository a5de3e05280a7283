use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::machine::{Machine, SlotState};
use crate::platform::{PositionOrder, SlotId};
use crate::population::{ChannelLoad, Content};
use crate::rule::{Detail, Form, Report};
use crate::stated::{Basis, Demand, Stated};

/// The positions of a channel are filled in an order: the far end first, unless the board says
/// otherwise. Another device fills its position. A closed slot is an empty position; other slots that are not live are
/// passed over. Positions that a stated sequence leaves out come last, from the far end.
pub(super) fn form() -> Form {
    Form::Channel(Box::new(check))
}

fn check(load: &ChannelLoad<'_>, report: &mut Report<'_>) {
    let (machine, platform) = (load.machine(), load.machine().platform());
    let assumed = Stated::assumed(PositionOrder::FarEndFirst);
    let order = platform.description().position_order.as_ref().unwrap_or(&assumed);
    if order.value == PositionOrder::Any || load.is_empty() {
        return;
    }
    // where positions are not known, a note says so
    if load.contents().any(|(slot, _)| platform.slot(slot).position().is_none()) {
        return;
    }
    let turn = |slot: SlotId| platform.slot(slot).position().map(|position| order.value.rank(position));
    let positions = || load.contents().filter(|&(slot, _)| machine.is_position(slot));
    let live = || positions().filter(|&(slot, _)| machine.is_live(slot));
    let is_gap = |content: &Content<'_>| matches!(content, Content::Empty | Content::Blank);
    let gaps = positions().filter(|(_, content)| is_gap(content)).map(|(slot, _)| slot);
    let Some(gap) = gaps.min_by_key(|&slot| turn(slot)) else { return };
    let modules = || live().filter(|(_, content)| content.module().is_some()).map(|(slot, _)| slot);
    let behind = || modules().filter(|&slot| turn(slot) > turn(gap));
    if behind().next().is_none() {
        return;
    }
    // the order of positions is worth no more than the positions
    let basis =
        if platform.description().position_basis == Some(Basis::Assumed) { Basis::Assumed } else { order.basis };
    report.grounded((basis, order.source.as_ref()), Demand::Required, || {
        let closed = positions().map(|(slot, _)| slot).filter(|&slot| !machine.is_live(slot)).map(turn).min();
        let is_wanted = |&(slot, content): &(SlotId, Content<'_>)| {
            !matches!(content, Content::Other(_)) && closed.is_none_or(|closed| turn(slot) < closed)
        };
        let mut wanted: Vec<_> = live().filter(is_wanted).map(|(slot, _)| slot).collect();
        wanted.sort_by_key(|&slot| turn(slot));
        let slots: Vec<_> = wanted.iter().map(|&slot| platform.slot(slot).label().clone()).collect();
        // behind a closed slot no module of the channel works
        let remedy = match slots.split_at_checked(modules().count()) {
            Some((slots, _)) => Remedy::UseSlots { slots: slots.to_vec() },
            None => Remedy::MoveModule,
        };
        Detail::at_all(behind().map(|slot| Place::slot(platform, slot)))
            .fact(FactName::Found, empty(machine, gap))
            .remedy(remedy)
    });
}

/// A slot without a module, and why where it is closed.
fn empty(machine: &Machine, slot: SlotId) -> FactValue {
    let label = machine.platform().slot(slot).label();
    match machine.slot_state(slot) {
        SlotState::Closed { reason } => FactValue::text(&format!("slot {label} closed: {reason}")),
        _ => FactValue::EmptySlot(label.clone()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::Machine;
    use crate::population::{Occupant, Population};
    use crate::testing::{self, name, said};

    fn machine(order: Option<Stated<PositionOrder>>) -> Machine {
        let mut board = testing::board();
        board.position_order = order;
        testing::machine(board, testing::processor())
    }

    /// Something in these positions of every channel.
    fn at(machine: &Machine, positions: &[u8], occupant: &Occupant) -> Population {
        let slots = machine
            .platform()
            .slots()
            .iter()
            .filter(|slot| slot.position().is_some_and(|position| positions.contains(&position)));
        slots.map(|slot| (slot.label().clone(), occupant.clone())).collect()
    }

    fn with(machine: &Machine, mut population: Population, position: u8, occupant: &Occupant) -> Population {
        for slot in machine.platform().slots().iter().filter(|slot| slot.position() == Some(position)) {
            population.put(slot.label().clone(), occupant.clone());
        }
        population
    }

    #[test]
    fn the_far_end_first() {
        let (machine, plain) = (testing::clean(), Occupant::module(testing::plain()));
        for filled in [&[0][..], &[0, 1], &[0, 1, 2]] {
            assert!(said(&machine, &at(&machine, filled, &plain)).is_empty());
        }
        for gap in [&[1][..], &[2], &[0, 2], &[1, 2]] {
            assert_eq!(testing::codes(&machine, &at(&machine, gap, &plain)), ["position-order"]);
        }
        assert_eq!(
            testing::findings(&machine, &at(&machine, &[0, 2], &plain))[0].to_string(),
            "error position-order: a module sits behind a position that is to be filled first (slot 1A3; found no \
             module in slot 1A2); fill just the slots 1A1, 1A2 [assumed]"
        );
    }

    #[test]
    fn boards_differ() {
        let plain = Occupant::module(testing::plain());
        let ends_first = Stated::new(PositionOrder::Sequence(vec![0, 2]), Basis::BoardManual);
        let ends_first = machine(Some(ends_first));
        assert!(said(&ends_first, &at(&ends_first, &[0, 2], &plain)).is_empty());
        let inner = at(&ends_first, &[0, 1], &plain);
        assert_eq!(testing::codes(&ends_first, &inner), ["position-order"]);
        let finding = testing::findings(&ends_first, &inner).remove(0).to_string();
        assert!(finding.ends_with("fill just the slots 1A1, 1A3 [board manual]"), "{finding}");

        let any = machine(Some(Stated::new(PositionOrder::Any, Basis::BoardManual)));
        assert!(said(&any, &at(&any, &[1], &plain)).is_empty());
        let tried = machine(Some(Stated::new(PositionOrder::FarEndFirst, Basis::MakersList)));
        assert_eq!(said(&tried, &at(&tried, &[1], &plain)), ["warning position-order"]);
    }

    #[test]
    fn what_fills_a_position() {
        let (machine, plain) = (testing::clean(), Occupant::module(testing::plain()));
        let second = at(&machine, &[1], &plain);
        let device = with(&machine, second.clone(), 0, &Occupant::OtherDevice(testing::other_device()));
        assert_eq!(said(&machine, &device), ["note other-device unknown"]);
        let blank = with(&machine, second, 0, &Occupant::Blank);
        assert_eq!(said(&machine, &blank), ["error position-order"]);
        // a device is no module: it may stay where it is
        let behind = at(&machine, &[0], &plain);
        let behind = with(&machine, behind, 2, &Occupant::OtherDevice(testing::other_device()));
        assert_eq!(said(&machine, &behind), ["note other-device unknown"]);
    }

    #[test]
    fn masked_slots_are_passed_over() {
        let mut board = testing::board();
        board.options.push(testing::mask(&testing::board(), "riser", 0));
        let processor = testing::processor().build().unwrap();
        let machine =
            Machine::builder(board.build().unwrap()).processor("1", processor.clone()).processor("2", processor);
        let machine = machine.option(name("riser").as_str()).build().unwrap();
        let plain = Occupant::module(testing::plain());
        assert!(said(&machine, &at(&machine, &[1], &plain)).is_empty());
        assert_eq!(said(&machine, &at(&machine, &[2], &plain)), ["error position-order"]);
    }
}
