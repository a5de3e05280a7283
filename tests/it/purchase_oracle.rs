//! Plans against brute force: every population of the sorts there are, and every sourcing.
#![allow(clippy::unwrap_used, clippy::indexing_slicing, clippy::panic)]

use std::cmp::{Ordering, Reverse};
use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use slotwright::assess::{Assessment, Planner};
use slotwright::finding::{Finding, Severity};
use slotwright::machine::Machine;
use slotwright::module::MemoryModule;
use slotwright::population::{Fault, Occupant, Population};
use slotwright::processor::MissingFact;
use slotwright::purchase::{Condition, Offer, Outcome, Plan, PlanRequest, QuantityBreak, ShelfItem};
use slotwright::rule::RuleBook;
use slotwright::stated::Scope;
use slotwright::unit::{Bandwidth, Capacity, DataRate, Name, Price};

use crate::boards::{self, Source, bytes, name};
use crate::judge::{self, Channels, Spread};
use crate::one_truth::case::world;
use crate::verbs_oracle::fillings;

pub fn euros(amount: usize) -> Price {
    Price::new(amount as u64, "EUR".parse().unwrap())
}

/// Facts that a request may accept as unknown.
const MAY_BE_UNKNOWN: [MissingFact; 6] = [
    MissingFact::DieDensity,
    MissingFact::PackageRanks,
    MissingFact::Width,
    MissingFact::Stack,
    MissingFact::Grade,
    MissingFact::FormFactor,
];

const CONDITIONS: [Condition; 3] = [Condition::Tested, Condition::New, Condition::Pulled];

/// A small request of any sort on a small machine.
pub fn request(source: &mut Source<'_>, machine: &Machine, most_sorts: usize) -> PlanRequest {
    let generation = machine.platform().generation();
    let sorts = boards::sorts(source, generation, most_sorts);
    request_of(source, machine, &sorts)
}

/// The same, of these modules.
pub fn request_of(source: &mut Source<'_>, machine: &Machine, sorts: &[MemoryModule]) -> PlanRequest {
    let mut request = PlanRequest::new().savings_nodes(0);
    for index in 0..source.below(3) + 1 {
        request = request.offer(offer(source, index, sorts));
    }
    if source.once_in(2) {
        with_present(source, machine, sorts, &mut request);
    }
    if source.once_in(3) {
        for index in 0..source.below(2) + 1 {
            let unit_value = if source.once_in(2) { Some(euros(source.below(12))) } else { None };
            let (id, module, stock) = (name(&format!("s{index}")), source.pick(sorts), source.below(3) as u32);
            let condition = if source.once_in(2) { Some(source.pick(&CONDITIONS)) } else { None };
            request.shelf.push(ShelfItem::new(id, module, stock).unit_value(unit_value).condition(condition));
        }
    }
    if source.once_in(3) {
        request.labour_per_handling = Some(euros(source.below(4)));
    }
    if source.once_in(3) {
        for supplier in ["x", "y"] {
            request = request.supplier_charges([(name(supplier), euros(source.below(10)))]);
        }
    }
    if source.once_in(5) {
        request.machines = 2;
    }
    judge::with_evidence(machine, requirements(source, machine, sorts, request))
}

fn offer(source: &mut Source<'_>, index: usize, sorts: &[MemoryModule]) -> Offer {
    let price = source.below(20);
    let mut offer =
        Offer::new(name(&format!("o{index}")), source.pick(sorts), euros(price), 1 + source.below(5) as u32);
    if source.once_in(4) {
        offer.pack = 2;
    }
    if source.once_in(4) {
        let from = 2 + source.below(3) as u32;
        offer.breaks.push(QuantityBreak::new(from, euros(source.below(price + 1))));
    }
    if source.once_in(3) {
        offer.supplier = Some(source.pick(&[name("x"), name("y"), name("free")]));
    }
    if source.once_in(4) {
        let prices = offer.breaks.iter().map(|step| step.unit_price).chain([offer.unit_price]);
        let lowest = prices.map(Price::amount_minor).min().unwrap();
        offer.surplus_value = Some(euros(source.below(lowest as usize + 1)));
    }
    if source.once_in(5) {
        offer.minimum_quantity = 2 + source.below(2) as u32;
    }
    if source.once_in(4) {
        offer.return_cost = Some(euros(source.below(6)));
    }
    if source.once_in(2) {
        offer.condition = Some(source.pick(&CONDITIONS));
    }
    if source.once_in(2) {
        offer.lead_time_days = Some(source.below(4) as u32);
    }
    offer
}

