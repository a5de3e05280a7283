//! The words for the codes of the standard, as tools print them: the code is the place in the table. 0 is no code of any.

/// The codes of one field.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Words(&'static [&'static str]);

impl Words {
    /// The word for a code.
    pub(crate) fn of(self, code: u8) -> Option<&'static str> {
        self.0.get(usize::from(code)).copied().filter(|word| !word.is_empty())
    }

    /// The word for a code, or its number.
    pub(crate) fn text(self, code: u8) -> String {
        self.of(code).map_or_else(|| format!("code {code:#04x}"), str::to_owned)
    }

    /// The code of a word, without regard to case.
    pub(crate) fn code(self, text: &str) -> Option<u8> {
        let code = self.0.iter().position(|word| !word.is_empty() && word.eq_ignore_ascii_case(text))?;
        u8::try_from(code).ok()
    }
}

/// Uses of an array (type 16, 05h).
pub(crate) const USES: Words = Words(&[
    "",
    "Other",
    "Unknown",
    "System Memory",
    "Video Memory",
    "Flash Memory",
    "Non-volatile RAM",
    "Cache Memory",
]);

/// Form factors (0Eh).
pub(crate) const FORMS: Words = Words(&[
    "",
    "Other",
    "Unknown",
    "SIMM",
    "SIP",
    "Chip",
    "DIP",
    "ZIP",
    "Proprietary Card",
    "DIMM",
    "TSOP",
    "Row Of Chips",
    "RIMM",
    "SODIMM",
    "SRIMM",
    "FB-DIMM",
    "Die",
    "CAMM",
    "CUDIMM",
    "CSODIMM",
]);

/// Memory types (12h).
pub(crate) const TYPES: Words = Words(&[
    "",
    "Other",
    "Unknown",
    "DRAM",
    "EDRAM",
    "VRAM",
    "SRAM",
    "RAM",
    "ROM",
    "Flash",
    "EEPROM",
    "FEPROM",
    "EPROM",
    "CDRAM",
    "3DRAM",
    "SDRAM",
    "SGRAM",
    "RDRAM",
    "DDR",
    "DDR2",
    "DDR2 FB-DIMM",
    "Reserved",
    "Reserved",
    "Reserved",
    "DDR3",
    "FBD2",
    "DDR4",
    "LPDDR",
    "LPDDR2",
    "LPDDR3",
    "LPDDR4",
    "Logical non-volatile device",
    "HBM",
    "HBM2",
    "DDR5",
    "LPDDR5",
    "HBM3",
    "MRDIMM",
]);

/// Memory technologies (28h); the seventh is printed with its maker's name before it.
pub(crate) const TECHNOLOGIES: Words =
    Words(&["", "Other", "Unknown", "DRAM", "NVDIMM-N", "NVDIMM-F", "NVDIMM-P", "persistent memory", "MRDIMM"]);

/// Words of the type detail (13h) by their bits; a detail is printed as several of them.
pub(crate) const DETAILS: [(&str, u32); 15] = [
    ("Other", 1),
    ("Unknown", 2),
    ("Fast-paged", 3),
    ("Static", 4),
    ("Pseudo-static", 5),
    ("RAMBus", 6),
    ("Synchronous", 7),
    ("CMOS", 8),
    ("EDO", 9),
    ("Window", 10),
    ("Cache", 11),
    ("Non-Volatile", NON_VOLATILE),
    ("Registered", REGISTERED),
    ("Unbuffered", UNBUFFERED),
    ("LRDIMM", LOAD_REDUCED),
];

/// Bits of the type detail.
pub(crate) const NON_VOLATILE: u32 = 12;
pub(crate) const REGISTERED: u32 = 13;
pub(crate) const UNBUFFERED: u32 = 14;
pub(crate) const LOAD_REDUCED: u32 = 15;
