use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use crate::module::MemoryModule;
use crate::population::{MachineIdentity, Population};
use crate::purchase::{ModuleSource, Plan};
use crate::stated::Schema;
use crate::unit::Name;

/// What is there, what is to be there, and what the caller says of the machine.
///
/// ```
/// use slotwright::work_order::OrderRequest;
/// use slotwright::{Label, Name, Population};
///
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let after = Population::new().with("A1".parse()?, module);
/// let request = OrderRequest::new(Population::new(), after).place(Name::new("row 3, rack 7, unit 12")?);
/// assert!(request.sources.is_empty());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct OrderRequest {
    /// The version of the document's form.
    #[serde(default)]
    pub schema: Schema,
    /// What is in the machine now.
    pub before: Population,
    /// What is to be in it. A slot that is not named and holds a blank keeps it.
    pub after: Population,
    /// Where the modules of `after` come from, by slot. Of a slot that is not named the module stays where an equal one sits, else it is one
    /// of those that leave another slot, else it is new.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub sources: BTreeMap<Name, ModuleSource>,
    /// What is expected to leave the machine for good, by slot; an order for anything else is refused. Nothing is expected where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub leaves: Option<BTreeMap<Name, MemoryModule>>,
    /// How many handlings are expected; an order of another number is refused.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub handlings: Option<usize>,
    /// How many like machines are worked on. The order is for one of them.
    #[serde(default = "one", skip_serializing_if = "is_one")]
    pub machines: u32,
    /// Whether the individuals that `after` names are meant, and not any module of equal facts.
    #[serde(default)]
    pub individuals: bool,
    /// Which machine it is, and the version of firmware that was found.
    #[serde(default)]
    pub identity: MachineIdentity,
    /// Where it stands.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<Name>,
    /// Whether slots that are emptied get a blank; as the board's maker asks where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub blanks: Option<bool>,
    /// Whether one piece of each new part is tried first.
    #[serde(default)]
    pub trial_start: bool,
}

const fn one() -> u32 {
    1
}

// serde hands over a reference
#[allow(clippy::trivially_copy_pass_by_ref)]
const fn is_one(count: &u32) -> bool {
    *count == 1
}

impl OrderRequest {
    /// From one population to another.
    #[must_use]
    pub fn new(before: Population, after: Population) -> Self {
        Self {
            schema: Schema,
            before,
            after,
            sources: BTreeMap::new(),
            leaves: None,
            handlings: None,
            machines: 1,
            individuals: false,
            identity: MachineIdentity::new(),
            place: None,
            blanks: None,
            trial_start: false,
        }
    }

    /// From what a plan was made of to what it plans: with its sources, its number of handlings and what it pulls.
    ///
    /// ```
    /// use slotwright::purchase::{Offer, PlanRequest};
    /// use slotwright::work_order::OrderRequest;
    /// use slotwright::{Capacity, Label, Machine, Planner, Population, Price, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let planner = Planner::new(&machine, &rules);
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let offer = Offer::new("lot-7".parse()?, module, Price::new(4_500, "EUR".parse()?), 40);
    /// let outcome = planner.plan(&PlanRequest::new().usable_at_least(Capacity::from_gib(128)).offer(offer))?;
    ///
    /// let plan = outcome.optimal().unwrap();
    /// let order = planner.work_order(&OrderRequest::of_plan(Population::new(), plan))?;
    /// assert_eq!(order.handlings, plan.handlings);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn of_plan(before: Population, plan: &Plan) -> Self {
        let sources = plan.slots.iter().map(|slot| (slot.slot.clone(), slot.source.clone())).collect();
        let leaves = plan.pulled.iter().map(|pulled| (pulled.slot.clone(), pulled.module.clone())).collect();
        Self {
            sources,
            leaves: Some(leaves),
            handlings: Some(plan.handlings),
            machines: plan.machines,
            ..Self::new(before, plan.population.clone())
        }
    }

    setters! {
        each sources(sources: (Name, ModuleSource));
        some leaves(leaves: BTreeMap<Name, MemoryModule>);
        some handlings(handlings: usize);
        value machines(machines: u32);
        value individuals(individuals: bool);
        value identity(identity: MachineIdentity);
        some place(place: Name);
        some blanks(blanks: bool);
        value trial_start(trial_start: bool);
    }
}
