//! Writes tables of structures in every form, by offsets of the standard.

/// One structure: its fixed fields and its texts.
#[derive(Debug, Clone)]
pub(super) struct Structure {
    pub(super) kind: u8,
    pub(super) fixed: Vec<u8>,
    pub(super) texts: Vec<String>,
}

/// Offset and width in bytes of every field of a memory device; a width of 0 is a text.
pub(super) const DEVICE: [(&str, usize, usize); 31] = [
    ("array", 0x04, 2),
    ("error", 0x06, 2),
    ("total", 0x08, 2),
    ("data", 0x0a, 2),
    ("size", 0x0c, 2),
    ("form", 0x0e, 1),
    ("set", 0x0f, 1),
    ("locator", 0x10, 0),
    ("bank", 0x11, 0),
    ("type", 0x12, 1),
    ("detail", 0x13, 2),
    ("speed", 0x15, 2),
    ("maker", 0x17, 0),
    ("serial", 0x18, 0),
    ("tag", 0x19, 0),
    ("part", 0x1a, 0),
    ("rank", 0x1b, 1),
    ("extended size", 0x1c, 4),
    ("running", 0x20, 2),
    ("least mv", 0x22, 2),
    ("most mv", 0x24, 2),
    ("running mv", 0x26, 2),
    ("technology", 0x28, 1),
    ("modes", 0x29, 2),
    ("maker id", 0x2c, 2),
    ("volatile", 0x3c, 8),
    ("extended speed", 0x54, 4),
    ("extended running", 0x58, 4),
    ("pmic id", 0x5c, 2),
    ("rcd id", 0x60, 2),
    ("rcd revision", 0x62, 2),
];

/// Lengths of memory devices, by the versions that made them longer.
pub(super) const DEVICE_LENGTHS: [usize; 9] = [0x15, 0x17, 0x1b, 0x1c, 0x22, 0x28, 0x54, 0x5c, 0x64];

impl Structure {
    pub(super) fn new(kind: u8, handle: u16, length: usize) -> Self {
        let mut fixed = vec![0; length];
        fixed[..4].copy_from_slice(&[
            kind,
            u8::try_from(length).unwrap(),
            handle.to_le_bytes()[0],
            handle.to_le_bytes()[1],
        ]);
        Self { kind, fixed, texts: Vec::new() }
    }

    /// A field of so many bytes; one that the structure is too short for is left out.
    pub(super) fn put(mut self, at: usize, width: usize, value: u64) -> Self {
        if at + width <= self.fixed.len() {
            self.fixed[at..at + width].copy_from_slice(&value.to_le_bytes()[..width]);
        }
        self
    }

    /// A text, which no structure can have blank.
    pub(super) fn text(mut self, at: usize, text: &str) -> Self {
        assert!(!text.is_empty());
        if at < self.fixed.len() {
            self.texts.push(text.to_owned());
            self.fixed[at] = u8::try_from(self.texts.len()).unwrap();
        }
        self
    }

    /// A field of a memory device by its name.
    pub(super) fn with(self, name: &str, value: u64) -> Self {
        let (_, at, width) = *DEVICE.iter().find(|(field, ..)| *field == name).expect(name);
        assert!(width > 0, "{name} is a text");
        self.put(at, width, value)
    }

    /// A text of a memory device by its name.
    pub(super) fn say(self, name: &str, text: &str) -> Self {
        let (_, at, width) = *DEVICE.iter().find(|(field, ..)| *field == name).expect(name);
        assert_eq!(width, 0, "{name} is no text");
        self.text(at, text)
    }

    pub(super) fn handle(&self) -> u16 {
        u16::from_le_bytes([self.fixed[2], self.fixed[3]])
    }

    /// The value of a field, where the structure has it.
    pub(super) fn get(&self, at: usize, width: usize) -> Option<u64> {
        let bytes = self.fixed.get(at..at + width)?;
        Some(bytes.iter().rev().fold(0, |value, &byte| value << 8 | u64::from(byte)))
    }

