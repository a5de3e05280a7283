use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::module::{MemoryModule, Stack};
use crate::population::{ChannelLoad, ModuleSite};
use crate::processor::{CountedRanks, MissingFact, RankCounting, RankLimit};
use crate::rule::{Detail, Form, Report};
use crate::stated::Stated;

/// A channel holds so many ranks at most, by the board's limits and the processor's. A limit says what
/// it counts.
///
/// Not hereditary: counted ranks may depend on how many modules the channel holds, and one more module
/// may make the controller count fewer ranks for each.
pub(super) fn form() -> Form {
    Form::Channel(Box::new(check))
}

fn check(load: &ChannelLoad<'_>, report: &mut Report<'_>) {
    let Some(processor) = load.processor().filter(|_| !load.is_empty()) else { return };
    let board = &load.machine().platform().description().rank_limits;
    // a limit that board and processor state in the same words is one limit
    for limit in board.iter().chain(processor.description().rank_limits.iter().filter(|limit| !board.contains(limit))) {
        hold(load, limit, &processor.description().counted_ranks, report);
    }
}

fn hold(load: &ChannelLoad<'_>, limit: &Stated<RankLimit>, lines: &[CountedRanks], report: &mut Report<'_>) {
    let platform = load.machine().platform();
    let live = || load.modules().filter(ModuleSite::is_live);
    let count = live().count();
    let (mut found, mut most, mut missing) = (0u32, 0u32, None);
    for site in live().filter(|site| !limit.value.exempt.contains(&site.module.kind())) {
        let (least, own_most) = match ranks(site.module, limit.value.counting, lines, count) {
            Ok(ranks) => (ranks, ranks),
            Err(fact) => {
                missing = missing.or(Some((fact, site.slot)));
                ranks_between(site.module, limit.value.counting, lines)
            }
        };
        (found, most) = (found.saturating_add(least), most.saturating_add(own_most));
    }
    if found > limit.value.at_most {
        report.stated(limit, || {
            Detail::at(Place::channel(platform, load.id()))
                .fact(FactName::Found, FactValue::Count(u64::from(found)))
                .fact(FactName::AtMost, FactValue::Count(u64::from(limit.value.at_most)))
                .fact(FactName::Counting, FactValue::text(&limit.value.counting.to_string()))
                .remedy(Remedy::RemoveModule)
        });
    } else if let Some((fact, slot)) = missing.filter(|_| most > limit.value.at_most) {
        report.unknown(fact, || vec![Place::slot(platform, slot)]);
    }
}

fn ranks(
    module: &MemoryModule,
    counting: RankCounting,
    lines: &[CountedRanks],
    modules_in_channel: usize,
) -> Result<u32, MissingFact> {
    let package = module.package_ranks().map(u32::from).ok_or(MissingFact::PackageRanks);
    match counting {
        RankCounting::Package => package,
        RankCounting::Stacked => package.and_then(|_| module.stacked_ranks().ok_or(MissingFact::Stack)),
        RankCounting::Counted => CountedRanks::of(lines, module, modules_in_channel),
    }
}

