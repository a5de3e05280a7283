use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, OnceLock};

use serde::{Deserialize, Serialize};

use crate::machine::{MachineDescription, MachineError, PrintedLayout, Unit, Wiring};
use crate::platform::{ChannelGroup, DomainScheme, Mode, Platform, PlatformOption, Settings, Slot, SlotId, SocketId};
use crate::processor::Processor;
use crate::stated::{Basis, Stated};
use crate::unit::{DataRate, Name, Voltage};

/// A checked machine. Cheap to clone.
///
/// ```
/// use slotwright::{Machine, reference};
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc())
///     .processor_named("1", "later")
///     .closed_slot("A3".parse()?, "bent contacts".parse()?)
///     .build()?;
/// assert_eq!(machine.processors().count(), 1);
/// assert_eq!(machine.live_slots().count(), 11); // of the second processor's slots none is live
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(try_from = "MachineDescription", into = "MachineDescription")]
pub struct Machine(Arc<Fitted>);

#[derive(Debug)]
struct Fitted {
    description: MachineDescription,
    settings: Settings,
    processors: Vec<Option<Processor>>,
    states: Vec<SlotState>,
    ladder: Vec<DataRate>,
    caps: Vec<RateCap>,
    mode_name: Name,
    scheme_name: Name,
    /// By socket; absent for a socket without a processor.
    wiring: Vec<Option<Wiring>>,
    /// By socket.
    units: Vec<Vec<Unit>>,
    /// Worked out when first asked for.
    printed: OnceLock<Vec<PrintedLayout>>,
    /// By socket, worked out when first asked for.
    best_rates: OnceLock<Vec<Option<DataRate>>>,
    /// Worked out when first asked for.
    names_identity: OnceLock<bool>,
    /// Worked out when first asked for.
    names_grade: OnceLock<bool>,
}

/// Whether a slot can be used.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub enum SlotState {
    /// It can.
    Live,
    /// Its processor is not there.
    NoProcessor,
    /// An option takes it away.
    Masked {
        /// The option.
        option: Name,
    },
    /// The machine's settings close it.
    Closed {
        /// Why.
        reason: Name,
    },
    /// The mode takes it away.
    NotInMode {
        /// The mode.
        mode: Name,
    },
}

/// A cap on the rate that comes from neither modules nor processors.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum RateCap {
    /// An option.
    Option {
        /// The option.
        name: Name,
        /// The cap.
        rate_mts: Stated<DataRate>,
    },
    /// The power profile.
    PowerProfile {
        /// The profile.
        name: Name,
        /// The cap.
        rate_mts: Stated<DataRate>,
    },
    /// The redundancy mode.
    Mode {
        /// The mode.
        name: Name,
        /// The cap.
        rate_mts: Stated<DataRate>,
    },
    /// A setting of the machine's owner.
    Setting {
        /// The cap.
        rate_mts: DataRate,
    },
}

impl Machine {
    /// Starts a machine on a board.
    #[must_use]
    pub fn builder(platform: Platform) -> MachineDescription {
        MachineDescription::new(platform)
    }

