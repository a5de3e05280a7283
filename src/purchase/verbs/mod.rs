//! What can be asked, each a question or several to the engine.

mod after;
mod break_even;
mod frontier;
mod gaps;
mod meet;
mod plan;
mod plans;
mod rules_in_the_way;
mod savings;
mod sequence;
mod stages;
mod stand_ins;
mod totals;
mod why_not;
