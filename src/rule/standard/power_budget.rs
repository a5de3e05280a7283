use crate::figure::PowerDraw;
use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::machine::Machine;
use crate::population::{Layout, ModuleSite};
use crate::processor::MissingFact;
use crate::rule::{Detail, Form, Report};

/// All modules together draw no more than the board allows for them.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

/// Where the board states no budget.
pub(super) fn idle(machine: &Machine) -> bool {
    machine.platform().description().power_budget_mw.is_none()
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let machine = layout.machine();
    let Some(budget) = &machine.platform().description().power_budget_mw else { return };
    let PowerDraw { known_mw, unknown_modules } = PowerDraw::of(layout);
    if known_mw > budget.value {
        report.stated(budget, || {
            Detail::at(Place::Machine)
                .fact(FactName::Found, FactValue::PowerMw(known_mw))
                .fact(FactName::AtMost, FactValue::PowerMw(budget.value))
                .remedy(Remedy::RemoveModule)
        });
    } else if unknown_modules > 0 {
        let unknown = |site: &ModuleSite<'_>| site.is_live() && site.module.power().is_none();
        report.unknown(MissingFact::Power, || {
            layout.modules().filter(unknown).map(|site| Place::slot(machine.platform(), site.slot)).collect()
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::machine::Machine;
    use crate::platform::PlatformDescription;
    use crate::stated::{Basis, Stated};
    use crate::testing::{board, in_every_channel, machine, plain, processor, said};
    use crate::unit::Power;

    fn budget(watts: u32) -> Machine {
        let power_budget_mw = Some(Stated::new(Power::from_mw(watts * 1000), Basis::BoardManual));
        machine(PlatformDescription { power_budget_mw, ..board() }, processor())
    }

    #[test]
    fn more_than_the_board_allows() {
        let ten = plain().to_builder().power(Power::from_mw(10_000)).build().unwrap();
        let found = |machine: &Machine| said(machine, &in_every_channel(machine, &[&ten]));
        assert_eq!(found(&budget(80)), [""; 0]);
        assert_eq!(found(&budget(79)), ["error power-budget"]);
        let machine = budget(79);
        assert_eq!(said(&machine, &in_every_channel(&machine, &[&plain()])), ["warning power-budget unknown"]);
    }
}
