use std::collections::BTreeSet;

use crate::assess::{Assessment, Planner};
use crate::finding::Finding;
use crate::population::Occupant;
use crate::purchase::engine::{Amount, Stock, StockFilter};
use crate::purchase::{
    ModuleSource, NoStandIn, Offer, PlanRequest, RequestError, RequestProblem, StandIn, WhyNoStandIn,
};
use crate::stated::Schema;
use crate::unit::{Name, Price};

impl Planner<'_> {
    /// The shelf items and offers of a request that may replace the module in a slot of what is present: with no new
    /// finding at or above [`PlanRequest::refuse_from`], and every processor's memory at the rate that it has now. A module
    /// that is faulty is replaced as it was while it worked. Where the slot is empty, because what failed is gone, the rate
    /// must be what the request asks for. The shelf first, then by what one costs and id. What a request says of kinds, known facts, conditions and lead times holds
    /// for them too.
    ///
    /// ```
    /// use slotwright::population::Population;
    /// use slotwright::purchase::{PlanRequest, ShelfItem};
    /// use slotwright::{Label, Machine, Planner, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let module = |label: &str| label.parse::<Label>().map(|label| label.to_module());
    /// let mut population = Population::new();
    /// for slot in ["A1", "B1", "C1", "D1"] {
    ///     population = population.with(slot.parse()?, module("32GB 2Rx4 PC4-2400T-RB2-11")?);
    /// }
    /// let request = PlanRequest::new().present(population).shelf([
    ///     ShelfItem::new("slower".parse()?, module("32GB 2Rx4 PC4-2133P-RB0-10")?, 1),
    ///     ShelfItem::new("smaller".parse()?, module("16GB 2Rx4 PC4-2400T-RA1-11")?, 1),
    ///     ShelfItem::new("faster".parse()?, module("32GB 2Rx4 PC4-2666V-RB2-12")?, 1),
    /// ]);
    ///
    /// let found = Planner::new(&machine, &rules).stand_ins(&request, "B1")?;
    /// let sources: Vec<_> = found.iter().map(|found| found.source.to_string()).collect();
    /// assert_eq!(sources, ["shelf faster"]);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Planner::plan`], and a slot that the board does not have or that holds another device.
    pub fn stand_ins(&self, request: &PlanRequest, slot: &str) -> Result<Vec<StandIn>, RequestError> {
        Ok(self.stand_ins_and_others(request, slot)?.0)
    }

    /// The same, and all others of the shelf and of the offers, each with what is in its way.
    ///
    /// ```
    /// use slotwright::population::Population;
    /// use slotwright::purchase::{PlanRequest, ShelfItem, WhyNoStandIn};
    /// use slotwright::{Label, Machine, Planner, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let module = |label: &str| label.parse::<Label>().map(|label| label.to_module());
    /// let request = PlanRequest::new()
    ///     .present(Population::new().with("A1".parse()?, module("32GB 2Rx4 PC4-2400T-RB2-11")?))
    ///     .shelf([ShelfItem::new("slower".parse()?, module("32GB 2Rx4 PC4-2133P-RB0-10")?, 1)]);
    ///
    /// let (found, others) = Planner::new(&machine, &rules).stand_ins_and_others(&request, "A1")?;
    /// assert!(found.is_empty() && others[0].why == WhyNoStandIn::OtherRate);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Planner::stand_ins`].
    pub fn stand_ins_and_others(
        &self,
        request: &PlanRequest,
        slot: &str,
    ) -> Result<(Vec<StandIn>, Vec<NoStandIn>), RequestError> {
        request.check(self.machine())?;
        let platform = self.machine().platform();
        let present = &request.present.population;
        let what = "to be replaced";
        let problem = |problem| RequestError { problems: vec![problem] };
        if platform.slot_named(slot).is_none() {
            let allowed = platform.slot_labels();
            return Err(problem(RequestProblem::UnknownSlot { slot: Name::lossy(slot), what, allowed }));
        }
        let label = Name::lossy(slot);
        // a faulty module is judged as it was while it worked; of an empty slot nobody knows what was there
        let mut working = present.clone();
        let replaces = match present.get(slot) {
            Some(Occupant::Module(fitted)) => {
                working.put(label.clone(), Occupant::module(fitted.module.clone()));
                true
            }
            Some(Occupant::Blank) | None => false,
            Some(Occupant::OtherDevice(_)) => return Err(problem(RequestProblem::NoModule { slot: label, what })),
        };
        let Ok(now) = self.assess(&working) else { return Ok((Vec::new(), Vec::new())) };
        let findings: BTreeSet<&Finding> = now.findings.iter().collect();
        let rates = |assessment: &Assessment| {
            let domains = &assessment.figures.running_rate.domains;
            domains.iter().map(|domain| domain.rate_mts).collect::<Vec<_>>()
        };
        let filter = StockFilter { conditions: request.conditions.clone(), lead_time: request.lead_time_at_most_days };
        let stands_in = |stock: Stock<'_>| -> Result<StandIn, WhyNoStandIn> {
            let module = stock.module();
            let is_taken = filter.allows(stock)
                && request.kinds.as_ref().is_none_or(|kinds| kinds.contains(&module.kind()))
                && (!request.known_facts_only || module.is_known());
            if stock.units() == 0 {
                return Err(WhyNoStandIn::NoneLeft);
            }
            if !is_taken {
                return Err(WhyNoStandIn::NotWanted);
            }
            let occupant = Occupant::module(module.clone());
            let mut population = present.clone();
            population.put(label.clone(), occupant);
            let then =
                self.assess(&population).map_err(|error| WhyNoStandIn::Other(Name::lossy(&error.to_string())))?;
            let is_new = |finding: &&Finding| !findings.contains(*finding);
            let new_findings: Vec<Finding> = then.findings.iter().filter(is_new).cloned().collect();
            let refused = new_findings.iter().filter(|finding| finding.severity >= request.refuse_from);
            // the worst, and of several the first
            if let Some(worst) = refused.rev().max_by_key(|finding| finding.severity) {
                return Err(WhyNoStandIn::NewFinding(Box::new(worst.clone())));
            }
            let source = stock.source();
            let cost = match stock {
                Stock::Shelf(item) => item.unit_value,
                Stock::Offer(offer, _) => cost_of_one(request, offer),
            };
            let usable_mib = then.figures.usable.total_mib;
            let runs = match (replaces, request.rate_at_least_mts) {
                (true, _) => rates(&then) == rates(&now),
                (false, None) => true,
                (false, Some(least)) => rates(&then).into_iter().all(|rate| rate.is_some_and(|rate| rate >= least)),
            };
            let stand_in = StandIn { schema: Schema, source, module: module.clone(), cost, usable_mib, new_findings };
            if runs { Ok(stand_in) } else { Err(WhyNoStandIn::OtherRate) }
        };
        let stocks = request.shelf.iter().map(Stock::Shelf).chain(request.offers.iter().map(Stock::offer));
        let (mut found, mut others) = (Vec::new(), Vec::new());
        for stock in stocks {
            match stands_in(stock) {
                Ok(stand_in) => found.push(stand_in),
                Err(why) => others.push(NoStandIn { source: stock.source(), module: stock.module().clone(), why }),
            }
        }
        found.sort_by(|a, b| {
            let key = |found: &StandIn| {
                (matches!(found.source, ModuleSource::Offer { .. }), found.cost.map_or(0, Price::amount_minor))
            };
            key(a).cmp(&key(b)).then_with(|| a.source.cmp(&b.source))
        });
        Ok((found, others))
    }
}

/// What one module of an offer costs at least, with what its supplier charges.
fn cost_of_one(request: &PlanRequest, offer: &Offer) -> Option<Price> {
    let stock = Stock::offer(offer);
    let kept = stock.quantities(1, 1).into_iter().filter(|&kept| kept > 0);
    let least = kept.map(|kept| stock.cost(kept)).min()?;
    let charge = offer.supplier.as_ref().and_then(|supplier| request.supplier_charges.get(supplier));
    let charge = charge.map_or(0, |charge| Amount::from(charge.amount_minor()));
    let minor = u64::try_from(least + charge).unwrap_or(u64::MAX);
    Some(Price::new(minor, offer.unit_price.currency()))
}
