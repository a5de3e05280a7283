//! Held against the decoder decode-dimms of i2c-tools, where it is installed. It knows DDR3 and DDR4.
//!
//! What it tells otherwise, and why:
//!
//! - Of raw cards whose revision is above 3 it prints the extension's code: revision 1 for 4.
//! - Densities of 12 and 24 Gb are powers of two to it. No image here has them.
//! - Eight ranks of DDR3 are five to it. No image here has them.
//! - Modules with unlike ranks are decoded by their first rank. No image here has them.
//! - Its ranks are package ranks, as ours are.
//! - It divides 2,000,000 by the clock period in whole picoseconds, after it has put some of the periods right: the rate may be off by 3 MT/s.
//! - Its bandwidth name comes from that rate. It is not held.

use std::fs;
use std::path::PathBuf;

use crate::intake::spd::SpdImage;
use crate::intake::spd::tests::encoder::encode;
use crate::intake::spd::tests::labels::LABELS;
use crate::intake::tool::tool;
use crate::module::{Ecc, FormFactor, Generation, Label, ModuleKind, RawCard};
use crate::unit::{Capacity, Name};

/// Images of these labels, as a program that dumps bytes in hexadecimal prints them.
fn hexadecimal(bytes: &[u8]) -> String {
    let line = |(index, line): (usize, &[u8])| {
        let bytes: Vec<String> = line.iter().map(|byte| format!("{byte:02x}")).collect();
        format!("{:08x}  {}\n", index * 16, bytes.join(" "))
    };
    bytes.chunks(16).enumerate().map(line).collect()
}

/// What the tool prints of each image, in lines of a heading and a text.
fn decoded(images: &[Vec<u8>]) -> Option<Vec<String>> {
    let folder: PathBuf = std::env::temp_dir().join(format!("slotwright-{}-spd", std::process::id()));
    fs::create_dir_all(&folder).unwrap();
    let files: Vec<PathBuf> = (0..images.len()).map(|index| folder.join(format!("{index}.hex"))).collect();
    files.iter().zip(images).for_each(|(file, image)| fs::write(file, hexadecimal(image)).unwrap());
    let mut arguments = vec!["-x"];
    arguments.extend(files.iter().map(|file| file.to_str().unwrap()));
    let printed = tool("decode-dimms", &arguments);
    fs::remove_dir_all(&folder).unwrap();
    let printed = printed?;
    let parts: Vec<String> = printed.split("Decoding EEPROM").skip(1).map(str::to_owned).collect();
    assert_eq!(parts.len(), images.len(), "its checksums are right in all:\n{printed}");
    Some(parts)
}

/// The text behind a heading.
fn value<'p>(printed: &'p str, heading: &str) -> &'p str {
    let line = printed.lines().find_map(|line| {
        let (first, rest) = line.split_at_checked(48)?;
        (first.trim_end() == heading).then_some(rest)
    });
    line.unwrap_or_else(|| panic!("{heading} is not in\n{printed}")).trim()
}

/// The number at the beginning of the text behind a heading.
fn number(printed: &str, heading: &str) -> u32 {
    let text = value(printed, heading);
    text.split(' ').next().unwrap().parse().unwrap_or_else(|_| panic!("{heading}: {text}"))
}

/// Labels of every rate, organization and kind that the tool knows, beside those of the other tests.
fn labels() -> Vec<Label> {
    let organizations = ["8GB 1Rx8", "16GB 1Rx4", "16GB 2Rx8", "32GB 2Rx4", "64GB 4DRx4", "128GB 2S4Rx4"];
    let rates = ["1600K", "1866M", "2133P", "2400T", "2666V", "2933Y", "3200AA"];
    let cards = ["RA0", "RC3", "RB1", "LD2", "UE1", "SZZZ", "EA2", "RD3"];
    let mut texts: Vec<String> = LABELS.iter().map(|&text| text.to_owned()).collect();
    for (index, organization) in organizations.iter().enumerate() {
        for (other, rate) in rates.iter().enumerate() {
            texts.push(format!("{organization} PC4-{rate}-{}-11", cards[(index * 3 + other) % cards.len()]));
        }
    }
    for organization in ["2GB 1Rx8", "4GB 1Rx4", "8GB 2Rx4", "16GB 4Rx4", "4GB 2Rx8"] {
        for rate in ["8500R-07-10", "10600R-09-11", "12800R-11-12", "14900R-13-13", "12800U-11-11", "10600E-09-10"] {
            texts.push(format!("{organization} PC3L-{rate}-B1"));
        }
    }
    let known = |text: &String| text.parse::<Label>().ok().filter(|label| label.generation() != Generation::Ddr5);
    // a stack has no latencies in some of the letters
    texts.iter().filter_map(known).filter(|label| label.latencies().is_some()).collect()
}

