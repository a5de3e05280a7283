//! What the cases of the laws contain: nothing of a description is left out, and most rules are broken.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::sync::LazyLock;

use proptest::prelude::ProptestConfig;
use proptest::test_runner::{RngSeed, TestRunner};
use serde_json::Value;
use slotwright::finding::Verdict;
use slotwright::platform::{
    ChannelBan, ChannelMinimum, CountRow, DomainScheme, FillRow, FillSlot, Mode, ModuleLimit, PairBan,
    PlatformDescription, PlatformOption, PowerProfile, RankPair, SameRankCount, Settings, SharedLoadCap,
    SlotDescription, WorkedModules, WorkedRow,
};
use slotwright::processor::{
    CapacityCap, CountedRanks, InterleaveSets, MixLimit, MixRow, ModulePattern, PermittedSet, ProcessorDescription,
    RankLimit, RateKey, RateRow, RateTable,
};
use slotwright::purchase::Present;
use slotwright::rule::{RuleSettings, STANDARD_RULES};

use crate::boards::{self, bytes, config};
use crate::one_truth::asked::Asked;
use crate::one_truth::case::Case;
use crate::one_truth::law::{BYTES, spread};

/// Rules that no case breaks, and why.
const NEVER_BROKEN: [(&str, &str); 3] = [
    ("generation", "all modules are of the board's generation: others would be refused in every slot"),
    ("rate-fact-missing", "for want of a fact it cannot be judged; it is never broken"),
    ("rate-row-missing", "for want of a row it cannot be judged; it is never broken"),
];

/// The fields of a description, by where they stand in a case. A field that is not listed does not compile.
macro_rules! fields {
    ($($place:literal: $description:ident { $($field:ident),* $(,)? })*) => {{
        let mut fields = Vec::new();
        $({
            let _ = |described: &$description| {
                let $description { $($field: _),* } = described;
            };
            fields.extend([$(format!("{}.{}", $place, stringify!($field))),*]);
        })*
        fields
    }};
}

fn fields() -> Vec<String> {
    fields! {
        "platform": PlatformDescription {
            schema, name, generation, sockets, processors, accepted_processors, processors_alike, rate_table, rate_policy,
            highest_grade_mts, unlike_grades, unlike_voltages, rank_limits, module_limits, shared_load_caps, mix_limits, neighbouring_sizes, same_rank_count,
            pair_bans, channel_bans, listed_modules, capacity_cap_mib, position_order, fill_priority,
            priority_along_channel, fill_rows, count_rows, memory_per_processor, channels_alike, controllers_alike, sockets_alike,
            even_counts, blanks, modes, domain_schemes, power_budget_mw, options, power_profiles, default_settings,
            worked_rows,
        }
        "platform.sockets.controllers.channels.slots": SlotDescription {
            label, position, turn, form_factor, height_limit_um, marking, key_facing, addresses,
        }
        "platform.module_limits.value": ModuleLimit { module, at_most_per_channel, barred_positions, first_in_channel }
        "platform.shared_load_caps.value": SharedLoadCap { module, within, modules_per_channel }
        "platform.pair_bans.value": PairBan { first, second, within }
        "platform.channel_bans.value": ChannelBan { modules }
        "platform.same_rank_count.value": SameRankCount { except }
        "platform.same_rank_count.value.except": RankPair { first, second, when }
        "platform.fill_rows": FillRow { slots, processors, mode, demand, basis, source }
        "platform.fill_rows.slots": FillSlot { slot, module, size }
        "platform.count_rows": CountRow { within, counts, processors, mode, demand, basis, source }
        "platform.modes": Mode {
            name, redundancy, groups, masks, identical, modules_at_least, any_of, counted_ranks_at_least, widths, ecc, processors,
            rate_cap_mts, basis, source,
        }
        "platform.modes.any_of": ChannelMinimum { module, modules_at_least }
        "platform.domain_schemes": DomainScheme { name, domains, counts, falls_back_to, basis, source }
        "platform.options": PlatformOption { name, masks, rate_cap_mts, capacity_cap_mib, basis, source }
        "platform.power_profiles": PowerProfile { name, rate_cap_mts, basis }
        "platform.default_settings": Settings { mode, domain_scheme, power_profile, rate_cap_mts, voltage_mv, closed_slots }
        "set": Settings { mode, domain_scheme, power_profile, rate_cap_mts, voltage_mv, closed_slots }
        "platform.worked_rows": WorkedRow {
            name, processors, options, mode, modules, rate_mts, capacity_mib, usable_mib, refused_by, basis, source,
        }
        "platform.worked_rows.modules": WorkedModules { module, count, slots }
        "processor": ProcessorDescription {
            schema, name, generation, kinds, max_rate_mts, rates_mts, rate_table, voltages_mv, die_densities_mbit, widths,
            stack_heights, ecc, rank_limits, counted_ranks, capacity_cap, mix_limits, interleave,
        }
        "processor.rate_table": RateTable { basis, source, rows, mixes }
        "processor.rate_table.rows": RateRow { module, modules_in_channel, channel, cell }
        "processor.rate_table.rows.channel": RateKey { slots_wired, running_voltage_mv }
        "processor.rate_table.rows.module": ModulePattern {
            kind, stack_height, package_ranks, package_ranks_at_least, package_ranks_at_most, width, capacity_mib,
            capacity_at_least_mib, capacity_at_most_mib, die_density_mbit, grade_mts, voltage_mv, ecc, class, without_class,
            maker, part_number,
        }
        "processor.rate_table.mixes": MixRow { modules, channel, cell }
        "processor.rank_limits.value": RankLimit { counting, at_most, exempt }
        "processor.counted_ranks": CountedRanks { module, modules_in_channel, ranks }
        "processor.capacity_cap.value": CapacityCap { capacity_mib, counts_other_devices }
        "processor.mix_limits.value": MixLimit { property, within, at_most }
        "processor.interleave.value": InterleaveSets { channels, permitted }
        "processor.interleave.value.permitted": PermittedSet { set, equal }
        "request.present": Present { population, pinned, credits, keep_empty }
        "settings": RuleSettings { schema, severities, unknown_is_error }
    }
}

