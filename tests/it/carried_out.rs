//! What the examples print that carry a plan out, check it, and go on when a module is lost; and what they say of bad input.

#[path = "../../examples/accept.rs"]
#[allow(dead_code)]
mod accept;

#[path = "../../examples/plan_machine/job/mod.rs"]
#[allow(dead_code)]
mod job;

#[path = "../../examples/one_is_lost.rs"]
#[allow(dead_code)]
mod one_is_lost;

#[path = "../../examples/work_order.rs"]
#[allow(dead_code)]
mod work_order;

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use expect_test::expect_file;
use serde_json::{Value, json};
use slotwright::acceptance::AcceptanceRecord;
use slotwright::intake::smbios_text;
use slotwright::module::Individual;
use slotwright::population::{Fitted, Observed, Occupant, PlaceState, Population};
use slotwright::purchase::ModuleSource;
use slotwright::sheet::{self, Block};
use slotwright::work_order::OrderRequest;
use slotwright::{Capacity, DataRate, Name, Planner, RuleBook};
use work_order::{Asked, Form, Work};

fn data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data")
}

/// A page, once it is known to keep to its width.
fn narrow(page: String) -> String {
    let widest = page.lines().max_by_key(|line| line.chars().count()).unwrap();
    assert!(widest.chars().count() <= 100, "{widest}");
    page
}

