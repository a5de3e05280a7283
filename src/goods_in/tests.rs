use proptest::prelude::*;

use super::matching::{Fit, most};
use super::*;
use crate::module::{DeviceWidth, Generation, Label, ModuleKind};
use crate::population::{DeviceSort, MakerId, Medium, ModuleFact, SeenModule};
use crate::stated::Located;
use crate::testing::name;
use crate::unit::{Capacity, DataRate, Name};

const PLAIN: &str = "32GB 2Rx4 PC4-2400T-RB2-11";
const SINGLE: &str = "32GB 1Rx4 PC4-2400T-RC2-11";

fn seen(label: &str) -> SeenModule {
    SeenModule::of(label.parse::<Label>().unwrap().module())
}

fn line(id: &str, label: &str, quantity: usize) -> OrderLine {
    OrderLine::new(name(id), seen(label), quantity)
}

fn piece(id: &str, said: &[(Medium, SeenModule)]) -> Piece {
    said.iter().fold(Piece::new(name(id)), |piece, (medium, module)| piece.said(*medium, module.clone()))
}

fn labelled(id: &str, label: &str) -> Piece {
    piece(id, &[(Medium::Label, seen(label))])
}

fn verdict(lines: &[OrderLine], piece: Piece) -> PieceVerdict {
    let answer = Delivery::new().lines(lines.to_vec()).piece(piece).judge().unwrap();
    answer.pieces[0].verdict.clone()
}

fn right(line: &str) -> PieceVerdict {
    PieceVerdict::Right { line: name(line) }
}

fn not_known(line: &str, unread: &[ModuleFact]) -> PieceVerdict {
    PieceVerdict::NotKnown { line: name(line), unread: unread.to_vec(), has_place: true }
}

/// The facts in which it differs from the one line.
fn wrong(verdict: PieceVerdict) -> Vec<(ModuleFact, String, String, Medium)> {
    let PieceVerdict::Wrong { facts, .. } = verdict else { panic!("{verdict:?}") };
    facts.into_iter().map(|one| (one.fact, one.ordered.to_string(), one.found.to_string(), one.medium)).collect()
}

#[test]
fn what_a_line_states_has_to_be_read() {
    let ordered = [line("A", PLAIN, 4)];
    assert_eq!(verdict(&ordered, labelled("1", PLAIN)), right("A"));
    // raw card and revisions decide nothing
    assert_eq!(verdict(&ordered, labelled("1", "32GB 2Rx4 PC4-2400T-RA1-12")), right("A"));
    let row = SeenModule { grade_mts: None, ecc: None, ..seen(PLAIN) };
    let unread = [ModuleFact::Ecc, ModuleFact::Grade];
    assert_eq!(verdict(&ordered, piece("1", &[(Medium::Rows, row.clone())])), not_known("A", &unread));
    // another source reads it; of two the better one decides
    let label = SeenModule::new().grade(DataRate::DDR4_2400).ecc(seen(PLAIN).ecc);
    assert_eq!(verdict(&ordered, piece("1", &[(Medium::Rows, row), (Medium::Label, label)])), right("A"));
    let slip = SeenModule::new().width(DeviceWidth::X8);
    assert_eq!(verdict(&ordered, piece("1", &[(Medium::Rows, slip), (Medium::Label, seen(PLAIN))])), right("A"));
    // what is only inferred was not read
    let inferred = seen(PLAIN).inferred([ModuleFact::Kind]);
    assert_eq!(verdict(&ordered, piece("1", &[(Medium::Rows, inferred)])), not_known("A", &[ModuleFact::Kind]));
    // a line asks for no more than it states
    let vague = SeenModule::new().generation(Generation::Ddr4).capacity(Capacity::from_gib(32));
    let vague = [OrderLine::new(name("B"), vague, 1)];
    assert_eq!(verdict(&vague, labelled("1", "32GB 4Rx4 PC4-2133P-RA0-10")), right("B"));
}

