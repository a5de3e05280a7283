use std::collections::BTreeSet;

use crate::platform::PlatformDescription;
use crate::processor::ProcessorDescription;
use crate::reference;
use crate::stated::Basis;
use crate::worked;

const DESCRIPTIONS: [fn() -> PlatformDescription; 10] = [
    reference::ddr3_1s_3ch_3spc::description,
    reference::ddr3_1s_uneven::description,
    reference::ddr3_2s_4ch_3spc::description,
    reference::ddr4_1s_2ch_2spc_unbuffered::description,
    reference::ddr4_2s_4ch_2spc::description,
    reference::ddr4_2s_4ch_3spc::description,
    reference::ddr4_2s_6ch_2spc::description,
    reference::ddr4_2s_8ch_2spc::description,
    reference::ddr5_1s_12ch_1spc::description,
    reference::ddr5_2s_8ch_2spc::description,
];

// The platforms skip the builder's checks, so this makes them up.
#[test]
fn descriptions_are_checked() {
    assert_eq!(DESCRIPTIONS.len(), reference::all().len());
    for (description, (name, platform)) in DESCRIPTIONS.iter().zip(reference::all()) {
        let built = description().build().unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(built, platform());
        assert_eq!(built.name, **name);
        assert_eq!(built.warnings(), [], "{name}");
        for processor in &built.processors {
            let described = ProcessorDescription::from(processor.clone());
            assert_eq!(described.build().as_ref(), Ok(processor), "{name}");
        }
    }
}

// A label that could not be read, or a slot name that stands for nothing, would go unnoticed otherwise.
#[test]
fn worked_rows_are_whole() {
    for (name, platform) in reference::all() {
        let platform = platform();
        assert!(platform.worked_rows.len() >= 5, "{name}");
        let mut names = BTreeSet::new();
        for row in &platform.worked_rows {
            assert!(names.insert(&row.name), "{name}: {} stands twice", row.name);
            assert!(!row.modules.is_empty(), "{name}: {}", row.name);
            assert_eq!(row.basis, Basis::Assumed);
            for modules in &row.modules {
                assert!(
                    modules.slots.is_empty() || modules.slots.len() == usize::from(modules.count),
                    "{name}: {}",
                    row.name
                );
            }
        }
        let mixed = platform.worked_rows.iter().filter(|row| row.modules.len() == 2).count();
        let named_so = [
            "two kinds",
            "two sizes",
            "both voltages",
            "72-bit and 80-bit",
            "x4 and x8",
            "quad-rank and 3 a channel",
            "with and without error correction",
        ];
        let expected = platform.worked_rows.iter().filter(|row| named_so.contains(&row.name.as_str())).count();
        assert_eq!(mixed, expected, "{name}");
    }
}

#[test]
fn worked_rows_hold() {
    let failed: Vec<_> = reference::all()
        .iter()
        .flat_map(|(name, platform)| {
            worked::check(&platform()).into_iter().filter(|result| !result.holds()).map(move |r| format!("{name}: {r}"))
        })
        .collect();
    assert!(failed.is_empty(), "{}", failed.join("\n"));
}

#[test]
fn every_rate_of_every_table_is_read() {
    // a rate that the generation lacks would turn into "not allowed"
    for (name, platform) in reference::all() {
        for processor in &platform().processors {
            let barred = processor.rate_table.as_ref().map_or(0, |table| {
                table.rows.iter().filter(|row| row.cell == crate::processor::RateCell::NotAllowed).count()
            });
            let expected = match *name {
                "ddr3-1s-3ch-3spc" | "ddr3-2s-4ch-3spc" => 2,
                "ddr3-1s-uneven" | "ddr4-2s-4ch-3spc" => 1,
                _ => 0,
            };
            assert_eq!(barred, expected, "{name}: {}", processor.name);
        }
    }
}
