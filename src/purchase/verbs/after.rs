use std::collections::BTreeSet;

use crate::module::MemoryModule;
use crate::purchase::{ModuleSource, Plan, PlanRequest, ShelfItem};
use crate::unit::{Name, Price};

impl PlanRequest {
    /// The request as it stands once a plan of it is carried out: the same wishes and prices, what was bought or taken
    /// is gone, and what is over lies on the shelf.
    ///
    /// Modules that stay or move keep their credit. One that was bought is credited, if it is pulled later, with what
    /// its offer says of units that are not fitted; one from the shelf with its value there (with several machines, where
    /// one part comes from several sources, the least of these). Of an order of which a part is sent back, all that was
    /// ordered is gone. Pulled modules that are not faulty go to the
    /// shelf at their credit, units that were bought and not fitted at their worth. The budget is spent: there is none.
    /// To plan again changes nothing, unless something is credited above its price.
    ///
    /// ```
    /// use slotwright::purchase::{Offer, PlanRequest};
    /// use slotwright::{Capacity, Label, Machine, Planner, Price, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let offer = Offer::new("lot-7".parse()?, module, Price::new(4_500, "EUR".parse()?), 16);
    /// let request = PlanRequest::new().usable_at_least(Capacity::from_gib(128)).offer(offer);
    ///
    /// let planner = Planner::new(&machine, &rules);
    /// let outcome = planner.plan(&request)?;
    /// let later = request.after(outcome.optimal().unwrap());
    /// assert_eq!(later.offers[0].stock, 12);
    /// assert_eq!(planner.plan(&later)?.optimal().unwrap().handlings, 0);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    #[must_use]
    pub fn after(&self, plan: &Plan) -> Self {
        let mut next = Self { budget: None, ..self.clone() };
        next.present.population = plan.population.clone();
        next.present.credits.clear();
        for slot in &plan.slots {
            let credit = match &slot.source {
                ModuleSource::Stays => self.present.credits.get(&slot.slot).copied(),
                ModuleSource::MovesFrom { slot } => self.present.credits.get(slot).copied(),
                // in several machines the modules of a slot need not be from one source
                source if self.machines > 1 => {
                    let same = plan.lines.iter().filter(|line| line.module == slot.module);
                    let worths: Option<Vec<Price>> =
                        same.map(|line| self.worth(&line.source)).chain([self.worth(source)]).collect();
                    worths.and_then(|worths| worths.into_iter().min_by_key(|worth| worth.amount_minor()))
                }
                source => self.worth(source),
            };
            next.present.credits.extend(credit.map(|credit| (slot.slot.clone(), credit)));
        }
        for line in &plan.lines {
            let quantity = u32::try_from(line.quantity).unwrap_or(u32::MAX);
            let stock = match &line.source {
                ModuleSource::Offer { id } => {
                    next.offers.iter_mut().find(|offer| offer.id == *id).map(|offer| &mut offer.stock)
                }
                ModuleSource::Shelf { id } => {
                    next.shelf.iter_mut().find(|item| item.id == *id).map(|item| &mut item.stock)
                }
                ModuleSource::Stays | ModuleSource::MovesFrom { .. } | ModuleSource::Other(_) => None,
            };
            stock.into_iter().for_each(|stock| *stock = stock.saturating_sub(quantity));
        }
        for line in &plan.to_shelf {
            let offer = self.offers.iter().find(|offer| offer.id == line.id);
            let item = ShelfItem {
                condition: offer.and_then(|offer| offer.condition),
                ..item(&line.module, line.quantity, offer.and_then(|offer| offer.surplus_value))
            };
            next.put_by(&format!("rest of {}", line.id), item);
        }
        let machines = usize::try_from(plan.machines).unwrap_or(usize::MAX);
        for pulled in plan.pulled.iter().filter(|pulled| pulled.fault.is_none()) {
            next.put_by(&format!("pulled from {}", pulled.slot), item(&pulled.module, machines, pulled.credit));
        }
        next
    }

    /// What a module from a source is credited once it is fitted.
    fn worth(&self, source: &ModuleSource) -> Option<Price> {
        match source {
            ModuleSource::Shelf { id } => {
                self.shelf.iter().find(|item| item.id == *id).and_then(|item| item.unit_value)
            }
            ModuleSource::Offer { id } => {
                self.offers.iter().find(|offer| offer.id == *id).and_then(|offer| offer.surplus_value)
            }
            ModuleSource::Stays | ModuleSource::MovesFrom { .. } | ModuleSource::Other(_) => None,
        }
    }

    /// Puts modules on the shelf, under this name or one like it.
    fn put_by(&mut self, id: &str, item: ShelfItem) {
        let taken: BTreeSet<&Name> = self.shelf.iter().map(|item| &item.id).collect();
        let ids = std::iter::once(Name::lossy(id)).chain((2..).map(|number| Name::lossy(&format!("{number}: {id}"))));
        let id = ids.into_iter().find(|id| !taken.contains(id));
        self.shelf.extend(id.map(|id| ShelfItem { id, ..item }));
    }
}

/// So many modules; they get their id when they are put by.
fn item(module: &MemoryModule, count: usize, unit_value: Option<Price>) -> ShelfItem {
    let stock = u32::try_from(count).unwrap_or(u32::MAX);
    ShelfItem { unit_value, ..ShelfItem::new(Name::lossy(""), module.clone(), stock) }
}
