//! Arrays, processors and the machine itself.

use crate::intake::firmware_table::Remarks;
use crate::intake::firmware_table::tests::encoder::{Structure, array, device};
use crate::intake::firmware_table::tests::{only_module, read, remarks, sound, text_name};
use crate::population::{DeviceSort, MachineIdentity, Remark, Report, SeenProcessor};

fn ids(report: &Report) -> Vec<&str> {
    report.places.iter().map(|place| place.id.as_str()).collect()
}

fn firmware(maker: &str, version: &str) -> Structure {
    Structure::new(0, 0, 0x18).text(0x04, maker).text(0x05, version)
}

fn system(maker: &str, product: &str, serial: &str) -> Structure {
    Structure::new(1, 1, 0x1b).text(0x04, maker).text(0x05, product).text(0x07, serial)
}

#[test]
fn only_system_memory_counts() {
    for usage in [1, 4, 5, 6, 7] {
        let other = array(0x2000, 1).put(0x05, 1, usage);
        let flash = device(0x2100, 0x2000, 0x1c).with("size", 16).say("locator", "X1");
        let report = read(&[array(0x1000, 1), sound(0x1100), other, flash]);
        assert_eq!(ids(&report), ["0x1100"]);
        assert!(remarks(&report)[0].contains("device 0x2100 is not read: the use of its array is "), "{report}");
        assert!(!report.is_incomplete);
    }
    // the arrays may stand behind their devices
    let report =
        read(&[sound(0x1100), device(0x2100, 0x2000, 0x1c).with("size", 16), array(0x2000, 1).put(0x05, 1, 5)]);
    assert_eq!(ids(&report), ["0x1100"]);
}

#[test]
fn an_array_of_unknown_use_counts_only_where_no_other_is_for_the_system() {
    let unknown = array(0x1000, 1).put(0x05, 1, 2);
    assert_eq!(ids(&read(&[unknown.clone(), sound(0x1100)])), ["0x1100"]);
    assert_eq!(ids(&read(&[unknown, sound(0x1100), array(0x2000, 0)])), [""; 0]);
}

#[test]
fn storage_in_the_array_of_the_system_is_left_out() {
    for locator in ["BIOS", "SPI ROM", "SYSTEM ROM", "System_Rom", "flash"] {
        let report = read(&[array(0x1000, 2), sound(0x1100), sound(0x1101).say("locator", locator)]);
        assert_eq!(ids(&report), ["0x1100"], "{locator}");
        assert!(remarks(&report)[0].ends_with(&format!("it is at {locator}")), "{report}");
    }
    for sort in 8..=12 {
        let report = read(&[array(0x1000, 2), sound(0x1100), sound(0x1101).with("type", sort)]);
        assert_eq!(ids(&report), ["0x1100"]);
    }
    for locator in ["ROM1", "DIMM ROM A", "BIOS DIMM", "A1"] {
        assert_eq!(ids(&read(&[array(0x1000, 1), sound(0x1101).say("locator", locator)])).len(), 1, "{locator}");
    }
}

#[test]
fn a_count_that_is_wrong_is_remarked() {
    let report = read(&[array(0x1000, 3), sound(0x1100), sound(0x1101)]);
    assert_eq!(remarks(&report), ["byte 0x0: number of devices: 3 does not go with 2 that are listed"]);
    assert!(report.is_incomplete, "by its own word");
    let report = read(&[array(0x1000, 1), sound(0x1100), sound(0x1101)]);
    assert_eq!((remarks(&report).len(), report.is_incomplete, report.places.len()), (1, false, 2));
}

#[test]
fn an_array_that_is_not_there_is_remarked() {
    let report = read(&[array(0x1000, 1), sound(0x1100), device(0x1101, 0x3000, 0x28).with("size", 4096)]);
    assert_eq!(report.places.len(), 2);
    assert_eq!(remarks(&report), ["byte 0x84: array handle: 0x3000 does not go with the arrays of this report"]);
}

#[test]
fn the_greatest_capacity_of_an_array_is_no_limit() {
    let small = array(0x1000, 1).put(0x07, 4, 1024);
    assert_eq!(remarks(&read(&[small, sound(0x1100)])), [""; 0]);
}

