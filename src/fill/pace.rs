//! How fast a processor's memory is, given how its channels are filled.

use crate::figure::usable;
use crate::fill::exempt::ExemptLayouts;
use crate::fill::loads::Loads;
use crate::fill::profiles::{Holding, Profile, profiles, ways_of};
use crate::fill::target::Speed;
use crate::fill::{Demand, SlotModel, SocketIx, WayIx};
use crate::search::{Budget, StopReason, Table, wide};
use crate::unit::exact::gcd;

/// How fast the memory of one processor is in parts of a channel's bandwidth: for what it holds, or whatever that is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Pace {
    /// Its capacity over what the fullest channel holds, and over the time of all regions.
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
    pub(crate) const MOST: u128 = 1 << 40;

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

    /// How much a capacity over so much is, rounded down; over nothing, it is nothing.
    pub(crate) fn part(self, capacity: u64, over: u64) -> u128 {
        let product = u128::from(capacity) * self.common;
        product.checked_div(u128::from(over)).unwrap_or(0)
    }
}

/// A pace at one rate: the speed of any capacity, worked out beforehand as far as can be.
#[derive(Debug, Clone, Copy)]
pub(crate) enum PaceAtRate {
    /// So much for each unit of capacity.
    Each { unit: u64, speed: Speed },
    /// By division, rounded down.
    Over { most: u64, time: u64, scale: Scale, rate: u128 },
    /// So much whatever the capacity.
    Fixed(Speed),
}

impl Pace {
    /// The pace at a rate; 0 for no rate.
    pub(crate) fn at_rate(self, scale: Scale, rate: u128) -> PaceAtRate {
        match self {
            _ if rate == 0 => PaceAtRate::Fixed(Speed::ZERO),
            Self::Fixed(speed) => PaceAtRate::Fixed(speed.times(rate)),
            Self::Over { most, time } => match (scale.each(most), scale.each(time)) {
                (Some(spread), Some(swept)) => {
                    PaceAtRate::Each { unit: scale.unit, speed: Speed { spread, swept }.times(rate) }
                }
                _ => PaceAtRate::Over { most, time, scale, rate },
            },
        }
    }
}

impl PaceAtRate {
    pub(crate) fn speed(self, capacity: u64) -> Speed {
        match self {
            // a unit is never 0
            Self::Each { unit, speed } => speed.times(u128::from(capacity.checked_div(unit).unwrap_or(0))),
            Self::Over { most, time, scale, rate } => {
                Speed { spread: scale.part(capacity, most), swept: scale.part(capacity, time) }.times(rate)
            }
            Self::Fixed(speed) => speed,
        }
    }
}

/// Ways to fill the channels of a processor that have one pace.
#[derive(Debug, Clone)]
pub(crate) struct Way {
    pub(crate) pace: Pace,
    pub(crate) held: Held,
    /// Whether it is of exempt layouts alone.
    pub(crate) is_exempt: bool,
}

/// What each channel of a processor holds, in MiB less spare ranks.
#[derive(Debug, Clone)]
pub(crate) enum Held {
    /// Anything.
    Any,
    /// At most so much.
    AtMost(u64),
    /// So much, or nothing.
    JustOrNothing(u64),
    /// One of these, by channel in order; sorted.
    OneOf(Vec<Vec<Holding>>),
}

/// The ways of each processor, the fastest for a capacity first, and the scale of their speeds.
pub(crate) struct Paces {
    pub(crate) scale: Scale,
    pub(crate) ways: Table<SocketIx, Table<WayIx, Way>>,
}

/// What the ways of a processor follow from.
enum Filling {
    /// Any set of channels may be interleaved: by what the fullest channel holds.
    Plain { heights: Vec<u64> },
    /// Exact sets or domains matter: channel by channel.
    Detailed { profiles: Vec<Profile> },
}

impl Paces {
    pub(crate) fn new(
        model: &SlotModel<'_>,
        loads: &Loads,
        (exempt, demand): (&ExemptLayouts, &Demand),
        budget: &mut Budget<'_>,
    ) -> Result<Self, StopReason> {
        // where any placing will do, how channels are filled is a matter of rules alone
        let in_force = &model.in_force;
        let matters = !demand.any_will_do
            || demand.least_swept.is_some()
            || in_force.one_region
            || in_force.memory_in_each_domain;
        let mut holdings: Vec<u64> = Vec::new();
        let mut fillings: Vec<Filling> = Vec::new();
        for (socket, entry) in model.sockets.iter() {
            let heights = heights(model, loads, socket);
            holdings.extend(&heights);
            fillings.push(match model.machine.wiring(entry.id).filter(|wiring| matters && !wiring.is_plain()) {
                Some(wiring) => {
                    let profiles = profiles(model, loads, exempt, (socket, wiring), budget)?;
                    holdings.extend(profiles.iter().flat_map(Profile::holdings));
                    Filling::Detailed { profiles }
                }
                None => Filling::Plain { heights },
            });
        }
        budget.work(wide(holdings.len()).saturating_mul(20))?;
        holdings.sort_unstable();
        holdings.dedup();
        let scale = Scale::new(&holdings);
        let one_region = model.in_force.one_region;
        let ways = fillings.into_iter().zip(model.sockets.ids()).map(|(filling, socket)| match filling {
            Filling::Plain { heights } => plain_ways(&heights, one_region, one_region && exempt.speak_of(socket)),
            Filling::Detailed { profiles } => ways_of(profiles, scale),
        });
        Ok(Self { scale, ways: ways.collect() })
    }
}

/// A way for each height of the fullest channel, the lowest and so the fastest first.
/// Exempt layouts need not be one region.
fn plain_ways(heights: &[u64], one_region: bool, exempt: bool) -> Table<WayIx, Way> {
    if heights.is_empty() {
        let nothing = Way { pace: Pace::Over { most: 1, time: 1 }, held: Held::Any, is_exempt: false };
        return std::iter::once(nothing).collect();
    }
    let held = |most| if one_region { Held::JustOrNothing(most) } else { Held::AtMost(most) };
    let ways = heights.iter().flat_map(|&most| {
        let way = |held, is_exempt| Way { pace: Pace::Over { most, time: most }, held, is_exempt };
        [Some(way(held(most), false)), exempt.then(|| way(Held::AtMost(most), true))]
    });
    ways.flatten().collect()
}

/// What a channel of a processor can hold, less spare ranks; nothing left out.
fn heights(model: &SlotModel<'_>, loads: &Loads, socket: SocketIx) -> Vec<u64> {
    let loads = loads.of_channels(model.channels_of(socket));
    let mut heights: Vec<u64> = loads.map(|load| load.usable).filter(|&held| held > 0).collect();
    heights.sort_unstable();
    heights.dedup();
    heights
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
        let speed = |spread, swept| Speed { spread, swept };
        assert_eq!(over(48, 48).at_rate(scale, 1).speed(96), speed(12, 12));
        assert_eq!(over(32, 48).at_rate(scale, 2).speed(64), speed(24, 16));
        assert_eq!(over(32, 48).at_rate(scale, 0).speed(64), Speed::ZERO);
        assert_eq!(Pace::Fixed(speed(7, 3)).at_rate(scale, 1).speed(64), speed(7, 3));
        assert_eq!(Scale::new(&[]).one(), 1);
        // primes beyond any common multiple: rounded down
        let odd = Scale::new(&[1009, 1013, 1019, 1021, 1031, 1033, 1039]);
        assert_eq!(odd.one(), Scale::MOST);
        assert_eq!(over(1009, 1009).at_rate(odd, 1).speed(2018).spread, 2 * Scale::MOST);
    }
}
