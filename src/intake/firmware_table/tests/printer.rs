//! Prints structures as the tool did in several of its versions.

use std::fmt::Write as _;

use crate::intake::firmware_table::tests::encoder::Structure;

/// How a version of the tool prints.
#[derive(Debug, Clone, Copy)]
pub(super) struct Dialect {
    pub(super) version: (u16, u16),
    pub(super) has_heading: bool,
    /// Without handles (-q).
    pub(super) is_quiet: bool,
}

impl Dialect {
    /// One for each change of the text.
    pub(super) fn all() -> impl Iterator<Item = Self> {
        let versions = [(2, 6), (2, 9), (2, 10), (2, 12), (3, 0), (3, 1), (3, 2), (3, 3), (3, 4), (3, 7)];
        versions.into_iter().map(Self::of)
    }

    pub(super) const fn of(version: (u16, u16)) -> Self {
        Self { version, has_heading: true, is_quiet: false }
    }

    /// What is left of a structure in this dialect.
    pub(super) fn leaves(self, structure: &Structure) -> Structure {
        let mut left = structure.clone();
        if structure.kind != 17 {
            return left;
        }
        if self.version < (2, 10) {
            left = left.with("rank", 0).with("running", 0);
        }
        if self.version < (2, 12) {
            left = left.with("least mv", 0).with("most mv", 0).with("running mv", 0);
        }
        if self.version < (3, 1) {
            let detail = left.get(0x13, 2).unwrap() & 0x7fff;
            left = left.with("detail", detail);
        }
        if self.version < (3, 2) {
            left = left.with("technology", 0).with("maker id", 0);
        }
        if self.version < (3, 7) {
            left = left.with("rcd id", 0);
        }
        // codes that the tool did not know yet
        let known_types = if self.version < (3, 0) {
            0x19
        } else if self.version < (3, 3) {
            0x1f
        } else {
            0x25
        };
        if left.get(0x12, 1).unwrap() > known_types {
            left = left.with("type", 0);
        }
        left
    }

    pub(super) fn print(self, structures: &[Structure]) -> String {
        let mut text = String::new();
        if self.has_heading {
            writeln!(text, "# dmidecode {}.{}\nSMBIOS 2.8 present.\n", self.version.0, self.version.1).unwrap();
        }
        for structure in structures {
            let (tab, end) = if self.version < (2, 7) { ("\t\t", ".") } else { ("\t", "") };
            let (handle, length) = (structure.handle(), structure.fixed.len());
            let title = title(structure.kind);
            let kind = structure.kind;
            if self.is_quiet {
                writeln!(text, "{title}").unwrap();
            } else if self.version < (2, 7) {
                writeln!(text, "Handle 0x{handle:04X}\n\tDMI type {kind}, {length} bytes{end}\n\t{title}").unwrap();
            } else {
                writeln!(text, "Handle 0x{handle:04X}, DMI type {kind}, {length} bytes{end}\n{title}").unwrap();
            }
            for (key, value) in self.entries(&self.leaves(structure)) {
                if !(self.is_quiet && key.ends_with("Handle")) {
                    writeln!(text, "{tab}{key}: {value}").unwrap();
                }
            }
            if structure.kind == 4 {
                writeln!(text, "{tab}Flags:\n{tab}\tFPU (Floating-point unit on-chip)\n{tab}Voltage: 1.8 V").unwrap();
            }
            text.push('\n');
        }
        text
    }

