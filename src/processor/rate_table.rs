use core::fmt;

use itertools::Itertools;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::module::MemoryModule;
use crate::processor::specific::{self, Specific};
use crate::processor::{MissingFact, ModulePattern, one_to_one, rate_lines};
use crate::stated::{Basis, FieldPath, Located, Source};
use crate::unit::{DataRate, Voltage};

/// Rates by load, as a manual prints them.
///
/// The most specific row that fits a module's load counts. In a channel of unlike modules the lowest
/// of the modules' rows counts, unless a [`MixRow`] describes the whole channel.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RateTable {
    /// What the table rests on.
    pub basis: Basis,
    /// The text that it was copied from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
    /// Rows for the modules of a channel, one by one; in a document also as [lines](RateTable::line).
    #[serde(deserialize_with = "rate_lines::rows")]
    #[cfg_attr(feature = "schemars", schemars(with = "Vec<rate_lines::RowForm<RateRow>>"))]
    pub rows: Vec<RateRow>,
    /// Rows that describe a channel's modules together; in a document also as [lines](RateTable::mix_line).
    #[serde(default, skip_serializing_if = "Vec::is_empty", deserialize_with = "rate_lines::mixes")]
    #[cfg_attr(feature = "schemars", schemars(with = "Vec<rate_lines::RowForm<MixRow>>"))]
    pub mixes: Vec<MixRow>,
}

impl RateTable {
    setters! {
        each rows(rows: RateRow);
        each mixes(mixes: MixRow);
        some source(source: Source);
    }
}

/// What a row says of the channel, beside its modules.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
#[non_exhaustive]
pub struct RateKey {
    /// How many slots the channel has wired; any number where absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub slots_wired: Option<u8>,
    /// The running voltage; any where absent.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub running_voltage_mv: Option<Voltage>,
}

impl RateKey {
    setters! {
        some slots_wired(slots_wired: u8);
        some running_voltage(running_voltage_mv: Voltage);
    }
}

/// A rate for modules like these when so many share a channel.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RateRow {
    /// The modules.
    pub module: ModulePattern,
    /// How many modules the channel holds in all.
    pub modules_in_channel: u8,
    /// The channel.
    #[serde(default)]
    pub channel: RateKey,
    /// What the row says.
    pub cell: RateCell,
}

impl RateRow {
    /// The rate of so many modules a channel, whatever the channel.
    #[must_use]
    pub fn new(module: ModulePattern, modules_in_channel: u8, cell: RateCell) -> Self {
        Self { module, modules_in_channel, channel: RateKey::default(), cell }
    }

    setters! {
        value channel(channel: RateKey);
    }
}

/// A rate for a channel that holds just these modules, in any order.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct MixRow {
    /// One pattern for each module.
    pub modules: Vec<ModulePattern>,
    /// The channel.
    #[serde(default)]
    pub channel: RateKey,
    /// What the row says.
    pub cell: RateCell,
}

impl MixRow {
    /// The rate of just these modules in one channel.
    #[must_use]
    pub fn new(modules: impl IntoIterator<Item = ModulePattern>, cell: RateCell) -> Self {
        Self { modules: modules.into_iter().collect(), channel: RateKey::default(), cell }
    }

    setters! {
        value channel(channel: RateKey);
    }
}

/// What a table says of a load.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum RateCell {
    /// It runs at this rate at most.
    RateMts(DataRate),
    /// It is not allowed.
    NotAllowed,
}

/// The answer of a table to one load.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RateLookup<R> {
    /// The row that counts.
    Row(R),
    /// No row speaks of this load.
    Absent,
    /// A row could speak of it, but the module lacks the fact that would tell.
    Unknown(MissingFact),
}

/// What is wrong, or odd, with a rate table.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum RateTableProblem {
    /// Two rows that speak of the same load, neither more specific than the other.
    #[error(
        "rows {first} and {second} both speak of {load} and neither is more specific; give one of them a further key"
    )]
    Ambiguous {
        /// Index of the first row.
        first: usize,
        /// Index of the second.
        second: usize,
        /// The load of the first.
        load: String,
    },
    /// The same for two mix rows.
    #[error("mix rows {first} and {second} both speak of the same channel and neither is more specific")]
    AmbiguousMix {
        /// Index of the first row.
        first: usize,
        /// Index of the second.
        second: usize,
    },
    /// A row for a channel of no modules, or a mix row of fewer than two.
    #[error("{place} speaks of {modules} modules a channel; at least {least} are needed")]
    NoModules {
        /// The row.
        place: FieldPath,
        /// How many it says.
        modules: usize,
        /// How many are needed.
        least: usize,
    },
    /// A rate that rises with load. Manuals are entered as printed, so this is a warning.
    #[error("{load}: the rate rises from {fewer} to {more}; a misprint?")]
    RisesWithLoad {
        /// The fuller load.
        load: String,
        /// The rate with fewer modules.
        fewer: DataRate,
        /// The rate with more.
        more: DataRate,
    },
}

