//! Writes plans out.

use std::collections::{BTreeMap, BTreeSet};

use crate::assess::Planner;
use crate::figure::{DomainRate, RunningRate};
use crate::fill::{Before, ClassId, PlaceId, share_out};
use crate::finding::Finding;
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::{Slot, SlotId};
use crate::population::{Fitted, Layout, Occupant, OtherDevice, Population};
use crate::purchase::engine::classes::PresentUnit;
use crate::purchase::engine::context::SearchContext;
use crate::purchase::engine::cost::Amount;
use crate::purchase::engine::search::Found;
use crate::purchase::engine::sourcing::Take;
use crate::purchase::engine::spares::stand_in;
use crate::purchase::engine::stock::Stock;
use crate::purchase::{
    ChargeLine, Condition, CostSheet, ModuleSource, Plan, PlanLine, PlanNote, PlanRequest, PlannedSlot, Pulled,
    SpareLine, SurplusLine,
};
use crate::search::{InternalFault, StopReason};
use crate::stated::{Basis, Schema};
use crate::unit::{Cost, Currency, Name, Price};

/// Writes plans out.
pub(crate) struct Writer<'s, 'a> {
    pub(crate) planner: &'s Planner<'a>,
    pub(crate) request: &'a PlanRequest,
    pub(crate) context: &'s SearchContext<'a>,
}

/// The currency that a request is in.
fn currency(request: &PlanRequest) -> Currency {
    request.currency().unwrap_or(Currency::NONE)
}

/// An amount in a request's currency.
///
/// # Errors
/// Where it is more than a cost can say, which a checked request rules out.
pub(crate) fn cost(request: &PlanRequest, amount: Amount) -> Result<Cost, StopReason> {
    let minor = i64::try_from(amount).map_err(|_| StopReason::INTERNAL_RANGE)?;
    Ok(Cost::new(minor, currency(request)))
}

/// A bound in a request's currency: the nearest cost.
pub(crate) fn bound(request: &PlanRequest, amount: Amount) -> Cost {
    let nearest = amount.clamp(Amount::from(i64::MIN), Amount::from(i64::MAX));
    Cost::new(i64::try_from(nearest).unwrap_or(i64::MAX), currency(request))
}

/// What is worth saying about a request.
pub(crate) fn notes(request: &PlanRequest) -> Vec<PlanNote> {
    let offers = || request.offers.iter().map(Stock::offer);
    let stocks = request.shelf.iter().map(Stock::Shelf).chain(offers());
    let sorted = |mut ids: Vec<Name>| {
        ids.sort();
        ids
    };
    let id = |stock: Stock<'_>| stock.order().1.clone();
    let none = stocks.filter(|stock| stock.units() == 0).map(id).collect();
    let mut notes: Vec<_> = sorted(none).into_iter().map(|id| PlanNote::NoStock { id }).collect();
    let unstated = request.offers.iter().filter(|offer| {
        request.conditions.is_some() && offer.condition.is_none()
            || request.lead_time_at_most_days.is_some() && offer.lead_time_days.is_none()
    });
    let only_new = request.conditions.as_ref().is_some_and(|all| all.iter().all(|known| *known == Condition::New));
    let unsaid = request.shelf.iter().filter(|item| only_new && item.condition.is_none()).map(|item| &item.id);
    let unstated = sorted(unstated.map(|offer| &offer.id).chain(unsaid).cloned().collect());
    notes.extend(unstated.into_iter().map(|id| PlanNote::NotStated { id }));
    let sells = |supplier: &Name| request.offers.iter().any(|offer| offer.supplier.as_ref() == Some(supplier));
    let unknown = request.supplier_charges.keys().filter(|supplier| !sells(supplier));
    notes.extend(unknown.map(|supplier| PlanNote::NoOfferFrom { supplier: supplier.clone() }));
    notes.extend(free_money(request));
    let devices = other_devices(request).len();
    if devices > 0 {
        notes.push(PlanNote::OtherDevicesStay { devices });
    }
    notes
}

