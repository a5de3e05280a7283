//! Where modules of each class can come from, and what so many of them cost at least.

use crate::fill::RulesInForce;
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{Content, Layout, Occupant};
use crate::purchase::PlanRequest;
use crate::purchase::engine::context::Terms;
use crate::purchase::engine::stock::{Amount, Stock, amount, least_with};
use crate::unit::{Capacity, Name, Price};

/// A module that is fitted now.
#[derive(Debug, Clone)]
pub(crate) struct PresentUnit<'a> {
    pub(crate) slot: Name,
    /// Index among the grid's usable slots; absent for a slot that cannot be used.
    pub(crate) place: Option<usize>,
    pub(crate) module: &'a MemoryModule,
    pub(crate) credit: Amount,
    pub(crate) pinned: bool,
}

/// Modules that neither a rule in force nor the kind of money on them tells apart.
#[derive(Debug, Clone)]
pub(crate) struct Class<'a> {
    pub(crate) module: &'a MemoryModule,
    /// All of one part, at one credit.
    pub(crate) present: Vec<PresentUnit<'a>>,
    pub(crate) stock: Vec<Stock<'a>>,
    /// The first class of the same facts: classes that differ in the part of present modules, or the credit
    /// for them, are placed as one.
    pub(crate) twin: usize,
    /// Whether every stock is sold by single units at one price.
    pub(crate) plain: bool,
    /// Whether a present module may be worth as much pulled as a bought one costs, so that how many are
    /// used is a choice of its own.
    pub(crate) may_trade: bool,
    /// By number of modules in one machine: the least cost over pulling everything, and how many present
    /// modules are then used. Absent where there are not so many.
    pub(crate) curve: Vec<Option<(Amount, usize)>>,
    /// By number of units that are fitted in all machines together: the least they cost with their labour, and with the
    /// spares that must be bought in any case.
    bought: Vec<Option<Amount>>,
}

/// Everything that modules can come from.
pub(crate) struct Supply<'a> {
    pub(crate) classes: Vec<Class<'a>>,
    pub(crate) labour: Amount,
    pub(crate) machines: usize,
    /// What pulling every present module that is not pinned comes to, for all machines.
    pub(crate) pull_all: Amount,
}

/// What so many modules of a capacity hold.
pub(crate) fn times(capacity: Capacity, count: usize) -> Capacity {
    capacity.times(u64::try_from(count).unwrap_or(u64::MAX))
}

/// The facts that rules in force can tell apart.
fn facts(module: &MemoryModule, by_identity: bool) -> MemoryModule {
    if by_identity {
        return module.clone();
    }
    module.without_identity()
}

