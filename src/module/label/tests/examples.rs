//! Labels of the standards and of real modules, field by field.

use crate::module::{
    CardRevision, Ddr4Bin, DeviceWidth, Ecc, FormFactor, Generation, Label, ModuleKind, Organization, SpdRevision,
    SpeedBin, Stack, TemperatureRange, VariantLetter, Voltages,
};
use crate::unit::{Capacity, DataRate, Density, Voltage};

fn read(text: &str) -> Label {
    let label: Label = text.parse().unwrap_or_else(|error| panic!("{text}: {error}"));
    assert_eq!(label.to_string(), text);
    let document = serde_json::to_string(&label).unwrap();
    assert_eq!(document, format!("{text:?}"));
    assert_eq!(serde_json::from_str::<Label>(&document).unwrap(), label);
    label
}

fn organization(package_ranks: u8, stack: Stack, width: DeviceWidth) -> Organization {
    Organization { package_ranks, stack, width }
}

/// Label; GB; organization; logical ranks; die in megabits; rate; latencies; kind; form; check bits; card; SPD.
type Row = (
    &'static str,
    u32,
    (u8, Stack, DeviceWidth),
    u32,
    u32,
    DataRate,
    Option<(u8, u8, u8)>,
    (ModuleKind, FormFactor, Ecc),
    &'static str,
    &'static str,
);

const RDIMM: (ModuleKind, FormFactor, Ecc) = (ModuleKind::Registered, FormFactor::Dimm, Ecc::Ecc);
const LRDIMM: (ModuleKind, FormFactor, Ecc) = (ModuleKind::LoadReduced, FormFactor::Dimm, Ecc::Ecc);
const UDIMM: (ModuleKind, FormFactor, Ecc) = (ModuleKind::Unbuffered, FormFactor::Dimm, Ecc::None);
const SO_DIMM: (ModuleKind, FormFactor, Ecc) = (ModuleKind::Unbuffered, FormFactor::SoDimm, Ecc::None);
const RDIMM_EC8: (ModuleKind, FormFactor, Ecc) = (ModuleKind::Registered, FormFactor::Dimm, Ecc::Ec8);
const RDIMM_EC4: (ModuleKind, FormFactor, Ecc) = (ModuleKind::Registered, FormFactor::Dimm, Ecc::Ec4);
const UDIMM_EC4: (ModuleKind, FormFactor, Ecc) = (ModuleKind::Unbuffered, FormFactor::Dimm, Ecc::Ec4);

fn check(generation: Generation, rows: &[Row]) {
    for &(text, gib, layout, logical_ranks, mbit, rate, latencies, kind, card, spd) in rows {
        let label = read(text);
        let organization = organization(layout.0, layout.1, layout.2);
        assert_eq!(label.generation(), generation, "{text}");
        assert_eq!(label.capacity(), Capacity::from_gib(gib), "{text}");
        assert_eq!(label.organization(), organization, "{text}");
        assert_eq!(label.data_rate(), rate, "{text}");
        assert_eq!(label.latencies(), latencies, "{text}");
        assert_eq!(label.die_density(), Some(Density::from_mbit(mbit)), "{text}");
        assert_eq!(label.raw_card().to_string(), card, "{text}");
        assert_eq!(label.spd_revision().to_string(), spd, "{text}");

        let module = label.module();
        assert_eq!((module.kind(), module.form_factor(), module.ecc()), (kind.0, Some(kind.1), Some(kind.2)), "{text}");
        assert_eq!(module.generation(), generation, "{text}");
        assert_eq!(module.organization(), Some(organization), "{text}");
        assert_eq!(module.stacked_ranks(), Some(logical_ranks), "{text}");
        assert_eq!(module.grade(), Some(rate), "{text}");
        assert_eq!(&label.to_module(), module, "{text}");
    }
}