/// Credits above the lowest price of the same module: it would pay to buy it and have it pulled.
fn free_money(request: &PlanRequest) -> impl Iterator<Item = PlanNote> {
    request.present.population.modules().filter_map(|(slot, fitted)| {
        let credit = *request.present.credits.get(slot)?;
        let same = request.offers.iter().filter(|offer| offer.module.is_like(&fitted.module));
        let lowest = same.filter_map(|offer| {
            let prices = offer.breaks.iter().map(|step| step.unit_price).chain([offer.unit_price]);
            Some((prices.min_by_key(|price| price.amount_minor())?, &offer.id))
        });
        let (price, offer) = lowest.min_by_key(|(price, id)| (price.amount_minor(), *id))?;
        (credit.amount_minor() > price.amount_minor()).then(|| PlanNote::CreditAbovePrice {
            slot: slot.clone(),
            credit,
            offer: offer.clone(),
            price,
        })
    })
}

fn other_devices(request: &PlanRequest) -> Vec<(Name, OtherDevice)> {
    let device = |(slot, occupant): (&Name, &Occupant)| match occupant {
        Occupant::OtherDevice(device) => Some((slot.clone(), device.clone())),
        Occupant::Module(_) | Occupant::Blank => None,
    };
    request.present.population.iter().filter_map(device).collect()
}

/// Where the module in a place comes from.
type Assigned = BTreeMap<PlaceId, (ModuleSource, Fitted)>;

