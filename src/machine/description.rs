use core::fmt;
use std::collections::BTreeMap;

use serde::de::value::MapAccessDeserializer;
use serde::de::{self, MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};
use thiserror::Error;

use crate::machine::{Machine, Wiring};
use crate::module::{Generation, Voltages};
use crate::platform::{DomainScheme, Mode, Platform, Settings};
use crate::processor::Processor;
use crate::stated::{FieldPath, Located, Schema};
use crate::unit::{Name, Names, Voltage};

/// What a machine is made of; also its document.
///
/// ```
/// use slotwright::machine::Machine;
/// use slotwright::reference;
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc())
///     .processor_named("1", "later")
///     .processor_named("2", "later")
///     .build()?;
/// assert_eq!(machine.live_slots().count(), 24);
/// # Ok::<(), slotwright::machine::MachineError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct MachineDescription {
    /// Schema number of the document.
    pub schema: Schema,
    /// The board.
    pub platform: Platform,
    /// What sits in the sockets, by socket label. A socket that is not named is empty.
    pub processors: BTreeMap<String, FittedProcessor>,
    /// The options fitted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub options: Vec<String>,
    /// How it is set; what is absent is as the platform's defaults say.
    #[serde(default)]
    pub settings: Settings,
}

/// A processor in a socket: described, or named among the platform's.
///
/// In documents it is a name or an object.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(untagged)]
pub enum FittedProcessor {
    /// One of the platform's own processors.
    Named(String),
    /// Any processor.
    Described(Processor),
}

impl<'de> Deserialize<'de> for FittedProcessor {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct NameOrDescription;

        impl<'de> Visitor<'de> for NameOrDescription {
            type Value = FittedProcessor;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("the name of one of the platform's processors, or a processor's description")
            }

            fn visit_newtype_struct<D: Deserializer<'de>>(self, inner: D) -> Result<FittedProcessor, D::Error> {
                inner.deserialize_any(self)
            }

            fn visit_str<E: de::Error>(self, name: &str) -> Result<FittedProcessor, E> {
                Ok(FittedProcessor::Named(name.to_owned()))
            }

            fn visit_map<A: MapAccess<'de>>(self, map: A) -> Result<FittedProcessor, A::Error> {
                Processor::deserialize(MapAccessDeserializer::new(map)).map(FittedProcessor::Described)
            }
        }

        // the name tells a reader which fields there are
        deserializer.deserialize_newtype_struct("FittedProcessor", NameOrDescription)
    }
}

/// Why a description makes no machine: every problem found.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("machine on {platform}: {}", problems.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "))]
#[non_exhaustive]
pub struct MachineError {
    /// The platform's name.
    pub platform: Name,
    /// What is wrong; never empty.
    pub problems: Vec<MachineProblem>,
}

/// One problem of a machine's description.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum MachineProblem {
    /// No socket holds a processor.
    #[error("no socket holds a processor; at least one is needed")]
    NoProcessor,
    /// A socket that the platform lacks.
    #[error("there is no socket {socket:?}; the sockets are {allowed}")]
    UnknownSocket {
        /// The label given.
        socket: String,
        /// The labels that exist.
        allowed: Names,
    },
    /// A processor that the platform does not describe.
    #[error("socket {socket}: the platform describes no processor {processor:?}; it describes {allowed}")]
    UnknownProcessor {
        /// The socket.
        socket: String,
        /// The name given.
        processor: String,
        /// The names that exist.
        allowed: Names,
    },
    /// A processor of another memory generation.
    #[error("socket {socket}: processor {processor} takes {found}, the board {wanted}")]
    OtherGeneration {
        /// The socket.
        socket: String,
        /// The processor.
        processor: Name,
        /// Its generation.
        found: Generation,
        /// The board's.
        wanted: Generation,
    },
    /// A voltage that is set and that a processor does not supply.
    #[error(
        "the machine is set to {set}, which processor {processor} in socket {socket} does not supply; it supplies {allowed}"
    )]
    Voltage {
        /// The voltage set.
        set: Voltage,
        /// The socket.
        socket: Name,
        /// The processor.
        processor: Name,
        /// What it supplies.
        allowed: Voltages,
    },
    /// A socket with more channels than the library plans for.
    #[error("socket {socket} has {found} channels with slots; at most {at_most} are allowed")]
    TooManyChannels {
        /// The socket.
        socket: Name,
        /// How many channels have slots.
        found: usize,
        /// How many may have.
        at_most: usize,
    },
    /// A processor whose list of interleave sets cannot be laid on the channels of its socket.
    #[error(
        "socket {socket}: processor {processor} lists {listed} channels for its interleave sets, the socket has {found} \
         of other labels"
    )]
    UnlikeChannels {
        /// The socket.
        socket: Name,
        /// The processor.
        processor: Name,
        /// How many channels the processor lists.
        listed: usize,
        /// How many the socket has.
        found: usize,
    },
    /// An option, mode, domain scheme, power profile or slot to close that the platform lacks.
    #[error("there is no {what} {name:?}; allowed: {allowed}")]
    Unknown {
        /// Where it stands.
        place: FieldPath,
        /// What it should name.
        what: &'static str,
        /// The name given.
        name: String,
        /// The names that exist.
        allowed: Names,
    },
}