/// Values that must have been drawn, by where they stand.
const VALUES: [(&str, &[&str]); 28] = [
    ("platform.neighbouring_sizes.value", &["channel", "socket", "machine"]),
    ("platform.controllers_alike.value", &["required", "advised"]),
    ("platform.same_rank_count.value.except.when", &["always", "when-full"]),
    ("platform.generation", &["ddr3", "ddr4", "ddr5"]),
    ("platform.rate_policy", &["per-machine", "per-socket"]),
    ("platform.fill_priority", &["ranks-first", "capacity-first"]),
    ("platform.fill_rows.demand", &["required", "advised"]),
    ("platform.fill_rows.slots.size", &["larger", "smaller"]),
    ("platform.count_rows.demand", &["required", "advised"]),
    ("platform.count_rows.within", &["channel", "socket", "machine"]),
    ("platform.processors_alike.value", &["required", "advised"]),
    ("platform.priority_along_channel.value", &["required", "advised"]),
    ("platform.memory_per_processor.value", &["required", "advised"]),
    ("platform.channels_alike.value", &["required", "advised"]),
    ("platform.sockets_alike.value", &["required", "advised"]),
    ("platform.even_counts.value", &["required", "advised"]),
    ("platform.blanks.value", &["required", "advised"]),
    ("platform.unlike_voltages.value", &["common", "not-advised", "refused"]),
    ("platform.unlike_grades.value", &["lowest", "not_validated", "refused"]),
    ("platform.shared_load_caps.value.within", &["channel", "socket", "machine"]),
    ("platform.pair_bans.value.within", &["channel", "socket", "machine"]),
    ("platform.position_order.value", &["far-end-first", "any"]),
    ("platform.modes.identical", &["nothing", "capacity", "organization", "facts", "part"]),
    ("platform.modes.redundancy", &["none", "paired", "mirrored", "device_correction"]),
    ("processor.rank_limits.value.counting", &["package", "stacked", "counted"]),
    ("processor.rate_table.rows.cell", &["not_allowed"]),
    ("platform.domain_schemes.domains", &["one_per_processor", "all_processors"]),
    ("processor.kinds.value", &["registered", "load-reduced", "unbuffered"]),
];

/// Variants with values of their own.
const VARIANTS: [&str; 8] = [
    "platform.modes.redundancy.rank_sparing",
    "platform.modes.redundancy.partly_mirrored",
    "platform.modes.redundancy.own",
    "platform.unlike_grades.value.lower_to_mts",
    "platform.position_order.value.sequence",
    "platform.domain_schemes.domains.groups.needs_memory_in_each",
    "processor.interleave.value.permitted.set.ways",
    "processor.interleave.value.permitted.set.channels",
];

const BASES: [&str; 5] = ["data-sheet", "board-manual", "makers-list", "measured", "assumed"];

const PROPERTIES: [&str; 12] = [
    "kind",
    "stacked",
    "stack-height",
    "ecc",
    "width",
    "capacity",
    "package-ranks",
    "die-density",
    "die-density-unless-one-width",
    "class",
    "class-or-none",
    "maker",
];

/// Everything that stands in a document: places, and texts at places.
fn walk(at: &str, value: &Value, seen: &mut BTreeSet<String>) {
    match value {
        Value::Array(items) => items.iter().for_each(|item| walk(at, item, seen)),
        Value::Object(fields) => {
            for (field, value) in fields {
                let at = format!("{at}.{field}");
                seen.insert(at.clone());
                walk(&at, value, seen);
            }
        }
        Value::String(text) => drop(seen.insert(format!("{at}={text}"))),
        Value::Bool(true) => drop(seen.insert(format!("{at}=true"))),
        _ => {}
    }
}

