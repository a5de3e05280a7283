//! What one line of a printed table is.

/// A line, without what mail puts before it and without indentation: tabs get lost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Line<'t> {
    /// Nothing but blanks.
    Blank,
    /// What the tool says of itself: its version, where it could be read.
    Tool(Option<(u16, u16)>),
    /// `Handle 0x1100, DMI type 17, 84 bytes`, or only the handle.
    Handle { handle: u16, kind: Option<u8> },
    /// `DMI type 17, 27 bytes.`, on a line of its own.
    Kind(u8),
    /// The name of a type that is read: `Memory Device`.
    Title(u8),
    /// A key and its value.
    Entry { key: &'t str, value: &'t str },
    /// Anything else: the name of a type that is not read, the rest of a line that was wrapped, a member of a list.
    Rest(&'t str),
}

/// The names of the types that are read.
const TITLES: [(&str, u8); 7] = [
    ("Memory Device", 17),
    ("Physical Memory Array", 16),
    ("Processor Information", 4),
    ("System Information", 1),
    ("Base Board Information", 2),
    ("BIOS Information", 0),
    ("Firmware Information", 0),
];

impl<'t> Line<'t> {
    pub(crate) fn of(text: &'t str) -> Self {
        let text = unquoted(text);
        if text.is_empty() {
            return Self::Blank;
        }
        if let Some(version) = after(text, "# dmidecode") {
            return Self::Tool(version_of(version));
        }
        if let Some(rest) = after(text, "Handle") {
            if let Some(handle) = hexadecimal(rest.trim_start()) {
                let kind = rest.split_once(',').and_then(|(_, rest)| kind_of(rest.trim_start()));
                return Self::Handle { handle, kind };
            }
        }
        if let Some(kind) = kind_of(text) {
            return Self::Kind(kind);
        }
        if let Some((_, kind)) = TITLES.iter().find(|(title, _)| title.eq_ignore_ascii_case(text)) {
            return Self::Title(*kind);
        }
        match text.split_once(':') {
            Some((key, value)) => Self::Entry { key: key.trim_end(), value: value.trim_start() },
            None => Self::Rest(text),
        }
    }
}

/// A line without the marks of quotation before it, and without blanks around it.
fn unquoted(text: &str) -> &str {
    let is_mark = |letter: char| letter == '>' || letter.is_whitespace();
    text.trim_start_matches(is_mark).trim_end()
}

/// What follows a word at the beginning of a text.
fn after<'t>(text: &'t str, word: &str) -> Option<&'t str> {
    let (first, rest) = text.split_at_checked(word.len())?;
    first.eq_ignore_ascii_case(word).then_some(rest)
}

/// The number in `DMI type 17, 27 bytes`.
fn kind_of(text: &str) -> Option<u8> {
    let rest = after(text, "DMI type")?.trim_start();
    let digits = rest.split(|letter: char| !letter.is_ascii_digit()).next()?;
    digits.parse().ok()
}

/// A handle, as it is printed: `0x1100`.
pub(crate) fn hexadecimal(text: &str) -> Option<u16> {
    let digits = text.strip_prefix("0x").or_else(|| text.strip_prefix("0X"))?;
    let digits = digits.split(|letter: char| !letter.is_ascii_hexdigit()).next()?;
    u16::from_str_radix(digits, 16).ok()
}

/// `2.12` in ` 2.12`, `3.3` in ` 3.3-1`.
fn version_of(text: &str) -> Option<(u16, u16)> {
    let mut numbers = text.trim_start().split(|letter: char| !letter.is_ascii_digit());
    Some((numbers.next()?.parse().ok()?, numbers.next()?.parse().ok()?))
}
