use core::cmp::Ordering;

use itertools::Itertools;

use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::platform::{FillPriority, ModuleLimit};
use crate::population::{ChannelLoad, ModuleSite};
use crate::processor::MissingFact;
use crate::rule::{Detail, Form, Report};
use crate::stated::{Demand, Stated};

/// Along a channel, from the far end, a module of higher priority comes first: the one with more ranks,
/// or the larger one, as the board says. No matter unless the board asks for it, for all modules or for those of a
/// sort: quad-rank ones, say.
pub(super) fn form() -> Form {
    Form::Channel(Box::new(check))
}

fn check(load: &ChannelLoad<'_>, report: &mut Report<'_>) {
    let platform = load.machine().platform();
    // where positions are not known, a note says so
    if load.contents().any(|(slot, _)| platform.slot(slot).position().is_none()) {
        return;
    }
    for limit in platform.description().module_limits.iter().filter(|limit| limit.value.first_in_channel) {
        hold_first(load, limit, report);
    }
    if let Some(demand) = &platform.description().priority_along_channel {
        hold_priority(load, demand, report);
    }
}

/// Modules of the sort sit before all others.
fn hold_first(load: &ChannelLoad<'_>, limit: &Stated<ModuleLimit>, report: &mut Report<'_>) {
    let pattern = &limit.value.module;
    let places = |front: ModuleSite<'_>, back: ModuleSite<'_>| {
        [front, back].map(|site| Place::slot(load.machine().platform(), site.slot))
    };
    let mut missing = None;
    for (front, back) in load.modules().filter(ModuleSite::is_live).tuple_combinations() {
        match (pattern.matches(front.module), pattern.matches(back.module)) {
            (Ok(false), Ok(true)) => {
                return report.stated(limit, || {
                    let asked = format!("{pattern} first");
                    out_of_order(front, back, places(front, back), &asked)
                });
            }
            (Ok(true), _) | (_, Ok(false)) => {}
            (Err(_), Err(_)) if front.module.is_like(back.module) => {}
            (Err(fact), _) | (_, Err(fact)) => missing = missing.or(Some((fact, front, back))),
        }
    }
    if let Some((fact, front, back)) = missing {
        report.unknown(fact, || places(front, back).into());
    }
}

fn out_of_order(front: ModuleSite<'_>, back: ModuleSite<'_>, places: [Place; 2], asked_by: &str) -> Detail {
    Detail::at_all(places)
        .fact(FactName::Found, FactValue::text(&front.module.to_string()))
        .fact(FactName::With, FactValue::text(&back.module.to_string()))
        .fact(FactName::AskedBy, FactValue::text(asked_by))
        .remedy(Remedy::MoveModule)
}

