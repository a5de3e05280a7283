//! What the cases of the laws contain: nothing of a description is left out, and most rules are broken.

use std::cell::RefCell;
use std::collections::BTreeSet;
use std::sync::LazyLock;

use proptest::prelude::ProptestConfig;
use proptest::test_runner::{RngSeed, TestRunner};
use serde::Deserializer;
use serde::de::{DeserializeOwned, Error as _, Visitor};
use serde_json::Value;
use slotwright::finding::Verdict;
use slotwright::platform::{
    ChannelBan, ChannelMinimum, CountRow, DomainScheme, FillRow, FillSlot, Mode, ModuleLimit, PairBan,
    PlatformDescription, PlatformOption, PowerProfile, RankPair, SameRankCount, Settings, SharedLoadCap,
    SlotDescription, WorkedModules, WorkedRow,
};
use slotwright::population::Occupant;
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
const NEVER_BROKEN: [(&str, &str); 2] = [
    ("rate-fact-missing", "for want of a fact it cannot be judged; it is never broken"),
    ("rate-row-missing", "for want of a row it cannot be judged; it is never broken"),
];

/// Fields of a description that no plan looks at, and why.
const NOT_PLANNED_WITH: [(&str, &str); 5] = [
    ("platform.hands", "they are for work lists"),
    ("platform.reported_as", "it is for reports"),
    ("processor.reported_as", "it is for reports"),
    ("platform.pattern", "it is written out as sockets before anything is planned"),
    ("platform.rows", "they are for maps"),
];

/// Takes the names of the fields that a document of a type has, and reads nothing.
struct FieldNames<'n>(&'n mut Vec<String>);

impl<'de> Deserializer<'de> for FieldNames<'_> {
    type Error = serde::de::value::Error;

    fn deserialize_any<V: Visitor<'de>>(self, _: V) -> Result<V::Value, Self::Error> {
        Err(Self::Error::custom("only the names"))
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        _: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Self::Error> {
        self.0.extend(fields.iter().map(|&field| field.to_owned()));
        self.deserialize_any(visitor)
    }

    serde::forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf option unit unit_struct
        newtype_struct seq tuple tuple_struct map enum identifier ignored_any
    }
}

fn fields_of<T: DeserializeOwned>(place: &str) -> Vec<String> {
    let mut fields = Vec::new();
    assert!(T::deserialize(FieldNames(&mut fields)).is_err() && !fields.is_empty(), "{place}");
    fields.iter().map(|field| format!("{place}.{field}")).collect()
}

/// The same for what is read in more than one form: as it says of a field that it does not have.
fn fields_said<T: DeserializeOwned>(place: &str) -> Vec<String> {
    let said = serde_json::from_str::<T>(r#"{"": 1}"#).err().unwrap().to_string();
    let fields: Vec<&str> = said.split('`').skip(3).step_by(2).collect();
    assert!(fields.len() > 2, "{said}");
    fields.iter().map(|field| format!("{place}.{field}")).collect()
}

/// The fields of descriptions, by where they stand in a case.
fn fields() -> Vec<String> {
    let all = [
        fields_of::<PlatformDescription>("platform"),
        fields_of::<SlotDescription>("platform.sockets.controllers.channels.slots"),
        fields_of::<ModuleLimit>("platform.module_limits.value"),
        fields_of::<SharedLoadCap>("platform.shared_load_caps.value"),
        fields_of::<PairBan>("platform.pair_bans.value"),
        fields_of::<ChannelBan>("platform.channel_bans.value"),
        fields_of::<SameRankCount>("platform.same_rank_count.value"),
        fields_of::<RankPair>("platform.same_rank_count.value.except"),
        fields_of::<FillRow>("platform.fill_rows"),
        fields_of::<FillSlot>("platform.fill_rows.slots"),
        fields_of::<CountRow>("platform.count_rows"),
        fields_of::<Mode>("platform.modes"),
        fields_of::<ChannelMinimum>("platform.modes.any_of"),
        fields_of::<DomainScheme>("platform.domain_schemes"),
        fields_of::<PlatformOption>("platform.options"),
        fields_of::<PowerProfile>("platform.power_profiles"),
        fields_of::<Settings>("platform.default_settings"),
        fields_of::<Settings>("set"),
        fields_of::<WorkedRow>("platform.worked_rows"),
        fields_of::<WorkedModules>("platform.worked_rows.modules"),
        fields_of::<ProcessorDescription>("processor"),
        fields_of::<RateTable>("processor.rate_table"),
        fields_of::<RateRow>("processor.rate_table.rows"),
        fields_of::<RateKey>("processor.rate_table.rows.channel"),
        fields_said::<ModulePattern>("processor.rate_table.rows.module"),
        fields_of::<MixRow>("processor.rate_table.mixes"),
        fields_of::<RankLimit>("processor.rank_limits.value"),
        fields_of::<CountedRanks>("processor.counted_ranks"),
        fields_of::<CapacityCap>("processor.capacity_cap.value"),
        fields_of::<MixLimit>("processor.mix_limits.value"),
        fields_of::<InterleaveSets>("processor.interleave.value"),
        fields_of::<PermittedSet>("processor.interleave.value.permitted"),
        fields_of::<Present>("request.present"),
        fields_of::<RuleSettings>("settings"),
    ];
    let not_planned_with = |field: &String| NOT_PLANNED_WITH.iter().any(|(name, _)| name == field);
    all.concat().into_iter().filter(|field| !not_planned_with(field)).collect()
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
    for processor in &platform.description().processors {
        walk("processor", &json(serde_json::to_value(processor)), seen);
    }
    walk("set", &json(serde_json::to_value(&case.machine.settings)), seen);
    walk("settings", &json(serde_json::to_value(&case.settings)), seen);
    walk("request", &json(serde_json::to_value(&case.request)), seen);
    let machine = case.machine.clone().build().unwrap();
    seen.insert(format!("{} slots", platform.slots().len()));
    seen.insert(format!("{} live", boards::live(&machine).len()));
    seen.insert(format!("{} sockets", platform.sockets().len()));
    let mode = machine.settings().mode.clone();
    let set = mode.and_then(|mode| platform.description().modes.iter().find(|known| known.name == mode));
    if let Some(mode) = set {
        seen.insert(format!("{} in step", mode.channels_in_step()));
    }
    for (_, occupant) in case.request.present.population.iter() {
        if let Occupant::OtherDevice(device) = occupant {
            seen.insert(format!("a device: {}", json(serde_json::to_value(device.sort)).as_str().unwrap()));
            seen.extend(device.may_be_removed.then(|| "a device that may be removed".to_owned()));
        }
        seen.extend((*occupant == Occupant::Blank).then(|| "a blank".to_owned()));
    }
    if case.request.offers.iter().any(|offer| offer.module.generation() != platform.generation()) {
        seen.insert("a module of another generation".to_owned());
    }
    if machine.rate_steps().iter().any(|rate| !rate.is_standard()) {
        seen.insert("a rate that is no standard one".to_owned());
    }
    if case.machine.processors.len() < platform.sockets().len() {
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
    wanted.extend(["persistent", "hybrid", "expander"].map(|sort| format!("a device: {sort}")));
    wanted.extend(["a blank", "a device that may be removed", "a module of another generation"].map(str::to_owned));
    wanted.push("a rate that is no standard one".to_owned());
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