/// An empty folder of a test's own.
fn folder(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_TARGET_TMPDIR")).join(name);
    let _ = std::fs::remove_dir_all(&folder);
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

/// The folder of a job that is the demo but for one file.
fn job_with(name: &str, file: &str, text: &str) -> PathBuf {
    let folder = folder(name);
    for part in ["machine.json", "fitted.txt", "offers.csv", "shelf.csv", "request.json"] {
        std::fs::copy(data().join(part), folder.join(part)).unwrap();
    }
    std::fs::write(folder.join(file), text).unwrap();
    folder
}

fn text_of(file: &str) -> String {
    std::fs::read_to_string(data().join(file)).unwrap()
}

/// The files of a job in a folder, as they are given to `work_order`.
fn given(folder: &Path) -> Vec<PathBuf> {
    let job = ["machine.json", "fitted.txt", "offers.csv", "shelf.csv", "request.json"];
    job.iter().map(|part| folder.join(part)).collect()
}

fn words(words: &[&str]) -> Vec<String> {
    words.iter().map(|&word| word.to_owned()).collect()
}

fn accepted(given: &[&str]) -> (String, bool) {
    let (page, is_accepted) = accept::Asked::of(&words(given)).and_then(|asked| asked.page()).unwrap();
    (narrow(page), is_accepted)
}

fn refused(given: &[&str]) -> String {
    let error = accept::Asked::of(&words(given)).and_then(|asked| asked.page()).unwrap_err();
    error.replace(&data().display().to_string(), "data").replace(env!("CARGO_TARGET_TMPDIR"), "tmp")
}

fn report(file: &str) -> String {
    data().join(file).display().to_string()
}

#[test]
fn the_work_order_of_the_demo_fits_a_page() {
    let work = Work::of(&Asked::of(&[]).unwrap().files, false).unwrap();
    let page = narrow(work.printed(Form::Text));
    assert!(page.lines().count() <= 76, "{} lines", page.lines().count());
    // what the report is to say stands at the halt where it is looked at
    let flat = page.split_whitespace().collect::<Vec<_>>().join(" ");
    let expected = "as expected: 16 modules, 384 GB in all, 384 GB usable, running at 2400 MT/s, mode independent.";
    assert!(flat.contains(expected) && flat.contains("it does not start; beeps or a fault lamp"), "{page}");
    expect_file!["golden/work_order.txt"].assert_eq(&page);
}

#[test]
fn a_plan_goes_to_a_folder_in_every_form() {
    let folder = folder("sheets");
    let asked = Asked::of(std::slice::from_ref(&folder)).unwrap();
    let work = Work::of(&asked.files, false).unwrap();
    let said = work_order::write(&folder, &work.pages(Form::Text)).unwrap();
    let names: Vec<&str> = said.lines().map(|line| line.rsplit('/').next().unwrap()).collect();
    assert_eq!(
        names,
        ["buying-list.txt", "pick-list.txt", "slot-map.txt", "work-order.txt", "ways-back.txt", "slot-map.svg"]
    );
    let read = |name: &str| std::fs::read_to_string(folder.join(name)).unwrap();
    for name in names.iter().filter(|name| name.ends_with(".txt")) {
        narrow(read(name));
    }
    expect_file!["golden/work_order_pick_list.txt"].assert_eq(&read("pick-list.txt"));
    expect_file!["golden/work_order_ways_back.txt"].assert_eq(&read("ways-back.txt"));
    let picture = roxmltree::Document::parse(&read("slot-map.svg"))
        .map(|picture| picture.root_element().tag_name().name() == "svg");
    assert_eq!(picture, Ok(true));
    // no money on what technicians and the store see
    assert!(read("buying-list.txt").contains("EUR"));
    assert!(!read("work-order.txt").contains("EUR") && !read("pick-list.txt").contains("EUR"));

    let of_form = |form, ending: &str| -> Vec<String> {
        let pages = work.pages(form).into_iter().filter(|(name, _)| name.ends_with(ending));
        pages.map(|(_, text)| text).collect()
    };
    assert!(of_form(Form::Markdown, ".md").iter().all(|page| page.starts_with("# ")));
    let html = of_form(Form::Html, ".html");
    assert!(html.iter().all(|page| page.contains("<h1>") && page.contains("thead { display: table-header-group; }")));
    assert!(html.iter().any(|page| page.contains("<li class=\"box halt\" dir=\"auto\">HALT, all out.")));
    // nothing is fetched from elsewhere
    assert!(!html.iter().any(|page| page.contains("url(") || page.contains("http") || page.contains("@import")));
    // nothing of a sheet is lost in CSV: each text is a cell, and each table a file
    let csv: BTreeMap<String, String> = work.pages(Form::Csv).into_iter().collect();
    let cells_of = |name: String| -> Vec<Vec<String>> {
        let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(csv[&name].as_bytes());
        reader.records().map(|row| row.unwrap().iter().map(str::to_owned).collect()).collect()
    };
    for (name, sheet) in work.sheets() {
        let texts: Vec<String> = cells_of(format!("{name}.csv")).into_iter().flatten().collect();
        let is_there = |text: &String| texts.contains(text) || texts.contains(&format!("'{text}"));
        assert!(is_there(&sheet.title), "{name}");
        for block in sheet.sections.iter().flat_map(|section| &section.blocks) {
            match block {
                Block::Line(text) | Block::Item(text) | Block::Check(text) => assert!(is_there(text), "{name}: {text}"),
                Block::Entry { word, text, .. } => assert!(is_there(word) && is_there(text), "{name}: {text}"),
                Block::Blanks(words) => assert!(words.iter().all(is_there), "{name}: {words:?}"),
                _ => {}
            }
        }
        for (at, (_, table)) in sheet.tables().enumerate() {
            assert_eq!(cells_of(format!("{name}-{}.csv", at + 1)).len(), table.rows.len() + 1, "{name}");
        }
    }
    assert!(csv["work-order.csv"].contains("serial BW-2217") && csv["work-order.csv"].contains("HALT, all out."));
    assert!(csv["ways-back.csv"].contains("WAY BACK") && csv["ways-back-1.csv"].contains("\"all out\""));
    let printed = work.printed(Form::Csv);
    assert!(printed.starts_with(&csv["work-order.csv"]) && printed.ends_with(&csv["work-order-1.csv"]));
    // the work order's table, a row a slot that holds or comes to hold something
    let tables = work.pages(Form::Csv);
    let (_, table) = tables.iter().find(|(name, _)| name == "work-order-1.csv").unwrap();
    let rows: Vec<csv::StringRecord> =
        csv::Reader::from_reader(table.as_bytes()).records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), 16);
    assert_eq!(rows[9].iter().collect::<Vec<_>>()[1..5], ["15", "E2", "mid", "180"]);
    // what comes out runs with the rows, and no cell is taken for a formula
    let numbers: Vec<usize> = rows.iter().filter_map(|row| row[0].parse().ok()).collect();
    assert!(numbers.len() >= 6 && numbers.is_sorted(), "{numbers:?}");
    assert!(!csv.values().any(|text| text.contains("\"'-\"")));
    assert!(read("slot-map.svg").contains(">Brackwater Gale 24, serial BW-2217<"));

    // a folder that is not there is made
    let new = folder.join("new/folder");
    work_order::write(&new, &work.pages(Form::Text)).unwrap();
    assert!(new.join("work-order.txt").exists());
    let file = folder.join("slot-map.svg");
    assert!(work_order::write(&file, &work.pages(Form::Text)).unwrap_err().contains("the folder cannot be made"));
}

#[test]
fn a_trial_start_is_on_the_order() {
    let asked = Asked::of(&["--trial-start".into()]).unwrap();
    let page = narrow(Work::of(&asked.files, asked.trial_start).unwrap().printed(Form::Text));
    assert!(
        page.contains("none of them is for the trial start alone")
            && page.contains("THE REST OF THE WORK")
            && page.contains("It proves none of the other pieces"),
        "{page}"
    );
    // each halt stands between the steps where it belongs
    let place = |text: &str| page.find(text).unwrap_or_else(|| panic!("{text} in {page}"));
    let order = [
        "Take out, by number: 1",
        "HALT, all out for the trial start",
        "Put in, by number: ",
        "HALT, all in for the trial start",
        "HALT, before power for the trial start",
        "HALT, after the trial start",
        "HALT, all out.",
        "HALT, all in.",
    ];
    assert!(order.is_sorted_by_key(|text| place(text)), "{page}");
    expect_file!["golden/work_order_trial_start.txt"].assert_eq(&page);
    let pages = Work::of(&asked.files, true).unwrap().pages(Form::Text);
    let ways = pages.into_iter().find(|(name, _)| name == "ways-back.txt").unwrap().1;
    expect_file!["golden/work_order_trial_ways_back.txt"].assert_eq(&narrow(ways));
}

