//! The cheapest sequence of two purchases.

use std::collections::BTreeMap;
use std::rc::Rc;

use crate::assess::Planner;
use crate::fill::ClassId;
use crate::module::MemoryModule;
use crate::purchase::engine::{
    Amount, Class, Counts, Engine, Follows, Goal, Needs, RequestRules, SearchContext, Sequel, Stock, StockFilter,
};
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
                    let id = at(when, index);
                    offers.push(Offer { id, supplier: offer.supplier.as_ref().map(supplier), ..offer.clone() });
                }
            }
        }
        self.share_stock(&mut offers);
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

    /// What is bought today of an offer is gone later: of both together there are only so many as the larger of the two,
    /// the dearer one what the cheaper one leaves of these.
    fn share_stock(&self, offers: &mut [Offer]) {
        let (now, later) = (self.now, self.later);
        // where all is bought singly, at a price and for use
        let is_simple = |request: &PlanRequest, offer: &Offer| {
            let charge = offer.supplier.as_ref().and_then(|supplier| request.supplier_charges.get(supplier));
            Stock::offer(offer).is_simple() && charge.is_none_or(|charge| charge.amount_minor() == 0)
        };
        if now.spares > 0 || later.spares > 0 {
            return;
        }
        for (index, first) in now.offers.iter().enumerate().filter(|(_, offer)| is_simple(now, offer)) {
            let same = |(_, second): &(usize, &Offer)| {
                second.id == first.id && second.module == first.module && is_simple(later, second)
            };
            let Some((other, _)) = later.offers.iter().enumerate().find(same) else { continue };
            let place = |id: Name| offers.iter().position(|offer| offer.id == id);
            let (Some(today), Some(then)) = (place(at("today", index)), place(at("later", other))) else { continue };
            let price = |place: usize| offers.get(place).map(|offer| offer.unit_price.amount_minor());
            let (cheaper, dearer) = if price(then) < price(today) { (then, today) } else { (today, then) };
            let taken = offers.get(cheaper).map_or(0, |offer| offer.stock);
            offers.get_mut(dearer).into_iter().for_each(|offer| offer.stock = offer.stock.saturating_sub(taken));
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

/// The name of an offer where those of the other time are beside it.
fn at(when: &str, index: usize) -> Name {
    Name::lossy(&format!("{when} {index}"))
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
    /// In how many parts the gap between what is proved and the best sequence is gone through at first.
    const PARTS: Amount = 16;
    /// More than any sequence costs.
    const FAR: Amount = Amount::MAX >> 8;

    fn run(&mut self, budget: &mut Budget<'_>) -> Result<(), StopReason> {
        let planner = self.engine.planner;
        let first = self.engine.solve(&self.needs, Goal::Best, budget).proved()?;
        let Some(first) = first else { return Ok(()) };
        let first = self.engine.write(&self.needs, &first, budget)?;
        let Some(once) = self.job.bounding.proved(&self.job.at_once(), budget)? else { return Ok(()) };
        self.least = Some(total(&once));
        let cheapest = total(&first);
        self.alone = self.follow(first, budget)?;
        for just_so_many in [false, true] {
            if self.is_proved(total(&once)) {
                return Ok(());
            }
            if let Some(plan) = self.seed(&once, just_so_many, budget)? {
                self.follow(plan, budget)?;
            }
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
        let Some(rest) = self.rest(&any, budget)? else { return Ok(()) };
        let sequel = self.sequel(budget)?.map(Rc::new);
        let follows = Follows { at_least: rest, sequel };
        let once = total(&once);
        let mut proved = once.max(cheapest + rest);
        self.least = Some(proved);
        // a little further each time, for what is found bounds the rest
        let (mut looked_at, mut width) = (Amount::MIN, None);
        while !self.is_proved(proved) {
            let gap = self.best_total().unwrap_or(Self::FAR) - proved;
            // all was looked at, and nothing can follow
            if gap < 1 {
                return Ok(());
            }
            let first = if self.best.is_some() { gap / Self::PARTS } else { gap };
            let step = width.map_or(first, |width: Amount| width * 2).clamp(1, gap);
            let most = proved + step - 1;
            for (least, counts) in self.engine.candidates(&self.needs, (&follows, most), budget)? {
                if self.is_proved(least.max(once)) {
                    return Ok(());
                }
                if least > looked_at {
                    self.least = self.least.max(Some(least));
                    self.look_at(counts, &follows, budget)?;
                }
            }
            (looked_at, proved, width) = (most, most + 1, Some(step));
            self.least = Some(proved);
        }
        Ok(())
    }

    /// The best plan for now from those offers alone of whose modules there are some in the end, if all is bought at once;
    /// or of no more of each than is bought then. It often bounds the rest well.
    fn seed(&self, once: &Plan, just_so_many: bool, budget: &mut Budget<'_>) -> Result<Option<Plan>, StopReason> {
        let modules: Vec<_> = once.population.modules().map(|(_, fitted)| &fitted.module).collect();
        let mut now = self.job.now.clone();
        let bought = |index: usize, id: &Name| {
            let later = self.job.later.offers.iter().position(|offer| offer.id == *id);
            let own = [Some(at("today", index)), later.map(|later| at("later", later))];
            let lines = once.lines.iter().filter(|line| own.iter().flatten().any(|id| line.source.is_offer(id)));
            u32::try_from(lines.map(|line| line.quantity).sum::<usize>()).unwrap_or(u32::MAX)
        };
        for (index, offer) in now.offers.iter_mut().enumerate() {
            let most = match just_so_many {
                true => bought(index, &offer.id),
                false if modules.contains(&&offer.module) => offer.stock,
                false => 0,
            };
            offer.stock = most.min(offer.stock);
        }
        let mut plan = self.engine.planner.proved(&now, budget)?;
        // what is left out here has its stock all the same
        let notes = self.engine.notes();
        let is_true = |note: &PlanNote| !matches!(note, PlanNote::NoStock { .. }) || notes.contains(note);
        plan.iter_mut().for_each(|plan| plan.notes.retain(is_true));
        Ok(plan)
    }

    /// What follows by what is fitted now, where that can be said for whole loads.
    fn sequel(&self, budget: &mut Budget<'_>) -> Result<Option<Sequel>, StopReason> {
        let context = self.engine.context(&self.needs.terms, budget)?;
        let all: Vec<_> = context.classes.all.iter().filter(|(_, class)| !class.faulty).collect();
        let fitted = |&(id, class): &(ClassId, &Class<'_>)| self.fitted(&context, id, class.most());
        let fitted: Vec<Fitted<'_>> = all.iter().filter_map(fitted).collect();
        let (request, _) = self.job.rest(&fitted);
        let request = &*request.as_it_runs(self.engine.planner.machine());
        let rules = RequestRules::of(self.job.bounding.rules(), request);
        let later = Engine::new(self.job.bounding, request, &rules);
        let items: Vec<_> = all.iter().map(|(id, _)| *id).zip(&request.shelf).collect();
        self.engine.sequel(&self.needs, (&later, &items), budget)
    }

    /// So many modules of a class, once they are fitted.
    fn fitted<'c>(&self, context: &'c SearchContext<'_>, class: ClassId, count: usize) -> Option<Fitted<'c>> {
        let entry = context.classes.all.get(class)?;
        let worth = entry.highest_worth(&context.classes.market);
        Some((entry.module, worth.map(|minor| self.job.price(minor)), count))
    }

    /// Looks at the plans for now that have so many modules of each class.
    fn look_at(&mut self, counts: Counts, follows: &Follows, budget: &mut Budget<'_>) -> Result<(), StopReason> {
        let context = self.engine.context(&self.needs.terms, budget)?;
        let (mut excluded, mut rest) = (Vec::new(), None);
        loop {
            let goal = if excluded.is_empty() { Goal::Best } else { Goal::Except(excluded.clone()) };
            let found = self.engine.solve_with(&self.needs, goal, &counts, budget).proved()?;
            let Some(found) = found else { return Ok(()) };
            let least = found.key.cost;
            if self.is_proved(least + follows.at_least) {
                return Ok(());
            }
            let then = match rest {
                Some(rest) => rest,
                None => {
                    let fitted = counts.iter().filter_map(|&(class, count)| self.fitted(&context, class, count));
                    let Some(then) = self.rest(&fitted.collect::<Vec<_>>(), budget)? else { return Ok(()) };
                    *rest.insert(then)
                }
            };
            if self.is_proved(least + then) {
                return Ok(());
            }
            excluded.push(found.key.list.clone());
            let plan = self.engine.write(&self.needs, &found, budget)?;
            self.follow(plan, budget)?;
        }
    }

    /// What the rest costs at least after a plan for now that fits these modules; `None` where nothing can follow.
    fn rest(&self, fitted: &[Fitted<'_>], budget: &mut Budget<'_>) -> Result<Option<Amount>, StopReason> {
        let (request, sum) = self.job.rest(fitted);
        Ok(self.job.bounding.proved(&request, budget)?.map(|plan| total(&plan) + sum))
    }

    /// Whether no sequence that costs at least so much is cheaper than the best so far.
    fn is_proved(&self, least: Amount) -> bool {
        self.best_total().is_some_and(|best| best <= least)
    }

    fn best_total(&self) -> Option<Amount> {
        self.best.as_ref().map(|(now, later)| total(now) + total(later))
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
