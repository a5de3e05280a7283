//! Every plan that a request allows: each population, with each use of what is present and each purchase.

use std::cell::RefCell;
use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

use slotwright::assess::Planner;
use slotwright::finding::Finding;
use slotwright::module::MemoryModule;
use slotwright::population::{Occupant, Population};
use slotwright::purchase::{ModuleSource, Plan, PlanRequest};
use slotwright::unit::{Bandwidth, Capacity, DataRate, Name, Price};

use super::answers::keep;
use crate::boards;
use crate::judge::{self, Channels, Spread};
use crate::purchase_oracle::{as_it_works, is_allowed, order};
use crate::verbs_oracle::fillings;

/// What is bought or taken: source and number kept.
pub type Lines = Vec<(ModuleSource, Reverse<usize>)>;

/// What decides between plans, in the documented order: less is better.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Key {
    pub cost: i64,
    /// Whether anything is taken out or put in.
    pub touched: bool,
    pub outside: bool,
    /// Processors without memory.
    pub bare: usize,
    pub rate: Reverse<Option<DataRate>>,
    pub spread: Spread,
    pub bandwidth: Reverse<(Bandwidth, Bandwidth)>,
    pub handlings: usize,
    pub parts: usize,
    pub free: Reverse<usize>,
    /// Where the population stands among all, by fill order.
    pub turn: usize,
    pub units: usize,
    pub lines: Lines,
}

/// A population without findings that the request refuses.
#[derive(Debug)]
pub struct Candidate {
    pub population: Population,
    pub usable: Capacity,
    /// Absent where it is not known.
    pub power: Option<u32>,
    /// How many of each sort.
    pub(super) wanted: Vec<usize>,
    /// All but the sourcing.
    pub(super) key: Key,
    pub(super) reuses: Vec<Reuse>,
}

/// A use of what is present, at the least cost.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reuse {
    /// How many of each sort stay or move.
    pub reused: Vec<usize>,
    /// Labour less credit, all machines together.
    pub cost: i64,
    pub handlings: usize,
}

/// A purchase of one sort.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct Deal {
    pub cost: i64,
    pub units: usize,
    pub lines: Lines,
}

impl Key {
    /// The same but for where modules come from.
    pub fn without_sources(&self) -> Self {
        Self { turn: 0, units: 0, lines: Vec::new(), ..self.clone() }
    }
}

pub fn amount(price: Option<Price>) -> i64 {
    price.map_or(0, |price| i64::try_from(price.amount_minor()).unwrap())
}

/// What is kept of each order, and what is taken from each shelf item.
pub fn lines_of(plan: &Plan) -> Lines {
    let mut lines: Lines =
        plan.lines.iter().map(|line| (line.source.clone(), Reverse(line.quantity - line.returned))).collect();
    lines.sort();
    lines
}

/// Everything that can be had and done, whatever is required of it.
pub struct Market<'p, 'm> {
    pub planner: &'p Planner<'m>,
    pub base: PlanRequest,
    pub sorts: Vec<MemoryModule>,
    by_turn: Vec<Name>,
    pub legal: Vec<Candidate>,
    /// By terms, sort, needed and spares.
    deals: RefCell<BTreeMap<(String, usize, (usize, usize)), Vec<Deal>>>,
}

/// Every population of these sorts in the live slots, around what is no module.
fn populations(by_turn: &[Name], sorts: &[MemoryModule], present: &Population) -> Vec<Population> {
    let devices = present.iter().filter(|(_, occupant)| matches!(occupant, Occupant::OtherDevice(_)));
    let fixed: Population = devices.map(|(slot, occupant)| (slot.clone(), occupant.clone())).collect();
    fillings(by_turn, sorts, &fixed)
}

impl<'p, 'm> Market<'p, 'm> {
    pub fn new(planner: &'p Planner<'m>, request: &PlanRequest) -> Self {
        let from = request.refuse_from;
        Self::refusing(planner, request, |finding| finding.severity >= from)
    }

    /// What there is where such findings are refused, whatever the request says of it.
    pub fn refusing(planner: &'p Planner<'m>, request: &PlanRequest, is_refused: impl Fn(&Finding) -> bool) -> Self {
        let (machine, present) = (planner.machine(), &request.present.population);
        let by_turn = boards::live(machine);
        let sorts: BTreeSet<_> = present
            .modules()
            .map(|(_, fitted)| &fitted.module)
            .chain(request.offers.iter().map(|offer| &offer.module))
            .chain(request.shelf.iter().map(|item| &item.module))
            .cloned()
            .collect();
        let sorts: Vec<_> = sorts.into_iter().collect();
        let all = populations(&by_turn, &sorts, present);
        let (base, deals) = (request.clone(), RefCell::default());
        let mut market = Self { planner, base, sorts, by_turn, legal: Vec::new(), deals };
        market.legal = market.judged(all, is_refused);
        market
    }

