//! Spares: which modules stand in for each other, and how many units must be bought of them beside those that are fitted.

use std::collections::BTreeMap;

use crate::fill::ClassId;
use crate::module::MemoryModule;
use crate::purchase::engine::classes::{Class, ModuleClasses, count_of};
use crate::purchase::engine::joint::Sources;
use crate::purchase::engine::search::{Candidate, Search};
use crate::purchase::engine::sourcing::Wanted;
use crate::search::{Budget, StopReason};

/// What is asked of the stock of classes whose modules stand in for each other.
pub(crate) struct Order {
    /// How many units are to be fitted of each.
    classes: Vec<(ClassId, u32)>,
    /// How many units must be bought of any of them beside those that fitting takes in any case.
    further: u32,
}

/// The facts that modules which are spares of each other have in common.
pub(crate) fn stand_in(module: &MemoryModule, per_part: bool) -> MemoryModule {
    if per_part { module.clone().by_facts() } else { module.without_identity().by_facts() }
}

impl<'a> ModuleClasses<'a> {
    /// Finds out which classes stand in for each other; faulty modules for none.
    pub(crate) fn find_stand_ins(&mut self) {
        let mut first: BTreeMap<(bool, MemoryModule), ClassId> = BTreeMap::new();
        for (id, class) in self.all.iter_mut() {
            let key = (class.faulty, stand_in(class.module, self.spares_per_part));
            class.stands_in = *first.entry(key).or_insert(id);
        }
    }

    /// The classes that stand in for each other, by the first of them.
    pub(crate) fn stand_ins(&self, first: ClassId) -> impl Iterator<Item = (ClassId, &Class<'a>)> {
        self.all.iter().filter(move |(_, class)| class.stands_in == first)
    }

    /// How many units of these are on the shelf.
    pub(crate) fn on_shelf(&self, first: ClassId) -> u64 {
        self.stand_ins(first).map(|(_, class)| class.shelf_units(&self.market)).sum()
    }
}

impl<'a> Search<'_, 'a> {
    /// What is asked of the stock: what is to be fitted, and the spares of what is.
    pub(crate) fn orders(&self, candidate: &Candidate<'_>) -> Result<Vec<Order>, StopReason> {
        let all = self.classes().all.iter();
        let leaders = all.filter(|(id, class)| class.stands_in == *id).map(|(id, _)| id);
        let is_fitted =
            |first: &ClassId| self.classes().stand_ins(*first).any(|(class, _)| count_of(candidate.counts, class) > 0);
        leaders.filter(is_fitted).map(|first| self.order(candidate, first)).collect()
    }

    fn order(&self, candidate: &Candidate<'_>, first: ClassId) -> Result<Order, StopReason> {
        let (classes, spares) = (self.classes(), self.needs.terms.spares);
        let in_all = |each: usize| classes.in_all(each).ok_or(StopReason::INTERNAL_RANGE);
        let used_of = |class: ClassId| candidate.used.get(class).copied().unwrap_or(0);
        let mut order = Order { classes: Vec::new(), further: 0 };
        // what is fitted and comes from no shelf is bought in any case
        let (mut from_shelf, mut at_hand) = (0, classes.on_shelf(first));
        for (class, entry) in classes.stand_ins(first) {
            let count = count_of(candidate.counts, class);
            let fitted = in_all(count.checked_sub(used_of(class)).ok_or(StopReason::INTERNAL_RANGE)?)?;
            from_shelf += u64::from(fitted).min(entry.shelf_units(&classes.market));
            at_hand += u64::from(in_all(entry.present.len() - used_of(class))?);
            if count > 0 || spares > 0 && !entry.stock.is_empty() {
                order.classes.push((class, fitted));
            }
        }
        if spares > 0 {
            let further = (from_shelf + u64::from(spares)).saturating_sub(at_hand);
            order.further = u32::try_from(further).map_err(|_| StopReason::INTERNAL_RANGE)?;
        }
        Ok(order)
    }

    /// The best ways to fill an order, each beside the best ways to fill those before: every way to share what is bought
    /// beside is looked at.
    pub(crate) fn with_order(
        &self,
        before: Vec<Sources<'a>>,
        order: &Order,
        candidate: &Candidate<'_>,
        budget: &mut Budget<'_>,
    ) -> Result<Vec<Sources<'a>>, StopReason> {
        let best = self.goal.lists_taken() + 1;
        // by how many units are bought beside
        let mut shared = BTreeMap::from([(0, before)]);
        for (index, &(class, fitted)) in order.classes.iter().enumerate() {
            let is_last = index + 1 == order.classes.len();
            let mut next: BTreeMap<u32, Vec<Sources<'a>>> = BTreeMap::new();
            for further in 0..=order.further {
                let is_wanted = |shared: u32| if is_last { shared == order.further } else { shared <= order.further };
                let mut beside = shared.iter().filter(|(known, _)| is_wanted(*known + further)).peekable();
                if beside.peek().is_none() {
                    continue;
                }
                let own = self.of_class(class, self.wanted(class, (fitted, further), best), candidate, budget)?;
                for (known, before) in beside {
                    let with = before.iter().flat_map(|before| {
                        own.iter().map(|sourced| before.iter().cloned().chain([(class, sourced.clone())]).collect())
                    });
                    next.entry(known + further).or_default().extend(with);
                }
            }
            for ways in next.values_mut().filter(|ways| ways.len() > 1) {
                budget.work(u64::try_from(ways.len()).map_err(|_| StopReason::INTERNAL_RANGE)?)?;
                self.keep_best(ways, candidate, best);
            }
            shared = next;
        }
        Ok(shared.remove(&order.further).unwrap_or_default())
    }

    /// What is asked of one class, of which so many are to be fitted and so many bought beside.
    fn wanted(&self, class: ClassId, (fitted, further): (u32, u32), best: usize) -> Wanted {
        let shelf = self.classes().all.get(class).map_or(0, |entry| entry.shelf_units(&self.classes().market));
        let in_any_case = fitted.saturating_sub(u32::try_from(shelf).unwrap_or(u32::MAX));
        let bought = if further == 0 { 0 } else { in_any_case.saturating_add(further) };
        Wanted { fitted, bought, best }
    }

    fn keep_best(&self, ways: &mut Vec<Sources<'a>>, candidate: &Candidate<'_>, best: usize) {
        ways.sort_by_cached_key(|sources| {
            let sourcing = self.whole(sources.clone(), candidate);
            let parts = self.parts(&sourcing, candidate).len();
            (sourcing.cost.total(), parts, sourcing.units(), sourcing.list())
        });
        ways.dedup_by_key(|sources| self.whole(sources.clone(), candidate).list());
        ways.truncate(best);
    }
}

