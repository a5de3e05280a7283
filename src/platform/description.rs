use serde::{Deserialize, Serialize};

use crate::module::Generation;
use crate::platform::{
    BoardPattern, BoardProblem, ChannelBan, CountRow, DomainScheme, FillPriority, FillRow, Hands, Mode, ModuleLimit,
    PairBan, Platform, PlatformError, PlatformOption, PlatformProblem, PositionOrder, PowerProfile, RatePolicy,
    SameRankCount, Settings, SharedLoadCap, SocketDescription, UnlikeGrades, UnlikeVoltages, WorkedRow, check,
    row_lines,
};
use crate::processor::{MixLimit, ModulePattern, Processor, RankLimit, RateTable};
use crate::stated::{Basis, Demand, FieldPath, Schema, Scope, Stated};
use crate::unit::{Capacity, DataRate, Name, NamePattern, Power};

/// Everything that is said of a board; also its document.
///
/// Slots are named by their labels throughout. An absent limit is no limit; where a policy has a
/// default of the trade, its field says so.
///
/// A board of one processor with two channels of two slots, and a processor that runs two modules a
/// channel slower than one:
///
/// ```
/// use slotwright::assess::Planner;
/// use slotwright::machine::Machine;
/// use slotwright::module::{Generation, Label, ModuleKind};
/// use slotwright::platform::{
///     ChannelDescription, ControllerDescription, PlatformDescription, SlotDescription, SocketDescription,
/// };
/// use slotwright::processor::{ModulePattern, ProcessorDescription, RateTable};
/// use slotwright::rule::RuleBook;
/// use slotwright::stated::Basis;
/// use slotwright::unit::{DataRate, Name};
///
/// let name = |text: &str| text.parse::<Name>();
/// let channel = |letter: &str, first: u16| -> Result<_, Box<dyn std::error::Error>> {
///     // both far slots are filled before the near ones: turns 0 and 1, then 2 and 3
///     let far = SlotDescription::new(name(&format!("{letter}1"))?, 0, first);
///     let near = SlotDescription::new(name(&format!("{letter}2"))?, 1, first + 2);
///     Ok(ChannelDescription::new(name(letter)?, [far, near]))
/// };
/// let controller = ControllerDescription::new(name("0")?, [channel("A", 0)?, channel("B", 1)?]);
/// let socket = SocketDescription::new(name("1")?, [controller]);
/// let board = PlatformDescription::new(name("bench board")?, Generation::Ddr4, vec![socket]).build()?;
///
/// let kinds = [ModuleKind::Registered];
/// let mut processor =
///     ProcessorDescription::new(name("own")?, Generation::Ddr4, kinds, DataRate::DDR4_2400, Basis::DataSheet);
/// let rates = [Some(DataRate::DDR4_2400), Some(DataRate::DDR4_2133)];
/// let registered = ModulePattern::kind(ModuleKind::Registered);
/// processor.rate_table = Some(RateTable::new(Basis::DataSheet).by_load(&registered, &rates));
///
/// let machine = Machine::builder(board).processor("1", processor.build()?).build()?;
/// let rules = RuleBook::standard();
/// let planner = Planner::new(&machine, &rules);
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let rate = |count: usize| -> Result<Option<DataRate>, Box<dyn std::error::Error>> {
///     let arrangement = planner.arrange([(module.clone(), count)])?;
///     Ok(arrangement.best()?.assessment.figures.running_rate.rate())
/// };
/// assert_eq!(rate(2)?, Some(DataRate::DDR4_2400));
/// assert_eq!(rate(4)?, Some(DataRate::DDR4_2133));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct PlatformDescription {
    /// Schema number of the document.
    pub schema: Schema,
    /// What it is called.
    pub name: Name,
    /// The memory generation of its slots.
    pub generation: Generation,
    /// Its sockets, slot by slot; a regular board has a pattern in their place.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sockets: Vec<SocketDescription>,
    /// The pattern of a regular board; stands for the sockets.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pattern: Option<BoardPattern>,
    /// What the positions of slots that are written out rest on; on what the description rests, where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position_basis: Option<Basis>,
    /// What the turns of slots that are written out rest on; on what the description rests, where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turn_basis: Option<Basis>,
    /// The rows in which the slots lie side by side on the board, each from left to right, the first at the top; for maps. A row may name
    /// sockets too.
    #[serde(default, skip_serializing_if = "Vec::is_empty", with = "crate::platform::pattern::lists::many")]
    #[cfg_attr(feature = "schemars", schemars(with = "Vec<crate::platform::pattern::lists::NameListForm>"))]
    pub rows: Vec<Vec<Name>>,
    /// What hands must know of it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hands: Option<Stated<Hands>>,
    /// How reports name it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub reported_as: Vec<NamePattern>,
    /// Descriptions of processors that belong to it; machines may name them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub processors: Vec<Processor>,
    /// The names of the processors that it accepts; any where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub accepted_processors: Option<Stated<Vec<Name>>>,
    /// Whether all processors must or should be alike; they should where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub processors_alike: Option<Stated<Demand>>,

    /// The board's own rates by load, beside the processors'.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_table: Option<RateTable>,
    /// Over what the running rate is one rate.
    #[serde(default)]
    pub rate_policy: RatePolicy,
    /// The highest grade of module that it takes; any where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub highest_grade_mts: Option<Stated<DataRate>>,
    /// What mixed grades do; all run at the lowest where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unlike_grades: Option<Stated<UnlikeGrades>>,
    /// What mixed voltages do; all run at a common one where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unlike_voltages: Option<Stated<UnlikeVoltages>>,

    /// Limits on the ranks of a channel, beside the processors'.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rank_limits: Vec<Stated<RankLimit>>,
    /// Limits on sorts of module.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub module_limits: Vec<Stated<ModuleLimit>>,
    /// Sorts of module that cap every channel around them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub shared_load_caps: Vec<Stated<SharedLoadCap>>,
    /// Limits on unlike modules. Where none names the kind, stacked and plain modules, or error
    /// correction, a machine takes one of each.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub mix_limits: Vec<Stated<MixLimit>>,
    /// Where capacities meet only if the largest is at most twice the smallest: neighbouring sizes. Any meet where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub neighbouring_sizes: Option<Stated<Scope>>,
    /// Whether a processor's modules share one rank count.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub same_rank_count: Option<Stated<SameRankCount>>,
    /// Sorts of module that never meet.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub pair_bans: Vec<Stated<PairBan>>,
    /// Sets of modules that never make up a channel.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub channel_bans: Vec<Stated<ChannelBan>>,
    /// The modules that the maker lists; no list where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub listed_modules: Option<Stated<Vec<ModulePattern>>>,
    /// The most memory in the whole machine.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub capacity_cap_mib: Option<Stated<Capacity>>,

    /// In which order the positions of a channel are filled; far end first where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position_order: Option<Stated<PositionOrder>>,
    /// Which module comes first in the fill order.
    pub fill_priority: FillPriority,
    /// Whether the priority must or should be kept along a channel; it is no matter where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub priority_along_channel: Option<Stated<Demand>>,
    /// Printed population rows; in a document several may stand in [lines](FillRow::of_line).
    #[serde(default, skip_serializing_if = "Vec::is_empty", deserialize_with = "row_lines::fill_rows")]
    #[cfg_attr(feature = "schemars", schemars(with = "Vec<row_lines::RowsForm<FillRow, row_lines::FillRowEntry>>"))]
    pub fill_rows: Vec<FillRow>,
    /// Printed numbers of modules.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub count_rows: Vec<CountRow>,
    /// Whether every processor must or should have memory; it should where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub memory_per_processor: Option<Stated<Demand>>,
    /// Whether the populated channels of a processor must or should be alike; they should where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub channels_alike: Option<Stated<Demand>>,
    /// Whether the populated channels of one number in their controllers, such as the first channel of each controller of a
    /// processor, must or should be alike; it is no matter where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controllers_alike: Option<Stated<Demand>>,
    /// Whether the processors' memory must or should be alike; it should where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sockets_alike: Option<Stated<Demand>>,
    /// Whether odd numbers of modules at a processor must or should be avoided; no matter where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub even_counts: Option<Stated<Demand>>,
    /// Whether the maker asks for a blank in every empty slot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blanks: Option<Stated<Demand>>,

    /// The redundancy modes, beside the independent one.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub modes: Vec<Mode>,
    /// The ways to divide the memory into interleave domains, beside the one of one domain for each processor.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub domain_schemes: Vec<DomainScheme>,
    /// The most that all modules together may draw.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub power_budget_mw: Option<Stated<Power>>,
    /// What can be fitted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub options: Vec<PlatformOption>,
    /// What power can be set.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub power_profiles: Vec<PowerProfile>,
    /// How a machine is set unless it says otherwise.
    #[serde(default)]
    pub default_settings: Settings,
    /// Lines of the manual that the description must reproduce; in a document several may stand as [lines](WorkedRow::of_line).
    #[serde(default, skip_serializing_if = "Vec::is_empty", deserialize_with = "row_lines::worked_rows")]
    #[cfg_attr(
        feature = "schemars",
        schemars(with = "Vec<row_lines::RowsForm<WorkedRow, row_lines::WorkedRowEntry>>")
    )]
    pub worked_rows: Vec<WorkedRow>,
}