#[test]
fn memory_on_an_expander_card_is_no_plain_memory() {
    let report = read(&[array(0x1000, 1).put(0x04, 1, 0xa4), sound(0x1100)]);
    assert_eq!(only_module(&report).device, Some(DeviceSort::Expander));
}

#[test]
fn address_ranges_make_no_total() {
    let range = Structure::new(19, 0x1300, 0x0f).put(0x08, 4, 0x00ff_ffff).put(0x0c, 2, 0x1000);
    let report = read(&[array(0x1000, 1), sound(0x1100), range]);
    assert_eq!((report.totals.len(), report.remarks.len()), (0, 0));
}

#[test]
fn the_machine_is_named() {
    let board = Structure::new(2, 2, 0x0f).text(0x05, "GB-7");
    let structures = [
        firmware("Made Up Firmware", " 2.1a "),
        system("Made Up", "Gale 24", "S-1"),
        board,
        array(0x1000, 1),
        sound(0x1100),
    ];
    let identity = MachineIdentity::new()
        .maker(text_name("Made Up"))
        .product(text_name("Gale 24"))
        .serial(text_name("S-1"))
        .board(text_name("GB-7"))
        .firmware(text_name("2.1a"));
    let report = read(&structures);
    assert_eq!((report.identity, report.virtual_machine), (identity, None));

    let placeholders = system("To Be Filled By O.E.M.", "System Product Name", "Default string");
    assert_eq!(read(&[placeholders]).identity, MachineIdentity::new());
}

#[test]
fn virtual_machines_are_recognised() {
    for (maker, product) in [
        ("Someone", "Virtual Machine"),
        ("VMware, Inc.", "VMware Virtual Platform"),
        ("QEMU", "Standard PC"),
        ("Xen", "HVM domU"),
        ("Bochs", "Bochs"),
        ("Red", "KVM"),
        ("innotek", "VirtualBox"),
        ("Amazon EC2", "m7"),
        ("OpenStack Foundation", "Nova"),
        ("Cloud", "Google Compute Engine"),
    ] {
        assert!(read(&[system(maker, product, "1")]).virtual_machine.is_some(), "{maker} {product}");
    }
    let report = read(&[firmware("Made Up", "x"), system("Someone", "Virtual Machine", "1")]);
    assert_eq!(report.virtual_machine, Some(text_name("Virtual Machine")));
    assert!(report.is_incomplete, "it has no memory devices");
    for (maker, product) in [("Made Up", "Gale 24"), ("Xenon", "KVMs and more"), ("Made Up", "Virtual Machines 2")] {
        assert_eq!(read(&[system(maker, product, "1")]).virtual_machine, None, "{maker} {product}");
    }
}

fn processor(handle: u16, socket: &str, status: u64, version: &str) -> Structure {
    let processor = Structure::new(4, handle, 0x2a).put(0x05, 1, 3).put(0x18, 1, status);
    processor.text(0x04, socket).text(0x10, version)
}

#[test]
fn processors() {
    let coprocessor = processor(0x402, "X", 0x41, "y").put(0x05, 1, 4);
    let report = read(&[
        processor(0x400, "CPU1", 0x41, " Gale Core 12   "),
        processor(0x401, "CPU2", 0x00, "Not Specified"),
        coprocessor,
        processor(0x403, "  ", 0x41, " "),
        Structure::new(4, 0x404, 0x10).put(0x05, 1, 3).text(0x04, "CPU4"),
    ]);
    let seen = |socket: &str, id: &str| SeenProcessor::new(text_name(socket)).id(text_name(id));
    let expected = [
        seen("CPU1", "0x0400").is_present(true).text(text_name("Gale Core 12")),
        seen("CPU2", "0x0401").is_present(false),
        seen("0x0403", "0x0403").is_present(true),
        seen("CPU4", "0x0404"),
    ];
    assert_eq!(report.processors, expected);
}

#[test]
fn remarks_are_counted_beyond_a_thousand() {
    let mut all = vec![array(0x1000, 2000)];
    all.extend((0..2000).map(|handle| sound(handle).with("speed", 50)));
    let report = read(&all);
    assert_eq!((report.places.len(), report.remarks.len()), (2000, Remarks::MOST + 1));
    assert_eq!(
        report.remarks.last(),
        Some(&Remark::unread("the rest", "1000 more remarks", "only the first 1,000 are kept"))
    );
}