#[test]
fn every_fact_that_differs_is_named() {
    let ordered = [line("A", PLAIN, 4)];
    // a higher grade is not what was bought
    assert_eq!(
        wrong(verdict(&ordered, labelled("1", "32GB 2Rx4 PC4-2666V-RB2-11"))),
        [(ModuleFact::Grade, "2400 MT/s".to_owned(), "2666 MT/s".to_owned(), Medium::Label)]
    );
    let facts = |label: &str| -> Vec<ModuleFact> {
        wrong(verdict(&ordered, labelled("1", label))).into_iter().map(|(fact, ..)| fact).collect()
    };
    use ModuleFact::{Capacity, DieDensity, Ecc, FormFactor, Kind, PackageRanks, Stack, Width};
    assert_eq!(facts("16GB 2Rx4 PC4-2400T-RB2-11"), [Capacity, DieDensity]);
    assert_eq!(facts("32GB 2Rx4 PC4-2400T-LB2-11"), [Kind]);
    assert_eq!(facts("32GB 2Rx8 PC4-2400T-UB2-11"), [Kind, Ecc, Width, DieDensity]);
    assert_eq!(facts("32GB 2DRx4 PC4-2400T-RB2-11"), [Stack]);
    assert_eq!(facts("32GB 1Rx4 PC4-2400T-CB2-11"), [FormFactor, PackageRanks, DieDensity]);
    // no plain memory
    let other = seen(PLAIN).device(DeviceSort::Persistent);
    let told = wrong(verdict(&ordered, piece("1", &[(Medium::Spd, other)])));
    assert_eq!((told[0].0, told[0].1.as_str()), (ModuleFact::Device, "plain memory"));
}

#[test]
fn facts_are_compared_by_what_they_mean() {
    let of = |wanted: SeenModule, found: SeenModule| match verdict(
        &[OrderLine::new(name("A"), wanted, 1)],
        piece("1", &[(Medium::Spd, found)]),
    ) {
        PieceVerdict::Right { .. } => "right",
        PieceVerdict::NotKnown { .. } => "open",
        _ => "wrong",
    };
    let new = SeenModule::new;
    // all voltages of the line, and more if it likes
    let (low, plain) =
        (seen("8GB 2Rx4 PC3L-10600R-09-11-E2").voltages_mv, seen("8GB 2Rx4 PC3-10600R-09-11-E2").voltages_mv);
    assert_eq!(of(new().voltages(plain.clone()), new().voltages(low.clone())), "right");
    assert_eq!(of(new().voltages(low), new().voltages(plain)), "wrong");
    let gib = Capacity::from_gib;
    assert_eq!(of(new().capacity(gib(64)), new().capacity_at_least(gib(32))), "open");
    assert_eq!(of(new().capacity(gib(16)), new().capacity_at_least(gib(32))), "wrong");
    assert_eq!(of(new().capacity_at_least(gib(16)), new().capacity_at_least(gib(32))), "right");
    assert_eq!(of(new().capacity_at_least(gib(32)), new().capacity(gib(16))), "wrong");
    assert_eq!(of(new().capacity_at_least(gib(32)), new().capacity(gib(64))), "right");
    assert_eq!(of(new().capacity_at_least(gib(64)), new().capacity_at_least(gib(32))), "open");
    // a number of ranks that counts one or the other
    let stacked = seen("128GB 2S4Rx4 PC4-2400T-RB2-11");
    for (number, found) in [(2, "right"), (8, "right"), (4, "wrong")] {
        assert_eq!(of(new().rank_number(number), stacked.clone()), found);
    }
    assert_eq!(of(new().rank_number(4), new().package_ranks(2)), "open");
    assert_eq!(of(new().package_ranks(2), new().rank_number(2)), "open");
    assert_eq!(of(new().rank_number(4), new().rank_number(4)), "right");
    // texts are compared without case, blanks and separators; serial numbers as numbers
    let maker = |text: &str| new().maker(name(text));
    assert_eq!(of(new().part_number(name("AB-12 C")), new().part_number(name("ab12c"))), "right");
    assert_eq!(of(new().part_number(name("AB-12 C")), new().part_number(name("AB13C"))), "wrong");
    assert_eq!(of(new().serial(name("0x007a12")), new().serial(name("7A12"))), "right");
    assert_eq!(of(new().serial(name("7A12")), new().serial(name("7A13"))), "wrong");
    assert_eq!(of(maker("Millpond"), maker("MILLPOND")), "right");
    let id = MakerId::from_spd(0x80, 0x04).unwrap();
    assert_eq!(of(maker("Millpond"), new().maker_id(id)), "open");
    assert_eq!(of(new().maker_id(id), new().maker_id(MakerId::from_spd(0x80, 0x01).unwrap())), "wrong");
    // the die follows from the rest
    let dies = new().die_density(seen(PLAIN).die_density_mbit);
    assert_eq!(of(dies, SeenModule { die_density_mbit: None, ..seen(PLAIN) }), "right");
}

