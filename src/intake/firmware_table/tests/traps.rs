//! What firmware gets wrong in memory devices, one test each.

use crate::intake::firmware_table::maker;
use crate::intake::firmware_table::said::{is_placeholder, spelled};
use crate::intake::firmware_table::tests::encoder::{Structure, array, device};
use crate::intake::firmware_table::tests::{only_module, only_place, read, read_one, remarks, sound, text_name};
use crate::module::{Ecc, FormFactor, Generation, ModuleKind, Voltages};
use crate::population::{DeviceSort, ModuleFact, PlaceState, Report, SeenModule};
use crate::unit::{Capacity, DataRate, Voltage};

const PLACE: &str = "0x1100";

fn plain() -> Structure {
    sound(0x1100)
}

/// A device of which little is said.
fn bare() -> Structure {
    device(0x1100, 0x1000, 0x64).with("size", 16_384)
}

fn has(report: &Report, part: &str) -> bool {
    remarks(report).iter().any(|remark| remark.contains(part))
}

#[track_caller]
fn remarked(report: &Report, part: &str) {
    assert!(has(report, part), "{part}: {:#?}", remarks(report));
}

#[track_caller]
fn silent(report: &Report) {
    assert_eq!(remarks(report), [""; 0]);
}

#[test]
fn a_sound_module_is_read_whole() {
    let report = read_one(plain());
    silent(&report);
    let place = only_place(&report);
    assert_eq!((place.id.as_str(), place.state), (PLACE, PlaceState::InUse));
    assert_eq!(place.locator, Some(text_name("DIMM_1100")));
    assert_eq!(place.bank, Some(text_name("Node0_Channel0")));
    assert_eq!(place.running_rate_mts, Some(DataRate::DDR4_2133));
    assert_eq!(place.running_voltage_mv, Some(Voltage::V1_2));
    let module = SeenModule::new()
        .generation(Generation::Ddr4)
        .kind(ModuleKind::Registered)
        .capacity(Capacity::from_gib(16))
        .form_factor(FormFactor::Dimm)
        .ecc(Ecc::Ecc)
        .rank_number(2)
        .grade(DataRate::DDR4_2400)
        .voltages(Voltages::only(Voltage::V1_2))
        .maker(text_name("Made Up Memory"))
        .part_number(text_name("GW-16-2R4"))
        .serial(text_name("A0001100"));
    assert_eq!(only_module(&report), &module);
}

#[test]
fn a_size_too_large_for_its_field_is_at_least_32_gib() {
    for device in [
        Structure { texts: Vec::new(), ..device(0x1100, 0x1000, 0x1b) }.with("size", 0x7fff),
        device(0x1100, 0x1000, 0x22).with("size", 0x7fff),
        device(0x1100, 0x1000, 0x22).with("size", 0x7fff).with("extended size", 0x8000_0000),
    ] {
        let report = read_one(device);
        let module = only_module(&report);
        assert_eq!((module.capacity_mib, module.capacity_at_least_mib), (None, Some(Capacity::from_gib(32))));
        assert_eq!(only_place(&report).state, PlaceState::InUse);
        remarked(&report, "byte 0x25: size: 32767 MiB is left out");
    }
}

#[test]
fn sizes() {
    let capacity = |size: u64, extended: u64| {
        let report = read_one(bare().with("size", size).with("extended size", extended));
        assert_eq!(only_place(&report).state, PlaceState::InUse);
        (only_module(&report).capacity_mib, remarks(&report).len())
    };
    assert_eq!(capacity(0x7fff, 65_536), (Some(Capacity::from_gib(64)), 0));
    assert_eq!(
        capacity(0x7fff, 0x8000_0000 | 98_304),
        (Some(Capacity::from_gib(96)), 0),
        "no power of two, one reserved bit"
    );
    assert_eq!(
        capacity(8192, 65_536),
        (Some(Capacity::from_gib(8)), 0),
        "the extended size counts only where it is meant"
    );
    assert_eq!(capacity(0x8000 | 2048, 0), (Some(Capacity::from_mib(2)), 0), "in KiB");
    assert_eq!(capacity(0x8100, 0), (None, 1), "256 KiB");
    assert_eq!(capacity(0xffff, 0), (None, 0), "unknown");
    assert_eq!(capacity(0x7fff, 0x7fff_ffff), (None, 2), "no module is as large, nor of such a size");
}

