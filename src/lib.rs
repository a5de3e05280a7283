//! Slotwright plans server memory: which modules a board and its processors accept, how much fits, at
//! which data rate it runs and why, which slots to fill in which order, what can stay, move or be
//! pulled, and what to buy at the least cost.
//!
//! It is pure: values and text in, values and text out; the same input gives the same output, byte for
//! byte. Every figure comes with its reasons.
//!
//! # A first look
//!
//! Describe a machine (here a ready-made board), ask what it takes, and plan a purchase:
//!
//! ```
//! use slotwright::{Capacity, DataRate, Label, Machine, Offer, PlanRequest, Planner, Price, RuleBook, reference};
//!
//! let machine = Machine::builder(reference::ddr4_2s_4ch_3spc())
//!     .processor_named("1", "later")
//!     .processor_named("2", "later")
//!     .build()?;
//! let rules = RuleBook::standard();
//! let planner = Planner::new(&machine, &rules);
//!
//! // does it fit?
//! let module = "32GB 2Rx4 PC4-2666V-RB2-12".parse::<Label>()?.to_module();
//! assert_eq!(planner.accepts(&module).at_most, 24);
//!
//! // where do eight of them go, and how fast do they run?
//! let arrangement = planner.arrange([(module.clone(), 8)])?;
//! assert_eq!(arrangement.best()?.running_rate(), Some(DataRate::DDR4_2400));
//!
//! // what is the cheapest way to 256 GB?
//! let offer = Offer::new("lot-7".parse()?, module, Price::new(4_500, "EUR".parse()?), 40);
//! let outcome = planner.plan(&PlanRequest::new().usable_at_least(Capacity::from_gib(256)).offer(offer))?;
//! assert_eq!(outcome.optimal().unwrap().cost.total.to_string(), "360.00 EUR");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Where to go on
//!
//! - [`docs`]: a guide in eight pages.
//! - [`assess::Planner`]: every verb: `assess`, `accepts`, `ceiling`, `fill_order`, `arrange`, `even_out`, `plan`,
//!   `plans`, `frontier`, `break_even`, `savings`, `stages`, `stand_ins`, `meet_mode`, `totals_near`, `work_order`,
//!   `without`, `acceptance`, `swap_test`; `watched` for searches
//!   that tell how far they are and can be cancelled.
//! - [`figure::MemoryBandwidth`] and [`figure::Interleave`]: what an uneven population costs;
//!   [`platform::Mode`]: what a redundancy mode leaves.
//! - [`intake`] and [`population::Observed`]: machines from what they report.
//! - [`module::Label::found`] and [`goods_in`]: labels as they are found, and what has come against what was
//!   ordered.
//! - [`acceptance`]: whether a machine reports what was planned once the work is done, and why not.
//! - [`sheet`]: plans, orders of work and records as sheets of paper and of programs.
//! - [`platform::PlatformDescription`]: how to describe a board; [`reference`](mod@reference) has some ready-made ones.
//! - [`rule`]: the rules of the trade, and how to add one's own.
//! - [`work_order`]: what hands do to carry out a plan, the way back, and what is left when a module fails.
//! - [`purchase`]: the order in which plans are compared, and what can be asked of a request;
//!   [`purchase::method`]: how plans are found.
//!
//! # Features
//!
//! None is on by default.
//!
//! - `redfish`: `slotwright::intake::redfish`, which reads what management controllers answer.
//! - `schemars`: JSON Schemas of the documents. `slotwright::schema` lists those of whole documents, and every type of
//!   a document implements `schemars::JsonSchema`.
//!
//! Ready-made platforms are illustrative. The platform maker's manual, local rules and qualified people
//! decide what is done to a machine.

#![cfg_attr(docsrs, feature(doc_cfg))]

// The order of the layers: a module uses only what stands above it. A test holds them to it. The empty
// lines keep the order when the file is formatted.

#[macro_use]
mod setters;

pub mod unit;

mod search;

pub mod stated;

pub mod module;

pub mod processor;

pub mod platform;

pub mod machine;

pub mod population;

pub mod finding;

pub mod figure;

pub mod rule;

pub mod assess;

pub mod fill;

pub mod ceiling;

pub mod purchase;

pub mod open;

pub mod goods_in;

pub mod acceptance;

pub mod work_order;

pub mod worked;

pub mod reading;

pub mod reference;

pub mod question;

pub mod intake;

pub mod sheet;

#[cfg(feature = "schemars")]
#[cfg_attr(docsrs, doc(cfg(feature = "schemars")))]
pub mod schema;

#[cfg(any(doc, doctest))]
pub mod docs;

// the code of the readme is compiled and run
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
mod readme {}

#[cfg(test)]
mod testing;

pub use assess::{Assessment, Planner, SharedPlanner, StopReason};
pub use ceiling::{Acceptance, Ceiling};
pub use figure::{Figures, Interleave, MemoryBandwidth, RunningRate, RunningVoltage, UsableCapacity};
pub use fill::{ArrangeRequest, Arrangement, EvenOut, FillOrder};
pub use finding::{Finding, Place, Severity};
pub use machine::Machine;
pub use module::{Label, MemoryModule};
pub use platform::{DomainScheme, Mode, Platform, PlatformDescription};
pub use population::{Layout, Occupant, Population};
pub use processor::{Processor, ProcessorDescription};
pub use purchase::{Offer, Outcome, Plan, PlanRequest, ShelfItem, TotalsNear};
pub use question::Question;
pub use rule::{Rule, RuleBook, RuleSettings};
pub use unit::{
    Bandwidth, Capacity, Cost, Currency, DataRate, Density, Efficiency, Name, Power, Price, Share, Voltage,
};