#[test]
fn an_order_with_nothing_to_do_says_so() {
    let job = job::Job::read(&job::Files::demo(&data())).unwrap();
    let rules = RuleBook::standard();
    let present = job.request.present.population.clone();
    let request = OrderRequest::new(present.clone(), present).identity(job.identity.clone()).trial_start(true);
    let order = Planner::new(&job.machine, &rules).work_order(&request).unwrap();
    let of_sheet = sheet::Job::new(&job.title, &job.machine, &job.request);
    let pages = of_sheet.work_order(&order).to_text(100) + &of_sheet.ways_back(&order).to_text(100);
    expect_file!["golden/work_order_nothing_to_do.txt"].assert_eq(&narrow(pages));
}

#[test]
fn help_tells_each_option() {
    let said = Asked::of(&["--help".into()]).unwrap().said().unwrap();
    for option in ["--as", "--trial-start", "FOLDER", "MACHINE", "FITTED", "OFFERS", "SHELF", "REQUEST", "exit code"] {
        assert!(said.contains(option), "{option}");
    }
    let said = one_is_lost::Asked::of(&words(&["--help"])).unwrap().page().unwrap();
    for option in ["--job", "--as-fitted", "--scheme", "--swap", "WORD", "exit code"] {
        assert!(said.is_one && said.text.contains(option), "{option}");
    }
}

/// At each halt what the ways back say of a slot is true: they do not say what is there where only some steps are done.
#[test]
fn ways_back_say_what_comes_out_and_what_goes_in() {
    let work = Work::of(&Asked::of(&[]).unwrap().files, false).unwrap();
    let (_, ways) = work.sheets().into_iter().find(|(name, _)| *name == "ways-back").unwrap();
    let (_, table) = ways.tables().find(|(heading, _)| *heading == Some("STEPS")).unwrap();
    let place = |heading: &str| table.columns.iter().position(|column| column.heading == heading).unwrap();
    assert!(!table.columns.iter().any(|column| ["now", "afterwards"].contains(&column.heading.as_str())));
    let [out, put_in, comes_out, goes_in] = ["out", "in", "comes out", "goes in"].map(place);
    for row in &table.rows {
        // a content is said just where its step is
        for (number, content) in [(out, comes_out), (put_in, goes_in)] {
            assert_eq!(row[number] == sheet::Cell::Empty, row[content] == sheet::Cell::Empty, "{row:?}");
        }
    }
}

/// Blanks are numbered with the modules, come out with them and go in after them, at both processors.
#[test]
fn blanks_are_steps_among_the_others() {
    let machine = job::Job::read(&job::Files::demo(&data())).unwrap().machine;
    let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<slotwright::Label>().unwrap().to_module();
    let held = |slots: &[&str]| {
        slots.iter().fold(Population::new(), |held, slot| held.with(Name::lossy(slot), module.clone()))
    };
    let mut before = held(&["A1", "A2", "B1", "E1", "E2"]);
    before.put(Name::lossy("C1"), Occupant::Blank);
    before.put(Name::lossy("F1"), Occupant::Blank);
    let after = held(&["A1", "B1", "C1", "E1", "F1"]);
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);
    let order = planner.work_order(&OrderRequest::new(before, after).blanks(true)).unwrap();
    let wish = slotwright::PlanRequest::new();
    let of_sheet = sheet::Job::new("Blanks", &machine, &wish);
    let page = narrow(of_sheet.work_order(&order).to_text(100));
    assert!(page.contains("[ ] Put in blanks, by number: "), "{page}");
    expect_file!["golden/work_order_blanks.txt"].assert_eq(&page);
    // every number from the first step to the last is in the table once
    let sheet = of_sheet.work_order(&order);
    let (_, table) = sheet.tables().next().unwrap();
    let cells = table.rows.iter().flat_map(|row| &row[..2]).map(ToString::to_string);
    let mut numbers: Vec<usize> = cells.filter_map(|cell| cell.trim_matches(['[', ']', ' ']).parse().ok()).collect();
    numbers.sort_unstable();
    assert_eq!(numbers, (1..=order.steps().count()).collect::<Vec<_>>());
    // and the way back from where some step was done is by these numbers
    let way = planner.way_back_after(&order, 3, &[]).unwrap();
    let page = narrow(of_sheet.way_back(&order, &way).to_text(100));
    assert!(page.contains("AFTER STEP 3 OF THE ORDER; LAST HALT BEFORE THE LID COMES OFF"), "{page}");
    expect_file!["golden/work_order_way_back_after_a_step.txt"].assert_eq(&page);
}

