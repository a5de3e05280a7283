//! Whether the rules keep what their rows promise, on machines that state every limit on unlike modules.

use proptest::collection::vec;
use proptest::option::weighted;
use proptest::prelude::*;
use proptest::sample::select;

use crate::finding::{Finding, Severity};
use crate::machine::Machine;
use crate::module::{Ecc, MemoryModule, MemoryModuleBuilder, ModuleKind, Voltages};
use crate::platform::{CountRow, FillRow, PairBan, PlatformDescription, RatePolicy, UnlikeGrades, UnlikeVoltages};
use crate::population::{Content, Layout};
use crate::processor::{MixLimit, MixProperty, ModulePattern, ProcessorDescription, RateTable};
use crate::rule::{Rule, RuleBook, RuleSettings};
use crate::stated::{Basis, Demand, Scope, Stated};
use crate::testing::{self, board_of, lacking, module, name, plain, processor};
use crate::unit::{Capacity, DataRate, Power, Voltage};

/// Modules that differ in every fact that a rule looks at, some of them with gaps.
fn modules() -> Vec<MemoryModule> {
    let volts = |volts: &[Voltage]| Voltages::new(volts.iter().copied()).unwrap();
    let build =
        |change: &dyn Fn(MemoryModuleBuilder) -> MemoryModuleBuilder| change(plain().to_builder()).build().unwrap();
    vec![
        plain(),
        module("16GB 1Rx4 PC4-2133P-RC1-10"),
        module("8GB 2Rx8 PC4-2400T-RE2-11"),
        module("64GB 2S2Rx4 PC4-2400T-RB2-11"),
        module("128GB 2S4Rx4 PC4-2666V-RB2-11"),
        module("32GB 4DRx4 PC4-2400T-LD0-11"),
        build(&|facts| facts.class(name("one")).maker(name("first"))),
        build(&|facts| facts.class(name("two")).maker(name("second"))),
        build(&|facts| facts.voltages(volts(&[Voltage::V1_1]))),
        build(&|facts| facts.voltages(volts(&[Voltage::V1_1, Voltage::V1_2]))),
        build(&|facts| facts.ecc(Ecc::None)),
        lacking(&plain(), &["width", "die_density_mbit"]),
        lacking(&plain(), &["package_ranks", "stack", "ecc"]),
        lacking(&plain(), &["grade_mts"]),
        lacking(&plain(), &["voltages_mv"]),
    ]
}

const PROPERTIES: [MixProperty; 11] = [
    MixProperty::Kind,
    MixProperty::Stacked,
    MixProperty::StackHeight,
    MixProperty::Ecc,
    MixProperty::Width,
    MixProperty::Capacity,
    MixProperty::PackageRanks,
    MixProperty::DieDensity,
    MixProperty::DieDensityUnlessOneWidth,
    MixProperty::Class,
    MixProperty::Maker,
];

/// 2 sockets of 2 channels of 3 slots, with every policy stated.
fn machine(within: Scope, at_most: u8, basis: Basis, rate_policy: RatePolicy) -> Machine {
    let class = |text: &str| ModulePattern { class: Some(name(text)), ..ModulePattern::default() };
    let stacked = ModulePattern { stack_height: Some(2), ..ModulePattern::default() };
    let ban = |first, second| Stated::new(PairBan { first, second, within }, basis);
    let rates = RateTable::new(basis).by_load(
        &ModulePattern::kind(ModuleKind::Registered).ranks(2),
        &[Some(DataRate::DDR4_2400), Some(DataRate::DDR4_2133), None],
    );
    let board = PlatformDescription {
        mix_limits: PROPERTIES.map(|property| Stated::new(MixLimit { property, within, at_most }, basis)).to_vec(),
        pair_bans: vec![ban(class("one"), class("two")), ban(stacked.clone(), stacked)],
        unlike_grades: Some(Stated::new(UnlikeGrades::Refused, basis)),
        unlike_voltages: Some(Stated::new(UnlikeVoltages::Refused, basis)),
        capacity_cap_mib: Some(Stated::new(Capacity::from_gib(256), basis)),
        accepted_processors: Some(Stated::new(vec![name("other")], basis)),
        even_counts: Some(Stated::new(Demand::Required, basis)),
        count_rows: vec![CountRow::per_socket([1, 2, 4, 6], Demand::Required, basis)],
        fill_rows: vec![FillRow::new(["1A1", "1B1"].map(name), Demand::Required, basis)],
        blanks: Some(Stated::new(Demand::Advised, basis)),
        rate_policy,
        ..board_of(2, 2, 3)
    };
    let voltages_mv = Voltages::new([Voltage::V1_1, Voltage::V1_2]).unwrap();
    let voltages_mv = Stated::new(voltages_mv, Basis::DataSheet);
    testing::machine(board, ProcessorDescription { voltages_mv, rate_table: Some(rates), ..processor() })
}

fn machines() -> impl Strategy<Value = Machine> {
    let scopes = select(vec![Scope::Channel, Scope::Socket, Scope::Machine]);
    let bases = select(vec![Basis::BoardManual, Basis::MakersList]);
    let policies = select(vec![RatePolicy::PerMachine, RatePolicy::PerSocket]);
    (scopes, 1_u8..3, bases, policies)
        .prop_map(|(within, at_most, basis, rate_policy)| machine(within, at_most, basis, rate_policy))
}

