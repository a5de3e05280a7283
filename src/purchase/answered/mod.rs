//! What is answered: documents and their texts.

mod break_even;
mod cheaper;
mod frontier;
mod mode_change;
mod no_stand_in;
mod plan;
mod plan_text;
mod plans;
mod savings;
mod stages;
mod stand_in;
mod text;
mod totals_near;
mod why;

pub use break_even::{Beyond, BreakEven, BreakEvenOutcome};
pub use cheaper::Cheaper;
pub use frontier::Frontier;
pub use mode_change::{ModeAnswer, ModeChange};
pub use no_stand_in::{NoStandIn, WhyNoStandIn};
pub use plan::{
    ChargeLine, CostSheet, ModuleSource, Outcome, Plan, PlanLine, PlanNote, PlannedSlot, Pulled, SpareLine, SurplusLine,
};
pub use plans::Plans;
pub use savings::{Saving, Savings};
pub use stages::{Sequence, Stages};
pub use stand_in::StandIn;
pub use text::StandIns;
pub use totals_near::TotalsNear;
pub use why::{HeldFast, KindReach, Reach, Reachable, RefusedModule, RulesInTheWay, Waiver, WhyNot};

pub(crate) use frontier::{Merits, power};
