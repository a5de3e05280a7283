use core::fmt;

use serde::{Deserialize, Serialize};

use crate::platform::{ChannelId, Platform, SlotId, SocketId};
use crate::unit::Name;

/// Where on a machine something is.
///
/// ```
/// use slotwright::{Machine, Place, reference};
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// let platform = machine.platform();
/// let slot = platform.slot_named("A1").unwrap();
/// assert_eq!(Place::slot(platform, slot), Place::Slot { slot: "A1".parse()? });
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Place {
    /// The whole machine.
    Machine,
    /// One processor.
    Socket {
        /// The socket's label.
        socket: Name,
    },
    /// One memory controller.
    Controller {
        /// The socket's label.
        socket: Name,
        /// The controller's label.
        controller: Name,
    },
    /// One channel.
    Channel {
        /// The socket's label.
        socket: Name,
        /// The channel's label.
        channel: Name,
    },
    /// One slot.
    Slot {
        /// The slot's label.
        slot: Name,
    },
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

impl Place {
    /// A socket of a platform.
    #[must_use]
    pub fn socket(platform: &Platform, id: SocketId) -> Self {
        Self::Socket { socket: platform.socket(id).label.clone() }
    }

    /// A channel of a platform.
    #[must_use]
    pub fn channel(platform: &Platform, id: ChannelId) -> Self {
        let channel = platform.channel(id);
        Self::Channel { socket: platform.socket(channel.socket).label.clone(), channel: channel.label.clone() }
    }

    /// A slot of a platform.
    #[must_use]
    pub fn slot(platform: &Platform, id: SlotId) -> Self {
        Self::Slot { slot: platform.slot(id).label().clone() }
    }

    /// The slots among places, or whatever else is there, as one phrase: "slots A1, B1".
    pub(crate) fn phrase(places: &[Self]) -> String {
        let mut parts: Vec<String> = Vec::new();
        if places.contains(&Self::Machine) {
            parts.push("the machine".to_owned());
        }
        let sockets: Vec<_> = places
            .iter()
            .filter_map(|p| if let Self::Socket { socket } = p { Some(socket.to_string()) } else { None })
            .collect();
        let controllers: Vec<_> = places
            .iter()
            .filter_map(|p| match p {
                Self::Controller { socket, controller } => Some(format!("{controller} of processor {socket}")),
                _ => None,
            })
            .collect();
        let channels: Vec<_> = places
            .iter()
            .filter_map(|p| match p {
                Self::Channel { socket, channel } => Some(format!("{channel} of processor {socket}")),
                _ => None,
            })
            .collect();
        let slots: Vec<_> = places
            .iter()
            .filter_map(|p| if let Self::Slot { slot } = p { Some(slot.to_string()) } else { None })
            .collect();
        for (word, names) in
            [("processor", sockets), ("controller", controllers), ("channel", channels), ("slot", slots)]
        {
            match names.as_slice() {
                [] => {}
                [one] => parts.push(format!("{word} {one}")),
                many => parts.push(format!("{word}s {}", many.join(", "))),
            }
        }
        parts.join("; ")
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&Self::phrase(std::slice::from_ref(self)))
    }
}