    fn entries(self, structure: &Structure) -> Vec<(&'static str, String)> {
        let string = |at: usize| structure.text_at(at).unwrap_or("Not Specified").to_owned();
        let number = |at: usize, width: usize| structure.get(at, width);
        let mut entries: Vec<(&'static str, String)> = Vec::new();
        match structure.kind {
            0 => entries.extend([
                ("Vendor", string(4)),
                ("Version", string(5)),
                ("Release Date", "01/01/2020".to_owned()),
            ]),
            1 => entries.extend([
                ("Manufacturer", string(4)),
                ("Product Name", string(5)),
                ("Version", string(6)),
                ("Serial Number", string(7)),
            ]),
            2 => {
                entries.extend([
                    ("Manufacturer", string(4)),
                    ("Product Name", string(5)),
                    ("Serial Number", string(7)),
                ]);
            }
            4 => {
                let status = if number(0x18, 1).unwrap() & 0x40 == 0 { "Unpopulated" } else { "Populated, Enabled" };
                let central = if number(5, 1) == Some(3) { "Central Processor" } else { "DSP Processor" };
                entries.extend([("Socket Designation", string(4)), ("Type", central.to_owned())]);
                entries.extend([("Version", string(0x10)), ("Status", status.to_owned())]);
            }
            16 => {
                let usage = ["", "Other", "Unknown", "System Memory", "Video Memory", "Flash Memory"];
                let usage = usage[usize::try_from(number(5, 1).unwrap()).unwrap()];
                entries.extend([("Location", "System Board Or Motherboard".to_owned()), ("Use", usage.to_owned())]);
                entries.extend([
                    ("Maximum Capacity", "64 GB".to_owned()),
                    ("Number Of Devices", number(0x0d, 2).unwrap().to_string()),
                ]);
            }
            17 => self.device(structure, &mut entries),
            _ => {}
        }
        entries
    }

    fn device(self, structure: &Structure, entries: &mut Vec<(&'static str, String)>) {
        let string = |at: usize| structure.text_at(at).unwrap_or("Not Specified").to_owned();
        let number = |at: usize, width: usize| structure.get(at, width);
        let has = |end: usize| structure.fixed.len() >= end;
        let or_unknown = |known: bool, text: String| if known { text } else { "Unknown".to_owned() };
        let width = |at| {
            let bits = number(at, 2).unwrap();
            or_unknown(bits != 0 && bits != 0xffff, format!("{bits} bits"))
        };
        let unit = if self.version < (3, 1) { "MHz" } else { "MT/s" };
        let rate = |at, extended| {
            let mts = match number(at, 2).unwrap() {
                0xffff => number(extended, 4).unwrap_or(0) & 0x7fff_ffff,
                mts => mts,
            };
            let period = if self.version < (2, 10) && mts > 0 {
                format!(" ({}.{} ns)", 1000 / mts, 10_000 / mts % 10)
            } else {
                String::new()
            };
            or_unknown(mts != 0, format!("{mts} {unit}{period}"))
        };
        let voltage = |at| {
            let mv = number(at, 2).unwrap();
            let places = format!("{}.{:03}", mv / 1000, mv % 1000);
            let short = if self.version < (3, 0) {
                format!(" {places}")
            } else {
                places.trim_end_matches('0').trim_end_matches('.').to_owned()
            };
            or_unknown(mv != 0, format!("{short} V"))
        };
        let words = |words: &[(u64, &str)], code: Option<u64>| {
            let word = words.iter().find(|(known, _)| Some(*known) == code);
            word.map_or("<OUT OF SPEC>", |(_, word)| word).to_owned()
        };

        entries.push(("Array Handle", format!("0x{:04X}", number(4, 2).unwrap())));
        entries.push(("Error Information Handle", "Not Provided".to_owned()));
        entries.extend([("Total Width", width(8)), ("Data Width", width(0x0a)), ("Size", self.size(structure))]);
        entries.push(("Form Factor", words(&FORMS, number(0x0e, 1))));
        entries.push(("Set", "None".to_owned()));
        entries.extend([("Locator", string(0x10)), ("Bank Locator", string(0x11))]);
        entries.push(("Type", words(&TYPES, number(0x12, 1))));
        let bits = number(0x13, 2).unwrap();
        let detail: Vec<&str> = DETAILS.iter().filter(|(bit, _)| bits >> bit & 1 == 1).map(|(_, word)| *word).collect();
        entries.push(("Type Detail", if detail.is_empty() { "None".to_owned() } else { detail.join(" ") }));
        let is_empty = number(0x0c, 2) == Some(0);
        if !has(0x17) || (self.version >= (3, 4) && is_empty) {
            return;
        }
        entries.push(("Speed", rate(0x15, 0x54)));
        if !has(0x1b) {
            return;
        }
        entries.extend([("Manufacturer", string(0x17)), ("Serial Number", string(0x18))]);
        entries.extend([("Asset Tag", string(0x19)), ("Part Number", string(0x1a))]);
        if !has(0x1c) || self.version < (2, 10) {
            return;
        }
        let ranks = number(0x1b, 1).unwrap() & 15;
        entries.push(("Rank", or_unknown(ranks != 0, ranks.to_string())));
        if !has(0x22) {
            return;
        }
        let running = if self.version < (3, 2) { "Configured Clock Speed" } else { "Configured Memory Speed" };
        entries.push((running, rate(0x20, 0x58)));
        if !has(0x28) || self.version < (2, 12) {
            return;
        }
        let keys = if self.version < (3, 0) {
            ["Minimum voltage", "Maximum voltage", "Configured voltage"]
        } else {
            ["Minimum Voltage", "Maximum Voltage", "Configured Voltage"]
        };
        entries.extend(keys.into_iter().zip([voltage(0x22), voltage(0x24), voltage(0x26)]));
        if !has(0x54) || self.version < (3, 2) {
            return;
        }
        entries.push(("Memory Technology", words(&TECHNOLOGIES, number(0x28, 1))));
        let id = |at| {
            let id = number(at, 2).unwrap_or(0);
            or_unknown(id != 0, format!("Bank {}, Hex 0x{:02X}", (id & 0x7f) + 1, id >> 8))
        };
        entries.push(("Module Manufacturer ID", id(0x2c)));
        if has(0x64) && self.version >= (3, 7) {
            entries.push(("RCD Manufacturer ID", id(0x60)));
        }
    }

    fn size(self, structure: &Structure) -> String {
        let largest = |mib: u64, is_old: bool| match mib {
            _ if is_old || mib % 1024 != 0 => format!("{mib} MB"),
            _ if mib % (1024 * 1024) != 0 => format!("{} GB", mib / 1024),
            _ => format!("{} TB", mib / (1024 * 1024)),
        };
        let extended = structure.get(0x1c, 4);
        match (structure.get(0x0c, 2).unwrap(), extended) {
            (0, _) => "No Module Installed".to_owned(),
            (0xffff, _) => "Unknown".to_owned(),
            (0x7fff, Some(extended)) => largest(extended & 0x7fff_ffff, false),
            (size, _) if size & 0x8000 != 0 => format!("{} kB", size & 0x7fff),
            (size, _) => largest(size, self.version < (3, 3)),
        }
    }
}

fn title(kind: u8) -> &'static str {
    let titles = [
        (0, "BIOS Information"),
        (1, "System Information"),
        (2, "Base Board Information"),
        (4, "Processor Information"),
        (7, "Cache Information"),
        (16, "Physical Memory Array"),
        (17, "Memory Device"),
        (19, "Memory Array Mapped Address"),
        (127, "End Of Table"),
    ];
    titles.into_iter().find(|(other, _)| *other == kind).unwrap().1
}

const FORMS: [(u64, &str); 10] = [
    (1, "Other"),
    (2, "Unknown"),
    (5, "Chip"),
    (8, "Proprietary Card"),
    (9, "DIMM"),
    (0x0b, "Row Of Chips"),
    (0x0d, "SODIMM"),
    (0x0f, "FB-DIMM"),
    (0x12, "CUDIMM"),
    (0x13, "CSODIMM"),
];

const TYPES: [(u64, &str); 15] = [
    (1, "Other"),
    (2, "Unknown"),
    (3, "DRAM"),
    (9, "Flash"),
    (0x0f, "SDRAM"),
    (0x12, "DDR"),
    (0x13, "DDR2"),
    (0x14, "DDR2 FB-DIMM"),
    (0x18, "DDR3"),
    (0x1a, "DDR4"),
    (0x1e, "LPDDR4"),
    (0x1f, "Logical non-volatile device"),
    (0x22, "DDR5"),
    (0x23, "LPDDR5"),
    (0x25, "MRDIMM"),
];

const TECHNOLOGIES: [(u64, &str); 8] = [
    (1, "Other"),
    (2, "Unknown"),
    (3, "DRAM"),
    (4, "NVDIMM-N"),
    (5, "NVDIMM-F"),
    (6, "NVDIMM-P"),
    (7, "Made Up persistent memory"),
    (8, "MRDIMM"),
];

const DETAILS: [(u64, &str); 7] = [
    (1, "Other"),
    (2, "Unknown"),
    (7, "Synchronous"),
    (12, "Non-Volatile"),
    (13, "Registered (Buffered)"),
    (14, "Unbuffered (Unregistered)"),
    (15, "LRDIMM"),
];
