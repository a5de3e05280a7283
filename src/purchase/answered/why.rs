use core::fmt;

use serde::{Deserialize, Serialize};

use crate::finding::Finding;
use crate::module::{MemoryModule, ModuleKind, Telling};
use crate::purchase::answered::plan_text::together;
use crate::purchase::{ModuleSource, Plan, PlanNote, Requirement};
use crate::search::StopReason;
use crate::stated::Schema;
use crate::unit::{Cost, Name};

/// Why nothing meets a request.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct WhyNot {
    /// The version of the document's form.
    pub schema: Schema,
    /// Requirements that cannot be met together, while every proper part of them can. None where even
    /// no requirement at all leaves a legal population; all of them where the search stopped.
    pub clash: Vec<Requirement>,
    /// For each requirement: how far it can be met while the others stand.
    pub reachable: Vec<Reachable>,
    /// What else a request holds fast, where giving up that alone is enough.
    pub waivers: Vec<Waiver>,
    /// Modules on offer, on the shelf or present that the machine, otherwise empty, takes in no slot, with what the rules say.
    pub refused: Vec<RefusedModule>,
    /// The rules that stand in the way, where they do: where no legal population is enough for one requirement, or there is
    /// none at all. Not asked where several requirements clash,
    /// the clash is not known, or no module at hand fits by itself.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rules: Option<RulesInTheWay>,
    /// Why it is not known which rules stand in the way, if it is not. The search has a tenth of the request's nodes.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rules_stopped: Option<StopReason>,
    /// Whether there is nothing at all of which a population could be made.
    pub nothing_at_hand: bool,
    /// What the rules have against the pinned modules by themselves, whatever else is fitted.
    pub pinned: Vec<Finding>,
    /// Why some question ended before it was through, if one did: the clash may not be the smallest then, some values are
    /// not known, or a waiver is missing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
    /// What else is worth saying.
    pub notes: Vec<PlanNote>,
}

/// A module that the machine takes in no slot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RefusedModule {
    /// Where it would come from.
    pub source: ModuleSource,
    /// The module.
    pub module: MemoryModule,
    /// What the rules say of it in the slots: once for each rule.
    pub findings: Vec<Finding>,
}

/// Rules without which there is a plan.
///
/// ```
/// use slotwright::rule::{CountBound, CountSet, Rule};
/// use slotwright::stated::Scope;
/// use slotwright::{
///     Capacity, Label, Machine, Offer, Outcome, PlanRequest, Planner, Price, RuleBook, Severity, reference,
/// };
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// // a rule of the house: four modules at most
/// let bound = CountBound::new(Scope::Machine, CountSet::AtMost(4));
/// let own = Rule::count("own-total", "more modules than our spares cover", Severity::Error, bound)?;
/// let rules = RuleBook::standard().with(own)?;
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let offer = Offer::new("lot-7".parse()?, module, Price::new(4_500, "EUR".parse()?), 16);
/// let request = PlanRequest::new().usable_at_least(Capacity::from_gib(256)).offer(offer);
///
/// let Outcome::Infeasible(why) = Planner::new(&machine, &rules).plan(&request)? else { panic!("four are too few") };
/// assert_eq!(why.rules.as_ref().unwrap().codes, ["own-total"]);
/// assert!(why.to_string().contains("without the rule own-total it can be done"));
/// assert!(Planner::new(&machine, &rules.without("own-total")?).plan(&request)?.optimal().is_some());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RulesInTheWay {
    /// The codes of a smallest set: each of them must go.
    pub codes: Vec<Name>,
    /// What they say of such a plan: once for each rule.
    pub findings: Vec<Finding>,
    /// What the plan meets: all requirements, or else those of the clash alone.
    pub met: Vec<Requirement>,
}

/// How far a requirement can be met while the others stand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Reachable {
    /// The requirement.
    pub requirement: Requirement,
    /// How far.
    pub reach: Reach,
    /// For least capacities and rates, where modules of several kinds are at hand: the best value with each kind alone.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub by_kind: Vec<KindReach>,
}

