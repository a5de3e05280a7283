//! A job: read from files, planned, written on a sheet.

#[path = "../../read_machine/files.rs"]
pub(crate) mod files;
mod read;

use std::path::{Path, PathBuf};

use slotwright::open::Questions;
use slotwright::population::{MachineIdentity, Observed, Sited};
use slotwright::{Machine, Name, Outcome, Plan, PlanRequest, Planner, RuleBook, sheet};

/// The most characters on a line: a page of A4.
const WIDTH: usize = 100;

/// Where a job is read from.
pub(crate) struct Files {
    /// JSON: title, platform (a name or a description), processors, options, settings; of the machine itself maker, product, serial
    /// number and place, where they are known.
    pub(crate) machine: PathBuf,
    /// A line for each filled slot: its label, and the text on the module's label; or reports of the machine and its modules:
    /// what its firmware or its management controller says, SPD images, rows with headings.
    pub(crate) fitted: Vec<PathBuf>,
    /// A table with commas: what is on offer.
    pub(crate) offers: PathBuf,
    /// A table with commas: what is owned and not fitted.
    pub(crate) shelf: PathBuf,
    /// JSON: the fields of a request, without the above.
    pub(crate) request: PathBuf,
}

impl Files {
    /// The files of the demo.
    pub(crate) fn demo(data: &Path) -> Self {
        let [machine, fitted, offers, shelf, request] =
            ["machine.json", "fitted.txt", "offers.csv", "shelf.csv", "request.json"].map(|file| data.join(file));
        Self { machine, fitted: vec![fitted], offers, shelf, request }
    }
}

/// What is asked of which machine.
pub(crate) struct Job {
    pub(crate) title: String,
    /// Which machine it is.
    #[allow(dead_code)] // for the examples that carry a plan out
    pub(crate) identity: MachineIdentity,
    /// Where it stands.
    #[allow(dead_code)]
    pub(crate) place: Option<Name>,
    pub(crate) machine: Machine,
    pub(crate) request: PlanRequest,
    /// What reports of the machine tell, where what is fitted was read from these.
    pub(crate) sited: Option<Sited>,
}

impl Job {
    /// Reads a job. Every error names its file, and its line where it has one.
    pub(crate) fn read(files: &Files) -> Result<Self, String> {
        let read::Described { title, identity, place, machine } = read::machine(&files.machine)?;
        let mut request = read::request(&files.request)?;
        request.offers = read::offers(&files.offers)?.into();
        request.shelf = read::shelf(&files.shelf)?;
        let sited = match files.fitted.as_slice() {
            [list] if files::reports(list)?.is_none() => {
                request.present.population = read::fitted(list)?;
                None
            }
            reports => {
                let sited = reported(&machine, reports)?;
                let present = sited.present().map_err(|error| error.to_string())?;
                request.present.population = present.population;
                request.present.pinned.extend(present.pinned);
                Some(sited)
            }
        };
        Ok(Self { title, identity, place, machine, request, sited })
    }

    /// What to find out first, where reports leave something open.
    pub(crate) fn questions(&self) -> Result<Option<Questions>, String> {
        let rules = RuleBook::standard();
        let planner = Planner::new(&self.machine, &rules);
        let questions = self.sited.as_ref().map(|sited| planner.questions(sited, &self.request));
        questions.transpose().map_err(|error| error.to_string())
    }

    /// Plans the job.
    pub(crate) fn outcome(&self) -> Result<Outcome, String> {
        let rules = RuleBook::standard();
        Planner::new(&self.machine, &rules).plan(&self.request).map_err(|error| error.to_string())
    }

    /// The plan of the job: the best, or the best so far where the search was stopped.
    #[allow(dead_code)] // for the examples that carry a plan out
    pub(crate) fn plan(&self) -> Result<Plan, String> {
        let outcome = self.outcome()?;
        let text = outcome.to_string();
        match outcome {
            Outcome::Optimal(plan) => Ok(plan),
            Outcome::Stopped { best: Some(plan), .. } => Ok(plan),
            _ => Err(format!("there is no plan to carry out: {text}")),
        }
    }

    /// Plans the job and writes the page.
    pub(crate) fn page(&self) -> Result<String, String> {
        let outcome = self.outcome()?;
        let questions = self.questions()?;
        let job = sheet::Job::new(&self.title, &self.machine, &self.request).sited(self.sited.as_ref());
        Ok(job.questions(questions.as_ref()).answer(&outcome).to_text(WIDTH))
    }
}

/// What reports say is in a machine, less what it could not run with.
fn reported(machine: &Machine, reports: &[PathBuf]) -> Result<Sited, String> {
    let mut all = Vec::new();
    for file in reports {
        let read = files::reports(file)?;
        all.extend(read.ok_or_else(|| format!("{}: it is not clear what this is", file.display()))?);
    }
    let observed = Observed::of(all).map_err(|error| error.to_string())?;
    let sited = observed.on(machine.platform()).map_err(|error| error.to_string())?;
    let rules = RuleBook::standard();
    Ok(Planner::new(machine, &rules).narrow(&sited))
}
