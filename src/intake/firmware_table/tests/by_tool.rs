//! Held against the decoder dmidecode, where it is installed: what it prints of a dump reads as the dump itself.
//!
//! What it tells otherwise, and why:
//!
//! - It prints no details of empty places from 3.4 on, so that a part number there is not seen.
//! - Codes that came after its version are `<OUT OF SPEC>`. No table here has the late ones.
//! - What a version does not print at all, `Dialect::leaves` takes from the bytes: that of the register's maker came with 3.7.
//! - It gives a text with bytes outside of ASCII with marks in their place; texts here have none.

use std::fs;
use std::path::PathBuf;

use proptest::strategy::{Strategy as _, ValueTree as _};
use proptest::test_runner::TestRunner;

use crate::intake::firmware_table::tests::encoder::{DEVICE_LENGTHS, Form, Structure, array, device, end};
use crate::intake::firmware_table::tests::laws::any_devices;
use crate::intake::firmware_table::tests::printer::Dialect;
use crate::intake::firmware_table::tests::{sound, text_name};
use crate::intake::tool::tool;
use crate::intake::{smbios, smbios_text};
use crate::population::{PlaceState, Report};

/// What the tool prints of a dump.
fn printed(name: &str, dump: &[u8]) -> Option<String> {
    let path: PathBuf = std::env::temp_dir().join(format!("slotwright-{}-{name}.bin", std::process::id()));
    fs::write(&path, dump).unwrap();
    let text = tool("dmidecode", &["--from-dump", path.to_str().unwrap()]);
    fs::remove_file(&path).unwrap();
    text
}

fn read(text: &str) -> Report {
    let [report] = smbios_text::read(text_name("dump"), text).unwrap().try_into().unwrap();
    report
}

/// The version in the tool's heading: `# dmidecode 3.4`.
fn dialect(text: &str) -> Dialect {
    let version = text.strip_prefix("# dmidecode ").unwrap().lines().next().unwrap();
    let mut numbers = version.split('.').map(|number| number.parse::<u16>().unwrap());
    Dialect::of((numbers.next().unwrap(), numbers.next().unwrap()))
}

fn machine() -> Vec<Structure> {
    let firmware = Structure::new(0, 0, 0x1a).text(0x04, "Made Up Firmware").text(0x05, "2.1").text(0x08, "01/01/2020");
    let system = Structure::new(1, 1, 0x1b).text(0x04, "Made Up").text(0x05, "Gale 24").text(0x07, "S-1");
    let board = Structure::new(2, 2, 0x0f).text(0x04, "Made Up").text(0x05, "GB-7");
    let processor = |handle, socket: &str, status| {
        let processor = Structure::new(4, handle, 0x30).put(0x05, 1, 3).put(0x18, 1, status);
        processor.text(0x04, socket).text(0x10, "Gale Core 12")
    };
    vec![firmware, system, board, processor(0x400, "CPU1", 0x41), processor(0x401, "CPU2", 0)]
}

/// All that the bytes say, the tool's text says.
fn holds(name: &str, structures: &[Structure], form: Form) {
    let Some(text) = printed(name, &form.wrap(structures)) else { return };
    let dialect = dialect(&text);
    let left: Vec<Structure> = structures.iter().map(|one| dialect.leaves(one)).collect();
    let bytes = smbios::read(text_name("dump"), &form.wrap(&left)).unwrap();
    let report = read(&text);
    assert_eq!((&report.identity, &report.processors), (&bytes.identity, &bytes.processors), "{text}");
    assert_eq!(report.is_incomplete, bytes.is_incomplete);
    assert_eq!(report.places.len(), bytes.places.len(), "{text}");
    for (printed, told) in report.places.iter().zip(&bytes.places) {
        if told.state == PlaceState::Failed && dialect.version >= (3, 4) {
            assert_eq!(printed.state, PlaceState::Absent);
            continue;
        }
        assert_eq!(printed, told, "{form:?}\n{text}");
    }
}

/// Clocked modules and those with multiplexed ranks are codes that not every version of the tool knows.
fn without_late_codes(mut device: Structure) -> Structure {
    for (name, at, known, instead) in [("form", 0x0e, 0x0f, 9), ("type", 0x12, 0x23, 0x22), ("technology", 0x28, 7, 3)]
    {
        if device.get(at, 1).is_some_and(|code| code > known) {
            device = device.with(name, instead);
        }
    }
    device
}

#[test]
fn a_machine_in_every_form() {
    let empty = device(0x1102, 0x1000, 0x28).say("locator", "A3").say("bank", "Node0_Channel0");
    let mut all = machine();
    all.extend([array(0x1000, 3), sound(0x1100), sound(0x1101), empty, end()]);
    // entry points whose table lies at 32, as in dump files
    for (name, form) in [("short", Form::Dump), ("long", Form::LongDump), ("oldest", Form::Oldest)] {
        holds(name, &all, form);
    }
}

#[test]
fn every_length_and_any_fields() {
    let mut all = machine();
    let mut devices: Vec<Structure> = Vec::new();
    for (handle, length) in (0x1100..).zip(DEVICE_LENGTHS) {
        let device = device(handle, 0x1000, length).with("size", 16_384).with("type", 0x1a).with("detail", 0x2080);
        let device = device.with("speed", 2400).with("running", 2133).with("rank", 2).with("running mv", 1200);
        devices.push(device.say("locator", &format!("D{length}")).say("maker", "80CE").say("part", "GW-16-2R4   "));
    }
    let mut runner = TestRunner::deterministic();
    for _ in 0..80 {
        devices.extend(any_devices().new_tree(&mut runner).unwrap().current().into_iter().map(without_late_codes));
    }
    for (handle, device) in (0x1100_u16..).zip(&mut devices) {
        device.fixed[2..4].copy_from_slice(&handle.to_le_bytes());
    }
    all.push(array(0x1000, devices.len()));
    all.extend(devices);
    all.push(end());
    holds("any", &all, Form::LongDump);
}
