//! What the best plans of a market are, whatever is required of them.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use slotwright::purchase::{Plan, PlanRequest};
use slotwright::unit::Name;

use super::market::{Candidate, Deal, Key, Lines, Market, Reuse, amount, lines_of, source_is};
use crate::judge;
use crate::purchase_oracle::{facts_known, is_of_one_part, order, stand_ins};

/// A plan: a population with its best use of what is present and its best purchase.
#[derive(Debug, Clone)]
pub struct Found<'c> {
    pub key: Key,
    pub candidate: &'c Candidate,
    reuse: &'c Reuse,
}

impl Market<'_, '_> {
    /// Whether a population has what is required of it, cost aside.
    fn meets(&self, wants: &PlanRequest, candidate: &Candidate) -> bool {
        let (key, population) = (&candidate.key, &candidate.population);
        let modules = judge::modules(population);
        wants.usable_at_least_mib.is_none_or(|least| candidate.usable >= least)
            && wants.usable_at_most_mib.is_none_or(|most| candidate.usable <= most)
            && wants.rate_at_least_mts.is_none_or(|least| key.rate.0 >= Some(least))
            && wants.bandwidth_at_least_mbps.is_none_or(|least| key.bandwidth.0.1 >= least)
            && wants.free_slots_at_least.is_none_or(|least| key.free.0 >= least)
            && wants.kinds.as_ref().is_none_or(|kinds| modules.iter().all(|module| kinds.contains(&module.kind())))
            && wants.one_part_number.is_none_or(|scope| is_of_one_part(self.planner.machine(), population, scope))
            && (!wants.known_facts_only || modules.iter().all(|module| facts_known(module)))
    }

    fn within(wants: &PlanRequest, cost: i64) -> bool {
        wants.budget.is_none_or(|budget| cost <= amount(Some(budget)))
    }

    /// How many of a sort must be bought or taken, all machines together.
    fn needed(wants: &PlanRequest, wanted: &[usize], reuse: &Reuse, sort: usize) -> usize {
        (wanted[sort] - reuse.reused[sort]) * wants.machines as usize
    }

    /// How many of some sorts must be left over, all machines together.
    fn spares(&self, wants: &PlanRequest, wanted: &[usize], reuse: &Reuse, group: &[usize]) -> usize {
        if group.iter().all(|&sort| wanted[sort] == 0) {
            return 0;
        }
        let pulled: usize = group.iter().map(|&sort| self.present(sort) - reuse.reused[sort]).sum();
        (wants.spares as usize).saturating_sub(pulled * wants.machines as usize)
    }

    /// The cheapest purchase.
    fn cheapest(&self, wants: &PlanRequest, wanted: &[usize], reuse: &Reuse) -> Option<Deal> {
        let mut sums: BTreeMap<BTreeSet<Name>, Deal> = BTreeMap::from([(BTreeSet::new(), Deal::default())]);
        for group in stand_ins(wants, &self.sorts) {
            let spares = self.spares(wants, wanted, reuse, &group);
            // by how many are left over, too
            let mut all: BTreeMap<(BTreeSet<Name>, usize), Deal> =
                sums.into_iter().map(|(asked, deal)| ((asked, 0), deal)).collect();
            for sort in group {
                let deals = self.cheapest_deals(wants, sort, Self::needed(wants, wanted, reuse, sort), spares);
                let mut next = BTreeMap::new();
                for ((asked, over), sum) in &all {
                    for ((further, more), deal) in &deals {
                        keep(&mut next, (asked | further, (over + more).min(spares)), sum.with(deal));
                    }
                }
                all = next;
            }
            let enough = all.into_iter().filter(|((_, over), _)| *over >= spares);
            sums = enough.map(|((asked, _), deal)| (asked, deal)).collect();
        }
        let charged = sums.into_values().map(|deal| Deal { cost: deal.cost + self.charges(&deal.lines), ..deal });
        charged.min()
    }

