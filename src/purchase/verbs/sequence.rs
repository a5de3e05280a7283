//! The cheapest sequence of two purchases.

use std::collections::BTreeMap;

use crate::assess::Planner;
use crate::module::MemoryModule;
use crate::purchase::engine::{Amount, Counts, Engine, Goal, Needs, RequestRules, Stock, StockFilter};
use crate::purchase::{Offer, Outcome, Plan, PlanNote, PlanRequest, Present, Sequence, ShelfItem, Stages, WhyNot};
use crate::search::{Budget, StopReason};
use crate::stated::Schema;
use crate::unit::{Cost, Currency, Name, Price};

/// Modules that a plan for now fits in each machine: what each is credited if it is pulled, and how many.
type Fitted<'f> = (&'f MemoryModule, Option<Price>, usize);

/// A request for now and one for later.
pub(crate) struct Job<'a> {
    pub(crate) planner: Planner<'a>,
    /// Under rules that let everything pass that what is fitted now may excuse later: for bounds.
    pub(crate) bounding: Planner<'a>,
    pub(crate) now: &'a PlanRequest,
    pub(crate) later: &'a PlanRequest,
}

fn total(plan: &Plan) -> Amount {
    Amount::from(plan.cost.total.amount_minor())
}

impl Job<'_> {
    pub(crate) fn answer(&self) -> Stages {
        let rules = RequestRules::of(self.planner.rules(), self.now);
        let engine = Engine::new(self.planner, self.now, &rules);
        let mut budget = engine.budget();
        let mut needs = Needs::of(self.now);
        // what is told apart later is told apart now
        let rules = self.planner.rules();
        let later = self.later;
        needs.terms.by_identity = later.one_part_number.is_some()
            || later.machines > 1
            || later.spares_per_part
            || self.planner.machine().names_identity()
            || rules.rules().any(|rule| rule.severity() >= later.refuse_from && rule.reads_identity());
        let mut walk = Walk { job: self, engine: &engine, needs, alone: None, best: None, least: None };
        let stopped = walk.run(&mut budget).err();
        let Walk { alone, best, least, .. } = walk;
        let cost_at_least = least.filter(|_| stopped.is_some()).map(|least| self.cost(least));
        let sequence = |(now, later): (Plan, Plan)| {
            let cost = self.cost(total(&now) + total(&later));
            Sequence { now, later, cost }
        };
        let none = best.is_none() && stopped.is_none();
        let (best, alone) = (best.map(sequence), alone.map(sequence));
        Stages { schema: Schema, best, alone, why: if none { self.why() } else { None }, cost_at_least, stopped }
    }

    fn why(&self) -> Option<Box<WhyNot>> {
        let why = |planner: &Planner<'_>, request: &PlanRequest| match planner.plan(request) {
            Ok(Outcome::Infeasible(why)) => Some(Box::new(why)),
            _ => None,
        };
        why(&self.planner, self.now).or_else(|| why(&self.bounding, &self.at_once()))
    }

    fn cost(&self, amount: Amount) -> Cost {
        let currency = self.now.currency().or(self.later.currency()).unwrap_or(Currency::NONE);
        let minor = i64::try_from(amount).unwrap_or(if amount < 0 { i64::MIN } else { i64::MAX });
        Cost::new(minor, currency)
    }

    /// The later request as it stands once a plan for now is carried out.
    fn following(&self, plan: &Plan) -> PlanRequest {
        // the later shelf is there first, so that what is put by gets names of its own
        let mut both = self.now.clone();
        both.shelf.extend(self.later.shelf.iter().cloned());
        let state = both.after(plan);
        let mut offers = self.later.offers.clone();
        for line in &plan.lines {
            let same = offers.iter_mut().find(|offer| line.source.is_offer(&offer.id));
            let bought = u32::try_from(line.quantity).unwrap_or(u32::MAX);
            same.into_iter().for_each(|offer| offer.stock = offer.stock.saturating_sub(bought));
        }
        PlanRequest { present: state.present, shelf: state.shelf, offers, ..self.later.clone() }
    }

    /// The wishes for later, of everything that could be had by then, as if all were bought at once: no sequence costs
    /// less. Each supplier charges at each of the two times; no handling is dearer than the cheaper of the two.
    fn at_once(&self) -> PlanRequest {
        let (now, later) = (self.now, self.later);
        let mut present = now.present.clone();
        present.pinned.clear();
        let mut charges = BTreeMap::new();
        let mut offers = Vec::new();
        for (when, request) in [("today", now), ("later", later)] {
            let supplier = |supplier: &Name| Name::lossy(&format!("{when} {supplier}"));
            charges.extend(request.supplier_charges.iter().map(|(name, charge)| (supplier(name), *charge)));
            let filter: StockFilter = Needs::of(request).terms.stock;
            for (index, offer) in request.offers.iter().enumerate() {
                if filter.allows(Stock::offer(offer)) {
                    let id = Name::lossy(&format!("{when} {index}"));
                    offers.push(Offer { id, supplier: offer.supplier.as_ref().map(supplier), ..offer.clone() });
                }
            }
        }
        let labour = [now.labour_per_handling, later.labour_per_handling];
        let labour = labour.into_iter().map(|labour| labour.map_or(0, Price::amount_minor)).min();
        PlanRequest {
            present,
            shelf: shelf(now.shelf.iter().chain(&later.shelf)),
            offers: offers.into(),
            supplier_charges: charges,
            labour_per_handling: labour.map(|minor| self.price(minor)),
            ..self.relaxed()
        }
    }

    /// What meeting the later wishes costs at least after any plan for now that fits these modules, by what each would
    /// be credited: such a request, and an amount to add to its cost.
    fn rest(&self, fitted: &[Fitted<'_>]) -> (PlanRequest, Amount) {
        let (now, later) = (self.now, self.later);
        let labour = later.labour_per_handling.map_or(0, Price::amount_minor);
        let dearer = |price: Price| self.price(price.amount_minor().saturating_add(labour));
        let (mut items, mut sum) = (Vec::new(), 0);
        for (module, credit, units) in fitted {
            // a module is left, or pulled for its credit less labour; to be pulled at a loss is not reckoned
            let gain = credit.map_or(0, Price::amount_minor).saturating_sub(labour);
            let units = u32::try_from(*units).unwrap_or(u32::MAX).saturating_mul(now.machines);
            sum -= Amount::from(gain) * Amount::from(units);
            let item = ShelfItem::new(Name::lossy("fitted"), (*module).clone(), units);
            items.push(ShelfItem { unit_value: Some(self.price(gain)), ..item });
        }
        // everything else is put in: labour counts as part of its price, and of what it is worth left over
        let put = |item: &ShelfItem| ShelfItem {
            unit_value: Some(dearer(item.unit_value.unwrap_or(self.price(0)))),
            ..item.clone()
        };
        items.extend(now.shelf.iter().chain(&later.shelf).map(put));
        let pulled = now.present.population.modules().map(|(slot, fitted)| {
            let item = ShelfItem::new(Name::lossy("pulled"), fitted.module.clone(), now.machines);
            put(&ShelfItem { unit_value: now.present.credits.get(slot).copied(), ..item })
        });
        items.extend(pulled);
        // what packs, breaks and the like leave over today may lie on the shelf by then
        let over = now.offers.iter().filter(|offer| !Stock::offer(offer).is_simple() || now.spares > 0).map(|offer| {
            let units = Stock::offer(offer).units();
            let item = ShelfItem::new(Name::lossy("over"), offer.module.clone(), units);
            put(&ShelfItem { unit_value: offer.surplus_value, ..item })
        });
        items.extend(over);
        let filter = Needs::of(later).terms.stock;
        let offers = later.offers.iter().filter(|offer| filter.allows(Stock::offer(offer))).map(|offer| {
            let mut offer = offer.clone();
            offer.unit_price = dearer(offer.unit_price);
            offer.breaks.iter_mut().for_each(|step| step.unit_price = dearer(step.unit_price));
            offer.surplus_value = Some(dearer(offer.surplus_value.unwrap_or(self.price(0))));
            offer
        });
        let offers = offers.collect();
        let request = PlanRequest { present: Present::default(), shelf: shelf(items.iter()), offers, ..self.relaxed() };
        (PlanRequest { labour_per_handling: None, ..request }, sum)
    }

    /// The later request without what sources are held to: that is seen to where they are listed.
    fn relaxed(&self) -> PlanRequest {
        PlanRequest { conditions: None, lead_time_at_most_days: None, budget: None, ..self.later.clone() }
    }

    fn price(&self, minor: u64) -> Price {
        Price::new(minor, self.now.currency().or(self.later.currency()).unwrap_or(Currency::NONE))
    }
}