fn with_present(source: &mut Source<'_>, machine: &Machine, sorts: &[MemoryModule], request: &mut PlanRequest) {
    let population = boards::fitted(source, &boards::live(machine), sorts, 2);
    for (slot, _) in population.modules() {
        match source.below(8) {
            4 => drop(request.present.pinned.insert(slot.clone())),
            5 | 6 => drop(request.present.credits.insert(slot.clone(), euros(source.below(8)))),
            7 => drop(request.present.credits.insert(slot.clone(), euros(20 + source.below(20)))),
            _ => {}
        }
    }
    request.present.population = population;
}

fn requirements(
    source: &mut Source<'_>,
    machine: &Machine,
    sorts: &[MemoryModule],
    mut request: PlanRequest,
) -> PlanRequest {
    let gib = [8, 16, 24, 32, 48, 64];
    if !source.once_in(3) {
        request = request.usable_at_least(Capacity::from_gib(source.pick(&gib)));
    }
    if source.once_in(6) {
        request = request.usable_at_most(Capacity::from_gib(source.pick(&gib)));
    }
    if source.once_in(6) {
        let rates = machine.rate_steps();
        if !rates.is_empty() {
            request = request.rate_at_least(rates[source.below(rates.len())]);
        }
    }
    if source.once_in(6) {
        let channel = source.pick(&[DataRate::DDR4_1866, DataRate::DDR4_2400]).peak_bandwidth();
        request = request.bandwidth_at_least(channel.times(source.pick(&[2, 3, 4, 1, 6]), 2));
    }
    if source.once_in(6) {
        request = request.free_slots_at_least(source.below(3));
    }
    if source.once_in(10) {
        request = request.kinds([source.pick(sorts).kind()]);
    }
    if source.once_in(4) {
        request = request.one_part_number(source.pick(&[Scope::Machine, Scope::Socket, Scope::Channel]));
    }
    if source.once_in(8) {
        request = request.conditions([source.pick(&CONDITIONS), source.pick(&CONDITIONS)]);
    }
    if source.once_in(8) {
        request = request.lead_time_at_most(source.below(4) as u32);
    }
    if source.once_in(6) {
        request = request.spares(1 + source.below(3) as u32);
        if source.once_in(3) {
            request = request.spares_per_part(true);
        }
        // often there are others that work alike
        let sell_other = |module: &MemoryModule| module.to_builder().part_number(name("other")).build().unwrap();
        for offer in &mut request.offers {
            if source.once_in(3) {
                offer.module = sell_other(&offer.module);
            }
        }
    }
    if source.once_in(10) {
        request = request.known_facts_only(true);
    }
    if source.once_in(10) {
        request = request.accept_unknown([source.pick(&MAY_BE_UNKNOWN), source.pick(&MAY_BE_UNKNOWN)]);
    }
    if source.once_in(5) {
        request = request.budget(euros(source.below(80)));
    }
    if source.once_in(4) {
        request = request.refuse_from(Severity::Error);
    }
    request
}

/// What decides between plans, before the population itself: less is better.
type Key = (
    i64,
    (bool, bool),
    usize,
    Reverse<Option<DataRate>>,
    Spread,
    Reverse<(Bandwidth, Bandwidth)>,
    usize,
    usize,
    Reverse<usize>,
);

/// A population with its best sourcing.
#[derive(Debug)]
pub struct Best {
    pub key: Key,
    pub population: Population,
}

pub fn facts_known(module: &MemoryModule) -> bool {
    module.organization().is_some() && module.grade().is_some() && module.ecc().is_some() && module.voltages().is_some()
}

fn amount(price: Option<Price>) -> i64 {
    price.map_or(0, |price| i64::try_from(price.amount_minor()).unwrap())
}

/// Whether a stock may be used at all.
pub fn is_allowed(request: &PlanRequest, condition: Option<Condition>, days: Option<Option<u32>>) -> bool {
    let conditions = request.conditions.as_ref();
    let in_time = match (days, request.lead_time_at_most_days) {
        (Some(days), Some(most)) => days.is_some_and(|days| days <= most),
        _ => true,
    };
    // what is owned need not say it, unless all must be new
    let only_new = |allowed: &BTreeSet<Condition>| allowed.iter().all(|condition| *condition == Condition::New);
    let unstated = days.is_none() && !conditions.is_some_and(only_new);
    in_time && conditions.is_none_or(|allowed| condition.map_or(unstated, |condition| allowed.contains(&condition)))
}

