use std::collections::BTreeMap;
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::module::Generation;
use crate::platform::description::Patterned;
use crate::platform::{
    DomainScheme, PlatformDescription, PlatformError, PlatformWarning, SlotAddress, SlotDescription, warning,
};
use crate::unit::{Name, Names};

macro_rules! id {
    ($(#[$meta:meta])* $name:ident) => {
        $(#[$meta])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(u16);

        impl $name {
            pub(crate) fn new(index: usize) -> Self {
                Self(u16::try_from(index).unwrap_or(u16::MAX))
            }

            /// The place in the platform's list, from 0.
            #[must_use]
            pub const fn index(self) -> usize {
                self.0 as usize
            }
        }
    };
}

id! {
    /// A socket of one platform, in document order.
    SocketId
}
id! {
    /// A channel of one platform, in document order.
    ChannelId
}
id! {
    /// A slot of one platform, in document order.
    SlotId
}

/// A checked [`PlatformDescription`]; reads like one, and can be walked by slot, channel and socket.
/// Cheap to clone. Two are equal that say the same with every slot written out, whether as a pattern or not.
///
/// ```
/// use slotwright::reference;
///
/// let platform = reference::ddr4_2s_4ch_3spc();
/// assert_eq!((platform.sockets().len(), platform.slots().len()), (2, 24));
/// assert_eq!(platform.description().processors[0].name().as_str(), "earlier");
/// ```
#[derive(Clone, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(try_from = "PlatformDescription", into = "PlatformDescription")]
pub struct Platform(Arc<Index>);

struct Index {
    /// Every slot written out.
    description: PlatformDescription,
    /// What it was written as, where that is a pattern.
    pattern: Option<Patterned>,
    sockets: Vec<Socket>,
    channels: Vec<Channel>,
    slots: Vec<Slot>,
    by_label: BTreeMap<Name, SlotId>,
    knows_turns: bool,
    fill_order: Vec<SlotId>,
    warnings: Vec<PlatformWarning>,
    nowhere: Nowhere,
}

/// What an id of another platform leads to, so that no id can make the library panic.
struct Nowhere {
    socket: Socket,
    channel: Channel,
    slot: Slot,
}

impl Nowhere {
    fn new() -> Self {
        let label = Name::lossy("nowhere");
        let (socket, channel) = (SocketId(u16::MAX), ChannelId(u16::MAX));
        Self {
            socket: Socket { label: label.clone(), channels: Vec::new(), slots: Vec::new() },
            channel: Channel { label: label.clone(), socket, controller: label.clone(), slots: Vec::new() },
            slot: Slot {
                description: SlotDescription::new(label, 0, u16::MAX),
                is_placed: false,
                order_in_channel: usize::MAX,
                order: usize::MAX,
                socket,
                channel,
            },
        }
    }
}

/// A socket with its channels and slots.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Socket {
    /// As printed on the board.
    pub label: Name,
    /// Its channels, in document order.
    pub channels: Vec<ChannelId>,
    /// Its slots, in document order.
    pub slots: Vec<SlotId>,
}

/// A channel with its slots.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Channel {
    /// Unique in its socket.
    pub label: Name,
    /// The socket that it hangs on.
    pub socket: SocketId,
    /// The label of its controller.
    pub controller: Name,
    /// Its slots, from the far end.
    pub slots: Vec<SlotId>,
}

/// A slot and where it hangs. Reads like its description.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct Slot {
    description: SlotDescription,
    /// Whether the positions of its channel are known.
    is_placed: bool,
    order_in_channel: usize,
    order: usize,
    /// The socket that it hangs on.
    pub socket: SocketId,
    /// The channel that it hangs on.
    pub channel: ChannelId,
}

impl Slot {
    /// As printed on the board.
    #[must_use]
    pub fn label(&self) -> &Name {
        &self.description.label
    }

    /// Its place along the channel, 0 at the far end; `None` where not all of the channel's are known.
    #[must_use]
    pub fn position(&self) -> Option<u8> {
        self.description.position.filter(|_| self.is_placed)
    }

    /// Which of its channel's slots it is, from the far end, from 0; where positions are not known, by the order of the document.
    #[must_use]
    pub fn order_in_channel(&self) -> usize {
        self.order_in_channel
    }

    /// Its place in the [fill order](Platform::fill_order), from 0.
    #[must_use]
    pub fn order(&self) -> usize {
        self.order
    }

    /// What it was described as.
    #[must_use]
    pub fn description(&self) -> &SlotDescription {
        &self.description
    }
}

