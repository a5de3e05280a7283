//! The ways to a total that nothing beats in cost, rate, bandwidth and free slots, and the even totals nearby.
//!
//! Without arguments: 384 GB on a board of 2 x 4 channels x 3 slots and 256 GB on one of 2 x 6 x 2, from the
//! made-up price list in examples/data. With arguments: `layouts_for_total GB PLATFORM PROCESSOR PRICE_LIST`, where
//! the price list is CSV of id, label, price and stock.
// an example writes to the terminal
#![allow(clippy::print_stdout, clippy::print_stderr)]
// rows have as many cells as the head
#![allow(clippy::indexing_slicing)]

use std::error::Error;
use std::fmt::Write;
use std::process::ExitCode;

use slotwright::figure::{InterleaveDomain, Region};
use slotwright::purchase::{Axis, ModuleSource, Plan, PlanRequest};
use slotwright::sheet::visible_lines;
use slotwright::{Capacity, Currency, Label, Machine, Offer, Planner, Price, RuleBook, TotalsNear, reference};

const PRICE_LIST: &str = include_str!("data/price_list.csv");

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let result = match arguments.as_slice() {
        [] => demo(),
        [gib, platform, processor, list] => given(gib, platform, processor, list),
        _ => Err("arguments: GB PLATFORM PROCESSOR PRICE_LIST, or none".into()),
    };
    match result {
        Ok(text) => {
            print!("{}", visible_lines(&text));
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{}", visible_lines(&error.to_string()));
            ExitCode::from(2)
        }
    }
}

/// What is printed without arguments.
pub(crate) fn demo() -> Result<String, Box<dyn Error>> {
    let first = layouts(384, "ddr4-2s-4ch-3spc", "later", PRICE_LIST)?;
    Ok(first + "\n" + &layouts(256, "ddr4-2s-6ch-2spc", "later", PRICE_LIST)?)
}

fn given(gib: &str, platform: &str, processor: &str, list: &str) -> Result<String, Box<dyn Error>> {
    let gib = gib.parse().map_err(|_| format!("{gib:?} is no whole number of GB"))?;
    let text = std::fs::read_to_string(list).map_err(|error| format!("{list}: {error}"))?;
    layouts(gib, platform, processor, &text)
}

/// Offers from lines of id, label, price and stock.
fn offers(list: &str) -> Result<Vec<Offer>, Box<dyn Error>> {
    let euro: Currency = "EUR".parse()?;
    let mut offers = Vec::new();
    for (number, line) in list.lines().enumerate().skip(1).filter(|(_, line)| !line.trim().is_empty()) {
        let wrong = |what: &str| format!("price list, line {}: {what}", number + 1);
        let fields: Vec<&str> = line.split(',').map(str::trim).collect();
        let [id, label, price, stock] = fields.as_slice() else {
            return Err(wrong("four fields are needed: id, label, price, stock").into());
        };
        let label: Label = label.parse().map_err(|error| wrong(&format!("{error}")))?;
        let cents = price.split_once('.').and_then(|(whole, cents)| {
            let two = cents.len() == 2 && cents.bytes().all(|byte| byte.is_ascii_digit());
            whole.parse::<u64>().ok()?.checked_mul(100)?.checked_add(cents.parse().ok().filter(|_| two)?)
        });
        let cents = cents.ok_or_else(|| wrong(&format!("{price:?} is not a price such as 29.00")))?;
        let stock = stock.parse().map_err(|_| wrong(&format!("{stock:?} is no whole number")))?;
        let id = id.parse().map_err(|error| wrong(&format!("{error}")))?;
        offers.push(Offer::new(id, label.to_module(), Price::new(cents, euro), stock));
    }
    Ok(offers)
}

