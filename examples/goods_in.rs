//! Holds modules that have come against what was ordered, piece by piece.
//!
//! ```sh
//! cargo run --example goods_in
//! cargo run --example goods_in -- ORDER PIECES [PIECE=IMAGE...]
//! ```
//!
//! ORDER is a table with commas under the headings id, label and quantity. PIECES has a line for each piece: its
//! number, and the text of its label as it was found. An IMAGE is the content of a piece's SPD. Without arguments: the
//! made-up files `order.csv` and `pieces.txt` in `examples/data`. Without lines in ORDER the pieces are sorted into
//! bins.
//!
//! The exit code is 1 if not every piece is right or some are missing, and 2 if a file cannot be read.

// an example talks to the terminal
#![allow(clippy::print_stderr)]

// its other functions are for another example
#[allow(dead_code)]
#[path = "plan_machine/job/read.rs"]
mod read;

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use slotwright::goods_in::{Delivery, OrderLine};
use slotwright::intake::spd::SpdImage;
use slotwright::population::{Medium, SeenModule};
use slotwright::{Label, Name};

/// The files of a delivery.
pub(crate) struct Files {
    pub(crate) order: PathBuf,
    pub(crate) pieces: PathBuf,
    /// Piece numbers, each with the image of an SPD.
    pub(crate) images: Vec<(String, PathBuf)>,
}

fn main() -> ExitCode {
    let given: Vec<String> = std::env::args_os().skip(1).map(|one| one.to_string_lossy().into_owned()).collect();
    let files = match given.as_slice() {
        [] => Ok(Files::demo(&Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data"))),
        [order, pieces, images @ ..] => Files::given(order, pieces, images),
        _ => Err("usage: goods_in ORDER PIECES [PIECE=IMAGE...]".to_owned()),
    };
    let (text, is_all_right) = match files.and_then(|files| files.page()) {
        Ok(page) => page,
        Err(error) => {
            eprintln!("{error}");
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
            order: data.join("order.csv"),
            pieces: data.join("pieces.txt"),
            images: vec![image("P05"), image("P08")],
        }
    }

    fn given(order: &str, pieces: &str, images: &[String]) -> Result<Self, String> {
        let image = |given: &String| {
            let (piece, file) = given.split_once('=').ok_or_else(|| format!("{given:?} is not PIECE=IMAGE"))?;
            Ok((piece.to_owned(), file.into()))
        };
        let images = images.iter().map(image).collect::<Result<_, String>>()?;
        Ok(Self { order: order.into(), pieces: pieces.into(), images })
    }

    /// What is to be said, and whether every piece is right and none is missing.
    pub(crate) fn page(&self) -> Result<(String, bool), String> {
        let mut page = String::new();
        let delivery = self.delivery(&mut page)?;
        let (answer, is_all_right) = if delivery.lines.is_empty() {
            let bins = delivery.bins().map_err(|error| error.to_string())?;
            let is_all_known = bins.aside.is_empty();
            (bins.to_string(), is_all_known)
        } else {
            let answer = delivery.judge().map_err(|error| error.to_string())?;
            (answer.to_string(), answer.is_all_right())
        };
        page.push_str(&answer);
        page.push('\n');
        Ok((page, is_all_right))
    }

    /// Reads the files. What was corrected and what cannot be read is said on the page; nothing is lost for that.
    fn delivery(&self, page: &mut String) -> Result<Delivery, String> {
        let mut delivery = Delivery::new();
        for (place, [id, label, quantity]) in read::table(&self.order, ["id", "label", "quantity"])? {
            let quantity =
                quantity.parse().map_err(|_| format!("{place}: quantity {quantity:?} is no whole number"))?;
            let module = read::module(&place, &label)?;
            delivery = delivery.line(OrderLine::of_module(read::name(&place, "id", &id)?, &module, quantity));
        }
        let mut say = |text: String| writeln!(page, "{text}\n").map_err(|error| error.to_string());
        for (place, line) in read::lines(&self.pieces)? {
            let (piece, label) = line.split_once(char::is_whitespace).unwrap_or((&line, ""));
            let piece = read::name(&place, "piece", piece)?;
            let seen = match Label::found(label) {
                Ok(found) => {
                    if !found.is_clean() {
                        say(format!("label of {piece}: {found}"))?;
                    }
                    SeenModule::of(&found.module)
                }
                Err(error) => {
                    say(format!("label of {piece}: {}\n  not read: {error}", label.trim()))?;
                    SeenModule::new()
                }
            };
            delivery = delivery.said(piece, Medium::Label, seen);
        }
        for (piece, file) in &self.images {
            let named = |error: String| format!("{}: {error}", file.display());
            let bytes = std::fs::read(file).map_err(|error| named(error.to_string()))?;
            let image = SpdImage::read(&bytes).map_err(|error| named(error.to_string()))?;
            for remark in image.remarks() {
                say(format!("SPD of {piece}: {remark}"))?;
            }
            let piece = Name::new(piece).map_err(|error| named(error.to_string()))?;
            delivery = delivery.said(piece, Medium::Spd, image.module());
        }
        Ok(delivery)
    }
}
