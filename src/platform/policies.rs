//! The choices in which makers' boards differ.

use core::cmp::{Ordering, Reverse};

use serde::{Deserialize, Serialize};

use crate::module::MemoryModule;
use crate::processor::{MissingFact, ModulePattern};
use crate::stated::Scope;
use crate::unit::DataRate;

/// In which order the positions of a channel are filled.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum PositionOrder {
    /// Position 0 first, then 1, and so on: no module behind an empty position.
    FarEndFirst,
    /// The positions in this order; positions that a channel lacks are passed over.
    Sequence(Vec<u8>),
    /// Any.
    Any,
}

impl PositionOrder {
    /// Smaller for a position that is filled earlier. Positions that a sequence leaves out come last, from the far end.
    pub(crate) fn rank(&self, position: u8) -> (usize, u8) {
        let index = match self {
            Self::Sequence(positions) => positions.iter().position(|&listed| listed == position).unwrap_or(usize::MAX),
            Self::FarEndFirst | Self::Any => 0,
        };
        (index, position)
    }
}

/// Which of two modules comes first in the fill order.
///
/// Ranks are stacked ranks: package ranks times the height of the stack.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum FillPriority {
    /// The one with more ranks, then the larger one.
    RanksFirst,
    /// The larger one, then the one with more ranks.
    CapacityFirst,
}

impl FillPriority {
    /// Compares two modules: less comes first. Ranks are package ranks times the height of the stack; a
    /// module of unknown ranks comes after those whose ranks are known.
    #[must_use]
    pub fn compare(self, a: &MemoryModule, b: &MemoryModule) -> Ordering {
        let ranks = |module: &MemoryModule| Reverse(module.stacked_ranks());
        let capacity = |module: &MemoryModule| Reverse(module.capacity());
        match self {
            Self::RanksFirst => ranks(a).cmp(&ranks(b)).then_with(|| capacity(a).cmp(&capacity(b))),
            Self::CapacityFirst => capacity(a).cmp(&capacity(b)).then_with(|| ranks(a).cmp(&ranks(b))),
        }
    }

    /// The fact for want of which the order of two modules is not settled.
    pub(crate) fn missing(self, first: &MemoryModule, second: &MemoryModule) -> Option<MissingFact> {
        let settled = first == second || (self == Self::CapacityFirst && first.capacity() != second.capacity());
        let unknown = [first, second].into_iter().find(|module| module.stacked_ranks().is_none() && !settled)?;
        Some(if unknown.package_ranks().is_none() { MissingFact::PackageRanks } else { MissingFact::Stack })
    }
}

/// What happens to the rate when grades are mixed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum UnlikeGrades {
    /// All run at the lowest.
    Lowest,
    /// All run at the lowest, but nobody has tried it: a warning.
    NotValidated,
    /// All run at this rate at most.
    LowerToMts(DataRate),
    /// Not allowed.
    Refused,
}

/// What happens when modules differ in the lowest voltage at which they may run.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum UnlikeVoltages {
    /// All run at a voltage that all support.
    Common,
    /// The same, but not advised: a warning.
    NotAdvised,
    /// Not allowed.
    Refused,
}

/// Over what the running rate is one rate.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum RatePolicy {
    /// The whole machine runs at one rate.
    #[default]
    PerMachine,
    /// Each processor's memory runs at its own rate.
    PerSocket,
}

/// A limit on modules of a sort.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ModuleLimit {
    /// The modules.
    pub module: ModulePattern,
    /// At most so many of them in one channel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_most_per_channel: Option<u8>,
    /// Positions where none of them may sit.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub barred_positions: Vec<u8>,
    /// Whether they must sit at the far end, before any other module of their channel.
    #[serde(default)]
    pub first_in_channel: bool,
}

impl ModuleLimit {
    /// A limit that says nothing yet.
    #[must_use]
    pub fn new(module: ModulePattern) -> Self {
        Self { module, at_most_per_channel: None, barred_positions: Vec::new(), first_in_channel: false }
    }

    setters! {
        some at_most_per_channel(at_most_per_channel: u8);
        each barred_positions(barred_positions: u8);
        value first_in_channel(first_in_channel: bool);
    }
}

