//! What to buy, what to keep, and where everything goes.
//!
//! Plans are compared in one documented order, each step only where all before it are equal:
//!
//! 1. lower cost: purchases (packs, breaks on all units of an order, charges of suppliers), the value of
//!    what is used from the shelf, less credit for what is pulled, plus labour for every handling;
//! 2. inside the platform's printed rows, where it has some for this number of modules;
//! 3. higher running rate;
//! 4. higher bandwidth: spread, then swept;
//! 5. smaller largest difference of capacity between processors, relative to their live slots;
//! 6. fewer different parts;
//! 7. more free slots;
//! 8. fewer handlings;
//! 9. fill order: slots by turn, occupied before empty, module of higher priority first (where a rule in force or the
//!    request tells parts apart that work alike, which of them goes where follows their facts);
//! 10. fewer units taken from the shelf and offers;
//! 11. the sorted list of sources: the shelf before offers, then by id bytewise, larger quantity first.

mod after;
mod alike;
mod author;
mod break_even;
mod condition;
mod demand;
mod desk;
mod frontier;
mod ground;
mod inquiry;
mod loose;
mod meet;
mod plan;
mod planning;
mod plans;
mod problem;
mod request;
mod requirement;
mod savings;
mod solve;
mod sources;
mod sourcing;
mod stages;
mod stand_ins;
mod supply;
mod text;
mod totals;
mod why;

pub use break_even::{Beyond, BreakEven};
pub use condition::Condition;
pub use frontier::{Axis, Frontier};
pub use meet::ModeChange;
pub use plan::{
    ChargeLine, CostSheet, ModuleSource, Outcome, Plan, PlanLine, PlanNote, PlannedSlot, Pulled, SpareLine, StopReason,
    SurplusLine,
};
pub use plans::Plans;
pub use problem::{RequestError, RequestProblem};
pub use request::{Offer, PlanRequest, Present, QuantityBreak, ShelfItem};
pub use requirement::Requirement;
pub use savings::{Saving, Savings};
pub use stages::{Sequence, Stages};
pub use stand_ins::StandIn;
pub use totals::TotalsNear;
pub use why::{HeldFast, KindReach, Reach, Reachable, Waiver, WhyNot};
