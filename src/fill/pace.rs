//! How fast a processor's memory is, given how its channels are filled.

use std::collections::BTreeMap;

use itertools::Itertools;

use crate::figure::regions::{Domain, domains, members};
use crate::figure::usable;
use crate::fill::SlotModel;
use crate::fill::loads::Loads;
use crate::machine::Wiring;
use crate::search::{Budget, SearchSize, StopReason};
use crate::unit::exact::gcd;

/// Bandwidth in parts of a channel's, by a [`Scale`]: spread, then swept. More is better.
pub(crate) type Speed = (u128, u128);

/// What the memory of one processor takes: for a channel's worth, or whatever it holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Pace {
    /// Capacity over what the fullest channel holds, and over the time of all regions.
    Over { most: u64, time: u64 },
    /// So much, by the scale.
    Fixed(Speed),
}

/// Whole numbers in place of fractions of a channel's bandwidth.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Scale {
    /// The common part of all that channels can hold, in MiB.
    unit: u64,
    /// What every pace divides, in units of that; a power of two where that would be too large, and speeds are
    /// rounded down.
    common: u128,
}

impl Scale {
    const MOST: u128 = 1 << 40;

    fn new(holdings: &[u64]) -> Self {
        let unit = holdings.iter().fold(0, |unit, &held| gcd(unit, held)).max(1);
        let common = holdings.iter().filter(|&&held| held > 0).try_fold(1_u64, |lcm, &held| {
            let held = held / unit;
            (lcm / gcd(lcm, held)).checked_mul(held).filter(|&lcm| u128::from(lcm) <= Self::MOST)
        });
        Self { unit, common: common.map_or(Self::MOST, u128::from) }
    }

    /// How many of these are one channel's bandwidth.
    pub(crate) const fn one(self) -> u128 {
        self.common
    }

    /// How much one unit of capacity over so much is, where that is whole.
    fn each(self, over: u64) -> Option<u128> {
        let units = u128::from(over.checked_div(self.unit).filter(|units| units * self.unit == over)?);
        self.common.checked_div(units).filter(|each| each * units == self.common)
    }

    fn part(self, capacity: u64, over: u64) -> u128 {
        let product = u128::from(capacity) * self.common;
        product.checked_div(u128::from(over)).unwrap_or(0)
    }
}

/// The speed of a pace at a rate, worked out for every capacity beforehand.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Gait {
    /// So much for each unit of capacity.
    Each { unit: u64, speed: Speed },
    /// By division, rounded down.
    Over { pace: Pace, scale: Scale, rate: u128 },
    /// So much whatever the capacity.
    Fixed(Speed),
}

impl Pace {
    /// The pace at a rate; 0 for no rate.
    pub(crate) fn gait(self, scale: Scale, rate: u128) -> Gait {
        match self {
            _ if rate == 0 => Gait::Fixed((0, 0)),
            Self::Fixed(speed) => Gait::Fixed((speed.0.saturating_mul(rate), speed.1.saturating_mul(rate))),
            Self::Over { most, time } => match (scale.each(most), scale.each(time)) {
                (Some(spread), Some(swept)) => {
                    Gait::Each { unit: scale.unit, speed: (spread.saturating_mul(rate), swept.saturating_mul(rate)) }
                }
                _ => Gait::Over { pace: self, scale, rate },
            },
        }
    }
}

impl Gait {
    pub(crate) fn speed(self, capacity: u64) -> Speed {
        match self {
            Self::Each { unit, speed: (spread, swept) } => {
                let units = u128::from(capacity.checked_div(unit).unwrap_or(0));
                (units.saturating_mul(spread), units.saturating_mul(swept))
            }
            Self::Over { pace: Pace::Over { most, time }, scale, rate } => {
                let of = |over: u64| scale.part(capacity, over).saturating_mul(rate);
                (of(most), of(time))
            }
            Self::Over { pace: Pace::Fixed(speed), .. } | Self::Fixed(speed) => speed,
        }
    }
}

/// Ways to fill the channels of a processor that have one pace.
#[derive(Debug, Clone)]
pub(crate) struct Way {
    pub(crate) pace: Pace,
    pub(crate) held: Held,
}

/// What each channel of a processor holds.
#[derive(Debug, Clone)]
pub(crate) enum Held {
    /// Anything.
    Any,
    /// At most so much.
    AtMost(u64),
    /// So much, or nothing.
    JustOrNothing(u64),
    /// One of these, by channel, sorted.
    OneOf(Vec<Vec<u64>>),
}

