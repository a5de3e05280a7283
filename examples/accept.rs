//! Whether a machine reports what was planned, once hands have done the work: the verdict, and where it is not as planned why, and what to
//! do next.
//!
//! ```sh
//! cargo run --example accept
//! cargo run --example accept -- [OPTIONS] REPORT...
//! ```
//!
//! A REPORT is what the machine says of itself now, in any of the files that the example `read_machine` reads. Without one it reads
//! `report-after.txt` of the demo; `report-two-faults.txt` beside it is of the same work done badly.
//!
//! - `--job FOLDER`: the job is planned again from `machine.json`, `fitted.txt`, `offers.csv`, `shelf.csv` and `request.json` there; else
//!   from the demo.
//! - `--machine SERIAL`: the serial number that a person read on the machine itself, where the report does not name it.
//! - `--worked DATE`, `--reported DATE`: when the work was done and when the reports were made, `2026-11-27` or `2026-11-27T14:05`;
//!   `--later`: they are later than the work, and nobody knows the dates.
//! - `--total GB`: all that the firmware counts, as its start or its controller shows it; a table of firmware does not tell. `--system-total GB`: all
//!   that the operating system counts; `--reserve GB`: what that keeps from its own total at most.
//! - `--plan FILE.json`: the plan that was carried out, as it was stored: an answer of the example `plan_json` or a plan by itself. It is not made again then.
//! - `--by NAME`, `--on DATE`, `--test "SORT: RESULT"`: who accepts and when, and what each test said; a RESULT begins with "passed", "failed" or "not run";
//!   `--record FILE.json`: writes the record of an accepted machine.
//! - `--help`: what stands here, in short.
//!
//! The exit code is 0 for a machine that is accepted and for which credits are due, 1 for one that is not, that nothing proves to be the machine, or of
//! which a test failed or was not run, and 2 for input that does not read.

// an example talks to the terminal
#![allow(clippy::print_stderr)]

// what it does not use is for another example
#[allow(dead_code)]
#[path = "plan_machine/job/mod.rs"]
mod job;

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use job::{Files, Job};
use serde::Deserialize as _;
use serde_json::Value;
use slotwright::acceptance::{
    AcceptanceCheck, AcceptanceRecord, AcceptanceRequest, NextStep, RecordedTest, Step, TestOutcome, WorkDone,
};
use slotwright::population::{Medium, Observed, ReportDate, SeenTotal, TotalOf};
use slotwright::sheet::{Section, Sheet};
use slotwright::{Capacity, Name, Outcome, Plan, Planner, RuleBook, sheet};

/// The most characters on a line: a page of A4.
const WIDTH: usize = 100;

const USAGE: &str = "\
accept [OPTIONS] REPORT...

A REPORT is a file that says what the machine reports now: the firmware's tables as text or bytes,
JSON of its management controller, an SPD image, or rows with headings. Without one: the demo's.

  --job FOLDER          the folder of the job; else that of the demo
  --plan FILE.json      the plan that was carried out, as it was stored; else planned again
  --machine SERIAL      the serial number that a person read on the machine itself
  --worked DATE         when the work was done: 2026-11-27, or 2026-11-27T14:05
  --reported DATE       when the reports were made
  --later               the reports are later than the work, and nobody knows the dates
  --total GB            all that the firmware counts, a whole number
  --system-total GB     all that the operating system counts, a whole number
  --reserve GB          what firmware and devices keep of it at most, a whole number
  --test \"SORT: RESULT\"
                        what a test said; RESULT begins with passed, failed or not run; may be given
                        several times
  --by NAME             who accepts
  --on DATE             when it was accepted
  --record FILE.json    writes the record of an accepted machine
  --help                this page

Exit code: 0 accepted and credits due, 1 not, 2 for input that does not read.
";

/// The options that have a value behind them.
pub(crate) const OPTIONS: [&str; 12] = [
    "--job",
    "--machine",
    "--plan",
    "--worked",
    "--reported",
    "--total",
    "--system-total",
    "--reserve",
    "--by",
    "--on",
    "--test",
    "--record",
];

/// What is to be accepted.
#[derive(Default)]
pub(crate) struct Asked {
    pub(crate) reports: Vec<PathBuf>,
    /// The folder of the job; the demo's where absent.
    pub(crate) job: Option<PathBuf>,
    pub(crate) is_help: bool,
    /// The serial number that was read on the machine.
    pub(crate) machine: Option<Name>,
    /// A stored plan.
    pub(crate) plan: Option<PathBuf>,
    pub(crate) on: Option<ReportDate>,
    pub(crate) worked: Option<ReportDate>,
    pub(crate) reported: Option<ReportDate>,
    pub(crate) is_later: bool,
    pub(crate) totals: Vec<SeenTotal>,
    pub(crate) reserve: Option<Capacity>,
    pub(crate) by: Option<Name>,
    pub(crate) tests: Vec<RecordedTest>,
    pub(crate) record: Option<PathBuf>,
}

