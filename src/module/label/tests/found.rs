//! Labels as they are found: what is corrected, what is missing, what is refused.

use proptest::prelude::*;
use proptest::sample::select;

use crate::module::label::tests::properties::{LABELS, near_label};
use crate::module::{CorrectionSort, FoundLabel, FoundLabelError, Label, LabelError, LabelField};

const REGISTERED: &str = "32GB 2Rx4 PC4-2400T-RB2-11";

/// What was found, with its corrections held against both texts.
fn found(text: &str) -> Result<FoundLabel, FoundLabelError> {
    let found = Label::found(text);
    match &found {
        Ok(found) => {
            let mut read = String::new();
            let mut end = 0;
            for correction in &found.corrections {
                assert_eq!(text.get(correction.span()), Some(correction.found.as_str()), "{text:?}");
                assert_ne!(correction.found, correction.read, "{text:?}");
                read.push_str(&text[end..correction.at]);
                read.push_str(&correction.read);
                end = correction.span().end;
            }
            read.push_str(&text[end..]);
            assert_eq!(read, found.text, "the corrections of {text:?} make what was read");
            match &found.label {
                Some(label) => {
                    assert_eq!((label.to_string(), label.module()), (found.text.clone(), &found.module));
                    assert_eq!(found.missing, []);
                }
                None => assert_ne!(found.missing, []),
            }
        }
        Err(FoundLabelError::NoLabel(error)) => assert_eq!(text.get(error.span()), Some(error.found()), "{text:?}"),
        Err(FoundLabelError::Doubtful { span, found, readings, .. }) => {
            assert_eq!(text.get(span.clone()), Some(found.as_str()), "{text:?}");
            assert_ne!(*readings, [""; 0]);
        }
        Err(FoundLabelError::TwoReadings { readings }) => assert!(readings.len() > 1, "{text:?}"),
    }
    found
}

fn read(text: &str) -> FoundLabel {
    found(text).unwrap_or_else(|error| panic!("{text:?}: {error}"))
}

#[test]
fn labels_as_found_are_read() {
    for (text, label) in [
        ("8gb 2rx4 pc4-2400t-ra1-11", "8GB 2Rx4 PC4-2400T-RA1-11"),
        ("32GB2Rx4PC4-2400T-RB2-11", REGISTERED),
        ("32GB 2Rx4\nPC4-2400T-\nRB2-11", REGISTERED),
        ("32GB 2Rx4\r\nPC4-2400T\r\nRB2-11", REGISTERED),
        ("32 GB 2R x 4 PC4 - 2400T - RB2 - 11", REGISTERED),
        ("  32GB\u{a0}2Rx4\u{202f}PC4\u{2013}2400T\u{2011}RB2\u{2212}11 ", REGISTERED),
        ("32GB 2R\u{d7}4 PC4-2400T-RB2-11", REGISTERED),
        ("\u{201c}32GB 2Rx4 PC4-2400T-RB2-11\u{201d}", REGISTERED),
        ("'32GB 2RX4 PC4-2400T-RB2-11", REGISTERED),
        ("32GB-2Rx4-PC4-2400T-RB2-11", REGISTERED),
        ("32GB 2Rx4 PC4 2400 T RB2 11", REGISTERED),
        ("32GB 2Rx4 PC4-2400T--RB2-\n-11-", REGISTERED),
        ("32GB 2Rx4 PC4-24\n00T-R B 2-1 1", REGISTERED),
        ("8gb 2rx4 pc3l 10600r 9 11 e2", "8GB 2Rx4 PC3L-10600R-9-11-E2"),
        ("8GB 2Rx4 PC3 L-10600R-0 9-11-E2-P2", "8GB 2Rx4 PC3L-10600R-09-11-E2-P2"),
        ("256gb 1s8rx4 pc5-5600bn-rck-1211-a1t", "256GB 1S8Rx4 PC5-5600BN-RCK-1211-A1T"),
        ("64GB 2Rx4 PC5 4800B RA0 1010 XT", "64GB 2Rx4 PC5-4800B-RA0-1010-XT"),
        ("64GB 4DRx4 PC4-2666V-LD2-12-\nma0", "64GB 4DRx4 PC4-2666V-LD2-12-MA0"),
        // misread where it decides nothing, and one reading is left
        ("32GB 2Rx4 PC4-2400T-RB2-1O", "32GB 2Rx4 PC4-2400T-RB2-10"),
        ("32GB 2Rx4 PC4-2400T-RB2-l1", REGISTERED),
        ("16GB 2Rx8 PC4-3200AA-U82-11", "16GB 2Rx8 PC4-3200AA-UB2-11"),
        ("64GB 4DRx4 PC4-2666V-LDO-12-MA0", "64GB 4DRx4 PC4-2666V-LD0-12-MA0"),
        ("64GB 2Rx4 PC5-4800B-RA0-IOIO-XT", "64GB 2Rx4 PC5-4800B-RA0-1010-XT"),
        ("64GB 2Rx4 PC5-4800B-RA0-1010-1T", "64GB 2Rx4 PC5-4800B-RA0-1010-IT"),
        ("16GB 1S4Rx4 PC4-2133R-L2Z2-10", "16GB 1S4Rx4 PC4-2133R-LZZZ-10"),
    ] {
        let found = read(text);
        assert_eq!(found.label, Some(label.parse().unwrap()), "{text:?}");
        assert_ne!(found.corrections, [], "{text:?}");
        assert!(!found.is_clean());
    }
}

