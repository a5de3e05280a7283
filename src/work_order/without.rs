use std::cmp::Reverse;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::finding::{Finding, Severity};
use crate::population::{Population, PopulationError};
use crate::purchase::{NoStandIn, RequestError, StandIn};
use crate::stated::Schema;
use crate::unit::{Capacity, DataRate, Name, Names};

/// What is left of a machine when modules fail: every way to go on without them, the fewest handlings first.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, Population, RuleBook, reference};
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// use slotwright::work_order::WithoutWay;
///
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let slots = ["A1", "B1", "C1", "D1", "A2", "B2", "C2", "D2"];
/// let population = slots.iter().try_fold(Population::new(), |all, slot| {
///     Ok::<_, slotwright::unit::NameError>(all.with(slot.parse()?, module.clone()))
/// })?;
///
/// // A1 is the first of its channel: what is in A2 has to come forward
/// let answer = planner.without(&population, &["A1".parse()?])?;
/// let best = answer.best().unwrap();
/// assert_eq!((best.way, best.handlings), (WithoutWay::MovedForward, 3));
/// assert_eq!(best.usable_mib.whole_gib(), Some(224));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct WithoutAnswer {
    /// The version of the document's form.
    pub schema: Schema,
    /// The slots of the modules that fail.
    pub slots: Vec<Name>,
    /// The ways to go on, the fewest handlings first.
    pub ways: Vec<Without>,
    /// What else is worth saying.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<WithoutNote>,
    /// What may take the place of the modules, where that was asked.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stand_ins: Vec<SlotStandIns>,
}

/// One way to go on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Without {
    /// Which way.
    pub way: WithoutWay,
    /// What is in each slot then.
    pub population: Population,
    /// The slots whose modules the firmware takes out of use.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub mapped_out: Vec<Name>,
    /// The slots whose modules are taken out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub taken_out: Vec<Name>,
    /// The modules that move: from which slot, and to which.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub moved: Vec<(Name, Name)>,
    /// Modules taken out or put in; a move is two.
    pub handlings: usize,
    /// What is usable then.
    pub usable_mib: Capacity,
    /// The lowest running rate then, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_mts: Option<DataRate>,
    /// What the rules say of it.
    pub findings: Vec<Finding>,
    /// Whether it is not known that no fewer partners do as well. Looking ends at some hundred sets of partners.
    #[serde(default, skip_serializing_if = "is_false")]
    pub is_not_proved: bool,
}

// serde hands over a reference
#[allow(clippy::trivially_copy_pass_by_ref)]
const fn is_false(value: &bool) -> bool {
    !*value
}

/// A way to go on without a module.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum WithoutWay {
    /// It stays where it is, and the firmware takes it out of use.
    MappedOut,
    /// It alone is taken out.
    TakenOut,
    /// It is taken out, and another of its channel comes forward.
    MovedForward,
    /// Partners are taken out too, so that what is left is even.
    Evened,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

/// Something worth saying.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum WithoutNote {
    /// What the firmware takes out of use is not described, so that leaving the module where it is is not judged.
    MappedOutNotDescribed,
    /// The firmware takes all memory out of use: the machine does not start with it.
    DoesNotStart,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// What may take the place of the module of a slot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SlotStandIns {
    /// The slot.
    pub slot: Name,
    /// As [`Planner::stand_ins`](crate::assess::Planner::stand_ins) gives them.
    pub stand_ins: Vec<StandIn>,
    /// What else is on the shelf or on offer, and why it may not.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub others: Vec<NoStandIn>,
}

/// Why it cannot be said what is left.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum WithoutError {
    /// The population names slots that the board does not have.
    #[error(transparent)]
    Population(#[from] PopulationError),
    /// A slot that the board does not have.
    #[error("the board has no slot {slot}; its slots are {allowed}")]
    UnknownSlot {
        /// The label given.
        slot: Name,
        /// The labels that exist.
        allowed: Names,
    },
    /// A slot without a module.
    #[error("slot {slot} holds no module that could fail")]
    NoModule {
        /// The slot.
        slot: Name,
    },
    /// The request for stand-ins makes no sense.
    #[error(transparent)]
    Request(#[from] RequestError),
}

impl WithoutAnswer {
    /// The best way in which the modules are taken out: the fewest errors, then the fewest handlings, the most usable memory, the highest
    /// rate.
    #[must_use]
    pub fn best(&self) -> Option<&Without> {
        self.ways.iter().filter(|way| way.way != WithoutWay::MappedOut).min_by_key(|way| way.rank())
    }
}

impl Without {
    pub(crate) fn rank(&self) -> (usize, usize, Reverse<Capacity>, Reverse<Option<DataRate>>) {
        (count(&self.findings, Severity::Error), self.handlings, Reverse(self.usable_mib), Reverse(self.rate_mts))
    }

    /// How many errors it has, and how many warnings.
    #[must_use]
    pub fn faults(&self) -> (usize, usize) {
        faults(&self.findings)
    }
}

fn count(findings: &[Finding], severity: Severity) -> usize {
    findings.iter().filter(|finding| finding.severity == severity).count()
}

/// How many errors and warnings there are.
pub(crate) fn faults(findings: &[Finding]) -> (usize, usize) {
    (count(findings, Severity::Error), count(findings, Severity::Warning))
}
