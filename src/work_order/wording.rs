//! The sentences of orders.

use core::fmt;

use crate::module::Telling;
use crate::platform::{KeyFacing, Latches, NeededBy};
use crate::population::{Fitted, MachineIdentity, Occupant};
use crate::unit::{counted, listed};
use crate::work_order::{Action, Caution, Check, HaltAt, PutDown, Step, StopRule, WithoutNote, WithoutWay};

/// "3 modules and 1 blank".
fn pieces(modules: usize, blanks: usize) -> String {
    match (modules, blanks) {
        (_, 0) => counted(modules, "module"),
        (0, _) => counted(blanks, "blank"),
        _ => format!("{} and {}", counted(modules, "module"), counted(blanks, "blank")),
    }
}

fn duration(seconds: u32) -> String {
    let seconds = usize::try_from(seconds).unwrap_or(usize::MAX);
    match (seconds / 60, seconds % 60) {
        (0, rest) => counted(rest, "second"),
        (minutes, 0) => counted(minutes, "minute"),
        (minutes, rest) => format!("{} and {}", counted(minutes, "minute"), counted(rest, "second")),
    }
}

/// The module, and which one it is where that is known.
fn module(fitted: &Fitted, telling: &Telling) -> String {
    let text = Occupant::Module(fitted.clone()).text(telling);
    match &fitted.individual {
        Some(individual) => format!("{text} no. {}", individual.id),
        None => text,
    }
}

impl fmt::Display for PutDown {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Bag { slot } => write!(f, "the bag of {slot}"),
            Self::Supply { source: Some(source) } => source.fmt(f),
            Self::Supply { source: None } => f.write_str("what was brought"),
            Self::Bad => f.write_str("the bag for what is bad"),
            Self::Other(name) => name.fmt(f),
        }
    }
}

impl Step {
    /// Its sentence, with what tells its module from others.
    #[must_use]
    pub fn text(&self, telling: &Telling) -> String {
        let mut text = self.slot.to_string();
        if let Some(marking) = &self.marking {
            text.push_str(&format!(" ({marking})"));
        }
        text.push_str(&match &self.action {
            Action::TakeOut { module: held, to } => {
                let place = match to {
                    PutDown::Supply { source: Some(_) } => "put it back with what came from",
                    PutDown::Supply { source: None } => "put it back with",
                    _ => "put it in",
                };
                format!(": take out {} and {place} {to}.", module(held, telling))
            }
            Action::PutIn { module: held, from } => format!(": put in {} from {from}.", module(held, telling)),
            Action::TakeOutBlank => ": take out the blank.".to_owned(),
            Action::PutInBlank => ": put in a blank.".to_owned(),
            Action::Other(name) => format!(": {name}."),
        });
        if self.key_turns {
            text.push_str(match self.key_facing {
                Some(KeyFacing::Turned) => " The key is turned here: turn the module round.",
                _ => " The key is not turned here: turn the module back.",
            });
        }
        if !self.data_beside.is_empty() {
            let slots = listed(&self.data_beside);
            text.push_str(&format!(" The device in {slots} of this channel holds data: mind it."));
        }
        text
    }
}

/// Its sentence.
impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.text(&Telling::default()))
    }
}

impl fmt::Display for Caution {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::WhoDecides => {
                f.write_str("The platform maker's manual, local rules and qualified people decide what is done.")
            }
            Self::TargetHasErrors { codes } => {
                write!(f, "By the rules the machine may not start afterwards: {}.", listed(codes))
            }
            Self::FirmwareHasNoWayBack => {
                f.write_str("An update of the firmware has no way back: decide it before the halt.")
            }
            Self::DataOnDevices { slots } => {
                write!(f, "What is in {} holds data: secure them first, and leave it where it is.", listed(slots))
            }
            Self::FindTheLabel => {
                f.write_str("Slots are not listed as they lie on the board: find the printed label of each.")
            }
            Self::Lifting => f.write_str("The machine is heavy: lift and slide it as its manual says, not alone."),
            Self::Static => {
                f.write_str("Static electricity destroys modules: wear a strap, and keep them packed until needed.")
            }
            Self::HotParts => f.write_str("Modules and heat sinks stay hot after power is out: let them cool down."),
            Self::NoForce => f.write_str(
                "Hold modules by their edges, touch no contacts, stack nothing, use no metal tool, never force one.",
            ),
            Self::FirstStart { seconds, says } => {
                match seconds {
                    Some(seconds) => write!(f, "The first start may take {}", duration(*seconds))?,
                    None => f.write_str("The first start after a change may be long")?,
                }
                f.write_str(": do not cut the power.")?;
                if says.is_empty() { Ok(()) } else { write!(f, " It may say, though nothing is wrong: {}.", listed(says)) }
            }
            Self::TrialProves => f.write_str(
                "A trial start shows that firmware, kind and dies go together. It proves none of the other pieces, and accepts nothing.",
            ),
            Self::Other(name) => name.fmt(f),
        }
    }
}

