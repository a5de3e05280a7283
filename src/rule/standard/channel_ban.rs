use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::{ChannelLoad, ModuleSite};
use crate::processor::one_to_one;
use crate::rule::{Detail, Form, Report};

/// Some sets of modules never make up a channel: one of four ranks with two of two, say, although their
/// ranks are not too many.
///
/// Not hereditary: with a further module it is another set.
pub(super) fn form() -> Form {
    Form::Channel(Box::new(check))
}

fn check(load: &ChannelLoad<'_>, report: &mut Report<'_>) {
    let platform = load.machine().platform();
    if platform.description().channel_bans.is_empty() || load.is_empty() {
        return;
    }
    let live = || load.modules().filter(ModuleSite::is_live);
    let modules: Vec<_> = live().map(|site| site.module).collect();
    for ban in platform.description().channel_bans.iter().filter(|ban| !ban.value.modules.is_empty()) {
        let patterns = &ban.value.modules;
        match one_to_one::matches(patterns, &modules) {
            Ok(false) => {}
            Ok(true) => report.stated(ban, || {
                Detail::at(Place::channel(platform, load.id()))
                    .fact(FactName::Found, FactValue::list(patterns.iter().map(|p| FactValue::text(&p.to_string()))))
                    .remedy(Remedy::ReplaceModule)
            }),
            Err(fact) => report.unknown(fact, || live().map(|site| Place::slot(platform, site.slot)).collect()),
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::machine::Machine;
    use crate::platform::ChannelBan;
    use crate::processor::ModulePattern;
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, in_every_channel, said};

    fn machine(basis: Basis) -> Machine {
        let (mut board, mut processor) = (testing::board(), testing::processor());
        let ranks = |count: u8| ModulePattern::default().ranks(count);
        board.channel_bans = vec![Stated::new(ChannelBan { modules: vec![ranks(2), ranks(4), ranks(2)] }, basis)];
        processor.rank_limits.clear();
        testing::machine(board, processor)
    }

    #[test]
    fn one_of_four_ranks_with_two_of_two() {
        let (machine, quad, plain) = (machine(Basis::BoardManual), testing::quad(), testing::plain());
        for clean in [[&quad, &plain].as_slice(), &[&quad, &quad, &plain], &[&plain, &plain, &plain]] {
            assert!(said(&machine, &in_every_channel(&machine, clean)).is_empty());
        }
        for banned in [[&quad, &plain, &plain], [&plain, &quad, &plain]] {
            assert_eq!(testing::codes(&machine, &in_every_channel(&machine, &banned)), ["channel-ban"]);
        }
        assert_eq!(
            testing::findings(&machine, &in_every_channel(&machine, &[&quad, &plain, &plain]))[0].to_string(),
            "error channel-ban: these modules never make up a channel (channel A of processor 1; found 2-rank modules, \
             4-rank modules, 2-rank modules); take a module of another sort [board manual]"
        );
    }

    #[test]
    fn unknown_ranks_and_a_makers_list() {
        let (strict, vague) = (machine(Basis::BoardManual), testing::vague());
        let (quad, plain) = (testing::quad(), testing::plain());
        // two quad-rank modules are not the set, whatever the third is
        assert!(said(&strict, &in_every_channel(&strict, &[&quad, &quad, &vague])).is_empty());
        let open = in_every_channel(&strict, &[&quad, &plain, &vague]);
        assert_eq!(said(&strict, &open), ["warning channel-ban unknown"]);
        let lenient = machine(Basis::MakersList);
        let banned = in_every_channel(&lenient, &[&quad, &plain, &plain]);
        assert_eq!(said(&lenient, &banned), ["warning channel-ban"]);
    }
}
