//! Damaged input of the readers of reports: nothing stops them, what they give is bounded by what they were given, and reads back from its
//! document.
//!
//! Each case is made from its number alone. `FUZZ_CASES` says how many, `FUZZ_FIRST` which is the first; a case that fails names its number.
//!
//! `FUZZ_CASES=10000000 cargo test --release --features redfish --test it fuzz`

use std::fs;
use std::ops::Range;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;

use slotwright::Name;
use slotwright::intake::spd::SpdImage;
use slotwright::intake::{smbios, smbios_text};
use slotwright::population::Report;

/// How many cases there are of each reader if nobody says otherwise: all of them take a few seconds in a debug build.
const CASES: u64 = 3_000;

/// Numbers without pattern, the same for the same case (xorshift).
struct Random(u64);

impl Random {
    fn of_case(case: u64) -> Self {
        // neighbours must not be alike
        let mut state = (case + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
        state = (state ^ state >> 31).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        Self((state ^ state >> 29) | 1)
    }

    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0 >> 11
    }

    /// One below `count`, which is not 0.
    fn below(&mut self, count: usize) -> usize {
        (self.next() % count as u64) as usize
    }

    fn of<'a, T>(&mut self, these: &'a [T]) -> &'a T {
        &these[self.below(these.len())]
    }

    /// How many damages: mostly one or two, 16 at most.
    fn few(&mut self) -> usize {
        let most = 1 << self.below(5);
        self.below(most) + 1
    }

    /// A part of so many.
    fn range(&mut self, length: usize, most: usize) -> Range<usize> {
        let start = self.below(length + 1);
        start..(start + self.below(most + 1)).min(length)
    }
}

/// Runs every case; one of 64 begins with the last seed, which is the largest.
fn run(seeds: usize, ask: impl Fn(usize, &mut Random)) {
    let number = |name| std::env::var(name).ok().map(|number| number.parse::<u64>().unwrap());
    let (first, cases) = (number("FUZZ_FIRST").unwrap_or(0), number("FUZZ_CASES").unwrap_or(CASES));
    for case in first..first + cases {
        let mut random = Random::of_case(case);
        let seed = if random.below(64) == 0 { seeds - 1 } else { random.below(seeds.max(2) - 1) };
        let asked = catch_unwind(AssertUnwindSafe(|| ask(seed, &mut random)));
        assert!(asked.is_ok(), "FUZZ_FIRST={case} FUZZ_CASES=1");
    }
}

/// What holds of reports that were made of so many bytes.
fn check(reports: &[Report], given: usize) {
    let mut size = 0;
    for report in reports {
        let document = serde_json::to_string(report).unwrap();
        size += document.len();
        assert_eq!(serde_json::from_str::<Report>(&document).unwrap(), *report);
    }
    assert!(size <= MOST_TIMES * given + MOST, "{size} bytes of {given}");
}

/// The largest documents that were seen: of tables, 884 bytes of 21, and 3,975 of 562; of a document of 57 bytes, 1,127. Those of whole reports are shorter
/// than what they were made of.
const MOST_TIMES: usize = 50;
const MOST: usize = 4_000;

fn name() -> Name {
    Name::lossy("a damaged report")
}

fn file(name: &str) -> Vec<u8> {
    fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("examples/data").join(name)).unwrap()
}

/// Bytes that fields of lengths, counts and codes have at their edges.
const EDGES: [u8; 12] = [0, 1, 2, 3, 4, 0x11, 0x20, 0x7e, 0x7f, 0x80, 0xfe, 0xff];

/// Changes bytes in one of the ways in which they get damaged. `hot` are places of fields that steer a reader.
fn damage(bytes: &mut Vec<u8>, other: &[u8], hot: &[usize], random: &mut Random) {
    let length = bytes.len();
    if length == 0 {
        bytes.push(*random.of(&EDGES));
        return;
    }
    match random.below(10) {
        0 | 1 => bytes[random.below(length)] ^= 1 << random.below(8),
        2 => bytes[random.below(length)] = random.next() as u8,
        3 => bytes[random.below(length)] = *random.of(&EDGES),
        4 if !hot.is_empty() => {
            if let Some(byte) = bytes.get_mut(*random.of(hot)) {
                *byte = if random.below(2) == 0 { *random.of(&EDGES) } else { random.next() as u8 };
            }
        }
        5 => {
            // a block over another
            let from = random.range(length, 64);
            let to = random.below(length);
            let block = bytes[from].to_vec();
            bytes.iter_mut().skip(to).zip(block).for_each(|(byte, new)| *byte = new);
        }
        6 => {
            // a block that is there twice, or one of another input
            let block = if other.is_empty() || random.below(2) == 0 {
                bytes[random.range(length, 128)].to_vec()
            } else {
                other[random.range(other.len(), 256)].to_vec()
            };
            let at = random.below(length + 1);
            bytes.splice(at..at, block);
        }
        7 => drop(bytes.drain(random.range(length, 48))),
        8 if random.below(4) == 0 => bytes.truncate(random.below(length + 1)),
        // the beginning of one and the end of another
        9 if random.below(4) == 0 && !other.is_empty() => {
            bytes.truncate(random.below(length + 1));
            bytes.extend_from_slice(&other[random.below(other.len())..]);
        }
        _ => {
            let at = random.below(length);
            bytes[at] = bytes[at].wrapping_add(if random.below(2) == 0 { 1 } else { 0xff });
        }
    }
}

