//! From reports to a machine of the caller's descriptions.

use core::fmt;
use std::collections::BTreeMap;

use serde::Serialize;
use thiserror::Error;

use crate::machine::{FittedProcessor, Machine, MachineDescription, MachineError};
use crate::platform::{Platform, SocketId};
use crate::population::{Assumed, Observed, PlaceState, Sited, SitingError};
use crate::processor::Processor;
use crate::unit::{Name, NamePattern, Names};

/// What of a caller's boards a machine may be, by the names that its reports give.
#[derive(Debug, Clone)]
pub enum Recognition {
    /// Just one board is named so and seats every module.
    One(Box<Recognised>),
    /// Several are: the caller must say which. The most specific name is no reason to take one.
    Several(Vec<Recognised>),
    /// None is.
    None {
        /// What the reports name: product and board.
        named: Names,
        /// Boards that are named so, and why each is not it.
        refused: Vec<(Name, SitingError)>,
    },
}

/// A board that a machine's reports name, with the reports laid on it.
///
/// What is not told is assumed, and said so in [`Sited::assumed`]: options and settings are those of the description.
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Recognised {
    /// The board.
    pub platform: Platform,
    /// What is in its slots.
    pub sited: Sited,
    /// The processors by socket.
    pub processors: BTreeMap<Name, Name>,
    /// Sockets with a processor of which it is not clear which it is.
    pub open: Vec<OpenProcessor>,
}

/// A processor that is not recognised.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct OpenProcessor {
    /// The socket.
    pub socket: Name,
    /// What reports call it; nothing where absent.
    pub text: Option<Name>,
    /// Those that it may be.
    pub may_be: Names,
}

/// Why there is no machine to plan for.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum RecogniseError {
    /// No board of the caller's is named so and fits.
    #[error("{}{}", unnamed(named), refusals(refused))]
    NoBoard {
        /// What reports name.
        named: Names,
        /// Boards that are named so and do not fit, and why.
        refused: Vec<(Name, SitingError)>,
    },
    /// There is no hardware to plan for.
    #[error("{report} is of a virtual machine ({why}): its memory is no modules, and nothing can be planned for it")]
    VirtualMachine {
        /// The report.
        report: Name,
        /// What says so.
        why: Name,
    },
    /// Several are.
    #[error("{boards} are all named so and fit; say which it is")]
    SeveralBoards {
        /// Their names.
        boards: Names,
    },
    /// A processor is not recognised.
    #[error("{}", processors(open))]
    Processors {
        /// Which.
        open: Vec<OpenProcessor>,
    },
    /// What was found makes no machine.
    #[error(transparent)]
    Machine(#[from] MachineError),
}

fn unnamed(named: &Names) -> String {
    match named.iter().len() {
        0 => "no report names the machine; say which board it is".to_owned(),
        _ => format!("no description is of this machine, which reports name {named}; say which board it is"),
    }
}

fn refusals(refused: &[(Name, SitingError)]) -> String {
    refused.iter().map(|(board, why)| format!("; {board} is named so and does not fit: {why}")).collect()
}

fn processors(open: &[OpenProcessor]) -> String {
    open.iter().map(ToString::to_string).collect::<Vec<_>>().join("; ")
}

impl fmt::Display for OpenProcessor {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.text {
            Some(text) => write!(f, "socket {} holds {text}: is it {}?", self.socket, self.may_be),
            None => write!(f, "socket {} holds a processor that no report names: is it {}?", self.socket, self.may_be),
        }
    }
}

impl Observed {
    /// Which of a caller's boards the machine is: those whose descriptions list a text that a report names the machine
    /// or its board by ([`reported_as`](crate::platform::PlatformDescription::reported_as)), and that seat every
    /// module.
    ///
    /// ```
    /// use slotwright::platform::PlatformDescription;
    /// use slotwright::population::{MachineIdentity, Medium, Observed, PlaceState, Report, SeenModule, SeenPlace};
    /// use slotwright::{Label, Name, reference};
    ///
    /// let mut board = reference::ddr4_2s_4ch_3spc().description().clone();
    /// board.reported_as.push("Gale 24*".parse()?);
    /// let module = "16GB 2Rx4 PC4-2400T-RA1-11".parse::<Label>()?.to_module();
    /// let place = SeenPlace::new(Name::new("0x0040")?, PlaceState::InUse).locator(Name::new("A1")?).module(SeenModule::of(&module));
    /// let identity = MachineIdentity::new().product(Name::new("GALE 24 rev B")?);
    /// let report = Report::new(Name::new("dump")?, Medium::Machine).identity(identity).place(place);
    ///
    /// let recognised = Observed::from(report).recognise([&board.build()?]).one()?;
    /// assert_eq!(recognised.sited.population()?.len(), 1);
    /// // nobody said which processor it is
    /// assert!(recognised.machine().unwrap_err().to_string().starts_with("socket 1 holds a processor that no report names"));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    pub fn recognise<'p>(&self, platforms: impl IntoIterator<Item = &'p Platform>) -> Recognition {
        let identities = || self.reports().iter().map(|report| &report.identity);
        let mut named: Vec<Name> = Vec::new();
        for identity in identities() {
            let whole = identity.maker.as_ref().zip(identity.product.as_ref());
            let whole = whole.map(|(maker, product)| Name::lossy(&format!("{maker} {product}")));
            for text in identity.product.iter().chain(&identity.board).cloned().chain(whole) {
                if !named.contains(&text) {
                    named.push(text);
                }
            }
        }
        let is_meant = |pattern: &NamePattern| named.iter().any(|text| pattern.matches(text.as_str()));
        let (mut found, mut refused) = (Vec::new(), Vec::new());
        let virtual_one = self.reports().iter().find_map(|report| Some((report, report.virtual_machine.clone()?)));
        if let Some((report, why)) = virtual_one {
            let error = SitingError::VirtualMachine { report: report.name.clone(), why };
            return Recognition::None {
                named: named.iter().collect(),
                refused: vec![(Name::lossy("any board"), error)],
            };
        }
        for platform in platforms {
            if platform.description().reported_as.iter().any(is_meant) {
                match self.on(platform) {
                    Ok(sited) => found.push(Recognised::new(platform, sited)),
                    Err(error) => refused.push((platform.name().clone(), error)),
                }
            }
        }
        match (found.pop(), found.is_empty()) {
            (Some(only), true) => Recognition::One(Box::new(only)),
            (Some(last), false) => {
                found.push(last);
                Recognition::Several(found)
            }
            (None, _) => Recognition::None { named: named.iter().collect(), refused },
        }
    }
}

