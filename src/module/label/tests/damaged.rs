//! Texts that are no labels, and what is said of them.

use core::ops::Range;

use crate::module::{Label, LabelError, LabelField};

/// The error of a text, with its span checked against what was found.
fn refuse(text: &str) -> LabelError {
    let error = match text.parse::<Label>() {
        Ok(label) => panic!("{text} was read: {label:?}"),
        Err(error) => error,
    };
    assert_eq!(text.get(error.span()), Some(error.found()), "{text}");
    error
}

fn check(rows: &[(&str, LabelField, Range<usize>, &str)]) {
    for (text, field, span, found) in rows {
        let error = refuse(text);
        assert_eq!((error.field(), error.span(), error.found()), (*field, span.clone(), *found), "{text}: {error}");
    }
}

// Damaged forms of label strings found in public text.
#[test]
fn damaged_labels_are_refused_at_the_damage() {
    use LabelField::{CardRevision, Generation, RawCard, Width};
    check(&[
        ("32GB 4DRx4 PCA-2133P-LD0-10", Generation, 13..14, "A"),
        ("16GB 2Rx8 PC4-3200AA-U82-11", RawCard, 22..23, "8"),
        ("32GB 4DRX4 PC4-2133P-LD0-10", Width, 8..9, "X"),
        ("32GB 1RX4 PC5-6400B-RC1-1211-XT", Width, 7..8, "X"),
        ("32GB 2Rx4 PC4-2400T-R", RawCard, 21..21, ""),
        ("64GB 4DRx4 PC4-2666V-LDO-12-MA0", CardRevision, 23..24, "O"),
    ]);
    assert_eq!(refuse("32GB 2Rx4 PCA-2400T-RB2-11").hint(), Some("an A here is often a misread 4"));
    assert_eq!(refuse("16GB 2Rx8 PC4-3200AA-U82-11").hint(), Some("an 8 here is often a misread B"));
    assert_eq!(refuse("32GB 2Rx4 PC4-2400T-RBO-11").hint(), Some("an O here is often a misread 0"));
    // The tail is the maker's own: an O in it is kept, for nothing says that it is wrong.
    assert_eq!("64GB 4DRx4 PC4-2666V-LD2-12-MAO".parse::<Label>().unwrap().tail(), Some("MAO"));
}

#[test]
fn a_label_cut_off_anywhere_says_what_is_missing() {
    for text in [
        "16GB 2Rx4 PC3L-12800R-11-13-E2",
        "32GB 2Rx4 PC4-2400T-RB2-11",
        "16GB 1S4Rx4 PC4-2133R-LZZZ-10",
        "64GB 2Rx4 PC5-4800B-RA0-1010-XT",
    ] {
        for end in 0..text.len() {
            let cut = &text[..end];
            let error = refuse(cut);
            // Either the end itself is the error, or the last word is too short to be one.
            assert_eq!(error.span().end, end, "{cut}: {error}");
        }
    }
    let error = refuse("32GB 2Rx4 PC4-2400T-RB");
    assert_eq!((error.field(), error.span()), (LabelField::CardRevision, 22..22));
    assert!(error.to_string().starts_with("the label ends at byte 22 without its raw card revision; allowed: a digit"));
}