impl Located for RateTableProblem {
    fn place(&self) -> FieldPath {
        match self {
            Self::Ambiguous { second, .. } => FieldPath::of("rows").index(*second),
            Self::AmbiguousMix { second, .. } => FieldPath::of("mixes").index(*second),
            Self::NoModules { place, .. } => place.clone(),
            Self::RisesWithLoad { .. } => FieldPath::of("rows"),
        }
    }
}

impl RateKey {
    fn fits(&self, slots_wired: u8, voltage: Option<Voltage>) -> bool {
        self.slots_wired.is_none_or(|wired| wired == slots_wired)
            && self.running_voltage_mv.is_none_or(|wanted| Some(wanted) == voltage)
    }

    fn facts(&self) -> usize {
        usize::from(self.slots_wired.is_some()) + usize::from(self.running_voltage_mv.is_some())
    }

    fn overlaps(&self, other: &Self) -> bool {
        fn compatible<T: PartialEq>(a: Option<T>, b: Option<T>) -> bool {
            a.is_none() || b.is_none() || a == b
        }
        compatible(self.slots_wired, other.slots_wired) && compatible(self.running_voltage_mv, other.running_voltage_mv)
    }
}

impl Specific for RateRow {
    fn facts(&self) -> usize {
        self.module.facts() + self.channel.facts()
    }

    fn lies_within(&self, other: &Self) -> bool {
        self.channel == other.channel && self.module.lies_within(&other.module)
    }
}

impl RateRow {
    /// Like `overlaps`, but for loads that differ in the number of modules alone.
    fn same_key_as(&self, other: &Self) -> bool {
        self.module == other.module && self.channel == other.channel
    }
}

impl fmt::Display for RateRow {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, {} a channel", self.module, self.modules_in_channel)
    }
}

impl Specific for MixRow {
    fn facts(&self) -> usize {
        self.modules.iter().map(Specific::facts).sum::<usize>() + self.channel.facts()
    }

    fn lies_within(&self, other: &Self) -> bool {
        self.channel == other.channel && one_to_one::pairs_off(&self.modules, &other.modules, Specific::lies_within)
    }
}

impl MixRow {
    fn overlaps(&self, other: &Self) -> bool {
        self.modules.len() == other.modules.len()
            && self.channel.overlaps(&other.channel)
            && one_to_one::pairs_off(&self.modules, &other.modules, ModulePattern::overlaps)
    }
}

impl RateTable {
    /// The patterns of its rows, each with where it stands.
    pub(crate) fn patterns(&self) -> impl Iterator<Item = (FieldPath, &ModulePattern)> {
        let rows = self.rows.iter().enumerate();
        let rows = rows.map(|(row, of)| (FieldPath::of("rows").index(row).field("module"), &of.module));
        let mixes = self.mixes.iter().enumerate().flat_map(|(row, of)| {
            let place = move |index: usize| FieldPath::of("mixes").index(row).field("modules").index(index);
            of.modules.iter().enumerate().map(move |(index, module)| (place(index), module))
        });
        rows.chain(mixes)
    }

