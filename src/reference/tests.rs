use std::collections::BTreeSet;

use crate::assess::Planner;
use crate::figure::Interleave;
use crate::fill::Legal;
use crate::finding::Severity;
use crate::machine::Machine;
use crate::module::Voltages;
use crate::platform::{Platform, PlatformDescription};
use crate::population::Layout;
use crate::processor::ProcessorDescription;
use crate::reference;
use crate::rule::RuleBook;
use crate::stated::Basis;
use crate::testing::{module, population};
use crate::unit::Voltage;
use crate::worked;

const DESCRIPTIONS: [fn() -> PlatformDescription; 10] = [
    reference::ddr3_1s_3ch_3spc::description,
    reference::ddr3_1s_uneven::description,
    reference::ddr3_2s_4ch_3spc::description,
    reference::ddr4_1s_2ch_2spc_unbuffered::description,
    reference::ddr4_2s_4ch_2spc::description,
    reference::ddr4_2s_4ch_3spc::description,
    reference::ddr4_2s_6ch_2spc::description,
    reference::ddr4_2s_8ch_2spc::description,
    reference::ddr5_1s_12ch_1spc::description,
    reference::ddr5_2s_8ch_2spc::description,
];

// The platforms skip the builder's checks, so this makes them up.
#[test]
fn descriptions_are_checked() {
    assert_eq!(DESCRIPTIONS.len(), reference::all().len());
    for (description, (name, platform)) in DESCRIPTIONS.iter().zip(reference::all()) {
        let built = description().build().unwrap_or_else(|error| panic!("{error}"));
        assert_eq!(built, platform());
        assert_eq!(built.name().as_str(), *name);
        assert_eq!(built.warnings(), [], "{name}");
        for processor in &built.description().processors {
            let described = ProcessorDescription::from(processor.clone());
            assert_eq!(described.build().as_ref(), Ok(processor), "{name}");
        }
    }
}

// A label that could not be read, or a slot name that stands for nothing, would go unnoticed otherwise.
#[test]
fn worked_rows_are_whole() {
    for (name, platform) in reference::all() {
        let platform = platform();
        assert!(platform.description().worked_rows.len() >= 5, "{name}");
        let mut names = BTreeSet::new();
        for row in &platform.description().worked_rows {
            assert!(names.insert(&row.name), "{name}: {} stands twice", row.name);
            assert!(!row.modules.is_empty(), "{name}: {}", row.name);
            assert_eq!(row.basis, Basis::Assumed);
            for modules in &row.modules {
                assert!(
                    modules.slots.is_empty() || modules.slots.len() == usize::from(modules.count),
                    "{name}: {}",
                    row.name
                );
            }
        }
        let mixed = platform.description().worked_rows.iter().filter(|row| row.modules.len() == 2).count();
        let named_so = [
            "two kinds",
            "two sizes",
            "both voltages",
            "72-bit and 80-bit",
            "x4 and x8",
            "quad-rank and 2 a channel",
            "quad-rank and 3 a channel",
            "quad-rank first",
            "single-rank and dual-rank",
            "single-rank and dual-rank, full",
            "dual-rank and quad-rank",
            "16 Gb and 24 Gb dies",
            "8 Gb x4 and 16 Gb x8",
            "x4 and x8, a channel each",
            "two sizes of stacked",
            "with and without error correction",
        ];
        let expected =
            platform.description().worked_rows.iter().filter(|row| named_so.contains(&row.name.as_str())).count();
        assert_eq!(mixed, expected, "{name}");
    }
}

#[test]
fn worked_rows_hold() {
    let failed: Vec<_> = reference::all()
        .iter()
        .flat_map(|(name, platform)| {
            worked::check(&platform()).into_iter().filter(|result| !result.holds()).map(move |r| format!("{name}: {r}"))
        })
        .collect();
    assert!(failed.is_empty(), "{}", failed.join("\n"));
}

#[test]
fn every_rate_of_every_table_is_read() {
    // a rate that the generation lacks would turn into "not allowed"
    for (name, platform) in reference::all() {
        for processor in &platform().description().processors {
            let barred = processor.description().rate_table.as_ref().map_or(0, |table| {
                table.rows.iter().filter(|row| row.cell == crate::processor::RateCell::NotAllowed).count()
            });
            let expected = match *name {
                "ddr3-2s-4ch-3spc" => 4,
                "ddr3-1s-3ch-3spc" => 2,
                "ddr3-1s-uneven" | "ddr4-2s-4ch-3spc" => 1,
                _ => 0,
            };
            assert_eq!(barred, expected, "{name}: {}", processor.name());
        }
    }
}

/// A board with a processor in its first socket.
fn one(platform: Platform, processor: &str) -> Machine {
    Machine::builder(platform).processor_named("1", processor).build().unwrap()
}

