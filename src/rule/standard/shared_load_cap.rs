use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::platform::SharedLoadCap;
use crate::population::{ChannelLoad, ModuleSite, SocketLoad};
use crate::processor::MissingFact;
use crate::rule::{Detail, Form, Report};
use crate::stated::{Scope, Stated};

/// One module of a sort caps the load of every channel around it: a quad-rank module anywhere on a
/// processor bars three modules a channel there.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    for cap in &load.machine().platform().description().shared_load_caps {
        match cap.value.within {
            Scope::Channel => load.channels().for_each(|channel| hold(cap, &std::iter::once(channel), report)),
            Scope::Socket => hold(cap, &load.channels(), report),
            Scope::Machine => {} // a rule of its own
        }
    }
}

/// Holds a cap against the channels within which it holds.
pub(super) fn hold<'a>(
    cap: &Stated<SharedLoadCap>,
    channels: &(impl Iterator<Item = ChannelLoad<'a>> + Clone),
    report: &mut Report<'_>,
) {
    let at_most = usize::from(cap.value.modules_per_channel);
    let fullest = channels.clone().map(loaded).max().unwrap_or(0);
    if fullest <= at_most {
        return;
    }
    let full = || {
        let full = channels.clone().filter(|channel| loaded(*channel) > at_most);
        full.map(|channel| Place::channel(channel.machine().platform(), channel.id()))
    };
    match present(cap, channels.clone()) {
        Ok(false) => {}
        Ok(true) => report.stated(cap, || {
            Detail::at_all(full())
                .fact(FactName::Found, FactValue::count(fullest))
                .fact(FactName::With, FactValue::text(&cap.value.module.to_string()))
                .fact(FactName::AtMost, FactValue::count(at_most))
                .fact(FactName::Counting, FactValue::text("modules in one channel"))
                .remedy(Remedy::RemoveModule)
        }),
        Err(fact) => report.unknown(fact, || full().collect()),
    }
}

fn loaded(channel: ChannelLoad<'_>) -> usize {
    channel.modules().filter(ModuleSite::is_live).count()
}

/// Whether a module of the sort is there.
fn present<'a>(
    cap: &Stated<SharedLoadCap>,
    channels: impl Iterator<Item = ChannelLoad<'a>>,
) -> Result<bool, MissingFact> {
    let mut missing = Ok(false);
    for site in channels.flat_map(|channel| channel.modules()).filter(ModuleSite::is_live) {
        match cap.value.module.matches(site.module) {
            Ok(true) => return Ok(true),
            Ok(false) => {}
            Err(fact) => missing = Err(fact),
        }
    }
    missing
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::Machine;
    use crate::module::ModuleKind;
    use crate::processor::ModulePattern;
    use crate::stated::Basis;
    use crate::testing::{self, in_every_channel, name, said};

    fn machine(within: Scope, basis: Basis) -> Machine {
        let (mut board, mut processor) = (testing::board(), testing::processor());
        let module = ModulePattern::kind(ModuleKind::Registered).ranks(4);
        board.shared_load_caps = vec![Stated::new(SharedLoadCap { module, within, modules_per_channel: 2 }, basis)];
        processor.rank_limits.clear();
        testing::machine(board, processor)
    }

    #[test]
    fn a_quad_rank_module_bars_three_a_channel() {
        let (machine, quad, plain) = (machine(Scope::Socket, Basis::BoardManual), testing::quad(), testing::plain());
        for clean in [[&quad, &quad].as_slice(), &[&plain, &plain, &plain]] {
            assert!(said(&machine, &in_every_channel(&machine, clean)).is_empty());
        }
        let three = in_every_channel(&machine, &[&quad, &plain, &plain]);
        assert_eq!(testing::codes(&machine, &three), ["shared-load-cap"]);
        assert_eq!(
            testing::findings(&machine, &three)[0].to_string(),
            "error shared-load-cap: with a module of this sort around, a channel holds too many modules (channels A of \
             processor 1, B of processor 1, C of processor 1, D of processor 1; found 3; with registered 4-rank modules; \
             at most 2; counted in modules in one channel); take a module out [board manual]"
        );
    }

    // the quad-rank module sits in a channel of its own
    #[test]
    fn where_the_cap_holds() {
        let (quad, plain) = (testing::quad(), testing::plain());
        let says = |within: Scope, slot: &str| {
            let machine = machine(within, Basis::BoardManual);
            let mut population = in_every_channel(&machine, &[&plain, &plain, &plain]);
            for position in ["2", "3"] {
                population.take(&format!("{slot}{position}"));
            }
            let population = population.with(name(&format!("{slot}1")), quad.clone());
            let found = testing::findings(&machine, &population);
            let places = found.iter().find(|finding| finding.code == *"shared-load-cap").map(|f| f.places.clone());
            places.map(|places| Place::phrase(&places))
        };
        assert_eq!(says(Scope::Channel, "1A"), None);
        let around = "channels B of processor 1, C of processor 1, D of processor 1";
        assert_eq!(says(Scope::Socket, "1A").as_deref(), Some(around));
        assert_eq!(says(Scope::Machine, "1A"), None);
    }

    #[test]
    fn unknown_ranks_and_a_makers_list() {
        let (strict, vague) = (machine(Scope::Socket, Basis::BoardManual), testing::vague());
        assert!(said(&strict, &in_every_channel(&strict, &[&vague, &vague])).is_empty());
        let three = in_every_channel(&strict, &[&vague, &vague, &vague]);
        assert_eq!(said(&strict, &three), ["warning shared-load-cap unknown"]);
        let lenient = machine(Scope::Channel, Basis::MakersList);
        let three = in_every_channel(&lenient, &[&testing::quad(), &testing::plain(), &testing::plain()]);
        assert_eq!(said(&lenient, &three), ["warning shared-load-cap"]);
    }
}
