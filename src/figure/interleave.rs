use serde::{Deserialize, Serialize};

use crate::figure::regions::{Domain, Level, domains, members};
use crate::figure::usable::{unspared, usable_of};
use crate::finding::Place;
use crate::machine::{Machine, Wiring};
use crate::platform::{Domains, SocketId};
use crate::population::{Layout, SocketLoad};
use crate::stated::Basis;
use crate::unit::{Capacity, Name};

/// Over which channels memory is interleaved.
///
/// Channels are filled level by level: at each level those with capacity left form a region; where the
/// processor permits certain sets of channels only, they form the fewest permitted ones, larger first, then in
/// channel order. A channel holds the modules in its live slots, less spare ranks; of a region a mode leaves the same
/// part as of the whole. The two sub-channels of a DDR5 channel never count twice. Source: Denneman, Memory Deep Dive (2015).
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::{Occupant, Population};
///
/// let slots = ["A1", "B1", "C1"];
/// let population: Population =
///     slots.into_iter().map(|slot| (slot.parse().unwrap(), Occupant::module(module.clone()))).collect();
/// let interleave = planner.assess(&population)?.figures.interleave;
/// assert_eq!(interleave.domains[0].regions[0].channels.len(), 3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Interleave {
    /// The domain scheme that the machine is set to.
    pub scheme: Name,
    /// The domains, by processor.
    pub domains: Vec<InterleaveDomain>,
    /// What has no memory although its processor is present.
    pub without_memory: WithoutMemory,
    /// What the sets of channels that may interleave rest on, for processors with memory.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub sets: Vec<SetsGrounds>,
}

/// What is known of the sets of channels that some processors may interleave.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SetsGrounds {
    /// The sockets of these processors.
    pub sockets: Vec<Name>,
    /// Whether the processors list them. Where they list none, any set is taken to be permitted.
    pub listed: bool,
    /// What it rests on: assumed where none are listed.
    pub basis: Basis,
}

/// Memory that is interleaved by itself.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct InterleaveDomain {
    /// The sockets whose memory it is.
    pub sockets: Vec<Name>,
    /// The scheme whose domain it is: another one than the machine is set to where firmware falls back.
    pub scheme: Name,
    /// Its channels.
    pub channels: Vec<Place>,
    /// Its regions, in the order in which they are filled; more than one where it is uneven.
    pub regions: Vec<Region>,
}

/// Channels that are interleaved with each other, as far as each of them holds the same.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Region {
    /// How many channels are interleaved.
    pub ways: u32,
    /// Which.
    pub channels: Vec<Place>,
    /// What can be used of what they hold of it together: half of it where they are mirrored. Rounded down to whole MiB
    /// for each processor.
    pub capacity_mib: Capacity,
}

/// Parts of a machine without memory.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct WithoutMemory {
    /// Channels with slots.
    pub channels: Vec<Place>,
    /// Controllers with such channels.
    pub controllers: Vec<Place>,
    /// Domains that the machine's scheme has, or the first that holds at the number of modules, by their channels.
    pub domains: Vec<Vec<Place>>,
}

/// How the channels of one processor are filled.
pub(crate) struct Filled<'a> {
    pub(crate) id: SocketId,
    pub(crate) wiring: &'a Wiring,
    /// In MiB, by wired channel.
    pub(crate) caps: Vec<u64>,
    /// How many modules its live slots hold.
    pub(crate) modules: usize,
    pub(crate) domains: Vec<Domain>,
    /// The division in force.
    pub(crate) division: Option<usize>,
}

/// How the channels of each processor that is present are filled.
pub(crate) fn filled<'a>(layout: &'a Layout<'_>) -> Vec<Filled<'a>> {
    layout.sockets().filter_map(|load| filled_socket(&load)).collect()
}

/// How the channels of one processor are filled; `None` for one that is absent.
pub(crate) fn filled_socket<'a>(load: &SocketLoad<'a>) -> Option<Filled<'a>> {
    let machine = load.machine();
    let (wiring, mode) = (machine.wiring(load.id())?, machine.mode_description());
    let wired = load.channels().filter(|channel| !channel.channel().slots.is_empty());
    let caps: Vec<u64> = wired.map(|channel| unspared(&channel, mode)).collect();
    let modules = load.live_modules();
    let (domains, division) = domains(wiring, &caps, modules);
    Some(Filled { id: load.id(), wiring, caps, modules, domains, division })
}

