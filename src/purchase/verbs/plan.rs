use crate::assess::Planner;
use crate::finding::Severity;
use crate::purchase::engine::{Engine, Goal, Needs, RequestRules};
use crate::purchase::verbs::why_not::why_not;
use crate::purchase::{Cheaper, Outcome, Plan, PlanNote, PlanRequest, RequestError, Saving};
use crate::search::{Budget, StopReason};
use crate::stated::Schema;

impl Planner<'_> {
    /// Plans a request: the exact optimum in the documented order, or why there is none.
    ///
    /// ```
    /// use slotwright::assess::Planner;
    /// use slotwright::machine::Machine;
    /// use slotwright::module::Label;
    /// use slotwright::purchase::{Offer, PlanRequest};
    /// use slotwright::reference;
    /// use slotwright::rule::RuleBook;
    /// use slotwright::unit::{Capacity, DataRate, Price};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc())
    ///     .processor_named("1", "later")
    ///     .processor_named("2", "later")
    ///     .build()?;
    /// let rules = RuleBook::standard();
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let offer = Offer::new("lot-7".parse()?, module, Price::new(4_500, "EUR".parse()?), 40);
    ///
    /// let request = PlanRequest::new().usable_at_least(Capacity::from_gib(512)).offer(offer);
    /// let outcome = Planner::new(&machine, &rules).plan(&request)?;
    /// let plan = outcome.optimal().unwrap();
    /// assert_eq!(plan.lines[0].quantity, 16);
    /// assert_eq!(plan.cost.total.to_string(), "720.00 EUR");
    /// assert_eq!(plan.running_rate(), Some(DataRate::DDR4_2400));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// All problems of the request at once: an id given twice, amounts in two currencies, packs or smallest orders of
    /// none, breaks that do not rise in quantity or whose prices rise, slots that the machine lacks, pins or credits
    /// on slots without a module, amounts whose sum cannot be reckoned with.
    pub fn plan(&self, request: &PlanRequest) -> Result<Outcome, RequestError> {
        request.check(self.machine())?;
        let request = &*request.as_it_runs(self.machine());
        let rules = RequestRules::of(self.rules(), request);
        let engine = Engine::new(*self, request, &rules);
        let mut budget = engine.budget();
        let needs = Needs::of(request);
        let answer = engine.solve_paying(&needs, &mut budget);
        let (stopped, cost_at_least) = (answer.stopped, engine.bound(answer.at_least));
        let paid = engine.worth().map(|worth| (cost_at_least, engine.bound(answer.at_least + worth)));
        let written = answer.found.map(|found| engine.write(&needs, &found, &mut budget)).transpose();
        Ok(match (written, stopped) {
            (Err(reason), _) => Outcome::Stopped { schema: Schema, best: None, cost_at_least, reason },
            (Ok(mut best), Some(reason)) => {
                let not_proved = |(_, most)| PlanNote::QualityNotProved { most };
                best.iter_mut().for_each(|plan| plan.notes.extend(paid.map(not_proved)));
                Outcome::Stopped { schema: Schema, best, cost_at_least, reason }
            }
            (Ok(None), None) => Outcome::Infeasible(why_not(&engine)),
            (Ok(Some(mut plan)), None) => {
                match paid {
                    None => self.say_savings(request, &mut plan),
                    Some((least, most)) => plan.notes.push(PlanNote::WorthPaying { least, most }),
                }
                match self.without_warnings(request, &plan) {
                    Ok(without) => plan.without_warnings = without.map(Box::new),
                    Err(reason) => plan.notes.push(PlanNote::WarningsNotCompared { reason }),
                }
                Outcome::Optimal(plan)
            }
        })
    }

    /// The best plan of a request that is checked, if there is one.
    pub(crate) fn proved(&self, request: &PlanRequest, budget: &mut Budget<'_>) -> Result<Option<Plan>, StopReason> {
        match self.found(request, budget) {
            (plan, None) => Ok(plan),
            (_, Some(reason)) => Err(reason),
        }
    }

    /// The best plan of a request that is checked, as far as the search came, and why it ended before it was through, if it
    /// did.
    pub(crate) fn found(&self, request: &PlanRequest, budget: &mut Budget<'_>) -> (Option<Plan>, Option<StopReason>) {
        let request = &*request.as_it_runs(self.machine());
        let rules = RequestRules::of(self.rules(), request);
        let engine = Engine::new(*self, request, &rules);
        let needs = Needs::of(request);
        let answer = engine.solve(&needs, Goal::Best, budget);
        match answer.found.map(|found| engine.write(&needs, &found, budget)).transpose() {
            Ok(plan) => (plan, answer.stopped),
            Err(reason) => (None, Some(reason)),
        }
    }

    /// Says of a plan for which no warning is accepted what accepting some would save.
    fn say_savings(&self, request: &PlanRequest, plan: &mut Plan) {
        if request.savings_nodes == 0 || request.refuse_from > Severity::Warning || plan.handlings == 0 {
            return;
        }
        let (accepting, stopped) = self.savings_beside(request, Some(plan), request.savings_nodes);
        let cheaper = |saving: &Saving| Some(Cheaper::of(&saving.plan, saving.saves?, &saving.warnings));
        plan.accepting = accepting.iter().filter_map(cheaper).collect();
        plan.notes.extend(stopped.map(|reason| PlanNote::SavingsNotKnown { reason }));
    }

    /// The cheapest plan without warnings, where warnings are allowed and the plan has some.
    fn without_warnings(&self, request: &PlanRequest, plan: &Plan) -> Result<Option<Plan>, StopReason> {
        let warned = plan.assessment.from_severity(Severity::Warning).next().is_some();
        if request.refuse_from <= Severity::Warning || !warned {
            return Ok(None);
        }
        let stricter = request.clone().refuse_from(Severity::Warning);
        self.proved(&stricter, &mut self.budget(request.nodes))
    }
}
