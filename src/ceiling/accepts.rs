use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::ceiling::limited::{limited_by, one_of_each};
use crate::figure::usable::{depends_on_places, needed_for, usable_of};
use crate::figure::{RateObstacle, RateRange, RunningRate, UsableCapacity};
use crate::fill::{ChannelIx, ClassId, Contents, Demand, Level, SlotModel, Usable, by_turn, judge, place};
use crate::finding::{Finding, Severity, Verdict};
use crate::machine::SlotState;
use crate::module::MemoryModule;
use crate::platform::{ChannelId, SlotId};
use crate::population::{Content, Layout, ModuleSite};
use crate::search::{Budget, StopReason, Table, wide};
use crate::stated::Schema;
use crate::unit::{Capacity, DataRate, Name};

/// Where a module fits, how many of it, at what rate and why no more; or why not.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let accepted = planner.accepts(&module);
/// assert_eq!((accepted.fits.len(), accepted.at_most), (12, 12));
/// assert!(accepted.refused.is_empty());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Acceptance {
    /// The version of the document's form.
    pub schema: Schema,
    /// The module.
    pub module: MemoryModule,
    /// The live slots that take it, by turn.
    pub fits: Vec<Name>,
    /// The live slots that do not, with what the rules say.
    pub refused: Vec<Refusal>,
    /// What the rules cannot judge of `at_most` of it, or of one in a slot, for want of a fact: once for each rule and fact.
    /// Slots, numbers and rates are then as far as is known.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unjudged: Vec<Finding>,
    /// Warnings of `at_most` of it, arranged in the best way that was found, or of one in a slot: one for each rule.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub warnings: Vec<Finding>,
    /// The most of it that a legal population of nothing else holds; where the mode spares ranks, the fewest of which
    /// most is usable.
    pub at_most: usize,
    /// Why it is no more, where it is fewer than the slots that it fits: an error of each rule of a smallest set of rules
    /// without which more fit; where the nodes do not last to find it, the errors of one more by turn. None where the search
    /// for the most was stopped, or the mode spares ranks and no more would be usable.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub limited_by: Vec<Finding>,
    /// What that many hold.
    pub capacity_mib: Capacity,
    /// What of it can be used in the machine's redundancy mode.
    pub usable_mib: Capacity,
    /// The running rate of a machine of nothing else, by load.
    pub loads: Vec<LoadRate>,
    /// Why the search for the most ended before it was through, if it did: more than `at_most` may fit then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}

/// Slots that do not take a module, for the same reasons.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Refusal {
    /// The slots' labels, by turn.
    pub slots: Vec<Name>,
    /// What the rules say of the first of them.
    pub findings: Vec<Finding>,
}

/// The running rate when so many of a module share a channel.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct LoadRate {
    /// How many slots the channel has wired.
    pub slots_wired: u8,
    /// How many of the module share it.
    pub modules_in_channel: usize,
    /// Whether the rules allow it.
    pub allowed: bool,
    /// The rate; absent where there is none, or where it is not known.
    pub rate_mts: Option<DataRate>,
    /// Why a load that is allowed has no rate; it is not known where a fact is missing.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub obstacles: Vec<RateObstacle>,
    /// Between which rates it is, where missing facts are all that keeps it from being known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range_mts: Option<RateRange>,
}

