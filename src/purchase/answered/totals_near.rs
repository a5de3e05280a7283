use serde::{Deserialize, Serialize};

use crate::purchase::Plan;
use crate::search::StopReason;
use crate::stated::Schema;
use crate::unit::Capacity;

/// The even totals around a wish: those at which every channel with slots of every processor holds the same.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::{Capacity, Offer, PlanRequest, Price};
///
/// let offer = Offer::new("lot-7".parse()?, module, Price::new(4_500, "EUR".parse()?), 40);
/// let near = planner.totals_near(&PlanRequest::new().offer(offer), Capacity::from_gib(200))?;
/// let total = |plan: Option<slotwright::Plan>| plan.and_then(|plan| plan.assessment.figures.usable.total_mib.whole_gib());
/// assert_eq!((total(near.below), total(near.above)), (Some(128), Some(256)));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct TotalsNear {
    /// The version of the document's form.
    pub schema: Schema,
    /// The wish: usable memory in each machine.
    pub wish_mib: Capacity,
    /// The best plan for the largest even total below it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub below: Option<Plan>,
    /// The best even plan for just the wish.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub exact: Option<Plan>,
    /// The best plan for the smallest even total above it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub above: Option<Plan>,
    /// Why some search ended before it was through, if one did: a nearer total may exist then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}