/// The layouts for a total on a ready-made platform with such a processor in every socket.
pub(crate) fn layouts(gib: u32, platform: &str, processor: &str, list: &str) -> Result<String, Box<dyn Error>> {
    let described = reference::by_name(platform).ok_or_else(|| {
        let names: Vec<_> = reference::all().iter().map(|(name, _)| *name).collect();
        format!("there is no platform {platform:?}; there are {}", names.join(", "))
    })?;
    let sockets: Vec<String> = described.sockets().iter().map(|socket| socket.label.to_string()).collect();
    let machine = sockets
        .iter()
        .fold(Machine::builder(described), |machine, socket| machine.processor_named(socket, processor))
        .build()?;
    let rules = RuleBook::standard();
    let planner = Planner::new(&machine, &rules);

    let total = Capacity::from_gib(gib);
    let anything = PlanRequest::new().offers(offers(list)?);
    let just = anything.clone().usable_at_least(total).usable_at_most(total);
    let axes = [Axis::Cost, Axis::RunningRate, Axis::Bandwidth, Axis::FreeSlots];
    let unbeaten = planner.frontier(&just, axes)?;
    let near = planner.totals_near(&anything, total)?;

    let mut page = format!("{gib} GB on {platform}, {} x processor {processor}\n\n", sockets.len());
    if unbeaten.plans.is_empty() {
        writeln!(page, "There is no way to {gib} GB with these modules.")?;
    } else {
        writeln!(page, "Plans that no other one beats in cost, rate, bandwidth and free slots:\n")?;
        table(&mut page, unbeaten.plans.iter())?;
    }
    let TotalsNear { below, exact, above, .. } = &near;
    let even: Vec<&Plan> = [below, exact, above].into_iter().flatten().collect();
    if even.is_empty() {
        writeln!(page, "\nNo total near {gib} GB fills every channel alike.")?;
    } else {
        writeln!(page, "\nTotals nearby that fill every channel alike, each at its cheapest:\n")?;
        table(&mut page, even.into_iter())?;
    }
    writeln!(page, "\n* estimated from channels, rate and interleave; programs see less")?;
    writeln!(page, "Plans with warnings are left out: channels of a processor, or processors, that differ.")?;
    if unbeaten.stopped.is_some() || near.stopped.is_some() {
        writeln!(page, "\nThe search used up its nodes: there may be more.")?;
    }
    Ok(page)
}

/// Rows of one width a column; numbers to the right.
fn table<'p>(page: &mut String, plans: impl Iterator<Item = &'p Plan>) -> std::fmt::Result {
    const HEAD: [&str; 7] =
        ["cost", "memory", "rate", "bandwidth*", "of best", "free", "modules; regions; what to mind"];
    let rows: Vec<[String; 7]> = std::iter::once(HEAD.map(str::to_owned)).chain(plans.map(row)).collect();
    let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
    let widths: Vec<usize> = (0..6).map(width).collect();
    for row in &rows {
        let cells: Vec<String> = row.iter().zip(&widths).map(|(cell, &width)| format!("{cell:>width$}")).collect();
        let mut last = row[6].lines();
        writeln!(page, "{}   {}", cells.join("  "), last.next().unwrap_or(""))?;
        let indent = widths.iter().sum::<usize>() + 2 * 5 + 3;
        last.try_for_each(|line| writeln!(page, "{:indent$}{line}", ""))?;
    }
    Ok(())
}

/// The regions of the interleave, once where they are the same at each processor.
fn regions(plan: &Plan) -> String {
    let domains = &plan.assessment.figures.interleave.domains;
    let regions = |domain: &InterleaveDomain| -> Vec<String> { domain.regions.iter().map(region).collect() };
    match domains.first() {
        Some(first) if domains.len() > 1 && domains.iter().all(|domain| regions(domain) == regions(first)) => {
            format!("each processor: {}", regions(first).join(", "))
        }
        _ => domains.iter().map(ToString::to_string).collect::<Vec<_>>().join("; "),
    }
}

/// How much at how many ways; which channels they are is left out.
fn region(region: &Region) -> String {
    match region.ways {
        1 => format!("{} not interleaved", region.capacity_mib),
        ways => format!("{} at {ways} ways", region.capacity_mib),
    }
}

fn row(plan: &Plan) -> [String; 7] {
    let figures = &plan.assessment.figures;
    let bandwidth = &figures.bandwidth;
    let (low, high) = (bandwidth.swept_mbps.to_string(), bandwidth.spread_mbps.to_string());
    let share = bandwidth.relative_swept.map_or(String::new(), |share| format!("{} %", share.floor_percent()));
    let rate = plan.running_rate().map_or("not known".to_owned(), |rate| rate.to_string());
    let bought: Vec<String> = plan
        .lines
        .iter()
        .map(|line| match &line.source {
            ModuleSource::Offer { id } => format!("{} x {} ({id})", line.quantity, line.module),
            other => format!("{} x {} ({other})", line.quantity, line.module),
        })
        .collect();
    let mut lines = vec![bought.join(" + ")];
    lines.push(regions(plan));
    let noted = plan.assessment.findings.iter().filter(|finding| finding.code == "empty-channel");
    lines.extend(noted.map(|finding| format!("mind: {}", finding.summary)).take(1));
    [
        plan.cost.total.to_string(),
        figures.usable.total_mib.to_string(),
        rate,
        if low == high { low } else { format!("{low} to {high}") },
        share,
        plan.free_slots.len().to_string(),
        lines.join("\n"),
    ]
}
