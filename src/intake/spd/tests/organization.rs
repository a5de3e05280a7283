//! What modules hold, by the formulas of the standards.

use crate::intake::spd::tests::encoder::image;
use crate::module::{DeviceWidth, Ecc, Generation, Stack};
use crate::unit::{Capacity, Density};

use Generation::{Ddr3, Ddr4, Ddr5};

type Row = (Generation, &'static [(usize, u8)], u32, &'static str);

/// The worked examples of the standards, and bytes of real modules. Bytes 13 and 235 are the usual ones where nothing else is said.
#[rustfmt::skip]
const ROWS: [Row; 29] = [
    (Ddr4, &[(4, 0x83), (6, 0x00), (12, 0x08), (13, 0x03)], 8, "2Rx4 of 2 Gb: JESD21-C 4.1.2.L-6"),
    (Ddr4, &[(4, 0x84), (6, 0x91), (12, 0x08), (13, 0x0b)], 16, "2DRx4 of 4 Gb: JESD21-C 4.1.2.L-6"),
    (Ddr4, &[(4, 0x83), (6, 0xb2), (12, 0x09), (13, 0x0b)], 16, "2S4Rx8 of 2 Gb: JESD21-C 4.1.2.L-6"),
    (Ddr4, &[(4, 0x86), (6, 0x00), (12, 0x08), (13, 0x0b)], 64, "2Rx4 of 16 Gb: a real module"),
    (Ddr4, &[(4, 0x86), (6, 0x91), (12, 0x18), (13, 0x0b)], 128, "4DRx4 of 16 Gb: a real module"),
    (Ddr4, &[(4, 0x85), (6, 0xb2), (12, 0x08), (13, 0x0b)], 128, "2S4Rx4 of 8 Gb: real modules of two makers"),
    (Ddr4, &[(4, 0x86), (6, 0xb2), (12, 0x08), (13, 0x0b)], 256, "2S4Rx4 of 16 Gb: by formula"),
    (Ddr4, &[(4, 0x86), (6, 0xf2), (12, 0x08), (13, 0x0b)], 512, "2S8Rx4 of 16 Gb: by formula"),
    (Ddr4, &[(4, 0x85), (6, 0x00), (12, 0x02), (13, 0x03)], 4, "1Rx16 of 8 Gb: a real module"),
    (Ddr4, &[(4, 0x86), (6, 0x00), (12, 0x02), (13, 0x03)], 8, "1Rx16 of 16 Gb: a real module"),
    (Ddr4, &[(4, 0x85), (6, 0x00), (10, 0x91), (12, 0x50), (13, 0x0b)], 48, "three ranks, two single-die and one dual-die: from JESD21-C 4.1.2.L-6 table 31"),
    (Ddr4, &[(4, 0x85), (6, 0xf2), (10, 0xe2), (12, 0x48), (13, 0x0b)], 240, "stacks of eight and of seven: from JESD21-C 4.1.2.L-6 table 31"),
    (Ddr4, &[(4, 0x85), (6, 0x00), (10, 0x04), (12, 0x49), (13, 0x0b)], 12, "x8 of 8 Gb and of 4 Gb: by JESD21-C 4.1.2.L-6 table 26"),
    (Ddr5, &[(4, 0x04), (6, 0x00), (234, 0x08), (235, 0x32)], 64, "2Rx4 of 16 Gb: a real module"),
    (Ddr5, &[(4, 0x04), (6, 0x20), (234, 0x00), (235, 0x32)], 16, "1Rx8 of 16 Gb: a real module"),
    (Ddr5, &[(4, 0x04), (6, 0x40), (234, 0x00), (235, 0x22)], 8, "1Rx16 of 16 Gb: a real module"),
    (Ddr5, &[(4, 0x05), (6, 0x00), (234, 0x00), (235, 0x32)], 48, "1Rx4 of 24 Gb: JESD305-R8 table 2"),
    (Ddr5, &[(4, 0x05), (6, 0x00), (234, 0x08), (235, 0x32)], 96, "2Rx4 of 24 Gb: by formula"),
    (Ddr5, &[(4, 0x44), (6, 0x00), (234, 0x00), (235, 0x32)], 64, "1S2Rx4 of 16 Gb: JESD305-R8 table 2"),
    (Ddr5, &[(4, 0x84), (6, 0x00), (234, 0x00), (235, 0x32)], 256, "1S8Rx4 of 16 Gb: JESD305-R8 table 2"),
    (Ddr5, &[(4, 0x45), (6, 0x00), (234, 0x00), (235, 0x32)], 96, "1S2Rx4 of 24 Gb: JESD305-R8 table 2"),
    (Ddr5, &[(4, 0x85), (6, 0x00), (234, 0x00), (235, 0x32)], 384, "1S8Rx4 of 24 Gb: JESD305-R8 table 2"),
    (Ddr5, &[(4, 0x44), (6, 0x00), (234, 0x08), (235, 0x32)], 128, "2S2Rx4 of 16 Gb: public text"),
    (Ddr5, &[(4, 0x65), (6, 0x00), (234, 0x08), (235, 0x32)], 384, "2S4Rx4 of 24 Gb: public text"),
    (Ddr5, &[(4, 0x04), (6, 0x00), (8, 0x44), (10, 0x00), (234, 0x48), (235, 0x32)], 96, "a single die and a stack of two: from JESD400-5C table 103"),
    (Ddr5, &[(4, 0x04), (6, 0x20), (234, 0x00), (235, 0x42)], 32, "four sub-channels: JESD400-5C table 105"),
    (Ddr3, &[(4, 0x04), (7, 0x18), (8, 0x0b)], 32, "4Rx4 of 4 Gb: a real module"),
    (Ddr3, &[(4, 0x04), (7, 0x19), (8, 0x0b)], 16, "4Rx8 of 4 Gb: a real module"),
    (Ddr3, &[(4, 0x02), (7, 0x21), (8, 0x0b)], 8, "8Rx8 of 1 Gb: public decoders"),
];

