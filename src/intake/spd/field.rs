use crate::population::Remark;

/// A field that cannot be read, with what stands there.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Unreadable {
    at: usize,
    field: &'static str,
    problem: Problem,
}

#[derive(Debug, Clone, Copy)]
enum Problem {
    /// The standard has no such code.
    Unknown(u32),
    /// No standard rate has this clock period, in picoseconds.
    NoRate(u32),
    /// It cannot be right, or says nothing by itself.
    Unfit(u32, &'static str),
    /// It is not looked at.
    Unread(&'static str),
}

/// What a field holds. `Err(None)`: it says nothing, or is not in the image. `Err(Some(..))`: it cannot be read.
pub(crate) type Field<T> = Result<T, Option<Unreadable>>;

/// A code that the standard does not have.
pub(crate) fn unknown<T>(at: usize, field: &'static str, found: impl Into<u32>) -> Field<T> {
    Err(Some(Unreadable { at, field, problem: Problem::Unknown(found.into()) }))
}

/// A clock period that belongs to no standard rate.
pub(crate) fn no_rate<T>(at: usize, picoseconds: u32) -> Field<T> {
    Err(Some(Unreadable { at, field: "standard rate", problem: Problem::NoRate(picoseconds) }))
}

/// A value that cannot be right, or that says nothing by itself.
pub(crate) fn unfit<T>(at: usize, field: &'static str, found: impl Into<u32>, why: &'static str) -> Field<T> {
    Err(Some(Unreadable { at, field, problem: Problem::Unfit(found.into(), why) }))
}

/// What is not looked at.
pub(crate) fn unread<T>(at: usize, what: &'static str, why: &'static str) -> Field<T> {
    Err(Some(Unreadable { at, field: what, problem: Problem::Unread(why) }))
}

/// The bits from `high` down to `low` of a byte, as a number.
pub(crate) const fn bits(byte: u8, high: u8, low: u8) -> u8 {
    (byte << (7 - high)) >> (7 - high + low)
}

impl Unreadable {
    pub(crate) fn remark(self) -> Remark {
        let Self { at, field, problem } = self;
        let at = format!("byte {at}");
        match problem {
            Problem::Unknown(code) => Remark::unknown_code(&at, field, &format!("{code:#04x}")),
            Problem::NoRate(picoseconds) => {
                Remark::unknown_code(&at, field, &format!("a clock period of {picoseconds} ps"))
            }
            Problem::Unfit(code, why) => Remark::unbelievable(&at, field, &format!("{code:#04x}"), why),
            Problem::Unread(why) => Remark::unread(&at, field, why),
        }
    }
}
