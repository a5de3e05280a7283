//! What came in, to be signed.

use crate::goods_in::{GoodsIn, JudgedLine, JudgedPiece, PieceVerdict, SpdFault};
use crate::module::FormFactor;
use crate::population::ReportDate;
use crate::sheet::{Cell, Column, Section, Sheet, Table};

/// The record of a delivery: each piece with its serial number, what it is and what that was read from, its verdict
/// and its line; what is open of each line; serial numbers that come twice; what the record rests on, and who signs it.
///
/// `remarks` is what readers had to say, each of one or more lines: labels that were corrected, SPD that was cut off.
/// `dates` are in the caller's word, each with what it is of: "read on".
///
/// ```
/// use slotwright::goods_in::{Delivery, OrderLine, Piece};
/// use slotwright::module::Label;
/// use slotwright::sheet::goods_in_record;
/// use slotwright::Name;
///
/// let label: Label = "32GB 2Rx4 PC4-2400T-RB2-11".parse()?;
/// let delivery = Delivery::new()
///     .line(OrderLine::of_module(Name::new("lot-7")?, label.module(), 2))
///     .piece(Piece::new(Name::new("1")?).label(&label));
/// let sheet = goods_in_record("Order 12", &delivery.judge()?, &[], &[("read on".to_owned(), "2026-11-27".parse()?)]);
/// let text = sheet.to_text(80);
/// assert!(text.contains("1 piece: 1 right; open: 1 missing"));
/// assert!(text.contains("- read on 2026-11-27"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[must_use]
pub fn goods_in_record(title: &str, answer: &GoodsIn, remarks: &[String], dates: &[(String, ReportDate)]) -> Sheet {
    let mut lines = Table::new([
        Column::text("line"),
        Column::count("ordered"),
        Column::count("right"),
        Column::count("without SPD"),
        Column::count("not known"),
        Column::count("missing"),
        Column::text("state"),
    ]);
    answer.lines.iter().for_each(|line| lines.row(line_row(line)));
    let mut pieces =
        Table::new(["piece", "serial number", "part", "module", "read from", "verdict", "line"].map(Column::text));
    answer.pieces.iter().for_each(|piece| pieces.row(piece_row(piece)));
    let mut doubts = Section::new("WHAT IS NOT RIGHT, OR NOT AS IT SHOULD BE");
    for piece in &answer.pieces {
        let text = piece.to_string();
        if !piece.verdict.is_right() || piece.spd_fault.is_some() || text.lines().nth(1).is_some() {
            doubts = doubts.lines(&text);
        }
    }
    let mut read = Section::new("REMARKS ON WHAT WAS READ");
    for remark in remarks {
        read = read.lines(remark);
    }
    Sheet::new(format!("GOODS IN   {title}"))
        .section(Section::plain().line(answer.sum()))
        .section(Section::new("LINES").table(lines))
        .section(Section::new("PIECES").table(pieces.without_empty_columns()))
        .section(doubts)
        .section(Section::new("SERIAL NUMBERS THAT COME TWICE").items(&answer.doubled_serials))
        .section(read)
        .section(foundation(answer, dates))
        .section(Section::new("SIGNED BY").blanks(["Name", "Date and time"]))
}

fn line_row(line: &JudgedLine) -> [Cell; 7] {
    [
        Cell::text(&line.id),
        Cell::count(line.ordered),
        Cell::count(line.right),
        Cell::count(line.right_without_spd),
        Cell::count(line.not_known),
        Cell::count(line.missing),
        Cell::text(if line.open() == 0 { "complete" } else { "open" }),
    ]
}

fn piece_row(piece: &JudgedPiece) -> [Cell; 7] {
    let (verdict, line) = match &piece.verdict {
        PieceVerdict::Right { line } => ("right", Some(line)),
        PieceVerdict::NotKnown { line, has_place: true, .. } => ("not known", Some(line)),
        PieceVerdict::NotKnown { .. } => ("not known, no place", None),
        PieceVerdict::Wrong { line, .. } => ("wrong", Some(line)),
        PieceVerdict::Surplus { line } => ("surplus", Some(line)),
        PieceVerdict::Other(name) => (name.as_str(), None),
    };
    [
        Cell::text(&piece.id),
        Cell::maybe(piece.seen.serial.as_ref()),
        Cell::maybe(piece.seen.part_number.as_ref()),
        Cell::text(brief(piece)),
        Cell::text(source(piece)),
        Cell::text(verdict),
        Cell::maybe(line),
    ]
}

/// What it is, without what other columns say and what follows from the rest.
fn brief(piece: &JudgedPiece) -> String {
    if piece.is_unread() {
        return "not read".to_owned();
    }
    let mut seen = piece.seen.clone();
    (seen.serial, seen.part_number, seen.voltages_mv) = (None, None, None);
    (seen.height_um, seen.die_density_mbit) = (None, None);
    seen.form_factor = seen.form_factor.filter(|form| *form != FormFactor::Dimm);
    seen.to_string()
}

fn source(piece: &JudgedPiece) -> String {
    let mut media: Vec<String> = piece.media.iter().map(ToString::to_string).collect();
    media.extend(piece.spd_fault.map(|fault| match fault {
        SpdFault::Damaged => "damaged SPD left out".to_owned(),
        SpdFault::Unreadable => "SPD not read".to_owned(),
    }));
    media.join(", ")
}

fn foundation(answer: &GoodsIn, dates: &[(String, ReportDate)]) -> Section {
    let without = answer.pieces.iter().filter(|piece| !piece.has_spd()).count();
    let mut section = Section::new("WHAT THIS RESTS ON");
    if without > 0 {
        section = section.items([format!(
            "{without} of {} pieces were judged without their SPD; a label can be put on any module",
            answer.pieces.len()
        )]);
    }
    section
        .items([
            "a line states what was bought, to the letter; what it does not state was not asked for",
            "a piece that is not known is not accepted: its place stays open until it is read",
        ])
        .items(dates.iter().map(|(of, date)| format!("{of} {date}")))
        .items([
            "Modules are spoilt by static. Wear a wrist strap, hold them by the edges, pack each one by itself.",
            "The platform maker's manual, local rules and qualified people decide.",
        ])
}