impl fmt::Display for Check {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::WorkloadOff => f.write_str("The owner has said that the workload is off."),
            Self::Machine { identity, place } => {
                f.write_str("It is the machine that is meant")?;
                if *identity != MachineIdentity::new() {
                    write!(f, ": {identity}")?;
                }
                place.as_ref().map_or(Ok(()), |place| write!(f, ", in {place}"))?;
                // hands write down what nobody told
                f.write_str(if identity.serial.is_some() { "." } else { "; its serial number: ____________." })
            }
            Self::Firmware { needed_by, needed, found } => {
                let needed_by = match needed_by {
                    NeededBy::Modules(modules) => modules.to_string(),
                    NeededBy::Processor(name) => format!("processor {name}"),
                };
                write!(f, "The firmware is {needed} or later, for {needed_by}; ")?;
                match found {
                    Some(found) => write!(f, "{found} was found."),
                    None => f.write_str("which one there is was not said."),
                }
            }
            Self::ReportKept => f.write_str("A report of the machine as it is was made and kept."),
            Self::PiecesAtHand { modules, blanks } => {
                write!(f, "At hand: {}.", pieces(*modules, *blanks))
            }
            Self::BagsAtHand { slots } => write!(f, "At hand: a bag labelled for each of {}.", listed(slots)),
            Self::ShutDown => f.write_str("It is shut down and switched off: no operating system runs."),
            Self::SwitchedOn => f.write_str("The cords are in, and it is switched on."),
            Self::PowerOut => f.write_str("Every cord is out, or the sled is, and its lamp is dark."),
            Self::Waited { seconds: Some(seconds) } => write!(f, "At least {} have passed since.", duration(*seconds)),
            Self::Waited { seconds: None } => {
                f.write_str("The time that the maker's manual asks for has passed since.")
            }
            Self::LiftedOut { what } if what.is_empty() => f.write_str("The lid is off."),
            Self::LiftedOut { what } => write!(f, "The lid is off, and lifted out, in this order: {}.", listed(what)),
            Self::ModulesOut { count: out, blanks } => write!(f, "Out: {}.", pieces(*out, *blanks)),
            Self::SlotsEmpty { slots } => write!(f, "Empty: {}.", listed(slots)),
            Self::BagsLabelled { slots } => write!(f, "Bagged one by one, labelled: {}.", listed(slots)),
            Self::ModulesIn { count: modules, slots, blanks } => {
                write!(f, "In: {}", pieces(*modules, *blanks))?;
                match slots.is_empty() {
                    true => f.write_str("."),
                    false if *blanks > 0 => write!(f, "; modules in {}.", listed(slots)),
                    false => write!(f, ", in {}.", listed(slots)),
                }
            }
            Self::Seated { latches } => f.write_str(match latches {
                Some(Latches::One) => "Each module is flush along its row, and its latch is closed with a click.",
                Some(Latches::Two) => "Each module is flush along its row, and both latches are closed with a click.",
                None => "Each module is flush along its row, and every latch is closed with a click.",
            }),
            Self::LiftedBack { what } if what.is_empty() => {
                f.write_str("What was lifted out is back in its place, and the lid is on.")
            }
            Self::LiftedBack { what } => write!(f, "Back in, in this order: {}. The lid is on.", listed(what)),
            Self::StoppedInSetUp => {
                f.write_str("It was stopped in set-up: no operating system was started, and nothing was saved.")
            }
            Self::TrialShown { slots } => write!(f, "Set-up shows, as listed, what is in {}.", listed(slots)),
            Self::ReportAsExpected => f.write_str("The report of the machine is as expected."),
            Self::StaysOff => f.write_str("It stays switched off, with its cords out: it has no module to start with."),
            Self::ReportAsBefore => {
                f.write_str("The report of the machine is as the one that was kept, but for what stays out.")
            }
            Self::BagsKept => f.write_str(
                "Everything that came out and was not fitted again is kept in its bag until the work is accepted.",
            ),
            Self::Other(name) => name.fmt(f),
        }
    }
}

impl fmt::Display for HaltAt {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::BeforeLid => "before the lid comes off",
            Self::TrialOut => "all out for the trial start",
            Self::TrialIn => "all in for the trial start",
            Self::BeforeTrialPower => "before power for the trial start",
            Self::TrialDone => "after the trial start",
            Self::AllOut => "all out",
            Self::AllIn => "all in",
            Self::BeforePower => "before power",
            Self::Started => "after the start",
            Self::Other(name) => name.as_str(),
        })
    }
}

impl fmt::Display for StopRule {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::OtherSerial => "another serial number than listed",
            Self::SlotNotEmpty => "a slot that is listed as empty and is not",
            Self::OtherModule => "another module than listed",
            Self::NoClick => "no click, or a latch that does not close",
            Self::Damage => "damage",
            Self::SmokeOrSmell => "smoke or a smell (power off first)",
            Self::DoesNotStart => "it does not start",
            Self::FaultSignal => "beeps or a fault lamp",
            Self::OtherTrial => "a trial start that is not as listed",
            Self::OtherReport => "a report that differs",
            Self::Other(name) => name.as_str(),
        })
    }
}

impl fmt::Display for WithoutWay {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::MappedOut => "left where it is, out of use",
            Self::TakenOut => "taken out",
            Self::MovedForward => "taken out, another brought forward",
            Self::Evened => "taken out with partners",
            Self::Other => "another way",
        })
    }
}

impl fmt::Display for WithoutNote {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::MappedOutNotDescribed => f.write_str(
                "what the firmware takes out of use when a module fails is not described: see the board's manual",
            ),
            Self::DoesNotStart => f.write_str("with the module in its slot the machine does not start"),
            Self::Other(name) => name.fmt(f),
        }
    }
}
