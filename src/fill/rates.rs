//! Rates and bandwidths as whole numbers of parts, so that sums compare exactly.

use crate::figure::channels_in_step;
use crate::fill::Level;
use crate::fill::pace::Scale;
use crate::fill::target::Speed;
use crate::machine::Machine;
use crate::unit::exact::common_part;
use crate::unit::{Bandwidth, DataRate};

/// A level that processors may run at, with its rate in parts; 0 where no rate matters.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct LevelRate {
    pub(crate) level: Level,
    pub(crate) rate: u128,
}

/// What a part of a speed is.
#[derive(Debug, Clone, Copy)]
pub(crate) struct SpeedScale {
    /// Into how many parts a channel's bandwidth is cut.
    channel: u128,
    /// Into how many parts a MT/s is cut.
    rate_unit: u128,
    /// How many channels work in step and count as one.
    in_step: u128,
}

impl SpeedScale {
    /// Rates are cut no finer; where that does not do for whole numbers, they are rounded down.
    const FINEST_RATE: u128 = 1 << 20;

    /// Parts so small that every step of the machine's rate, and every pace, is a whole number of them.
    pub(crate) fn new(machine: &Machine, pace: Scale) -> Self {
        let denominators = machine.rate_steps().iter().map(|step| u128::from(step.exact_mts().1));
        // what is clamped here is beyond the finest rate
        let common = denominators.fold(1_u128, |lcm, d| (lcm / common_part(lcm, d)).saturating_mul(d));
        Self {
            channel: pace.one(),
            rate_unit: common.min(Self::FINEST_RATE),
            in_step: channels_in_step(machine).into(),
        }
    }

    /// Whether speeds are whole numbers of parts, and never rounded.
    pub(crate) const fn is_exact(self) -> bool {
        self.channel < Scale::MOST && self.rate_unit < Self::FINEST_RATE
    }

    /// A rate in parts.
    pub(crate) fn parts_of_rate(self, rate: DataRate) -> u128 {
        let (numerator, denominator) = rate.exact_mts();
        u128::from(numerator) * self.rate_unit / u128::from(denominator)
    }

    /// How many parts of speed a bandwidth is, rounded up.
    pub(crate) fn parts_needed(self, bandwidth: Bandwidth) -> u128 {
        let (numerator, denominator) = <(u64, u64)>::from(bandwidth);
        let parts = [self.channel, self.rate_unit, self.in_step];
        let parts = parts.iter().try_fold(u128::from(numerator), |all, part| all.checked_mul(*part));
        // what 128 bits cannot count is more than any memory has
        parts.map_or(u128::MAX, |parts| parts.div_ceil(u128::from(denominator) * 8))
    }

    /// The bandwidth of a speed: spread, then swept.
    pub(crate) fn bandwidth(self, speed: Speed) -> (Bandwidth, Bandwidth) {
        let whole = [self.channel, self.rate_unit, self.in_step];
        // sums of speeds are clamped alike, and the rules judge the bandwidth of what is placed exactly
        let whole = whole.iter().fold(1, |all: u128, part| all.saturating_mul(*part));
        let of = |parts: u128| Bandwidth::of(parts.saturating_mul(8), whole);
        (of(speed.spread), of(speed.swept))
    }
}
