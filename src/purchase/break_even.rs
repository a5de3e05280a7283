use core::fmt;

use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::purchase::desk::{Asked, Desk, Rules};
use crate::purchase::ground::Needs;
use crate::purchase::solve::Found;
use crate::purchase::sources::Lines;
use crate::purchase::stock::Amount;
use crate::purchase::{Offer, Plan, PlanRequest, RequestError, RequestProblem};
use crate::search::{Budget, Spent};
use crate::unit::{Name, Price};

/// Between which prices of an offer a plan stays the best, and what comes on either side.
///
/// The price is that of a single unit; those of larger orders move by the same amount.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct BreakEven {
    /// The offer.
    pub offer: Name,
    /// What a unit of it costs now.
    pub price: Price,
    /// How many units of it the plan keeps; none for an offer outside the plan.
    pub quantity: usize,
    /// The plan that is best now.
    pub plan: Plan,
    /// The lowest price at which it still is.
    pub from: Price,
    /// What is best one minor unit below that. For an offer outside the plan this is where it comes in.
    pub below: Beyond,
    /// The highest price at which the plan still is the best.
    pub to: Price,
    /// What is best one minor unit above that.
    pub above: Beyond,
}

/// What is best beyond the prices at which a plan is.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
pub enum Beyond {
    /// Another plan.
    Plan(Box<Plan>),
    /// Nothing: no plan meets the request there.
    Nothing,
    /// There is no beyond: the price named is the lowest or highest that the offer could have.
    NoLimit,
    /// Not known: the search used up its nodes. Up to the price named the plan is the best.
    Unknown,
}

impl Beyond {
    /// The plan that takes over, if there is one.
    #[must_use]
    pub fn plan(&self) -> Option<&Plan> {
        match self {
            Self::Plan(plan) => Some(plan),
            Self::Nothing | Self::NoLimit | Self::Unknown => None,
        }
    }
}

impl fmt::Display for BreakEven {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { offer, price, quantity, plan, from, to, .. } = self;
        let now = |plan: &Plan| {
            let lines = plan.lines.iter().filter(|line| line.source.is_offer(offer));
            match lines.map(|line| line.quantity - line.returned).sum::<usize>() {
                0 => "none".to_owned(),
                units => units.to_string(),
            }
        };
        match quantity {
            0 => write!(f, "Offer {offer} at {price} is not in the plan")?,
            _ => match plan.lines.iter().find(|line| line.source.is_offer(offer)).and_then(|line| line.unit_price) {
                Some(paid) if paid != *price => {
                    write!(f, "Offer {offer} at {price} (at {paid} for {quantity}), {quantity} in the plan")?;
                }
                _ => write!(f, "Offer {offer} at {price}, {quantity} in the plan")?,
            },
        }
        match &self.below {
            Beyond::Plan(plan) if *quantity == 0 => {
                let at = Price::new(from.amount_minor().saturating_sub(1), from.currency());
                write!(f, "; at {at} or less it comes in, with {}", now(plan))?;
            }
            Beyond::Plan(plan) => write!(f, "; below {from} the best plan has {} of it", now(plan))?,
            Beyond::NoLimit if *quantity == 0 => write!(f, ", and would not be at {from} either")?,
            Beyond::NoLimit => write!(f, "; it stays so down to {from}, as low as it can go")?,
            Beyond::Nothing => write!(f, "; below {from} nothing meets the request")?,
            Beyond::Unknown => write!(f, "; what comes below {from} is not known")?,
        }
        match &self.above {
            Beyond::Plan(plan) => write!(f, "; above {to} the best plan has {} of it", now(plan))?,
            Beyond::NoLimit if *quantity == 0 => {}
            Beyond::NoLimit => write!(f, "; it stays so whatever it costs")?,
            Beyond::Nothing => write!(f, "; above {to} nothing meets the request")?,
            Beyond::Unknown => write!(f, "; what comes above {to} is not known")?,
        }
        f.write_str(".")
    }
}

