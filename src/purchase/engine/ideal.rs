//! What plans of one capacity can be like at best, as far as their capacities alone say it: where all processors are wired
//! alike, and each is one domain.

use itertools::Itertools;

use crate::fill::{ChannelIx, ClassId, Level, SlotModel};
use crate::machine::Wiring;
use crate::purchase::engine::classes::times;
use crate::search::{Budget, StopReason};
use crate::unit::exact::gcd;
use crate::unit::{Bandwidth, Capacity, DataRate};

/// The channels of a machine of like processors.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct LikeChannels {
    sockets: usize,
    /// How many modules each channel of a processor has room for.
    rooms: Vec<usize>,
    weight: u64,
}

impl LikeChannels {
    /// The channels of a machine for modules of some classes at a level; `None` where processors differ, or something else than
    /// what channels hold says how fast they are together.
    pub(crate) fn of(
        model: &SlotModel<'_>,
        classes: &[ClassId],
        level: Level,
        budget: &mut Budget<'_>,
    ) -> Result<Option<Self>, StopReason> {
        let machine = model.machine;
        // where only some sets of channels may be interleaved, none is faster all at once than by the fullest channel, and
        // swept it is no faster than that
        let is_plain = machine.mode_description().is_none()
            && machine.processors().all(|(id, _)| machine.wiring(id).is_some_and(Wiring::is_undivided));
        let Some(first) = model.sockets.values().first().filter(|_| is_plain) else { return Ok(None) };
        let mut room_of = Vec::new();
        for (channel, entry) in model.unlike_channels() {
            room_of.push((entry.shape, model.room_of(channel, classes, level, budget)?));
        }
        let room = |&channel: &ChannelIx| {
            let shape = model.channels.get(channel).map(|entry| entry.shape);
            room_of.iter().find(|(known, _)| Some(*known) == shape).map_or(0, |&(_, room)| room)
        };
        let rooms = |channels: &[ChannelIx]| channels.iter().map(room).sorted_unstable().collect::<Vec<usize>>();
        let own = rooms(&first.channels);
        let are_alike =
            model.sockets.values().iter().all(|socket| socket.weight == first.weight && rooms(&socket.channels) == own);
        let (sockets, weight) = (model.sockets.len(), first.weight);
        Ok(are_alike.then_some(Self { sockets, rooms: own, weight }))
    }

    /// How many modules the widest channel has room for.
    fn widest(&self) -> usize {
        self.rooms.iter().max().copied().unwrap_or(0)
    }

    /// Whether modules of these sizes may hold so much in all channels, shared out evenly or not.
    pub(crate) fn may_hold(&self, sizes: &[Capacity], capacity: Capacity) -> bool {
        let Some((sizes, unit)) = in_units(sizes) else { return false };
        let Ok(total) = usize::try_from(capacity.mib() / unit) else { return false };
        let loads = self.loads(&sizes);
        let all = std::iter::repeat_n(&loads, self.sockets).flatten().map(Vec::as_slice);
        capacity.mib() % unit == 0 && fewest_in_channels(all, total).is_some()
    }

    /// By channel of a processor, then by what it holds in units: the fewest modules.
    fn loads(&self, sizes: &[usize]) -> Vec<Vec<Option<usize>>> {
        let most = sizes.iter().max().copied().unwrap_or(0) * self.widest();
        self.rooms.iter().map(|&room| fewest_in_channel(sizes, room, most)).collect()
    }
}

/// The best that plans of one capacity can be like.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Ideal {
    capacity: Capacity,
    /// The smallest difference between processors, in weighted MiB.
    pub(crate) spread: u64,
    /// Of plans with no larger difference: what each processor holds, and its fullest channel at least, in MiB.
    shares: Vec<(u64, u64)>,
    /// Of plans that are just so even and fast: the fewest modules.
    pub(crate) modules: usize,
    /// Of these plans: what a module holds at most.
    largest: Capacity,
    channels: LikeChannels,
}