// Label strings found in public text. The die of each follows from the capacity formula of DDR3.
#[test]
fn ddr3() {
    use DataRate as R;
    use DeviceWidth::{X4, X8};
    use Stack::Single;
    #[rustfmt::skip]
    let rows = [
        ("16GB 2Rx4 PC3L-12800R-11-13-E2", 16, (2, Single, X4), 2, 4096, R::DDR3_1600, Some((11, 11, 11)), RDIMM, "E2", "1.3"),
        ("8GB 2Rx4 PC3L-10600R-09-11-E2-P2", 8, (2, Single, X4), 2, 2048, R::DDR3_1333, Some((9, 9, 9)), RDIMM, "E2", "1.1"),
        ("1GB 1Rx8 PC3-10600R-09-10-A0", 1, (1, Single, X8), 1, 1024, R::DDR3_1333, Some((9, 9, 9)), RDIMM, "A0", "1.0"),
        ("4GB 1Rx4 PC3-14900R-13-12-C2-D3", 4, (1, Single, X4), 1, 2048, R::DDR3_1866, Some((13, 13, 13)), RDIMM, "C2", "1.2"),
        ("4GB 2Rx8 PC3-12800S-11-11-F3", 4, (2, Single, X8), 2, 2048, R::DDR3_1600, Some((11, 11, 11)), SO_DIMM, "F3", "1.1"),
        ("4GB 1Rx8 PC3L-12800S-11-13-B4", 4, (1, Single, X8), 1, 4096, R::DDR3_1600, Some((11, 11, 11)), SO_DIMM, "B4", "1.3"),
        ("2GB 1Rx8 PC3-10600U-9-10-A0", 2, (1, Single, X8), 1, 2048, R::DDR3_1333, Some((9, 9, 9)), UDIMM, "A0", "1.0"),
        ("16GB 4Rx4 PC3-8500R-7-12-F0", 16, (4, Single, X4), 4, 2048, R::DDR3_1066, Some((7, 7, 7)), RDIMM, "F0", "1.2"),
    ];
    check(Generation::Ddr3, &rows);
    assert_eq!(read("8GB 2Rx4 PC3L-10600R-09-11-E2-P2").tail(), Some("P2"));
    assert_eq!(read("4GB 1Rx4 PC3-14900R-13-12-C2-D3").tail(), Some("D3"));
    assert_eq!(read("1GB 1Rx8 PC3-10600R-09-10-A0").tail(), None);
}

// JESD21-C 4.19.4 examples. It gives two latencies for a stacked 2133N, so that one has no answer.
#[test]
fn ddr4_of_the_standard() {
    use DataRate as R;
    use DeviceWidth::{X4, X8};
    use Stack::{DualDie, Single, Stacked2, Stacked4};
    #[rustfmt::skip]
    let rows = [
        ("16GB 2Rx4 PC4-2133N-RA2-11", 16, (2, Single, X4), 2, 4096, R::DDR4_2133, Some((14, 14, 14)), RDIMM, "A2", "1.1"),
        ("16GB 2DRx4 PC4-2133N-RJ0-10", 16, (2, DualDie, X4), 2, 4096, R::DDR4_2133, Some((14, 14, 14)), RDIMM, "J0", "1.0"),
        ("16GB 1S2Rx4 PC4-2133N-RF1-10", 16, (1, Stacked2, X4), 2, 4096, R::DDR4_2133, None, RDIMM, "F1", "1.0"),
        ("16GB 1S4Rx4 PC4-2133R-LZZZ-10", 16, (1, Stacked4, X4), 4, 2048, R::DDR4_2133, Some((20, 16, 16)), LRDIMM, "ZZZ", "1.0"),
        ("32GB 2DRx8 PC4-2400U-UZZZ-11", 32, (2, DualDie, X8), 2, 16384, R::DDR4_2400, Some((18, 18, 18)), UDIMM, "ZZZ", "1.1"),
        ("32GB 2DRx8 PC4E-2400U-UZZZ-11", 32, (2, DualDie, X8), 2, 16384, R::DDR4_2400, Some((18, 18, 18)), UDIMM, "ZZZ", "1.1"),
        ("16GB 1S2Rx4 PC4-2133N-RFC-10", 16, (1, Stacked2, X4), 2, 4096, R::DDR4_2133, None, RDIMM, "FC", "1.0"),
        // JESD21-C 4.20.28
        ("16GB 2S2Rx4 PC4-2133N-RB1-10", 16, (2, Stacked2, X4), 4, 2048, R::DDR4_2133, None, RDIMM, "B1", "1.0"),
    ];
    check(Generation::Ddr4, &rows);
}

