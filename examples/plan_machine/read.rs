//! Reads the files of a job; every error names its file and line.

use std::fs;

use serde::de::DeserializeOwned;
use slotwright::machine::{FittedProcessor, MachineDescription};
use slotwright::stated::Schema;
use slotwright::{Label, Machine, MemoryModule, Name, Offer, PlanRequest, Population, Price, ShelfItem, reference};

/// What a machine file says.
#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct MachineFile {
    schema: Schema,
    platform: String,
    processors: std::collections::BTreeMap<String, FittedProcessor>,
}

fn text(file: &str) -> Result<String, String> {
    fs::read_to_string(file).map_err(|error| format!("{file}: {error}"))
}

fn json<T: DeserializeOwned>(file: &str) -> Result<T, String> {
    serde_json::from_str(&text(file)?).map_err(|error| format!("{file}: {error}"))
}

pub(crate) fn machine(file: &str) -> Result<Machine, String> {
    let MachineFile { schema, platform, processors } = json(file)?;
    let platform =
        reference::by_name(&platform).ok_or_else(|| format!("{file}: there is no ready-made platform {platform:?}"))?;
    let description = MachineDescription { schema, processors, ..MachineDescription::new(platform) };
    description.build().map_err(|error| format!("{file}: {error}"))
}

pub(crate) fn request(file: &str) -> Result<PlanRequest, String> {
    json(file)
}

/// The lines of a file that say something, with the place of each.
fn lines(file: &str) -> Result<Vec<(String, String)>, String> {
    let lines = text(file)?;
    let said =
        lines.lines().enumerate().map(|(number, line)| (format!("{file}:{}", number + 1), line.trim().to_owned()));
    Ok(said.filter(|(_, line)| !line.is_empty() && !line.starts_with('#')).collect())
}

fn module(place: &str, label: &str) -> Result<MemoryModule, String> {
    label.parse::<Label>().map(|label| label.to_module()).map_err(|error| format!("{place}: {error}"))
}

fn name(place: &str, text: &str) -> Result<Name, String> {
    text.parse().map_err(|error| format!("{place}: {error}"))
}

fn number<T: std::str::FromStr>(place: &str, what: &str, text: &str) -> Result<T, String> {
    text.parse().map_err(|_| format!("{place}: the {what} {text:?} is no whole number"))
}

fn price(place: &str, cents: &str, currency: &str) -> Result<Price, String> {
    let currency = currency.parse().map_err(|error| format!("{place}: {error}"))?;
    Ok(Price::new(number(place, "price", cents)?, currency))
}

/// Slot, white space, label.
pub(crate) fn fitted(file: &str) -> Result<Population, String> {
    let mut population = Population::new();
    for (place, line) in lines(file)? {
        let (slot, label) =
            line.split_once(char::is_whitespace).ok_or_else(|| format!("{place}: a line is a slot and a label"))?;
        population = population.with(name(&place, slot)?, module(&place, label.trim())?);
    }
    Ok(population)
}

/// Columns between bars: id, label, price, currency, stock, supplier, packs of.
pub(crate) fn offers(file: &str) -> Result<Vec<Offer>, String> {
    let mut offers = Vec::new();
    for (place, line) in lines(file)? {
        let columns: Vec<&str> = line.split('|').map(str::trim).collect();
        let [id, label, cents, currency, stock, supplier, pack] = columns[..] else {
            return Err(format!("{place}: {} columns; an offer has 7", columns.len()));
        };
        let price = price(&place, cents, currency)?;
        let mut offer = Offer::new(name(&place, id)?, module(&place, label)?, price, number(&place, "stock", stock)?);
        offer.supplier = Some(name(&place, supplier)?);
        offer.pack = number(&place, "pack", pack)?;
        offers.push(offer);
    }
    Ok(offers)
}

/// Columns between bars: id, label, value, currency, stock.
pub(crate) fn shelf(file: &str) -> Result<Vec<ShelfItem>, String> {
    let mut shelf = Vec::new();
    for (place, line) in lines(file)? {
        let columns: Vec<&str> = line.split('|').map(str::trim).collect();
        let [id, label, cents, currency, stock] = columns[..] else {
            return Err(format!("{place}: {} columns; a shelf item has 5", columns.len()));
        };
        shelf.push(ShelfItem {
            id: name(&place, id)?,
            module: module(&place, label)?,
            stock: number(&place, "stock", stock)?,
            unit_value: Some(price(&place, cents, currency)?),
            data: None,
        });
    }
    Ok(shelf)
}
