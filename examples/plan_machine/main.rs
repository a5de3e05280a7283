//! The main job: a machine, what it holds, what is on offer and what is wanted, read from files; a plan on
//! a page that a technician can pin up and a buyer can sign.
//!
//! ```sh
//! cargo run --example plan_machine
//! cargo run --example plan_machine -- MACHINE FITTED... OFFERS SHELF REQUEST
//! ```
//!
//! Without arguments it plans the demo in `examples/data`. What is fitted may be a list of labels by slot, or what the machine
//! and its modules report of themselves, in as many files as there are: see the example `read_machine`.

// an example talks to the terminal
#![allow(clippy::print_stderr)]

mod job;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use job::{Files, Job};
use slotwright::sheet::visible_lines;

fn main() -> ExitCode {
    let given: Vec<PathBuf> = std::env::args_os().skip(1).map(PathBuf::from).collect();
    let files = match given.as_slice() {
        [machine, fitted @ .., offers, shelf, request] if !fitted.is_empty() => Files {
            machine: machine.clone(),
            fitted: fitted.to_vec(),
            offers: offers.clone(),
            shelf: shelf.clone(),
            request: request.clone(),
        },
        [] => Files::demo(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data")),
        _ => {
            eprintln!(
                "wrong number of files: {}; usage: plan_machine [MACHINE FITTED... OFFERS SHELF REQUEST]",
                given.len()
            );
            return ExitCode::from(2);
        }
    };
    match Job::read(&files).and_then(|job| job.page()) {
        Ok(page) => match std::io::stdout().write_all(page.as_bytes()) {
            Ok(()) => ExitCode::SUCCESS,
            Err(_) => ExitCode::FAILURE,
        },
        Err(error) => {
            eprintln!("{}", visible_lines(&error));
            ExitCode::from(2)
        }
    }
}