#[test]
fn each_correction_says_what_stood_where() {
    use CorrectionSort::{Around, Blank, Case, Cross, Hyphen, Misread};
    let text = "\"32gb  2R\u{d7}4PC4\u{2013}2400T RB2-1O\"";
    let found = read(text);
    let told: Vec<_> =
        found.corrections.iter().map(|one| (one.sort, one.at, one.found.as_str(), one.read.as_str())).collect();
    assert_eq!(
        told,
        [
            (Around, 0, "\"", ""),
            (Case, 3, "gb", "GB"),
            (Blank, 5, "  ", " "),
            (Cross, 9, "\u{d7}", "x"),
            (Blank, 12, "", " "),
            (Hyphen, 15, "\u{2013}", "-"),
            (Hyphen, 23, " ", "-"),
            (Misread, 29, "O", "0"),
            (Around, 30, "\"", ""),
        ]
    );
    assert_eq!(
        found.to_string(),
        "32GB 2Rx4 PC4-2400T-RB2-10\n  corrected: \"\\\"\" at byte 0 was left out\n  corrected: \"gb\" at byte 3 was read as \
         \"GB\"\n  corrected: \"  \" at byte 5 was read as \" \"\n  corrected: \"\u{d7}\" at byte 9 was read as \"x\"\n  \
         corrected: \" \" was put in at byte 12\n  corrected: \"\u{2013}\" at byte 15 was read as \"-\"\n  corrected: \" \" \
         at byte 23 was read as \"-\"\n  corrected: \"O\" at byte 29 was read as \"0\"\n  corrected: \"\\\"\" at byte 30 was \
         left out"
    );
}

#[test]
fn a_missing_tail_is_said_and_not_made_up() {
    use LabelField::{CardRevision, ModuleSpdRevision, RawCard, SpdRevision, SpeedBin, TemperatureRange};
    for (text, whole, missing) in [
        ("32GB 2Rx4 PC4-2400T-R", REGISTERED, &[RawCard, CardRevision, SpdRevision][..]),
        ("32GB 2Rx4 PC4-2400T-RB", REGISTERED, &[CardRevision, SpdRevision]),
        ("32gb 2rx4 pc4-2400t-rb2-", REGISTERED, &[SpdRevision]),
        ("32GB 2Rx4 PC4-2400T-RB2-1", REGISTERED, &[SpdRevision]),
        ("8GB 2Rx4 PC3L-10600R", "8GB 2Rx4 PC3L-10600R-09-11-E2", &[SpeedBin, SpdRevision, RawCard, CardRevision]),
        ("8GB 2Rx4 PC3L-10600R-9", "8GB 2Rx4 PC3L-10600R-09-11-E2", &[SpdRevision, RawCard, CardRevision]),
        ("8GB 2Rx4 PC3L-10600R-9-11", "8GB 2Rx4 PC3L-10600R-09-11-E2", &[RawCard, CardRevision]),
        (
            "64GB 2Rx4 PC5-4800B-R",
            "64GB 2Rx4 PC5-4800B-RA0-1010-XT",
            &[RawCard, CardRevision, SpdRevision, ModuleSpdRevision, TemperatureRange],
        ),
        ("64GB 2Rx4 PC5-4800B-RA0-10", "64GB 2Rx4 PC5-4800B-RA0-1010-XT", &[ModuleSpdRevision, TemperatureRange]),
        ("64GB 2Rx4 PC5-4800B-RA0-1010", "64GB 2Rx4 PC5-4800B-RA0-1010-XT", &[TemperatureRange]),
    ] {
        let found = read(text);
        assert_eq!((&found.label, found.missing.as_slice()), (&None, missing), "{text}");
        assert_eq!(&found.module, whole.parse::<Label>().unwrap().module(), "{text}");
    }
    assert!(
        read("32GB 2Rx4 PC4-2400T-R")
            .to_string()
            .ends_with("the label ends too early; not said: raw card, raw card revision, SPD revision")
    );
    // what decides the module has to be there
    for (text, field) in [
        ("32GB 2Rx4 PC4-2400T", LabelField::ModuleType),
        ("32GB 2Rx4 PC4-2400R", LabelField::ModuleType),
        ("32GB 2Rx4 PC4-2400", SpeedBin),
        ("32GB 2Rx4 PC4", LabelField::DataRate),
        ("32GB 2Rx4", LabelField::Generation),
        ("", LabelField::Capacity),
        (" \n", LabelField::Capacity),
    ] {
        let error = found(text).unwrap_err();
        assert!(matches!(&error, FoundLabelError::NoLabel(error) if error.field() == field), "{text}: {error:?}");
    }
}