impl<'a> Supply<'a> {
    pub(crate) fn new(
        machine: &Machine,
        request: &'a PlanRequest,
        (in_force, terms): (&RulesInForce<'_>, &Terms),
        (places, fixed): (&[SlotId], &Layout<'_>),
    ) -> Self {
        let labour = request.labour_per_handling.map_or(0, |labour| Amount::from(labour.amount_minor()));
        let machines = usize::try_from(request.machines).unwrap_or(1);
        // like machines hold the same parts, and spares are of a part
        let by_identity = in_force.reads_identity() || terms.by_identity || request.machines > 1 || terms.spares > 0;
        type Sort<'a> = (Amount, &'a MemoryModule);
        let mut groups: Vec<((MemoryModule, Option<Sort<'a>>), Class<'a>)> = Vec::new();
        let mut group = |module: &'a MemoryModule, sort: Option<Sort<'a>>| {
            let key = (facts(module, by_identity), sort);
            groups.iter().position(|(known, _)| *known == key).unwrap_or_else(|| {
                let class = Class {
                    module,
                    present: Vec::new(),
                    stock: Vec::new(),
                    twin: 0,
                    plain: true,
                    may_trade: false,
                    curve: Vec::new(),
                    bought: Vec::new(),
                };
                groups.push((key, class));
                groups.len() - 1
            })
        };
        let mut units: Vec<(usize, PresentUnit<'a>)> = Vec::new();
        let mut first: Vec<(MemoryModule, Sort<'a>)> = Vec::new();
        for (slot, occupant) in request.present.population.iter() {
            let Occupant::Module(fitted) = occupant else { continue };
            let credit = request.present.credits.get(slot).map_or(0, |credit| Amount::from(credit.amount_minor()));
            let (key, sort) = (facts(&fitted.module, by_identity), (credit, &fitted.module));
            // present modules that differ in credit or part are classes of their own; the first takes the stock
            let split = match first.iter().find(|(known, _)| *known == key) {
                Some((_, first)) => (*first != sort).then_some(sort),
                None => {
                    first.push((key, sort));
                    None
                }
            };
            let id = machine.platform().slot_named(slot.as_str());
            let usable = |id: &SlotId| !matches!(fixed.get(*id), Content::Other(_));
            let place = id.filter(usable).and_then(|id| places.iter().position(|&other| other == id));
            let pinned = request.present.pinned.contains(slot);
            let unit = PresentUnit { slot: slot.clone(), place, module: &fitted.module, credit, pinned };
            units.push((group(&fitted.module, split), unit));
        }
        let shelf = request.shelf.iter().map(Stock::Shelf);
        let mut stocks: Vec<(usize, Stock<'a>)> = Vec::new();
        let stock = shelf.chain(request.offers.iter().map(Stock::Offer));
        for stock in stock.filter(|stock| stock.units() > 0 && stock.is_allowed(terms)) {
            stocks.push((group(stock.module(), None), stock));
        }
        let mut classes: Vec<Class<'a>> = groups.into_iter().map(|(_, class)| class).collect();
        for (index, unit) in units {
            classes.get_mut(index).into_iter().for_each(|class| class.present.push(unit.clone()));
        }
        for (index, stock) in stocks {
            if let Some(class) = classes.get_mut(index) {
                class.plain &= stock.is_plain(request) && terms.spares == 0;
                class.stock.push(stock);
            }
        }
        let mut pull_all = 0;
        for class in &mut classes {
            class.stock.sort_by_key(|stock| stock.order());
            let least =
                class.stock.iter().map(|stock| stock.module()).chain(class.present.iter().map(|unit| unit.module));
            class.module = least.min().unwrap_or(class.module);
            pull_all +=
                class.present.iter().filter(|unit| !unit.pinned).map(|unit| labour - unit.credit).sum::<Amount>();
        }
        let present = |class: &Class<'a>| class.present.first().map(|unit| (unit.credit, unit.module));
        classes.sort_by(|a, b| (a.module, present(a)).cmp(&(b.module, present(b))));
        let keys: Vec<MemoryModule> = classes.iter().map(|class| facts(class.module, by_identity)).collect();
        for (class, key) in classes.iter_mut().zip(&keys) {
            class.twin = keys.iter().position(|other| other == key).unwrap_or(0);
        }
        let copies = Amount::try_from(machines).unwrap_or(1);
        let mut supply = Self { classes, labour, machines, pull_all: pull_all * copies };
        for class in 0..supply.classes.len() {
            let twin = supply.classes.get(class).map(|entry| entry.twin);
            let present: usize = supply.classes.iter().filter(|e| Some(e.twin) == twin).map(|e| e.present.len()).sum();
            if let Some(entry) = supply.classes.get_mut(class) {
                let at_hand = present.saturating_mul(machines).saturating_add(entry.shelf_units());
                // of classes that differ in credit alone the one with stock buys the spares
                let spares = if entry.stock.is_empty() { 0 } else { terms.spares.saturating_sub(at_hand) };
                entry.reckon((places.len(), spares), labour, machines);
            }
        }
        supply
    }
}

impl Supply<'_> {
    /// The least that so many modules of each class cost, present modules at their best; of any other class
    /// none is used.
    pub(crate) fn least_cost(&self, counts: &[(usize, usize)]) -> Option<Amount> {
        let count_of = |class: usize| counts.iter().find(|(known, _)| *known == class).map_or(0, |&(_, count)| count);
        let costs: Option<Amount> =
            self.classes.iter().enumerate().map(|(class, entry)| entry.least_cost(count_of(class))).sum();
        Some(self.pull_all + costs?)
    }
}

impl<'a> Class<'a> {
    /// The part of the class's modules, where they can come from what is present alone.
    pub(crate) fn only_part(&self) -> Option<&'a MemoryModule> {
        self.present.first().filter(|_| self.stock.is_empty()).map(|unit| unit.module)
    }

    /// How many present modules must be used.
    pub(crate) fn pinned(&self) -> usize {
        self.present.iter().filter(|unit| unit.pinned).count()
    }

    /// The most that one of its modules is credited, in minor units, if it is pulled once it is fitted.
    pub(crate) fn highest_worth(&self) -> Option<u64> {
        let stock = self.stock.iter().filter_map(|stock| match stock {
            Stock::Shelf(item) => item.unit_value,
            Stock::Offer(offer) => offer.surplus_value,
        });
        let present = self.present.iter().filter_map(|unit| u64::try_from(unit.credit).ok());
        stock.map(Price::amount_minor).chain(present).max()
    }

    /// How many units of the class are on the shelf.
    pub(crate) fn shelf_units(&self) -> usize {
        let shelf = self.stock.iter().filter(|stock| matches!(stock, Stock::Shelf(_)));
        shelf.map(|stock| stock.units()).fold(0, usize::saturating_add)
    }

    fn reckon(&mut self, (slots, spares): (usize, usize), labour: Amount, machines: usize) {
        let cheapest = self.stock.iter().map(|stock| stock.least_price()).min();
        let credit = self.present.first().map(|unit| unit.credit);
        self.may_trade = credit.is_some_and(|credit| cheapest.is_some_and(|price| price <= credit));
        // beside what is fitted so many are bought at least, and worth so much at most
        let worth = self.stock.iter().map(|stock| stock.surplus_value()).max().unwrap_or(0) * amount(spares);
        let costs = self.least_costs(slots.saturating_mul(machines).saturating_add(spares)).into_iter().skip(spares);
        self.bought = costs.enumerate().map(|(units, cost)| Some(cost? - worth + labour * amount(units))).collect();
        // what is not needed is not bought: no unit is worth more left over than it costs
        if spares == 0 {
            self.bought.first_mut().into_iter().for_each(|none| *none = Some(0));
        }
        self.curve = (0..=slots).map(|count| self.cheapest(count, labour, machines)).collect();
        while self.curve.last().is_some_and(Option::is_none) {
            self.curve.pop();
        }
    }

    /// By number of units, up to `most`: what they cost at least, less what is left over is worth; charges and labour
    /// are not counted.
    fn least_costs(&self, most: usize) -> Vec<Option<Amount>> {
        /// Beyond so many units a bound by the lowest prices must do.
        const EXACT: usize = 4_096;
        let (simple, others): (Vec<Stock<'_>>, Vec<_>) =
            self.stock.iter().partition(|stock| stock.is_simple() || most > EXACT);
        let mut prices: Vec<(Amount, usize)> =
            simple.iter().map(|stock| (stock.least_price(), stock.units().min(most))).collect();
        prices.sort_unstable();
        let units = prices.into_iter().flat_map(|(price, units)| std::iter::repeat_n(price, units)).take(most);
        let sums = units.scan(0, |sum, price| {
            *sum += price;
            Some(*sum)
        });
        let sums = std::iter::once(0).chain(sums);
        if others.is_empty() {
            return sums.map(Some).collect();
        }
        let worth = self.stock.iter().map(|stock| stock.surplus_value()).max().unwrap_or(0);
        let mut least: Vec<Option<Amount>> = (0..=most).map(|left| (left == 0).then_some(0)).collect();
        for stock in others {
            let costs: Vec<_> =
                stock.quantities(most, false).into_iter().map(|quantity| (quantity, stock.cost(quantity))).collect();
            least = least_with(&costs, &least, worth);
        }
        least_with(&sums.enumerate().collect::<Vec<_>>(), &least, worth)
    }

    fn cheapest(&self, count: usize, labour: Amount, machines: usize) -> Option<(Amount, usize)> {
        let most = count.min(self.present.len());
        // of equal costs the one that uses most of what is present
        (self.pinned()..=most)
            .rev()
            .filter_map(|used| Some((self.cost(count, used, labour, machines)?, used)))
            .min_by_key(|(cost, _)| *cost)
    }

    /// The least cost of so many modules in each machine, so many of them present ones, over pulling
    /// everything that is not pinned.
    pub(crate) fn cost(&self, count: usize, used: usize, labour: Amount, machines: usize) -> Option<Amount> {
        let bought = match count {
            0 => 0,
            _ => (*self.bought.get(count.checked_sub(used)?.checked_mul(machines)?)?)?,
        };
        let credit = self.present.first().map_or(0, |unit| unit.credit);
        let kept = Amount::try_from(used.checked_sub(self.pinned())?).ok()?;
        let copies = Amount::try_from(machines).ok()?;
        Some(bought + kept * copies * (credit - labour))
    }

    pub(crate) fn most(&self) -> usize {
        self.curve.len().saturating_sub(1)
    }

    pub(crate) fn least_cost(&self, count: usize) -> Option<Amount> {
        self.curve.get(count).copied().flatten().map(|(cost, _)| cost)
    }
}
