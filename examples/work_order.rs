//! A plan on its way to hands: buying list, pick list, slot map, work order and ways back, written to a folder.
//!
//! ```sh
//! cargo run --example work_order
//! cargo run --example work_order -- [--as FORM] [--trial-start] FOLDER [MACHINE FITTED... OFFERS SHELF REQUEST]
//! ```
//!
//! FORM is `text` (100 columns, which is the default), `markdown`, `html`, or `csv`: then each table is a file, and so is what stands
//! beside the tables. The slot map is drawn too
//! (SVG). A folder that is not there is made; files of the same name in it are replaced. Without FOLDER the work order is printed. The other
//! files are those of the example `plan_machine`; without them it takes the demo in `examples/data`.
//!
//! `--trial-start` begins with one piece of each new part. `--help` says all of this.

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
use slotwright::purchase::Plan;
use slotwright::sheet::{self, Formulas, Sheet, Table, map_picture, visible_lines};
use slotwright::work_order::{OrderRequest, WorkOrder};
use slotwright::{Planner, RuleBook};

/// The most characters on a line: a page of A4.
const WIDTH: usize = 100;
const USAGE: &str =
    "usage: work_order [--as text|markdown|html|csv] [--trial-start] [FOLDER [MACHINE FITTED... OFFERS SHELF REQUEST]]";

const HELP: &str = "\
usage: work_order [--as FORM] [--trial-start] [FOLDER [MACHINE FITTED... OFFERS SHELF REQUEST]]
  --as FORM      text (the default), markdown, html or csv
  --trial-start  begins with one piece of each new part, and a start of the machine with these
  --help         this
  FOLDER         where the sheets are written, each a file; it is made where it is not there. Without it the
                 work order is printed
  MACHINE        JSON: the title of the job, the board, its processors; without it and the others, the demo
  FITTED         what is fitted: lines of a slot and a module's label; or reports of the machine, one or more
  OFFERS SHELF   tables with commas: what is on offer, what is owned and not fitted
  REQUEST        JSON: what is wished
exit code: 0 done, 1 it could not be printed, 2 an option or a file does not read, or there is no plan
";

/// How sheets are written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Form {
    Text,
    Markdown,
    Html,
    Csv,
}

/// What is to be written, and where to.
pub(crate) struct Asked {
    pub(crate) form: Form,
    pub(crate) trial_start: bool,
    pub(crate) help: bool,
    pub(crate) folder: Option<PathBuf>,
    pub(crate) files: Files,
}

/// What is carried out.
pub(crate) struct Work {
    job: Job,
    plan: Plan,
    order: WorkOrder,
}

fn main() -> ExitCode {
    let given: Vec<PathBuf> = std::env::args_os().skip(1).map(PathBuf::from).collect();
    let said = Asked::of(&given).and_then(|asked| asked.said());
    match said {
        Ok(text) if std::io::stdout().write_all(text.as_bytes()).is_ok() => ExitCode::SUCCESS,
        Ok(_) => ExitCode::FAILURE,
        Err(error) => {
            eprintln!("{}", visible_lines(&error));
            ExitCode::from(2)
        }
    }
}

impl Asked {
    pub(crate) fn of(given: &[PathBuf]) -> Result<Self, String> {
        let (mut form, mut trial_start, mut help, mut files) = (Form::Text, false, false, Vec::new());
        let mut words = given.iter();
        while let Some(word) = words.next() {
            match word.to_str() {
                Some("--help") => help = true,
                Some("--trial-start") => trial_start = true,
                Some("--as") => {
                    form = match words.next().and_then(|form| form.to_str()) {
                        Some("text") => Form::Text,
                        Some("markdown") => Form::Markdown,
                        Some("html") => Form::Html,
                        Some("csv") => Form::Csv,
                        other => {
                            let found = other.unwrap_or("nothing");
                            return Err(format!("--as {found}: there are text, markdown, html and csv"));
                        }
                    }
                }
                Some(other) if other.starts_with("--") => return Err(format!("unknown option {other}; {USAGE}")),
                _ => files.push(word.clone()),
            }
        }
        let (folder, files) = match files.as_slice() {
            _ if help => (None, demo()),
            [] => (None, demo()),
            [folder] => (Some(folder.clone()), demo()),
            [folder, machine, fitted @ .., offers, shelf, request] if !fitted.is_empty() => (
                Some(folder.clone()),
                Files {
                    machine: machine.clone(),
                    fitted: fitted.to_vec(),
                    offers: offers.clone(),
                    shelf: shelf.clone(),
                    request: request.clone(),
                },
            ),
            files => return Err(format!("wrong number of files: {}; {USAGE}", files.len())),
        };
        Ok(Self { form, trial_start, help, folder, files })
    }