impl Located for MachineProblem {
    fn place(&self) -> FieldPath {
        let of = FieldPath::of;
        match self {
            Self::NoProcessor => of("processors"),
            Self::UnknownSocket { socket, .. }
            | Self::UnknownProcessor { socket, .. }
            | Self::OtherGeneration { socket, .. } => of("processors").named(&Name::lossy(socket)),
            Self::Voltage { .. } => of("settings").field("voltage_mv"),
            Self::TooManyChannels { socket, .. } => of("platform").field("sockets").named(socket),
            Self::UnlikeChannels { socket, .. } => of("processors").named(socket).field("interleave"),
            Self::Unknown { place, .. } => place.clone(),
        }
    }
}

fn listed<'a>(names: impl IntoIterator<Item = &'a Name>) -> Names {
    names.into_iter().collect()
}

impl MachineDescription {
    /// A machine without processors yet.
    #[must_use]
    pub fn new(platform: Platform) -> Self {
        Self {
            schema: Schema,
            platform,
            processors: BTreeMap::new(),
            options: Vec::new(),
            settings: Settings::default(),
        }
    }

    setters! {
        each processors(processors: (String, FittedProcessor));
        each options(options: String);
    }

    /// Puts a processor in a socket.
    #[must_use]
    pub fn processor(mut self, socket: &str, processor: Processor) -> Self {
        self.processors.insert(socket.to_owned(), FittedProcessor::Described(processor));
        self
    }

    /// Puts one of the platform's own processors in a socket.
    #[must_use]
    pub fn processor_named(mut self, socket: &str, processor: &str) -> Self {
        self.processors.insert(socket.to_owned(), FittedProcessor::Named(processor.to_owned()));
        self
    }

    /// Fits an option.
    #[must_use]
    pub fn option(mut self, name: &str) -> Self {
        self.options.push(name.to_owned());
        self
    }

    /// Closes one slot, for a reason: nothing is planned with it.
    #[must_use]
    pub fn closed_slot(mut self, slot: Name, reason: Name) -> Self {
        self.settings = self.settings.closed_slot(slot, reason);
        self
    }

    /// Sets it. Slots that were closed before stay closed.
    #[must_use]
    pub fn settings(mut self, settings: Settings) -> Self {
        let mut closed = std::mem::replace(&mut self.settings, settings).closed_slots;
        closed.append(&mut self.settings.closed_slots);
        self.settings.closed_slots = closed;
        self
    }

    /// Checks the description against its platform.
    ///
    /// # Errors
    /// All problems at once: a socket "3" on a board of two, a processor, option, mode, domain scheme, power
    /// profile or slot to close that the platform does not name, a processor of another memory generation or one whose
    /// interleave sets are of other channels, a voltage that a processor does not supply, no processor at all.
    pub fn build(self) -> Result<Machine, MachineError> {
        let mut problems = Vec::new();
        let mut processors: Vec<Option<Processor>> = vec![None; self.platform.sockets().len()];
        for (socket, fitted) in &self.processors {
            let processor = self.find_processor(socket, fitted, &mut problems);
            match self.platform.socket_named(socket).and_then(|id| processors.get_mut(id.index())) {
                Some(place) => *place = processor,
                None => problems.push(MachineProblem::UnknownSocket {
                    socket: socket.clone(),
                    allowed: listed(self.platform.sockets().iter().map(|socket| &socket.label)),
                }),
            }
        }
        if self.processors.is_empty() {
            problems.push(MachineProblem::NoProcessor);
        }
        self.check_names(&mut problems);
        self.check_voltage(&processors, &mut problems);
        let scheme = self.settings.domain_scheme.as_ref().or(self
            .platform
            .description()
            .default_settings
            .domain_scheme
            .as_ref());
        let scheme = scheme.and_then(|name| self.platform.scheme_named(name.as_str()));
        let sockets = self.platform.socket_ids().zip(&processors);
        let wiring = sockets
            .map(|(id, fitted)| {
                fitted.as_ref().map(|processor| Wiring::new(&self.platform, id, processor, scheme, &mut problems))
            })
            .collect();
        if problems.is_empty() {
            Ok(Machine::of_checked(self, processors, wiring))
        } else {
            Err(MachineError { platform: self.platform.name().clone(), problems })
        }
    }

