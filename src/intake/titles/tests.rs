use proptest::prelude::*;

use super::*;
use crate::module::{Generation, Label, ModuleKind};
use crate::population::ModuleFact;
use crate::testing::name;
use crate::unit::{Capacity, Price};

fn eur(cents: u64) -> Price {
    Price::new(cents, "EUR".parse().unwrap())
}

fn lot(title: &str) -> Lot {
    read(title, &Words::standard())
}

fn text(title: &str) -> String {
    lot(title).to_string()
}

#[test]
fn every_claim_stands_where_it_says() {
    let lot = lot("Lot of 8 × 16GB 2Rx4 PC4-2400T-RA1 «foo» 25,00 €/pc");
    let claims: Vec<String> = lot
        .claims
        .iter()
        .map(|claim| {
            let says: Vec<String> = claim.ways.iter().flatten().map(ToString::to_string).collect();
            format!("{}: {}", claim.text, says.join(", "))
        })
        .collect();
    assert_eq!(
        claims,
        [
            "Lot of: how it is sold",
            "8 × 16GB: 8 of 16 GB",
            "2Rx4: package ranks 2, single-die, x4",
            "PC4-2400T-RA1: DDR4, rated 2400 MT/s, registered, DIMM, with check bits",
            "25,00 €: money",
            "pc: how it is sold",
        ]
    );
    assert_eq!(lot.not_understood.iter().map(|passage| passage.text.as_str()).collect::<Vec<_>>(), ["foo"]);
    for claim in &lot.claims {
        assert_eq!(lot.title.get(claim.start..claim.end), Some(claim.text.as_str()));
    }
}

#[test]
fn what_can_mean_two_things_has_two_readings() {
    assert_eq!(text("16GB x4 DDR4 RDIMM"), "4 x 16 GB DDR4 registered, DIMM\nor 16 GB DDR4 registered, DIMM, x4");
    assert_eq!(text("16GB x 4 DDR4 RDIMM"), "4 x 16 GB DDR4 registered, DIMM");
    assert_eq!(text("16GB 2Rx4 x4 DDR4 RDIMM"), "4 x 16 GB 2Rx4 DDR4 registered, DIMM");
    assert_eq!(
        text("64GB kit of 4 DDR4 RDIMM"),
        "4 x 64 GB DDR4 registered, DIMM\nor 4 x 16 GB DDR4 registered, DIMM; 64 GB together"
    );
    assert_eq!(text("16GB DDR4 ECC REG"), "16 GB DDR4, ECC (72 bits), registered or load-reduced");
    assert_eq!(
        text("8GB PC4-2400R"),
        "8 GB DDR4 registered, DIMM, ECC (72 bits), rated 2400 MT/s\nor 8 GB DDR4, rated 2400 MT/s"
    );
}

#[test]
fn contradictions_name_their_claims() {
    for (title, last) in [
        ("128GB (4x16GB) DDR4 RDIMM", "ask: how many and how large: “128GB”, “4x16GB” cannot all be true"),
        ("16GB PC4-2400T-R unbuffered", "ask: kind: “PC4-2400T-R”, “unbuffered” cannot all be true"),
        ("16GB DDR3 PC4-19200 RDIMM", "ask: generation: “DDR3”, “PC4-19200” cannot all be true"),
        ("16GB DDR4 ECC non-ECC RDIMM", "ask: check bits: “ECC”, “non-ECC” cannot all be true"),
        ("16GB DDR4 2400 2666 RDIMM", "ask: rated rate: “DDR4 2400”, “2666” cannot all be true"),
        ("16GB 2Rx4 1Rx4 DDR4 RDIMM", "ask: ranks: “2Rx4”, “1Rx4” cannot all be true"),
        ("16GB 2Rx4 2Rx8 DDR4 RDIMM", "ask: device width: “2Rx4”, “2Rx8” cannot all be true"),
        ("16GB DDR4 1.2V 1.5V RDIMM", "ask: voltage: “1.2V”, “1.5V” cannot all be true"),
        ("16GB DDR4 new for parts RDIMM", "ask: state: “new”, “for parts” cannot all be true"),
        ("16GB DDR4 RDIMM SODIMM", "ask: form factor: “RDIMM”, “SODIMM” cannot all be true"),
        ("4x8GB DDR3 and 2x16GB DDR4", "ask: it speaks of more than one sort of module: read them one by one"),
        ("16GB DDR3-2400 UDIMM", "ask: 2400 MT/s is no standard rate of DDR3"),
        (
            "64GB 1Rx8 DDR3 UDIMM",
            "ask: a DDR3 module of 64 GB so organised needs a die that was never made: ask for a photograph of the label",
        ),
    ] {
        let text = text(title);
        assert_eq!(text.lines().last(), Some(last), "{title}: {text}");
    }
}

