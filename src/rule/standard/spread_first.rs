use std::cell::OnceCell;

use itertools::Itertools;

use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::platform::SlotId;
use crate::population::{Content, Layout, SocketLoad, UnitLoad};
use crate::rule::{Cause, Detail, Form, Hint, LoadRules, Report, RuleBook};
use crate::stated::{Basis, Demand};

/// Every channel has its first module before any has a second, and so on: a module of a later round should not sit beside an
/// empty slot of an earlier one in another channel, if it could sit there without an error on either channel.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

pub(super) fn hints(_: &crate::machine::Machine) -> Vec<Hint> {
    vec![Hint::spread_first().on(Basis::Assumed, Demand::Advised)]
}

/// A move that would spread modules further: from where, to where.
struct Move<'l> {
    from: &'l [SlotId],
    to: &'l [SlotId],
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    let units: Vec<UnitLoad<'_>> = load.units().collect();
    let rules = OnceCell::new();
    let book = report.book();
    let moves = || moves(load, &units, (book, &rules));
    if moves().next().is_none() {
        return;
    }
    let grounds = (Basis::Assumed, None);
    report.uneven(units.first().map(UnitLoad::layout), &[load.id()], Cause::Slots, grounds, Demand::Advised, || {
        let platform = load.machine().platform();
        let label = |&slot: &SlotId| platform.slot(slot).label().clone();
        let by_label = |slots: &mut dyn Iterator<Item = SlotId>| slots.sorted_by_key(label).dedup().collect_vec();
        let from = by_label(&mut moves().flat_map(|found| found.from).copied());
        let empty = by_label(&mut moves().flat_map(|found| found.to).copied());
        let detail = Detail::at_all(from.iter().map(|&slot| Place::slot(platform, slot)))
            .fact(FactName::Found, FactValue::list(empty.iter().map(|slot| FactValue::EmptySlot(label(slot)))));
        let labels = |slots: &[SlotId]| slots.iter().map(label).collect();
        match moves().next() {
            Some(Move { from, to }) => detail.remedy(Remedy::Move { slots: labels(from), to: labels(to) }),
            None => detail,
        }
    });
}

/// The modules, or those that the mode joins, that could sit in an earlier round of another channel, each with where.
fn moves<'l, 'a: 'l>(
    load: &'l SocketLoad<'a>,
    units: &'l [UnitLoad<'a>],
    (book, rules): (&'l RuleBook, &'l OnceCell<LoadRules<'l>>),
) -> impl Iterator<Item = Move<'a>> + 'l {
    let pairs = units.iter().cartesian_product(units).filter(|(to, from)| to.unit() != from.unit());
    let in_question = pairs.filter_map(|(to, from)| Some((to, from, to.first_empty()?, from.last_filled()?)));
    in_question.flat_map(move |(to, from, empty, last)| {
        let rounds = (empty + 1..=last).rev().flat_map(move |round| (empty..round).map(move |into| (round, into)));
        let open = rounds.filter(move |&(round, into)| {
            !to.slots_of(into).is_empty()
                && to.modules_of(into).next().is_none()
                && from.modules_of(round).next().is_some()
        });
        let found = open.map(move |(round, into)| Move { from: from.slots_of(round), to: to.slots_of(into) });
        found.filter(move |found| {
            let rules = rules.get_or_init(|| LoadRules::of_errors(load.machine(), book));
            is_possible(from, to, found, rules)
        })
    })
}

/// Whether no rule on channels is broken once the modules have moved.
fn is_possible(from: &UnitLoad<'_>, to: &UnitLoad<'_>, found: &Move<'_>, rules: &LoadRules<'_>) -> bool {
    let mut moved: Layout<'_> = from.layout().clone();
    let mut targets = found.to.iter();
    for &slot in found.from {
        let content = moved.get(slot);
        if content.module().is_none() {
            continue;
        }
        let Some(&target) = targets.next() else { return false };
        moved.set(target, content);
        moved.set(slot, Content::Empty);
    }
    let changed = from.unit().channels.iter().chain(&to.unit().channels);
    changed.into_iter().all(|&channel| rules.allows(&crate::population::ChannelLoad::new(&moved, channel)))
}

#[cfg(test)]
mod tests {
    use crate::finding::{Finding, Remedy};
    use crate::machine::Machine;
    use crate::platform::{PlatformDescription, PlatformOption, PositionOrder};
    use crate::population::Population;
    use crate::stated::Stated;
    use crate::testing::{
        self, all_findings, board, clean, clean_population, mask, name, plain, population, processor, quad,
    };

    fn found(machine: &Machine, population: &Population) -> Vec<Finding> {
        all_findings(machine, population).into_iter().filter(|finding| finding.code == "spread-first").collect()
    }

    #[test]
    fn a_second_module_beside_an_empty_channel() {
        let (plain, machine) = (plain(), clean());
        let emptied =
            population(&[("1A1", &plain), ("1B1", &plain), ("1A2", &plain), ("1B2", &plain), ("2A1", &plain)]);
        let found_here = found(&machine, &emptied);
        assert_eq!(found_here.len(), 1);
        assert_eq!(
            found_here[0].to_string(),
            "warning spread-first: a second module sits in a channel while another is empty (slots 1A2, 1B2; \
             found no module in slot 1C1, no module in slot 1D1); move the module from 1A2 to 1C1 [assumed]"
        );
        let remedy = Remedy::Move { slots: vec![name("1A2")], to: vec![name("1C1")] };
        assert_eq!(found_here[0].remedy, Some(remedy));
        // second modules in some channels once all have a first, and a third before all have a second
        let full = clean_population(&machine).with(name("1A2"), plain.clone());
        assert!(found(&machine, &full).is_empty());
        assert_eq!(found(&machine, &full.with(name("1A3"), plain.clone())).len(), 1);
    }

    #[test]
    fn where_a_module_cannot_sit_another_may_stay() {
        let (plain, quad) = (plain(), quad());
        // a slot that an option takes away is none, and neither is one behind it
        let mut described = board();
        let option = mask(&described, "riser", 0);
        described.options = vec![PlatformOption { masks: ["1C1", "1D1"].map(name).to_vec(), ..option }];
        let machine = Machine::builder(described.build().unwrap())
            .processor("1", processor().build().unwrap())
            .option("riser")
            .build()
            .unwrap();
        let pairs = population(&[("1A1", &plain), ("1B1", &plain), ("1A2", &plain), ("1B2", &plain)]);
        // the slots behind are the first that are live, and of a later round
        assert!(found(&machine, &pairs).is_empty());
        let far = population(&[("1A1", &plain), ("1B1", &plain), ("1A2", &plain), ("1A3", &plain)]);
        assert_eq!(found(&machine, &far).len(), 1);
        // one that the channel has no ranks for
        let any = PlatformDescription { position_order: Some(Stated::assumed(PositionOrder::Any)), ..board() };
        let machine = testing::machine(any, processor());
        let heavy = population(&[("1A1", &plain), ("1B1", &plain), ("1C1", &plain), ("1D1", &quad), ("1D2", &quad)]);
        assert!(found(&machine, &heavy).is_empty());
    }
}
