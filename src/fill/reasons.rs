//! Why each slot of an arrangement holds what it holds.

use crate::assess::Planner;
use crate::figure::Figures;
use crate::fill::rows::Row;
use crate::fill::slot_model::ModelSlot;
use crate::fill::{ClassId, Demand, PlaceId, Placed, SlotModel, SlotReason};
use crate::search::Table;

/// Why each place holds what it holds.
pub(crate) fn reasons(
    planner: &Planner<'_>,
    model: &SlotModel<'_>,
    demand: &Demand,
    placed: &Placed,
) -> Vec<(PlaceId, SlotReason)> {
    let last = placed.at.iter().rev().find(|(_, class)| class.is_some()).map(|(place, _)| place);
    let is_filled = |place: PlaceId| placed.at.get(place).is_some_and(Option::is_some);
    let rows = model.rows.groups.iter().flat_map(|group| &group.rows);
    let rows: Vec<&Row> = rows.filter(|row| row.slots.iter().all(|slot| is_filled(slot.place))).collect();
    let rounds = rounds(model);
    let reason = |place: PlaceId, class: Option<ClassId>| {
        if demand.is_pinned(place) {
            return SlotReason::Pinned;
        }
        if class.is_some() {
            let by_row = rows.iter().find(|row| row.slots.iter().any(|slot| slot.place == place));
            return by_row.map_or_else(|| turn(&rounds, place), |row| SlotReason::Row(row.followed.clone()));
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
        wired.iter().filter(|&&other| platform.slot(other).turn < platform.slot(slot.id).turn).count()
    };
    model.slots.values().iter().map(round).collect()
}

/// The round of a place, and its turn in that: places are in the order of their turns.
fn turn(rounds: &Table<PlaceId, usize>, place: PlaceId) -> SlotReason {
    let own = rounds.get(place).copied();
    let of_round = || rounds.iter().filter(|(_, round)| Some(**round) == own);
    let turn = of_round().filter(|(other, _)| *other <= place).count();
    SlotReason::Turn { round: own.map_or(1, |round| round + 1), turn, of: of_round().count() }
}

/// What would go wrong if the next module by turn sat in an empty place.
fn left_empty(
    planner: &Planner<'_>,
    model: &SlotModel<'_>,
    demand: &Demand,
    placed: &Placed,
    empty: PlaceId,
) -> SlotReason {
    let movable =
        |&(place, class): &(PlaceId, &Option<ClassId>)| place > empty && class.is_some() && !demand.is_pinned(place);
    let Some((next, &class)) = placed.at.iter().find(movable) else { return SlotReason::NotNeeded };
    let mut at = placed.at.clone();
    for (place, content) in [(empty, class), (next, None)] {
        at.get_mut(place).into_iter().for_each(|known| *known = content);
    }
    let moved = planner.assess_layout(&model.layout(&at));
    let refused = moved.findings.into_iter().find(|finding| finding.severity >= model.in_force.threshold);
    let Figures { running_rate, bandwidth, .. } = &moved.figures;
    match refused {
        Some(finding) => SlotReason::Refused { code: finding.code },
        None if running_rate.rate() < placed.rate => SlotReason::KeepsRate,
        None if (bandwidth.spread_mbps, bandwidth.swept_mbps) < placed.bandwidth => SlotReason::KeepsBandwidth,
        None => SlotReason::KeepsBalance,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::Machine;
    use crate::module::ModuleKind;
    use crate::processor::{ModulePattern, ProcessorDescription, RateTable};
    use crate::rule::RuleBook;
    use crate::stated::Basis;
    use crate::testing::{board_of, machine, plain, processor, slots_mut};
    use crate::unit::DataRate;

    /// One processor with two channels of two slots, to be filled channel by channel, at these rates for one and two
    /// modules a channel.
    fn channel_by_channel(rates: [DataRate; 2]) -> Machine {
        let mut board = board_of(1, 2, 2);
        (0..).zip(slots_mut(&mut board)).for_each(|(turn, slot)| slot.turn = turn);
        let registered = ModulePattern::kind(ModuleKind::Registered);
        let table = RateTable::new(Basis::DataSheet).by_load(&registered, &rates.map(Some));
        machine(board, ProcessorDescription { rate_table: Some(table), ..processor() })
    }

    fn reasons_of_two(machine: &Machine) -> Vec<(String, SlotReason)> {
        let rules = RuleBook::standard();
        let arranged = Planner::new(machine, &rules).arrange([(plain(), 2)]).unwrap();
        let slots = &arranged.best().unwrap().slots;
        slots.iter().map(|slot| (slot.slot.to_string(), slot.reason.clone())).collect()
    }

    #[test]
    fn what_an_empty_slot_keeps_is_what_filling_it_costs() {
        let slower = channel_by_channel([DataRate::DDR4_2400, DataRate::DDR4_2133]);
        let at = |slot: &str, reason: SlotReason| (slot.to_owned(), reason);
        let expected = |reason| {
            [
                at("1A1", SlotReason::Turn { round: 1, turn: 1, of: 2 }),
                at("1A2", reason),
                at("1B1", SlotReason::Turn { round: 1, turn: 2, of: 2 }),
                at("1B2", SlotReason::NotNeeded),
            ]
        };
        assert_eq!(reasons_of_two(&slower), expected(SlotReason::KeepsRate));
        let as_fast = channel_by_channel([DataRate::DDR4_2400, DataRate::DDR4_2400]);
        assert_eq!(reasons_of_two(&as_fast), expected(SlotReason::KeepsBandwidth));
    }
}
