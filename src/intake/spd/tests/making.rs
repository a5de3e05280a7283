//! What makers write.

use crate::intake::spd::SpdImage;
use crate::intake::spd::tests::encoder::{MAKING, Making, empty, seal, write_making};
use crate::module::Generation;
use crate::population::{MakerId, Medium, PlaceState};
use crate::unit::Name;

fn made(generation: Generation, making: &Making) -> SpdImage {
    let mut image = empty(generation);
    write_making(&mut image, generation, making);
    SpdImage::read(&seal(image)).unwrap()
}

#[test]
fn every_generation() {
    for &generation in Generation::ALL {
        let image = made(generation, &MAKING);
        assert_eq!(image.maker_id(), MakerId::from_spd(0x80, 0x04));
        assert_eq!(image.made().unwrap().to_string(), "2025 week 36");
        assert_eq!(image.serial().unwrap(), "33436BCE");
        assert_eq!(image.unique_id().unwrap(), "800402253633436BCE");
        assert_eq!(image.part_number(), Some("GW-16-2R4 K7"));
        assert_eq!((image.dram_maker_id(), image.maker_revision()), (None, Some(0)));
    }
}

// JESD21-C 4.1.2.L-6, JESD400-5C; public decoders for DDR3: the maker of the devices is not that of the module.
#[test]
fn revision_and_maker_of_the_devices() {
    for (generation, revision, dram, expected) in
        [(Generation::Ddr3, 146, 148, 0x1200), (Generation::Ddr4, 349, 350, 0x12), (Generation::Ddr5, 551, 552, 0x12)]
    {
        let mut image = empty(generation);
        image[revision] = 0x12;
        image[dram..dram + 2].copy_from_slice(&[0x04, 0xa8]);
        let image = SpdImage::read(&seal(image)).unwrap();
        assert_eq!(image.maker_revision(), Some(expected));
        assert_eq!(image.dram_maker_id().unwrap().to_string(), "5-28");
        assert_eq!(image.maker_id(), None);
    }
}

#[test]
fn blank_serial_numbers_are_none() {
    for serial in [[0; 4], [0xff; 4]] {
        let image = made(Generation::Ddr4, &Making { serial, ..MAKING });
        assert_eq!((image.serial(), image.unique_id()), (None, None));
    }
    let image = made(Generation::Ddr5, &Making { serial: [0, 0, 0, 1], ..MAKING });
    assert_eq!(image.serial().unwrap(), "00000001");
}

// Real modules carry dates that are no decimal digits.
#[test]
fn dates() {
    for (week, text) in [
        ([0x09, 0x01], Some("2009 week 1")),
        ([0x26, 0x53], Some("2026 week 53")),
        ([0x0a, 0x01], None),
        ([0x09, 0x54], None),
        ([0x09, 0x00], None),
        ([0xa0, 0x10], None),
    ] {
        let image = made(Generation::Ddr4, &Making { week, ..MAKING });
        assert_eq!(image.made().map(|week| week.to_string()).as_deref(), text);
        assert_eq!(image.remarks().iter().any(|remark| remark.at == "byte 323"), text.is_none());
    }
    for week in [[0; 2], [0xff; 2]] {
        let image = made(Generation::Ddr4, &Making { week, ..MAKING });
        assert_eq!(image.made(), None);
        assert!(!image.remarks().iter().any(|remark| remark.at == "byte 323"));
    }
}

#[test]
fn padded_part_numbers() {
    for (part, text) in [
        ("GW-16-2R4", Some("GW-16-2R4")),
        ("GW-16-2R4\0\0\0\0\0\0\0\0\0\0\0", Some("GW-16-2R4")),
        (" GW 16  2R4", Some("GW 16  2R4")),
        ("", None),
        ("\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0\0", None),
    ] {
        let image = made(Generation::Ddr4, &Making { part, ..MAKING });
        assert_eq!(image.part_number(), text, "{part:?}");
        assert!(!image.remarks().iter().any(|remark| remark.to_string().contains("part number")));
    }
    let image = made(Generation::Ddr4, &Making { part: "GW\u{7}16", ..MAKING });
    assert_eq!(image.part_number(), None);
    let remark = "byte 331: part number: 0x07 is left out: it is no printable character";
    assert!(image.remarks().iter().any(|said| said.to_string() == remark));
    // never written
    let mut image = empty(Generation::Ddr4);
    image[320..384].fill(0xff);
    let image = SpdImage::read(&seal(image)).unwrap();
    assert_eq!((image.part_number(), image.serial(), image.made(), image.maker_id()), (None, None, None, None));
    assert!(!image.remarks().iter().any(|remark| remark.to_string().contains("part number")));
}

#[test]
fn the_report_has_one_place() {
    let image = made(Generation::Ddr4, &MAKING);
    let report = image.report(Name::lossy("dump 7"), Some(Name::lossy("A1")));
    assert_eq!((report.medium, report.places.len()), (Medium::Spd, 1));
    let place = &report.places[0];
    assert_eq!((place.id.as_str(), place.state), ("spd", PlaceState::Unknown));
    assert_eq!(place.locator.as_ref().unwrap(), "A1");
    assert_eq!(place.module, Some(image.module()));
    assert_eq!(report.remarks, image.remarks());
    assert_eq!(image.report(Name::lossy("dump 7"), None).places[0].locator, None);
}
