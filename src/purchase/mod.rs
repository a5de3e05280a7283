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
//! 9. fill order: slots by turn, occupied before empty, module of higher priority first;
//! 10. fewer units taken from the shelf and offers;
//! 11. the sorted list of sources: the shelf before offers, then by id bytewise, larger quantity first.

mod alike;
mod demand;
mod ground;
mod loose;
mod meet;
mod plan;
mod planning;
mod problem;
mod request;
mod solve;
mod sources;
mod sourcing;
mod supply;
mod text;
mod totals;
mod unbeaten;
mod why;

pub use meet::ModeChange;
pub use plan::{
    ChargeLine, Condition, CostSheet, ModuleSource, Outcome, Plan, PlanLine, PlanNote, PlannedSlot, Pulled, StopReason,
    SurplusLine,
};
pub use problem::{RequestError, RequestProblem};
pub use request::{Offer, PlanRequest, Present, QuantityBreak, ShelfItem};
pub use totals::TotalsNear;
pub use unbeaten::Unbeaten;
pub use why::{Reachable, Requirement, WhyNot};
