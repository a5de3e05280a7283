//! A message says that a module fails: which slot that is, and how to go on without it, on a page.
//!
//! ```sh
//! cargo run --example one_is_lost
//! cargo run --example one_is_lost -- [--job FOLDER] [--as-fitted] [--scheme NAME] [--swap] WORD...
//! ```
//!
//! WORDs are what the message says: `socket=0 channel=1 slot=0`, with `controller=0` where there are several, or a slot as the board or a report
//! names it: `A1`, `CPU1_DIMM_A1`, `Processor 1 DIMM A1`. The numbers are those of a scheme that the board's description knows; all of its
//! schemes are tried where none is named. The page says how the message was read, and warns where it may be read otherwise. An address that
//! may mean several slots is not guessed at: they are listed, and the exit code is 1. A label that the board does not have is refused.
//!
//! The machine is that of the demo, or of the folder of a job (see the example `accept`), as planned; with `--as-fitted` as it was before.
//! `--swap` adds a test that tells whether the fault follows the module or stays with the slot. `--help` says all of this.

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
use slotwright::platform::{SlotAddress, SlotId};
use slotwright::population::{NamedSlots, Occupant};
use slotwright::sheet::visible_lines;
use slotwright::{Name, PlanRequest, Planner, Platform, RuleBook, sheet};

/// The most characters on a line: a page of A4.
const WIDTH: usize = 100;
const USAGE: &str = "a message is socket=0 channel=1 slot=0, or a slot as the board or a report names it";
const HELP: &str = "\
usage: one_is_lost [--job FOLDER] [--as-fitted] [--scheme NAME] [--swap] WORD...
  WORD...       the message: socket=0 channel=1 slot=0 (and controller=0 where there are several), or a slot
                as the board or a report names it: A1, CPU1_DIMM_A1, Processor 1 DIMM A1
  --job FOLDER  the job to take: machine.json, fitted.txt, offers.csv, shelf.csv and request.json; else the demo
  --as-fitted   the machine as it was before the plan, and not as planned
  --scheme NAME the scheme of the board's description that the numbers are of; else all are tried
  --swap        a test beside it: does the fault follow the module, or stay with the slot
  --help        this
exit code: 0 one slot, 1 several slots may be meant, 2 the message or a file does not read
";

/// What a message says, of which machine.
#[derive(Default)]
pub(crate) struct Asked {
    pub(crate) job: Option<PathBuf>,
    pub(crate) as_fitted: bool,
    pub(crate) swap: bool,
    pub(crate) scheme: Option<Name>,
    pub(crate) message: Vec<String>,
    pub(crate) help: bool,
}

