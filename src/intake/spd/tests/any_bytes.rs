//! What holds for all bytes.

use proptest::prelude::*;

use crate::intake::spd::tests::encoder::encode;
use crate::intake::spd::{SpdBlock, SpdImage};
use crate::module::Label;

/// Asks for everything, and holds together what belongs together.
fn ask(bytes: &[u8]) {
    let Ok(image) = SpdImage::read(bytes) else { return };
    assert_eq!(SpdImage::read(bytes).as_ref(), Ok(&image));
    let seen = image.module();
    // of what fails its checksum nothing is believed
    assert_eq!(seen.generation, image.is_sound().then(|| image.generation()));
    assert!(image.is_sound() || seen.width.is_none() && seen.capacity_mib.is_none());
    assert_eq!(image.label().is_none(), image.label_problem().is_some());
    assert!(image.capacity().is_none() || image.capacity_at_least().is_none());
    assert!(image.remarks().len() < 30);
    assert!(image.cas_latencies().count() <= 40);
    let _ = (image.timings(), image.unique_id(), image.made(), image.dram_maker_id(), image.maker_revision());
    let _ = (image.revision(), image.module_revision(), image.is_ddr4e(), image.is_asymmetric());
    assert!(format!("{image:?}").len() < 100);
    assert_eq!(image.is_sound(), image.blocks().iter().all(SpdBlock::is_sound));
    if let Some(label) = image.label().filter(|_| image.is_sound()) {
        assert_eq!((seen.kind, seen.capacity_mib), (Some(label.module().kind()), Some(label.capacity())));
        assert_eq!(seen.voltages_mv.as_ref(), label.module().voltages());
    }
    // a document
    let report = image.report("an image".parse().unwrap(), None);
    let document = serde_json::to_string(&report).unwrap();
    assert_eq!(serde_json::from_str::<crate::population::Report>(&document).unwrap(), report);
}

fn images() -> Vec<Vec<u8>> {
    ["16GB 2Rx4 PC3L-12800R-11-13-E2", "128GB 2S4Rx4 PC4-2933Y-LB1-12", "64GB 2Rx4 PC5-4800B-RA0-1010-XT"]
        .map(|text| encode(&text.parse::<Label>().unwrap()))
        .to_vec()
}

#[test]
fn every_length() {
    for image in images() {
        (0..=image.len()).for_each(|length| ask(&image[..length]));
    }
}

#[test]
fn every_value_of_every_byte_of_weight() {
    for image in images() {
        for at in 0..image.len().min(640) {
            for value in [0, 1, 0x0f, 0x40, 0x7f, 0x80, 0xc3, 0xff] {
                let mut changed = image.clone();
                changed[at] = value;
                ask(&changed);
            }
        }
    }
}

/// A sequence of numbers without pattern, always the same.
fn numbers(mut state: u64) -> impl FnMut() -> u64 {
    move || {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        state >> 33
    }
}

#[test]
fn changed_images() {
    let images = images();
    let mut next = numbers(1);
    for round in 0..3000 {
        let mut bytes = images[round % images.len()].clone();
        for _ in 0..=next() % 12 {
            let at = usize::try_from(next()).unwrap() % bytes.len().min(600);
            bytes[at] = u8::try_from(next() % 256).unwrap();
        }
        ask(&bytes);
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn any_bytes(mut bytes in proptest::collection::vec(any::<u8>(), 0..1100), key in proptest::sample::select(&[0x0b_u8, 0x0c, 0x0e, 0x12][..])) {
        ask(&bytes);
        if let Some(place) = bytes.get_mut(2) {
            *place = key;
        }
        ask(&bytes);
    }
}
