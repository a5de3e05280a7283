use core::fmt;

use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::purchase::desk::{Asked, Desk, Rules};
use crate::purchase::ground::Needs;
use crate::purchase::supply::{Amount, Stock};
use crate::purchase::{Offer, Plan, PlanRequest, Present, RequestError, RequestProblem, ShelfItem, StopReason};
use crate::search::{Budget, Spent};
use crate::unit::{Cost, Currency, Name, Price};

/// A purchase now and another one later.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Stages {
    /// The cheapest sequence, or the cheapest one that was found; absent where none was.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub best: Option<Sequence>,
    /// The best plan for now, planned as if there were no later, and the best one that follows it; absent where one
    /// of the two does not exist, or is not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub alone: Option<Sequence>,
    /// What any sequence costs at least, where the search stopped.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cost_at_least: Option<Cost>,
    /// Why the search stopped, if it did: the best is not proved then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}

/// A plan for now and the best one for later that follows it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Sequence {
    /// The plan for now.
    pub now: Plan,
    /// The plan for later, from the machine and the shelf as the plan for now leaves them.
    pub later: Plan,
    /// What both cost together.
    pub cost: Cost,
}

impl fmt::Display for Sequence {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { now, later, cost } = self;
        write!(f, "{} now and {} later, {cost} together", now.cost.total, later.cost.total)
    }
}

