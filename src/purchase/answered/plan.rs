use serde::{Deserialize, Serialize};

use crate::assess::Assessment;
use crate::figure::RateLimit;
use crate::finding::Finding;
use crate::module::{Individual, MemoryModule};
use crate::population::{Fault, OtherDevice, Population};
use crate::purchase::{Cheaper, Condition, WhyNot};
use crate::search::StopReason;
use crate::stated::Schema;
use crate::unit::{Cost, DataRate, Name, Price};

/// The answer to a request.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::{Capacity, Offer, Outcome, PlanRequest, Price};
///
/// let offer = Offer::new("lot-7".parse()?, module, Price::new(4_500, "EUR".parse()?), 4);
/// let request = PlanRequest::new().offer(offer);
/// assert!(matches!(planner.plan(&request.clone().usable_at_least(Capacity::from_gib(128)))?, Outcome::Optimal(_)));
/// assert!(matches!(planner.plan(&request.usable_at_least(Capacity::from_gib(256)))?, Outcome::Infeasible(_)));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
// A caller holds one of these; the size of a plan is no matter.
#[allow(clippy::large_enum_variant)]
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
pub enum Outcome {
    /// No population and sourcing that the request allows is better.
    Optimal(Plan),
    /// Nothing meets the request.
    Infeasible(WhyNot),
    /// The search ended before it was through. Where the best plan costs no more than any plan must, its cost is proved
    /// all the same ([`Outcome::is_cost_proved`]): what is not known then is whether another plan of that cost comes
    /// before it in the [documented order](crate::purchase).
    #[non_exhaustive]
    Stopped {
        /// The version of the document's form.
        schema: Schema,
        /// The best plan found so far. Where nodes were used up, plans of one sort of module are set up beside the search, with
        /// at most 20,000 nodes more, so that there mostly is one.
        best: Option<Plan>,
        /// What any plan costs at least, as far as that is known.
        cost_at_least: Cost,
        /// Why it stopped.
        reason: StopReason,
    },
}

/// A plan: a population, and where each of its modules comes from.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::{Capacity, Offer, PlanRequest, Price};
///
/// let offer = Offer::new("lot-7".parse()?, module, Price::new(4_500, "EUR".parse()?), 40);
/// let outcome = planner.plan(&PlanRequest::new().usable_at_least(Capacity::from_gib(128)).offer(offer))?;
/// let plan = outcome.optimal().unwrap();
/// assert_eq!((plan.lines[0].quantity, plan.handlings, plan.pulled.len()), (4, 4, 0));
/// assert_eq!(plan.population.modules().count(), 4);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Plan {
    /// The version of the document's form.
    pub schema: Schema,
    /// How many like machines it is for.
    pub machines: u32,
    /// What sits in each slot of each machine afterwards.
    pub population: Population,
    /// Its figures and findings.
    pub assessment: Assessment,
    /// The filled slots by turn, with where their modules come from.
    pub slots: Vec<PlannedSlot>,
    /// What is taken out of each machine and not put back.
    pub pulled: Vec<Pulled>,
    /// What is bought or taken from the shelf, for all machines together.
    pub lines: Vec<PlanLine>,
    /// What suppliers charge for their orders.
    pub charges: Vec<ChargeLine>,
    /// Bought and not fitted: it goes to the shelf. Of one sort of module those are left over that are worth most, and of
    /// what is worth the same the last by source; where spares are bought, first that without which the fewest parts are fitted.
    pub to_shelf: Vec<SurplusLine>,
    /// What is at hand and not fitted of each sort of module that is, or of each part, where the request asks for spares.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub spares: Vec<SpareLine>,
    /// What it costs, all machines together.
    pub cost: CostSheet,
    /// Modules taken out or put in, in each machine; a move is two.
    pub handlings: usize,
    /// The free slots of each machine: live, empty, and able to take a further module of the sorts fitted without an error
    /// on its channel, once the slots before it are filled.
    pub free_slots: Vec<Name>,
    /// Devices that are left as they are.
    pub other_devices: Vec<(Name, OtherDevice)>,
    /// Warnings on evenness that what is present carries already: they refuse no plan that touches no module of the
    /// processors that they name.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub was_so_before: Vec<Finding>,
    /// What else is worth saying.
    pub notes: Vec<PlanNote>,
    /// The cheapest plan without warnings, where the request allows warnings and this plan has some.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub without_warnings: Option<Box<Plan>>,
    /// What accepting warnings would save, where the request accepts none, as far as the nodes for it went.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub accepting: Vec<Cheaper>,
}