/// How far a requirement can be met.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
pub enum Reach {
    /// It can with another value.
    Value {
        /// The best one.
        best: Requirement,
        /// The best plan with it.
        witness: Box<Plan>,
    },
    /// No other value helps, but without it the rest can be met.
    GivenUp {
        /// The best plan without it.
        witness: Box<Plan>,
    },
    /// No value helps.
    Nothing,
    /// Not known, for the search ended before it was through.
    Unknown {
        /// Why.
        reason: StopReason,
    },
}

/// The best value with modules of one kind alone.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct KindReach {
    /// The kind.
    pub kind: ModuleKind,
    /// The best value; absent where none helps, or it is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub best: Option<Requirement>,
    /// Why it is not known, if it is not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}

/// What a request holds fast beside its requirements, and what can be had where it is given up.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Waiver {
    /// What is given up.
    pub given_up: HeldFast,
    /// The codes of the warnings that the plan has, where it is they that are accepted.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub warnings: Vec<Name>,
    /// The best plan then.
    pub plan: Box<Plan>,
    /// Whether it is proved to be the best. The search has a tenth of the request's nodes.
    pub proved: bool,
}

/// What a request holds fast, beside its requirements.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum HeldFast {
    /// Pinned modules stay in their slots.
    Pins,
    /// Plans with warnings are refused.
    NoWarnings,
    /// Several machines are planned alike.
    SeveralMachines,
}

impl Reachable {
    /// The best value, where another one helps.
    #[must_use]
    pub fn best(&self) -> Option<&Requirement> {
        match &self.reach {
            Reach::Value { best, .. } => Some(best),
            Reach::GivenUp { .. } | Reach::Nothing | Reach::Unknown { .. } => None,
        }
    }

    /// The plan that shows it, where there is one.
    #[must_use]
    pub fn witness(&self) -> Option<&Plan> {
        match &self.reach {
            Reach::Value { witness, .. } | Reach::GivenUp { witness } => Some(witness),
            Reach::Nothing | Reach::Unknown { .. } => None,
        }
    }
}

impl fmt::Display for Reachable {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let asked = &self.requirement;
        let cost = self.witness().map_or_else(String::new, |plan| together(plan.machines, plan.cost.total));
        match &self.reach {
            Reach::Value { best: Requirement::Budget(least), .. } => {
                let asked = match asked {
                    Requirement::Budget(asked) => asked.amount_minor(),
                    _ => 0,
                };
                let more = i64::try_from(least.amount_minor().saturating_sub(asked)).unwrap_or(i64::MAX);
                let more = Cost::new(more, least.currency());
                write!(f, "The cheapest plan costs {more} more: {cost}.")?;
            }
            Reach::Value { best, .. } => match best {
                Requirement::UsableAtLeastMib(most) => {
                    write!(f, "All else standing, at most {most} can be had, for {cost}.")?;
                }
                Requirement::RateAtLeastMts(rate) => {
                    write!(f, "All else standing, it runs at {rate} at best, for {cost}.")?;
                }
                best => write!(f, "With {best} instead of {asked} it can be done, for {cost}.")?,
            },
            Reach::GivenUp { .. } => write!(f, "Without \"{asked}\" it can be done, for {cost}.")?,
            Reach::Nothing => write!(f, "No other value of \"{asked}\" helps by itself.")?,
            Reach::Unknown { reason } => {
                write!(f, "Whether another value of \"{asked}\" helps is not known: the search {reason}.")?;
            }
        }
        let with = |kind: &KindReach| {
            let best = match &kind.best {
                None if kind.stopped.is_some() => "not known".to_owned(),
                None => "none".to_owned(),
                Some(Requirement::UsableAtLeastMib(capacity)) => capacity.to_string(),
                Some(Requirement::RateAtLeastMts(rate)) => rate.to_string(),
                Some(other) => other.to_string(),
            };
            format!("{best} with {}", kind.kind)
        };
        match self.by_kind.as_slice() {
            [] => Ok(()),
            kinds => write!(f, " By kind of module: {}.", kinds.iter().map(with).collect::<Vec<_>>().join(", ")),
        }
    }
}

