use serde::{Deserialize, Serialize};

use crate::figure::RunningRate;
use crate::figure::interleave::{Filled, filled};
use crate::figure::regions::Level;
use crate::finding::Place;
use crate::machine::Machine;
use crate::platform::{RatePolicy, Redundancy};
use crate::population::Layout;
use crate::unit::{Bandwidth, DataRate, Efficiency, Name, Share};

/// What memory can move, from its channels and its interleave. An estimate: what programs see lies lower.
///
/// Between two bounds: *swept*, where the regions are read one after another, each at the bandwidth of its
/// channels; and *spread*, where all memory is read at once and the fullest channel has most to do. They are
/// equal where every set of channels may be interleaved, and real machines lie between. The machine's
/// figure is the sum of its processors'; a processor without memory, or whose memory has no running rate, has 0.
/// Channels that work in step count as one; of those that mirror each other two do.
///
/// ```
/// use slotwright::figure::Figures;
/// use slotwright::machine::Machine;
/// use slotwright::module::Label;
/// use slotwright::population::{Layout, Population};
/// use slotwright::{DataRate, reference};
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// // 2-2-1-1 modules on four channels
/// let slots = ["A1", "B1", "C1", "D1", "A2", "B2"];
/// let population: Population =
///     slots.iter().map(|slot| (slot.parse().unwrap(), slotwright::Occupant::module(module.clone()))).collect();
///
/// let bandwidth = Figures::of(&Layout::new(&machine, &population)?).bandwidth;
/// assert_eq!(bandwidth.peak_mbps, DataRate::DDR4_2400.peak_bandwidth().times(4, 1));
/// assert_eq!(bandwidth.spread_mbps, DataRate::DDR4_2400.peak_bandwidth().times(3, 1)); // 6 modules over 2 in the fullest
/// assert_eq!(bandwidth.relative_spread.unwrap().to_string(), "75 %");
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct MemoryBandwidth {
    /// Every channel with memory at its running rate: 8 bytes a transfer. Exact.
    pub peak_mbps: Bandwidth,
    /// The lower bound, each processor on its own memory: one region after another. The sum of what processors can move.
    pub swept_mbps: Bandwidth,
    /// The upper bound of that: all regions at once.
    pub spread_mbps: Bandwidth,
    /// The lower bound where all memory is used evenly: what the processor with most memory for its bandwidth limits; absent
    /// where a processor with memory has no running rate.
    pub even_swept_mbps: Option<Bandwidth>,
    /// The upper bound of that.
    pub even_spread_mbps: Option<Bandwidth>,
    /// What every channel with slots, equally filled, would give at the [best rate](Machine::best_rate) of one
    /// module a channel: what relative figures are measured against.
    pub best_mbps: Bandwidth,
    /// The lower bound for even use as a share of that; absent where there is nothing to compare with.
    pub relative_swept: Option<Share>,
    /// The upper bound for even use as a share of that.
    pub relative_spread: Option<Share>,
    /// The same by processor present.
    pub sockets: Vec<SocketBandwidth>,
}

/// What the memory of one processor can move.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SocketBandwidth {
    /// The socket's label.
    pub socket: Name,
    /// The running rate; absent where there is none.
    pub rate_mts: Option<DataRate>,
    /// Every channel with memory at that rate.
    pub peak_mbps: Bandwidth,
    /// The lower bound.
    pub swept_mbps: Bandwidth,
    /// The upper bound.
    pub spread_mbps: Bandwidth,
    /// What every channel with slots would give at the best rate.
    pub best_mbps: Bandwidth,
    /// The lower bound of that.
    pub relative_swept: Option<Share>,
    /// The upper bound of that.
    pub relative_spread: Option<Share>,
    /// The channels that limit the upper bound: the fullest ones, where others hold less.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub fullest: Vec<Place>,
    /// What limits the lower bound: the regions of fewest ways, where regions are read one after another.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub slowest: Option<SlowestRegion>,
}

/// The regions of fewest ways.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SlowestRegion {
    /// How many channels are interleaved in each of them.
    pub ways: u32,
    /// The channels, of all of them.
    pub channels: Vec<Place>,
    /// How much of the processor's memory they are.
    pub share: Share,
}

/// Both bounds at an efficiency that the caller has measured or assumes: an estimate of what programs see.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct BandwidthEstimate {
    /// The lower bound.
    pub swept_mbps: Bandwidth,
    /// The upper bound.
    pub spread_mbps: Bandwidth,
}