/// What it costs to keep so many units of an offer, and whether that can be: the fewest whole packs that are sold are
/// ordered, and what is over is kept too unless it can be sent back.
pub fn order(offer: &Offer, kept: u32) -> Option<i64> {
    let ordered =
        (kept..=offer.stock).find(|&ordered| ordered % offer.pack == 0 && ordered >= offer.minimum_quantity)?;
    let back = i64::from(ordered - kept);
    if back > 0 && offer.return_cost.is_none() {
        return None;
    }
    Some(amount(Some(offer.price_at(kept))) * i64::from(kept) + back * amount(offer.return_cost))
}

/// The sorts of module that are spares of each other: each part by itself, or all that work alike.
pub fn stand_ins(request: &PlanRequest, sorts: &[MemoryModule]) -> Vec<Vec<usize>> {
    let mut groups: BTreeMap<MemoryModule, Vec<usize>> = BTreeMap::new();
    for (index, sort) in sorts.iter().enumerate() {
        let alone = request.spares == 0 || request.spares_per_part;
        groups.entry(if alone { sort.clone() } else { sort.without_identity() }).or_default().push(index);
    }
    groups.into_values().collect()
}

/// The cheapest ways to get so many of each of these modules, and so many more of any of them that are at hand, by the set
/// of suppliers that are asked.
fn ways(
    request: &PlanRequest,
    modules: &[&MemoryModule],
    needed: &[i64],
    spares: i64,
) -> BTreeMap<BTreeSet<Name>, i64> {
    // what is still needed, still to be spare, suppliers -> cost
    type State = (Vec<i64>, i64, BTreeSet<Name>);
    let mut states: BTreeMap<State, i64> = BTreeMap::from([((needed.to_vec(), spares, BTreeSet::new()), 0)]);
    let keep = |states: &mut BTreeMap<State, i64>, key, cost: i64| {
        let known = states.entry(key).or_insert(cost);
        *known = cost.min(*known);
    };
    let place = |module: &MemoryModule| modules.iter().position(|other| *other == module);
    let less = |left: &Vec<i64>, place: usize, taken: i64| {
        let mut left = left.clone();
        left[place] -= taken;
        left
    };
    for item in request.shelf.iter().filter(|item| is_allowed(request, item.condition, None)) {
        let Some(place) = place(&item.module) else { continue };
        let mut next = BTreeMap::new();
        for ((left, spares, suppliers), cost) in &states {
            for taken in 0..=i64::from(item.stock).min(left[place]) {
                let spares = (spares - (i64::from(item.stock) - taken)).max(0);
                let key = (less(left, place, taken), spares, suppliers.clone());
                keep(&mut next, key, cost + taken * amount(item.unit_value));
            }
        }
        states = next;
    }
    let is_usable = |offer: &&Offer| is_allowed(request, offer.condition, Some(offer.lead_time_days));
    for offer in request.offers.iter().filter(is_usable) {
        let Some(place) = place(&offer.module) else { continue };
        let mut next = states.clone();
        for ((left, spares, suppliers), cost) in &states {
            for (bought, price) in (1..=offer.stock).filter_map(|kept| Some((kept, order(offer, kept)?))) {
                for used in 0..=i64::from(bought).min(left[place]) {
                    let over = i64::from(bought) - used;
                    let mut suppliers = suppliers.clone();
                    suppliers.extend(offer.supplier.clone());
                    let key = (less(left, place, used), (spares - over).max(0), suppliers);
                    keep(&mut next, key, cost + price - over * amount(offer.surplus_value));
                }
            }
        }
        states = next;
    }
    let mut ways = BTreeMap::new();
    for ((left, spares, suppliers), cost) in states {
        if spares == 0 && left.iter().all(|&left| left == 0) {
            let known = ways.entry(suppliers).or_insert(cost);
            *known = cost.min(*known);
        }
    }
    ways
}

/// The cheapest cost of a population and, at that cost, the fewest handlings of one machine.
#[derive(Debug, Default)]
pub struct Sourcing {
    /// By the first sort, what is needed of each and how many must be spare.
    known: BTreeMap<(usize, Vec<i64>, i64), BTreeMap<BTreeSet<Name>, i64>>,
}