impl<'a> Writer<'_, 'a> {
    fn machine(&self) -> &'a Machine {
        self.planner.machine()
    }

    fn label(&self, place: PlaceId) -> Result<Name, StopReason> {
        let slot = self.context.model.slots.get(place).ok_or(StopReason::INTERNAL_RANGE)?;
        Ok(self.machine().platform().slot(slot.id).label().clone())
    }

    fn price(&self, amount: Amount) -> Result<Price, StopReason> {
        let minor = u64::try_from(amount).map_err(|_| StopReason::INTERNAL_RANGE)?;
        Ok(Price::new(minor, currency(self.request)))
    }

    /// Writes a plan out, and holds it against the rules once more.
    ///
    /// # Errors
    /// Where the plan contradicts the rules, the board or its own cost: never seen.
    pub(crate) fn write(&self, found: &Found<'a>) -> Result<Plan, StopReason> {
        let mut notes = notes(self.request);
        let (mut assigned, mut pulled) = (Assigned::new(), Vec::new());
        let classes = &self.context.classes.all;
        for class in classes.iter().filter(|(id, class)| class.twin == *id).map(|(id, _)| id) {
            self.assign(class, found, &mut assigned, &mut pulled);
        }
        pulled.sort_by(|a: &Pulled, b| a.slot.cmp(&b.slot));
        let (mut population, mut slots) = (Population::new(), Vec::new());
        for (place, (source, fitted)) in assigned {
            let slot = self.label(place)?;
            population.put(slot.clone(), Occupant::Module(fitted.clone()));
            slots.push(PlannedSlot { slot, module: fitted.module.by_facts(), source });
        }
        for (slot, device) in other_devices(self.request) {
            population.put(slot, Occupant::OtherDevice(device));
        }
        for (slot, occupant) in self.request.present.population.iter() {
            if *occupant == Occupant::Blank && population.get(slot.as_str()).is_none() {
                population.put(slot.clone(), Occupant::Blank);
            }
        }
        let fault = |fault: InternalFault| StopReason::Internal { fault };
        let assessment = self.planner.assess(&population).map_err(|_| fault(InternalFault::NotOnTheBoard))?;
        let refusing = assessment.findings.iter().filter(|finding| self.refuses(finding));
        let was_so_before: Vec<Finding> = self.carried_before(refusing.clone(), &population);
        if refusing.count() > was_so_before.len() {
            return Err(fault(InternalFault::RefusedOnRecheck));
        }
        let present = Layout::new(self.machine(), &self.request.present.population).ok();
        let rates =
            (present.and_then(|present| RunningRate::of(&present).rate()), assessment.figures.running_rate.rate());
        if let (Some(now_mts), Some(afterwards_mts)) = rates {
            let slower = PlanNote::Slower { now_mts, afterwards_mts };
            notes.extend((afterwards_mts < now_mts).then_some(slower));
        }
        for limit in assessment.figures.running_rate.domains.iter().flat_map(DomainRate::binding) {
            if limit.basis == Some(Basis::Assumed) {
                notes.push(PlanNote::Assumed { limit: limit.clone() });
            }
        }
        let labels: Result<Vec<Name>, StopReason> = found.free.iter().map(|&place| self.label(place)).collect();
        Ok(Plan {
            schema: Schema,
            machines: self.request.machines,
            slots,
            lines: self.lines(found)?,
            charges: self.charges(found)?,
            to_shelf: surplus(found)?,
            spares: self.spares(found, &pulled)?,
            cost: self.sheet(found)?,
            pulled,
            handlings: found.key.handlings,
            free_slots: labels?,
            other_devices: other_devices(self.request),
            population: population.by_facts(),
            assessment,
            notes,
            was_so_before,
            without_warnings: None,
            accepting: Vec::new(),
        })
    }

    /// Those findings on a population that were so before, and refuse nothing.
    fn carried_before<'f>(&self, refusing: impl Iterator<Item = &'f Finding>, population: &Population) -> Vec<Finding> {
        let (machine, model) = (self.machine(), &self.context.model);
        let Ok(layout) = Layout::new(machine, population) else { return Vec::new() };
        let present = Layout::new(machine, &self.request.present.population).ok();
        let before = present.and_then(|present| Before::new(present, &model.in_force));
        refusing
            .filter(|finding| before.as_ref().is_some_and(|before| before.excuses(finding, &layout)))
            .cloned()
            .collect()
    }

    /// Whether a finding refuses a plan.
    fn refuses(&self, finding: &Finding) -> bool {
        let rule = self.planner.rules().get(finding.code.as_str());
        rule.is_some_and(|rule| finding.severity >= rule.threshold(self.request.refuse_from))
    }

    /// Says for each slot of a class where its module comes from, and what is pulled.
    fn assign(&self, class: ClassId, found: &Found<'a>, assigned: &mut Assigned, pulled: &mut Vec<Pulled>) {
        let places: Vec<PlaceId> =
            found.at.iter().filter(|(_, held)| **held == Some(class)).map(|(place, _)| place).collect();
        let individual = |unit: &PresentUnit<'a>| match self.request.present.population.get(unit.slot.as_str()) {
            Some(Occupant::Module(fitted)) => fitted.clone(),
            _ => Fitted::new(unit.module.clone()),
        };
        let stays = |unit: &PresentUnit<'a>| unit.place.is_some_and(|place| places.contains(&place));
        let mut kept: Vec<&PresentUnit<'a>> = Vec::new();
        let mut fitted: Vec<(Stock<'a>, u32)> = Vec::new();
        for (twin, entry) in self.context.classes.twins(class) {
            let used = found.used.get(twin).copied().unwrap_or(0);
            let mut units: Vec<&PresentUnit<'a>> = entry.present.iter().collect();
            units.sort_by_key(|unit| (!unit.pinned, !stays(unit), unit.slot.clone()));
            let (used, gone) = units.split_at_checked(used).unwrap_or((&units, &[]));
            kept.extend(used);
            pulled.extend(gone.iter().map(|unit| {
                let Fitted { module, individual, fault } = individual(unit);
                let credit = self.request.present.credits.get(&unit.slot).copied();
                Pulled { slot: unit.slot.clone(), module: module.by_facts(), individual, fault, credit }
            }));
            let sourced = found.sourcing.sources.iter().find(|(known, _)| *known == twin);
            let takes = sourced.into_iter().flat_map(|(_, sourced)| &sourced.takes);
            fitted.extend(takes.map(|take| (take.stock, take.quantity - take.spare)));
        }
        let mut open: Vec<PlaceId> = places.clone();
        for unit in kept.iter().filter(|unit| stays(unit)) {
            let Some(place) = unit.place else { continue };
            open.retain(|&other| other != place);
            assigned.insert(place, (ModuleSource::Stays, individual(unit)));
        }
        let moved = kept.iter().filter(|unit| !stays(unit));
        let moved = moved.map(|unit| (ModuleSource::MovesFrom { slot: unit.slot.clone() }, individual(unit)));
        let new = fitted.iter().flat_map(|&(stock, units)| {
            let fitted = Fitted::new(stock.module().clone());
            (0..units).map(move |_| (stock.source(), fitted.clone()))
        });
        // of several machines one is put down; the modules of a class are then all alike
        let new = new.take(places.len());
        let fresh = moved.chain(new).map(|(source, fitted)| (fitted.module.clone(), (source, fitted)));
        let slot = |place: PlaceId| Some(self.context.model.slots.get(place)?.id);
        let slots: Vec<SlotId> = open.iter().filter_map(|&place| slot(place)).collect();
        let stay = kept.iter().filter(|unit| stays(unit));
        let there: Vec<_> = stay.filter_map(|unit| Some((slot(unit.place?)?, unit.module))).collect();
        let shared = share_out(self.machine().platform(), &slots, &there, fresh.collect());
        let mut fresh: Vec<(ModuleSource, Fitted)> = shared.into_iter().map(|(_, entry)| entry).collect();
        self.keep_near(&open, &mut fresh);
        assigned.extend(open.into_iter().zip(fresh));
    }

    /// Of equal modules, those that move go to a slot of their channel, or else of their processor, where one is to be filled.
    fn keep_near(&self, open: &[PlaceId], fresh: &mut [(ModuleSource, Fitted)]) {
        let platform = self.machine().platform();
        let near: [fn(&Slot, &Slot) -> bool; 2] = [|a, b| a.channel == b.channel, |a, b| a.socket == b.socket];
        let slot_of = |place: Option<&PlaceId>| Some(platform.slot(self.context.model.slots.get(*place?)?.id));
        for is_near in near {
            let at_home = |(source, _): &(ModuleSource, Fitted), place: Option<&PlaceId>| match source {
                ModuleSource::MovesFrom { slot } => {
                    let from = platform.slot_named(slot.as_str()).map(|slot| platform.slot(slot));
                    from.zip(slot_of(place)).is_some_and(|(from, to)| is_near(from, to))
                }
                _ => false,
            };
            for (at, place) in open.iter().enumerate() {
                let Some(own) = fresh.get(at).filter(|own| !at_home(own, Some(place))) else { continue };
                let better = fresh.iter().enumerate().position(|(other, entry)| {
                    entry.1.module == own.1.module && at_home(entry, Some(place)) && !at_home(entry, open.get(other))
                });
                if let Some(better) = better {
                    fresh.swap(at, better);
                }
            }
        }
    }

    /// What is at hand and not fitted of what is, where the request asks for spares.
    fn spares(&self, found: &Found<'a>, pulled: &[Pulled]) -> Result<Vec<SpareLine>, StopReason> {
        if self.request.spares == 0 {
            return Ok(Vec::new());
        }
        let classes = &self.context.classes;
        let held = found.at.values().iter().copied().flatten();
        let fitted: BTreeSet<ClassId> = held.filter_map(|class| Some(classes.all.get(class)?.stands_in)).collect();
        let per_part = classes.spares_per_part;
        let count = |units: u64| usize::try_from(units).map_err(|_| StopReason::INTERNAL_RANGE);
        let line = |first: ClassId| {
            let module = stand_in(classes.all.get(first).ok_or(StopReason::INTERNAL_RANGE)?.module, per_part);
            let is_like = |other: &MemoryModule| stand_in(other, per_part) == module;
            let of_it = || takes(found).filter(|take| is_like(take.stock.module()));
            let used: u64 = of_it().filter(|take| !take.stock.is_offer()).map(|take| u64::from(take.quantity)).sum();
            let is_spare = |pulled: &&Pulled| pulled.fault.is_none() && is_like(&pulled.module);
            let pulled = classes.in_all(pulled.iter().filter(is_spare).count()).ok_or(StopReason::INTERNAL_RANGE)?;
            Ok(SpareLine {
                on_shelf: count(classes.on_shelf(first).saturating_sub(used))?,
                pulled: count(u64::from(pulled))?,
                bought: count(of_it().map(|take| u64::from(take.spare)).sum())?,
                per_part,
                module,
            })
        };
        fitted.into_iter().map(line).collect()
    }

    fn charges(&self, found: &Found<'a>) -> Result<Vec<ChargeLine>, StopReason> {
        let line = |&supplier| {
            let &(name, charge) =
                self.context.classes.market.suppliers.get(supplier).ok_or(StopReason::INTERNAL_RANGE)?;
            Ok(ChargeLine { supplier: name.clone(), charge: self.price(charge)? })
        };
        found.sourcing.suppliers.iter().map(line).collect()
    }

    /// The cost as the search reckoned it, part by part.
    fn sheet(&self, found: &Found<'a>) -> Result<CostSheet, StopReason> {
        let parts = &found.cost;
        if parts.total() != found.key.cost {
            return Err(StopReason::Internal { fault: InternalFault::CostPartsDiffer });
        }
        let cost = |amount: Amount| cost(self.request, amount);
        Ok(CostSheet {
            purchases: cost(parts.purchases)?,
            returns: cost(parts.returns)?,
            charges: cost(parts.charges)?,
            shelf: cost(parts.shelf)?,
            labour: cost(parts.labour)?,
            credit: cost(parts.credit)?,
            surplus: cost(parts.surplus)?,
            total: cost(found.key.cost)?,
        })
    }

    fn lines(&self, found: &Found<'a>) -> Result<Vec<PlanLine>, StopReason> {
        let mut all: Vec<&Take<'a>> = takes(found).collect();
        all.sort_by_key(|take| take.stock.order());
        all.into_iter().map(|take| self.line(take)).collect()
    }

    fn line(&self, take: &Take<'a>) -> Result<PlanLine, StopReason> {
        let (unit_price, supplier, condition, lead_time_days, data) = match take.stock {
            Stock::Shelf(item) => (item.unit_value, None, item.condition, None, item.data.clone()),
            Stock::Offer(offer, _) => {
                let price = Some(offer.price_at(take.quantity));
                (price, offer.supplier.clone(), offer.condition, offer.lead_time_days, offer.data.clone())
            }
        };
        let parts = take.stock.cost_parts(take.quantity);
        let line_price = unit_price.map(|_| self.price(parts.purchases + parts.shelf)).transpose()?;
        let count = |units: u32| usize::try_from(units).map_err(|_| StopReason::INTERNAL_RANGE);
        Ok(PlanLine {
            source: take.stock.source(),
            module: take.stock.module().clone(),
            quantity: count(take.quantity + take.returned())?,
            returned: count(take.returned())?,
            unit_price,
            line_price,
            supplier,
            condition,
            lead_time_days,
            data,
        })
    }
}

