//! How a service embeds the planner: one JSON document on standard input, the outcome as JSON on standard
//! output.
//!
//! ```sh
//! cargo run --example plan_json < examples/data/plan_json.json
//! ```
//!
//! The document names a ready-made platform or holds one, says what sits in the sockets (names of the
//! platform's own processors, or descriptions), and carries a request and the settings of the rules. Bad
//! input gives `{"error": {"in": ..., "problems": [...]}}` and exit code 2.

use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::process::ExitCode;

use serde::{Deserialize, Serialize};
use serde_json::Value;
use slotwright::machine::{FittedProcessor, MachineDescription};
use slotwright::platform::{PlatformDescription, Settings};
use slotwright::stated::Schema;
use slotwright::{Outcome, PlanRequest, Planner, Platform, ProcessorDescription, RuleBook, RuleSettings, reference};

/// The whole question.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Question {
    schema: Schema,
    platform: Value,
    processors: BTreeMap<String, Value>,
    #[serde(default)]
    options: Vec<String>,
    #[serde(default)]
    settings: Settings,
    request: PlanRequest,
    #[serde(default)]
    rules: RuleSettings,
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
    fn new<T: ToString>(part: &'static str, problems: impl IntoIterator<Item = T>) -> Self {
        Self { part, problems: problems.into_iter().map(|problem| problem.to_string()).collect() }
    }
}

fn main() -> ExitCode {
    let mut text = String::new();
    let answer = match std::io::stdin().read_to_string(&mut text) {
        Ok(_) => answer(&text),
        Err(error) => Err(Refusal::new("document", [error])),
    };
    let (written, code) = match answer {
        Ok(outcome) => (serde_json::to_string_pretty(&outcome), ExitCode::SUCCESS),
        Err(refusal) => (serde_json::to_string_pretty(&BTreeMap::from([("error", refusal)])), ExitCode::from(2)),
    };
    let written = written.map_err(std::io::Error::from);
    match written.and_then(|text| writeln!(std::io::stdout(), "{text}")) {
        Ok(()) => code,
        Err(_) => ExitCode::FAILURE,
    }
}

/// Answers the question that a document asks.
pub(crate) fn answer(text: &str) -> Result<Outcome, Refusal> {
    let mut document = serde_json::Deserializer::from_str(text);
    let Question { schema, platform, processors, options, settings, request, rules } =
        serde_path_to_error::deserialize(&mut document).map_err(|error| Refusal::new("document", [error]))?;
    document.end().map_err(|error| Refusal::new("document", [error]))?;
    let platform = self::platform(platform)?;
    let processors = self::processors(processors)?;
    let machine = MachineDescription { schema, platform, processors, options, settings }
        .build()
        .map_err(|error| Refusal::new("machine", error.problems))?;
    let rules = RuleBook::standard().with_settings(&rules).map_err(|error| Refusal::new("rules", [error]))?;
    Planner::new(&machine, &rules).plan(&request).map_err(|error| Refusal::new("request", error.problems))
}

/// A platform by its name, or described.
fn platform(value: Value) -> Result<Platform, Refusal> {
    if let Value::String(name) = value {
        return reference::by_name(&name).ok_or_else(|| {
            let names: Vec<_> = reference::all().iter().map(|(name, _)| *name).collect();
            Refusal::new("platform", [format!("there is no ready-made {name:?}; there are {}", names.join(", "))])
        });
    }
    let described: PlatformDescription =
        serde_path_to_error::deserialize(value).map_err(|error| Refusal::new("platform", [error]))?;
    described.build().map_err(|error| Refusal::new("platform", error.problems))
}

/// What sits in each socket: a processor by its name, or described.
fn processors(values: BTreeMap<String, Value>) -> Result<BTreeMap<String, FittedProcessor>, Refusal> {
    let mut problems = Vec::new();
    let mut processors = BTreeMap::new();
    for (socket, value) in values {
        let fitted = match value {
            Value::String(name) => Ok(FittedProcessor::Named(name)),
            value => serde_path_to_error::deserialize::<_, ProcessorDescription>(value)
                .map_err(|error| vec![error.to_string()])
                .and_then(|described| {
                    described.build().map_err(|error| error.problems.iter().map(ToString::to_string).collect())
                })
                .map(FittedProcessor::Described),
        };
        match fitted {
            Ok(fitted) => drop(processors.insert(socket, fitted)),
            Err(found) => problems.extend(found.iter().map(|problem| format!("socket {socket}: {problem}"))),
        }
    }
    if problems.is_empty() { Ok(processors) } else { Err(Refusal::new("processors", problems)) }
}
