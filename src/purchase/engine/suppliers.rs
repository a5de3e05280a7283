//! Which suppliers who charge are paid: a tree around the search. Where nothing is settled of some of them, no plan comes
//! before what the search finds; where that takes from one of these, each of paying and of barring him is searched.

use std::cmp::Reverse;
use std::collections::BTreeMap;
use std::rc::Rc;

use crate::purchase::engine::cost::{Amount, CostParts};
use crate::purchase::engine::goal::{Counts, Goal};
use crate::purchase::engine::key::PlanKey;
use crate::purchase::engine::search::{Found, Search};
use crate::purchase::engine::stock::{Standing, Standings, SupplierId};
use crate::search::{Budget, StopReason};

/// How suppliers stand, by what no plan that agrees with it comes before; of one key the last first, where more is settled.
type Nodes = BTreeMap<(Option<PlanKey>, Reverse<usize>), Standings>;

impl<'a> Search<'_, 'a> {
    /// Searches among all numbers, or with these alone; afterwards `best` is the best plan, if there is one.
    pub(crate) fn by_suppliers(&mut self, counts: Option<&Counts>, budget: &mut Budget<'_>) -> Result<(), StopReason> {
        self.settled = self.best.take();
        let mut open = Nodes::from([((None, Reverse(0)), self.context.classes.market.standings.clone())]);
        let mut all = 1;
        let mut ended = Ok(());
        while let Some(((key, _), standings)) = open.pop_first() {
            let is_beaten = |best: &Found<'a>| key.as_ref().is_some_and(|key| *key >= best.key);
            if self.settled.as_ref().is_some_and(|best| is_beaten(best) || matches!(self.goal, Goal::Any)) {
                break;
            }
            ended = self.at_node(&standings, counts, budget);
            if ended.is_err() {
                // single numbers say nothing of what all plans cost
                if counts.is_none() {
                    self.proved = self.least_of_rest(key.as_ref(), &open);
                }
                break;
            }
            let known = self.settled.as_ref().map(|best| &best.key);
            let found = self.best.take().filter(|found| known.is_none_or(|known| found.key < *known));
            let open_one = found.and_then(|found| Some((self.least_paid(&found)?, found)));
            let Some((supplier, found)) = open_one else { continue };
            let key = Some(found.key).max(key);
            for standing in [Standing::Barred, Standing::Paid] {
                let mut standings = standings.clone();
                standings.get_mut(supplier).into_iter().for_each(|own| *own = standing);
                open.insert((key.clone(), Reverse(all)), standings);
                all += 1;
            }
        }
        self.best = self.settled.take();
        self.classes = Rc::clone(&self.context.classes);
        (self.rest_costs, self.later_costs) = (None, None);
        ended
    }

    /// Searches where suppliers stand so, among plans that come before the best so far; afterwards `best` is the best there.
    pub(crate) fn at_node(
        &mut self,
        standings: &Standings,
        counts: Option<&Counts>,
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        // which of several lists is lean must not depend on shares
        let is_shared = self.goal.lists_taken() == 0;
        self.classes = self.context.classes.under(standings, is_shared, budget)?;
        self.best = self.settled.clone();
        (self.rest_costs, self.later_costs) = (None, None);
        match counts {
            Some(counts) => self.consider(counts, budget),
            None => self.run(budget),
        }
    }

    /// What plans cost at least that agree with a node at which the search was stopped, or with those not searched yet;
    /// `None` where what is found first is not what costs least.
    fn least_of_rest(&self, key: Option<&PlanKey>, open: &Nodes) -> Option<Amount> {
        let is_by_cost = matches!(self.goal, Goal::Best | Goal::Except(_)) && !self.needs.quality_first;
        let here = key.map_or(self.at_least(), |key| self.at_least().max(key.cost));
        let rest = open.keys().filter_map(|(key, _)| key.as_ref()).map(|key| key.cost);
        rest.chain([here]).min().filter(|_| is_by_cost)
    }

    /// Of the suppliers from whom is taken and of whom nothing is settled, the one of whose charge most is not paid.
    fn least_paid(&self, found: &Found<'a>) -> Option<SupplierId> {
        let market = &self.classes().market;
        let unpaid = |supplier: SupplierId| {
            let takes = found.sourcing.sources.iter().flat_map(|(_, sourced)| &sourced.takes);
            let own = takes.filter(|take| market.charging(take.stock) == Some(supplier));
            let paid: Amount = own.map(|take| take.cost().total() - take.without_share().cost().total()).sum();
            market.charge(supplier) - paid
        };
        let open = |supplier: &SupplierId| market.standings.get(*supplier) == Some(&Standing::Open);
        let taken_from = found.sourcing.suppliers.iter().copied().filter(open);
        taken_from.max_by_key(|&supplier| (unpaid(supplier), Reverse(supplier)))
    }

    /// Keeps a plan at what it costs with all charges, where that makes it the best.
    pub(crate) fn settle(&mut self, found: &Found<'a>, budget: &mut Budget<'_>) {
        let market = &self.classes().market;
        let mut found = found.clone();
        let takes = found.sourcing.sources.iter_mut().flat_map(|(_, sourced)| &mut sourced.takes);
        takes.for_each(|take| *take = take.without_share());
        let charges = found.sourcing.suppliers.iter().map(|&supplier| market.charge(supplier)).sum();
        let taken: CostParts = found.sourcing.sources.iter().map(|(_, sourced)| sourced.cost()).sum();
        found.cost = taken + found.handling + CostParts { charges, ..CostParts::default() };
        found.key = found.key.costing(found.cost.total(), self.needs.quality_first);
        let within = self.needs.budget.is_none_or(|budget| found.key.cost <= budget);
        if within && self.settled.as_ref().is_none_or(|best| found.key < best.key) {
            budget.note_best(found.key.cost);
            self.settled = Some(found);
        }
    }
}