/// The ways of each processor, the fastest for a capacity first, and the scale of their speeds.
pub(crate) struct Paces {
    pub(crate) scale: Scale,
    pub(crate) sockets: Vec<Vec<Way>>,
}

/// The most ways to fill a processor's channels that are looked at one by one.
const MOST_PROFILES: usize = 1 << 18;

impl Paces {
    pub(crate) fn new(grid: &SlotModel<'_>, loads: &Loads, budget: &mut Budget<'_>) -> Result<Self, StopReason> {
        let mut scale_of: Vec<u64> = Vec::new();
        let mut plain: Vec<Option<Vec<u64>>> = Vec::new();
        let mut detailed: Vec<Vec<Profile>> = Vec::new();
        for socket in 0..grid.sockets.len() {
            let wiring = grid.sockets.get(socket).and_then(|socket| grid.machine.wiring(socket.id));
            let heights = heights(grid, loads, socket);
            scale_of.extend(&heights);
            match wiring.filter(|wiring| !wiring.is_plain()) {
                Some(wiring) => {
                    let profiles = profiles(grid, loads, socket, wiring)?;
                    // regions are worked out for each
                    budget.work(u64::try_from(profiles.len()).unwrap_or(u64::MAX).saturating_mul(200))?;
                    scale_of.extend(
                        profiles.iter().flat_map(|profile| profile.parts.iter().flat_map(|p| [p.most, p.time])),
                    );
                    plain.push(None);
                    detailed.push(profiles);
                }
                None => {
                    plain.push(Some(heights));
                    detailed.push(Vec::new());
                }
            }
        }
        scale_of.sort_unstable();
        scale_of.dedup();
        let scale = Scale::new(&scale_of);
        let one_region = grid.in_force.one_region;
        let sockets = plain.into_iter().zip(detailed).map(|(heights, profiles)| match heights {
            Some(heights) => plain_ways(&heights, one_region),
            None => grouped(profiles, scale),
        });
        Ok(Self { scale, sockets: sockets.collect() })
    }
}

fn plain_ways(heights: &[u64], one_region: bool) -> Vec<Way> {
    if heights.is_empty() {
        return vec![Way { pace: Pace::Over { most: 1, time: 1 }, held: Held::Any }];
    }
    let held = |most| if one_region { Held::JustOrNothing(most) } else { Held::AtMost(most) };
    heights.iter().map(|&most| Way { pace: Pace::Over { most, time: most }, held: held(most) }).collect()
}

/// What a channel of a processor can hold, less spare ranks; nothing left out.
fn heights(grid: &SlotModel<'_>, loads: &Loads, socket: usize) -> Vec<u64> {
    let channels = grid.sockets.get(socket).into_iter().flat_map(|socket| &socket.channels);
    let loads = channels.filter_map(|&channel| loads.channels.get(channel)).flat_map(|loads| loads.iter());
    let mut heights: Vec<u64> = loads.map(|load| load.usable).filter(|&held| held > 0).collect();
    heights.sort_unstable();
    heights.dedup();
    heights
}

/// A way to fill a processor's channels, one by one.
struct Profile {
    held: Vec<u64>,
    /// Its domains.
    parts: Vec<Part>,
}

/// A domain of a profile.
struct Part {
    capacity: u64,
    most: u64,
    time: u64,
}