/// A sort of module whose presence anywhere caps the load of every channel around it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SharedLoadCap {
    /// The modules.
    pub module: ModulePattern,
    /// Where one of them caps every channel.
    pub within: Scope,
    /// The most modules that each channel may then hold.
    pub modules_per_channel: u8,
}

impl SharedLoadCap {
    /// At most so many modules a channel in all channels, once one of them is there.
    #[must_use]
    pub fn new(module: ModulePattern, within: Scope, modules_per_channel: u8) -> Self {
        Self { module, within, modules_per_channel }
    }
}

/// Two sorts of module that never meet.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct PairBan {
    /// The one.
    pub first: ModulePattern,
    /// The other.
    pub second: ModulePattern,
    /// Where they never meet.
    pub within: Scope,
}

impl PairBan {
    /// These do not go together.
    #[must_use]
    pub fn new(first: ModulePattern, second: ModulePattern, within: Scope) -> Self {
        Self { first, second, within }
    }
}

/// A set of modules that never makes up a channel.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ChannelBan {
    /// One pattern for each module, in any order.
    pub modules: Vec<ModulePattern>,
}

impl ChannelBan {
    /// No channel holds these.
    #[must_use]
    pub fn new(modules: impl IntoIterator<Item = ModulePattern>) -> Self {
        Self { modules: modules.into_iter().collect() }
    }
}

/// All modules of a processor have one number of package ranks.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SameRankCount {
    /// Numbers of ranks that may meet all the same. Of more than two, each two must be listed.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub except: Vec<RankPair>,
}

impl SameRankCount {
    setters! {
        each except(except: RankPair);
    }
}

/// Two numbers of package ranks that may meet at a processor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RankPair {
    /// The one, 1 to 8.
    pub first: u8,
    /// The other, 1 to 8.
    pub second: u8,
    /// When they may meet.
    pub when: RanksMeet,
}

impl RankPair {
    /// Two numbers of ranks that may meet.
    #[must_use]
    pub fn new(first: u8, second: u8, when: RanksMeet) -> Self {
        Self { first, second, when }
    }
}

/// When two numbers of ranks may meet at a processor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum RanksMeet {
    /// Always.
    Always,
    /// Where every slot of the processor is filled.
    WhenFull,
}

impl SameRankCount {
    /// Whether two numbers of ranks may meet at a processor whose slots are all filled, or are not.
    #[must_use]
    pub fn may_meet(&self, one: u8, other: u8, is_full: bool) -> bool {
        let is_of = |pair: &RankPair| [(one, other), (other, one)].contains(&(pair.first, pair.second));
        let holds = |pair: &RankPair| pair.when == RanksMeet::Always || is_full;
        one == other || self.except.iter().any(|pair| is_of(pair) && holds(pair))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::testing::module;

    #[test]
    fn priority_of_modules() {
        let [single, dual, large] = [
            module("32GB 1Rx4 PC4-2400T-RC2-11"),
            module("16GB 2Rx8 PC4-2400T-RE2-11"),
            module("64GB 2Rx4 PC4-2400T-RB2-11"),
        ];
        let stacked = module("64GB 2S2Rx4 PC4-2400T-RB2-11");
        let unknown = MemoryModule::builder(single.generation(), single.kind(), single.capacity()).build().unwrap();
        let sorted = |priority: FillPriority| {
            let mut modules = vec![&unknown, &single, &dual, &large, &stacked];
            modules.sort_by(|a, b| priority.compare(a, b));
            modules.into_iter().cloned().collect::<Vec<_>>()
        };
        let [u, s, d, l, t] = [&unknown, &single, &dual, &large, &stacked].map(Clone::clone);
        assert_eq!(sorted(FillPriority::RanksFirst), [t.clone(), l.clone(), d.clone(), s.clone(), u.clone()]);
        assert_eq!(sorted(FillPriority::CapacityFirst), [t, l, s, u, d]);

        let missing = Some(MissingFact::PackageRanks);
        assert_eq!(FillPriority::RanksFirst.missing(&unknown, &dual), missing);
        assert_eq!(FillPriority::RanksFirst.missing(&unknown, &unknown), None);
        assert_eq!(FillPriority::CapacityFirst.missing(&dual, &unknown), None);
        assert_eq!(FillPriority::CapacityFirst.missing(&single, &unknown), missing);
    }
}
