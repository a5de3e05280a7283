//! A message says that a module fails: which slot that is, and how to go on without it, on half a page.
//!
//! ```sh
//! cargo run --example one_is_lost
//! cargo run --example one_is_lost -- [--job FOLDER] [--as-fitted] [--scheme NAME] [--swap] WORD...
//! ```
//!
//! WORDs are what the message says: `socket=0 channel=1 slot=0`, with `controller=0` where there are several, or a slot as the board or a report
//! names it: `A1`, `CPU1_DIMM_A1`, `Processor 1 DIMM A1`. The numbers are those of a scheme that the board's description knows; all of its schemes are tried where none is named. An address that
//! may mean several slots is not guessed at: they are listed, and the exit code is 1.
//!
//! The machine is that of the demo, or of the folder of a job (see the example `accept`), as planned; with `--as-fitted` as it was before.
//! `--swap` adds a test that tells whether the fault follows the module or stays with the slot.

// an example talks to the terminal
#![allow(clippy::print_stderr)]

// what it does not use is for another example
#[allow(dead_code)]
#[path = "plan_machine/job/mod.rs"]
mod job;

use std::collections::BTreeSet;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use job::{Files, Job};
use slotwright::acceptance::SwapRequest;
use slotwright::platform::SlotAddress;
use slotwright::population::{Occupant, Placement};
use slotwright::sheet::visible_lines;
use slotwright::{Name, PlanRequest, Planner, Platform, RuleBook, sheet};

/// The most characters on a line: a page of A4.
const WIDTH: usize = 100;
const USAGE: &str = "a message is socket=0 channel=1 slot=0, or a slot as the board or a report names it";

/// What a message says, of which machine.
#[derive(Default)]
pub(crate) struct Asked {
    pub(crate) job: Option<PathBuf>,
    pub(crate) as_fitted: bool,
    pub(crate) swap: bool,
    pub(crate) scheme: Option<Name>,
    pub(crate) message: Vec<String>,
}

/// What is said, and whether the message names just one slot.
pub(crate) struct Said {
    pub(crate) text: String,
    pub(crate) is_one: bool,
}

fn main() -> ExitCode {
    let given: Vec<String> = std::env::args_os().skip(1).map(|word| word.to_string_lossy().into_owned()).collect();
    match Asked::of(&given).and_then(|asked| asked.page()) {
        Ok(said) => match std::io::stdout().write_all(said.text.as_bytes()) {
            Ok(()) if said.is_one => ExitCode::SUCCESS,
            _ => ExitCode::FAILURE,
        },
        Err(error) => {
            eprintln!("{}", visible_lines(&error));
            ExitCode::from(2)
        }
    }
}

impl Asked {
    pub(crate) fn of(given: &[String]) -> Result<Self, String> {
        let mut asked = Self::default();
        let mut words = given.iter();
        while let Some(word) = words.next() {
            match word.as_str() {
                "--as-fitted" => asked.as_fitted = true,
                "--swap" => asked.swap = true,
                "--job" | "--scheme" => {
                    let value = words.next().ok_or_else(|| format!("{word} needs a value behind it"))?;
                    if word == "--job" {
                        asked.job = Some(value.into());
                    } else {
                        asked.scheme = Some(Name::new(value).map_err(|error| format!("{word} {value:?}: {error}"))?);
                    }
                }
                option if option.starts_with("--") => {
                    return Err(format!(
                        "unknown option {option}; there are --job, --as-fitted, --scheme and --swap; {USAGE}"
                    ));
                }
                _ => asked.message.push(word.clone()),
            }
        }
        if asked.message.is_empty() {
            asked.message = ["socket=0", "channel=1", "slot=0"].map(str::to_owned).to_vec();
        }
        Ok(asked)
    }

