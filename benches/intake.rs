//! Reading what machines and modules report of themselves.
// a bench may stop at what it did not expect
#![allow(clippy::unwrap_used)]

use std::hint::black_box;

use criterion::Criterion;
use slotwright::intake::spd::SpdImage;
use slotwright::intake::titles::{self, Words};
use slotwright::intake::{smbios, smbios_text};
use slotwright::population::Report;
use slotwright::{Capacity, Name};

const DEVICES: u16 = 32;

/// The demo machine: its table as a dump file, and the print of it.
const DUMP: &[u8] = include_bytes!("../examples/data/report.bin");
const PRINT: &str = include_str!("../examples/data/report.txt");
const DDR4: &[u8] = include_bytes!("../examples/data/spd-16gb.bin");

/// What tells the module of a place from its like: handle, locator, serial number.
const HANDLE: &str = "0x1100";
const LOCATOR: &str = "CPU1_DIMM_A1";
const SERIAL: &str = "4B300100";

fn locator(index: u16) -> String {
    let channel = char::from(b'A' + u8::try_from(index / 2 % 8).unwrap());
    format!("CPU{}_DIMM_{channel}{}", index / 16 + 1, index % 2 + 1)
}

fn serial(index: u16) -> String {
    format!("4B3001{index:02X}")
}

/// The structures of a table.
fn structures(bytes: &[u8]) -> Vec<&[u8]> {
    let mut rest = bytes;
    let mut structures = Vec::new();
    while let [_, length, ..] = rest {
        let fields = usize::from(*length);
        let end = rest.get(fields..).unwrap_or_default().windows(2).position(|pair| pair == [0, 0]).unwrap();
        let (structure, behind) = rest.split_at(fields + end + 2);
        structures.push(structure);
        rest = behind;
    }
    structures
}

/// The demo machine's table with 32 devices, all filled, each of its own locator and serial number.
fn table() -> Vec<u8> {
    let mut table = Vec::new();
    let mut devices = 0;
    for structure in structures(DUMP.get(32..).unwrap()) {
        match structure {
            [17, ..] if devices > 0 => {}
            [17, ..] => {
                for index in 0..DEVICES {
                    let mut device = structure.to_vec();
                    device.splice(2..4, (0x1100 + index).to_le_bytes());
                    for (old, new) in [(LOCATOR, locator(index)), (SERIAL, serial(index))] {
                        let at = device.windows(old.len()).position(|part| part == old.as_bytes()).unwrap();
                        device.splice(at..at + old.len(), new.bytes());
                    }
                    table.extend(device);
                    devices += 1;
                }
            }
            // the array's count of devices
            [16, ..] => {
                let mut array = structure.to_vec();
                array.splice(0x0d..0x0f, DEVICES.to_le_bytes());
                table.extend(array);
            }
            other => table.extend(other),
        }
    }
    table
}

/// The same as text.
fn print() -> String {
    let count = format!("Number Of Devices: {DEVICES}");
    let parts = PRINT.replace("Number Of Devices: 24", &count);
    let mut print = String::new();
    let mut is_done = false;
    for part in parts.split("\n\n") {
        if !part.contains("DMI type 17,") {
            print += &format!("{part}\n\n");
        } else if !is_done {
            for index in 0..DEVICES {
                let device = part.replace(HANDLE, &format!("0x{:04X}", 0x1100 + index));
                let device = device.replace(LOCATOR, &locator(index)).replace(SERIAL, &serial(index));
                print += &format!("{device}\n\n");
            }
            is_done = true;
        }
    }
    print
}

/// An image of DDR5: 64 GB, registered, two ranks of x4 devices of 16 Gb, 4800B.
fn ddr5() -> Vec<u8> {
    let mut image = vec![0; 1024];
    #[rustfmt::skip]
    let bytes = [
        (0, 0x30), (1, 0x10), (2, 0x12), (3, 0x01), (4, 0x04), (20, 0xa0), (21, 0x01), (25, 0x04), (30, 0x80), (31, 0x3e), (32, 0x80),
        (33, 0x3e), (34, 0x80), (35, 0x3e), (192, 0x10), (230, 0x11), (233, 0x80), (234, 0x08), (235, 0x32), (512, 0x13), (513, 0x01),
        (515, 0x25), (516, 0x36), (517, 0x4b), (521, b'G'), (522, b'W'),
    ];
    for (at, byte) in bytes {
        image.splice(at..=at, [byte]);
    }
    // JESD400-5C: CRC-16 with 1021h over bytes 0 to 509
    let checksum = image.iter().take(510).fold(0_u16, |sum, byte| {
        (0..8).fold(sum ^ u16::from(*byte) << 8, |sum, _| if sum & 0x8000 == 0 { sum << 1 } else { sum << 1 ^ 0x1021 })
    });
    image.splice(510..512, checksum.to_le_bytes());
    image
}

fn images(criterion: &mut Criterion) {
    for (name, bytes, gib) in [("DDR4", DDR4.to_vec(), 16), ("DDR5", ddr5(), 64)] {
        let module = SpdImage::read(&bytes).unwrap().module();
        assert_eq!(module.capacity_mib, Some(Capacity::from_gib(gib)));
        criterion.bench_function(&format!("SPD image of {name}, its module"), |bencher| {
            bencher.iter(|| SpdImage::read(black_box(&bytes)).map(|image| image.module()));
        });
    }
}

fn tables(criterion: &mut Criterion) {
    let (name, bytes, print) = (Name::lossy("dump"), table(), print());
    let report = smbios::read(name.clone(), &bytes).unwrap();
    assert_eq!((report.places.len(), report.filled().count(), report.remarks.len()), (32, 32, 0));
    let printed: Vec<Report> = smbios_text::read(name.clone(), &print).unwrap();
    assert_eq!(printed, [report]);
    criterion.bench_function("SMBIOS table of 32 devices, bytes", |bencher| {
        bencher.iter(|| smbios::read(name.clone(), black_box(&bytes)));
    });
    criterion.bench_function("SMBIOS table of 32 devices, text", |bencher| {
        bencher.iter(|| smbios_text::read(name.clone(), black_box(&print)));
    });
}

/// Titles of sellers: a plain one, one that can be read in four ways, one that contradicts itself.
fn sellers_titles(criterion: &mut Criterion) {
    let words = Words::standard();
    for (name, title, readings) in [
        ("plain", "64GB (4x16GB) 2Rx4 PC4-2400T-R ECC RDIMM server memory, tested, 25.00 EUR", 1),
        ("of several readings", "16GB x4 DDR4-2400 ECC REG kit of 4, x8, used", 4),
        ("that contradicts itself", "Lot of 8 16GB 2Rx4 PC4-2400T-RA1-11 unbuffered DDR3 non-ECC 64GB", 1),
    ] {
        let lot = titles::read(title, &words);
        assert_eq!(lot.readings.len(), readings, "{lot}");
        criterion.bench_function(&format!("title, {name}"), |bencher| {
            bencher.iter(|| titles::read(black_box(title), &words));
        });
    }
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    images(&mut criterion);
    tables(&mut criterion);
    sellers_titles(&mut criterion);
    criterion.final_summary();
}
