use crate::intake::firmware_table::tests::encoder::{Form, Structure, array, end, table};
use crate::intake::firmware_table::tests::{read, remarks, sound, text_name};
use crate::intake::smbios::{self, SmbiosError};
use crate::population::{Remarked, Report};

fn read_bytes(bytes: &[u8]) -> Report {
    smbios::read(text_name("dump"), bytes).unwrap()
}

fn structures() -> Vec<Structure> {
    vec![array(0x1000, 2), sound(0x1100), sound(0x1101), end()]
}

#[test]
fn every_form_gives_the_same() {
    let bare = read(&structures());
    assert_eq!(remarks(&bare), [""; 0]);
    assert_eq!((bare.places.len(), bare.is_incomplete), (2, false));
    for form in Form::ALL {
        let mut report = read_bytes(&form.wrap(&structures()));
        assert_eq!(remarks(&report), [""; 0], "{form:?}");
        report.remarks.clear();
        assert_eq!(report, bare, "{form:?}");
    }
}

#[test]
fn every_form_is_known() {
    for form in Form::ALL {
        assert!(smbios::looks_like(&form.wrap(&structures())), "{form:?}");
    }
    assert!(smbios::looks_like(&sound(1).bytes()), "one structure");
    // the content of a module's own memory begins like a structure
    let mut module = [0; 512];
    module[..14].copy_from_slice(&[0x23, 0x11, 0x0c, 0x02, 0x85, 0x21, 0x00, 0x08, 0x00, 0x60, 0x00, 0x03, 0x01, 0x03]);
    module[126..128].copy_from_slice(&[0x12, 0x34]);
    for other in [&b""[..], b"{\"Members\": []}", &[0; 512], &module, &module[..256], b"_SM", "Größe: 16\n".as_bytes()]
    {
        assert!(!smbios::looks_like(other), "{other:?}");
    }
}

#[test]
fn single_structures_one_after_the_other_are_a_part_of_a_table() {
    let report = read(&[sound(0x1100), sound(0x1101)]);
    assert_eq!((report.places.len(), report.is_incomplete), (2, true));
    assert_eq!(remarks(&report), [""; 0]);
    assert!(read(&[array(0x1000, 0)]).is_incomplete, "an array without devices");
    assert!(read(&[array(0x1000, 1), Structure::new(1, 0x1, 0x1b)]).is_incomplete);
}

#[test]
fn what_is_padding_is_no_structure() {
    let mut bytes = Form::LongDump.wrap(&structures());
    bytes.extend([0xff; 64]);
    assert_eq!(remarks(&read_bytes(&bytes)), [""; 0], "after the end");
    let mut bytes = table(&structures()[..3]);
    bytes.extend([0; 9]);
    assert_eq!(remarks(&read_bytes(&bytes)), [""; 0], "zeros without an end");
}

#[test]
fn inactive_structures_are_skipped_and_nothing_follows_the_end() {
    let mut inactive = sound(0x1102);
    (inactive.kind, inactive.fixed[0]) = (126, 126);
    let all = [array(0x1000, 1), inactive, sound(0x1100), end(), sound(0x1101)];
    let report = read(&all);
    assert_eq!(report.places.len(), 1);
    assert_eq!(remarks(&report), [""; 0]);
}

#[test]
fn wrong_heads_are_remarked_and_read() {
    let whole = read(&structures()).places;
    let mut bytes = Form::Dump.wrap(&structures());
    bytes[0x16] ^= 1; // the length
    bytes[0x1c] = 9; // the count
    let report = read_bytes(&bytes);
    assert_eq!(report.places, whole);
    let says: Vec<&Remarked> = report.remarks.iter().map(|remark| &remark.says).collect();
    assert!(matches!(
        says.as_slice(),
        [
            Remarked::Checksum { .. },
            Remarked::Checksum { .. },
            Remarked::Contradiction { .. },
            Remarked::Contradiction { .. }
        ]
    ));
    let text = remarks(&report);
    assert!(text[0].starts_with("byte 0x4: the checksum of the entry point is "), "{text:?}");
    assert_eq!(text[3], "byte 0x0: number of structures: 9 does not go with 4 that were found");

    let mut bytes = Form::Reply.wrap(&structures());
    bytes[4] += 5;
    let report = read_bytes(&bytes);
    assert_eq!(report.places, whole);
    assert!(remarks(&report)[0].starts_with("byte 0x0: length of the table: "));

    // odd versions do not matter
    let mut bytes = Form::LongDump.wrap(&structures());
    (bytes[7], bytes[8]) = (2, 51);
    assert_eq!(read_bytes(&bytes).places, whole);
}

#[test]
fn a_table_that_breaks_off_is_incomplete() {
    let mut bytes = table(&structures()[..2]);
    bytes.extend([17, 3, 0, 0, 1, 1, 0, 0]);
    let report = read_bytes(&bytes);
    assert!(report.is_incomplete);
    assert_eq!(report.places.len(), 1);
    assert!(
        remarks(&report)[0]
            .ends_with("the rest of the table is not read: the structure there has a length below that of its head")
    );

    let bytes = table(&structures()[..3]);
    let report = read_bytes(&bytes[..bytes.len() - 3]);
    assert!(report.is_incomplete);
    assert_eq!(report.places.len(), 2);
    assert!(matches!(report.remarks[0].says, Remarked::CutOff { .. }), "{report}");
    // the last text has no end: it may be a part of one
    assert_eq!(report.places[1].module.as_ref().unwrap().part_number, None);

    let report = read(&[array(0x1000, 1), sound(0x1100), Structure::new(17, 0x1101, 0x14)]);
    assert!(report.is_incomplete);
    assert!(remarks(&report).iter().any(|remark| remark.contains("it has 20 bytes")), "{report}");
}

#[test]
fn bytes_that_are_no_table_are_refused() {
    let refused = |bytes: &[u8]| smbios::read(text_name("x"), bytes).unwrap_err();
    assert_eq!(refused(b""), SmbiosError::NoTable { at: 0, bytes: 0 });
    assert_eq!(refused(&[0; 40]), SmbiosError::NoTable { at: 0, bytes: 40 });
    let entry = &Form::Dump.wrap(&structures())[..31];
    assert_eq!(refused(entry).to_string(), "no structure of a firmware's table begins at byte 0x20 of 31");
    assert_eq!(refused(b"_DMI_"), SmbiosError::NoTable { at: 32, bytes: 5 });
    assert_eq!(refused(&end().bytes()), SmbiosError::NoTable { at: 0, bytes: 6 });
}
