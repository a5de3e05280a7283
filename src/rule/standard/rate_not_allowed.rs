use itertools::Itertools as _;

use crate::figure::{Load, RateObstacle, RowMemo, TableOwner, channel_limits};
use crate::finding::{Place, Remedy};
use crate::machine::Machine;
use crate::population::Layout;
use crate::processor::RateCell;
use crate::rule::standard::rate_tables;
use crate::rule::{Form, Hint, Report};
use crate::stated::{Basis, Demand};

/// A load that a rate table of the board or the processor bars.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let rate = report.running_rate(layout);
    for obstacle in rate.domains.iter().flat_map(|domain| &domain.obstacles) {
        if let RateObstacle::NotAllowed { table, load, places } = obstacle {
            report_barred(layout.machine(), (table, load, places), report);
        }
    }
}

fn report_barred(machine: &Machine, (table, load, places): (&TableOwner, &Load, &[Place]), report: &mut Report<'_>) {
    let grounds = rate_tables::grounds(machine, table).unwrap_or((Basis::Assumed, None));
    report.grounded(grounds, Demand::Required, || {
        let alone = load.modules_in_channel <= 1;
        let remedy = if alone { Remedy::ReplaceModule } else { Remedy::RemoveModule };
        rate_tables::about(table, load, places).remedy(remedy)
    });
}

/// A load that a table bars at a voltage is barred wherever it is driven at that.
pub(super) fn hints(machine: &Machine) -> Vec<Hint> {
    if !rate_tables::cells(machine).contains(&RateCell::NotAllowed) {
        return Vec::new();
    }
    vec![Hint::barred_loads(|load, voltage, report| {
        channel_limits(*load, voltage, &mut RowMemo::default(), &mut |raw| {
            if let Some((by, module)) = raw.barred_by() {
                let place = [Place::channel(load.machine().platform(), load.id())];
                let load_of = Load::of(module, load.len());
                report_barred(load.machine(), (&TableOwner::of(by), &load_of, &place), report);
            }
        });
    })]
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::machine::Machine;
    use crate::module::ModuleKind;
    use crate::platform::PlatformDescription;
    use crate::processor::{ModulePattern, ProcessorDescription, RateTable};
    use crate::stated::Basis;
    use crate::testing::{self, board, codes, findings, in_every_channel, plain, processor, verdicts};
    use crate::unit::DataRate;

    fn table(basis: Basis) -> Option<RateTable> {
        let registered = ModulePattern::kind(ModuleKind::Registered).ranks(2);
        let rate = Some(DataRate::DDR4_2400);
        Some(RateTable::new(basis).by_load(&registered, &[rate, rate, None]))
    }

    fn machine(basis: Basis) -> Machine {
        testing::machine(board(), ProcessorDescription { rate_table: table(basis), ..processor() })
    }

    #[test]
    fn a_load_that_is_barred() {
        let plain = &plain();
        let found = |machine: &Machine| {
            assert_eq!(codes(machine, &in_every_channel(machine, &[plain, plain])), [""; 0]);
            verdicts(machine, &in_every_channel(machine, &[plain; 3]))
        };
        let broken = |severity| [(severity, Verdict::Violated, "rate-not-allowed".to_owned())];
        assert_eq!(found(&machine(Basis::DataSheet)), broken(Severity::Error));
        assert_eq!(found(&machine(Basis::MakersList)), broken(Severity::Warning));
        let by_board = PlatformDescription { rate_table: table(Basis::BoardManual), ..board() };
        assert_eq!(found(&testing::machine(by_board, processor())), broken(Severity::Error));
    }

    #[test]
    fn one_finding_for_one_load() {
        let machine = machine(Basis::DataSheet);
        let found = findings(&machine, &in_every_channel(&machine, &[&plain(); 3]));
        assert_eq!((found.len(), found[0].places.len()), (1, 24));
        let text = found[0].to_string();
        assert!(
            text.contains("found registered 2-rank modules, 3 a channel; asked by the table of processor proc"),
            "{text}"
        );
        assert!(text.ends_with("take a module out [data sheet]"), "{text}");
    }
}
