use crate::assess::Planner;
use crate::purchase::engine::{Bounds, Engine, Goal, Needs, RequestRules, SearchContext};
use crate::purchase::{PlanRequest, RequestError, TotalsNear};
use crate::stated::Schema;
use crate::unit::Capacity;

impl Planner<'_> {
    /// The even totals just below and above a wish that a request's modules can make, each with its best plan:
    /// its cost, and in its assessment the rate and bandwidth. What the request says of capacity is passed over;
    /// its other requirements stand.
    ///
    /// ```
    /// use slotwright::assess::Planner;
    /// use slotwright::machine::Machine;
    /// use slotwright::module::Label;
    /// use slotwright::purchase::{Offer, PlanRequest};
    /// use slotwright::reference;
    /// use slotwright::rule::RuleBook;
    /// use slotwright::unit::{Capacity, Price};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_6ch_2spc())
    ///     .processor_named("1", "later")
    ///     .processor_named("2", "later")
    ///     .build()?;
    /// let rules = RuleBook::standard();
    /// let offer = |id: &str, label: &str, cents: u64| -> Result<Offer, Box<dyn std::error::Error>> {
    ///     Ok(Offer::new(id.parse()?, label.parse::<Label>()?.to_module(), Price::new(cents, "EUR".parse()?), 24))
    /// };
    /// let request = PlanRequest::new()
    ///     .offer(offer("small", "16GB 2Rx8 PC4-2933Y-RE1-12", 2_000)?)
    ///     .offer(offer("large", "32GB 2Rx4 PC4-2933Y-RB2-12", 4_500)?);
    ///
    /// // 2 x 6 channels: 256 GB is not even (Advanced HPC, 9 Nov 2019)
    /// let near = Planner::new(&machine, &rules).totals_near(&request, Capacity::from_gib(256))?;
    /// let usable = |plan: Option<&slotwright::Plan>| plan.and_then(|p| p.assessment.figures.usable.total_mib.whole_gib());
    /// assert_eq!(usable(near.below.as_ref()), Some(192));
    /// assert_eq!(usable(near.exact.as_ref()), None);
    /// assert_eq!(usable(near.above.as_ref()), Some(384));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Planner::plan`].
    pub fn totals_near(&self, request: &PlanRequest, wish: Capacity) -> Result<TotalsNear, RequestError> {
        request.check_cheapest(self.machine(), "which even totals are near")?;
        let request = &*request.as_it_runs(self.machine());
        let rules = RequestRules::of(self.rules(), request);
        let engine = Engine::new(*self, request, &rules);
        let of = Needs::of(request);
        let mut budget = engine.budget();
        let context = match engine.context(&of.terms, &mut budget) {
            Ok(context) => context,
            Err(reason) => {
                let stopped = Some(reason);
                return Ok(TotalsNear {
                    schema: Schema,
                    wish_mib: wish,
                    below: None,
                    exact: None,
                    above: None,
                    stopped,
                });
            }
        };
        let mut near =
            TotalsNear { schema: Schema, wish_mib: wish, below: None, exact: None, above: None, stopped: None };
        let tiny = Capacity::from_mib(1);
        let shares = channel_shares(&context);
        let mut first = |shares: Vec<Capacity>, least: Capacity, most: Option<Capacity>| {
            shares.into_iter().find_map(|share| {
                let usable_at_most = most;
                let needs = Needs { usable_at_least: least, usable_at_most, even: Some(share), ..of.clone() };
                if !Bounds::new(&context.model, &needs).may_be_met() {
                    return None;
                }
                // what was found before a stop is no proof, yet a plan for this total
                let mut budget = engine.budget();
                let answer = engine.solve(&needs, Goal::Best, &mut budget);
                near.stopped = near.stopped.or(answer.stopped);
                match engine.write(&needs, &answer.found?, &mut budget) {
                    Ok(plan) => Some(plan),
                    Err(reason) => {
                        near.stopped = Some(reason);
                        None
                    }
                }
            })
        };
        let largest_first: Vec<Capacity> = shares.iter().rev().copied().collect();
        let below = match wish.mib() {
            0 => None,
            _ => first(largest_first, tiny, Some(wish.saturating_sub(tiny))),
        };
        let exact = first(shares.clone(), wish, Some(wish));
        let above = first(shares, wish + tiny, None);
        Ok(TotalsNear { below, exact, above, ..near })
    }
}

/// What one channel can hold of the modules at hand, smallest first: sums of up to as many modules as the widest
/// channel has slots.
fn channel_shares(context: &SearchContext<'_>) -> Vec<Capacity> {
    let widest = context.model.channels.values().iter().map(|channel| channel.slots.len()).max().unwrap_or(0);
    let mut sizes: Vec<Capacity> = context.classes.all.values().iter().map(|class| class.module.capacity()).collect();
    sizes.sort_unstable();
    sizes.dedup();
    let mut all: Vec<Capacity> = vec![Capacity::ZERO];
    for _ in 0..widest {
        let more: Vec<Capacity> = all.iter().flat_map(|&sum| sizes.iter().map(move |&size| sum + size)).collect();
        all.extend(more);
        all.sort_unstable();
        all.dedup();
    }
    all.retain(|share| !share.is_zero());
    all
}
