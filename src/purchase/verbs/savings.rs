use crate::assess::Planner;
use crate::finding::Severity;
use crate::purchase::verbs::why_not::warnings;
use crate::purchase::{Plan, PlanRequest, RequestError, Saving, Savings};
use crate::search::StopReason;
use crate::stated::Schema;
use crate::unit::{Cost, Name, Price};

impl Planner<'_> {
    /// What accepting warnings would save: all that the cheapest plan under the error rules has, and each of them by
    /// itself. Only what saves something is named, and all together only where that saves more than any by itself that was
    /// looked at to the end. What is an error stays refused. A request that accepts warnings is looked at as if it did not.
    ///
    /// ```
    /// use slotwright::purchase::{Offer, PlanRequest};
    /// use slotwright::{Capacity, Label, Machine, Planner, Price, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let offer = |id: &str, label: &str, cents: u64, stock| -> Result<Offer, Box<dyn std::error::Error>> {
    ///     Ok(Offer::new(id.parse()?, label.parse::<Label>()?.to_module(), Price::new(cents, "EUR".parse()?), stock))
    /// };
    /// // three channels of two and one of one, or four of two
    /// let request = PlanRequest::new()
    ///     .usable_at_least(Capacity::from_gib(7 * 16))
    ///     .offer(offer("lot-7", "16GB 1Rx4 PC4-2400T-RC2-11", 2_000, 8)?);
    ///
    /// let savings = Planner::new(&machine, &rules).savings(&request)?;
    /// let saving = &savings.accepting[0];
    /// let codes: Vec<_> = saving.warnings.iter().map(|code| code.as_str()).collect();
    /// assert_eq!(codes, ["channels-alike", "uneven-interleave"]);
    /// assert!(saving.to_string().ends_with("saves 20.00 EUR: 140.00 EUR."));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Planner::plan`].
    pub fn savings(&self, request: &PlanRequest) -> Result<Savings, RequestError> {
        request.check_cheapest(self.machine(), "what accepting warnings would save")?;
        let request = request.as_it_runs(self.machine());
        let request = &PlanRequest { refuse_from: request.refuse_from.min(Severity::Warning), ..request.into_owned() };
        let strict = self.proved(request, &mut self.budget(request.nodes));
        let mut stopped = strict.as_ref().err().copied();
        let without = strict.ok().flatten();
        let mut accepting = Vec::new();
        if stopped.is_none() {
            (accepting, stopped) = self.savings_beside(request, without.as_ref(), request.nodes);
        }
        Ok(Savings { schema: Schema, without, accepting, stopped })
    }

    /// What accepting warnings would save beside the best plan without, each search within so many nodes; and why one ended
    /// before it was through, if it did.
    pub(crate) fn savings_beside(
        &self,
        request: &PlanRequest,
        without: Option<&Plan>,
        nodes: u64,
    ) -> (Vec<Saving>, Option<StopReason>) {
        let saving = |warnings: Vec<Name>, plan: Plan| {
            let minor =
                without.map(|without| without.cost.total.amount_minor().saturating_sub(plan.cost.total.amount_minor()));
            let saves = minor.map(|minor| Cost::new(minor, plan.cost.total.currency()));
            minor.is_none_or(|minor| minor > 0).then_some(Saving { warnings, saves, plan })
        };
        let request = &cheaper_than(request, without);
        let loose = PlanRequest { refuse_from: Severity::Error, ..request.clone() };
        let plan = match self.proved(&loose, &mut self.budget(nodes)) {
            Err(reason) => return (Vec::new(), Some(reason)),
            Ok(None) => return (Vec::new(), None),
            Ok(Some(plan)) => plan,
        };
        let (mut accepting, mut stopped) = (Vec::new(), None);
        let codes = warnings(&plan);
        if codes.len() > 1 {
            for code in &codes {
                match self.accepting(request, code, nodes) {
                    Err(reason) => stopped = Some(reason),
                    Ok(found) => accepting.extend(found.and_then(|plan| saving(vec![code.clone()], plan))),
                }
            }
        }
        let together = if codes.is_empty() { None } else { saving(codes, plan) };
        let cost = |saving: &Saving| saving.plan.cost.total.amount_minor();
        accepting.extend(together.filter(|all| accepting.iter().all(|one| cost(one) > cost(all))));
        accepting.sort_by_key(|saving| (cost(saving), saving.warnings.clone()));
        (accepting, stopped)
    }

    /// The best plan where the warnings of one rule are accepted.
    fn accepting(&self, request: &PlanRequest, code: &Name, nodes: u64) -> Result<Option<Plan>, StopReason> {
        let rules = self.rules().clone().accepting(code);
        self.under(&rules).proved(request, &mut self.budget(nodes))
    }
}

/// The same request for plans that cost less than another one. Nothing costs less than nothing but for credits: then any.
fn cheaper_than(request: &PlanRequest, plan: Option<&Plan>) -> PlanRequest {
    let least = plan.map(|plan| plan.cost.total).filter(|total| total.amount_minor() > 0);
    let below =
        least.and_then(|total| Some(Price::new(u64::try_from(total.amount_minor()).ok()? - 1, total.currency())));
    let budget = match (request.budget, below) {
        (Some(budget), Some(below)) if budget.amount_minor() < below.amount_minor() => Some(budget),
        (budget, below) => below.or(budget),
    };
    PlanRequest { budget, ..request.clone() }
}