impl Ideal {
    /// The best that plans can be like which hold so much in modules of these sizes; `None` where no plan does that shares it
    /// out as evenly as can be.
    pub(crate) fn of(channels: &LikeChannels, sizes: &[Capacity], capacity: Capacity) -> Option<Self> {
        let (sizes, unit) = in_units(sizes)?;
        let total = Some(capacity.mib() / unit).filter(|total| total * unit == capacity.mib())?;
        let sockets = u64::try_from(channels.sockets).ok()?;
        let (least, with_more) = (total / sockets, total % sockets);
        let share = |units: u64| Fullest::of(channels, &sizes, usize::try_from(units).ok()?);
        let smaller = share(least)?;
        let larger = if with_more > 0 { Some(share(least + 1)?) } else { None };
        let in_mib = |units: usize| u64::try_from(units).unwrap_or(u64::MAX).saturating_mul(unit);
        let of_socket = |socket: u64| larger.as_ref().filter(|_| socket < with_more).unwrap_or(&smaller);
        let all = || (0..sockets).map(of_socket);
        let fullest = all().map(|share| share.fullest).max()?;
        let largest = sizes.iter().copied().filter(|&size| size <= fullest).max().unwrap_or(0);
        Some(Self {
            capacity,
            spread: if with_more > 0 { channels.weight.saturating_mul(unit) } else { 0 },
            shares: all().map(|share| (in_mib(share.holds), in_mib(share.fullest))).collect(),
            modules: all().map(|share| share.modules).sum(),
            largest: Capacity::from_mib(in_mib(largest)),
            channels: channels.clone(),
        })
    }

    /// Whether so many modules of these sizes hold just as much as it.
    pub(crate) fn is_of(&self, modules: &[(Capacity, usize)]) -> bool {
        modules.iter().map(|&(size, count)| times(size, count)).sum::<Capacity>() == self.capacity
    }

    /// Whether a plan with so many modules of these sizes, and perhaps more, may be so.
    pub(crate) fn may_come_of(&self, modules: &[(Capacity, usize)]) -> bool {
        let held: Capacity = modules.iter().map(|&(size, count)| times(size, count)).sum();
        held <= self.capacity
            && modules.iter().all(|&(size, _)| size <= self.largest)
            && (held < self.capacity || self.may_hold(modules))
    }

    /// Whether so many modules of these sizes, all of them, may fill channels no further than in the fullest one: where that
    /// takes long to tell, they may.
    fn may_hold(&self, modules: &[(Capacity, usize)]) -> bool {
        let most = self.shares.iter().map(|&(_, fullest)| fullest).max().unwrap_or(0);
        let held = self.shares.iter().fold(0_u64, |sum, (holds, _)| sum.saturating_add(*holds));
        let channels = self.channels.sockets * self.channels.rooms.len();
        let room = u64::try_from(channels).unwrap_or(u64::MAX).saturating_mul(most);
        let mut left: Vec<(u64, usize)> = modules.iter().map(|&(size, count)| (size.mib(), count)).collect();
        left.sort_unstable_by(|a, b| b.cmp(a));
        let mut packing = Packing { left, most, slots: self.channels.widest(), steps: 0 };
        packing.fills(channels, room.saturating_sub(held))
    }

    /// The most bandwidth of such plans at a rate.
    pub(crate) fn bandwidth(&self, rate: DataRate) -> Bandwidth {
        let each = |&(holds, fullest): &(u64, u64)| rate.peak_bandwidth().times(holds, fullest);
        self.shares.iter().map(each).fold(Bandwidth::ZERO, |sum, each| sum + each)
    }
}

/// Sizes in a common unit, in MiB; none without sizes.
fn in_units(sizes: &[Capacity]) -> Option<(Vec<usize>, u64)> {
    let mut sizes: Vec<u64> = sizes.iter().map(|size| size.mib()).filter(|&size| size > 0).collect();
    sizes.sort_unstable();
    sizes.dedup();
    let unit = sizes.iter().fold(0, |unit, &size| gcd(unit, size));
    let units = sizes.iter().map(|size| usize::try_from(size.checked_div(unit)?).ok()).collect::<Option<Vec<_>>>()?;
    (!units.is_empty()).then_some((units, unit))
}

/// Modules that are put into channels one by one, the largest first.
struct Packing {
    /// By size, the largest first: how many are left.
    left: Vec<(u64, usize)>,
    /// What a channel holds at most.
    most: u64,
    slots: usize,
    steps: usize,
}

impl Packing {
    const MOST_STEPS: usize = 1_000;

    /// Whether what is left goes into so many channels which together may stay short of the most by so much.
    fn fills(&mut self, channels: usize, short: u64) -> bool {
        match self.left.iter().position(|&(_, count)| count > 0) {
            None => true,
            Some(_) if channels == 0 => false,
            // the largest goes into some channel
            Some(largest) => self.fills_one((largest, true), (self.slots, self.most), channels, short),
        }
    }