#[test]
fn worked_examples() {
    for (generation, bytes, gib, source) in ROWS {
        let image = image(generation, bytes);
        assert_eq!(image.capacity(), Some(Capacity::from_gib(gib)), "{source}");
        assert_eq!(image.capacity_at_least(), None, "{source}");
        assert!(image.is_sound(), "{source}");
    }
}

// Of ranks that are not alike only what they share is known.
#[test]
fn unlike_ranks() {
    let (bytes, remark) = (ROWS[10].1, "byte 12: what differs between ranks is not read: the ranks are not alike");
    let three = image(Ddr4, bytes);
    assert!(three.is_asymmetric());
    assert_eq!((three.package_ranks(), three.stack(), three.width()), (Some(3), None, Some(DeviceWidth::X4)));
    assert_eq!(three.die_density(), Some(Density::from_gbit(8)));
    assert_eq!(three.remarks().iter().filter(|said| said.to_string() == remark).count(), 1);
    assert_eq!(three.label(), None);
    let seen = three.module();
    assert_eq!((seen.capacity_mib, seen.package_ranks, seen.stack), (Some(Capacity::from_gib(48)), Some(3), None));

    let densities = image(Ddr4, ROWS[12].1);
    assert_eq!((densities.stack(), densities.die_density()), (Some(Stack::Single), None));
    let ddr5 = image(Ddr5, ROWS[24].1);
    assert_eq!((ddr5.stack(), ddr5.die_density()), (None, Some(Density::from_gbit(16))));
    assert_eq!(ddr5.width(), Some(DeviceWidth::X4));
    // another width in ranks 1, 3, ..
    let widths = image(Ddr5, &[(4, 4), (6, 0), (8, 4), (10, 0x20), (234, 0x48), (235, 0x32)]);
    assert_eq!((widths.width(), widths.capacity()), (None, Some(Capacity::from_gib(48))));
    // the second package counts only where the ranks are said to be unlike
    let told = image(Ddr4, &[(4, 5), (10, 0x91), (12, 0x08), (13, 0x0b)]);
    assert_eq!((told.stack(), told.capacity()), (Some(Stack::Single), Some(Capacity::from_gib(32))));
    let remark = "byte 10: second package: 0x91 is left out: the image says that all ranks are alike";
    assert!(told.remarks().iter().any(|said| said.to_string() == remark));
}

// JESD21-C 4.1.2.L-6 table 26: one and two steps below each density, in megabits.
#[test]
fn density_steps() {
    #[rustfmt::skip]
    let rows: [(u8, u32, Option<u32>, Option<u32>); 10] = [
        (0, 256, None, None),
        (1, 512, Some(256), None),
        (2, 1024, Some(512), Some(256)),
        (3, 2048, Some(1024), Some(512)),
        (4, 4096, Some(2048), Some(1024)),
        (5, 8192, Some(4096), Some(2048)),
        (8, 12_288, Some(8192), Some(4096)),
        (6, 16_384, Some(12_288), Some(8192)),
        (9, 24_576, Some(16_384), Some(12_288)),
        (7, 32_768, Some(24_576), Some(16_384)),
    ];
    for (code, first, one, two) in rows {
        for (steps, second) in [(1, one), (2, two), (3, None)] {
            let image = image(Ddr4, &[(4, code), (10, steps << 2), (12, 0x48), (13, 0x03)]);
            let expected = second.map(|second| Capacity::from_mib(u64::from(first + second) * 2));
            assert_eq!(image.capacity(), expected, "{first} with {steps}");
        }
    }
}

