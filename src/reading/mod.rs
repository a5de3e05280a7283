//! Reading an answer that a newer version may have written.
//!
//! What people write is read strictly: an unknown field is a slip, and is refused with its name. Answers are read by
//! programs, and the program that wrote one may be newer than the one that reads it. [`read_answer`] leaves out what it does
//! not know, all the way down, and says where that was.

mod deserializer;
mod fields;
mod path;
mod variants;

use std::cell::RefCell;

use serde::de::{DeserializeOwned, Deserializer};

use crate::acceptance::{AcceptanceCheck, AcceptanceRecord, SwapTest};
use crate::assess::{Assessment, ModeLeft};
use crate::ceiling::{Acceptance, Ceiling};
use crate::fill::{Arrangement, EvenOut, FillOrder};
use crate::finding::Finding;
use crate::goods_in::{Bins, GoodsIn};
use crate::open::{OpenAssessment, Questions};
use crate::population::{SeenChanges, Sited};
use crate::purchase::{
    BreakEvenOutcome, Frontier, ModeAnswer, Outcome, Plan, Plans, Savings, Stages, StandIn, TotalsNear, WhyNot,
};

use crate::work_order::{WayBack, WithoutAnswer, WorkOrder};

use crate::reading::deserializer::Lenient;
use crate::reading::path::Path;

/// What was read, and what was left out.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct ReadAnswer<T> {
    /// The answer, as far as it is known here.
    pub answer: T,
    /// The paths of what was left out, in the order of the document: fields that are not known (`optimal.slots[3].bin`), and
    /// variants that stand as `Other` (`optimal.notes[0].delivery`).
    pub skipped: Vec<String>,
}

/// Reads an answer, whoever wrote it: fields that are not known are left out, variants that are not known become `Other` where
/// there is such a variant.
///
/// The format must be self-describing, as JSON is. Lists of answers, and answers that may be `null`, are read as `Vec` and `Option`.
///
/// ```
/// use slotwright::assess::Planner;
/// use slotwright::machine::Machine;
/// use slotwright::module::Label;
/// use slotwright::reading::read_answer;
/// use slotwright::reference;
/// use slotwright::rule::RuleBook;
/// use slotwright::Acceptance;
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// let rules = RuleBook::standard();
/// let accepted = Planner::new(&machine, &rules).accepts(&"32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module());
///
/// // a newer version says more of a module
/// let mut document = serde_json::to_value(&accepted)?;
/// document["module"]["heat_spreader"] = true.into();
/// assert!(serde_json::from_value::<Acceptance>(document.clone()).is_err());
/// let read = read_answer::<Acceptance, _>(document)?;
/// assert_eq!(read.answer, accepted);
/// assert_eq!(read.skipped, ["module.heat_spreader"]);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// Requests and descriptions are not answers and cannot be read this way:
///
/// ```compile_fail,E0277
/// slotwright::reading::read_answer::<slotwright::PlanRequest, _>(serde_json::json!({}))?;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
///
/// # Errors
/// What is not well formed, a known field with a value that it cannot have, or a required one that is missing; in the words
/// of the format.
pub fn read_answer<'de, T, D>(document: D) -> Result<ReadAnswer<T>, D::Error>
where
    T: AnswerDocument,
    D: Deserializer<'de>,
{
    let skipped = RefCell::new(Vec::new());
    let answer = T::deserialize(Lenient::new(document, &Path::Root, &skipped))?;
    Ok(ReadAnswer { answer, skipped: skipped.into_inner() })
}

/// A document that the library writes and others read. Sealed: what people write is read strictly.
pub trait AnswerDocument: DeserializeOwned + sealed::Sealed {}

mod sealed {
    pub trait Sealed {}
}

macro_rules! answers {
    ($($answer:ident)*) => {
        $(
            impl sealed::Sealed for $answer {}
            impl AnswerDocument for $answer {}
        )*
    };
}

answers! {
    Acceptance AcceptanceCheck AcceptanceRecord Arrangement Assessment Bins BreakEvenOutcome Ceiling EvenOut
    FillOrder Finding Frontier GoodsIn ModeAnswer ModeLeft OpenAssessment Outcome Plan Plans Questions Savings SeenChanges
    Sited Stages StandIn SwapTest TotalsNear WayBack WhyNot WithoutAnswer WorkOrder
}

impl<T: AnswerDocument> sealed::Sealed for Option<T> {}
impl<T: AnswerDocument> AnswerDocument for Option<T> {}
impl<T: AnswerDocument> sealed::Sealed for Vec<T> {}
impl<T: AnswerDocument> AnswerDocument for Vec<T> {}
