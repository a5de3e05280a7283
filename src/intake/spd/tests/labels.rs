//! The label that an image gives.

use proptest::prelude::*;
use proptest::sample::select;

use crate::intake::spd::SpdImage;
use crate::intake::spd::tests::encoder::{MAKING, can_encode, cards, encode, image, seal, set_cas, set_time};
use crate::module::{
    Ddr4Bin, Ddr5Bin, DeviceWidth, Ecc, Generation, Label, LabelField, Organization, RawCard, SpeedBin, Stack,
    TemperatureRange,
};
use crate::population::{MakerId, SeenModule};
use crate::unit::{DataRate, Density, Height, Name};

/// Labels of the standards and found in public text, as far as an image can say what they do: without makers' tails and pre-production marks, the CAS
/// latency of DDR3 with its leading zero.
pub(super) const LABELS: [&str; 38] = [
    // public text
    "16GB 2Rx4 PC3L-12800R-11-13-E2",
    "8GB 2Rx4 PC3L-10600R-09-11-E2",
    "1GB 1Rx8 PC3-10600R-09-10-A0",
    "4GB 1Rx4 PC3-14900R-13-12-C2",
    "4GB 2Rx8 PC3-12800S-11-11-F3",
    "4GB 1Rx8 PC3L-12800S-11-13-B4",
    "2GB 1Rx8 PC3-10600U-09-10-A0",
    "16GB 4Rx4 PC3-8500R-07-12-F0",
    // JESD21-C 4.19.4
    "16GB 2Rx4 PC4-2133N-RA2-11",
    "16GB 2DRx4 PC4-2133N-RJ0-10",
    "16GB 1S4Rx4 PC4-2133R-LZZZ-10",
    "32GB 2DRx8 PC4-2400U-UZZZ-11",
    "32GB 2DRx8 PC4E-2400U-UZZZ-11",
    // public text
    "32GB 4DRx4 PC4-2133P-LD0-10",
    "64GB 4DRx4 PC4-2666V-LD2-12",
    "64GB 2S2Rx4 PC4-2133P-RA1-10",
    "32GB 2Rx4 PC4-2400T-RB2-11",
    "32GB 2Rx8 PC4-3200AA-RE3-12",
    "16GB 1Rx4 PC4-2666V-RC2-12",
    "4GB 1Rx8 PC4-2133P-RD0-10",
    // reported with the content of real modules
    "64GB 2Rx4 PC4-2933Y-RA2-12",
    "128GB 4DRx4 PC4-3200AA-LD3-12",
    "128GB 2S4Rx4 PC4-2933Y-LB1-12",
    "64GB 2Rx4 PC4-3200AA-RB2-14",
    "16GB 2Rx8 PC4-2400T-UB1-11",
    // public text, and reported with the content of real modules
    "64GB 2Rx4 PC5-4800B-RA0-1010-XT",
    "64GB 2Rx4 PC5-5600B-RA0-1010-XT",
    "64GB 2Rx4 PC5-4800B-RB0-1010-XT",
    "32GB 1Rx4 PC5-6400B-RC1-1211-XT",
    "48GB 1Rx4 PC5-4800B-PF0-1010-XT",
    "16GB 1Rx8 PC5-4800B-UA0-1010-NT",
    "8GB 1Rx16 PC5-4800B-UC0-1010-XT",
    "16GB 1Rx8 PC5-4800B-ED0-1010-XT",
    "16GB 1Rx8 PC5-5600B-SA0-1010-XT",
    "32GB 2Rx8 PC5-5600B-SB0-1010-XT",
    "16GB 1Rx8 PC5-4800B-SA0-1010-XT",
    // stacks of DDR5: public text
    "384GB 2S4Rx4 PC5-4800B-RA0-1010-XT",
    "512GB 2S8Rx4 PC5-5600B-RA0-1010-XT",
];

/// The image gives the label, and all that the label says of the module.
fn holds(text: &str) {
    let label: Label = text.parse().unwrap_or_else(|error| panic!("{text}: {error}"));
    let image = SpdImage::read(&encode(&label)).unwrap();
    assert_eq!(image.label_problem(), None, "{text}");
    assert_eq!(image.label().unwrap().to_string(), text);
    assert!(image.is_sound(), "{text}");
    // labels of mini modules and of clocked small-outline ones do not say it
    let ecc = label.module().ecc().or(Some(Ecc::None));
    let is_usual = ecc == label.module().ecc();
    let expected = SeenModule::of(label.module())
        .ecc(ecc)
        .height(Height::from_um(32_000))
        .maker_id(MakerId::from_spd(MAKING.maker[0], MAKING.maker[1]))
        .part_number(Name::lossy(MAKING.part))
        .serial(Name::lossy("33436BCE"));
    assert_eq!(image.module(), expected, "{text}");
    assert_eq!(image.remarks(), [], "{text}");
    assert_eq!(image.timings().map(|timings| timings.clocks), label.latencies().or(image.timings().map(|t| t.clocks)));
    assert!(is_usual || matches!(label.module_type().letter(), 'N' | 'W' | 'V'));
}