/// Shelf items under names of their own.
fn shelf<'i>(items: impl Iterator<Item = &'i ShelfItem>) -> Vec<ShelfItem> {
    let named =
        |(index, item): (usize, &ShelfItem)| ShelfItem { id: Name::lossy(&format!("item {index}")), ..item.clone() };
    items.enumerate().map(named).collect()
}

/// A walk over the plans for now, the cheapest first.
struct Walk<'w, 'a> {
    job: &'w Job<'w>,
    engine: &'w Engine<'a>,
    needs: Needs,
    alone: Option<(Plan, Plan)>,
    best: Option<(Plan, Plan)>,
    /// What any sequence costs at least, as far as that is known.
    least: Option<Amount>,
}

impl Walk<'_, '_> {
    fn run(&mut self, budget: &mut Budget<'_>) -> Result<(), StopReason> {
        let planner = self.engine.planner;
        let first = self.engine.solve(&self.needs, Goal::Best, budget).proved()?;
        let Some(first) = first else { return Ok(()) };
        let first = self.engine.write(&self.needs, &first, budget)?;
        let Some(once) = self.job.bounding.proved(&self.job.at_once(), budget)? else { return Ok(()) };
        self.least = Some(total(&once));
        let cheapest = total(&first);
        self.alone = self.follow(first, budget)?;
        if let Some(plan) = self.seed(&once, budget)? {
            self.follow(plan, budget)?;
        }
        if self.is_proved(total(&once)) {
            return Ok(());
        }
        // whatever is fitted now, the rest costs this at least
        let offers = self.job.now.offers.iter().map(|offer| (&offer.module, offer.surplus_value, offer.stock));
        let items = self.job.now.shelf.iter().map(|item| (&item.module, item.unit_value, item.stock));
        let slots = planner.machine().platform().slots().len();
        let any = offers.chain(items).map(|(module, worth, stock)| {
            let units = slots.min(usize::try_from(stock).unwrap_or(usize::MAX));
            (module, worth, units)
        });
        let present = self.job.now.present.population.modules();
        let present = present.map(|(slot, f)| (&f.module, self.job.now.present.credits.get(slot).copied(), 1));
        let any: Vec<_> = any.chain(present).collect();
        let rest = self.rest(&any, budget)?.unwrap_or(Amount::MAX >> 8);
        let most = match &self.best {
            Some((now, later)) => total(now) + total(later) - rest,
            None => Amount::MAX >> 8,
        };
        self.least = Some(total(&once).max(cheapest + rest));
        for (least, counts) in self.engine.candidates(&self.needs, most, budget)? {
            if self.is_proved(least + rest) {
                break;
            }
            self.least = Some(total(&once).max(least + rest));
            self.look_at(counts, least, budget)?;
            if self.is_proved(total(&once)) {
                break;
            }
        }
        Ok(())
    }