/// Every way to fill a processor's channels that the rules on regions and domains in force allow.
fn profiles(grid: &SlotModel<'_>, loads: &Loads, socket: usize, wiring: &Wiring) -> Result<Vec<Profile>, StopReason> {
    let Some(entry) = grid.sockets.get(socket) else { return Ok(Vec::new()) };
    let mut options: Vec<Vec<u64>> = Vec::new();
    for &channel in &entry.channels {
        let loads = loads.channels.get(channel).into_iter().flat_map(|loads| loads.iter());
        options.push(loads.map(|load| load.usable).sorted_unstable().dedup().collect());
    }
    // where channels with memory must hold the same, each height is looked at by itself
    let alike = grid.in_force.one_region || (grid.loads_repeat().is_some() && !grid.spares_ranks());
    let all = if alike && wiring.divisions.is_empty() {
        let heights: Vec<u64> = options.iter().flatten().copied().sorted_unstable().dedup().collect();
        let mut all = Vec::new();
        for height in heights {
            let own = |held: &Vec<u64>| held.iter().copied().filter(|&held| held == 0 || held == height).collect();
            all.extend(combinations(&options.iter().map(own).collect::<Vec<Vec<u64>>>())?);
        }
        all.into_iter().sorted_unstable().dedup().collect()
    } else {
        combinations(&options)?
    };
    let wired: Vec<usize> = entry
        .channels
        .iter()
        .enumerate()
        .filter(|&(_, &channel)| {
            grid.channels.get(channel).is_some_and(|channel| wiring.channels.contains(&channel.id))
        })
        .map(|(place, _)| place)
        .collect();
    let (one_region, no_empty_domain) = (grid.in_force.one_region, grid.in_force.memory_in_each_domain);
    let profile = |held: Vec<u64>| {
        let caps: Vec<u64> = wired.iter().filter_map(|&place| held.get(place).copied()).collect();
        let (domains, _) = domains(wiring, &caps);
        if one_region && domains.iter().any(|domain| domain.regions.len() > 1) {
            return None;
        }
        let holds = |set: u64| members(set).any(|channel| caps.get(channel).is_some_and(|&cap| cap > 0));
        let mut asked = wiring.divisions.first().into_iter().flat_map(|division| &division.domains);
        if no_empty_domain && caps.iter().any(|&cap| cap > 0) && !asked.all(|&domain| holds(domain)) {
            return None;
        }
        let part =
            |domain: &Domain| Part { capacity: domain.capacity(), most: domain.most(&caps), time: domain.time() };
        Some(Profile { parts: domains.iter().map(part).filter(|part| part.capacity > 0).collect(), held })
    };
    Ok(all.into_iter().filter_map(profile).collect())
}

/// Every way to choose one of each.
fn combinations(options: &[Vec<u64>]) -> Result<Vec<Vec<u64>>, StopReason> {
    let mut all: Vec<Vec<u64>> = vec![Vec::new()];
    for held in options {
        if all.len().saturating_mul(held.len()) > MOST_PROFILES {
            let found = u64::try_from(all.len().saturating_mul(held.len())).unwrap_or(u64::MAX);
            let limit = u64::try_from(MOST_PROFILES).unwrap_or(u64::MAX);
            return Err(StopReason::TooLarge { what: SearchSize::WaysToFill, found, limit });
        }
        let with = |so_far: &Vec<u64>| {
            let so_far = so_far.clone();
            held.iter().map(move |&more| so_far.iter().copied().chain([more]).collect::<Vec<u64>>())
        };
        all = all.iter().flat_map(with).collect();
    }
    Ok(all)
}

/// Puts profiles of one pace together, the fastest for a capacity first.
fn grouped(profiles: Vec<Profile>, scale: Scale) -> Vec<Way> {
    let mut known: BTreeMap<(u64, u64, Speed), Vec<Vec<u64>>> = BTreeMap::new();
    for Profile { held, parts } in profiles {
        let key = match parts.as_slice() {
            [] => (0, 0, (0, 0)),
            [one] => (one.most, one.time, (0, 0)),
            many => {
                let sum = |over: fn(&Part) -> u64| many.iter().map(|part| scale.part(part.capacity, over(part))).sum();
                (0, 0, (sum(|part| part.most), sum(|part| part.time)))
            }
        };
        known.entry(key).or_default().push(held);
    }
    let way = |((most, time, speed), held): ((u64, u64, Speed), Vec<Vec<u64>>)| Way {
        pace: if most > 0 { Pace::Over { most, time } } else { Pace::Fixed(speed) },
        held: Held::OneOf(held),
    };
    known.into_iter().map(way).collect()
}

impl SlotModel<'_> {
    /// Whether a load's capacity depends on its ranks, for some are spared.
    pub(crate) fn spares_ranks(&self) -> bool {
        usable::depends_on_places(self.machine)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn speeds_are_whole_numbers() {
        let scale = Scale::new(&[16, 32, 48]);
        assert_eq!(scale.one(), 6);
        let over = |most, time| Pace::Over { most, time };
        assert_eq!(over(48, 48).gait(scale, 1).speed(96), (12, 12));
        assert_eq!(over(32, 48).gait(scale, 2).speed(64), (24, 16));
        assert_eq!(over(32, 48).gait(scale, 0).speed(64), (0, 0));
        assert_eq!(Pace::Fixed((7, 3)).gait(scale, 1).speed(64), (7, 3));
        assert_eq!(Scale::new(&[]).one(), 1);
        // primes beyond any common multiple: rounded down
        let odd = Scale::new(&[1009, 1013, 1019, 1021, 1031, 1033, 1039]);
        assert_eq!(odd.one(), Scale::MOST);
        assert_eq!(over(1009, 1009).gait(odd, 1).speed(2018).0, 2 * Scale::MOST);
    }
}
