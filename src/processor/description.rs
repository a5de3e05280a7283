use std::collections::BTreeSet;
use std::sync::Arc;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::module::{DeviceWidth, Ecc, Generation, ModuleKind, Voltages};
use crate::processor::{
    CapacityCap, CountedRanks, InterleaveProblem, InterleaveSets, MixLimit, ModulePattern, PatternProblem, RankLimit,
    RateTable, RateTableProblem,
};
use crate::stated::{Basis, FieldPath, Located, Schema, Stated};
use crate::unit::{DataRate, Density, Name, NamePattern};

/// Everything that is said of a processor's memory controllers; also its document.
///
/// An absent limit is no limit.
///
/// ```
/// use slotwright::module::{Generation, ModuleKind};
/// use slotwright::processor::{RankCounting, RankLimit};
/// use slotwright::stated::{Basis, Stated};
/// use slotwright::{DataRate, Name, ProcessorDescription};
///
/// let kinds = [ModuleKind::Registered];
/// let ranks = Stated::new(RankLimit::new(RankCounting::Counted, 8), Basis::DataSheet);
/// let processor =
///     ProcessorDescription::new(Name::new("own")?, Generation::Ddr4, kinds, DataRate::DDR4_2400, Basis::DataSheet)
///         .rank_limits([ranks])
///         .build()?;
/// assert_eq!(processor.description().rank_limits.len(), 1);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ProcessorDescription {
    /// Schema number of the document.
    pub schema: Schema,
    /// What it is called.
    pub name: Name,
    /// The memory generation of its controllers.
    pub generation: Generation,
    /// How reports name it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub reported_as: Vec<NamePattern>,
    /// The module kinds that it takes.
    pub kinds: Stated<BTreeSet<ModuleKind>>,
    /// The highest rate of its controllers.
    pub max_rate_mts: Stated<DataRate>,
    /// The rates at which it can run; every standard rate of the generation where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rates_mts: Option<BTreeSet<DataRate>>,
    /// Its rates by load.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_table: Option<RateTable>,
    /// The supply voltages that it supports.
    pub voltages_mv: Stated<Voltages>,
    /// The die densities that it addresses.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub die_densities_mbit: Option<Stated<BTreeSet<Density>>>,
    /// The device widths that it takes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub widths: Option<Stated<BTreeSet<DeviceWidth>>>,
    /// The stack heights that it takes; 1 is a module that is not stacked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stack_heights: Option<Stated<BTreeSet<u32>>>,
    /// The check bits that it takes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ecc: Option<Stated<BTreeSet<Ecc>>>,
    /// Its limits on the ranks of a channel.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rank_limits: Vec<Stated<RankLimit>>,
    /// How it counts ranks.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub counted_ranks: Vec<CountedRanks>,
    /// The most memory that it takes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capacity_cap: Option<Stated<CapacityCap>>,
    /// Its limits on unlike modules.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub mix_limits: Vec<Stated<MixLimit>>,
    /// The sets of channels over which it can interleave; any where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub interleave: Option<Stated<InterleaveSets>>,
}

impl ProcessorDescription {
    setters! {
        each reported_as(reported_as: NamePattern);
        value kinds(kinds: Stated<BTreeSet<ModuleKind>>);
        value max_rate(max_rate_mts: Stated<DataRate>);
        value voltages(voltages_mv: Stated<Voltages>);
        any_of rates(rates_mts: DataRate);
        some rate_table(rate_table: RateTable);
        some die_densities(die_densities_mbit: Stated<BTreeSet<Density>>);
        some widths(widths: Stated<BTreeSet<DeviceWidth>>);
        some stack_heights(stack_heights: Stated<BTreeSet<u32>>);
        some ecc(ecc: Stated<BTreeSet<Ecc>>);
        each rank_limits(rank_limits: Stated<RankLimit>);
        each counted_ranks(counted_ranks: CountedRanks);
        some capacity_cap(capacity_cap: Stated<CapacityCap>);
        each mix_limits(mix_limits: Stated<MixLimit>);
        some interleave(interleave: Stated<InterleaveSets>);
    }
}

impl ProcessorDescription {
    /// A processor without any limit but kinds, highest rate and the generation's voltage.
    #[must_use]
    pub fn new(
        name: Name,
        generation: Generation,
        kinds: impl IntoIterator<Item = ModuleKind>,
        max_rate: DataRate,
        basis: Basis,
    ) -> Self {
        Self {
            schema: Schema,
            name,
            generation,
            reported_as: Vec::new(),
            kinds: Stated::new(kinds.into_iter().collect(), basis),
            max_rate_mts: Stated::new(max_rate, basis),
            rates_mts: None,
            rate_table: None,
            voltages_mv: Stated::new(Voltages::only(generation.voltage()), basis),
            die_densities_mbit: None,
            widths: None,
            stack_heights: None,
            ecc: None,
            rank_limits: Vec::new(),
            counted_ranks: Vec::new(),
            capacity_cap: None,
            mix_limits: Vec::new(),
            interleave: None,
        }
    }

    /// Checks the description.
    ///
    /// # Errors
    /// All problems at once: no kinds, no rate at or below the highest, ambiguous rate rows, patterns
    /// that no module can match, limits of nothing, interleave sets that name channels which are not listed.
    pub fn build(self) -> Result<Processor, ProcessorError> {
        let problems = self.problems();
        if problems.is_empty() {
            Ok(Processor::of_checked(self))
        } else {
            Err(ProcessorError { processor: self.name, problems })
        }
    }