impl Filled<'_> {
    /// Whether no channel has memory.
    pub(crate) fn is_empty(&self) -> bool {
        self.caps.iter().all(|&cap| cap == 0)
    }

    /// The controllers of which no channel has memory.
    pub(crate) fn empty_controllers(&self, machine: &Machine) -> Vec<Place> {
        let platform = machine.platform();
        let channels = || self.wiring.channels.iter().map(|&id| platform.channel(id)).zip(&self.caps);
        let mut empty: Vec<Place> = Vec::new();
        for (channel, _) in channels() {
            if channels().any(|(other, &cap)| cap > 0 && other.controller == channel.controller) {
                continue;
            }
            let socket = platform.socket(self.id).label.clone();
            let place = Place::Controller { socket, controller: channel.controller.clone() };
            if !empty.contains(&place) {
                empty.push(place);
            }
        }
        empty
    }

    /// The scheme whose domains are asked for: the one that the machine is set to, or the first that holds at the number of
    /// modules.
    pub(crate) fn scheme_asked(&self) -> Option<&Name> {
        self.wiring.asked(self.modules).map(|division| &division.scheme)
    }

    /// The domains of that scheme that have no memory.
    pub(crate) fn empty_domains(&self) -> impl Iterator<Item = u64> + '_ {
        let asked = self.wiring.asked(self.modules).into_iter().flat_map(|division| &division.domains);
        let holds = |domain: u64| members(domain).any(|channel| self.caps.get(channel).is_some_and(|&cap| cap > 0));
        asked.copied().filter(move |&domain| !holds(domain))
    }

    pub(crate) fn places(&self, machine: &Machine, channels: u64) -> Vec<Place> {
        members(channels).filter_map(|place| self.place(machine, place)).collect()
    }

    pub(crate) fn place(&self, machine: &Machine, channel: usize) -> Option<Place> {
        self.wiring.channels.get(channel).map(|&id| Place::channel(machine.platform(), id))
    }

    pub(crate) fn region(&self, machine: &Machine, level: Level) -> Region {
        let held = level.height.saturating_mul(u64::from(level.ways()));
        Region {
            ways: level.ways(),
            channels: self.places(machine, level.channels),
            capacity_mib: usable_of(machine.mode_description(), held),
        }
    }
}

impl Interleave {
    /// The interleave of a layout.
    #[must_use]
    pub fn of(layout: &Layout<'_>) -> Self {
        Self::of_filled(layout.machine(), &filled(layout))
    }

    pub(crate) fn of_filled(machine: &Machine, filled: &[Filled<'_>]) -> Self {
        let scheme = machine.domain_scheme_name().clone();
        let domains = match together(machine, filled) {
            Some(domain) => vec![domain],
            None => filled.iter().flat_map(|socket| of_socket(machine, socket)).collect(),
        };
        let mut sets: Vec<SetsGrounds> = Vec::new();
        for socket in filled.iter().filter(|socket| !socket.is_empty()) {
            let stated = machine.processor(socket.id).and_then(|processor| processor.description().interleave.as_ref());
            let (listed, basis) = (stated.is_some(), stated.map_or(Basis::Assumed, |stated| stated.basis));
            let label = machine.platform().socket(socket.id).label.clone();
            match sets.iter_mut().find(|known| (known.listed, known.basis) == (listed, basis)) {
                Some(known) => known.sockets.push(label),
                None => sets.push(SetsGrounds { sockets: vec![label], listed, basis }),
            }
        }
        Self { scheme, domains, without_memory: WithoutMemory::of(machine, filled), sets }
    }
}

fn of_socket<'f>(machine: &'f Machine, filled: &'f Filled<'_>) -> impl Iterator<Item = InterleaveDomain> + use<'f> {
    let division = filled.division.and_then(|index| filled.wiring.divisions.get(index));
    let scheme = division.map_or(&filled.wiring.undivided, |division| &division.scheme).clone();
    filled.domains.iter().map(move |domain| InterleaveDomain {
        sockets: vec![machine.platform().socket(filled.id).label.clone()],
        scheme: scheme.clone(),
        channels: filled.places(machine, domain.channels),
        regions: domain.regions.iter().map(|&level| filled.region(machine, level)).collect(),
    })
}

