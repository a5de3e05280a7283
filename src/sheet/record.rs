//! What the owner of a machine keeps of a piece of work.

use std::collections::BTreeSet;

use crate::acceptance::{AcceptanceRecord, MachineCheck, RecordedSlot, SlotHolds, SlotVerdict, TestOutcome, Told};
use crate::population::{MachineIdentity, Occupant, Population};
use crate::sheet::accept::brief;
use crate::sheet::slots::{LEGEND, brief as module_text, occupant};
use crate::sheet::{Cell, Column, ColumnSort, Section, Sheet, Table};
use crate::unit::Name;

/// The owner's record of a piece of work on one sheet: what it came to, the firmware, what is in each slot before and after with its
/// serial number, totals, rate and mode, findings that are accepted, error counters, tests, who and when, and whether credits are due.
///
/// ```
/// use slotwright::acceptance::{AcceptanceRecord, AcceptanceRequest};
/// use slotwright::population::{Observed, Population};
/// use slotwright::{Label, Machine, Name, Planner, RuleBook, reference, sheet};
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// let rules = RuleBook::standard();
/// let planner = Planner::new(&machine, &rules);
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let planned = Population::new().with("A1".parse()?, module);
/// let report = planner.expected_report(&planned, None, &[])?;
/// let request = AcceptanceRequest::new(planned, Observed::from(report));
/// let record = AcceptanceRecord::of(&request, &planner.acceptance(&request)?).by(Name::new("M. Weber")?);
///
/// let page = sheet::acceptance_record(&record).to_text(100);
/// assert!(page.contains("As planned, as far as this report tells."));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn acceptance_record(record: &AcceptanceRecord) -> Sheet {
    Sheet::new(format!("ACCEPTANCE RECORD   {}", without_firmware(&record.machine.identity())))
        .section(head(record))
        .section(Section::new("SLOTS").line(LEGEND).table(slots(record)))
        .section(taken_out(record))
        .section(figures(record))
        .section(said_of("FINDINGS ACCEPTED", record.findings_accepted.iter().map(ToString::to_string)))
        .section(counters(record))
        .section(tests(record))
        .section(said_of("WHAT THE REPORT DID NOT TELL", record.conditions.iter().map(ToString::to_string)))
        .section(Section::new("WHAT THIS RESTS ON").items([
            "what the machine reported after the work; before, what was known of it then",
            "tests and their length as they were given; no report proves the absence of errors",
            "The platform maker's manual, local rules and qualified people decide.",
        ]))
        .section(Section::new("SIGNED").blanks(["Technician", "Date"]).blanks(["Owner", "Date"]))
}

fn without_firmware(machine: &MachineIdentity) -> MachineIdentity {
    let mut machine = machine.clone();
    machine.firmware = None;
    machine
}

fn head(record: &AcceptanceRecord) -> Section {
    let verdict = record.verdict.to_string();
    let mut letters = verdict.chars();
    let verdict: String = letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect();
    let not_said = || "not said".to_owned();
    let text = |name: &Option<Name>| name.as_ref().map_or_else(not_said, ToString::to_string);
    let mut head = Section::plain().entry("Verdict", format!("{verdict}."));
    for (at, note) in record.notes.iter().enumerate() {
        head = head.entry(if at == 0 { "Note" } else { "" }, format!("{note}."));
    }
    for test in record.failed_tests() {
        head = head.entry("TEST FAILED", format!("{}: {}.", test.sort, test.result));
    }
    for test in record.open_tests() {
        let what = if test.outcome == TestOutcome::NotRun { "TEST NOT RUN" } else { "TEST NOT JUDGED" };
        head = head.entry(what, format!("{}: {}.", test.sort, test.result));
    }
    for (at, line) in machine(&record.machine).into_iter().enumerate() {
        head = head.entry(if at == 0 { "Machine" } else { "" }, line);
    }
    head.entry("Firmware", text(&record.machine.reported.firmware))
        .entry("Board", format!("description {}", record.platform))
        .entry("Report of", record.reported.as_ref().map_or_else(not_said, ToString::to_string))
        .entry("Accepted by", text(&record.by))
        .entry("Accepted on", record.on.as_ref().map_or_else(not_said, ToString::to_string))
        .entry(
            "Credits",
            if record.credits_are_due() {
                "Due for what was taken out."
            } else {
                "Not due: what was taken out stays until the work is accepted, the machine is known to be the planned one, and all tests have passed."
            },
        )
}

/// The machine as planned, as reported and as read on it, and whether that proves which it is.
fn machine(check: &MachineCheck) -> Vec<String> {
    let mut reported = without_firmware(&check.reported).to_string();
    if check.is_it == Told::Yes && check.serial_read.is_none() {
        return vec![reported];
    }
    if check.reported.serial.is_none() {
        reported.push_str("; it names no serial number");
    }
    let expected = MachineIdentity::new().product(check.product.clone()).serial(check.serial.clone());
    let is_expected = expected != MachineIdentity::new();
    let planned = if is_expected { expected.to_string() } else { "not said".to_owned() };
    let mut lines = vec![format!("Planned: {planned}."), format!("Reported: {reported}.")];
    lines.extend(check.serial_read.iter().map(|read| format!("Read on the machine: serial {read}.")));
    if check.is_it != Told::Yes {
        lines.push(
            "The report does not prove which machine it is of: read the serial number on the machine.".to_owned(),
        );
    }
    lines
}