    /// The half page.
    pub(crate) fn page(&self) -> Result<Said, String> {
        let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data");
        let job = Job::read(&Files::demo(self.job.as_ref().unwrap_or(&data)))?;
        let message = self.message.join(" ");
        let found = self.slots(job.machine.platform())?;
        let request = self.now(&job)?;
        let population = &request.present.population;
        let [slot] = found.as_slice() else {
            let mut text =
                format!("{message}: it may be one of {} slots, and which is not to be guessed.\n", found.len());
            for slot in &found {
                let held = population.get(slot.as_str()).map_or("empty".to_owned(), Occupant::to_string);
                text.push_str(&format!("  {slot}: {held}\n"));
            }
            text.push_str("Give more of the address, or the label of the slot.\n");
            return Ok(Said { text, is_one: false });
        };
        let rules = RuleBook::standard();
        let planner = Planner::new(&job.machine, &rules);
        let answer = planner
            .without_or_replaced(&request, std::slice::from_ref(slot))
            .map_err(|error| format!("{message}: {error}"))?;
        let of_sheet = sheet::Job::new(&job.title, &job.machine, &request);
        let mut text = of_sheet.one_is_lost(&message, population, &answer).to_text(WIDTH);
        if self.swap {
            let test = planner.swap_test(&SwapRequest::new(population.clone(), slot.clone()));
            let test = test.map_err(|error| format!("{message}: {error}"))?;
            text.push('\n');
            text.push_str(&of_sheet.swap_test(&test).to_text(WIDTH));
        }
        Ok(Said { text, is_one: true })
    }

    /// What is in the machine, and what is left on the shelf and on offer.
    fn now(&self, job: &Job) -> Result<PlanRequest, String> {
        let mut request = if self.as_fitted { job.request.clone() } else { job.request.after(&job.plan()?) };
        // whatever may stand in is worth knowing
        request.budget = None;
        request.usable_at_least_mib = None;
        request.free_slots_at_least = None;
        Ok(request)
    }

    /// The slots that the message may mean.
    pub(crate) fn slots(&self, platform: &Platform) -> Result<Vec<Name>, String> {
        let message = self.message.join(" ");
        if !message.contains('=') {
            let found = Placement::slots_of_text(&message, platform);
            let known = platform.slots().iter().map(|slot| slot.label().as_str()).collect::<Vec<_>>().join(", ");
            let unknown = || format!("the board has no slot {message:?}; its slots are {known}");
            let labels: Vec<Name> = found.into_iter().map(|slot| platform.slot(slot).label().clone()).collect();
            return if labels.is_empty() { Err(unknown()) } else { Ok(labels) };
        }
        let addresses = platform.slots().iter().flat_map(|slot| &slot.description().addresses);
        let known: BTreeSet<&Name> = addresses.map(|address| &address.scheme).collect();
        let listed = known.iter().map(|scheme| scheme.as_str()).collect::<Vec<_>>().join(", ");
        let schemes: Vec<&Name> = match &self.scheme {
            Some(scheme) if known.contains(scheme) => vec![scheme],
            Some(scheme) => return Err(format!("the board's description has no scheme {scheme:?}; it has {listed}")),
            None if known.is_empty() => return Err("the board's description has no addresses; give a label".to_owned()),
            None => known.into_iter().collect(),
        };
        let mut found = BTreeSet::new();
        for scheme in schemes {
            found.extend(platform.slots_at(&self.address(scheme)?));
        }
        if found.is_empty() {
            return Err(format!("{message}: no slot of the board has this address; its schemes are {listed}"));
        }
        Ok(found.into_iter().map(|slot| platform.slot(slot).label().clone()).collect())
    }

    fn address(&self, scheme: &Name) -> Result<SlotAddress, String> {
        let mut address = SlotAddress::new(scheme.clone());
        for word in &self.message {
            let (what, number) = word.split_once('=').ok_or_else(|| format!("{word:?} is not understood; {USAGE}"))?;
            let number: u16 =
                number.parse().map_err(|_| format!("{word:?}: {number:?} is no number from 0 to 65535"))?;
            let part = match what {
                "socket" => &mut address.socket,
                "controller" => &mut address.controller,
                "channel" => &mut address.channel,
                "slot" => &mut address.slot,
                _ => return Err(format!("{word:?} is not understood; there are socket, controller, channel and slot")),
            };
            if part.replace(number).is_some() {
                return Err(format!("{word:?}: {what} is given twice"));
            }
        }
        Ok(address)
    }
}