    /// Those that carry no finding which is refused and that what is present allows, in fill order.
    fn judged(&self, all: Vec<Population>, is_refused: impl Fn(&Finding) -> bool) -> Vec<Candidate> {
        let (machine, mut channels) = (self.planner.machine(), Channels::new(self.planner));
        let mut legal = Vec::new();
        for population in all {
            let wanted: Vec<_> = self.sorts.iter().map(|sort| count(&population, sort)).collect();
            let reuses = self.reuses(&population, &wanted);
            if reuses.is_empty() {
                continue;
            }
            let assessment = judge::assess(self.planner, &self.base.present.population, &population);
            let present = &self.base.present.population;
            if !judge::is_let_pass(self.planner, present, &population, &assessment, &is_refused) {
                continue;
            }
            let draw = &assessment.figures.power;
            let key = Key {
                cost: 0,
                touched: false,
                outside: judge::breaks_rows(&assessment),
                bare: judge::bare(&assessment),
                rate: Reverse(judge::rate(&assessment)),
                bandwidth: Reverse(judge::bandwidth(&assessment)),
                spread: judge::spread(machine, &assessment),
                parts: judge::modules(&population).len(),
                free: Reverse(channels.free_slots(&population).len()),
                handlings: 0,
                turn: 0,
                units: 0,
                lines: Vec::new(),
            };
            let power = (draw.unknown_modules == 0).then(|| draw.known_mw.mw());
            let usable = assessment.figures.usable.total_mib;
            legal.push((as_it_works(&population), Candidate { population, usable, power, wanted, key, reuses }));
        }
        let order = |a: &Population, b: &Population| judge::fill_order(machine, &self.by_turn, a, b);
        legal.sort_by(|(a, _), (b, _)| order(a, b));
        let mut turn = 0;
        for index in 1..legal.len() {
            turn += usize::from(order(&legal[index - 1].0, &legal[index].0).is_ne());
            legal[index].1.key.turn = turn;
        }
        legal.into_iter().map(|(_, candidate)| candidate).collect()
    }

    /// What may become of what is present: it stays, moves or is pulled.
    fn reuses(&self, population: &Population, wanted: &[usize]) -> Vec<Reuse> {
        let (machines, labour) = (i64::from(self.base.machines), amount(self.base.labour_per_handling));
        let present: Vec<_> = self.base.present.population.modules().collect();
        let planned: usize = wanted.iter().sum();
        let mut best: BTreeMap<Vec<usize>, (i64, usize)> = BTreeMap::new();
        for choice in 0..3_usize.pow(present.len() as u32) {
            let (mut reused, mut stays, mut credit) = (vec![0; wanted.len()], 0, 0);
            let fits = present.iter().enumerate().all(|(index, (slot, fitted))| {
                let fate = choice / 3_usize.pow(index as u32) % 3;
                let there = population.get(slot.as_str());
                let stay = matches!(there, Some(Occupant::Module(there)) if there.module == fitted.module);
                match fate {
                    0 => stays += 1,
                    1 => {}
                    _ => credit += amount(self.base.present.credits.get(slot.as_str()).copied()),
                }
                if fate < 2 {
                    reused[self.sorts.iter().position(|sort| *sort == fitted.module).unwrap()] += 1;
                }
                if fate == 0 { stay } else { !self.base.present.pinned.contains(*slot) }
            });
            if fits && reused.iter().zip(wanted).all(|(reused, wanted)| reused <= wanted) {
                let handlings = present.len() + planned - 2 * stays;
                let found = (machines * (labour * handlings as i64 - credit), handlings);
                let known = best.entry(reused).or_insert(found);
                *known = found.min(*known);
            }
        }
        best.into_iter().map(|(reused, (cost, handlings))| Reuse { reused, cost, handlings }).collect()
    }

    /// What a purchase of one sort costs, less what goes to the shelf; `None` where it is not enough or more is taken
    /// from the shelf than is needed.
    pub fn settle(
        &self,
        wants: &PlanRequest,
        sort: usize,
        lines: &Lines,
        (needed, spares): (usize, usize),
    ) -> Option<i64> {
        let is_sort = |module: &MemoryModule| *module == self.sorts[sort];
        let (mut cost, mut bought, mut taken, mut surplus_values) = (0, 0, 0, Vec::new());
        for (source, Reverse(kept)) in lines {
            match source {
                ModuleSource::Shelf { id } => {
                    let item = self.base.shelf.iter().find(|item| item.id == *id && is_sort(&item.module))?;
                    cost += amount(item.unit_value) * *kept as i64;
                    taken += kept;
                }
                ModuleSource::Offer { id } => {
                    let offer = self.base.offers.iter().find(|offer| offer.id == *id && is_sort(&offer.module))?;
                    cost += order(offer, *kept as u32)?;
                    bought += kept;
                    surplus_values.extend(vec![amount(offer.surplus_value); *kept]);
                }
                _ => return None,
            }
        }
        let surplus = bought.checked_sub(needed.checked_sub(taken)?)?;
        // what is worth most is not fitted
        surplus_values.sort_unstable();
        let over: i64 = surplus_values.iter().rev().take(surplus).sum();
        (self.left_over(wants, sort, lines, needed) >= spares).then_some(cost - over)
    }