    /// The text that a field names.
    pub(super) fn text_at(&self, at: usize) -> Option<&str> {
        let before = self.fixed.get(at)?.checked_sub(1)?;
        Some(self.texts.get(usize::from(before)).map_or("<BAD INDEX>", String::as_str))
    }

    pub(super) fn bytes(&self) -> Vec<u8> {
        let mut bytes = self.fixed.clone();
        for text in &self.texts {
            bytes.extend(text.bytes());
            bytes.push(0);
        }
        bytes.extend(if self.texts.is_empty() { &[0, 0][..] } else { &[0] });
        bytes
    }
}

/// The structure that ends a table.
pub(super) fn end() -> Structure {
    Structure::new(127, 0xfeff, 4)
}

/// An array of system memory with so many devices.
pub(super) fn array(handle: u16, devices: usize) -> Structure {
    let array = Structure::new(16, handle, 0x17).put(0x04, 1, 3).put(0x05, 1, 3).put(0x06, 1, 6);
    array.put(0x07, 4, 0x0400_0000).put(0x0d, 2, devices as u64)
}

/// A memory device of an array, with what every place has.
pub(super) fn device(handle: u16, array: u16, length: usize) -> Structure {
    let device = Structure::new(17, handle, length).with("array", u64::from(array)).with("error", 0xfffe);
    device.with("total", 72).with("data", 64).with("form", 9)
}

pub(super) fn table(structures: &[Structure]) -> Vec<u8> {
    structures.iter().flat_map(Structure::bytes).collect()
}

/// A form in which a table comes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    Bare,
    Dump,
    /// A dump of version 2.1, whose entry point says that it is one byte shorter.
    OldDump,
    LongDump,
    /// The entry point as it lies in memory, with the table right behind it.
    Joined,
    Oldest,
    Reply,
}

impl Form {
    pub(super) const ALL: [Self; 7] =
        [Self::Bare, Self::Dump, Self::OldDump, Self::LongDump, Self::Joined, Self::Oldest, Self::Reply];

    pub(super) fn wrap(self, structures: &[Structure]) -> Vec<u8> {
        let table = table(structures);
        let length = u32::try_from(table.len()).unwrap();
        let count = u16::try_from(structures.len()).unwrap();
        let mut head: Vec<u8> = match self {
            Self::Bare => Vec::new(),
            Self::Dump | Self::OldDump => {
                let mut head = b"_SM_\0".to_vec();
                head.extend([if self == Self::Dump { 0x1f } else { 0x1e }, 2, 8, 0xff, 0, 0, 0, 0, 0, 0, 0]);
                head.extend(b"_DMI_\0");
                head.extend(u16::try_from(length).unwrap().to_le_bytes());
                head.extend(32_u32.to_le_bytes());
                head.extend(count.to_le_bytes());
                head.push(0x28);
                sum_up(&mut head[0x10..], 5);
                sum_up(&mut head, 4);
                head
            }
            Self::LongDump | Self::Joined => {
                let mut head = b"_SM3_\0".to_vec();
                head.extend([0x18, 3, 2, 0, 1, 0]);
                head.extend((length + 999).to_le_bytes());
                let address: u64 = if self == Self::LongDump { 32 } else { 0x7f00_0000 };
                head.extend(address.to_le_bytes());
                sum_up(&mut head, 5);
                head
            }
            Self::Oldest => {
                let mut head = b"_DMI_\0".to_vec();
                head.extend(u16::try_from(length).unwrap().to_le_bytes());
                head.extend(32_u32.to_le_bytes());
                head.extend(count.to_le_bytes());
                head.push(0x20);
                sum_up(&mut head, 5);
                head
            }
            Self::Reply => {
                let mut head = vec![0, 3, 1, 0];
                head.extend(length.to_le_bytes());
                head
            }
        };
        if !matches!(self, Self::Bare | Self::Reply | Self::Joined) {
            head.resize(32, 0);
        }
        head.extend(table);
        head
    }
}

/// Makes all bytes add up to zero.
pub(super) fn sum_up(bytes: &mut [u8], at: usize) {
    bytes[at] = 0;
    bytes[at] = bytes.iter().fold(0_u8, |sum, byte| sum.wrapping_sub(*byte));
}