#[test]
fn a_piece_that_contradicts_itself_is_never_right() {
    let torn = piece("1", &[(Medium::Label, seen(PLAIN)), (Medium::Spd, seen(SINGLE))]);
    // neither as its label says, nor as its SPD does
    let facts = wrong(verdict(&[line("A", PLAIN, 1)], torn.clone()));
    assert_eq!(facts[0], (ModuleFact::PackageRanks, "2".to_owned(), "1".to_owned(), Medium::Spd));
    let facts = wrong(verdict(&[line("A", SINGLE, 1)], torn.clone()));
    assert_eq!(facts[0], (ModuleFact::PackageRanks, "1".to_owned(), "2".to_owned(), Medium::Label));
    // nor where the line does not ask
    let kind = OrderLine::new(name("A"), SeenModule::new().kind(ModuleKind::Registered), 1);
    let answer = Delivery::new().line(kind).piece(torn).judge().unwrap();
    assert_eq!(answer.pieces[0].verdict, not_known("A", &[]));
    assert!(answer.pieces[0].is_held_back);
    assert!(answer.to_string().contains("held back: package ranks: SPD says 1, label says 2"), "{answer}");
    // another serial number in its SPD than in a row is a note, and no more
    let serial = |text: &str| SeenModule::new().serial(name(text));
    let noted = piece(
        "1",
        &[(Medium::Spd, SeenModule { serial: Some(name("1")), ..seen(PLAIN) }), (Medium::Rows, serial("2"))],
    );
    let answer = Delivery::new().line(line("A", PLAIN, 1)).piece(noted).judge().unwrap();
    assert_eq!(answer.pieces[0].verdict, right("A"));
    assert_eq!(answer.pieces[0].disagreements.len(), 1);
    assert_eq!(answer.pieces[0].seen.serial, Some(name("1")));
}

#[test]
fn doubled_serial_numbers_are_never_right() {
    let with = |id: &str, serial: &str, maker: Option<&str>| {
        let seen = SeenModule { serial: Some(name(serial)), maker: maker.map(name), ..seen(PLAIN) };
        piece(id, &[(Medium::Spd, seen)])
    };
    let delivery = |pieces: Vec<Piece>| Delivery::new().line(line("A", PLAIN, 4)).pieces(pieces);
    let answer =
        delivery(vec![with("1", "0x7a12", None), with("2", "007A12", Some("Millpond")), with("3", "7A13", None)]);
    let answer = answer.judge().unwrap();
    let verdicts: Vec<&PieceVerdict> = answer.pieces.iter().map(|piece| &piece.verdict).collect();
    assert_eq!(verdicts, [&not_known("A", &[]), &not_known("A", &[]), &right("A")]);
    assert_eq!(answer.doubled_serials.len(), 1);
    assert_eq!(answer.doubled_serials[0].to_string(), "the serial number 7A12 is on 1, 2");
    assert!(answer.pieces[0].doubled_with.contains("2"));
    // makers that are known to differ may count alike, and placeholders number nothing
    let answer =
        delivery(vec![with("1", "7A12", Some("Hilltop")), with("2", "7A12", Some("Millpond"))]).judge().unwrap();
    assert!(answer.doubled_serials.is_empty() && answer.lines[0].right == 2);
    for (one, other) in [("0000", "0"), ("00000000", "0x0"), ("FFFFFFFF", "ffffffff")] {
        let answer = delivery(vec![with("1", one, None), with("2", other, None)]).judge().unwrap();
        assert!(answer.doubled_serials.is_empty() && answer.lines[0].right == 2, "{one}");
        assert!(answer.pieces.iter().all(|piece| piece.lacks_serial() && piece.seen.serial.is_none()), "{one}");
        assert_eq!(answer.pieces[0].to_string(), "1: right for A\n    no serial number was read");
    }
    // a label does not tell it, and two numbers are not none
    let answer = delivery(vec![labelled("1", PLAIN)]).judge().unwrap();
    assert!(!answer.pieces[0].lacks_serial());
    let mut two = with("1", "7A12", None);
    two.said.extend(with("1", "7A13", None).said);
    let answer = delivery(vec![two]).judge().unwrap();
    assert!(answer.pieces[0].seen.serial.is_none() && !answer.pieces[0].lacks_serial());
    // a line that asks for a number is not met by one that is none
    let asked = OrderLine::new(name("A"), SeenModule::new().serial(name("7A12")), 1);
    assert_eq!(verdict(&[asked], with("1", "FFFFFFFF", None)), not_known("A", &[ModuleFact::Serial]));
}