impl Sourcing {
    fn of(&mut self, request: &PlanRequest, sorts: &[MemoryModule], population: &Population) -> Option<(i64, usize)> {
        let machines = i64::from(request.machines);
        let labour = amount(request.labour_per_handling);
        let present: Vec<(&Name, &MemoryModule)> =
            request.present.population.modules().map(|(slot, fitted)| (slot, &fitted.module)).collect();
        let faulty: Vec<bool> =
            request.present.population.modules().map(|(_, fitted)| fitted.fault.is_some()).collect();
        let planned: Vec<(&Name, &MemoryModule)> =
            population.modules().map(|(slot, fitted)| (slot, &fitted.module)).collect();
        let at = |slot: &Name| planned.iter().find(|(other, _)| *other == slot).map(|(_, module)| *module);
        let can_stay = |slot: &Name, module: &MemoryModule| at(slot) == Some(module);
        let groups = stand_ins(request, sorts);
        if request.present.pinned.iter().any(|slot| {
            let (_, module) = present.iter().find(|(other, _)| *other == slot).unwrap();
            !can_stay(slot, module)
        }) {
            return None;
        }
        // each present module: 0 stays, 1 moves, 2 is pulled
        let mut best = None;
        for choice in 0..3_usize.pow(u32::try_from(present.len()).unwrap()) {
            let fate = |index: usize| choice / 3_usize.pow(u32::try_from(index).unwrap()) % 3;
            let bad = present.iter().enumerate().any(|(index, (slot, module))| match fate(index) {
                0 | 1 if faulty[index] => true,
                0 => !can_stay(slot, module),
                _ => request.present.pinned.contains(*slot),
            });
            if bad {
                continue;
            }
            let stays = (0..present.len()).filter(|&index| fate(index) == 0).count();
            let handlings = present.len() + planned.len() - 2 * stays;
            let credit: i64 = present
                .iter()
                .enumerate()
                .filter(|&(index, _)| fate(index) == 2)
                .map(|(_, (slot, _))| amount(request.present.credits.get(slot.as_str()).copied()))
                .sum();
            let mut orders = BTreeMap::from([(BTreeSet::<Name>::new(), 0_i64)]);
            for group in &groups {
                let modules: Vec<&MemoryModule> = group.iter().map(|&sort| &sorts[sort]).collect();
                let wanted =
                    |module: &MemoryModule| planned.iter().filter(|(_, other)| *other == module).count() as i64;
                let of = |module: &MemoryModule, is: &dyn Fn(usize) -> bool| {
                    (0..present.len()).filter(|&index| is(index) && present[index].1 == module).count() as i64
                };
                let needed = modules.iter().map(|module| wanted(module) - of(module, &|index| fate(index) < 2));
                let needed: Vec<i64> = needed.map(|needed| needed * machines).collect();
                if needed.iter().any(|&needed| needed < 0) {
                    orders.clear();
                    break;
                }
                let is_spare = |index: usize| fate(index) == 2 && !faulty[index];
                let pulled: i64 = modules.iter().map(|module| of(module, &is_spare)).sum();
                let is_fitted = modules.iter().any(|module| wanted(module) > 0);
                let spares = if is_fitted { (i64::from(request.spares) - pulled * machines).max(0) } else { 0 };
                let known = self.known.entry((group[0], needed.clone(), spares));
                let ways = known.or_insert_with(|| ways(request, &modules, &needed, spares));
                let mut next = BTreeMap::new();
                for (asked, cost) in &orders {
                    for (further, more) in &*ways {
                        let total = cost + more;
                        let known = next.entry(asked | further).or_insert(total);
                        *known = total.min(*known);
                    }
                }
                orders = next;
            }
            for (asked, cost) in orders {
                let charges: i64 =
                    asked.iter().map(|supplier| amount(request.supplier_charges.get(supplier.as_str()).copied())).sum();
                let total = cost + charges + machines * (labour * handlings as i64 - credit);
                if best.is_none_or(|known| (total, handlings) < known) {
                    best = Some((total, handlings));
                }
            }
        }
        best
    }
}

