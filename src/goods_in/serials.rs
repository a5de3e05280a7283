use std::collections::{BTreeMap, BTreeSet};

use serde::{Deserialize, Serialize};

use crate::goods_in::{Piece, PieceSource};
use crate::population::{ModuleFact, combine};
use crate::unit::Name;

/// A serial number that more than one piece has.
///
/// Serial numbers are compared without 0x, case and leading zeros; of the 18 characters of the standard's
/// two-dimensional code the last eight count. Nothing but zeros, and eight hexadecimal Fs, are no number. Pieces of
/// makers that are known to differ may have one number.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct DoubledSerial {
    /// The number, as it is compared.
    pub serial: Name,
    /// The pieces that have it.
    pub pieces: BTreeSet<Name>,
}

/// The serial number that a source states, as it is compared; `None` also for what stands for none.
pub(crate) fn of(source: &PieceSource) -> Option<String> {
    combine::serial(source.module.serial.as_ref()?.as_str())
}

/// The serial numbers that more than one piece has, in their order.
pub(crate) fn doubled(pieces: &[&Piece]) -> Vec<DoubledSerial> {
    let mut by_serial: BTreeMap<String, Vec<&Piece>> = BTreeMap::new();
    for piece in pieces {
        let serials: BTreeSet<String> = piece.said.iter().filter_map(of).collect();
        for serial in serials {
            by_serial.entry(serial).or_default().push(piece);
        }
    }
    let doubled = by_serial.into_iter().filter(|(_, pieces)| pieces.len() > 1).map(|(serial, pieces)| {
        let is_doubled = |piece: &&&Piece| pieces.iter().any(|other| other.id != piece.id && may_be_one(piece, other));
        let pieces = pieces.iter().filter(is_doubled).map(|piece| piece.id.clone()).collect();
        DoubledSerial { serial: Name::lossy(&serial), pieces }
    });
    doubled.filter(|doubled: &DoubledSerial| !doubled.pieces.is_empty()).collect()
}

/// Whether no sources of two pieces tell of unlike makers.
fn may_be_one(one: &Piece, other: &Piece) -> bool {
    let unlike = |a: &PieceSource, b: &PieceSource| a.module.contradicts(&b.module, ModuleFact::Maker);
    !one.said.iter().any(|a| other.said.iter().any(|b| unlike(a, b)))
}

/// The other pieces with a serial number of this one.
pub(crate) fn doubled_with(doubled: &[DoubledSerial], piece: &Name) -> BTreeSet<Name> {
    let of = doubled.iter().filter(|doubled| doubled.pieces.contains(piece));
    of.flat_map(|doubled| &doubled.pieces).filter(|other| *other != piece).cloned().collect()
}
