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

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use slotwright::intake::Lot;
use slotwright::intake::titles::{self, Aside, Says, Words};
use slotwright::population::ModuleFact;
use slotwright::sheet::{visible, visible_lines};
use slotwright::{Currency, Name, Offer, Price};

/// Without the rate no plan can tell how fast the machine will run.
const NEEDED: [ModuleFact; 1] = [ModuleFact::Grade];

const USAGE: &str =
    "read_titles [FILE] [--offers OFFERS.json]: a line is a title and, behind a tab, the price of one module";

/// The lots of a list: the page on them, and the offers.
fn read(list: &str) -> (String, Vec<Offer>) {
    let words = Words::standard();
    let (mut page, mut offers, mut lots) = (String::new(), Vec::new(), 0);
    // also the line ends of other machines
    let list = list.replace("\r\n", "\n").replace('\r', "\n");
    for (number, line) in list.lines().enumerate().filter(|(_, line)| !line.trim().is_empty() && !line.starts_with('#'))
    {
        let (title, price) = line.rsplit_once('\t').map_or((line, None), |(title, price)| (title, Some(price)));
        lots += 1;
        let lot = titles::read(title, &words);
        page += &format!("line {}: {}\n", number + 1, visible(title.trim()));
        for line in lot.to_string().lines() {
            page += &format!("  {}\n", visible(line));
        }
        if lot.is_of_modules() {
            page += &read_beside(&lot);
        }
        match offer(&lot, number + 1, price) {
            Ok(offer) => {
                let remark = offer.data.as_ref().map_or(String::new(), |remark| format!("; {}", visible(remark)));
                page += &format!("  -> offer {}: {} at {}{remark}\n", offer.id, offer.stock, offer.unit_price);
                offers.push(offer);
            }
            Err(reason) => page += &format!("  -> no offer: {}\n", visible(&reason)),
        }
    }
    page += &format!("{} of {lots} lines make offers. ", offers.len());
    let currencies: BTreeSet<String> = offers.iter().map(|offer| offer.unit_price.currency().to_string()).collect();
    if currencies.len() > 1 {
        let all: Vec<String> = currencies.into_iter().collect();
        page += &format!("They are in {}: a plan takes one currency. ", all.join(" and "));
    }
    page += "Before anything is ordered, ask for a photograph of the label.\n";
    (page, offers)
}

/// Numbers that were taken for something other than modules, and what was not understood at all.
fn read_beside(lot: &Lot) -> String {
    let mut lines = String::new();
    for claim in &lot.claims {
        if let [says] = claim.ways.as_slice() {
            if let [Says::Aside(aside)] = says.as_slice() {
                if claim.text.contains(|letter: char| letter.is_ascii_digit()) {
                    lines += &format!("  read as {aside}: {}\n", visible(&claim.text));
                }
            }
        }
    }
    if !lot.not_understood.is_empty() {
        let texts: Vec<&str> = lot.not_understood.iter().map(|passage| passage.text.as_str()).collect();
        lines += &format!("  not understood: {}\n", visible(&texts.join(", ")));
    }
    lines
}

fn offer(lot: &Lot, line: usize, price: Option<&str>) -> Result<Offer, String> {
    let id = Name::new(&format!("line-{line}")).map_err(|error| error.to_string())?;
    let price = price.map(self::price);
    // all that is open is asked at once, the price too
    let known = price.as_ref().and_then(|price| price.as_ref().ok()).copied();
    let settled =
        lot.offer(id, known.unwrap_or(Price::new(0, Currency::NONE)), &NEEDED).map_err(|open| open.to_string())?;
    price.unwrap_or_else(|| Err("the price of one is not given".to_owned()))?;
    let names_a_price = |says: &Says| matches!(says, Says::Aside(Aside::Money | Aside::WholePrice));
    match lot.claims.iter().find(|claim| claim.ways.iter().flatten().any(names_a_price)) {
        Some(claim) => Err(format!("the title names a price of its own ({}): is it for one, or for all?", claim.text)),
        None => Ok(settled),
    }
}

/// "25.00 EUR", "25,50 EUR", "25 eur".
fn price(text: &str) -> Result<Price, String> {
    let refused = || format!("{:?} is no price of one module such as 25.00 EUR", text.trim());
    let (amount, currency) = text.trim().split_once(' ').ok_or_else(refused)?;
    let amount = amount.replace(',', ".");
    let (whole, cents) = amount.split_once('.').unwrap_or((&amount, "00"));
    let (whole, parts): (u64, u64) = (whole.parse().map_err(|_| refused())?, cents.parse().map_err(|_| refused())?);
    let minor = whole.checked_mul(100).and_then(|minor| minor.checked_add(parts)).filter(|_| cents.len() == 2);
    let minor = minor.filter(|minor| *minor > 0).ok_or_else(refused)?;
    Ok(Price::new(minor, currency.trim().to_uppercase().parse().map_err(|_| refused())?))
}

fn main() -> ExitCode {
    let mut given = std::env::args_os().skip(1).map(PathBuf::from);
    let (mut lists, mut written) = (Vec::new(), None);
    while let Some(word) = given.next() {
        match word.to_str() {
            Some("--help") => {
                println!("{USAGE}");
                return ExitCode::SUCCESS;
            }
            Some("--offers") => written = given.next(),
            Some(other) if other.starts_with("--") => {
                eprintln!("unknown option {}; {USAGE}", visible(other));
                return ExitCode::from(2);
            }
            _ => lists.push(word),
        }
    }
    if lists.len() > 1 {
        eprintln!("one list at a time; {USAGE}");
        return ExitCode::from(2);
    }
    let list = lists.pop().unwrap_or_else(|| Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data/titles.txt"));
    match run(&list, written.as_deref()) {
        Ok(page) => {
            print!("{page}");
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{}", visible_lines(&error));
            ExitCode::from(2)
        }
    }
}

pub(crate) fn run(list: &Path, written: Option<&Path>) -> Result<String, String> {
    let located = |error: &dyn std::fmt::Display, file: &Path| format!("{}: {error}", file.display());
    let text = std::fs::read(list).map_err(|error| located(&error, list))?;
    let (page, offers) = read(&String::from_utf8_lossy(&text));
    if let Some(file) = written {
        let json = serde_json::to_string_pretty(&offers).map_err(|error| error.to_string())?;
        std::fs::write(file, json + "\n").map_err(|error| located(&error, file))?;
    }
    Ok(page)
}
