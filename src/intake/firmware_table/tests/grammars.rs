//! Texts of every version, and what becomes of them in a mail.

use crate::intake::firmware_table::tests::encoder::{Structure, array, device, table};
use crate::intake::firmware_table::tests::printer::Dialect;
use crate::intake::firmware_table::tests::{only_module, only_place, remarks, sound, text_name};
use crate::intake::smbios;
use crate::intake::smbios_text::{self, SmbiosTextError};
use crate::module::{Generation, ModuleKind};
use crate::population::{DeviceSort, PlaceState, Report};
use crate::unit::{Capacity, DataRate, Name, Voltage};

fn reports(text: &str) -> Vec<Report> {
    smbios_text::read(text_name("mail"), text).unwrap()
}

fn only(text: &str) -> Report {
    let mut reports = reports(text);
    assert_eq!(reports.len(), 1, "{text}");
    reports.remove(0)
}

/// One device of an array, with these lines.
fn lines(lines: &[&str]) -> Report {
    let lines: String = lines.iter().map(|line| format!("\t{line}\n")).collect();
    only(&format!(
        "Handle 0x1000, DMI type 16, 23 bytes\nPhysical Memory Array\n\tUse: System Memory\n\tNumber Of Devices: 1\n\n\
         Handle 0x1100, DMI type 17, 84 bytes\nMemory Device\n\tArray Handle: 0x1000\n{lines}"
    ))
}

#[test]
fn the_oldest_grammar() {
    let report = only(
        "# dmidecode 2.6\nSMBIOS 2.3 present.\n\nHandle 0x1000\n\tDMI type 16, 15 bytes.\n\tPhysical Memory Array\n\t\tLocation: System Board Or Motherboard\n\t\tUse: System Memory\n\t\tNumber Of Devices: 1\n\
         Handle 0x1100\n\tDMI type 17, 27 bytes.\n\tMemory Device\n\t\tArray Handle: 0x1000\n\t\tTotal Width: 72 bits\n\t\tData Width: 64 bits\n\t\tSize: 2048 MB\n\t\tForm Factor: DIMM\n\t\tSet: 1\n\t\tLocator: DIMM 1A\n\
         \t\tBank Locator: Not Specified\n\t\tType: <OUT OF SPEC>\n\t\tType Detail: Synchronous\n\t\tSpeed: 1333 MHz (0.8 ns)\n\t\tManufacturer: Made Up Memory\n\t\tSerial Number: 12AB\n\t\tAsset Tag:\n\t\tPart Number: GW-2\n",
    );
    let place = only_place(&report);
    assert_eq!((place.id.as_str(), place.state), ("0x1100", PlaceState::InUse));
    assert_eq!((place.locator.clone(), place.bank.clone()), (Some(text_name("DIMM 1A")), None));
    let module = only_module(&report);
    assert_eq!((module.capacity_mib, module.grade_mts), (Some(Capacity::from_gib(2)), Some(DataRate::DDR3_1333)));
    assert_eq!((module.part_number.clone(), module.generation), (Some(text_name("GW-2")), None));
    assert_eq!((remarks(&report), report.is_incomplete), (Vec::new(), false));
}