    fn find_processor(
        &self,
        socket: &str,
        fitted: &FittedProcessor,
        problems: &mut Vec<MachineProblem>,
    ) -> Option<Processor> {
        let platform = &self.platform;
        let processor = match fitted {
            FittedProcessor::Described(processor) => processor.clone(),
            FittedProcessor::Named(name) => {
                let Some(found) = platform.description().processors.iter().find(|known| *known.name() == **name) else {
                    problems.push(MachineProblem::UnknownProcessor {
                        socket: socket.to_owned(),
                        processor: name.clone(),
                        allowed: listed(platform.description().processors.iter().map(Processor::name)),
                    });
                    return None;
                };
                found.clone()
            }
        };
        if processor.generation() != platform.generation() {
            problems.push(MachineProblem::OtherGeneration {
                socket: socket.to_owned(),
                processor: processor.name().clone(),
                found: processor.generation(),
                wanted: platform.generation(),
            });
        }
        Some(processor)
    }

    fn check_voltage(&self, processors: &[Option<Processor>], problems: &mut Vec<MachineProblem>) {
        let Some(set) = self.settings.voltage_mv.or(self.platform.description().default_settings.voltage_mv) else {
            return;
        };
        for (socket, processor) in self.platform.sockets().iter().zip(processors) {
            let lacking = processor.iter().filter(|processor| !processor.description().voltages_mv.value.contains(set));
            problems.extend(lacking.map(|processor| MachineProblem::Voltage {
                set,
                socket: socket.label.clone(),
                processor: processor.name().clone(),
                allowed: processor.description().voltages_mv.value.clone(),
            }));
        }
    }

    fn check_names(&self, problems: &mut Vec<MachineProblem>) {
        let platform = &self.platform;
        for name in &self.options {
            if !platform.description().options.iter().any(|option| option.name == **name) {
                let allowed = listed(platform.description().options.iter().map(|option| &option.name));
                problems.push(MachineProblem::Unknown {
                    place: FieldPath::of("options"),
                    what: "option",
                    name: name.clone(),
                    allowed,
                });
            }
        }
        let Settings { mode, domain_scheme, power_profile, rate_cap_mts: _, voltage_mv: _, closed_slots } =
            &self.settings;
        for slot in closed_slots.keys().filter(|slot| platform.slot_named(slot.as_str()).is_none()) {
            let allowed = platform.slot_labels();
            problems.push(MachineProblem::Unknown {
                place: FieldPath::of("settings").field("closed_slots"),
                what: "slot",
                name: slot.to_string(),
                allowed,
            });
        }
        if let Some(scheme) = domain_scheme.as_ref().filter(|scheme| {
            **scheme != *DomainScheme::ONE_PER_PROCESSOR && platform.scheme_named(scheme.as_str()).is_none()
        }) {
            let one = Name::lossy(DomainScheme::ONE_PER_PROCESSOR);
            let known = platform.description().domain_schemes.iter().map(|known| &known.name);
            let allowed = listed(std::iter::once(&one).chain(known));
            problems.push(MachineProblem::Unknown {
                place: FieldPath::of("settings").field("domain_scheme"),
                what: "domain scheme",
                name: scheme.to_string(),
                allowed,
            });
        }
        if let Some(mode) = mode.as_ref().filter(|mode| {
            **mode != *Mode::INDEPENDENT && !platform.description().modes.iter().any(|known| known.name == **mode)
        }) {
            let independent = Name::lossy(Mode::INDEPENDENT);
            let allowed = listed(
                std::iter::once(&independent).chain(platform.description().modes.iter().map(|known| &known.name)),
            );
            problems.push(MachineProblem::Unknown {
                place: FieldPath::of("settings").field("mode"),
                what: "mode",
                name: mode.to_string(),
                allowed,
            });
        }
        if let Some(profile) = power_profile
            .as_ref()
            .filter(|name| !platform.description().power_profiles.iter().any(|known| known.name == **name))
        {
            let allowed = listed(platform.description().power_profiles.iter().map(|known| &known.name));
            problems.push(MachineProblem::Unknown {
                place: FieldPath::of("settings").field("power_profile"),
                what: "power profile",
                name: profile.to_string(),
                allowed,
            });
        }
    }
}
