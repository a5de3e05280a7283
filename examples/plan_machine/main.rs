//! The main job: a machine, what it holds, what is on offer and what is wanted, read from files; a plan on
//! a page that a technician can pin up and a buyer can sign.
//!
//! ```sh
//! cargo run --example plan_machine
//! cargo run --example plan_machine -- MACHINE FITTED OFFERS SHELF REQUEST
//! ```

// an example talks to the terminal
#![allow(clippy::print_stdout, clippy::print_stderr)]

mod page;
mod read;

use std::process::ExitCode;

/// Reads the files of a job and plans it.
fn page([machine, fitted, offers, shelf, request]: &[String; 5]) -> Result<String, String> {
    let machine = read::machine(machine)?;
    let request =
        read::request(request)?.present(read::fitted(fitted)?).offers(read::offers(offers)?).shelf(read::shelf(shelf)?);
    page::of(&machine, &request)
}

fn main() -> ExitCode {
    let data = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/data/");
    let demo =
        ["machine.json", "fitted.txt", "offers.txt", "shelf.txt", "request.json"].map(|file| format!("{data}{file}"));
    let given: Vec<String> = std::env::args().skip(1).collect();
    let files: [String; 5] = match given.len() {
        0 => demo,
        5 => given.try_into().unwrap_or(demo),
        _ => {
            eprintln!("usage: plan_machine [MACHINE FITTED OFFERS SHELF REQUEST]");
            return ExitCode::from(2);
        }
    };
    match page(&files) {
        Ok(page) => {
            print!("{page}");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(2)
        }
    }
}