/// The fewest and the most ranks that a module can have of which a fact is missing: a module has 1 to 8 package ranks, and stacks
/// of its generation.
fn ranks_between(module: &MemoryModule, counting: RankCounting, lines: &[CountedRanks]) -> (u32, u32) {
    let (least, most) = module.package_ranks().map_or((1, 8), |ranks| (u32::from(ranks), u32::from(ranks)));
    match counting {
        RankCounting::Package => (least, most),
        RankCounting::Stacked => {
            let stacks = Stack::ALL.iter().filter(|stack| stack.is_of(module.generation())).map(|stack| stack.height());
            let heights =
                module.stack().map_or((1, stacks.max().unwrap_or(1)), |stack| (stack.height(), stack.height()));
            (least * heights.0, most * heights.1)
        }
        RankCounting::Counted => {
            let may_be = lines.iter().filter(|line| line.module.matches(module) != Ok(false)).map(|line| line.ranks);
            may_be.fold((least, most), |(least, most), ranks| (least.min(ranks), most.max(ranks)))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::Machine;
    use crate::module::ModuleKind;
    use crate::processor::{ModulePattern, ProcessorDescription};
    use crate::stated::Basis;
    use crate::testing::{self, in_every_channel, said};

    fn machine(change: impl Fn(&mut ProcessorDescription)) -> Machine {
        let mut processor = testing::processor();
        change(&mut processor);
        testing::machine(testing::board(), processor)
    }

    fn limit(counting: RankCounting, exempt: &[ModuleKind]) -> Stated<RankLimit> {
        Stated::new(RankLimit { counting, at_most: 8, exempt: exempt.to_vec() }, Basis::DataSheet)
    }

    #[test]
    fn three_quad_rank_modules() {
        let (machine, quad) = (testing::clean(), testing::quad());
        assert!(said(&machine, &in_every_channel(&machine, &[&quad, &quad])).is_empty());
        let three = in_every_channel(&machine, &[&quad, &quad, &quad]);
        assert_eq!(testing::codes(&machine, &three), ["channel-ranks"]);
        assert_eq!(
            testing::findings(&machine, &three)[0].to_string(),
            "error channel-ranks: the channel has more ranks than are allowed (channel A of processor 1; found 12; at \
             most 8; counted in counted ranks); take a module out [data sheet]"
        );
    }

    // 16 stacked ranks: legal where package ranks or counted ranks are limited
    #[test]
    fn what_a_limit_counts() {
        let stacked = testing::module("128GB 2S4Rx4 PC4-2400T-LE2-11");
        for (counting, legal) in
            [(RankCounting::Counted, true), (RankCounting::Package, true), (RankCounting::Stacked, false)]
        {
            let machine = machine(|processor| processor.rank_limits = vec![limit(counting, &[])]);
            let expected: &[&str] = if legal { &[] } else { &["error channel-ranks"] };
            assert_eq!(said(&machine, &in_every_channel(&machine, &[&stacked, &stacked])), expected, "{counting}");
        }
        let exempt = limit(RankCounting::Stacked, &[ModuleKind::LoadReduced]);
        let machine = machine(|processor| processor.rank_limits = vec![exempt.clone()]);
        assert!(said(&machine, &in_every_channel(&machine, &[&stacked, &stacked])).is_empty());
    }

    // the multiplication comes into force with the load, so that a further module may mend the rule
    #[test]
    fn counted_ranks_depend_on_the_load() {
        let reduced = testing::module("32GB 4Rx4 PC4-2400T-LE2-11");
        let counted = |modules_in_channel: u8, ranks: u32| CountedRanks {
            module: ModulePattern::kind(ModuleKind::LoadReduced),
            modules_in_channel: Some(modules_in_channel),
            ranks,
        };
        let machine = machine(|processor| {
            processor.counted_ranks = vec![counted(3, 2)];
            processor.rank_limits[0].value.at_most = 7;
        });
        for (modules, expected) in [(1, &[][..]), (2, &["error channel-ranks"]), (3, &[])] {
            assert_eq!(said(&machine, &in_every_channel(&machine, &vec![&reduced; modules])), expected, "{modules}");
        }
    }

    #[test]
    fn board_and_processor_in_the_same_words() {
        let mut board = testing::board();
        board.rank_limits = testing::processor().rank_limits;
        let quad = testing::quad();
        let findings = |board| {
            let machine = testing::machine(board, testing::processor());
            testing::findings(&machine, &in_every_channel(&machine, &[&quad, &quad, &quad])).len()
        };
        assert_eq!(findings(board.clone()), 8);
        board.rank_limits[0].basis = Basis::BoardManual;
        assert_eq!(findings(board), 16);
    }

    #[test]
    fn unknown_ranks_and_a_makers_list() {
        let (machine, vague, quad) = (testing::clean(), testing::vague(), testing::quad());
        assert_eq!(said(&machine, &in_every_channel(&machine, &[&vague, &vague])), ["warning channel-ranks unknown"]);
        // no module has more than eight
        assert_eq!(said(&machine, &in_every_channel(&machine, &[&vague])), [""; 0]);
        let mut processor = testing::processor();
        processor.rank_limits[0].basis = Basis::MakersList;
        let machine = testing::machine(testing::board(), processor);
        let three = in_every_channel(&machine, &[&quad, &quad, &quad]);
        assert_eq!(said(&machine, &three), ["warning channel-ranks"]);
    }

    // with one rank of the third module they are too many already
    #[test]
    fn broken_whatever_the_unknown_ranks() {
        let machine = machine(|processor| processor.rank_limits[0].value.at_most = 8);
        let (vague, quad) = (testing::vague(), testing::quad());
        let load = in_every_channel(&machine, &[&quad, &quad, &vague]);
        assert!(said(&machine, &load).contains(&"error channel-ranks".to_owned()));
    }
}