/// Everything that is taken from stock.
fn takes<'f, 'a>(found: &'f Found<'a>) -> impl Iterator<Item = &'f Take<'a>> {
    found.sourcing.sources.iter().flat_map(|(_, sourced)| &sourced.takes)
}

/// What is bought and not fitted.
fn surplus(found: &Found<'_>) -> Result<Vec<SurplusLine>, StopReason> {
    let line = |take: &Take<'_>| {
        let quantity = usize::try_from(take.spare).map_err(|_| StopReason::INTERNAL_RANGE)?;
        Ok(SurplusLine { id: take.stock.order().1.clone(), module: take.stock.module().clone(), quantity })
    };
    takes(found).filter(|take| take.spare > 0).map(line).collect()
}

#[cfg(test)]
mod tests {
    use crate::assess::Planner;
    use crate::module::Individual;
    use crate::population::{Fitted, Occupant, Population};
    use crate::purchase::{ModuleSource, Offer, Outcome, PlanRequest, Present};
    use crate::rule::RuleBook;
    use crate::testing::{board_of, machine, module, name, plain, population, processor};
    use crate::unit::{Capacity, Price};

    /// Of modules that work alike the pinned one stays, though another comes before it.
    #[test]
    fn a_pinned_module_is_not_the_one_that_is_pulled() {
        let machine = machine(board_of(1, 2, 2), processor());
        let rules = RuleBook::standard();
        let (first, second) = (plain(), plain());
        let present = population(&[("1A1", &first), ("1B1", &second)]);
        let credit = Price::new(500, "EUR".parse().unwrap());
        let credits = [(name("1A1"), credit), (name("1B1"), credit)];
        let present = Present::new(present).pinned([name("1B1")]).credits(credits);
        let request = PlanRequest::new().usable_at_least(Capacity::from_gib(32)).present(present);
        let outcome = Planner::new(&machine, &rules).plan(&request).unwrap();
        let plan = outcome.optimal().unwrap();
        let slots: Vec<&str> = plan.slots.iter().map(|slot| slot.slot.as_str()).collect();
        assert_eq!((slots, plan.pulled[0].slot.as_str()), (vec!["1B1"], "1A1"));
    }