// Label strings found in public text, and labels reported with the SPD content of real modules.
#[test]
fn ddr4_of_real_modules() {
    use DataRate as R;
    use DeviceWidth::{X4, X8};
    use Stack::{DualDie, Single, Stacked2, Stacked4};
    #[rustfmt::skip]
    let rows = [
        ("32GB 4DRx4 PC4-2133P-LD0-10-DC0", 32, (4, DualDie, X4), 4, 4096, R::DDR4_2133, Some((15, 15, 15)), LRDIMM, "D0", "1.0"),
        ("64GB 4DRx4 PC4-2666V-LD2-12-MA0", 64, (4, DualDie, X4), 4, 8192, R::DDR4_2666, Some((19, 19, 19)), LRDIMM, "D2", "1.2"),
        ("64GB 2S2Rx4 PC4-2133P-RA1-10-DC0", 64, (2, Stacked2, X4), 4, 8192, R::DDR4_2133, None, RDIMM, "A1", "1.0"),
        ("32GB 2Rx4 PC4-2400T-RB2-11", 32, (2, Single, X4), 2, 8192, R::DDR4_2400, Some((17, 17, 17)), RDIMM, "B2", "1.1"),
        ("32GB 2Rx8 PC4-3200AA-RE3-12-R80", 32, (2, Single, X8), 2, 16384, R::DDR4_3200, Some((22, 22, 22)), RDIMM, "E3", "1.2"),
        ("16GB 1Rx4 PC4-2666V-RC2-12-PA0", 16, (1, Single, X4), 1, 8192, R::DDR4_2666, Some((19, 19, 19)), RDIMM, "C2", "1.2"),
        ("4GB 1Rx8 PC4-2133P-RD0-10", 4, (1, Single, X8), 1, 4096, R::DDR4_2133, Some((15, 15, 15)), RDIMM, "D0", "1.0"),
        ("32GB 2Rx4 PC4-2133P-RBB-10", 32, (2, Single, X4), 2, 8192, R::DDR4_2133, Some((15, 15, 15)), RDIMM, "BB", "1.0"),
        ("64GB 2Rx4 PC4-2933Y-RA2-12", 64, (2, Single, X4), 2, 16384, R::DDR4_2933, Some((21, 21, 21)), RDIMM, "A2", "1.2"),
        ("128GB 4DRx4 PC4-3200AA-LD3-12", 128, (4, DualDie, X4), 4, 16384, R::DDR4_3200, Some((22, 22, 22)), LRDIMM, "D3", "1.2"),
        ("128GB 2S4Rx4 PC4-2933Y-LB1-12", 128, (2, Stacked4, X4), 8, 8192, R::DDR4_2933, Some((24, 21, 21)), LRDIMM, "B1", "1.2"),
        ("64GB 2Rx4 PC4-3200AA-RB2-14", 64, (2, Single, X4), 2, 16384, R::DDR4_3200, Some((22, 22, 22)), RDIMM, "B2", "1.4"),
        ("16GB 2Rx8 PC4-2400T-UB1-11", 16, (2, Single, X8), 2, 8192, R::DDR4_2400, Some((17, 17, 17)), UDIMM, "B1", "1.1"),
    ];
    check(Generation::Ddr4, &rows);
    assert_eq!(read("32GB 4DRx4 PC4-2133P-LD0-10-DC0").tail(), Some("DC0"));
    assert_eq!(read("32GB 2Rx8 PC4-3200AA-RE3-12-R80").tail(), Some("R80"));
}

// Label strings found in public text, and labels reported with the SPD content of real modules.
#[test]
fn ddr5() {
    use DataRate as R;
    use DeviceWidth::{X4, X8, X16};
    use Stack::Single;
    #[rustfmt::skip]
    let rows = [
        ("64GB 2Rx4 PC5-4800B-RA0-1010-XT", 64, (2, Single, X4), 2, 16384, R::DDR5_4800, Some((40, 39, 39)), RDIMM_EC8, "A0", "1.0"),
        ("64GB 2Rx4 PC5-5600B-RA0-1010-XT", 64, (2, Single, X4), 2, 16384, R::DDR5_5600, Some((46, 45, 45)), RDIMM_EC8, "A0", "1.0"),
        ("64GB 2Rx4 PC5-4800B-RB0-1010-XT", 64, (2, Single, X4), 2, 16384, R::DDR5_4800, Some((40, 39, 39)), RDIMM_EC8, "B0", "1.0"),
        ("32GB 1Rx4 PC5-6400B-RC1-1211-XT", 32, (1, Single, X4), 1, 16384, R::DDR5_6400, Some((52, 52, 52)), RDIMM_EC8, "C1", "1.2"),
        ("48GB 1Rx4 PC5-4800B-PF0-1010-XT", 48, (1, Single, X4), 1, 24576, R::DDR5_4800, Some((40, 39, 39)), RDIMM_EC4, "F0", "1.0"),
        ("16GB 1Rx8 PC5-4800B-UA0-1010-NT", 16, (1, Single, X8), 1, 16384, R::DDR5_4800, Some((40, 39, 39)), UDIMM, "A0", "1.0"),
        ("8GB 1Rx16 PC5-4800B-UC0-1010-XT", 8, (1, Single, X16), 1, 16384, R::DDR5_4800, Some((40, 39, 39)), UDIMM, "C0", "1.0"),
        ("16GB 1Rx8 PC5-4800B-ED0-1010-XT", 16, (1, Single, X8), 1, 16384, R::DDR5_4800, Some((40, 39, 39)), UDIMM_EC4, "D0", "1.0"),
        ("16GB 1Rx8 PC5-5600B-SA0-1010-XT", 16, (1, Single, X8), 1, 16384, R::DDR5_5600, Some((46, 45, 45)), SO_DIMM, "A0", "1.0"),
        ("32GB 2Rx8 PC5-5600B-SB0-1010-XT", 32, (2, Single, X8), 2, 16384, R::DDR5_5600, Some((46, 45, 45)), SO_DIMM, "B0", "1.0"),
        ("16GB 1Rx8 PC5-4800B-SA0-1010-XT", 16, (1, Single, X8), 1, 16384, R::DDR5_4800, Some((40, 39, 39)), SO_DIMM, "A0", "1.0"),
    ];
    check(Generation::Ddr5, &rows);
    let label = read("32GB 1Rx4 PC5-6400B-RC1-1211-XT");
    assert_eq!(label.module_spd_revision(), Some(SpdRevision { major: 1, minor: 1 }));
    assert_eq!(label.temperature_range(), Some(TemperatureRange::Xt));
    assert_eq!(read("16GB 1Rx8 PC5-4800B-UA0-1010-NT").temperature_range(), Some(TemperatureRange::Nt));
}

