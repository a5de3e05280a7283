//! Which of two lines of a table counts where both speak of one load.

use core::cmp::Ordering;

/// A line that names facts.
pub(crate) trait Specific {
    /// How many facts it names.
    fn facts(&self) -> usize;

    /// Whether it names the facts that another one names, with values that all lie within the other's.
    fn lies_within(&self, other: &Self) -> bool;
}

/// Whether a line counts before another: it names more facts, or lies within the other and the other not within it.
pub(crate) fn is_more_specific<T: Specific>(line: &T, other: &T) -> bool {
    match line.facts().cmp(&other.facts()) {
        Ordering::Greater => true,
        Ordering::Less => false,
        Ordering::Equal => line.lies_within(other) && !other.lies_within(line),
    }
}
