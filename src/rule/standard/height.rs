use crate::finding::{FactName, FactValue, Remedy};
use crate::population::ModuleSite;
use crate::processor::MissingFact;
use crate::rule::standard::site;
use crate::rule::{Form, Report};

/// A slot may take modules up to some height only.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let Some(limit) = site.slot().description().height_limit_um.filter(|_| site::judged_by(site).is_some()) else {
        return;
    };
    match site.module.height() {
        None => {
            // that a module fits its slot says nothing of a lower one
            let known = site.runs_in().and_then(|there| there.description().height_limit_um);
            let fits = known.is_some_and(|known| known <= limit);
            report.unknown_unless(fits, MissingFact::Height, || vec![site::place(site)]);
        }
        Some(height) if height > limit => report.violation(|| {
            site::about(site)
                .fact(FactName::Found, FactValue::HeightUm(height))
                .fact(FactName::AtMost, FactValue::HeightUm(limit))
                .remedy(Remedy::ReplaceModule)
        }),
        Some(_) => {}
    }
}

#[cfg(test)]
mod tests {
    use crate::testing::{self, in_every_channel, population, said};
    use crate::unit::Height;

    // what runs fits its slot, and those that are no lower
    #[test]
    fn a_module_of_unknown_height_that_runs() {
        let mut board = testing::board();
        let limits = [("1A1", 30_000), ("1A2", 40_000), ("1B1", 20_000)];
        for (label, limit) in limits {
            let slot = testing::slots_mut(&mut board).find(|slot| slot.label == *label).unwrap();
            slot.height_limit_um = Some(Height::from_um(limit));
        }
        let machine = testing::machine(board, testing::processor());
        let told = |there: &str, here: &str| {
            let running = population(&[(there, &testing::plain())]).as_it_runs(&machine).unwrap();
            let module = running.modules().next().unwrap().1.module.clone();
            let mut said = said(&machine, &population(&[(here, &module)]));
            said.retain(|said| said.contains("height"));
            said
        };
        assert_eq!(told("1A1", "1A1"), ["note height"]);
        assert_eq!(told("1A1", "1A2"), ["note height"]);
        assert_eq!(told("1A1", "1B1"), ["warning height unknown"]);
        // in the open it may be as tall as it likes
        assert_eq!(told("1B2", "1A2"), ["warning height unknown"]);
        assert_eq!(told("1A1", "1B2"), [""; 0]);
    }

    #[test]
    fn a_tall_module() {
        let mut board = testing::board();
        testing::slots_mut(&mut board).for_each(|slot| slot.height_limit_um = Some(Height::from_um(31_250)));
        let machine = testing::machine(board, testing::processor());
        let of = |um: u32| testing::plain().to_builder().height(Height::from_um(um)).build().unwrap();
        assert!(said(&machine, &in_every_channel(&machine, &[&of(31_250)])).is_empty());
        let tall = in_every_channel(&machine, &[&of(31_251)]);
        assert_eq!(testing::codes(&machine, &tall), ["height"]);
        assert_eq!(said(&machine, &tall), ["error height"]);
        assert_eq!(said(&machine, &testing::clean_population(&machine)), ["warning height unknown"]);
        // without a limit the height is no matter
        let free = testing::clean();
        assert!(said(&free, &in_every_channel(&free, &[&of(u32::MAX)])).is_empty());
    }
}
