use std::collections::BTreeMap;

use crate::assess::Planner;
use crate::fill::{ArrangeError, Arrangement, Illegal, Legal};
use crate::finding::{Finding, Severity};
use crate::machine::{Machine, MachineError};
use crate::module::MemoryModule;
use crate::platform::{Mode, Platform, Settings, WorkedRow};
use crate::population::{Occupant, Population};
use crate::rule::{RuleBook, STANDARD_RULES};
use crate::unit::Name;
use crate::worked::{Difference, NotJudged, WorkedOutcome, WorkedResult};

/// Holds every worked row of a platform against its description, in the rows' order.
///
/// The row's modules are arranged, under the standard rules, in the machine that the row describes.
/// Compared is what the row states and no more: the slots of equal modules (in any order), the running
/// rate, the installed and the usable capacity; or that no arrangement is legal and that a rule of the stated code gives
/// an error on the modules put in by turn, or, where a row that is refused names the slots, on the modules in just these. A row that states none of these says that its modules work.
#[must_use]
pub fn check(platform: &Platform) -> Vec<WorkedResult> {
    let rules = RuleBook::standard();
    platform.description().worked_rows.iter().map(|row| check_row(platform, row, &rules)).collect()
}

/// Holds one row against a platform.
pub(super) fn check_row(platform: &Platform, row: &WorkedRow, rules: &RuleBook) -> WorkedResult {
    WorkedResult { row: row.name.clone(), outcome: outcome(platform, row, rules) }
}

fn outcome(platform: &Platform, row: &WorkedRow, rules: &RuleBook) -> WorkedOutcome {
    let machine = match machine_of(platform, row) {
        Ok(machine) => machine,
        Err(error) => return WorkedOutcome::NotJudged(NotJudged::Machine(error)),
    };
    if let Some(stated) = &row.refused_by {
        if !STANDARD_RULES.iter().any(|rule| *stated == *rule.code) {
            let allowed = STANDARD_RULES.iter().map(|rule| rule.code).collect();
            return WorkedOutcome::NotJudged(NotJudged::UnknownRule { stated: stated.clone(), allowed });
        }
        if row.modules.iter().all(|modules| modules.slots.len() == usize::from(modules.count)) {
            return refused_in_place(row, stated, &Planner::new(&machine, rules));
        }
    }
    let pieces = row.modules.iter().map(|modules| (modules.module.clone(), usize::from(modules.count)));
    let differences = match Planner::new(&machine, rules).arrange_unexplained(pieces) {
        Err(error) => return WorkedOutcome::NotJudged(NotJudged::Request(error)),
        Ok(Arrangement::Stopped { schema: _, reason, best: _ }) => {
            return WorkedOutcome::NotJudged(NotJudged::Stopped(reason));
        }
        Ok(Arrangement::Best(legal)) => legal_differences(row, &legal),
        Ok(Arrangement::Illegal(illegal)) => illegal_difference(row, &illegal).into_iter().collect(),
    };
    if differences.is_empty() { WorkedOutcome::Holds } else { WorkedOutcome::Differs { differences } }
}

/// The machine that a row describes.
pub(super) fn machine_of(platform: &Platform, row: &WorkedRow) -> Result<Machine, MachineError> {
    let mode = row.mode.clone().unwrap_or_else(|| Name::lossy(Mode::INDEPENDENT));
    let settings = Settings { mode: Some(mode), ..Settings::default() };
    let mut machine = Machine::builder(platform.clone()).settings(settings);
    for (socket, processor) in &row.processors {
        machine = machine.processor_named(socket.as_str(), processor.as_str());
    }
    for option in &row.options {
        machine = machine.option(option.as_str());
    }
    machine.build()
}

fn legal_differences(row: &WorkedRow, legal: &Legal) -> Vec<Difference> {
    if let Some(stated) = &row.refused_by {
        return vec![Difference::NotRefused { stated: stated.clone() }];
    }
    let mut differences = slot_differences(row, legal);
    let rate = legal.running_rate();
    if let Some(stated) = row.rate_mts.filter(|&stated| Some(stated) != rate) {
        differences.push(Difference::Rate { stated, found: rate });
    }
    let capacity = legal.assessment.figures.installed.total_mib;
    if let Some(stated) = row.capacity_mib.filter(|&stated| stated != capacity) {
        differences.push(Difference::Capacity { stated, found: capacity });
    }
    let usable = legal.assessment.figures.usable.total_mib;
    if let Some(stated) = row.usable_mib.filter(|&stated| stated != usable) {
        differences.push(Difference::Usable { stated, found: usable });
    }
    differences
}

