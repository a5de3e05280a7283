//! Printed rows that say which slots to fill for a number of modules.

use serde::{Deserialize, Serialize};

use crate::platform::{Mode, RelativeSize, row_lines};
use crate::processor::ModulePattern;
use crate::stated::{Basis, Demand, Scope, Source};
use crate::unit::Name;

/// One row of a population table: for this many modules, these slots.
///
/// A row speaks of the sockets that its slots hang on: rows for one processor's slots are held against
/// that processor's modules, rows for the whole board against all of them. Rows need not nest.
///
/// A row that marks the [size](FillSlot::size) of some slots speaks only of populations in which the modules at these
/// sockets have just two capacities; of others it says nothing, as if it were for another number. It marks larger and
/// smaller ones both; its slots without a mark take either. It is an alternative to the other rows for the number, those
/// without marks too. It names no capacity: where a printed row must name sizes, patterns with a capacity do.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct FillRow {
    /// The slots to fill, and only these.
    pub slots: Vec<FillSlot>,
    /// The row holds when so many processors are present; any number where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub processors: Option<u8>,
    /// The mode for which it holds; the independent mode where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mode: Option<Name>,
    /// Whether it must or should be kept.
    pub demand: Demand,
    /// What it rests on.
    pub basis: Basis,
    /// The text that it was copied from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

impl FillRow {
    setters! {
        each slots(slots: FillSlot);
        some processors(processors: u8);
        some mode(mode: Name);
        some source(source: Source);
    }
}

/// A slot of a row, and what belongs there.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct FillSlot {
    /// The slot's label.
    pub slot: Name,
    /// The modules that belong there; any where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub module: Option<ModulePattern>,
    /// Which of the two sizes in the population belongs there; either where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub size: Option<RelativeSize>,
}

impl FillSlot {
    /// A slot for any module.
    #[must_use]
    pub fn new(slot: Name) -> Self {
        Self { slot, module: None, size: None }
    }

    setters! {
        some module(module: ModulePattern);
        some size(size: RelativeSize);
    }
}

/// The numbers of modules that a board takes or advises.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct CountRow {
    /// Where modules are counted.
    pub within: Scope,
    /// The numbers listed. A channel or processor without any module is not held against them. In a document also a
    /// [line](CountRow::of_line).
    #[serde(deserialize_with = "row_lines::counts")]
    #[cfg_attr(feature = "schemars", schemars(with = "row_lines::CountsForm"))]
    pub counts: Vec<u16>,
    /// The row holds when so many processors are present; any number where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub processors: Option<u8>,
    /// The mode for which it holds; the independent mode where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mode: Option<Name>,
    /// Whether any other number is an error or a warning.
    pub demand: Demand,
    /// What it rests on.
    pub basis: Basis,
    /// The text that it was copied from.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
}

impl CountRow {
    /// Numbers of modules within a processor or the machine.
    #[must_use]
    pub fn new(within: Scope, counts: impl IntoIterator<Item = u16>, demand: Demand, basis: Basis) -> Self {
        Self { within, counts: counts.into_iter().collect(), processors: None, mode: None, demand, basis, source: None }
    }

    setters! {
        some processors(processors: u8);
        some mode(mode: Name);
        some source(source: Source);
    }
}

impl FillRow {
    /// A row that holds for any number of processors in the independent mode.
    #[must_use]
    pub fn new(slots: impl IntoIterator<Item = Name>, demand: Demand, basis: Basis) -> Self {
        let slots = slots.into_iter().map(FillSlot::new).collect();
        Self { slots, processors: None, mode: None, demand, basis, source: None }
    }

