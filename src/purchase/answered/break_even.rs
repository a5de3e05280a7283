use core::fmt;

use serde::{Deserialize, Serialize};

use crate::purchase::Plan;
use crate::search::StopReason;
use crate::stated::Schema;
use crate::unit::{Name, Price};

/// The answer to "how firm is this price".
// A caller holds one of these; the size of the best case is no matter.
#[allow(clippy::large_enum_variant)]
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
pub enum BreakEvenOutcome {
    /// Between which prices the best plan stays the best.
    Known(BreakEven),
    /// Nothing meets the request as it stands; [`plan`](crate::assess::Planner::plan) says why.
    #[non_exhaustive]
    Infeasible {
        /// The version of the document's form.
        schema: Schema,
    },
    /// The search for the best plan ended before it was through.
    #[non_exhaustive]
    Stopped {
        /// The version of the document's form.
        schema: Schema,
        /// Why.
        reason: StopReason,
    },
}

impl BreakEvenOutcome {
    /// The prices, where they are known.
    #[must_use]
    pub fn known(&self) -> Option<&BreakEven> {
        match self {
            Self::Known(known) => Some(known),
            Self::Infeasible { .. } | Self::Stopped { .. } => None,
        }
    }
}

impl fmt::Display for BreakEvenOutcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Known(known) => known.fmt(f),
            Self::Infeasible { .. } => f.write_str("Nothing meets the request at the price as it is."),
            Self::Stopped { reason, .. } => write!(f, "How firm the price is, is not known: the search {reason}."),
        }
    }
}

/// Between which prices of an offer a plan stays the best, and what comes on either side.
///
/// The price is that of a single unit; those of larger orders move by the same amount.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct BreakEven {
    /// The version of the document's form.
    pub schema: Schema,
    /// The offer.
    pub offer: Name,
    /// What a unit of it costs now.
    pub price: Price,
    /// How many units of it the plan keeps; none for an offer outside the plan.
    pub quantity: usize,
    /// The plan that is best now.
    pub plan: Plan,
    /// The lowest price at which it still is.
    pub from: Price,
    /// What is best one minor unit below that. For an offer outside the plan this is where it comes in.
    pub below: Beyond,
    /// The highest price at which the plan still is the best.
    pub to: Price,
    /// What is best one minor unit above that.
    pub above: Beyond,
}

/// What is best beyond the prices at which a plan is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum Beyond {
    /// Another plan.
    Plan(Box<Plan>),
    /// Nothing: no plan meets the request there.
    Nothing,
    /// There is no beyond: the price named is the lowest or highest that the offer could have.
    NoLimit,
    /// Not known, for the search ended before it was through. Up to the price named the plan is the best.
    Unknown {
        /// Why.
        reason: StopReason,
    },
}

impl Beyond {
    /// The plan that takes over, if there is one.
    #[must_use]
    pub fn plan(&self) -> Option<&Plan> {
        match self {
            Self::Plan(plan) => Some(plan),
            Self::Nothing | Self::NoLimit | Self::Unknown { .. } => None,
        }
    }
}

impl fmt::Display for BreakEven {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { offer, price, quantity, plan, from, to, .. } = self;
        let now = |plan: &Plan| {
            let lines = plan.lines.iter().filter(|line| line.source.is_offer(offer));
            match lines.map(|line| line.quantity - line.returned).sum::<usize>() {
                0 => "none".to_owned(),
                units => units.to_string(),
            }
        };
        match quantity {
            0 => write!(f, "Offer {offer} at {price} is not in the plan")?,
            _ => match plan.lines.iter().find(|line| line.source.is_offer(offer)).and_then(|line| line.unit_price) {
                Some(paid) if paid != *price => {
                    write!(f, "Offer {offer} at {price} (at {paid} for {quantity}), {quantity} in the plan")?;
                }
                _ => write!(f, "Offer {offer} at {price}, {quantity} in the plan")?,
            },
        }
        match &self.below {
            Beyond::Plan(plan) if *quantity == 0 => {
                let at = Price::new(from.amount_minor().saturating_sub(1), from.currency());
                write!(f, "; at {at} or less it comes in, with {}", now(plan))?;
            }
            Beyond::Plan(plan) => write!(f, "; below {from} the best plan has {} of it", now(plan))?,
            Beyond::NoLimit if *quantity == 0 => write!(f, ", and would not be at {from} either")?,
            Beyond::NoLimit => write!(f, "; it stays so down to {from}, as low as it can go")?,
            Beyond::Nothing => write!(f, "; below {from} nothing meets the request")?,
            Beyond::Unknown { reason } => write!(f, "; what comes below {from} is not known: the search {reason}")?,
        }
        match &self.above {
            Beyond::Plan(plan) => write!(f, "; above {to} the best plan has {} of it", now(plan))?,
            Beyond::NoLimit if *quantity == 0 => {}
            Beyond::NoLimit => write!(f, "; it stays so whatever it costs")?,
            Beyond::Nothing => write!(f, "; above {to} nothing meets the request")?,
            Beyond::Unknown { reason } => write!(f, "; what comes above {to} is not known: the search {reason}")?,
        }
        f.write_str(".")
    }
}
