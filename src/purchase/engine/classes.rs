//! Module classes: modules that nothing tells apart, where they can come from, and what so many of them cost at least.

use std::cell::OnceCell;
use std::collections::BTreeMap;
use std::rc::Rc;

use crate::fill::{ClassId, PlaceId, RulesInForce, ToldApart};
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{Content, Layout, Occupant};
use crate::purchase::PlanRequest;
use crate::purchase::engine::cost::{Amount, CostParts, Labour};
use crate::purchase::engine::needs::Terms;
use crate::purchase::engine::stock::{Market, Standing, Standings, Stock, StockId};
use crate::purchase::engine::table::LeastCosts;
use crate::search::{Budget, Index, StopReason, Table};
use crate::unit::{Capacity, Name, Price};

/// A module that is fitted now.
#[derive(Debug, Clone)]
pub(crate) struct PresentUnit<'a> {
    pub(crate) slot: Name,
    /// Its place in the slot model; absent for a slot that cannot be used or is to be empty, and for a module that is
    /// faulty.
    pub(crate) place: Option<PlaceId>,
    pub(crate) module: &'a MemoryModule,
    pub(crate) credit: Amount,
    pub(crate) pinned: bool,
    /// It is pulled in any case.
    pub(crate) faulty: bool,
}

/// Modules that neither a rule in force nor the kind of money on them tells apart.
#[derive(Debug, Clone)]
pub(crate) struct Class<'a> {
    pub(crate) module: &'a MemoryModule,
    /// All of one part, at one credit.
    pub(crate) present: Rc<[PresentUnit<'a>]>,
    /// In the order of sources.
    pub(crate) stock: Rc<[StockId]>,
    /// The first class of the same facts: classes that differ in the part of present modules, or the credit
    /// for them, are placed as one.
    pub(crate) twin: ClassId,
    /// The first class whose modules are spares of the same fitted ones.
    pub(crate) stands_in: ClassId,
    /// Whether every stock is sold by single units at one price, and no spares are wanted.
    pub(crate) plain: bool,
    /// Whether a present module may be worth as much pulled as a bought one costs, so that how many are
    /// used is a choice of its own.
    pub(crate) may_trade: bool,
    /// Whether its modules are faulty: none is used. Such a class has no stock.
    pub(crate) faulty: bool,
    labour: Labour,
    /// How many spares must be bought in any case.
    owed: u32,
    /// What so many units from stock cost at least, once that is worked out.
    costs: OnceCell<Rc<LeastCosts>>,
    /// By number of modules in one machine: the least cost, and how many present modules are then used. Absent where there
    /// are not so many.
    curve: Vec<Option<(Amount, usize)>>,
    /// By number of modules of one machine that come from stock: the least that those of all machines cost, with the spares
    /// that must be bought in any case.
    bought: Vec<Option<Amount>>,
}

/// The classes of a search, and how their modules are handled.
#[derive(Debug, Clone)]
pub(crate) struct ModuleClasses<'a> {
    pub(crate) market: Market<'a>,
    pub(crate) all: Table<ClassId, Class<'a>>,
    pub(crate) labour: Labour,
    /// Whether only modules of one part are spares of each other.
    pub(crate) spares_per_part: bool,
    /// How many slots a machine has.
    slots: usize,
    spares: u32,
}

/// What so many modules of a capacity hold.
pub(crate) fn times(capacity: Capacity, count: usize) -> Capacity {
    // no machine has so many slots
    u64::try_from(count).map_or(capacity, |count| capacity.times(count))
}

/// What tells classes apart: the facts of their modules and whether these are faulty; and of present modules that are not
/// like the first of these, their credit and part.
type Key<'a> = ((MemoryModule, bool), Option<(Amount, &'a MemoryModule)>);

/// What the modules of a class can come from.
type Members<'a> = (Vec<PresentUnit<'a>>, Vec<StockId>);

