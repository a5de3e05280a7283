use serde::{Deserialize, Serialize};

use crate::unit::Name;

/// A scheme in which messages of the machine name slots, by the number with which each of its parts begins; what is absent is no part
/// of it.
///
/// ```
/// use slotwright::platform::AddressPattern;
/// use slotwright::unit::Name;
///
/// // sockets and channels from 0, slots from 1
/// let scheme = AddressPattern::new(Name::new("event log")?).socket_from(0).channel_from(0).slot_from(1);
/// assert_eq!(scheme.slot_from, Some(1));
/// # Ok::<(), slotwright::unit::NameError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct AddressPattern {
    /// Which scheme.
    pub scheme: Name,
    /// The number of the first socket.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub socket_from: Option<u16>,
    /// The number of the first controller of a socket.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controller_from: Option<u16>,
    /// The number of the first channel: of a controller where controllers are numbered, else of a socket.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub channel_from: Option<u16>,
    /// The number of the slot with number 1 in a channel.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slot_from: Option<u16>,
}

impl AddressPattern {
    /// A scheme without parts yet.
    #[must_use]
    pub fn new(scheme: Name) -> Self {
        Self { scheme, socket_from: None, controller_from: None, channel_from: None, slot_from: None }
    }

    setters! {
        some socket_from(socket_from: u16);
        some controller_from(controller_from: u16);
        some channel_from(channel_from: u16);
        some slot_from(slot_from: u16);
    }
}
