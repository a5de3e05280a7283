//! Holds modules that have come against what was ordered, piece by piece.
//!
//! ```sh
//! cargo run --example goods_in
//! cargo run --example goods_in -- ORDER PIECES [PIECE=IMAGE...]
//! cargo run --example goods_in -- --bins PIECES [PIECE=IMAGE...]
//! ```
//!
//! ORDER is a table with commas under the headings id, label and quantity. PIECES has a line for each piece: its
//! number, and the text of its label as it was found. An IMAGE is the content of a piece's SPD. Without files: the
//! made-up files `order.csv` and `pieces.txt` in `examples/data`. With `--bins` the pieces are sorted into bins, without
//! an order. With `--sheet` the answer is a record to be signed.
//!
//! The exit code is 1 if not every piece is right, some are missing or an SPD is damaged or no SPD (of bins: if a piece
//! lies aside), and 2 if a file cannot be read.

// an example talks to the terminal
#![allow(clippy::print_stderr)]

// its other functions are for another example
#[allow(dead_code)]
#[path = "plan_machine/job/read.rs"]
mod read;

use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use slotwright::goods_in::{Delivery, OrderLine, SpdFault};
use slotwright::intake::spd::SpdImage;
use slotwright::population::{Medium, SeenModule};
use slotwright::sheet::{self, visible_lines};
use slotwright::{Label, Name};

const USAGE: &str = "\
usage: goods_in [--sheet] [ORDER PIECES [PIECE=IMAGE...]]
       goods_in --bins [PIECES [PIECE=IMAGE...]]

ORDER   a table with commas under the headings id, label, quantity
PIECES  a line for each piece: its number, and the text of its label
IMAGE   the content of the SPD of a piece
--sheet writes a record to be signed
--bins  sorts the pieces into bins, without an order
Without files a made-up delivery is read.
";

/// How many characters a line of the record has.
const WIDTH: usize = 100;

/// The files of a delivery.
pub(crate) struct Files {
    /// None to sort into bins.
    pub(crate) order: Option<PathBuf>,
    pub(crate) pieces: PathBuf,
    /// Piece numbers, each with the image of an SPD.
    pub(crate) images: Vec<(String, PathBuf)>,
    /// Whether a record is written.
    pub(crate) is_sheet: bool,
}

fn main() -> ExitCode {
    let given: Vec<String> = std::env::args_os().skip(1).map(|one| one.to_string_lossy().into_owned()).collect();
    let data = Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data");
    let answer = match Files::given(&given, &data) {
        Ok(Some(files)) => files.page(),
        Ok(None) => Ok((USAGE.to_owned(), true)),
        Err(error) => Err(visible_lines(&error)),
    };
    let (text, is_all_right) = match answer {
        Ok(page) => page,
        Err(error) => {
            eprintln!("{}", visible_lines(&error));
            return ExitCode::from(2);
        }
    };
    match std::io::stdout().write_all(text.as_bytes()) {
        Ok(()) if is_all_right => ExitCode::SUCCESS,
        _ => ExitCode::FAILURE,
    }
}

impl Files {
    /// The files of the demo. Two pieces have the same content of their SPD, to the serial number.
    pub(crate) fn demo(data: &Path) -> Self {
        let image = |piece: &str| (piece.to_owned(), data.join("spd-16gb.bin"));
        Self {
            order: Some(data.join("order.csv")),
            pieces: data.join("pieces.txt"),
            images: vec![image("P05"), image("P08")],
            is_sheet: false,
        }
    }

    /// What the words after the program's name say; `None` where help is asked for.
    pub(crate) fn given(given: &[String], data: &Path) -> Result<Option<Self>, String> {
        let (options, files): (Vec<&String>, Vec<&String>) = given.iter().partition(|one| one.starts_with("--"));
        let is_given = |option: &str| options.iter().any(|one| *one == option);
        if is_given("--help") {
            return Ok(None);
        }
        let (is_bins, is_sheet) = (is_given("--bins"), is_given("--sheet"));
        let unknown = options.iter().find(|one| !["--bins", "--sheet"].contains(&one.as_str()));
        if let Some(unknown) = unknown {
            return Err(format!("there is no option {unknown:?}\n{USAGE}"));
        }
        if is_bins && is_sheet {
            return Err(format!("the record is held against an order: --bins has none\n{USAGE}"));
        }
        let (order, pieces, images) = match files.as_slice() {
            [] => {
                let demo = Self::demo(data);
                return Ok(Some(Self { order: demo.order.filter(|_| !is_bins), is_sheet, ..demo }));
            }
            [pieces, images @ ..] if is_bins => (None, pieces, images),
            [order, pieces, images @ ..] => (Some(order.as_str().into()), pieces, images),
            [_] => return Err(USAGE.to_owned()),
        };
        let mut of: BTreeMap<String, PathBuf> = BTreeMap::new();
        for given in images {
            let (piece, file) = given.split_once('=').ok_or_else(|| format!("{given:?} is not PIECE=IMAGE"))?;
            if let Some(first) = of.insert(piece.to_owned(), file.into()) {
                return Err(format!("the piece {piece} has two images: {} and {file}", first.display()));
            }
        }
        Ok(Some(Self { order, pieces: pieces.as_str().into(), images: of.into_iter().collect(), is_sheet }))
    }

