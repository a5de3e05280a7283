//! A job: read from files, planned, written on a page.

mod order;
mod page;
mod paper;
mod read;
mod slot_map;

use std::path::{Path, PathBuf};

use slotwright::{Machine, PlanRequest, Planner, RuleBook};

/// Where a job is read from.
pub(crate) struct Files {
    /// JSON: title, platform (a name or a description), processors, options, settings.
    pub(crate) machine: PathBuf,
    /// A line for each filled slot: its label, and the text on the module's label.
    pub(crate) fitted: PathBuf,
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
        Self { machine, fitted, offers, shelf, request }
    }
}

/// What is asked of which machine.
pub(crate) struct Job {
    pub(crate) title: String,
    pub(crate) machine: Machine,
    pub(crate) request: PlanRequest,
}

impl Job {
    /// Reads a job. Every error names its file, and its line where it has one.
    pub(crate) fn read(files: &Files) -> Result<Self, String> {
        let (title, machine) = read::machine(&files.machine)?;
        let mut request = read::request(&files.request)?;
        request.present.population = read::fitted(&files.fitted)?;
        request.offers = read::offers(&files.offers)?.into();
        request.shelf = read::shelf(&files.shelf)?;
        Ok(Self { title, machine, request })
    }

    /// Plans the job and writes the page.
    pub(crate) fn page(&self) -> Result<String, String> {
        let rules = RuleBook::standard();
        let outcome = Planner::new(&self.machine, &rules).plan(&self.request).map_err(|error| error.to_string())?;
        Ok(page::of(self, &outcome))
    }
}
