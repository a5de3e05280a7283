use core::fmt;
use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::population::{About, Answer, ModuleFact, OpenMatter, PlaceState, SeenModule, Sited};
use crate::purchase::{Outcome, Plan, PlanRequest, Present, RequestError};
use crate::stated::Schema;
use crate::unit::{Cost, Name};

/// What to find out before a plan is signed: the facts that decide what is bought or moved.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Questions {
    /// The version of the document's form.
    pub schema: Schema,
    /// At most [`Questions::MOST`]; the decisive one first.
    pub questions: Vec<OpenQuestion>,
    /// How many open facts were looked at and decide nothing.
    pub without_effect: usize,
    /// How many questions are left out: more than are listed, or not looked at while something else is needed first.
    pub unasked: usize,
}

/// One fact of modules that are taken to be alike, and what each answer leads to.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct OpenQuestion {
    /// The slots of the modules.
    pub slots: Vec<Name>,
    /// What is asked.
    pub about: OpenMatter,
    /// Whether nothing can be planned without an answer.
    pub is_needed: bool,
    /// The answers that are possible, with what is planned then while all else stays open. None where anything is possible.
    pub answers: Vec<PlannedAnswer>,
    /// By how much the dearest of these plans is dearer than the cheapest; absent where one is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gap: Option<Cost>,
}

/// An answer and what is planned then.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct PlannedAnswer {
    /// Its text.
    pub text: Name,
    /// The answer itself, for [`Sited::settle`].
    pub answer: Answer,
    /// What comes of it.
    pub then: AnswerPlan,
}

/// What is planned under an answer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum AnswerPlan {
    /// Something else is needed first.
    NotPlanned,
    /// Nothing meets the request.
    NoPlan,
    /// The search ended before it found anything.
    Stopped,
    /// A plan.
    Plan {
        /// What it costs.
        cost: Cost,
        /// Whether it is proved to be the best.
        is_proved: bool,
        /// How many modules it takes from where, and how many it pulls or moves.
        text: Name,
    },
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// What of a plan decides whether two are the same work.
type Work = Option<(Cost, Vec<(String, usize)>, Vec<(Name, String)>, Vec<Name>)>;

impl Questions {
    /// How many are listed at most.
    pub const MOST: usize = 5;

    /// How many nodes each plan may visit at most: enough for most, and a plan that is not proved says so.
    pub const NODES_EACH: u64 = 20_000;
}