#[test]
fn pieces_make_room_for_each_other() {
    // the first piece is right for both lines, the second for one only
    let any = OrderLine::new(name("any"), SeenModule::new().generation(Generation::Ddr4), 1);
    let delivery = Delivery::new().lines([any, line("single", SINGLE, 1)]);
    let delivery = delivery.pieces([labelled("1", SINGLE), labelled("2", PLAIN), labelled("3", PLAIN)]);
    let answer = delivery.judge().unwrap();
    let verdicts: Vec<PieceVerdict> = answer.pieces.iter().map(|piece| piece.verdict.clone()).collect();
    assert_eq!(verdicts, [right("single"), right("any"), PieceVerdict::Surplus { line: name("any") }]);
    assert!(!answer.is_all_right());
    assert_eq!(answer.line("any").unwrap().missing, 0);
    assert_eq!(answer.piece("3").unwrap().verdict.line(), Some(&name("any")));
}

#[test]
fn surplus_is_only_what_would_be_right() {
    let unread = |id: &str| piece(id, &[(Medium::Label, SeenModule::new())]);
    let vague = piece("4", &[(Medium::Rows, seen(PLAIN).kind(None::<ModuleKind>))]);
    let pieces = [labelled("1", PLAIN), labelled("2", PLAIN), unread("3"), vague];
    let answer = Delivery::new().line(line("A", PLAIN, 1)).pieces(pieces).judge().unwrap();
    let verdicts: Vec<PieceVerdict> = answer.pieces.iter().map(|piece| piece.verdict.clone()).collect();
    let without_place =
        |unread: &[ModuleFact]| PieceVerdict::NotKnown { line: name("A"), unread: unread.to_vec(), has_place: false };
    assert_eq!(verdicts[..2], [right("A"), PieceVerdict::Surplus { line: name("A") }]);
    assert_eq!(verdicts[3], without_place(&[ModuleFact::Kind]));
    assert!(matches!(&verdicts[2], PieceVerdict::NotKnown { has_place: false, .. }));
    assert_eq!((answer.lines[0].not_known, answer.lines[0].open()), (0, 0));
    assert_eq!(
        answer.to_string(),
        "4 pieces: 1 right, 2 not known, 1 surplus; complete\n  \
         1: right for A (label only; no SPD was read)\n  \
         2: surplus: A has all its pieces (label only; no SPD was read)\n  \
         3: not known, no place left in any line that it may be for: nothing of it was read (no SPD was read)\n  \
         4: not known, no place left in any line that it may be for: kind not read (typed rows only; no SPD was read)\n    \
         no serial number was read\n  \
         A: 1 ordered, 1 right (1 of them without SPD); complete"
    );
    // a piece that is not known keeps its place open
    let answer = Delivery::new().line(line("A", PLAIN, 3)).pieces([labelled("1", PLAIN), unread("2")]);
    let answer = answer.judge().unwrap();
    assert!(answer.to_string().starts_with("2 pieces: 1 right, 1 not known; open: 1 not known, 1 missing\n"));
    assert_eq!(answer.lines[0].open(), 2);
}