#[test]
fn each_field_is_refused_by_its_name() {
    use LabelField as F;
    check(&[
        ("", F::Capacity, 0..0, ""),
        (" 32GB 2Rx4 PC4-2400T-RB2-11", F::Capacity, 0..1, " "),
        ("032GB 2Rx4 PC4-2400T-RB2-11", F::Capacity, 0..3, "032"),
        ("0GB 2Rx4 PC4-2400T-RB2-11", F::Capacity, 0..1, "0"),
        ("999999999999GB 2Rx4 PC4-2400T-RB2-11", F::Capacity, 0..12, "999999999999"),
        ("32gb 2Rx4 PC4-2400T-RB2-11", F::Capacity, 2..4, "gb"),
        ("32 GB 2Rx4 PC4-2400T-RB2-11", F::Capacity, 2..3, " "),
        ("512MB 1Rx8 PC4-2400T-RB2-11", F::Capacity, 3..5, "MB"),
        ("1TB 2S8Rx4 PC4-2400T-RB2-11", F::Capacity, 1..3, "TB"),
        ("1Rx4 16GB PC4-2400T-RB2-11", F::Capacity, 1..3, "Rx"),
        ("32GB  2Rx4 PC4-2400T-RB2-11", F::Ranks, 5..6, " "),
        ("32GB-2Rx4 PC4-2400T-RB2-11", F::Ranks, 4..5, "-"),
        ("32GB 0Rx4 PC4-2400T-RB2-11", F::Ranks, 5..6, "0"),
        ("32GB 5Rx4 PC4-2400T-RB2-11", F::Ranks, 5..6, "5"),
        ("32GB 8Rx4 PC4-2400T-RB2-11", F::Ranks, 5..6, "8"),
        ("48GB 3Rx4 PC3-12800R-11-13-E2", F::Ranks, 5..6, "3"),
        ("64GB 8SRx4 PC4-2400T-RB2-11", F::Ranks, 5..6, "8"),
        ("64GB 2SRx4 PC4-2400T-RB2-11", F::Stack, 6..7, "S"),
        ("64GB 2S3Rx4 PC4-2400T-RB2-11", F::Stack, 6..8, "S3"),
        ("64GB 2S16Rx4 PC4-2400T-RB2-11", F::Stack, 6..9, "S16"),
        ("64GB 2D2Rx4 PC4-2400T-RB2-11", F::Stack, 6..8, "D2"),
        ("64GB 2Q4Rx4 PC4-2400T-RB2-11", F::Stack, 6..8, "Q4"),
        ("64GB 2DRx4 PC5-4800B-RA0-1010-XT", F::Stack, 6..7, "D"),
        ("16GB 2DRx4 PC3-12800R-11-13-E2", F::Stack, 6..7, "D"),
        ("32GB 2rx4 PC4-2400T-RB2-11", F::Stack, 6..7, "r"),
        ("32GB 2Rx5 PC4-2400T-RB2-11", F::Width, 8..9, "5"),
        ("32GB 2Rx32 PC4-2400T-RB2-11", F::Width, 8..10, "32"),
        ("32GB 2Rx4 pc4-2400T-RB2-11", F::Generation, 10..11, "p"),
        ("32GB 2Rx4 PC2-2400T-RB2-11", F::Generation, 12..13, "2"),
        ("32GB 2Rx4 PC4L-2400T-RB2-11", F::Variant, 13..14, "L"),
        ("16GB 2Rx4 PC3E-12800R-11-13-E2", F::Variant, 13..14, "E"),
        ("64GB 2Rx4 PC5L-4800B-RA0-1010-XT", F::Variant, 13..14, "L"),
        ("32GB 2Rx4 PC4 2400T-RB2-11", F::DataRate, 13..14, " "),
        ("32GB 2Rx4 PC4-2401T-RB2-11", F::DataRate, 14..18, "2401"),
        ("32GB 2Rx4 PC4-2667V-RB2-11", F::DataRate, 14..18, "2667"),
        ("32GB 2Rx4 PC4-1333P-RB2-11", F::DataRate, 14..18, "1333"),
        ("32GB 2Rx4 PC4-17066P-RB2-11", F::DataRate, 14..19, "17066"),
        ("32GB 2Rx4 PC4-10600P-RB2-11", F::DataRate, 14..19, "10600"),
        ("16GB 2Rx4 PC3-10700R-11-13-E2", F::DataRate, 14..19, "10700"),
        ("16GB 2Rx4 PC3-19200R-11-13-E2", F::DataRate, 14..19, "19200"),
        ("64GB 2Rx4 PC5-38400B-RA0-1010-XT", F::DataRate, 14..19, "38400"),
        ("64GB 2Rx4 PC5-4801B-RA0-1010-XT", F::DataRate, 14..18, "4801"),
        ("32GB 2Rx4 PC4-2400S-RB2-11", F::SpeedBin, 18..19, "S"),
        ("32GB 2Rx4 PC4-2400AB-RB2-11", F::SpeedBin, 18..20, "AB"),
        ("32GB 2Rx4 PC4-2400-RB2-11", F::SpeedBin, 18..19, "-"),
        ("64GB 2Rx4 PC5-4800A-RA0-1010-XT", F::SpeedBin, 18..19, "A"),
        ("16GB 2Rx4 PC3-12800R-3-13-E2", F::SpeedBin, 21..22, "3"),
        ("16GB 2Rx4 PC3-12800R-011-13-E2", F::SpeedBin, 21..24, "011"),
        ("16GB 2Rx4 PC3-12800R-00-13-E2", F::SpeedBin, 21..23, "00"),
        ("16GB 2Rx4 PC3-12800R-19-13-E2", F::SpeedBin, 21..23, "19"),
        ("16GB 2Rx4 PC3-12800X-11-13-E2", F::ModuleType, 19..20, "X"),
        ("32GB 2Rx4 PC4-2400T-XB2-11", F::ModuleType, 20..21, "X"),
        ("32GB 2Rx4 PC4-2400T-AB2-11", F::ModuleType, 20..21, "A"),
        ("32GB 2Rx4 PC4-2400T-rB2-11", F::ModuleType, 20..21, "r"),
        ("64GB 2Rx4 PC5-4800B-CA0-1010-XT", F::ModuleType, 20..21, "C"),
        ("32GB 2Rx4 PC4-2400T-RI2-11", F::RawCard, 21..22, "I"),
        ("32GB 2Rx4 PC4-2400T-RCC2-11", F::RawCard, 21..23, "CC"),
        ("64GB 2Rx4 PC5-4800B-RAL0-1010-XT", F::RawCard, 21..23, "AL"),
        ("32GB 2Rx4 PC4-2400T-Rb2-11", F::RawCard, 21..22, "b"),
        ("32GB 2Rx4 PC4-2400T-RABCD-11", F::RawCard, 21..24, "ABC"),
        ("32GB 2Rx4 PC4-2400T-RB-11", F::CardRevision, 22..23, "-"),
        ("32GB 2Rx4 PC4-2400T-RBZ-11", F::CardRevision, 22..23, "Z"),
        ("32GB 2Rx4 PC4-2400T-RZZ-11", F::CardRevision, 23..24, "-"),
        ("32GB 2Rx4 PC4-2400T-RZZ0-11", F::CardRevision, 23..24, "0"),
        ("32GB 2Rx4 PC4-2400T-RB2 11", F::SpdRevision, 23..24, " "),
        ("32GB 2Rx4 PC4-2400T-RB2-1A", F::SpdRevision, 25..26, "A"),
        ("64GB 2Rx4 PC5-4800B-RA0-10-XT", F::ModuleSpdRevision, 26..27, "-"),
        ("64GB 2Rx4 PC5-4800B-RA0-1010-CT", F::TemperatureRange, 29..31, "CT"),
        ("32GB 2Rx4 PC4-2400T-RB2-11 ", F::Tail, 26..27, " "),
        ("32GB 2Rx4 PC4-2400T-RB2-111", F::Tail, 26..27, "1"),
        ("32GB 2Rx4 PC4-2400T-RB2-11-", F::Tail, 27..27, ""),
        ("32GB 2Rx4 PC4-2400T-RB2-11--A", F::Tail, 27..29, "-A"),
        ("32GB 2Rx4 PC4-2400T-RB2-11-dc0", F::Tail, 27..28, "d"),
        ("32GB 2Rx4 PC4-2400T-RB2-11-DC0\u{e9}", F::Tail, 30..32, "\u{e9}"),
        ("32GB 2Rx4 PC4-2400T-RB2-11-ABCDEFGHIJKLMNOP", F::Tail, 27..43, "ABCDEFGHIJKLMNOP"),
        ("32GB 2\u{420}x4 PC4-2400T-RB2-11", F::Stack, 6..8, "\u{420}"),
        ("\u{1f600}", F::Capacity, 0..4, "\u{1f600}"),
    ]);
}