    /// What a plan costs at least is no more than what it costs, however early the search is told to stop: credits can
    /// make that less than nothing.
    #[test]
    fn a_bound_counts_all_credits() {
        let machine = machine(board_of(1, 2, 2), processor());
        let rules = RuleBook::standard();
        let price = |minor: u64| Price::new(minor, "EUR".parse().unwrap());
        let (first, second) = (plain(), plain());
        let present = population(&[("1A1", &first), ("1B1", &second)]);
        let request = PlanRequest::new()
            .present(Present::new(present).credits([(name("1A1"), price(500)), (name("1B1"), price(700))]));
        // sold in packs: what it costs is tabled before the search
        let offer = Offer::new(name("offer"), module("16GB 1Rx4 PC4-2400T-RC1-11"), price(900), 4).pack(2);
        let request = request.usable_at_least(Capacity::from_gib(32)).offer(offer);
        let planner = Planner::new(&machine, &rules);
        let cost = planner.plan(&request).unwrap().optimal().unwrap().cost.total.amount_minor();
        assert!(cost <= -500, "{cost}");
        for nodes in 0..40 {
            if let Outcome::Stopped { cost_at_least, .. } = planner.plan(&request.clone().nodes(nodes)).unwrap() {
                assert!(cost_at_least.amount_minor() <= cost, "{nodes}: {cost_at_least}");
            }
        }
        let watch = |_| std::ops::ControlFlow::Break(());
        let Outcome::Stopped { cost_at_least, .. } = planner.watched(&watch).plan(&request).unwrap() else { panic!() };
        assert!(cost_at_least.amount_minor() <= cost, "{cost_at_least}");
    }

