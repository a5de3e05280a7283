use core::fmt;
use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::acceptance::{
    AcceptanceCheck, AcceptanceRequest, AcceptanceVerdict, CheckNote, Condition, MachineCheck, ModeCheck, RateCheck,
    SlotHolds, SlotVerdict, TestOutcome, Told, TotalCheck,
};
use crate::finding::Finding;
use crate::module::MemoryModule;
use crate::population::{self, ErrorCounter, Fitted, ModuleFact, Population, ReportDate};
use crate::purchase::Pulled;
use crate::stated::Schema;
use crate::unit::{DataRate, Name};

/// What is kept of an accepted piece of work: for its owner, and for whoever works on the machine next.
///
/// ```
/// use slotwright::acceptance::{AcceptanceRecord, AcceptanceRequest, RecordedTest, TestOutcome};
/// use slotwright::population::{Observed, Population};
/// use slotwright::{Label, Machine, Name, Planner, RuleBook, reference};
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// let rules = RuleBook::standard();
/// let planner = Planner::new(&machine, &rules);
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let planned = Population::new().with("A1".parse()?, module);
/// let report = planner.expected_report(&planned, None, &[])?;
/// // the report names no machine: somebody read its serial number
/// let request = AcceptanceRequest::new(planned, Observed::from(report)).serial_read(Name::new("GW-0417")?);
/// let record = AcceptanceRecord::of(&request, &planner.acceptance(&request)?)
///     .by(Name::new("M. Weber")?)
///     .tests([RecordedTest::new(Name::new("memory test")?, Name::new("no errors")?).outcome(TestOutcome::Passed)]);
/// assert!(record.credits_are_due());
/// // one that fails holds them back
/// let failed = RecordedTest::new(Name::new("memory test")?, Name::new("3 errors")?).outcome(TestOutcome::Failed);
/// assert!(!record.tests([failed]).credits_are_due());
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
    /// The name of the board's description.
    pub platform: Name,
    /// The machine as it was planned and as its report names it, with the version of its firmware, and whether the two are one.
    pub machine: MachineCheck,
    /// What was there before the work, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub before: Option<Population>,
    /// What was planned. What was seen is in `after`.
    pub planned: Population,
    /// What was seen in each slot after the work, with serial numbers as reported.
    pub after: Vec<RecordedSlot>,
    /// What came out for good: of what was there before, the modules that were not planned to stay. What is credited for each is the caller's word.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub taken_out: Vec<Pulled>,
    /// When the report was made that was held against the plan.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub reported: Option<ReportDate>,
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
    /// When it was accepted, in the caller's word; that is not the date of the report.
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
    /// What was seen in it.
    pub holds: SlotHolds,
    /// Facts of it that the report does not tell of this slot, and that are taken from modules of the same part number.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub inferred: Vec<ModuleFact>,
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
    /// Whether that is a pass.
    #[serde(default)]
    pub outcome: TestOutcome,
}

impl RecordedTest {
    /// A test and what it said.
    #[must_use]
    pub fn new(sort: Name, result: Name) -> Self {
        Self { sort, length: None, result, outcome: TestOutcome::NotSaid }
    }

    setters! {
        some length(length: Name);
        value outcome(outcome: TestOutcome);
    }
}