// Organizations of stacked DDR5 modules named in a public platform design text; JESD305-R8 raw card C.
#[test]
fn ddr5_stacks() {
    for (text, logical_ranks, gbit) in [
        ("128GB 2S2Rx4 PC5-4800B-RA0-1010-XT", 4, 16),
        ("192GB 2S2Rx4 PC5-4800B-RA0-1010-XT", 4, 24),
        ("256GB 2S4Rx4 PC5-4800B-RA0-1010-XT", 8, 16),
        ("384GB 2S4Rx4 PC5-4800B-RA0-1010-XT", 8, 24),
        ("512GB 2S8Rx4 PC5-4800B-RA0-1010-XT", 16, 16),
        ("64GB 1S2Rx4 PC5-4800B-RC0-1010-XT", 2, 16),
        ("256GB 1S8Rx4 PC5-4800B-RC0-1010-XT", 8, 16),
        ("1024GB 2S16Rx4 PC5-4800B-RC0-1010-XT", 32, 16),
    ] {
        let label = read(text);
        assert_eq!(label.module().stacked_ranks(), Some(logical_ranks), "{text}");
        assert_eq!(label.die_density(), Some(Density::from_gbit(gbit)), "{text}");
        assert_eq!(label.latencies(), Some((46, 39, 39)), "{text}");
    }
}

#[test]
fn the_variant_letter_gives_the_voltages() {
    let (v1_25, v1_35, v1_5) = (Voltage::V1_25, Voltage::V1_35, Voltage::V1_5);
    // Server manuals for none and L; U from memory; JESD21-C 4.20.28 and JESD400-5C for DDR4 and DDR5.
    for (text, variant, voltages) in [
        ("16GB 2Rx4 PC3-12800R-11-13-E2", None, &[v1_5][..]),
        ("16GB 2Rx4 PC3L-12800R-11-13-E2", Some(VariantLetter::L), &[v1_35, v1_5]),
        ("16GB 2Rx4 PC3U-12800R-11-13-E2", Some(VariantLetter::U), &[v1_25, v1_35, v1_5]),
        ("32GB 2DRx8 PC4E-2400U-UZZZ-11", Some(VariantLetter::E), &[Voltage::V1_2]),
        ("32GB 2Rx4 PC4-2400T-RB2-11", None, &[Voltage::V1_2]),
        ("64GB 2Rx4 PC5-4800B-RA0-1010-XT", None, &[Voltage::V1_1]),
    ] {
        let label = read(text);
        assert_eq!(label.variant(), variant, "{text}");
        assert_eq!(label.module().voltages(), Voltages::new(voltages.iter().copied()).as_ref(), "{text}");
    }
}