impl Planner<'_> {
    /// The cheapest way to meet one request now and another one later, so that today's purchase does not throw
    /// tomorrow's away, beside what it costs to plan each alone.
    ///
    /// The later request brings its own wishes, offers (the prices assumed), charges and labour; what is present
    /// and on the shelf then follows from the plan for now ([`PlanRequest::after`]), with what the later request's
    /// own shelf adds. An offer of the same id as one of today's has so many fewer units as were bought today.
    ///
    /// Of all plans for now with one list of purchase lines the best in the documented order is looked at (as in
    /// [`Planner::plans`]), each with the best plan that follows it. Buying
    /// more today than today's plan needs, for the shelf, is not looked at; to see whether that pays, repeat today's
    /// offers among the later ones, under other ids. Of sequences that cost the same one is shown, always the same.
    ///
    /// The nodes of the request for now are those of all searches together.
    ///
    /// ```
    /// use slotwright::purchase::{Offer, PlanRequest};
    /// use slotwright::{Capacity, Label, Machine, Planner, Price, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_2spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let offer = |id: &str, label: &str, cents: u64| -> Result<Offer, Box<dyn std::error::Error>> {
    ///     Ok(Offer::new(id.parse()?, label.parse::<Label>()?.to_module(), Price::new(cents, "EUR".parse()?), 24))
    /// };
    /// let offers = [
    ///     offer("small", "16GB 1Rx4 PC4-2400T-RC2-11", 2_000)?,
    ///     offer("large", "32GB 2Rx4 PC4-2400T-RB2-11", 4_500)?,
    /// ];
    /// let now = PlanRequest::new().usable_at_least(Capacity::from_gib(128)).offers(offers.clone());
    /// let later = PlanRequest::new().usable_at_least(Capacity::from_gib(256)).offers(offers);
    ///
    /// let stages = Planner::new(&machine, &rules).stages(&now, &later)?;
    /// // eight small ones fill the board, and all of them go when eight large ones come
    /// assert_eq!(stages.alone.unwrap().cost.to_string(), "520.00 EUR");
    /// assert_eq!(stages.best.unwrap().to_string(), "180.00 EUR now and 180.00 EUR later, 360.00 EUR together");
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Planner::plan`] for each of the two; two currencies; an id on both shelves; a later request that says
    /// what is present.
    pub fn stages(&self, now: &PlanRequest, later: &PlanRequest) -> Result<Stages, RequestError> {
        now.check(self.machine())?;
        later.check(self.machine())?;
        check_together(now, later)?;
        let job = Job { planner: *self, now, later };
        Ok(job.answer())
    }
}

fn check_together(now: &PlanRequest, later: &PlanRequest) -> Result<(), RequestError> {
    let mut problems = Vec::new();
    if later.present != Present::default() {
        problems.push(RequestProblem::LaterPresent);
    }
    if later.machines != now.machines {
        problems.push(RequestProblem::OtherMachines { found: later.machines, expected: now.machines });
    }
    if let (Some(expected), Some(found)) = (now.currency(), later.currency()) {
        if expected != found {
            let place = "the later request".to_owned();
            problems.push(RequestProblem::TwoCurrencies { place, found, expected });
        }
    }
    for item in later.shelf.iter().filter(|item| now.shelf.iter().any(|other| other.id == item.id)) {
        problems.push(RequestProblem::GivenTwice { list: "shelf item", id: item.id.clone() });
    }
    if problems.is_empty() { Ok(()) } else { Err(RequestError { problems }) }
}

struct Job<'a> {
    planner: Planner<'a>,
    now: &'a PlanRequest,
    later: &'a PlanRequest,
}

fn total(plan: &Plan) -> Amount {
    Amount::from(plan.cost.total.amount_minor())
}

impl Job<'_> {
    fn answer(&self) -> Stages {
        let rules = Rules::of(self.planner.rules(), self.now);
        let desk = Desk::new(self.planner, self.now, &rules);
        let mut budget = desk.budget();
        let mut walk = Walk { job: self, desk: &desk, alone: None, best: None, least: None };
        let stopped = walk.run(&mut budget).is_err().then(|| desk.stop_reason(&budget));
        let Walk { alone, best, least, .. } = walk;
        let cost_at_least = least.filter(|_| stopped.is_some()).map(|least| self.cost(least));
        let sequence = |(now, later): (Plan, Plan)| {
            let cost = self.cost(total(&now) + total(&later));
            Sequence { now, later, cost }
        };
        Stages { best: best.map(sequence), alone: alone.map(sequence), cost_at_least, stopped }
    }

    fn cost(&self, amount: Amount) -> Cost {
        let currency = self.now.currency().or(self.later.currency()).unwrap_or(Currency::NONE);
        let minor = i64::try_from(amount).unwrap_or(if amount < 0 { i64::MIN } else { i64::MAX });
        Cost::new(minor, currency)
    }

    /// The later request as it stands once a plan for now is carried out.
    fn following(&self, plan: &Plan) -> PlanRequest {
        // the later shelf is there first, so that what is put by gets names of its own
        let mut both = self.now.clone();
        both.shelf.extend(self.later.shelf.iter().cloned());
        let state = both.after(plan);
        let mut offers = self.later.offers.clone();
        for line in &plan.lines {
            let same = offers.iter_mut().find(|offer| line.source.is_offer(&offer.id));
            let bought = u32::try_from(line.quantity).unwrap_or(u32::MAX);
            same.into_iter().for_each(|offer| offer.stock = offer.stock.saturating_sub(bought));
        }
        PlanRequest { present: state.present, shelf: state.shelf, offers, ..self.later.clone() }
    }

    /// The wishes for later, of everything that could be had by then: what is present lies on the shelf at its credit,
    /// today's offers at what a unit is worth that is not fitted, or at their price; no labour, and no charge that
    /// does not fall due at both times. No plan that follows another costs less than this and what that one's modules
    /// are credited.
    fn relaxed(&self, price: impl Fn(&Offer) -> Option<Price>) -> PlanRequest {
        let name = |what: &str, index: usize| Name::lossy(&format!("{what} {index}"));
        let mut shelf: Vec<ShelfItem> = Vec::new();
        let mut put = |item: ShelfItem| shelf.push(item);
        for (index, (slot, fitted)) in self.now.present.population.modules().enumerate() {
            let unit_value = self.now.present.credits.get(slot).copied();
            let item = ShelfItem::new(name("present", index), fitted.module.clone(), self.now.machines);
            put(ShelfItem { unit_value, ..item });
        }
        for (index, item) in self.now.shelf.iter().chain(&self.later.shelf).enumerate() {
            put(ShelfItem { id: name("shelf", index), ..item.clone() });
        }
        let mut offers = Vec::new();
        for (index, offer) in self.now.offers.iter().enumerate() {
            if Stock::Offer(offer).is_allowed(&Needs::of(self.now).terms) {
                let (id, supplier) = (name("today", index), None);
                match price(offer) {
                    None => offers.push(Offer { id, supplier, ..offer.clone() }),
                    Some(price) => {
                        let units = u32::try_from(Stock::Offer(offer).units()).unwrap_or(u32::MAX);
                        put(ShelfItem { unit_value: Some(price), ..ShelfItem::new(id, offer.module.clone(), units) });
                    }
                }
            }
        }
        for (index, offer) in self.later.offers.iter().enumerate() {
            if Stock::Offer(offer).is_allowed(&Needs::of(self.later).terms) {
                offers.push(Offer { id: name("later", index), supplier: None, ..offer.clone() });
            }
        }
        PlanRequest {
            present: Present::default(),
            shelf,
            offers,
            conditions: None,
            lead_time_at_most_days: None,
            labour_per_handling: None,
            budget: None,
            ..self.later.clone()
        }
    }
}

/// A walk over the plans for now, the cheapest first.
struct Walk<'w, 'a> {
    job: &'w Job<'w>,
    desk: &'w Desk<'a>,
    alone: Option<(Plan, Plan)>,
    best: Option<(Plan, Plan)>,
    /// What any sequence costs at least, as far as that is known.
    least: Option<Amount>,
}

impl Walk<'_, '_> {
    fn run(&mut self, budget: &mut Budget<'_>) -> Result<(), Spent> {
        let job = self.job;
        let resale = |offer: &Offer| Some(offer.surplus_value.unwrap_or(Price::new(0, offer.unit_price.currency())));
        let relaxed = |price: &dyn Fn(&Offer) -> Option<Price>, budget: &mut Budget<'_>| {
            job.planner.proved(&job.relaxed(price), budget)
        };
        // everything that is fitted in the end is bought once, or is there now; what is pulled of it is credited once
        let Some(once) = relaxed(&|_| None, budget)? else { return Ok(()) };
        let credits: Amount = job.now.present.credits.values().map(|credit| Amount::from(credit.amount_minor())).sum();
        let credits = credits * Amount::from(job.now.machines);
        let once_cost = total(&once) - credits;
        self.least = Some(once_cost);
        let Some(rest) = relaxed(&resale, budget)? else { return Ok(()) };
        let rest = total(&rest) - self.most_worth();
        let (mut excluded, mut first) = (Vec::new(), true);
        // the plan that buys of what is needed in the end bounds the rest well
        if let Some(seed) = self.seed(&once, budget)? {
            self.follow(seed, budget)?;
        }
        let needs = Needs::of(job.now);
        loop {
            if !first && self.is_proved(once_cost) {
                return Ok(());
            }
            let asked = Asked { excluded: excluded.clone(), any_will_do: false };
            let answer = self.desk.solve(&needs, asked, budget);
            if answer.stopped {
                return Err(Spent);
            }
            let Some(found) = answer.found else { return Ok(()) };
            let least = found.key.cost + rest;
            self.least = Some(least.max(once_cost));
            if !first && self.is_proved(least) {
                return Ok(());
            }
            excluded.push(found.key.list.clone());
            let plan = self.desk.write(&needs, &found);
            let both = self.follow(plan, budget)?;
            if first {
                self.alone = both;
            }
            first = false;
        }
    }

    /// Whether no sequence that costs at least so much is cheaper than the best so far.
    fn is_proved(&self, least: Amount) -> bool {
        self.best.as_ref().is_some_and(|(now, later)| total(now) + total(later) <= least)
    }

    /// The most that modules which a plan for now leaves fitted can be credited later.
    fn most_worth(&self) -> Amount {
        let now = self.job.now;
        let minor = |price: &Price| Amount::from(price.amount_minor());
        let values = now.shelf.iter().filter_map(|item| item.unit_value.as_ref());
        let worth = now.offers.iter().filter_map(|offer| offer.surplus_value.as_ref()).chain(values).map(minor);
        let slots = Amount::try_from(self.desk.planner.machine().platform().slots().len()).unwrap_or(Amount::MAX >> 64);
        let credits: Amount = now.present.credits.values().map(minor).sum();
        (credits + slots * worth.max().unwrap_or(0)) * Amount::from(now.machines)
    }

    /// The best plan for now of those offers alone from which the end would be met if all were bought at once.
    fn seed(&self, once: &Plan, budget: &mut Budget<'_>) -> Result<Option<Plan>, Spent> {
        let mut now = self.job.now.clone();
        let modules: Vec<_> = once.population.modules().map(|(_, fitted)| &fitted.module).collect();
        now.offers.retain(|offer| modules.contains(&&offer.module));
        self.desk.planner.proved(&now, budget)
    }

    /// The best plan that follows one; kept where the two are the best so far.
    fn follow(&mut self, plan: Plan, budget: &mut Budget<'_>) -> Result<Option<(Plan, Plan)>, Spent> {
        let following = self.job.following(&plan);
        let Some(later) = self.job.planner.proved(&following, budget)? else { return Ok(None) };
        let key = |now: &Plan, later: &Plan| (total(now) + total(later), total(now));
        // of equal ones the one that is cheaper now
        if self.best.as_ref().is_none_or(|(now, then)| key(&plan, &later) < key(now, then)) {
            self.best = Some((plan.clone(), later.clone()));
        }
        Ok(Some((plan, later)))
    }
}