/// A filled slot and where its module comes from.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct PlannedSlot {
    /// The slot's label.
    pub slot: Name,
    /// The module.
    pub module: MemoryModule,
    /// Where it comes from.
    pub source: ModuleSource,
}

/// Where a module of a plan comes from.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum ModuleSource {
    /// It sits there already.
    Stays,
    /// It sits in another slot of the machine.
    MovesFrom {
        /// That slot's label.
        slot: Name,
    },
    /// The shelf.
    Shelf {
        /// The item's id.
        id: Name,
    },
    /// An offer.
    Offer {
        /// The offer's id.
        id: Name,
    },
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// A module that is taken out and not put back.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Pulled {
    /// The slot's label.
    pub slot: Name,
    /// The module.
    pub module: MemoryModule,
    /// Which one it is, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub individual: Option<Individual>,
    /// What is wrong with it; nothing that is known where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub fault: Option<Fault>,
    /// What is credited for it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub credit: Option<Price>,
}

/// What is bought of one offer, or taken of one shelf item.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct PlanLine {
    /// The offer or shelf item.
    pub source: ModuleSource,
    /// The module.
    pub module: MemoryModule,
    /// How many are ordered or taken, for all machines together.
    pub quantity: usize,
    /// How many of these are sent back.
    #[serde(default, skip_serializing_if = "is_none")]
    pub returned: usize,
    /// The price of one; absent for a shelf item without value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit_price: Option<Price>,
    /// The unit price times what is kept.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub line_price: Option<Price>,
    /// Who sells it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supplier: Option<Name>,
    /// What state the modules are in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub condition: Option<Condition>,
    /// How many days they take to arrive.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lead_time_days: Option<u32>,
    /// The caller's own data.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub data: Option<String>,
}

/// What a supplier charges for an order.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ChargeLine {
    /// The supplier.
    pub supplier: Name,
    /// The charge.
    pub charge: Price,
}

/// Units of an offer that are bought and not fitted.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SurplusLine {
    /// The offer's id.
    pub id: Name,
    /// The module.
    pub module: MemoryModule,
    /// How many.
    pub quantity: usize,
}

/// Modules of a sort that is fitted, or of a part, which are at hand and not fitted, for all machines together.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SpareLine {
    /// The module; without part number, maker and power where these do not matter.
    pub module: MemoryModule,
    /// Whether spares are counted per part: of that one alone.
    #[serde(default, skip_serializing_if = "is_false")]
    pub per_part: bool,
    /// Left on the shelf.
    pub on_shelf: usize,
    /// Pulled.
    pub pulled: usize,
    /// Bought.
    pub bought: usize,
}

// serde hands over a reference
#[allow(clippy::trivially_copy_pass_by_ref)]
const fn is_none(count: &usize) -> bool {
    *count == 0
}

// serde hands over a reference
#[allow(clippy::trivially_copy_pass_by_ref)]
const fn is_false(value: &bool) -> bool {
    !*value
}

