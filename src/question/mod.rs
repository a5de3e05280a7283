//! One document in, one document out: every verb for callers in other languages.
//!
//! A [`Question`] names a ready-made platform or describes one, says what sits in its sockets, carries the settings of the
//! rules, and what is asked. Its answer is the document that the verb gives; what is wrong with it is a document too
//! ([`QuestionError`]).
//!
//! | `"ask"` | answer |
//! |---|---|
//! | `"plan"`, or nothing | [`Outcome`](crate::purchase::Outcome): the best plan, or why there is none |
//! | `{"plans": 3}` | [`Plans`](crate::purchase::Plans): the three best plans |
//! | `{"frontier": ["cost", "usable_capacity"]}` | [`Frontier`](crate::purchase::Frontier): the plans that nothing beats on these axes |
//! | `{"break_even": "lot-1"}` | [`BreakEvenOutcome`](crate::purchase::BreakEvenOutcome): between which prices of an offer the plan stays the best |
//! | `"savings"` | [`Savings`](crate::purchase::Savings): what accepting warnings would save |
//! | `{"stages": {...}}` | [`Stages`](crate::purchase::Stages): this request now, and that one later |
//! | `{"stand_ins": "A1"}` | a list of [`StandIn`](crate::purchase::StandIn): what may replace the module in a slot |
//! | `{"totals_near": {"wish_mib": 131072}}` | [`TotalsNear`](crate::purchase::TotalsNear): the nearest totals below and above a wish with the same in every channel |
//! | `{"after": {...}}` | [`PlanRequest`]: the request once that plan is carried out |
//! | `{"accepts": "32GB 2Rx4 PC4-2400T-RB2-11"}` | [`Acceptance`](crate::ceiling::Acceptance): where a module fits, how many, and how fast |
//! | `"ceiling"`, `{"ceiling_of": [...]}` | [`Ceiling`](crate::ceiling::Ceiling): the most memory by kind and rate |
//! | `{"fill_order": 6}` | [`FillOrder`](crate::fill::FillOrder) or `null`: which slots so many modules fill |
//! | `{"arrange": {"pieces": [["32GB ...", 8]]}}` | [`Arrangement`](crate::fill::Arrangement): the best slots for given modules |
//! | `{"even_out": {"population": {...}}}` | [`EvenOut`](crate::fill::EvenOut): what would make a population even |
//! | `{"assess": {...}}`, `{"assess_in_use": {...}}` | [`Assessment`](crate::assess::Assessment): figures and findings of a population |
//! | `{"modes": {...}}` | a list of [`ModeLeft`](crate::assess::ModeLeft): which redundancy modes a population meets |
//! | `{"meet_mode": {"population": {...}}}` | [`ModeAnswer`](crate::purchase::ModeAnswer): how a population comes to meet the mode |
//! | `{"lay": {...}}` | [`Sited`](crate::population::Sited): what reports say is in the machine |
//! | `{"settle": {"sited": {...}, "answers": [...]}}` | [`Sited`](crate::population::Sited): the same with answers to what is open |
//! | `{"assess_open": {...}}` | [`OpenAssessment`](crate::open::OpenAssessment): what holds in every reading, and what in some |
//! | `{"questions": {...}}` | [`Questions`](crate::open::Questions): what to find out; needs the `request` |
//! | `{"work_order": {"before": {...}, "after": {...}}}` | [`WorkOrder`](crate::work_order::WorkOrder): what hands do |
//! | `{"way_back": {"order": {...}, "halt": "all_in"}}` | [`WayBack`](crate::work_order::WayBack): the way back from a halt |
//! | `{"way_back_after": {"order": {...}, "steps": 5}}` | [`WayBack`](crate::work_order::WayBack): the way back from after so many steps |
//! | `{"without": {"population": {...}, "slots": ["A1"]}}` | [`WithoutAnswer`](crate::work_order::WithoutAnswer): what is left when modules fail |
//! | `{"expected_report": {...}}` | [`Report`](crate::population::Report): what a sound machine reports |
//! | `{"acceptance": {"planned": {...}, "observed": {...}}}` | [`AcceptanceCheck`](crate::acceptance::AcceptanceCheck): whether a machine reports what was planned, and why not |
//! | `{"swap_test": {"population": {...}, "suspect": "A1"}}` | [`SwapTest`](crate::acceptance::SwapTest): whether a fault follows a module or stays with its slot |
//!
//! The rows from `plan` to `after` need the question's `request`; the others do not look at it. What they take is a document of the library:
//! [`ArrangeRequest`](crate::fill::ArrangeRequest), [`EvenRequest`](crate::fill::EvenRequest), [`ModeRequest`](crate::purchase::ModeRequest), or a
//! [`Population`](crate::population::Population). `meet_mode` is about the mode in `settings`:
//!
//! ```
//! use slotwright::question::Question;
//!
//! let question: Question = serde_json::from_str(
//!     r#"{
//!         "schema": 1,
//!         "platform": "ddr4-2s-4ch-3spc",
//!         "processors": { "1": "later" },
//!         "settings": { "mode": "mirrored" },
//!         "ask": { "meet_mode": { "population": { "schema": 1, "slots": {
//!             "A1": { "module": { "facts": "32GB 2Rx4 PC4-2400T-RB2-11" } },
//!             "B1": { "module": { "facts": "32GB 2Rx4 PC4-2400T-RB2-11" } }
//!         } } } }
//!     }"#,
//! )?;
//! let answer = serde_json::to_value(question.answer()?)?;
//! assert_eq!(answer["moving"]["handlings"], 0); // A and B are a pair
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! An answer does not say which verb it is of: whoever asks remembers.
//!
//! ```
//! use slotwright::question::Question;
//!
//! let question: Question = serde_json::from_str(
//!     r#"{
//!         "schema": 1,
//!         "platform": "ddr4-2s-4ch-3spc",
//!         "processors": { "1": "later" },
//!         "ask": { "accepts": "32GB 2Rx4 PC4-2400T-RB2-11" }
//!     }"#,
//! )?;
//! let answer = serde_json::to_value(question.answer()?)?;
//! assert_eq!(answer["at_most"], 12);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