    /// The best plan of each population that meets what is wanted.
    pub fn each(&self, wants: &PlanRequest) -> Vec<Found<'_>> {
        let mut known: BTreeMap<(&[usize], &[usize]), Option<Deal>> = BTreeMap::new();
        let mut each = Vec::new();
        for candidate in self.legal.iter().filter(|candidate| self.meets(wants, candidate)) {
            let with = |reuse| {
                let class = (candidate.wanted.as_slice(), reuse_of(reuse));
                let deal = known.entry(class).or_insert_with(|| self.cheapest(wants, &candidate.wanted, reuse));
                deal.as_ref().map(|deal| Found { key: candidate.key_with(reuse, deal), candidate, reuse })
            };
            let best = candidate.reuses.iter().filter_map(with).min_by(|a, b| a.key.cmp(&b.key));
            each.extend(best.filter(|found| Self::within(wants, found.key.cost)));
        }
        each
    }

    /// The best plan.
    pub fn best(&self, wants: &PlanRequest) -> Option<Found<'_>> {
        self.each(wants).into_iter().min_by(|a, b| a.key.cmp(&b.key))
    }

    /// Of all plans with one list of purchase lines the best, the best first. Plans of which one order could be smaller
    /// at no greater cost count for nothing; the best of all is none. No two sorts work alike.
    // What a supplier charges is left out of that: a charge that falls away with an order is not seen.
    pub fn plans(&self, wants: &PlanRequest) -> Vec<Found<'_>> {
        // a purchase costs the same whatever is made of it: of each class of populations the best comes first
        let mut classes: BTreeMap<(&[usize], &[usize]), Found<'_>> = BTreeMap::new();
        for candidate in self.legal.iter().filter(|candidate| self.meets(wants, candidate)) {
            for reuse in &candidate.reuses {
                let key = candidate.key_with(reuse, &Deal::default());
                let found = Found { key, candidate, reuse };
                let known = classes.entry((&candidate.wanted, &reuse.reused)).or_insert_with(|| found.clone());
                if found.key < known.key {
                    *known = found;
                }
            }
        }
        let mut groups: BTreeMap<Lines, Found<'_>> = BTreeMap::new();
        for found in classes.into_values() {
            let Found { candidate, reuse, .. } = found;
            let mut sums = vec![Deal::default()];
            for sort in 0..candidate.wanted.len() {
                let needed = Self::needed(wants, &candidate.wanted, reuse, sort);
                let needs = (needed, self.spares(wants, &candidate.wanted, reuse, &[sort]));
                let mut deals = self.deals(wants, sort, needs);
                deals.retain(|deal| {
                    let cost = |lines: &Lines| self.settle(wants, sort, lines, needs);
                    self.is_lean(&deal.lines, deal.cost, cost)
                });
                sums = sums.iter().flat_map(|sum| deals.iter().map(|deal| sum.with(deal))).collect();
            }
            for deal in sums {
                let deal = Deal { cost: deal.cost + self.charges(&deal.lines), ..deal };
                let found = Found { key: candidate.key_with(reuse, &deal), ..found.clone() };
                let better = groups.get(&deal.lines).is_none_or(|known| found.key < known.key);
                if better && Self::within(wants, found.key.cost) {
                    groups.insert(deal.lines, found);
                }
            }
        }
        let mut plans: Vec<_> = groups.into_values().collect();
        plans.sort_by(|a, b| a.key.cmp(&b.key));
        plans
    }

    /// Whether no order could be smaller for the same cost or less.
    fn is_lean(&self, lines: &Lines, now: i64, cost: impl Fn(&Lines) -> Option<i64>) -> bool {
        lines.iter().enumerate().all(|(index, (source, kept))| {
            let offer = self.base.offers.iter().find(|offer| source_is(source, &offer.id));
            let Some(offer) = offer else { return true };
            let fewer = (0..kept.0).filter(|&fewer| fewer == 0 || order(offer, fewer as u32).is_some());
            fewer.into_iter().all(|fewer| {
                let mut lines = lines.clone();
                lines[index].1 = Reverse(fewer);
                lines.retain(|(_, kept)| kept.0 > 0);
                cost(&lines).is_none_or(|cost| cost > now)
            })
        })
    }

    /// What decides of a plan, by what it says itself; `None` where its population is none that may be.
    pub fn key_of(&self, plan: &Plan) -> Option<Key> {
        let candidate = self.legal.iter().find(|candidate| candidate.population == plan.population)?;
        let lines = lines_of(plan);
        Some(Key {
            cost: plan.cost.total.amount_minor(),
            touched: plan.handlings > 0,
            outside: judge::breaks_rows(&plan.assessment),
            bare: judge::bare(&plan.assessment),
            rate: Reverse(plan.running_rate()),
            bandwidth: Reverse(judge::bandwidth(&plan.assessment)),
            spread: judge::spread(self.planner.machine(), &plan.assessment),
            parts: judge::modules(&plan.population).len(),
            free: Reverse(plan.free_slots.len()),
            handlings: plan.handlings,
            turn: candidate.key.turn,
            units: lines.iter().map(|(_, kept)| kept.0).sum(),
            lines,
        })
    }
}

fn reuse_of(reuse: &Reuse) -> &[usize] {
    &reuse.reused
}

/// Keeps the better purchase of those that leave open the same.
pub fn keep<K: Ord>(deals: &mut BTreeMap<K, Deal>, key: K, deal: Deal) {
    let known = deals.entry(key).or_insert_with(|| deal.clone());
    if deal < *known {
        *known = deal;
    }
}

impl Deal {
    /// Both purchases.
    fn with(&self, other: &Self) -> Self {
        let mut lines = [self.lines.as_slice(), &other.lines].concat();
        lines.sort();
        Self { cost: self.cost + other.cost, units: self.units + other.units, lines }
    }
}

impl Candidate {
    fn key_with(&self, reuse: &Reuse, deal: &Deal) -> Key {
        let Reuse { cost, handlings, .. } = *reuse;
        let lines = deal.lines.clone();
        Key { cost: cost + deal.cost, touched: handlings > 0, handlings, units: deal.units, lines, ..self.key.clone() }
    }
}