/// What a plan costs, all machines together; in [no currency](crate::unit::Currency::NONE) where the request names none.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct CostSheet {
    /// Offers bought: what is kept of them.
    pub purchases: Cost,
    /// Sending back what is not kept.
    pub returns: Cost,
    /// Charges of suppliers.
    pub charges: Cost,
    /// The value of what is taken from the shelf.
    pub shelf: Cost,
    /// Labour for every handling.
    pub labour: Cost,
    /// Credit for what is pulled; not positive.
    pub credit: Cost,
    /// The worth of what goes to the shelf; not positive.
    pub surplus: Cost,
    /// The sum.
    pub total: Cost,
}

/// Something worth saying about a request or its plan.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
// notes are few; their size is no matter
#[allow(clippy::large_enum_variant)]
pub enum PlanNote {
    /// The request is ready to pay more than the least for a better plan.
    #[non_exhaustive]
    WorthPaying {
        /// What the cheapest plan costs.
        least: Cost,
        /// The most that it was ready to pay.
        most: Cost,
    },
    /// That no plan up to this cost is better in rate, balance or bandwidth is not proved.
    #[non_exhaustive]
    QualityNotProved {
        /// The most that the request is ready to pay.
        most: Cost,
    },
    /// What accepting warnings would save is not known to the end.
    #[non_exhaustive]
    SavingsNotKnown {
        /// Why the search for it ended.
        reason: StopReason,
    },
    /// Whether there is a plan without warnings, and what it costs, is not known.
    #[non_exhaustive]
    WarningsNotCompared {
        /// Why.
        reason: StopReason,
    },
    /// An offer or shelf item of which nothing can be had: no stock, or less than a pack or the smallest order.
    #[non_exhaustive]
    NoStock {
        /// Its id.
        id: Name,
    },
    /// Other devices are left as they are; planning with them is not offered.
    #[non_exhaustive]
    OtherDevicesStay {
        /// How many.
        devices: usize,
    },
    /// An offer that is left out, for it does not state its condition, or how long it takes.
    #[non_exhaustive]
    NotStated {
        /// Its id.
        id: Name,
    },
    /// A supplier charges for an order, and no offer is from it: perhaps the name is not the same.
    #[non_exhaustive]
    NoOfferFrom {
        /// The supplier.
        supplier: Name,
    },
    /// More is credited for a present module than the same one costs: it is money for nothing to buy it and have the
    /// present one pulled.
    #[non_exhaustive]
    CreditAbovePrice {
        /// The slot of the present module.
        slot: Name,
        /// What is credited for it.
        credit: Price,
        /// The offer.
        offer: Name,
        /// Its lowest unit price.
        price: Price,
    },
    /// The machine runs slower than with what is present.
    #[non_exhaustive]
    Slower {
        /// The rate with what is present, in MT/s.
        now_mts: DataRate,
        /// The rate afterwards.
        afterwards_mts: DataRate,
    },
    /// A limit that decides something is assumed.
    #[non_exhaustive]
    Assumed {
        /// The limit on the running rate.
        limit: RateLimit,
    },
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

impl ModuleSource {
    /// Whether it is the offer of this id.
    pub(crate) fn is_offer(&self, offer: &Name) -> bool {
        matches!(self, Self::Offer { id } if id == offer)
    }
}

impl Plan {
    /// The lowest running rate of a machine's memory.
    #[must_use]
    pub fn running_rate(&self) -> Option<DataRate> {
        self.assessment.figures.running_rate.rate()
    }
}

impl Outcome {
    /// Whether no plan costs less than the one that is there.
    #[must_use]
    pub fn is_cost_proved(&self) -> bool {
        match self {
            Self::Optimal(_) => true,
            Self::Stopped { best: Some(best), cost_at_least, .. } => {
                best.cost.total.amount_minor() <= cost_at_least.amount_minor()
            }
            Self::Infeasible(_) | Self::Stopped { best: None, .. } => false,
        }
    }

    /// The plan that is proved best, if there is one.
    #[must_use]
    pub fn optimal(&self) -> Option<&Plan> {
        match self {
            Self::Optimal(plan) => Some(plan),
            Self::Infeasible(_) | Self::Stopped { .. } => None,
        }
    }
}