#[test]
fn a_place_is_empty_by_its_size_alone() {
    let printed = bare().with("size", 0).with("type", 0x18).with("detail", 0x2080).with("speed", 1333).with("rank", 2);
    let report =
        read_one(printed.say("locator", "NO DIMM").say("bank", "NO DIMM").say("part", "NO DIMM").say("maker", "X"));
    silent(&report);
    let place = only_place(&report);
    assert_eq!((place.state, &place.module), (PlaceState::Absent, &None));
    assert_eq!(place.locator, Some(text_name("NO DIMM")), "locators are kept as they are");
    assert_eq!(place.running_rate_mts, None);
}

#[test]
fn an_empty_place_with_a_number_holds_a_dead_module() {
    for (field, number) in [("part", "GW-16-2R4"), ("serial", "1A2B3C4D")] {
        let report = read_one(bare().with("size", 0).with("type", 0x1a).with("running", 2400).say(field, number));
        let place = only_place(&report);
        assert_eq!((place.state, place.running_rate_mts), (PlaceState::Failed, None));
        let module = only_module(&report);
        assert_eq!((module.generation, module.capacity_mib), (Some(Generation::Ddr4), None));
        remarked(&report, &format!("size: no module does not go with its number {number}"));
    }
}

#[test]
fn placeholders_are_no_numbers() {
    for text in [
        "ModulePartNumber00",
        "Dimm1_PartNum",
        "NOT AVAILABLE",
        "[Empty]",
        "NO DIMM",
        "Unknown",
        "UNKNOWN",
        "Not Specified",
        "00000000",
        "0x00000000",
        "FFFFFFFF",
        "SerNum00",
        "A1_SerNum00",
        "DIMM_A1_AssetTag",
        "Manufacturer00",
        "To Be Filled By O.E.M.",
        "Default string",
        "System Product Name",
        "N/A",
        "<OUT OF SPEC>",
        "----",
        "?",
    ] {
        assert!(is_placeholder(text), "{text}");
        let report = read_one(plain().say("part", text).say("serial", text).say("maker", text));
        let SeenModule { part_number, serial, maker, .. } = only_module(&report);
        assert_eq!((part_number, serial, maker), (&None, &None, &None), "{text}");
    }
    for text in ["GW-16-2R4", "0F", "F", "10000000", "NONE-16", "Näme", "\u{5185}\u{5b58}", &"x".repeat(300)] {
        assert!(!is_placeholder(text), "{text}");
    }
}

#[test]
fn part_numbers_are_trimmed_and_decoded() {
    let part =
        |text: &str| only_module(&read_one(bare().say("part", text))).part_number.as_ref().map(ToString::to_string);
    assert_eq!(part("  GW-16-2R4    ").as_deref(), Some("GW-16-2R4"));
    assert_eq!(part("0x47572D31362D325234202020").as_deref(), Some("GW-16-2R4"));
    assert_eq!(part("0x47572D31362D3252340000").as_deref(), Some("GW-16-2R4"));
    assert_eq!(part(&"47572D31362D32523420".repeat(2)).as_deref(), Some("GW-16-2R4 GW-16-2R4"));
    assert_eq!(part("36363636").as_deref(), Some("36363636"), "a short run of digits is a number");
    assert_eq!(part("0x8091A2B3").as_deref(), Some("0x8091A2B3"), "no text");
    assert_eq!(spelled("0x474"), None);
    // bytes that are no text
    let mut device = bare().say("part", "GW-16");
    device.texts.clear();
    let mut bytes = array(0x1000, 1).bytes();
    bytes.extend(&device.fixed);
    bytes.extend(b"GW\x80-16\xff\xff\0\0");
    let report = crate::intake::smbios::read(text_name("x"), &bytes).unwrap();
    assert_eq!(only_module(&report).part_number, Some(text_name("GW\u{fffd}-16")));
}

