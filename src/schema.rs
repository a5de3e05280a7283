//! JSON Schemas of the documents; with the feature `schemars`.
//!
//! Every type of a document implements [`JsonSchema`], so that a caller's own documents can have schemas too. Here
//! are those of whole documents, by name, in the dialect 2020-12.
//!
//! A schema tells the form of a document: its fields, which may be left out, the words allowed, numbers and their
//! units. What ties fields together (a slot label that must exist, a capacity that ranks and dies must give) is
//! checked on reading. Nothing that is written fails its schema. Schemas ask for the form that is written, where
//! reading also takes others: a set with repeats, an object as the list of its fields' values.
//!
//! ```
//! use slotwright::schema;
//!
//! let machine = schema::documents().into_iter().find(|document| document.name == "machine").unwrap();
//! let fields = machine.read.get("properties").unwrap();
//! assert_eq!(fields["platform"]["$ref"], "#/$defs/Platform");
//! assert_eq!(machine.read.get("additionalProperties").unwrap(), false);
//! // all but "options" and "settings" must be there
//! assert_eq!(machine.read.get("required").unwrap().as_array().unwrap().len(), 3);
//! ```

use schemars::generate::SchemaSettings;
use schemars::transform::RecursiveTransform;
use schemars::{JsonSchema, Schema};

use crate::acceptance::{AcceptanceCheck, AcceptanceRecord, AcceptanceRequest, SwapRequest, SwapTest};
use crate::assess::Assessment;
use crate::fill::{ArrangeRequest, Arrangement, EvenRequest};
use crate::goods_in::{Bins, Delivery, GoodsIn};
use crate::intake::Lot;
use crate::machine::MachineDescription;
use crate::open::{OpenAssessment, Questions};
use crate::platform::PlatformDescription;
use crate::population::{Observed, Population, SeenChanges, SeenModule, Sited};
use crate::processor::ProcessorDescription;
use crate::purchase::{
    BreakEvenOutcome, Frontier, ModeAnswer, ModeRequest, Outcome, PlanRequest, Plans, Savings, Stages, StandIn,
    TotalsNear,
};
use crate::question::Question;
use crate::rule::RuleSettings;
use crate::work_order::{OrderRequest, WayBack, WithoutAnswer, WorkOrder};

/// A sort of document and its schemas.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Document {
    /// What it is called.
    pub name: &'static str,
    /// What is read: fields with a default may be absent, the text of a label does for a module.
    pub read: Schema,
    /// What is written, as narrow as it is.
    pub written: Schema,
}

impl Document {
    /// The schemas of a type. Descriptions are its documentation comments, without code and links.
    #[must_use]
    pub fn of<T: JsonSchema>(name: &'static str) -> Self {
        let settings = SchemaSettings::draft2020_12().with_transform(RecursiveTransform(plain_description));
        let read = settings.clone().for_deserialize().into_generator().into_root_schema_for::<T>();
        let written = settings.for_serialize().into_generator().into_root_schema_for::<T>();
        Self { name, read, written }
    }
}

/// The documents of this crate.
#[must_use]
pub fn documents() -> Vec<Document> {
    vec![
        Document::of::<PlatformDescription>("platform"),
        Document::of::<ProcessorDescription>("processor"),
        Document::of::<MachineDescription>("machine"),
        Document::of::<Population>("population"),
        Document::of::<SeenModule>("seen-module"),
        Document::of::<Observed>("observed"),
        Document::of::<Sited>("sited"),
        Document::of::<SeenChanges>("seen-changes"),
        Document::of::<Lot>("lot"),
        Document::of::<OpenAssessment>("open-assessment"),
        Document::of::<Questions>("questions"),
        Document::of::<AcceptanceRequest>("acceptance-request"),
        Document::of::<AcceptanceCheck>("acceptance-check"),
        Document::of::<AcceptanceRecord>("acceptance-record"),
        Document::of::<SwapRequest>("swap-request"),
        Document::of::<SwapTest>("swap-test"),
        Document::of::<RuleSettings>("rule-settings"),
        Document::of::<Assessment>("assessment"),
        Document::of::<Arrangement>("arrangement"),
        Document::of::<Question>("question"),
        Document::of::<PlanRequest>("request"),
        Document::of::<ArrangeRequest>("arrange-request"),
        Document::of::<EvenRequest>("even-request"),
        Document::of::<ModeRequest>("mode-request"),
        Document::of::<Delivery>("delivery"),
        Document::of::<GoodsIn>("goods-in"),
        Document::of::<Bins>("bins"),
        Document::of::<Outcome>("outcome"),
        Document::of::<Plans>("plans"),
        Document::of::<Frontier>("frontier"),
        Document::of::<BreakEvenOutcome>("break-even"),
        Document::of::<Savings>("savings"),
        Document::of::<Stages>("stages"),
        Document::of::<StandIn>("stand-in"),
        Document::of::<TotalsNear>("totals-near"),
        Document::of::<ModeAnswer>("mode-change"),
        Document::of::<OrderRequest>("order-request"),
        Document::of::<WorkOrder>("work-order"),
        Document::of::<WayBack>("way-back"),
        Document::of::<WithoutAnswer>("without"),
    ]
}

/// Documentation comments are written for pages with code and links; a description is text alone.
fn plain_description(schema: &mut Schema) {
    let plain = schema.get("description").and_then(|text| text.as_str()).map(plain);
    if let Some(plain) = plain {
        schema.insert("description".to_owned(), plain.into());
    }
}

/// A comment without its code blocks, with a line for each paragraph, and the words of its links in place of the links.
fn plain(comment: &str) -> String {
    let mut in_code = false;
    let mut text = String::new();
    for line in comment.lines() {
        let again_empty = line.is_empty() && text.ends_with('\n');
        if line.starts_with("```") {
            in_code = !in_code;
        } else if !in_code && !again_empty {
            let goes_on = !line.is_empty() && !line.starts_with(['|', '-']) && !text.ends_with('\n');
            text.push(if goes_on { ' ' } else { '\n' });
            text.push_str(line);
        }
    }
    let (mut plain, mut rest) = (String::new(), text.trim());
    while let Some((before, link)) = rest.split_once('[') {
        let Some((words, after)) = link.split_once(']') else { break };
        plain.push_str(before);
        let target = after.strip_prefix('(').and_then(|target| target.split_once(')'));
        rest = target.map_or(after, |(_, after)| after);
        if target.is_some() || words.starts_with('`') {
            plain.push_str(words);
        } else {
            plain.extend(["[", words, "]"]);
        }
    }
    plain + rest
}