/// One row a slot, those that were emptied too.
fn slots(record: &AcceptanceRecord) -> Table {
    let mut table = Table::new([
        Column::text("slot"),
        Column::text("before"),
        Column::text("serial before"),
        Column::text("after"),
        Column::text("serial after"),
        Column::text("part"),
        Column::new("runs at", ColumnSort::Rate),
        Column::text("seen"),
    ]);
    let recorded: BTreeSet<&Name> = record.after.iter().map(|slot| &slot.slot).collect();
    let rows = record.after.iter().map(|slot| (&slot.slot, Some(slot)));
    let emptied = record.before.iter().flat_map(Population::modules).map(|(slot, _)| slot);
    let emptied = emptied.filter(|slot| !recorded.contains(slot)).map(|slot| (slot, None));
    for (slot, seen) in rows.chain(emptied) {
        let before = record.before.as_ref().and_then(|population| population.get(slot.as_str()));
        let module = seen.and_then(|seen: &RecordedSlot| seen.holds.module());
        table.row([
            Cell::text(slot),
            before.map_or(Cell::text("-"), |held| Cell::text(occupant(held))),
            Cell::maybe(before.and_then(serial)),
            Cell::text(seen.map_or_else(|| "empty".to_owned(), |seen| after(&seen.holds))),
            Cell::maybe(module.and_then(|module| module.serial.as_ref())),
            Cell::maybe(module.and_then(|module| module.part_number.as_ref())),
            seen.and_then(|seen| seen.running_rate_mts).map_or(Cell::Empty, Cell::Rate),
            Cell::text(seen.map_or("emptied".to_owned(), verdict)),
        ]);
    }
    table.without_empty_columns()
}

/// What came out, and what is credited for it.
fn taken_out(record: &AcceptanceRecord) -> Section {
    let mut table = Table::new(["slot", "module", "serial", "credit"].map(Column::text));
    for pulled in &record.taken_out {
        let serial = pulled.individual.as_ref().map(|individual| &individual.id);
        table.row([
            Cell::text(&pulled.slot),
            Cell::text(module_text(&pulled.module)),
            serial.map_or(Cell::text("not known"), Cell::text),
            pulled.credit.map_or(Cell::text("not said"), Cell::text),
        ]);
    }
    let section = Section::new("TAKEN OUT");
    match (&record.before, table.rows.is_empty()) {
        (None, _) => section.line("It is not known what was there before."),
        (Some(_), true) => section.line("Nothing."),
        (Some(_), false) => section.table(table),
    }
}

fn after(holds: &SlotHolds) -> String {
    match holds {
        SlotHolds::Module(module) if module.capacity_mib.is_none() => format!("{}; size not told", brief(module)),
        SlotHolds::Module(module) => brief(module),
        SlotHolds::Empty => "empty".to_owned(),
        SlotHolds::NotTold => "not told".to_owned(),
    }
}

fn serial(held: &Occupant) -> Option<&Name> {
    match held {
        Occupant::Module(fitted) => fitted.individual.as_ref().map(|individual| &individual.id),
        _ => None,
    }
}

fn verdict(slot: &RecordedSlot) -> String {
    let text = match slot.verdict {
        SlotVerdict::AsPlanned(strength) => strength.to_string(),
        SlotVerdict::Differs => "DIFFERS".to_owned(),
        SlotVerdict::Open | SlotVerdict::Other => "not told".to_owned(),
    };
    match slot.inferred.as_slice() {
        [] => text,
        facts => format!("{text}; {} inferred", facts.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ")),
    }
}

fn figures(record: &AcceptanceRecord) -> Section {
    Section::new("TOTALS, RATE, MODE").items(&record.totals).items(&record.rates).items(&record.mode)
}

fn said_of(heading: &str, texts: impl Iterator<Item = String>) -> Section {
    let section = Section::new(heading).items(texts);
    if section.blocks.is_empty() { section.line("None.") } else { section }
}

fn counters(record: &AcceptanceRecord) -> Section {
    let mut table = Table::new([Column::text("place"), Column::count("corrected"), Column::count("not corrected")]);
    for counter in &record.counters {
        let count = |count: Option<u64>| count.map_or(Cell::Empty, Cell::Count);
        table.row([Cell::text(&counter.place), count(counter.corrected), count(counter.uncorrected)]);
    }
    let section = Section::new("ERROR COUNTERS");
    if table.rows.is_empty() { section.line("None were read.") } else { section.table(table) }
}

fn tests(record: &AcceptanceRecord) -> Section {
    let mut table = Table::new(["test", "length", "result"].map(Column::text));
    for test in &record.tests {
        table.row([Cell::text(&test.sort), Cell::maybe(test.length.as_ref()), Cell::text(&test.result)]);
    }
    let section = Section::new("TESTS");
    if table.rows.is_empty() { section.line("None were given.") } else { section.table(table) }
}
