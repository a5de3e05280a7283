use std::cmp::Reverse;

use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::purchase::ground::{Ground, Needs};
use crate::purchase::planning::Author;
use crate::purchase::solve::{Found, PlanKey, Solver};
use crate::purchase::{Plan, PlanRequest, RequestError};
use crate::search::{Budget, Spent};
use crate::unit::{Bandwidth, DataRate};

/// The plans that no other plan beats.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Unbeaten {
    /// The plans, the cheapest first.
    pub plans: Vec<Plan>,
    /// Whether the search used up its nodes, so that some may be missing.
    pub stopped: bool,
}

/// What plans are compared in; less is better.
type Merits = (i128, Reverse<Option<DataRate>>, Reverse<Bandwidth>, Reverse<usize>);

fn merits(key: &PlanKey) -> Merits {
    (key.cost, key.rate, Reverse(key.bandwidth.0.1), key.free)
}

fn beats(a: &Merits, b: &Merits) -> bool {
    a != b && a.0 <= b.0 && a.1 <= b.1 && a.2 <= b.2 && a.3 <= b.3
}

impl Planner<'_> {
    /// The plans that meet a request and that no other plan beats in cost, running rate, bandwidth (its lower bound)
    /// and free slots: better in one, and not worse in any. Of plans that are equal in all four, the best in the
    /// [documented order](crate::purchase).
    ///
    /// The nodes of the request are those of all searches together.
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
    ///     .offer(offer("slow", "32GB 2Rx4 PC4-2133P-RB0-10", 3_000)?)
    ///     .offer(offer("fast", "32GB 2Rx4 PC4-2400T-RB2-11", 4_000)?);
    ///
    /// let unbeaten = Planner::new(&machine, &rules).unbeaten(&request)?;
    /// let costs: Vec<_> = unbeaten.plans.iter().map(|plan| plan.cost.total.to_string()).collect();
    /// assert_eq!(costs, ["240.00 EUR", "320.00 EUR"]); // eight of either, at 2133 and at 2400 MT/s
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// As [`Planner::plan`].
    pub fn unbeaten(&self, request: &PlanRequest) -> Result<Unbeaten, RequestError> {
        request.check(self.machine())?;
        let ground = Ground::new(self, request);
        let mut found: Vec<Found<'_>> = Vec::new();
        let stopped = gather(&ground, request, &mut found).is_err();
        let all: Vec<Merits> = found.iter().map(|found| merits(&found.key)).collect();
        found.retain(|found| !all.iter().any(|other| beats(other, &merits(&found.key))));
        found.sort_by(|a, b| a.key.cmp(&b.key));
        found.dedup_by(|later, earlier| merits(&later.key) == merits(&earlier.key));
        let author = Author { planner: self, request, ground: &ground };
        let plans = found.iter().map(|found| author.write(found, author.notes())).collect();
        Ok(Unbeaten { plans, stopped })
    }
}

/// The cheapest plans for every rate, number of free slots and bandwidth that matter: each search asks for a little
/// more than a plan that is known.
fn gather<'a>(ground: &Ground<'a>, request: &'a PlanRequest, all: &mut Vec<Found<'a>>) -> Result<(), Spent> {
    let mut budget = Budget::new(request.nodes);
    let base = Needs::of(request);
    let tiny = Bandwidth::from_mbps(1, 1_000_000).unwrap_or(Bandwidth::ZERO);
    let steps = ground.grid.machine.rate_steps().iter().copied().map(Some);
    for rate in std::iter::once(None).chain(steps) {
        let mut free_slots = base.free_slots;
        loop {
            let needs = Needs { rate: base.rate.max(rate), free_slots, ..base };
            let (mut bandwidth, mut fewest) = (base.bandwidth, None);
            loop {
                let mut solver = Solver::new(ground, request, Needs { bandwidth, ..needs });
                solver.run(&mut budget)?;
                let Some(found) = solver.best else { break };
                bandwidth = Some(found.key.bandwidth.0.1 + tiny);
                fewest = fewest.max(Some(Reverse(found.key.free.0)));
                if !all.iter().any(|known| known.key == found.key) {
                    all.push(found);
                }
            }
            let Some(Reverse(fewest)) = fewest else { break };
            free_slots = fewest + 1;
        }
    }
    Ok(())
}