/// What a description was written as.
pub(crate) struct Patterned {
    pub(crate) pattern: BoardPattern,
    /// How many of its fill rows are its own.
    pub(crate) own_rows: usize,
}

impl PlatformDescription {
    setters! {
        some position_basis(position_basis: Basis);
        some turn_basis(turn_basis: Basis);
        each rows(rows: Vec<Name>);
        some hands(hands: Stated<Hands>);
        each reported_as(reported_as: NamePattern);
        some accepted_processors(accepted_processors: Stated<Vec<Name>>);
        some processors_alike(processors_alike: Stated<Demand>);
        some rate_table(rate_table: RateTable);
        some highest_grade(highest_grade_mts: Stated<DataRate>);
        some unlike_grades(unlike_grades: Stated<UnlikeGrades>);
        some unlike_voltages(unlike_voltages: Stated<UnlikeVoltages>);
        some neighbouring_sizes(neighbouring_sizes: Stated<Scope>);
        some same_rank_count(same_rank_count: Stated<SameRankCount>);
        some listed_modules(listed_modules: Stated<Vec<ModulePattern>>);
        some capacity_cap(capacity_cap_mib: Stated<Capacity>);
        some position_order(position_order: Stated<PositionOrder>);
        some priority_along_channel(priority_along_channel: Stated<Demand>);
        some memory_per_processor(memory_per_processor: Stated<Demand>);
        some channels_alike(channels_alike: Stated<Demand>);
        some controllers_alike(controllers_alike: Stated<Demand>);
        some sockets_alike(sockets_alike: Stated<Demand>);
        some even_counts(even_counts: Stated<Demand>);
        some blanks(blanks: Stated<Demand>);
        some power_budget(power_budget_mw: Stated<Power>);
        value rate_policy(rate_policy: RatePolicy);
        value fill_priority(fill_priority: FillPriority);
        value default_settings(default_settings: Settings);
        each processors(processors: Processor);
        each rank_limits(rank_limits: Stated<RankLimit>);
        each module_limits(module_limits: Stated<ModuleLimit>);
        each shared_load_caps(shared_load_caps: Stated<SharedLoadCap>);
        each mix_limits(mix_limits: Stated<MixLimit>);
        each pair_bans(pair_bans: Stated<PairBan>);
        each channel_bans(channel_bans: Stated<ChannelBan>);
        each fill_rows(fill_rows: FillRow);
        each count_rows(count_rows: CountRow);
        each modes(modes: Mode);
        each domain_schemes(domain_schemes: DomainScheme);
        each options(options: PlatformOption);
        each power_profiles(power_profiles: PowerProfile);
        each worked_rows(worked_rows: WorkedRow);
    }
}

