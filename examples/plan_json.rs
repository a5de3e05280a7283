//! How a service embeds the planner: one JSON document on standard input, the answer as JSON on standard
//! output.
//!
//! ```sh
//! cargo run --example plan_json < examples/data/plan_json.json
//! ```
//!
//! The document names a ready-made platform or holds one, says what sits in the sockets (names of the
//! platform's own processors, or descriptions), and carries a request, the settings of the rules and what is asked:
//!
//! | `"ask"` | answer |
//! |---|---|
//! | `"plan"`, or nothing | `Outcome`: the best plan, or why there is none |
//! | `{"plans": 3}` | `Plans`: the three best plans |
//! | `{"frontier": ["cost", "usable_capacity"]}` | `Frontier`: the plans that nothing beats on these axes |
//! | `{"break_even": "lot-1"}` | `BreakEvenOutcome`: between which prices of an offer the plan stays the best |
//! | `"savings"` | `Savings`: what accepting warnings would save |
//! | `{"stages": {...}}` | `Stages`: this request now, and that one later |
//! | `{"stand_ins": "A1"}` | a list of `StandIn`: what may replace the module in a slot |
//!
//! Bad input gives `{"error": {"in": ..., "problems": [...]}}` and exit code 2.

#[path = "question/mod.rs"]
pub(crate) mod question;

use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::process::ExitCode;

use question::{Answer, Question, Refusal};

fn main() -> ExitCode {
    let mut text = String::new();
    let answer = match std::io::stdin().read_to_string(&mut text) {
        Ok(_) => answer(&text),
        Err(error) => Err(Refusal::new("document", [error])),
    };
    let (written, code) = match answer {
        Ok(answer) => (serde_json::to_string_pretty(&answer), ExitCode::SUCCESS),
        Err(refusal) => (serde_json::to_string_pretty(&BTreeMap::from([("error", refusal)])), ExitCode::from(2)),
    };
    let written = written.map_err(std::io::Error::from);
    match written.and_then(|text| writeln!(std::io::stdout(), "{text}")) {
        Ok(()) => code,
        Err(_) => ExitCode::FAILURE,
    }
}

/// Answers the question that a document asks.
pub(crate) fn answer(text: &str) -> Result<Answer, Refusal> {
    Question::read(text)?.answer()
}