fn key(
    planner: &Planner<'_>,
    channels: &mut Channels<'_, '_>,
    population: &Population,
    assessment: &Assessment,
    faulty: usize,
    (cost, handlings): (i64, usize),
) -> Key {
    let parts = judge::modules(population).len();
    let free = channels.free_slots(population).len();
    let spread = judge::spread(planner.machine(), assessment);
    let bandwidth = Reverse(judge::bandwidth(assessment));
    let outside = judge::breaks_rows(assessment);
    let (bare, rate) = (judge::bare(assessment), Reverse(judge::rate(assessment)));
    (cost, (handlings > faulty, outside), bare, rate, spread, bandwidth, handlings, parts, Reverse(free))
}

/// How many of the present modules are faulty.
fn faulty(request: &PlanRequest) -> usize {
    request.present.population.modules().filter(|(_, fitted)| fitted.fault.is_some()).count()
}

/// The best plan that the request allows.
pub fn best(planner: &Planner<'_>, request: &PlanRequest) -> Option<Best> {
    let mut best: Option<Best> = None;
    each_plan(planner, request, &mut |plan| {
        let is_dearer = |best: &Best| best.key.0 < plan.key.0;
        if best.as_ref().is_some_and(is_dearer) {
            return false;
        }
        if best.as_ref().is_none_or(|best| comes_before(planner, (&plan.key, &plan), (&best.key, best))) {
            best = Some(plan);
        }
        true
    });
    best
}

/// What decides where what a plan is like comes before what it costs.
fn quality(key: &Key) -> impl Ord + use<> {
    let (cost, (touched, outside), bare, rate, spread, bandwidth, handlings, parts, free) = *key;
    (outside, bare, rate, spread, bandwidth, (cost, touched, handlings, parts, free))
}

/// The best plan that costs no more than so much above the least.
pub fn best_paying(planner: &Planner<'_>, request: &PlanRequest, worth: i64) -> Option<Best> {
    let least = best(planner, request)?.key.0;
    let mut best: Option<Best> = None;
    each_plan(planner, request, &mut |plan| {
        if plan.key.0 > least + worth {
            return false;
        }
        let comes_first =
            |best: &Best| comes_before(planner, (&quality(&plan.key), &plan), (&quality(&best.key), best));
        if best.as_ref().is_none_or(comes_first) {
            best = Some(plan);
        }
        true
    });
    best
}

/// Whether a plan comes before another: by its key, then in fill order.
fn comes_before<K: Ord>(planner: &Planner<'_>, (key, plan): (&K, &Best), (other_key, other): (&K, &Best)) -> bool {
    let machine = planner.machine();
    let by_turn = boards::live(machine);
    let turn = |a: &Population, b: &Population| judge::fill_order(machine, &by_turn, &as_it_works(a), &as_it_works(b));
    key.cmp(other_key).then_with(|| turn(&plan.population, &other.population)) == Ordering::Less
}

/// Visits the plans that the request allows, the cheapest first, for as long as it is wanted.
fn each_plan(planner: &Planner<'_>, request: &PlanRequest, visit: &mut dyn FnMut(Best) -> bool) {
    let machine = planner.machine();
    let by_turn = boards::live(machine);
    let mut channels = Channels::new(planner);
    let present = request.present.population.modules().map(|(_, fitted)| &fitted.module);
    let sorts: BTreeSet<_> = present
        .chain(request.offers.iter().map(|offer| &offer.module))
        .chain(request.shelf.iter().map(|item| &item.module))
        .cloned()
        .collect();
    let sorts: Vec<_> = sorts.into_iter().collect();
    // what stays whatever is planned
    let fixed: Population = request
        .present
        .population
        .iter()
        .filter(|(_, occupant)| !matches!(occupant, Occupant::Module(_)))
        .map(|(slot, occupant)| (slot.clone(), occupant.clone()))
        .collect();
    let populations = fillings(&by_turn, &sorts, &fixed);
    let (mut sourcing, mut by_cost) = (Sourcing::default(), Vec::new());
    for population in populations {
        if allows_modules(machine, request, &population) {
            if let Some(found) = sourcing.of(request, &sorts, &population) {
                if request.budget.is_none_or(|budget| found.0 <= amount(Some(budget))) {
                    by_cost.push((found, population));
                }
            }
        }
    }
    by_cost.sort_by_key(|(found, _)| found.0);
    let mut dearest = None;
    for (found, population) in by_cost {
        if dearest.is_some_and(|dearest| dearest < found.0) {
            break;
        }
        let assessment = judge::assess(planner, &request.present.population, &population);
        let is_refused = |finding: &Finding| finding.severity >= request.refuse_from;
        if !judge::is_let_pass(planner, &request.present.population, &population, &assessment, &is_refused)
            || request.rate_at_least_mts.is_some_and(|least| judge::rate(&assessment) < Some(least))
            || request.bandwidth_at_least_mbps.is_some_and(|least| judge::bandwidth(&assessment).1 < least)
            || request.usable_at_least_mib.is_some_and(|least| assessment.figures.usable.total_mib < least)
            || request.usable_at_most_mib.is_some_and(|most| assessment.figures.usable.total_mib > most)
        {
            continue;
        }
        let key = key(planner, &mut channels, &population, &assessment, faulty(request), found);
        if request.free_slots_at_least.is_some_and(|least| key.8.0 < least) {
            continue;
        }
        if !visit(Best { key, population }) {
            dearest = Some(found.0);
        }
    }
}

