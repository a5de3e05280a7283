use crate::assess::Planner;
use crate::finding::Finding;
use crate::purchase::verbs::sequence::Job;
use crate::purchase::{PlanRequest, Present, RequestError, RequestProblem, Stages};
use crate::rule::Rule;
use crate::stated::FieldPath;
use crate::unit::{Currency, Price};

impl Planner<'_> {
    /// The cheapest way to meet one request now and another one later, so that today's purchase does not throw
    /// tomorrow's away, beside what it costs to plan each alone.
    ///
    /// The later request brings its own wishes, offers (the prices assumed), charges and labour; what is present
    /// and on the shelf then follows from the plan for now ([`PlanRequest::after`]), with what the later request's
    /// own shelf adds. An offer of the same id as one of today's has so many fewer units as were bought today.
    ///
    /// Of all plans for now that keep, buy and fit the same, the best in the documented order is looked at, each with the best
    /// plan that follows it; as in [`Planner::plans`], orders that could be smaller at no loss are left out. Buying
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
        let question = "what is cheapest now and later together";
        now.check_cheapest(self.machine(), question)?;
        later.check_cheapest(self.machine(), question)?;
        check_together(now, later)?;
        let currency = now.currency().or(later.currency());
        let now = in_currency(now, currency).as_it_runs(self.machine()).into_owned();
        let (now, later) = (&now, &in_currency(later, currency));
        // what is uneven after the first purchase may stay so in the second
        let uneven = self.rules().clone().accepting_unevenness();
        let bounding = if self.may_be_uneven(now, later) { self.under(&uneven) } else { *self };
        Ok(Job { planner: *self, bounding, now, later }.answer())
    }

    /// Whether a plan for now may carry a warning on evenness that later plans refuse. Where nothing is present, there is
    /// nothing that was so before.
    fn may_be_uneven(&self, now: &PlanRequest, later: &PlanRequest) -> bool {
        let is_uneven = |finding: &Finding| {
            finding.severity >= later.refuse_from
                && self.rules().get(finding.code.as_str()).is_some_and(Rule::is_evenness)
        };
        let present = &now.present.population;
        let carries = || self.assess(present).is_ok_and(|present| present.findings.iter().any(is_uneven));
        now.refuse_from > later.refuse_from || present.modules().next().is_some() && carries()
    }
}

/// The same request, in a currency where it is in none.
fn in_currency(request: &PlanRequest, currency: Option<Currency>) -> PlanRequest {
    let nothing = currency.filter(|_| request.currency().is_none()).map(|currency| Price::new(0, currency));
    PlanRequest { labour_per_handling: request.labour_per_handling.or(nothing), ..request.clone() }
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
            let place = FieldPath::of("later");
            problems.push(RequestProblem::TwoCurrencies { place, found, expected });
        }
    }
    for (index, item) in later.shelf.iter().enumerate() {
        let known = now.shelf.iter().position(|other| other.id == item.id);
        problems.extend(known.map(|first| RequestProblem::GivenTwice {
            what: "shelf item",
            id: item.id.clone(),
            first: FieldPath::of("shelf").index(first),
            second: FieldPath::of("later").field("shelf").index(index),
        }));
    }
    if problems.is_empty() { Ok(()) } else { Err(RequestError { problems }) }
}
