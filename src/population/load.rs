//! Windows onto a layout: what a rule or a figure looks at.

use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::{Channel, ChannelId, Slot, SlotId, SocketId};
use crate::population::{Content, Layout, OtherDevice, UnitLoad};
use crate::processor::Processor;

/// A module in a slot.
#[derive(Debug, Clone, Copy)]
#[non_exhaustive]
pub struct ModuleSite<'a> {
    /// The machine.
    pub machine: &'a Machine,
    /// The slot.
    pub slot: SlotId,
    /// The module.
    pub module: &'a MemoryModule,
}

impl<'a> ModuleSite<'a> {
    /// The slot as the board describes it.
    #[must_use]
    pub fn slot(&self) -> &'a Slot {
        self.machine.platform().slot(self.slot)
    }

    /// The processor whose slot it is, where present.
    #[must_use]
    pub fn processor(&self) -> Option<&'a Processor> {
        self.machine.processor(self.slot().socket)
    }

    /// A slot that is like the one in which the module is known to run: at a processor of the same description, of the same form
    /// and height.
    pub(crate) fn runs_in(&self) -> Option<&'a Slot> {
        self.module.runs_at().map(|slot| self.machine.platform().slot(SlotId::new(usize::from(slot))))
    }

    /// Whether the module is known to run at a processor of the same description.
    pub(crate) fn is_in_use(&self) -> bool {
        let Some(at) = self.runs_in().map(|slot| slot.socket) else { return false };
        at == self.slot().socket || self.processor().is_some_and(|own| self.machine.processor(at) == Some(own))
    }

    /// Whether the slot is live: its processor is present and nothing takes it away.
    #[must_use]
    pub fn is_live(&self) -> bool {
        self.machine.is_live(self.slot)
    }
}

/// What sits in one channel.
#[derive(Debug, Clone, Copy)]
pub struct ChannelLoad<'a> {
    layout: &'a Layout<'a>,
    id: ChannelId,
}

impl<'a> ChannelLoad<'a> {
    pub(crate) fn new(layout: &'a Layout<'a>, id: ChannelId) -> Self {
        Self { layout, id }
    }

    /// The machine.
    #[must_use]
    pub fn machine(&self) -> &'a Machine {
        self.layout.machine()
    }

    /// Which channel.
    #[must_use]
    pub fn id(&self) -> ChannelId {
        self.id
    }

    /// The channel as the board describes it.
    #[must_use]
    pub fn channel(&self) -> &'a Channel {
        self.machine().platform().channel(self.id)
    }

    /// The channel's processor, where present.
    #[must_use]
    pub fn processor(&self) -> Option<&'a Processor> {
        self.machine().processor(self.channel().socket)
    }

    /// How many slots the channel has wired, usable or not.
    #[must_use]
    pub fn slots_wired(&self) -> u8 {
        u8::try_from(self.channel().slots.len()).unwrap_or(u8::MAX)
    }

    /// Its slots with their contents, from the far end.
    #[must_use]
    pub fn contents(&self) -> impl DoubleEndedIterator<Item = (SlotId, Content<'a>)> + Clone + use<'a> {
        let layout = self.layout;
        self.channel().slots.iter().map(move |&slot| (slot, layout.get(slot)))
    }

    /// Its modules, from the far end.
    #[must_use]
    pub fn modules(&self) -> impl DoubleEndedIterator<Item = ModuleSite<'a>> + Clone + use<'a> {
        let machine = self.machine();
        self.contents().filter_map(move |(slot, content)| Some(ModuleSite { machine, slot, module: content.module()? }))
    }

    /// How many modules it holds.
    #[must_use]
    pub fn len(&self) -> usize {
        self.modules().count()
    }

    /// Whether it holds no module.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.modules().next().is_none()
    }
}

/// What sits on one processor.
#[derive(Debug, Clone, Copy)]
pub struct SocketLoad<'a> {
    layout: &'a Layout<'a>,
    id: SocketId,
}

impl<'a> SocketLoad<'a> {
    pub(crate) fn new(layout: &'a Layout<'a>, id: SocketId) -> Self {
        Self { layout, id }
    }

    /// The machine.
    #[must_use]
    pub fn machine(&self) -> &'a Machine {
        self.layout.machine()
    }

    /// Which socket.
    #[must_use]
    pub fn id(&self) -> SocketId {
        self.id
    }

    /// The processor, where present.
    #[must_use]
    pub fn processor(&self) -> Option<&'a Processor> {
        self.machine().processor(self.id)
    }

    /// Its channels.
    pub fn channels(&self) -> impl Iterator<Item = ChannelLoad<'a>> + Clone + use<'a> {
        let layout = self.layout;
        self.machine().platform().socket(self.id).channels.iter().map(move |&id| ChannelLoad::new(layout, id))
    }

    /// Its channels, those that the mode joins as one, as far as they have live slots.
    pub(crate) fn units(&self) -> impl Iterator<Item = UnitLoad<'a>> + Clone + use<'a> {
        UnitLoad::all(self.layout, self.id)
    }

    /// Its modules, in the platform's slot order.
    pub fn modules(&self) -> impl Iterator<Item = ModuleSite<'a>> + Clone + use<'a> {
        let (layout, machine) = (self.layout, self.machine());
        machine
            .platform()
            .socket(self.id)
            .slots
            .iter()
            .filter_map(move |&slot| Some(ModuleSite { machine, slot, module: layout.get(slot).module()? }))
    }

    /// How many modules its live slots hold.
    pub(crate) fn live_modules(&self) -> usize {
        self.modules().filter(|site| self.machine().is_live(site.slot)).count()
    }

    /// Its other devices.
    pub fn other_devices(&self) -> impl Iterator<Item = (SlotId, &'a OtherDevice)> + use<'a> {
        let layout = self.layout;
        self.machine().platform().socket(self.id).slots.iter().filter_map(move |&slot| match layout.get(slot) {
            Content::Other(device) => Some((slot, device)),
            Content::Empty | Content::Module(_) | Content::Faulty(..) | Content::Blank => None,
        })
    }

    /// How many modules it holds.
    #[must_use]
    pub fn len(&self) -> usize {
        self.modules().count()
    }

    /// Whether it holds no module.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        self.modules().next().is_none()
    }
}