/// What is fitted is known by its serial numbers, and every slot of the board is on the page, a row each.
#[test]
fn serial_numbers_take_no_second_row() {
    let job = job::Job::read(&job::Files::demo(&data())).unwrap();
    let plan = job.plan().unwrap();
    let with_serial = |(at, (slot, fitted)): (usize, (&Name, &Fitted))| {
        let one = Individual::new(Name::lossy(&format!("5C1{at:05}")));
        (slot.clone(), Occupant::Module(fitted.clone().individual(one)))
    };
    let present: Population = job.request.present.population.modules().enumerate().map(with_serial).collect();
    let rules = RuleBook::standard();
    let planner = Planner::new(&job.machine, &rules);
    let order = planner.work_order(&OrderRequest::of_plan(present, &plan).identity(job.identity.clone())).unwrap();
    let of_sheet = sheet::Job::new(&job.title, &job.machine, &job.request);
    for (sheet, file) in [(of_sheet.work_order(&order), "order"), (of_sheet.ways_back(&order), "ways_back")] {
        let page = narrow(sheet.to_text(100));
        expect_file![format!("golden/work_order_serials_{file}.txt")].assert_eq(&page);
        let (_, table) = sheet.tables().last().unwrap();
        let of_table = page.lines().skip_while(|line| !line.starts_with("out ")).skip(1);
        let rows: Vec<&str> = of_table.take(table.rows.len()).collect();
        for (cells, row) in table.rows.iter().zip(rows) {
            cells.iter().for_each(|cell| assert!(row.contains(&cell.to_string()), "{row}: {cell}"));
        }
    }
    // a row for each of 24 slots, all of them filled, all with serial numbers
    let machine = &job.machine;
    let module = |label: &str| label.parse::<slotwright::Label>().unwrap().to_module();
    let (old, new) = (module("16GB 2Rx4 PC4-2400T-RA1-11"), module("32GB 2Rx4 PC4-2400T-RB2-11"));
    let (mut before, mut after) = (Population::new(), Population::new());
    for (at, slot) in machine.platform().slots().iter().enumerate() {
        let one = Individual::new(Name::lossy(&format!("5C1{at:05}")));
        before.put(slot.label().clone(), Occupant::Module(Fitted::new(old.clone()).individual(one)));
        after.put(slot.label().clone(), Occupant::module(new.clone()));
    }
    let source =
        |slot: &slotwright::platform::Slot| (slot.label().clone(), ModuleSource::Offer { id: Name::lossy("pallet-4") });
    let request = OrderRequest::new(before, after).sources(machine.platform().slots().iter().map(source));
    let order = planner.work_order(&request).unwrap();
    let wish = slotwright::PlanRequest::new();
    let of_sheet = sheet::Job::new("A full board", machine, &wish);
    // a page of A4 at 9 points; and with the ways back from five halts
    for (sheet, most) in [(of_sheet.work_order(&order), 76), (of_sheet.ways_back(&order), 92)] {
        let page = narrow(sheet.to_text(100));
        let rows: Vec<&str> = page.lines().filter(|line| line.contains("5C1000")).collect();
        assert_eq!(rows.len(), 24, "{page}");
        assert!(rows.iter().all(|row| row.contains("32GB 2Rx4 2400 R") && row.contains("offer pallet-4")), "{page}");
        assert!(page.lines().count() <= most, "{} lines", page.lines().count());
    }
}

/// A text from outside reaches the terminal by [`sheet::visible`].
#[test]
fn no_example_prints_what_steers_a_terminal() {
    fn sources(folder: &Path, found: &mut Vec<PathBuf>) {
        for entry in std::fs::read_dir(folder).unwrap() {
            let path = entry.unwrap().path();
            match path.extension() {
                None if path.is_dir() => sources(&path, found),
                Some(ending) if ending == "rs" => found.push(path),
                _ => {}
            }
        }
    }
    let mut files = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples"), &mut files);
    let mut prints = 0;
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        for said in text.split("eprintln!(").skip(1) {
            let said = said.split(");").next().unwrap();
            let from_outside = ["{error}", "{other}", "{problem}", "display()"].iter().any(|text| said.contains(text));
            assert!(!from_outside || said.contains("visible"), "{}: {said}", file.display());
            prints += 1;
        }
    }
    assert!(prints >= 14, "{prints}");
}

