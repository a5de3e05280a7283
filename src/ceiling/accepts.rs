use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::figure::usable::depends_on_places;
use crate::figure::{RunningRate, UsableCapacity};
use crate::fill::{Demand, SlotModel, Usable, place};
use crate::finding::{Finding, Severity, Verdict};
use crate::module::MemoryModule;
use crate::population::{Content, Layout};
use crate::rule::Form;
use crate::search::Budget;
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
        let grid = SlotModel::new(machine, self.rules(), Severity::Error, vec![module], Layout::empty(machine));
        let (fits, refused, unjudged) = self.where_it_fits(module);
        let most = if fits.is_empty() { None } else { most(&grid, None) };
        let at_most = most.as_ref().map_or(0, |(count, _)| *count);
        let usable = most.map(|(_, at)| UsableCapacity::of(&grid.layout(&at)).total_mib);
        Acceptance {
            module: module.clone(),
            fits,
            refused,
            unjudged,
            at_most,
            capacity_mib: module.capacity().times(u64::try_from(at_most).unwrap_or(u64::MAX)),
            usable_mib: usable.unwrap_or(Capacity::ZERO),
            loads: if at_most == 0 { Vec::new() } else { loads(&grid, module) },
        }
    }

    /// The modules of a list that the machine, otherwise empty, takes at all, in the list's order.
    pub fn fitting<'m>(&self, modules: impl IntoIterator<Item = &'m MemoryModule>) -> Vec<&'m MemoryModule> {
        modules.into_iter().filter(|module| self.accepts(module).at_most > 0).collect()
    }

    /// Holds a module in each live slot against the rules on modules.
    pub(crate) fn where_it_fits(&self, module: &MemoryModule) -> (Vec<Name>, Vec<Refusal>, Vec<Finding>) {
        let machine = self.machine();
        let (mut fits, mut refused, mut unjudged) = (Vec::new(), Vec::<Refusal>::new(), Vec::new());
        for slot in machine.live_slots() {
            let label = machine.platform().slot(slot).label.clone();
            let mut layout = Layout::empty(machine);
            layout.set(slot, Content::Module(module));
            let on_modules = |finding: &Finding| {
                let rule = self.rules().get(finding.code.as_str());
                rule.is_some_and(|rule| matches!(rule.form(), Form::Module(_)))
            };
            let found = self.rules().check(&layout).into_iter().filter(on_modules);
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

/// The number of modules of the grid's only class at a step or above of which most is usable, the fewest of those, with
/// where they sit. Where the mode takes a share of all, that is the most modules.
pub(crate) fn most(grid: &SlotModel<'_>, least_level: Option<i32>) -> Option<(usize, Vec<Option<usize>>)> {
    let counts = || (1..=grid.slots.len()).rev();
    if !depends_on_places(grid.machine) {
        let fits =
            |&count: &usize| sits_with(grid, Demand { any_will_do: true, ..demand(count, least_level) }).is_some();
        let count = counts().find(fits)?;
        return Some((count, sits(grid, count, least_level)?));
    }
    // which ranks are spared depends on where modules sit
    let mut best: Option<(u64, usize, Vec<Option<usize>>)> = None;
    for count in counts() {
        let mut least = best.as_ref().map_or(0, |&(usable, known, _)| usable + u64::from(count > known));
        while let Some(at) = sits_with(grid, Demand { usable: Usable(least, u64::MAX), ..demand(count, least_level) }) {
            let usable = UsableCapacity::of(&grid.layout(&at)).total_mib.mib();
            best = Some((usable, count, at));
            least = usable + 1;
        }
    }
    best.map(|(_, count, at)| (count, at))
}

fn demand(count: usize, least_level: Option<i32>) -> Demand {
    Demand { counts: vec![(0, count)], least_level, ..Demand::default() }
}

/// Where so many modules of the grid's only class sit at best.
pub(crate) fn sits(grid: &SlotModel<'_>, count: usize, least_level: Option<i32>) -> Option<Vec<Option<usize>>> {
    sits_with(grid, demand(count, least_level))
}

#[allow(clippy::needless_pass_by_value)]
fn sits_with(grid: &SlotModel<'_>, demand: Demand) -> Option<Vec<Option<usize>>> {
    const NODES: u64 = 200_000;
    place(grid, grid, &demand, &mut Budget::new(NODES)).ok().flatten().map(|placed| placed.at)
}

fn loads(grid: &SlotModel<'_>, module: &MemoryModule) -> Vec<LoadRate> {
    let platform = grid.machine.platform();
    let mut loads: Vec<LoadRate> = Vec::new();
    for (index, channel) in grid.channels.iter().enumerate() {
        let slots_wired = u8::try_from(platform.channel(channel.id).slots.len()).unwrap_or(u8::MAX);
        for modules_in_channel in 1..=channel.slots.len() {
            if loads.iter().any(|load| load.slots_wired == slots_wired && load.modules_in_channel == modules_in_channel)
            {
                continue;
            }
            let codes = (0..1u32 << channel.slots.len().min(16))
                .filter(|bits| bits.count_ones() as usize == modules_in_channel);
            let code =
                |bits: u32| (0..channel.slots.len()).map(|slot| u16::from(bits >> slot & 1 == 1)).collect::<Vec<_>>();
            let legal = codes.map(code).find(|code| grid.load(index, code).is_some());
            let rate_mts = legal.as_ref().and_then(|code| {
                let mut layout = Layout::empty(grid.machine);
                for (&slot, &digit) in channel.slots.iter().zip(code) {
                    if let (1, Some(slot)) = (digit, grid.slots.get(slot)) {
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