// JESD21-C 4.19.4: the letters of pre-production revisions, P, and Z behind ZZ.
#[test]
fn revisions_of_raw_cards() {
    for (card, letters, revision) in [
        ("B2", "B", CardRevision::Production(2)),
        ("B9", "B", CardRevision::Production(9)),
        ("FC", "F", CardRevision::PreProduction(2)),
        ("BB", "B", CardRevision::PreProduction(1)),
        ("BK", "B", CardRevision::PreProduction(9)),
        ("AAA", "AA", CardRevision::PreProduction(0)),
        ("CB0", "CB", CardRevision::Production(0)),
        ("AP", "A", CardRevision::OldPreProduction),
        ("ZZZ", "ZZ", CardRevision::NoDesign),
    ] {
        let label = read(&format!("32GB 2Rx4 PC4-2400T-R{card}-11"));
        assert_eq!(label.raw_card().letters(), letters);
        assert_eq!(label.raw_card().revision(), revision);
        assert_eq!(label.raw_card().is_standard(), card != "ZZZ");
    }
}

// Letters of JESD21-C 4.19.4 (DDR4) and of server manuals (DDR3); DDR5 V from public text, the rest of DDR3 and
// DDR5 from memory.
#[test]
fn letters_of_module_types() {
    use Ecc::{Ec4, Ec8, Ecc as Ecc8};
    use FormFactor::{Dimm, MiniDimm, SoDimm};
    use ModuleKind::{ClockedUnbuffered, LoadReduced, Registered, Unbuffered};
    for (text, kind, form_factor, ecc) in [
        ("16GB 2Rx4 PC3-12800L-11-13-E2", LoadReduced, Dimm, Some(Ecc8)),
        ("8GB 2Rx8 PC3-12800E-11-13-E2", Unbuffered, Dimm, Some(Ecc8)),
        ("8GB 2Rx8 PC3-12800T-11-13-E2", Unbuffered, SoDimm, Some(Ecc8)),
        ("16GB 2Rx8 PC4-2400T-EB1-11", Unbuffered, Dimm, Some(Ecc8)),
        ("16GB 2Rx8 PC4-2400T-SB1-11", Unbuffered, SoDimm, Some(Ecc::None)),
        ("16GB 2Rx8 PC4-2400T-TB1-11", Unbuffered, SoDimm, Some(Ecc8)),
        ("16GB 2Rx8 PC4-2400T-CB1-11", Registered, SoDimm, Some(Ecc8)),
        ("16GB 2Rx8 PC4-2400T-NB1-11", Registered, MiniDimm, None),
        ("16GB 2Rx8 PC4-2400T-WB1-11", Unbuffered, MiniDimm, None),
        ("16GB 1Rx8 PC5-4800B-LA0-1010-XT", LoadReduced, Dimm, Some(Ec8)),
        ("16GB 1Rx8 PC5-4800B-TA0-1010-XT", Unbuffered, SoDimm, Some(Ec4)),
        ("16GB 1Rx8 PC5-4800B-VA0-1010-XT", ClockedUnbuffered, SoDimm, None),
    ] {
        let label = read(text);
        let module = label.module();
        assert_eq!((module.kind(), module.form_factor(), module.ecc()), (kind, Some(form_factor), ecc), "{text}");
    }
}

// A server manual prints DDR4 labels with the bandwidth in the place of the rate.
#[test]
fn ddr4_with_its_bandwidth_for_its_rate() {
    for (name, rate) in [
        (12800, DataRate::DDR4_1600),
        (14900, DataRate::DDR4_1866),
        (17000, DataRate::DDR4_2133),
        (19200, DataRate::DDR4_2400),
        (21300, DataRate::DDR4_2666),
        (23400, DataRate::DDR4_2933),
        (25600, DataRate::DDR4_3200),
    ] {
        let label = read(&format!("16GB 2Rx4 PC4-{name}P-RA0-10"));
        assert_eq!(label.data_rate(), rate);
        assert_eq!(label.speed_bin(), SpeedBin::Ddr4(Ddr4Bin::P));
    }
}

#[test]
fn both_spellings_of_a_latency_and_of_a_gigabyte_are_kept() {
    let (bare, padded) = (read("2GB 1Rx8 PC3-10600U-9-10-A0"), read("2GB 1Rx8 PC3-10600U-09-10-A0"));
    assert_eq!(bare.module(), padded.module());
    assert_eq!(bare.speed_bin(), SpeedBin::CasLatency { clocks: 9, padded: false });
    assert_eq!(padded.speed_bin(), SpeedBin::CasLatency { clocks: 9, padded: true });
    let small = read("512MB 1Rx8 PC3-8500U-7-10-A0");
    assert_eq!((small.capacity(), small.die_density()), (Capacity::from_mib(512), Some(Density::from_mbit(512))));
    assert_eq!(read("1024MB 1Rx8 PC3-8500U-7-10-A0").module(), read("1GB 1Rx8 PC3-8500U-7-10-A0").module());
}
