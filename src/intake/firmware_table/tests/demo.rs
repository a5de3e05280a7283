//! The reports of the examples, `examples/data/report.bin` and `report.txt`: the machine of `examples/data/fitted.txt`.
//!
//! With `UPDATE_DEMO=1` the test writes them; the text only where the tool that prints it is installed.

use std::fs;
use std::path::PathBuf;

use crate::intake::firmware_table::tests::encoder::{Form, Structure, array, device, end, sum_up};
use crate::intake::firmware_table::tests::{remarks, text_name};
use crate::intake::tool::tool;
use crate::intake::{smbios, smbios_text};
use crate::module::{Label, MemoryModule};
use crate::population::{Observed, PlaceState, Report};
use crate::reference;
use crate::unit::{DataRate, Voltage};

fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples/data").join(name)
}

fn is_updating() -> bool {
    std::env::var_os("UPDATE_DEMO").is_some_and(|value| value == "1")
}

/// What a place holds.
#[derive(Clone, Copy)]
enum Holds {
    Nothing,
    Large,
    Small,
}

fn holds(channel: char, slot: u32) -> Holds {
    match (channel, slot) {
        ('A'..='D', 1 | 2) => Holds::Large,
        ('E' | 'F', 1) => Holds::Small,
        _ => Holds::Nothing,
    }
}

fn place(handle: u16, channel: char, slot: u32) -> Structure {
    let socket = if channel < 'E' { 1 } else { 2 };
    let place = device(handle, 0x1000, 0x5c);
    let named = |place: Structure| {
        place.say("locator", &format!("CPU{socket}_DIMM_{channel}{slot}")).say("bank", &format!("NODE {socket}"))
    };
    let (size, ranks, rated, part, serial) = match holds(channel, slot) {
        // widths and type are not known of what is not there
        Holds::Nothing => {
            return named(place.with("total", 0xffff).with("data", 0xffff).with("type", 2).with("detail", 4));
        }
        Holds::Large => (16_384, 2, 2400, "GW-16-2R4", 0x4b30_0100),
        Holds::Small => (8192, 1, 2133, "GW-8-1R8", 0x4b30_0200),
    };
    let filled = named(place.with("size", size).with("type", 0x1a).with("detail", 0x2080));
    let filled = filled.with("speed", rated).with("running", 2133).with("rank", ranks);
    let filled = filled.with("least mv", 1200).with("most mv", 1200).with("running mv", 1200);
    let filled = filled.with("technology", 3).with("modes", 8).with("volatile", size << 20);
    let serial = format!("{:08X}", serial + u32::from(handle & 0xff));
    filled.say("maker", "Made Up Memory").say("serial", &serial).say("part", part)
}

fn processor(handle: u16, socket: &str) -> Structure {
    let processor = Structure::new(4, handle, 0x30).put(0x05, 1, 3).put(0x06, 1, 2).put(0x18, 1, 0x41).put(0x19, 1, 2);
    processor.text(0x04, socket).text(0x07, "Brackwater").text(0x10, "Gale processor later")
}

fn structures() -> Vec<Structure> {
    let firmware = Structure::new(0, 0x0000, 0x1a).text(0x04, "Brackwater").text(0x05, "1.9").text(0x08, "03/14/2017");
    let system = Structure::new(1, 0x0100, 0x1b).text(0x04, "Brackwater").text(0x05, "Gale 24").text(0x07, "BW-2217");
    let mut all = vec![firmware, system.put(0x18, 1, 6), processor(0x0400, "CPU1"), processor(0x0401, "CPU2")];
    all.push(array(0x1000, 24).put(0x07, 4, 0x6000_0000).put(0x0b, 2, 0xfffe));
    let places = ('A'..='H').flat_map(|channel| (1..=3).map(move |slot| (channel, slot)));
    all.extend((0x1100..).zip(places).map(|(handle, (channel, slot))| place(handle, channel, slot)));
    all.push(end());
    all
}

/// The dump file; its entry point tells the very length of the table.
fn dump() -> Vec<u8> {
    let mut bytes = Form::LongDump.wrap(&structures());
    let length = u32::try_from(bytes.len() - 32).unwrap();
    bytes[0x0c..0x10].copy_from_slice(&length.to_le_bytes());
    bytes[0x08] = 3;
    sum_up(&mut bytes[..0x18], 5);
    bytes
}

fn report_of_bytes() -> Report {
    smbios::read(text_name("report"), &fs::read(file("report.bin")).unwrap()).unwrap()
}

fn report_of_text() -> Report {
    let reports = smbios_text::read(text_name("report"), &fs::read_to_string(file("report.txt")).unwrap()).unwrap();
    let [report] = reports.try_into().unwrap();
    report
}

#[test]
fn the_files_are_what_the_encoders_write() {
    if is_updating() {
        fs::write(file("report.bin"), dump()).unwrap();
        let path = file("report.bin");
        if let Some(text) = tool("dmidecode", &["--from-dump", path.to_str().unwrap()]) {
            // the tool's own words about where it reads from
            let kept: Vec<&str> = text.lines().filter(|line| !line.starts_with("Reading SMBIOS/DMI data")).collect();
            fs::write(file("report.txt"), kept.join("\n").trim_end().to_owned() + "\n").unwrap();
        }
    }
    assert!(fs::read(file("report.bin")).unwrap() == dump(), "UPDATE_DEMO=1 writes it anew");
}

#[test]
fn bytes_and_text_say_the_same() {
    let (bytes, text) = (report_of_bytes(), report_of_text());
    assert_eq!(bytes.places.len(), 24);
    assert_eq!(bytes.filled().count(), 10);
    assert_eq!((remarks(&bytes), remarks(&text)), (Vec::new(), Vec::new()));
    assert_eq!(bytes, text);
    assert!(!bytes.is_incomplete);
    let identity = &bytes.identity;
    let said = [&identity.maker, &identity.product, &identity.serial, &identity.firmware];
    assert_eq!(said.map(|name| name.as_ref().unwrap().as_str()), ["Brackwater", "Gale 24", "BW-2217", "1.9"]);
    for place in bytes.filled() {
        assert_eq!(place.running_rate_mts, Some(DataRate::DDR4_2133));
        assert_eq!(place.running_voltage_mv, Some(Voltage::V1_2));
    }
}

#[test]
fn they_report_what_is_fitted() {
    let fitted = fs::read_to_string(file("fitted.txt")).unwrap();
    let lines = fitted.lines().filter(|line| !line.starts_with('#')).filter_map(|line| line.split_once(' '));
    let fitted: Vec<(&str, Label)> = lines.map(|(slot, label)| (slot, label.trim().parse().unwrap())).collect();
    assert_eq!(fitted.len(), 10);
    let sited = Observed::of([report_of_bytes()]).unwrap().on(&reference::ddr4_2s_4ch_3spc()).unwrap();
    assert_eq!(sited.slots.len(), 24);
    for slot in &sited.slots {
        let Some((_, label)) = fitted.iter().find(|(name, _)| slot.slot == **name) else {
            assert_eq!(slot.state, PlaceState::Absent, "{}", slot.slot);
            continue;
        };
        assert_eq!(slot.state, PlaceState::InUse, "{}", slot.slot);
        let module = sited.module_in(slot.slot.as_str()).unwrap();
        let facts = |module: &MemoryModule| {
            (module.kind(), module.capacity(), module.grade(), module.ecc(), module.package_ranks(), module.width())
        };
        assert!(module.readings.iter().any(|reading| facts(reading) == facts(label.module())), "{}", slot.slot);
    }
    assert_eq!(sited.processors.len(), 2);
}
