use std::collections::BTreeMap;

use crate::assess::Planner;
use crate::finding::Severity;
use crate::machine::Machine;
use crate::population::{Fitted, Layout, Occupant, OtherDevice, Population};
use crate::purchase::ground::{Ground, Needs};
use crate::purchase::solve::{Found, Solver};
use crate::purchase::sourcing::Take;
use crate::purchase::supply::{Amount, Class, PresentUnit, Stock};
use crate::purchase::why::Inquiry;
use crate::purchase::{
    ChargeLine, Condition, CostSheet, ModuleSource, Outcome, Plan, PlanLine, PlanNote, PlanRequest, PlannedSlot,
    Pulled, RequestError, StopReason, SurplusLine,
};
use crate::search::{Budget, Spent};
use crate::stated::Basis;
use crate::unit::{Cost, Currency, Name, Price};

impl Planner<'_> {
    /// Plans a request: the exact optimum in the documented order, or why there is none.
    ///
    /// ```
    /// use slotwright::assess::Planner;
    /// use slotwright::machine::Machine;
    /// use slotwright::module::Label;
    /// use slotwright::purchase::{Offer, PlanRequest};
    /// use slotwright::reference;
    /// use slotwright::rule::RuleBook;
    /// use slotwright::unit::{Capacity, DataRate, Price};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc())
    ///     .processor_named("1", "later")
    ///     .processor_named("2", "later")
    ///     .build()?;
    /// let rules = RuleBook::standard();
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let offer = Offer::new("lot-7".parse()?, module, Price::new(4_500, "EUR".parse()?), 40);
    ///
    /// let request = PlanRequest::new().usable_at_least(Capacity::from_gib(512)).offer(offer);
    /// let outcome = Planner::new(&machine, &rules).plan(&request)?;
    /// let plan = outcome.optimal().unwrap();
    /// assert_eq!(plan.lines[0].quantity, 16);
    /// assert_eq!(plan.cost.total.to_string(), "720.00 EUR");
    /// assert_eq!(plan.running_rate(), Some(DataRate::DDR4_2400));
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// All problems of the request at once: an id given twice, amounts in two currencies, packs of none,
    /// breaks that do not rise, slots that the machine lacks, pins or credits on slots without a module.
    pub fn plan(&self, request: &PlanRequest) -> Result<Outcome, RequestError> {
        request.check(self.machine())?;
        let ground = Ground::new(self, request);
        let mut budget = Budget::new(request.nodes);
        let mut solver = Solver::new(&ground, request, Needs::of(request));
        let run = solver.run(&mut budget);
        let (best, bound) = (solver.best.take(), solver.bound());
        let author = Author { planner: self, request, ground: &ground };
        let notes = author.notes();
        Ok(match (run, best) {
            (Ok(()), Some(found)) => {
                let mut plan = author.write(&found, notes);
                plan.without_warnings = self.without_warnings(request, &plan)?.map(Box::new);
                if plan.assessment.from(request.refuse_from).next().is_some() {
                    // never seen: every complete candidate was held against the same rules
                    Outcome::Stopped { best: None, cost_at_least: None, reason: StopReason::RefusedOnRecheck }
                } else {
                    Outcome::Optimal(plan)
                }
            }
            (Ok(()), None) => {
                let notes = notes.into_iter().chain(self.possible_without(request)).collect();
                let describe = |at: &[Option<usize>]| author.population(at);
                let inquiry = Inquiry { ground: &ground, request, describe: &describe };
                Outcome::Infeasible(inquiry.answer(notes, &mut Budget::new(request.nodes)))
            }
            (Err(Spent), best) => Outcome::Stopped {
                best: best.map(|found| author.write(&found, notes)),
                cost_at_least: bound.map(|bound| author.cost(bound)),
                reason: StopReason::NodesUsedUp { nodes: request.nodes },
            },
        })
    }

    /// The conditions beside the requirements of which giving up one is enough.
    fn possible_without(&self, request: &PlanRequest) -> Vec<PlanNote> {
        let mut relaxed = Vec::new();
        if !request.present.pinned.is_empty() {
            let mut request = request.clone();
            request.present.pinned.clear();
            relaxed.push((Condition::Pins, request));
        }
        if request.refuse_from < Severity::Error {
            relaxed.push((Condition::NoWarnings, request.clone().refuse_from(Severity::Error)));
        }
        if request.machines > 1 {
            relaxed.push((Condition::SeveralMachines, request.clone().machines(1)));
        }
        let possible = |(_, request): &(Condition, PlanRequest)| {
            let ground = Ground::new(self, request);
            let mut solver = Solver::new(&ground, request, Needs::of(request));
            solver.any_will_do = true;
            // a search that stops with a plan has shown that there is one
            let _stopped = solver.run(&mut Budget::new(request.nodes)).is_err();
            solver.best.is_some()
        };
        relaxed.retain(possible);
        relaxed.into_iter().map(|(condition, _)| PlanNote::PossibleWithout { condition }).collect()
    }

    /// The cheapest plan without warnings, where warnings are allowed and the plan has some.
    fn without_warnings(&self, request: &PlanRequest, plan: &Plan) -> Result<Option<Plan>, RequestError> {
        let warned = plan.assessment.from(Severity::Warning).next().is_some();
        if request.refuse_from <= Severity::Warning || !warned {
            return Ok(None);
        }
        let stricter = request.clone().refuse_from(Severity::Warning);
        Ok(match self.plan(&stricter)? {
            Outcome::Optimal(plan) => Some(plan),
            Outcome::Infeasible(_) | Outcome::Stopped { .. } => None,
        })
    }
}

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

    fn cost(&self, amount: Amount) -> Cost {
        let amount = i64::try_from(amount).unwrap_or(if amount < 0 { i64::MIN } else { i64::MAX });
        Cost::new(amount, self.currency())
    }

    fn label(&self, place: usize) -> Name {
        let slot = self.ground.grid.slots.get(place).map(|slot| slot.id);
        slot.map_or(Name::lossy(""), |id| self.machine().platform().slot(id).label.clone())
    }

    pub(crate) fn notes(&self) -> Vec<PlanNote> {
        let offers = self.request.offers.iter().map(Stock::Offer);
        let stocks = self.request.shelf.iter().map(Stock::Shelf).chain(offers);
        let mut none: Vec<_> = stocks.filter(|stock| stock.units() == 0).map(|stock| stock.order().1.clone()).collect();
        none.sort();
        let mut notes: Vec<_> = none.into_iter().map(|id| PlanNote::NoStock { id }).collect();
        let devices = self.other_devices().len();
        if devices > 0 {
            notes.push(PlanNote::OtherDevicesStay { devices });
        }
        notes
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

    /// A placing as a population, without what is known of individuals.
    fn population(&self, at: &[Option<usize>]) -> Population {
        let modules = at.iter().enumerate().filter_map(|(place, class)| {
            let module = self.ground.supply.classes.get((*class)?)?.module;
            Some((self.label(place), Occupant::module(module.clone())))
        });
        let devices = self.other_devices().into_iter().map(|(slot, device)| (slot, Occupant::OtherDevice(device)));
        modules.chain(devices).collect()
    }

    pub(crate) fn write(&self, found: &Found<'a>, mut notes: Vec<PlanNote>) -> Plan {
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
        let assessment = match Layout::new(self.machine(), &population) {
            Ok(layout) => self.planner.assess_layout(&layout),
            Err(_) => self.planner.assess_layout(&Layout::empty(self.machine())),
        };
        for limit in assessment.figures.running_rate.domains.iter().flat_map(crate::figure::DomainRate::binding) {
            if limit.basis == Some(Basis::Assumed) {
                notes.push(PlanNote::Assumed { limit: limit.clone() });
            }
        }
        Plan {
            machines: self.request.machines,
            slots,
            lines: lines(found, self.currency()),
            charges: found
                .charges
                .iter()
                .map(|(supplier, charge)| ChargeLine { supplier: supplier.clone(), charge: self.price(*charge) })
                .collect(),
            to_shelf: surplus(found),
            cost: self.sheet(found, &pulled),
            pulled,
            handlings: found.key.handlings,
            free_slots: found.free.iter().map(|&place| self.label(place)).collect(),
            other_devices: self.other_devices(),
            population,
            assessment,
            notes,
            without_warnings: None,
        }
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
        let places: Vec<usize> =
            (0..found.placed.at.len()).filter(|&place| found.placed.at.get(place) == Some(&Some(class))).collect();
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
            std::iter::repeat_n((source(stock), fitted), units)
        });
        // parts that work alike go in by the order of their facts
        let mut fresh: Vec<(ModuleSource, Fitted)> = moved.chain(new).collect();
        fresh.sort_by(|(_, a), (_, b)| a.module.cmp(&b.module));
        assigned.extend(open.into_iter().zip(fresh));
    }

    fn sheet(&self, found: &Found<'a>, pulled: &[Pulled]) -> CostSheet {
        let copies = Amount::try_from(self.ground.supply.machines).unwrap_or(1);
        let takes = || found.sources.iter().flat_map(|(_, sourced)| &sourced.takes);
        let of = |offers: bool| {
            let chosen = takes().filter(|take| matches!(take.stock, Stock::Offer(_)) == offers);
            chosen.map(|take| take.cost()).sum::<Amount>()
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
            charges: self.cost(found.charges.iter().map(|(_, charge)| charge).sum()),
            shelf: self.cost(of(false)),
            labour: self.cost(handlings * copies * self.ground.supply.labour),
            credit: self.cost(-credit * copies),
            surplus: self.cost(-surplus),
            total: self.cost(found.key.cost),
        }
    }
}

fn source(stock: Stock<'_>) -> ModuleSource {
    match stock {
        Stock::Shelf(item) => ModuleSource::Shelf { id: item.id.clone() },
        Stock::Offer(offer) => ModuleSource::Offer { id: offer.id.clone() },
    }
}

fn lines(found: &Found<'_>, currency: Currency) -> Vec<PlanLine> {
    let mut takes: Vec<&Take<'_>> = found.sources.iter().flat_map(|(_, sourced)| &sourced.takes).collect();
    takes.sort_by_key(|take| take.stock.order());
    let line = |take: &Take<'_>| {
        let (unit_price, supplier, data) = match take.stock {
            Stock::Shelf(item) => (item.unit_value, None, item.data.clone()),
            Stock::Offer(offer) => {
                let quantity = u32::try_from(take.quantity).unwrap_or(u32::MAX);
                (Some(offer.price_at(quantity)), offer.supplier.clone(), offer.data.clone())
            }
        };
        PlanLine {
            source: source(take.stock),
            module: take.stock.module().clone(),
            quantity: take.quantity,
            unit_price,
            line_price: unit_price.map(|_| Price::new(u64::try_from(take.cost()).unwrap_or(0), currency)),
            supplier,
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