impl<'a> ModuleClasses<'a> {
    /// The classes of a request's stock and present modules, on a machine whose usable slots are these places.
    pub(crate) fn new(
        machine: &Machine,
        request: &'a PlanRequest,
        (in_force, terms): (&RulesInForce<'_>, &Terms),
        (places, fixed): (&[SlotId], &Layout<'_>),
        budget: &mut Budget<'_>,
    ) -> Result<Self, StopReason> {
        let each = request.labour_per_handling.map_or(0, |labour| Amount::from(labour.amount_minor()));
        let labour = Labour { each, machines: request.machines };
        // like machines hold the same parts
        let by_identity = terms.by_identity || request.machines > 1 || terms.spares_per_part;
        let told_apart = ToldApart::new(machine, in_force, by_identity);
        let facts = |module: &MemoryModule| told_apart.facts(module);
        let most = u32::try_from(places.len()).ok().and_then(|slots| slots.checked_mul(request.machines));
        let limits = (&terms.stock, most.ok_or(StopReason::INTERNAL_RANGE)?);
        let market = Market::new(&request.shelf, &request.offers, &request.supplier_charges, limits);
        let mut members: BTreeMap<Key<'a>, Members<'a>> = BTreeMap::new();
        for (unit, key) in present_units(machine, request, &facts, (places, fixed)) {
            members.entry(key).or_default().0.push(unit);
        }
        for (id, stock) in market.all() {
            members.entry(((facts(stock.module()), false), None)).or_default().1.push(id);
        }
        let mut classes: Vec<((MemoryModule, bool), Class<'a>)> = members
            .into_iter()
            .filter_map(|((facts, _), members)| Some((facts, Class::new(&market, members, (labour, terms))?)))
            .collect();
        let order = |class: &Class<'a>| {
            (class.module, class.faulty, class.present.first().map(|unit| (unit.credit, unit.module)))
        };
        classes.sort_by(|(_, a), (_, b)| order(a).cmp(&order(b)));
        for index in 0..classes.len() {
            let first = classes.iter().position(|(known, _)| classes.get(index).is_some_and(|(own, _)| own == known));
            let twin = ClassId::of(first.unwrap_or(index));
            classes.get_mut(index).into_iter().for_each(|(_, class)| class.twin = twin);
        }
        let all: Table<ClassId, Class<'a>> = classes.into_iter().map(|(_, class)| class).collect();
        let (slots, spares, spares_per_part) = (places.len(), terms.spares, terms.spares_per_part);
        let mut classes = Self { market, all, labour, spares_per_part, slots, spares };
        classes.find_stand_ins();
        let owed: Vec<u32> = classes.all.values().iter().map(|class| classes.owed(class, spares)).collect();
        classes.all.iter_mut().zip(owed).for_each(|((_, class), owed)| class.owed = owed);
        classes.reckon(|_| true, budget)?;
        Ok(classes)
    }

    /// The same where suppliers who charge stand otherwise, and units of those who are open bear shares or not.
    pub(crate) fn under(
        self: &Rc<Self>,
        standings: &Standings,
        is_shared: bool,
        budget: &mut Budget<'_>,
    ) -> Result<Rc<Self>, StopReason> {
        // mostly nobody charges
        if *standings == self.market.standings && (is_shared || !self.market.is_open()) {
            return Ok(Rc::clone(self));
        }
        let market = self.market.under(standings, is_shared);
        let differs = |&id: &StockId| {
            let now = market.standing(id);
            now != self.market.standing(id) || now == Some(Standing::Open) && !is_shared
        };
        let mut classes = Self { market: market.clone(), ..Self::clone(self) };
        classes.reckon(|class| class.stock.iter().any(differs), budget)?;
        Ok(Rc::new(classes))
    }

    /// Works out what so many modules of some classes cost at least.
    fn reckon(&mut self, some: impl Fn(&Class<'a>) -> bool, budget: &mut Budget<'_>) -> Result<(), StopReason> {
        for (_, class) in self.all.iter_mut().filter(|(_, class)| some(class)) {
            class.reckon(&self.market, (self.slots, self.spares), budget)?;
        }
        Ok(())
    }

    /// What stock of a class costs at least, and that stock.
    pub(crate) fn least_costs(
        &self,
        class: &Class<'a>,
        budget: &mut Budget<'_>,
    ) -> Result<(Vec<Stock<'a>>, Rc<LeastCosts>), StopReason> {
        let stocks = class.stocks(&self.market);
        let most = self.in_all(self.slots).ok_or(StopReason::INTERNAL_RANGE)?;
        let costs = class.least_costs(&stocks, (most, self.spares), budget)?;
        Ok((stocks, costs))
    }

    /// How many spares must be bought of a class in any case: where another one that stands in for it has stock, none.
    fn owed(&self, class: &Class<'a>, spares: u32) -> u32 {
        let stand_ins = || self.stand_ins(class.stands_in);
        if class.stock.is_empty() || stand_ins().filter(|(_, other)| !other.stock.is_empty()).count() > 1 {
            return 0;
        }
        // more than can be counted is enough
        let present = self.in_all(stand_ins().map(|(_, other)| other.present.len()).sum()).unwrap_or(u32::MAX);
        let at_hand = u64::from(present) + self.on_shelf(class.stands_in);
        spares.saturating_sub(u32::try_from(at_hand).unwrap_or(u32::MAX))
    }

    /// The classes that are placed as this one.
    pub(crate) fn twins(&self, twin: ClassId) -> impl Iterator<Item = (ClassId, &Class<'a>)> {
        self.all.iter().filter(move |(_, class)| class.twin == twin)
    }

    /// So many of something in each machine.
    pub(crate) fn in_all(&self, each: usize) -> Option<u32> {
        u32::try_from(each).ok()?.checked_mul(self.labour.machines)
    }

    /// The least that so many modules of each class cost, present modules at their best; of any other class
    /// none is used.
    pub(crate) fn least_cost(&self, counts: &[(ClassId, usize)]) -> Option<Amount> {
        let own: Option<Amount> = self.all.iter().map(|(id, class)| class.least_cost(count_of(counts, id))).sum();
        Some(self.market.paid() + own?)
    }

    /// How many modules are present.
    pub(crate) fn present(&self) -> usize {
        self.all.values().iter().map(|class| class.present.len()).sum()
    }

    /// How many of these are faulty, and go in any case.
    pub(crate) fn faulty(&self) -> usize {
        self.all.values().iter().filter(|class| class.faulty).map(|class| class.present.len()).sum()
    }
}

/// How many modules of a class these are.
pub(crate) fn count_of(counts: &[(ClassId, usize)], class: ClassId) -> usize {
    counts.iter().find(|(known, _)| *known == class).map_or(0, |&(_, count)| count)
}

/// The present modules, each with what tells it apart.
fn present_units<'a>(
    machine: &Machine,
    request: &'a PlanRequest,
    facts: &dyn Fn(&MemoryModule) -> MemoryModule,
    (places, fixed): (&[SlotId], &Layout<'_>),
) -> Vec<(PresentUnit<'a>, Key<'a>)> {
    let mut first: Vec<Key<'a>> = Vec::new();
    let mut units = Vec::new();
    for (slot, occupant) in request.present.population.iter() {
        let Occupant::Module(fitted) = occupant else { continue };
        let credit = request.present.credits.get(slot).map_or(0, |credit| Amount::from(credit.amount_minor()));
        let faulty = fitted.fault.is_some();
        let (facts, own) = ((facts(&fitted.module), faulty), Some((credit, &fitted.module)));
        // the first takes the stock; those that differ from it are classes of their own
        let split = match first.iter().find(|(known, _)| *known == facts) {
            Some((_, first)) => own.filter(|own| *first != Some(*own)),
            None => {
                first.push((facts.clone(), own));
                None
            }
        };
        let id = machine.platform().slot_named(slot.as_str());
        let usable =
            |id: &SlotId| !matches!(fixed.get(*id), Content::Other(_)) && !request.present.keep_empty.contains(slot);
        let place = id.filter(|id| usable(id) && !faulty).and_then(|id| places.iter().position(|&other| other == id));
        let pinned = request.present.pinned.contains(slot);
        let place = place.map(PlaceId::of);
        let unit = PresentUnit { slot: slot.clone(), place, module: &fitted.module, credit, pinned, faulty };
        units.push((unit, (facts, split)));
    }
    units
}

impl<'a> Class<'a> {
    /// A class of these members; none of no members.
    fn new(market: &Market<'a>, (present, stock): Members<'a>, (labour, terms): (Labour, &Terms)) -> Option<Self> {
        let stocks = || stock.iter().filter_map(|&id| market.at_hand(id));
        let module = stocks().map(Stock::module).chain(present.iter().map(|unit| unit.module)).min()?;
        let plain = terms.spares == 0 && stocks().all(Stock::is_simple);
        let cheapest = stocks().map(|stock| stock.without_share().least_price()).min();
        let credit = present.first().map(|unit| unit.credit);
        let may_trade = credit.is_some_and(|credit| cheapest.is_some_and(|price| price <= credit));
        let faulty = present.iter().any(|unit| unit.faulty);
        let (curve, bought, twin) = (Vec::new(), Vec::new(), ClassId::of(0));
        let (stands_in, owed, costs, present, stock) = (twin, 0, OnceCell::new(), present.into(), stock.into());
        Some(Self {
            module,
            present,
            stock,
            twin,
            stands_in,
            plain,
            may_trade,
            faulty,
            labour,
            owed,
            costs,
            curve,
            bought,
        })
    }

    /// What its modules can be bought or taken from.
    pub(crate) fn stocks(&self, market: &Market<'a>) -> Vec<Stock<'a>> {
        self.stock.iter().filter_map(|&id| market.at_hand(id)).collect()
    }

    /// The part of the class's modules, where they can come from what is present alone.
    pub(crate) fn only_part(&self) -> Option<&'a MemoryModule> {
        self.present.first().filter(|_| self.stock.is_empty()).map(|unit| unit.module)
    }

    /// How many present modules must be used.
    pub(crate) fn pinned(&self) -> usize {
        self.present.iter().filter(|unit| unit.pinned).count()
    }

    /// What each of its present modules is credited if it is pulled.
    fn credit(&self) -> Amount {
        self.present.first().map_or(0, |unit| unit.credit)
    }

    /// The most that one of its modules is credited, in minor units, if it is pulled once it is fitted.
    pub(crate) fn highest_worth(&self, market: &Market<'a>) -> Option<u64> {
        let stock = self.stocks(market).into_iter().filter_map(|stock| match stock {
            Stock::Shelf(item) => item.unit_value,
            Stock::Offer(offer, _) => offer.surplus_value,
        });
        let present = self.present.iter().filter_map(|unit| u64::try_from(unit.credit).ok());
        stock.map(Price::amount_minor).chain(present).max()
    }

    /// How many units of the class are on the shelf.
    pub(crate) fn shelf_units(&self, market: &Market<'a>) -> u64 {
        let shelf = self.stocks(market).into_iter().filter(|stock| !stock.is_offer());
        shelf.map(|stock| u64::from(stock.units())).sum()
    }

    fn reckon(
        &mut self,
        market: &Market<'a>,
        (slots, spares): (usize, u32),
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        let stocks = self.stocks(market);
        let units = |count: usize| u32::try_from(count).ok()?.checked_mul(self.labour.machines);
        let most = units(slots).ok_or(StopReason::INTERNAL_RANGE)?;
        self.costs = OnceCell::new();
        let exact = match self.plain {
            true => None,
            false => match self.least_costs(&stocks, (most, spares), budget) {
                Ok(costs) => Some(costs),
                // a bound by the lowest prices must do; to source so many stops the search
                Err(StopReason::TooLarge { .. }) => None,
                Err(reason) => return Err(reason),
            },
        };
        self.bought = match &exact {
            Some(costs) => (0..=slots).map(|count| costs.least(0, units(count)?, self.owed)).collect(),
            None => {
                let levels = price_levels(&stocks);
                (0..=slots).map(|count| at_lowest_prices(&levels, units(count)?)).collect()
            }
        };
        self.curve = (0..=slots).map(|count| self.cheapest(count)).collect();
        while self.curve.last().is_some_and(Option::is_none) {
            self.curve.pop();
        }
        Ok(())
    }

    /// What so many units of some stock cost at least.
    fn least_costs(
        &self,
        stocks: &[Stock<'a>],
        (most, spares): (u32, u32),
        budget: &mut Budget<'_>,
    ) -> Result<Rc<LeastCosts>, StopReason> {
        if let Some(known) = self.costs.get() {
            return Ok(Rc::clone(known));
        }
        let costs = Rc::new(LeastCosts::new(stocks, most, spares, budget)?);
        Ok(Rc::clone(self.costs.get_or_init(|| costs)))
    }

    fn cheapest(&self, count: usize) -> Option<(Amount, usize)> {
        let most = if self.faulty { 0 } else { count.min(self.present.len()) };
        // of equal costs the one that uses most of what is present
        (self.pinned()..=most)
            .rev()
            .filter_map(|used| Some((self.cost(count, used)?, used)))
            .min_by_key(|(cost, _)| *cost)
    }

    /// What so many modules in each machine cost beside what is taken from stock, so many of them present ones: labour, and
    /// the credit for what is pulled. `None` where so many cannot be used.
    pub(crate) fn handling(&self, count: usize, used: usize) -> Option<CostParts> {
        let pulled = self.present.len().checked_sub(used).filter(|_| used >= self.pinned())?;
        Some(self.labour.of(count.checked_sub(used)?) + self.labour.pulled(pulled, self.credit()))
    }

    /// The least cost of so many modules in each machine, so many of them present ones.
    pub(crate) fn cost(&self, count: usize, used: usize) -> Option<Amount> {
        let bought = match count {
            0 => 0,
            _ => (*self.bought.get(count.checked_sub(used)?)?)?,
        };
        Some(bought + self.handling(count, used)?.total())
    }

    /// The most modules of it that one machine can have.
    pub(crate) fn most(&self) -> usize {
        self.curve.len().saturating_sub(1)
    }

    pub(crate) fn least_cost(&self, count: usize) -> Option<Amount> {
        self.at_best(count).map(|(cost, _)| cost)
    }

    /// The least cost of so many modules, and how many present ones are then used.
    pub(crate) fn at_best(&self, count: usize) -> Option<(Amount, usize)> {
        self.curve.get(count).copied().flatten()
    }
}

/// The lowest price of each stock with how many units it has, the cheapest first.
pub(crate) fn price_levels(stocks: &[Stock<'_>]) -> Vec<(Amount, u32)> {
    let mut levels: Vec<(Amount, u32)> = stocks.iter().map(|stock| (stock.least_price(), stock.units())).collect();
    levels.sort_unstable();
    levels
}

/// So many units at the lowest prices, whatever the packs and the smallest orders are: exact where every stock is simple.
pub(crate) fn at_lowest_prices(levels: &[(Amount, u32)], units: u32) -> Option<Amount> {
    let (mut left, mut sum) = (units, 0);
    for &(price, all) in levels {
        if left == 0 {
            break;
        }
        let taken = all.min(left);
        left -= taken;
        sum += price * Amount::from(taken);
    }
    (left == 0).then_some(sum)
}