impl Planner<'_> {
    /// Between which prices of an offer the best plan of a request stays the best, and the plans on either side; for
    /// an offer that is not in the plan, the price at which it comes in. All else stays as it is.
    ///
    /// `None` where there is no proved best plan: [`Planner::plan`] says why. Exact to a minor unit. The nodes of the
    /// request are those of all searches together.
    ///
    /// ```
    /// use slotwright::purchase::{Beyond, Offer, PlanRequest};
    /// use slotwright::{Capacity, Label, Machine, Planner, Price, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let offer = |id: &str, cents: u64, stock: u32| -> Result<Offer, Box<dyn std::error::Error>> {
    ///     Ok(Offer::new(id.parse()?, module.clone(), Price::new(cents, "EUR".parse()?), stock))
    /// };
    /// let request = PlanRequest::new()
    ///     .usable_at_least(Capacity::from_gib(128))
    ///     .offer(offer("cheap", 4_000, 3)?)
    ///     .offer(offer("dear", 5_000, 8)?);
    ///
    /// let planner = Planner::new(&machine, &rules);
    /// let cheap = planner.break_even(&request, "cheap")?.unwrap();
    /// assert_eq!((cheap.quantity, cheap.to.to_string().as_str()), (3, "50.00 EUR")); // then four dear ones
    /// let dear = planner.break_even(&request, "dear")?.unwrap();
    /// assert_eq!(dear.quantity, 1);
    /// assert_eq!(dear.below.plan().unwrap().lines.len(), 1); // four dear ones
    /// assert_eq!(dear.above, Beyond::NoLimit);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Planner::plan`], and an id that no offer has.
    pub fn break_even(&self, request: &PlanRequest, offer: &str) -> Result<Option<BreakEven>, RequestError> {
        request.check(self.machine())?;
        let Some((place, offer)) = request.offers.iter().enumerate().find(|(_, known)| known.id == *offer) else {
            let allowed = request.offers.iter().map(|offer| offer.id.to_string()).collect::<Vec<_>>().join(", ");
            let problem = RequestProblem::UnknownOffer { id: Name::lossy(offer), allowed };
            return Err(RequestError { problems: vec![problem] });
        };
        let mut prices = Prices { planner: *self, request, place, offer, budget: self.budget(request.nodes) };
        let Ok(Some(now)) = prices.at(0) else { return Ok(None) };
        let (least, most) = prices.range();
        let (from, below) = prices.limit(&now, least);
        // an offer outside the plan does not come in when it gets dearer
        let (to, above) = if now.quantity == 0 { (most, Beyond::NoLimit) } else { prices.limit(&now, most) };
        let price = |moved: Amount| {
            let minor = u64::try_from(Amount::from(offer.unit_price.amount_minor()) + moved).unwrap_or(0);
            Price::new(minor, offer.unit_price.currency())
        };
        Ok(Some(BreakEven {
            offer: offer.id.clone(),
            price: offer.unit_price,
            quantity: now.quantity,
            plan: now.plan,
            from: price(from),
            below,
            to: price(to),
            above,
        }))
    }
}

/// A best plan at some price.
struct Best {
    plan: Plan,
    deeds: Deeds,
    cost: Amount,
    /// How many units of the offer it keeps.
    quantity: usize,
}

/// What a plan does, whatever it costs.
type Deeds = (Vec<Option<usize>>, Vec<usize>, Lines);

/// The best plans by how far the prices of one offer are moved.
struct Prices<'a> {
    planner: Planner<'a>,
    request: &'a PlanRequest,
    place: usize,
    offer: &'a Offer,
    budget: Budget<'a>,
}