    /// The same where one channel is being filled from a size on, with so many slots and so much room left.
    fn fills_one(
        &mut self,
        (from, is_first): (usize, bool),
        (slots, room): (usize, u64),
        channels: usize,
        short: u64,
    ) -> bool {
        self.steps += 1;
        if self.steps > Self::MOST_STEPS {
            return true;
        }
        let sizes = if is_first { from + 1 } else { self.left.len() };
        for index in from..sizes {
            let Some(&(size, count)) = self.left.get(index) else { break };
            if slots == 0 || count == 0 || size > room {
                continue;
            }
            self.left.get_mut(index).into_iter().for_each(|(_, count)| *count -= 1);
            let fills = self.fills_one((index, false), (slots - 1, room - size), channels, short);
            self.left.get_mut(index).into_iter().for_each(|(_, count)| *count += 1);
            if fills {
                return true;
            }
        }
        !is_first && room <= short && self.fills(channels - 1, short - room)
    }
}

/// A processor whose fullest channel holds as little as can be, in units.
struct Fullest {
    holds: usize,
    fullest: usize,
    modules: usize,
}

impl Fullest {
    fn of(channels: &LikeChannels, sizes: &[usize], holds: usize) -> Option<Self> {
        let loads = channels.loads(sizes);
        let most = loads.iter().map(Vec::len).max()?.checked_sub(1)?;
        let mut fullest = holds.div_ceil(channels.rooms.iter().filter(|&&room| room > 0).count().max(1));
        // what no channel can hold is no fullest one
        let is_held = |units: usize| loads.iter().any(|one| one.get(units).is_some_and(Option::is_some));
        while fullest <= most {
            if is_held(fullest) {
                let within = loads.iter().map(|one| one.get(..=fullest).unwrap_or(one));
                if let Some(modules) = fewest_in_channels(within, holds) {
                    return Some(Self { holds, fullest, modules });
                }
            }
            fullest += 1;
        }
        None
    }
}

/// By what a channel holds in units: the fewest modules.
fn fewest_in_channel(sizes: &[usize], slots: usize, most: usize) -> Vec<Option<usize>> {
    let mut fewest = vec![None; most + 1];
    fewest.first_mut().into_iter().for_each(|none| *none = Some(0));
    for modules in 1..=slots {
        let reached: Vec<usize> = (0..=most).filter(|&held| fewest.get(held) == Some(&Some(modules - 1))).collect();
        for (held, size) in itertools::iproduct!(reached, sizes) {
            if let Some(entry) = fewest.get_mut(held + size).filter(|entry| entry.is_none()) {
                *entry = Some(modules);
            }
        }
    }
    fewest
}

/// The fewest modules of channels that hold so much together; for each, the fewest by what it holds.
fn fewest_in_channels<'o>(channels: impl Iterator<Item = &'o [Option<usize>]>, holds: usize) -> Option<usize> {
    let mut fewest: Vec<Option<usize>> = vec![None; holds + 1];
    fewest.first_mut().into_iter().for_each(|none| *none = Some(0));
    for one in channels {
        let loads: Vec<(usize, usize)> =
            (0..).zip(one).filter_map(|(held, modules)| Some((held, (*modules)?))).collect();
        let with = |held: usize| {
            let before = |&(own, modules): &(usize, usize)| {
                Some(fewest.get(held.checked_sub(own)?).copied().flatten()? + modules)
            };
            loads.iter().filter_map(before).min()
        };
        fewest = (0..=holds).map(with).collect();
    }
    fewest.last().copied().flatten()
}

#[cfg(test)]
mod tests {
    use itertools::Itertools;

    use super::*;

    fn gib(units: u64) -> Capacity {
        Capacity::from_mib(units * 1024)
    }

