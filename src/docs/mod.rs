//! A guide in eight pages. Its code is compiled and run.
//!
//! 1. [Describe a board](describe_a_board): from the manual to a checked platform.
//! 2. [Read a machine](read_a_machine): from what it reports to a plan.
//! 3. [Judge a machine](judge_a_machine): what fits, how fast it runs and why, what is wrong.
//! 4. [Plan a purchase](plan_a_purchase): what to buy, what to keep, and what an answer proves.
//! 5. [Buy and receive modules](receive_modules): sellers' titles, labels as they are found, and what has come against what was ordered.
//! 6. [Carry out a plan](carry_out_a_plan): the order of work, the way back, acceptance, causes, a module that is lost, records.
//! 7. [Add a rule](add_a_rule): a rule of your own, in the check and in the search.
//! 8. [Embed in a service](embed_in_a_service): threads, time limits, documents, versions.

#[doc = include_str!("describe_a_board.md")]
pub mod describe_a_board {}

#[doc = include_str!("read_a_machine.md")]
pub mod read_a_machine {}

#[doc = include_str!("judge_a_machine.md")]
pub mod judge_a_machine {}

#[doc = include_str!("plan_a_purchase.md")]
pub mod plan_a_purchase {}

#[doc = include_str!("receive_modules.md")]
pub mod receive_modules {}

#[doc = include_str!("carry_out_a_plan.md")]
pub mod carry_out_a_plan {}

#[doc = include_str!("add_a_rule.md")]
pub mod add_a_rule {}

#[doc = include_str!("embed_in_a_service.md")]
pub mod embed_in_a_service {}
