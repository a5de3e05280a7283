//! How the channels of one processor are interleaved: which are wired, and in which domains and sets.

use crate::machine::MachineProblem;
use crate::platform::{Channel, ChannelId, DomainScheme, Domains, Platform, SocketId};
use crate::processor::{InterleaveSet, InterleaveSets, Processor};
use crate::unit::Name;

/// The channels of a processor that have slots, and what is said of their interleave. Sets of channels are
/// bits by place in the list.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Wiring {
    /// In document order.
    pub(crate) channels: Vec<ChannelId>,
    /// The permitted sets; any set where absent.
    pub(crate) sets: Option<Vec<WiredSet>>,
    /// The divisions into domains that firmware tries, in that order; one domain where none is allowed.
    pub(crate) divisions: Vec<Division>,
    /// The name of the scheme of one domain that it comes to then.
    pub(crate) undivided: Name,
}

/// A permitted set.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct WiredSet {
    pub(crate) channels: WiredChannels,
    pub(crate) equal: bool,
}

/// Which channels a permitted set has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum WiredChannels {
    /// Any, so many of them.
    Any(u32),
    /// Just these.
    These(u64),
}

/// A division of a processor's channels into domains.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Division {
    pub(crate) scheme: Name,
    pub(crate) domains: Vec<u64>,
    pub(crate) needs_memory_in_each: bool,
    /// The numbers of modules at which it holds; any where absent.
    pub(crate) counts: Option<Vec<u16>>,
}

impl Division {
    /// Whether it holds for a processor with so many modules.
    pub(crate) fn holds_at(&self, modules: usize) -> bool {
        DomainScheme::counts_hold(self.counts.as_deref(), modules)
    }
}

impl Wiring {
    /// The most channels with slots that one processor may have.
    pub(crate) const MOST_CHANNELS: usize = 64;

    /// All channels.
    pub(crate) fn all(&self) -> u64 {
        u64::MAX.checked_shr(u32::try_from(64 - self.channels.len().min(64)).unwrap_or(0)).unwrap_or(0)
    }

    /// Whether its channels are one domain, whatever they hold.
    pub(crate) fn is_undivided(&self) -> bool {
        self.divisions.iter().all(|division| division.domains.len() < 2)
    }

    /// The wiring of a processor in a socket of a platform, under a domain scheme.
    pub(super) fn new(
        platform: &Platform,
        id: SocketId,
        processor: &Processor,
        scheme: Option<&DomainScheme>,
        problems: &mut Vec<MachineProblem>,
    ) -> Self {
        let socket = platform.socket(id);
        let ids = socket.channels.iter().copied();
        let channels: Vec<ChannelId> = ids.filter(|&id| !platform.channel(id).slots.is_empty()).collect();
        if channels.len() > Self::MOST_CHANNELS {
            problems.push(MachineProblem::TooManyChannels {
                socket: socket.label.clone(),
                found: channels.len(),
                at_most: Self::MOST_CHANNELS,
            });
        }
        let sets = processor.description().interleave.as_ref().map(|sets| {
            let names = names_of(platform, id, &sets.value);
            if names.is_none() {
                problems.push(MachineProblem::UnlikeChannels {
                    socket: socket.label.clone(),
                    processor: processor.name().clone(),
                    listed: sets.value.channels.len(),
                    found: socket.channels.len(),
                });
            }
            let names: Vec<(ChannelId, &Name)> = names.unwrap_or_default();
            let bit = |name: &Name| {
                let channel = names.iter().find(|(_, known)| *known == name).map(|&(channel, _)| channel);
                channel.and_then(|channel| channels.iter().position(|&other| other == channel))
            };
            wired_sets(&sets.value, channels.len(), bit)
        });
        let mut divisions = Vec::new();
        let mut at = scheme;
        // a platform is checked for schemes that fall back in a circle
        while let Some(DomainScheme { domains: Domains::Groups { groups, needs_memory_in_each }, counts, .. }) = at {
            let own = groups.iter().filter(|group| group.socket == socket.label);
            let is_of = |channel: ChannelId, labels: &[Name]| labels.contains(&platform.channel(channel).label);
            let domains = own.map(|group| bits(&channels, |channel| is_of(channel, &group.channels)));
            divisions.push(Division {
                scheme: at.map_or_else(|| Name::lossy(DomainScheme::ONE_PER_PROCESSOR), |scheme| scheme.name.clone()),
                domains: domains.filter(|&domain| domain != 0).collect(),
                needs_memory_in_each: *needs_memory_in_each,
                counts: counts.clone(),
            });
            at = at
                .and_then(|scheme| scheme.falls_back_to.as_ref())
                .and_then(|name| platform.scheme_named(name.as_str()));
        }
        let undivided = at.and_then(|scheme| match scheme.domains {
            Domains::AllProcessors => scheme.falls_back_to.clone(),
            Domains::OnePerProcessor | Domains::Groups { .. } => Some(scheme.name.clone()),
        });
        let undivided = undivided.unwrap_or_else(|| Name::lossy(DomainScheme::ONE_PER_PROCESSOR));
        Self { channels, sets, divisions, undivided }
    }

