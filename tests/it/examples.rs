//! What the examples print, and that their input errors say where they are.

#[path = "../../examples/plan_machine/job/mod.rs"]
mod job;

use std::path::{Path, PathBuf};

use expect_test::expect_file;
use job::{Files, Job};
use slotwright::Capacity;
use slotwright::purchase::Present;

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

#[test]
fn the_page_of_a_job_that_cannot_be_done() {
    let mut job = demo();
    (job.request.present, job.request.labour_per_handling) = (Present::default(), None);
    job.request.shelf.clear();
    job.request.offers.retain(|offer| ["pallet-4", "tray-12"].contains(&offer.id.as_str()));
    job.request.usable_at_least_mib = Some(Capacity::from_gib(1024));
    expect_file!["golden/plan_machine_infeasible.txt"].assert_eq(&page(&job));
}

#[test]
fn the_page_of_a_search_that_stopped() {
    let mut job = demo();
    job.request.nodes = 40;
    let page = page(&job);
    assert!(page.contains("NOT PROVED: the search stopped after 40 nodes."), "{page}");
}

/// Writes a file beside the test binary and gives its path.
fn written(name: &str, text: &str) -> PathBuf {
    let file = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    std::fs::write(&file, text).unwrap();
    file
}

/// What a job says whose named file is this text instead.
fn refusal(which: &str, text: &str) -> String {
    let mut files = Files::demo(&data());
    let place = match which {
        "machine" => &mut files.machine,
        "fitted" => &mut files.fitted,
        "offers" => &mut files.offers,
        "shelf" => &mut files.shelf,
        "request" => &mut files.request,
        other => panic!("{other}"),
    };
    // tests run side by side: each has files of its own
    let digest = text.bytes().fold(0_u32, |sum, byte| sum.wrapping_mul(31).wrapping_add(u32::from(byte)));
    *place = written(&format!("{which}-{digest:08x}"), text);
    let shown = place.display().to_string();
    let error = Job::read(&files).and_then(|job| job.page()).expect_err("a broken file");
    error.replace(&shown, which)
}

#[test]
fn a_file_that_is_not_there_is_named() {
    let files = Files { offers: data().join("no-such-file"), ..Files::demo(&data()) };
    let error = Job::read(&files).err().unwrap();
    assert!(error.contains("no-such-file: "), "{error}");
}

#[test]
fn errors_say_where_they_are() {
    const OFFERS: &str = "id, label, price, currency, stock, supplier, pack, remark";
    let offer = |line: &str| refusal("offers", &format!("# first\n{OFFERS}\n{line}\n"));
    let said = [
        offer("a, 32GB 2RX4 PC4-2400T-RB2-11, 1, EUR, 1, , ,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, 1.5, EUR, 1, , ,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, -1, EUR, 1, , ,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, 99999999999999999999, EUR, 1, , ,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, 1, euro, 1, , ,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, 1, EUR, some, , ,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, 1, EUR, 1, , 0,"),
        offer("a, 32GB 2Rx4 PC4-2400T-RB2-11, 1, EUR"),
        offer("a, \"32GB\", 1, EUR, 1, , ,"),
        offer(", 32GB 2Rx4 PC4-2400T-RB2-11, 1, EUR, 1, , ,"),
        refusal("offers", "id, label\n"),
        refusal("offers", ""),
        refusal("fitted", "A1\n"),
        refusal("fitted", "A1 blank\nA1 blank\n"),
        refusal("fitted", "Z9 blank\n"),
        refusal("request", "{\n\"usable\": 3 }"),
        refusal(
            "request",
            r#"{"offers": [{"id": "a", "module": "32GB 2Rx4 PC4-2400T-RB2-11", "unit_price": {"amount_minor": 1, "currency": "EUR"}, "stock": 1}]}"#,
        ),
        refusal("machine", r#"{"schema": 1, "title": "t", "platform": "ddr9", "processors": {}}"#),
        refusal(
            "machine",
            r#"{"schema": 1, "title": "t", "platform": "ddr4-2s-4ch-3spc", "processors": {"3": "later"}}"#,
        ),
        refusal("machine", r#"{"schema": 2, "title": "t", "platform": "ddr4-2s-4ch-3spc", "processors": {}}"#),
    ];
    expect_file!["golden/plan_machine_errors.txt"].assert_eq(&(said.join("\n") + "\n"));
}
