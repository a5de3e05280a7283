use core::fmt;
use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::module::ModuleKind;
use crate::purchase::{Condition, PlanRequest};
use crate::stated::Scope;
use crate::unit::{Bandwidth, Capacity, DataRate, Price};

/// A requirement of a request.
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Requirement {
    /// At least so much usable memory.
    UsableAtLeastMib(Capacity),
    /// At most so much usable memory.
    UsableAtMostMib(Capacity),
    /// At least this rate.
    RateAtLeastMts(DataRate),
    /// At least this bandwidth, by its lower bound.
    BandwidthAtLeastMbps(Bandwidth),
    /// At least so many free slots.
    FreeSlotsAtLeast(usize),
    /// At most this cost.
    Budget(Price),
    /// These kinds only.
    Kinds(BTreeSet<ModuleKind>),
    /// One part only, within a channel, a processor or the machine.
    OnePartNumber(Scope),
    /// Modules of known facts only.
    KnownFactsOnly,
    /// Offers and shelf items in these conditions only.
    Conditions(BTreeSet<Condition>),
    /// Offers that arrive within so many days only.
    LeadTimeAtMostDays(u32),
    /// So many spares of each sort of module, whatever its part number, maker and power.
    Spares(u32),
    /// So many spares of each part.
    SparesPerPart(u32),
}

/// Names, with a word between them.
fn listed<T: fmt::Display>(items: &BTreeSet<T>) -> String {
    items.iter().map(ToString::to_string).collect::<Vec<_>>().join(" or ")
}

impl fmt::Display for Requirement {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UsableAtLeastMib(capacity) => write!(f, "at least {capacity}"),
            Self::UsableAtMostMib(capacity) => write!(f, "at most {capacity}"),
            Self::RateAtLeastMts(rate) => write!(f, "at least {rate}"),
            Self::BandwidthAtLeastMbps(bandwidth) => {
                let (numerator, denominator) = <(u64, u64)>::from(*bandwidth);
                write!(f, "at least {}", bandwidth.floor_mbps())?;
                match numerator % denominator {
                    0 => {}
                    rest => write!(f, " {rest}/{denominator}")?,
                }
                write!(f, " MB/s of bandwidth ({bandwidth})")
            }
            Self::FreeSlotsAtLeast(slots) => write!(f, "at least {slots} free slots"),
            Self::Budget(price) => write!(f, "at most {price}"),
            Self::Kinds(kinds) => write!(f, "only {} modules", listed(kinds)),
            Self::OnePartNumber(Scope::Machine) => f.write_str("one part only"),
            Self::OnePartNumber(scope) => write!(f, "one part only in each {scope}"),
            Self::KnownFactsOnly => f.write_str("modules of known facts only"),
            Self::Conditions(conditions) => write!(f, "only what is {}", listed(conditions)),
            Self::LeadTimeAtMostDays(days) => write!(f, "only what arrives within {days} days"),
            Self::Spares(1) => f.write_str("1 spare of each sort of module"),
            Self::Spares(spares) => write!(f, "{spares} spares of each sort of module"),
            Self::SparesPerPart(1) => f.write_str("1 spare of each part"),
            Self::SparesPerPart(spares) => write!(f, "{spares} spares of each part"),
        }
    }
}

impl Requirement {
    /// The requirements of a request.
    pub(crate) fn of(request: &PlanRequest) -> Vec<Self> {
        let mut all = Vec::new();
        all.extend(request.usable_at_least_mib.map(Self::UsableAtLeastMib));
        all.extend(request.usable_at_most_mib.map(Self::UsableAtMostMib));
        all.extend(request.rate_at_least_mts.map(Self::RateAtLeastMts));
        all.extend(request.bandwidth_at_least_mbps.map(Self::BandwidthAtLeastMbps));
        all.extend(request.free_slots_at_least.map(Self::FreeSlotsAtLeast));
        all.extend(request.budget.map(Self::Budget));
        all.extend(request.kinds.clone().map(Self::Kinds));
        all.extend(request.one_part_number.map(Self::OnePartNumber));
        all.extend(request.known_facts_only.then_some(Self::KnownFactsOnly));
        all.extend(request.conditions.clone().map(Self::Conditions));
        all.extend(request.lead_time_at_most_days.map(Self::LeadTimeAtMostDays));
        let spares = if request.spares_per_part { Self::SparesPerPart } else { Self::Spares };
        all.extend((request.spares > 0).then(|| spares(request.spares)));
        all
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn requirements_read_as_phrases() {
        let text = |requirement: Requirement| requirement.to_string();
        assert_eq!(text(Requirement::Spares(2)), "2 spares of each sort of module");
        assert_eq!(text(Requirement::SparesPerPart(1)), "1 spare of each part");
        assert_eq!(text(Requirement::OnePartNumber(Scope::Socket)), "one part only in each processor");
        let used = BTreeSet::from([Condition::Pulled, Condition::Tested]);
        assert_eq!(text(Requirement::Conditions(used)), "only what is tested or pulled");
    }
}
