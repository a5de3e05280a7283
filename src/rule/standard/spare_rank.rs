use crate::figure::usable::channel_ranks;
use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::ChannelLoad;
use crate::rule::{Detail, Form, Report};
use crate::stated::Demand;

/// A channel that holds modules has the counted ranks that the mode asks for: to spare some, at least one more
/// than are spared. The spare ranks are the largest, so that each can stand in for any other.
pub(super) fn form() -> Form {
    Form::Channel(Box::new(check))
}

fn check(load: &ChannelLoad<'_>, report: &mut Report<'_>) {
    let machine = load.machine();
    let Some(mode) = machine.mode_description() else { return };
    let least = mode.least_counted_ranks();
    if least == 0 || load.is_empty() {
        return;
    }
    let (found, unknown) = channel_ranks(load);
    if found >= least {
        return;
    }
    match unknown.first() {
        Some(&(fact, _)) => report.unknown(fact, || unknown.iter().map(|(_, place)| place.clone()).collect()),
        None => report.grounded((mode.basis, mode.source.as_ref()), Demand::Required, || {
            Detail::at(Place::channel(machine.platform(), load.id()))
                .fact(FactName::Found, FactValue::count(usize::try_from(found).unwrap_or(usize::MAX)))
                .fact(FactName::AtLeast, FactValue::count(usize::try_from(least).unwrap_or(usize::MAX)))
                .fact(FactName::Counting, FactValue::text("counted ranks"))
                .fact(FactName::AskedBy, FactValue::Text(mode.name.clone()))
                .remedy(Remedy::AddModules)
        }),
    }
}

#[cfg(test)]
mod tests {
    use crate::machine::Machine;
    use crate::platform::{Mode, PlatformDescription, Redundancy, Settings};
    use crate::stated::Basis;
    use crate::testing::{board, in_every_channel, machine, module, name, plain, processor, said, vague};

    fn sparing(spare_ranks: u32) -> Machine {
        let modes = vec![Mode::new(name("spare"), Redundancy::RankSparing { spare_ranks }, Basis::BoardManual)];
        let default_settings = Settings { mode: Some(name("spare")), ..Settings::default() };
        machine(PlatformDescription { modes, default_settings, ..board() }, processor())
    }

    // rules of the trade: k spares need k + 1 ranks; common practice, no source
    #[test]
    fn one_rank_more_than_is_spared() {
        let single = module("16GB 1Rx4 PC4-2400T-RC1-11");
        let found = |spares: u32, modules: &[&crate::module::MemoryModule]| {
            let machine = sparing(spares);
            said(&machine, &in_every_channel(&machine, modules))
        };
        assert_eq!(found(1, &[&single]), ["error spare-rank"]);
        assert_eq!(found(1, &[&single, &single]), [""; 0]);
        assert_eq!(found(1, &[&plain()]), [""; 0]);
        assert_eq!(found(2, &[&plain()]), ["error spare-rank"]);
        assert!(found(1, &[&vague()]).contains(&"warning spare-rank unknown".to_owned()));
    }
}
