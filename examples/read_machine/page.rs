//! What is said of some files.

#[path = "files.rs"]
mod files;
// its other functions are for another example
#[allow(dead_code)]
#[path = "../plan_machine/job/read.rs"]
mod read;

use std::fmt::Write;
use std::path::{Path, PathBuf};

use serde_json::json;
use slotwright::population::{Observed, Recognised, Sited};
use slotwright::purchase::PlanRequest;
use slotwright::{Machine, Planner, Platform, RuleBook, reference};

/// What is asked.
#[derive(Default)]
pub(crate) struct Asked {
    /// The files of the machine.
    pub(crate) files: Vec<PathBuf>,
    /// Which machine it is; recognised by its name where absent.
    pub(crate) machine: Option<PathBuf>,
    /// What is wanted of it.
    pub(crate) request: Option<PathBuf>,
    /// What is on offer.
    pub(crate) offers: Option<PathBuf>,
    /// Whether the answer is to be JSON.
    pub(crate) json: bool,
}

impl Asked {
    /// The files of the demo.
    pub(crate) fn demo(&mut self) {
        let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data");
        self.files = vec![data.join("report.txt")];
        self.request = Some(data.join("request.json"));
        self.offers = Some(data.join("offers.csv"));
    }

    /// Reads the files and says what they tell.
    pub(crate) fn page(&self) -> Result<String, String> {
        let mut reports = Vec::new();
        for file in &self.files {
            let read = files::reports(file)?;
            reports.extend(read.ok_or_else(|| format!("{}: it is not clear what this is", file.display()))?);
        }
        let observed = Observed::of(reports).map_err(|error| error.to_string())?;
        let (machine, sited) = self.sited(&observed)?;
        let rules = RuleBook::standard();
        let planner = Planner::new(&machine, &rules);
        let sited = planner.narrow(&sited);
        let questions = self.wanted()?.map(|request| planner.questions(&sited, &request));
        let questions = questions.transpose().map_err(|error| error.to_string())?;
        let assessed = planner.assess_open(&sited);
        if self.json {
            let answer = json!({
                "observed": observed,
                "sited": sited,
                "questions": questions,
                "assessment": assessed.as_ref().ok(),
                "open": assessed.as_ref().err(),
            });
            return serde_json::to_string_pretty(&answer).map_err(|error| error.to_string());
        }
        let mut page = String::new();
        let mut section =
            |title: &str, text: String| writeln!(page, "{title}\n{text}\n").map_err(|error| error.to_string());
        section("WHAT WAS READ", observed.to_string())?;
        section("WHAT THAT MEANS", sited.to_string())?;
        if let Some(questions) = questions {
            section("WHAT TO FIND OUT", questions.to_string())?;
        }
        section("ASSESSMENT", assessed.map_or_else(|error| error.to_string(), |assessed| assessed.to_string()))?;
        Ok(page.trim_end().to_owned())
    }

    /// The machine, and the reports on its board.
    fn sited(&self, observed: &Observed) -> Result<(Machine, Sited), String> {
        if let Some(file) = &self.machine {
            let read::Described { machine, .. } = read::machine(file)?;
            let sited = observed.on(machine.platform()).map_err(|error| error.to_string())?;
            return Ok((machine, sited));
        }
        let recognised: Recognised = observed.recognise(&boards()?).one().map_err(|error| error.to_string())?;
        Ok((recognised.machine().map_err(|error| error.to_string())?, recognised.sited))
    }

    /// What is wanted, where that is given.
    fn wanted(&self) -> Result<Option<PlanRequest>, String> {
        let Some(request) = &self.request else { return Ok(None) };
        let mut request = read::request(request)?;
        if let Some(offers) = &self.offers {
            request.offers = read::offers(offers)?.into();
        }
        Ok(Some(request))
    }
}

/// The boards that this program knows, with the names by which machines report them: made up, as the machine of the demo is.
fn boards() -> Result<Vec<Platform>, String> {
    let mut board = reference::ddr4_2s_4ch_3spc().as_written().clone();
    let pattern = |text: &str| text.parse().map_err(|error| format!("{error}"));
    board.reported_as.push(pattern("Gale 24*")?);
    board.processors = board
        .processors
        .iter()
        .map(|processor| {
            let mut known = processor.description().clone();
            known.reported_as.push(pattern(&format!("Gale processor {}*", known.name))?);
            known.build().map_err(|error| error.to_string())
        })
        .collect::<Result<_, String>>()?;
    Ok(vec![board.build().map_err(|error| error.to_string())?])
}