impl Recognition {
    /// The board, where it is just one.
    ///
    /// # Errors
    /// Where it is none or several.
    pub fn one(self) -> Result<Recognised, RecogniseError> {
        match self {
            Self::One(recognised) => Ok(*recognised),
            Self::Several(found) => {
                Err(RecogniseError::SeveralBoards { boards: found.iter().map(|one| one.platform.name()).collect() })
            }
            Self::None { named, refused } => {
                let is_virtual = refused.iter().find_map(|(_, why)| match why {
                    SitingError::VirtualMachine { report, why } => Some((report.clone(), why.clone())),
                    _ => None,
                });
                match is_virtual {
                    Some((report, why)) => Err(RecogniseError::VirtualMachine { report, why }),
                    None => Err(RecogniseError::NoBoard { named, refused }),
                }
            }
        }
    }
}

impl Recognised {
    /// What is sited on a board, with the processors that reports name.
    #[must_use]
    pub fn new(platform: &Platform, mut sited: Sited) -> Self {
        let (mut processors, mut open) = (BTreeMap::new(), Vec::new());
        for socket in platform.socket_ids() {
            let label = &platform.socket(socket).label;
            let seen = sited.processors.iter().find(|seen| seen.socket == *label).cloned();
            let text = seen.as_ref().and_then(|seen| seen.text.clone());
            let has_modules = has_modules(&sited, platform, socket);
            match seen.and_then(|seen| seen.is_present) {
                Some(false) => continue,
                None if !has_modules => {
                    sited.assumed.push(Assumed::NoProcessor { socket: label.clone() });
                    continue;
                }
                None | Some(true) => {}
            }
            let known = accepted(platform);
            let is_meant = |name: &&Name| {
                let processor = platform.description().processors.iter().find(|processor| processor.name() == *name);
                let patterns = processor.map(|processor| processor.description().reported_as.as_slice());
                let text = text.as_ref().map_or("", Name::as_str);
                patterns.unwrap_or_default().iter().any(|pattern| pattern.matches(text))
            };
            let meant: Vec<&Name> = known.iter().copied().filter(is_meant).collect();
            match (meant.as_slice(), known.as_slice()) {
                ([one], _) | ([], [one]) => {
                    sited.assumed.push(Assumed::Processor {
                        socket: label.clone(),
                        processor: (*one).clone(),
                        text: text.filter(|_| !meant.is_empty()),
                    });
                    processors.insert(label.clone(), (*one).clone());
                }
                ([], _) => {
                    open.push(OpenProcessor { socket: label.clone(), text, may_be: known.into_iter().collect() });
                }
                (several, _) => {
                    open.push(OpenProcessor { socket: label.clone(), text, may_be: several.iter().copied().collect() });
                }
            }
        }
        sited.assumed.push(Assumed::Settings);
        sited.assumed.sort();
        Self { platform: platform.clone(), sited, processors, open }
    }

    /// The same with the processor of a socket, where it was open.
    #[must_use]
    pub fn with_processor(mut self, socket: Name, processor: Name) -> Self {
        self.open.retain(|open| open.socket != socket);
        self.processors.insert(socket, processor);
        self
    }

    /// The machine, with options and settings as the board's description has them.
    ///
    /// # Errors
    /// Where it is not clear which processor a socket holds; where none does.
    pub fn machine(&self) -> Result<Machine, RecogniseError> {
        if !self.open.is_empty() {
            return Err(RecogniseError::Processors { open: self.open.clone() });
        }
        let fitted =
            |(socket, processor): (&Name, &Name)| (socket.to_string(), FittedProcessor::Named(processor.to_string()));
        Ok(MachineDescription::new(self.platform.clone()).processors(self.processors.iter().map(fitted)).build()?)
    }
}

fn has_modules(sited: &Sited, platform: &Platform, socket: SocketId) -> bool {
    let is_there =
        |label: &Name| platform.slot_named(label.as_str()).is_some_and(|slot| platform.slot(slot).socket == socket);
    sited.slots.iter().any(|slot| slot.state != PlaceState::Absent && slot.module.is_some() && is_there(&slot.slot))
}

/// The processors that a board describes and takes.
fn accepted(platform: &Platform) -> Vec<&Name> {
    let description = platform.description();
    let is_accepted =
        |name: &&Name| description.accepted_processors.as_ref().is_none_or(|list| list.value.contains(name));
    description.processors.iter().map(Processor::name).filter(is_accepted).collect()
}