// JESD21-C 4.19.4, section 3.
#[test]
fn non_volatile_hybrids_are_refused_by_name() {
    for (text, span) in [
        ("16GB 2Rx4 NN4-2133N-RA2-12", 10..13),
        ("1TB 1Rx4 NH4-1866M-LB1-12", 9..12),
        ("16GB 1Rx4 NP4-2133N-RA2-12", 10..13),
        ("16GB 1Rx4 NPL4-2133N-RA2-12", 10..14),
    ] {
        let error = refuse(text);
        assert!(matches!(error, LabelError::Hybrid { .. }), "{text}");
        assert_eq!((error.field(), error.span()), (LabelField::Generation, span), "{text}");
    }
    // The mark counts in the place of the generation only.
    let error = refuse("16GB 2Rx4 PC4-2133N-RA2-12 NN4");
    assert_eq!((error.field(), error.span()), (LabelField::Tail, 26..27));
    assert_eq!(
        refuse("16GB 2Rx4 NN4-2133N-RA2-12").to_string(),
        "\"NN4\" at byte 10 of the label marks a non-volatile hybrid module; such a module is no plain memory and is \
         entered as another device"
    );
}

#[test]
fn a_capacity_that_no_die_gives_is_refused() {
    for (text, span) in [
        ("100GB 2Rx4 PC4-2400T-RB2-11", 0..5),
        ("33GB 2Rx4 PC4-2400T-RB2-11", 0..4),
        ("99999GB 2Rx4 PC4-2400T-RB2-11", 0..7),
        ("12GB 2Rx4 PC3-12800R-11-13-E2", 0..4),
        ("10MB 1Rx8 PC3-8500U-7-10-A0", 0..4),
    ] {
        let error = refuse(text);
        assert!(matches!(error, LabelError::Impossible { .. }), "{text}");
        assert_eq!((error.field(), error.span()), (LabelField::Capacity, span), "{text}");
    }
    assert_eq!(
        refuse("100GB 2Rx4 PC4-2400T-RB2-11").to_string(),
        "100 GB as 2Rx4 needs a die density that no standard has (bytes 0 to 5 of the label)"
    );
}

