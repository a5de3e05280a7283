//! What holds for every text.

use proptest::prelude::*;
use proptest::sample::select;

use crate::module::Label;

pub(super) const LABELS: [&str; 12] = [
    "16GB 2Rx4 PC3L-12800R-11-13-E2",
    "8GB 2Rx4 PC3L-10600R-09-11-E2-P2",
    "2GB 1Rx8 PC3-10600U-9-10-A0",
    "512MB 1Rx8 PC3-8500U-7-10-A0",
    "32GB 2Rx4 PC4-2400T-RB2-11",
    "16GB 1S4Rx4 PC4-2133R-LZZZ-10",
    "64GB 4DRx4 PC4-2666V-LD2-12-MA0",
    "32GB 2DRx8 PC4E-2400U-UZZZ-11",
    "16GB 2Rx4 PC4-17000P-RAA0-10",
    "64GB 2Rx4 PC5-4800B-RA0-1010-XT",
    "256GB 1S8Rx4 PC5-5600BN-RCK-1211-A1T",
    "16GB 2Rx4 NN4-2133N-RA2-12",
];

/// A read label prints back as it was and describes a module whose facts agree; an error points into the text.
fn holds(text: &str) -> Result<(), TestCaseError> {
    match text.parse::<Label>() {
        Ok(label) => {
            prop_assert_eq!(label.to_string(), text);
            prop_assert!(label.die_density().is_some());
            prop_assert_eq!(label.module().organization(), Some(label.organization()));
            prop_assert_eq!(label.module().to_builder().build(), Ok(label.to_module()));
        }
        Err(error) => {
            prop_assert_eq!(text.get(error.span()), Some(error.found()));
            prop_assert!(!error.allowed().is_empty());
            prop_assert!(!error.to_string().contains('\n'));
        }
    }
    Ok(())
}

/// Texts of the alphabet of labels, so that some get far.
pub(super) fn near_label() -> impl Strategy<Value = String> {
    let rate = select(&["PC3-12800R-11", "PC3L-10600U-09", "PC4-2400T", "PC4E-3200AA", "PC5-4800B", "PC4-17000P"][..]);
    let layout = select(&["1Rx4", "2Rx8", "4DRx4", "2S2Rx4", "1S8Rx4", "4Rx16", "2QRx8", "8Rx8"][..]);
    let rest = "(-[RLUESTCNWPV]?[A-CZ]{1,2}[0-9A-KPZ])?(-1[0-4](1[01])?)?(-[A-C][0-3])?(-XT)?(-[A-Z0-9]{1,4})?";
    (0_u8..10, layout, rate, rest)
        .prop_map(|(power, layout, rate, rest)| format!("{}GB {layout} {rate}{rest}", 1_u32 << power))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(1000))]

    #[test]
    fn any_text(text in "\\PC*") {
        holds(&text)?;
    }

    #[test]
    fn any_text_of_label_letters(text in "[0-9]{1,3}[GM]B [1-8][DQS]?[248]?R[xX](4|8|16) PC[345][LUE]?-[0-9]{4,5}[A-Z-]{1,3}[0-9A-Z-]{0,12}") {
        holds(&text)?;
    }

    #[test]
    fn anything_near_a_label(text in near_label()) {
        holds(&text)?;
    }

    #[test]
    fn a_label_with_one_character_changed_removed_or_inserted(
        label in select(&LABELS[..]),
        place in 0_usize..40,
        character in prop_oneof![any::<char>(), proptest::char::range(' ', '~')],
    ) {
        let place = place.min(label.len());
        let (before, after) = label.split_at(place);
        holds(&format!("{before}{character}{after}"))?;
        if !after.is_empty() {
            holds(&format!("{before}{}", &after[1..]))?;
            holds(&format!("{before}{character}{}", &after[1..]))?;
        }
    }
}

#[test]
fn every_label_with_any_one_byte_of_ascii_changed() {
    let mut read = 0;
    for label in LABELS {
        for place in 0..label.len() {
            for byte in 0..128_u8 {
                let mut bytes = label.as_bytes().to_vec();
                bytes[place] = byte;
                let text = String::from_utf8(bytes).unwrap();
                holds(&text).unwrap_or_else(|error| panic!("{text:?}: {error}"));
                read += u32::from(text != label && text.parse::<Label>().is_ok());
            }
        }
    }
    // Some changes give another label, such as one of another raw card.
    assert!(read > 500, "{read}");
}
