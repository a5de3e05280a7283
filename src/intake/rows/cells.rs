//! What single cells say.

use crate::intake::rows::Column;
use crate::module::{DeviceWidth, Ecc, FormFactor, Generation, Label, ModuleKind, Organization, Stack};
use crate::population::{PlaceState, SeenModule, SeenPlace};
use crate::unit::{Capacity, DataRate, Name};

/// Texts that say that nothing is there, or nothing is known.
const NOTHING: [&str; 9] = ["", "-", "--", "n/a", "na", "none", "unknown", "not specified", "?"];
/// Texts that say that a slot is empty.
const EMPTY: [&str; 6] = ["empty", "absent", "free", "not installed", "no module installed", "0"];

/// Takes over what a cell says. The error is what was not understood.
pub(super) fn read(
    column: Column,
    heading: &str,
    cell: &str,
    place: &mut SeenPlace,
    module: &mut SeenModule,
) -> Result<(), String> {
    let lower = cell.to_lowercase();
    if matches!(column, Column::Size | Column::State | Column::Label) && EMPTY.contains(&lower.as_str())
        || column == Column::Size && lower == "-"
    {
        place.state = PlaceState::Absent;
        return Ok(());
    }
    if NOTHING.contains(&lower.as_str()) {
        return Ok(());
    }
    let refused = || cell.to_owned();
    match column {
        Column::Slot => place.locator = Some(Name::lossy(cell)),
        Column::Bank => place.bank = Some(Name::lossy(cell)),
        Column::State => place.state = state(&lower).ok_or_else(refused)?,
        Column::Label => {
            let label: Label = cell.parse().map_err(|error| format!("{cell} ({error})"))?;
            let told = SeenModule::of(label.module());
            for fact in crate::population::ModuleFact::ALL {
                if told.has(fact) {
                    module.take(fact, &told);
                }
            }
        }
        Column::Size => module.capacity_mib = Some(size(&lower, &heading.to_lowercase()).ok_or_else(refused)?),
        Column::Type => sort(cell, module).ok_or_else(refused)?,
        Column::Rate => module.grade_mts = Some(rate(cell, module).ok_or_else(refused)?),
        Column::RunningRate => {
            place.running_rate_mts = Some(rate(cell, &mut SeenModule::new()).ok_or_else(refused)?);
        }
        Column::Ranks => ranks(&lower, module).ok_or_else(refused)?,
        Column::Width => module.width = Some(width(&lower).ok_or_else(refused)?),
        Column::Maker => module.maker = Some(Name::lossy(cell)),
        Column::PartNumber => module.part_number = Some(Name::lossy(cell)),
        Column::Serial => module.serial = Some(Name::lossy(cell)),
    }
    Ok(())
}

fn state(lower: &str) -> Option<PlaceState> {
    match lower {
        "ok" | "in use" | "enabled" | "good" | "active" => Some(PlaceState::InUse),
        "disabled" | "not in use" | "mapped out" => Some(PlaceState::NotInUse),
        "failed" | "dead" | "bad" | "critical" => Some(PlaceState::Failed),
        _ => None,
    }
}

/// A number and its unit: of the cell, else of the heading. A number without a unit is no size.
fn size(lower: &str, heading: &str) -> Option<Capacity> {
    let end = lower.find(|letter: char| !letter.is_ascii_digit()).unwrap_or(lower.len());
    let (digits, unit) = lower.split_at(end);
    let number: u64 = digits.parse().ok()?;
    let unit_of = |text: &str| {
        let has = |words: &[&str]| words.contains(&text);
        if has(&["gb", "gib", "g"]) {
            Some(1024)
        } else if has(&["mb", "mib", "m"]) {
            Some(1)
        } else if has(&["tb", "tib", "t"]) {
            Some(1024 * 1024)
        } else {
            None
        }
    };
    let of_heading = || heading.split(|letter: char| !letter.is_alphanumeric()).find_map(unit_of);
    let factor = if unit.trim().is_empty() { of_heading()? } else { unit_of(unit.trim())? };
    number.checked_mul(factor).filter(|mib| *mib > 0).map(Capacity::from_mib)
}