/// The one domain of all processors, where the machine is set to it and their memory allows it.
fn together(machine: &Machine, filled: &[Filled<'_>]) -> Option<InterleaveDomain> {
    let scheme = machine.platform().scheme_named(machine.domain_scheme())?;
    let (first, others) = filled.split_first()?;
    if scheme.domains != Domains::AllProcessors
        || filled.iter().any(|socket| !scheme.holds_at(socket.modules))
        || others.iter().any(|other| (&other.caps, &other.domains) != (&first.caps, &first.domains))
    {
        return None;
    }
    let each = || filled.iter().flat_map(|socket| socket.domains.iter().map(move |domain| (socket, domain)));
    let mut regions: Vec<Region> = Vec::new();
    for index in 0..first.domains.iter().map(|domain| domain.regions.len()).max().unwrap_or(0) {
        let parts = each().filter_map(|(socket, domain)| Some(socket.region(machine, *domain.regions.get(index)?)));
        regions.extend(parts.reduce(|mut all, part| {
            all.ways += part.ways;
            all.channels.extend(part.channels);
            all.capacity_mib = all.capacity_mib + part.capacity_mib;
            all
        }));
    }
    Some(InterleaveDomain {
        sockets: filled.iter().map(|socket| machine.platform().socket(socket.id).label.clone()).collect(),
        scheme: scheme.name.clone(),
        channels: each().flat_map(|(socket, domain)| socket.places(machine, domain.channels)).collect(),
        regions,
    })
}

impl WithoutMemory {
    fn of(machine: &Machine, filled: &[Filled<'_>]) -> Self {
        let mut without = Self::default();
        for socket in filled {
            let is_empty = |channel: usize| socket.caps.get(channel).is_none_or(|&cap| cap == 0);
            let empty = (0..socket.caps.len()).filter(|&channel| is_empty(channel));
            without.channels.extend(empty.filter_map(|channel| socket.place(machine, channel)));
            without.controllers.extend(socket.empty_controllers(machine));
            without.domains.extend(socket.empty_domains().map(|domain| socket.places(machine, domain)));
        }
        without
    }
}

#[cfg(test)]
mod tests {
    use crate::figure::Figures;
    use crate::machine::Machine;
    use crate::platform::{ChannelGroup, DomainScheme, Domains, Settings};
    use crate::population::Layout;
    use crate::stated::Basis;
    use crate::testing::{board_of, name, plain, population, processor};

    /// Quarters hold at 4 modules, halves at 2 and 4; at other numbers the whole processor is one domain.
    fn machine() -> Machine {
        let scheme = |called: &str, parts: &[&[&str]], counts: &[u16], next: Option<&str>| {
            let group = |channels: &&[&str]| ChannelGroup {
                socket: name("1"),
                channels: channels.iter().map(|channel| name(channel)).collect(),
            };
            let groups = parts.iter().map(group).collect();
            DomainScheme {
                name: name(called),
                domains: Domains::Groups { groups, needs_memory_in_each: false },
                counts: Some(counts.to_vec()),
                falls_back_to: next.map(name),
                basis: Basis::BoardManual,
                source: None,
            }
        };
        let mut board = board_of(1, 4, 2);
        board.domain_schemes = vec![
            scheme("quarters", &[&["A"], &["B"], &["C"], &["D"]], &[4], Some("halves")),
            scheme("halves", &[&["A", "B"], &["C", "D"]], &[2, 4], None),
        ];
        let machine = Machine::builder(board.build().unwrap()).processor("1", processor().build().unwrap());
        machine.settings(Settings { domain_scheme: Some(name("quarters")), ..Settings::default() }).build().unwrap()
    }

    #[test]
    fn a_scheme_holds_at_its_numbers_of_modules() {
        let (machine, plain) = (machine(), plain());
        let figures = |slots: &[&str]| {
            let population = population(&slots.iter().map(|slot| (*slot, &plain)).collect::<Vec<_>>());
            Figures::of(&Layout::new(&machine, &population).unwrap())
        };
        let schemes = |slots: &[&str]| -> Vec<String> {
            figures(slots).interleave.domains.iter().map(|domain| domain.scheme.to_string()).collect()
        };
        assert_eq!(schemes(&["1A1", "1B1", "1C1", "1D1"]), ["quarters"; 4]);
        assert_eq!(schemes(&["1A1", "1C1"]), ["halves"; 2]);
        assert_eq!(schemes(&["1A1", "1B1", "1C1"]), [DomainScheme::ONE_PER_PROCESSOR]);
        let text = figures(&["1A1", "1B1", "1C1"]).interleave.to_string();
        assert!(text.contains("; quarters is set, but falls back to one-per-processor [any"), "{text}");
        // in quarters a fuller channel slows no other; in one domain it leaves a narrower region
        let mbps = |slots: &[&str]| {
            let figures = figures(slots);
            let one = figures.running_rate.rate().unwrap().peak_bandwidth();
            (figures.bandwidth.swept_mbps, one)
        };
        let (swept, one) = mbps(&["1A1", "1A2", "1B1", "1C1"]);
        assert_eq!(swept, one.times(3, 1));
        let (swept, one) = mbps(&["1A1", "1A2", "1B1", "1B2", "1C1"]);
        assert_eq!(swept, one.times(5, 2));
        // a quarter that nobody asks for at this number is not missed
        let empty = |slots: &[&str]| figures(slots).interleave.without_memory.domains.len();
        assert_eq!([empty(&["1A1", "1B1"]), empty(&["1A1", "1A2", "1B1", "1C1"]), empty(&["1A1"])], [1, 1, 0]);
    }
}