#[test]
fn hints_name_the_likely_slip() {
    for (text, hint) in [
        ("1Rx4 16GB PC4-2400T-RB2-11", "a label begins with the capacity; the ranks follow it"),
        ("64GB 2SRx4 PC4-2400T-RB2-11", "a stack is written with its height: S2, S4 or S8"),
        ("2Rx4 PC4-2133P-RA0-10", "a label begins with the capacity; the ranks follow it"),
        (
            "64GB 8Rx4 PC4-2400T-RB2-11",
            "only package ranks are counted here; a module of stacked packages is written 2S4R, for example",
        ),
        ("32gb 2Rx4 PC4-2400T-RB2-11", "the letters of a label are capitals, all but the x before the width"),
    ] {
        assert_eq!(refuse(text).hint(), Some(hint), "{text}");
    }
    assert_eq!(refuse("32GB 2Rx5 PC4-2400T-RB2-11").hint(), None);
}

#[test]
fn documents_carry_the_same_error() {
    let error = serde_json::from_str::<Label>("\"32GB 2Rx4 PC4-2400T-XB2-11\"").unwrap_err().to_string();
    assert!(
        error.starts_with("\"X\" at byte 20 of the label cannot stand for the module type; allowed: R, L, U"),
        "{error}"
    );
}