impl PlatformDescription {
    /// A board without tables: every policy at its default.
    #[must_use]
    pub fn new(name: Name, generation: Generation, sockets: Vec<SocketDescription>) -> Self {
        Self {
            schema: Schema,
            name,
            generation,
            sockets,
            pattern: None,
            position_basis: None,
            turn_basis: None,
            rows: Vec::new(),
            hands: None,
            reported_as: Vec::new(),
            processors: Vec::new(),
            accepted_processors: None,
            processors_alike: None,
            rate_table: None,
            rate_policy: RatePolicy::PerMachine,
            highest_grade_mts: None,
            unlike_grades: None,
            unlike_voltages: None,
            rank_limits: Vec::new(),
            module_limits: Vec::new(),
            shared_load_caps: Vec::new(),
            mix_limits: Vec::new(),
            neighbouring_sizes: None,
            same_rank_count: None,
            pair_bans: Vec::new(),
            channel_bans: Vec::new(),
            listed_modules: None,
            capacity_cap_mib: None,
            position_order: None,
            fill_priority: FillPriority::RanksFirst,
            priority_along_channel: None,
            fill_rows: Vec::new(),
            count_rows: Vec::new(),
            memory_per_processor: None,
            channels_alike: None,
            controllers_alike: None,
            sockets_alike: None,
            even_counts: None,
            blanks: None,
            modes: Vec::new(),
            domain_schemes: Vec::new(),
            power_budget_mw: None,
            options: Vec::new(),
            power_profiles: Vec::new(),
            default_settings: Settings::default(),
            worked_rows: Vec::new(),
        }
    }

