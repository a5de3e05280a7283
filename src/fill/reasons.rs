//! Why each slot of an arrangement holds what it holds.

use crate::assess::Planner;
use crate::figure::Figures;
use crate::fill::rows::Row;
use crate::fill::slot_model::ModelSlot;
use crate::fill::{
    ClassId, Contents, Demand, PlaceId, Placed, SlotModel, SlotReason, bare, breaks_rows, followed, spread,
};
use crate::platform::Platform;
use crate::search::Table;

/// Why each place holds what it holds.
pub(crate) fn reasons(
    planner: &Planner<'_>,
    model: &SlotModel<'_>,
    demand: &Demand,
    placed: &Placed,
) -> Vec<(PlaceId, SlotReason)> {
    let last = placed.at.iter().rev().find(|(_, class)| class.is_some()).map(|(place, _)| place);
    let rows = model.rows.groups.iter().filter_map(|group| followed(model, group, &placed.at));
    let rows: Vec<&Row> = rows.collect();
    let rounds = rounds(model);
    let reason = |place: PlaceId, class: Option<ClassId>| {
        if demand.is_pinned(place) {
            return if class.is_some() { SlotReason::Pinned } else { SlotReason::KeptEmpty };
        }
        if class.is_some() {
            let by_row = rows.iter().find(|row| row.slots.iter().any(|slot| slot.place == place));
            return by_row.map_or_else(
                || turn(model.machine.platform(), &rounds, place),
                |row| SlotReason::Row(row.followed.clone()),
            );
        }
        if last.is_none_or(|last| place > last) {
            return SlotReason::NotNeeded;
        }
        left_empty(planner, model, demand, placed, place)
    };
    placed.at.iter().map(|(place, &class)| (place, reason(place, class))).collect()
}

/// By place its round: how many wired slots of its channel come before it by turn.
fn rounds(model: &SlotModel<'_>) -> Table<PlaceId, usize> {
    let platform = model.machine.platform();
    let round = |slot: &ModelSlot| {
        let wired = &platform.channel(platform.slot(slot.id).channel).slots;
        wired.iter().filter(|&&other| platform.slot(other).order() < platform.slot(slot.id).order()).count()
    };
    model.slots.values().iter().map(round).collect()
}

/// The round of a place, and its turn in that: places are in the order of their turns.
fn turn(platform: &Platform, rounds: &Table<PlaceId, usize>, place: PlaceId) -> SlotReason {
    let own = rounds.get(place).copied();
    let of_round = || rounds.iter().filter(|(_, round)| Some(**round) == own);
    let turn = of_round().filter(|(other, _)| *other <= place).count();
    let (round, of, assumed) = (own.map_or(1, |round| round + 1), of_round().count(), !platform.knows_turns());
    SlotReason::Turn { round, turn, of, assumed }
}

/// What would go wrong if the next module by turn sat in an empty place; or the last one, where the next cannot be spared
/// from its own.
fn left_empty(
    planner: &Planner<'_>,
    model: &SlotModel<'_>,
    demand: &Demand,
    placed: &Placed,
    empty: PlaceId,
) -> SlotReason {
    let is_movable =
        |&(place, class): &(PlaceId, &Option<ClassId>)| place > empty && class.is_some() && !demand.is_pinned(place);
    let mut movable = placed.at.iter().filter(is_movable);
    let Some(next) = movable.next() else { return SlotReason::NotNeeded };
    let with = |(from, &class): (PlaceId, &Option<ClassId>)| {
        let mut at = placed.at.clone();
        for (place, content) in [(empty, class), (from, None)] {
            at.get_mut(place).into_iter().for_each(|known| *known = content);
        }
        kept(planner, model, placed, &at)
    };
    match (with(next), movable.next_back()) {
        (refused @ SlotReason::Refused { .. }, Some(last)) => match with(last) {
            SlotReason::Refused { .. } => refused,
            reason => reason,
        },
        (reason, _) => reason,
    }
}