#[test]
fn every_code_of_densities_ranks_and_widths() {
    let gbit = |codes: &[u32]| codes.iter().map(|&mbit| Some(Density::from_mbit(mbit))).collect::<Vec<_>>();
    let ddr4 = gbit(&[256, 512, 1024, 2048, 4096, 8192, 16_384, 32_768, 12_288, 24_576]);
    let ddr5 = gbit(&[4096, 8192, 12_288, 16_384, 24_576, 32_768, 49_152, 65_536]);
    for code in 0..16_u8 {
        let known = ddr4.get(usize::from(code)).copied().flatten();
        assert_eq!(image(Ddr4, &[(4, 0xb0 | code)]).die_density(), known);
        assert_eq!(image(Ddr3, &[(4, 0x70 | code)]).die_density(), known);
        let known = code.checked_sub(1).and_then(|code| ddr5.get(usize::from(code)).copied().flatten());
        assert_eq!(image(Ddr5, &[(4, code)]).die_density(), known);
    }
    for code in 0..8_u8 {
        assert_eq!(image(Ddr4, &[(12, code << 3)]).package_ranks(), Some(code + 1));
        assert_eq!(image(Ddr5, &[(234, code << 3)]).package_ranks(), Some(code + 1));
        let ddr3 = [Some(1), Some(2), Some(3), Some(4), Some(8), None, None, None];
        assert_eq!(image(Ddr3, &[(7, code << 3)]).package_ranks(), ddr3[usize::from(code)]);
        let width = [Some(DeviceWidth::X4), Some(DeviceWidth::X8), Some(DeviceWidth::X16)];
        let width = width.get(usize::from(code)).copied().flatten();
        assert_eq!(image(Ddr3, &[(7, code)]).width(), width);
        assert_eq!(image(Ddr4, &[(12, code)]).width(), width);
        assert_eq!(image(Ddr5, &[(6, code << 5)]).width(), width);
    }
}

// JESD21-C 4.1.2.L-6 (72 and 64 bits); JESD400-5C table 105.
#[test]
fn check_bits() {
    for (generation, at, byte, ecc) in [
        (Ddr3, 8, 0x03, Some(Ecc::None)),
        (Ddr3, 8, 0x0b, Some(Ecc::Ecc)),
        (Ddr3, 8, 0x13, None),
        (Ddr4, 13, 0x03, Some(Ecc::None)),
        (Ddr4, 13, 0x0b, Some(Ecc::Ecc)),
        (Ddr4, 13, 0x0a, None),
        (Ddr4, 13, 0x1b, None),
        (Ddr5, 235, 0x22, Some(Ecc::None)),
        (Ddr5, 235, 0x2a, Some(Ecc::Ec4)),
        (Ddr5, 235, 0x32, Some(Ecc::Ec8)),
        (Ddr5, 235, 0x3a, None),
        (Ddr5, 235, 0x42, None),
        (Ddr5, 235, 0x03, None),
    ] {
        let image = image(generation, &[(at, byte)]);
        assert_eq!(image.ecc(), ecc, "{generation} {byte:#x}");
        let told =
            image.remarks().iter().any(|remark| remark.to_string().starts_with(&format!("byte {at}: check bits")));
        assert_eq!(told, ecc.is_none(), "{generation} {byte:#x}");
    }
    // a bus that is not the usual one: the size stands, what would not give it by the usual formula is left out
    let narrow = image(Ddr4, &[(4, 5), (12, 0x02), (13, 0x02)]);
    let seen = narrow.module();
    assert_eq!(seen.capacity_mib, Some(Capacity::from_gib(2)));
    assert_eq!((seen.package_ranks, seen.stack, seen.width, seen.die_density_mbit), (None, None, None, None));
}

// JESD400-5C: the formula counts both dies of a dual-die package, the tables of ranks do not have it.
#[test]
fn dual_die_packages_of_ddr5_are_open() {
    let image = image(Ddr5, &[(4, 0x24), (6, 0x00), (234, 0x00), (235, 0x32)]);
    assert_eq!((image.stack(), image.capacity()), (None, None));
    assert_eq!(image.capacity_at_least(), Some(Capacity::from_gib(32)));
    assert_eq!(image.module().capacity_at_least_mib, Some(Capacity::from_gib(32)));
    let remark = "byte 4: stack: 0x24 is left out: whether both dies of a dual-die package count is not settled";
    assert_eq!(image.remarks().iter().filter(|said| said.to_string() == remark).count(), 1);
}

#[test]
fn packages_that_do_not_go_together() {
    // three dies that are one load; one die that is none; a load code that does not exist
    for (byte, gib) in [(0x00, Some(32)), (0xa1, Some(32)), (0x01, Some(32)), (0xa2, Some(96)), (0x93, None)] {
        let image = image(Ddr4, &[(4, 5), (6, byte), (12, 0x08), (13, 0x0b)]);
        assert_eq!(image.stack(), (byte == 0).then_some(Stack::Single), "{byte:#x}");
        assert_eq!(image.capacity(), gib.map(Capacity::from_gib), "{byte:#x}");
        assert_eq!(image.remarks().iter().any(|remark| remark.at == "byte 6"), byte != 0, "{byte:#x}");
    }
    let six = image(Ddr5, &[(4, 0xc4), (234, 0x00), (235, 0x32)]);
    assert_eq!((six.stack(), six.capacity(), six.capacity_at_least()), (None, None, None));
}
