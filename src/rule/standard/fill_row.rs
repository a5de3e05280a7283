use std::collections::{BTreeMap, BTreeSet};

use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::{FillRow, FillSlot, SlotId, SocketId, TwoSizes};
use crate::population::Layout;
use crate::processor::MissingFact;
use crate::rule::{Detail, Form, Hint, Report};
use crate::stated::Basis;

/// The slots that the board's population table prints for this many modules. Rows for the same sockets and
/// number are alternatives: one of them is to be kept. For a number without a row nothing is said here. A row that says
/// which of two sizes belongs where is one for modules of just two sizes.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

pub(super) fn hints(machine: &Machine) -> Vec<Hint> {
    vec![Hint::rows(machine.platform().description().fill_rows.iter().cloned())]
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let machine = layout.machine();
    for (sockets, rows) in rows_by_sockets(machine) {
        let slots = sockets.iter().flat_map(|&socket| &machine.platform().socket(socket).slots).copied();
        let filled: BTreeSet<SlotId> =
            slots.filter(|&slot| machine.is_live(slot) && layout.get(slot).module().is_some()).collect();
        let sizes = TwoSizes::of(filled.iter().filter_map(|&slot| layout.get(slot).module()));
        let rows: Vec<_> = rows.into_iter().filter(|row| row.speaks_of(filled.len(), sizes)).collect();
        hold(layout, &sockets, (&filled, sizes), &rows, report);
    }
}

/// The rows that hold for the machine as it is set, by the sockets that their slots hang on; rows that need an
/// absent processor are left out. A row with a slot that an option takes away counts, but cannot be kept.
fn rows_by_sockets(machine: &Machine) -> BTreeMap<BTreeSet<SocketId>, Vec<&FillRow>> {
    let platform = machine.platform();
    let mut groups: BTreeMap<_, Vec<_>> = BTreeMap::new();
    let processors = machine.processors().count();
    for row in platform.description().fill_rows.iter().filter(|row| row.is_for(machine.mode(), processors)) {
        let slots: Vec<SlotId> = row.slots.iter().filter_map(|slot| platform.slot_named(slot.slot.as_str())).collect();
        let sockets: BTreeSet<_> = slots.iter().map(|&slot| platform.slot(slot).socket).collect();
        if sockets.iter().all(|&socket| machine.processor(socket).is_some()) {
            groups.entry(sockets).or_default().push(row);
        }
    }
    groups
}

fn hold(
    layout: &Layout<'_>,
    sockets: &BTreeSet<SocketId>,
    (filled, sizes): (&BTreeSet<SlotId>, Option<TwoSizes>),
    rows: &[&FillRow],
    report: &mut Report<'_>,
) {
    // the first of the strictest rows speaks for all of them
    let strict = |row: &&&FillRow| (row.basis == Basis::MakersList, row.demand);
    let Some(row) = rows.iter().min_by_key(strict) else { return };
    let kept: Vec<_> = rows.iter().map(|row| is_kept(layout, row, sizes)).collect();
    if kept.contains(&Ok(true)) {
        return;
    }
    let platform = layout.machine().platform();
    if let Some(fact) = kept.iter().find_map(|kept| kept.err()) {
        let places = || filled.iter().map(|&slot| Place::slot(platform, slot)).collect();
        return report.unknown_bound((row.basis, row.demand), fact, places);
    }
    report.grounded((row.basis, row.source.as_ref()), row.demand, || {
        let labels = filled.iter().map(|&slot| FactValue::Text(platform.slot(slot).label().clone()));
        let same_slots = row.slots.iter().all(|wanted| content(layout, wanted).is_some());
        let slots = row.slots.iter().map(|slot| slot.slot.clone()).collect();
        Detail::at_all(sockets.iter().map(|&socket| Place::socket(platform, socket)))
            .fact(FactName::Found, FactValue::list(labels))
            .fact(FactName::Expected, FactValue::list(row.slots.iter().map(expected)))
            .remedy(if same_slots { Remedy::MoveModule } else { Remedy::UseSlots { slots } })
    });
}

/// The module in a slot of a row, where the slot works.
fn content<'a>(layout: &Layout<'a>, slot: &FillSlot) -> Option<&'a MemoryModule> {
    let machine = layout.machine();
    let slot = machine.platform().slot_named(slot.slot.as_str()).filter(|&slot| machine.is_live(slot))?;
    layout.get(slot).module()
}

