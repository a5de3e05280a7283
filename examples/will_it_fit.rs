//! Says of modules, by the text on their labels, whether a ready-made machine takes them: where, how
//! many, at what rate, or why not.
//!
//! ```sh
//! cargo run --example will_it_fit -- ddr4-2s-4ch-3spc "32GB 2Rx4 PC4-2400T-RB2-11" "64GB 2Rx4 PC4-3200AA-RB2-14"
//! ```
//!
//! Every socket holds the last of the processors that the platform describes.

// an example talks to the terminal
#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::process::ExitCode;

use slotwright::{Label, Machine, Planner, RuleBook, reference};

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let Some((name, labels)) = arguments.split_first().filter(|(_, labels)| !labels.is_empty()) else {
        eprintln!("usage: will_it_fit PLATFORM LABEL...");
        eprintln!("platforms: {}", names().join(", "));
        return ExitCode::from(2);
    };
    let Some(machine) = machine(name) else {
        eprintln!("there is no ready-made platform {name:?}; there are {}", names().join(", "));
        return ExitCode::from(2);
    };
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let mut unread = false;
    for text in labels {
        match text.parse::<Label>() {
            Ok(label) => println!("{label}\n{}\n", planner.accepts(label.module())),
            Err(error) => {
                unread = true;
                let span = error.span();
                println!("{text}");
                let width = text[span.clone()].chars().count().max(1);
                println!("{}{}", " ".repeat(text[..span.start].chars().count()), "^".repeat(width));
                println!("{error}\n");
            }
        }
    }
    if unread { ExitCode::from(2) } else { ExitCode::SUCCESS }
}

fn names() -> Vec<&'static str> {
    reference::all().iter().map(|(name, _)| *name).collect()
}

/// The platform with its last processor in every socket.
fn machine(name: &str) -> Option<Machine> {
    let platform = reference::by_name(name)?;
    let processor = platform.processors.last()?.clone();
    let sockets: Vec<_> = platform.sockets().iter().map(|socket| socket.label.clone()).collect();
    let machine = sockets
        .iter()
        .fold(Machine::builder(platform), |machine, socket| machine.processor(socket.as_str(), processor.clone()));
    machine.build().ok()
}