    /// A row "the larger of the two sizes in these slots; the smaller in those", else as with [`FillRow::new`].
    ///
    /// On a board of one processor with four channels of one slot, the larger modules belong in A1 and C1:
    ///
    /// ```
    /// use slotwright::assess::Planner;
    /// use slotwright::machine::Machine;
    /// use slotwright::module::{Generation, Label, ModuleKind};
    /// use slotwright::platform::{
    ///     ChannelDescription, ControllerDescription, FillRow, PlatformDescription, SlotDescription, SocketDescription,
    /// };
    /// use slotwright::population::Population;
    /// use slotwright::processor::ProcessorDescription;
    /// use slotwright::rule::RuleBook;
    /// use slotwright::stated::{Basis, Demand};
    /// use slotwright::unit::{DataRate, Name};
    ///
    /// let name = |text: &str| text.parse::<Name>();
    /// let channel = |letter: &str, turn: u16| -> Result<_, Box<dyn std::error::Error>> {
    ///     let slot = SlotDescription::new(name(&format!("{letter}1"))?, 0, turn);
    ///     Ok(ChannelDescription::new(name(letter)?, [slot]))
    /// };
    /// let channels = vec![channel("A", 0)?, channel("B", 1)?, channel("C", 2)?, channel("D", 3)?];
    /// let controller = ControllerDescription::new(name("0")?, channels);
    /// let socket = SocketDescription::new(name("1")?, [controller]);
    /// let mut board = PlatformDescription::new(name("bench board")?, Generation::Ddr4, vec![socket]);
    /// let (larger, smaller) = ([name("A1")?, name("C1")?], [name("B1")?, name("D1")?]);
    /// board.fill_rows = vec![FillRow::of_two_sizes(larger, smaller, Demand::Required, Basis::BoardManual)];
    ///
    /// let kinds = [ModuleKind::Registered];
    /// let processor =
    ///     ProcessorDescription::new(name("own")?, Generation::Ddr4, kinds, DataRate::DDR4_2400, Basis::DataSheet);
    /// let machine = Machine::builder(board.build()?).processor("1", processor.build()?).build()?;
    /// let rules = RuleBook::standard();
    /// let planner = Planner::new(&machine, &rules);
    /// let large = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let small = "16GB 2Rx8 PC4-2400T-RE2-11".parse::<Label>()?.to_module();
    ///
    /// let arrangement = planner.arrange([(large.clone(), 2), (small.clone(), 2)])?;
    /// let modules = arrangement.best()?.population.modules();
    /// let filled = modules.map(|(slot, fitted)| format!("{slot} {}", fitted.module.capacity()));
    /// assert_eq!(filled.collect::<Vec<_>>(), ["A1 32 GB", "B1 16 GB", "C1 32 GB", "D1 16 GB"]);
    ///
    /// // the other way round the row is broken; of four equal modules it does not speak
    /// let breaks_row = |modules: [_; 4]| -> Result<bool, Box<dyn std::error::Error>> {
    ///     let slots = ["A1", "B1", "C1", "D1"].into_iter().zip(modules);
    ///     let mut population = Population::new();
    ///     for (slot, module) in slots {
    ///         population = population.with(slot.parse()?, Clone::clone(module));
    ///     }
    ///     let findings = planner.assess(&population)?.findings;
    ///     Ok(findings.iter().any(|finding| finding.code.as_str() == "fill-row"))
    /// };
    /// assert!(breaks_row([&small, &large, &small, &large])?);
    /// assert!(!breaks_row([&large; 4])?);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn of_two_sizes(
        larger: impl IntoIterator<Item = Name>,
        smaller: impl IntoIterator<Item = Name>,
        demand: Demand,
        basis: Basis,
    ) -> Self {
        let slot = |slot, size| FillSlot { slot, module: None, size: Some(size) };
        let larger = larger.into_iter().map(|name| slot(name, RelativeSize::Larger));
        let smaller = smaller.into_iter().map(|name| slot(name, RelativeSize::Smaller));
        Self { slots: larger.chain(smaller).collect(), ..Self::new([], demand, basis) }
    }

    /// Whether the row speaks of a machine set to this mode, with so many processors present.
    #[must_use]
    pub fn is_for(&self, mode: &str, processors: usize) -> bool {
        is_for((self.mode.as_ref(), self.processors), mode, processors)
    }
}

fn is_for(row: (Option<&Name>, Option<u8>), mode: &str, processors: usize) -> bool {
    row.0.map_or(Mode::INDEPENDENT, Name::as_str) == mode && row.1.is_none_or(|count| usize::from(count) == processors)
}

impl CountRow {
    /// Numbers for each processor in the independent mode.
    #[must_use]
    pub fn per_socket(counts: impl IntoIterator<Item = u16>, demand: Demand, basis: Basis) -> Self {
        let counts = counts.into_iter().collect();
        Self { within: Scope::Socket, counts, processors: None, mode: None, demand, basis, source: None }
    }

    /// Whether the row speaks of a machine set to this mode, with so many processors present.
    #[must_use]
    pub fn is_for(&self, mode: &str, processors: usize) -> bool {
        is_for((self.mode.as_ref(), self.processors), mode, processors)
    }
}