fn main() -> ExitCode {
    let given: Vec<String> = std::env::args_os().skip(1).map(|word| word.to_string_lossy().into_owned()).collect();
    match Asked::of(&given).and_then(|asked| asked.page()) {
        Ok((page, is_accepted)) => match std::io::stdout().write_all(page.as_bytes()) {
            Ok(()) if is_accepted => ExitCode::SUCCESS,
            _ => ExitCode::FAILURE,
        },
        Err(error) => {
            error.lines().for_each(|line| eprintln!("{}", sheet::visible(line)));
            ExitCode::from(2)
        }
    }
}

/// Whether a file has text or bytes that can be a report.
fn readable(file: &Path) -> Result<(), String> {
    let bytes = fs::read(file).map_err(|error| format!("{}: {error}", file.display()))?;
    if bytes.iter().all(u8::is_ascii_whitespace) {
        return Err(format!("{}: the file is empty", file.display()));
    }
    let start = bytes.get(..32).unwrap_or(&bytes);
    let is_half = |zero: usize| {
        let is_of_text = |(at, byte): (usize, &u8)| (*byte == 0) == (at % 2 == zero);
        start.len() > 3 && start.iter().enumerate().all(is_of_text)
    };
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) || is_half(0) || is_half(1) {
        return Err(format!("{}: this is text in UTF-16; save it as UTF-8", file.display()));
    }
    Ok(())
}

/// The slots that a swap test is about, should it come to that.
fn to_swap(check: &AcceptanceCheck) -> Vec<&Name> {
    fn swaps(next: &NextStep) -> bool {
        let mut then = next.outcomes.iter().filter_map(|outcome| next.following(outcome));
        next.step == Step::KnownGood || then.any(|then| swaps(&then))
    }
    let groups = check.causes.iter().flat_map(|causes| &causes.groups);
    let causes = groups.flat_map(|group| &group.alternatives).flat_map(|own| &own.causes);
    let mut slots: Vec<&Name> = Vec::new();
    for slot in causes.filter(|cause| swaps(&cause.next)).flat_map(|cause| &cause.next.slots) {
        if !slots.contains(&slot) {
            slots.push(slot);
        }
    }
    slots
}

/// A plan as it was stored: by itself, or in an answer that has one.
fn stored(file: &Path) -> Result<Plan, String> {
    let named = |error: String| format!("{}: {error}", file.display());
    readable(file)?;
    let text = fs::read_to_string(file).map_err(|error| named(error.to_string()))?;
    let answer: Value = serde_json::from_str(&text).map_err(|error| named(error.to_string()))?;
    match Outcome::deserialize(&answer) {
        Ok(Outcome::Optimal(plan) | Outcome::Stopped { best: Some(plan), .. }) => Ok(plan),
        Ok(outcome) => Err(named(format!("there is no plan to carry out: {outcome}"))),
        Err(_) => Plan::deserialize(&answer).map_err(|error| named(format!("this is no plan: {error}"))),
    }
}

impl Asked {
    pub(crate) fn of(given: &[String]) -> Result<Self, String> {
        let mut asked = Self::default();
        let mut words = given.iter();
        let mut seen: Vec<&str> = Vec::new();
        while let Some(word) = words.next() {
            if !word.starts_with("--") {
                asked.reports.push(word.into());
                continue;
            }
            if word == "--help" {
                return Ok(Self { is_help: true, ..Self::default() });
            }
            if word != "--later" && !OPTIONS.contains(&word.as_str()) {
                return Err(format!("unknown option {word}; there are --help, --later, {}", OPTIONS.join(", ")));
            }
            if seen.contains(&word.as_str()) && word != "--test" {
                return Err(format!("{word} is given twice; give it once"));
            }
            seen.push(word);
            if word == "--later" {
                asked.is_later = true;
                continue;
            }
            let value = words.next().ok_or_else(|| format!("{word} needs a value behind it"))?;
            let name = |text: &str| Name::new(text.trim()).map_err(|error| format!("{word} {text:?}: {error}"));
            let date = || value.parse().map_err(|error| format!("{word}: {error}"));
            let capacity = || {
                let gb = value.parse().map_err(|_| format!("{word} {value:?} is no whole number of GB"))?;
                Ok::<_, String>(Capacity::from_gib(gb))
            };
            match word.as_str() {
                "--job" => asked.job = Some(value.into()),
                "--machine" => asked.machine = Some(name(value)?),
                "--plan" => asked.plan = Some(value.into()),
                "--on" => asked.on = Some(date()?),
                "--worked" => asked.worked = Some(date()?),
                "--reported" => asked.reported = Some(date()?),
                "--total" => asked.totals.push(SeenTotal::new(TotalOf::Firmware, capacity()?)),
                "--system-total" => asked.totals.push(SeenTotal::new(TotalOf::OperatingSystem, capacity()?)),
                "--reserve" => asked.reserve = Some(capacity()?),
                "--by" => asked.by = Some(name(value)?),
                "--test" => {
                    let (sort, result) =
                        value.split_once(':').ok_or_else(|| format!("{word} {value:?} is not SORT: RESULT"))?;
                    let outcome = TestOutcome::said(result);
                    if outcome == TestOutcome::NotSaid {
                        return Err(format!("{word} {value:?}: a RESULT begins with passed, failed or not run"));
                    }
                    asked.tests.push(RecordedTest::new(name(sort)?, name(result)?).outcome(outcome));
                }
                // the last of them
                _ => asked.record = Some(value.into()),
            }
        }
        if let (true, Some(worked), Some(reported)) = (asked.is_later, &asked.worked, &asked.reported) {
            if worked.is_later_than(reported) {
                return Err(format!(
                    "--later says that the reports are later than the work, and they are of {}, the work of {}; give one or the other",
                    reported.as_str(),
                    worked.as_str(),
                ));
            }
        }
        for (of, date) in [("the work", &asked.worked), ("the reports", &asked.reported)] {
            if let (Some(on), Some(date)) = (&asked.on, date) {
                if date.is_later_than(on) {
                    return Err(format!("--on {} is before {of}, of {}", on.as_str(), date.as_str()));
                }
            }
        }
        Ok(asked)
    }