/// Equal modules are one group, however many entries of the row they stand in. A group of which an entry
/// states no slots is not compared.
fn slot_differences(row: &WorkedRow, legal: &Legal) -> Vec<Difference> {
    let mut groups: BTreeMap<&MemoryModule, Option<Vec<Name>>> = BTreeMap::new();
    for modules in row.modules.iter().filter(|modules| modules.count > 0) {
        let group = groups.entry(&modules.module).or_insert_with(|| Some(Vec::new()));
        match group {
            Some(slots) if !modules.slots.is_empty() => slots.extend(modules.slots.iter().cloned()),
            _ => *group = None,
        }
    }
    let mut differences = Vec::new();
    for (module, slots) in groups {
        let Some(mut stated) = slots else { continue };
        stated.sort();
        let holding = legal.population.modules().filter(|(_, fitted)| fitted.module == *module);
        let found: Vec<_> = holding.map(|(slot, _)| slot.clone()).collect();
        if stated != found {
            differences.push(Difference::Slots { module: module.clone(), stated, found });
        }
    }
    differences
}

/// Whether modules are refused just where the row puts them.
fn refused_in_place(row: &WorkedRow, stated: &Name, planner: &Planner<'_>) -> WorkedOutcome {
    let placed = row.modules.iter().flat_map(|modules| modules.slots.iter().map(move |slot| (slot, &modules.module)));
    let population: Population =
        placed.map(|(slot, module)| (slot.clone(), Occupant::module(module.clone()))).collect();
    let codes = match planner.assess(&population) {
        Ok(seen) => error_codes(&seen.findings),
        Err(error) => return WorkedOutcome::NotJudged(NotJudged::Request(ArrangeError::Population(error))),
    };
    let stated = stated.clone();
    let difference = match codes.is_empty() {
        _ if codes.contains(&stated) => return WorkedOutcome::Holds,
        true => Difference::NotRefused { stated },
        false => Difference::RefusedByOthers { stated, codes, left_over: 0 },
    };
    WorkedOutcome::Differs { differences: vec![difference] }
}

fn illegal_difference(row: &WorkedRow, illegal: &Illegal) -> Option<Difference> {
    let codes = error_codes(&illegal.findings);
    let left_over = illegal.left_over;
    match &row.refused_by {
        None => Some(Difference::Refused { codes, left_over }),
        Some(stated) if codes.contains(stated) => None,
        Some(stated) => Some(Difference::RefusedByOthers { stated: stated.clone(), codes, left_over }),
    }
}

/// The codes of the errors, sorted, each once.
fn error_codes(findings: &[Finding]) -> Vec<Name> {
    let errors = findings.iter().filter(|finding| finding.severity == Severity::Error);
    let mut codes: Vec<_> = errors.map(|finding| finding.code.clone()).collect();
    codes.sort();
    codes.dedup();
    codes
}

#[cfg(test)]
mod tests {
    use crate::platform::{PlatformDescription, Redundancy, WorkedModules};
    use crate::stated::Basis;
    use crate::testing::{board, module, name, plain, processor};
    use crate::unit::{Capacity, DataRate};

    use super::*;

    /// Eight plain modules in the clean machine, in the first slots.
    fn row() -> WorkedRow {
        let slots = ["1A1", "2A1", "1B1", "2B1", "1C1", "2C1", "1D1", "2D1"].map(name).to_vec();
        WorkedRow {
            name: name("eight"),
            processors: ["1", "2"].into_iter().map(|socket| (name(socket), name("proc"))).collect(),
            options: Vec::new(),
            mode: None,
            modules: vec![WorkedModules { module: plain(), count: 8, slots }],
            rate_mts: Some(DataRate::DDR4_2400),
            capacity_mib: Some(Capacity::from_gib(256)),
            usable_mib: None,
            refused_by: None,
            basis: Basis::BoardManual,
            source: None,
        }
    }

    fn described() -> PlatformDescription {
        PlatformDescription { processors: vec![processor().build().unwrap()], ..board() }
    }