#[test]
fn what_is_better_known_goes_first() {
    let known = |id: &str, media: &[Medium]| {
        media.iter().fold(Piece::new(name(id)), |piece, medium| piece.said(*medium, seen(PLAIN)))
    };
    let of = |pieces: &[Piece]| -> Vec<String> {
        let mut all: Vec<Vec<String>> = Vec::new();
        for turn in 0..pieces.len() {
            let mut turned = pieces.to_vec();
            turned.rotate_left(turn);
            let answer = Delivery::new().line(line("A", PLAIN, 1)).pieces(turned).judge().unwrap();
            let placed = answer.pieces.iter().filter(|piece| match &piece.verdict {
                PieceVerdict::Right { .. } => true,
                PieceVerdict::NotKnown { has_place, .. } => *has_place,
                _ => false,
            });
            all.push(placed.map(|piece| piece.id.to_string()).collect());
        }
        assert!(all.iter().all(|placed| *placed == all[0]), "{all:?}");
        all.swap_remove(0)
    };
    let (rows, label, spd) = (known("1", &[Medium::Rows]), known("2", &[Medium::Label]), known("3", &[Medium::Spd]));
    let both = known("4", &[Medium::Label, Medium::Spd]);
    assert_eq!(of(&[rows.clone(), label.clone(), spd.clone(), both.clone()]), ["4"]);
    assert_eq!(of(&[rows.clone(), label.clone(), spd.clone()]), ["3"]);
    assert_eq!(of(&[rows.clone(), label.clone()]), ["2"]);
    // a right one goes before one that may be right, whatever was read of it
    let open = piece("0", &[(Medium::Spd, seen(PLAIN).kind(None::<ModuleKind>))]);
    assert_eq!(of(&[open.clone(), rows]), ["1"]);
    // of those that may be right the one with the fewest open facts
    let less = piece("00", &[(Medium::Spd, SeenModule { grade_mts: None, ..seen(PLAIN).kind(None::<ModuleKind>) })]);
    assert_eq!(of(&[less, open]), ["0"]);
}

#[test]
fn a_faulty_spd_is_no_source() {
    for (fault, says) in
        [(SpdFault::Damaged, "its SPD is damaged"), (SpdFault::Unreadable, "its SPD could not be read")]
    {
        let of = |pieces: Vec<Piece>| Delivery::new().line(line("A", PLAIN, 2)).pieces(pieces);
        let labelled = labelled("1", PLAIN).spd(Err(fault));
        let answer = of(vec![labelled.clone(), Piece::new(name("2")).spd(Err(fault))]).judge().unwrap();
        assert_eq!(answer.pieces[0].to_string(), format!("1: right for A (label only; {says})"));
        assert!(!answer.pieces[0].has_spd() && answer.lines[0].right_without_spd == 1);
        let nothing = format!("2: not known, may be for A: nothing of it was read ({says})");
        assert_eq!(answer.pieces[1].to_string(), nothing);
        // right by its label, but not all right
        let answer = Delivery::new().line(line("A", PLAIN, 1)).piece(labelled.clone()).judge().unwrap();
        assert!(answer.pieces[0].verdict.is_right() && !answer.is_all_right());
        let bins = of(vec![labelled]).bins().unwrap();
        assert_eq!((bins.bins.len(), bins.aside[0].spd_fault), (0, Some(fault)));
        assert!(bins.to_string().contains(says), "{bins}");
    }
    // what is said of one piece number, in any order
    let delivery = Delivery::new()
        .spd(name("1"), Err(SpdFault::Damaged))
        .said(name("1"), Medium::Label, seen(PLAIN))
        .spd(name("1"), Err(SpdFault::Unreadable))
        .spd(name("2"), Ok(seen(PLAIN)));
    assert_eq!(delivery.pieces.len(), 2);
    assert_eq!((delivery.pieces[0].spd_fault, delivery.pieces[1].spd_fault), (Some(SpdFault::Damaged), None));
    assert_eq!(delivery.pieces[1].said[0].medium, Medium::Spd);
}

