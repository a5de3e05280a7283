//! What is said of a module that a machine takes: why no more of it fit, what is not known, and warnings.

use std::collections::BTreeSet;

use expect_test::expect_file;
use proptest::prelude::{TestCaseError, prop_assert, proptest};
use slotwright::ceiling::Acceptance;
use slotwright::finding::{Finding, Severity, Verdict};
use slotwright::module::{Generation, MemoryModule, MemoryModuleBuilder, ModuleKind};
use slotwright::platform::{PlatformDescription, Redundancy};
use slotwright::population::Population;
use slotwright::processor::{CapacityCap, ModulePattern, ProcessorDescription};
use slotwright::rule::{CountBound, CountSet, Rule, RuleSettings, SeveritySetting};
use slotwright::stated::{Basis, Scope, Stated};
use slotwright::unit::{Capacity, DataRate, Name};
use slotwright::{Machine, Planner, RuleBook, reference};

use crate::boards::{Source, any_module, bytes, config, labels, live, machine, module, name, settings};

/// A reference platform with one of its processors in every socket, in one of its modes.
fn referenced(platform: &str, processor: usize, mode: Option<usize>) -> Machine {
    let platform = reference::by_name(platform).unwrap();
    let processor = platform.description().processors[processor % platform.description().processors.len()].clone();
    let sockets: Vec<Name> = platform.sockets().iter().map(|socket| socket.label.clone()).collect();
    let modes = &platform.description().modes;
    let mode = mode.filter(|_| !modes.is_empty()).map(|mode| modes[mode % modes.len()].name.clone());
    let mut machine = Machine::builder(platform);
    if mode.is_some() {
        machine.settings.mode = mode;
    }
    sockets
        .iter()
        .fold(machine, |machine, socket| machine.processor(socket.as_str(), processor.clone()))
        .build()
        .unwrap()
}

fn codes(findings: &[Finding]) -> BTreeSet<Name> {
    findings.iter().map(|finding| finding.code.clone()).collect()
}

/// Fewer than there are slots for is always for a reason, and without the reasons more fit.
fn has_true_reasons(machine: &Machine, rules: &RuleBook, module: &MemoryModule) -> Result<Acceptance, TestCaseError> {
    let accepted = Planner::new(machine, rules).accepts(module);
    let Acceptance { fits, at_most, usable_mib, limited_by, unjudged, warnings, stopped, .. } = &accepted;
    let mode =
        machine.platform().description().modes.iter().find(|mode| Some(&mode.name) == machine.settings().mode.as_ref());
    // more than the best number may be legal, and no more usable
    let spares = mode.is_some_and(|mode| matches!(mode.redundancy, Redundancy::RankSparing { .. }));
    prop_assert!(limited_by.is_empty() || (*at_most < fits.len() && stopped.is_none()), "{accepted}");
    prop_assert!(!limited_by.is_empty() || *at_most >= fits.len() || stopped.is_some() || spares, "{accepted}");
    prop_assert!(limited_by.iter().all(|finding| finding.severity == Severity::Error), "{accepted}");
    prop_assert!(unjudged.iter().all(|finding| finding.verdict == Verdict::Unknown), "{accepted}");
    prop_assert!(warnings.iter().all(|finding| finding.severity == Severity::Warning), "{accepted}");
    prop_assert!(codes(warnings).len() == warnings.len(), "{accepted}");
    if !limited_by.is_empty() {
        let mut off = RuleSettings::default();
        off.severities.extend(codes(limited_by).into_iter().map(|code| (code, SeveritySetting::Off)));
        let fewer = rules.clone().with_settings(&off).unwrap();
        let then = Planner::new(machine, &fewer).accepts(module);
        let is_more = if spares { then.usable_mib > *usable_mib } else { then.at_most > *at_most };
        prop_assert!(is_more || then.stopped.is_some(), "{accepted}\nwithout these rules:\n{then}");
    }
    says_what_assess_says(machine, rules, &accepted)?;
    Ok(accepted)
}

/// Of a machine that is full of a module, it is not known and warned of what the assessment does not know and warns of.
fn says_what_assess_says(machine: &Machine, rules: &RuleBook, accepted: &Acceptance) -> Result<(), TestCaseError> {
    let slots = live(machine);
    if accepted.at_most == 0 || accepted.at_most < slots.len() {
        return Ok(());
    }
    let full = slots.into_iter().fold(Population::new(), |all, slot| all.with(slot, accepted.module.clone()));
    let assessed = Planner::new(machine, rules).assess(&full).unwrap().findings;
    let (unknown, others): (Vec<_>, Vec<_>) =
        assessed.into_iter().partition(|finding| finding.verdict == Verdict::Unknown);
    let warnings: Vec<_> = others.into_iter().filter(|finding| finding.severity == Severity::Warning).collect();
    prop_assert!(codes(&unknown).is_subset(&codes(&accepted.unjudged)), "{accepted}");
    prop_assert!(codes(&warnings).is_subset(&codes(&accepted.warnings)), "{accepted}");
    Ok(())
}