impl AcceptanceRecord {
    /// The record of an acceptance.
    #[must_use]
    pub fn of(request: &AcceptanceRequest, check: &AcceptanceCheck) -> Self {
        let slot = |slot: &crate::acceptance::SlotCheck| RecordedSlot {
            slot: slot.slot.clone(),
            verdict: slot.verdict,
            holds: SlotHolds::of(slot),
            inferred: slot.inferred.clone(),
            running_rate_mts: slot.running_rate_mts,
        };
        let counters =
            crate::acceptance::pieces::machine_reports(&request.observed).flat_map(|report| &report.counters);
        Self {
            schema: Schema,
            verdict: check.verdict,
            notes: check.notes.clone(),
            platform: check.platform.clone(),
            machine: check.machine.clone(),
            before: request.before.clone(),
            planned: request.planned.clone(),
            after: check.slots.iter().map(slot).collect(),
            taken_out: taken_out(request, check),
            reported: check.time.reported.clone(),
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
        value taken_out(taken_out: Vec<Pulled>);
        some by(by: Name);
        some on(on: ReportDate);
    }

    /// Tests that failed.
    pub fn failed_tests(&self) -> impl Iterator<Item = &RecordedTest> {
        self.tests.iter().filter(|test| test.outcome == TestOutcome::Failed)
    }

    /// Tests of which it is not said that they passed or failed: they are to be run or judged.
    pub fn open_tests(&self) -> impl Iterator<Item = &RecordedTest> {
        self.tests.iter().filter(|test| !matches!(test.outcome, TestOutcome::Passed | TestOutcome::Failed))
    }

    /// Whether credits for what was taken out are due: they are once the work is accepted, the machine is known to be the planned one, by its report or
    /// by who read its serial number, and all tests that are given have passed.
    #[must_use]
    pub fn credits_are_due(&self) -> bool {
        self.verdict == AcceptanceVerdict::AsPlanned
            && self.machine.is_it == Told::Yes
            && self.tests.iter().all(|test| test.outcome == TestOutcome::Passed)
    }
}

/// The modules of before that do not stay. One that is named stays where it is planned or read; of the others, as many of equal facts stay as are
/// planned, those in their own slots first.
fn taken_out(request: &AcceptanceRequest, check: &AcceptanceCheck) -> Vec<Pulled> {
    let Some(before) = &request.before else { return Vec::new() };
    let number = |fitted: &Fitted| fitted.individual.as_ref().and_then(|one| population::serial(one.id.as_str()));
    let read = check.slots.iter().filter_map(|slot| slot.reported.as_ref()?.serial.as_ref());
    let read: BTreeSet<String> = read.filter_map(|serial| population::serial(serial.as_str())).collect();
    let named: BTreeSet<String> = request.planned.modules().filter_map(|(_, fitted)| number(fitted)).collect();
    let was: BTreeSet<String> = before.modules().filter_map(|(_, fitted)| number(fitted)).collect();
    let stays = |fitted: &Fitted| number(fitted).map(|own| named.contains(&own) || read.contains(&own));
    let is_out = |fitted: &Fitted| stays(fitted) == Some(false) && !read.is_empty();
    // what is planned, without those that are named before
    let is_free = |(_, fitted): &(&Name, &Fitted)| number(fitted).is_none_or(|own| !was.contains(&own));
    let mut planned: Vec<(&Name, &MemoryModule)> =
        request.planned.modules().filter(is_free).map(|(slot, fitted)| (slot, &fitted.module)).collect();
    // one that is read stays for one of the planned ones, too
    let mut take = |slot: Option<&Name>, module: &MemoryModule| {
        let found = planned.iter().position(|(own, other)| *other == module && slot.is_none_or(|slot| *own == slot));
        found.map(|at| planned.remove(at)).is_some()
    };
    let mut left: Vec<(&Name, &Fitted)> = Vec::new();
    for (slot, fitted) in before.modules() {
        match stays(fitted) {
            Some(true) => {
                let is_named = number(fitted).is_some_and(|own| named.contains(&own));
                let _ = is_named || take(None, &fitted.module);
            }
            _ if fitted.fault.is_none() && !is_out(fitted) && take(Some(slot), &fitted.module) => {}
            _ => left.push((slot, fitted)),
        }
    }
    left.retain(|(_, fitted)| fitted.fault.is_some() || is_out(fitted) || !take(None, &fitted.module));
    let pulled = |(slot, fitted): (&Name, &Fitted)| Pulled {
        slot: slot.clone(),
        module: fitted.module.clone(),
        individual: fitted.individual.clone(),
        fault: fitted.fault,
        credit: None,
    };
    left.into_iter().map(pulled).collect()
}

/// One sentence.
impl fmt::Display for AcceptanceRecord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.machine.identity(), self.verdict)?;
        self.failed_tests().try_for_each(|test| write!(f, ", {} failed", test.sort))?;
        self.by.iter().try_for_each(|by| write!(f, ", accepted by {by}"))?;
        self.on.iter().try_for_each(|on| write!(f, " on {on}"))
    }
}