    fn said(row: WorkedRow) -> String {
        let mut platform = described();
        platform.worked_rows = vec![row];
        let results = check(&platform.build().unwrap());
        assert_eq!(results.len(), 1);
        assert_eq!(results[0].holds(), results[0].to_string().ends_with(": holds"));
        results[0].to_string()
    }

    fn denser() -> MemoryModule {
        module("64GB 2Rx4 PC4-2933Y-RA2-12")
    }

    #[test]
    fn a_row_that_is_right_holds() {
        assert_eq!(said(row()), "eight: holds");
        let states_nothing = WorkedRow { rate_mts: None, capacity_mib: None, ..row() };
        assert_eq!(said(states_nothing), "eight: holds");
    }

    #[test]
    fn a_row_that_is_wrong_differs_in_everything_that_is_wrong() {
        let mut wrong = row();
        wrong.modules[0].slots[7] = name("2D2");
        wrong.rate_mts = Some(DataRate::DDR4_2133);
        wrong.capacity_mib = Some(Capacity::from_gib(512));
        assert_eq!(
            said(wrong),
            "eight: the row puts 32GB 2Rx4 DDR4-2400 registered in 1A1 1B1 1C1 1D1 2A1 2B1 2C1 2D2, the description in \
             1A1 1B1 1C1 1D1 2A1 2B1 2C1 2D1; the row says 2133 MT/s, the description gives 2400 MT/s; the row says \
             512 GB, the description gives 256 GB"
        );
    }

    #[test]
    fn fewer_slots_than_modules_differ() {
        let mut short = row();
        short.modules[0].slots.pop();
        assert!(said(short).starts_with("eight: the row puts 32GB"));
    }

    #[test]
    fn equal_modules_of_two_entries_are_one_group() {
        let mut split = row();
        let mut rest = split.modules[0].clone();
        split.modules[0].count = 3;
        rest.count = 5;
        // which entry names which slot is no matter
        rest.slots = split.modules[0].slots.split_off(5);
        split.modules.push(rest);
        assert_eq!(said(split.clone()), "eight: holds");
        split.modules[1].slots.clear();
        assert_eq!(said(split), "eight: holds");
    }

    #[test]
    fn refusals() {
        let mut refused =
            WorkedRow { rate_mts: None, capacity_mib: None, refused_by: Some(name("die-density")), ..row() };
        assert_eq!(
            said(refused.clone()),
            "eight: the row says that die-density refuses the modules, the description takes them"
        );
        refused.modules[0].module = denser();
        assert_eq!(said(refused.clone()), "eight: holds");
        refused.refused_by = Some(name("kind-mix"));
        assert_eq!(
            said(refused.clone()),
            "eight: the row says that kind-mix refuses the modules, the description refuses them by die-density"
        );
        refused.refused_by = None;
        assert_eq!(
            said(refused),
            "eight: the row says that the modules work, the description refuses them by die-density"
        );
        let mut many = row();
        many.modules[0].count = 25;
        assert_eq!(
            said(many),
            "eight: the row says that the modules work, the description refuses them by a lack of slots for 1 of them"
        );
    }

    // The builder refuses names that the platform lacks; a row may still make no machine.
    #[test]
    fn a_row_without_processors_cannot_be_judged() {
        let bare = WorkedRow { processors: BTreeMap::new(), ..row() };
        assert_eq!(
            said(bare),
            "eight: cannot be judged: machine on clean: no socket holds a processor; at least one is needed"
        );
    }

    #[test]
    fn a_row_without_a_mode_is_in_the_independent_mode() {
        let mut platform = described();
        platform.modes = vec![Mode::new(name("paired"), Redundancy::None, Basis::BoardManual)];
        platform.default_settings.mode = Some(name("paired"));
        let platform = platform.build().unwrap();
        assert_eq!(machine_of(&platform, &row()).unwrap().mode(), "independent");
        let paired = WorkedRow { mode: Some(name("paired")), ..row() };
        assert_eq!(machine_of(&platform, &paired).unwrap().mode(), "paired");
    }

    #[test]
    fn rows_are_judged_in_their_order() {
        let mut platform = described();
        platform.worked_rows = vec![row(), WorkedRow { name: name("again"), rate_mts: None, ..row() }];
        let names: Vec<_> = check(&platform.build().unwrap()).into_iter().map(|result| result.row).collect();
        assert_eq!(names, [name("eight"), name("again")]);
    }
}