mod ask;
mod error;
mod named;

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::machine::{FittedProcessor, Machine, MachineDescription};
use crate::platform::{Platform, PlatformDescription, Settings};
use crate::processor::ProcessorDescription;
use crate::purchase::PlanRequest;
use crate::reference;
use crate::rule::{RuleBook, RuleSettings};
use crate::stated::Schema;

pub use ask::{Answer, Ask};
pub use error::QuestionError;
pub use named::NamedOr;

/// A machine, the rules, and what is asked.
///
/// ```
/// use slotwright::question::{Answer, Ask, Question};
///
/// let question = Question::new("ddr4-2s-4ch-3spc".into())
///     .processors([("1".to_owned(), "later".into())])
///     .ask(Ask::FillOrder(2));
/// let Answer::FillOrder(Some(order)) = question.answer()? else { unreachable!() };
/// assert_eq!(order.slots.len(), 2);
/// # Ok::<(), slotwright::question::QuestionError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Question {
    /// The version of the document's form.
    pub schema: Schema,
    /// The name of a ready-made platform, or a description.
    pub platform: NamedOr<PlatformDescription>,
    /// By socket: the name of one of the platform's own processors, or a description.
    pub processors: BTreeMap<String, NamedOr<ProcessorDescription>>,
    /// The options fitted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub options: Vec<String>,
    /// The machine's settings.
    #[serde(default)]
    pub settings: Settings,
    /// The settings of the rules.
    #[serde(default)]
    pub rules: RuleSettings,
    /// What is to be planned, for what is asked of a request.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub request: Option<PlanRequest>,
    /// What is asked; the best plan where absent.
    #[serde(default)]
    pub ask: Ask,
}

impl Question {
    /// Asks for the best plan on a machine of which no processor is named yet.
    #[must_use]
    pub fn new(platform: NamedOr<PlatformDescription>) -> Self {
        Self {
            schema: Schema,
            platform,
            processors: BTreeMap::new(),
            options: Vec::new(),
            settings: Settings::default(),
            rules: RuleSettings::default(),
            request: None,
            ask: Ask::default(),
        }
    }

    setters! {
        each processors(processors: (String, NamedOr<ProcessorDescription>));
        each options(options: String);
        value settings(settings: Settings);
        value rules(rules: RuleSettings);
        some request(request: PlanRequest);
        value ask(ask: Ask);
    }

    /// The machine and the rules, for callers who ask more of them, or watch over the search ([`Question::ask_of`]).
    ///
    /// # Errors
    /// All problems of the platform, or else of the processors, the machine, or the rules.
    pub fn context(&self) -> Result<(Machine, RuleBook), QuestionError> {
        let machine = MachineDescription::new(self.platform()?)
            .processors(self.fitted()?)
            .options(self.options.iter().cloned())
            .settings(self.settings.clone());
        let machine = machine.build()?;
        Ok((machine, RuleBook::standard().with_settings(&self.rules)?))
    }

    fn platform(&self) -> Result<Platform, QuestionError> {
        match &self.platform {
            NamedOr::Described(described) => Ok(PlatformDescription::clone(described).build()?),
            NamedOr::Named(name) => reference::by_name(name).ok_or_else(|| QuestionError::UnknownPlatform {
                name: name.clone(),
                allowed: reference::all().iter().map(|(name, _)| *name).collect(),
            }),
        }
    }

    fn fitted(&self) -> Result<Vec<(String, FittedProcessor)>, QuestionError> {
        let fitted = self.processors.iter().map(|(socket, processor)| {
            let fitted = match processor {
                NamedOr::Named(name) => FittedProcessor::Named(name.clone()),
                NamedOr::Described(described) => {
                    let built = ProcessorDescription::clone(described).build();
                    let error = |error| QuestionError::Processor { socket: socket.clone(), error };
                    FittedProcessor::Described(built.map_err(error)?)
                }
            };
            Ok((socket.clone(), fitted))
        });
        fitted.collect()
    }

    /// Answers what is asked.
    ///
    /// # Errors
    /// As [`Question::context`] and [`Question::ask_of`].
    pub fn answer(&self) -> Result<Answer, QuestionError> {
        let (machine, rules) = self.context()?;
        self.ask_of(Planner::new(&machine, &rules))
    }

    /// Asks a planner, which may be [watched](Planner::watched); the question's machine and rules are not looked at.
    ///
    /// # Errors
    /// All problems of what is asked, on the planner's machine; and a request that is missing where one is asked about.
    pub fn ask_of(&self, planner: Planner<'_>) -> Result<Answer, QuestionError> {
        self.ask.of(planner, self.request.as_ref())
    }
}