#[test]
fn work_orders_of_bad_input() {
    let asked =
        |given: &[&str]| Asked::of(&given.iter().map(PathBuf::from).collect::<Vec<_>>()).map(|_| ()).unwrap_err();
    let of_job = |name: &str, file: &str, text: &str| {
        let folder = job_with(name, file, text);
        let given: Vec<PathBuf> = std::iter::once(folder.clone()).chain(given(&folder)).collect();
        let error = Asked::of(&given).and_then(|asked| Work::of(&asked.files, false)).map(|_| ()).unwrap_err();
        error.replace(&folder.display().to_string(), "job").lines().take(3).collect::<Vec<_>>().join(" / ")
    };
    let titled = |title: &str| {
        let mut machine: Value = serde_json::from_str(&text_of("machine.json")).unwrap();
        machine["title"] = json!(title);
        machine.to_string()
    };
    let mut other_board: Value = serde_json::from_str(&text_of("machine.json")).unwrap();
    other_board["platform"] = json!("ddr4-1s-2ch-2spc-unbuffered");
    other_board["processors"] = json!({ "1": "later" });
    let other_board = other_board.to_string();
    let said = [
        asked(&["--as", "paper"]),
        asked(&["--as"]),
        asked(&["--colour"]),
        asked(&["folder", "machine.json"]),
        // what is fitted is of another machine
        of_job("other-board", "machine.json", &other_board),
        of_job("other-slots", "fitted.txt", "Z9  16GB 2Rx4 PC4-2400T-RA1-11\n"),
        of_job("control", "machine.json", &titled("job\u{7}")),
        of_job("long", "machine.json", &titled(&"long ".repeat(40))),
        of_job("nothing", "machine.json", ""),
        of_job("no-offers", "offers.csv", "\n"),
        of_job("no-plan", "offers.csv", "id, label, price, currency, stock, supplier, pack, remark\n"),
    ];
    expect_file!["golden/work_order_errors.txt"].assert_eq(&(said.join("\n") + "\n"));
}

#[test]
fn text_that_turns_the_writing_is_written_by_number() {
    let mut machine: Value = serde_json::from_str(&text_of("machine.json")).unwrap();
    machine["title"] = json!(format!("\u{202e}בוטל {}", "x".repeat(90)));
    machine["serial"] = json!("שלום\u{2067}=1+1");
    let folder = job_with("turned", "machine.json", &machine.to_string());
    let given: Vec<PathBuf> = std::iter::once(folder.clone()).chain(given(&folder)).collect();
    let work = Work::of(&Asked::of(&given).unwrap().files, false).unwrap();
    for form in [Form::Text, Form::Markdown, Form::Html, Form::Csv] {
        for (name, page) in work.pages(form) {
            assert!(!page.contains(['\u{202e}', '\u{2067}']), "{name}");
            assert!(!name.ends_with(".txt") || page.contains("\\u{202e}בוטל"), "{name}");
        }
    }
    narrow(work.printed(Form::Text));
    // the report is of another machine then, and nothing of what it says is judged
    let (page, is_accepted) = accepted(&["--job", folder.to_str().unwrap()]);
    assert!(!is_accepted && page.contains("שלום\\u{2067}=1+1"), "{page}");
    let lost = one_is_lost::Asked::of(&words(&["--job", folder.to_str().unwrap(), "A1"])).unwrap().page().unwrap();
    assert!(narrow(lost.text).contains("\\u{202e}בוטל"));
}

/// The reports of the demo are what the machine would report: the one of the plan, the other of it with two faults.
#[test]
fn the_reports_of_the_demo_are_those_of_its_plan() {
    let job = job::Job::read(&job::Files::demo(&data())).unwrap();
    let rules = RuleBook::standard();
    let planner = Planner::new(&job.machine, &rules);
    let planned = job.plan().unwrap().population;
    let faults: Vec<slotwright::acceptance::WorkFault> = serde_json::from_value(json!([
        { "swapped": { "first": "G1", "second": "G2" } },
        { "unread": { "unit": { "slot": { "slot": "B2" } }, "slots": ["B2"], "reads": "absent" } },
    ]))
    .unwrap();
    type Seen = BTreeMap<Name, (PlaceState, Option<Capacity>, Option<DataRate>, Option<DataRate>)>;
    let seen = |report: slotwright::population::Report| -> Seen {
        let sited = Observed::from(report).on(job.machine.platform()).unwrap();
        let of_slot = |slot: &slotwright::population::SitedSlot| {
            let module = sited.module_in(slot.slot.as_str()).map(|module| &module.seen);
            let capacity = module.and_then(|module| module.capacity_mib);
            let grade = module.and_then(|module| module.grade_mts);
            (slot.slot.clone(), (slot.state, capacity, grade, slot.running_rate_mts))
        };
        sited.slots.iter().map(of_slot).collect()
    };
    for (file, faults) in [("report-after.txt", &[][..]), ("report-two-faults.txt", &faults)] {
        let read = smbios_text::read(Name::lossy(file), &text_of(file)).unwrap().remove(0);
        assert_eq!(seen(read), seen(planner.expected_report(&planned, None, faults).unwrap()), "{file}");
    }
}

