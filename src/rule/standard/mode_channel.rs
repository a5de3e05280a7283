use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::ChannelLoad;
use crate::rule::{Detail, Form, Report};
use crate::stated::Demand;

/// A mode may ask for so many modules in every channel that holds any.
pub(super) fn form() -> Form {
    Form::Channel(Box::new(check))
}

fn check(load: &ChannelLoad<'_>, report: &mut Report<'_>) {
    let machine = load.machine();
    let Some(mode) = machine.mode_description() else { return };
    let Some(least) = mode.modules_at_least.map(usize::from) else { return };
    let found = load.len();
    if found > 0 && found < least {
        report.grounded((mode.basis, mode.source.as_ref()), Demand::Required, || {
            Detail::at(Place::channel(machine.platform(), load.id()))
                .fact(FactName::Found, FactValue::count(found))
                .fact(FactName::AtLeast, FactValue::count(least))
                .fact(FactName::AskedBy, FactValue::Text(mode.name.clone()))
                .remedy(Remedy::AddModules)
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::platform::{Mode, PlatformDescription, Redundancy, Settings};
    use crate::stated::Basis;
    use crate::testing::{board, codes, in_every_channel, machine, name, plain, processor};

    #[test]
    fn a_lone_module_where_two_are_asked_for() {
        let spare = Mode::new(name("spare"), Redundancy::RankSparing { spare_ranks: 1 }, Basis::BoardManual);
        let modes = vec![Mode { modules_at_least: Some(2), ..spare }];
        let default_settings = Settings { mode: Some(name("spare")), ..Settings::default() };
        let machine = machine(PlatformDescription { modes, default_settings, ..board() }, processor());
        let plain = plain();
        assert_eq!(codes(&machine, &in_every_channel(&machine, &[&plain])), ["mode-channel"]);
        assert_eq!(codes(&machine, &in_every_channel(&machine, &[&plain, &plain])), [""; 0]);
    }
}
