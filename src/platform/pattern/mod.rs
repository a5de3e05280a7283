//! Regular boards as a manual shows them: labels by a pattern, which end of a channel has number 1, and the turns.

mod address;
mod expand;
mod labels;
pub(crate) mod lists;
mod problem;
mod take_turns;
mod turns;

use core::fmt;
use std::collections::BTreeMap;

use serde::de::value::SeqAccessDeserializer;
use serde::de::{self, SeqAccess, Unexpected, Visitor};
use serde::{Deserialize, Deserializer, Serialize};

use crate::module::FormFactor;
use crate::platform::board::{dimm, is_dimm};
use crate::platform::{KeyFacing, SlotAddress};
use crate::stated::Stated;
use crate::unit::{Height, Name};

pub use address::AddressPattern;
pub use labels::{ChannelLabels, LabelPattern, LabelPatternError, LabelPiece, SlotLabels};
pub use problem::{BoardProblem, SlotAt};
pub use turns::{ProcessorTurns, Turns};

/// A regular board as its manual shows it; stands in a description for its sockets, and
/// [`build`](crate::platform::PlatformDescription::build) writes them out.
///
/// Twelve slots in five lines; A2 is nearer to the processor than A1, and every channel gets its first module before any gets a second:
///
/// ```
/// use slotwright::module::Generation;
/// use slotwright::platform::{BoardPattern, ChannelEnd, ChannelLabels, PlatformDescription, Turns};
/// use slotwright::stated::{Basis, Stated};
/// use slotwright::unit::Name;
///
/// let pattern = BoardPattern::new([Name::new("1")?, Name::new("2")?], ChannelLabels::LettersRunningOn(3), 2, "{channel}{number}".parse()?)
///     .number_one(Stated::new(ChannelEnd::Far, Basis::BoardManual))
///     .turns(Stated::new(Turns::by_position(), Basis::BoardManual));
/// let board = PlatformDescription::patterned(Name::new("bench board")?, Generation::Ddr4, pattern).build()?;
/// let order: Vec<_> = board.fill_order().iter().map(|&slot| board.slot(slot).label().as_str()).collect();
/// assert_eq!(order[..6], ["A1", "D1", "B1", "E1", "C1", "F1"]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct BoardPattern {
    /// The labels of the sockets.
    #[serde(with = "lists::one")]
    #[cfg_attr(feature = "schemars", schemars(with = "lists::NameListForm"))]
    pub sockets: Vec<Name>,
    /// The labels of the memory controllers of each processor, which share its channels out evenly, in order; one, "0", where absent.
    #[serde(default = "one_controller", skip_serializing_if = "is_one_controller", with = "lists::one")]
    #[cfg_attr(feature = "schemars", schemars(with = "lists::NameListForm"))]
    pub controllers: Vec<Name>,
    /// The labels of the channels.
    pub channels: ChannelLabels,
    /// How many slots each channel has.
    pub slots_per_channel: SlotsPerChannel,
    /// The labels of the slots.
    pub slot_labels: SlotLabels,
    /// Which end of a channel has number 1; where absent, no position is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub number_one: Option<Stated<ChannelEnd>>,
    /// The order in which the slots are filled; not known where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turns: Option<Stated<Turns>>,
    /// The markings of the slots, by position from the far end; where no position is known, by number.
    #[serde(default, skip_serializing_if = "Vec::is_empty", with = "lists::one")]
    #[cfg_attr(feature = "schemars", schemars(with = "lists::NameListForm"))]
    pub markings: Vec<Name>,
    /// Which way the keys of the slots face.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub key_facing: Option<KeyFacings>,
    /// The form of module that all slots take.
    #[serde(default = "dimm", skip_serializing_if = "is_dimm")]
    pub form_factor: FormFactor,
    /// The tallest module that all slots take.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_limit_um: Option<Height>,
    /// How messages of the machine name the slots: each scheme by the numbers with which it begins.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub addresses: Vec<AddressPattern>,
    /// Slots that differ from the pattern, by the label that the pattern gives them.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub slots: BTreeMap<Name, SlotOverride>,
}

impl BoardPattern {
    /// A board of which neither positions nor turns are known yet.
    #[must_use]
    pub fn new(
        sockets: impl IntoIterator<Item = Name>,
        channels: ChannelLabels,
        slots_per_channel: impl Into<SlotsPerChannel>,
        slot_labels: SlotLabels,
    ) -> Self {
        Self {
            sockets: sockets.into_iter().collect(),
            controllers: one_controller(),
            channels,
            slots_per_channel: slots_per_channel.into(),
            slot_labels,
            number_one: None,
            turns: None,
            markings: Vec::new(),
            key_facing: None,
            form_factor: dimm(),
            height_limit_um: None,
            addresses: Vec::new(),
            slots: BTreeMap::new(),
        }
    }