#[test]
fn numbers_that_are_none_of_a_module() {
    for title in [
        "call 0800 1600 2400",
        "tel. +49 30 2400 1600",
        "EUR 2400",
        "2.400,00 €",
        "$3200",
        "3200 USD",
        "2024-05-16",
        "16.05.2024",
        "KQX-3200",
        "AB2400C",
        "2400W power supply",
        "12V",
        "25 GB/s",
        "DDR4 socket covers",
        "480GB SSD",
        "🔥🔥🔥",
        "",
        " ",
        "x",
        "4x",
        "x4",
        "PC",
        "DDR",
        "PC4-",
        "99999999999999999999 GB",
        "0 x 16",
        "3 modules",
    ] {
        let lot = lot(title);
        assert!(!lot.is_of_modules(), "{title}: {lot}");
        assert!(lot.module(&[]).unwrap_err().to_string().ends_with("nothing in it speaks of a memory module"));
    }
}

#[test]
fn an_offer_comes_only_from_what_is_settled() {
    let offer = |title: &str, needed: &[ModuleFact]| {
        lot(title).offer(name("lot"), eur(1_000), needed).map(|offer| offer.stock).map_err(|open| open.to_string())
    };
    assert_eq!(offer("8x 16GB DDR4-2400 RDIMM", &[]), Ok(8));
    assert_eq!(offer("64GB total, 16GB each, DDR4 RDIMM", &[]), Ok(4));
    let open = |text: &str| Err(format!("the lot is not settled: {text}"));
    assert_eq!(offer("16GB DDR4-2400 RDIMM", &[]), open("how many there are is not said, or not in one way only"));
    assert_eq!(offer("8x 16GB DDR4 RDIMM", &[ModuleFact::Grade]), open("the rated rate is not said"));
    assert_eq!(offer("8x 16GB RDIMM", &[]), open("the generation is not said"));
    assert_eq!(offer("8x DDR4 RDIMM", &[]), open("the size is not said"));
    assert_eq!(
        offer("16GB x4 DDR4 REG", &[]),
        open("the kind may be registered or load-reduced; how many there are is not said, or not in one way only")
    );
    assert_eq!(offer("8x 16GB DDR4 RDIMM for parts", &[]), open("it is sold as broken, or for parts"));
    assert_eq!(offer("8x 16GB DDR4 RDIMM 64GB", &[]), open("claims on how many and how large contradict each other"));
}

