//! A question as one JSON document: a machine, a request, the settings of the rules, and what is asked.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use serde_json::Value;
use slotwright::machine::{FittedProcessor, MachineDescription};
use slotwright::platform::{PlatformDescription, Settings};
use slotwright::purchase::{Axis, BreakEvenOutcome, Frontier, Plans, RequestError, Savings, Stages, StandIn};
use slotwright::stated::Schema;
use slotwright::{
    Machine, Outcome, PlanRequest, Planner, Platform, ProcessorDescription, RuleBook, RuleSettings, reference,
};

/// The whole question.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct Question {
    #[serde(rename = "schema")]
    _schema: Schema,
    /// The name of a ready-made platform, or a description.
    pub(crate) platform: Value,
    /// By socket: the name of one of the platform's own processors, or a description.
    pub(crate) processors: BTreeMap<String, Value>,
    #[serde(default)]
    pub(crate) options: Vec<String>,
    #[serde(default)]
    pub(crate) settings: Settings,
    pub(crate) request: PlanRequest,
    #[serde(default)]
    pub(crate) rules: RuleSettings,
    #[serde(default)]
    pub(crate) ask: Ask,
}

/// What is asked of a request.
#[derive(Debug, Default, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Ask {
    /// The best plan, or why there is none.
    #[default]
    Plan,
    /// So many of the best plans.
    Plans(usize),
    /// The plans that nothing beats on some axes.
    Frontier(Vec<Axis>),
    /// Between which prices of an offer the best plan stays the best.
    BreakEven(String),
    /// What accepting warnings would save.
    Savings,
    /// This request now and another one later.
    Stages(Box<PlanRequest>),
    /// What may replace the module in a slot.
    StandIns(String),
}

/// What is answered; each as its own document.
#[derive(Debug, Serialize)]
#[serde(untagged)]
#[allow(clippy::large_enum_variant)]
pub(crate) enum Answer {
    Plan(Outcome),
    Plans(Plans),
    Frontier(Frontier),
    BreakEven(BreakEvenOutcome),
    Savings(Savings),
    Stages(Stages),
    StandIns(Vec<StandIn>),
}

/// What is wrong with a question.
#[derive(Debug, Serialize)]
pub(crate) struct Refusal {
    /// The part of the document.
    #[serde(rename = "in")]
    part: &'static str,
    /// Every problem found there.
    problems: Vec<String>,
}

impl Refusal {
    pub(crate) fn new<T: ToString>(part: &'static str, problems: impl IntoIterator<Item = T>) -> Self {
        Self { part, problems: problems.into_iter().map(|problem| problem.to_string()).collect() }
    }
}

impl std::fmt::Display for Refusal {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}: {}", self.part, self.problems.join("; "))
    }
}

impl Question {
    /// Reads a document.
    pub(crate) fn read(text: &str) -> Result<Self, Refusal> {
        let mut document = serde_json::Deserializer::from_str(text);
        let question = serde_path_to_error::deserialize(&mut document);
        let question = question.map_err(|error| Refusal::new("document", [error]))?;
        document.end().map_err(|error| Refusal::new("document", [error]))?;
        Ok(question)
    }

    /// The machine and the rules.
    pub(crate) fn context(&self) -> Result<(Machine, RuleBook), Refusal> {
        let description = MachineDescription::new(platform(&self.platform)?)
            .processors(processors(&self.processors)?)
            .options(self.options.iter().cloned())
            .settings(self.settings.clone());
        let machine = description.build().map_err(|error| Refusal::new("machine", error.problems))?;
        let rules = RuleBook::standard().with_settings(&self.rules).map_err(|error| Refusal::new("rules", [error]))?;
        Ok((machine, rules))
    }

    /// Answers what is asked.
    pub(crate) fn answer(&self) -> Result<Answer, Refusal> {
        let (machine, rules) = self.context()?;
        let planner = Planner::new(&machine, &rules);
        let request = &self.request;
        let answer = match &self.ask {
            Ask::Plan => planner.plan(request).map(Answer::Plan),
            Ask::Plans(most) => planner.plans(request, *most).map(Answer::Plans),
            Ask::Frontier(axes) => planner.frontier(request, axes.iter().copied()).map(Answer::Frontier),
            Ask::BreakEven(offer) => planner.break_even(request, offer).map(Answer::BreakEven),
            Ask::Savings => planner.savings(request).map(Answer::Savings),
            Ask::Stages(later) => planner.stages(request, later).map(Answer::Stages),
            Ask::StandIns(slot) => planner.stand_ins(request, slot).map(Answer::StandIns),
        };
        answer.map_err(|RequestError { problems, .. }| Refusal::new("request", problems))
    }
}

/// A platform by its name, or described.
fn platform(value: &Value) -> Result<Platform, Refusal> {
    if let Value::String(name) = value {
        return reference::by_name(name).ok_or_else(|| {
            let names: Vec<_> = reference::all().iter().map(|(name, _)| *name).collect();
            Refusal::new("platform", [format!("there is no ready-made {name:?}; there are {}", names.join(", "))])
        });
    }
    let described: PlatformDescription =
        serde_path_to_error::deserialize(value).map_err(|error| Refusal::new("platform", [error]))?;
    described.build().map_err(|error| Refusal::new("platform", error.problems))
}

/// What sits in each socket: a processor by its name, or described.
fn processors(values: &BTreeMap<String, Value>) -> Result<BTreeMap<String, FittedProcessor>, Refusal> {
    let mut problems = Vec::new();
    let mut processors = BTreeMap::new();
    for (socket, value) in values {
        let fitted = match value {
            Value::String(name) => Ok(FittedProcessor::Named(name.clone())),
            value => serde_path_to_error::deserialize::<_, ProcessorDescription>(value)
                .map_err(|error| vec![error.to_string()])
                .and_then(|described| {
                    described.build().map_err(|error| error.problems.iter().map(ToString::to_string).collect())
                })
                .map(FittedProcessor::Described),
        };
        match fitted {
            Ok(fitted) => drop(processors.insert(socket.clone(), fitted)),
            Err(found) => problems.extend(found.iter().map(|problem| format!("socket {socket}: {problem}"))),
        }
    }
    if problems.is_empty() { Ok(processors) } else { Err(Refusal::new("processors", problems)) }
}
