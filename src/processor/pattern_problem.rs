//! Why a pattern can match no module.

use itertools::iproduct;
use serde::Serialize;
use thiserror::Error;

use crate::module::{Ecc, Generation, Organization, Stack};
use crate::processor::{ModulePattern, Span};
use crate::unit::{Capacity, Density, Name, Voltage};

/// Why no module of a generation can match a pattern.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum PatternProblem {
    /// A capacity of nothing.
    #[error("no module has a capacity of 0")]
    NoCapacity,
    /// Capacities of which the least is above the largest.
    #[error("no capacity is at least {at_least} and at most {at_most}")]
    NoCapacityBetween {
        /// The least asked for.
        at_least: Capacity,
        /// The largest asked for.
        at_most: Capacity,
    },
    /// Package ranks outside 1 to 8.
    #[error("{found} package ranks; a module has 1 to 8")]
    PackageRanks {
        /// The number given.
        found: u8,
    },
    /// Package ranks of which the fewest are above the most.
    #[error("no number of package ranks is at least {at_least} and at most {at_most}")]
    NoRanksBetween {
        /// The fewest asked for.
        at_least: u8,
        /// The most asked for.
        at_most: u8,
    },
    /// A stack that no module of the generation has.
    #[error("{generation} modules do not come with stacks {height} high")]
    StackHeight {
        /// The generation.
        generation: Generation,
        /// The height given.
        height: u32,
    },
    /// A die density that no standard has.
    #[error("no standard has a die of {density}")]
    DieDensity {
        /// The density given.
        density: Density,
    },
    /// A voltage that the generation lacks.
    #[error("{generation} modules do not run at {voltage}")]
    Voltage {
        /// The generation.
        generation: Generation,
        /// The voltage given.
        voltage: Voltage,
    },
    /// Check bits of another generation.
    #[error("{generation} modules do not come with {ecc}")]
    Ecc {
        /// The generation.
        generation: Generation,
        /// The check bits given.
        ecc: Ecc,
    },
    /// A class and no class.
    #[error("no module is of class {class} and without a class")]
    ClassAndNone {
        /// The class given.
        class: Name,
    },
    /// Ranks, stack, width and capacity that no die gives together.
    #[error("no die of a standard density gives {0}")]
    NoDie(Box<ModulePattern>),
}

impl ModulePattern {
    /// Why no module of a generation can match; nothing where one can.
    #[must_use]
    pub fn problems(&self, generation: Generation) -> Vec<PatternProblem> {
        let mut problems = Vec::new();
        self.ranges(&mut problems);
        if let Some(height) = self.stack_height.filter(|&height| !stacks(generation).any(|own| own.height() == height))
        {
            problems.push(PatternProblem::StackHeight { generation, height });
        }
        if let Some(density) = self.die_density_mbit.filter(|density| !density.is_standard()) {
            problems.push(PatternProblem::DieDensity { density });
        }
        if let Some(voltage) = self.voltage_mv.filter(|voltage| !generation.voltages().contains(voltage)) {
            problems.push(PatternProblem::Voltage { generation, voltage });
        }
        if let Some(ecc) = self.ecc.filter(|ecc| !generation.check_bits().contains(ecc)) {
            problems.push(PatternProblem::Ecc { generation, ecc });
        }
        if let Some(class) = self.class.as_ref().filter(|_| self.without_class) {
            problems.push(PatternProblem::ClassAndNone { class: class.clone() });
        }
        if problems.is_empty() && self.lacks_a_die(generation) {
            problems.push(PatternProblem::NoDie(Box::new(self.clone())));
        }
        problems
    }

    /// Reports ranges of nothing.
    fn ranges(&self, problems: &mut Vec<PatternProblem>) {
        let capacities = [self.capacity_mib, self.capacity_at_least_mib, self.capacity_at_most_mib];
        if capacities.contains(&Some(Capacity::ZERO)) {
            problems.push(PatternProblem::NoCapacity);
        } else if let Some(Span { least, most }) = self.capacities().filter(|span| span.is_empty()) {
            problems.push(PatternProblem::NoCapacityBetween { at_least: least, at_most: most });
        }
        let ranks = [self.package_ranks, self.package_ranks_at_least, self.package_ranks_at_most];
        if let Some(found) = ranks.into_iter().flatten().find(|ranks| !(1..=8).contains(ranks)) {
            problems.push(PatternProblem::PackageRanks { found });
        } else if let Some(Span { least, most }) = self.rank_counts().filter(|span| span.is_empty()) {
            problems.push(PatternProblem::NoRanksBetween { at_least: least, at_most: most });
        }
    }

    /// Whether it names ranks, stack and width, so that the capacity follows from the dies, and none gives what is asked for.
    fn lacks_a_die(&self, generation: Generation) -> bool {
        let (Some(ranks), Some(height), Some(width)) = (self.rank_counts(), self.stack_height, self.width) else {
            return false;
        };
        let densities = self.die_density_mbit.map_or_else(|| Density::STANDARD.to_vec(), |density| vec![density]);
        let stacks = stacks(generation).filter(|stack| stack.height() == height);
        let fits = |(package_ranks, stack, die): (u8, Stack, Density)| {
            let holds = Organization { package_ranks, stack, width }.capacity(die);
            self.capacities().is_none_or(|span| span.contains(holds))
        };
        !iproduct!(ranks.least..=ranks.most, stacks, densities).any(fits)
    }
}

/// What packages of a generation's modules hold.
fn stacks(generation: Generation) -> impl Iterator<Item = Stack> + Clone {
    Stack::ALL.iter().copied().filter(move |stack| stack.is_of(generation))
}