#[test]
fn a_text_that_is_not_there_is_remarked() {
    let mut device = bare().say("part", "GW-16");
    device.fixed[0x18] = 7;
    let report = read_one(device);
    assert_eq!(only_module(&report).serial, None);
    remarked(&report, "byte 0x31: serial number is not read: the structure has no such text");
}

#[test]
fn makers_by_number() {
    let number = |text: &str| maker::number(text).map(|id| id.to_string());
    for (text, id) in [
        ("0x80CE", "1-4E"),
        ("80CE", "1-4E"),
        ("00CE", "1-4E"),
        ("CE80", "1-4E"),
        ("0198", "2-18"),
        ("0x0198", "2-18"),
        ("00CE00B300CE", "1-4E"),
        ("802C8632802C", "1-2C"),
        ("CE00000000000000", "1-4E"),
        ("80CE000000000000", "1-4E"),
        ("7F98000000000000", "2-18"),
        ("7F7F7F0B00000000", "4-0B"),
    ] {
        assert_eq!(number(text).as_deref(), Some(id), "{text}");
        let report = read_one(bare().say("maker", text));
        let module = only_module(&report);
        assert_eq!((&module.maker, module.maker_id), (&Some(text_name(text)), Some(id.parse().unwrap())));
        silent(&report);
    }
    // either way round; a code of an even number of ones; no code at all
    for text in
        ["0104", "00AA", "80CF", "", "8", "80C", "+0CE", "Made", "Made Up Memory", "CE000000000000CE", "7F7F7F7F"]
    {
        assert_eq!(number(text), None, "{text}");
    }
}

#[test]
fn the_word_with_the_makers_number_counts_before_the_text() {
    let id = |device: Structure| {
        let report = read_one(device);
        (only_module(&report).maker_id.map(|id| id.to_string()), remarks(&report).len())
    };
    assert_eq!(id(bare().with("maker id", 0xce80)), (Some("1-4E".to_owned()), 0));
    assert_eq!(id(bare().with("maker id", 0xce80).say("maker", "80CE")), (Some("1-4E".to_owned()), 0));
    assert_eq!(id(bare().with("maker id", 0x9801).say("maker", "80CE")), (Some("2-18".to_owned()), 1));
    assert_eq!(id(bare().with("maker id", 0)), (None, 0));
    assert_eq!(id(bare().with("maker id", 0xffff)), (None, 0));
}

#[test]
fn kinds_by_the_bits_for_buffering() {
    let kind = |detail: u64| {
        let report = read_one(plain().with("detail", detail));
        (only_module(&report).kind, remarks(&report).len())
    };
    assert_eq!(kind(0x8000), (Some(ModuleKind::LoadReduced), 0));
    assert_eq!(kind(0xa080), (Some(ModuleKind::LoadReduced), 0), "beside registered");
    assert_eq!(kind(0x2080), (Some(ModuleKind::Registered), 0));
    assert_eq!(kind(0x4080), (Some(ModuleKind::Unbuffered), 0));
    assert_eq!(kind(0x6080), (Some(ModuleKind::Registered), 1));
    for none in [0x0080, 0x0002, 0x0004, 0] {
        assert_eq!(kind(none), (None, 0), "no bit is no kind");
    }
}

#[test]
fn a_register_is_evidence() {
    let kind = |detail: u64, id: u64| {
        let report = read_one(bare().with("type", 0x22).with("detail", detail).with("rcd id", id));
        let module = only_module(&report);
        (module.kind, module.inferred.contains(&ModuleFact::Kind), remarks(&report).len())
    };
    assert_eq!(kind(0x0080, 0xb380), (Some(ModuleKind::Registered), true, 1));
    assert_eq!(kind(0x2080, 0xb380), (Some(ModuleKind::Registered), false, 0));
    assert_eq!(kind(0x8080, 0xb380), (Some(ModuleKind::LoadReduced), false, 0));
    assert_eq!(kind(0x4080, 0xb380), (Some(ModuleKind::Unbuffered), false, 1));
    assert_eq!(kind(0x0080, 0), (None, false, 0));
    assert_eq!(kind(0x0080, 0xffff), (None, false, 0));
}

