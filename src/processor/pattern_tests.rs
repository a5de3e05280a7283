//! What patterns match, how they are compared, and what they read like.

use std::collections::BTreeSet;

use crate::module::{DeviceWidth, Ecc, Generation, MemoryModule, ModuleKind, Voltages};
use crate::processor::{ModulePattern, PatternProblem};
use crate::testing::{lacking, name, plain};
use crate::unit::{Capacity, DataRate, Density, Voltage};

fn gib(gib: u32) -> Capacity {
    Capacity::from_gib(gib)
}

fn any() -> ModulePattern {
    ModulePattern::default()
}

/// A module with every fact that a pattern can ask for.
fn known() -> MemoryModule {
    let facts = plain().to_builder().class(name("own")).maker(name("one")).part_number(name("P-1"));
    facts.voltages(Voltages::new([Voltage::V1_2, Voltage::V1_1]).unwrap()).build().unwrap()
}

/// By field of the document: a pattern that the known module has, one that it has not, and the fact that is missing where
/// it is not known; nothing for facts that are always known.
fn fields() -> Vec<(&'static str, ModulePattern, ModulePattern, Option<&'static str>)> {
    let kind = ModulePattern::kind;
    vec![
        ("kind", kind(ModuleKind::Registered), kind(ModuleKind::LoadReduced), None),
        ("stack_height", any().stacked(1), any().stacked(2), Some("stack")),
        ("package_ranks", any().package_ranks(2), any().package_ranks(1), Some("package_ranks")),
        (
            "package_ranks_at_least",
            any().package_ranks_at_least(2),
            any().package_ranks_at_least(3),
            Some("package_ranks"),
        ),
        (
            "package_ranks_at_most",
            any().package_ranks_at_most(2),
            any().package_ranks_at_most(1),
            Some("package_ranks"),
        ),
        ("width", any().width(DeviceWidth::X4), any().width(DeviceWidth::X8), Some("width")),
        ("capacity_mib", any().capacity(gib(32)), any().capacity(gib(16)), None),
        ("capacity_at_least_mib", any().capacity_at_least(gib(32)), any().capacity_at_least(gib(33)), None),
        ("capacity_at_most_mib", any().capacity_at_most(gib(32)), any().capacity_at_most(gib(31)), None),
        (
            "die_density_mbit",
            any().die_density(Density::from_gbit(8)),
            any().die_density(Density::from_gbit(4)),
            Some("die_density_mbit"),
        ),
        ("grade_mts", any().grade(DataRate::DDR4_2400), any().grade(DataRate::DDR4_2133), Some("grade_mts")),
        ("voltage_mv", any().voltage(Voltage::V1_1), any().voltage(Voltage::V1_35), Some("voltages_mv")),
        ("ecc", any().ecc(Ecc::Ecc), any().ecc(Ecc::None), Some("ecc")),
        ("class", any().class(name("own")), any().class(name("other")), None),
        ("maker", any().maker(name("one")), any().maker(name("two")), Some("maker")),
        ("part_number", any().part_number(name("P-1")), any().part_number(name("P-2")), Some("part_number")),
    ]
}

#[test]
fn every_field_tells_modules_apart_and_leaves_unknown_ones_open() {
    let module = known();
    for (field, has, lacks, missing) in fields() {
        let document = serde_json::to_value(&has).unwrap();
        assert_eq!(document.as_object().unwrap().keys().collect::<Vec<_>>(), [field]);
        assert_eq!((has.matches(&module), lacks.matches(&module)), (Ok(true), Ok(false)), "{field}");
        assert_eq!(serde_json::from_value::<ModulePattern>(document).unwrap(), has);
        if let Some(missing) = missing {
            // what would be worked out from the others is taken away with them
            let gaps: &[&str] = match missing {
                "package_ranks" | "stack" => &["package_ranks", "stack", "die_density_mbit"],
                "width" | "die_density_mbit" => &["width", "die_density_mbit"],
                other => &[other],
            };
            let bare = lacking(&module, gaps);
            assert!(has.matches(&bare).is_err(), "{field}");
            // what is known rules it out
            let other = ModulePattern { kind: Some(ModuleKind::LoadReduced), ..has };
            assert_eq!(other.matches(&bare), Ok(false), "{field}");
        }
    }
    assert_eq!(
        (any().without_class().matches(&module), any().without_class().matches(&plain())),
        (Ok(false), Ok(true))
    );
    // no field is left out
    let named = |pattern: &ModulePattern| -> BTreeSet<String> {
        serde_json::to_value(pattern).unwrap().as_object().unwrap().keys().cloned().collect()
    };
    let all = fields().into_iter().flat_map(|(_, has, ..)| named(&has)).chain(named(&any().without_class()));
    assert_eq!(all.collect::<BTreeSet<String>>(), named(&every_field()));
}