#[test]
fn values_of_every_version() {
    let capacity = |value: &str| {
        let report = lines(&[value]);
        let place = only_place(&report);
        (
            place.state,
            place.module.as_ref().and_then(|module| module.capacity_mib).map(Capacity::mib),
            remarks(&report).len(),
        )
    };
    let in_use = PlaceState::InUse;
    assert_eq!(capacity("Size: 16384 MB"), (in_use, Some(16_384), 0));
    assert_eq!(capacity("Size: 16 GB"), (in_use, Some(16_384), 0));
    assert_eq!(capacity("size:  16 GiB"), (in_use, Some(16_384), 0));
    assert_eq!(capacity("Size: 2048 kB"), (in_use, Some(2), 0));
    assert_eq!(capacity("Size: 1 TB"), (in_use, Some(1 << 20), 0));
    assert_eq!(capacity("Size: 256 kB"), (in_use, None, 1));
    assert_eq!(capacity("Size: 32767 MB"), (in_use, None, 1), "the code for \"too large\"");
    assert_eq!(capacity("Size: 0 TB"), (in_use, None, 1), "the extended size is not filled in");
    assert_eq!(capacity("Size: No Module Installed"), (PlaceState::Absent, None, 0));
    assert_eq!(capacity("Size: Unknown"), (in_use, None, 0));
    assert_eq!(capacity("Size: large"), (PlaceState::Unknown, None, 1));
    assert_eq!(capacity("Size: 99999999999999 GB"), (PlaceState::Unknown, None, 1));
    assert_eq!(capacity("Locator: A1"), (PlaceState::Unknown, None, 0));

    let rates = |these: [&str; 2]| {
        let report = lines(&["Size: 16 GB", these[0], these[1]]);
        (only_module(&report).grade_mts, only_place(&report).running_rate_mts)
    };
    let both = (Some(DataRate::DDR4_2400), Some(DataRate::DDR4_2133));
    assert_eq!(rates(["Speed: 2400 MHz", "Configured Clock Speed: 2133 MHz"]), both);
    assert_eq!(rates(["Speed: 2400 MT/s", "Configured Clock Speed: 2134 MT/s"]), both);
    assert_eq!(rates(["Speed: 2400 MT/s", "Configured Memory Speed: 2133 MT/s"]), both);
    assert_eq!(rates(["Speed: Unknown", "Configured Memory Speed: Unknown"]), (None, None));

    for line in [
        "Configured Voltage: 1.2 V",
        "Configured voltage:  1.2 V",
        "Configured Voltage: 1.200 V",
        "Configured Voltage: 1.2000 V",
    ] {
        assert_eq!(only_place(&lines(&["Size: 16 GB", line])).running_voltage_mv, Some(Voltage::V1_2), "{line}");
    }
    assert_eq!(
        only_place(&lines(&["Size: 16 GB", "Configured Voltage: 1 V"])).running_voltage_mv,
        Some(Voltage::from_mv(1000))
    );
    assert_eq!(only_place(&lines(&["Size: 16 GB", "Configured Voltage: Unknown"])).running_voltage_mv, None);

    let report = lines(&[
        "Size: 16 GB",
        "Module Manufacturer ID: Bank 2, Hex 0x98",
        "Memory Technology: Made Up persistent memory",
    ]);
    let module = only_module(&report);
    assert_eq!((module.maker_id, module.device), (Some("2-18".parse().unwrap()), Some(DeviceSort::Persistent)));
}

#[test]
fn what_cannot_be_read_is_remarked_with_its_line() {
    let report = lines(&["Size: 16 GB", "Speed: fast", "Form Factor: Blade", "Part Number: <BAD INDEX>", "Type: DDR4"]);
    assert_eq!(
        remarks(&report),
        [
            "line 10: speed: fast is not known",
            "line 11: form factor: Blade is not known",
            "line 12: part number is not read: the structure has no such text",
        ]
    );
    assert_eq!(only_module(&report).generation, Some(Generation::Ddr4));
}

#[test]
fn details_of_empty_places_may_be_missing() {
    let empty = device(0x1101, 0x1000, 0x54).say("locator", "A2");
    let structures = [array(0x1000, 2), sound(0x1100), empty];
    for dialect in Dialect::all() {
        let report = only(&dialect.print(&structures));
        assert_eq!(report.places[1].state, PlaceState::Absent);
        assert_eq!((&report.places[1].locator, &report.places[1].module), (&Some(text_name("A2")), &None));
    }
}

#[test]
fn tools_before_3_1_do_not_tell_registered_from_load_reduced() {
    let kind = |detail: u64, dialect: Dialect| {
        let module = sound(0x1100).with("detail", detail).with("type", 0x18).with("speed", 1600).with("running", 1600);
        let report = only(&dialect.print(&[array(0x1000, 1), module]));
        (only_module(&report).kind, remarks(&report).len())
    };
    assert_eq!(kind(0xa080, Dialect::of((3, 1))), (Some(ModuleKind::LoadReduced), 0));
    assert_eq!(kind(0x2080, Dialect::of((3, 1))), (Some(ModuleKind::Registered), 0));
    for version in [(2, 9), (2, 12), (3, 0)] {
        for has_heading in [true, false] {
            let old = Dialect { has_heading, ..Dialect::of(version) };
            assert_eq!(kind(0x2080, old), (None, 1), "the unit tells where the heading is lost");
            assert_eq!(kind(0xa080, old), (None, 1));
            assert_eq!(kind(0x4080, old), (Some(ModuleKind::Unbuffered), 0));
        }
    }
}

