//! The image of the examples, `examples/data/spd-16gb.bin`: one of the larger modules of `examples/data/report.bin`.
//!
//! With `UPDATE_DEMO=1` the test writes it.

use std::fs;
use std::path::PathBuf;

use crate::intake::smbios;
use crate::intake::spd::SpdImage;
use crate::intake::spd::tests::encoder::{Making, encode, seal, write_making};
use crate::module::{Generation, Label};
use crate::unit::Name;

const LABEL: &str = "16GB 2Rx4 PC4-2400T-RA1-11";

fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples/data").join(name)
}

fn image() -> Vec<u8> {
    let mut image = encode(&LABEL.parse::<Label>().unwrap());
    for (at, byte) in [
        (4, 0x84), // four groups of four banks, dies of 4 Gb
        (5, 0x21), // 16 row and 10 column bits
        (19, 0x0d),
        (124, 0xe7), // the longest clock period: 1600 ps
        (27, 0x11),
        (28, 0x00),
        (29, 0x6e), // tRAS 32 ns, tRC 45.75 ns
        (129, 0x11),
        (131, 0x05), // 2 mm on each side, one register and one row of devices
    ] {
        image[at] = byte;
    }
    // a number that no maker has
    let making =
        Making { maker: [0x13, 0x01], week: [0x16, 0x40], serial: [0x4b, 0x30, 0x01, 0x03], part: "GW-16-2R4" };
    write_making(&mut image, Generation::Ddr4, &making);
    seal(image)
}

#[test]
fn the_file_is_what_the_encoder_writes() {
    if std::env::var_os("UPDATE_DEMO").is_some_and(|value| value == "1") {
        fs::write(file("spd-16gb.bin"), image()).unwrap();
    }
    assert!(fs::read(file("spd-16gb.bin")).unwrap() == image(), "UPDATE_DEMO=1 writes it anew");
}

#[test]
fn it_is_a_module_of_the_report() {
    let image = SpdImage::read(&fs::read(file("spd-16gb.bin")).unwrap()).unwrap();
    assert!(image.is_sound() && image.remarks().is_empty());
    assert_eq!(image.label().unwrap().to_string(), LABEL);
    let report = smbios::read(Name::lossy("report"), &fs::read(file("report.bin")).unwrap()).unwrap();
    let (place, seen) = report.modules().find(|(_, module)| module.serial == image.serial()).unwrap();
    assert_eq!(place.locator.as_ref().unwrap(), "CPU1_DIMM_B1");
    let module = image.module();
    assert_eq!((&seen.part_number, seen.capacity_mib), (&module.part_number, module.capacity_mib));
    assert_eq!((seen.generation, seen.kind, seen.ecc), (module.generation, module.kind, module.ecc));
    assert_eq!((seen.grade_mts, &seen.voltages_mv), (module.grade_mts, &module.voltages_mv));
    assert_eq!((seen.rank_number, module.package_ranks), (Some(2), Some(2)));
}