    /// The patterns of modules of its tables, each with where it stands.
    pub(crate) fn patterns(&self) -> impl Iterator<Item = (FieldPath, &ModulePattern)> {
        let counted = self.counted_ranks.iter().enumerate();
        let counted =
            counted.map(|(index, line)| (FieldPath::of("counted_ranks").index(index).field("module"), &line.module));
        let of_table = self.rate_table.iter().flat_map(RateTable::patterns);
        let of_table = of_table.map(|(place, pattern)| (FieldPath::of("rate_table").join(&place), pattern));
        of_table.chain(counted)
    }

    fn problems(&self) -> Vec<ProcessorProblem> {
        let mut problems = Vec::new();
        for (place, pattern) in self.patterns() {
            let problem = |problem| ProcessorProblem::Pattern { place: place.clone(), problem };
            problems.extend(pattern.problems(self.generation).into_iter().map(problem));
        }
        if self.kinds.value.is_empty() {
            problems.push(ProcessorProblem::NoKinds);
        }
        let (highest, rates) = (self.max_rate_mts.value, self.rates_mts.as_ref());
        if rates.is_some_and(|rates| !rates.iter().any(|&rate| rate <= highest)) {
            problems.push(ProcessorProblem::NoRate { highest });
        }
        if let Some(table) = &self.rate_table {
            problems.extend(table.problems().into_iter().map(ProcessorProblem::RateTable));
        }
        let sets = [
            ("die_densities_mbit", self.die_densities_mbit.as_ref().is_some_and(|set| set.value.is_empty())),
            ("widths", self.widths.as_ref().is_some_and(|set| set.value.is_empty())),
            ("stack_heights", self.stack_heights.as_ref().is_some_and(|set| set.value.is_empty())),
            ("ecc", self.ecc.as_ref().is_some_and(|set| set.value.is_empty())),
        ];
        problems
            .extend(sets.into_iter().filter(|(_, empty)| *empty).map(|(list, _)| ProcessorProblem::EmptySet { list }));
        let of_none = self.mix_limits.iter().enumerate().filter(|(_, limit)| limit.value.at_most == 0);
        problems.extend(of_none.map(|(index, _)| ProcessorProblem::MixOfNone { index }));
        if let Some(sets) = &self.interleave {
            problems.extend(sets.value.problems().into_iter().map(ProcessorProblem::Interleave));
        }
        problems
    }
}

/// A checked [`ProcessorDescription`]; reads like one. Cheap to clone.
///
/// ```
/// use slotwright::{DataRate, reference};
///
/// let platform = reference::ddr4_2s_4ch_3spc();
/// let processor = &platform.description().processors[1];
/// assert_eq!(processor.name().as_str(), "later");
/// assert_eq!(processor.description().max_rate_mts.value, DataRate::DDR4_2400);
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(try_from = "ProcessorDescription", into = "ProcessorDescription")]
pub struct Processor(Arc<ProcessorDescription>);

impl Processor {
    /// What it is called.
    #[must_use]
    pub fn name(&self) -> &Name {
        &self.description().name
    }

    /// The memory generation that it takes.
    #[must_use]
    pub fn generation(&self) -> Generation {
        self.description().generation
    }

    /// What it was described as.
    #[must_use]
    pub fn description(&self) -> &ProcessorDescription {
        &self.0
    }

    /// Takes a description that is known to have no problems.
    pub(crate) fn of_checked(description: ProcessorDescription) -> Self {
        Self(Arc::new(description))
    }
}

impl TryFrom<ProcessorDescription> for Processor {
    type Error = ProcessorError;

    fn try_from(description: ProcessorDescription) -> Result<Self, ProcessorError> {
        description.build()
    }
}

impl From<Processor> for ProcessorDescription {
    fn from(processor: Processor) -> Self {
        Arc::unwrap_or_clone(processor.0)
    }
}

/// Why a description makes no processor: every problem found.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("processor {processor}: {}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
#[non_exhaustive]
pub struct ProcessorError {
    /// The processor's name.
    pub processor: Name,
    /// What is wrong; never empty.
    pub problems: Vec<ProcessorProblem>,
}

/// One problem of a processor's description.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum ProcessorProblem {
    /// It takes no kind of module.
    #[error("no module kind is listed; at least one is needed")]
    NoKinds,
    /// Every listed rate is above the highest one.
    #[error("no listed rate is at or below the highest rate of {highest}")]
    NoRate {
        /// The highest rate.
        highest: DataRate,
    },
    /// The rate table is unusable.
    #[error("rate_table: {0}")]
    RateTable(RateTableProblem),
    /// A pattern that no module can match.
    #[error("{place}: {problem}")]
    Pattern {
        /// Where it stands.
        place: FieldPath,
        /// Why none can.
        problem: PatternProblem,
    },
    /// A limit that nothing can meet.
    #[error("{list} is empty; leave it out where there is no limit")]
    EmptySet {
        /// The field.
        list: &'static str,
    },
    /// The list of interleave sets is unusable.
    #[error("interleave: {0}")]
    Interleave(InterleaveProblem),
    /// A limit of no values at all.
    #[error("mix_limits[{index}] allows no value at all; at least 1 is needed")]
    MixOfNone {
        /// Index in the list.
        index: usize,
    },
}

impl Located for ProcessorProblem {
    fn place(&self) -> FieldPath {
        match self {
            Self::NoKinds => FieldPath::of("kinds"),
            Self::NoRate { .. } => FieldPath::of("rates_mts"),
            Self::RateTable(problem) => FieldPath::of("rate_table").join(&problem.place()),
            Self::Pattern { place, .. } => place.clone(),
            Self::EmptySet { list } => FieldPath::of(list),
            Self::Interleave(problem) => FieldPath::of("interleave").join(&problem.place()),
            Self::MixOfNone { index } => FieldPath::of("mix_limits").index(*index),
        }
    }
}