fn print() -> String {
    let firmware = Structure::new(0, 0, 0x18).text(5, "2.1");
    let processor = Structure::new(4, 0x400, 0x2a).put(5, 1, 3).put(0x18, 1, 0x41);
    let processor = processor.text(4, "CPU1").text(0x10, "Gale Core 12");
    Dialect::of((3, 3)).print(&[firmware, processor, array(0x1000, 2), sound(0x1100), sound(0x1101)])
}

fn same(text: &str) {
    let (plain, pasted) = (only(&print()), only(text));
    assert_eq!(pasted.places, plain.places, "{text}");
    assert_eq!((&pasted.identity, &pasted.processors), (&plain.identity, &plain.processors), "{text}");
    assert_eq!(pasted.is_incomplete, plain.is_incomplete);
    assert_eq!(pasted.remarks.len(), plain.remarks.len());
}

#[test]
fn text_pasted_into_a_mail() {
    let print = print();
    let each = |change: &dyn Fn(&str) -> String| print.lines().map(change).collect::<Vec<_>>().join("\n");
    same(&each(&|line| format!("> {line}")));
    same(&each(&|line| format!(">> > {line}")));
    same(&each(&|line| line.trim().to_owned()));
    same(&each(&|line| line.replace('\t', "    ")));
    same(&each(&|line| line.replace('\t', "\u{a0}\u{a0}")));
    same(&each(&|line| format!("{line}\r")));
    same(&each(&|line| format!("{line}\n")));
    same(&each(&|line| format!("{line}   ")));
    same(&format!("Hello,\n\nhere is what it says:\n\n{print}\nRegards,\nsomebody\n"));
    let no_blanks: Vec<&str> = print.lines().filter(|line| !line.is_empty()).collect();
    same(&no_blanks.join("\n"));
}

#[test]
fn wrapped_lines_are_joined() {
    let wrapped = print().replace("Registered (Buffered)", "Registered\n(Buffered)");
    same(&wrapped);
    same(&wrapped.replace("Detail: Synchronous Registered", "Detail:\nSynchronous Registered"));
    same(&wrapped.replace("DMI type 17, 40 bytes", "DMI type 17, 40\nbytes"));
    same(&wrapped.replace(", DMI type 17", ",\nDMI type 17"));
    same(&wrapped.replace("Bank Locator: Node0", "Bank Locator:\nNode0"));
    // a word that had room is none of the value
    let talk = print().replace("Part Number: GW-16-2R4   \n", "Part Number: GW-16-2R4\nlooks fine to me\n");
    same(&talk);
    let report = lines(&["Size: 16 GB", "Part Number: GW-16-2R4-GALE-AND-SOME-MORE-DIGITS", "TO-FOLLOW"]);
    assert_eq!(only_module(&report).part_number, Some(text_name("GW-16-2R4-GALE-AND-SOME-MORE-DIGITS TO-FOLLOW")));
}

#[test]
fn a_print_without_handles() {
    let quiet = Dialect { is_quiet: true, ..Dialect::of((3, 3)) };
    let cache = Structure::new(7, 0x700, 0x13);
    let report = only(&quiet.print(&[array(0x1000, 2), sound(0x1100), cache, sound(0x1101)]));
    let ids: Vec<&str> = report.places.iter().map(|place| place.id.as_str()).collect();
    assert_eq!(ids, ["line 10", "line 33"]);
    assert_eq!(report.places[1].locator, Some(text_name("DIMM_1101")));
    assert_eq!((remarks(&report), report.is_incomplete), (Vec::new(), false));
}