#[test]
fn sound_work_is_accepted() {
    let record = folder("record").join("record.json");
    let given = [
        "--worked",
        "2026-11-26",
        "--reported",
        "2026-11-27T14:05",
        "--total",
        "384",
        "--by",
        "M. Weber",
        "--test",
        "memory test, 4 hours: passed",
        "--record",
        record.to_str().unwrap(),
    ];
    let (page, is_accepted) = accepted(&given);
    assert!(is_accepted);
    expect_file!["golden/accept.txt"].assert_eq(&page);
    // the record reads back
    let read: AcceptanceRecord = serde_json::from_str(&std::fs::read_to_string(&record).unwrap()).unwrap();
    assert!(read.credits_are_due() && read.after.len() == 16 && read.tests.len() == 1);
    assert_eq!(read.after[0].holds.module().unwrap().serial, Name::new("5C100021").ok());
    // a test that failed stands in the head, and holds credits back
    let (page, is_accepted) = accepted(&["--later", "--test", "memory test: FAILED, 3 errors"]);
    assert!(!is_accepted && page.contains("memory test: FAILED, 3 errors."), "{page}");
    assert!(page.contains("TEST FAILED") && page.contains("Not due:"), "{page}");
    assert!(page.contains("NOT ACCEPTED: a test failed") && !page.contains("Record it"), "{page}");
    let (page, is_accepted) = accepted(&["--later", "--test", "memory test: not run"]);
    assert!(!is_accepted && page.contains("a test is still open"), "{page}");
    // what nobody says is a condition
    let (page, is_accepted) = accepted(&[]);
    assert!(is_accepted && page.contains("Not told    Whether the report is later than the work"), "{page}");
}

#[test]
fn help_names_every_option() {
    let (help, is_sound) = accepted(&["--help"]);
    assert!(is_sound);
    let options = accept::OPTIONS.iter().chain(&["--later", "--help"]);
    options.for_each(|option| assert!(help.contains(&format!("\n  {option} ")), "{option}"));
}

#[test]
fn a_report_without_a_serial_number_needs_a_person() {
    let file = folder("no-serial").join("report.txt");
    std::fs::write(&file, text_of("report-after.txt").replace("BW-2217", "Not Specified")).unwrap();
    let file = file.to_str().unwrap();
    let (page, is_due) = accepted(&["--later", file]);
    assert!(!is_due && page.contains("does not prove which machine it is of"), "{page}");
    assert!(page.contains("ACCEPTANCE RECORD   Brackwater Gale 24, serial BW-2217"), "{page}");
    assert!(accepted(&["--later", "--machine", "BW-2217", file]).1);
    let (page, is_due) = accepted(&["--later", "--machine", "BW-2218", file]);
    assert!(!is_due && page.contains("Withheld"), "{page}");
}

#[test]
fn two_faults_are_found_and_told_what_to_do() {
    let (page, is_accepted) = accepted(&["--later", "--total", "368", &report("report-two-faults.txt")]);
    assert!(!is_accepted);
    assert!(page.contains("B2: cargo run --example one_is_lost -- --swap B2") && !page.contains("--swap G1"), "{page}");
    assert!(page.contains("be good in its place (B2)."), "{page}");
    expect_file!["golden/accept_two_faults.txt"].assert_eq(&page);
    // no record is made of it
    let record = folder("no-record").join("record.json");
    accepted(&["--record", record.to_str().unwrap(), &report("report-two-faults.txt")]);
    assert!(!record.exists());
}

#[test]
fn a_stored_plan_is_not_made_again() {
    let folder = folder("stored-plan");
    let written = |name: &str, value: Value| {
        let file = folder.join(name);
        std::fs::write(&file, value.to_string()).unwrap();
        file.display().to_string()
    };
    let job = job::Job::read(&job::Files::demo(&data())).unwrap();
    let mut plan = job.plan().unwrap();
    let made = accepted(&["--later"]);
    let by_itself = written("plan.json", serde_json::to_value(&plan).unwrap());
    // but for the line that says that nobody knows for which board it was made
    let of_stored = |file: &str| {
        let (page, is_accepted) = accepted(&["--later", "--plan", file]);
        let before = page.find("Plan  ").unwrap();
        let after = before + page[before..].find("\n\n").unwrap() + 1;
        assert!(
            page[before..after].split_whitespace().collect::<Vec<_>>().join(" ").contains("not known for which board")
        );
        (page[..before].to_owned() + &page[after..], is_accepted)
    };
    assert_eq!(of_stored(&by_itself), made);
    let answer = slotwright::question::Answer::Plan(slotwright::Outcome::Optimal(plan.clone()));
    let answer = written("answer.json", serde_json::to_value(&answer).unwrap());
    assert_eq!(of_stored(&answer), made);
    // slots that the board lacks, in one sentence
    let mut elsewhere = plan.clone();
    for slot in ["I1", "J1"] {
        elsewhere.population.put(Name::lossy(slot), plan.population.get("A1").unwrap().clone());
    }
    let elsewhere = written("elsewhere.json", serde_json::to_value(&elsewhere).unwrap());
    let error = refused(&["--plan", &elsewhere]);
    assert!(error.contains("ddr4-2s-4ch-3spc has no slots I1, J1; its slots are A1, A2,"), "{error}");
    assert_eq!(error.matches("H3").count(), 1, "{error}");
    // it is that plan that is held against the report
    plan.population.take("H2").unwrap();
    let other = written("other.json", serde_json::to_value(&plan).unwrap());
    let (page, is_accepted) = accepted(&["--later", "--plan", &other]);
    assert!(!is_accepted && page.contains("NOT PLANNED"), "{page}");
    let error = refused(&["--plan", &written("nothing.json", json!({ "plan": 1 }))]);
    assert!(error.contains("nothing.json: this is no plan"), "{error}");
}