// what a buyer tried who had not seen the reader
#[test]
fn no_offer_of_what_a_careful_buyer_would_ask_about() {
    for (title, asked) in [
        ("2x Hollowgate E5-2690v4, 8 x 32GB DDR4 RDIMM 2400", "how many there are is not said, or not in one way only"),
        ("8x 32GB DDR4 2400 RDIMM (6 available)", "how many there are is not said, or not in one way only"),
        ("8x 32GB DDR4 2400 RDIMM brand new in box of 50", "how many there are is not said, or not in one way only"),
        ("8x 32GB DDR4 2400 RDIMM per 2 pcs", "how many there are is not said, or not in one way only"),
        ("8x 32GB DDR4 2400 RDIMM, only 6 left", "what 6 means is not clear"),
        ("24x 32GB 2Rx4 PC4-2400T-RB2-11 DEFECT", "it is sold as broken, or for parts"),
        ("24x 32GB 2Rx4 PC4-2400T-RB2-11 kaputt", "it is sold as broken, or for parts"),
        ("8x 32GB 2Rx4 PC4-2400T-R funktioniert nicht", "it is sold as broken, or for parts"),
        ("8x 32GB 2Rx4 PC4-2400T-R not exactly fast", "“not” is said of it"),
        ("Wanted: 8x 32GB 2Rx4 PC4-2400T-R", "“Wanted” is said of it"),
        ("SOLD 8x 32GB 2Rx4 PC4-2400T-R", "“SOLD” is said of it"),
        ("Heatsink for 8x 32GB 2Rx4 PC4-2400T-R", "“Heatsink” is said of it"),
        ("8x 32GB NVDIMM DDR4 2666 RDIMM", "“NVDIMM” is said of it"),
        ("8x 32GB RDIMM? DDR4 2400", "“?” is said of it"),
        ("8x 32GB probably RDIMM DDR4 2400", "“probably” is said of it"),
        ("approx. 50 pcs 32GB DDR4 RDIMM 2400", "“approx” is said of it"),
        ("8x 32GB DDR4 RDIMM up to 2400", "“up to” is said of it"),
        ("8x 32GB DDR4 RDIMM, postcode 3200 Denmark", "what 3200 means is not clear"),
        ("8x 32GB DDR3 RDIMM 2400", "2400 MT/s is no standard rate of DDR3"),
        ("8x 32GB DDR4 RDIMM 2400 1.5V", "1.5 V is no standard voltage of DDR4"),
        ("8x 32GB 2Rx4 PC4-2400T-RB2-11 MOQ 100", "at least 100 are sold, and there are 8"),
    ] {
        let error = lot(title).offer(name("lot"), eur(1_000), &[ModuleFact::Grade]).unwrap_err().to_string();
        assert!(error.contains(asked), "{title}: {error}");
    }
    let condition = |title: &str| lot(title).readings[0].condition;
    assert_eq!(condition("16GB DDR4 RDIMM not tested"), Some(LotCondition::Untested));
    assert_eq!(condition("16GB DDR4 RDIMM not new"), Some(LotCondition::Used));
    assert_eq!(condition("16GB DDR4 RDIMM like new"), Some(LotCondition::Used));
    assert_eq!(condition("16GB DDR4 RDIMM neuwertig"), Some(LotCondition::Used));
    // two ranks of single dies, as a label writes them, say what the dies are
    let module = lot("24x 32GB 2Rx4 PC4-2400T-R tested").module(&[ModuleFact::DieDensity]).unwrap();
    assert_eq!(module.to_string(), "32GB 2Rx4 DDR4-2400 registered");
    let offer = lot("24x 32GB 2Rx4 PC4-2400T-R used, min order 4, blue").offer(name("lot"), eur(1), &[]).unwrap();
    assert_eq!((offer.minimum_quantity, offer.data.as_deref()), (4, Some("used; not understood: blue")));
}

#[test]
fn what_is_confirmed_stands_above_the_title() {
    let read = lot("16GB x4 DDR4 ECC REG unbuffered");
    let confirmed = read.confirm([
        Says::Kinds(vec![ModuleKind::Registered]),
        Says::Modules { count: 4, capacity_mib: Capacity::from_gib(16) },
    ]);
    assert_eq!(confirmed.doubts, []);
    assert_eq!(confirmed.offer(name("lot"), eur(1_000), &[]).unwrap().stock, 4);
    // a label that is not what the photograph shows is none
    let read = lot("2 pcs 16GB 2Rx4 PC4-2400T-RA1-11");
    assert_eq!(read.module(&[]).unwrap().kind(), ModuleKind::Registered);
    let confirmed = read.confirm([Says::Kinds(vec![ModuleKind::LoadReduced])]);
    assert_eq!(confirmed.module(&[]).unwrap().kind(), ModuleKind::LoadReduced);
    // what is sold for parts may be found to be good
    let confirmed = lot("8x 16GB DDR4 RDIMM for parts").confirm([Says::Condition(LotCondition::Tested)]);
    assert!(confirmed.offer(name("lot"), eur(1_000), &[]).is_ok());
}