    /// Against every way to fill 2 processors of 2 channels of 2 slots.
    #[test]
    fn law_no_plan_is_better_than_the_ideal() {
        let channels = &LikeChannels { sockets: 2, rooms: vec![2, 2], weight: 1 };
        for sizes in [vec![8_u64], vec![8, 16], vec![16, 24], vec![8, 16, 64], vec![24, 32, 48]] {
            let of_channel = sizes.iter().copied().chain([0]).combinations_with_replacement(2).collect_vec();
            let of_socket = of_channel.iter().combinations_with_replacement(2).collect_vec();
            // capacity, difference, then what the fastest lose, and modules
            let mut best = std::collections::BTreeMap::new();
            for both in of_socket.iter().combinations_with_replacement(2) {
                let held = both.iter().map(|socket| socket.iter().copied().flatten().sum::<u64>()).collect_vec();
                let rate = DataRate::DDR4_2400.peak_bandwidth();
                let speed = both.iter().zip(&held).map(|(socket, held)| {
                    rate.times(*held, socket.iter().map(|channel| channel.iter().sum::<u64>()).max().unwrap())
                });
                let speed = speed.fold(Bandwidth::ZERO, |sum, own| sum + own);
                let all = both.iter().flat_map(|socket| socket.iter().copied().flatten()).copied().collect_vec();
                let modules = all.iter().filter(|&&size| size > 0).count();
                let largest = all.iter().max().copied().unwrap();
                let key = (held[0].abs_diff(held[1]), std::cmp::Reverse(speed), modules);
                let entry = best.entry(held.iter().sum::<u64>()).or_insert((key, 0));
                if key.0 == entry.0.0 && key.1 == entry.0.1 {
                    entry.1 = largest.max(entry.1);
                }
                if key < entry.0 {
                    let same = (key.0, key.1) == (entry.0.0, entry.0.1);
                    *entry = (key, if same { entry.1 } else { largest });
                }
            }
            let all: Vec<Capacity> = sizes.iter().map(|&size| gib(size)).collect();
            let unit = sizes.iter().fold(0, |unit, &size| gcd(unit, size));
            for (held, ((spread, std::cmp::Reverse(speed), modules), largest)) in best {
                let ideal = Ideal::of(channels, &all, gib(held));
                // as even as can be in units
                let nearest = held / unit % 2 * unit;
                let Some(ideal) = ideal else {
                    assert!(spread > nearest, "{held} of {sizes:?}");
                    continue;
                };
                assert_eq!((ideal.spread, spread), (gib(nearest).mib(), nearest), "{held} of {sizes:?}");
                assert_eq!(ideal.bandwidth(DataRate::DDR4_2400), speed, "{held} of {sizes:?}");
                assert_eq!(ideal.modules, modules, "{held} of {sizes:?}");
                assert!(ideal.largest >= gib(largest), "{held} of {sizes:?}");
            }
        }
    }

    /// What modules may hold in channels of so much, against every way to fill 4 channels of 3 slots.
    #[test]
    fn law_modules_fill_channels_where_some_way_does() {
        let channels = LikeChannels { sockets: 2, rooms: vec![3, 3], weight: 1 };
        let sizes = [8_u64, 16, 32];
        let loads = sizes.iter().copied().chain([0]).combinations_with_replacement(3).collect_vec();
        for most in [32, 40, 48] {
            let legal = loads.iter().filter(|load| load.iter().sum::<u64>() <= most).collect_vec();
            let held: std::collections::BTreeSet<[usize; 3]> = legal
                .iter()
                .combinations_with_replacement(4)
                .map(|all| {
                    sizes.map(|size| all.iter().flat_map(|load| load.iter()).filter(|&&own| own == size).count())
                })
                .collect();
            for counts in itertools::iproduct!(0..=4_usize, 0..=6_usize, 0..=5_usize) {
                let counts = [counts.0, counts.1, counts.2];
                let total: u64 =
                    sizes.iter().zip(counts).map(|(size, count)| size * u64::try_from(count).unwrap()).sum();
                let shares = vec![(gib(total).mib(), gib(most).mib()), (0, 0)];
                let (capacity, largest) = (gib(total), gib(32));
                let ideal = Ideal { capacity, spread: 0, shares, modules: 0, largest, channels: channels.clone() };
                let modules = sizes.iter().zip(counts).map(|(&size, count)| (gib(size), count)).collect_vec();
                assert_eq!(ideal.may_hold(&modules), held.contains(&counts), "{counts:?} of {most}");
            }
        }
    }

    #[test]
    fn two_modules_a_channel_make_what_one_cannot() {
        let channels = &LikeChannels { sockets: 2, rooms: vec![2; 8], weight: 2 };
        let ideal = Ideal::of(channels, &[gib(16), gib(32), gib(64)], gib(768)).unwrap();
        assert_eq!((ideal.modules, ideal.largest, ideal.spread), (32, gib(32), 0));
        let ideal = Ideal::of(channels, &[gib(16), gib(32), gib(64)], gib(1024)).unwrap();
        assert_eq!((ideal.modules, ideal.largest), (16, gib(64)));
        // one channel holds 16 GB more than the others
        let ideal = Ideal::of(channels, &[gib(16), gib(32), gib(64)], gib(1040)).unwrap();
        assert_eq!((ideal.modules, ideal.spread), (17, 2 * gib(16).mib()));
        assert_eq!(Ideal::of(channels, &[gib(64)], gib(33 * 64)), None);
        assert_eq!(Ideal::of(channels, &[], gib(0)), None);
        // one channel of each processor has room for one alone: 48 GB in the other take two
        let channels = &LikeChannels { sockets: 2, rooms: vec![1, 2], weight: 2 };
        let ideal = Ideal::of(channels, &[gib(16), gib(32)], gib(160)).unwrap();
        assert_eq!((ideal.modules, ideal.shares.clone()), (6, vec![(80 * 1024, 48 * 1024); 2]));
        assert!(channels.may_hold(&[gib(32)], gib(192)) && !channels.may_hold(&[gib(32)], gib(224)));
    }
}
