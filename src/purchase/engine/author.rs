//! Writes plans out.

use std::collections::{BTreeMap, BTreeSet};

use crate::assess::Planner;
use crate::fill::{ClassId, PlaceId};
use crate::finding::Finding;
use crate::machine::Machine;
use crate::population::{Fitted, Occupant, OtherDevice, Population};
use crate::purchase::engine::classes::{Class, PresentUnit};
use crate::purchase::engine::context::Ground;
use crate::purchase::engine::solve::Found;
use crate::purchase::engine::sourcing::Take;
use crate::purchase::engine::stock::{Amount, Stock};
use crate::purchase::{
    ChargeLine, CostSheet, ModuleSource, Plan, PlanLine, PlanNote, PlanRequest, PlannedSlot, Pulled, SpareLine,
    SurplusLine,
};
use crate::search::{Index, InternalFault, StopReason};
use crate::stated::Basis;
use crate::unit::{Cost, Currency, Name, Price};

/// Writes plans out.
pub(crate) struct Author<'s, 'a> {
    pub(crate) planner: &'s Planner<'a>,
    pub(crate) request: &'a PlanRequest,
    pub(crate) ground: &'s Ground<'a>,
}

impl<'a> Author<'_, 'a> {
    fn machine(&self) -> &'a Machine {
        self.planner.machine()
    }

    fn currency(&self) -> Currency {
        self.request.currency().unwrap_or(Currency::NONE)
    }

    pub(crate) fn cost(&self, amount: Amount) -> Cost {
        let amount = i64::try_from(amount).unwrap_or(if amount < 0 { i64::MIN } else { i64::MAX });
        Cost::new(amount, self.currency())
    }

    fn label(&self, place: usize) -> Name {
        let slot = self.ground.grid.slots.get(PlaceId::of(place)).map(|slot| slot.id);
        slot.map_or(Name::lossy(""), |id| self.machine().platform().slot(id).label.clone())
    }

    pub(crate) fn notes(&self) -> Vec<PlanNote> {
        let offers = self.request.offers.iter().map(Stock::Offer);
        let stocks = || self.request.shelf.iter().map(Stock::Shelf).chain(offers.clone());
        let sorted = |mut ids: Vec<Name>| {
            ids.sort();
            ids
        };
        let id = |stock: Stock<'_>| stock.order().1.clone();
        let none = stocks().filter(|stock| stock.units() == 0).map(id).collect();
        let mut notes: Vec<_> = sorted(none).into_iter().map(|id| PlanNote::NoStock { id }).collect();
        let unstated = self.request.offers.iter().filter(|offer| {
            self.request.conditions.is_some() && offer.condition.is_none()
                || self.request.lead_time_at_most_days.is_some() && offer.lead_time_days.is_none()
        });
        notes.extend(
            sorted(unstated.map(|offer| offer.id.clone()).collect()).into_iter().map(|id| PlanNote::NotStated { id }),
        );
        let unknown = self
            .request
            .supplier_charges
            .keys()
            .filter(|supplier| !self.request.offers.iter().any(|offer| offer.supplier.as_ref() == Some(*supplier)));
        notes.extend(unknown.map(|supplier| PlanNote::NoOfferFrom { supplier: supplier.clone() }));
        notes.extend(self.free_money());
        let devices = self.other_devices().len();
        if devices > 0 {
            notes.push(PlanNote::OtherDevicesStay { devices });
        }
        notes
    }

    /// Credits above the lowest price of the same module: it would pay to buy it and have it pulled.
    fn free_money(&self) -> impl Iterator<Item = PlanNote> {
        let present = self.request.present.population.modules();
        present.filter_map(|(slot, fitted)| {
            let credit = *self.request.present.credits.get(slot)?;
            let same = self.request.offers.iter().filter(|offer| offer.module == fitted.module);
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

    fn other_devices(&self) -> Vec<(Name, OtherDevice)> {
        let population = self.request.present.population.iter();
        population
            .filter_map(|(slot, occupant)| match occupant {
                Occupant::OtherDevice(device) => Some((slot.clone(), device.clone())),
                Occupant::Module(_) | Occupant::Blank => None,
            })
            .collect()
    }

    /// Writes a plan out, and holds it against the rules once more.
    pub(crate) fn write(&self, found: &Found<'a>) -> Result<Plan, StopReason> {
        let mut notes = self.notes();
        let mut assigned: BTreeMap<usize, (ModuleSource, Fitted)> = BTreeMap::new();
        let mut pulled = Vec::new();
        for class in
            (0..self.ground.supply.classes.len()).filter(|&class| self.twins(class).any(|(twin, _)| twin == class))
        {
            self.assign(class, found, &mut assigned, &mut pulled);
        }
        pulled.sort_by(|a: &Pulled, b| a.slot.cmp(&b.slot));
        let mut population: Population = assigned
            .iter()
            .map(|(&place, (_, fitted))| (self.label(place), Occupant::Module(fitted.clone())))
            .collect();
        for (slot, device) in self.other_devices() {
            population.put(slot, Occupant::OtherDevice(device));
        }
        let slots = assigned
            .into_iter()
            .map(|(place, (source, fitted))| PlannedSlot { slot: self.label(place), module: fitted.module, source })
            .collect();
        let off_the_board = StopReason::Internal { fault: InternalFault::NotOnTheBoard };
        let assessment = self.planner.assess(&population).map_err(|_| off_the_board)?;
        if assessment.findings.iter().any(|finding| self.refuses(finding)) {
            return Err(StopReason::Internal { fault: InternalFault::RefusedOnRecheck });
        }
        for limit in assessment.figures.running_rate.domains.iter().flat_map(crate::figure::DomainRate::binding) {
            if limit.basis == Some(Basis::Assumed) {
                notes.push(PlanNote::Assumed { limit: limit.clone() });
            }
        }
        Ok(Plan {
            machines: self.request.machines,
            slots,
            lines: lines(found, self.currency()),
            charges: found
                .charges
                .iter()
                .map(|(supplier, charge)| ChargeLine { supplier: supplier.clone(), charge: self.price(*charge) })
                .collect(),
            to_shelf: surplus(found),
            spares: self.spares(found, &pulled),
            cost: self.sheet(found, &pulled),
            pulled,
            handlings: found.key.handlings,
            free_slots: found.free.iter().map(|&place| self.label(place)).collect(),
            other_devices: self.other_devices(),
            population,
            assessment,
            notes,
            without_warnings: None,
        })
    }

    /// Whether a finding refuses a plan.
    fn refuses(&self, finding: &Finding) -> bool {
        let rule = self.planner.rules().get(finding.code.as_str());
        rule.is_some_and(|rule| finding.severity >= rule.threshold(self.request.refuse_from))
    }

    fn price(&self, amount: Amount) -> Price {
        Price::new(u64::try_from(amount).unwrap_or(0), self.currency())
    }

    /// The classes that are placed as this one.
    fn twins(&self, class: usize) -> impl Iterator<Item = (usize, &Class<'a>)> {
        self.ground.supply.classes.iter().enumerate().filter(move |(_, entry)| entry.twin == class)
    }

    /// Says for each slot of a class where its module comes from, and what is pulled.
    fn assign(
        &self,
        class: usize,
        found: &Found<'a>,
        assigned: &mut BTreeMap<usize, (ModuleSource, Fitted)>,
        pulled: &mut Vec<Pulled>,
    ) {
        let places: Vec<usize> = (0..found.placed.at.len())
            .filter(|&place| found.placed.at.get(PlaceId::of(place)) == Some(&Some(ClassId::of(class))))
            .collect();
        let individual = |unit: &PresentUnit<'a>| match self.request.present.population.get(unit.slot.as_str()) {
            Some(Occupant::Module(fitted)) => fitted.clone(),
            _ => Fitted { module: unit.module.clone(), individual: None },
        };
        let stays = |unit: &PresentUnit<'a>| unit.place.is_some_and(|place| places.contains(&place));
        let mut kept: Vec<&PresentUnit<'a>> = Vec::new();
        let mut fitted: Vec<(Stock<'a>, usize)> = Vec::new();
        for (twin, entry) in self.twins(class) {
            let used = found.used.get(twin).copied().unwrap_or(0);
            let mut units: Vec<&PresentUnit<'a>> = entry.present.iter().collect();
            units.sort_by_key(|unit| (!unit.pinned, !stays(unit), unit.slot.clone()));
            let (used, gone) = units.split_at_checked(used).unwrap_or((&units, &[]));
            kept.extend(used);
            pulled.extend(gone.iter().map(|unit| {
                let Fitted { module, individual } = individual(unit);
                let credit = self.request.present.credits.get(&unit.slot).copied();
                Pulled { slot: unit.slot.clone(), module, individual, credit }
            }));
            let sourced = found.sources.iter().find(|(known, _)| *known == twin);
            let takes = sourced.into_iter().flat_map(|(_, sourced)| sourced.takes.iter().zip(&sourced.spare));
            fitted.extend(takes.map(|(take, spare)| (take.stock, take.quantity - spare)));
        }
        let mut open: Vec<usize> = places.clone();
        for unit in kept.iter().filter(|unit| stays(unit)) {
            let Some(place) = unit.place else { continue };
            open.retain(|&other| other != place);
            assigned.insert(place, (ModuleSource::Stays, individual(unit)));
        }
        let moved = kept.iter().filter(|unit| !stays(unit));
        let moved = moved.map(|unit| (ModuleSource::MovesFrom { slot: unit.slot.clone() }, individual(unit)));
        let new = fitted.iter().flat_map(|&(stock, units)| {
            let fitted = Fitted { module: stock.module().clone(), individual: None };
            std::iter::repeat_n((stock.source(), fitted), units)
        });
        // parts that work alike go in by the order of their facts
        let mut fresh: Vec<(ModuleSource, Fitted)> = moved.chain(new).collect();
        fresh.sort_by(|(_, a), (_, b)| a.module.cmp(&b.module));
        assigned.extend(open.into_iter().zip(fresh));
    }

    /// What is at hand and not fitted of every part that is, where the request asks for spares.
    fn spares(&self, found: &Found<'a>, pulled: &[Pulled]) -> Vec<SpareLine> {
        if self.request.spares == 0 {
            return Vec::new();
        }
        let supply = &self.ground.supply;
        let fitted: BTreeSet<usize> = found.placed.at.values().iter().copied().flatten().map(ClassId::get).collect();
        let line = |class: usize| {
            let module = supply.classes.get(class)?.module;
            let takes = found.sources.iter().flat_map(|(_, sourced)| sourced.takes.iter().zip(&sourced.spare));
            let of_it = || takes.clone().filter(|(take, _)| take.stock.module() == module);
            let used = of_it().filter(|(take, _)| matches!(take.stock, Stock::Shelf(_))).map(|(take, _)| take.quantity);
            let on_shelf: usize = self.twins(class).map(|(_, entry)| entry.shelf_units()).sum();
            Some(SpareLine {
                module: module.clone(),
                on_shelf: on_shelf.saturating_sub(used.sum()),
                pulled: pulled.iter().filter(|pulled| pulled.module == *module).count() * supply.machines,
                bought: of_it().map(|(_, spare)| spare).sum(),
            })
        };
        fitted.into_iter().filter_map(line).collect()
    }

    fn sheet(&self, found: &Found<'a>, pulled: &[Pulled]) -> CostSheet {
        let copies = Amount::try_from(self.ground.supply.machines).unwrap_or(1);
        let takes = || found.sources.iter().flat_map(|(_, sourced)| &sourced.takes);
        let of = |offers: bool| {
            let chosen = takes().filter(|take| matches!(take.stock, Stock::Offer(_)) == offers);
            chosen.map(|take| take.price()).sum::<Amount>()
        };
        let credit: Amount =
            pulled.iter().filter_map(|pulled| pulled.credit).map(|c| Amount::from(c.amount_minor())).sum();
        let handlings = Amount::try_from(found.key.handlings).unwrap_or(0);
        let surplus: Amount = found
            .sources
            .iter()
            .map(|(_, sourced)| sourced.takes.iter().map(|take| take.cost()).sum::<Amount>() - sourced.cost)
            .sum();
        CostSheet {
            purchases: self.cost(of(true)),
            returns: self.cost(takes().map(|take| take.return_cost()).sum()),
            charges: self.cost(found.charges.iter().map(|(_, charge)| charge).sum()),
            shelf: self.cost(of(false)),
            labour: self.cost(handlings * copies * self.ground.supply.labour),
            credit: self.cost(-credit * copies),
            surplus: self.cost(-surplus),
            total: self.cost(found.key.cost),
        }
    }
}

fn lines(found: &Found<'_>, currency: Currency) -> Vec<PlanLine> {
    let mut takes: Vec<&Take<'_>> = found.sources.iter().flat_map(|(_, sourced)| &sourced.takes).collect();
    takes.sort_by_key(|take| take.stock.order());
    let line = |take: &Take<'_>| {
        let (unit_price, supplier, condition, lead_time_days, data) = match take.stock {
            Stock::Shelf(item) => (item.unit_value, None, item.condition, None, item.data.clone()),
            Stock::Offer(offer) => {
                let quantity = u32::try_from(take.quantity).unwrap_or(u32::MAX);
                let price = Some(offer.price_at(quantity));
                (price, offer.supplier.clone(), offer.condition, offer.lead_time_days, offer.data.clone())
            }
        };
        PlanLine {
            source: take.stock.source(),
            module: take.stock.module().clone(),
            quantity: take.quantity + take.returned(),
            returned: take.returned(),
            unit_price,
            line_price: unit_price.map(|_| Price::new(u64::try_from(take.price()).unwrap_or(0), currency)),
            supplier,
            condition,
            lead_time_days,
            data,
        }
    };
    takes.into_iter().map(line).collect()
}

/// What is bought and not fitted.
fn surplus(found: &Found<'_>) -> Vec<SurplusLine> {
    let takes = found.sources.iter().flat_map(|(_, sourced)| sourced.takes.iter().zip(&sourced.spare));
    let line = |(take, &quantity): (&Take<'_>, &usize)| SurplusLine {
        id: take.stock.order().1.clone(),
        module: take.stock.module().clone(),
        quantity,
    };
    takes.filter(|&(_, &spare)| spare > 0).map(line).collect()
}