impl Planner<'_> {
    /// What to find out about modules of which reports leave something open, for a request. What is present is what the reports say; of the
    /// request's own, pins, credits and slots to be kept empty stand. Each
    /// answer is planned with the rest left open; a fact is asked if two of its answers buy or move differently. The nodes of the request are shared among all plans,
    /// at most [`Questions::NODES_EACH`] for one.
    ///
    /// Where generation, kind or size of a module is open, or whether it is there, nothing can be planned: that is asked first.
    /// Use [`Planner::narrow`] before.
    ///
    /// # Errors
    /// As [`Planner::plan`].
    pub fn questions(&self, sited: &Sited, request: &PlanRequest) -> Result<Questions, RequestError> {
        let asked = possible(sited);
        let needed = asked.iter().filter(|question| question.is_needed).count();
        let can_plan = |question: &OpenQuestion| match needed {
            0 => true,
            1 => question.is_needed && !question.answers.is_empty(),
            _ => false,
        };
        let plans: usize = asked.iter().filter(|one| can_plan(one)).map(|one| one.answers.len()).sum();
        let share = request.nodes / u64::try_from(plans.max(1)).unwrap_or(1);
        let share = share.min(Questions::NODES_EACH);
        let mut found = Vec::new();
        let (mut without_effect, mut unasked) = (0, 0);
        for mut question in asked {
            if !can_plan(&question) {
                if question.is_needed {
                    found.push(question);
                } else {
                    unasked += 1;
                }
                continue;
            }
            let mut works: Vec<Work> = Vec::new();
            for answer in &mut question.answers {
                let (then, work) = self.plan_as(sited, request, &answer.answer, share)?;
                answer.then = then;
                works.push(work);
            }
            question.gap = gap(&works);
            let differs = works.windows(2).any(|pair| matches!(pair, [one, other] if one != other));
            if question.is_needed || differs {
                found.push(question);
            } else {
                without_effect += 1;
            }
        }
        found.sort_by_cached_key(OpenQuestion::order);
        unasked += found.len().saturating_sub(Questions::MOST);
        found.truncate(Questions::MOST);
        Ok(Questions { schema: Schema, questions: found, without_effect, unasked })
    }

    /// What is planned where an answer is taken.
    fn plan_as(
        &self,
        sited: &Sited,
        request: &PlanRequest,
        answer: &Answer,
        nodes: u64,
    ) -> Result<(AnswerPlan, Work), RequestError> {
        let settled = sited.settle([answer.clone()]).map(|settled| self.narrow(&settled));
        let Ok(present) = settled.map_or(Err(()), |settled| settled.present().map_err(drop)) else {
            return Ok((AnswerPlan::NotPlanned, None));
        };
        let present = Present {
            population: present.population,
            pinned: request.present.pinned.iter().cloned().chain(present.pinned).collect(),
            ..request.present.clone()
        };
        let request = PlanRequest { nodes, savings_nodes: 0, ..request.clone() }.present(present);
        Ok(match self.plan(&request)? {
            Outcome::Optimal(plan) => told(&plan, true),
            Outcome::Infeasible(_) => (AnswerPlan::NoPlan, None),
            Outcome::Stopped { best: Some(plan), .. } => told(&plan, false),
            Outcome::Stopped { best: None, .. } => (AnswerPlan::Stopped, None),
        })
    }
}

fn told(plan: &Plan, is_proved: bool) -> (AnswerPlan, Work) {
    let cost = plan.cost.total;
    let lines: Vec<(String, usize)> = plan.lines.iter().map(|line| (line.source.to_string(), line.quantity)).collect();
    let slots = plan.slots.iter().map(|slot| (slot.slot.clone(), slot.source.to_string())).collect();
    let pulled: Vec<Name> = plan.pulled.iter().map(|pulled| pulled.slot.clone()).collect();
    let mut parts: Vec<String> = lines.iter().map(|(source, quantity)| format!("{quantity} from {source}")).collect();
    if parts.is_empty() {
        parts.push("nothing is bought".to_owned());
    }
    if !pulled.is_empty() {
        parts.push(format!("{} pulled", pulled.len()));
    }
    parts.push(format!("{} handlings", plan.handlings));
    let text = Name::lossy(&parts.join(", "));
    (AnswerPlan::Plan { cost, is_proved, text }, Some((cost, lines, slots, pulled)))
}

fn gap(works: &[Work]) -> Option<Cost> {
    let costs: Option<Vec<Cost>> = works.iter().map(|work| work.as_ref().map(|(cost, ..)| *cost)).collect();
    let costs = costs?;
    let amount = |cost: &Cost| cost.amount_minor();
    let (least, most) = (costs.iter().map(amount).min()?, costs.iter().map(amount).max()?);
    let currency = costs.iter().map(|cost| cost.currency()).find(|currency| !currency.is_none());
    Some(Cost::new(most.checked_sub(least)?, currency.or_else(|| costs.first().map(|cost| cost.currency()))?))
}

impl OpenQuestion {
    /// What is needed first; then fewer answers left unproved; then the larger gap of cost, one that is not known being the largest; then the first slot.
    fn order(&self) -> (bool, usize, core::cmp::Reverse<i64>, Vec<Name>, OpenMatter) {
        let unproved = self.answers.iter().filter(|answer| {
            matches!(
                answer.then,
                AnswerPlan::Stopped | AnswerPlan::NotPlanned | AnswerPlan::Plan { is_proved: false, .. }
            )
        });
        let gap = self.gap.map_or(i64::MAX, Cost::amount_minor);
        (!self.is_needed, unproved.count(), core::cmp::Reverse(gap), self.slots.clone(), self.about)
    }
}