/// The slots that a message may mean, how it was read, and what may be read otherwise.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Meant {
    pub(crate) slots: Vec<Name>,
    pub(crate) read_as: String,
    pub(crate) beware: Option<String>,
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
                "--help" => asked.help = true,
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
                        "unknown option {option}; there are --job, --as-fitted, --scheme, --swap and --help; {USAGE}"
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

    /// The page.
    pub(crate) fn page(&self) -> Result<Said, String> {
        if self.help {
            return Ok(Said { text: HELP.to_owned(), is_one: true });
        }
        let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data");
        let job = Job::read(&Files::demo(self.job.as_ref().unwrap_or(&data)))?;
        let message = self.message.join(" ");
        let Meant { slots: found, read_as, beware } = self.slots(job.machine.platform())?;
        let request = self.now(&job)?;
        let population = &request.present.population;
        let [slot] = found.as_slice() else {
            let mut text =
                format!("{message}: it may be one of {} slots, and which is not to be guessed.\n", found.len());
            for slot in &found {
                let held = population.get(slot.as_str()).map_or("empty".to_owned(), Occupant::to_string);
                text.push_str(&format!("  {slot}: {held}\n"));
            }
            text.push_str(&format!("Read as: {read_as}.\n"));
            beware.iter().for_each(|beware| text.push_str(&format!("{beware}\n")));
            text.push_str("Give more of the address, or the label of the slot.\n");
            return Ok(Said { text, is_one: false });
        };
        let rules = RuleBook::standard();
        let planner = Planner::new(&job.machine, &rules);
        let answer = planner
            .without_or_replaced(&request, std::slice::from_ref(slot))
            .map_err(|error| format!("{message}: {error}"))?;
        let of_sheet = sheet::Job::new(&job.title, &job.machine, &request);
        let state = match self.as_fitted {
            true => "as it was fitted, before the plan is carried out",
            false => "as planned, after the plan is carried out",
        };
        let mut said = vec![("Message", message.clone()), ("Read as", format!("{read_as}."))];
        said.extend(beware.map(|beware| ("Beware", beware)));
        said.push(("Machine", format!("{}, {state}", job.identity)));
        let mut text = of_sheet.one_is_lost(&said, population, &answer).to_text(WIDTH);
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
    pub(crate) fn slots(&self, platform: &Platform) -> Result<Meant, String> {
        let addresses = platform.slots().iter().flat_map(|slot| &slot.description().addresses);
        let known: BTreeSet<&Name> = addresses.map(|address| &address.scheme).collect();
        let listed = known.iter().map(|scheme| scheme.as_str()).collect::<Vec<_>>().join(", ");
        if let Some(scheme) = self.scheme.as_ref().filter(|scheme| !known.contains(scheme)) {
            return Err(format!("the board's description has no scheme {scheme:?}; it has {listed}"));
        }
        let message = self.message.join(" ");
        if !message.contains('=') {
            return named(&message, platform);
        }
        let schemes: Vec<&Name> = match &self.scheme {
            Some(scheme) => vec![scheme],
            None if known.is_empty() => return Err("the board's description has no addresses; give a label".to_owned()),
            None => known.into_iter().collect(),
        };
        let (mut found, mut fitting, mut otherwise) = (BTreeSet::new(), Vec::new(), BTreeSet::new());
        let mut counted_from = BTreeSet::new();
        for scheme in schemes {
            let address = self.address(scheme)?;
            let slots = platform.slots_at(&address);
            if slots.is_empty() {
                continue;
            }
            found.extend(slots);
            fitting.push(scheme.as_str());
            let (first, other) = counted_otherwise(&address, platform);
            counted_from.extend(first);
            otherwise.extend(other.iter().flat_map(|other| platform.slots_at(other)));
        }
        if found.is_empty() {
            return Err(format!("{message}: no slot of the board has this address; its schemes are {listed}"));
        }
        let labels = |slots: BTreeSet<SlotId>| -> Vec<Name> {
            slots.into_iter().map(|slot| platform.slot(slot).label().clone()).collect()
        };
        let from: Vec<String> = counted_from.iter().map(ToString::to_string).collect();
        let counted =
            if from.is_empty() { String::new() } else { format!(", processors counted from {}", from.join(" or ")) };
        otherwise.retain(|slot| !found.contains(slot));
        let otherwise: Vec<String> = labels(otherwise).iter().map(ToString::to_string).collect();
        let other = if counted_from.contains(&0) { 1 } else { 0 };
        let beware = (!otherwise.is_empty()).then(|| {
            format!(
                "with processors counted from {other} it would be {}: compare the serial number with a report first.",
                otherwise.join(", ")
            )
        });
        let read_as = format!("an address of scheme {}{counted}", fitting.join(", "));
        Ok(Meant { slots: labels(found), read_as, beware })
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

/// From which number the scheme of an address counts processors, and the address in it of who counts from the other one.
fn counted_otherwise(address: &SlotAddress, platform: &Platform) -> (Option<u16>, Option<SlotAddress>) {
    let addresses = platform.slots().iter().flat_map(|slot| &slot.description().addresses);
    let first = addresses.filter(|own| own.scheme == address.scheme).filter_map(|own| own.socket).min();
    let (Some(socket), Some(first)) = (address.socket, first.filter(|first| *first <= 1)) else { return (None, None) };
    let other = if first == 0 { socket.checked_sub(1) } else { socket.checked_add(1) };
    let other = other.map(|socket| {
        let mut other = address.clone();
        other.socket = Some(socket);
        other
    });
    (Some(first), other)
}

/// The slots that a text names.
fn named(message: &str, platform: &Platform) -> Result<Meant, String> {
    let named = NamedSlots::of(message, platform).map_err(|error| error.to_string())?;
    let slots: Vec<Name> = named.slots.iter().map(|&slot| platform.slot(slot).label().clone()).collect();
    let from: Vec<String> = named.counted_from.iter().map(ToString::to_string).collect();
    let (true, [slot]) = (named.is_label, named.slots.as_slice()) else { return Ok(counted(slots, &from)) };
    let label = platform.slot(*slot).label();
    let Some(number) = named.processor else {
        return Ok(Meant { slots, read_as: format!("the label {label}"), beware: None });
    };
    // the label decides; boards and messages mostly count alike
    let own = platform.socket(platform.slot(*slot).socket).label.to_string();
    let beware = (own != number.to_string()).then(|| {
        format!(
            "the board calls this processor {own}, the message {number}: compare the serial number with a report first."
        )
    });
    let read_as = format!("the label {label}, processors counted from {}", from.join(" or "));
    Ok(Meant { slots, read_as, beware })
}

/// Slots by their numbers.
fn counted(slots: Vec<Name>, from: &[String]) -> Meant {
    let from = if from.is_empty() { String::new() } else { format!(", processors from {}", from.join(" or ")) };
    let read_as = format!("no label of the board; its numbers were counted along processors, channels and slots{from}");
    let beware = "another way to count may mean another slot: compare the serial number with a report first.";
    Meant { slots, read_as, beware: Some(beware.to_owned()) }
}