    /// The division that is asked for where a processor has so many modules: the first that holds then.
    pub(crate) fn asked(&self, modules: usize) -> Option<&Division> {
        self.divisions.iter().find(|division| division.holds_at(modules))
    }

    /// Whether the number of modules decides on domains.
    pub(crate) fn counts_modules(&self) -> bool {
        self.divisions.iter().any(|division| division.counts.is_some())
    }

    /// Whether capacities of channels alone, and no matter of which channels, decide on regions.
    pub(crate) fn is_plain(&self) -> bool {
        self.sets.is_none() && self.divisions.is_empty()
    }
}

fn bits(channels: &[ChannelId], holds: impl Fn(ChannelId) -> bool) -> u64 {
    let places = channels.iter().enumerate().filter(|&(_, &channel)| holds(channel));
    places.fold(0, |bits, (place, _)| bits | 1_u64.checked_shl(u32::try_from(place).unwrap_or(64)).unwrap_or(0))
}

/// The processor's name of each channel of a socket: its label where all labels are among the names, else the
/// name of the same place; `None` where there are not as many.
fn names_of<'s>(platform: &Platform, id: SocketId, sets: &'s InterleaveSets) -> Option<Vec<(ChannelId, &'s Name)>> {
    let ids = &platform.socket(id).channels;
    let label = |id: ChannelId| -> &Channel { platform.channel(id) };
    let by_label: Option<Vec<_>> =
        ids.iter().map(|&id| Some((id, sets.channels.iter().find(|name| **name == label(id).label)?))).collect();
    by_label.or_else(|| (ids.len() == sets.channels.len()).then(|| ids.iter().copied().zip(&sets.channels).collect()))
}

/// The sets as far as a board has their channels.
fn wired_sets(sets: &InterleaveSets, wired: usize, bit: impl Fn(&Name) -> Option<usize>) -> Vec<WiredSet> {
    let permitted = sets.permitted.iter().filter_map(|permitted| {
        let channels = match &permitted.set {
            InterleaveSet::Ways(ways) => WiredChannels::Any(u32::from(*ways)),
            InterleaveSet::Channels(names) => {
                let bits: Option<u64> = names.iter().map(|name| Some(1 << u32::try_from(bit(name)?).ok()?)).sum();
                WiredChannels::These(bits?)
            }
        };
        Some(WiredSet { channels, equal: permitted.equal })
    });
    let fits = |set: &WiredSet| match set.channels {
        WiredChannels::Any(ways) => usize::try_from(ways).is_ok_and(|ways| ways <= wired),
        WiredChannels::These(_) => true,
    };
    permitted.filter(fits).collect()
}