impl Planner<'_> {
    /// Whether the machine, otherwise empty, takes a module: where, how many, at what rate, why no more, or why not; what of
    /// that is not known, and what the rules warn of.
    ///
    /// ```
    /// use slotwright::assess::Planner;
    /// use slotwright::machine::Machine;
    /// use slotwright::module::Label;
    /// use slotwright::reference;
    /// use slotwright::rule::RuleBook;
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc())
    ///     .processor_named("1", "later")
    ///     .processor_named("2", "later")
    ///     .build()?;
    /// let rules = RuleBook::standard();
    /// let planner = Planner::new(&machine, &rules);
    ///
    /// let fits = planner.accepts(&"32GB 2Rx4 PC4-2666V-RB2-12".parse::<Label>()?.to_module());
    /// assert_eq!(fits.at_most, 24);
    /// let refused = planner.accepts(&"64GB 2Rx4 PC4-3200AA-RB2-14".parse::<Label>()?.to_module());
    /// assert_eq!(refused.at_most, 0);
    /// assert_eq!(refused.refused[0].findings[0].code, "die-density");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// Where fewer fit than there are slots for, it says why:
    ///
    /// ```
    /// use slotwright::{Label, Machine, Planner, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr5_2s_8ch_2spc()).processor_named("1", "plain").build()?;
    /// let quad = "64GB 4Rx8 PC5-4400B-RA0-1010-XT".parse::<Label>()?.to_module();
    ///
    /// let rules = RuleBook::standard();
    /// let accepted = Planner::new(&machine, &rules).accepts(&quad);
    /// assert_eq!((accepted.fits.len(), accepted.at_most), (16, 8));
    /// assert_eq!(accepted.limited_by[0].code, "channel-ranks");
    /// assert!(accepted.to_string().contains("why no more:\n    error channel-ranks: "));
    ///
    /// let without = rules.without("channel-ranks")?;
    /// assert!(Planner::new(&machine, &without).accepts(&quad).at_most > 8);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn accepts(&self, module: &MemoryModule) -> Acceptance {
        let machine = self.machine();
        let model = SlotModel::new(machine, self.rules(), Severity::Error, vec![module], Layout::empty(machine));
        let (mut fits, mut refused, of_slots) = self.where_it_fits(module);
        let mut budget = self.budget(Self::ACCEPTANCE_NODES);
        shut_off(&model, &mut fits, &mut refused, &mut budget);
        let (most, stopped) = most_or_known(&model, &mut budget);
        let most = most.unwrap_or_default();
        let is_limited = stopped.is_none() && most.count < fits.len();
        let limited_by = if is_limited { limited_by(&model, &most, &mut budget) } else { Vec::new() };
        let of_most = if most.count == 0 { Vec::new() } else { findings(&model, &most, &mut budget) };
        let below_error = of_most.into_iter().chain(of_slots).filter(|finding| finding.severity < Severity::Error);
        let (unjudged, others): (Vec<_>, Vec<_>) = below_error.partition(|finding| finding.verdict == Verdict::Unknown);
        let is_warning = |f: &Finding| f.severity == Severity::Warning && f.verdict == Verdict::Violated;
        Acceptance {
            schema: Schema,
            module: module.clone(),
            fits,
            refused,
            unjudged: one_of_each(unjudged),
            warnings: one_of_each(others.into_iter().filter(is_warning)),
            at_most: most.count,
            limited_by,
            capacity_mib: module.capacity().times(wide(most.count)),
            usable_mib: most.usable_mib,
            loads: if most.count == 0 { Vec::new() } else { loads(&model, module) },
            stopped,
        }
    }

    /// How many nodes the search of [`Planner::accepts`] may visit.
    pub const ACCEPTANCE_NODES: u64 = 200_000;

    /// The modules of a list that the machine, otherwise empty, takes at all, in the list's order; and those of which a search
    /// that was stopped could not tell.
    pub fn fitting<'m>(&self, modules: impl IntoIterator<Item = &'m MemoryModule>) -> Vec<&'m MemoryModule> {
        let machine = self.machine();
        let may_fit = |module: &&MemoryModule| {
            let model = SlotModel::new(machine, self.rules(), Severity::Error, vec![module], Layout::empty(machine));
            most_or_known(&model, &mut self.budget(Self::ACCEPTANCE_NODES)) != (None, None)
        };
        modules.into_iter().filter(may_fit).collect()
    }

    /// Holds a module in each live slot against the rules on modules: where it fits, where not, and what else the rules say
    /// of slots that take it.
    pub(crate) fn where_it_fits(&self, module: &MemoryModule) -> (Vec<Name>, Vec<Refusal>, Vec<Finding>) {
        let machine = self.machine();
        let (mut fits, mut refused, mut said) = (Vec::new(), Vec::<Refusal>::new(), Vec::new());
        for slot in machine.live_slots() {
            let label = machine.platform().slot(slot).label().clone();
            let found = self.rules().check_module(&ModuleSite { machine, slot, module }).into_iter();
            let (findings, others): (Vec<_>, Vec<_>) = found.partition(|finding| finding.severity == Severity::Error);
            let same = |refusal: &&mut Refusal| {
                refusal.findings.iter().map(|f| (&f.code, &f.facts)).eq(findings.iter().map(|f| (&f.code, &f.facts)))
            };
            if findings.is_empty() {
                said.extend(others);
                fits.push(label);
            } else if let Some(refusal) = refused.iter_mut().find(same) {
                refusal.slots.push(label);
            } else {
                refused.push(Refusal { slots: vec![label], findings });
            }
        }
        (fits, refused, said)
    }
}