    /// What each row and each row of a mix says.
    pub(crate) fn cells(&self) -> impl Iterator<Item = RateCell> + '_ {
        self.rows.iter().map(|row| row.cell).chain(self.mixes.iter().map(|row| row.cell))
    }

    /// An empty table on a basis.
    #[must_use]
    pub fn new(basis: Basis) -> Self {
        Self { basis, source: None, rows: Vec::new(), mixes: Vec::new() }
    }

    /// Adds a row for one module a channel, two, three and so on, up to 255, as manuals print them. `None` is
    /// "not allowed".
    #[must_use]
    pub fn by_load(mut self, module: &ModulePattern, rates: &[Option<DataRate>]) -> Self {
        let cells = rates.iter().map(|rate| rate.map_or(RateCell::NotAllowed, RateCell::RateMts));
        self.rows.extend((1..=u8::MAX).zip(cells).map(|(modules_in_channel, cell)| RateRow {
            module: module.clone(),
            modules_in_channel,
            channel: RateKey::default(),
            cell,
        }));
        self
    }

    /// The same, for a running voltage.
    #[must_use]
    pub fn by_load_at(mut self, voltage: Voltage, module: &ModulePattern, rates: &[Option<DataRate>]) -> Self {
        let before = self.rows.len();
        self = self.by_load(module, rates);
        for row in self.rows.iter_mut().skip(before) {
            row.channel.running_voltage_mv = Some(voltage);
        }
        self
    }

    /// The row for one module of a channel that holds `modules_in_channel`.
    #[must_use]
    pub fn row(
        &self,
        module: &MemoryModule,
        modules_in_channel: usize,
        key: (u8, Option<Voltage>),
    ) -> RateLookup<&RateRow> {
        most_specific(self.of_load(module, modules_in_channel, key))
    }

    /// The rows of a load, and whether each speaks of a module.
    fn of_load(
        &self,
        module: &MemoryModule,
        modules_in_channel: usize,
        key: (u8, Option<Voltage>),
    ) -> impl Iterator<Item = (Result<bool, MissingFact>, &RateRow)> {
        let of_load = move |row: &&RateRow| {
            usize::from(row.modules_in_channel) == modules_in_channel && row.channel.fits(key.0, key.1)
        };
        self.rows.iter().filter(of_load).map(|row| (row.module.matches(module), row))
    }

    /// The cells of every row that may be the one for a module of which a fact is missing; `None` among them where it may be
    /// that no row speaks of it.
    pub(crate) fn open_cells(
        &self,
        module: &MemoryModule,
        modules_in_channel: usize,
        key: (u8, Option<Voltage>),
    ) -> Vec<Option<RateCell>> {
        let (known, open) = candidates(self.of_load(module, modules_in_channel, key));
        open.into_iter().map(|(_, row)| Some(row.cell)).chain([known.map(|row| row.cell)]).collect()
    }

    /// The mix row for a channel's modules together.
    #[must_use]
    pub fn mix_row(&self, modules: &[&MemoryModule], key: (u8, Option<Voltage>)) -> RateLookup<&MixRow> {
        let rows = self.mixes.iter().filter(|row| row.channel.fits(key.0, key.1));
        most_specific(rows.map(|row| (one_to_one::matches(&row.modules, modules), row)))
    }

    /// What makes the table unusable: ambiguous rows, rows of no modules.
    #[must_use]
    pub fn problems(&self) -> Vec<RateTableProblem> {
        let mut problems = Vec::new();
        for (row, modules) in self.rows.iter().map(|row| usize::from(row.modules_in_channel)).enumerate() {
            if modules == 0 {
                problems.push(RateTableProblem::NoModules {
                    place: FieldPath::of("rows").index(row),
                    modules,
                    least: 1,
                });
            }
        }
        for (row, modules) in self.mixes.iter().map(|row| row.modules.len()).enumerate() {
            if modules < 2 {
                problems.push(RateTableProblem::NoModules {
                    place: FieldPath::of("mixes").index(row),
                    modules,
                    least: 2,
                });
            }
        }
        for ((first, a), (second, b)) in self.rows.iter().enumerate().tuple_combinations() {
            if a.modules_in_channel == b.modules_in_channel
                && are_level(a, b)
                && a.channel.overlaps(&b.channel)
                && a.module.overlaps(&b.module)
            {
                problems.push(RateTableProblem::Ambiguous { first, second, load: a.to_string() });
            }
        }
        for ((first, a), (second, b)) in self.mixes.iter().enumerate().tuple_combinations() {
            if are_level(a, b) && a.overlaps(b) {
                problems.push(RateTableProblem::AmbiguousMix { first, second });
            }
        }
        problems
    }

    /// What is odd about the table: rows whose rate rises with load.
    #[must_use]
    pub fn warnings(&self) -> Vec<RateTableProblem> {
        let rates = self.rows.iter().filter_map(|row| match row.cell {
            RateCell::RateMts(rate) => Some((row, rate)),
            RateCell::NotAllowed => None,
        });
        rates
            .tuple_combinations()
            .filter_map(|((a, at_a), (b, at_b))| {
                let (fewer, more, fuller) =
                    if a.modules_in_channel < b.modules_in_channel { (at_a, at_b, b) } else { (at_b, at_a, a) };
                let rises = a.modules_in_channel != b.modules_in_channel && a.same_key_as(b) && more > fewer;
                rises.then(|| RateTableProblem::RisesWithLoad { load: fuller.to_string(), fewer, more })
            })
            .collect()
    }
}

/// Whether neither of two rows is more specific.
fn are_level<R: Specific>(a: &R, b: &R) -> bool {
    !specific::is_more_specific(a, b) && !specific::is_more_specific(b, a)
}

/// The most specific row that fits, unless a missing fact leaves a more specific one open.
fn most_specific<'t, R: Specific>(rows: impl Iterator<Item = (Result<bool, MissingFact>, &'t R)>) -> RateLookup<&'t R> {
    let (best, open) = candidates(rows);
    let first =
        open.into_iter().reduce(|first, next| if specific::is_more_specific(next.1, first.1) { next } else { first });
    match (best, first) {
        (_, Some((fact, _))) => RateLookup::Unknown(fact),
        (Some(row), None) => RateLookup::Row(row),
        (None, None) => RateLookup::Absent,
    }
}

/// The most specific row that fits, and the more specific ones that a missing fact leaves open.
fn candidates<'t, R: Specific>(
    rows: impl Iterator<Item = (Result<bool, MissingFact>, &'t R)>,
) -> (Option<&'t R>, Vec<(MissingFact, &'t R)>) {
    let mut best: Option<&R> = None;
    let mut open: Vec<(MissingFact, &R)> = Vec::new();
    for (fits, row) in rows {
        match fits {
            Ok(true) if best.is_none_or(|best| specific::is_more_specific(row, best)) => best = Some(row),
            Err(fact) => open.push((fact, row)),
            Ok(_) => {}
        }
    }
    open.retain(|(_, row)| best.is_none_or(|best| specific::is_more_specific(*row, best)));
    (best, open)
}
