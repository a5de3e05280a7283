use crate::assess::Planner;
use crate::fill::ClassId;
use crate::purchase::engine::{Amount, Engine, Goal, Lines, Needs, RequestRules};
use crate::purchase::{Beyond, BreakEven, BreakEvenOutcome, Offer, Plan, PlanRequest, RequestError, RequestProblem};
use crate::search::{Budget, StopReason};
use crate::stated::Schema;
use crate::unit::{Name, Price};

impl Planner<'_> {
    /// Between which prices of an offer the best plan of a request stays the best, and the plans on either side; for
    /// an offer that is not in the plan, the price at which it comes in. All else stays as it is.
    ///
    /// Where there is no proved best plan the outcome says so. Exact to a minor unit. The nodes of the
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
    /// let cheap = planner.break_even(&request, "cheap")?;
    /// let cheap = cheap.known().unwrap();
    /// assert_eq!((cheap.quantity, cheap.to.to_string().as_str()), (3, "50.00 EUR")); // then four dear ones
    /// let dear = planner.break_even(&request, "dear")?;
    /// let dear = dear.known().unwrap();
    /// assert_eq!(dear.quantity, 1);
    /// assert_eq!(dear.below.plan().unwrap().lines.len(), 1); // four dear ones
    /// assert_eq!(dear.above, Beyond::NoLimit);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Planner::plan`], and an id that no offer has.
    pub fn break_even(&self, request: &PlanRequest, offer: &str) -> Result<BreakEvenOutcome, RequestError> {
        request.check_cheapest(self.machine(), "between which prices a plan stays")?;
        let request = &*request.as_it_runs(self.machine());
        let Some((place, offer)) = request.offers.iter().enumerate().find(|(_, known)| known.id == *offer) else {
            let allowed = request.offers.iter().map(|offer| &offer.id).collect();
            let problem = RequestProblem::UnknownOffer { id: Name::lossy(offer), allowed };
            return Err(RequestError { problems: vec![problem] });
        };
        let mut prices = Prices { planner: *self, request, place, offer, budget: self.budget(request.nodes) };
        let now = match prices.at(0) {
            Ok(Some(now)) => now,
            Ok(None) => return Ok(BreakEvenOutcome::Infeasible { schema: Schema }),
            Err(reason) => return Ok(BreakEvenOutcome::Stopped { schema: Schema, reason }),
        };
        let (least, most) = prices.range();
        let (from, below) = prices.limit(&now, least);
        // an offer outside the plan does not come in when it gets dearer
        let (to, above) = if now.quantity == 0 { (most, Beyond::NoLimit) } else { prices.limit(&now, most) };
        let price = |moved: Amount| {
            let minor = u64::try_from(Amount::from(offer.unit_price.amount_minor()) + moved).unwrap_or(0);
            Price::new(minor, offer.unit_price.currency())
        };
        Ok(BreakEvenOutcome::Known(BreakEven {
            schema: Schema,
            offer: offer.id.clone(),
            price: offer.unit_price,
            quantity: usize::try_from(now.quantity).unwrap_or(usize::MAX),
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
    quantity: u32,
}

/// What a plan does, whatever it costs.
type Deeds = (Vec<Option<ClassId>>, Vec<usize>, Lines);

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
    fn at(&mut self, moved: Amount) -> Result<Option<Best>, StopReason> {
        let mut request = self.request.clone();
        let by = |price: Price| {
            let minor = u64::try_from(Amount::from(price.amount_minor()) + moved).unwrap_or(0);
            Price::new(minor, price.currency())
        };
        if let Some(offer) = request.offers.get_mut(self.place) {
            offer.unit_price = by(offer.unit_price);
            offer.breaks.iter_mut().for_each(|step| step.unit_price = by(step.unit_price));
        }
        let rules = RequestRules::of(self.planner.rules(), &request);
        let engine = Engine::new(self.planner, &request, &rules);
        let needs = Needs::of(&request);
        let Some(found) = engine.solve(&needs, Goal::Best, &mut self.budget).proved()? else { return Ok(None) };
        let id = &self.offer.id;
        let own = found.key.list.iter().filter(|(kind, known, _)| (*kind, known) == (1, id));
        let quantity = own.map(|(_, _, quantity)| quantity.0).sum();
        Ok(Some(Best {
            quantity,
            plan: engine.write(&needs, &found, &mut self.budget)?,
            cost: found.key.cost,
            deeds: (found.at.values().to_vec(), found.used.values().to_vec(), found.key.list),
        }))
    }

    /// How far prices can move towards `end` with the plan still the best, and what is best one unit beyond.
    ///
    /// A plan's cost is a line over the price; so it is the best on an interval. Where another plan is the best, the
    /// price at which the two cost the same is tried next.
    fn limit(&mut self, now: &Best, end: Amount) -> (Amount, Beyond) {
        let (mut good, mut bad) = (0, end);
        let mut beyond = match self.at(end) {
            Err(reason) => return (good, Beyond::Unknown { reason }),
            Ok(best) if best.as_ref().is_some_and(|best| best.deeds == now.deeds) => return (end, Beyond::NoLimit),
            Ok(best) => best,
        };
        let step = end.signum();
        while good + step != bad {
            let meets = self.meeting(now, beyond.as_ref(), bad).unwrap_or((good + bad) / 2);
            let asked = if step > 0 { meets.clamp(good + 1, bad - 1) } else { meets.clamp(bad + 1, good - 1) };
            match self.at(asked) {
                Err(reason) => return (good, Beyond::Unknown { reason }),
                Ok(Some(best)) if best.deeds == now.deeds => {
                    good = asked;
                    // beyond where they cost the same, the other one is better
                    if asked == meets && good + step != bad {
                        match self.at(good + step) {
                            Err(reason) => return (good, Beyond::Unknown { reason }),
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
        let amount = |units: u32| Amount::from(units);
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
