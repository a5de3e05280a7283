use crate::finding::{Place, Remedy};
use crate::population::{Content, Layout};
use crate::rule::{Detail, Form, Report};

/// A blank in every empty slot that is live or closed, where the maker asks for them: air flow.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let machine = layout.machine();
    let Some(demand) = &machine.platform().description().blanks else { return };
    let slots = || machine.platform().fill_order().iter().copied().filter(|&slot| machine.is_position(slot));
    let open = || slots().filter(|&slot| layout.get(slot) == Content::Empty);
    if open().next().is_some() {
        report.demand(demand, || {
            Detail::at_all(open().map(|slot| Place::slot(machine.platform(), slot))).remedy(Remedy::FitBlank)
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::{Severity, Verdict};
    use crate::machine::Machine;
    use crate::platform::PlatformDescription;
    use crate::population::{Occupant, Population};
    use crate::rule::RuleBook;
    use crate::stated::{Basis, Demand, Stated};
    use crate::testing::{
        self, board, clean_population, codes, findings, in_every_channel, name, plain, processor, verdicts,
    };

    fn machine(demand: Demand) -> Machine {
        let blanks = Some(Stated::new(demand, Basis::BoardManual));
        testing::machine(PlatformDescription { blanks, ..board() }, processor())
    }

    #[test]
    fn slots_left_open() {
        let note = [(Severity::Note, Verdict::Violated, "blanks".to_owned())];
        for demand in [Demand::Advised, Demand::Required] {
            let machine = machine(demand);
            assert_eq!(verdicts(&machine, &clean_population(&machine)), note);
        }
        let machine = machine(Demand::Required);
        let full = in_every_channel(&machine, &[&plain(), &plain()]);
        let found = findings(&machine, &full);
        assert_eq!((found.len(), found[0].places.len()), (1, 8));
        let third = machine.platform().slots().iter().filter(|slot| slot.position() == Some(2));
        let blank = |mut population: Population, label| {
            population.put(label, Occupant::Blank);
            population
        };
        let closed = third.map(|slot| slot.label().clone()).fold(full, blank);
        assert_eq!(codes(&machine, &closed), [""; 0]);
    }

    #[test]
    fn a_caller_may_weigh_it_more() {
        let machine = machine(Demand::Advised);
        let population = Population::new().with(name("1A1"), plain());
        let layout = crate::population::Layout::new(&machine, &population).unwrap();
        let rules = RuleBook::standard().with_severity("blanks", Severity::Warning).unwrap();
        assert!(rules.check(&layout).iter().any(|f| f.code == *"blanks" && f.severity == Severity::Warning));
    }
}