#[test]
fn reports_that_say_nothing_of_the_work() {
    // of another machine
    let other = folder("other-machine").join("report.txt");
    std::fs::write(&other, text_of("report-after.txt").replace("BW-2217", "BW-2218")).unwrap();
    let (page, is_accepted) = accepted(&[other.to_str().unwrap()]);
    assert!(!is_accepted);
    assert!(
        page.contains("Verdict     Withheld: this report says nothing of the work.") && page.contains("BW-2218"),
        "{page}"
    );
    // older than the work
    let (page, is_accepted) = accepted(&["--worked", "2026-11-27", "--reported", "2026-11-26"]);
    assert!(!is_accepted && page.contains("which is before the work"), "{page}");
    // of before the work
    let (page, is_accepted) = accepted(&[&report("report.txt")]);
    assert!(!is_accepted && page.contains("the report is stale, or the work was not done"), "{page}");
}

#[test]
fn acceptances_of_bad_input() {
    let folder = folder("accept-errors");
    let written = |name: &str, text: &str| {
        let file = folder.join(name);
        std::fs::write(&file, text).unwrap();
        file.display().to_string()
    };
    let utf_16 = |text: &str, name: &str| {
        let file = folder.join(name);
        std::fs::write(&file, text.encode_utf16().flat_map(u16::to_le_bytes).collect::<Vec<u8>>()).unwrap();
        file.display().to_string()
    };
    let other_slots = text_of("report-after.txt").replace("CPU2_DIMM_H3", "CPU9_DIMM_Z7");
    let other_slots = other_slots.replace("Size: No Module Installed", "Size: 16 GB");
    let short =
        |error: String| error.lines().take(3).collect::<Vec<_>>().join(" / ").chars().take(400).collect::<String>();
    let said = [
        refused(&["--loud"]),
        refused(&["--by"]),
        refused(&["--by", "M.\u{7}"]),
        refused(&["--worked", "27.11.2026"]),
        refused(&["--worked", "2026-02-31"]),
        refused(&["--worked", "2026-11-27", "--on", "2026-11-26"]),
        refused(&["--total", "384", "--total", "352"]),
        refused(&["--later", "--later"]),
        refused(&["--test", "passed"]),
        refused(&["--test", "memory test: 3 errors"]),
        refused(&["--total", "-1"]),
        refused(&["no-such-file.txt"]),
        refused(&[&written("nothing.txt", "hello\n")]),
        refused(&[&written("empty.txt", "\n")]),
        refused(&["--plan", &written("empty.json", "")]),
        refused(&[&utf_16("\u{feff}Handle 0x0000", "utf-16.txt")]),
        refused(&[&utf_16("Handle 0x0000", "without-mark.txt")]),
        // an SPD tells what a module is, and not whether it runs
        refused(&[&report("spd-16gb.bin")]),
        refused(&[&written("elsewhere.txt", &other_slots)]),
        // two reports of one name
        refused(&[&report("report-after.txt"), &written("report-after.txt", &text_of("report.txt"))]),
    ];
    expect_file!["golden/accept_errors.txt"].assert_eq(&(said.map(short).join("\n") + "\n"));
}

