use core::fmt;

/// The raw card (the standard's board design) that a module is built on, with its revision.
///
/// Ordered as the standard counts them: A to Y, then AA to CB, then ZZ.
///
/// Source: JESD21-C 4.19.4 (the label) and 4.1.2.L-6 tables 97 to 106 (the letters).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RawCard {
    /// Place in the standard's order of letters; `NO_DESIGN` for ZZ.
    code: u8,
    revision: CardRevision,
}

/// The revision of a raw card.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum CardRevision {
    /// Before production of this revision, printed A (0) to K (9), without I.
    PreProduction(u8),
    /// Before production, in the old manner that does not say of which revision; printed P.
    OldPreProduction,
    /// In production, 0 to 9.
    Production(u8),
    /// The module follows no design of the standard; printed Z.
    NoDesign,
}

/// The letters of raw cards; the others are too much like digits or have other uses.
const ALPHABET: &[u8; 20] = b"ABCDEFGHJKLMNPRTUVWY";
/// The letters of pre-production revisions 0 to 9.
const PRE_PRODUCTION: &[u8; 10] = b"ABCDEFGHJK";
/// The last card that DDR3 and DDR4 SPD can state: CB.
const LAST: u8 = 61;
/// The last card that DDR5 SPD can state: AK.
const LAST_DDR5: u8 = 29;
const NO_DESIGN: u8 = u8::MAX;

fn place(letters: &[u8], letter: u8) -> Option<u8> {
    letters.iter().position(|&other| other == letter).and_then(|place| u8::try_from(place).ok())
}

impl CardRevision {
    fn from_letter(letter: u8) -> Option<Self> {
        match letter {
            b'0'..=b'9' => Some(Self::Production(letter - b'0')),
            b'P' => Some(Self::OldPreProduction),
            _ => place(PRE_PRODUCTION, letter).map(Self::PreProduction),
        }
    }
}

impl RawCard {
    /// The card of these letters, without its revision.
    pub(crate) fn code(letters: &str, ddr5: bool) -> Option<u8> {
        let code = match *letters.as_bytes() {
            [b'Z', b'Z'] => return Some(NO_DESIGN),
            [only] => place(ALPHABET, only)?,
            [first @ b'A'..=b'C', second] => 20 * (1 + place(ALPHABET, first)?) + place(ALPHABET, second)?,
            _ => return None,
        };
        (code <= if ddr5 { LAST_DDR5 } else { LAST }).then_some(code)
    }

    /// The card of this code in the revision of this letter or digit.
    pub(crate) fn new(code: u8, revision: u8) -> Option<Self> {
        let revision = if code == NO_DESIGN {
            (revision == b'Z').then_some(CardRevision::NoDesign)
        } else {
            CardRevision::from_letter(revision)
        };
        Some(Self { code, revision: revision? })
    }

    /// The card at this place of the standard's order, from 0 for A, in this revision in production; `None` behind the last of either.
    pub(crate) fn of_code(code: u8, revision: u8) -> Option<Self> {
        let is_known = code <= LAST && revision <= 9;
        is_known.then_some(Self { code, revision: CardRevision::Production(revision) })
    }

    /// ZZ.
    pub(crate) const fn without_design() -> Self {
        Self { code: NO_DESIGN, revision: CardRevision::NoDesign }
    }

    /// Whether it is a design of the standard, not `ZZ`.
    #[must_use]
    pub const fn is_standard(self) -> bool {
        self.code != NO_DESIGN
    }

    /// The revision.
    #[must_use]
    pub const fn revision(self) -> CardRevision {
        self.revision
    }

    /// The letters, without the revision: `B`, `AA`, `ZZ`.
    #[must_use]
    pub fn letters(self) -> String {
        let (first, second) = self.first_and_second();
        first.into_iter().chain([second]).collect()
    }

    /// The first letter where there are two, and the last one.
    fn first_and_second(self) -> (Option<char>, char) {
        let letter = |place: u8| ALPHABET.get(usize::from(place)).map_or('?', |&letter| char::from(letter));
        match (self.code, self.code / 20) {
            (NO_DESIGN, _) => (Some('Z'), 'Z'),
            (code, 0) => (None, letter(code)),
            (code, twenties) => (Some(letter(twenties - 1)), letter(code % 20)),
        }
    }
}

/// As a label prints it: `B2`, `ZZZ`.
impl fmt::Display for RawCard {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (first, second) = self.first_and_second();
        if let Some(first) = first {
            write!(f, "{first}")?;
        }
        write!(f, "{second}{}", self.revision)
    }
}

/// As a label prints it: `2`, `C`, `Z`.
impl fmt::Display for CardRevision {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Production(revision) => write!(f, "{revision}"),
            Self::PreProduction(revision) => {
                let letter = PRE_PRODUCTION.get(usize::from(*revision)).map_or('?', |&letter| char::from(letter));
                write!(f, "{letter}")
            }
            Self::OldPreProduction => f.write_str("P"),
            Self::NoDesign => f.write_str("Z"),
        }
    }
}