impl fmt::Display for Waiver {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let cost = together(self.plan.machines, self.plan.cost.total);
        let cost = if self.proved { cost } else { format!("{cost} or less") };
        match self.given_up {
            HeldFast::Pins => write!(f, "Where pinned modules may move or go it can be done, for {cost}."),
            HeldFast::NoWarnings => {
                let codes: Vec<_> = self.warnings.iter().map(ToString::to_string).collect();
                match codes.as_slice() {
                    [] => write!(f, "Where notes are accepted it can be done, for {cost}."),
                    codes => {
                        write!(f, "Where warnings are accepted ({}) it can be done, for {cost}.", codes.join(", "))
                    }
                }
            }
            HeldFast::SeveralMachines => write!(f, "It can be done for one machine, for {cost}."),
        }
    }
}

/// Where a module that fits nowhere comes from, as a text.
fn origin(source: &ModuleSource) -> String {
    match source {
        ModuleSource::MovesFrom { slot } => format!("slot {slot}"),
        other => other.to_string(),
    }
}

impl WhyNot {
    fn fmt_rules(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(reason) = &self.rules_stopped {
            write!(f, "\nWhether rules stand in the way, and which, is not known: the search {reason}.")?;
        }
        let Some(rules) = &self.rules else { return Ok(()) };
        let codes: Vec<_> = rules.codes.iter().map(ToString::to_string).collect();
        let plural = if codes.len() > 1 { "s" } else { "" };
        let is_all = self.reachable.len() == rules.met.len();
        let met = if is_all { "it can be done" } else { "that can be had, but not all that is asked" };
        write!(f, "\nThe rules stand in the way: without the rule{plural} {} {met}.", codes.join(", "))?;
        rules.findings.iter().try_for_each(|finding| write!(f, "\n    {finding}"))
    }
}

impl fmt::Display for WhyNot {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.clash.as_slice() {
            [] => f.write_str("No legal population can be made of these modules, whatever is asked for.")?,
            [one] => write!(f, "Not to be had: {one}.")?,
            many => {
                let many: Vec<_> = many.iter().map(ToString::to_string).collect();
                write!(f, "Not to be had together: {}.", many.join("; "))?;
            }
        }
        let helps = |reachable: &&Reachable| {
            // of a requirement outside the clash it goes without saying that it does not help
            reachable.reach != Reach::Nothing || self.clash.contains(&reachable.requirement)
        };
        self.reachable.iter().filter(helps).try_for_each(|reachable| write!(f, "\n{reachable}"))?;
        self.waivers.iter().try_for_each(|waiver| write!(f, "\n{waiver}"))?;
        self.pinned.iter().try_for_each(|finding| write!(f, "\npinned: {finding}"))?;
        let telling = Telling::among(self.refused.iter().map(|refused| &refused.module));
        for (index, refused) in self.refused.iter().enumerate() {
            let is_same = |other: &&RefusedModule| other.module == refused.module;
            if self.refused.iter().take(index).any(|other| is_same(&other)) {
                continue;
            }
            let sources: Vec<_> = self.refused.iter().filter(is_same).map(|refused| origin(&refused.source)).collect();
            let summaries: Vec<_> = refused.findings.iter().map(|finding| finding.summary.to_string()).collect();
            let (module, does) = (telling.text(&refused.module), if sources.len() > 1 { "do" } else { "does" });
            write!(f, "\n{} ({module}) {does} not fit: {}.", sources.join(", "), summaries.join("; "))?;
        }
        self.fmt_rules(f)?;
        if self.nothing_at_hand {
            f.write_str("\nNo modules that may be used are present, on offer or on the shelf.")?;
        }
        self.notes.iter().try_for_each(|note| write!(f, "\nnote: {note}"))?;
        if let Some(reason) = &self.stopped {
            // a clash of one has no smaller one
            let smaller = if self.clash.len() > 1 { "a smaller clash, or " } else { "" };
            write!(f, "\nThere may be {smaller}another way: a search {reason}.")?;
        }
        Ok(())
    }
}
