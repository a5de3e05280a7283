//! Reads the files of a job. Every error names its file, and its line where it has one.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use serde::Deserialize;
use serde::de::DeserializeOwned;
use slotwright::machine::{FittedProcessor, MachineDescription};
use slotwright::platform::{PlatformDescription, Settings};
use slotwright::population::MachineIdentity;
use slotwright::stated::Schema;
use slotwright::{
    Currency, Label, Machine, MemoryModule, Name, Occupant, Offer, PlanRequest, Platform, Population, Price, ShelfItem,
    reference,
};

/// What a machine file says.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct MachineFile {
    #[serde(rename = "schema")]
    _schema: Schema,
    title: Name,
    #[serde(default)]
    maker: Option<Name>,
    #[serde(default)]
    product: Option<Name>,
    #[serde(default)]
    serial: Option<Name>,
    #[serde(default)]
    place: Option<Name>,
    platform: serde_json::Value,
    processors: BTreeMap<String, FittedProcessor>,
    #[serde(default)]
    options: Vec<String>,
    #[serde(default)]
    settings: Settings,
}

pub(crate) fn bytes(file: &Path) -> Result<Vec<u8>, String> {
    fs::read(file).map_err(|error| format!("{}: {error}", file.display()))
}

fn text(file: &Path) -> Result<String, String> {
    String::from_utf8(bytes(file)?).map_err(|error| {
        let bytes = error.as_bytes();
        let (before, rest) = bytes.split_at(error.utf8_error().valid_up_to());
        let line = with_line_ends(&String::from_utf8_lossy(before)).matches('\n').count() + 1;
        let byte = rest.first().copied().unwrap_or_default();
        format!("{}:{line}: byte {byte:#04x} is not UTF-8", file.display())
    })
}

/// A text that says something.
fn some_text(file: &Path) -> Result<String, String> {
    let text = text(file)?;
    if text.trim().is_empty() { Err(format!("{}: the file is empty", file.display())) } else { Ok(text) }
}

/// A text whose lines end as one likes, with one sort of line end.
fn with_line_ends(text: &str) -> String {
    text.replace("\r\n", "\n").replace('\r', "\n")
}

fn json<T: DeserializeOwned>(file: &Path) -> Result<T, String> {
    serde_json::from_str(&some_text(file)?).map_err(|error| format!("{}:{}: {error}", file.display(), error.line()))
}

/// The title of a job, and its machine.
pub(crate) struct Described {
    pub(crate) title: String,
    pub(crate) identity: MachineIdentity,
    pub(crate) place: Option<Name>,
    pub(crate) machine: Machine,
}

/// Reads what a machine file says.
pub(crate) fn machine(file: &Path) -> Result<Described, String> {
    let MachineFile { _schema, title, maker, product, serial, place, platform, processors, options, settings } =
        json(file)?;
    let platform = self::platform(platform).map_err(|error| format!("{}: {error}", file.display()))?;
    let machine = MachineDescription::new(platform).processors(processors).options(options).settings(settings).build();
    let machine = machine.map_err(|error| format!("{}: {error}", file.display()))?;
    let identity = MachineIdentity::new().maker(maker).product(product).serial(serial);
    Ok(Described { title: title.to_string(), identity, place, machine })
}

/// A platform by its name, or described.
fn platform(value: serde_json::Value) -> Result<Platform, String> {
    if let serde_json::Value::String(name) = value {
        let known = || reference::all().iter().map(|(name, _)| *name).collect::<Vec<_>>().join(", ");
        return reference::by_name(&name)
            .ok_or_else(|| format!("there is no ready-made platform {name:?}; there are {}", known()));
    }
    let described: PlatformDescription = serde_json::from_value(value).map_err(|error| format!("platform: {error}"))?;
    described.build().map_err(|error| error.to_string())
}

pub(crate) fn request(file: &Path) -> Result<PlanRequest, String> {
    let request: PlanRequest = json(file)?;
    let elsewhere = [
        (!request.present.population.is_empty(), "present.population"),
        (!request.offers.is_empty(), "offers"),
        (!request.shelf.is_empty(), "shelf"),
    ];
    match elsewhere.into_iter().find(|(given, _)| *given) {
        Some((_, field)) => Err(format!("{}: {field} has a file of its own; leave it out here", file.display())),
        None => Ok(request),
    }
}

/// The lines of a file that say something, with the place of each. A line that starts with # says nothing.
pub(crate) fn lines(file: &Path) -> Result<Vec<(String, String)>, String> {
    some_text(file).map(|text| lines_of(file, &text))
}

/// The same of a text. A byte-order mark before it is read over.
pub(crate) fn lines_of(file: &Path, text: &str) -> Vec<(String, String)> {
    let text = with_line_ends(text.strip_prefix('\u{feff}').unwrap_or(text));
    let placed = text.lines().enumerate().map(|(index, line)| (format!("{}:{}", file.display(), index + 1), line));
    let placed = placed.map(|(place, line)| (place, line.trim().to_owned()));
    placed.filter(|(_, line)| !line.is_empty() && !line.starts_with('#')).collect()
}