    /// Of two sources of one sort the unit that is left over is that which is worth most; the others are fitted.
    #[test]
    fn what_is_left_over_sits_in_no_slot() {
        let machine = machine(board_of(1, 2, 1), processor());
        let rules = RuleBook::standard();
        let price = |minor: u64| Price::new(minor, "EUR".parse().unwrap());
        let first = Offer::new(name("o1"), plain(), price(100), 2).surplus_value(price(90));
        let second = Offer::new(name("o2"), plain(), price(200), 1);
        let request = PlanRequest::new().usable_at_least(Capacity::from_gib(64)).offer(first).offer(second).spares(1);
        let outcome = Planner::new(&machine, &rules).plan(&request).unwrap();
        let plan = outcome.optimal().unwrap();
        let sources: Vec<String> = plan.slots.iter().map(|slot| slot.source.to_string()).collect();
        assert_eq!(sources, ["offer o1", "offer o2"]);
    }

    /// What is known of a single module goes with it, whether it stays, moves or is pulled.
    #[test]
    fn single_modules_are_told_apart_wherever_they_go() {
        let machine = machine(board_of(1, 2, 2), processor());
        let rules = RuleBook::standard();
        let one = |id: &str| {
            let individual = Some(Individual { id: name(id), condition: None, test_record: None });
            Occupant::Module(Fitted { individual, ..Fitted::new(plain()) })
        };
        let present: Population =
            [("1A1", "x1"), ("1A2", "x2"), ("1B2", "x3")].into_iter().map(|(slot, id)| (name(slot), one(id))).collect();
        let credit = Price::new(500, "EUR".parse().unwrap());
        let request = PlanRequest::new()
            .usable_at_least(Capacity::from_gib(64))
            .present(Present::new(present).credits([(name("1B2"), credit)]));
        let outcome = Planner::new(&machine, &rules).plan(&request).unwrap();
        let plan = outcome.optimal().unwrap();
        let id = |fitted: &Fitted| fitted.individual.as_ref().map(|known| known.id.to_string()).unwrap();
        let fitted: Vec<(String, String)> =
            plan.population.modules().map(|(slot, fitted)| (slot.to_string(), id(fitted))).collect();
        let at = |slot: &str, id: &str| (slot.to_owned(), id.to_owned());
        assert_eq!(fitted, [at("1A1", "x1"), at("1B1", "x2")]);
        let sources: Vec<&ModuleSource> = plan.slots.iter().map(|slot| &slot.source).collect();
        assert_eq!(sources, [&ModuleSource::Stays, &ModuleSource::MovesFrom { slot: name("1A2") }]);
        let pulled = plan.pulled[0].individual.as_ref().map(|known| known.id.clone());
        assert_eq!((plan.pulled.len(), pulled), (1, Some(name("x3"))));
    }
}
