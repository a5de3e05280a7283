use crate::finding::{FactName, FactValue, Place};
use crate::platform::Mode;
use crate::population::Layout;
use crate::rule::{Detail, Form, Report};

/// A machine set to a redundancy mode other than the independent one. What such a mode asks for is not
/// described yet, so that no population can be said to meet it.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let mode = layout.machine().mode();
    if mode != Mode::INDEPENDENT {
        report.violation(|| Detail::at(Place::Machine).fact(FactName::AskedBy, FactValue::text(mode)));
    }
}

#[cfg(test)]
mod tests {
    use crate::platform::{Mode, PlatformDescription, Settings};
    use crate::testing::{board, clean_population, codes, machine, name, processor};

    #[test]
    fn another_mode() {
        let found = |mode: &str| {
            let modes = vec![Mode { name: name("mirrored") }];
            let default_settings = Settings { mode: Some(name(mode)), ..Settings::default() };
            let machine = machine(PlatformDescription { modes, default_settings, ..board() }, processor());
            codes(&machine, &clean_population(&machine))
        };
        assert_eq!(found("independent"), [""; 0]);
        assert_eq!(found("mirrored"), ["mode-unmet"]);
    }
}
