//! The main job: a machine, what it holds, what is on offer and what is wanted, read from files; a plan on
//! a page that a technician can pin up and a buyer can sign.
//!
//! ```sh
//! cargo run --example plan_machine
//! cargo run --example plan_machine -- MACHINE FITTED OFFERS SHELF REQUEST
//! ```
//!
//! Without arguments it plans the demo in `examples/data`.

// an example talks to the terminal
#![allow(clippy::print_stderr)]

mod job;

use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use job::{Files, Job};

fn main() -> ExitCode {
    let given: Vec<PathBuf> = std::env::args_os().skip(1).map(PathBuf::from).collect();
    let files = match <[PathBuf; 5]>::try_from(given) {
        Ok([machine, fitted, offers, shelf, request]) => Files { machine, fitted, offers, shelf, request },
        Err(given) if given.is_empty() => Files::demo(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data")),
        Err(given) => {
            eprintln!(
                "wrong number of files: {}; usage: plan_machine [MACHINE FITTED OFFERS SHELF REQUEST]",
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
            eprintln!("{error}");
            ExitCode::from(2)
        }
    }
}
