//! Arrangements against brute force: every placement of all the modules.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use itertools::Itertools;
use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::fill::{ArrangeRequest, Arrangement};
use slotwright::finding::{Severity, Verdict};
use slotwright::machine::Machine;
use slotwright::module::MemoryModule;
use slotwright::population::{Occupant, Population};
use slotwright::rule::RuleBook;
use slotwright::unit::{Bandwidth, DataRate, Name};

use crate::boards::{self, Source, bytes};
use crate::judge::{self, Channels, Spread};
use crate::purchase_oracle::as_it_works;

/// What to arrange.
#[derive(Debug, Clone, Default)]
pub struct Task {
    pub pieces: Vec<(MemoryModule, usize)>,
    pub around: Population,
    pub keep_empty: BTreeSet<Name>,
}

impl Task {
    pub fn request(&self) -> ArrangeRequest {
        let mut request = ArrangeRequest::new().around(self.around.clone());
        for (module, count) in &self.pieces {
            request = request.piece(module.clone(), *count);
        }
        self.keep_empty.iter().fold(request, |request, slot| request.keep_empty([slot.clone()]))
    }

    /// Every placement of all modules in live slots that are not taken.
    pub fn placements(&self, machine: &Machine) -> Vec<Population> {
        let free: Vec<_> = boards::live(machine)
            .into_iter()
            .filter(|slot| self.around.get(slot.as_str()).is_none() && !self.keep_empty.contains(slot))
            .collect();
        let mut counts: BTreeMap<&MemoryModule, usize> = BTreeMap::new();
        for (module, count) in &self.pieces {
            *counts.entry(module).or_default() += count;
        }
        let mut placements = Vec::new();
        place(&free, &mut counts.into_iter().collect::<Vec<_>>(), self.around.clone(), &mut placements);
        placements
    }
}

fn place(slots: &[Name], left: &mut [(&MemoryModule, usize)], so_far: Population, found: &mut Vec<Population>) {
    let modules: usize = left.iter().map(|(_, count)| count).sum();
    if modules > slots.len() {
        return;
    }
    let Some((slot, rest)) = slots.split_first() else {
        found.push(so_far);
        return;
    };
    for index in 0..left.len() {
        if left[index].1 > 0 {
            left[index].1 -= 1;
            place(rest, left, so_far.clone().with(slot.clone(), left[index].0.clone()), found);
            left[index].1 += 1;
        }
    }
    place(rest, left, so_far, found);
}

/// Outside printed rows, processors without memory, rate, balance, bandwidth, free slots: less is better.
type Key = (bool, usize, Reverse<Option<DataRate>>, Spread, Reverse<(Bandwidth, Bandwidth)>, Reverse<usize>);

/// The best legal placement, or for each placement the codes of its errors.
#[derive(Debug)]
pub enum Brute {
    #[allow(dead_code)] // the key is for messages
    Best {
        key: Key,
        population: Population,
        free: BTreeSet<Name>,
        /// The one with the fewest different parts in a channel, then in a processor, of those that work alike in every slot.
        shared_out: Population,
    },
    Illegal {
        codes: Vec<BTreeSet<Name>>,
    },
}