    /// How many of a sort are left over of a purchase of which so many are fitted, and on the shelf.
    fn left_over(&self, wants: &PlanRequest, sort: usize, lines: &Lines, needed: usize) -> usize {
        let is_sort = |module: &MemoryModule| *module == self.sorts[sort];
        let shelf = wants.shelf.iter().filter(|item| is_sort(&item.module) && is_allowed(wants, item.condition, None));
        let bought = lines.iter().filter(|(source, _)| matches!(source, ModuleSource::Offer { .. }));
        let at_hand = shelf.map(|item| item.stock as usize).chain(bought.map(|(_, kept)| kept.0));
        at_hand.sum::<usize>() - needed
    }

    /// Every purchase of one sort.
    pub fn deals(&self, wants: &PlanRequest, sort: usize, needs: (usize, usize)) -> Vec<Deal> {
        let terms = format!("{:?} {:?}", wants.conditions, wants.lead_time_at_most_days);
        let known = (terms, sort, needs);
        if let Some(deals) = self.deals.borrow().get(&known) {
            return deals.clone();
        }
        let mut all: Vec<Lines> = vec![Vec::new()];
        let mut extend = |source: ModuleSource, kept: Vec<u32>| {
            let more: Vec<_> = all
                .iter()
                .flat_map(|lines| {
                    let with = |&kept: &u32| [lines.clone(), vec![(source.clone(), Reverse(kept as usize))]].concat();
                    kept.iter().map(with).collect::<Vec<_>>()
                })
                .collect();
            all.extend(more);
        };
        let is_sort = |module: &MemoryModule| *module == self.sorts[sort];
        for item in self.base.shelf.iter().filter(|item| is_sort(&item.module)) {
            if is_allowed(wants, item.condition, None) {
                let most = item.stock.min(needs.0 as u32);
                extend(ModuleSource::Shelf { id: item.id.clone() }, (1..=most).collect());
            }
        }
        for offer in self.base.offers.iter().filter(|offer| is_sort(&offer.module)) {
            if is_allowed(wants, offer.condition, Some(offer.lead_time_days)) {
                let kept = (1..=offer.stock).filter(|&kept| order(offer, kept).is_some()).collect();
                extend(ModuleSource::Offer { id: offer.id.clone() }, kept);
            }
        }
        let deal = |mut lines: Lines| {
            lines.sort();
            let cost = self.settle(wants, sort, &lines, needs)?;
            Some(Deal { cost, units: lines.iter().map(|(_, kept)| kept.0).sum(), lines })
        };
        let deals: Vec<_> = all.into_iter().filter_map(deal).collect();
        self.deals.borrow_mut().insert(known, deals.clone());
        deals
    }

    /// The cheapest purchases of one sort, by the suppliers that are asked and how many are left over, up to so many.
    pub fn cheapest_deals(
        &self,
        wants: &PlanRequest,
        sort: usize,
        needed: usize,
        spares: usize,
    ) -> BTreeMap<(BTreeSet<Name>, usize), Deal> {
        let mut cheapest = BTreeMap::new();
        for deal in self.deals(wants, sort, (needed, 0)) {
            let over = self.left_over(wants, sort, &deal.lines, needed).min(spares);
            keep(&mut cheapest, (self.suppliers(&deal.lines), over), deal);
        }
        cheapest
    }

    /// Whether there are parts that work alike: which of them is taken is not always decided as documented.
    pub fn has_doubles(&self) -> bool {
        let works: BTreeSet<_> = self.sorts.iter().map(MemoryModule::without_identity).collect();
        works.len() < self.sorts.len()
    }

    /// How many of a sort each machine holds now.
    pub fn present(&self, sort: usize) -> usize {
        count(&self.base.present.population, &self.sorts[sort])
    }

    fn suppliers(&self, lines: &Lines) -> BTreeSet<Name> {
        let of = |(source, _): &(ModuleSource, Reverse<usize>)| {
            let offer = self.base.offers.iter().find(|offer| source_is(source, &offer.id))?;
            offer.supplier.clone()
        };
        lines.iter().filter_map(of).collect()
    }

    /// What the suppliers that are asked charge.
    pub fn charges(&self, lines: &Lines) -> i64 {
        let charge = |supplier: &Name| amount(self.base.supplier_charges.get(supplier.as_str()).copied());
        self.suppliers(lines).iter().map(charge).sum()
    }
}

/// Whether a source is an offer.
pub fn source_is(source: &ModuleSource, offer: &Name) -> bool {
    matches!(source, ModuleSource::Offer { id } if id == offer)
}

fn count(population: &Population, sort: &MemoryModule) -> usize {
    population.modules().filter(|(_, fitted)| fitted.module == *sort).count()
}