/// Whether all slots of a row that speaks of a layout hold what belongs there.
fn is_kept(layout: &Layout<'_>, row: &FillRow, sizes: Option<TwoSizes>) -> Result<bool, MissingFact> {
    let mut missing = None;
    for slot in &row.slots {
        let Some(module) = content(layout, slot) else { return Ok(false) };
        match slot.takes(module, sizes) {
            Ok(true) => {}
            Ok(false) => return Ok(false),
            Err(fact) => missing = missing.or(Some(fact)),
        }
    }
    missing.map_or(Ok(true), Err)
}

/// "A1", "A1: registered 2-rank modules", or "A1: modules of the larger size".
fn expected(slot: &FillSlot) -> FactValue {
    let FillSlot { slot, module, size } = slot;
    match (module, size) {
        (None, None) => FactValue::Text(slot.clone()),
        (Some(pattern), None) => FactValue::text(&format!("{slot}: {pattern}")),
        (None, Some(size)) => FactValue::text(&format!("{slot}: modules of the {size} size")),
        (Some(pattern), Some(size)) => FactValue::text(&format!("{slot}: {pattern}, of the {size} size")),
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::{Remedy, Severity, Verdict};
    use crate::machine::Machine;
    use crate::module::MemoryModule;
    use crate::platform::{FillRow, Mode, PlatformDescription, Redundancy};
    use crate::processor::ModulePattern;
    use crate::stated::{Basis, Demand};
    use crate::testing::{
        self, board, codes, findings, lacking, mask, module, name, plain, population, processor, verdicts,
    };

    fn row(slots: &[&str]) -> FillRow {
        FillRow::new(slots.iter().map(|slot| name(slot)), Demand::Required, Basis::BoardManual)
    }

    fn machine(fill_rows: Vec<FillRow>) -> Machine {
        let modes = vec![Mode::new(name("mirrored"), Redundancy::None, Basis::BoardManual)];
        testing::machine(PlatformDescription { fill_rows, modes, ..board() }, processor())
    }

    /// What is said of plain modules in these slots.
    fn found(rows: Vec<FillRow>, slots: &[&str]) -> Vec<(Severity, Verdict, String)> {
        let plain = plain();
        let fitted: Vec<_> = slots.iter().map(|&slot| (slot, &plain)).collect();
        verdicts(&machine(rows), &population(&fitted))
    }

    fn broken(severity: Severity) -> [(Severity, Verdict, String); 1] {
        [(severity, Verdict::Violated, "fill-row".to_owned())]
    }

    #[test]
    fn other_slots_than_the_row_says() {
        let table = || vec![row(&["1A1", "1C1"]), row(&["2A1", "2C1"]), row(&["1A1", "1B1", "1C1"])];
        assert_eq!(found(table(), &["1A1", "1C1", "2A1", "2C1"]), []);
        assert_eq!(found(table(), &["1A1", "1B1", "2A1", "2C1"]), broken(Severity::Error));
        // no row for one module
        assert_eq!(found(table(), &["1D1", "2D1"]), []);
        // the row is of another number of processors, or of another mode
        let slots = &["1A1", "2A1"];
        let of = |change: fn(FillRow) -> FillRow| found(vec![change(row(&["1B1"]))], slots);
        assert_eq!(of(|row| FillRow { processors: Some(1), ..row }), []);
        assert_eq!(of(|row| FillRow { processors: Some(2), ..row }), broken(Severity::Error));
        assert_eq!(of(|row| FillRow { mode: Some(name("mirrored")), ..row }), []);
        assert_eq!(of(|row| FillRow { demand: Demand::Advised, ..row }), broken(Severity::Warning));
        assert_eq!(of(|row| FillRow { basis: Basis::MakersList, ..row }), broken(Severity::Warning));
    }

    #[test]
    fn rows_for_one_number_are_alternatives() {
        let advised = FillRow { demand: Demand::Advised, ..row(&["1B1"]) };
        let table = || vec![advised.clone(), row(&["1C1"])];
        assert_eq!(found(table(), &["1B1", "2A1"]), []);
        assert_eq!(found(table(), &["1C1", "2A1"]), []);
        assert_eq!(found(table(), &["1A1", "2A1"]), broken(Severity::Error));
        let findings = findings(&machine(table()), &population(&[("1A1", &plain()), ("2A1", &plain())]));
        assert_eq!(findings[0].remedy, Some(Remedy::UseSlots { slots: vec![name("1C1")] }));
    }

    #[test]
    fn rows_for_the_whole_board() {
        let both = || vec![row(&["1A1", "1B1", "2A1", "2B1"])];
        assert_eq!(found(both(), &["1A1", "1B1", "2A1", "2B1"]), []);
        assert_eq!(found(both(), &["1A1", "1C1", "2A1", "2C1"]), broken(Severity::Error));
        assert_eq!(found(both(), &["1C1", "2C1"]), []);
    }

    #[test]
    fn a_row_with_a_slot_that_is_taken_away_cannot_be_kept() {
        let fill_rows = vec![row(&["1A1"]), row(&["1A1", "1A2"]), row(&["1A1", "1C1"])];
        let board = PlatformDescription { fill_rows, options: vec![mask(&board(), "riser", 1)], ..board() };
        let processor = processor().build().unwrap();
        let machine = Machine::builder(board.build().unwrap())
            .processor("1", processor.clone())
            .processor("2", processor)
            .option("riser")
            .build()
            .unwrap();
        let plain = plain();
        let found = |slots: &[&str]| {
            let fitted: Vec<_> = slots.iter().map(|&slot| (slot, &plain)).collect();
            codes(&machine, &population(&fitted))
        };
        assert_eq!(found(&["1A1", "2A1"]), [""; 0]);
        assert_eq!(found(&["1A1", "1C1", "2A1", "2C1"]), [""; 0]);
        assert_eq!(found(&["1A1", "1D1", "2A1", "2D1"]), ["fill-row"]);
        // a module in the slot that is taken away is no second one
        assert!(!found(&["1A1", "1A2", "2A1"]).contains(&"fill-row".to_owned()));
    }

    #[test]
    fn rows_for_an_absent_processor_are_passed_over() {
        let fill_rows = vec![row(&["1A1", "2A1"]), row(&["2A1", "2B1"])];
        let board = PlatformDescription { fill_rows, ..board() }.build().unwrap();
        let machine = Machine::builder(board).processor("1", processor().build().unwrap()).build().unwrap();
        let plain = plain();
        assert_eq!(codes(&machine, &population(&[("1C1", &plain), ("1D1", &plain)])), [""; 0]);
    }

    #[test]
    fn a_row_may_say_which_module_belongs_where() {
        let single = module("16GB 1Rx4 PC4-2400T-RC2-11");
        let bare = lacking(&single, &["package_ranks"]);
        let mut rows = vec![row(&["1A1", "1A2"]), row(&["2A1", "2A2"])];
        for row in &mut rows {
            let ranks = [2, 1]
                .map(|package_ranks| ModulePattern { package_ranks: Some(package_ranks), ..ModulePattern::default() });
            row.slots.iter_mut().zip(ranks).for_each(|(slot, pattern)| slot.module = Some(pattern));
        }
        let machine = machine(rows);
        let fitted = |far: &MemoryModule, near: &MemoryModule| {
            population(&[("1A1", far), ("1A2", near), ("2A1", far), ("2A2", near)])
        };
        assert_eq!(codes(&machine, &fitted(&plain(), &single)), [""; 0]);
        assert_eq!(verdicts(&machine, &fitted(&single, &plain())), broken(Severity::Error));
        assert_eq!(findings(&machine, &fitted(&single, &plain()))[0].remedy, Some(Remedy::MoveModule));
        let unknown = verdicts(&machine, &fitted(&plain(), &bare));
        assert!(unknown.contains(&(Severity::Warning, Verdict::Unknown, "fill-row".to_owned())), "{unknown:?}");
    }

    /// Whether what lies in the channels of the first processor, from A on, breaks the rows.
    fn breaks(machine: &Machine, modules: &[&MemoryModule]) -> bool {
        let slots = ["1A1", "1B1", "1C1", "1D1"];
        let fitted: Vec<_> = slots.into_iter().zip(modules.iter().copied()).collect();
        codes(machine, &population(&fitted)).contains(&"fill-row".to_owned())
    }

    fn of_two_sizes(larger: &[&str], smaller: &[&str]) -> FillRow {
        let names = |slots: &[&str]| slots.iter().map(|slot| name(slot)).collect::<Vec<_>>();
        FillRow::of_two_sizes(names(larger), names(smaller), Demand::Required, Basis::BoardManual)
    }

    #[test]
    fn a_row_may_say_where_the_larger_of_two_sizes_belong() {
        let (large, small, tiny) = (plain(), module("16GB 2Rx8 PC4-2400T-RE2-11"), module("8GB 1Rx8 PC4-2400T-RD1-11"));
        let [large, small, tiny] = [&large, &small, &tiny];
        let four = machine(vec![of_two_sizes(&["1A1", "1C1"], &["1B1", "1D1"])]);
        for (larger, smaller) in [(large, small), (large, tiny), (small, tiny)] {
            assert!(!breaks(&four, &[larger, smaller, larger, smaller]));
            assert!(breaks(&four, &[smaller, larger, smaller, larger]));
            assert!(breaks(&four, &[larger, larger, smaller, smaller]));
            assert!(breaks(&four, &[larger, smaller, smaller, smaller]));
        }
        // one size, three sizes and another number are none of the row's business
        assert!(!breaks(&four, &[large, large, large, large]));
        assert!(!breaks(&four, &[large, small, tiny, small]));
        assert!(!breaks(&four, &[small, large, small]));
        let population = population(&[("1A1", small), ("1B1", large), ("1C1", small), ("1D1", large)]);
        let findings = findings(&four, &population);
        let found = findings.iter().find(|finding| finding.code.as_str() == "fill-row").unwrap();
        assert_eq!(found.remedy, Some(Remedy::MoveModule));
        assert!(found.to_string().contains("1A1: modules of the larger size"), "{found}");
    }

    #[test]
    fn marks_go_with_patterns_unmarked_slots_and_other_rows() {
        let (large, small) = (plain(), module("16GB 2Rx8 PC4-2400T-RE2-11"));
        let single = module("16GB 1Rx4 PC4-2400T-RC2-11");
        let [large, small, single] = [&large, &small, &single];
        // slot 1B1 takes either
        let mut row = of_two_sizes(&["1A1"], &["1C1"]);
        row.slots.extend(self::row(&["1B1"]).slots);
        let three = machine(vec![row.clone()]);
        assert!(!breaks(&three, &[large, large, small]) && !breaks(&three, &[large, small, small]));
        assert!(breaks(&three, &[small, small, large]));
        // the smaller one must have one rank
        row.slots[1].module = Some(ModulePattern::default().ranks(1));
        let ranked = machine(vec![row.clone()]);
        assert!(!breaks(&ranked, &[large, large, single]) && breaks(&ranked, &[large, large, small]));
        let text = findings(&ranked, &population(&[("1A1", large), ("1B1", large), ("1C1", small)]));
        let text = text.iter().map(ToString::to_string).find(|text| text.contains("1C1:")).unwrap();
        assert!(text.contains("1-rank modules, of the smaller size"), "{text}");
        // a row without marks is an alternative, and for modules of one size the only row
        let either = machine(vec![row, self::row(&["1A1", "1B1", "1D1"])]);
        assert!(!breaks(&either, &[large, large, single]) && breaks(&either, &[large, large, large]));
        let fitted = population(&[("1A1", small), ("1B1", small), ("1D1", large)]);
        assert!(!codes(&either, &fitted).contains(&"fill-row".to_owned()));
    }

    #[test]
    fn a_row_marks_both_sizes_or_none() {
        for (larger, smaller, text) in [
            (&["1A1", "1B1"][..], &[][..], "fill_rows[0] marks slots as larger and none as smaller"),
            (&[], &["1A1"], "fill_rows[0] marks slots as smaller and none as larger"),
        ] {
            let fill_rows = vec![of_two_sizes(larger, smaller)];
            let error = PlatformDescription { fill_rows, ..board() }.build().unwrap_err();
            assert_eq!(error.problems.len(), 1);
            assert!(error.to_string().contains(text), "{error}");
        }
    }
}
