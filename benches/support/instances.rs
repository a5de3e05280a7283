//! Random purchases of the sizes that are held against the integer program.

use slotwright::purchase::QuantityBreak;
use slotwright::{
    Capacity, Machine, MemoryModule, Name, Offer, Outcome, PlanRequest, Planner, Population, Price, RuleBook, Severity,
    ShelfItem,
};

use super::support::{LABELS, machine, module, name};
use odd_boards::OddBoard;
use odd_markets::OddMarket;
use source::{Source, euros};

mod odd_boards;
mod odd_markets;
mod source;

/// What is bought for which machine.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Shape {
    /// Plainly priced offers; sockets, channels and slots of the machine.
    Plain(usize, usize, usize),
    /// Prices proportional to size.
    Proportional,
    /// Present modules with labour, packs and breaks.
    Present,
    /// The same with charges, worth of what is over, a shelf and a second machine.
    Everything,
    /// Boards and processors unlike those.
    Board(OddBoard),
    /// Prices, holdings and suppliers unlike those.
    Market(OddMarket),
}

/// The letters of the shapes, with what they are.
pub(crate) const SHAPES: [(&str, &str, Shape); 13] = [
    ("a", "200 plain offers, 2x8x2", Shape::Plain(2, 8, 2)),
    ("b", "200 plain offers, 2x12x2", Shape::Plain(2, 12, 2)),
    ("c", "200 plain offers, 4x6x2", Shape::Plain(4, 6, 2)),
    ("d", "prices by size, 2x8x2", Shape::Proportional),
    ("e", "present, packs, breaks, 2x8x2", Shape::Present),
    ("f", "the same with charges, surplus, shelf", Shape::Everything),
    ("g", "channels of 0 to 3 slots, 16 to 128 GB", Shape::Board(OddBoard::Wiring)),
    ("h", "unlike processors, 2x4x2 to 2x8x2", Shape::Board(OddBoard::Processors)),
    ("i", "rates that bite by load, 16 to 128 GB", Shape::Board(OddBoard::Rates)),
    ("j", "groups of equal prices, by size or not", Shape::Market(OddMarket::Equal)),
    ("k", "present modules, credits, labour", Shape::Market(OddMarket::Credits)),
    ("l", "3 to 10 suppliers that charge", Shape::Market(OddMarket::Charges)),
    ("m", "2 to 6 machines", Shape::Market(OddMarket::Machines)),
];

/// The rules that an instance is planned under.
pub(crate) fn rules(shape: Shape) -> RuleBook {
    let rules = RuleBook::standard();
    match shape {
        // what cannot be helped refuses nothing
        Shape::Board(OddBoard::Processors) => rules.with_severity("processors-alike", Severity::Note).unwrap(),
        _ => rules,
    }
}

/// The instance of a shape with this number.
pub(crate) fn instance(shape: Shape, number: u64) -> (Machine, PlanRequest) {
    let (sockets, channels, slots) = match shape {
        Shape::Plain(sockets, channels, slots) => (sockets, channels, slots),
        Shape::Proportional | Shape::Present | Shape::Everything => (2, 8, 2),
        Shape::Board(board) => return odd_boards::instance(board, number),
        Shape::Market(market) => return odd_markets::instance(market, number),
    };
    let machine = machine(sockets, channels, slots);
    // shapes of one machine differ in nothing but what makes them different
    let source = &mut Source(number * 1_000_003 + (sockets * 100 + channels) as u64);
    let sorts = sorts(source);
    let mut request = PlanRequest::new().savings_nodes(0).usable_at_least(target(source, &machine, &sorts));
    request.offers = offers(source, shape, &sorts).into();
    if source.once_in(4) {
        request = request.rate_at_least(source.pick(machine.rate_steps()));
    }
    if matches!(shape, Shape::Present | Shape::Everything) {
        present(source, &machine, &sorts, &mut request);
        packs_and_breaks(source, &mut request);
    }
    if shape == Shape::Everything {
        everything(source, &sorts, &mut request);
    }
    if source.once_in(3) {
        request.budget = budget(source, (&machine, &RuleBook::standard()), &request);
    }
    (machine, request)
}

/// Some of the sorts; mostly many.
fn sorts(source: &mut Source) -> Vec<MemoryModule> {
    let mut labels = LABELS.to_vec();
    let leave_out = if source.once_in(3) { source.below(12) } else { source.below(4) };
    for _ in 0..leave_out {
        labels.swap_remove(source.below(labels.len() as u64) as usize);
    }
    labels.into_iter().map(module).collect()
}

