//! What a machine reports of itself, read from files, laid on a board: what was understood, what disagrees, what is open and what
//! to ask, and then the assessment.
//!
//! ```sh
//! cargo run --example read_machine
//! cargo run --example read_machine -- [--machine MACHINE] [--request REQUEST --offers OFFERS] [--json] FILE...
//! ```
//!
//! What each file is, it finds out by itself. Without files it reads the demo in `examples/data`. Which board the machine is
//! follows from the name that it reports, or from a machine file of the example `plan_machine`.

// an example talks to the terminal
#![allow(clippy::print_stderr, clippy::print_stdout)]

mod page;

use std::path::PathBuf;
use std::process::ExitCode;

use page::Asked;
use slotwright::sheet::visible_lines;

fn main() -> ExitCode {
    let mut asked = Asked::default();
    let mut given = std::env::args_os().skip(1).map(PathBuf::from);
    while let Some(word) = given.next() {
        let option = match word.to_str() {
            Some("--json") => {
                asked.json = true;
                continue;
            }
            Some("--machine") => &mut asked.machine,
            Some("--request") => &mut asked.request,
            Some("--offers") => &mut asked.offers,
            Some(other) if other.starts_with("--") => {
                eprintln!(
                    "unknown option {}; there are --machine, --request, --offers and --json",
                    visible_lines(other)
                );
                return ExitCode::from(2);
            }
            _ => {
                asked.files.push(word);
                continue;
            }
        };
        *option = given.next();
        if option.is_none() {
            eprintln!("{} needs a file", visible_lines(&word.display().to_string()));
            return ExitCode::from(2);
        }
    }
    if asked.files.is_empty() {
        asked.demo();
    }
    match asked.page() {
        Ok(page) => {
            println!("{}", if asked.json { page } else { visible_lines(&page) });
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{}", visible_lines(&error));
            ExitCode::from(2)
        }
    }
}