#[test]
fn one_is_lost_on_a_page() {
    let said = |given: &[&str]| one_is_lost::Asked::of(&words(given)).and_then(|asked| asked.page());
    let page = said(&[]).unwrap();
    assert!(page.is_one && page.text.lines().count() <= 60, "{}", page.text);
    expect_file!["golden/one_is_lost.txt"].assert_eq(&narrow(page.text.clone()));
    // the label says as much as the address
    let by_label = said(&["B1"]).unwrap().text;
    let less_message = |text: &str| {
        text.lines()
            .filter(|line| !line.starts_with("Message ") && !line.starts_with("Read as "))
            .map(str::to_owned)
            .collect::<Vec<_>>()
    };
    assert_eq!(less_message(&by_label), less_message(&page.text));
    assert!(
        page.text.contains("Read as     an address of scheme event log, processors counted from 0."),
        "{}",
        page.text
    );
    assert!(page.text.contains("as planned, after the plan is carried out"), "{}", page.text);
    // of what is sold in packs it says so, and why others may not stand in stands beside those that may
    assert!(page.text.contains("offer tray-11, a pack of 4") && page.text.contains("- B1, not "), "{}", page.text);
    // another way to count processors fits too
    let other = narrow(said(&["socket=1", "channel=1", "slot=0"]).unwrap().text);
    assert!(other.contains("Beware      with processors counted from 1 it would be B1: compare"), "{other}");
    let turned = narrow(said(&["CPU2_DIMM_F1"]).unwrap().text);
    assert!(turned.contains("Read as     the label F1, processors counted from 1."), "{turned}");
    assert!(turned.contains("Slot        F1 (marked light, key turned)"), "{turned}");
    let from_0 = narrow(said(&["CPU1_DIMM_F1"]).unwrap().text);
    assert!(
        from_0.contains("processors counted from 0.") && from_0.contains("the board calls this processor 2"),
        "{from_0}"
    );
    // the cautions of a work order
    let order = Work::of(&Asked::of(&[]).unwrap().files, false).unwrap().printed(Form::Text);
    let none = narrow(said(&["--swap", "--as-fitted", "C2"]).unwrap().text);
    expect_file!["golden/one_is_lost_swap_test.txt"].assert_eq(&none);
    // where nothing may stand in, it says why
    assert!(none.contains("nothing at hand may stand in without a warning") && none.contains("- C2, not "), "{none}");
    assert!(none.contains("- C2, would carry the warning channels-alike"), "{none}");
    assert!(
        none.contains("as it was fitted, before the plan is carried out") && none.contains("C2 and E1 (key"),
        "{none}"
    );
    for caution in
        ["Static electricity destroys", "Modules and heat sinks stay hot", "Hold modules by", "The machine is heavy"]
    {
        for text in [&order, &page.text, &none] {
            assert!(text.split_whitespace().collect::<Vec<_>>().join(" ").contains(caution), "{caution}: {text}");
        }
    }
    let swap = none.split("SWAP TEST").nth(1).unwrap();
    assert!(swap.contains("wear a strap") && swap.contains("Modules and heat sinks stay hot"), "{swap}");
    // what may be several slots is not guessed at
    let several = said(&["socket=0", "channel=1"]).unwrap();
    assert!(!several.is_one);
    // the names that reports have for slots are as good as the board's own
    let named = said(&["CPU1_DIMM_B1"]).unwrap();
    assert_eq!(less_message(&named.text), less_message(&by_label));
    let platform = slotwright::reference::ddr4_2s_4ch_3spc();
    for given in
        [&["b1"][..], &["Processor", "1", "DIMM", "B1"], &["processor 1 dimm b1"], &["P1-DIMMB1"], &["DIMM_B1"]]
    {
        let meant = one_is_lost::Asked::of(&words(given)).unwrap().slots(&platform);
        assert_eq!(meant.map(|meant| meant.slots), Ok(vec![Name::lossy("B1")]), "{given:?}");
    }
    // one letter or number alone may be of anything
    for given in ["B", "3", "DIMM 3", "CPU2_DIMM_B1", "B9", "A4", "DIMM_B9", "CPU1_DIMM_A4"] {
        assert!(one_is_lost::Asked::of(&words(&[given])).unwrap().slots(&platform).is_err(), "{given}");
    }
    let errors = [
        said(&["CPU2_DIMM_B1"]),
        said(&["A3"]),
        said(&["Z9"]),
        said(&["B9"]),
        said(&["A4"]),
        said(&["--scheme", "smoke", "B1"]),
        said(&["A\u{202e}"]),
        said(&["socket=9"]),
        said(&["socket=x"]),
        said(&["socket=0", "socket=1"]),
        said(&["row=1"]),
        said(&["A1", "B1"]),
        said(&["--scheme", "smoke", "socket=0"]),
        said(&["--job"]),
        said(&["--loud"]),
    ];
    let errors: Vec<String> = errors.into_iter().map(|said| said.map(|said| said.text).unwrap_err()).collect();
    expect_file!["golden/one_is_lost_errors.txt"].assert_eq(&(several.text + &errors.join("\n") + "\n"));
}

#[test]
fn data_in_another_slot_is_minded_where_one_is_lost() {
    let machine = job::Job::read(&job::Files::demo(&data())).unwrap().machine;
    let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<slotwright::Label>().unwrap().to_module();
    let mut population = Population::new().with(Name::lossy("A1"), module);
    population.put(Name::lossy("B1"), crate::boards::other_device());
    let rules = RuleBook::standard();
    let answer = Planner::new(&machine, &rules).without(&population, &[Name::lossy("A1")]).unwrap();
    let wish = slotwright::PlanRequest::new();
    let said = [("Message", "A1".to_owned())];
    let page = sheet::Job::new("Data", &machine, &wish).one_is_lost(&said, &population, &answer).to_text(1000);
    assert!(page.contains("What is in B1 holds data: secure them first"), "{page}");
}

#[test]
fn contradicting_dates_are_an_error() {
    let of = |given: &[&str]| accept::Asked::of(&given.iter().map(ToString::to_string).collect::<Vec<_>>());
    let asked = |worked| of(&["--worked", worked, "--reported", "2026-05-01", "--later"]);
    assert!(asked("2026-05-02").err().unwrap().contains("they are of 2026-05-01, the work of 2026-05-02"));
    assert!(asked("2026-05-01").is_ok());
}