#[test]
fn a_character_that_decides_is_never_corrected() {
    use LabelField::{Capacity, DataRate, Generation, ModuleType, Ranks, Width};
    for (text, field, stood, reading) in [
        ("32GB ZRx4 PC4-2400T-RB2-11", Ranks, "Z", REGISTERED),
        ("3ZGB 2Rx4 PC4-2400T-RB2-11", Capacity, "Z", REGISTERED),
        ("32G8 2Rx4 PC4-2400T-RB2-11", Capacity, "8", REGISTERED),
        ("16GB 1RxB PC5-4800B-RA0-1010-XT", Width, "B", "16GB 1Rx8 PC5-4800B-RA0-1010-XT"),
        ("32GB 2Rx4 PC4-24OOT-RB2-11", DataRate, "OO", REGISTERED),
        ("64GB 2Rx4 PCS-4800B-RA0-1010-XT", Generation, "S", "64GB 2Rx4 PC5-4800B-RA0-1010-XT"),
        ("8GB 1Rx8 PC4-2400T-5A1-11", ModuleType, "5", "8GB 1Rx8 PC4-2400T-SA1-11"),
        ("64GB 2Rx4 PC5-48008-RA0-1010-XT", DataRate, "8", "64GB 2Rx4 PC5-4800B-RA0-1010-XT"),
    ] {
        match found(text).unwrap_err() {
            FoundLabelError::Doubtful { field: of, found, readings, .. } => {
                assert_eq!((of, readings), (field, vec![reading.to_owned()]), "{text}");
                assert_eq!(found, stood, "{text}");
            }
            error => panic!("{text}: {error:?}"),
        }
    }
}

#[test]
fn two_readings_are_both_named() {
    // four modules of 8 GB, or one of 48 GB
    let error = found("4 8GB 1Rx4 PC5-4800B-RA0-1010-XT").unwrap_err();
    assert_eq!(
        error.to_string(),
        "the label can be read in more than one way: \"48GB 1Rx4 PC5-4800B-RA0-1010-XT\" or \"8GB 1Rx4 \
         PC5-4800B-RA0-1010-XT\""
    );
    assert_eq!(read("1 6GB 2Rx8 PC4-2400T-RB2-11").text, "16GB 2Rx8 PC4-2400T-RB2-11");
}

#[test]
fn what_is_no_label_is_refused_at_its_place() {
    for (text, field, stood) in [
        ("32GB 2Rx4 PCA-2400T-RB2-11", LabelField::Generation, "A"),
        ("33gb 2rx4 pc4-2400t-rb2-11", LabelField::Capacity, "33gb"),
        ("32gb 2rx4 pc4-2500t-rb2-11", LabelField::DataRate, "2500"),
        ("32GB 2Rx4 PC4-2400T-RB2-11 and more", LabelField::Tail, " "),
        ("2x 16GB 2Rx4 PC4-2400T-RB2-11", LabelField::Capacity, "x"),
        ("16GB 2Rx4 NN4-2133N-RA2-12", LabelField::Generation, "NN4"),
    ] {
        match found(text).unwrap_err() {
            FoundLabelError::NoLabel(error) => {
                assert_eq!((error.field(), error.found()), (field, stood), "{text}: {error}");
            }
            error => panic!("{text}: {error:?}"),
        }
    }
    assert!(matches!(found("16GB 2Rx4 NN4-2133N-RA2-12"), Err(FoundLabelError::NoLabel(LabelError::Hybrid { .. }))));
}

#[test]
fn long_texts_are_refused_at_once() {
    for text in
        ["O".repeat(79), "0".repeat(80), "1 ".repeat(500_000), format!("{REGISTERED} {}", "O".repeat(1_000_000))]
    {
        assert!(matches!(found(&text), Err(FoundLabelError::NoLabel(_))));
    }
}