/// In what another placing falls short of the one that was found.
fn kept(planner: &Planner<'_>, model: &SlotModel<'_>, placed: &Placed, at: &Contents) -> SlotReason {
    let moved = planner.assess_layout(&model.layout(at));
    let refused = moved.findings.into_iter().find(|finding| finding.severity >= model.in_force.threshold);
    let Figures { running_rate, bandwidth, .. } = &moved.figures;
    let breaks_rows = || model.rows.groups.iter().any(|group| breaks_rows(model, group, at));
    // in the order in which layouts are compared
    match refused {
        Some(finding) => SlotReason::Refused { code: finding.code },
        None if !placed.outside_rows && breaks_rows() => SlotReason::KeepsRow,
        None if bare(model, at) > bare(model, &placed.at) => SlotReason::KeepsBalance,
        None if running_rate.rate() < placed.rate => SlotReason::KeepsRate,
        None if spread(model, at) > spread(model, &placed.at) => SlotReason::KeepsBalance,
        None if (bandwidth.spread_mbps, bandwidth.swept_mbps) < placed.bandwidth => SlotReason::KeepsBandwidth,
        None => SlotReason::KeepsRest,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fill::FollowedRow;
    use crate::machine::Machine;
    use crate::module::ModuleKind;
    use crate::platform::{FillRow, PlatformDescription};
    use crate::processor::{ModulePattern, ProcessorDescription, RateTable};
    use crate::rule::RuleBook;
    use crate::stated::{Basis, Demand as Wish};
    use crate::testing::{board_of, machine, name, plain, processor, slots_mut};
    use crate::unit::DataRate;

    /// One processor with two channels of two slots, to be filled channel by channel, at these rates for one and two
    /// modules a channel.
    fn channel_by_channel(rates: [DataRate; 2]) -> Machine {
        let board = in_order(1, 2, 2);
        let registered = ModulePattern::kind(ModuleKind::Registered);
        let table = RateTable::new(Basis::DataSheet).by_load(&registered, &rates.map(Some));
        machine(board, ProcessorDescription { rate_table: Some(table), ..processor() })
    }

    /// A board whose slots are filled in the order in which they lie.
    fn in_order(sockets: usize, channels: usize, slots: usize) -> PlatformDescription {
        let mut board = board_of(sockets, channels, slots);
        (0..).zip(slots_mut(&mut board)).for_each(|(turn, slot)| slot.turn = Some(turn));
        board
    }

    fn reasons_of_two(machine: &Machine) -> Vec<(String, SlotReason)> {
        reasons_of(machine, 2)
    }

    fn reasons_of(machine: &Machine, modules: usize) -> Vec<(String, SlotReason)> {
        let rules = RuleBook::standard();
        let arranged = Planner::new(machine, &rules).arrange([(plain(), modules)]).unwrap();
        let slots = &arranged.best().unwrap().slots;
        slots.iter().map(|slot| (slot.slot.to_string(), slot.reason.clone())).collect()
    }

    #[test]
    fn what_an_empty_slot_keeps_is_what_filling_it_costs() {
        let slower = channel_by_channel([DataRate::DDR4_2400, DataRate::DDR4_2133]);
        let at = |slot: &str, reason: SlotReason| (slot.to_owned(), reason);
        let expected = |reason| {
            [
                at("1A1", SlotReason::Turn { round: 1, turn: 1, of: 2, assumed: false }),
                at("1A2", reason),
                at("1B1", SlotReason::Turn { round: 1, turn: 2, of: 2, assumed: false }),
                at("1B2", SlotReason::NotNeeded),
            ]
        };
        assert_eq!(reasons_of_two(&slower), expected(SlotReason::KeepsRate));
        let as_fast = channel_by_channel([DataRate::DDR4_2400, DataRate::DDR4_2400]);
        assert_eq!(reasons_of_two(&as_fast), expected(SlotReason::KeepsBandwidth));
    }

    #[test]
    fn an_empty_slot_of_a_printed_row_is_the_rows_doing() {
        let mut board = in_order(1, 2, 2);
        board.fill_rows = vec![FillRow::new(["1A1", "1B1"].map(name), Wish::Advised, Basis::BoardManual)];
        let row = FollowedRow { index: Some(0), modules: 2, basis: Basis::BoardManual, source: None };
        let reasons = reasons_of_two(&machine(board, processor())).into_iter().map(|(_, reason)| reason);
        let by_row = SlotReason::Row(row);
        let expected = [by_row.clone(), SlotReason::KeepsRow, by_row, SlotReason::NotNeeded];
        assert_eq!(reasons.collect::<Vec<_>>(), expected);
    }

    #[test]
    fn an_empty_slot_may_balance_the_processors() {
        let machine = machine(in_order(2, 1, 3), processor());
        let empty = |modules: usize, slot: &str| {
            let found = reasons_of(&machine, modules).into_iter().find(|(label, _)| label == slot);
            found.map(|(_, reason)| reason)
        };
        assert_eq!(empty(2, "1A2"), Some(SlotReason::KeepsBalance));
        assert_eq!(empty(4, "1A3"), Some(SlotReason::KeepsBalance));
        assert_eq!(empty(4, "2A2"), Some(SlotReason::Turn { round: 2, turn: 2, of: 2, assumed: false }));
    }
}