fn names(text: &str) -> Vec<String> {
    reports(text).iter().map(|report| format!("{} {}", report.name, report.places.len())).collect()
}

#[test]
fn several_machines_in_one_paste() {
    let print = print();
    assert_eq!(names(&format!("{print}{print}{print}")), ["mail 2", "mail (2) 2", "mail (3) 2"]);
    // no heading, no firmware: the first handle again
    let memory = Dialect { has_heading: false, ..Dialect::of((3, 3)) }.print(&[array(0x1000, 1), sound(0x1100)]);
    assert_eq!(names(&memory.repeat(2)), ["mail 1", "mail (2) 1"]);
    // other handles, and the heading again
    let (one, other) = (Dialect::of((3, 3)).print(&[sound(0x1100)]), Dialect::of((3, 3)).print(&[sound(0x2100)]));
    assert_eq!(names(&format!("{one}{other}")), ["mail 1", "mail (2) 1"]);
    // two calls of the tool on one machine
    let system = Dialect::of((3, 3)).print(&[Structure::new(1, 1, 0x1b).text(5, "Gale 24")]);
    assert_eq!(
        names(&format!("{system}{}", Dialect::of((3, 3)).print(&[array(0x1000, 1), sound(0x1100)]))),
        ["mail 1"]
    );
    let long = "n".repeat(Name::MAX_BYTES);
    let reports = smbios_text::read(text_name(&long), &memory.repeat(2)).unwrap();
    assert_eq!(reports[1].name, format!("{} (2)", &long[4..]).as_str());
}

#[test]
fn a_part_of_a_print_is_incomplete() {
    let memory = Dialect::of((3, 3));
    assert!(only(&memory.print(&[sound(0x1100)])).is_incomplete);
    assert!(only(&memory.print(&[array(0x1000, 1)])).is_incomplete);
    assert!(!only(&memory.print(&[array(0x1000, 1), sound(0x1100)])).is_incomplete);
    assert!(only(&memory.print(&[array(0x1000, 2), sound(0x1100)])).is_incomplete);
}

#[test]
fn texts_that_print_nothing() {
    for text in [
        "",
        "\n\n",
        "Dear all,\nthe machine has 16 GB: fine.\n",
        "# dmidecode 3.3\nScanning /dev/mem for entry point.\n",
    ] {
        assert_eq!(smbios_text::read(text_name("x"), text), Err(SmbiosTextError::NoStructure), "{text}");
    }
    assert!(SmbiosTextError::NoStructure.to_string().starts_with("no structure is printed in the text: "));
}

#[test]
fn texts_are_known() {
    for dialect in Dialect::all() {
        for has_heading in [true, false] {
            for is_quiet in [true, false] {
                let print = Dialect { has_heading, is_quiet, ..dialect }.print(&[sound(1)]);
                assert!(smbios_text::looks_like(print.as_bytes()), "{print}");
                assert!(!smbios::looks_like(print.as_bytes()));
            }
        }
    }
    let bytes = table(&[array(1, 1), sound(2)]);
    for other in [&bytes[..], b"", b"Handle with care\n", b"Memory Devices\n", b"dmidecode\n"] {
        assert!(!smbios_text::looks_like(other));
    }
}

#[test]
fn a_text_that_begins_within_a_structure_says_so() {
    let text = "\tSize: 16 GB\n\tLocator: A1\n\nHandle 0x1101, DMI type 17, 40 bytes\nMemory Device\n\tSize: 8 GB\n\tLocator: B1\n";
    let reports = smbios_text::read(text_name("paste"), text).unwrap();
    assert!(reports[0].is_incomplete);
    let remark = "lines 1 to 2: a part of a structure is not read: its beginning is not in the text";
    assert_eq!(reports[0].remarks[0].to_string(), remark);
    // the head of a mail is none
    let mail = format!("From: someone\nSubject: memory\nDate: today\n\n{}", text.split_once("\n\n").unwrap().1);
    let reports = smbios_text::read(text_name("mail"), &mail).unwrap();
    assert!(reports[0].remarks.is_empty(), "{:?}", reports[0].remarks);
}