    /// What is printed: the work order, or which files were written.
    pub(crate) fn said(&self) -> Result<String, String> {
        if self.help {
            return Ok(HELP.to_owned());
        }
        let work = Work::of(&self.files, self.trial_start)?;
        match &self.folder {
            Some(folder) => write(folder, &work.pages(self.form)),
            None => Ok(work.printed(self.form)),
        }
    }
}

fn demo() -> Files {
    Files::demo(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data"))
}

impl Work {
    /// Plans a job and orders the work.
    pub(crate) fn of(files: &Files, trial_start: bool) -> Result<Self, String> {
        let job = Job::read(files)?;
        let plan = job.plan()?;
        let rules = RuleBook::standard();
        let mut request = OrderRequest::of_plan(job.request.present.population.clone(), &plan)
            .identity(job.identity.clone())
            .trial_start(trial_start);
        request.place.clone_from(&job.place);
        let order = Planner::new(&job.machine, &rules).work_order(&request).map_err(|error| error.to_string())?;
        Ok(Self { job, plan, order })
    }

    /// Each sheet with the name of its file.
    pub(crate) fn sheets(&self) -> [(&'static str, Sheet); 5] {
        let job = self.sheet_job();
        [
            ("buying-list", job.buying_list(&self.plan)),
            ("pick-list", job.pick_list_of_order(&self.plan, &self.order)),
            ("slot-map", job.slot_map(&self.plan)),
            ("work-order", job.work_order(&self.order)),
            ("ways-back", job.ways_back(&self.order)),
        ]
    }

    fn sheet_job(&self) -> sheet::Job<'_> {
        sheet::Job::new(&self.job.title, &self.job.machine, &self.job.request).sited(self.job.sited.as_ref())
    }

    /// The files of a folder: their names, and what is in them.
    pub(crate) fn pages(&self, form: Form) -> Vec<(String, String)> {
        let mut pages = Vec::new();
        for (name, sheet) in self.sheets() {
            match form {
                Form::Text => pages.push((format!("{name}.txt"), sheet.to_text(WIDTH))),
                Form::Markdown => pages.push((format!("{name}.md"), sheet.to_markdown())),
                Form::Html => pages.push((format!("{name}.html"), sheet.to_html_document())),
                Form::Csv => {
                    let of_table =
                        |(at, table)| (if at == 0 { format!("{name}.csv") } else { format!("{name}-{at}.csv") }, table);
                    pages.extend(tables(&sheet).into_iter().enumerate().map(of_table));
                }
            }
        }
        let before = &self.job.request.present.population;
        let which = self.job.identity.to_string();
        let picture = map_picture(&self.job.title, &which, &self.job.machine, before, &self.plan.population);
        pages.push(("slot-map.svg".to_owned(), picture));
        pages
    }

    /// The work order alone.
    pub(crate) fn printed(&self, form: Form) -> String {
        let sheet = self.sheet_job().work_order(&self.order);
        match form {
            Form::Text => sheet.to_text(WIDTH),
            Form::Markdown => sheet.to_markdown(),
            Form::Html => sheet.to_html_document(),
            Form::Csv => tables(&sheet).join("\r\n"),
        }
    }
}

/// What a sheet says beside its tables, then its tables.
fn tables(sheet: &Sheet) -> Vec<String> {
    // a spreadsheet takes a text that begins with = for a formula
    let csv = |table: &Table| table.to_csv(Formulas::Defused);
    std::iter::once(csv(&sheet.beside_tables())).chain(sheet.tables().map(|(_, table)| csv(table))).collect()
}

/// Writes files to a folder, and says which.
pub(crate) fn write(folder: &Path, pages: &[(String, String)]) -> Result<String, String> {
    fs::create_dir_all(folder).map_err(|error| format!("{}: the folder cannot be made: {error}", folder.display()))?;
    let mut said = String::new();
    for (name, content) in pages {
        let file = folder.join(name);
        fs::write(&file, content).map_err(|error| format!("{}: {error}", file.display()))?;
        said.push_str(&format!("{}\n", file.display()));
    }
    Ok(said)
}