#[test]
fn wrong_pieces_go_to_the_closest_line_that_lacks_some() {
    let lines = [line("far", "16GB 1Rx4 PC4-2133P-RC2-11", 1), line("near", PLAIN, 1)];
    let other = "32GB 2Rx4 PC4-2666V-RB2-11";
    let answer =
        Delivery::new().lines(lines.clone()).pieces([labelled("1", other), labelled("2", other)]).judge().unwrap();
    let of = |answer: &GoodsIn| -> Vec<String> {
        answer.pieces.iter().map(|piece| piece.verdict.line().unwrap().to_string()).collect()
    };
    assert_eq!(of(&answer), ["near", "far"]);
    assert!(answer.lines.iter().all(|line| line.missing == 1));
    // where no line lacks any, to the closest
    let full = Delivery::new().lines([lines[1].clone()]).pieces([labelled("1", PLAIN), labelled("2", other)]);
    assert_eq!(of(&full.judge().unwrap()), ["near", "near"]);
}

#[test]
fn every_problem_is_told_at_once() {
    let empty = OrderLine::new(name("B"), SeenModule::new(), 2);
    let delivery = Delivery::new().lines([line("A", PLAIN, 0), empty, line("A", PLAIN, 1)]).pieces([
        labelled("1", PLAIN),
        Piece::new(name("2")),
        labelled("1", PLAIN),
    ]);
    let error = delivery.judge().unwrap_err();
    assert_eq!(
        error.to_string(),
        "delivery: the line A is given twice: lines[0] and lines[2]; ids must be unique; the line A orders 0 modules; at \
         least 1 is needed; the line B states no fact of its modules; at least one is needed to judge by; the piece 1 is \
         given twice: pieces[0] and pieces[2]; ids must be unique; of the piece 2 nothing is said; it needs its SPD, its \
         label or a row"
    );
    let places: Vec<String> = error.problems.iter().map(|problem| problem.place().to_string()).collect();
    assert_eq!(places, ["lines[2]", "lines[A].quantity", "lines[B].wanted", "pieces[2]", "pieces[2].said"]);
    assert_eq!(delivery.bins().unwrap_err().problems.len(), 5);
    let many = OrderLine { quantity: 99_999_999_999, ..line("A", PLAIN, 1) };
    let error = Delivery::new().line(many.clone()).judge().unwrap_err();
    assert_eq!(error.to_string(), "delivery: the line A orders 99999999999 modules; at most 1000000 are allowed");
    let most = OrderLine { quantity: OrderLine::MAX_QUANTITY, ..many };
    assert_eq!(Delivery::new().line(most).judge().unwrap().lines[0].missing, 1_000_000);
    let none = Delivery::new().piece(labelled("1", PLAIN));
    assert_eq!(none.judge().unwrap_err().problems, [DeliveryProblem::NoLine]);
    // what is said of one piece number is of one piece
    let said = none.said(name("1"), Medium::Rows, SeenModule::new()).said(name("2"), Medium::Spd, seen(PLAIN));
    assert_eq!(said.pieces.iter().map(|piece| piece.said.len()).collect::<Vec<_>>(), [2, 1]);
}