#[test]
fn callers_extend_the_words() {
    let words = Words::standard()
        .with("modulen", Meaning::Counted)
        .with("geregistreerd", Meaning::Says(vec![Says::Kinds(vec![ModuleKind::Registered])]));
    let lot = read("8 modulen 16GB DDR4 geregistreerd", &words);
    assert_eq!(lot.to_string(), "8 x 16 GB DDR4 registered");
    // a word can be taken away
    let words = Words::standard().with("used", Meaning::Says(Vec::new())).with("!?", Meaning::Counted);
    assert_eq!(read("16GB DDR4 RDIMM used", &words).readings[0].condition, None);
    assert!(read("16GB DDR4 RDIMM", &Words::none()).readings.is_empty());
}

/// A title in which anything may stand.
fn any_title() -> impl Strategy<Value = String> {
    let piece = prop_oneof![
        prop::sample::select(vec![
            "4x16GB",
            "64GB",
            "(",
            ")",
            "DDR4",
            "PC4-2400T-R",
            "PC3L-12800R",
            "2Rx4",
            "x4",
            "x 8",
            "RDIMM",
            "ECC",
            "non-ECC",
            "NOT",
            "registered",
            "unbuffered",
            "lot of 8",
            "kit",
            "of",
            "4",
            "2400",
            "MHz",
            "1.2V",
            "€",
            "25,00",
            "tel",
            "+49 30",
            "used",
            "or",
            "and",
            "|",
            "\t",
            "\n",
            "-",
            "/",
            "16GB 2Rx4 PC4-2400T-RA1-11",
            "each",
            "total",
            "🔥",
            "ß",
            "İ",
            "pcs",
            "Stück",
            "2S4Rx4",
        ])
        .prop_map(str::to_owned),
        "[0-9]{1,12}",
        "[a-zA-Z]{1,6}",
        any::<String>(),
    ];
    (prop::collection::vec(piece, 0..14), prop::sample::select(vec!["", " ", "  ", ", "]))
        .prop_map(|(pieces, between)| pieces.join(between))
}

proptest! {
    // no reading drops a claim: every letter and digit of the title is in one claim or in one passage that is not understood
    #[test]
    fn law_nothing_of_a_title_is_dropped(title in any_title()) {
        let lot = lot(&title);
        let mut spans: Vec<(usize, usize)> = lot.claims.iter().map(|claim| (claim.start, claim.end)).collect();
        spans.extend(lot.not_understood.iter().map(|passage| (passage.start, passage.end)));
        spans.sort_unstable();
        for pair in spans.windows(2) {
            prop_assert!(pair[0].1 <= pair[1].0, "{spans:?}");
        }
        for (at, letter) in title.char_indices().filter(|(_, letter)| letter.is_alphanumeric()) {
            let holders = spans.iter().filter(|(start, end)| (*start..*end).contains(&at)).count();
            prop_assert_eq!(holders, 1, "{} at {}", letter, at);
        }
        for claim in &lot.claims {
            prop_assert_eq!(title.get(claim.start..claim.end), Some(claim.text.as_str()));
            prop_assert!(!claim.ways.is_empty());
        }
        // in each reading every claim speaks, or a doubt names it: of what a lone claim says, a reading without doubts holds it.
        // A second count beside "4x16GB" may be of something else: then another reading holds it, and the two leave it open
        if lot.doubts.is_empty() {
            for reading in &lot.readings {
                for claim in lot.claims.iter().filter(|claim| claim.ways.len() == 1) {
                    for says in claim.ways.iter().flatten() {
                        let is_in_another = matches!(says, Says::Count(_))
                            && lot.readings.iter().any(|other| other.count != reading.count && holds(other, says));
                        prop_assert!(is_in_another || holds(reading, says), "{} is not in {}", says, reading);
                    }
                }
            }
        }
    }

    #[test]
    fn law_lots_read_back_as_they_are_written(title in any_title()) {
        let lot = lot(&title);
        let text = serde_json::to_string(&lot).unwrap();
        prop_assert_eq!(serde_json::from_str::<Lot>(&text).unwrap(), lot);
    }

    #[test]
    fn law_the_case_of_a_title_is_no_matter(title in "[ -~]{0,60}") {
        let says = |title: &str| lot(title).claims.into_iter().map(|claim| (claim.start, claim.end, claim.ways)).collect::<Vec<_>>();
        let is_label = |ways: &[Vec<Says>]| ways.iter().flatten().any(|says| matches!(says, Says::Label(_)));
        let found = says(&title);
        prop_assume!(!found.iter().any(|(.., ways)| is_label(ways)));
        prop_assert_eq!(says(&title.to_ascii_lowercase()), found);
    }
}