/// For each of the 12 slots a module of the list, or none; half of the time of one or two sorts only, so that
/// channels are alike now and then.
fn fillings() -> impl Strategy<Value = Vec<Option<usize>>> {
    let any = 0..modules().len();
    let many = vec(weighted(0.5, any.clone()), 12);
    let few = vec(any, 1..3).prop_flat_map(|sorts| vec(weighted(0.4, select(sorts)), 12));
    prop_oneof![many, few]
}

fn lay<'a>(machine: &'a Machine, modules: &'a [MemoryModule], filling: &[Option<usize>]) -> Layout<'a> {
    let mut layout = Layout::empty(machine);
    for (slot, content) in machine.platform().slot_ids().zip(filling) {
        if let Some(module) = content.and_then(|index| modules.get(index)) {
            layout.set(slot, Content::Module(module));
        }
    }
    layout
}

/// What one rule says of a layout, where what is unknown is an error or is not.
fn said_by(rule: &Rule, layout: &Layout<'_>, unknown_is_error: bool) -> Vec<Finding> {
    let settings = RuleSettings { unknown_is_error, ..RuleSettings::default() };
    RuleBook::empty().with(rule.clone()).unwrap().with_settings(&settings).unwrap().check(layout)
}

fn heaviest(findings: &[Finding]) -> Option<Severity> {
    findings.iter().map(|finding| finding.severity).max()
}

proptest! {
    // a book does not ask such rules at all
    #[test]
    fn idle_rules_have_nothing_to_say(machine in machines(), filling in fillings(), strict in any::<bool>()) {
        let modules = modules();
        let layout = lay(&machine, &modules, &filling);
        let standard = RuleBook::standard();
        let idle: Vec<&Rule> = standard.rules().filter(|rule| rule.is_idle(&machine)).collect();
        prop_assert_eq!(idle.len(), 7);
        for rule in idle {
            let speaks = rule.probe(Severity::Note, strict, |report| rule.form().check(&layout, report));
            prop_assert!(!speaks, "{}", rule.code());
        }
    }

    #[test]
    fn law_hereditary_rules_stay_broken(
        machine in machines(),
        filling in fillings(),
        slot in 0_usize..12,
        more in 0..modules().len(),
        strict in any::<bool>(),
    ) {
        let modules = modules();
        let before = lay(&machine, &modules, &filling);
        let mut after = before.clone();
        let slot = machine.platform().slot_ids().nth(slot).unwrap();
        if before.get(slot) == Content::Empty {
            after.set(slot, Content::Module(&modules[more]));
        }
        for rule in RuleBook::standard().rules().filter(|rule| rule.is_hereditary()) {
            let [once, later] = [&before, &after].map(|layout| heaviest(&said_by(rule, layout, strict)));
            prop_assert!(later >= once, "{}: {once:?}, then {later:?}", rule.code());
        }
    }

    #[test]
    fn law_placement_free_rules_look_at_no_place(
        machine in machines(),
        (filling, moved) in fillings().prop_flat_map(|filling| (Just(filling.clone()), Just(filling).prop_shuffle())),
    ) {
        let modules = modules();
        let (before, after) = (lay(&machine, &modules, &filling), lay(&machine, &modules, &moved));
        for rule in RuleBook::standard().rules().filter(|rule| rule.is_placement_free()) {
            prop_assert_eq!(said_by(rule, &before, true), said_by(rule, &after, true));
        }
    }

    #[test]
    fn law_rules_are_blind_to_identity_unless_they_say_so(machine in machines(), filling in fillings()) {
        let modules = modules();
        let renamed: Vec<_> = (0..).zip(&modules).map(|(index, module)| {
            let facts = module.to_builder().maker(name(&format!("maker {index}"))).power(Power::from_mw(index));
            facts.part_number(name(&format!("part {index}"))).build().unwrap()
        }).collect();
        let (one, other) = (lay(&machine, &modules, &filling), lay(&machine, &renamed, &filling));
        for rule in RuleBook::standard().rules().filter(|rule| !rule.reads_identity()) {
            prop_assert_eq!(said_by(rule, &one, true), said_by(rule, &other, true));
        }
    }

    #[test]
    fn law_a_probe_answers_as_the_check(machine in machines(), filling in fillings(), strict in any::<bool>()) {
        let modules = modules();
        let layout = lay(&machine, &modules, &filling);
        for rule in RuleBook::standard().rules() {
            let found = heaviest(&said_by(rule, &layout, strict));
            for threshold in [Severity::Note, Severity::Warning, Severity::Error] {
                let hit = rule.probe(threshold, strict, |report| rule.form().check(&layout, report));
                prop_assert_eq!(hit, found >= Some(threshold), "{}", rule.code());
            }
        }
    }

    // the channels of each processor swapped, and the processors swapped; printed rows name their slots
    #[test]
    fn law_like_channels_are_judged_alike(machine in machines(), filling in fillings()) {
        let modules = modules();
        let swapped: Vec<_> = [9, 10, 11, 6, 7, 8, 3, 4, 5, 0, 1, 2].iter().map(|&slot| filling[slot]).collect();
        let (one, other) = (lay(&machine, &modules, &filling), lay(&machine, &modules, &swapped));
        for rule in RuleBook::standard().rules().filter(|rule| *rule.code() != *"fill-row") {
            let weights = |layout| {
                let findings = said_by(rule, layout, true);
                let mut weights: Vec<_> = findings.iter().map(|finding| (finding.severity, finding.verdict)).collect();
                weights.sort();
                weights
            };
            prop_assert_eq!(weights(&one), weights(&other), "{}", rule.code());
        }
    }
}
