//! How another language uses the planner: one JSON document on standard input, one on standard output.
//!
//! ```sh
//! cargo run --example plan_json < examples/data/plan_json.json
//! ```
//!
//! The document is a `Question`: a machine, a request, and what is asked; `slotwright::question` lists every verb. Bad input
//! gives `{"error": {"in": ..., "problems": [{"text": ..., "data": ...}]}}` and exit code 2.

use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::process::ExitCode;

use serde::Serialize;
use serde_json::{Value, json};
use slotwright::question::{Answer, Question};

fn main() -> ExitCode {
    let mut text = String::new();
    let answer = match std::io::stdin().read_to_string(&mut text) {
        Ok(_) => answer(&text),
        Err(error) => Err(unreadable(&error)),
    };
    let (written, code) = match answer {
        Ok(answer) => (serde_json::to_string_pretty(&answer), ExitCode::SUCCESS),
        Err(error) => (serde_json::to_string_pretty(&BTreeMap::from([("error", error)])), ExitCode::from(2)),
    };
    let written = written.map_err(std::io::Error::from);
    match written.and_then(|text| writeln!(std::io::stdout(), "{text}")) {
        Ok(()) => code,
        Err(_) => ExitCode::FAILURE,
    }
}

/// Answers the question that a document asks.
pub(crate) fn answer(text: &str) -> Result<Answer, Value> {
    read(text)?.answer().map_err(|error| as_value(&error))
}

/// Reads a question; what does not read is told with its path.
pub(crate) fn read(text: &str) -> Result<Question, Value> {
    let mut document = serde_json::Deserializer::from_str(text);
    let question = serde_path_to_error::deserialize(&mut document).map_err(|error| unreadable(&error))?;
    document.end().map_err(|error| unreadable(&error))?;
    Ok(question)
}

fn unreadable(error: &dyn std::error::Error) -> Value {
    json!({ "in": "document", "problems": [{ "text": error.to_string() }] })
}

fn as_value(error: &impl Serialize) -> Value {
    serde_json::to_value(error).unwrap_or_else(|error| unreadable(&error))
}
