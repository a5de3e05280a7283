//! How the usable slots of a machine are laid out: places, channels, sockets, and the shapes of channels.

use std::collections::HashMap;

use crate::fill::slot_model::{ModelChannel, ModelSlot, ModelSocket};
use crate::fill::{ChannelIx, PlaceId, ShapeIx, SocketIx};
use crate::machine::Machine;
use crate::module::FormFactor;
use crate::platform::{ChannelId, SlotId, SocketId};
use crate::population::{Content, Layout};
use crate::processor::Processor;
use crate::search::{Index, Table, wide};
use crate::unit::Height;
use crate::unit::exact::gcd;

/// The usable slots of a machine as a model counts them.
#[derive(Default)]
pub(crate) struct SlotPlan {
    pub(crate) slots: Table<PlaceId, ModelSlot>,
    pub(crate) channels: Table<ChannelIx, ModelChannel>,
    pub(crate) sockets: Table<SocketIx, ModelSocket>,
    /// How many shapes of channel there are.
    pub(crate) shapes: usize,
}

/// What makes two channels take the same loads.
#[derive(PartialEq)]
struct Shape<'p> {
    processor: &'p Processor,
    wired: usize,
    /// Position and order in the channel, form factor, height limit, and place among the channel's slots by turn.
    slots: Vec<((Option<u8>, usize), FormFactor, Option<Height>, usize)>,
    /// The channel itself, where it may be like no other.
    only: Option<ChannelId>,
}

impl SlotPlan {
    /// The usable slots of a machine: live, and without another device. Channels can be of one shape where rules are
    /// `uniform`: where they look at what a channel or slot is like, never at which one it is.
    pub(crate) fn new(machine: &Machine, fixed: &Layout<'_>, uniform: bool) -> Self {
        let platform = machine.platform();
        let usable = |slot: SlotId| machine.is_live(slot) && !matches!(fixed.get(slot), Content::Other(_));
        let order: Table<PlaceId, SlotId> =
            platform.fill_order().iter().copied().filter(|&slot| usable(slot)).collect();
        let place_of: HashMap<SlotId, PlaceId> = order.iter().map(|(place, &slot)| (slot, place)).collect();
        let mut plan = Self::default();
        let mut shapes: Table<ShapeIx, Shape<'_>> = Table::default();
        let mut homes: Table<PlaceId, Option<ModelSlot>> = order.values().iter().map(|_| None).collect();
        for (id, processor) in machine.processors() {
            let mut socket = ModelSocket { id, channels: Vec::new(), weight: 1 };
            for &channel_id in &platform.socket(id).channels {
                let channel = platform.channel(channel_id);
                let ids: Vec<SlotId> = channel.slots.iter().copied().filter(|&slot| usable(slot)).collect();
                let plain = uniform && ids.len() == channel.slots.len();
                let of_slot = |&slot: &SlotId| {
                    let own = platform.slot(slot);
                    let earlier = |&&other: &&SlotId| platform.slot(other).order() < own.order();
                    let round = channel.slots.iter().filter(earlier).count();
                    (
                        (own.position(), own.order_in_channel()),
                        own.description().form_factor,
                        own.description().height_limit_um,
                        round,
                    )
                };
                let shape = Shape {
                    processor,
                    wired: channel.slots.len(),
                    slots: ids.iter().map(of_slot).collect(),
                    only: (!plain).then_some(channel_id),
                };
                let shape = shapes.find(|known| *known == shape).unwrap_or_else(|| shapes.push(shape));
                let slots: Vec<PlaceId> = ids.iter().filter_map(|slot| place_of.get(slot).copied()).collect();
                let channel = plan.channels.push(ModelChannel { id: channel_id, slots: slots.clone(), shape });
                for (place, id) in slots.into_iter().zip(ids) {
                    if let Some(home) = homes.get_mut(place) {
                        *home = Some(ModelSlot { id, socket: SocketIx::of(plan.sockets.len()) });
                    }
                }
                socket.channels.push(channel);
            }
            plan.sockets.push(socket);
        }
        // a live slot is of a present processor, so that none is left without a home
        plan.slots = homes.into_values().flatten().collect();
        plan.shapes = shapes.len();
        plan.weigh_sockets(machine);
        plan
    }

    /// Gives every socket the weight that makes its capacity a share of its live slots.
    fn weigh_sockets(&mut self, machine: &Machine) {
        let live = |id: SocketId| {
            let slots = &machine.platform().socket(id).slots;
            wide(slots.iter().filter(|&&slot| machine.is_live(slot)).count())
        };
        let counts: Vec<u64> = self.sockets.values().iter().map(|socket| live(socket.id)).collect();
        let common = counts.iter().filter(|&&count| count > 0).fold(1u64, |lcm, &count| lcm / gcd(lcm, count) * count);
        for ((_, socket), count) in self.sockets.iter_mut().zip(counts) {
            // a processor without live slots takes nothing, and is not compared
            socket.weight = common.checked_div(count).unwrap_or(0);
        }
    }
}
