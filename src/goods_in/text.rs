//! What is said of a delivery, in lines.

use core::fmt;

use itertools::Itertools;

use crate::goods_in::{
    Bin, Bins, DoubledSerial, FactDiffers, GoodsIn, JudgedLine, JudgedPiece, PieceAside, PieceVerdict,
};
use crate::population::{Disagreement, Medium, ModuleFact};
use crate::unit::Name;

/// The verb that goes with a fact.
const fn is_or_are(fact: ModuleFact, is: &'static str, are: &'static str) -> &'static str {
    match fact {
        ModuleFact::PackageRanks | ModuleFact::Voltages | ModuleFact::Ecc => are,
        _ => is,
    }
}

impl fmt::Display for FactDiffers {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { fact, ordered, found, medium } = self;
        let (is, was) = (is_or_are(*fact, "is", "are"), is_or_are(*fact, "was", "were"));
        write!(f, "{fact} {is} {found} ({medium}), ordered {was} {ordered}")
    }
}

fn list<T: fmt::Display>(items: &[T]) -> String {
    match items {
        [] => String::new(),
        [only] => only.to_string(),
        [first @ .., last] => format!("{} and {last}", first.iter().join(", ")),
    }
}

impl fmt::Display for PieceVerdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Right { line } => write!(f, "right for {line}"),
            Self::NotKnown { line, unread, has_place } => {
                not_known(f, line, *has_place)?;
                if unread.is_empty() { Ok(()) } else { write!(f, ": {} not read", list(unread)) }
            }
            Self::Wrong { line, facts } => write!(f, "wrong for {line}: {}", facts.iter().join("; ")),
            Self::Surplus { line } => write!(f, "surplus: {line} has all its pieces"),
            Self::Other(name) => name.fmt(f),
        }
    }
}

fn not_known(f: &mut fmt::Formatter<'_>, line: &Name, has_place: bool) -> fmt::Result {
    if has_place {
        write!(f, "not known, may be for {line}")
    } else {
        f.write_str("not known, no place left in any line that it may be for")
    }
}

/// Why a piece is open, beside facts that were not read.
fn doubts(
    f: &mut fmt::Formatter<'_>,
    disagreements: &[Disagreement],
    is_held_back: bool,
    doubled_with: &std::collections::BTreeSet<Name>,
) -> fmt::Result {
    for Disagreement { about, said, is_note, .. } in disagreements {
        let word = if is_held_back && !is_note { "held back" } else { "note" };
        let said = said.iter().map(|said| format!("{} says {}", said.report, said.value)).join(", ");
        write!(f, "\n    {word}: {about}: {said}")?;
    }
    if doubled_with.is_empty() {
        return Ok(());
    }
    write!(f, "\n    its serial number is also on {}", doubled_with.iter().join(", "))
}

impl JudgedPiece {
    /// Whether no fact of it was read.
    pub(crate) fn is_unread(&self) -> bool {
        !ModuleFact::ALL.into_iter().any(|fact| self.seen.has(fact))
    }

    /// By what it was judged, where its SPD was not what decides: "label only; no SPD was read".
    fn basis(&self) -> Option<String> {
        let fault = self.spd_fault.map(|fault| fault.to_string());
        if self.has_spd() {
            return fault;
        }
        let why = fault.unwrap_or_else(|| "no SPD was read".to_owned());
        let media: Vec<&Medium> = self.media.iter().collect();
        Some(if self.is_unread() { why } else { format!("{} only; {why}", list(&media)) })
    }
}

impl fmt::Display for JudgedPiece {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.verdict {
            PieceVerdict::NotKnown { line, has_place, .. } if self.is_unread() => {
                write!(f, "{}: ", self.id)?;
                not_known(f, line, *has_place)?;
                f.write_str(": nothing of it was read")?;
            }
            verdict => write!(f, "{}: {verdict}", self.id)?,
        }
        if let Some(basis) = self.basis() {
            write!(f, " ({basis})")?;
        }
        if self.lacks_serial() {
            f.write_str("\n    no serial number was read")?;
        }
        doubts(f, &self.disagreements, self.is_held_back, &self.doubled_with)
    }
}