#[test]
fn forms() {
    let form = |code: u64, detail: u64| {
        let report = read_one(bare().with("type", 0x22).with("form", code).with("detail", detail));
        let module = only_module(&report);
        (module.form_factor, module.kind, remarks(&report).len())
    };
    assert_eq!(form(0x09, 0), (Some(FormFactor::Dimm), None, 0));
    assert_eq!(form(0x0d, 0x4000), (Some(FormFactor::SoDimm), Some(ModuleKind::Unbuffered), 0));
    assert_eq!(form(0x12, 0x4000), (Some(FormFactor::Dimm), Some(ModuleKind::ClockedUnbuffered), 0));
    assert_eq!(form(0x13, 0), (Some(FormFactor::SoDimm), Some(ModuleKind::ClockedUnbuffered), 0));
    assert_eq!(form(0x12, 0x2000), (Some(FormFactor::Dimm), Some(ModuleKind::ClockedUnbuffered), 1));
    assert_eq!(form(0x11, 0), (Some(FormFactor::Other), Some(ModuleKind::CompressionAttached), 0));
    assert_eq!(form(0x0b, 0), (Some(FormFactor::Other), Some(ModuleKind::Soldered), 0));
    assert_eq!(form(0x08, 0), (Some(FormFactor::Other), None, 0));
    for unknown in [0, 1, 2] {
        assert_eq!(form(unknown, 0x2000), (None, Some(ModuleKind::Registered), 0));
    }
    assert_eq!(form(0x0f, 0), (None, None, 1), "fully buffered");
    assert_eq!(form(0x30, 0), (None, None, 1), "no code");
}

#[test]
fn multiplexed_ranks_by_type_or_technology() {
    for device in
        [bare().with("type", 0x25), bare().with("type", 0x22).with("technology", 8), bare().with("technology", 8)]
    {
        let report = read_one(device.with("detail", 0x2080));
        let module = only_module(&report);
        assert_eq!((module.generation, module.kind), (Some(Generation::Ddr5), Some(ModuleKind::MultiplexedRank)));
        silent(&report);
    }
}

#[test]
fn generations_that_are_not_told_are_inferred_where_only_one_is_left() {
    let inferred = |sort: u64, rate: u64, mv: [u64; 3]| {
        let device = bare().with("type", sort).with("speed", rate);
        let report = read_one(device.with("least mv", mv[0]).with("most mv", mv[1]).with("running mv", mv[2]));
        let module = only_module(&report);
        assert_eq!(module.generation.is_some(), module.inferred.contains(&ModuleFact::Generation));
        assert_eq!(module.generation.is_some(), has(&report, "generation: "));
        module.generation
    };
    for sort in [1, 2, 3, 7, 0x0f, 0, 0x15, 0x40] {
        assert_eq!(inferred(sort, 2400, [0; 3]), Some(Generation::Ddr4), "{sort}");
    }
    assert_eq!(inferred(2, 2667, [0; 3]), Some(Generation::Ddr4));
    assert_eq!(inferred(2, 3200, [0; 3]), Some(Generation::Ddr4));
    assert_eq!(inferred(2, 4800, [0; 3]), Some(Generation::Ddr5));
    for open in [0, 800, 1333, 1600, 2133, 2134, 3600, 4000, 30_000] {
        assert_eq!(inferred(2, open, [0; 3]), None, "{open}");
    }
    assert_eq!(inferred(2, 1600, [1350, 1500, 1350]), Some(Generation::Ddr3));
    assert_eq!(inferred(2, 1600, [0, 0, 1500]), Some(Generation::Ddr3));
    assert_eq!(inferred(2, 2133, [1200, 1200, 1200]), Some(Generation::Ddr4));
    assert_eq!(inferred(2, 0, [1100, 1100, 0]), Some(Generation::Ddr5));
    assert_eq!(inferred(2, 3200, [0, 0, 1350]), None, "what tells does not agree");
    assert_eq!(inferred(2, 2133, [1140, 1260, 0]), None, "no standard voltages");
    let running = read_one(bare().with("type", 2).with("running", 2933));
    assert_eq!(only_module(&running).generation, Some(Generation::Ddr4), "by the rate at which it runs");
}

