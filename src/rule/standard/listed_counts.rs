use crate::platform::CountRow;
use crate::rule::{CountBound, CountSet, Form};

/// The numbers of modules that the board lists, for the mode set and the processors present. A channel or
/// processor without modules is not held against them.
pub(super) fn form() -> Form {
    Form::Count(Box::new(|machine| {
        let processors = machine.processors().count();
        let rows = machine.platform().description().count_rows.iter();
        rows.filter(|row| row.is_for(machine.mode(), processors)).map(bound).collect()
    }))
}

fn bound(row: &CountRow) -> CountBound {
    CountBound {
        within: row.within,
        allowed: CountSet::OneOf(row.counts.iter().map(|&count| usize::from(count)).collect()),
        empty_is_exempt: true,
        demand: row.demand,
        basis: row.basis,
        source: row.source.clone(),
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::machine::Machine;
    use crate::platform::{CountRow, Mode, PlatformDescription, Redundancy};
    use crate::stated::{Basis, Demand, Scope};
    use crate::testing::{self, board, clean_population, codes, in_every_channel, name, plain, processor, verdicts};

    fn machine(rows: Vec<CountRow>) -> Machine {
        let modes = vec![Mode::new(name("mirrored"), Redundancy::None, Basis::BoardManual)];
        testing::machine(PlatformDescription { count_rows: rows, modes, ..board() }, processor())
    }

    fn row(counts: &[u16]) -> CountRow {
        CountRow::per_socket(counts.iter().copied(), Demand::Required, Basis::BoardManual)
    }

    fn found(row: CountRow) -> Vec<(Severity, Verdict, String)> {
        let machine = machine(vec![row]);
        verdicts(&machine, &clean_population(&machine))
    }

    fn broken(severity: Severity) -> [(Severity, Verdict, String); 1] {
        [(severity, Verdict::Violated, "listed-counts".to_owned())]
    }

    #[test]
    fn numbers_that_are_not_listed() {
        assert_eq!(found(row(&[1, 4])), []);
        assert_eq!(found(row(&[1, 8])), broken(Severity::Error));
        assert_eq!(found(CountRow { demand: Demand::Advised, ..row(&[8]) }), broken(Severity::Warning));
        assert_eq!(found(CountRow { basis: Basis::MakersList, ..row(&[8]) }), broken(Severity::Warning));
        assert_eq!(found(CountRow { within: Scope::Machine, ..row(&[4]) }), broken(Severity::Error));
        assert_eq!(found(CountRow { within: Scope::Channel, ..row(&[1, 3]) }), []);
        // every row that holds counts
        let two = machine(vec![row(&[4, 8]), CountRow { demand: Demand::Advised, ..row(&[8]) }]);
        assert_eq!(verdicts(&two, &clean_population(&two)), broken(Severity::Warning));
        assert_eq!(codes(&two, &in_every_channel(&two, &[&plain(), &plain()])), [""; 0]);
    }

    #[test]
    fn rows_of_other_modes_and_processors_are_passed_over() {
        assert_eq!(found(CountRow { mode: Some(name("mirrored")), ..row(&[8]) }), []);
        assert_eq!(found(CountRow { mode: Some(name("independent")), ..row(&[8]) }), broken(Severity::Error));
        assert_eq!(found(CountRow { processors: Some(1), ..row(&[8]) }), []);
        assert_eq!(found(CountRow { processors: Some(2), ..row(&[8]) }), broken(Severity::Error));
    }

    #[test]
    fn an_empty_processor_is_exempt() {
        let machine = machine(vec![row(&[1])]);
        assert_eq!(codes(&machine, &testing::population(&[("1A1", &plain())])), ["socket-minimum"]);
    }
}