#[test]
fn every_reference_platform_gives_true_reasons() {
    let rules = RuleBook::standard();
    let (mut full, mut limited) = (0, 0);
    for (platform, make) in reference::all() {
        let modes = make().description().modes.len();
        for mode in std::iter::once(None).chain((0..modes).map(Some)) {
            let machine = referenced(platform, usize::MAX, mode);
            for label in labels(make().generation()) {
                let accepted = has_true_reasons(&machine, &rules, &module(label)).unwrap();
                *(if accepted.limited_by.is_empty() { &mut full } else { &mut limited }) += 1;
            }
        }
    }
    assert!(full > 30 && limited >= 3, "{full} {limited}");
}

proptest! {
    #![proptest_config(config(60))]

    #[test]
    fn law_fewer_than_slots_have_true_reasons_on_reference_platforms(bytes in bytes(40)) {
        let mut source = Source::new(&bytes);
        let (platform, make) = source.pick(reference::all());
        let mode = Some(source.below(8)).filter(|mode| *mode > 0);
        let machine = referenced(platform, source.below(4), mode);
        let module = any_module(&mut source, make().generation());
        has_true_reasons(&machine, &RuleBook::standard(), &module)?;
    }

    #[test]
    fn law_fewer_than_slots_have_true_reasons(bytes in bytes(300)) {
        let mut source = Source::new(&bytes);
        let machine = machine(&mut source, 8);
        let rules = RuleBook::standard().with_settings(&settings(&mut source)).unwrap();
        let module = any_module(&mut source, machine.platform().generation());
        has_true_reasons(&machine, &rules, &module)?;
    }
}

/// Registered modules of which so much is not known.
fn bare(generation: Generation, gib: u32, grade: Option<DataRate>) -> MemoryModule {
    let facts = MemoryModule::builder(generation, ModuleKind::Registered, Capacity::from_gib(gib));
    grade.into_iter().fold(facts, MemoryModuleBuilder::grade).build().unwrap()
}

/// A processor that addresses 256 GB, and a board whose maker lists other modules.
fn capped() -> Machine {
    let platform = reference::ddr4_2s_4ch_3spc();
    let mut processor = ProcessorDescription::from(platform.description().processors[1].clone());
    let cap = CapacityCap::new(Capacity::from_gib(256));
    processor.capacity_cap = Some(Stated::new(cap, Basis::DataSheet));
    let mut board = PlatformDescription::from(platform);
    board.listed_modules = Some(Stated::new(vec![ModulePattern::kind(ModuleKind::LoadReduced)], Basis::MakersList));
    Machine::builder(board.build().unwrap()).processor("1", processor.build().unwrap()).build().unwrap()
}

#[test]
fn what_is_said_of_modules() {
    let rules = RuleBook::standard();
    let said = |machine: &Machine, rules: &RuleBook, module: &MemoryModule| {
        Planner::new(machine, rules).accepts(module).to_string()
    };
    let machine = referenced("ddr4-2s-4ch-3spc", 1, None);
    let later = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later");
    let closed = later.closed_slot(name("D2"), name("bent contact")).build().unwrap();
    let dual = module("32GB 2Rx4 PC4-2400T-RB2-11");
    let bound = CountBound::new(Scope::Machine, CountSet::AtMost(20));
    let own = Rule::count("own-total", "more modules than our spares cover", Severity::Error, bound).unwrap();
    let texts = [
        said(&referenced("ddr5-2s-8ch-2spc", 1, None), &rules, &module("64GB 4Rx8 PC5-4400B-RA0-1010-XT")),
        said(&closed, &rules, &dual),
        said(&machine, &rules.clone().with(own).unwrap(), &dual),
        said(&capped(), &rules, &dual),
        said(&machine, &rules, &bare(Generation::Ddr4, 32, Some(DataRate::DDR4_2400))),
        said(&machine, &rules, &bare(Generation::Ddr4, 32, None)),
    ];
    expect_file!["golden/accepted.txt"].assert_eq(&(texts.join("\n\n") + "\n"));
}