#[test]
fn other_generations_are_named_and_left_open() {
    for (sort, text) in
        [(0x13, "DDR2"), (0x14, "DDR2 FB-DIMM"), (0x1e, "LPDDR4"), (0x23, "LPDDR5"), (0x21, "HBM2"), (0x11, "RDRAM")]
    {
        let report = read_one(bare().with("type", sort).with("speed", 2400));
        assert_eq!(only_place(&report).state, PlaceState::InUse);
        assert_eq!(only_module(&report).generation, None);
        remarked(&report, &format!("{text} is not read"));
    }
}

#[test]
fn persistent_devices_do_not_look_like_modules() {
    let sort = |device: Structure| {
        let report = read_one(device.with("speed", 2666).with("running", 2666));
        let (place, module) = (only_place(&report), only_module(&report));
        if module.device.is_some() {
            assert_eq!((module.grade_mts, place.running_rate_mts), (None, None));
        }
        (module.device, module.inferred.contains(&ModuleFact::Device))
    };
    let large = |mib: u64| bare().with("type", 0x1a).with("size", 0x7fff).with("extended size", mib);
    assert_eq!(sort(bare().with("type", 0x1f)), (Some(DeviceSort::Persistent), false));
    for technology in [5, 6, 7] {
        assert_eq!(sort(large(65_536).with("technology", technology)), (Some(DeviceSort::Persistent), false));
    }
    assert_eq!(sort(bare().with("type", 0x1a).with("technology", 4)), (Some(DeviceSort::Hybrid), false));
    assert_eq!(
        sort(bare().with("type", 0x1a).with("technology", 4).with("detail", 0x1080)),
        (Some(DeviceSort::Hybrid), false)
    );
    assert_eq!(sort(bare().with("type", 0x1a).with("detail", 0x1080)), (Some(DeviceSort::Persistent), false));
    // 126.375 and 252.4375 GiB
    assert_eq!(sort(large(129_408)), (Some(DeviceSort::Persistent), true));
    assert_eq!(sort(large(258_496)), (Some(DeviceSort::Persistent), true));
    // modules of 24 Gbit dies
    assert_eq!(sort(large(98_304)), (None, false));
    assert_eq!(sort(bare().with("type", 0x1a).with("technology", 3)), (None, false));
}

#[test]
fn ranks() {
    let ranks = |device: Structure| only_module(&read_one(device)).rank_number;
    assert_eq!(ranks(plain().with("rank", 0)), None, "0 is unknown");
    assert_eq!(ranks(plain().with("rank", 0xf4)), Some(4), "the upper bits are something else");
    assert_eq!(ranks(plain().with("rank", 15)), Some(15));
    assert_eq!(ranks(device(0x1100, 0x1000, 0x1b).with("size", 4096)), None, "no such field before 2.6");
    assert_eq!(only_module(&read_one(plain())).package_ranks, None);
}

