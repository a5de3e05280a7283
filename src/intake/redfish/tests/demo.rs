//! The document of the examples, `examples/data/report-redfish.json`: what the management controller of the machine of
//! `examples/data/report.bin` answers.

use std::fs;
use std::path::PathBuf;

use crate::intake::redfish::tests::report;
use crate::intake::smbios;
use crate::population::{Observed, Report, SeenModule};
use crate::reference;
use crate::unit::Name;

fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("examples/data").join(name)
}

fn answer() -> Report {
    report(&serde_json::from_str(&fs::read_to_string(file("report-redfish.json")).unwrap()).unwrap())
}

fn table() -> Report {
    smbios::read(Name::lossy("report"), &fs::read(file("report.bin")).unwrap()).unwrap()
}

#[test]
fn it_says_what_the_table_says() {
    let (answer, table) = (answer(), table());
    assert!(answer.remarks.is_empty() && !answer.is_incomplete, "{answer}");
    assert_eq!(answer.identity, table.identity);
    assert_eq!(answer.places.len(), table.places.len());
    // what such an answer has no property for
    let told = |module: &SeenModule| SeenModule { voltages_mv: None, form_factor: None, ..module.clone() };
    for (place, other) in answer.places.iter().zip(&table.places) {
        assert_eq!((&place.service_label, place.state), (&other.locator, other.state));
        assert_eq!(place.running_rate_mts, other.running_rate_mts);
        assert_eq!(place.module.as_ref().map(told), other.module.as_ref().map(told));
    }
    let present = |report: &Report| {
        let processors = report.processors.iter();
        processors.map(|seen| (seen.socket.clone(), seen.is_present, seen.text.clone())).collect::<Vec<_>>()
    };
    assert_eq!(present(&answer), present(&table));
    assert_eq!(answer.totals.len(), 1);
}

#[test]
fn both_are_laid_on_the_same_slots() {
    let board = reference::ddr4_2s_4ch_3spc();
    let sited = |report| Observed::of([report]).unwrap().on(&board).unwrap();
    let (answer, table) = (sited(answer()), sited(table()));
    let slots = |sited: &crate::population::Sited| {
        sited.slots.iter().map(|slot| (slot.slot.clone(), slot.state, slot.serial.clone())).collect::<Vec<_>>()
    };
    assert_eq!(slots(&answer), slots(&table));
    assert!(answer.unplaced.is_empty() && answer.disagreements.is_empty());
}