/// Whether a reading says what a claim does.
fn holds(reading: &LotReading, says: &Says) -> bool {
    match says {
        Says::Count(count) => reading.count == Some(*count) || reading.count.is_some_and(|all| all % count == 0),
        Says::SetOf(count) | Says::Sets(count) => reading.count.is_none_or(|all| all % count == 0 || *count == 1),
        Says::Size(size) => {
            [reading.capacity_mib, reading.together_mib].contains(&Some(*size))
                || reading.capacity_mib.is_some_and(|each| size.mib() % each.mib() == 0)
        }
        Says::Each(size) => reading.capacity_mib == Some(*size),
        Says::Together(size) => {
            reading.together_mib == Some(*size) || reading.capacity_mib.is_some_and(|each| size.mib() % each.mib() == 0)
        }
        Says::Modules { count, capacity_mib } | Says::Times { count, capacity_mib } => {
            reading.capacity_mib == Some(*capacity_mib)
                && reading.count.is_some_and(|all| *count > 0 && all % count == 0)
        }
        Says::Label(label) => reading.label.as_ref() == Some(label),
        Says::Generation(generation) => reading.generation == Some(*generation),
        Says::Rate(rate) => reading.grade_mts == Some(*rate),
        // a rate that no standard has is not taken over; without a generation there is nothing to hold it against
        Says::OtherRate(_) => true,
        Says::Kinds(kinds) => reading.kinds.iter().all(|kind| kinds.contains(kind)),
        Says::CheckBits(has) => reading.has_check_bits == Some(*has),
        Says::Form(form) => reading.form_factor == Some(*form),
        Says::Ranks(ranks) => {
            reading.rank_number == Some(*ranks) || reading.package_ranks.is_some_and(|of| ranks % of == 0)
        }
        Says::PackageRanks(ranks) => reading.package_ranks == Some(*ranks),
        Says::Stack(stack) => reading.stack == Some(*stack),
        Says::Width(width) => reading.width == Some(*width),
        Says::Voltage(voltage) => reading.voltage_mv == Some(*voltage),
        Says::Condition(_) => reading.condition.is_some(),
        Says::AtLeast(count) => reading.at_least.is_some_and(|least| least >= *count),
        Says::Aside(_) => true,
    }
}

// every label of the standards is read in a title as the label it is
#[test]
fn labels_are_read_in_titles() {
    for text in [
        "8GB 2Rx4 PC3L-10600R-09-11-E2",
        "32GB 2Rx4 PC4-2400T-RB2-11",
        "64GB 2Rx4 PC5-4800B-RA0-1010-XT",
        "64GB 2S2Rx4 PC4-2666V-RA2-11-MA1",
    ] {
        let label: Label = text.parse().unwrap();
        for title in [
            text.to_owned(),
            text.to_lowercase(),
            text.replace(' ', ""),
            text.replace("GB", " GB"),
            format!("4 x {text}, used"),
            format!("({text})"),
            format!("{text}."),
        ] {
            let lot = lot(&title);
            assert_eq!(lot.readings[0].label.as_ref(), Some(&label), "{title}: {lot}");
            assert_eq!(lot.module(&[ModuleFact::DieDensity]).unwrap(), label.to_module(), "{title}");
            assert_eq!(lot.readings[0].generation, Some(label.generation()));
        }
    }
    assert_eq!(lot("4 x 32GB 2Rx4 PC4-2400T-RB2-11, used").readings[0].count, Some(4));
    assert_eq!(Generation::ALL.len(), 3);
}
