//! What the examples print, and that their input errors say where they are.

#[path = "../../examples/plan_machine/job/mod.rs"]
mod job;

use std::path::{Path, PathBuf};

use expect_test::expect_file;
use job::{Files, Job};

fn data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data")
}

fn demo() -> Job {
    Job::read(&Files::demo(&data())).unwrap()
}

/// A page, once it is known to keep to its width.
fn page(job: &Job) -> String {
    let page = job.page().unwrap();
    let widest = page.lines().max_by_key(|line| line.chars().count()).unwrap();
    assert!(widest.chars().count() <= 100, "{widest}");
    page
}

#[test]
fn the_page_of_the_demo() {
    expect_file!["golden/plan_machine.txt"].assert_eq(&page(&demo()));
}
