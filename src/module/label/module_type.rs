use core::fmt;

use crate::module::{Ecc, FormFactor, Generation, ModuleKind};

/// The letter of a label that says what type of module it is, with its meaning in its generation.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ModuleType {
    letter: char,
    kind: ModuleKind,
    form_factor: FormFactor,
    ecc: Option<Ecc>,
}

impl ModuleType {
    /// The letters that labels of a generation are known to have; of DDR4's, those whose modules are 64 data
    /// bits wide.
    pub(crate) const fn allowed(generation: Generation) -> &'static str {
        match generation {
            Generation::Ddr3 => "R, L, E, U, S or T",
            Generation::Ddr4 => "R, L, U, E, S, T, C, N or W",
            Generation::Ddr5 => "R, P, L, U, E, S, T or V",
        }
    }

    /// What the letter means in a generation; `None` for a letter without a known meaning.
    ///
    /// Sources: server manuals for DDR3 (T: from memory); JESD21-C 4.19.4 for DDR4; for DDR5, labels
    /// compared with the SPD content of the same modules (P and V: public text; L and T: from memory, with
    /// the widths of JESD400-5C table 105).
    pub(crate) fn new(generation: Generation, letter: u8) -> Option<Self> {
        use FormFactor::{Dimm, MiniDimm, SoDimm};
        use Generation::{Ddr3, Ddr4, Ddr5};
        use ModuleKind::{ClockedUnbuffered, LoadReduced, Registered, Unbuffered};
        let (kind, form_factor, ecc) = match (generation, letter) {
            (Ddr3 | Ddr4, b'R') => (Registered, Dimm, Some(Ecc::Ecc)),
            (Ddr3 | Ddr4, b'L') => (LoadReduced, Dimm, Some(Ecc::Ecc)),
            (Ddr3 | Ddr4, b'E') => (Unbuffered, Dimm, Some(Ecc::Ecc)),
            (Ddr3 | Ddr4, b'T') => (Unbuffered, SoDimm, Some(Ecc::Ecc)),
            (Ddr4, b'C') => (Registered, SoDimm, Some(Ecc::Ecc)),
            // The standard's list does not say how wide mini modules are.
            (Ddr4, b'N') => (Registered, MiniDimm, None),
            (Ddr4, b'W') => (Unbuffered, MiniDimm, None),
            (Ddr5, b'R') => (Registered, Dimm, Some(Ecc::Ec8)),
            (Ddr5, b'P') => (Registered, Dimm, Some(Ecc::Ec4)),
            (Ddr5, b'L') => (LoadReduced, Dimm, Some(Ecc::Ec8)),
            (Ddr5, b'E') => (Unbuffered, Dimm, Some(Ecc::Ec4)),
            (Ddr5, b'T') => (Unbuffered, SoDimm, Some(Ecc::Ec4)),
            (Ddr5, b'V') => (ClockedUnbuffered, SoDimm, None),
            (Ddr3 | Ddr4 | Ddr5, b'U') => (Unbuffered, Dimm, Some(Ecc::None)),
            (Ddr3 | Ddr4 | Ddr5, b'S') => (Unbuffered, SoDimm, Some(Ecc::None)),
            _ => return None,
        };
        Some(Self { letter: char::from(letter), kind, form_factor, ecc })
    }

    /// The letter.
    #[must_use]
    pub const fn letter(self) -> char {
        self.letter
    }

    /// How such a module buffers its signals.
    #[must_use]
    pub const fn kind(self) -> ModuleKind {
        self.kind
    }

    /// Its mechanical form.
    #[must_use]
    pub const fn form_factor(self) -> FormFactor {
        self.form_factor
    }

    /// Its check bits, where the letter says it: those of DDR4 mini modules (N, W) and of DDR5's V are not
    /// known.
    #[must_use]
    pub const fn ecc(self) -> Option<Ecc> {
        self.ecc
    }
}

impl fmt::Display for ModuleType {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.letter)
    }
}
