//! How a service embeds the planner: one JSON document on standard input, the outcome as JSON on standard
//! output.
//!
//! ```sh
//! cargo run --example plan_json < examples/data/plan_json.json
//! ```
//!
//! The document names a ready-made platform or holds one, says what sits in the sockets, and carries a
//! request and the settings of the rules. Bad input gives `{"error": ...}` and exit code 2.

// an example talks to the terminal
#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::collections::BTreeMap;
use std::error::Error;
use std::io::Read;
use std::process::ExitCode;

use serde::Deserialize;
use slotwright::machine::{FittedProcessor, MachineDescription};
use slotwright::platform::Settings;
use slotwright::stated::Schema;
use slotwright::{Outcome, PlanRequest, Planner, Platform, RuleBook, RuleSettings, reference};

/// The whole question.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Question {
    schema: Schema,
    platform: serde_json::Value,
    processors: BTreeMap<String, FittedProcessor>,
    #[serde(default)]
    options: Vec<String>,
    #[serde(default)]
    settings: Settings,
    request: PlanRequest,
    #[serde(default)]
    rules: RuleSettings,
}

fn main() -> ExitCode {
    match answer() {
        Ok(outcome) => match serde_json::to_string_pretty(&outcome) {
            Ok(text) => {
                println!("{text}");
                ExitCode::SUCCESS
            }
            Err(error) => fail(&error.to_string()),
        },
        Err(error) => fail(&error.to_string()),
    }
}

fn fail(error: &str) -> ExitCode {
    println!("{}", serde_json::json!({ "error": error }));
    ExitCode::from(2)
}

fn answer() -> Result<Outcome, Box<dyn Error>> {
    let mut text = String::new();
    std::io::stdin().read_to_string(&mut text)?;
    let Question { schema, platform, processors, options, settings, request, rules } = serde_json::from_str(&text)?;
    let platform: Platform = match platform {
        serde_json::Value::String(name) => reference::by_name(&name).ok_or_else(|| {
            let names: Vec<_> = reference::all().iter().map(|(name, _)| *name).collect();
            format!("there is no ready-made platform {name:?}; there are {}", names.join(", "))
        })?,
        described => serde_json::from_value(described).map_err(|error| format!("platform: {error}"))?,
    };
    let machine = MachineDescription { schema, platform, processors, options, settings }.build()?;
    let rules = RuleBook::standard().with_settings(&rules)?;
    Ok(Planner::new(&machine, &rules).plan(&request)?)
}