/// What is done to a label at a place.
#[derive(Debug, Clone, Copy)]
enum Damage {
    Insert(&'static str),
    Small,
    Dash(&'static str),
    NoBlank,
}

fn damage() -> impl Strategy<Value = (usize, Damage)> {
    let blanks = &[" ", "  ", "\n", "\r\n", "\t", "\u{a0}", "\u{200b}", " \n "][..];
    let dashes = &["\u{2010}", "\u{2011}", "\u{2013}", "\u{2014}", "\u{2212}", " - ", "-\n", " ", "--"][..];
    let sort = prop_oneof![
        select(blanks).prop_map(Damage::Insert),
        Just(Damage::Small),
        select(dashes).prop_map(Damage::Dash),
        Just(Damage::NoBlank),
    ];
    (0_usize..45, sort)
}

fn damaged(label: &str, damages: &[(usize, Damage)]) -> String {
    let size = label.find("GB").or_else(|| label.find("MB")).unwrap_or(0);
    let standard = label.find("PC").unwrap_or(0);
    // a tail is the maker's own: its hyphens may be what they like
    let hyphens = if label.contains("PC4") { 3 } else { 4 };
    let tail = label.match_indices('-').nth(hyphens).map_or(label.len(), |(at, _)| at);
    let mut text = String::new();
    for (at, letter) in label.char_indices() {
        let here = damages.iter().filter(|(place, _)| *place == at).map(|(_, damage)| *damage);
        let (mut before, mut read) = (String::new(), letter.to_string());
        for damage in here {
            match damage {
                // a blank within the size may stand behind a number of modules
                Damage::Insert(blank) if at == 0 || at >= size => before = blank.to_owned(),
                Damage::Small => read = read.to_lowercase(),
                Damage::Dash(dash) if letter == '-' && at < tail && at > standard => read = dash.to_owned(),
                Damage::NoBlank if letter == ' ' => read = String::new(),
                _ => {}
            }
        }
        text.push_str(&before);
        text.push_str(&read);
    }
    text
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn a_damaged_label_is_read_as_what_it_was(
        label in prop_oneof![select(&LABELS[..11]).prop_map(str::to_owned), near_label()],
        damages in proptest::collection::vec(damage(), 0..8),
    ) {
        if let Ok(whole) = label.parse::<Label>() {
            let text = damaged(&label, &damages);
            let found = found(&text);
            prop_assert!(found.is_ok(), "{text:?}: {}", found.unwrap_err());
            let found = found.unwrap();
            prop_assert_eq!(found.label.as_ref(), Some(&whole), "{:?}", text);
            prop_assert_eq!(found.corrections.is_empty(), text == label);
        }
    }

    #[test]
    fn what_is_read_as_it_stands_is_found_the_same(label in near_label()) {
        if let Ok(whole) = label.parse::<Label>() {
            let found = found(&label).unwrap();
            prop_assert!(found.is_clean());
            prop_assert_eq!(found.label, Some(whole));
        }
    }

    /// Damage of every sort, and characters that look like others: the module is the same, or there is an error.
    #[test]
    fn no_other_module_is_ever_found(
        label in select(&LABELS[..11]),
        damages in proptest::collection::vec(damage(), 0..5),
        swaps in proptest::collection::vec((0_usize..40, 0_usize..2), 0..4),
        end in 0_usize..60,
    ) {
        let whole: Label = label.parse().unwrap();
        let mut swapped = label.to_owned();
        for (at, which) in swaps {
            for (one, others) in [("O", "00"), ("I", "1L"), ("S", "55"), ("Z", "22"), ("B", "88")] {
                let Some(letter) = swapped.get(at..=at) else { continue };
                // only towards the letter of a pair that no field of numbers has
                if others.get(which..=which) == Some(letter) && letter != "L" && letter != "B" {
                    swapped.replace_range(at..=at, one);
                    break;
                }
            }
        }
        let mut text = damaged(&swapped, &damages);
        if let Some(cut) = text.get(..end) {
            text = cut.to_owned();
        }
        if let Ok(found) = found(&text) {
            prop_assert_eq!(&found.module, whole.module(), "{:?}", text);
        }
    }

    #[test]
    fn any_text_is_read_or_refused(text in "\\PC*") {
        let _ = found(&text);
    }

    #[test]
    fn any_text_of_label_letters_is_read_or_refused(text in "[0-9OIl ]{1,4}[GM]?[B8] ?[1-8][DQS ]?[248]?[Rr][xX×](4|8|16) ?PC[345][LUE]?[- –][0-9O ]{4,6}[A-Z -]{1,3}[0-9A-Za-z –-]{0,20}") {
        let _ = found(&text);
    }

    #[test]
    fn a_found_label_is_a_document(label in select(&LABELS[..11]), damages in proptest::collection::vec(damage(), 0..8)) {
        let found = found(&damaged(label, &damages)).unwrap();
        let document = serde_json::to_string(&found).unwrap();
        prop_assert_eq!(serde_json::from_str::<FoundLabel>(&document).unwrap(), found);
    }
}
