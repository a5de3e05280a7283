//! Patterns against a channel's modules, one pattern for each module, in any order.

use itertools::Itertools;

use crate::module::MemoryModule;
use crate::processor::{MissingFact, ModulePattern};

/// Whether the modules are just those that the patterns describe.
///
/// # Errors
/// The fact of a module that is needed and not known.
pub(crate) fn matches(patterns: &[ModulePattern], modules: &[&MemoryModule]) -> Result<bool, MissingFact> {
    if pairs_off(patterns, modules, |pattern, module| pattern.matches(module) == Ok(true)) {
        return Ok(true);
    }
    if pairs_off(patterns, modules, |pattern, module| pattern.matches(module) != Ok(false)) {
        let missing = patterns.iter().cartesian_product(modules).find_map(|(p, m)| p.matches(m).err());
        return missing.map_or(Ok(false), Err);
    }
    Ok(false)
}

/// Whether the items of two short lists can be paired so that every pair fits.
pub(crate) fn pairs_off<A, B>(left: &[A], right: &[B], fits: impl Fn(&A, &B) -> bool + Copy) -> bool {
    fn assign<A, B>(left: &[A], right: &[B], used: u64, fits: impl Fn(&A, &B) -> bool + Copy) -> bool {
        let Some((first, rest)) = left.split_first() else { return true };
        right.iter().enumerate().take(64).any(|(index, item)| {
            let bit = 1u64 << index;
            used & bit == 0 && fits(first, item) && assign(rest, right, used | bit, fits)
        })
    }
    left.len() == right.len() && assign(left, right, 0, fits)
}
