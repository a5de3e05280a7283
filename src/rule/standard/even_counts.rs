use crate::rule::{CountBound, CountSet, Form};
use crate::stated::Scope;

/// An odd number of modules at a processor, where the board asks for even ones.
pub(super) fn form() -> Form {
    Form::Count(Box::new(|machine| {
        let stated = machine.platform().description().even_counts.iter();
        stated
            .map(|demand| CountBound {
                empty_is_exempt: true,
                demand: demand.value,
                basis: demand.basis,
                source: demand.source.clone(),
                ..CountBound::new(Scope::Socket, CountSet::Even)
            })
            .collect()
    }))
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::machine::Machine;
    use crate::platform::PlatformDescription;
    use crate::stated::{Basis, Demand, Stated};
    use crate::testing::{self, board, clean, clean_population, codes, plain, population, processor, verdicts};

    fn machine(demand: Demand, basis: Basis) -> Machine {
        let even_counts = Some(Stated::new(demand, basis));
        testing::machine(PlatformDescription { even_counts, ..board() }, processor())
    }

    #[test]
    fn odd_numbers() {
        let plain = plain();
        let three: Vec<_> = ["1A1", "1B1", "1C1", "2A1", "2B1", "2C1"].map(|slot| (slot, &plain)).to_vec();
        let three = population(&three);
        let found = |demand, basis| verdicts(&machine(demand, basis), &three);
        let broken = |severity| [(severity, Verdict::Violated, "even-counts".to_owned())];
        assert_eq!(found(Demand::Required, Basis::BoardManual), broken(Severity::Error));
        assert_eq!(found(Demand::Required, Basis::MakersList), broken(Severity::Warning));
        assert_eq!(found(Demand::Advised, Basis::BoardManual), broken(Severity::Warning));
        assert_eq!(codes(&clean(), &three), [""; 0]);
        let machine = machine(Demand::Required, Basis::BoardManual);
        assert_eq!(codes(&machine, &clean_population(&machine)), [""; 0]);
    }
}