fn sort(kind: ModuleKind, form: FormFactor, ecc: Ecc) -> &'static str {
    match (kind, form, ecc) {
        (ModuleKind::Registered, FormFactor::Dimm, _) => "RDIMM",
        (ModuleKind::LoadReduced, ..) => "LRDIMM",
        (ModuleKind::Unbuffered, FormFactor::Dimm, _) => "UDIMM",
        (ModuleKind::Unbuffered, FormFactor::SoDimm, Ecc::None) => "SO-DIMM",
        (ModuleKind::Unbuffered, FormFactor::SoDimm, _) => "72b-SO-UDIMM",
        other => panic!("{other:?}"),
    }
}

/// A raw card as the tool prints it: `B revision 1`.
fn card(card: RawCard) -> String {
    let card = card.to_string();
    if card == "ZZZ" {
        return "ZZ".to_owned();
    }
    let (letters, revision) = card.split_at(card.len() - 1);
    let revision: u8 = revision.parse().unwrap();
    // the extension's code, from which 3 is missing
    let revision = if revision > 3 { revision - 3 } else { revision };
    format!("{letters} revision {revision}")
}

#[test]
fn every_fact_is_theirs() {
    let labels = labels();
    assert!(labels.len() > 80, "{}", labels.len());
    let images: Vec<Vec<u8>> = labels.iter().map(encode).collect();
    let Some(all) = decoded(&images) else { return };
    for ((label, image), printed) in labels.iter().zip(&images).zip(&all) {
        let image = SpdImage::read(image).unwrap();
        let module = image.module();
        let of = |what: &str| format!("{label}: {what}\n{printed}");
        let mib = u64::from(number(printed, "Size"));
        assert_eq!(image.capacity().map(Capacity::mib), Some(mib), "{}", of("size"));
        assert_eq!(image.package_ranks().map(u32::from), Some(number(printed, "Ranks")), "{}", of("ranks"));
        let width = image.width().unwrap().to_string();
        assert_eq!(width, format!("x{}", number(printed, "SDRAM Device Width")), "{}", of("width"));
        let rate = image.grade().unwrap().name_mts();
        assert!(rate.abs_diff(number(printed, "Maximum module speed")) <= 3, "{}", of("rate"));
        let ecc = image.ecc().unwrap();
        assert_eq!(ecc == Ecc::Ecc, printed.contains("Bus Width Extension"), "{}", of("check bits"));
        assert_eq!(number(printed, "Primary Bus Width"), 64);
        let sort = sort(image.kind().unwrap(), image.form_factor().unwrap(), ecc);
        assert_eq!(value(printed, "Module Type"), sort, "{}", of("sort"));
        assert_eq!(value(printed, "Module Reference Card"), card(label.raw_card()), "{}", of("raw card"));
        let times = if label.generation() == Generation::Ddr3 { "tCL-tRCD-tRP-tRAS" } else { "AA-RCD-RP-RAS (cycles)" };
        let (cl, trcd, trp) = image.timings().unwrap().clocks;
        assert!(value(printed, times).starts_with(&format!("{cl}-{trcd}-{trp}-")), "{}", of("latencies"));
        assert_eq!(Some(value(printed, "Part Number")), image.part_number(), "{}", of("part number"));
        let serial = value(printed, "Assembly Serial Number");
        assert_eq!(serial.strip_prefix("0x"), module.serial.as_ref().map(Name::as_str), "{}", of("serial"));
        let made = image.made().unwrap();
        assert_eq!(value(printed, "Manufacturing Date"), format!("{}-W{:02}", made.year, made.week), "{}", of("week"));
        let volts: Vec<String> = image.voltages().unwrap().iter().map(|voltage| voltage.to_string()).collect();
        let theirs =
            if label.generation() == Generation::Ddr3 { "Operable voltages" } else { "Module Nominal Voltage" };
        let theirs = value(printed, theirs).replace(' ', "");
        for volts in &volts {
            assert!(theirs.contains(&volts.replace(' ', "")), "{volts}: {}", of("voltages"));
        }
        assert_eq!(theirs.matches('V').count(), volts.len(), "{}", of("voltages"));
    }
}
