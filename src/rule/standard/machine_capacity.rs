use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::Layout;
use crate::rule::{Detail, Form, Report};
use crate::unit::Capacity;

/// The board takes so much memory in all.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let Some(cap) = &layout.machine().platform().description().capacity_cap_mib else { return };
    let live = layout.modules().filter(|site| site.machine.is_live(site.slot));
    let total: Capacity = live.map(|site| site.module.capacity()).sum();
    if total > cap.value {
        report.stated(cap, || {
            Detail::at(Place::Machine)
                .fact(FactName::Found, FactValue::CapacityMib(total))
                .fact(FactName::AtMost, FactValue::CapacityMib(cap.value))
                .remedy(Remedy::RemoveModule)
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::machine::Machine;
    use crate::platform::PlatformDescription;
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, board, clean_population, processor, verdicts};
    use crate::unit::Capacity;

    fn machine(cap: u64, basis: Basis) -> Machine {
        let capacity_cap_mib = Some(Stated::new(Capacity::from_mib(cap), basis));
        testing::machine(PlatformDescription { capacity_cap_mib, ..board() }, processor())
    }

    #[test]
    fn more_than_the_board_takes() {
        let found = |cap, basis| {
            let machine = machine(cap, basis);
            verdicts(&machine, &clean_population(&machine))
        };
        let broken = |severity| [(severity, Verdict::Violated, "machine-capacity".to_owned())];
        assert_eq!(found(256 * 1024, Basis::BoardManual), []);
        assert_eq!(found(256 * 1024 - 1, Basis::BoardManual), broken(Severity::Error));
        assert_eq!(found(256 * 1024 - 1, Basis::MakersList), broken(Severity::Warning));
    }
}
