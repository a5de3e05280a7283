//! Acceptance against brute force over faults that are enumerated here, on small boards; and its laws.

mod laws;
mod next;
mod oracle;
mod page;
mod told;
mod verdicts;
mod world;