pub fn best(planner: &Planner<'_>, task: &Task) -> Brute {
    let machine = planner.machine();
    let by_turn = boards::live(machine);
    let mut channels = Channels::new(planner);
    let (mut best, mut codes): (Option<(Key, Population, BTreeSet<Name>)>, _) = (None, Vec::new());
    for population in task.placements(machine) {
        let assessment = planner.assess(&population).unwrap();
        if !judge::has_no_error(&assessment) {
            codes.push(assessment.from_severity(Severity::Error).map(|finding| finding.code.clone()).collect());
            continue;
        }
        let outside = assessment
            .findings
            .iter()
            .any(|finding| finding.code.as_str() == "fill-row" && finding.verdict == Verdict::Violated);
        let free = channels.free_slots(&population);
        let spread = judge::spread(machine, &assessment);
        let bandwidth = Reverse(judge::bandwidth(&assessment));
        let (bare, rate) = (judge::bare(&assessment), Reverse(judge::rate(&assessment)));
        let key = (outside, bare, rate, spread, bandwidth, Reverse(free.len()));
        let better = best.as_ref().is_none_or(|(known, other, _)| {
            key.cmp(known).then_with(|| judge::fill_order(machine, &by_turn, &population, other)).is_lt()
        });
        if better {
            best = Some((key, population, free));
        }
    }
    match best {
        Some((key, population, free)) => {
            let works = as_it_works(&population);
            let legal = |other: &Population| {
                as_it_works(other) == works && judge::has_no_error(&planner.assess(other).unwrap())
            };
            let alike = task.placements(machine).into_iter().filter(legal);
            let shared_out = alike.min_by_key(|other| parts(machine, other)).unwrap();
            Brute::Best { key, population, free, shared_out }
        }
        None => Brute::Illegal { codes },
    }
}

/// How many different parts sit in a channel, summed over channels, then in a processor; then channel by channel, each from
/// its first slot by turn.
fn parts(machine: &Machine, population: &Population) -> (usize, usize, Vec<MemoryModule>) {
    let platform = machine.platform();
    let place = |label: &Name| platform.slot(platform.slot_named(label.as_str()).unwrap());
    let of = |label: &Name| match population.get(label.as_str()) {
        Some(Occupant::Module(fitted)) => Some(fitted.module.clone()),
        _ => None,
    };
    let live = boards::live(machine);
    let filled: Vec<&Name> = live.iter().filter(|label| of(label).is_some()).collect();
    let in_channels = filled.iter().map(|label| (place(label).channel, of(label))).unique().count();
    let in_sockets = filled.iter().map(|label| (place(label).socket, of(label))).unique().count();
    let by_channel = filled.iter().copied().sorted_by_key(|label| (place(label).socket, place(label).channel));
    (in_channels, in_sockets, by_channel.filter_map(of).collect())
}

/// A small task on a machine.
pub fn task(source: &mut Source<'_>, machine: &Machine, with_fitted: bool) -> Task {
    let sorts = boards::sorts(source, machine.platform().generation(), 3);
    task_of(source, machine, &sorts, with_fitted)
}

/// A small task of some sorts of module.
fn task_of(source: &mut Source<'_>, machine: &Machine, sorts: &[MemoryModule], with_fitted: bool) -> Task {
    let slots = boards::live(machine);
    let mut task = Task::default();
    if with_fitted {
        task.around = boards::fitted(source, &slots, sorts, 4);
        if source.once_in(6) && !slots.is_empty() {
            let slot = source.pick(&slots);
            if task.around.get(slot.as_str()).is_none() {
                task.keep_empty.insert(slot);
            }
        }
    }
    let room = slots.len() - task.around.iter().count();
    let count = source.below(room + 1) + usize::from(source.once_in(16)) + usize::from(!with_fitted && room > 0);
    for _ in 0..count {
        task.pieces.push((source.pick(sorts), 1));
    }
    task
}

pub fn case(machine: &Machine, task: &Task) -> String {
    let Task { pieces, around, keep_empty } = task;
    let pieces: Vec<_> =
        pieces.iter().map(|(module, count)| format!("{count} x {}", serde_json::to_string(module).unwrap())).collect();
    let json = serde_json::to_string(machine).unwrap();
    format!(
        "machine {json}\npieces {}\naround {}\nkeep empty {keep_empty:?}",
        pieces.join("; "),
        serde_json::to_string(around).unwrap()
    )
}

pub fn compare(machine: &Machine, task: &Task) -> Result<(), TestCaseError> {
    compare_under(&RuleBook::standard(), machine, task)
}