/// From little to a bit more than there can be.
fn target(source: &mut Source, machine: &Machine, sorts: &[MemoryModule]) -> Capacity {
    let slots = machine.platform().slots().len() as u64;
    let largest = sorts.iter().map(|sort| sort.capacity().mib() / 1024).max().unwrap();
    let most = if source.once_in(8) { slots * largest * 9 / 8 } else { slots * 32 };
    // odd totals are reached by more only
    let gib = source.within(8, most / 8) * 8 + if source.once_in(4) { source.below(8) } else { 0 };
    Capacity::from_mib(gib * 1024)
}

fn offers(source: &mut Source, shape: Shape, sorts: &[MemoryModule]) -> Vec<Offer> {
    let each_gib = source.within(50, 400);
    let wander = source.pick(&[20, 100, 300]);
    let most_stock = source.pick(&[4, 20, 40]);
    let offer = |index| {
        let module = source.pick(sorts);
        let gib = module.capacity().mib() / 1024;
        let wander = if shape == Shape::Proportional { 0 } else { source.below(wander * gib) };
        Offer::new(
            name(&format!("lot-{index:03}")),
            module,
            euros(each_gib * gib + wander),
            source.within(1, most_stock) as u32,
        )
    };
    (0..200).map(offer).collect()
}

/// Labour, and what the machine holds now: like modules, or what comes.
fn present(source: &mut Source, machine: &Machine, sorts: &[MemoryModule], request: &mut PlanRequest) {
    request.labour_per_handling = Some(euros(source.pick(&[0, 300, 1500, 4000])));
    let (few, full) = (source.within(1, 2) as usize, source.within(1, 100));
    let held: Vec<MemoryModule> = (0..few).map(|_| source.pick(sorts)).collect();
    let credits = [0, 500, 2000, 8000];
    let platform = machine.platform();
    let mut population = Population::new();
    for slot in platform.slots().iter().filter(|slot| slot.position() == Some(0) || full > 60) {
        if source.within(1, 100) > full {
            continue;
        }
        population = population.with(slot.label().clone(), source.pick(&held));
        if source.once_in(3) {
            request.present.credits.insert(slot.label().clone(), euros(source.pick(&credits)));
        }
        if source.once_in(60) {
            request.present.pinned.insert(slot.label().clone());
        }
    }
    request.present.population = population;
}

fn packs_and_breaks(source: &mut Source, request: &mut PlanRequest) {
    for offer in &mut request.offers {
        if source.once_in(5) {
            offer.pack = source.pick(&[2, 4, 8]);
        }
        if source.once_in(3) {
            let mut price = offer.unit_price.amount_minor();
            for from in [source.within(2, 8) as u32, source.within(9, 16) as u32] {
                price = price * source.within(80, 99) / 100;
                offer.breaks.push(QuantityBreak::new(from, euros(price)));
            }
        }
    }
}

/// In some requests charges, worth of what is over, a shelf, a second machine.
fn everything(source: &mut Source, sorts: &[MemoryModule], request: &mut PlanRequest) {
    if source.once_in(2) {
        let suppliers: Vec<Name> = ["north", "south", "west"].map(name).to_vec();
        for offer in &mut request.offers {
            offer.supplier = source.once_in(2).then(|| source.pick(&suppliers));
        }
        for supplier in suppliers {
            request.supplier_charges.insert(supplier, euros(source.below(20_000)));
        }
    }
    if source.once_in(2) {
        let share = source.within(10, 100);
        for offer in &mut request.offers {
            let prices = offer.breaks.iter().map(|step| step.unit_price).chain([offer.unit_price]);
            let lowest = prices.map(Price::amount_minor).min().unwrap();
            offer.surplus_value = source.once_in(2).then(|| euros(lowest * share / 100));
        }
    }
    if source.once_in(2) {
        for index in 0..source.within(1, 4) {
            let (id, unit_value) = (name(&format!("shelf-{index}")), Some(euros(source.below(8_000))));
            let (module, stock) = (source.pick(sorts), source.within(1, 8) as u32);
            request.shelf.push(ShelfItem::new(id, module, stock).unit_value(unit_value));
        }
    }
    if source.once_in(8) {
        request.machines = 2;
    }
}

/// What the planner says it costs, which is enough, or a little less, which is not. None where it finds no plan soon.
fn budget(source: &mut Source, (machine, rules): (&Machine, &RuleBook), request: &PlanRequest) -> Option<Price> {
    let outcome = Planner::new(machine, rules).plan(&request.clone().nodes(20_000)).unwrap();
    let Outcome::Optimal(plan) = outcome else { return None };
    let cost = u64::try_from(plan.cost.total.amount_minor()).ok()?;
    Some(euros(cost.saturating_sub(source.below(2))))
}
