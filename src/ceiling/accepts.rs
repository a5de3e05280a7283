use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::figure::usable::{depends_on_places, needed_for, usable_of};
use crate::figure::{RunningRate, UsableCapacity};
use crate::fill::{ChannelIx, ClassId, Demand, Level, SlotModel, Usable, by_turn, judge, place};
use crate::finding::{Finding, Severity, Verdict};
use crate::module::MemoryModule;
use crate::population::{Content, Layout, ModuleSite};
use crate::search::{Budget, StopReason, wide};
use crate::unit::{Capacity, DataRate, Name};

/// Where a module fits, how many of it, at what rate; or why not.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Acceptance {
    /// The module.
    pub module: MemoryModule,
    /// The live slots that take it, by turn.
    pub fits: Vec<Name>,
    /// The live slots that do not, with what the rules say.
    pub refused: Vec<Refusal>,
    /// What the rules cannot judge, for a fact of it is not known; of the first slot that takes it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unjudged: Vec<Finding>,
    /// The most of it that a legal population of nothing else holds; where the mode spares ranks, the fewest of which
    /// most is usable.
    pub at_most: usize,
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
pub struct LoadRate {
    /// How many slots the channel has wired.
    pub slots_wired: u8,
    /// How many of the module share it.
    pub modules_in_channel: usize,
    /// Whether the rules allow it.
    pub allowed: bool,
    /// The rate; absent where there is none, or where it is not known.
    pub rate_mts: Option<DataRate>,
}

impl Planner<'_> {
    /// Whether the machine, otherwise empty, takes a module: where, how many, at what rate, or why not.
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
    #[must_use]
    pub fn accepts(&self, module: &MemoryModule) -> Acceptance {
        let machine = self.machine();
        let model = SlotModel::new(machine, self.rules(), Severity::Error, vec![module], Layout::empty(machine));
        let (fits, refused, unjudged) = self.where_it_fits(module);
        let mut budget = self.budget(Self::ACCEPTANCE_NODES);
        let (most, stopped) = match if fits.is_empty() { Ok(None) } else { most(&model, None, 0, &mut budget) } {
            Ok(most) => (most, None),
            Err(reason) => (known_to_fit(&model), Some(reason)),
        };
        let Most { count: at_most, usable_mib, .. } = most.unwrap_or_default();
        Acceptance {
            module: module.clone(),
            fits,
            refused,
            unjudged,
            at_most,
            capacity_mib: module.capacity().times(wide(at_most)),
            usable_mib,
            loads: if at_most == 0 { Vec::new() } else { loads(&model, module) },
            stopped,
        }
    }

    /// How many nodes the search of [`Planner::accepts`] may visit.
    pub const ACCEPTANCE_NODES: u64 = 200_000;

    /// The modules of a list that the machine, otherwise empty, takes at all, in the list's order; and those of which a search
    /// that was stopped could not tell.
    pub fn fitting<'m>(&self, modules: impl IntoIterator<Item = &'m MemoryModule>) -> Vec<&'m MemoryModule> {
        let may_fit = |module: &&MemoryModule| {
            let accepts = self.accepts(module);
            accepts.at_most > 0 || accepts.stopped.is_some()
        };
        modules.into_iter().filter(may_fit).collect()
    }

    /// Holds a module in each live slot against the rules on modules.
    pub(crate) fn where_it_fits(&self, module: &MemoryModule) -> (Vec<Name>, Vec<Refusal>, Vec<Finding>) {
        let machine = self.machine();
        let (mut fits, mut refused, mut unjudged) = (Vec::new(), Vec::<Refusal>::new(), Vec::new());
        for slot in machine.live_slots() {
            let label = machine.platform().slot(slot).label.clone();
            let found = self.rules().check_module(&ModuleSite { machine, slot, module }).into_iter();
            let (findings, others): (Vec<_>, Vec<_>) = found.partition(|finding| finding.severity == Severity::Error);
            let same = |refusal: &&mut Refusal| {
                refusal.findings.iter().map(|f| (&f.code, &f.facts)).eq(findings.iter().map(|f| (&f.code, &f.facts)))
            };
            if findings.is_empty() {
                if fits.is_empty() {
                    unjudged = others.into_iter().filter(|finding| finding.verdict == Verdict::Unknown).collect();
                }
                fits.push(label);
            } else if let Some(refusal) = refused.iter_mut().find(same) {
                refusal.slots.push(label);
            } else {
                refused.push(Refusal { slots: vec![label], findings });
            }
        }
        (fits, refused, unjudged)
    }
}

/// The most modules of a model's only class.
#[derive(Debug, Clone, Copy, Default)]
pub(crate) struct Most {
    pub(crate) count: usize,
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
            let usable = if depends {
                Usable(needed_for(mode, Capacity::from_mib(least)).mib(), u64::MAX)
            } else {
                Usable::default()
            };
            let demand = Demand { any_will_do: true, usable, ..demand(count, least_level) };
            let Some(placed) = place(model, model, &demand, budget)? else { break };
            let usable_mib = UsableCapacity::of(&model.layout(&placed.at)).total_mib;
            best = Some(Most { count, usable_mib });
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
fn carried_at_most(
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

/// A number of modules that is known to fit, by filling slots in turn.
fn known_to_fit(model: &SlotModel<'_>) -> Option<Most> {
    (1..=model.slots.len()).rev().find_map(|count| {
        let demand = demand(count, None);
        let (at, _) = by_turn(model, &demand);
        let placed = judge(model, model, &demand, at, &mut Budget::new(1_000, None)).ok().flatten()?;
        let usable_mib = UsableCapacity::of(&model.layout(&placed.at)).total_mib;
        Some(Most { count, usable_mib })
    })
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
            let rate_mts = legal.as_ref().and_then(|code| {
                let mut layout = Layout::empty(model.machine);
                for (&place, content) in channel.slots.iter().zip(code) {
                    if let (Some(_), Some(slot)) = (content, model.slots.get(place)) {
                        layout.set(slot.id, Content::Module(module));
                    }
                }
                RunningRate::of(&layout).rate()
            });
            loads.push(LoadRate { slots_wired, modules_in_channel, allowed: legal.is_some(), rate_mts });
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
