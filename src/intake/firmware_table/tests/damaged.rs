//! No input stops the reader, and none makes it large.

use proptest::prelude::*;

use crate::intake::firmware_table::Remarks;
use crate::intake::firmware_table::tests::encoder::{Form, Structure, array, end};
use crate::intake::firmware_table::tests::printer::Dialect;
use crate::intake::firmware_table::tests::{sound, text_name};
use crate::intake::{smbios, smbios_text};
use crate::population::Report;

fn structures() -> Vec<Structure> {
    let processor = Structure::new(4, 0x400, 0x2a).put(5, 1, 3).text(4, "CPU1");
    vec![
        Structure::new(1, 1, 0x1b).text(5, "Gale 24"),
        processor,
        array(0x1000, 2),
        sound(0x1100),
        sound(0x1101),
        end(),
    ]
}

/// What holds of whatever is read: it is bounded, and it reads back from its document.
fn check(report: &Report, length: usize) {
    assert!(report.remarks.len() <= Remarks::MOST + 1);
    assert!(report.places.len() + report.processors.len() <= length / 4 + 1);
    let document = serde_json::to_string(report).unwrap();
    assert_eq!(serde_json::from_str::<Report>(&document).unwrap(), *report);
    let mut ids: Vec<_> = report.places.iter().map(|place| &place.id).collect();
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), report.places.len());
}

fn bytes(input: &[u8]) {
    let _known = smbios::looks_like(input);
    if let Ok(report) = smbios::read(text_name("x"), input) {
        check(&report, input.len());
    }
}

fn text(input: &str) {
    let _known = smbios_text::looks_like(input.as_bytes());
    for report in smbios_text::read(text_name("x"), input).unwrap_or_default() {
        check(&report, input.len());
    }
}

#[test]
fn every_beginning() {
    for form in Form::ALL {
        let whole = form.wrap(&structures());
        (0..=whole.len()).for_each(|length| bytes(&whole[..length]));
    }
    let whole = Dialect::of((3, 3)).print(&structures());
    (0..=whole.len()).for_each(|length| text(&whole[..length]));
}

#[test]
fn every_byte_changed() {
    let whole = Form::Dump.wrap(&structures());
    for at in 0..whole.len() {
        for value in [0, 1, 3, 17, 0x7f, 0x80, 0xff] {
            let mut changed = whole.clone();
            changed[at] = value;
            bytes(&changed);
        }
    }
}

/// Numbers that look random and are the same each time (xorshift).
fn next(state: &mut u64) -> usize {
    *state ^= *state << 13;
    *state ^= *state >> 7;
    *state ^= *state << 17;
    usize::try_from(*state >> 33).unwrap()
}

#[test]
fn thousands_of_changed_tables() {
    let mut state = 0x5107_0917;
    let print = Dialect::of((2, 12)).print(&structures());
    for round in 0..3000 {
        let mut changed = Form::ALL[round % Form::ALL.len()].wrap(&structures());
        for _ in 0..=next(&mut state) % 8 {
            let at = next(&mut state) % changed.len();
            changed[at] = u8::try_from(next(&mut state) % 256).unwrap();
        }
        bytes(&changed);
        if round % 4 == 0 {
            let mut changed = print.clone().into_bytes();
            for _ in 0..=next(&mut state) % 8 {
                let (from, to) = (next(&mut state) % changed.len(), next(&mut state) % changed.len());
                match next(&mut state) % 3 {
                    0 => changed[to] = changed[from],
                    1 => changed.swap(from, to),
                    _ => changed.extend_from_within(from.min(to)..from.max(to)),
                }
            }
            text(&String::from_utf8_lossy(&changed));
        }
    }
}

#[test]
fn large_inputs_are_read_once() {
    // short devices with one handle, and texts without an end
    let many = Structure::new(17, 7, 0x15).bytes().repeat(70_000);
    let report = smbios::read(text_name("x"), &many).unwrap();
    assert_eq!((report.places.len(), report.is_incomplete), (65_536, true));
    let mut long = vec![1, 6, 0, 0, 1, 2];
    long.resize(4_000_000, b'x');
    assert!(smbios::read(text_name("x"), &long).is_ok());
    // machines, wrapped lines, keys without a structure
    let machines = smbios_text::read(text_name("x"), &"Handle 0x0000, DMI type 0, 9 bytes\n".repeat(50_000)).unwrap();
    assert_eq!(machines.len(), 1_000);
    let words = format!(
        "Handle 0x1, DMI type 17, 9 bytes\nPart Number: GW\n{}",
        "word to word to word to word to word to\n".repeat(50_000)
    );
    assert_eq!(smbios_text::read(text_name("x"), &words).unwrap().len(), 1);
    let sizes = format!("Handle 0x1, DMI type 17, 9 bytes\n{}", "Size: 1 GB\n".repeat(200_000));
    assert_eq!(smbios_text::read(text_name("x"), &sizes).unwrap()[0].places.len(), 1);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn any_bytes(input in prop::collection::vec(any::<u8>(), 0..300), form in 0..4_usize) {
        let head = [&b""[..], b"_SM_", b"_SM3_", b"_DMI_"][form];
        bytes(&[head, &input].concat());
    }

    #[test]
    fn any_text(lines in prop::collection::vec("[ \t>]{0,2}(Handle 0x[0-9]{1,5}|DMI type 1?[0-9]|Memory Device|Size: [0-9]{0,12} ?[kMGT]?B?|Speed: [0-9.]{0,6} M|Type: DDR[2-5]|\\PC{0,20}|(Voltage|Rank|Locator):.{0,9})", 0..30)) {
        text(&lines.join("\n"));
    }
}
