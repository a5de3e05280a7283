use core::fmt;

use serde::{Deserialize, Serialize};

use crate::acceptance::{Effort, FaultSort, Shown, Step};
use crate::unit::Name;

/// What to do next: the least effort that tells the faults in question apart, or what mends them all.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct NextStep {
    /// What to do.
    pub step: Step,
    /// How much that asks for.
    pub effort: Effort,
    /// The slots that it is about, all of them.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub slots: Vec<Name>,
    /// Whether it mends whatever it is, so that there is nothing to tell apart.
    pub is_remedy: bool,
    /// What it may show, and what that would mean.
    pub outcomes: Vec<NextOutcome>,
}

/// What a step may show.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct NextOutcome {
    /// What.
    pub shows: Shown,
    /// What it may be then.
    pub means: Vec<FaultSort>,
    /// What mends it, where that is one thing for all.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub remedy: Option<Step>,
}

impl NextStep {
    /// The next step where it may be any of these.
    pub(crate) fn among(sorts: &[FaultSort], slots: Vec<Name>) -> Self {
        Self::by(&Step::TESTS, sorts, slots)
    }

    /// What to do once the step has shown this; nothing where one thing mends it.
    #[must_use]
    pub fn following(&self, outcome: &NextOutcome) -> Option<Self> {
        if outcome.remedy.is_some() || outcome.means.is_empty() {
            return None;
        }
        let done = Step::TESTS.iter().position(|step| *step == self.step)?;
        let left = Step::TESTS.get(done + 1..).unwrap_or_default();
        let next = Self::by(left, &outcome.means, self.slots.clone());
        left.contains(&next.step).then_some(next)
    }

    /// Adds what another group of causes asks of the same step.
    pub(crate) fn merge(&mut self, next: &Self) {
        for slot in &next.slots {
            if !self.slots.contains(slot) {
                self.slots.push(slot.clone());
            }
        }
        for outcome in &next.outcomes {
            match self.outcomes.iter_mut().find(|own| own.shows == outcome.shows) {
                Some(own) => {
                    own.means.extend(outcome.means.iter().copied());
                    own.means.sort();
                    own.means.dedup();
                    own.remedy = own.remedy.filter(|remedy| outcome.remedy == Some(*remedy));
                }
                None => self.outcomes.push(outcome.clone()),
            }
        }
        self.outcomes.sort_by_key(|outcome| outcome.shows);
    }

    /// The next step of some tests.
    fn by(tests: &[Step], sorts: &[FaultSort], slots: Vec<Name>) -> Self {
        let mut sorts = sorts.to_vec();
        sorts.sort();
        sorts.dedup();
        let remedy = |sorts: &[FaultSort]| {
            let first = sorts.first()?.remedy();
            sorts.iter().all(|sort| sort.remedy() == first).then_some(first)
        };
        let splits = |step: &Step| {
            sorts.first().is_some_and(|first| sorts.iter().any(|sort| sort.shows(*step) != first.shows(*step)))
        };
        let is_remedy = remedy(&sorts).is_some();
        // what mends them all needs no test
        let step = remedy(&sorts).or_else(|| tests.iter().copied().find(splits)).unwrap_or(Step::NewReport);
        let mut outcomes: Vec<NextOutcome> = Vec::new();
        for sort in &sorts {
            let shown: &[Shown] = if is_remedy { &[Shown::AsPlanned] } else { sort.shows(step) };
            for shows in shown {
                match outcomes.iter_mut().find(|outcome| outcome.shows == *shows) {
                    Some(outcome) => outcome.means.push(*sort),
                    None => outcomes.push(NextOutcome { shows: *shows, means: vec![*sort], remedy: None }),
                }
            }
        }
        outcomes.sort_by_key(|outcome| outcome.shows);
        for outcome in &mut outcomes {
            // what the label shows is not read again
            outcome.remedy = remedy(&outcome.means).map(|remedy| match remedy {
                Step::ReadLabels if step == Step::ReadLabels => Step::Exchange,
                Step::ReadManual if step == Step::ReadManual => Step::CorrectDescription,
                remedy => remedy,
            });
        }
        if is_remedy && step == Step::NewReport {
            outcomes.push(NextOutcome { shows: Shown::SameAgain, means: Vec::new(), remedy: Some(Step::ReadMachine) });
        }
        Self { step, effort: step.effort(), slots, is_remedy, outcomes }
    }
}

/// One sentence.
impl fmt::Display for NextStep {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.step)?;
        match self.slots.as_slice() {
            [] => {}
            slots => {
                let slots = slots.iter().map(Name::as_str).collect::<Vec<_>>().join(", ");
                write!(f, " ({slots})")?;
            }
        }
        if self.is_remedy {
            return Ok(());
        }
        let outcome = |outcome: &NextOutcome| {
            let means = outcome.means.iter().map(ToString::to_string).collect::<Vec<_>>().join("; or ");
            format!("{}: {means}", outcome.shows)
        };
        write!(f, "; {}", self.outcomes.iter().map(outcome).collect::<Vec<_>>().join(" | "))
    }
}