/// Takes out of what fits the slots of channels with a closed one that no legal load fills: those behind it.
fn shut_off(model: &SlotModel<'_>, fits: &mut Vec<Name>, refused: &mut Vec<Refusal>, budget: &mut Budget<'_>) {
    let platform = model.machine.platform();
    let is_closed = |slot: &SlotId| matches!(model.machine.slot_state(*slot), SlotState::Closed { .. });
    let has_closed = |channel: ChannelId| platform.channel(channel).slots.iter().any(is_closed);
    for (channel, entry) in model.channels.iter().filter(|(_, entry)| has_closed(entry.id)) {
        let Ok(legal) = model.legal_loads(channel, &[ClassId::ONLY], budget) else { return };
        let mut full = Table::filled(None, model.slots.len());
        let mut shut: Vec<Name> = Vec::new();
        for (index, &place) in entry.slots.iter().enumerate() {
            full.get_mut(place).into_iter().for_each(|content| *content = Some(ClassId::ONLY));
            let is_filled = legal.loads.iter().any(|load| load.code.get(index).is_some_and(Option::is_some));
            let label = model.slots.get(place).map(|slot| platform.slot(slot.id).label());
            shut.extend(label.filter(|label| !is_filled && fits.contains(label)).cloned());
        }
        let said = model.in_force.rules.check(&model.layout(&full)).into_iter();
        let findings = one_of_each(said.filter(|finding| finding.severity == Severity::Error));
        if !shut.is_empty() && !findings.is_empty() {
            fits.retain(|label| !shut.contains(label));
            refused.push(Refusal { slots: shut, findings });
        }
    }
}

/// The most modules of a model's only class.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) struct Most {
    pub(crate) count: usize,
    /// One way to place them.
    at: Contents,
    /// What of it can be used.
    pub(crate) usable_mib: Capacity,
}

/// The number of modules of a model's only class at a step or above of which most is usable, the fewest of those. Where
/// the mode takes a share of all, that is the most modules. `None` where none at all fit, or less than `least_usable` MiB of
/// any number is usable.
pub(crate) fn most(
    model: &SlotModel<'_>,
    least_level: Option<Level>,
    least_usable: u64,
    budget: &mut Budget<'_>,
) -> Result<Option<Most>, StopReason> {
    let Some(module) = model.classes.get(ClassId::ONLY) else { return Ok(None) };
    let (mode, depends) = (model.machine.mode_description(), depends_on_places(model.machine));
    let mut best: Option<Most> = None;
    for count in (1..=carried_at_most(model, least_level, budget)?).rev() {
        // which ranks are spared depends on where modules sit, so that fewer may leave as much or more
        let mut least = best.as_ref().map_or(least_usable, |best| best.usable_mib.mib());
        let all = module.capacity().times(wide(count));
        if usable_of(mode, all.mib()).mib() < least {
            break;
        }
        loop {
            let usable = if depends { usable_from(model, least) } else { Usable::default() };
            let demand = Demand { any_will_do: true, usable, ..demand(count, least_level) };
            let Some(placed) = place(model, model, &demand, budget)? else { break };
            let usable_mib = UsableCapacity::of(&model.layout(&placed.at)).total_mib;
            best = Some(Most { count, at: placed.at, usable_mib });
            if !depends {
                return Ok(best);
            }
            least = usable_mib.mib() + 1;
        }
    }
    Ok(best)
}

/// How many modules of a model's only class its channels carry at a step or above, each for itself: no population of them
/// holds more.
pub(crate) fn carried_at_most(
    model: &SlotModel<'_>,
    least_level: Option<Level>,
    budget: &mut Budget<'_>,
) -> Result<usize, StopReason> {
    let mut sum = 0;
    for channel in model.channels.ids() {
        let legal = model.legal_loads(channel, &[ClassId::ONLY], budget)?;
        let at_level = legal.loads.iter().filter(|load| least_level.is_none_or(|least| load.facts.level >= least));
        sum += at_level.map(|load| load.code.iter().flatten().count()).max().unwrap_or(0);
    }
    Ok(sum)
}

