//! Goods in against every way to put pieces to lines, judged by other code from what was said of each piece.

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use slotwright::Name;
use slotwright::goods_in::{Delivery, GoodsIn, OrderLine, Piece, PieceVerdict};
use slotwright::module::{Generation, Label, ModuleKind};
use slotwright::population::{Medium, ModuleFact, SeenModule};
use slotwright::unit::{Capacity, DataRate};

use crate::boards::{Source, bytes, config, name};

/// The facts that are made up here, so that no two of them can contradict each other.
const FACTS: [ModuleFact; 6] = [
    ModuleFact::Generation,
    ModuleFact::Kind,
    ModuleFact::Capacity,
    ModuleFact::PackageRanks,
    ModuleFact::Grade,
    ModuleFact::PartNumber,
];

/// A module with gaps.
fn seen(source: &mut Source<'_>, gap_in: usize) -> SeenModule {
    let mut seen = SeenModule::new();
    let told = |source: &mut Source<'_>| !source.once_in(gap_in);
    if told(source) {
        seen = seen.generation(if source.once_in(4) { Generation::Ddr5 } else { Generation::Ddr4 });
    }
    if told(source) {
        seen = seen.kind(if source.once_in(4) { ModuleKind::LoadReduced } else { ModuleKind::Registered });
    }
    if told(source) {
        seen = seen.capacity(Capacity::from_gib(if source.once_in(3) { 16 } else { 32 }));
    }
    if told(source) {
        seen = seen.package_ranks(if source.once_in(3) { 1 } else { 2 });
    }
    if told(source) {
        seen = seen.grade(if source.once_in(4) { DataRate::DDR4_2666 } else { DataRate::DDR4_2400 });
    }
    if source.once_in(3) {
        seen = seen.part_number(name(source.pick(&["AB-1", "ab1", "AB2"])));
    }
    seen
}

fn delivery(source: &mut Source<'_>) -> Delivery {
    let mut delivery = Delivery::new();
    for line in 0..1 + source.below(3) {
        let wanted = seen(source, 4).generation(Generation::Ddr4);
        let quantity = 1 + source.below(3);
        delivery = delivery.line(OrderLine::new(name(&format!("L{line}")), wanted, quantity));
    }
    for id in 0..source.below(7) {
        let mut piece = Piece::new(name(&format!("P{id}")));
        let common = seen(source, 6);
        for _ in 0..1 + source.below(2) {
            let medium = source.pick(&[Medium::Spd, Medium::Label, Medium::Rows]);
            let mut module = if source.once_in(4) { seen(source, 3) } else { common.clone() };
            if source.once_in(4) {
                module = module.serial(name(source.pick(&["7A12", "0x07a12", "7B00", "0000"])));
            }
            if source.once_in(4) {
                module = module.maker(name(source.pick(&["Hilltop", "Millpond"])));
            }
            piece = piece.said(medium, module);
        }
        delivery = delivery.piece(piece);
    }
    delivery
}

/// A fact as a text that is equal where the fact is.
fn value(seen: &SeenModule, fact: ModuleFact) -> Option<String> {
    seen.text(fact).map(|text| text.to_uppercase().replace('-', ""))
}

/// What all sources of the best sort say of a fact, if these agree.
fn best(piece: &Piece, fact: ModuleFact) -> Option<String> {
    let said = piece.said.iter().filter_map(|source| Some((source.medium, value(&source.module, fact)?)));
    let said: BTreeSet<(Medium, String)> = said.collect();
    let best = said.iter().next()?.0;
    let values: Vec<&String> = said.iter().filter(|(medium, _)| *medium == best).map(|(_, value)| value).collect();
    (values.len() == 1).then(|| values[0].clone())
}

/// What SPD and label say of a fact that tells what a module is.
fn firm(piece: &Piece, fact: ModuleFact) -> BTreeSet<String> {
    let of_itself = fact != ModuleFact::PartNumber;
    let firm = piece.said.iter().filter(|source| of_itself && source.medium != Medium::Rows);
    firm.filter_map(|source| value(&source.module, fact)).collect()
}

fn serials(piece: &Piece) -> BTreeSet<String> {
    let plain = |serial: &Name| serial.as_str().to_uppercase().replace("0X", "").trim_start_matches('0').to_owned();
    piece
        .said
        .iter()
        .filter_map(|source| source.module.serial.as_ref())
        .map(plain)
        .filter(|text| !text.is_empty())
        .collect()
}

fn is_doubled(piece: &Piece, all: &[Piece]) -> bool {
    let makers = |piece: &Piece| -> BTreeSet<Name> {
        piece.said.iter().filter_map(|source| source.module.maker.clone()).collect()
    };
    all.iter().any(|other| {
        let differ = makers(piece).iter().any(|one| makers(other).iter().any(|maker| maker != one));
        other.id != piece.id && !differ && serials(piece).intersection(&serials(other)).next().is_some()
    })
}