#[test]
fn check_bits_by_widths() {
    let ecc = |sort: u64, total: u64, data: u64| {
        let report = read_one(bare().with("type", sort).with("total", total).with("data", data));
        (only_module(&report).ecc, remarks(&report).len())
    };
    let (ddr3, ddr4, ddr5, unknown) = (0x18, 0x1a, 0x22, 2);
    assert_eq!(ecc(ddr3, 72, 64), (Some(Ecc::Ecc), 0));
    assert_eq!(ecc(ddr4, 72, 64), (Some(Ecc::Ecc), 0));
    assert_eq!(ecc(ddr4, 64, 64), (Some(Ecc::None), 0));
    assert_eq!(ecc(ddr5, 80, 64), (Some(Ecc::Ec8), 0));
    assert_eq!(ecc(ddr5, 80, 72), (Some(Ecc::Ec8), 0));
    assert_eq!(ecc(ddr5, 72, 64), (Some(Ecc::Ec4), 0));
    assert_eq!(ecc(ddr5, 64, 64), (Some(Ecc::None), 0));
    assert_eq!(ecc(unknown, 64, 64), (Some(Ecc::None), 0));
    assert_eq!(ecc(unknown, 72, 64), (None, 0), "which check bits depends on the generation");
    assert_eq!(ecc(unknown, 80, 64), (None, 0));
    assert_eq!(ecc(ddr4, 64, 72), (Some(Ecc::Ecc), 1), "swapped");
    for (total, data) in [(128, 64), (72, 72), (41_480, 64), (80, 64)] {
        assert_eq!(ecc(ddr4, total, data), (None, 1), "{total}/{data}");
    }
    for (total, data) in [(0, 0), (0xffff, 0xffff), (72, 0xffff), (0, 64), (8, 0)] {
        assert_eq!(ecc(ddr4, total, data), (None, 0), "{total}/{data}");
    }
}

#[test]
fn roundings_of_one_rate() {
    let rated = |sort: u64, mts: u64| {
        let report = read_one(bare().with("type", sort).with("speed", mts));
        let module = only_module(&report);
        let is_inferred = module.inferred.contains(&ModuleFact::Grade);
        assert_eq!(is_inferred, has(&report, "speed: "));
        (module.grade_mts, is_inferred)
    };
    for (sort, found, meant) in [
        (0x18, 1066, DataRate::DDR3_1066),
        (0x18, 1067, DataRate::DDR3_1066),
        (0x18, 1332, DataRate::DDR3_1333),
        (0x18, 1334, DataRate::DDR3_1333),
        (0x18, 1336, DataRate::DDR3_1333),
        (0x18, 1867, DataRate::DDR3_1866),
        (0x1a, 2134, DataRate::DDR4_2133),
        (0x1a, 2666, DataRate::DDR4_2666),
        (0x1a, 2667, DataRate::DDR4_2666),
        (0x1a, 2668, DataRate::DDR4_2666),
        (0x1a, 2934, DataRate::DDR4_2933),
        (0x22, 4800, DataRate::DDR5_4800),
    ] {
        assert_eq!(rated(sort, found), (Some(meant), false), "{found}");
    }
    assert_eq!(rated(0x1a, 2600), (Some(DataRate::DDR4_2666), true));
    assert_eq!(rated(0x18, 1639), (Some(DataRate::DDR3_1600), true));
    assert_eq!(rated(0x1a, 2425), (Some(DataRate::DDR4_2400), true));
    assert_eq!(rated(0x22, 2600), (Some(DataRate::from_mts(2600).unwrap()), false), "DDR5 has nothing near");
    assert_eq!(rated(0x1a, 3000), (Some(DataRate::from_mts(3000).unwrap()), false), "an overclock profile");
}

#[test]
fn rates_that_no_module_has_are_left_out() {
    for mts in [99, 20_001, 32_768, 65_534] {
        let report = read_one(bare().with("type", 0x1a).with("speed", mts).with("running", mts));
        assert_eq!((only_module(&report).grade_mts, only_place(&report).running_rate_mts), (None, None));
        remarked(&report, &format!("byte 0x2e: speed: {mts} MT/s is left out"));
        remarked(&report, "configured speed: ");
    }
    let report = read_one(bare().with("type", 0x1a));
    silent(&report);
    assert_eq!(only_module(&report).grade_mts, None, "0 is unknown");
}

#[test]
fn rates_in_the_extended_fields() {
    let rates = |device: Structure| {
        let report = read_one(device.with("type", 0x22).with("speed", 0xffff).with("running", 0xffff));
        silent(&report);
        (only_module(&report).grade_mts, only_place(&report).running_rate_mts)
    };
    let long = bare().with("extended speed", 0x8000_0000 | 8800).with("extended running", 8000);
    assert_eq!(rates(long), (Some(DataRate::DDR5_8800), Some(DataRate::DDR5_8000)));
    assert_eq!(rates(bare()), (None, None));
    assert_eq!(rates(device(0x1100, 0x1000, 0x54).with("size", 8192)), (None, None), "no such fields");
}

