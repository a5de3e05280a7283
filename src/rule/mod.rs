//! Rules: what a population must or should be.
//!
//! A rule says what it looks at, and its form is data plus functions from which both the check and the
//! optimiser derive:
//!
//! | form | looks at | made by |
//! |---|---|---|
//! | module | a module in a slot | [`Rule::module`] |
//! | channel | what sits in one channel | [`Rule::channel`] |
//! | socket | what sits on one processor | [`Rule::socket`] |
//! | mix | how many different keys there are | [`Rule::mix`] |
//! | count | how many modules there are | [`Rule::count`] |
//! | population | anything | [`Rule::population`] |
//!
//! Rules that channels or processors be alike are mixes too ([`Rule::like_channels`], [`Rule::like_processors`]).
//!
//! A population rule is asked at complete candidates only. It may promise to be
//! [hereditary](Rule::hereditary) or [placement-free](Rule::placement_free), or give [`Hint`]s; without them a search
//! may have to stop before it has proved its answer.
//!
//! ```
//! use slotwright::finding::{Place, Severity};
//! use slotwright::rule::{Detail, Rule, RuleBook};
//! use slotwright::unit::Capacity;
//!
//! let no_small_modules = Rule::module("own-no-small-modules", "modules below 16 GB are not stocked", Severity::Error, |site, report| {
//!     if site.module.capacity() < Capacity::from_gib(16) {
//!         report.violation(|| Detail::at(Place::slot(site.machine.platform(), site.slot)));
//!     }
//! })?;
//! let rules = RuleBook::standard().with(no_small_modules)?;
//! assert!(rules.get("own-no-small-modules").is_some());
//! # Ok::<(), slotwright::rule::RuleBookError>(())
//! ```

mod book;
pub mod code;
mod count;
pub(crate) mod even;
mod form;
mod hint;
mod load_rules;
mod mix;
mod printed;
mod report;
#[allow(clippy::module_inception)]
mod rule;
mod settings;
mod standard;
pub(crate) mod unlike_channels;
mod unlike_processors;

pub use book::{RuleBook, RuleBookError};
pub use count::{CountBound, CountSet};
pub use hint::Hint;
pub use mix::{KeyResult, MixBound};
pub use report::{Detail, Report};
pub use rule::Rule;
pub use settings::{RuleSettings, SeveritySetting};
pub use standard::{STANDARD_RULES, StandardRule};

pub(crate) use standard::odd_channels::is_odd;

pub(crate) use form::Form;
pub(crate) use hint::{ApartCheck, GroupKey, LoadCheck, Says};
pub(crate) use load_rules::{LoadRules, suitable_voltages};
pub(crate) use mix::{Mix, MixBounds, MixOf, ModuleFact};
pub(crate) use report::{Cause, Sink, Threshold};
