use core::ops::Range;

use crate::module::label::CapacityUnit;
use crate::module::label::cursor::{Cursor, Run};
use crate::module::{DeviceWidth, Generation, LabelError, LabelField, ModuleError, Organization, Stack};
use crate::unit::Capacity;

/// The capacity as printed.
pub(crate) struct Size<'a> {
    unit_run: Run<'a>,
    /// The number and the unit together.
    text: &'a str,
    span: Range<usize>,
    pub(crate) unit: CapacityUnit,
    pub(crate) capacity: Capacity,
}

impl<'a> Size<'a> {
    pub(crate) fn read(cursor: &mut Cursor<'a>) -> Result<Self, LabelError> {
        const FIELD: LabelField = LabelField::Capacity;
        let digits = cursor.digits();
        let number =
            digits.number().ok_or_else(|| cursor.unexpected(digits, FIELD, "a whole number from 1 to 99999"))?;
        let unit_run = cursor.run(|byte| byte.is_ascii_alphabetic());
        let (unit, capacity) = match unit_run.text {
            "GB" => (CapacityUnit::Gb, Capacity::from_gib(number)),
            "MB" => (CapacityUnit::Mb, Capacity::from_mib(number.into())),
            _ => return Err(cursor.unexpected(unit_run, FIELD, "GB, or MB for DDR3")),
        };
        let (text, span) = cursor.since(digits.start);
        Ok(Self { text, span, unit_run, unit, capacity })
    }

    pub(crate) fn check(&self, generation: Generation) -> Result<(), LabelError> {
        if self.unit == CapacityUnit::Mb && generation != Generation::Ddr3 {
            return Err(self.unit_run.unexpected(LabelField::Capacity, "GB (MB is for DDR3 only)"));
        }
        Ok(())
    }

    /// The facts of the label make no module.
    pub(crate) fn impossible(&self, reason: ModuleError) -> LabelError {
        LabelError::Impossible { span: self.span.clone(), found: self.text.to_owned(), reason }
    }
}

/// Ranks, stack and width as printed; what may stand in the first two depends on the generation, which
/// comes later.
pub(crate) struct Layout<'a> {
    ranks: Run<'a>,
    stack: Run<'a>,
    width: DeviceWidth,
}

impl<'a> Layout<'a> {
    pub(crate) fn read(cursor: &mut Cursor<'a>) -> Result<Self, LabelError> {
        let ranks = cursor.digits();
        if ranks.text.is_empty() {
            return Err(cursor.next_unexpected(LabelField::Ranks, "the number of package ranks"));
        }
        let stack = cursor.run(|byte| matches!(byte, b'D' | b'Q' | b'S' | b'0'..=b'9'));
        let before_ranks = if stack.text.is_empty() { "R, D, Q or S" } else { "R" };
        cursor.expect(b'R', LabelField::Stack, before_ranks)?;
        cursor.expect(b'x', LabelField::Width, "x")?;
        let digits = cursor.digits();
        let width = match digits.text {
            "4" => DeviceWidth::X4,
            "8" => DeviceWidth::X8,
            "16" => DeviceWidth::X16,
            _ => return Err(cursor.unexpected(digits, LabelField::Width, "4, 8 or 16")),
        };
        Ok(Self { ranks, stack, width })
    }

    pub(crate) fn organization(&self, generation: Generation) -> Result<Organization, LabelError> {
        let ddr3 = generation == Generation::Ddr3;
        let package_ranks = match self.ranks.text {
            "1" => 1,
            "2" => 2,
            "3" if !ddr3 => 3,
            "4" => 4,
            "8" if ddr3 => 8,
            _ => {
                let allowed = if ddr3 { "1, 2, 4 or 8 ranks" } else { "1 to 4 package ranks" };
                return Err(self.ranks.unexpected(LabelField::Ranks, allowed));
            }
        };
        let stack = match (self.stack.text, generation) {
            ("", _) => Stack::Single,
            ("D", Generation::Ddr4) => Stack::DualDie,
            ("Q", Generation::Ddr4) => Stack::QuadDie,
            ("S2", Generation::Ddr4 | Generation::Ddr5) => Stack::Stacked2,
            ("S4", Generation::Ddr4 | Generation::Ddr5) => Stack::Stacked4,
            ("S8", Generation::Ddr4 | Generation::Ddr5) => Stack::Stacked8,
            ("S16", Generation::Ddr5) => Stack::Stacked16,
            _ => {
                let allowed = match generation {
                    Generation::Ddr3 => "nothing: DDR3 labels do not name stacks",
                    Generation::Ddr4 => "nothing, D, Q, S2, S4 or S8",
                    Generation::Ddr5 => {
                        "nothing, S2, S4, S8 or S16 (what a dual-die DDR5 package holds is not settled)"
                    }
                };
                return Err(self.stack.unexpected(LabelField::Stack, allowed));
            }
        };
        Ok(Organization { package_ranks, stack, width: self.width })
    }
}
