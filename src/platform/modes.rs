//! Redundancy modes and interleave domains: how channels can be made to work together.

use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::module::{DeviceWidth, Ecc};
use crate::processor::ModulePattern;
use crate::stated::{Basis, Source};
use crate::unit::{DataRate, Name};

/// Channels of one processor that belong together.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ChannelGroup {
    /// The label of the processor's socket.
    pub socket: Name,
    /// The labels of the channels.
    pub channels: Vec<Name>,
}

impl ChannelGroup {
    /// Channels of a socket.
    #[must_use]
    pub fn new(socket: Name, channels: impl IntoIterator<Item = Name>) -> Self {
        Self { socket, channels: channels.into_iter().collect() }
    }
}

/// A redundancy mode. Every platform has the independent mode without listing it.
///
/// ```
/// use slotwright::platform::{Mode, Redundancy};
/// use slotwright::stated::Basis;
///
/// let sparing = Mode::new("one spare rank".parse()?, Redundancy::RankSparing { spare_ranks: 1 }, Basis::BoardManual);
/// assert_eq!(sparing.channels_in_step(), 1);
/// # Ok::<(), slotwright::unit::NameError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Mode {
    /// What it is called.
    pub name: Name,
    /// What it does with the memory.
    pub redundancy: Redundancy,
    /// The channels that work as one, all groups of one size; none where every channel works by itself. Where
    /// there are groups, slots of channels outside them cannot be used.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub groups: Vec<ChannelGroup>,
    /// Further slots that cannot be used in it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub masks: Vec<Name>,
    /// What must be the same, slot by slot, in the channels of a group.
    #[serde(default)]
    pub identical: Identical,
    /// The fewest modules of a channel that holds any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub modules_at_least: Option<u8>,
    /// What a channel that holds modules holds of a sort at least, one of these; nothing in particular where there are none: two
    /// modules of one or two ranks, or one of four.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub any_of: Vec<ChannelMinimum>,
    /// The fewest counted ranks of a channel that holds modules; rank sparing asks for one more than it spares
    /// without saying so here.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub counted_ranks_at_least: Option<u32>,
    /// The device widths that its correction covers; any where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub widths: Option<BTreeSet<DeviceWidth>>,
    /// The check bits that its correction needs; any where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ecc: Option<BTreeSet<Ecc>>,
    /// The names of the processors that offer it; any where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub processors: Option<BTreeSet<Name>>,
    /// The highest rate in it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_cap_mts: Option<DataRate>,
    /// What all of this rests on.
    pub basis: Basis,
    /// The text that it was copied from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

impl Mode {
    setters! {
        each groups(groups: ChannelGroup);
        each masks(masks: Name);
        value identical(identical: Identical);
        some modules_at_least(modules_at_least: u8);
        each any_of(any_of: ChannelMinimum);
        some counted_ranks_at_least(counted_ranks_at_least: u32);
        any_of widths(widths: DeviceWidth);
        any_of ecc(ecc: Ecc);
        any_of processors(processors: Name);
        some rate_cap(rate_cap_mts: DataRate);
        some source(source: Source);
    }
}

/// So many modules of a sort in one channel.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ChannelMinimum {
    /// The sort.
    pub module: ModulePattern,
    /// The fewest of it, 1 at least.
    pub modules_at_least: u8,
}

impl ChannelMinimum {
    /// So many of these modules.
    #[must_use]
    pub fn new(module: ModulePattern, modules_at_least: u8) -> Self {
        Self { module, modules_at_least }
    }
}

/// What a mode does with the memory, and so how much of it can be used.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Redundancy {
    /// Nothing: all of it is usable.
    #[default]
    None,
    /// The channels of a group move every word together (lockstep): all of it is usable.
    Paired,
    /// The channels of a group, two or more, hold the same: half of it is usable.
    Mirrored,
    /// A part of the memory mirrors another part of the same size: all but the mirror is usable. Where there are groups,
    /// that part of what a group holds has a partner in another channel of it; the rest needs none.
    PartlyMirrored {
        /// The mirror's size, in thousandths of the memory; 500 at most.
        mirrored_per_mille: u16,
    },
    /// The largest counted ranks of each channel stand by: all but these is usable.
    RankSparing {
        /// How many stand by in each channel.
        spare_ranks: u32,
    },
    /// Whole devices can fail: all of it is usable.
    DeviceCorrection,
    /// A maker's own way.
    Own {
        /// What is usable, in thousandths of the memory; 1000 at most. Rounded down to whole MiB.
        usable_per_mille: u16,
    },
}

/// What must be the same in the channels of a group.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Identical {
    /// Nothing.
    #[default]
    Nothing,
    /// The capacity of the module in each slot.
    Capacity,
    /// Its capacity, package ranks, stack and device width.
    Organization,
    /// All its facts but part number, maker and power.
    Facts,
    /// All its facts but power: modules of one part.
    Part,
}