#[test]
fn running_rates_against_rated_ones() {
    let said = |rated: u64, running: u64| {
        let report = read_one(bare().with("type", 0x1a).with("speed", rated).with("running", running));
        let place = only_place(&report);
        assert_eq!(place.running_rate_mts.map(DataRate::name_mts), u32::try_from(running).ok(), "never doubled");
        remarks(&report)
    };
    assert_eq!(said(2666, 2400), [""; 0], "running slower is normal");
    assert_eq!(said(2400, 2400), [""; 0]);
    assert!(said(2133, 3600)[0].ends_with("configured speed: 3600 MT/s does not go with rated 2133 MT/s"));
    for (rated, running) in [(2400, 1200), (2666, 1333), (2133, 1066)] {
        assert!(said(rated, running)[0].ends_with("so that it may be in MHz"), "{rated} {running}");
    }
}

#[test]
fn voltages() {
    let voltages = |sort: u64, mv: [u64; 3]| {
        let device = bare().with("type", sort).with("least mv", mv[0]).with("most mv", mv[1]).with("running mv", mv[2]);
        let report = read_one(device);
        let module = only_module(&report);
        let able: Vec<u16> = module.voltages_mv.iter().flat_map(Voltages::iter).map(Voltage::mv).collect();
        (able, only_place(&report).running_voltage_mv.map(Voltage::mv), remarks(&report).len())
    };
    assert_eq!(voltages(0x18, [1350, 1500, 1350]), (vec![1350, 1500], Some(1350), 0));
    assert_eq!(voltages(0x18, [1500, 1500, 1500]), (vec![1500], Some(1500), 0));
    assert_eq!(voltages(0x1a, [1200, 1260, 1200]), (vec![1200], Some(1200), 0));
    assert_eq!(voltages(0x1a, [0, 0, 0]), (vec![], None, 0));
    assert_eq!(voltages(0x1a, [3, 3, 3]), (vec![], None, 3), "codes in the place of voltages");
    assert_eq!(voltages(0x1a, [799, 1200, 5000]), (vec![1200], None, 2));
    assert_eq!(voltages(0x13, [1800, 1800, 1800]), (vec![], Some(1800), 1), "of no known generation");
}

#[test]
fn device_sets_say_nothing() {
    let with_set = read_one(plain().with("set", 3));
    assert_eq!(with_set, read_one(plain()));
}

#[test]
fn locators_are_kept_as_they_are() {
    let texts = |locator: &str, bank: &str| {
        let report = read_one(bare().say("locator", locator).say("bank", bank));
        let place = only_place(&report);
        [&place.locator, &place.bank].map(|text| text.as_ref().map(ToString::to_string))
    };
    assert_eq!(texts("  PROC  1  DIMM  3 ", "Not Specified"), [Some("PROC  1  DIMM  3".to_owned()), None]);
    assert_eq!(texts("DIMM 0", "   "), [Some("DIMM 0".to_owned()), None]);
}

#[test]
fn doubled_handles_and_locators_stay_apart() {
    let report = read(&[array(0x1000, 3), plain(), plain().say("serial", "B1"), sound(0x1101)]);
    let ids: Vec<&str> = report.places.iter().map(|place| place.id.as_str()).collect();
    assert_eq!(ids, ["0x1100", "0x1100 (2)", "0x1101"]);
    remarked(&report, "handle: 0x1100 does not go with another structure with this handle");
}

#[test]
fn doubled_serials_are_kept_and_remarked() {
    let report = read(&[array(0x1000, 2), plain(), sound(0x1101).say("serial", "a0001100")]);
    assert_eq!(report.modules().filter(|(_, module)| module.serial.is_some()).count(), 2);
    remarked(&report, "serial number: a0001100 does not go with a module before it with this number");
    let blank = |handle| sound(handle).say("serial", "00000000");
    silent(&read(&[array(0x1000, 2), blank(0x1100), blank(0x1101)]));
}