    /// The best plan for now from those offers alone of whose modules there are some in the end, if all is bought at once:
    /// it often bounds the rest well.
    fn seed(&self, once: &Plan, budget: &mut Budget<'_>) -> Result<Option<Plan>, StopReason> {
        let modules: Vec<_> = once.population.modules().map(|(_, fitted)| &fitted.module).collect();
        let mut now = self.job.now.clone();
        for offer in now.offers.iter_mut().filter(|offer| !modules.contains(&&offer.module)) {
            offer.stock = 0;
        }
        let mut plan = self.engine.planner.proved(&now, budget)?;
        // what is left out here has its stock all the same
        let notes = self.engine.notes();
        let is_true = |note: &PlanNote| !matches!(note, PlanNote::NoStock { .. }) || notes.contains(note);
        plan.iter_mut().for_each(|plan| plan.notes.retain(is_true));
        Ok(plan)
    }

    /// Looks at the plans for now that have so many modules of each class.
    fn look_at(&mut self, counts: Counts, least: Amount, budget: &mut Budget<'_>) -> Result<(), StopReason> {
        let context = self.engine.context(&self.needs.terms, budget)?;
        let mut fitted = Vec::new();
        for &(class, count) in &counts {
            let Some(entry) = context.classes.all.get(class) else { continue };
            let worth = entry.highest_worth(&context.classes.market);
            fitted.push((entry.module, worth.map(|minor| self.job.price(minor)), count));
        }
        let Some(rest) = self.rest(&fitted, budget)? else { return Ok(()) };
        let mut excluded = Vec::new();
        let mut least = least;
        while !self.is_proved(least + rest) {
            let goal = if excluded.is_empty() { Goal::Best } else { Goal::Except(excluded.clone()) };
            let found = self.engine.solve_with(&self.needs, goal, &counts, budget).proved()?;
            let Some(found) = found else { return Ok(()) };
            least = found.key.cost;
            if self.is_proved(least + rest) {
                return Ok(());
            }
            excluded.push(found.key.list.clone());
            let plan = self.engine.write(&self.needs, &found, budget)?;
            self.follow(plan, budget)?;
        }
        Ok(())
    }

    /// What the rest costs at least after a plan for now that fits these modules; `None` where nothing can follow.
    fn rest(&self, fitted: &[Fitted<'_>], budget: &mut Budget<'_>) -> Result<Option<Amount>, StopReason> {
        let (request, sum) = self.job.rest(fitted);
        Ok(self.job.bounding.proved(&request, budget)?.map(|plan| total(&plan) + sum))
    }

    /// Whether no sequence that costs at least so much is cheaper than the best so far.
    fn is_proved(&self, least: Amount) -> bool {
        self.best.as_ref().is_some_and(|(now, later)| total(now) + total(later) <= least)
    }

    /// The best plan that follows one; kept where the two are the best so far.
    fn follow(&mut self, plan: Plan, budget: &mut Budget<'_>) -> Result<Option<(Plan, Plan)>, StopReason> {
        let following = self.job.following(&plan);
        let Some(later) = self.job.planner.proved(&following, budget)? else { return Ok(None) };
        let key = |now: &Plan, later: &Plan| (total(now) + total(later), total(now));
        // of equal ones the one that is cheaper now
        if self.best.as_ref().is_none_or(|(now, then)| key(&plan, &later) < key(now, then)) {
            self.best = Some((plan.clone(), later.clone()));
        }
        Ok(Some((plan, later)))
    }
}