impl Mode {
    /// The name of the mode in which every channel works by itself and all memory is usable.
    pub const INDEPENDENT: &'static str = "independent";

    /// A mode that asks for nothing.
    #[must_use]
    pub const fn new(name: Name, redundancy: Redundancy, basis: Basis) -> Self {
        Self {
            name,
            redundancy,
            groups: Vec::new(),
            masks: Vec::new(),
            identical: Identical::Nothing,
            modules_at_least: None,
            any_of: Vec::new(),
            counted_ranks_at_least: None,
            widths: None,
            ecc: None,
            processors: None,
            rate_cap_mts: None,
            basis,
            source: None,
        }
    }

    /// How many channels work as one.
    #[must_use]
    pub fn channels_in_step(&self) -> usize {
        self.groups.first().map_or(1, |group| group.channels.len().max(1))
    }

    /// How many ranks stand by in each channel.
    #[must_use]
    pub const fn spare_ranks(&self) -> u32 {
        match self.redundancy {
            Redundancy::RankSparing { spare_ranks } => spare_ranks,
            _ => 0,
        }
    }

    /// The fewest counted ranks of a channel that holds modules.
    #[must_use]
    pub fn least_counted_ranks(&self) -> u32 {
        let sparing = if self.spare_ranks() > 0 { self.spare_ranks().saturating_add(1) } else { 0 };
        self.counted_ranks_at_least.unwrap_or(0).max(sparing)
    }
}

/// A way to divide a machine's memory into domains, each interleaved by itself. Every platform has the
/// scheme of one domain for each processor without listing it.
///
/// ```
/// use slotwright::platform::{DomainScheme, Domains};
/// use slotwright::stated::Basis;
/// use slotwright::Name;
///
/// let together = DomainScheme::new(Name::new("all together")?, Domains::AllProcessors, Basis::BoardManual).counts(vec![8, 16]);
/// assert!(together.holds_at(16) && !together.holds_at(12));
/// # Ok::<(), slotwright::unit::NameError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct DomainScheme {
    /// What it is called.
    pub name: Name,
    /// Its domains.
    pub domains: Domains,
    /// The numbers of modules of a processor, in its live slots, at which the scheme holds, in ascending order; any where
    /// absent. At another number firmware falls back: for that processor by itself, or for all where they have one domain.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub counts: Option<Vec<u16>>,
    /// The scheme that firmware takes instead where the population does not allow this one; the one of one domain
    /// for each processor where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub falls_back_to: Option<Name>,
    /// What it rests on.
    pub basis: Basis,
    /// The text that it was copied from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

impl DomainScheme {
    /// A scheme that holds whatever is fitted.
    #[must_use]
    pub fn new(name: Name, domains: Domains, basis: Basis) -> Self {
        Self { name, domains, counts: None, falls_back_to: None, basis, source: None }
    }

    setters! {
        some counts(counts: Vec<u16>);
        some falls_back_to(falls_back_to: Name);
        some source(source: Source);
    }
}

/// The domains of a scheme.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Domains {
    /// One for each processor.
    OnePerProcessor,
    /// One for all processors together. Firmware falls back unless every processor holds the same capacity in
    /// its first channel, in its second, and so on.
    AllProcessors,
    /// Groups of channels (halves, quarters); together they must hold every channel that has slots.
    Groups {
        /// The groups.
        groups: Vec<ChannelGroup>,
        /// Whether firmware falls back, for a processor by itself, unless each of its groups has memory.
        needs_memory_in_each: bool,
    },
}

impl DomainScheme {
    /// The name of the scheme of one domain for each processor.
    pub const ONE_PER_PROCESSOR: &'static str = "one-per-processor";

    /// Whether it holds for a processor with so many modules.
    #[must_use]
    pub fn holds_at(&self, modules: usize) -> bool {
        Self::counts_hold(self.counts.as_deref(), modules)
    }

    pub(crate) fn counts_hold(counts: Option<&[u16]>, modules: usize) -> bool {
        counts.is_none_or(|counts| counts.iter().any(|&count| usize::from(count) == modules))
    }
}

#[cfg(test)]
mod tests {
    use crate::platform::{Domains, Redundancy};

    #[test]
    fn variants_refuse_unknown_fields() {
        let refused = |error: serde_json::Error| error.to_string().contains("unknown field `surplus`");
        assert!(serde_json::from_str::<Redundancy>(r#"{"rank_sparing":{"spare_ranks":1}}"#).is_ok());
        let redundancy = r#"{"rank_sparing":{"spare_ranks":1,"surplus":0}}"#;
        assert!(serde_json::from_str::<Redundancy>(redundancy).is_err_and(refused));
        let domains = r#"{"groups":{"groups":[],"needs_memory_in_each":true,"surplus":0}}"#;
        assert!(serde_json::from_str::<Domains>(domains).is_err_and(refused));
    }
}