impl MemoryBandwidth {
    /// The bandwidth of a layout at its running rate.
    #[must_use]
    pub fn of(layout: &Layout<'_>, rate: &RunningRate) -> Self {
        Self::of_filled(layout.machine(), &filled(layout), rate)
    }

    pub(crate) fn of_filled(machine: &Machine, filled: &[Filled<'_>], rate: &RunningRate) -> Self {
        let sockets: Vec<_> = filled.iter().map(|socket| SocketBandwidth::of(machine, socket, rate)).collect();
        let sum = |of: fn(&SocketBandwidth) -> Bandwidth| sockets.iter().map(of).sum::<Bandwidth>();
        let (swept_mbps, spread_mbps) = (sum(|socket| socket.swept_mbps), sum(|socket| socket.spread_mbps));
        let best_mbps = sum(|socket| socket.best_mbps);
        let even = |of: fn(&SocketBandwidth) -> Bandwidth| even_use(filled, sockets.iter().map(of));
        let (even_swept_mbps, even_spread_mbps) = (even(|socket| socket.swept_mbps), even(|socket| socket.spread_mbps));
        Self {
            peak_mbps: sum(|socket| socket.peak_mbps),
            swept_mbps,
            spread_mbps,
            even_swept_mbps,
            even_spread_mbps,
            best_mbps,
            relative_swept: even_swept_mbps.and_then(|swept| swept.share_of(best_mbps)),
            relative_spread: even_spread_mbps.and_then(|spread| spread.share_of(best_mbps)),
            sockets,
        }
    }

    /// Both bounds at an efficiency.
    #[must_use]
    pub fn at(&self, efficiency: Efficiency) -> BandwidthEstimate {
        BandwidthEstimate { swept_mbps: self.swept_mbps.at(efficiency), spread_mbps: self.spread_mbps.at(efficiency) }
    }
}

impl SocketBandwidth {
    fn of(machine: &Machine, filled: &Filled<'_>, rate: &RunningRate) -> Self {
        let rate_mts = rate_of(machine, filled, rate);
        let channel = rate_mts.map_or(Bandwidth::ZERO, DataRate::peak_bandwidth);
        let step = channels_in_step(machine);
        let (swept_mbps, spread_mbps) = bounds(filled, channel, step);
        let populated = filled.caps.iter().filter(|&&cap| cap > 0).count();
        let best = machine.best_rate(filled.id).map_or(Bandwidth::ZERO, DataRate::peak_bandwidth);
        let best_mbps = best.times(to_u64(filled.caps.len()), 1);
        let most = filled.caps.iter().max().copied().unwrap_or(0);
        let uneven = filled.caps.iter().any(|&cap| cap < most);
        let fullest = (0..filled.caps.len()).filter(|&channel| uneven && filled.caps.get(channel) == Some(&most));
        Self {
            socket: machine.platform().socket(filled.id).label.clone(),
            rate_mts,
            peak_mbps: channel.times(to_u64(populated), 1),
            swept_mbps,
            spread_mbps,
            best_mbps,
            relative_swept: swept_mbps.share_of(best_mbps),
            relative_spread: spread_mbps.share_of(best_mbps),
            fullest: fullest.filter_map(|channel| filled.place(machine, channel)).collect(),
            slowest: slowest(machine, filled),
        }
    }
}

fn to_u64(count: usize) -> u64 {
    u64::try_from(count).unwrap_or(u64::MAX)
}

/// How many channels count as one: of mirrored ones two, however many a group has.
pub(crate) fn channels_in_step(machine: &Machine) -> u64 {
    machine.mode_description().map_or(1, |mode| match mode.redundancy {
        Redundancy::Mirrored => 2,
        _ => to_u64(mode.channels_in_step()),
    })
}

fn rate_of(machine: &Machine, filled: &Filled<'_>, rate: &RunningRate) -> Option<DataRate> {
    let label = &machine.platform().socket(filled.id).label;
    let domain = match machine.platform().description().rate_policy {
        RatePolicy::PerMachine => rate.domains.first(),
        RatePolicy::PerSocket => rate.domains.iter().find(|domain| domain.sockets.contains(label)),
    };
    domain?.rate_mts
}

/// What all memory can move together where each part of it is used as much as any other: the processor that takes longest
/// limits it, and one that has no rate leaves it open.
fn even_use(filled: &[Filled<'_>], bandwidths: impl Iterator<Item = Bandwidth>) -> Option<Bandwidth> {
    let held = |socket: &Filled<'_>| socket.caps.iter().fold(0_u64, |sum, cap| sum.saturating_add(*cap));
    let whole = filled.iter().map(held).fold(0_u64, u64::saturating_add);
    let with_memory = filled.iter().zip(bandwidths).filter(|(socket, _)| held(socket) > 0);
    let each = |(socket, bandwidth): (&Filled<'_>, Bandwidth)| {
        (bandwidth > Bandwidth::ZERO).then(|| bandwidth.times(whole, held(socket)))
    };
    // without any memory nothing is moved
    with_memory.map(each).min().unwrap_or(Some(Bandwidth::ZERO))
}

/// Both bounds of a processor whose channels move so much each, of which so many count as one: swept, spread.
pub(crate) fn bounds(filled: &Filled<'_>, channel: Bandwidth, step: u64) -> (Bandwidth, Bandwidth) {
    let of = |time: u64, capacity: u64| channel.times(capacity, time.saturating_mul(step));
    filled.domains.iter().fold((Bandwidth::ZERO, Bandwidth::ZERO), |(swept, spread), domain| {
        let capacity = domain.capacity();
        (swept + of(domain.time(), capacity), spread + of(domain.most(&filled.caps), capacity))
    })
}

fn slowest(machine: &Machine, filled: &Filled<'_>) -> Option<SlowestRegion> {
    // the only region of a domain is read beside those of the others
    let uneven = filled.domains.iter().filter(|domain| domain.regions.len() > 1);
    let regions: Vec<Level> = uneven.flat_map(|domain| domain.regions.iter().copied()).collect();
    let ways = regions.iter().map(|region| region.ways()).min()?;
    let fewest = || regions.iter().filter(|region| region.ways() == ways);
    let whole: u128 = filled.caps.iter().map(|&cap| u128::from(cap)).sum();
    let held: u128 = fewest().map(|region| u128::from(region.height) * u128::from(ways)).sum();
    let channels = fewest().fold(0, |all, region| all | region.channels);
    Some(SlowestRegion { ways, channels: filled.places(machine, channels), share: Share::of(held, whole)? })
}

/// Both bounds of a layout whose rate is known: spread and swept, the order in which they decide.
pub(crate) fn deciding(layout: &Layout<'_>, rate: &RunningRate) -> (Bandwidth, Bandwidth) {
    let machine = layout.machine();
    let step = channels_in_step(machine);
    filled(layout).iter().fold((Bandwidth::ZERO, Bandwidth::ZERO), |(spread, swept), socket| {
        let channel = rate_of(machine, socket, rate).map_or(Bandwidth::ZERO, DataRate::peak_bandwidth);
        let (own_swept, own_spread) = bounds(socket, channel, step);
        (spread + own_spread, swept + own_swept)
    })
}

#[cfg(test)]
mod tests {
    use crate::figure::Figures;
    use crate::module::MemoryModule;
    use crate::platform::{PlatformDescription, RatePolicy};
    use crate::population::Layout;
    use crate::processor::{InterleaveSet, InterleaveSets, PermittedSet};
    use crate::stated::{Basis, Stated};
    use crate::testing::{board, clean, lacking, machine, module, name, plain, population, processor};

    /// The labels of places.
    fn texts(places: &[crate::finding::Place]) -> Vec<String> {
        places.iter().map(ToString::to_string).collect()
    }

    #[test]
    fn a_sum_is_not_what_even_use_gives() {
        let (machine, plain) = (clean(), plain());
        // every channel of both processors, and a second module in each of the first
        let slots = |row: usize| ["A", "B", "C", "D"].map(|channel| format!("1{channel}{row}"));
        let second = ["A", "B", "C", "D"].map(|channel| format!("2{channel}1"));
        let labels: Vec<String> = slots(1).into_iter().chain(slots(2)).chain(second).collect();
        let fitted: Vec<(&str, &MemoryModule)> = labels.iter().map(|label| (label.as_str(), &plain)).collect();
        let bandwidth = Figures::of(&Layout::new(&machine, &population(&fitted)).unwrap()).bandwidth;
        assert_eq!(bandwidth.spread_mbps, bandwidth.best_mbps);
        // eight of twelve modules are at the first processor
        assert_eq!(bandwidth.even_spread_mbps, Some(bandwidth.best_mbps.times(3, 4)));
        assert_eq!(bandwidth.relative_spread.unwrap().to_string(), "75 %");
        let text = bandwidth.to_string();
        assert!(
            text.starts_with("115.2 GB/s for even use of all processors, 75 % of the board's 153.6 GB/s"),
            "{text}"
        );
        assert!(text.contains("; 153.6 GB/s with each on its own memory, processor 1 at 100 % of its best"), "{text}");
    }

    #[test]
    fn what_one_processor_lacks_is_not_taken_for_nothing() {
        let board = PlatformDescription { rate_policy: RatePolicy::PerSocket, ..board() };
        let machine = machine(board, processor());
        let (plain, unrated) = (plain(), lacking(&plain(), &["grade_mts"]));
        let population = population(&[("1A1", &plain), ("2A1", &unrated)]);
        let bandwidth = Figures::of(&Layout::new(&machine, &population).unwrap()).bandwidth;
        assert_eq!((bandwidth.even_swept_mbps, bandwidth.relative_spread), (None, None));
        let text = bandwidth.to_string();
        assert!(text.starts_with("not known for even use of all processors, for one with memory has no"), "{text}");
        assert!(text.contains("; 19.2 GB/s with each on its own memory"), "{text}");
    }

    #[test]
    fn the_fullest_channels_and_the_slowest_region_are_named() {
        let (machine, plain, small) = (clean(), plain(), module("16GB 1Rx4 PC4-2400T-RC1-11"));
        let population = population(&[
            ("1A1", &plain),
            ("1B1", &plain),
            ("1C1", &plain),
            ("1D1", &plain),
            ("1A2", &small),
            ("1B2", &small),
            ("2A1", &plain),
            ("2B1", &plain),
            ("2C1", &plain),
            ("2D1", &plain),
        ]);
        let figures = Figures::of(&Layout::new(&machine, &population).unwrap());
        let [first, second] = figures.bandwidth.sockets.as_slice() else { panic!() };
        assert_eq!(texts(&first.fullest), ["channel A of processor 1", "channel B of processor 1"]);
        let slowest = first.slowest.as_ref().unwrap();
        assert_eq!((slowest.ways, texts(&slowest.channels)), (2, texts(&first.fullest)));
        assert!(second.fullest.is_empty() && second.slowest.is_none());
        let text = figures.bandwidth.to_string();
        assert!(text.ends_with("; processor 1: 20 % of its memory at only 2 ways (channels A, B)"), "{text}");
    }

    #[test]
    fn memory_whose_regions_are_all_alike_has_no_slower_part() {
        let mut described = processor();
        let channels = ["A", "B", "C", "D"].map(name).to_vec();
        let pair = |a: &str, b: &str| PermittedSet::of(InterleaveSet::Channels(vec![name(a), name(b)]));
        let permitted = vec![pair("A", "B"), pair("C", "D")];
        described.interleave = Some(Stated::new(InterleaveSets { channels, permitted }, Basis::DataSheet));
        let machine = machine(board(), described);
        let text = |slots: &[&str]| {
            let plain = plain();
            let fitted: Vec<(&str, &MemoryModule)> = slots.iter().map(|slot| (*slot, &plain)).collect();
            Figures::of(&Layout::new(&machine, &population(&fitted)).unwrap()).bandwidth.to_string()
        };
        let alike = text(&["1A1", "1B1", "1C1", "1D1"]);
        assert!(alike.ends_with("; processor 1: all of its memory at 2 ways, one region after another"), "{alike}");
        let alone = text(&["1A1", "1B1", "1C1"]);
        assert!(alone.ends_with("; processor 1: 33.3 % of its memory not interleaved (channel C)"), "{alone}");
    }

    #[test]
    fn the_share_of_each_processor_stands_beside_that_of_the_board() {
        let (machine, plain) = (clean(), plain());
        let text = |slots: &[&str]| {
            let fitted: Vec<(&str, &MemoryModule)> = slots.iter().map(|slot| (*slot, &plain)).collect();
            Figures::of(&Layout::new(&machine, &population(&fitted)).unwrap()).bandwidth.to_string()
        };
        // as much for its bandwidth at either, so that even use gives the sum, and yet unlike shares
        let unlike = text(&["1A1", "1B1", "1C1", "1D1", "2A1", "2B1"]);
        assert!(
            unlike.starts_with(
                "115.2 GB/s, 75 % of the board's 153.6 GB/s; processor 1 at 100 % of its best, processor 2 at 50 % of \
                 its best;"
            ),
            "{unlike}"
        );
        let alike = text(&["1A1", "2A1"]);
        assert!(!alike.contains("of its best"), "{alike}");
    }
}