    /// What is to be said, and whether all is right.
    pub(crate) fn page(&self) -> Result<(String, bool), String> {
        let (page, is_all_right) = self.answer().map_err(|error| visible_lines(&error))?;
        Ok((visible_lines(&page), is_all_right))
    }

    fn answer(&self) -> Result<(String, bool), String> {
        let mut remarks = Vec::new();
        let delivery = self.delivery(&mut remarks)?;
        let said = |answer: &dyn std::fmt::Display| {
            remarks.iter().map(|remark| format!("{remark}\n\n")).collect::<String>() + &format!("{answer}\n")
        };
        let Some(order) = &self.order else {
            let bins = delivery.bins().map_err(|error| error.to_string())?;
            return Ok((said(&bins), bins.aside.is_empty()));
        };
        let answer = delivery.judge().map_err(|error| error.to_string())?;
        let page = if self.is_sheet {
            let title = order.file_name().unwrap_or_default().to_string_lossy();
            sheet::goods_in_record(&title, &answer, &remarks, &[]).to_text(WIDTH)
        } else {
            said(&answer)
        };
        Ok((page, answer.is_all_right()))
    }

    /// Reads the files. What was corrected and what cannot be read is remarked; nothing is lost for that.
    fn delivery(&self, remarks: &mut Vec<String>) -> Result<Delivery, String> {
        let mut delivery = Delivery::new();
        if let Some(order) = &self.order {
            delivery = delivery.lines(lines(order, remarks)?);
        }
        delivery = labels(&self.pieces, delivery, remarks)?;
        for (piece, file) in &self.images {
            let bytes = read::bytes(file).map_err(|error| format!("SPD of {piece}: {error}"))?;
            let id = read::name("PIECE=IMAGE", "piece", piece)?;
            let spd = match SpdImage::read(&bytes) {
                Ok(image) => {
                    remarks.extend(image.remarks().iter().map(|remark| format!("SPD of {piece}: {remark}")));
                    image.sound_module()
                }
                Err(error) => {
                    remarks.push(format!("SPD of {piece}: {}\n  not read: {error}", file.display()));
                    Err(SpdFault::from(error))
                }
            };
            delivery = delivery.spd(id, spd);
        }
        Ok(delivery)
    }
}

/// The lines of an order; at least one.
fn lines(order: &Path, remarks: &mut Vec<String>) -> Result<Vec<OrderLine>, String> {
    let mut lines = Vec::new();
    for (place, [id, label, quantity]) in read::table(order, ["id", "label", "quantity"])? {
        let most = OrderLine::MAX_QUANTITY;
        let number = quantity.parse().ok().filter(|number| (1..=most).contains(number));
        let number =
            number.ok_or_else(|| format!("{place}: quantity {quantity:?} is no whole number from 1 to {most}"))?;
        let found = Label::found(&label).map_err(|error| format!("{place}: label {label:?}: {error}"))?;
        let id = read::name(&place, "id", &id)?;
        if !found.is_clean() {
            remarks.push(format!("label of line {id}: {found}"));
        }
        lines.push(OrderLine::of_module(id, &found.module, number));
    }
    if lines.is_empty() {
        return Err(format!("{}: no lines below the headings; --bins sorts pieces without an order", order.display()));
    }
    Ok(lines)
}

/// Adds what the labels of pieces say. A label that is not read leaves its piece without facts.
fn labels(pieces: &Path, mut delivery: Delivery, remarks: &mut Vec<String>) -> Result<Delivery, String> {
    // a byte that is not UTF-8 spoils its own line alone
    let bytes = read::bytes(pieces)?;
    let text = String::from_utf8_lossy(&bytes);
    let mut first_at: BTreeMap<Name, String> = BTreeMap::new();
    for (place, line) in read::lines_of(pieces, &text) {
        let (piece, label) = line.split_once(char::is_whitespace).unwrap_or((&line, ""));
        let not_text = "it has a byte that is not UTF-8";
        if piece.contains(char::REPLACEMENT_CHARACTER) {
            return Err(format!("{place}: piece {piece:?}: {not_text}"));
        }
        let piece = read::name(&place, "piece", piece)?;
        if let Some(first) = first_at.insert(piece.clone(), place.clone()) {
            return Err(format!("{place}: the piece {piece} is given twice, first at {first}; a line is one piece"));
        }
        let not_read = |why: &dyn std::fmt::Display| format!("label of {piece}: {}\n  not read: {why}", label.trim());
        let found = if label.contains(char::REPLACEMENT_CHARACTER) {
            Err(not_read(&format_args!("{place}: {not_text}")))
        } else {
            Label::found(label).map_err(|error| not_read(&error))
        };
        let seen = match found {
            Ok(found) => {
                if !found.is_clean() {
                    remarks.push(format!("label of {piece}: {found}"));
                }
                SeenModule::of(&found.module)
            }
            Err(remark) => {
                remarks.push(remark);
                SeenModule::new()
            }
        };
        delivery = delivery.said(piece, Medium::Label, seen);
    }
    Ok(delivery)
}