/// Several damages; mostly few.
fn damaged(seeds: &[Vec<u8>], seed: usize, hot: &[usize], random: &mut Random) -> Vec<u8> {
    let mut bytes = seeds[seed].clone();
    let other = random.below(seeds.len() - 1);
    for _ in 0..random.few() {
        damage(&mut bytes, &seeds[other], hot, random);
    }
    bytes
}

/// Images of the three generations, with as much in them as the readers look at.
fn images() -> Vec<Vec<u8>> {
    let image = |length: usize, bytes: &[(usize, u8)]| {
        let mut image = vec![0; length];
        bytes.iter().for_each(|&(at, byte)| image[at] = byte);
        image
    };
    #[rustfmt::skip]
    let ddr3 = [
        (0, 0x92), (1, 0x13), (2, 0x0b), (3, 0x01), (4, 0x04), (5, 0x21), (6, 0x02), (7, 0x08), (8, 0x0b), (9, 0x11), (10, 1), (11, 8),
        (12, 0x0a), (15, 0x08), (16, 0x6e), (18, 0x6e), (20, 0x6e), (60, 0x0f), (62, 0x04), (117, 0x80), (118, 0xce), (120, 0x12),
        (121, 0x20), (122, 0x11), (128, b'G'), (129, b'W'),
    ];
    #[rustfmt::skip]
    let ddr5 = [
        (0, 0x30), (1, 0x10), (2, 0x12), (3, 0x01), (4, 0x04), (5, 0x20), (6, 0x20), (7, 0x62), (20, 0xa0), (21, 0x01), (22, 0xf2),
        (23, 0x03), (25, 0x04), (30, 0x80), (31, 0x3e), (32, 0x80), (33, 0x3e), (34, 0x80), (35, 0x3e), (192, 0x10), (230, 0x11),
        (233, 0x81), (234, 0x08), (235, 0x32), (512, 0x80), (513, 0xad), (515, 0x24), (516, 0x11), (517, 0x22), (521, b'G'), (522, b'W'),
    ];
    let lrdimm = [(2, 0x0c), (3, 0x04), (4, 0x85), (6, 0xb2), (12, 0x18), (13, 0x0b), (18, 0x06), (125, 0xbc)];
    vec![image(256, &ddr3), image(640, &ddr5), image(384, &lrdimm), file("spd-16gb.bin")]
}

#[test]
fn spd() {
    let seeds = images();
    // what selects tables and formulas
    let hot: Vec<usize> = (0..37).chain(121..132).chain(230..236).chain([62, 320, 323, 324, 512, 515, 516]).collect();
    run(seeds.len(), |seed, random| {
        let bytes = damaged(&seeds, seed, &hot, random);
        let Ok(image) = SpdImage::read(&bytes) else { return };
        assert_eq!(image.label().is_none(), image.label_problem().is_some());
        let _ = (image.timings(), image.unique_id(), image.made(), image.dram_maker_id(), image.is_sound());
        check(&[image.report(name(), None)], bytes.len());
    });
}

/// The structures of a table, one after the other.
fn structures(mut table: &[u8]) -> Vec<&[u8]> {
    let mut structures = Vec::new();
    while table.len() > 4 {
        let fields = usize::from(table[1]);
        let end = table[fields..].windows(2).position(|pair| pair == [0, 0]).unwrap();
        let (structure, rest) = table.split_at(fields + end + 2);
        structures.push(structure);
        table = rest;
    }
    structures
}