/// A pattern that names every field; a new one does not compile without a line here.
fn every_field() -> ModulePattern {
    ModulePattern {
        kind: Some(ModuleKind::Registered),
        stack_height: Some(1),
        package_ranks: Some(2),
        package_ranks_at_least: Some(1),
        package_ranks_at_most: Some(4),
        width: Some(DeviceWidth::X4),
        capacity_mib: Some(gib(32)),
        capacity_at_least_mib: Some(gib(16)),
        capacity_at_most_mib: Some(gib(64)),
        die_density_mbit: Some(Density::from_gbit(8)),
        grade_mts: Some(DataRate::DDR4_2400),
        voltage_mv: Some(Voltage::V1_2),
        ecc: Some(Ecc::Ecc),
        class: Some(name("own")),
        without_class: true,
        maker: Some(name("one")),
        part_number: Some(name("P-1")),
    }
}

#[test]
fn more_facts_then_narrower_values_are_more_specific() {
    let more = |one: &ModulePattern, other: &ModulePattern| {
        assert!(one.is_more_specific_than(other), "{one} over {other}");
        assert!(!other.is_more_specific_than(one), "{other} over {one}");
    };
    let from = |least| any().capacity_at_least(gib(least));
    // exact, then the narrower range
    let ladder = [any().capacity(gib(16)), from(16).capacity_at_most(gib(32)), from(16), any()];
    ladder.windows(2).for_each(|pair| more(&pair[0], &pair[1]));
    more(&any().package_ranks(2), &any().package_ranks_at_most(2));
    more(&any().package_ranks_at_least(2).package_ranks_at_most(3), &any().package_ranks_at_least(2));
    // more facts, however wide they are
    more(&from(1).package_ranks_at_least(1), &any().capacity(gib(16)));
    for (field, has, ..) in fields() {
        more(&has, &any());
        // a range of a fact that is named is no further fact
        if !field.starts_with("package_ranks") {
            more(&has.clone().package_ranks(2), &has);
        }
    }
    more(&any().without_class(), &any());
    let level = |one: &ModulePattern, other: &ModulePattern| {
        assert!(!one.is_more_specific_than(other) && !other.is_more_specific_than(one), "{one} and {other}");
    };
    level(&from(16), &any().package_ranks(2));
    level(&from(16).capacity_at_most(gib(32)), &from(8).capacity_at_most(gib(16)));
    level(
        &from(16).package_ranks_at_most(4),
        &from(8).package_ranks(2).package_ranks_at_most(2).capacity_at_most(gib(8)),
    );
    // narrower in one fact and wider in another
    level(&any().capacity(gib(16)).package_ranks_at_least(1), &from(16).package_ranks(2));
    level(&any().package_ranks(2), &any().package_ranks_at_least(2).package_ranks_at_most(2));
    level(&any().voltage(Voltage::V1_35), &any().voltage(Voltage::V1_5));
}