impl fmt::Display for JudgedLine {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { id, ordered, right, right_without_spd, not_known, missing } = self;
        write!(f, "{id}: {ordered} ordered, {right} right")?;
        if *right_without_spd > 0 {
            write!(f, " ({right_without_spd} of them without SPD)")?;
        }
        write!(f, "; {}", open(*not_known, *missing))
    }
}

/// What is open of the places of lines.
fn open(not_known: usize, missing: usize) -> String {
    match (not_known, missing) {
        (0, 0) => "complete".to_owned(),
        (not_known, 0) => format!("open: {not_known} not known"),
        (0, missing) => format!("open: {missing} missing"),
        (not_known, missing) => format!("open: {not_known} not known, {missing} missing"),
    }
}

impl fmt::Display for DoubledSerial {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "the serial number {} is on {}", self.serial, self.pieces.iter().join(", "))
    }
}

fn pieces(count: usize) -> String {
    format!("{count} {}", if count == 1 { "piece" } else { "pieces" })
}

impl GoodsIn {
    /// How many pieces are what, and what is open of the lines.
    pub(crate) fn sum(&self) -> String {
        let count = |is: fn(&PieceVerdict) -> bool| self.pieces.iter().filter(|piece| is(&piece.verdict)).count();
        let counts = [
            (count(PieceVerdict::is_right), "right"),
            (count(|verdict| matches!(verdict, PieceVerdict::NotKnown { .. })), "not known"),
            (count(|verdict| matches!(verdict, PieceVerdict::Wrong { .. })), "wrong"),
            (count(|verdict| matches!(verdict, PieceVerdict::Surplus { .. })), "surplus"),
        ];
        let told =
            counts.iter().filter(|(count, _)| *count > 0).map(|(count, word)| format!("{count} {word}")).join(", ");
        let sum = |of: fn(&JudgedLine) -> usize| self.lines.iter().map(of).fold(0, usize::saturating_add);
        let told = if told.is_empty() { "none" } else { &told };
        let open = open(sum(|line| line.not_known), sum(|line| line.missing));
        format!("{}: {told}; {open}", pieces(self.pieces.len()))
    }
}

/// The sum, then piece by piece, line by line.
impl fmt::Display for GoodsIn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.sum())?;
        self.pieces.iter().try_for_each(|piece| write!(f, "\n  {piece}"))?;
        self.lines.iter().try_for_each(|line| write!(f, "\n  {line}"))?;
        self.doubled_serials.iter().try_for_each(|doubled| write!(f, "\n  {doubled}"))
    }
}

impl fmt::Display for Bin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", pieces(self.pieces.len()), self.seen)?;
        if self.without_spd > 0 {
            write!(f, " ({} without SPD)", self.without_spd)?;
        }
        write!(f, "\n    {}", self.pieces.iter().join(", "))
    }
}

impl fmt::Display for PieceAside {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.id, self.seen)?;
        if !self.unread.is_empty() {
            write!(f, "; {} not read", list(&self.unread))?;
        }
        if let Some(fault) = self.spd_fault {
            write!(f, "; {fault}")?;
        }
        doubts(f, &self.disagreements, self.is_held_back, &self.doubled_with)
    }
}

/// Bin by bin, then what goes into none.
impl fmt::Display for Bins {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let count: usize = self.bins.iter().map(|bin| bin.pieces.len()).sum();
        let bins = if self.bins.len() == 1 { "bin" } else { "bins" };
        write!(f, "{} in {} {bins}, {} aside", pieces(count), self.bins.len(), self.aside.len())?;
        self.bins.iter().try_for_each(|bin| write!(f, "\n  {bin}"))?;
        self.aside.iter().try_for_each(|piece| write!(f, "\n  aside: {piece}"))?;
        self.doubled_serials.iter().try_for_each(|doubled| write!(f, "\n  {doubled}"))
    }
}
