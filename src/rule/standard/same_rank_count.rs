use std::collections::BTreeSet;

use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::{Content, ModuleSite, SocketLoad};
use crate::processor::MissingFact;
use crate::rule::{Detail, Form, Report};

/// All modules of a processor have the same number of package ranks, where the board asks for it.
///
/// Not hereditary: a board may let single-rank and dual-rank modules meet once every slot is filled.
/// Another device fills its slot.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    let platform = load.machine().platform();
    let Some(policy) = &platform.same_rank_count else { return };
    let live = || load.modules().filter(ModuleSite::is_live);
    let found: BTreeSet<u8> = live().filter_map(|site| site.module.package_ranks()).collect();
    let excepted =
        policy.value.single_with_dual_when_full && found.iter().all(|ranks| (1..=2).contains(ranks)) && is_full(load);
    if found.len() > 1 && !excepted {
        report.stated(policy, || {
            Detail::at(Place::socket(platform, load.id()))
                .fact(FactName::Found, FactValue::list(found.iter().map(|&ranks| FactValue::PackageRanks(ranks))))
                .remedy(Remedy::UseLikeModules)
        });
        return;
    }
    let unknown = || live().filter(|site| site.module.package_ranks().is_none());
    if live().count() > 1 && unknown().next().is_some() {
        report.unknown(MissingFact::PackageRanks, || unknown().map(|site| Place::slot(platform, site.slot)).collect());
    }
}

/// Whether every slot of the processor is filled that is live or closed.
fn is_full(load: &SocketLoad<'_>) -> bool {
    let slots = load.channels().flat_map(|channel| channel.contents());
    let positions = slots.filter(|&(slot, _)| load.machine().is_position(slot));
    positions.map(|(_, content)| content).all(|content| matches!(content, Content::Module(_) | Content::Other(_)))
}

#[cfg(test)]
mod tests {
    use crate::finding::Verdict;
    use crate::machine::Machine;
    use crate::platform::SameRankCount;
    use crate::population::Occupant;
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, in_every_channel, said};

    fn machine(single_with_dual_when_full: bool, basis: Basis) -> Machine {
        let (mut board, mut processor) = (testing::board(), testing::processor());
        board.same_rank_count = Some(Stated::new(SameRankCount { single_with_dual_when_full }, basis));
        processor.rank_limits.clear();
        testing::machine(board, processor)
    }

    #[test]
    fn one_rank_count_a_processor() {
        let (strict, tried) = (machine(false, Basis::BoardManual), machine(false, Basis::MakersList));
        let (quad, plain) = (testing::quad(), testing::plain());
        for clean in [[&plain, &plain], [&quad, &quad]] {
            assert!(said(&strict, &in_every_channel(&strict, &clean)).is_empty());
        }
        let mixed = in_every_channel(&strict, &[&quad, &plain]);
        assert_eq!(testing::codes(&strict, &mixed), ["same-rank-count"]);
        assert_eq!(
            testing::findings(&strict, &mixed)[0].to_string(),
            "error same-rank-count: modules of a processor differ in their number of ranks (processor 1; found 2 ranks, \
             4 ranks); use modules that are alike [board manual]"
        );
        assert_eq!(said(&tried, &in_every_channel(&tried, &[&quad, &plain])), ["warning same-rank-count"]);
    }

    #[test]
    fn single_with_dual_when_every_slot_is_filled() {
        let (strict, lenient) = (machine(false, Basis::BoardManual), machine(true, Basis::BoardManual));
        let (dual, quad) =
            (testing::module("16GB 2Rx8 PC4-2400T-RE2-11"), testing::module("16GB 4Rx8 PC4-2400T-RE2-11"));
        let single = testing::module("16GB 1Rx4 PC4-2400T-RC2-11");
        let full = [&dual, &dual, &single];
        assert_eq!(said(&strict, &in_every_channel(&strict, &full)), ["error same-rank-count"]);
        assert!(said(&lenient, &in_every_channel(&lenient, &full)).is_empty());
        let not_full = in_every_channel(&lenient, &[&dual, &single]);
        assert_eq!(said(&lenient, &not_full), ["error same-rank-count"]);
        let other_ranks = in_every_channel(&lenient, &[&quad, &dual, &single]);
        assert_eq!(said(&lenient, &other_ranks), ["error same-rank-count"]);

        // a device fills its slot, a blank does not
        let third = |occupant: &Occupant| {
            let mut population = not_full.clone();
            for slot in lenient.platform().slots().iter().filter(|slot| slot.position == 2) {
                population.put(slot.label.clone(), occupant.clone());
            }
            said(&lenient, &population)
        };
        assert_eq!(third(&Occupant::OtherDevice(testing::other_device())), ["note other-device unknown"]);
        assert_eq!(third(&Occupant::Blank), ["error same-rank-count"]);
    }

    #[test]
    fn unknown_ranks() {
        let (machine, vague, plain) = (machine(false, Basis::BoardManual), testing::vague(), testing::plain());
        let open = in_every_channel(&machine, &[&plain, &vague]);
        assert_eq!(said(&machine, &open), ["warning same-rank-count unknown"]);
        let broken = in_every_channel(&machine, &[&testing::quad(), &plain, &vague]);
        assert!(testing::findings(&machine, &broken).iter().all(|finding| finding.verdict == Verdict::Violated));
        // one module is like itself
        let alone = testing::population(&[("1A1", &vague), ("2A1", &vague)]);
        assert!(said(&machine, &alone).is_empty());
    }
}