#[test]
fn patterns_that_some_module_could_match_overlap() {
    let from = |least| any().capacity_at_least(gib(least));
    let up_to = |most| any().capacity_at_most(gib(most));
    for (one, other, meet) in [
        (from(16), up_to(16), true),
        (from(16), up_to(15), false),
        (any().capacity(gib(16)), from(17), false),
        (any().package_ranks(2), any().package_ranks_at_least(3), false),
        (any().package_ranks(4), any().package_ranks_at_least(3), true),
        (any().voltage(Voltage::V1_35), any().voltage(Voltage::V1_5), true),
        (any().ecc(Ecc::Ecc), any().ecc(Ecc::None), false),
        (any().class(name("own")), any().without_class(), false),
        (any().class(name("own")), any().class(name("own")), true),
        (any().maker(name("one")), any().maker(name("two")), false),
        (any().part_number(name("P-1")), any().part_number(name("P-2")), false),
        (any().part_number(name("P-1")), any().maker(name("two")), true),
    ] {
        assert_eq!((one.overlaps(&other), other.overlaps(&one)), (meet, meet), "{one} and {other}");
    }
}

#[test]
fn a_pattern_that_nothing_can_match_says_why() {
    let class = name("own");
    for (pattern, problem) in [
        (any().capacity(Capacity::ZERO), "no module has a capacity of 0"),
        (any().capacity_at_most(Capacity::ZERO), "no module has a capacity of 0"),
        (any().capacity_at_least(gib(32)).capacity_at_most(gib(16)), "no capacity is at least 32 GB and at most 16 GB"),
        (any().capacity(gib(8)).capacity_at_least(gib(16)), "no capacity is at least 16 GB and at most 8 GB"),
        (any().package_ranks(0), "0 package ranks; a module has 1 to 8"),
        (any().package_ranks_at_most(9), "9 package ranks; a module has 1 to 8"),
        (
            any().package_ranks_at_least(4).package_ranks_at_most(2),
            "no number of package ranks is at least 4 and at most 2",
        ),
        (any().stacked(16), "DDR4 modules do not come with stacks 16 high"),
        (any().stacked(3), "DDR4 modules do not come with stacks 3 high"),
        (any().die_density(Density::from_mbit(7)), "no standard has a die of 7 Mb"),
        (any().voltage(Voltage::V1_35), "DDR4 modules do not run at 1.35 V"),
        (any().ecc(Ecc::Ec8), "DDR4 modules do not come with EC8 (80 bits)"),
        (any().class(class).without_class(), "no module is of class own and without a class"),
        (
            any().ranks(2).width(DeviceWidth::X4).capacity(gib(100)),
            "no die of a standard density gives 100 GB 2-rank x4 modules",
        ),
    ] {
        let found: Vec<_> = pattern.problems(Generation::Ddr4).iter().map(PatternProblem::to_string).collect();
        assert_eq!(found, [problem]);
    }
    for pattern in [
        any(),
        any().capacity_at_least(gib(100)).ranks(2).width(DeviceWidth::X4),
        any().capacity(gib(16)).capacity_at_least(gib(16)).package_ranks_at_least(1).package_ranks_at_most(8),
        any().stacked(8).voltage(Voltage::V1_2).ecc(Ecc::None).without_class(),
    ] {
        assert_eq!(pattern.problems(Generation::Ddr4), [], "{pattern}");
    }
}

#[test]
fn texts() {
    let registered = || ModulePattern::kind(ModuleKind::Registered);
    for (pattern, text) in [
        (any(), "modules"),
        (registered().ranks(2), "registered 2-rank modules"),
        (registered().capacity(gib(16)), "16 GB registered modules"),
        (registered().capacity_at_least(gib(16)), "registered modules of 16 GB or more"),
        (registered().capacity_at_most(gib(16)), "registered modules of at most 16 GB"),
        (registered().capacity_at_least(gib(16)).capacity_at_most(gib(64)), "registered modules of 16 GB to 64 GB"),
        (any().package_ranks_at_least(4), "modules with 4 ranks or more"),
        (any().package_ranks_at_most(2), "modules with 2 ranks or fewer"),
        (any().package_ranks_at_least(2).package_ranks_at_most(4), "modules with 2 to 4 ranks"),
        (any().class(name("a")).ecc(Ecc::Ecc), "modules with ECC (72 bits), of class a"),
        (any().without_class().voltage(Voltage::V1_35), "modules that may run at 1.35 V, without a class"),
        (any().maker(name("one")).part_number(name("P-1")), "modules by one, with part number P-1"),
    ] {
        assert_eq!(pattern.to_string(), text);
    }
}