/// What a piece is to a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Fit {
    Right,
    Open,
    Wrong,
}

fn fit(piece: &Piece, line: &OrderLine, all: &[Piece]) -> (Fit, Vec<ModuleFact>, Vec<ModuleFact>) {
    let (mut unlike, mut unread) = (Vec::new(), Vec::new());
    for fact in FACTS {
        let Some(wanted) = value(&line.wanted, fact) else { continue };
        let mut said = firm(piece, fact);
        said.extend(best(piece, fact));
        if said.iter().any(|said| *said != wanted) {
            unlike.push(fact);
        } else if best(piece, fact).is_none() {
            unread.push(fact);
        }
    }
    let is_torn = FACTS.iter().any(|fact| firm(piece, *fact).len() > 1);
    let fit = if !unlike.is_empty() {
        Fit::Wrong
    } else if !unread.is_empty() || is_torn || is_doubled(piece, all) {
        Fit::Open
    } else {
        Fit::Right
    };
    (fit, unlike, unread)
}

/// Of pieces that are put to lines: how many are right, how many are open, how many have an SPD that was read, how many
/// a label, and (below zero) how many facts are open.
type Sum = [i32; 5];

/// What a piece adds to the sum where it is put to a line.
fn worth(piece: &Piece, line: &OrderLine, all: &[Piece]) -> Option<Sum> {
    let (fit, _, unread) = fit(piece, line, all);
    let has = |medium| {
        i32::from(piece.said.iter().any(|source| source.medium == medium && source.module != SeenModule::new()))
    };
    let unread = i32::try_from(unread.len()).unwrap();
    let of = |right, open| Some([right, open, has(Medium::Spd), has(Medium::Label), -unread]);
    match fit {
        Fit::Wrong => None,
        Fit::Right => of(1, 0),
        Fit::Open => of(0, 1),
    }
}

fn plus(mut sum: Sum, more: Sum) -> Sum {
    sum.iter_mut().zip(more).for_each(|(sum, more)| *sum += more);
    sum
}

/// The greatest sum of all ways to put pieces to lines.
fn most(worth: &[Vec<Option<Sum>>], room: &mut [usize]) -> Sum {
    let Some((first, rest)) = worth.split_first() else { return Sum::default() };
    let mut best = most(rest, room);
    for (line, worth) in first.iter().enumerate() {
        let Some(worth) = worth.filter(|_| room[line] > 0) else { continue };
        room[line] -= 1;
        best = best.max(plus(most(rest, room), worth));
        room[line] += 1;
    }
    best
}

/// Every line that a piece does not contradict is full.
fn has_no_place(piece: &Piece, delivery: &Delivery, answer: &GoodsIn) -> bool {
    let would = delivery.lines.iter().filter(|line| fit(piece, line, &delivery.pieces).0 != Fit::Wrong);
    would.map(|line| answer.line(line.id.as_str()).unwrap()).all(|line| line.right + line.not_known == line.ordered)
}

fn holds(delivery: &Delivery, answer: &GoodsIn) -> Result<(), TestCaseError> {
    let pieces: BTreeMap<&Name, &Piece> = delivery.pieces.iter().map(|piece| (&piece.id, piece)).collect();
    let lines: BTreeMap<&Name, &OrderLine> = delivery.lines.iter().map(|line| (&line.id, line)).collect();
    // one verdict for each piece, by number
    prop_assert!(answer.pieces.iter().map(|piece| &piece.id).eq(pieces.keys().copied()));
    let mut sum = Sum::default();
    for judged in &answer.pieces {
        let piece = pieces[&judged.id];
        let of = |line: &Name| fit(piece, lines[line], &delivery.pieces);
        match &judged.verdict {
            PieceVerdict::Right { line } => {
                sum = plus(sum, worth(piece, lines[line], &delivery.pieces).unwrap());
                prop_assert_eq!(of(line).0, Fit::Right);
            }
            PieceVerdict::NotKnown { line, unread, has_place } => {
                prop_assert_eq!(of(line), (Fit::Open, vec![], unread.clone()));
                if *has_place {
                    sum = plus(sum, worth(piece, lines[line], &delivery.pieces).unwrap());
                } else {
                    // nor would it be right for any
                    prop_assert!(lines.keys().all(|line| of(line).0 != Fit::Right));
                    prop_assert!(has_no_place(piece, delivery, answer));
                }
            }
            PieceVerdict::Wrong { line, facts } => {
                for line in lines.keys() {
                    prop_assert_eq!(of(line).0, Fit::Wrong);
                }
                let facts: Vec<ModuleFact> = facts.iter().map(|one| one.fact).collect();
                prop_assert_eq!(of(line).1, facts);
            }
            PieceVerdict::Surplus { line } => {
                prop_assert_eq!(of(line).0, Fit::Right);
                prop_assert!(has_no_place(piece, delivery, answer));
            }
            other => prop_assert!(false, "{:?}", other),
        }
        prop_assert_eq!(!judged.doubled_with.is_empty(), is_doubled(piece, &delivery.pieces));
    }
    for line in &answer.lines {
        // never more accepted than ordered
        prop_assert!(line.right + line.not_known <= line.ordered);
        prop_assert_eq!(line.right + line.not_known + line.missing, line.ordered);
    }
    let worth = |piece| delivery.lines.iter().map(|line| worth(piece, line, &delivery.pieces)).collect();
    let worth: Vec<Vec<Option<Sum>>> = delivery.pieces.iter().map(worth).collect();
    let mut room: Vec<usize> = delivery.lines.iter().map(|line| line.quantity).collect();
    prop_assert_eq!(sum, most(&worth, &mut room));
    Ok(())
}