/// The most modules of a model's only class, or a number that is known to fit and why the search for the most ended.
fn most_or_known(model: &SlotModel<'_>, budget: &mut Budget<'_>) -> (Option<Most>, Option<StopReason>) {
    if !model.slots.ids().any(|place| model.admits(place, ClassId::ONLY)) {
        return (None, None);
    }
    match most(model, None, 0, budget) {
        Ok(most) => (most, None),
        Err(reason) => (known_to_fit(model), Some(reason)),
    }
}

/// What the rules say of the most modules, arranged in the best way if that is found.
fn findings(model: &SlotModel<'_>, most: &Most, budget: &mut Budget<'_>) -> Vec<Finding> {
    let demand = Demand { usable: usable_from(model, most.usable_mib.mib()), ..demand(most.count, None) };
    let best = place(model, model, &demand, budget).ok().flatten();
    model.in_force.rules.check(&model.layout(best.as_ref().map_or(&most.at, |placed| &placed.at)))
}

/// A number of modules that is known to fit, by filling slots in turn.
fn known_to_fit(model: &SlotModel<'_>) -> Option<Most> {
    (1..=model.slots.len()).rev().find_map(|count| {
        let demand = demand(count, None);
        let (at, _) = by_turn(model, &demand);
        let placed = judge(model, model, &demand, at, &mut Budget::new(1_000, None)).ok().flatten()?;
        let usable_mib = UsableCapacity::of(&model.layout(&placed.at)).total_mib;
        Some(Most { count, at: placed.at, usable_mib })
    })
}

/// So many MiB or more that can be used in the machine's mode.
pub(crate) fn usable_from(model: &SlotModel<'_>, least: u64) -> Usable {
    Usable(needed_for(model.machine.mode_description(), Capacity::from_mib(least)).mib(), u64::MAX)
}

/// So many modules of a model's only class, at a level or above.
pub(crate) fn demand(count: usize, least_level: Option<Level>) -> Demand {
    Demand { counts: vec![(ClassId::ONLY, count)], least_level, ..Demand::default() }
}

/// The rates of every number of modules in every sort of channel.
fn loads(model: &SlotModel<'_>, module: &MemoryModule) -> Vec<LoadRate> {
    let platform = model.machine.platform();
    let mut loads: Vec<LoadRate> = Vec::new();
    for (index, channel) in model.channels.iter() {
        // positions have 8 bits: one slot too many is all that can be clamped
        let slots_wired = u8::try_from(platform.channel(channel.id).slots.len()).unwrap_or(u8::MAX);
        for modules_in_channel in 1..=channel.slots.len() {
            let is_known =
                |load: &LoadRate| load.slots_wired == slots_wired && load.modules_in_channel == modules_in_channel;
            if loads.iter().any(is_known) {
                continue;
            }
            let legal = first_legal(model, index, modules_in_channel);
            let figure = legal.as_ref().map(|code| {
                let mut layout = Layout::empty(model.machine);
                for (&place, content) in channel.slots.iter().zip(code) {
                    if let (Some(_), Some(slot)) = (content, model.slots.get(place)) {
                        layout.set(slot.id, Content::Module(module));
                    }
                }
                RunningRate::of(&layout)
            });
            let (allowed, rate_mts) = (figure.is_some(), figure.as_ref().and_then(RunningRate::rate));
            let range_mts = figure.as_ref().and_then(RunningRate::range);
            let domains = figure.into_iter().flat_map(|figure| figure.domains);
            let obstacles = domains.flat_map(|domain| domain.obstacles).collect();
            loads.push(LoadRate { slots_wired, modules_in_channel, allowed, rate_mts, obstacles, range_mts });
        }
    }
    loads.sort_by_key(|load| (load.slots_wired, load.modules_in_channel));
    loads
}

/// A legal load of so many modules of a channel, those that fill slots from the far end first.
fn first_legal(model: &SlotModel<'_>, channel: ChannelIx, modules: usize) -> Option<Vec<Option<ClassId>>> {
    /// Of longer channels the slots beyond are left empty.
    const MOST: usize = 16;
    let slots = model.places_of(channel).len();
    let fillings = (0..1u32 << slots.min(MOST)).filter(|bits| bits.count_ones() as usize == modules);
    let has = |bits: u32, slot: usize| slot < MOST && bits >> slot & 1 == 1;
    let code = |bits: u32| (0..slots).map(|slot| has(bits, slot).then_some(ClassId::ONLY)).collect::<Vec<_>>();
    fillings.map(code).find(|code| model.load(channel, code).is_some())
}