/// Small tables in several forms, and last the whole dump.
fn tables() -> Vec<Vec<u8>> {
    let dump = file("report.bin");
    let all = structures(&dump[32..]);
    let of = |kind: u8, count: usize| all.iter().filter(move |structure| structure[0] == kind).take(count).copied();
    let table = |devices: usize| -> Vec<u8> {
        of(1, 1).chain(of(4, 1)).chain(of(16, 1)).chain(of(17, devices)).chain(of(127, 1)).flatten().copied().collect()
    };
    let reply = |table: &[u8]| -> Vec<u8> {
        let length = (table.len() as u32).to_le_bytes();
        [0, 3, 3, 0].into_iter().chain(length).chain(table.iter().copied()).collect()
    };
    let short = |table: &[u8]| -> Vec<u8> {
        let head =
            b"_SM_\x00\x1f\x02\x08\xff\x00\x00\x00\x00\x00\x00\x00_DMI_\x00\x00\x00\x20\x00\x00\x00\x05\x00\x28\x00";
        head.iter().chain(table).copied().collect()
    };
    // devices of the oldest length, with texts of no use
    let old = b"\x11\x15\x00\x11\x00\x10\x00\x00\x48\x00\x40\x00\xff\x7f\x09\x00\x01\x02\x18\x80\x20A1\0NO DIMM\0\0";
    vec![old.repeat(3), table(1), table(3), reply(&table(2)), short(&table(1)), dump]
}

#[test]
fn smbios_bytes() {
    let seeds = tables();
    run(seeds.len(), |seed, random| {
        // kinds, lengths and the fields behind them: where structures begin
        let start = [0, 8, 31, 32, 59, 60][random.below(6)];
        let hot: Vec<usize> = (start..start + 24).collect();
        let bytes = damaged(&seeds, seed, &hot, random);
        let _ = smbios::looks_like(&bytes);
        if let Ok(report) = smbios::read(name(), &bytes) {
            check(&[report], bytes.len());
        }
    });
}

/// Texts of a few structures, and last the whole print.
fn prints() -> Vec<Vec<u8>> {
    let whole = String::from_utf8(file("report.txt")).unwrap();
    let parts: Vec<&str> = whole.split("\n\n").collect();
    let of = |kind: &str, count: usize| {
        let line = format!("DMI type {kind},");
        parts.iter().filter(move |part| part.contains(&line)).take(count).map(|part| format!("{part}\n\n"))
    };
    let memory: String = of("16", 1).chain(of("17", 3)).collect();
    let machine: String =
        [format!("{}\n\n", parts[0])].into_iter().chain(of("1", 1)).chain(of("4", 1)).chain(of("17", 1)).collect();
    let quoted = memory.replace('\n', "\n> ").replace("MT/s", "MHz").replace('\t', "  ");
    let quiet: String =
        memory.lines().filter(|line| !line.starts_with("Handle")).flat_map(|line| [line, "\n"]).collect();
    [memory, machine, quoted, quiet, whole].map(String::into_bytes).to_vec()
}

/// What may stand in the place of a number or a word.
const VALUES: [&str; 18] = [
    "0",
    "1",
    "32767",
    "65535",
    "4294967295",
    "18446744073709551616",
    "99999999999999999999999999",
    "-1",
    "0x1100",
    "GB",
    "TB",
    "MHz",
    "Unknown",
    "<OUT OF SPEC>",
    "No Module Installed",
    ":",
    "\n\n",
    "\u{fffd}\u{1F600}",
];

#[test]
fn smbios_print() {
    let seeds = prints();
    run(seeds.len(), |seed, random| {
        let mut bytes = damaged(&seeds, seed, &[], random);
        // whole lines, numbers and words
        for _ in 0..random.below(6) {
            let at = random.below(bytes.len() + 1);
            let end_of = |bytes: &[u8], from: usize, end: fn(u8) -> bool| {
                bytes[from..].iter().position(|&byte| end(byte)).map_or(bytes.len(), |found| from + found)
            };
            let is_end = |byte: u8| byte == b'\n';
            let line = end_of(&bytes, at, is_end);
            let next = end_of(&bytes, (line + 1).min(bytes.len()), is_end);
            match random.below(3) {
                0 => drop(bytes.drain(line..next)),
                1 => {
                    let block = bytes[line..next].to_vec();
                    let to = end_of(&bytes, random.below(bytes.len() + 1), is_end);
                    bytes.splice(to..to, block);
                }
                _ => {
                    let word = end_of(&bytes, at, |byte| byte == b' ' || byte.is_ascii_digit());
                    let end = end_of(&bytes, word, |byte| !byte.is_ascii_digit() && byte != b' ');
                    bytes.splice(word..end, random.of(&VALUES).bytes());
                }
            }
        }
        let _ = smbios_text::looks_like(&bytes);
        let text = String::from_utf8_lossy(&bytes);
        check(&smbios_text::read(name(), &text).unwrap_or_default(), text.len());
    });
}

#[cfg(feature = "redfish")]
mod documents {
    use serde_json::{Value, json};
    use slotwright::intake::redfish;

    use crate::fuzz::{Random, check, file, name, run};

    const BASE: &str = "/redfish/v1/Systems/1";

