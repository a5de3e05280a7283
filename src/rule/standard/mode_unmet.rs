use crate::figure::usable::{DemandSort, group_demand, groups, mates, works_as_one};
use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::machine::Machine;
use crate::population::{ChannelLoad, Layout, SocketLoad};
use crate::rule::{Detail, Form, Hint, Report};
use crate::stated::Demand;

/// Channels that work as one, or mirror each other, hold the same, slot by slot, as far as the mode says; where a part is mirrored,
/// that part has a partner.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

pub(super) fn hints(machine: &Machine) -> Vec<Hint> {
    let Some(mode) = machine.mode_description() else { return Vec::new() };
    // of a part that is mirrored no channel by itself tells anything
    let Some(DemandSort::Identical(_)) = group_demand(mode) else { return Vec::new() };
    let empty = Layout::empty(machine);
    let ids = empty.sockets().flat_map(|load| groups(&load, mode));
    let ids: Vec<_> = ids.map(|group| group.iter().map(ChannelLoad::id).collect()).collect();
    let key = |load: &ChannelLoad<'_>| {
        let mates = load.machine().mode_description().and_then(|mode| mates(load, mode));
        mates.unwrap_or_else(|| FactValue::list([]))
    };
    vec![Hint::like_groups(ids, key).on(mode.basis, Demand::Required)]
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    let machine = load.machine();
    let Some(mode) = machine.mode_description() else { return };
    let Some(demand) = group_demand(mode) else { return };
    for group in groups(load, mode).filter(|group| !works_as_one(group, mode)) {
        report.grounded((mode.basis, mode.source.as_ref()), Demand::Required, || {
            let same = match &demand {
                DemandSort::Identical(identical) => format!("{identical}, slot by slot"),
                other => other.to_string(),
            };
            Detail::at_all(group.iter().map(|load| Place::channel(machine.platform(), load.id())))
                .fact(FactName::Expected, FactValue::text(&same))
                .fact(FactName::AskedBy, FactValue::Text(mode.name.clone()))
                .remedy(Remedy::UseLikeModules)
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::machine::Machine;
    use crate::platform::{Identical, Redundancy};
    use crate::population::Population;
    use crate::testing::{self, findings, mirrored, module, name, plain, population};

    fn found(machine: &Machine, population: &Population) -> Vec<String> {
        let unmet = findings(machine, population).into_iter().filter(|finding| finding.code == "mode-unmet");
        unmet.map(|finding| finding.to_string()).collect()
    }

    // half of what a group holds has to sit in pairs; the rest needs no partner
    #[test]
    fn a_mirror_of_a_part_needs_partners_for_that_part() {
        let of = |identical: Identical| {
            let mut board = mirrored(Identical::Organization).platform().description().clone();
            board.modes[0].identical = identical;
            board.modes[0].redundancy = Redundancy::PartlyMirrored { mirrored_per_mille: 250 };
            testing::machine(board, testing::processor())
        };
        let plain = plain();
        let unmet = |identical: Identical, slots: &[&str]| {
            let fitted: Vec<_> = slots.iter().map(|slot| (*slot, &plain)).collect();
            found(&of(identical), &population(&fitted)).len()
        };
        for identical in [Identical::Nothing, Identical::Organization] {
            assert_eq!(unmet(identical, &["1A1", "1B1"]), 0);
            assert_eq!(unmet(identical, &["1A1", "1B1", "1A2"]), 0);
            assert_eq!(unmet(identical, &["1A1", "1B1", "1A2", "1A3"]), 0);
            assert_eq!(unmet(identical, &["1A1", "1A2"]), 1);
        }
        // in pairs it is slot by slot
        assert_eq!(unmet(Identical::Nothing, &["1A1", "1A2", "1B1"]), 0);
        assert_eq!(unmet(Identical::Organization, &["1A2", "1A3", "1B1"]), 1);
        let text = found(&of(Identical::Nothing), &population(&[("1A1", &plain)])).remove(0);
        assert!(
            text.contains("a partner in another of the channels that it joins for 25.0 % of what they hold"),
            "{text}"
        );
    }

    #[test]
    fn halves_of_a_mirror_that_differ() {
        let machine = mirrored(Identical::Organization);
        assert_eq!(found(&machine, &testing::clean_population(&machine)), [""; 0]);
        let plain = plain();
        let one = population(&[("1A1", &plain), ("2C1", &plain), ("2D1", &plain)]);
        assert_eq!(
            found(&machine, &one),
            ["error mode-unmet: channels that the mode joins do not hold the same (channels A of processor 1, B of \
              processor 1; expected modules of the same capacity, ranks, stack and device width, slot by slot; asked by mirrored); use \
              modules that are alike [board manual]"]
        );
        let other = module("32GB 4Rx4 PC4-2400T-RB2-11");
        let pair = population(&[("1A1", &plain), ("1B1", &other), ("2C1", &plain), ("2D1", &plain)]);
        assert_eq!(found(&machine, &pair).len(), 1);
        assert_eq!(found(&mirrored(Identical::Capacity), &pair), [""; 0]);
        assert_eq!(found(&mirrored(Identical::Facts), &pair).len(), 1);
        let of_part = |part: &str| plain.to_builder().part_number(name(part)).build().unwrap();
        let parts = |first: &str, second: &str| {
            population(&[("1A1", &of_part(first)), ("1B1", &of_part(second)), ("2C1", &plain), ("2D1", &plain)])
        };
        assert_eq!(found(&mirrored(Identical::Facts), &parts("one", "two")), [""; 0]);
        assert_eq!(found(&mirrored(Identical::Part), &parts("one", "two")).len(), 1);
        assert_eq!(found(&mirrored(Identical::Part), &parts("one", "one")), [""; 0]);
    }
}
