mod by_tool;
mod containers;
mod damaged;
mod demo;
mod encoder;
mod grammars;
mod laws;
mod library;
mod machines;
mod printer;
mod traps;

use crate::intake::firmware_table::tests::encoder::Structure;
use crate::intake::smbios;
use crate::population::{Report, SeenModule, SeenPlace};
use crate::unit::Name;

fn text_name(text: &str) -> Name {
    Name::new(text).unwrap()
}

/// The report of a bare table.
fn read(structures: &[Structure]) -> Report {
    smbios::read(text_name("dump"), &encoder::table(structures)).unwrap()
}

/// The report of one device in an array of system memory.
fn read_one(device: Structure) -> Report {
    let report = read(&[encoder::array(0x1000, 1), device]);
    assert!(!report.is_incomplete);
    report
}

/// The one place of a report.
fn only_place(report: &Report) -> &SeenPlace {
    let [place] = report.places.as_slice() else { panic!("{report}") };
    place
}

/// The one module of a report.
fn only_module(report: &Report) -> &SeenModule {
    only_place(report).module.as_ref().expect("a module")
}

/// What a report remarks, in lines.
fn remarks(report: &Report) -> Vec<String> {
    report.remarks.iter().map(ToString::to_string).collect()
}

/// A module that no trap catches: 16 GB, registered, DDR4-2400.
fn sound(handle: u16) -> Structure {
    let device = encoder::device(handle, 0x1000, 0x28).with("size", 16_384).with("type", 0x1a).with("detail", 0x2080);
    let device = device.with("speed", 2400).with("rank", 2).with("running", 2133);
    let device = device.with("least mv", 1200).with("most mv", 1200).with("running mv", 1200);
    let device = device.say("locator", &format!("DIMM_{handle:X}")).say("bank", "Node0_Channel0");
    device.say("maker", "Made Up Memory").say("serial", &format!("A{handle:07X}")).say("part", "GW-16-2R4   ")
}