    /// Small documents, and last the whole one.
    fn documents() -> Vec<Value> {
        let whole: Value = serde_json::from_slice(&file("report-redfish.json")).unwrap();
        let memory = format!("{BASE}/Memory");
        let mut few = whole.clone();
        few[&memory]["Members"].as_array_mut().unwrap().truncate(3);
        few[&memory]["Members@odata.count"] = json!(3);
        let member = whole[&memory]["Members"][0].clone();
        let mut loose = member.clone();
        loose.as_object_mut().unwrap().remove("@odata.type");
        vec![few[&memory].clone(), member, json!([loose]), few, whole]
    }

    /// A node of a tree: the deeper, the rarer a stop on the way.
    fn pick<'v>(mut value: &'v mut Value, random: &mut Random) -> &'v mut Value {
        for _ in 0..12 {
            let count = match &*value {
                Value::Array(these) => these.len(),
                Value::Object(these) => these.len(),
                _ => 0,
            };
            if count == 0 || random.below(8) == 0 {
                break;
            }
            let at = random.below(count);
            value = match value {
                Value::Array(these) => &mut these[at],
                Value::Object(these) => these.values_mut().nth(at).unwrap(),
                leaf => leaf,
            };
        }
        value
    }

    fn leaf(random: &mut Random) -> Value {
        match random.below(20) {
            0 => Value::Null,
            1 => json!(random.below(2) == 0),
            2 => json!(random.next()),
            3 => json!(-(random.below(1 << 20) as i64)),
            4 => json!(u64::MAX),
            5 => serde_json::from_str(&format!("{}.25", random.next() % 1_000_000)).unwrap(),
            6 => json!(f64::MAX),
            7 => json!(random.of(&[0, 1, 2, 4, 15_625, 31_250, 16_384, 2400, 4800, 64, 72, 80])),
            8 => json!([]),
            9 => json!({}),
            10 => json!("x".repeat(random.below(300))),
            11 => json!(random.next().to_string()),
            _ => json!(random.of(&[
                "",
                "\u{0}",
                " ",
                "Absent",
                "Enabled",
                "StandbySpare",
                "DDR5",
                "DDR4_SDRAM",
                "LRDIMM",
                "Die",
                "NVDIMM_N",
                "NoECC",
                "#Memory.v1_9_0.Memory",
                "#MemoryCollection.MemoryCollection",
                "#Processor.v1_0_0.Processor",
                "0x2c80",
                "9".repeat(200).as_str(),
                "0.0000001",
            ])),
        }
    }

    const NAMES: [&str; 16] = [
        "@odata.id",
        "@odata.type",
        "Members",
        "Members@odata.count",
        "Members@odata.nextLink",
        "CapacityMiB",
        "MemoryDeviceType",
        "BaseModuleType",
        "RankCount",
        "Status",
        "State",
        "OperatingSpeedMhz",
        "AllowedSpeedsMHz",
        "MemoryLocation",
        "Links",
        "Oem",
    ];

    /// Changes one node.
    fn damage(document: &mut Value, random: &mut Random) {
        let copied = if random.below(4) == 0 { pick(document, random).clone() } else { leaf(random) };
        let node = pick(document, random);
        match (node, random.below(6)) {
            (Value::Object(these), 0) if !these.is_empty() => {
                let name = these.keys().nth(random.below(these.len())).cloned().unwrap();
                these.remove(&name);
            }
            (Value::Object(these), 1) => drop(these.insert((*random.of(&NAMES)).to_owned(), copied)),
            (Value::Object(these), 2) if !these.is_empty() => {
                // another name for a value
                let name = these.keys().nth(random.below(these.len())).cloned().unwrap();
                let value = these.remove(&name).unwrap();
                these.insert((*random.of(&NAMES)).to_owned(), value);
            }
            (Value::Array(these), 0) if !these.is_empty() => drop(these.remove(random.below(these.len()))),
            (Value::Array(these), 1 | 2) => these.insert(random.below(these.len() + 1), copied),
            (Value::String(text), 0) => {
                let kept: String = text.chars().take(random.below(text.chars().count() + 1)).collect();
                *text = kept;
            }
            (Value::String(text), 1) => text.push(*random.of(&[' ', '\u{0}', '0', 'z', '\u{e9}', '/'])),
            (node, 3) => {
                let inner = node.take();
                *node = if random.below(2) == 0 { json!([inner]) } else { json!({ *random.of(&NAMES): inner }) };
            }
            (node, _) => *node = copied,
        }
    }

    #[test]
    fn redfish_documents() {
        let seeds = documents();
        run(seeds.len(), |seed, random| {
            let mut document = seeds[seed].clone();
            for _ in 0..random.few() {
                damage(&mut document, random);
            }
            if let Ok(report) = redfish::read(name(), &document) {
                check(&[report], document.to_string().len());
            }
        });
    }
}