/// The rows of a table with commas under just these headings, with the place of each.
pub(crate) fn table<const N: usize>(file: &Path, headings: [&str; N]) -> Result<Vec<(String, [String; N])>, String> {
    let columns = |place: &str, line: &str| -> Result<[String; N], String> {
        if line.contains('"') {
            return Err(format!("{place}: quotation marks are not read; every comma ends a column"));
        }
        let columns: Vec<String> = line.split(',').map(|column| column.trim().to_owned()).collect();
        let wanted = headings.join(", ");
        columns.try_into().map_err(|found: Vec<_>| format!("{place}: {} columns; the {N} are {wanted}", found.len()))
    };
    let mut lines = lines(file)?.into_iter();
    let Some((place, line)) = lines.next() else {
        return Err(format!("{}: no headings; they are {}", file.display(), headings.join(", ")));
    };
    if columns(&place, &line)? != headings {
        return Err(format!("{place}: the headings are not {}", headings.join(", ")));
    }
    lines.map(|(place, line)| columns(&place, &line).map(|columns| (place, columns))).collect()
}

pub(crate) fn module(place: &str, label: &str) -> Result<MemoryModule, String> {
    label.parse::<Label>().map(|label| label.to_module()).map_err(|error| format!("{place}: label {label:?}: {error}"))
}

pub(crate) fn name(place: &str, what: &str, text: &str) -> Result<Name, String> {
    text.parse().map_err(|error| format!("{place}: {what}: {error}"))
}

fn number(place: &str, what: &str, text: &str) -> Result<u32, String> {
    text.parse().map_err(|_| format!("{place}: {what} {text:?} is no whole number from 0 to {}", u32::MAX))
}

/// "33", or "33.50".
fn price(place: &str, what: &str, text: &str, currency: &str) -> Result<Price, String> {
    let currency: Currency = currency.parse().map_err(|error| format!("{place}: {error}"))?;
    let (whole, cents) = text.split_once('.').unwrap_or((text, "00"));
    let digits = |text: &str| text.bytes().all(|byte| byte.is_ascii_digit());
    let amount = if digits(whole) && digits(cents) && cents.len() == 2 {
        format!("{whole}{cents}").parse().ok().filter(|_| !whole.is_empty())
    } else {
        None
    };
    let amount = amount.ok_or_else(|| format!("{place}: {what} {text:?} is no amount such as 33 or 33.50"))?;
    Ok(Price::new(amount, currency))
}

/// A column that may be empty.
fn optional<T>(text: &str, read: impl FnOnce(&str) -> Result<T, String>) -> Result<Option<T>, String> {
    if text.is_empty() { Ok(None) } else { read(text).map(Some) }
}

/// Slot, white space, label; "blank" for a blank.
pub(crate) fn fitted(file: &Path) -> Result<Population, String> {
    let mut population = Population::new();
    for (place, line) in lines(file)? {
        let (slot, label) = line
            .split_once(char::is_whitespace)
            .ok_or_else(|| format!("{place}: {line:?} alone; a line is a slot and the text of a module's label"))?;
        let occupant = match label.trim() {
            "blank" => Occupant::Blank,
            label => Occupant::module(module(&place, label)?),
        };
        if population.put(name(&place, "slot", slot)?, occupant).is_some() {
            return Err(format!("{place}: slot {slot} is given twice"));
        }
    }
    Ok(population)
}

/// A table of labels and prices, or offers as documents in a file named .json.
pub(crate) fn offers(file: &Path) -> Result<Vec<Offer>, String> {
    if file.extension().is_some_and(|extension| extension == "json") {
        return json(file);
    }
    let headings = ["id", "label", "price", "currency", "stock", "supplier", "pack", "remark"];
    let offer = |(place, row): (String, [String; 8])| {
        let [id, label, unit_price, currency, stock, supplier, pack, remark] = row;
        let unit_price = price(&place, "price", &unit_price, &currency)?;
        let mut offer =
            Offer::new(name(&place, "id", &id)?, module(&place, &label)?, unit_price, number(&place, "stock", &stock)?);
        offer.supplier = optional(&supplier, |supplier| name(&place, "supplier", supplier))?;
        offer.pack = optional(&pack, |pack| number(&place, "pack", pack))?.unwrap_or(1);
        offer.data = optional(&remark, |remark| Ok(remark.to_owned()))?;
        Ok(offer)
    };
    table(file, headings)?.into_iter().map(offer).collect()
}

pub(crate) fn shelf(file: &Path) -> Result<Vec<ShelfItem>, String> {
    let headings = ["id", "label", "value", "currency", "stock", "remark"];
    let item = |(place, row): (String, [String; 6])| {
        let [id, label, value, currency, stock, remark] = row;
        let (id, module) = (name(&place, "id", &id)?, module(&place, &label)?);
        let mut item = ShelfItem::new(id, module, number(&place, "stock", &stock)?);
        item.unit_value = optional(&value, |value| price(&place, "value", value, &currency))?;
        item.data = optional(&remark, |remark| Ok(remark.to_owned()))?;
        Ok(item)
    };
    table(file, headings)?.into_iter().map(item).collect()
}
