use std::borrow::Cow;

use crate::unit::Name;

/// What stands where a text belongs.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(crate) enum Said<'t> {
    /// No text.
    #[default]
    Nothing,
    /// A number of a text that the structure does not have: a fault of the firmware.
    NoSuchText,
    /// A text, as it stands there.
    Text(Cow<'t, str>),
}

impl Said<'_> {
    /// The text without what pads it, where anything is left.
    pub(crate) fn text(&self) -> Option<&str> {
        match self {
            Self::Nothing | Self::NoSuchText => None,
            // most need no trimming
            Self::Text(text) if [text.bytes().next(), text.bytes().next_back()].iter().all(is_graphic) => Some(text),
            Self::Text(text) => {
                let is_padding = |letter: char| {
                    letter.is_whitespace() || letter.is_control() || letter == char::REPLACEMENT_CHARACTER
                };
                Some(text.trim_matches(is_padding)).filter(|text| !text.is_empty())
            }
        }
    }

    /// The text as it stands, where it says anything.
    pub(crate) fn raw(&self) -> Option<Name> {
        self.text().filter(|text| !text.eq_ignore_ascii_case("not specified")).map(name)
    }

    /// The text, where it is no placeholder.
    pub(crate) fn stated(&self) -> Option<&str> {
        self.text().filter(|text| !is_placeholder(text))
    }
}

fn is_graphic(byte: &Option<u8>) -> bool {
    byte.is_some_and(|byte| byte.is_ascii_graphic())
}

/// A name of any text; one that is well formed is taken as it is.
pub(crate) fn name(text: &str) -> Name {
    Name::new(text).unwrap_or_else(|_| Name::lossy(text))
}

/// A name of a text that may be spelled in hexadecimal digits.
pub(crate) fn name_or_spelled(text: &str) -> Name {
    spelled(text).map_or_else(|| name(text), |text| name(&text))
}

/// Whether a text stands there only so that the place is not blank. Case, blanks and marks do not matter.
pub(crate) fn is_placeholder(text: &str) -> bool {
    if !text.is_ascii() {
        return !text.chars().any(char::is_alphanumeric);
    }
    let mut buffer = [0; LONGEST];
    let Some(bare) = bare(text, &mut buffer) else { return false };
    let digits = bare.strip_prefix("0x").unwrap_or(bare);
    let is_filler = |digit: u8, least: usize| digits.len() >= least && digits.bytes().all(|byte| byte == digit);
    is_filler(b'0', 0) || is_filler(b'f', 2) || is_placeholder_word(bare) || names_its_field(bare)
}

/// No placeholder has more letters and digits than this.
const LONGEST: usize = 40;

/// The letters and digits of a text, in lower case; `None` where there are too many.
fn bare<'b>(text: &str, buffer: &'b mut [u8; LONGEST]) -> Option<&'b str> {
    let mut letters = text.bytes().filter(u8::is_ascii_alphanumeric).map(|byte| byte.to_ascii_lowercase());
    let mut count = 0;
    for (place, letter) in buffer.iter_mut().zip(letters.by_ref()) {
        *place = letter;
        count += 1;
    }
    // there may be more letters than room
    if count == LONGEST {
        return None;
    }
    core::str::from_utf8(buffer.get(..count)?).ok()
}

/// What stands in reports where nobody has filled in anything.
fn is_placeholder_word(bare: &str) -> bool {
    matches!(
        bare,
        "0123456789"
            | "123456789"
            | "1234567890"
            | "absent"
            | "badindex"
            | "baseboardproductname"
            | "default"
            | "defaultstring"
            | "dimmmanufacturer"
            | "empty"
            | "emptyslot"
            | "invalid"
            | "na"
            | "nil"
            | "nodimm"
            | "nodimminstalled"
            | "nomodule"
            | "nomoduleinstalled"
            | "none"
            | "nopart"
            | "notapplicable"
            | "notavailable"
            | "notinstalled"
            | "notpresent"
            | "notprovided"
            | "notset"
            | "notspecified"
            | "null"
            | "oem"
            | "outofspec"
            | "productname"
            | "reserved"
            | "systemmanufacturer"
            | "systemname"
            | "systemproductname"
            | "systemserialnumber"
            | "systemversion"
            | "tbd"
            | "tobefilledbyoem"
            | "tobefilledbyom"
            | "undefined"
            | "unknown"
            | "unknownmanufacturer"
            | "unspecified"
            | "xxxxxxxx"
    )
}

/// Whether a text only names the field in which it stands, as "DIMM1_PartNum" and "Manufacturer00" do.
fn names_its_field(bare: &str) -> bool {
    let has = |word: &[u8]| bare.as_bytes().windows(word.len()).any(|part| part == word);
    let may = bare.as_bytes().windows(3).any(|part| matches!(part, b"num" | b"man" | b"tag"));
    may && [&b"partnum"[..], b"sernum", b"serialnum", b"manufacturer", b"assettag"].into_iter().any(has)
}

/// The text that hexadecimal digits spell, where they spell one: some firmware writes part numbers so.
pub(crate) fn spelled(text: &str) -> Option<String> {
    let prefixed = text.strip_prefix("0x").or_else(|| text.strip_prefix("0X"));
    // without the prefix, a short run of digits may well be a number of its own
    let (digits, least) = prefixed.map_or((text, 32), |digits| (digits, 8));
    if digits.len() < least || digits.len() % 2 != 0 || !digits.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return None;
    }
    let pairs = digits.as_bytes().chunks_exact(2);
    let byte = |pair: &[u8]| u8::from_str_radix(core::str::from_utf8(pair).ok()?, 16).ok();
    let bytes: Vec<u8> = pairs.map(byte).collect::<Option<_>>()?;
    let spelled = String::from_utf8(bytes).ok()?;
    let spelled = spelled.trim_matches(['\0', ' ']);
    let is_text = !spelled.is_empty() && spelled.bytes().all(|byte| matches!(byte, b' '..=b'~'));
    is_text.then(|| spelled.to_owned())
}