impl Platform {
    /// Takes a description that is known to have no problems.
    pub(crate) fn of_checked(description: PlatformDescription) -> Self {
        let (description, pattern) = description.expand();
        Self::of_expanded(description, pattern)
    }

    /// Takes one without problems that is written out, and the pattern that it was.
    pub(crate) fn of_expanded(description: PlatformDescription, pattern: Option<Patterned>) -> Self {
        let (mut sockets, mut channels, mut slots) = (Vec::new(), Vec::new(), Vec::<Slot>::new());
        for (number, socket) in description.sockets.iter().enumerate() {
            let socket_id = SocketId::new(number);
            let mut entry = Socket { label: socket.label.clone(), channels: Vec::new(), slots: Vec::new() };
            for controller in &socket.controllers {
                for channel in &controller.channels {
                    let channel_id = ChannelId::new(channels.len());
                    let is_placed = channel.slots.iter().all(|slot| slot.position.is_some());
                    let mut ids = Vec::with_capacity(channel.slots.len());
                    for slot in &channel.slots {
                        ids.push(SlotId::new(slots.len()));
                        let (order_in_channel, order) = (0, 0);
                        slots.push(Slot {
                            description: slot.clone(),
                            is_placed,
                            order_in_channel,
                            order,
                            socket: socket_id,
                            channel: channel_id,
                        });
                    }
                    entry.slots.extend(&ids);
                    ids.sort_by_key(|id| slots.get(id.index()).and_then(Slot::position));
                    for (order, id) in ids.iter().enumerate() {
                        slots.get_mut(id.index()).into_iter().for_each(|slot| slot.order_in_channel = order);
                    }
                    entry.channels.push(channel_id);
                    channels.push(Channel {
                        label: channel.label.clone(),
                        socket: socket_id,
                        controller: controller.label.clone(),
                        slots: ids,
                    });
                }
            }
            sockets.push(entry);
        }
        let ids = || (0..slots.len()).map(SlotId::new);
        let by_label = slots.iter().map(|slot| slot.description.label.clone()).zip(ids()).collect();
        let knows_turns = slots.iter().all(|slot| slot.description.turn.is_some());
        let mut fill_order: Vec<_> = ids().collect();
        fill_order.sort_by_key(|id| {
            slots.get(id.index()).map(|slot| match slot.description.turn.filter(|_| knows_turns) {
                Some(turn) => usize::from(turn),
                None => slot.order_in_channel,
            })
        });
        for (order, id) in fill_order.iter().enumerate() {
            slots.get_mut(id.index()).into_iter().for_each(|slot| slot.order = order);
        }
        let warnings = warning::warnings(&description);
        Self(Arc::new(Index {
            description,
            pattern,
            sockets,
            channels,
            slots,
            by_label,
            knows_turns,
            fill_order,
            warnings,
            nowhere: Nowhere::new(),
        }))
    }

    /// The sockets, in document order.
    #[must_use]
    pub fn sockets(&self) -> &[Socket] {
        &self.0.sockets
    }

    /// The channels of all sockets, in document order.
    #[must_use]
    pub fn channels(&self) -> &[Channel] {
        &self.0.channels
    }

    /// The slots of all channels, in document order.
    #[must_use]
    pub fn slots(&self) -> &[Slot] {
        &self.0.slots
    }

    /// The ids of all sockets.
    pub fn socket_ids(&self) -> impl ExactSizeIterator<Item = SocketId> + Clone + use<> {
        (0..self.0.sockets.len()).map(SocketId::new)
    }

    /// The ids of all channels.
    pub fn channel_ids(&self) -> impl ExactSizeIterator<Item = ChannelId> + Clone + use<> {
        (0..self.0.channels.len()).map(ChannelId::new)
    }

    /// The ids of all slots.
    pub fn slot_ids(&self) -> impl ExactSizeIterator<Item = SlotId> + Clone + use<> {
        (0..self.0.slots.len()).map(SlotId::new)
    }

    /// The socket of an id of this platform; an empty "nowhere" for an id of another one.
    #[must_use]
    pub fn socket(&self, id: SocketId) -> &Socket {
        self.0.sockets.get(id.index()).unwrap_or(&self.0.nowhere.socket)
    }

    /// The channel of an id of this platform; an empty "nowhere" for an id of another one.
    #[must_use]
    pub fn channel(&self, id: ChannelId) -> &Channel {
        self.0.channels.get(id.index()).unwrap_or(&self.0.nowhere.channel)
    }

    /// The slot of an id of this platform; an empty "nowhere" for an id of another one.
    #[must_use]
    pub fn slot(&self, id: SlotId) -> &Slot {
        self.0.slots.get(id.index()).unwrap_or(&self.0.nowhere.slot)
    }

