use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::goods_in::facts::{PieceGroup, groups};
use crate::goods_in::{Delivery, DoubledSerial, Piece, SpdFault, serials};
use crate::population::{Disagreement, Medium, ModuleFact, SeenModule, folded};
use crate::stated::Schema;
use crate::unit::Name;

/// Pieces sorted by what they are: by generation, kind, size, ranks, device width, rate, then by maker and all else
/// that is known. [`Delivery::bins`] makes it.
///
/// ```
/// use slotwright::goods_in::{Delivery, Piece};
/// use slotwright::module::{Generation, Label};
/// use slotwright::population::{Medium, SeenModule};
/// use slotwright::Name;
///
/// let label: Label = "32GB 2Rx4 PC4-2400T-RB2-11".parse()?;
/// let vague = SeenModule::new().generation(Generation::Ddr4);
/// let delivery = Delivery::new()
///     .piece(Piece::new(Name::new("1")?).label(&label))
///     .piece(Piece::new(Name::new("2")?).label(&label))
///     .piece(Piece::new(Name::new("3")?).said(Medium::Rows, vague));
/// let bins = delivery.bins()?;
/// assert_eq!((bins.bins.len(), bins.bins[0].pieces.len()), (1, 2));
/// assert_eq!(bins.aside[0].unread.len(), 5);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Bins {
    /// The version of the document's form.
    pub schema: Schema,
    /// The bins, in the order of what is in them. No two pieces of a bin differ in any fact that is known of one, but
    /// in their serial numbers.
    pub bins: Vec<Bin>,
    /// The pieces that go into none.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub aside: Vec<PieceAside>,
    /// Serial numbers that more than one piece has.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doubled_serials: Vec<DoubledSerial>,
}

/// Pieces that are all alike.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Bin {
    /// What they are.
    pub seen: SeenModule,
    /// The piece numbers.
    pub pieces: BTreeSet<Name>,
    /// How many of them have no SPD that was read.
    pub without_spd: usize,
}

/// A piece that goes into no bin: a fact by which pieces are sorted was read nowhere, its SPD is damaged or cannot be
/// read, the piece is held back, or another one has its serial number.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct PieceAside {
    /// Its piece number.
    pub id: Name,
    /// What is known of it.
    pub seen: SeenModule,
    /// The facts that are needed and were not read.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub unread: Vec<ModuleFact>,
    /// Why its SPD is none of its sources, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spd_fault: Option<SpdFault>,
    /// Whether its SPD, its label or the caller contradict each other in what it is.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub is_held_back: bool,
    /// What its sources contradict each other about; the slot there is the piece number.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub disagreements: Vec<Disagreement>,
    /// Other pieces with its serial number.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub doubled_with: BTreeSet<Name>,
}

/// The facts that have to be known, in the order in which modules are picked from bins; common practice, no source.
const NEEDED: [ModuleFact; 6] = [
    ModuleFact::Generation,
    ModuleFact::Kind,
    ModuleFact::Capacity,
    ModuleFact::PackageRanks,
    ModuleFact::Width,
    ModuleFact::Grade,
];

/// Sorts a delivery that is known to be sound.
pub(crate) fn sort(delivery: &Delivery) -> Bins {
    let mut pieces: Vec<&Piece> = delivery.pieces.iter().collect();
    pieces.sort_by_key(|piece| &piece.id);
    let doubled_serials = serials::doubled(&pieces);
    let mut bins: BTreeMap<_, Bin> = BTreeMap::new();
    let mut aside = Vec::new();
    for group in groups(delivery, &doubled_serials) {
        let seen = &group.facts.seen;
        let is_unread = |fact: &ModuleFact| !is_read(seen, *fact);
        let unread: Vec<ModuleFact> = NEEDED.into_iter().filter(is_unread).collect();
        let is_in_doubt = group.facts.is_held_back || group.facts.is_doubled || group.facts.spd_fault.is_some();
        if !unread.is_empty() || is_in_doubt {
            aside.extend(group.pieces.iter().map(|piece| set_aside(&group, piece, &unread, &doubled_serials)));
            continue;
        }
        let mut seen = seen.clone();
        // ranks are known, so that the number tells nothing more
        (seen.serial, seen.rank_number) = (None, None);
        let bin = bins.entry(key(&seen)).or_insert(Bin { seen, pieces: BTreeSet::new(), without_spd: 0 });
        bin.pieces.extend(group.pieces.iter().map(|piece| piece.id.clone()));
        let has_spd = group.facts.said.iter().any(|source| source.medium == Medium::Spd && source.is_read());
        bin.without_spd += if has_spd { 0 } else { group.pieces.len() };
    }
    aside.sort_by(|one: &PieceAside, other: &PieceAside| one.id.cmp(&other.id));
    Bins { schema: Schema, bins: bins.into_values().collect(), aside, doubled_serials }
}

/// Whether a fact is known so far that pieces can be told apart by it.
fn is_read(seen: &SeenModule, fact: ModuleFact) -> bool {
    let is_known = match fact {
        ModuleFact::Capacity => seen.capacity_mib.is_some(),
        _ => seen.has(fact),
    };
    is_known && !seen.inferred.contains(&fact)
}

/// By what bins are sorted and told apart.
fn key(seen: &SeenModule) -> impl Ord + use<> {
    let mut rest = seen.clone();
    let fold = |text: &mut Option<Name>| *text = text.as_ref().map(|text| Name::lossy(&folded(text.as_str())));
    fold(&mut rest.part_number);
    fold(&mut rest.maker);
    let first =
        (seen.generation, seen.kind, seen.capacity_mib, seen.package_ranks, seen.stack, seen.width, seen.grade_mts);
    (first, rest.maker.clone(), rest.maker_id, rest)
}

fn set_aside(group: &PieceGroup<'_>, piece: &Piece, unread: &[ModuleFact], doubled: &[DoubledSerial]) -> PieceAside {
    PieceAside {
        id: piece.id.clone(),
        seen: group.facts.seen_of(piece),
        unread: unread.to_vec(),
        spd_fault: piece.spd_fault,
        is_held_back: group.facts.is_held_back,
        disagreements: group.facts.disagreements_of(piece),
        doubled_with: serials::doubled_with(doubled, &piece.id),
    }
}