    /// Sets [`controllers`](Self#structfield.controllers) to just these.
    #[must_use]
    pub fn controllers(mut self, controllers: impl IntoIterator<Item = Name>) -> Self {
        self.controllers = controllers.into_iter().collect();
        self
    }

    setters! {
        some number_one(number_one: Stated<ChannelEnd>);
        some turns(turns: Stated<Turns>);
        each markings(markings: Name);
        some key_facing(key_facing: KeyFacings);
        value form_factor(form_factor: FormFactor);
        some height_limit(height_limit_um: Height);
        each addresses(addresses: AddressPattern);
        each slots(slots: (Name, SlotOverride));
    }
}

fn one_controller() -> Vec<Name> {
    vec![Name::lossy("0")]
}

fn is_one_controller(controllers: &[Name]) -> bool {
    matches!(controllers, [one] if *one == *"0")
}

/// An end of a channel, seen from the processor.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum ChannelEnd {
    /// Farthest from the processor.
    Far,
    /// Nearest to the processor.
    Near,
}

/// How many slots the channels have: as a document one number, or a list with a number for each channel of a processor.
///
/// ```
/// use slotwright::platform::SlotsPerChannel;
///
/// let three_three_two: SlotsPerChannel = serde_json::from_str("[3, 3, 2]")?;
/// assert_eq!(three_three_two, SlotsPerChannel::Each(vec![3, 3, 2]));
/// # Ok::<(), serde_json::Error>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(untagged)]
pub enum SlotsPerChannel {
    /// All have so many.
    All(u8),
    /// Each channel of a processor has its own number, in order; processors are alike.
    Each(Vec<u8>),
}

impl SlotsPerChannel {
    /// How many a channel has, by its place in its socket.
    pub(super) fn of_channel(&self, channel: usize) -> u8 {
        match self {
            Self::All(slots) => *slots,
            Self::Each(each) => each.get(channel).copied().unwrap_or(0),
        }
    }
}

impl<'de> Deserialize<'de> for SlotsPerChannel {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct NumberOrList;

        impl<'de> Visitor<'de> for NumberOrList {
            type Value = SlotsPerChannel;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number of slots from 0 to 255, or a list with one for each channel of a processor")
            }

            fn visit_u64<E: de::Error>(self, slots: u64) -> Result<SlotsPerChannel, E> {
                let refused = || E::invalid_value(Unexpected::Unsigned(slots), &self);
                u8::try_from(slots).map(SlotsPerChannel::All).map_err(|_| refused())
            }

            fn visit_i64<E: de::Error>(self, slots: i64) -> Result<SlotsPerChannel, E> {
                let refused = || E::invalid_value(Unexpected::Signed(slots), &self);
                u8::try_from(slots).map(SlotsPerChannel::All).map_err(|_| refused())
            }

            fn visit_seq<A: SeqAccess<'de>>(self, each: A) -> Result<SlotsPerChannel, A::Error> {
                Vec::deserialize(SeqAccessDeserializer::new(each)).map(SlotsPerChannel::Each)
            }
        }

        deserializer.deserialize_any(NumberOrList)
    }
}

impl From<u8> for SlotsPerChannel {
    fn from(slots: u8) -> Self {
        Self::All(slots)
    }
}

/// Which way the keys of the slots face.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum KeyFacings {
    /// All face one way.
    All(KeyFacing),
    /// By socket, in order.
    BySocket(Vec<KeyFacing>),
    /// By channel of a processor, in order; processors are alike.
    ByChannel(Vec<KeyFacing>),
}

/// What is unlike the pattern at one slot; what is absent is as the pattern has it.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, default)]
#[non_exhaustive]
pub struct SlotOverride {
    /// Its label.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub label: Option<Name>,
    /// Its place along the channel: 0 is the far end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub position: Option<u8>,
    /// Its turn in the fill order.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub turn: Option<u16>,
    /// The form of module that it takes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub form_factor: Option<FormFactor>,
    /// The tallest module that it takes.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub height_limit_um: Option<Height>,
    /// Its marking.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub marking: Option<Name>,
    /// Which way its key faces.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub key_facing: Option<KeyFacing>,
    /// How messages of the machine name it, in the place of what the pattern says.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub addresses: Option<Vec<SlotAddress>>,
}

impl SlotOverride {
    /// Nothing that differs yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    setters! {
        some label(label: Name);
        some position(position: u8);
        some turn(turn: u16);
        some form_factor(form_factor: FormFactor);
        some height_limit(height_limit_um: Height);
        some marking(marking: Name);
        some key_facing(key_facing: KeyFacing);
        any_of addresses(addresses: SlotAddress);
    }
}