#[cfg(test)]
mod tests {
    use crate::assess::Planner;
    use crate::purchase::{Offer, Outcome, Plan, PlanRequest, ShelfItem};
    use crate::rule::RuleBook;
    use crate::stated::Scope;
    use crate::testing::{board_of, machine, name, plain, processor};
    use crate::unit::{Capacity, Price};

    /// Of two parts that work alike there are two for 10 each and two for 20 each; two modules are to be fitted.
    fn plan(asked: impl Fn(PlanRequest) -> PlanRequest) -> Option<Plan> {
        let (machine, rules) = (machine(board_of(1, 2, 1), processor()), RuleBook::standard());
        let part = |part: &str| plain().to_builder().part_number(name(part)).build().unwrap();
        let price = |minor: u64| Price::new(minor, "EUR".parse().unwrap());
        let request = PlanRequest::new().usable_at_least(Capacity::from_gib(64)).savings_nodes(0);
        let request = request.offer(Offer::new(name("cheap"), part("a"), price(10), 2));
        let request = request.offer(Offer::new(name("dear"), part("b"), price(20), 3));
        match Planner::new(&machine, &rules).plan(&asked(request)).unwrap() {
            Outcome::Optimal(plan) => Some(plan),
            _ => None,
        }
    }

    fn bought(plan: &Plan) -> Vec<(String, usize)> {
        plan.lines.iter().map(|line| (line.source.to_string(), line.quantity)).collect()
    }

    fn lines(lines: &[(&str, usize)]) -> Vec<(String, usize)> {
        lines.iter().map(|&(source, quantity)| (source.to_owned(), quantity)).collect()
    }

    #[test]
    fn any_part_that_works_alike_is_a_spare() {
        let plan = plan(|request| request.spares(1)).unwrap();
        assert_eq!(bought(&plan), lines(&[("offer cheap", 2), ("offer dear", 1)]));
        assert_eq!(
            plan.population.modules().filter(|(_, fitted)| fitted.module.part_number() == Some(&name("a"))).count(),
            2
        );
        let spare = &plan.spares[0];
        assert_eq!((spare.bought, spare.per_part, spare.module.part_number()), (1, false, None));
        assert!(plan.to_string().contains(&format!("  spares of {}, of any part: 1 bought", plain())), "{plan}");
    }

    #[test]
    fn per_part_only_the_same_part_is_a_spare() {
        let found = plan(|request| request.spares(1).spares_per_part(true)).unwrap();
        assert_eq!(bought(&found), lines(&[("offer dear", 3)]));
        assert!(found.spares[0].per_part && found.spares[0].module.part_number() == Some(&name("b")));
        assert!(plan(|request| request.spares(2).spares_per_part(true)).is_none());
    }

    /// One part is fitted, and the classes are told apart by it; the spares may be of another.
    #[test]
    fn where_parts_are_told_apart_spares_are_still_counted_over_all_that_work_alike() {
        let one_part = |request: PlanRequest| request.one_part_number(Scope::Machine);
        let found = plan(|request| one_part(request).spares(2)).unwrap();
        assert_eq!(bought(&found), lines(&[("offer cheap", 2), ("offer dear", 2)]));
        assert_eq!((found.spares.len(), found.spares[0].bought), (1, 2));
        let two = plan(|request| request.machines(2).spares(1)).unwrap();
        assert_eq!((bought(&two), two.spares.len()), (lines(&[("offer cheap", 2), ("offer dear", 3)]), 1));
        let item = || ShelfItem::new(name("left"), plain(), 1);
        let found = plan(|request| one_part(request.shelf([item()])).spares(1)).unwrap();
        assert_eq!((found.spares[0].on_shelf, found.spares[0].bought), (1, 0));
        assert_eq!(found.cost.total.amount_minor(), 20);
    }
}
