use serde::{Deserialize, Serialize};

use crate::finding::Finding;
use crate::module::{Individual, MemoryModule};
#[cfg(doc)]
use crate::population::ModuleFact;
use crate::population::{MachineIdentity, Population, Report};
use crate::purchase::ModuleSource;
use crate::stated::Schema;
use crate::unit::Name;
use crate::work_order::{Halt, HaltAt, OrderLine, Step, TrialStart, WayBack};

/// What hands do to a machine, in order.
///
/// Outs come first, along the board, processor by processor (by the rows of the board where these are described); then ins, processor by
/// processor in fill order. A move is an out and an in from the bag. Blanks are steps of their own and no handlings.
///
/// ```
/// use slotwright::work_order::OrderRequest;
/// use slotwright::{Label, Machine, Planner, Population, RuleBook, reference};
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// let rules = RuleBook::standard();
/// let small = "16GB 1Rx4 PC4-2400T-RC1-11".parse::<Label>()?.to_module();
/// let large = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let before = Population::new().with("A1".parse()?, small.clone());
/// let after = Population::new().with("A1".parse()?, large).with("A2".parse()?, small);
///
/// let order = Planner::new(&machine, &rules).work_order(&OrderRequest::new(before.clone(), after))?;
/// let steps: Vec<String> = order.steps().map(|step| step.to_string()).collect();
/// assert_eq!(
///     steps,
///     [
///         "A1 (light): take out 16GB 1Rx4 DDR4-2400 registered and put it in the bag of A1.",
///         "A1 (light): put in 32GB 2Rx4 DDR4-2400 registered from what was brought.",
///         "A2 (mid): put in 16GB 1Rx4 DDR4-2400 registered from the bag of A1.",
///     ]
/// );
/// assert_eq!(order.simulate(&before)?, order.after);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct WorkOrder {
    /// The version of the document's form.
    pub schema: Schema,
    /// The platform's name.
    pub platform: Name,
    /// Which machine it is, in the caller's word.
    pub identity: MachineIdentity,
    /// Where it stands.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<Name>,
    /// How many like machines are worked on; this order is for one of them.
    pub machines: u32,
    /// What is in it before.
    pub before: Population,
    /// What is in it after: what was asked for, with the individuals that are known, and with blanks.
    pub after: Population,
    /// Modules taken out or put in; a move is two. What only a trial start needs is not counted.
    pub handlings: usize,
    /// The trial start, and the handlings that only it needs.
    pub trial: TrialStart,
    /// What must be brought. What is bought or taken from the shelf and not fitted is not here.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub supplies: Vec<Supply>,
    /// How many blanks must be brought, beside those that come out.
    pub blanks_to_bring: usize,
    /// The work, from first to last; empty where nothing is to be done.
    pub lines: Vec<OrderLine>,
    /// When to stop at once.
    pub stop_rules: Vec<StopRule>,
    /// The way back from each halt.
    pub ways_back: Vec<WayBack>,
    /// What a sound machine reports afterwards. [`ModuleFact::shown_by`] says which sources can show a fact; where a module sits, whether it works
    /// and how fast it runs only the machine itself can.
    pub expected: Report,
    /// The warnings and errors that what is there afterwards carries.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub findings: Vec<Finding>,
}

/// Modules that must be brought.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Supply {
    /// Where they come from, as far as it was said.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<ModuleSource>,
    /// The module.
    pub module: MemoryModule,
    /// Which one it is, where just this one is meant.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub individual: Option<Individual>,
    /// How many.
    pub count: usize,
}

/// When to stop at once: photograph, touch nothing more, and ring whoever gave the order.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum StopRule {
    /// Another serial number where one is listed.
    OtherSerial,
    /// A slot that the order calls empty, and that is not.
    SlotNotEmpty,
    /// A module that is not as listed.
    OtherModule,
    /// A latch that does not close, or no click.
    NoClick,
    /// Damage.
    Damage,
    /// Smoke, or a smell of burning.
    SmokeOrSmell,
    /// It does not start.
    DoesNotStart,
    /// Beeps, or a lamp that tells of a fault.
    FaultSignal,
    /// A trial start that does not show what is listed.
    OtherTrial,
    /// A report that is not as expected.
    OtherReport,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

impl StopRule {
    /// Those of an order, with a trial start or without; with a start afterwards or without.
    pub(crate) fn all(has_trial: bool, starts: bool) -> Vec<Self> {
        let mut all = vec![
            Self::OtherSerial,
            Self::SlotNotEmpty,
            Self::OtherModule,
            Self::NoClick,
            Self::Damage,
            Self::SmokeOrSmell,
        ];
        if has_trial || starts {
            all.extend([Self::DoesNotStart, Self::FaultSignal]);
        }
        all.extend(has_trial.then_some(Self::OtherTrial));
        all.extend(starts.then_some(Self::OtherReport));
        all
    }
}

impl WorkOrder {
    /// The steps, in order.
    pub fn steps(&self) -> impl Iterator<Item = &Step> {
        self.lines.iter().filter_map(OrderLine::step)
    }

    /// The halts, in order.
    pub fn halts(&self) -> impl Iterator<Item = &Halt> {
        self.lines.iter().filter_map(OrderLine::halt)
    }

    /// The way back from a halt where no further module was found bad.
    #[must_use]
    pub fn way_back(&self, halt: &HaltAt) -> Option<&WayBack> {
        self.ways_back.iter().find(|way| way.from == *halt)
    }
}
