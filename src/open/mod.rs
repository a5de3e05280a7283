//! What reports leave open of a machine: narrowed by what runs, judged in all its readings, and asked by what decides a plan.
//!
//! [`Observed::on`](crate::population::Observed::on) lays reports on a board; here a [`Planner`](crate::assess::Planner) takes over:
//!
//! | verb | answer |
//! |---|---|
//! | [`narrow`](crate::assess::Planner::narrow) | the same reports, less what the machine could not run with |
//! | [`assess_open`](crate::assess::Planner::assess_open) | [`OpenAssessment`]: what holds in every reading, and what in some |
//! | [`questions`](crate::assess::Planner::questions) | [`Questions`]: the few facts that decide what to buy, the decisive one first |

mod judged;
mod narrow;
mod questions;

pub use judged::{InSome, OpenAssessment, Untold, When};
pub use questions::{AnswerPlan, OpenQuestion, PlannedAnswer, Questions};

use crate::population::{OpenError, Sited};
use crate::purchase::Present;

impl Sited {
    /// What the machine holds, for a request. Modules that are held back are pinned: a plan leaves them where they are.
    ///
    /// # Errors
    /// Where generation, kind or size of a module is open, or whether it is there.
    pub fn present(&self) -> Result<Present, OpenError> {
        Ok(Present::new(self.population()?).pinned(self.held_back().cloned()))
    }
}