/// The codes of the errors of modules in these slots of a machine, each once.
fn errors(machine: &Machine, fitted: &[(&str, &str)]) -> Vec<String> {
    let modules: Vec<_> = fitted.iter().map(|&(slots, label)| (slots, module(label))).collect();
    let slots: Vec<_> =
        modules.iter().flat_map(|(slots, module)| slots.split(' ').map(move |slot| (slot, module))).collect();
    let rules = RuleBook::standard();
    let assessed = Planner::new(machine, &rules).assess(&population(&slots)).unwrap();
    let codes: BTreeSet<String> =
        assessed.from_severity(Severity::Error).map(|finding| finding.code.to_string()).collect();
    codes.into_iter().collect()
}

#[test]
fn a_quad_rank_module_comes_first() {
    let (ddr3, ddr4) = (
        ("16GB 4Rx4 PC3-8500R-07-10-F0", "8GB 2Rx4 PC3-10600R-09-10-E1"),
        ("32GB 4Rx4 PC4-2133P-RA0-10", "32GB 2Rx4 PC4-2400T-RB2-11"),
    );
    for (platform, processor, (quad, dual)) in [
        (reference::ddr3_1s_3ch_3spc(), "plain", ddr3),
        (reference::ddr3_1s_uneven(), "plain", ddr3),
        (reference::ddr3_2s_4ch_3spc(), "later", ddr3),
        (reference::ddr4_2s_4ch_2spc(), "later", ddr4),
        (reference::ddr4_2s_4ch_3spc(), "later", ddr4),
    ] {
        let machine = one(platform, processor);
        assert_eq!(errors(&machine, &[("A1", quad), ("A2", dual)]), [""; 0], "{}", machine.platform().name());
        assert_eq!(
            errors(&machine, &[("A1", dual), ("A2", quad)]),
            ["priority-order"],
            "{}",
            machine.platform().name()
        );
    }
}

#[test]
fn quad_rank_modules_that_run_at_1_35_v_alone_do_not_go_two_a_channel() {
    let machine = one(reference::ddr3_2s_4ch_3spc(), "later");
    let low = Voltages::only(Voltage::V1_35);
    let quad = module("32GB 4Rx4 PC3L-10600R-09-11-F0").to_builder().voltages(low).build().unwrap();
    let rules = RuleBook::standard();
    let arranged = |count: usize| {
        let arranged = Planner::new(&machine, &rules).arrange([(quad.clone(), count)]).unwrap();
        arranged.best().ok().and_then(Legal::running_rate)
    };
    assert_eq!(arranged(4), Some(crate::unit::DataRate::DDR3_1066));
    assert_eq!(arranged(5), None);
}

#[test]
fn bans_of_the_eight_channel_board() {
    let machine = one(reference::ddr4_2s_8ch_2spc(), "plain");
    let (x4, x8) = ("64GB 2Rx4 PC4-3200AA-RB2-14", "32GB 2Rx8 PC4-3200AA-RE3-12");
    assert_eq!(errors(&machine, &[("C1", x4), ("D1", x8)]), [""; 0]);
    assert_eq!(errors(&machine, &[("C1", x4), ("C2", x8)]), ["width-mix"]);
    assert_eq!(errors(&machine, &[("C1", "32GB 2Rx4 PC4-3200AA-RB2-12"), ("D1", x8)]), ["pair-ban"]);
    // of another size they meet
    assert_eq!(errors(&machine, &[("C1", "16GB 1Rx4 PC4-3200AA-RC1-12"), ("D1", x8)]), [""; 0]);
    let stacked = ("128GB 2S2Rx4 PC4-3200AC-LB1-12", "256GB 2S4Rx4 PC4-3200AC-LB1-12");
    assert_eq!(errors(&machine, &[("C1", stacked.0), ("D1", stacked.1)]), ["pair-ban"]);
}

#[test]
fn channels_of_one_controller_or_as_many_of_each_interleave() {
    let machine = one(reference::ddr4_2s_6ch_2spc(), "later");
    let plain = module("32GB 2Rx4 PC4-2933Y-RB2-12");
    let ways = |channels: &str| {
        let slots: Vec<String> = channels.chars().map(|channel| format!("{channel}1")).collect();
        let fitted: Vec<_> = slots.iter().map(|slot| (slot.as_str(), &plain)).collect();
        let population = population(&fitted);
        let interleave = Interleave::of(&Layout::new(&machine, &population).unwrap());
        interleave.domains[0].regions.iter().map(|region| region.ways).collect::<Vec<_>>()
    };
    for (channels, regions) in [
        ("ABCDEF", &[6][..]),
        ("ABDE", &[4]),
        ("ACDF", &[4]),
        ("ACEF", &[4]),
        ("ABC", &[3]),
        ("DF", &[2]),
        ("AE", &[2]),
        ("ABCD", &[3, 1]),
        ("ABD", &[2, 1]),
        ("ABCDE", &[4, 1]),
    ] {
        assert_eq!(ways(channels), regions, "{channels}");
    }
}
