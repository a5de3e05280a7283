//! What the trade compares when it asks whether memory is even: channels, or those that a mode joins, round by round.

use crate::platform::{ChannelId, Mode, Platform, SlotId, SocketId};
use crate::unit::Name;

/// A channel by itself, or the channels that the mode joins, with at least one live slot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Unit {
    pub(crate) channels: Vec<ChannelId>,
    /// By round the live slots, one of each channel, or none. A slot's round is its place among the wired slots of its channel by turn, so that
    /// a slot that is taken away renumbers nothing.
    pub(crate) rounds: Vec<Vec<SlotId>>,
}

impl Unit {
    /// The units of a socket.
    pub(super) fn all(
        platform: &Platform,
        id: SocketId,
        mode: Option<&Mode>,
        is_live: impl Fn(SlotId) -> bool,
    ) -> Vec<Self> {
        let socket = platform.socket(id);
        let groups = mode.into_iter().flat_map(|mode| &mode.groups).filter(|group| group.socket == socket.label);
        let named =
            |label: &Name| socket.channels.iter().copied().find(|&channel| platform.channel(channel).label == *label);
        let mut joined: Vec<Vec<ChannelId>> =
            groups.map(|group| group.channels.iter().filter_map(named).collect()).collect();
        let is_alone = |channel: &ChannelId| !joined.iter().any(|group| group.contains(channel));
        let alone: Vec<Vec<ChannelId>> =
            socket.channels.iter().copied().filter(is_alone).map(|channel| vec![channel]).collect();
        joined.extend(alone);
        let unit = |channels: Vec<ChannelId>| {
            let mut rounds: Vec<Vec<SlotId>> = Vec::new();
            for &channel in &channels {
                for (round, slot) in by_turn(platform, channel).into_iter().enumerate() {
                    rounds.resize(rounds.len().max(round + 1), Vec::new());
                    rounds.get_mut(round).into_iter().for_each(|slots| slots.extend(is_live(slot).then_some(slot)));
                }
            }
            // of joined channels a slot without its partners is of no use
            rounds.iter_mut().filter(|slots| slots.len() < channels.len()).for_each(Vec::clear);
            Self { channels, rounds }
        };
        let mut units: Vec<Self> = joined.into_iter().map(unit).collect();
        units.retain(|unit| unit.slots().next().is_some());
        units.sort_by(|a, b| a.channels.cmp(&b.channels));
        units
    }

    /// Its live slots, round by round.
    pub(crate) fn slots(&self) -> impl Iterator<Item = SlotId> + Clone + '_ {
        self.rounds.iter().flatten().copied()
    }
}

/// The wired slots of a channel, by turn in the fill order.
pub(crate) fn by_turn(platform: &Platform, channel: ChannelId) -> Vec<SlotId> {
    let mut slots = platform.channel(channel).slots.clone();
    slots.sort_by_key(|&slot| platform.slot(slot).order());
    slots
}
