use crate::assess::Planner;
use crate::purchase::engine::{Engine, Goal, Needs, RequestRules};
use crate::purchase::{PlanRequest, Plans, RequestError};
use crate::stated::Schema;

impl Planner<'_> {
    /// The best plans of which no two buy or take the same: the first so many in the
    /// [documented order](crate::purchase), of all with one list of lines (source and number kept) only the best. The
    /// first is that of [`Planner::plan`].
    ///
    /// Beside that one, plans in which one order could be smaller, with all else as it is, for the same cost or less
    /// count for nothing (charges of suppliers left out, and modules that work alike taken as the same): "the same,
    /// and one module more for the shelf" is no plan of its own.
    ///
    /// The nodes of the request are those of all searches together.
    ///
    /// ```
    /// use slotwright::purchase::{Offer, PlanRequest};
    /// use slotwright::{Capacity, Label, Machine, Planner, Price, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc())
    ///     .processor_named("1", "later")
    ///     .processor_named("2", "later")
    ///     .build()?;
    /// let rules = RuleBook::standard();
    /// let offer = |id: &str, label: &str, cents: u64| -> Result<Offer, Box<dyn std::error::Error>> {
    ///     Ok(Offer::new(id.parse()?, label.parse::<Label>()?.to_module(), Price::new(cents, "EUR".parse()?), 24))
    /// };
    /// let request = PlanRequest::new()
    ///     .usable_at_least(Capacity::from_gib(256))
    ///     .offer(offer("large", "32GB 2Rx4 PC4-2400T-RB2-11", 4_000)?)
    ///     .offer(offer("small", "16GB 1Rx4 PC4-2400T-RC2-11", 2_100)?);
    ///
    /// let best = Planner::new(&machine, &rules).plans(&request, 2)?;
    /// let costs: Vec<_> = best.plans.iter().map(|plan| plan.cost.total.to_string()).collect();
    /// assert_eq!(costs, ["320.00 EUR", "336.00 EUR"]); // eight large ones; sixteen small ones
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Planner::plan`].
    pub fn plans(&self, request: &PlanRequest, most: usize) -> Result<Plans, RequestError> {
        request.check(self.machine())?;
        let request = &*request.as_it_runs(self.machine());
        let rules = RequestRules::of(self.rules(), request);
        let engine = Engine::new(*self, request, &rules);
        let needs = Needs::of(request);
        let mut budget = engine.budget();
        let (mut plans, mut excluded) = (Vec::new(), Vec::new());
        let least = match engine.worth() {
            Some(_) => engine.solve(&needs, Goal::Best, &mut budget).proved(),
            None => Ok(None),
        };
        let paying = match least {
            Ok(least) => least.and_then(|least| engine.paying(&needs, least.key.cost)),
            Err(reason) => return Ok(Plans { schema: Schema, plans, stopped: Some(reason) }),
        };
        let mut wanted = paying.into_iter().chain([needs]);
        let (mut asked, mut stopped) = (wanted.next(), None);
        while let Some(needs) = asked.as_ref().filter(|_| plans.len() < most) {
            let goal = if excluded.is_empty() { Goal::Best } else { Goal::Except(excluded.clone()) };
            let next = engine.solve(needs, goal, &mut budget).proved();
            let written = next.and_then(|next| {
                Ok(match next {
                    Some(next) => Some((engine.write(needs, &next, &mut budget)?, next)),
                    None => None,
                })
            });
            match written {
                Ok(Some((plan, next))) => {
                    excluded.push(next.key.list);
                    plans.push(plan);
                }
                // those that may cost more come first, then the others
                Ok(None) => asked = wanted.next(),
                Err(reason) => {
                    stopped = Some(reason);
                    break;
                }
            }
        }
        Ok(Plans { schema: Schema, plans, stopped })
    }
}