    /// The labels of all slots.
    pub(crate) fn slot_labels(&self) -> Names {
        self.slots().iter().map(|slot| &slot.description().label).collect()
    }

    /// The slot with this label.
    #[must_use]
    pub fn slot_named(&self, label: &str) -> Option<SlotId> {
        self.0.by_label.get(label).copied()
    }

    /// The slots that an address may mean: those with an address of its scheme that says nothing else. None, one or several; parts that the
    /// address or the slot leaves out say nothing.
    ///
    /// ```
    /// use slotwright::Name;
    /// use slotwright::platform::SlotAddress;
    /// use slotwright::reference;
    ///
    /// let board = reference::ddr4_2s_4ch_3spc();
    /// let address = SlotAddress::new(Name::new("event log")?).socket(0).channel(1);
    /// let labels = |address: &SlotAddress| board.slots_at(address).iter().map(|&slot| board.slot(slot).label().as_str()).collect::<Vec<_>>();
    /// assert_eq!(labels(&address), ["B1", "B2", "B3"]);
    /// assert_eq!(labels(&address.clone().slot(2)), ["B3"]);
    /// assert!(labels(&address.slot(3)).is_empty());
    /// # Ok::<(), slotwright::unit::NameError>(())
    /// ```
    #[must_use]
    pub fn slots_at(&self, address: &SlotAddress) -> Vec<SlotId> {
        let agrees = |own: Option<u16>, asked: Option<u16>| own.is_none() || asked.is_none() || own == asked;
        let is_meant = |own: &SlotAddress| {
            own.scheme == address.scheme
                && agrees(own.socket, address.socket)
                && agrees(own.controller, address.controller)
                && agrees(own.channel, address.channel)
                && agrees(own.slot, address.slot)
        };
        self.slot_ids().filter(|&slot| self.slot(slot).description().addresses.iter().any(is_meant)).collect()
    }

    /// The socket with this label.
    #[must_use]
    pub fn socket_named(&self, label: &str) -> Option<SocketId> {
        self.0.sockets.iter().position(|socket| socket.label == *label).map(SocketId::new)
    }

    /// The domain scheme with this name, where the platform lists it.
    #[must_use]
    pub fn scheme_named(&self, name: &str) -> Option<&DomainScheme> {
        self.description().domain_schemes.iter().find(|scheme| scheme.name == *name)
    }

    /// All slots, by turn in the fill order; where [turns are not known](Self::knows_turns), the first slots of all channels, the
    /// second ones and so on.
    #[must_use]
    pub fn fill_order(&self) -> &[SlotId] {
        &self.0.fill_order
    }

    /// Whether the turns of all slots are known.
    #[must_use]
    pub fn knows_turns(&self) -> bool {
        self.0.knows_turns
    }

    /// What it is called.
    #[must_use]
    pub fn name(&self) -> &Name {
        &self.description().name
    }

    /// The memory generation of its slots.
    #[must_use]
    pub fn generation(&self) -> Generation {
        self.description().generation
    }

    /// What it was described as, with every slot written out.
    #[must_use]
    pub fn description(&self) -> &PlatformDescription {
        &self.0.description
    }

    /// What it was described as, as it was written: with its [pattern](PlatformDescription::pattern), where it has one.
    #[must_use]
    pub fn as_written(&self) -> PlatformDescription {
        let mut description = self.0.description.clone();
        if let Some(Patterned { pattern, own_rows }) = &self.0.pattern {
            description.sockets.clear();
            description.fill_rows.truncate(*own_rows);
            (description.position_basis, description.turn_basis) = (None, None);
            description.pattern = Some(pattern.clone());
        }
        description
    }

    /// What is odd about the description: a rate that rises with load, say.
    #[must_use]
    pub fn warnings(&self) -> &[PlatformWarning] {
        &self.0.warnings
    }
}

impl core::hash::Hash for Platform {
    fn hash<H: core::hash::Hasher>(&self, state: &mut H) {
        self.0.description.hash(state);
    }
}

impl PartialEq for Platform {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0) || self.0.description == other.0.description
    }
}

impl Eq for Platform {}

impl std::fmt::Debug for Platform {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_tuple("Platform").field(&self.0.description.name).finish()
    }
}

impl TryFrom<PlatformDescription> for Platform {
    type Error = PlatformError;

    fn try_from(description: PlatformDescription) -> Result<Self, PlatformError> {
        description.build()
    }
}

impl From<Platform> for PlatformDescription {
    fn from(platform: Platform) -> Self {
        platform.as_written()
    }
}