#[test]
fn labels_of_the_standards_and_of_real_modules() {
    LABELS.iter().for_each(|text| holds(text));
}

// JESD79-4-1B tables 22 to 28: letters with two latencies each.
#[test]
fn stacked_bins_with_two_latencies() {
    for (text, times) in [
        ("64GB 2S2Rx4 PC4-2133P-RA1-10", [(937 * 17, 937 * 15), (937 * 18, 937 * 15)]),
        ("64GB 2S2Rx4 PC4-2400U-RA1-10", [(833 * 20, 833 * 18), (833 * 22, 833 * 18)]),
    ] {
        let label: Label = text.parse().unwrap();
        for (taa, trcd) in times {
            let mut image = encode(&label);
            let generation = Generation::Ddr4;
            for (time, picoseconds) in [(1, taa), (2, trcd), (3, trcd)] {
                set_time(&mut image, generation, time, picoseconds);
            }
            (7..37).for_each(|cas| set_cas(&mut image, generation, cas));
            assert_eq!(SpdImage::read(&seal(image)).unwrap().label(), Some(label.clone()));
        }
    }
}

fn card(generation: Generation, bytes: &[(usize, u8)]) -> Option<String> {
    image(generation, bytes).raw_card().as_ref().map(RawCard::to_string)
}

// JESD21-C 4.1.2.L-6 tables 97, 98, 105, 106; JESD400-5C table 99.
#[test]
fn every_code_of_raw_cards() {
    let cards = cards();
    assert_eq!(cards[19..22], ["Y", "AA", "AB"]);
    assert_eq!((cards[30].as_str(), cards[31].as_str(), cards[61].as_str()), ("AL", "AM", "CB"));
    for (generation, height, at) in [(Generation::Ddr3, 60, 62), (Generation::Ddr4, 128, 130)] {
        for code in 0..62_u8 {
            let byte = if code > 30 { 0x80 | (code - 31) } else { code };
            for revision in 0..4 {
                let expected = format!("{}{revision}", cards[usize::from(code)]);
                assert_eq!(card(generation, &[(at, byte | revision << 5)]), Some(expected));
            }
            for extension in 1..7_u8 {
                let bytes = [(height, extension << 5 | 0x11), (at, byte | 3 << 5)];
                assert_eq!(card(generation, &bytes), Some(format!("{}{}", cards[usize::from(code)], extension + 3)));
            }
            // revision 10 has no digit; the extension goes with revision 3 alone
            assert_eq!(card(generation, &[(height, 7 << 5), (at, byte | 3 << 5)]), None);
            assert_eq!(card(generation, &[(height, 1 << 5), (at, byte | 2 << 5)]), None);
        }
        assert_eq!(card(generation, &[(at, 31)]).as_deref(), Some("ZZZ"));
        assert_eq!(card(generation, &[(at, 0x80 | 31)]).as_deref(), Some("ZZZ"));
    }
    // the checks of real modules
    assert_eq!(card(Generation::Ddr4, &[(128, 0x31), (130, 0x61)]).as_deref(), Some("B4"));
    assert_eq!(card(Generation::Ddr4, &[(128, 0x11), (130, 0x63)]).as_deref(), Some("D3"));
    for code in 0..30_u8 {
        for revision in 0..7 {
            let expected = format!("{}{revision}", cards[usize::from(code)]);
            assert_eq!(card(Generation::Ddr5, &[(232, code | revision << 5)]), Some(expected));
        }
        assert_eq!(card(Generation::Ddr5, &[(232, code | 7 << 5)]), None);
    }
    assert_eq!(card(Generation::Ddr5, &[(232, 30)]), None);
    assert_eq!(card(Generation::Ddr5, &[(232, 31)]).as_deref(), Some("ZZZ"));
}

