//! Why each slot of an arrangement holds what it holds.

use crate::assess::Planner;
use crate::figure::Figures;
use crate::fill::rows::Row;
use crate::fill::{ClassId, Demand, PlaceId, Placed, SlotModel, SlotReason};

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
    let reason = |place: PlaceId, class: Option<ClassId>| {
        if demand.is_pinned(place) {
            return SlotReason::Pinned;
        }
        if class.is_some() {
            let by_row = rows.iter().find(|row| row.slots.iter().any(|slot| slot.place == place));
            let index = by_row.and_then(|row| row.index);
            return index.map_or(SlotReason::Turn, |row| SlotReason::Row { row });
        }
        if last.is_none_or(|last| place > last) {
            return SlotReason::NotNeeded;
        }
        left_empty(planner, model, demand, placed, place)
    };
    placed.at.iter().map(|(place, &class)| (place, reason(place, class))).collect()
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
                at("1A1", SlotReason::Turn),
                at("1A2", reason),
                at("1B1", SlotReason::Turn),
                at("1B2", SlotReason::NotNeeded),
            ]
        };
        assert_eq!(reasons_of_two(&slower), expected(SlotReason::KeepsRate));
        let as_fast = channel_by_channel([DataRate::DDR4_2400, DataRate::DDR4_2400]);
        assert_eq!(reasons_of_two(&as_fast), expected(SlotReason::KeepsBandwidth));
    }
}
