//! Markets unlike the plain ones: equal prices, prices in proportion, credits and labour, many suppliers that charge,
//! several machines.

use slotwright::{Capacity, Machine, MemoryModule, Name, Offer, PlanRequest, Population, RuleBook};

use super::super::support::{LABELS, machine, module, name};
use super::budget;
use super::source::{Source, euros};

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum OddMarket {
    /// Offers of few prices: a price list of each size, at times in proportion to it.
    Equal,
    /// Present modules of several sorts at many credits, and labour.
    Credits,
    /// Every offer has a supplier, and nearly every supplier charges.
    Charges,
    /// Like machines from one stock that is scarce.
    Machines,
}

pub(super) fn instance(market: OddMarket, number: u64) -> (Machine, PlanRequest) {
    let source = &mut Source(number * 1_000_003 + 9_000 + market as u64);
    let (sockets, channels, slots) = match market {
        OddMarket::Equal | OddMarket::Credits => source.pick(&[(2, 8, 2), (2, 6, 2), (1, 8, 2)]),
        OddMarket::Charges => source.pick(&[(1, 6, 2), (2, 4, 2), (2, 8, 2)]),
        OddMarket::Machines => source.pick(&[(1, 4, 2), (1, 8, 1), (2, 4, 2)]),
    };
    let machine = machine(sockets, channels, slots);
    let sorts = sorts(source);
    let most = (sockets * channels * slots) as u64 * 32;
    let target = Capacity::from_mib(source.within(4, most / 8) * 8 * 1024);
    let mut request = PlanRequest::new().savings_nodes(0).usable_at_least(target);
    request.machines = if market == OddMarket::Machines { source.within(2, 6) as u32 } else { 1 };
    let offers = if market == OddMarket::Equal { equal(source, &sorts) } else { wandering(source, &sorts, market) };
    request.offers = offers.into();
    match market {
        OddMarket::Equal => {}
        OddMarket::Credits => present(source, &machine, &sorts, &mut request),
        OddMarket::Charges => charges(source, &mut request),
        OddMarket::Machines if source.once_in(2) => {
            request = request.labour_per_handling(euros(source.pick(&[200, 1000])));
        }
        OddMarket::Machines => {}
    }
    if source.once_in(4) {
        request = request.rate_at_least(source.pick(machine.rate_steps()));
    }
    if source.once_in(4) {
        request.budget = budget(source, (&machine, &RuleBook::standard()), &request);
    }
    (machine, request)
}

fn sorts(source: &mut Source) -> Vec<MemoryModule> {
    let mut labels = LABELS.to_vec();
    for _ in 0..source.within(2, 10) {
        labels.swap_remove(source.below(labels.len() as u64) as usize);
    }
    labels.into_iter().map(module).collect()
}

fn gib(module: &MemoryModule) -> u64 {
    module.capacity().mib() / 1024
}

/// Offers in groups of equal prices: each size has one to three, in proportion to it or somewhat beside that.
fn equal(source: &mut Source, sorts: &[MemoryModule]) -> Vec<Offer> {
    let each_gib = source.within(50, 400);
    let (off, groups) = (source.pick(&[0, 0, 5, 20]), source.within(1, 3));
    let most_stock = source.pick(&[4, 20]);
    let offer = |index| {
        let module = source.pick(sorts);
        let size = gib(&module);
        let group = source.below(groups);
        // all offers of a size and group have one price
        let price = (each_gib + group * 7) * size + off * ((size / 8 + group) % 3);
        Offer::new(name(&format!("lot-{index:03}")), module, euros(price), source.within(1, most_stock) as u32)
    };
    // the more sorts, the more offers
    (0..20 + sorts.len() * 12).map(offer).collect()
}

fn wandering(source: &mut Source, sorts: &[MemoryModule], market: OddMarket) -> Vec<Offer> {
    let (each_gib, wander) = (source.within(50, 400), source.pick(&[20, 100, 300]));
    let most_stock = source.pick(&[4, 12, 30]);
    let count = match market {
        OddMarket::Charges => source.pick(&[12, 30, 60]),
        _ => source.pick(&[40, 120]),
    };
    let offer = |index| {
        let module = source.pick(sorts);
        let size = gib(&module);
        let price = euros(each_gib * size + source.below(wander * size));
        Offer::new(name(&format!("lot-{index:03}")), module, price, source.within(1, most_stock) as u32)
    };
    (0..count).map(offer).collect()
}

/// A machine that holds two or three sorts here and there, or one in every channel; each module at one of some credits.
fn present(source: &mut Source, machine: &Machine, sorts: &[MemoryModule], request: &mut PlanRequest) {
    request.labour_per_handling = Some(euros(source.pick(&[100, 800, 2500, 6000])));
    let held: Vec<MemoryModule> = (0..source.within(2, 3)).map(|_| source.pick(sorts)).collect();
    let credits: Vec<u64> = (0..source.within(2, 6)).map(|_| source.below(9_000)).collect();
    let (is_even, full) = (!source.once_in(3), source.within(20, 100));
    let mut population = Population::new();
    for slot in machine.platform().slots().iter().filter(|slot| slot.position() == Some(0) || (!is_even && full > 70)) {
        if !is_even && source.within(1, 100) > full {
            continue;
        }
        let module = if is_even { held[0].clone() } else { source.pick(&held) };
        population = population.with(slot.label().clone(), module);
        request.present.credits.insert(slot.label().clone(), euros(source.pick(&credits)));
        if source.once_in(40) {
            request.present.pinned.insert(slot.label().clone());
        }
    }
    request.present.population = population;
}

fn charges(source: &mut Source, request: &mut PlanRequest) {
    let suppliers: Vec<Name> = (1..=source.within(3, 10)).map(|index| name(&format!("supplier-{index}"))).collect();
    for offer in &mut request.offers {
        offer.supplier = Some(source.pick(&suppliers));
    }
    let most = source.pick(&[1_000, 8_000, 40_000]);
    for supplier in suppliers {
        if !source.once_in(6) {
            request.supplier_charges.insert(supplier, euros(source.within(1, most)));
        }
    }
}