/// Generation, kind, form and check bits in words, each of which must be known.
fn sort(cell: &str, module: &mut SeenModule) -> Option<()> {
    let words = cell.split(|letter: char| !letter.is_alphanumeric() && letter != '-').filter(|word| !word.is_empty());
    let mut told = module.clone();
    let mut has_ecc = None;
    for word in words {
        let lower = word.to_lowercase().replace('-', "");
        if let Ok(generation) = lower.parse::<Generation>() {
            told.generation = Some(generation);
            continue;
        }
        let kind_and_form = match lower.as_str() {
            "rdimm" | "registered" | "reg" => (Some(ModuleKind::Registered), None),
            "lrdimm" | "loadreduced" => (Some(ModuleKind::LoadReduced), None),
            "udimm" | "unbuffered" => (Some(ModuleKind::Unbuffered), None),
            "sodimm" => (None, Some(FormFactor::SoDimm)),
            "cudimm" => (Some(ModuleKind::ClockedUnbuffered), None),
            "mrdimm" => (Some(ModuleKind::MultiplexedRank), None),
            "dimm" => (None, Some(FormFactor::Dimm)),
            "ecc" => {
                has_ecc = Some(true);
                continue;
            }
            "nonecc" => {
                has_ecc = Some(false);
                continue;
            }
            "memory" | "synchronous" | "sdram" => continue,
            _ => return None,
        };
        told.kind = kind_and_form.0.or(told.kind);
        told.form_factor = kind_and_form.1.or(told.form_factor);
    }
    told.ecc = match (has_ecc, told.generation) {
        (Some(false), _) => Some(Ecc::None),
        (Some(true), Some(Generation::Ddr3 | Generation::Ddr4)) => Some(Ecc::Ecc),
        // how many check bits a DDR5 module has, the word does not say
        _ => told.ecc,
    };
    *module = told;
    Some(())
}

/// A rate by its number in MT/s, or by a name that tells the generation too.
fn rate(cell: &str, module: &mut SeenModule) -> Option<DataRate> {
    let upper = cell.trim().to_uppercase();
    let names = [
        ("DDR3L-", Generation::Ddr3),
        ("DDR3-", Generation::Ddr3),
        ("DDR4-", Generation::Ddr4),
        ("DDR5-", Generation::Ddr5),
        ("PC3L-", Generation::Ddr3),
        ("PC3-", Generation::Ddr3),
        ("PC4-", Generation::Ddr4),
        ("PC5-", Generation::Ddr5),
    ];
    let named = names.into_iter().find_map(|(start, generation)| Some((upper.strip_prefix(start)?, generation)));
    let (rest, generation) = named.map_or((upper.as_str(), None), |(rest, generation)| (rest, Some(generation)));
    let end = rest.find(|letter: char| !letter.is_ascii_digit()).unwrap_or(rest.len());
    let (digits, unit) = rest.split_at(end);
    let is_bin = generation.is_some() && unit.len() <= 2 && unit.bytes().all(|letter| letter.is_ascii_uppercase());
    if !is_bin && !matches!(unit.trim(), "" | "MT/S" | "MTS" | "MHZ") {
        return None;
    }
    let number: u32 = digits.parse().ok()?;
    let known = generation.map_or(Vec::new(), |generation| generation.rates().to_vec());
    // bandwidth names count in MB/s: DDR3 always, later ones from 10,000 on
    let by_bandwidth = known.into_iter().find(|rate| rate.bandwidth_name() == u64::from(number));
    let rate = match by_bandwidth {
        Some(rate) => rate,
        None if (100..=20_000).contains(&number) => DataRate::from_mts(number).ok()?,
        None => return None,
    };
    module.generation = module.generation.or(generation);
    Some(rate)
}

fn width(lower: &str) -> Option<DeviceWidth> {
    let digits = lower.trim().trim_start_matches('x');
    DeviceWidth::ALL.iter().copied().find(|width| width.bits().to_string() == digits)
}

/// "2", which may count anything; "2R", "2Rx4", "2DRx4", "2S4Rx4", as labels write them.
fn ranks(lower: &str, module: &mut SeenModule) -> Option<()> {
    if let Ok(number) = lower.parse::<u8>() {
        module.rank_number = (1..=64).contains(&number).then_some(number);
        return module.rank_number.map(drop);
    }
    let (ranks, of) = lower.split_once('r')?;
    let of = of.trim();
    let known = if of.is_empty() || of == "ank" || of == "anks" { None } else { Some(width(of)?) };
    if let Ok(number) = ranks.trim().parse::<u8>() {
        // what a bare number of ranks counts, people do not say
        module.rank_number = (1..=64).contains(&number).then_some(number);
        module.rank_number?;
    } else {
        let stacks = Stack::ALL.iter().filter(|stack| **stack != Stack::Single);
        let fits = |stack: &&Stack| {
            (1..=8).find(|&number| {
                let text = Organization::new(number, **stack, DeviceWidth::X4).to_string().to_lowercase();
                text.split_once('r').is_some_and(|(start, _)| start == ranks)
            })
        };
        let (number, stack) = stacks.filter_map(|stack| Some((fits(&stack)?, *stack))).next()?;
        (module.package_ranks, module.stack) = (Some(number), Some(stack));
    }
    module.width = known.or(module.width);
    Some(())
}

