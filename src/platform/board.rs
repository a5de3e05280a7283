//! The board as it is laid out.

use serde::{Deserialize, Serialize};

use crate::module::FormFactor;
use crate::unit::{Height, Name};

/// A processor socket and the memory that hangs on it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SocketDescription {
    /// As printed on the board; unique on the platform.
    pub label: Name,
    /// The memory controllers of its processor.
    pub controllers: Vec<ControllerDescription>,
}

impl SocketDescription {
    /// A socket and the controllers of its processor.
    #[must_use]
    pub fn new(label: Name, controllers: impl IntoIterator<Item = ControllerDescription>) -> Self {
        Self { label, controllers: controllers.into_iter().collect() }
    }
}

/// A memory controller.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ControllerDescription {
    /// Unique in its socket.
    pub label: Name,
    /// Its channels.
    pub channels: Vec<ChannelDescription>,
}

impl ControllerDescription {
    /// A controller and its channels.
    #[must_use]
    pub fn new(label: Name, channels: impl IntoIterator<Item = ChannelDescription>) -> Self {
        Self { label, channels: channels.into_iter().collect() }
    }
}

/// A memory channel; it may have no slots at all.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ChannelDescription {
    /// Unique in its socket.
    pub label: Name,
    /// Its slots, in any order.
    pub slots: Vec<SlotDescription>,
}

impl ChannelDescription {
    /// A channel and its slots, in any order.
    #[must_use]
    pub fn new(label: Name, slots: impl IntoIterator<Item = SlotDescription>) -> Self {
        Self { label, slots: slots.into_iter().collect() }
    }
}

/// A slot. Its label, its position and its turn are three different facts: the label is what is printed beside
/// it, the position is where it lies on its channel, and the turn is when it is filled. Boards mostly fill
/// the far slot of every channel first, across channels and processors, and then the next slot of each.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SlotDescription {
    /// As printed on the board; unique on the platform.
    pub label: Name,
    /// Its place along the channel: 0 is the far end. Unique in its channel. Where one of a channel is not known, none of it counts as
    /// known, and the order of the document stands in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub position: Option<u8>,
    /// Its turn in the fill order of the board with every processor present. Unique on the platform. Where one is not known, none
    /// counts as known, and the first slots of all channels, the second ones and so on stand in, in the order of the document.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub turn: Option<u16>,
    /// The form of module that it takes.
    #[serde(default = "dimm", skip_serializing_if = "is_dimm")]
    pub form_factor: FormFactor,
    /// The tallest module that it takes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub height_limit_um: Option<Height>,
    /// A colour or another mark by which a hand finds it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub marking: Option<Name>,
    /// Which way its key faces.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub key_facing: Option<KeyFacing>,
    /// How messages of the machine name it.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub addresses: Vec<SlotAddress>,
}

impl SlotDescription {
    setters! {
        some position(position: u8);
        some turn(turn: u16);
        value form_factor(form_factor: FormFactor);
        some height_limit(height_limit_um: Height);
        some marking(marking: Name);
        some key_facing(key_facing: KeyFacing);
        each addresses(addresses: SlotAddress);
    }
}

/// The form of module that slots take unless they say otherwise.
pub(crate) fn dimm() -> FormFactor {
    FormFactor::Dimm
}

// serde hands over a reference
#[allow(clippy::trivially_copy_pass_by_ref)]
pub(crate) fn is_dimm(form_factor: &FormFactor) -> bool {
    *form_factor == FormFactor::Dimm
}

/// Which way a slot's key lies, seen with the slot's label upright.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum KeyFacing {
    /// As on most of the board.
    Usual,
    /// Turned by half a turn.
    Turned,
}

/// A slot's numbers in one scheme of messages; bases differ from scheme to scheme.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SlotAddress {
    /// Which scheme.
    pub scheme: Name,
    /// Number of the socket.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub socket: Option<u16>,
    /// Number of the controller.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controller: Option<u16>,
    /// Number of the channel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub channel: Option<u16>,
    /// Number of the slot.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slot: Option<u16>,
}

impl SlotAddress {
    /// An address without numbers yet.
    #[must_use]
    pub fn new(scheme: Name) -> Self {
        Self { scheme, socket: None, controller: None, channel: None, slot: None }
    }

    setters! {
        some socket(socket: u16);
        some controller(controller: u16);
        some channel(channel: u16);
        some slot(slot: u16);
    }
}

impl SlotDescription {
    /// A slot for full-length modules; position and turn may be unknown.
    #[must_use]
    pub fn new(label: Name, position: impl Into<Option<u8>>, turn: impl Into<Option<u16>>) -> Self {
        Self {
            label,
            position: position.into(),
            turn: turn.into(),
            form_factor: FormFactor::Dimm,
            height_limit_um: None,
            marking: None,
            key_facing: None,
            addresses: Vec::new(),
        }
    }
}
