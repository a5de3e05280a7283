//! What an acceptance came to: the verdict, what it was held against, and where it is not as planned why, and what to do next.

use crate::acceptance::{
    AcceptanceCheck, AcceptanceVerdict, Causes, CheckNote, RateCheck, RecordedTest, SlotCheck, SlotVerdict,
    TestOutcome, Told,
};
use crate::population::{PlaceState, SeenModule};
use crate::sheet::answer::listed;
use crate::sheet::causes::{step, steps};
use crate::sheet::slots::{LEGEND, kind_letter};
use crate::sheet::{Cell, Column, ColumnSort, Job, Section, Sheet, Table};

impl Job<'_> {
    /// Whether a machine reports what was planned, on one sheet: the verdict first, what it stands on, the slots as planned and as
    /// reported, totals, rate and mode; then, where it is not as planned, the least explanations with what speaks for and
    /// against each, what to do next, and what each outcome of that would mean.
    #[must_use]
    pub fn acceptance(&self, check: &AcceptanceCheck) -> Sheet {
        let mut sheet =
            Sheet::new(format!("ACCEPTANCE   {}", self.title)).section(head(check, self.tests)).section(slots(check));
        sheet = sheet.section(figures(check));
        if let Some(causes) = &check.causes {
            sheet = crate::sheet::causes::causes(sheet, causes);
        }
        let said = match check.verdict {
            AcceptanceVerdict::AsPlanned => {
                "a report tells what the firmware read at one start: errors under load, and contacts that work loose, show later"
            }
            _ => {
                "causes are the fewest faults that explain the report; how frequent each is, is experience without a source"
            }
        };
        sheet
            .section(self.foundation([said.to_owned()]))
            .section(Section::new("SEEN BY").blanks(["Name", "Date and time"]))
    }
}

pub(super) fn capital(text: &str) -> String {
    let mut letters = text.chars();
    letters.next().map_or(String::new(), |first| first.to_uppercase().chain(letters).collect())
}

fn head(check: &AcceptanceCheck, tests: &[RecordedTest]) -> Section {
    let of = |is: fn(TestOutcome) -> bool| tests.iter().filter(move |test| is(test.outcome));
    let failed: Vec<_> = of(|outcome| outcome == TestOutcome::Failed).collect();
    let open: Vec<_> = of(|outcome| !matches!(outcome, TestOutcome::Passed | TestOutcome::Failed)).collect();
    let verdict = match (check.verdict, failed.is_empty(), open.is_empty()) {
        (AcceptanceVerdict::AsPlanned, false, _) => {
            "NOT ACCEPTED: a test failed. The report itself is as planned.".to_owned()
        }
        (AcceptanceVerdict::AsPlanned, true, false) => {
            format!("{}; a test is still open.", capital(&check.verdict.to_string()))
        }
        (verdict, ..) => capital(&format!("{verdict}.")),
    };
    let mut head = Section::plain().entry("Verdict", verdict);
    for test in &failed {
        head = head.entry("Test failed", format!("{}: {}.", test.sort, test.result));
    }
    for test in &open {
        head = head.entry("Test open", format!("{}: {}.", test.sort, test.result));
    }
    let (notes_open, notes): (Vec<_>, Vec<_>) = check.notes.iter().partition(|note| note.is_open());
    for (word, notes) in [("Open", notes_open), ("Note", notes)] {
        for (at, note) in notes.into_iter().enumerate() {
            let text = note.to_string();
            let text = text.strip_prefix("open: ").unwrap_or(&text);
            head = head.entry(if at == 0 { word } else { "" }, format!("{}.", capital(text)));
        }
    }
    let differing: Vec<_> =
        check.slots.iter().filter(|slot| slot.verdict == SlotVerdict::Differs).map(|slot| &slot.slot).collect();
    if !check.slots.is_empty() {
        let mut text = check.counted();
        if !differing.is_empty() {
            text.push_str(&format!("; not: {}", listed(differing, "none")));
        }
        head = head.entry("Slots", text);
    }
    head = head.entry("Machine", capital(&check.machine.to_string())).entry("Time", capital(&check.time.to_string()));
    let next = match (check.verdict, &check.causes) {
        (AcceptanceVerdict::AsPlanned, _) if !failed.is_empty() => Some(
            "Find the slot by what the test says, and take its module out of use. Keep what was taken out: credits are not due."
                .to_owned(),
        ),
        (AcceptanceVerdict::AsPlanned, _) if check.machine.is_it != Told::Yes => Some(
            "Read the serial number on the machine itself. Credits are not due before it is known to be the planned one."
                .to_owned(),
        ),
        (AcceptanceVerdict::AsPlanned, _) if !open.is_empty() => {
            Some("Run the test, or say whether it passed or failed. Credits are not due before.".to_owned())
        }
        (AcceptanceVerdict::AsPlanned, _) => {
            Some("Record it, with its tests: credits are due where none failed. Watch the error counters.".to_owned())
        }
        (_, Some(causes)) => first_step(causes),
        (AcceptanceVerdict::Withheld, _) => Some("Take a new report of this machine, later than the work.".to_owned()),
        (AcceptanceVerdict::Open, _) => Some(to_close(&check.notes)),
        _ => None,
    };
    if let Some(next) = next {
        head = head.entry("Next", next);
    }
    for (at, condition) in check.conditions.iter().enumerate() {
        head = head.entry(if at == 0 { "Not told" } else { "" }, capital(&condition.to_string()));
    }
    head
}