#[cfg(test)]
mod tests {
    use crate::intake::rows::{Headings, RowsError};
    use crate::testing::name;

    fn one(heading: &str, cell: &str) -> (String, Vec<String>) {
        let rows = [["slot", heading], ["A1", cell]];
        let report = crate::intake::rows::read(name("rows"), &rows, &Headings::standard()).unwrap();
        let place = &report.places[0];
        let text = place.module.as_ref().map_or(place.state.to_string(), ToString::to_string);
        (text, report.remarks.iter().map(ToString::to_string).collect())
    }

    #[test]
    fn cells_as_people_write_them() {
        for (heading, cell, text) in [
            ("size", "16GB", "16 GB"),
            ("size", "16 gib", "16 GB"),
            ("Size (GB)", "16", "16 GB"),
            ("capacity_mib", "16384", "16 GB"),
            ("size", "16384 MB", "16 GB"),
            ("size", "-", "listed as empty"),
            ("size", "No module installed", "listed as empty"),
            ("type", "DDR4", "DDR4"),
            ("type", "DDR4 RDIMM", "DDR4 registered"),
            ("type", "DDR3 ECC UDIMM", "DDR3 unbuffered, ECC (72 bits)"),
            ("type", "DDR4 Non-ECC SO-DIMM", "DDR4, SO-DIMM, no error correction"),
            ("kind", "load-reduced", "load-reduced"),
            ("speed", "2400", "a module, rated 2400 MT/s"),
            ("speed", "2400 MHz", "a module, rated 2400 MT/s"),
            ("speed", "2667 MT/s", "a module, rated 2666 MT/s"),
            ("speed", "DDR4-2400", "DDR4, rated 2400 MT/s"),
            ("speed", "PC4-2400T", "DDR4, rated 2400 MT/s"),
            ("speed", "PC3L-12800R", "DDR3, rated 1600 MT/s"),
            ("speed", "PC4-19200", "DDR4, rated 2400 MT/s"),
            ("ranks", "2", "a module, rank number 2"),
            ("ranks", "2Rx4", "a module, rank number 2, x4"),
            ("ranks", "2S4Rx4", "2S4Rx4"),
            ("ranks", "4DR", "a module, package ranks 4, dual-die"),
            ("width", "x8", "a module, x8"),
            (
                "label",
                "16GB 2Rx4 PC4-2400T-RA1-11",
                "16 GB 2Rx4 DDR4 registered, DIMM, ECC (72 bits), 4 Gb dies, rated 2400 MT/s, 1.2 V",
            ),
            ("s/n", "0012", "a module, serial 0012"),
            ("P/N", "GW-16", "a module, part GW-16"),
            ("maker", "Made Up Memory", "a module, made by Made Up Memory"),
            ("status", "failed", "failed"),
            ("size", "", "not told"),
            ("size", "n/a", "not told"),
        ] {
            assert_eq!(one(heading, cell), (text.to_owned(), vec![]), "{heading} {cell}");
        }
        for (heading, cell) in [
            ("size", "16"),
            ("size", "sixteen GB"),
            ("size", "99999999999999999999 GB"),
            ("size", "18446744073709551615 GB"),
            ("type", "DDR4 FOODIMM"),
            ("speed", "fast"),
            ("speed", "2400 furlongs"),
            ("speed", "7"),
            ("ranks", "200"),
            ("ranks", "2Rx5"),
            ("ranks", "2Z"),
            ("width", "x5"),
            ("label", "16GB"),
            ("status", "blue"),
        ] {
            let (text, remarks) = one(heading, cell);
            assert_eq!(text, "not told", "{heading} {cell}");
            assert!(remarks[0].starts_with("row 2, column 2: "), "{remarks:?}");
        }
    }

    #[test]
    fn rows_without_headings_are_refused() {
        let empty: [[&str; 1]; 1] = [[" "]];
        assert_eq!(crate::intake::rows::read(name("rows"), &empty, &Headings::standard()), Err(RowsError::Empty));
        let error = crate::intake::rows::read(name("rows"), &[["colour"]], &Headings::standard()).unwrap_err();
        assert!(error.to_string().starts_with("no heading of colour is known; known are slot, bank, "), "{error}");
        // ragged rows are read as far as they go
        let rows = [vec!["slot", "size"], vec!["A1"], vec!["A2", "8 GB", "more"]];
        let report = crate::intake::rows::read(name("rows"), &rows, &Headings::standard()).unwrap();
        assert_eq!(report.places.len(), 2);
    }
}