    /// A regular board without tables: every policy at its default.
    #[must_use]
    pub fn patterned(name: Name, generation: Generation, pattern: BoardPattern) -> Self {
        Self { pattern: Some(pattern), ..Self::new(name, generation, Vec::new()) }
    }

    /// Writes the pattern out, where there is one; as far as that can be done.
    pub(crate) fn expand(self) -> (Self, Option<Patterned>) {
        let (description, pattern, _) = self.expand_with_problems();
        (description, pattern)
    }

    fn expand_with_problems(mut self) -> (Self, Option<Patterned>, Vec<BoardProblem>) {
        let Some(pattern) = self.pattern.take() else { return (self, None, Vec::new()) };
        let far_end_first = PositionOrder::FarEndFirst;
        let order = self.position_order.as_ref().map_or(&far_end_first, |order| &order.value);
        let expanded = pattern.expand(order);
        let mut problems = expanded.problems;
        if !self.sockets.is_empty() {
            problems.push(BoardProblem::SocketsAndPattern);
        }
        for (field, basis) in [("position_basis", self.position_basis), ("turn_basis", self.turn_basis)] {
            if basis.is_some() {
                problems.push(BoardProblem::BasisBesidePattern { place: FieldPath::of(field) });
            }
        }
        let own_rows = self.fill_rows.len();
        self.sockets = expanded.sockets;
        self.fill_rows.extend(expanded.fill_rows);
        (self.position_basis, self.turn_basis) = (expanded.position_basis, expanded.turn_basis);
        (self, Some(Patterned { pattern, own_rows }), problems)
    }

    /// Checks the description.
    ///
    /// # Errors
    /// All problems at once: labels given twice, names of slots, sockets, processors or modes that the
    /// board does not have, ambiguous rate rows, patterns that no module can match, limits of nothing, groups of channels that overlap, a mirror of
    /// more than half the memory. What is merely odd is a
    /// [warning](Platform::warnings).
    pub fn build(self) -> Result<Platform, PlatformError> {
        let (expanded, pattern, found) = self.expand_with_problems();
        let mut problems: Vec<_> = found.into_iter().map(PlatformProblem::Board).collect();
        problems.extend(check::find(&expanded, pattern.is_some()));
        if problems.is_empty() {
            Ok(Platform::of_expanded(expanded, pattern))
        } else {
            Err(PlatformError { platform: expanded.name, problems })
        }
    }
}