    pub(crate) fn of_checked(
        description: MachineDescription,
        processors: Vec<Option<Processor>>,
        wiring: Vec<Option<Wiring>>,
    ) -> Self {
        let platform = &description.platform;
        let defaults = &platform.description().default_settings;
        let settings = Settings {
            mode: description.settings.mode.clone().or_else(|| defaults.mode.clone()),
            domain_scheme: description.settings.domain_scheme.clone().or_else(|| defaults.domain_scheme.clone()),
            power_profile: description.settings.power_profile.clone().or_else(|| defaults.power_profile.clone()),
            rate_cap_mts: description.settings.rate_cap_mts.or(defaults.rate_cap_mts),
            voltage_mv: description.settings.voltage_mv.or(defaults.voltage_mv),
            closed_slots: closed_slots(&description),
        };
        let fitted: Vec<_> = platform
            .description()
            .options
            .iter()
            .filter(|option| description.options.iter().any(|name| option.name == **name))
            .collect();
        let mode =
            settings.mode.as_ref().and_then(|name| platform.description().modes.iter().find(|mode| mode.name == *name));
        let not_in_mode = |slot: &Slot| {
            let grouped = |mode: &Mode| {
                let (socket, channel) = (platform.socket(slot.socket), platform.channel(slot.channel));
                let holds =
                    |group: &ChannelGroup| group.socket == socket.label && group.channels.contains(&channel.label);
                mode.groups.is_empty() || mode.groups.iter().any(holds)
            };
            mode.filter(|mode| mode.masks.contains(slot.label()) || !grouped(mode))
        };
        let states = platform
            .slots()
            .iter()
            .map(|slot| {
                if !processors.get(slot.socket.index()).is_some_and(Option::is_some) {
                    return SlotState::NoProcessor;
                }
                if let Some(reason) = settings.closed_slots.get(slot.label()) {
                    return SlotState::Closed { reason: reason.clone() };
                }
                if let Some(option) = fitted.iter().find(|option| option.masks.contains(slot.label())) {
                    return SlotState::Masked { option: option.name.clone() };
                }
                not_in_mode(slot).map_or(SlotState::Live, |mode| SlotState::NotInMode { mode: mode.name.clone() })
            })
            .collect::<Vec<SlotState>>();
        let is_live = |slot: SlotId| states.get(slot.index()) == Some(&SlotState::Live);
        let units = platform.socket_ids().map(|socket| Unit::all(platform, socket, mode, is_live)).collect();
        let ladder = ladder(platform, processors.iter().flatten());
        let caps = caps(platform, &fitted, mode, &settings);
        let named = |set: &Option<Name>, otherwise: &str| set.clone().unwrap_or_else(|| Name::lossy(otherwise));
        Self(Arc::new(Fitted {
            mode_name: named(&settings.mode, Mode::INDEPENDENT),
            scheme_name: named(&settings.domain_scheme, DomainScheme::ONE_PER_PROCESSOR),
            settings,
            processors,
            states,
            ladder,
            caps,
            wiring,
            units,
            printed: OnceLock::new(),
            best_rates: OnceLock::new(),
            names_identity: OnceLock::new(),
            names_grade: OnceLock::new(),
            description,
        }))
    }

