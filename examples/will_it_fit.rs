//! Says of modules, by the text on their labels, whether a ready-made machine takes them: where, how
//! many, at what rate, or why not.
//!
//! ```sh
//! cargo run --example will_it_fit -- ddr4-2s-4ch-3spc "32GB 2Rx4 PC4-2400T-RB2-11" "64GB 2Rx4 PC4-3200AA-RB2-14"
//! ```
//!
//! Every socket holds the last of the processors that the platform describes. A label that cannot be read
//! is shown with a mark under the place, and gives exit code 2.

// an example talks to the terminal
#![allow(clippy::print_stderr)]

use std::io::Write;
use std::process::ExitCode;

use slotwright::sheet::visible_lines;
use slotwright::{Label, Machine, Planner, RuleBook, reference};

fn main() -> ExitCode {
    let arguments: Vec<String> =
        std::env::args_os().skip(1).map(|argument| argument.to_string_lossy().into_owned()).collect();
    let Some((name, labels)) = arguments.split_first().filter(|(_, labels)| !labels.is_empty()) else {
        eprintln!("usage: will_it_fit PLATFORM LABEL...");
        eprintln!("platforms: {}", names());
        return ExitCode::from(2);
    };
    let (text, all_read) = match answer(name, labels) {
        Ok(answer) => answer,
        Err(error) => {
            eprintln!("{}", visible_lines(&error));
            return ExitCode::from(2);
        }
    };
    match std::io::stdout().write_all(visible_lines(&text).as_bytes()) {
        Ok(()) if all_read => ExitCode::SUCCESS,
        Ok(()) => ExitCode::from(2),
        Err(_) => ExitCode::FAILURE,
    }
}

/// What is to be said of the labels, and whether all of them could be read.
pub(crate) fn answer(platform: &str, labels: &[String]) -> Result<(String, bool), String> {
    let machine = machine(platform)?;
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let mut all_read = true;
    let mut answers = Vec::new();
    for text in labels {
        answers.push(match text.parse::<Label>() {
            Ok(label) => format!("{label}\n{}\n", planner.accepts(label.module())),
            Err(error) => {
                all_read = false;
                let span = error.span();
                let count = |part: Option<&str>| part.map_or(0, |part| part.chars().count());
                let mark = "^".repeat(count(text.get(span.clone())).max(1));
                format!("{text}\n{}{mark}\n{error}\n", " ".repeat(count(text.get(..span.start))))
            }
        });
    }
    Ok((answers.join("\n"), all_read))
}

fn names() -> String {
    reference::all().iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", ")
}

/// The platform with its last processor in every socket.
fn machine(name: &str) -> Result<Machine, String> {
    let platform = reference::by_name(name)
        .ok_or_else(|| format!("there is no ready-made platform {name:?}; there are {}", names()))?;
    let processor =
        platform.description().processors.last().cloned().ok_or_else(|| format!("{name} describes no processor"))?;
    let sockets: Vec<_> = platform.sockets().iter().map(|socket| socket.label.clone()).collect();
    let machine = sockets
        .iter()
        .fold(Machine::builder(platform), |machine, socket| machine.processor(socket.as_str(), processor.clone()));
    machine.build().map_err(|error| error.to_string())
}
