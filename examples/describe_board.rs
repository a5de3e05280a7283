//! Proves a description of a board against the manual that it was copied from: `cargo run --example describe_board [FILE]`.
//!
//! FILE is TOML or JSON (by the end of its name). It prints every problem with its place; of a description without problems what is odd,
//! the map, what is left out, whether the manual's own rows hold, and which limits these rows hold.

use std::error::Error;
use std::fmt::Write as _;
use std::io::Write as _;
use std::process::ExitCode;

use slotwright::platform::{Harm, Platform, PlatformDescription, Slot};
use slotwright::processor::{RateCell, RateRow};
use slotwright::sheet::visible_lines;
use slotwright::stated::Located;
use slotwright::worked;

fn main() -> Result<ExitCode, Box<dyn Error>> {
    let demo = concat!(env!("CARGO_MANIFEST_DIR"), "/examples/data/board.toml");
    let file = std::env::args().nth(1).unwrap_or_else(|| demo.to_owned());
    let text = std::fs::read_to_string(&file).map_err(|error| format!("cannot read {file}: {error}"))?;
    match report(&file, &text) {
        Ok((report, holds)) => {
            std::io::stdout().write_all(visible_lines(&report).as_bytes())?;
            Ok(if holds { ExitCode::SUCCESS } else { ExitCode::FAILURE })
        }
        Err(problems) => {
            std::io::stderr().write_all(visible_lines(&problems).as_bytes())?;
            Ok(ExitCode::FAILURE)
        }
    }
}

/// What there is to say of a description, and whether it does what the manual's rows say.
///
/// # Errors
/// Every problem, a line each.
pub fn report(file: &str, text: &str) -> Result<(String, bool), String> {
    let description = read(file, text)?;
    let platform = description.build().map_err(|error| {
        let count = error.problems.len();
        let mut problems = format!("{file}: {count} problem{}\n", if count == 1 { "" } else { "s" });
        for problem in &error.problems {
            // most say themselves where they are
            let (place, text) = (problem.place().to_string(), problem.to_string());
            let place = if text.starts_with(&place) { String::new() } else { format!("{place}: ") };
            problems.push_str(&format!("- {place}{text}\n"));
        }
        problems
    })?;
    page(&platform).map_err(|error| error.to_string())
}

fn read(file: &str, text: &str) -> Result<PlatformDescription, String> {
    let located = |place: String, text: String| format!("{file}: {place}: {text}\n");
    if std::path::Path::new(file).extension().is_some_and(|end| end.eq_ignore_ascii_case("toml")) {
        let reader = toml::Deserializer::parse(text).map_err(|error| format!("{file}: {error}"))?;
        serde_path_to_error::deserialize(reader)
            .map_err(|error| located(error.path().to_string(), error.inner().message().to_owned()))
    } else {
        serde_path_to_error::deserialize(&mut serde_json::Deserializer::from_str(text))
            .map_err(|error| located(error.path().to_string(), error.inner().to_string()))
    }
}

fn page(platform: &Platform) -> Result<(String, bool), std::fmt::Error> {
    let mut page = String::new();
    let rows = worked::check(platform);
    let coverage = worked::coverage(platform, worked::PROBES);
    let gaps = platform.gaps();
    let (hold, all) = (rows.iter().filter(|row| row.holds()).count(), rows.len());
    let (held, limits) = (coverage.limits.iter().filter(|limit| limit.is_held()).count(), coverage.limits.len());
    let worst = gaps.iter().filter(|gap| gap.harm == Harm::WillNotStart).count();
    writeln!(
        page,
        "{hold} of {all} rows of the manual hold; {held} of {limits} limits are held by them; {worst} facts left out may let through"
    )?;
    writeln!(page, "what will not start.\n")?;
    write!(page, "{}", platform.map())?;
    heading(&mut page, "The slots as they are described, in the order in which they are filled");
    list(&mut page, platform.fill_order().iter().map(|&slot| slot_line(platform.slot(slot))));
    heading(&mut page, "The rates as they are described");
    let described = platform.description();
    let of_board = described.rate_table.iter().flat_map(|table| &table.rows).map(|row| rate_line("board", row));
    let of_processors = described.processors.iter().flat_map(|processor| {
        let rows = processor.description().rate_table.iter().flat_map(|table| &table.rows);
        rows.map(|row| rate_line(processor.name().as_str(), row))
    });
    list(&mut page, of_board.chain(of_processors));
    if let Some(hands) = &described.hands {
        heading(&mut page, "For hands");
        list(&mut page, hands.value.to_string().lines());
    }
    heading(&mut page, "Odd, and perhaps a misprint");
    list(&mut page, platform.warnings());
    heading(&mut page, "The manual's rows");
    list(&mut page, &rows);
    heading(&mut page, "What these rows hold");
    writeln!(page, "{coverage}")?;
    for harm in [Harm::WillNotStart, Harm::Rate, Harm::Order, Harm::Comfort] {
        heading(&mut page, &format!("Left out: {harm}"));
        list(&mut page, gaps.iter().filter(|gap| gap.harm == harm));
    }
    page.push_str("\nThe platform maker's manual, local rules and qualified people decide.\n");
    Ok((page, hold == all))
}

fn rate_line(of: &str, row: &RateRow) -> String {
    match row.cell {
        RateCell::RateMts(rate) => format!("{of}: {row}: {rate}"),
        RateCell::NotAllowed => format!("{of}: {row}: not allowed"),
    }
}

/// All that is said of a slot.
fn slot_line(slot: &Slot) -> String {
    let described = slot.description();
    let mut facts =
        vec![described.position.map_or("position not described".to_owned(), |position| format!("position {position}"))];
    facts.push(described.turn.map_or("turn not described".to_owned(), |turn| format!("turn {turn}")));
    facts.extend(described.marking.as_ref().map(ToString::to_string));
    facts.extend(described.height_limit_um.map(|height| format!("up to {height} high")));
    for address in &described.addresses {
        let parts = [
            ("socket", address.socket),
            ("controller", address.controller),
            ("channel", address.channel),
            ("slot", address.slot),
        ];
        let parts = parts.into_iter().filter_map(|(what, number)| Some(format!("{what} {}", number?)));
        facts.push(format!("{}: {}", address.scheme, parts.collect::<Vec<_>>().join(" ")));
    }
    format!("{}: {}", slot.label(), facts.join(", "))
}

fn heading(page: &mut String, text: &str) {
    page.push_str(&format!("\n{text}\n"));
}

fn list<T: std::fmt::Display>(page: &mut String, items: impl IntoIterator<Item = T>) {
    let before = page.len();
    items.into_iter().for_each(|item| page.push_str(&format!("- {item}\n")));
    if page.len() == before {
        page.push_str("- nothing\n");
    }
}