    /// The machine in the independent mode, and in each that its platform has.
    pub(crate) fn in_each_mode(&self) -> impl Iterator<Item = Self> + '_ {
        let modes = self.platform().description().modes.iter().map(|mode| mode.name.clone());
        std::iter::once(Name::lossy(Mode::INDEPENDENT))
            .chain(modes)
            .map(|mode| self.set_otherwise(|settings| settings.mode = Some(mode)))
    }

    /// The same with another mode, power profile or cap on the rate; names must be the platform's.
    pub(crate) fn set_otherwise(&self, change: impl FnOnce(&mut Settings)) -> Self {
        let mut description = self.0.description.clone();
        change(&mut description.settings);
        // neither processors nor wiring hang on these
        Self::of_checked(description, self.0.processors.clone(), self.0.wiring.clone())
    }

    /// What the machine is made of.
    #[must_use]
    pub fn description(&self) -> &MachineDescription {
        &self.0.description
    }

    /// The board.
    #[must_use]
    pub fn platform(&self) -> &Platform {
        &self.0.description.platform
    }

    /// How it is set: its own settings over the platform's defaults.
    #[must_use]
    pub fn settings(&self) -> &Settings {
        &self.0.settings
    }

    /// The name of its redundancy mode.
    #[must_use]
    pub fn mode(&self) -> &str {
        self.0.mode_name.as_str()
    }

    pub(crate) fn mode_name(&self) -> &Name {
        &self.0.mode_name
    }

    pub(crate) fn domain_scheme_name(&self) -> &Name {
        &self.0.scheme_name
    }

    /// Its redundancy mode as the platform describes it; `None` for the independent mode.
    #[must_use]
    pub fn mode_description(&self) -> Option<&Mode> {
        let name = self.0.settings.mode.as_ref()?;
        self.platform().description().modes.iter().find(|mode| mode.name == *name)
    }

    /// The name of its scheme of interleave domains.
    #[must_use]
    pub fn domain_scheme(&self) -> &str {
        self.0.scheme_name.as_str()
    }

    /// How the channels of a processor are interleaved.
    pub(crate) fn wiring(&self, socket: SocketId) -> Option<&Wiring> {
        self.0.wiring.get(socket.index())?.as_ref()
    }

    /// What evenness compares of a processor: its channels, or those that the mode joins.
    pub(crate) fn units(&self, socket: SocketId) -> &[Unit] {
        self.0.units.get(socket.index()).map_or(&[], Vec::as_slice)
    }

    /// The layouts that its manual prints for it.
    pub(crate) fn printed(&self) -> &[PrintedLayout] {
        self.0.printed.get_or_init(|| PrintedLayout::all(self))
    }

    /// The best rates by socket, whatever the rate policy.
    /// Whether a processor supplies a voltage to memory as the machine is set.
    pub(crate) fn supplies(&self, processor: &Processor, voltage: Voltage) -> bool {
        processor.description().voltages_mv.value.contains(voltage)
            && self.settings().voltage_mv.is_none_or(|set| set == voltage)
    }

    /// Whether some table, limit or row names a maker or a part number, so that modules which differ in these alone may run
    /// at unlike rates, or be allowed in unlike places.
    pub(crate) fn names_identity(&self) -> bool {
        *self.0.names_identity.get_or_init(|| self.find_whether_identity_is_named())
    }

    /// Whether some table, limit or row names a grade.
    pub(crate) fn names_grade(&self) -> bool {
        *self.0.names_grade.get_or_init(|| self.find_whether_a_grade_is_named())
    }

    pub(super) fn best_rates(&self) -> &[Option<DataRate>] {
        self.0.best_rates.get_or_init(|| self.find_best_rates())
    }

    /// The processor in a socket.
    #[must_use]
    pub fn processor(&self, socket: SocketId) -> Option<&Processor> {
        self.0.processors.get(socket.index())?.as_ref()
    }

    /// The sockets that hold a processor, with it.
    pub fn processors(&self) -> impl Iterator<Item = (SocketId, &Processor)> + Clone {
        self.0.processors.iter().enumerate().filter_map(|(index, p)| Some((SocketId::new(index), p.as_ref()?)))
    }

    /// Whether a slot can be used.
    #[must_use]
    pub fn slot_state(&self, slot: SlotId) -> &SlotState {
        self.0.states.get(slot.index()).unwrap_or(&SlotState::NoProcessor)
    }

    /// Whether a slot is live: its processor is present, it is not closed, and neither options nor the mode take it away.
    #[must_use]
    pub fn is_live(&self, slot: SlotId) -> bool {
        *self.slot_state(slot) == SlotState::Live
    }

    /// Whether a slot is there for its channel: live, or closed. A closed slot is an empty position that is wired.
    pub(crate) fn is_position(&self, slot: SlotId) -> bool {
        matches!(self.slot_state(slot), SlotState::Live | SlotState::Closed { .. })
    }

    /// The live slots, by turn in the fill order.
    pub fn live_slots(&self) -> impl Iterator<Item = SlotId> + '_ {
        self.platform().fill_order().iter().copied().filter(|&slot| self.is_live(slot))
    }

    /// The options fitted, as the platform describes them.
    pub fn options(&self) -> impl Iterator<Item = &PlatformOption> {
        let names = &self.0.description.options;
        self.platform().description().options.iter().filter(|option| names.iter().any(|name| option.name == **name))
    }

    /// The steps that the running rate can take, lowest first: the generation's standard rates, less
    /// those that a processor leaves out of its list, plus those that it adds. Steps above the
    /// processors' highest rate are there so that an answer can say what lifting that limit would give.
    #[must_use]
    pub fn rate_steps(&self) -> &[DataRate] {
        &self.0.ladder
    }

    /// Caps on the rate from options, power profile and settings.
    #[must_use]
    pub fn rate_caps(&self) -> &[RateCap] {
        &self.0.caps
    }
}

