//! Lines of a seller's list: what each says, what is to be asked, and offers of those that are settled.
//!
//! ```sh
//! cargo run --example read_titles
//! cargo run --example read_titles -- FILE [--offers OFFERS.json]
//! ```
//!
//! A line is a title and, behind a tab, the price of one module: "25.00 EUR". Lines that begin with # are left out. Without a file
//! it reads the demo in `examples/data`. OFFERS.json is an offers file for `plan_machine` and for requests as documents.

// an example talks to the terminal
#![allow(clippy::print_stderr, clippy::print_stdout)]

use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use slotwright::intake::Lot;
use slotwright::intake::titles::{self, Words};
use slotwright::population::ModuleFact;
use slotwright::{Currency, Name, Offer, Price};

/// Without the rate no plan can tell how fast the machine will run.
const NEEDED: [ModuleFact; 1] = [ModuleFact::Grade];

/// The lots of a list: the page on them, and the offers.
fn read(list: &str) -> Result<(String, Vec<Offer>), String> {
    let words = Words::standard();
    let (mut page, mut offers, mut lots) = (String::new(), Vec::new(), 0);
    for (number, line) in list.lines().enumerate().filter(|(_, line)| !line.trim().is_empty() && !line.starts_with('#'))
    {
        let (title, price) = match line.rsplit_once('\t') {
            Some((title, price)) => {
                (title, Some(self::price(price).map_err(|error| format!("line {}: {error}", number + 1))?))
            }
            None => (line, None),
        };
        lots += 1;
        let lot = titles::read(title, &words);
        page += &format!("line {}: {}\n", number + 1, title.trim());
        for line in lot.to_string().lines() {
            page += &format!("  {line}\n");
        }
        if lot.is_of_modules() && !lot.not_understood.is_empty() {
            let texts: Vec<&str> = lot.not_understood.iter().map(|passage| passage.text.as_str()).collect();
            page += &format!("  not understood: {}\n", texts.join(", "));
        }
        match offer(&lot, number + 1, price) {
            Ok(offer) => {
                page += &format!("  -> offer {}: {} at {}\n", offer.id, offer.stock, offer.unit_price);
                offers.push(offer);
            }
            Err(reason) => page += &format!("  -> no offer: {reason}\n"),
        }
    }
    let _ = writeln!(
        page,
        "{} of {lots} lines make offers. Before anything is ordered, ask for a photograph of the label.",
        offers.len()
    );
    Ok((page, offers))
}

fn offer(lot: &Lot, line: usize, price: Option<Price>) -> Result<Offer, String> {
    let id = Name::new(&format!("line-{line}")).map_err(|error| error.to_string())?;
    // all that is open is asked at once, the price too
    let settled =
        lot.offer(id, price.unwrap_or(Price::new(0, Currency::NONE)), &NEEDED).map_err(|open| open.to_string())?;
    if price.is_none() { Err("the price of one is not given".to_owned()) } else { Ok(settled) }
}

/// "25.00 EUR".
fn price(text: &str) -> Result<Price, String> {
    let refused = || format!("{text:?} is no price such as 25.00 EUR");
    let (amount, currency) = text.trim().split_once(' ').ok_or_else(refused)?;
    let (whole, cents) = amount.split_once('.').unwrap_or((amount, "00"));
    let (whole, parts): (u64, u64) = (whole.parse().map_err(|_| refused())?, cents.parse().map_err(|_| refused())?);
    let amount = whole.checked_mul(100).and_then(|minor| minor.checked_add(parts)).filter(|_| cents.len() == 2);
    Ok(Price::new(amount.ok_or_else(refused)?, currency.trim().parse().map_err(|_| refused())?))
}

fn main() -> ExitCode {
    let mut given = std::env::args_os().skip(1).map(PathBuf::from);
    let (mut list, mut written) = (None, None);
    while let Some(word) = given.next() {
        match word.to_str() {
            Some("--offers") => written = given.next(),
            Some(other) if other.starts_with("--") => {
                eprintln!("unknown option {other}; there is --offers");
                return ExitCode::from(2);
            }
            _ => list = Some(word),
        }
    }
    let list = list.unwrap_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data/titles.txt"));
    match run(&list, written.as_deref()) {
        Ok(page) => {
            print!("{page}");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{error}");
            ExitCode::from(2)
        }
    }
}

pub(crate) fn run(list: &Path, written: Option<&Path>) -> Result<String, String> {
    let located = |error: &dyn std::fmt::Display, file: &Path| format!("{}: {error}", file.display());
    let text = std::fs::read(list).map_err(|error| located(&error, list))?;
    let (page, offers) = read(&String::from_utf8_lossy(&text)).map_err(|error| located(&error, list))?;
    if let Some(file) = written {
        let json = serde_json::to_string_pretty(&offers).map_err(|error| error.to_string())?;
        std::fs::write(file, json + "\n").map_err(|error| located(&error, file))?;
    }
    Ok(page)
}