impl Prices<'_> {
    /// How far the prices can be moved: down to what a unit is worth that is not fitted, up to what can be reckoned
    /// with.
    fn range(&self) -> (Amount, Amount) {
        let offer = self.offer;
        let minor = |price: Price| Amount::from(price.amount_minor());
        let prices = offer.breaks.iter().map(|step| step.unit_price).chain([offer.unit_price]);
        let lowest = prices.map(minor).min().unwrap_or(0);
        let worth = offer.surplus_value.map_or(0, minor);
        let most = Amount::from(PlanRequest::MAX_AMOUNT_MINOR) - minor(offer.unit_price);
        ((worth - lowest).min(0), most.max(0))
    }

    /// The best plan where the prices are moved by so much.
    fn at(&mut self, moved: Amount) -> Result<Option<Best>, Spent> {
        let mut request = self.request.clone();
        let by = |price: Price| {
            let minor = u64::try_from(Amount::from(price.amount_minor()) + moved).unwrap_or(0);
            Price::new(minor, price.currency())
        };
        if let Some(offer) = request.offers.get_mut(self.place) {
            offer.unit_price = by(offer.unit_price);
            offer.breaks.iter_mut().for_each(|step| step.unit_price = by(step.unit_price));
        }
        let rules = Rules::of(self.planner.rules(), &request);
        let desk = Desk::new(self.planner, &request, &rules);
        let needs = Needs::of(&request);
        let answer = desk.solve(&needs, Asked::default(), &mut self.budget);
        if answer.stopped {
            return Err(Spent);
        }
        let id = &self.offer.id;
        Ok(answer.found.map(|found: Found<'_>| {
            let takes = found.sources.iter().flat_map(|(_, sourced)| &sourced.takes);
            let own = takes.filter(|take| take.stock.order() == (1, id)).map(|take| take.quantity);
            Best {
                quantity: own.sum(),
                plan: desk.write(&needs, &found),
                cost: found.key.cost,
                deeds: (found.placed.at, found.used, found.key.list),
            }
        }))
    }

    /// How far prices can move towards `end` with the plan still the best, and what is best one unit beyond.
    ///
    /// A plan's cost is a line over the price; so it is the best on an interval. Where another plan is the best, the
    /// price at which the two cost the same is tried next.
    fn limit(&mut self, now: &Best, end: Amount) -> (Amount, Beyond) {
        let (mut good, mut bad) = (0, end);
        let mut beyond = match self.at(end) {
            Err(Spent) => return (good, Beyond::Unknown),
            Ok(best) if best.as_ref().is_some_and(|best| best.deeds == now.deeds) => return (end, Beyond::NoLimit),
            Ok(best) => best,
        };
        let step = end.signum();
        while good + step != bad {
            let meets = self.meeting(now, beyond.as_ref(), bad).unwrap_or((good + bad) / 2);
            let asked = if step > 0 { meets.clamp(good + 1, bad - 1) } else { meets.clamp(bad + 1, good - 1) };
            match self.at(asked) {
                Err(Spent) => return (good, Beyond::Unknown),
                Ok(Some(best)) if best.deeds == now.deeds => {
                    good = asked;
                    // beyond where they cost the same, the other one is better
                    if asked == meets && good + step != bad {
                        match self.at(good + step) {
                            Err(Spent) => return (good, Beyond::Unknown),
                            Ok(Some(best)) if best.deeds == now.deeds => good += step,
                            Ok(best) => (bad, beyond) = (good + step, best),
                        }
                    }
                }
                Ok(best) => (bad, beyond) = (asked, best),
            }
        }
        (good, beyond.map_or(Beyond::Nothing, |best| Beyond::Plan(Box::new(best.plan))))
    }

    /// By how much the prices must move for two plans to cost the same, the other of which is the best at `moved`;
    /// for a plan to use up the budget where there is no other.
    fn meeting(&self, now: &Best, other: Option<&Best>, moved: Amount) -> Option<Amount> {
        let amount = |units: usize| Amount::try_from(units).unwrap_or(Amount::MAX);
        match other {
            Some(other) => {
                let base = other.cost - amount(other.quantity) * moved;
                (base - now.cost).checked_div(amount(now.quantity) - amount(other.quantity))
            }
            None => {
                let budget = Amount::from(self.request.budget?.amount_minor());
                (budget - now.cost).checked_div(amount(now.quantity))
            }
        }
    }
}