/// The slots that a machine closes, and those that its platform does.
fn closed_slots(description: &MachineDescription) -> BTreeMap<Name, Name> {
    let mut closed = description.platform.description().default_settings.closed_slots.clone();
    closed.extend(description.settings.closed_slots.clone());
    closed
}

fn ladder<'a>(platform: &Platform, processors: impl Iterator<Item = &'a Processor> + Clone) -> Vec<DataRate> {
    let listed = processors.clone().filter_map(|processor| processor.description().rates_mts.as_ref()).flatten();
    let steps: BTreeSet<DataRate> = platform.generation().rates().iter().chain(listed).copied().collect();
    let left_out = |rate: DataRate| {
        processors.clone().any(|processor| {
            rate <= processor.description().max_rate_mts.value
                && processor.description().rates_mts.as_ref().is_some_and(|rates| !rates.contains(&rate))
        })
    };
    steps.into_iter().filter(|&rate| !left_out(rate)).collect()
}

fn caps(platform: &Platform, fitted: &[&PlatformOption], mode: Option<&Mode>, settings: &Settings) -> Vec<RateCap> {
    let options = fitted.iter().filter_map(|option| {
        let rate_mts = Stated { value: option.rate_cap_mts?, basis: option.basis, source: option.source.clone() };
        Some(RateCap::Option { name: option.name.clone(), rate_mts })
    });
    let profile = platform
        .description()
        .power_profiles
        .iter()
        .filter(|profile| settings.power_profile.as_ref() == Some(&profile.name))
        .map(|profile| RateCap::PowerProfile {
            name: profile.name.clone(),
            rate_mts: Stated::new(profile.rate_cap_mts, profile.basis),
        });
    let mode = mode.and_then(|mode| {
        let rate_mts = Stated { value: mode.rate_cap_mts?, basis: mode.basis, source: mode.source.clone() };
        Some(RateCap::Mode { name: mode.name.clone(), rate_mts })
    });
    let setting = settings.rate_cap_mts.map(|rate_mts| RateCap::Setting { rate_mts });
    options.chain(profile).chain(mode).chain(setting).collect()
}

impl RateCap {
    /// The cap.
    #[must_use]
    pub fn rate(&self) -> DataRate {
        match self {
            Self::Option { rate_mts, .. } | Self::PowerProfile { rate_mts, .. } | Self::Mode { rate_mts, .. } => {
                rate_mts.value
            }
            Self::Setting { rate_mts } => *rate_mts,
        }
    }

    /// What the cap rests on; a setting is what it is.
    #[must_use]
    pub fn basis(&self) -> Basis {
        match self {
            Self::Option { rate_mts, .. } | Self::PowerProfile { rate_mts, .. } | Self::Mode { rate_mts, .. } => {
                rate_mts.basis
            }
            Self::Setting { .. } => Basis::Measured,
        }
    }
}

impl PartialEq for Machine {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0) || self.0.description == other.0.description
    }
}

impl Eq for Machine {}

impl TryFrom<MachineDescription> for Machine {
    type Error = MachineError;

    fn try_from(description: MachineDescription) -> Result<Self, MachineError> {
        description.build()
    }
}

impl From<Machine> for MachineDescription {
    fn from(machine: Machine) -> Self {
        machine.0.description.clone()
    }
}