fn hold_priority(load: &ChannelLoad<'_>, demand: &Stated<Demand>, report: &mut Report<'_>) {
    let platform = load.machine().platform();
    let priority = platform.description().fill_priority;
    let mut missing: Option<(MissingFact, [Place; 2])> = None;
    // all pairs, not only neighbours, for a module of unknown ranks may stand between
    for (front, back) in load.modules().filter(ModuleSite::is_live).tuple_combinations() {
        let places = || [front, back].map(|site| Place::slot(platform, site.slot));
        if let Some(fact) = priority.missing(front.module, back.module) {
            missing = missing.or_else(|| Some((fact, places())));
        } else if priority.compare(front.module, back.module) == Ordering::Greater {
            return report.demand(demand, || {
                let asked = match priority {
                    FillPriority::RanksFirst => "ranks first",
                    FillPriority::CapacityFirst => "capacity first",
                };
                out_of_order(front, back, places(), asked)
            });
        }
    }
    if let Some((fact, places)) = missing {
        report.unknown(fact, || places.into());
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::Machine;
    use crate::module::ModuleKind;
    use crate::processor::ModulePattern;
    use crate::stated::{Basis, Demand, Stated};
    use crate::testing::{self, in_every_channel, said};

    fn machine(priority: FillPriority, demand: Option<Demand>) -> Machine {
        let (mut board, mut processor) = (testing::board(), testing::processor());
        board.fill_priority = priority;
        board.priority_along_channel = demand.map(|demand| Stated::new(demand, Basis::BoardManual));
        processor.rank_limits.clear();
        testing::machine(board, processor)
    }

    #[test]
    fn ranks_first() {
        let machine = machine(FillPriority::RanksFirst, Some(Demand::Required));
        let (quad, plain) = (testing::quad(), testing::plain());
        for clean in [[&quad, &plain].as_slice(), &[&plain, &plain], &[&quad, &quad, &plain]] {
            assert!(said(&machine, &in_every_channel(&machine, clean)).is_empty());
        }
        for wrong in [[&plain, &quad].as_slice(), &[&quad, &plain, &quad]] {
            assert_eq!(testing::codes(&machine, &in_every_channel(&machine, wrong)), ["priority-order"]);
        }
        assert_eq!(
            testing::findings(&machine, &in_every_channel(&machine, &[&plain, &quad]))[0].to_string(),
            "error priority-order: a module sits nearer to the processor than one that it should be behind (slots 1A1, \
             1A2; found 32GB 2Rx4 DDR4-2400 registered; with 32GB 4Rx4 DDR4-2400 registered; asked by ranks first); \
             move the module [board manual]"
        );
    }

    #[test]
    fn capacity_first() {
        let machine = machine(FillPriority::CapacityFirst, Some(Demand::Required));
        let (small, single) =
            (testing::module("16GB 2Rx8 PC4-2400T-RE2-11"), testing::module("32GB 1Rx4 PC4-2400T-RC2-11"));
        let has = |modules: &[&_]| {
            said(&machine, &in_every_channel(&machine, modules)).contains(&"error priority-order".to_owned())
        };
        assert!(!has(&[&single, &small]));
        assert!(has(&[&small, &single]));
    }

    fn quad_first(basis: Basis) -> Machine {
        let (mut board, mut processor) = (testing::board(), testing::processor());
        let module = ModulePattern::kind(ModuleKind::Registered).ranks(4);
        let limit =
            ModuleLimit { module, at_most_per_channel: None, barred_positions: Vec::new(), first_in_channel: true };
        board.module_limits = vec![Stated::new(limit, basis)];
        processor.rank_limits.clear();
        testing::machine(board, processor)
    }

    #[test]
    fn a_sort_of_module_before_all_others() {
        let (machine, tried) = (quad_first(Basis::BoardManual), quad_first(Basis::MakersList));
        let (quad, plain, vague) = (testing::quad(), testing::plain(), testing::vague());
        let single = testing::module("16GB 1Rx4 PC4-2400T-RC1-11");
        for clean in [[&quad, &plain].as_slice(), &[&quad, &quad, &single], &[&single, &plain], &[&vague, &vague]] {
            assert_eq!(said(&machine, &in_every_channel(&machine, clean)), [""; 0]);
        }
        for wrong in [[&plain, &quad].as_slice(), &[&quad, &plain, &quad], &[&plain, &vague, &quad]] {
            assert_eq!(said(&machine, &in_every_channel(&machine, wrong)), ["error priority-order"]);
        }
        assert_eq!(said(&tried, &in_every_channel(&tried, &[&plain, &quad])), ["warning priority-order"]);
        let text = testing::findings(&machine, &in_every_channel(&machine, &[&plain, &quad]))[0].to_string();
        assert!(text.contains("; asked by registered 4-rank modules first); move the module [board manual]"), "{text}");
        // the one behind may be of four ranks; the one before may not be
        for open in [[&plain, &vague], [&vague, &quad]] {
            assert_eq!(said(&machine, &in_every_channel(&machine, &open)), ["warning priority-order unknown"]);
        }
        assert_eq!(said(&machine, &in_every_channel(&machine, &[&vague, &plain])), [""; 0]);
    }

    #[test]
    fn advised_or_no_matter() {
        let (quad, plain) = (testing::quad(), testing::plain());
        let advised = machine(FillPriority::RanksFirst, Some(Demand::Advised));
        assert_eq!(said(&advised, &in_every_channel(&advised, &[&plain, &quad])), ["warning priority-order"]);
        let free = machine(FillPriority::RanksFirst, None);
        assert!(said(&free, &in_every_channel(&free, &[&plain, &quad])).is_empty());
    }

    #[test]
    fn unknown_ranks() {
        let machine = machine(FillPriority::RanksFirst, Some(Demand::Required));
        let (quad, plain, vague) = (testing::quad(), testing::plain(), testing::vague());
        for open in [[&plain, &vague], [&vague, &plain]] {
            assert_eq!(said(&machine, &in_every_channel(&machine, &open)), ["warning priority-order unknown"]);
        }
        // broken whatever the one between
        assert_eq!(said(&machine, &in_every_channel(&machine, &[&plain, &vague, &quad])), ["error priority-order"]);
        // equal facts are no question
        assert!(said(&machine, &in_every_channel(&machine, &[&vague, &vague])).is_empty());
    }
}