/// The requirements that look at the modules alone.
fn allows_modules(machine: &Machine, request: &PlanRequest, population: &Population) -> bool {
    let modules = judge::modules(population);
    let held: Capacity = population.modules().map(|(_, fitted)| fitted.module.capacity()).sum();
    request.usable_at_least_mib.is_none_or(|least| held >= least)
        && request.kinds.as_ref().is_none_or(|kinds| modules.iter().all(|module| kinds.contains(&module.kind())))
        && request.one_part_number.is_none_or(|scope| is_of_one_part(machine, population, scope))
        && request
            .present
            .keep_empty
            .iter()
            .all(|slot| matches!(population.get(slot.as_str()), None | Some(Occupant::Blank)))
        && (!request.known_facts_only || modules.iter().all(|module| facts_known(module)))
}

/// Whether the modules within each channel, processor or machine are all the same.
pub fn is_of_one_part(machine: &Machine, population: &Population, scope: Scope) -> bool {
    let platform = machine.platform();
    let mut parts: BTreeMap<Option<String>, BTreeSet<&MemoryModule>> = BTreeMap::new();
    for (slot, fitted) in population.modules() {
        let id = platform.slot_named(slot.as_str()).unwrap();
        let place = match scope {
            Scope::Machine => None,
            Scope::Socket => Some(format!("{:?}", platform.slot(id).socket)),
            Scope::Channel => Some(format!("{:?}", platform.slot(id).channel)),
        };
        parts.entry(place).or_default().insert(&fitted.module);
    }
    parts.values().all(|parts| parts.len() <= 1)
}

fn key_of_plan(planner: &Planner<'_>, faulty: usize, plan: &Plan) -> Key {
    (
        plan.cost.total.amount_minor(),
        (plan.handlings > faulty, judge::breaks_rows(&plan.assessment)),
        judge::bare(&plan.assessment),
        Reverse(plan.running_rate()),
        judge::spread(planner.machine(), &plan.assessment),
        Reverse(judge::bandwidth(&plan.assessment)),
        plan.handlings,
        judge::modules(&plan.population).len(),
        Reverse(plan.free_slots.len()),
    )
}

/// The case as a caller would write it down.
pub fn case(machine: &Machine, request: &PlanRequest) -> String {
    let machine = serde_json::to_string(machine).unwrap();
    format!("machine {machine}\nrequest {}", serde_json::to_string(request).unwrap())
}

/// A population without part numbers, makers and power.
pub fn as_it_works(population: &Population) -> Population {
    let works = |occupant: &Occupant| match occupant {
        Occupant::Module(fitted) => Occupant::module(fitted.module.without_identity()),
        other => other.clone(),
    };
    population.iter().map(|(slot, occupant)| (slot.clone(), works(occupant))).collect()
}

/// Holds the planner's answer against brute force.
pub fn compare(machine: &Machine, request: &PlanRequest) -> Result<(), TestCaseError> {
    compare_under(&RuleBook::standard(), machine, request)
}

