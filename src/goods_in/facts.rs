//! What is known of pieces, each sort of piece looked at once.

use std::collections::BTreeMap;

use crate::goods_in::{Delivery, DoubledSerial, Piece, PieceSource, SpdFault, serials};
use crate::population::combine::{Combined, Witness};
use crate::population::{Disagreement, Medium, ModuleFact, Report, SeenModule};
use crate::unit::Name;

/// What the sources of a piece say together.
#[derive(Debug)]
pub(crate) struct PieceFacts {
    pub(crate) seen: SeenModule,
    /// The sources, the most trusted first.
    pub(crate) said: Vec<PieceSource>,
    /// Whose word each fact is.
    pub(crate) said_by: BTreeMap<ModuleFact, Medium>,
    pub(crate) is_held_back: bool,
    pub(crate) disagreements: Vec<Disagreement>,
    /// Whether another piece has its serial number.
    pub(crate) is_doubled: bool,
    pub(crate) spd_fault: Option<SpdFault>,
}

/// Pieces of which the same is said, but for their serial numbers.
#[derive(Debug)]
pub(crate) struct PieceGroup<'d> {
    pub(crate) facts: PieceFacts,
    /// By their numbers.
    pub(crate) pieces: Vec<&'d Piece>,
}

impl PieceFacts {
    fn of(said: Vec<PieceSource>, is_doubled: bool, spd_fault: Option<SpdFault>) -> Self {
        // of several sources of one sort each has a name of its own
        let named = |(index, source): (usize, &PieceSource)| {
            let before = said.iter().take(index).filter(|other| other.medium == source.medium).count();
            let medium = source.medium;
            let name = if before == 0 { medium.to_string() } else { format!("{medium} {}", before + 1) };
            Report::new(Name::lossy(&name), medium)
        };
        let reports: Vec<Report> = said.iter().enumerate().map(named).collect();
        let witnesses: Vec<Witness<'_>> =
            reports.iter().zip(&said).map(|(report, source)| Witness { report, module: &source.module }).collect();
        let Combined { mut seen, said_by, disagreements, is_held_back } =
            Combined::of(&witnesses, &Name::lossy("piece"));
        let medium = |name: &Name| reports.iter().find(|report| report.name == *name).map(|report| report.medium);
        let mut said_by: BTreeMap<ModuleFact, Medium> =
            said_by.into_iter().filter_map(|(fact, by)| Some((fact, medium(&by)?))).collect();
        if let (None, Some(organization), Some(capacity)) =
            (seen.die_density_mbit, seen.organization(), seen.capacity_mib)
        {
            // it follows, on the word of the least trusted of these
            seen.die_density_mbit = organization.density(capacity);
            let of = [ModuleFact::Capacity, ModuleFact::PackageRanks, ModuleFact::Stack, ModuleFact::Width];
            let by = of.iter().filter_map(|fact| said_by.get(fact)).max().copied();
            by.map(|by| said_by.insert(ModuleFact::DieDensity, by));
        }
        Self { seen, said, said_by, is_held_back, disagreements, is_doubled, spd_fault }
    }

    /// What a piece is, with its own serial number.
    pub(crate) fn seen_of(&self, piece: &Piece) -> SeenModule {
        let mut seen = self.seen.clone();
        if seen.serial.is_none() {
            let mut said: Vec<&PieceSource> =
                piece.said.iter().filter(|source| serials::of(source).is_some()).collect();
            said.sort();
            let is_open =
                self.disagreements.iter().any(|one| one.about == crate::population::About::Fact(ModuleFact::Serial));
            seen.serial = said.first().filter(|_| !is_open).and_then(|source| source.module.serial.clone());
        }
        seen
    }

    /// The disagreements of a piece.
    pub(crate) fn disagreements_of(&self, piece: &Piece) -> Vec<Disagreement> {
        let of = |one: &Disagreement| Disagreement { slot: piece.id.clone(), ..one.clone() };
        self.disagreements.iter().map(of).collect()
    }
}

/// The groups of a delivery, in the order of their first pieces; serial numbers tell pieces apart only where a line
/// asks for one.
pub(crate) fn groups<'d>(delivery: &'d Delivery, doubled: &[DoubledSerial]) -> Vec<PieceGroup<'d>> {
    let by_serial = delivery.lines.iter().any(|line| line.wanted.serial.is_some());
    type Same = (Vec<PieceSource>, bool, Option<SpdFault>);
    let mut groups: BTreeMap<Same, Vec<&Piece>> = BTreeMap::new();
    for piece in &delivery.pieces {
        let mut said = piece.said.clone();
        let is_one = !by_serial && has_one_serial(piece);
        for source in &mut said {
            if is_one || serials::of(source).is_none() {
                source.module.serial = None;
            }
        }
        said.sort();
        let is_doubled = !serials::doubled_with(doubled, &piece.id).is_empty();
        groups.entry((said, is_doubled, piece.spd_fault)).or_default().push(piece);
    }
    let group = |((said, is_doubled, fault), mut pieces): (Same, Vec<&'d Piece>)| {
        pieces.sort_by_key(|piece| &piece.id);
        PieceGroup { facts: PieceFacts::of(said, is_doubled, fault), pieces }
    };
    let mut groups: Vec<PieceGroup<'_>> = groups.into_iter().map(group).collect();
    groups.sort_by(|one, other| {
        one.pieces.first().map(|piece| &piece.id).cmp(&other.pieces.first().map(|piece| &piece.id))
    });
    groups
}

/// Whether the sources of a piece do not tell of unlike serial numbers.
fn has_one_serial(piece: &Piece) -> bool {
    let mut said = piece.said.iter().filter_map(serials::of);
    let first = said.next();
    said.all(|serial| Some(serial) == first)
}
