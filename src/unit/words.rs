//! Names and counts as people write them.

use crate::unit::Name;

/// "A1, A2": nothing where there is none.
pub(crate) fn listed(names: &[Name]) -> String {
    names.iter().map(Name::as_str).collect::<Vec<_>>().join(", ")
}

/// "1 handling", "18 handlings".
pub(crate) fn counted(count: usize, what: &str) -> String {
    if count == 1 { format!("1 {what}") } else { format!("{count} {what}s") }
}