pub fn compare_under(rules: &RuleBook, machine: &Machine, request: &PlanRequest) -> Result<(), TestCaseError> {
    let planner = Planner::new(machine, rules);
    let outcome = planner.plan(request).unwrap();
    let accepting = rules.clone().accepting_unknown(request.accept_unknown.iter().copied());
    let planner = Planner::new(machine, &accepting);
    let wanted = match request.worth_paying.filter(|worth| worth.amount_minor() > 0) {
        Some(worth) => best_paying(&planner, request, amount(Some(worth))),
        None => best(&planner, request),
    };
    match (&outcome, &wanted) {
        (Outcome::Optimal(plan), Some(best)) => {
            let found = key_of_plan(&planner, faulty(request), plan);
            prop_assert_eq!(&found, &best.key, "key\n{}\n{:?}", case(machine, request), best.population);
            // which of two parts that work alike is taken is decided by their sources
            let (found, wanted) = (as_it_works(&plan.population), as_it_works(&best.population));
            prop_assert_eq!(found, wanted, "population\n{}", case(machine, request));
        }
        (Outcome::Infeasible(_), None) => {}
        _ => {
            let text = format!("{outcome:?}\nbut brute force {wanted:?}\n{}", case(machine, request));
            return Err(TestCaseError::fail(text));
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(boards::config(1_000))]

    #[test]
    fn plans_are_what_brute_force_finds(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 4);
        let request = request(&mut source, &machine, 3);
        compare(&machine, &request)?;
    }
}

proptest! {
    #![proptest_config(boards::config(250))]

    #[test]
    fn plans_under_other_settings_are_what_brute_force_finds(bytes in bytes(170)) {
        let mut source = Source::new(&bytes);
        let settings = boards::settings(&mut source);
        let machine = boards::machine(&mut source, 4);
        let request = request(&mut source, &machine, 3);
        let rules = RuleBook::standard().with_settings(&settings).unwrap();
        compare_under(&rules, &machine, &request)
            .map_err(|error| TestCaseError::fail(format!("{error}\nsettings {}", serde_json::to_string(&settings).unwrap())))?;
    }
}

/// The most populations of a case on any board.
const MOST_POPULATIONS: usize = 600;

proptest! {
    #![proptest_config(boards::config(250))]

    // boards on which every limit may stand, with modules of all sorts of facts
    #[test]
    fn plans_of_any_board_are_what_brute_force_finds(bytes in bytes(500)) {
        let mut source = Source::new(&bytes);
        let (mut settings, machine, draw) = world(&mut source);
        // what breaks rows decides between layouts
        settings.severities.remove("fill-row");
        let (mut sorts, slots) = (draw.sorts, boards::live(&machine).len());
        let many = |sorts: &Vec<MemoryModule>| (sorts.len() + 1).checked_pow(slots as u32).is_none_or(|all| all > MOST_POPULATIONS);
        while many(&sorts) && sorts.pop().is_some() {}
        if sorts.is_empty() {
            return Ok(());
        }
        let request = request_of(&mut source, &machine, &sorts);
        let request = with_what_must_go(&mut source, &machine, request);
        let rules = RuleBook::standard().with_settings(&settings).unwrap();
        compare_under(&rules, &machine, &request)
            .map_err(|error| TestCaseError::fail(format!("{error}\nsettings {}", serde_json::to_string(&settings).unwrap())))?;
    }
}

/// The same request where some of what is present has failed, and some slots are to be empty.
fn with_what_must_go(source: &mut Source<'_>, machine: &Machine, mut request: PlanRequest) -> PlanRequest {
    for slot in boards::live(machine) {
        if request.present.pinned.contains(&slot) {
            continue;
        }
        let fitted = match request.present.population.get(slot.as_str()) {
            Some(Occupant::Module(fitted)) => Some(fitted.clone()),
            // it stays
            Some(Occupant::OtherDevice(_)) => continue,
            _ => None,
        };
        match (fitted, source.below(6)) {
            (Some(fitted), 0 | 1) => {
                let fault = source.pick(&[Fault::Failed, Fault::Suspect]);
                request.present.population.put(slot, Occupant::Module(fitted.fault(fault)));
            }
            (_, 2) => {
                request.present.keep_empty.insert(slot);
            }
            (None, 3) => drop(request.present.population.put(slot, Occupant::Blank)),
            _ => {}
        }
    }
    request
}

proptest! {
    #![proptest_config(boards::config(300))]

    #[test]
    fn plans_with_what_must_go_are_what_brute_force_finds(bytes in bytes(180)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 4);
        let request = request(&mut source, &machine, 2);
        let request = with_what_must_go(&mut source, &machine, request);
        compare(&machine, &request)?;
    }
}

proptest! {
    #![proptest_config(boards::config(200))]

    #[test]
    fn plans_that_may_cost_more_are_what_brute_force_finds(bytes in bytes(180)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 4);
        let request = request(&mut source, &machine, 3);
        let worth = euros(source.below(30));
        compare(&machine, &request.worth_paying(worth))?;
    }
}