/// What closes an open verdict.
fn to_close(notes: &[CheckNote]) -> String {
    let mut steps: Vec<String> = Vec::new();
    for note in notes {
        match note {
            CheckNote::SerialTwice { slots, .. } => {
                let which = if slots.len() == 2 { "both labels" } else { "the labels" };
                steps.push(format!("Power off, cords out, and read {which} ({}).", listed(slots, "none")));
            }
            CheckNote::SystemTotalShort { .. } => steps.push(
                "Find out what firmware and devices keep of the memory, or what the firmware counts in all.".to_owned(),
            ),
            _ => {}
        }
    }
    if notes.iter().any(|note| matches!(note, CheckNote::Untold { .. } | CheckNote::ReportsDisagree { .. }))
        || steps.is_empty()
    {
        steps.push("Take one report that tells every slot that was to change, or look into them.".to_owned());
    }
    steps.push("Keep what was taken out: credits are not due while it is open.".to_owned());
    steps.join(" ")
}

/// The step of the least effort.
fn first_step(causes: &Causes) -> Option<String> {
    let steps = steps(&causes.groups);
    let first = steps.first().map(|next| capital(&step(next, false)))?;
    Some(match steps.len() {
        1 => first,
        count => format!("{first} This is the first of {count} steps, below."),
    })
}

fn slots(check: &AcceptanceCheck) -> Section {
    let mut table = Table::new([
        Column::text("slot"),
        Column::text("planned"),
        Column::text("reported"),
        Column::text("serial"),
        Column::new("runs at", ColumnSort::Rate),
        Column::text("verdict"),
    ]);
    for slot in &check.slots {
        let seen = |module: &Option<SeenModule>| module.as_ref().map_or("-".to_owned(), brief);
        let reported = match (slot.state, &slot.reported) {
            (PlaceState::InUse, None) => "size not told; taken as in use".to_owned(),
            (PlaceState::InUse, Some(module)) if module.capacity_mib.is_none() => {
                format!("{}; size not told; taken as in use", brief(module))
            }
            (PlaceState::InUse, Some(module)) => brief(module),
            (PlaceState::Absent, None) => "-".to_owned(),
            (state, None) => state.to_string(),
            (state, Some(module)) => format!("{}, {state}", brief(module)),
        };
        table.row([
            Cell::text(&slot.slot),
            Cell::text(seen(&slot.planned)),
            Cell::text(reported),
            Cell::maybe(slot.reported.as_ref().and_then(|module| module.serial.as_ref())),
            slot.running_rate_mts.map_or(Cell::Empty, Cell::Rate),
            Cell::text(verdict(slot)),
        ]);
    }
    let section = Section::new("SLOTS, AS PLANNED AND AS REPORTED");
    if table.rows.is_empty() { section } else { section.line(LEGEND).table(table.without_empty_columns()) }
}

fn verdict(slot: &SlotCheck) -> String {
    let mut text = match slot.verdict {
        SlotVerdict::AsPlanned(strength) => format!("as planned, {strength}"),
        SlotVerdict::Open if slot.reports_disagree => "open: reports disagree".to_owned(),
        SlotVerdict::Open => "not told".to_owned(),
        SlotVerdict::Other => "something newer".to_owned(),
        SlotVerdict::Differs if slot.differs.is_empty() => match (slot.state, slot.planned.is_some()) {
            (PlaceState::Absent, _) => "NOT SEEN".to_owned(),
            (_, false) => "NOT PLANNED".to_owned(),
            (state, true) => capital(&state.to_string()).to_uppercase(),
        },
        SlotVerdict::Differs => format!("DIFFERS: {}", listed(&slot.differs, "all")),
    };
    if !slot.inferred.is_empty() {
        text.push_str(&format!("; {} inferred from modules of the same part number", listed(&slot.inferred, "facts")));
    }
    if !slot.notes.is_empty() {
        text.push_str(&format!("; other {}", listed(&slot.notes, "facts")));
    }
    text
}

/// "16GB 2Rx4 2400 R", as far as it is seen; ranks of which it is not known what they count stand alone.
pub(super) fn brief(module: &SeenModule) -> String {
    let mut parts: Vec<String> = Vec::new();
    parts.extend(module.capacity_mib.map(|size| size.to_string().replace(' ', "")));
    let ranks = module.package_ranks.or(module.rank_number).map(|ranks| format!("{ranks}R"));
    let width = module.width.map(|width| width.to_string());
    let organization = ranks.unwrap_or_default() + &width.unwrap_or_default();
    parts.extend((!organization.is_empty()).then_some(organization));
    parts.extend(module.grade_mts.map(|grade| grade.name_mts().to_string()));
    parts.extend(module.kind.map(|kind| kind_letter(kind).to_owned()));
    if parts.is_empty() { module.to_string() } else { parts.join(" ") }
}

fn figures(check: &AcceptanceCheck) -> Section {
    let mut section = Section::new("TOTALS, RATE, MODE");
    section = section.items(check.totals.iter().map(|total| capital(&total.to_string())));
    for rate in &check.rates {
        section = section.items([capital(&rate.to_string())]);
        for limit in limits(rate) {
            section = section.line(limit);
        }
    }
    section = section.items(check.mode.iter().map(|mode| capital(&mode.to_string())));
    if !check.missing_processors.is_empty() {
        section = section.items([format!("No processor is reported in {}", listed(&check.missing_processors, "none"))]);
    }
    section
}

fn limits(rate: &RateCheck) -> Vec<String> {
    let because = match rate.agrees {
        Told::NotSaid => return Vec::new(),
        Told::Yes => "because",
        Told::No => "as planned:",
    };
    rate.limits.iter().map(|limit| format!("  {because} {limit}")).collect()
}
