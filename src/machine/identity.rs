//! Makers and part numbers that the tables of a machine name, or its mode compares.

use std::collections::BTreeSet;

use crate::machine::Machine;
use crate::platform::Identical;
use crate::processor::ModulePattern;
use crate::unit::Name;

impl Machine {
    /// The patterns of the board's and the processors' tables, limits and rows; not the list of modules, which one rule reads.
    fn patterns(&self) -> impl Iterator<Item = &ModulePattern> {
        let board = self.platform().description().patterns().map(|(_, pattern)| pattern);
        board.chain(
            self.processors().flat_map(|(_, processor)| processor.description().patterns()).map(|(_, pattern)| pattern),
        )
    }

    pub(super) fn find_whether_identity_is_named(&self) -> bool {
        self.patterns().any(ModulePattern::names_identity)
            || self.mode_description().is_some_and(|mode| mode.identical == Identical::Part)
    }

    /// Whether a table, limit or row names a grade, so that modules which differ in it alone may be allowed in unlike places.
    pub(super) fn find_whether_a_grade_is_named(&self) -> bool {
        self.patterns().any(|pattern| pattern.grade_mts.is_some())
    }

    /// A maker and a part number that no table names.
    pub(crate) fn unnamed(&self) -> (Name, Name) {
        let makers = self.patterns().filter_map(|pattern| pattern.maker.as_ref());
        let parts = self.patterns().filter_map(|pattern| pattern.part_number.as_ref());
        (unlike(&makers.collect()), unlike(&parts.collect()))
    }
}

/// A name that is none of these.
pub(super) fn unlike(names: &BTreeSet<&Name>) -> Name {
    let mut number = 1_usize;
    loop {
        let name = Name::lossy(&format!("not named {number}"));
        if !names.contains(&name) {
            return name;
        }
        number += 1;
    }
}
