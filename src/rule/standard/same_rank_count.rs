use std::collections::BTreeSet;

use itertools::Itertools;

use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::SameRankCount;
use crate::population::{Content, ModuleSite, SocketLoad};
use crate::processor::MissingFact;
use crate::rule::{Detail, Form, Hint, Report};
use crate::stated::{Demand, Stated};

/// All modules of a processor have the same number of package ranks, where the board asks for it.
///
/// Not hereditary: a board may let two numbers of ranks meet once every slot is filled.
/// Another device fills its slot.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

/// Modules whose numbers of ranks may not meet.
pub(super) fn hints(machine: &Machine) -> Vec<Hint> {
    let hint = |policy: &Stated<SameRankCount>| {
        let same = policy.value.clone();
        let bars = move |one: &MemoryModule, other: &MemoryModule, is_full| {
            let ranks = one.package_ranks().zip(other.package_ranks());
            ranks.is_some_and(|(one, other)| !same.may_meet(one, other, is_full))
        };
        Hint::kept_apart(bars).on(policy.basis, Demand::Required)
    };
    machine.platform().description().same_rank_count.iter().map(hint).collect()
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    let platform = load.machine().platform();
    let Some(policy) = &platform.description().same_rank_count else { return };
    let live = || load.modules().filter(ModuleSite::is_live);
    let found: BTreeSet<u8> = live().filter_map(|site| site.module.package_ranks()).collect();
    let is_full = found.len() > 1 && is_full(load);
    let may_meet = |(&one, &other): (&u8, &u8)| policy.value.may_meet(one, other, is_full);
    if !found.iter().tuple_combinations().all(may_meet) {
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
pub(super) fn is_full(load: &SocketLoad<'_>) -> bool {
    let slots = load.channels().flat_map(|channel| channel.contents());
    let positions = slots.filter(|&(slot, _)| load.machine().is_position(slot));
    positions.map(|(_, content)| content).all(|content| matches!(content, Content::Module(_) | Content::Other(_)))
}

#[cfg(test)]
mod tests {
    use crate::finding::Verdict;
    use crate::machine::Machine;
    use crate::platform::{PlatformProblem, RankPair, RanksMeet, SameRankCount};
    use crate::population::Occupant;
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, in_every_channel, said};

    fn machine(with_exception: bool, basis: Basis) -> Machine {
        let pair = RankPair { first: 1, second: 2, when: RanksMeet::WhenFull };
        excepting(with_exception.then_some(pair).into_iter().collect(), basis)
    }

    fn excepting(except: Vec<RankPair>, basis: Basis) -> Machine {
        let (mut board, mut processor) = (testing::board(), testing::processor());
        board.same_rank_count = Some(Stated::new(SameRankCount { except }, basis));
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
            for slot in lenient.platform().slots().iter().filter(|slot| slot.position() == Some(2)) {
                population.put(slot.label().clone(), occupant.clone());
            }
            said(&lenient, &population)
        };
        assert_eq!(third(&Occupant::OtherDevice(testing::other_device())), ["note other-device unknown"]);
        assert_eq!(third(&Occupant::Blank), ["error same-rank-count"]);
    }

    #[test]
    fn any_two_numbers_of_ranks_may_be_let_meet() {
        let [single, dual, quad] =
            ["16GB 1Rx4 PC4-2400T-RC2-11", "16GB 2Rx8 PC4-2400T-RE2-11", "16GB 4Rx8 PC4-2400T-RE2-11"]
                .map(testing::module);
        let pair = |first, second, when| RankPair { first, second, when };
        let always = |first, second| pair(first, second, RanksMeet::Always);
        let found = |except: &[RankPair], modules: &[&crate::module::MemoryModule]| {
            let machine = excepting(except.to_vec(), Basis::BoardManual);
            said(&machine, &in_every_channel(&machine, modules))
        };
        let broken = ["error same-rank-count"];
        // in whatever order they are named, filled or not
        for except in [always(2, 4), always(4, 2)] {
            assert!(found(&[except], &[&quad, &dual]).is_empty());
            assert!(found(&[except], &[&quad, &dual, &dual]).is_empty());
            assert_eq!(found(&[except], &[&quad, &single]), broken);
        }
        let full = pair(4, 1, RanksMeet::WhenFull);
        assert_eq!(found(&[full], &[&quad, &single]), broken);
        assert!(found(&[full], &[&quad, &single, &single]).is_empty());
        // of three numbers each two must be listed
        let three = [&quad, &dual, &single];
        assert_eq!(found(&[always(2, 4), always(1, 2)], &three), broken);
        assert!(found(&[always(2, 4), always(1, 2), full], &three).is_empty());
    }

    #[test]
    fn an_exception_is_of_two_numbers_that_modules_have() {
        for (first, second, is_bad) in [(1, 2, false), (8, 1, false), (2, 2, true), (0, 2, true), (2, 9, true)] {
            let pair = |first, second| RankPair { first, second, when: RanksMeet::Always };
            let mut board = testing::board();
            board.same_rank_count =
                Some(Stated::assumed(SameRankCount { except: vec![pair(1, 4), pair(first, second)] }));
            let problems = board.build().map(|_| ()).map_err(|error| error.problems);
            let problem = PlatformProblem::RankPair { index: 1, first, second };
            assert_eq!(problems, if is_bad { Err(vec![problem]) } else { Ok(()) });
        }
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