pub fn compare_under(rules: &RuleBook, machine: &Machine, task: &Task) -> Result<(), TestCaseError> {
    let planner = Planner::new(machine, rules);
    let found = planner.arrange_with(&task.request()).unwrap();
    let wanted = best(&planner, task);
    match (&found, &wanted) {
        (Arrangement::Best(legal), Brute::Best { population, free, shared_out, .. }) => {
            let text = || format!("{found:?}\nbut brute force {wanted:?}\n{}", case(machine, task));
            // what a rule in force tells apart goes by turn in the order of its facts
            let is_best = [population, shared_out].contains(&&legal.population);
            prop_assert!(is_best, "population {}\n{}", shown(&legal.population), text());
            prop_assert_eq!(&legal.assessment, &planner.assess(&legal.population).unwrap());
            let listed: BTreeSet<_> = legal.free_slots.iter().cloned().collect();
            prop_assert!(listed == *free, "free slots {listed:?}, {free:?} wanted\n{}", case(machine, task));
        }
        (Arrangement::Illegal(illegal), Brute::Illegal { codes }) => {
            let without: BTreeSet<_> = illegal.legal_without.iter().cloned().collect();
            // the errors of some placement, and of none more than these without one of them
            let enough = |without: &BTreeSet<Name>| codes.iter().any(|codes| codes.is_subset(without));
            let helps = codes.is_empty() || enough(&without);
            let needed = without.iter().all(|code| {
                let fewer = without.iter().filter(|other| *other != code).cloned().collect();
                !enough(&fewer)
            });
            let text = || format!("without {without:?}, but the errors are {codes:?}\n{}", case(machine, task));
            prop_assert!(helps && needed, "legal {}", text());
        }
        _ => {
            let text = format!("{found:?}\nbut brute force {wanted:?}\n{}", case(machine, task));
            return Err(TestCaseError::fail(text));
        }
    }
    Ok(())
}

fn shown(population: &Population) -> String {
    population.iter().map(|(slot, occupant)| format!("{slot}: {occupant}")).collect::<Vec<_>>().join(", ")
}

proptest! {
    #![proptest_config(boards::config(700))]

    #[test]
    fn arrangements_are_what_brute_force_finds(bytes in bytes(120)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 6);
        let task = task(&mut source, &machine, false);
        compare(&machine, &task)?;
    }

    #[test]
    fn arrangements_around_fitted_modules_are_what_brute_force_finds(bytes in bytes(120)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 6);
        let task = task(&mut source, &machine, true);
        compare(&machine, &task)?;
    }
}

proptest! {
    #![proptest_config(boards::config(300))]

    #[test]
    fn arrangements_at_several_voltages_are_what_brute_force_finds(bytes in bytes(120)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine_by_voltage(&mut source, 6);
        let sorts = boards::sorts_by_voltage(&mut source);
        let with_fitted = source.once_in(3);
        let task = task_of(&mut source, &machine, &sorts, with_fitted);
        compare(&machine, &task)?;
    }
}

proptest! {
    #![proptest_config(boards::config(200))]

    #[test]
    fn arrangements_under_other_settings_are_what_brute_force_finds(bytes in bytes(130)) {
        let mut source = Source::new(&bytes);
        let settings = boards::settings(&mut source);
        let machine = boards::machine(&mut source, 6);
        let task = task(&mut source, &machine, true);
        let rules = RuleBook::standard().with_settings(&settings).unwrap();
        compare_under(&rules, &machine, &task)
            .map_err(|error| TestCaseError::fail(format!("{error}\nsettings {}", serde_json::to_string(&settings).unwrap())))?;
    }

    #[test]
    fn arrangements_on_larger_boards_are_what_brute_force_finds(bytes in bytes(120)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 8);
        let mut task = task(&mut source, &machine, false);
        // of one sort, so that there are few placements
        let sort = task.pieces.first().map(|(module, _)| module.clone());
        task.pieces.iter_mut().for_each(|piece| piece.0 = sort.clone().unwrap());
        compare(&machine, &task)?;
    }
}