fn look(case: &Case, seen: &mut BTreeSet<String>) {
    let json = |value: Result<Value, serde_json::Error>| value.unwrap();
    let platform = &case.machine.platform;
    walk("platform", &json(serde_json::to_value(platform)), seen);
    for processor in &platform.processors {
        walk("processor", &json(serde_json::to_value(processor)), seen);
    }
    walk("set", &json(serde_json::to_value(&case.machine.settings)), seen);
    walk("settings", &json(serde_json::to_value(&case.settings)), seen);
    walk("request", &json(serde_json::to_value(&case.request)), seen);
    let machine = case.machine.clone().build().unwrap();
    seen.insert(format!("{} slots", platform.slots().len()));
    seen.insert(format!("{} live", boards::live(&machine).len()));
    seen.insert(format!("{} sockets", platform.sockets.len()));
    let mode = machine.settings().mode.clone();
    let set = mode.and_then(|mode| platform.modes.iter().find(|known| known.name == mode));
    if let Some(mode) = set {
        seen.insert(format!("{} in step", mode.channels_in_step()));
    }
    if case.machine.processors.len() < platform.sockets.len() {
        seen.insert("a socket without a processor".to_owned());
    }
}

/// Cases of the seed, of which the laws see the first in a plain run.
static CASES: LazyLock<Vec<Case>> = LazyLock::new(|| {
    let config = ProptestConfig { cases: 1200, rng_seed: RngSeed::Fixed(20), ..config(1200) };
    let cases = RefCell::new(Vec::new());
    let draw = |bytes: Vec<u8>| {
        cases.borrow_mut().push(Case::draw(&bytes));
        Ok(())
    };
    TestRunner::new(config).run(&bytes(BYTES), draw).unwrap();
    cases.into_inner()
});

#[test]
fn every_part_of_a_description_is_drawn() {
    let mut seen = BTreeSet::new();
    CASES.iter().for_each(|case| look(case, &mut seen));
    let mut wanted = fields();
    wanted.extend(VARIANTS.map(str::to_owned));
    wanted.extend(VALUES.iter().flat_map(|(at, values)| values.iter().map(move |value| format!("{at}={value}"))));
    let properties = PROPERTIES.iter().map(|property| format!("platform.mix_limits.value.property={property}"));
    wanted.extend(properties);
    wanted.extend((1..=8).map(|slots| format!("{slots} slots")));
    wanted.extend((1..=3).flat_map(|number| [format!("{number} sockets"), format!("{number} in step")]));
    wanted.push("a socket without a processor".to_owned());
    wanted.push("settings.unknown_is_error=true".to_owned());
    wanted.extend(STANDARD_RULES.iter().map(|row| format!("settings.severities.{}", row.code)));
    let sides = ["off", "note", "warning", "error"];
    let sides = sides.map(|setting| (setting, seen.iter().filter(|text| text.starts_with("settings.severities."))));
    for (setting, mut texts) in sides {
        assert!(texts.any(|text| text.ends_with(&format!("={setting}"))), "no rule is set to {setting}");
    }
    // whatever rests on something rests on anything
    let stated: BTreeSet<&str> = seen.iter().filter_map(|text| text.strip_suffix(".basis")).collect();
    assert!(stated.len() > 50, "{stated:?}");
    wanted.extend(stated.iter().flat_map(|at| BASES.map(|basis| format!("{at}.basis={basis}"))));
    let missing: Vec<_> = wanted.into_iter().filter(|wanted| !seen.contains(wanted)).collect();
    assert!(missing.is_empty(), "never drawn: {missing:#?}");
}

#[test]
fn most_rules_are_broken() {
    let mut broken = BTreeSet::new();
    for case in &*CASES {
        let asked = Asked::of(case).unwrap();
        let present = asked.look(case.request.present.population.clone(), Vec::new()).unwrap();
        broken.extend(present.assessment.findings.into_iter().map(|finding| finding.code.to_string()).filter(|code| {
            // nothing is planned with what is faulty, and nobody judges other devices
            ["faulty-module", "other-device"].contains(&code.as_str())
        }));
        let mut populations = asked.populations(&asked.sorts()).unwrap();
        // some of all, and some of those with most sorts
        let few = spread(populations.clone(), 2);
        populations.sort_by_key(|(_, counts)| counts.iter().filter(|&&count| count > 0).count());
        let mixed = populations.split_off(populations.len() * 3 / 4);
        for (population, counts) in few.into_iter().chain(spread(mixed, 3)) {
            let findings = asked.look(population, counts).unwrap().assessment.findings;
            let violated = findings.into_iter().filter(|finding| finding.verdict == Verdict::Violated);
            broken.extend(violated.map(|finding| finding.code.to_string()));
        }
    }
    let never: BTreeSet<&str> =
        STANDARD_RULES.iter().map(|row| row.code).filter(|&code| !broken.contains(code)).collect();
    assert_eq!(never, NEVER_BROKEN.iter().map(|(code, _)| *code).collect());
}