#[test]
fn bins_hold_what_is_alike() {
    let serial = |text: &str| SeenModule { serial: Some(name(text)), ..seen(PLAIN) };
    let part = |text: &str| SeenModule { part_number: Some(name(text)), ..seen(PLAIN) };
    let spd = |id: &str, seen: SeenModule| piece(id, &[(Medium::Spd, seen)]);
    let delivery = Delivery::new().pieces([
        spd("1", serial("11")),
        spd("2", serial("12")),
        labelled("3", PLAIN),
        labelled("4", "16GB 2Rx4 PC4-2400T-RB2-11"),
        spd("5", part("AB-1")),
        spd("6", part("ab1")),
        piece("7", &[(Medium::Rows, SeenModule::new().capacity(Capacity::from_gib(32)))]),
        piece("8", &[(Medium::Label, seen(PLAIN)), (Medium::Spd, seen(SINGLE))]),
        spd("9", serial("99")),
        spd("A", serial("099")),
    ]);
    let bins = delivery.bins().unwrap();
    let held: Vec<Vec<&str>> = bins.bins.iter().map(|bin| bin.pieces.iter().map(Name::as_str).collect()).collect();
    assert_eq!(held, [vec!["4"], vec!["1", "2", "3"], vec!["5", "6"]]);
    assert_eq!(bins.bins[1].without_spd, 1);
    let aside: Vec<(&str, usize, bool)> =
        bins.aside.iter().map(|piece| (piece.id.as_str(), piece.unread.len(), piece.is_held_back)).collect();
    assert_eq!(aside, [("7", 5, false), ("8", 0, true), ("9", 0, false), ("A", 0, false)]);
    let text = bins.to_string();
    assert!(text.starts_with("6 pieces in 3 bins, 4 aside\n  1 piece: 16 GB 2Rx4 DDR4 registered"), "{text}");
    assert!(
        text.contains("\n  aside: 7: 32 GB; generation, kind, package ranks, device width and rated rate not read"),
        "{text}"
    );
    let document = serde_json::to_string(&bins).unwrap();
    assert_eq!(serde_json::from_str::<Bins>(&document).unwrap(), bins);
}

/// The best sum of all ways to put pieces to lines.
fn best(fits: &[Vec<Option<Fit>>], room: &mut Vec<usize>) -> [i64; 5] {
    let Some((first, rest)) = fits.split_first() else { return [0; 5] };
    let mut most = best(rest, room);
    for (line, fit) in first.iter().enumerate() {
        let Some(fit) = fit.filter(|_| room[line] > 0) else { continue };
        room[line] -= 1;
        let mut sum = best(rest, room);
        room[line] += 1;
        for (sum, more) in sum.iter_mut().zip([fit.right, fit.open, fit.with_spd, fit.with_label, fit.read]) {
            *sum += more;
        }
        most = most.max(sum);
    }
    most
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(600))]

    #[test]
    fn the_best_are_put(
        groups in proptest::collection::vec(
            (proptest::collection::vec((0_u8..3, 0_i64..3), 3), 0_i64..2, 0_i64..2, 1_usize..4),
            0..4,
        ),
        room in proptest::collection::vec(0_usize..4, 3),
    ) {
        let fits: Vec<Vec<Option<Fit>>> = groups
            .iter()
            .map(|(fits, with_spd, with_label, _)| {
                let fit = |(sort, unread): &(u8, i64)| {
                    let (right, open) = (i64::from(*sort == 2), i64::from(*sort == 1));
                    let read = if *sort == 2 { 0 } else { -unread };
                    (*sort > 0).then_some(Fit { right, open, with_spd: *with_spd, with_label: *with_label, read })
                };
                fits.iter().map(fit).collect()
            })
            .collect();
        let sizes: Vec<usize> = groups.iter().map(|(.., size)| *size).collect();
        let put = most(&fits, &sizes, &room);
        let mut sum = [0; 5];
        for ((fits, size), put) in fits.iter().zip(&sizes).zip(&put) {
            prop_assert!(put.iter().sum::<usize>() <= *size);
            for (fit, count) in fits.iter().zip(put) {
                let Some(fit) = fit else {
                    prop_assert_eq!(*count, 0);
                    continue;
                };
                let count = i64::try_from(*count).unwrap();
                for (sum, more) in sum.iter_mut().zip([fit.right, fit.open, fit.with_spd, fit.with_label, fit.read]) {
                    *sum += more * count;
                }
            }
        }
        for (line, room) in room.iter().enumerate() {
            prop_assert!(put.iter().map(|put| put[line]).sum::<usize>() <= *room);
        }
        let singly: Vec<Vec<Option<Fit>>> =
            fits.iter().zip(&sizes).flat_map(|(fits, size)| vec![fits.clone(); *size]).collect();
        prop_assert_eq!(sum, best(&singly, &mut room.clone()));
    }
}