#[test]
fn what_a_label_lacks() {
    let ddr5: Label = LABELS[25].parse().unwrap();
    let ddr3: Label = LABELS[0].parse().unwrap();
    let cases: [(&Label, usize, u8, LabelField); 13] = [
        (&ddr5, 3, 0x91, LabelField::Generation), // with storage
        (&ddr5, 3, 0x05, LabelField::ModuleType), // clocked: no letter is known
        (&ddr5, 4, 0x24, LabelField::Capacity),   // dual-die
        (&ddr5, 234, 0x38, LabelField::Ranks),    // eight package ranks
        (&ddr5, 6, 0xe0, LabelField::Capacity),
        (&ddr5, 20, 0xe3, LabelField::DataRate),
        (&ddr5, 1, 0x1a, LabelField::SpdRevision),
        (&ddr5, 192, 0xa0, LabelField::ModuleSpdRevision),
        (&ddr5, 232, 0xff, LabelField::RawCard),
        (&ddr5, 233, 0x90, LabelField::TemperatureRange),
        (&ddr5, 33, 0x20, LabelField::SpeedBin),
        (&ddr5, 235, 0x22, LabelField::ModuleType), // registered without check bits
        (&ddr3, 6, 0x03, LabelField::Variant),      // at 1.35 V only
    ];
    for (label, at, byte, field) in cases {
        let mut bytes = encode(label);
        bytes[at] = byte;
        let image = SpdImage::read(&seal(bytes)).unwrap();
        assert_eq!((image.label(), image.label_problem()), (None, Some(field)), "byte {at}");
    }
}

/// Texts of labels, most of which are sound.
fn text() -> impl Strategy<Value = String> {
    use DeviceWidth::{X4, X8, X16};
    use Stack::{DualDie, QuadDie, Single, Stacked2, Stacked4, Stacked8, Stacked16};
    let stack = prop_oneof![
        4 => Just(Single),
        3 => select(&[DualDie, QuadDie, Stacked2, Stacked4, Stacked8, Stacked16][..]),
    ];
    let organization = (select(&[1, 2, 3, 4, 8][..]), stack, select(&[X4, X4, X8, X16][..]));
    let size = (organization, select(&Density::STANDARD[..])).prop_map(|((ranks, stack, width), die)| {
        let organization = Organization::new(ranks, stack, width);
        let capacity = organization.capacity(die);
        let size = capacity.whole_gib().map_or_else(|| format!("{}MB", capacity.mib()), |gib| format!("{gib}GB"));
        format!("{size} {organization}")
    });
    let card = (select(cards()), 0_u8..7).prop_map(|(card, revision)| format!("{card}{revision}"));
    let card = prop_oneof![9 => card, 1 => Just("ZZZ".to_owned())];
    let ddr3 = (
        select(&["PC3", "PC3L", "PC3U"][..]),
        select(&["6400R-05", "8500E-07", "10600U-09", "12800R-11", "14900L-13", "17000S-14", "12800T-10"][..]),
    )
        .prop_map(|(volt, rest)| format!("{volt}-{rest}-13-{{card}}"));
    let ddr4 = (
        select(&["PC4", "PC4E"][..]),
        select(&[1600, 1866, 2133, 2400, 2666, 2933, 3200][..]),
        select(Ddr4Bin::ALL),
        select(&['R', 'L', 'U', 'E', 'S', 'T', 'C', 'N', 'W'][..]),
    )
        .prop_map(|(volt, rate, bin, letter)| format!("{volt}-{rate}{}-{letter}{{card}}-12", bin.letters()));
    let ddr5 = (
        select(&DataRate::DDR5[..]),
        select(Ddr5Bin::ALL),
        select(&['R', 'P', 'L', 'U', 'E', 'S', 'T', 'V'][..]),
        select(TemperatureRange::ALL),
    )
        .prop_map(|(rate, bin, letter, range)| {
            format!("PC5-{}{}-{letter}{{card}}-1211-{range}", rate.name_mts(), bin.letters())
        });
    let rest = prop_oneof![ddr3, ddr4, ddr5];
    (size, rest, card).prop_map(|(size, rest, card)| format!("{size} {}", rest.replace("{card}", &card)))
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2000))]

    #[test]
    fn an_image_gives_the_label_that_it_was_made_of(text in text()) {
        let Ok(label) = text.parse::<Label>() else { return Ok(()) };
        let is_twice = matches!((label.data_rate().name_mts(), label.speed_bin()),
            (2133, SpeedBin::Ddr4(Ddr4Bin::P)) | (2400, SpeedBin::Ddr4(Ddr4Bin::U)));
        let is_x4 = label.organization().width == DeviceWidth::X4;
        if !can_encode(&label) || label.latencies().is_none() && !(is_twice && is_x4 && label.organization().stack.is_stacked()) {
            return Ok(());
        }
        // where both bins have the same times the label says B
        let is_same = matches!(label.data_rate().name_mts(), 3200 | 4000 | 6000 | 8000);
        if is_same && text.contains("BN-") {
            let image = SpdImage::read(&encode(&label)).unwrap();
            prop_assert_eq!(image.label().unwrap().to_string(), text.replace("BN-", "B-"));
            return Ok(());
        }
        holds(&text);
    }
}
