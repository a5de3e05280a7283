//! The steps of the machine's rate as levels that a search tries from the top.

use crate::machine::{Machine, RateCap};
use crate::platform::RatePolicy;
use crate::unit::DataRate;

/// A step of the machine's rate, or none: a higher level is a higher rate.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(crate) struct Level(usize);

impl Level {
    /// The level of what has no rate.
    pub(crate) const NO_RATE: Self = Self(0);
    /// Above every step: what holds no module bounds no rate.
    pub(crate) const UNBOUNDED: Self = Self(usize::MAX);

    /// The level of a step of the machine's rate, the lowest being step 0.
    pub(crate) const fn step(step: usize) -> Self {
        // no machine has so many steps that this would be clamped
        Self(step.saturating_add(1))
    }

    /// The step of this level; `None` where it is no rate.
    pub(crate) const fn index(self) -> Option<usize> {
        self.0.checked_sub(1)
    }

    /// The rate of this level on a machine, where it has one.
    pub(crate) fn rate(self, machine: &Machine) -> Option<DataRate> {
        machine.rate_steps().get(self.index()?).copied()
    }
}

/// The highest step at or below a rate; of all steps where there is no limit.
pub(crate) fn step_under(machine: &Machine, limit: Option<DataRate>) -> Level {
    let steps = machine.rate_steps().iter().filter(|&&step| limit.is_none_or(|limit| step <= limit)).count();
    steps.checked_sub(1).map_or(Level::NO_RATE, Level::step)
}

/// The level of a rate that was found: its step, or none.
pub(crate) fn level_of(machine: &Machine, rate: Option<DataRate>) -> Level {
    rate.map_or(Level::NO_RATE, |rate| step_under(machine, Some(rate)))
}

/// The highest step under the caps that hold whatever is fitted.
pub(crate) fn top_level(machine: &Machine) -> Level {
    let processors = machine.processors().map(|(_, processor)| processor.description().max_rate_mts.value);
    // with a rate for each processor the slower ones may stay empty
    let processors = match machine.platform().description().rate_policy {
        RatePolicy::PerMachine => processors.min(),
        RatePolicy::PerSocket => processors.max(),
    };
    let caps = machine.rate_caps().iter().map(RateCap::rate);
    step_under(machine, processors.into_iter().chain(caps).min())
}
