use crate::figure::usable::{groups, is_identical, mates};
use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::machine::Machine;
use crate::platform::Identical;
use crate::population::{ChannelLoad, Layout, SocketLoad};
use crate::rule::{Detail, Form, Hint, Report};
use crate::stated::Demand;

/// Channels that work as one, or mirror each other, hold the same, slot by slot, as far as the mode says.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

pub(super) fn hints(machine: &Machine) -> Vec<Hint> {
    let Some(mode) = machine.mode_description().filter(|mode| mode.identical != Identical::Nothing) else {
        return Vec::new();
    };
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
    let Some(mode) = machine.mode_description().filter(|mode| mode.identical != Identical::Nothing) else { return };
    for group in groups(load, mode).filter(|group| !is_identical(group, mode)) {
        report.grounded((mode.basis, mode.source.as_ref()), Demand::Required, || {
            let same = format!("{}, slot by slot", mode.identical);
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
    use crate::platform::Identical;
    use crate::population::Population;
    use crate::testing::{self, findings, mirrored, module, name, plain, population};

    fn found(machine: &Machine, population: &Population) -> Vec<String> {
        let unmet = findings(machine, population).into_iter().filter(|finding| finding.code == "mode-unmet");
        unmet.map(|finding| finding.to_string()).collect()
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
