use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::{ChannelLoad, ModuleSite};
use crate::rule::{Detail, Form, Report};

/// A channel holds so many modules of a sort at most: two quad-rank registered ones, say.
pub(super) fn form() -> Form {
    Form::Channel(Box::new(check))
}

fn check(load: &ChannelLoad<'_>, report: &mut Report<'_>) {
    let platform = load.machine().platform();
    for limit in &platform.description().module_limits {
        let Some(at_most) = limit.value.at_most_per_channel.map(usize::from) else { continue };
        let pattern = &limit.value.module;
        let (mut found, mut open) = (0, Vec::new());
        for site in load.modules().filter(ModuleSite::is_live) {
            match pattern.matches(site.module) {
                Ok(true) => found += 1,
                Ok(false) => {}
                Err(fact) => open.push((fact, site.slot)),
            }
        }
        if found > at_most {
            report.stated(limit, || {
                Detail::at(Place::channel(platform, load.id()))
                    .fact(FactName::Found, FactValue::count(found))
                    .fact(FactName::AtMost, FactValue::count(at_most))
                    .fact(FactName::Counting, FactValue::text(&pattern.to_string()))
                    .remedy(Remedy::RemoveModule)
            });
        } else if let Some(&(fact, _)) = open.first().filter(|_| found + open.len() > at_most) {
            report.unknown(fact, || open.iter().map(|&(_, slot)| Place::slot(platform, slot)).collect());
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::machine::Machine;
    use crate::module::ModuleKind;
    use crate::platform::ModuleLimit;
    use crate::processor::ModulePattern;
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, in_every_channel, said};

    fn machine(basis: Basis) -> Machine {
        let (mut board, mut processor) = (testing::board(), testing::processor());
        let module = ModulePattern::kind(ModuleKind::Registered).ranks(4);
        let limit =
            ModuleLimit { module, at_most_per_channel: Some(2), barred_positions: Vec::new(), first_in_channel: false };
        board.module_limits = vec![Stated::new(limit, basis)];
        processor.rank_limits.clear();
        testing::machine(board, processor)
    }

    #[test]
    fn two_quad_rank_modules_a_channel() {
        let (machine, quad, plain) = (machine(Basis::BoardManual), testing::quad(), testing::plain());
        for clean in [[&quad, &quad].as_slice(), &[&plain, &plain, &plain]] {
            assert!(said(&machine, &in_every_channel(&machine, clean)).is_empty());
        }
        let three = in_every_channel(&machine, &[&quad, &quad, &quad]);
        assert_eq!(testing::codes(&machine, &three), ["module-limit"]);
        assert_eq!(
            testing::findings(&machine, &three)[0].to_string(),
            "error module-limit: the channel has more modules of this sort than are allowed (channel A of processor 1; \
             found 3; at most 2; counted in registered 4-rank modules); take a module out [board manual]"
        );
    }

    #[test]
    fn unknown_ranks_and_a_makers_list() {
        let (strict, vague, quad) = (machine(Basis::BoardManual), testing::vague(), testing::quad());
        // two are not too many, whatever they are
        assert!(said(&strict, &in_every_channel(&strict, &[&vague, &vague])).is_empty());
        let three = in_every_channel(&strict, &[&vague, &vague, &vague]);
        assert_eq!(said(&strict, &three), ["warning module-limit unknown"]);
        let lenient = machine(Basis::MakersList);
        let three = in_every_channel(&lenient, &[&quad, &quad, &quad]);
        assert_eq!(said(&lenient, &three), ["warning module-limit"]);
    }
}