/// Everything that is open, without plans.
fn possible(sited: &Sited) -> Vec<OpenQuestion> {
    let mut asked = Vec::new();
    for one in sited.disagreements.iter().filter(|one| one.about == About::State && one.taken.is_none()) {
        if sited.slot(one.slot.as_str()).is_some_and(|slot| slot.state == PlaceState::Unknown) {
            let said: BTreeSet<&Name> = one.said.iter().map(|said| &said.value).collect();
            let states = [PlaceState::InUse, PlaceState::NotInUse, PlaceState::Failed, PlaceState::Absent];
            let states = states.into_iter().filter(|state| said.contains(&Name::lossy(&state.to_string())));
            let answer = |state| PlannedAnswer {
                text: Name::lossy(&state_text(state)),
                answer: Answer::State { slot: one.slot.clone(), state },
                then: AnswerPlan::NotPlanned,
            };
            asked.push(OpenQuestion {
                slots: vec![one.slot.clone()],
                about: OpenMatter::State,
                is_needed: true,
                answers: states.map(answer).collect(),
                gap: None,
            });
        }
    }
    for module in &sited.modules {
        let Some(slot) = module.slots.first() else { continue };
        for fact in module.open_facts() {
            let mut answers: Vec<PlannedAnswer> = Vec::new();
            for reading in &module.readings {
                let known = SeenModule::of(reading);
                let Some(text) = known.text(fact).map(|text| Name::lossy(&text)) else { continue };
                if answers.iter().all(|answer| answer.text != text) {
                    let mut facts = SeenModule::new();
                    facts.take(fact, &known);
                    let answer = Answer::Module { slot: slot.clone(), facts };
                    answers.push(PlannedAnswer { text, answer, then: AnswerPlan::NotPlanned });
                }
            }
            asked.push(OpenQuestion {
                slots: module.slots.clone(),
                about: OpenMatter::Fact(fact),
                is_needed: matches!(fact, ModuleFact::Generation | ModuleFact::Kind | ModuleFact::Capacity),
                answers,
                gap: None,
            });
        }
    }
    asked
}

fn state_text(state: PlaceState) -> String {
    match state {
        PlaceState::Absent => "nothing is there".to_owned(),
        other => other.to_string(),
    }
}

impl fmt::Display for Questions {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.questions.is_empty() {
            f.write_str("Nothing need be found out: no open fact changes what is bought or moved")?;
        }
        for (index, question) in self.questions.iter().enumerate() {
            write!(f, "{}{}. {question}", if index == 0 { "" } else { "\n" }, index + 1)?;
        }
        if self.without_effect > 0 {
            write!(f, "\n{} open facts decide nothing", self.without_effect)?;
        }
        if self.unasked > 0 {
            write!(f, "\n{} more are open and not asked yet", self.unasked)?;
        }
        Ok(())
    }
}

impl fmt::Display for OpenQuestion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let slots = self.slots.iter().map(Name::as_str).collect::<Vec<_>>().join(", ");
        match self.about {
            OpenMatter::Fact(fact) => write!(f, "The {fact} of what is in {slots}?")?,
            OpenMatter::State => write!(f, "Is a module in {slots}, and does it work?")?,
            OpenMatter::Other => write!(f, "Something of {slots} that a newer version knows?")?,
        }
        if self.is_needed {
            f.write_str(" Without an answer nothing can be planned.")?;
        }
        for answer in &self.answers {
            write!(f, "\n   {}", answer.text)?;
            match &answer.then {
                AnswerPlan::NotPlanned => {}
                AnswerPlan::Other(name) => write!(f, ": {name}")?,
                AnswerPlan::NoPlan => f.write_str(": nothing meets the request")?,
                AnswerPlan::Stopped => f.write_str(": no plan was found in time")?,
                AnswerPlan::Plan { cost, is_proved, text } => {
                    write!(f, ": {cost}, {text}{}", if *is_proved { "" } else { " (not proved)" })?;
                }
            }
        }
        Ok(())
    }
}
