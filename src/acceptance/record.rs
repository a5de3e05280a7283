use core::fmt;

use serde::{Deserialize, Serialize};

use crate::acceptance::{
    AcceptanceCheck, AcceptanceRequest, AcceptanceVerdict, CheckNote, Condition, ModeCheck, RateCheck, SlotVerdict,
    TotalCheck,
};
use crate::finding::Finding;
use crate::population::{ErrorCounter, MachineIdentity, Population, ReportDate, SeenModule};
use crate::stated::Schema;
use crate::unit::{DataRate, Name};

/// What is kept of an accepted piece of work: for its owner, and for whoever works on the machine next.
///
/// ```
/// use slotwright::acceptance::{AcceptanceRecord, AcceptanceRequest, RecordedTest};
/// use slotwright::population::{Observed, Population};
/// use slotwright::{Label, Machine, Name, Planner, RuleBook, reference};
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// let rules = RuleBook::standard();
/// let planner = Planner::new(&machine, &rules);
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let planned = Population::new().with("A1".parse()?, module);
/// let report = planner.report_after(&planned, None, &[])?;
/// let request = AcceptanceRequest::new(planned, Observed::from(report));
/// let record = AcceptanceRecord::of(&request, &planner.acceptance(&request)?)
///     .by(Name::new("M. Weber")?)
///     .tests([RecordedTest::new(Name::new("memory test")?, Name::new("passed")?).length(Name::new("4 hours")?)]);
/// assert!(record.credits_are_due());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct AcceptanceRecord {
    /// The version of the document's form.
    pub schema: Schema,
    /// What it came to.
    pub verdict: AcceptanceVerdict,
    /// What is said with it before anything else.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<CheckNote>,
    /// The machine, as its report names it, with the version of its firmware.
    pub machine: MachineIdentity,
    /// What was there before the work, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<Population>,
    /// What was planned.
    pub after: Population,
    /// The slots, with serial numbers as reported.
    pub slots: Vec<RecordedSlot>,
    /// The totals.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub totals: Vec<TotalCheck>,
    /// The running rates.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub rates: Vec<RateCheck>,
    /// The mode.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mode: Option<ModeCheck>,
    /// What the report did not tell.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub conditions: Vec<Condition>,
    /// Findings on the population that the owner accepts.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub findings_accepted: Vec<Finding>,
    /// Counts of errors as the reports give them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub counters: Vec<ErrorCounter>,
    /// Tests, in the caller's word.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub tests: Vec<RecordedTest>,
    /// Who accepts it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<Name>,
    /// When.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub on: Option<ReportDate>,
}

/// A slot of a record.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RecordedSlot {
    /// Its label.
    pub slot: Name,
    /// What the comparison came to.
    pub verdict: SlotVerdict,
    /// What is reported of its module.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub module: Option<SeenModule>,
    /// The rate at which it is reported to run.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub running_rate_mts: Option<DataRate>,
}

/// A test in the caller's word.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RecordedTest {
    /// What sort of test.
    pub sort: Name,
    /// How long.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub length: Option<Name>,
    /// What it said.
    pub result: Name,
}

impl RecordedTest {
    /// A test and what it said.
    #[must_use]
    pub fn new(sort: Name, result: Name) -> Self {
        Self { sort, length: None, result }
    }

    setters! {
        some length(length: Name);
    }
}

impl AcceptanceRecord {
    /// The record of an acceptance.
    #[must_use]
    pub fn of(request: &AcceptanceRequest, check: &AcceptanceCheck) -> Self {
        let slot = |slot: &crate::acceptance::SlotCheck| RecordedSlot {
            slot: slot.slot.clone(),
            verdict: slot.verdict,
            module: slot.reported.clone(),
            running_rate_mts: slot.running_rate_mts,
        };
        let counters =
            crate::acceptance::pieces::machine_reports(&request.observed).flat_map(|report| &report.counters);
        Self {
            schema: Schema,
            verdict: check.verdict,
            notes: check.notes.clone(),
            machine: check.machine.reported.clone(),
            before: request.before.clone(),
            after: request.planned.clone(),
            slots: check.slots.iter().map(slot).collect(),
            totals: check.totals.clone(),
            rates: check.rates.clone(),
            mode: check.mode.clone(),
            conditions: check.conditions.clone(),
            findings_accepted: Vec::new(),
            counters: counters.cloned().collect(),
            tests: Vec::new(),
            by: None,
            on: None,
        }
    }

    setters! {
        each findings_accepted(findings_accepted: Finding);
        each tests(tests: RecordedTest);
        some by(by: Name);
        some on(on: ReportDate);
    }

    /// Whether credits for what was taken out are due: they are once the work is accepted.
    #[must_use]
    pub fn credits_are_due(&self) -> bool {
        self.verdict == AcceptanceVerdict::AsPlanned
    }
}

/// One sentence.
impl fmt::Display for AcceptanceRecord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.machine, self.verdict)?;
        self.by.iter().try_for_each(|by| write!(f, ", accepted by {by}"))?;
        self.on.iter().try_for_each(|on| write!(f, " on {on}"))
    }
}