proptest! {
    #![proptest_config(config(1500))]

    #[test]
    fn law_as_many_pieces_are_right_as_can_be(bytes in bytes(400)) {
        let delivery = delivery(&mut Source::new(&bytes));
        let answer = delivery.judge().unwrap();
        holds(&delivery, &answer)?;
    }

    #[test]
    fn law_the_order_of_pieces_and_of_what_is_said_is_no_matter(bytes in bytes(400), turn in 0_usize..7) {
        let delivery = delivery(&mut Source::new(&bytes));
        let mut turned = delivery.clone();
        let turn = turn.min(turned.pieces.len());
        turned.pieces.rotate_left(turn);
        turned.pieces.iter_mut().for_each(|piece| piece.said.reverse());
        prop_assert_eq!(turned.judge().unwrap(), delivery.judge().unwrap());
        prop_assert_eq!(turned.bins().unwrap(), delivery.bins().unwrap());
    }

    /// Every piece is in one bin or aside, and no two in a bin differ in what their sources say together.
    #[test]
    fn law_bins_hold_what_is_alike(bytes in bytes(400)) {
        let delivery = delivery(&mut Source::new(&bytes));
        let bins = delivery.bins().unwrap();
        let binned = bins.bins.iter().flat_map(|bin| &bin.pieces).chain(bins.aside.iter().map(|piece| &piece.id));
        let mut binned: Vec<&Name> = binned.collect();
        binned.sort();
        let mut ids: Vec<&Name> = delivery.pieces.iter().map(|piece| &piece.id).collect();
        ids.sort();
        prop_assert_eq!(binned, ids);
        let of = |id: &Name| delivery.pieces.iter().find(|piece| piece.id == *id).unwrap();
        let facts = |id: &Name| {
            let mut all = FACTS.to_vec();
            all.push(ModuleFact::Maker);
            all.into_iter().map(|fact| best(of(id), fact)).collect::<Vec<_>>()
        };
        for (at, bin) in bins.bins.iter().enumerate() {
            let first = bin.pieces.iter().next().unwrap();
            prop_assert!(bin.pieces.iter().all(|id| facts(id) == facts(first)));
            for other in &bins.bins[..at] {
                prop_assert_ne!(facts(other.pieces.iter().next().unwrap()), facts(first));
            }
        }
    }

    #[test]
    fn law_what_is_said_of_a_delivery_reads_back(bytes in bytes(400)) {
        let delivery = delivery(&mut Source::new(&bytes));
        let text = serde_json::to_string(&delivery).unwrap();
        prop_assert_eq!(&serde_json::from_str::<Delivery>(&text).unwrap(), &delivery);
        let answer = delivery.judge().unwrap();
        let text = serde_json::to_string(&answer).unwrap();
        prop_assert_eq!(serde_json::from_str::<GoodsIn>(&text).unwrap(), answer);
    }
}

/// What a plan orders comes in as it was planned.
#[test]
fn what_a_plan_orders_is_right_when_it_comes() {
    use slotwright::{Machine, Offer, PlanRequest, Planner, Price, RuleBook, reference};
    let machine = Machine::builder(reference::ddr4_2s_4ch_3spc())
        .processor_named("1", "later")
        .processor_named("2", "later")
        .build()
        .unwrap();
    let rules = RuleBook::standard();
    let label: Label = "32GB 2Rx4 PC4-2400T-RB2-11".parse().unwrap();
    let offer = Offer::new(name("lot-7"), label.to_module(), Price::new(4_500, "EUR".parse().unwrap()), 40);
    let request = PlanRequest::new().usable_at_least(Capacity::from_gib(256)).offer(offer);
    let outcome = Planner::new(&machine, &rules).plan(&request).unwrap();
    let plan = outcome.optimal().unwrap();
    let lines = OrderLine::of_plan(plan);
    assert_eq!((lines.len(), lines[0].id.as_str(), lines[0].quantity), (1, "lot-7", 8));
    let pieces = (0..8).map(|piece| Piece::new(name(&piece.to_string())).label(&label));
    let answer = Delivery::new().lines(lines).pieces(pieces).judge().unwrap();
    assert!(answer.is_all_right());
    assert_eq!((answer.lines[0].right, answer.lines[0].right_without_spd), (8, 8));
}
