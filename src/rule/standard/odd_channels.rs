use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::machine::Machine;
use crate::population::{SocketLoad, UnitLoad};
use crate::rule::standard::empty_channel::could_take;
use crate::rule::{Cause, Detail, Form, Hint, Report};
use crate::stated::{Basis, Demand};

/// An odd number of channels with memory, above one and below all of them, is interleaved badly or not at all; assumed of
/// processors of which no sets are known.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

pub(super) fn hints(_: &Machine) -> Vec<Hint> {
    vec![Hint::odd_channels().on(Basis::Assumed, Demand::Advised)]
}

/// Whether so many filled channels, of which there could be so many, are odd.
pub(crate) fn is_odd(filled: usize, all: usize) -> bool {
    filled > 1 && filled % 2 == 1 && filled < all
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    let machine = load.machine();
    if load.processor().is_none_or(|processor| processor.description().interleave.is_some()) {
        return;
    }
    let units: Vec<UnitLoad<'_>> = load.units().collect();
    let (empty, filled): (Vec<&UnitLoad<'_>>, Vec<&UnitLoad<'_>>) = units.iter().partition(|unit| unit.is_empty());
    if !is_odd(filled.len(), units.len()) {
        return;
    }
    let open = could_take(load, &empty, report.book());
    let all = filled.len() + open.len();
    if !is_odd(filled.len(), all) {
        return;
    }
    let layout = units.first().map(UnitLoad::layout);
    report.uneven(layout, &[load.id()], Cause::Slots, (Basis::Assumed, None), Demand::Advised, || {
        let next =
            open.first().map(|slots| slots.iter().map(|&slot| machine.platform().slot(slot).label().clone()).collect());
        Detail::at(Place::socket(machine.platform(), load.id()))
            .fact(FactName::Found, FactValue::count(filled.len()))
            .fact(FactName::Allowed, FactValue::text(&format!("1, an even number, or {all}")))
            .remedy(Remedy::AddLike { slots: next.unwrap_or_default() })
    });
}

#[cfg(test)]
mod tests {
    use crate::testing::{self, by_channels, clean, plain};

    #[test]
    fn three_of_four_channels_are_odd() {
        let (machine, plain) = (clean(), plain());
        let found = |machine: &_, channels| {
            let findings = testing::all_findings(machine, &by_channels(machine, &plain, channels));
            findings.iter().any(|finding| finding.code == "odd-channels")
        };
        let odd = |channels| found(&machine, channels);
        assert_eq!([1, 2, 3, 4].map(odd), [false, false, true, false]);
        let three = testing::machine(testing::board_of(2, 3, 2), testing::processor());
        assert!(!found(&three, 3));
    }
}
