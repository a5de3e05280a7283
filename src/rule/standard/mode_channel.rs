use itertools::Itertools;

use crate::figure::usable::has_minimum;
use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::ChannelLoad;
use crate::rule::{Detail, Form, Report};
use crate::stated::Demand;

/// A mode may ask for so many modules in every channel that holds any, or for so many of one sort or another.
pub(super) fn form() -> Form {
    Form::Channel(Box::new(check))
}

fn check(load: &ChannelLoad<'_>, report: &mut Report<'_>) {
    let machine = load.machine();
    let Some(mode) = machine.mode_description() else { return };
    let found = load.len();
    if found == 0 {
        return;
    }
    let grounds = (mode.basis, mode.source.as_ref());
    let lacks = |asked: (FactName, FactValue)| {
        Detail::at(Place::channel(machine.platform(), load.id()))
            .fact(FactName::Found, FactValue::count(found))
            .fact(asked.0, asked.1)
            .fact(FactName::AskedBy, FactValue::Text(mode.name.clone()))
            .remedy(Remedy::AddModules)
    };
    if let Some(least) = mode.modules_at_least.map(usize::from).filter(|&least| found < least) {
        report.grounded(grounds, Demand::Required, || lacks((FactName::AtLeast, FactValue::count(least))));
        return;
    }
    if mode.any_of.is_empty() {
        return;
    }
    match has_minimum(load, mode) {
        Ok(true) => {}
        Ok(false) => report.grounded(grounds, Demand::Required, || {
            lacks((FactName::Allowed, FactValue::text(&mode.any_of.iter().join(" or "))))
        }),
        Err((fact, places)) => report.unknown(fact, || places),
    }
}

#[cfg(test)]
mod tests {
    use crate::module::MemoryModule;
    use crate::platform::ChannelMinimum;
    use crate::platform::{Mode, PlatformDescription, Redundancy, Settings};
    use crate::processor::ModulePattern;
    use crate::stated::Basis;
    use crate::testing::{board, codes, in_every_channel, machine, name, plain, processor};
    use crate::testing::{quad, said, vague};

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

    // two modules of one or two ranks, or one of four: common practice, no source
    #[test]
    fn modules_of_fewer_ranks_come_in_twos() {
        let mut spare = Mode::new(name("spare"), Redundancy::DeviceCorrection, Basis::BoardManual);
        let of = |module: ModulePattern, modules_at_least: u8| ChannelMinimum { module, modules_at_least };
        let (few, four) =
            (ModulePattern::default().package_ranks_at_most(2), ModulePattern::default().package_ranks(4));
        spare.any_of = vec![of(few, 2), of(four, 1)];
        let default_settings = Settings { mode: Some(name("spare")), ..Settings::default() };
        let board = PlatformDescription { modes: vec![spare], default_settings, ..board() };
        let machine = machine(board, processor());
        let of_mode = |modules: &[&MemoryModule]| {
            let all = said(&machine, &in_every_channel(&machine, modules));
            all.into_iter().filter(|said| said.contains("mode-channel")).collect::<Vec<_>>()
        };
        let (dual, quad) = (plain(), quad());
        assert_eq!(of_mode(&[&dual]), ["error mode-channel"]);
        assert_eq!(of_mode(&[&dual, &dual]), [""; 0]);
        assert_eq!(of_mode(&[&quad]), [""; 0]);
        assert_eq!(of_mode(&[&vague()]), ["warning mode-channel unknown"]);
        assert_eq!(of_mode(&[&vague(), &dual]), ["warning mode-channel unknown"]);
        let finding = crate::testing::findings(&machine, &in_every_channel(&machine, &[&dual]));
        let text = finding.into_iter().find(|finding| finding.code == *"mode-channel").unwrap().to_string();
        assert!(text.contains("allowed at least 2 of"), "{text}");
    }
}
