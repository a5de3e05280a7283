//! What to buy, what to keep, and where everything goes.
//!
//! Plans are compared in one documented order, each step only where all before it are equal:
//!
//! 1. lower cost: purchases (packs, breaks on all units of an order, charges of suppliers), the value of
//!    what is used from the shelf, less credit for what is pulled, plus labour for every handling;
//! 2. what is there as it is, where that meets the request (faulty modules go all the same);
//! 3. inside the platform's printed rows, where it has some for this number of modules;
//! 4. fewer processors without memory;
//! 5. higher running rate;
//! 6. smaller largest difference of capacity between processors, relative to their live slots;
//! 7. higher bandwidth: spread, then swept;
//! 8. fewer handlings;
//! 9. fewer different parts;
//! 10. more free slots;
//! 11. fill order: slots by turn, occupied before empty, module of higher priority first; parts that work alike are shared
//!     out so that few different ones sit in a channel, then in a processor (where a rule in force or the request tells
//!     them apart, which of them goes where follows their facts);
//! 12. fewer units taken from the shelf and offers;
//! 13. the sorted list of sources: the shelf before offers, then by id bytewise, larger quantity first;
//! 14. fewer modules pulled (of modules that work alike, spares can be those that are pulled or those that are bought).
//!
//! No warning decides by itself: only the steps named here, and what `refuse_from` refuses. Balance stands before bandwidth:
//! bandwidths of processors add up, and the sum must not be bought by loading one of them.
//!
//! A request may be ready to pay more than the least for a better plan ([`worth_paying`](PlanRequest::worth_paying)). Among the
//! plans that cost no more than that the order is: 3 to 7, then 1, 2, and 8 to 14. [`plans`](crate::assess::Planner::plans)
//! then gives these first, and after them the others in the order above. Questions about the least cost (break-even,
//! frontier, savings, stages, even totals) refuse such a request.
//!
//! A warning on evenness that what is present carries already refuses no plan that touches no module of the processors that
//! it names; the plan lists it in `was_so_before`.
//!
//! What can be asked of a request:
//!
//! | verb | answer |
//! |---|---|
//! | [`plan`](crate::assess::Planner::plan) | [`Outcome`]: the best plan, proved; or [`WhyNot`]; or how far the search came |
//! | [`plans`](crate::assess::Planner::plans) | [`Plans`]: the best ones with different purchases |
//! | [`frontier`](crate::assess::Planner::frontier) | [`Frontier`]: those that nothing beats in cost, capacity, rate, ...; the best under a budget |
//! | [`break_even`](crate::assess::Planner::break_even) | [`BreakEvenOutcome`]: between which prices of an offer the plan stays |
//! | [`savings`](crate::assess::Planner::savings) | [`Savings`]: what accepting warnings saves |
//! | [`stages`](crate::assess::Planner::stages) | [`Stages`]: one request now and another later |
//! | [`stand_ins`](crate::assess::Planner::stand_ins) | [`StandIn`]s: what may replace the module in a slot; [`StandIns`] is their text |
//! | [`totals_near`](crate::assess::Planner::totals_near) | [`TotalsNear`]: the even totals around a wish |
//! | [`meet_mode`](crate::assess::Planner::meet_mode) | [`ModeAnswer`]: the least change that meets a redundancy mode, by moving, adding or pulling |
//! | [`after`](PlanRequest::after) | the request as it stands once a plan is carried out |
//!
//! All of these are documents (serde; with the feature `schemars` their JSON Schemas too). Money is in whole minor units
//! of one currency; nothing is rounded. How plans are found, what that costs and where it breaks: [`method`].

mod answered;
mod asked;
mod engine;
#[doc = include_str!("method.md")]
pub mod method {}
mod verbs;

pub use crate::search::StopReason;
pub use answered::{
    Beyond, BreakEven, BreakEvenOutcome, ChargeLine, Cheaper, CostSheet, Frontier, HeldFast, KindReach, ModeAnswer,
    ModeChange, ModuleSource, NoStandIn, Outcome, Plan, PlanLine, PlanNote, PlannedSlot, Plans, Pulled, Reach,
    Reachable, RefusedModule, RulesInTheWay, Saving, Savings, Sequence, SpareLine, Stages, StandIn, StandIns,
    SurplusLine, TotalsNear, Waiver, WhyNoStandIn, WhyNot,
};
pub use asked::{
    Axis, Condition, ModeRequest, MustGo, Offer, Offers, PlanRequest, Present, QuantityBreak, RequestError,
    RequestProblem, Requirement, ShelfItem,
};