    /// What is to be said, and whether the machine is accepted.
    pub(crate) fn page(&self) -> Result<(String, bool), String> {
        if self.is_help {
            return Ok((USAGE.to_owned(), true));
        }
        let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data");
        let job = Job::read(&Files::demo(self.job.as_ref().unwrap_or(&data)))?;
        let plan = match &self.plan {
            Some(file) => stored(file)?,
            None => job.plan()?,
        };
        let request = self.request(&job, &plan, &data)?;
        let rules = RuleBook::standard();
        let check = Planner::new(&job.machine, &rules).acceptance(&request).map_err(|error| error.to_string())?;
        let mut of_sheet =
            sheet::Job::new(&job.title, &job.machine, &job.request).sited(job.sited.as_ref()).tests(&self.tests);
        for (of, date) in [("work of", &self.worked), ("reports of", &self.reported)] {
            if let Some(date) = date {
                of_sheet = of_sheet.date(of, date.clone());
            }
        }
        let mut page = self.sheet(of_sheet.acceptance(&check), &check).to_text(WIDTH);
        let mut is_sound = check.is_accepted();
        if is_sound {
            let mut record = AcceptanceRecord::of(&request, &check).tests(self.tests.iter().cloned());
            (record.by, record.on) = (self.by.clone(), self.on.clone());
            record.taken_out.clone_from(&plan.pulled);
            is_sound = record.credits_are_due();
            page.push('\n');
            page.push_str(&sheet::acceptance_record(&record).to_text(WIDTH));
            if let Some(file) = &self.record {
                let named = |error: String| format!("{}: {error}", file.display());
                let text = serde_json::to_string_pretty(&record).map_err(|error| named(error.to_string()))?;
                fs::write(file, text + "\n").map_err(|error| named(error.to_string()))?;
            }
        }
        Ok((page, is_sound))
    }

    /// A page with what only this program knows.
    fn sheet(&self, mut sheet: Sheet, check: &AcceptanceCheck) -> Sheet {
        if let (Some(file), Some(head)) = (&self.plan, sheet.sections.first_mut()) {
            let said = format!("As stored in {}. It is not known for which board it was made.", file.display());
            *head = std::mem::replace(head, Section::plain()).entry("Plan", said);
        }
        let slots = to_swap(check);
        if slots.is_empty() {
            return sheet;
        }
        let job = self.job.as_ref().map_or(String::new(), |job| format!("--job {} ", job.display()));
        let command = |slot: &Name| format!("{slot}: cargo run --example one_is_lost -- {job}--swap {slot}");
        sheet.section(Section::new("PAGES FOR A SWAP TEST").items(slots.into_iter().map(command)))
    }

    /// The plan, and what the files report.
    fn request(&self, job: &Job, plan: &Plan, data: &Path) -> Result<AcceptanceRequest, String> {
        let demo = [data.join("report-after.txt")];
        let files = if self.reports.is_empty() { &demo[..] } else { &self.reports };
        let mut reports = Vec::new();
        for file in files {
            readable(file)?;
            let read = job::files::reports(file)?;
            reports.extend(read.ok_or_else(|| format!("{}: it is not clear what this is", file.display()))?);
        }
        for report in reports.iter_mut().filter(|report| report.medium == Medium::Machine) {
            report.date.clone_from(&self.reported);
        }
        if let Some(first) = reports.iter_mut().find(|report| report.medium == Medium::Machine) {
            first.totals.extend(self.totals.iter().cloned());
        }
        let observed = Observed::of(reports).map_err(|error| error.to_string())?;
        let mut request = AcceptanceRequest::new(plan.population.clone(), observed)
            .before(job.request.present.population.clone())
            .work(match &self.worked {
                _ if self.is_later => WorkDone::BeforeReport,
                Some(date) => WorkDone::On(date.clone()),
                None => WorkDone::Unknown,
            });
        request.serial.clone_from(&job.identity.serial);
        request.serial_read.clone_from(&self.machine);
        request.product.clone_from(&job.identity.product);
        request.system_reserve_mib = self.reserve;
        Ok(request)
    }
}
