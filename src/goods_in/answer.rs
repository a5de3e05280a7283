use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::goods_in::{DoubledSerial, PieceVerdict, SpdFault};
use crate::population::{About, Disagreement, Medium, ModuleFact, SeenModule};
use crate::stated::Schema;
use crate::unit::Name;

/// What has come, piece by piece, against what was ordered. [`Delivery::judge`](crate::goods_in::Delivery::judge) makes
/// it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct GoodsIn {
    /// The version of the document's form.
    pub schema: Schema,
    /// Every piece, by its number.
    pub pieces: Vec<JudgedPiece>,
    /// Every line, in the order of the delivery.
    pub lines: Vec<JudgedLine>,
    /// Serial numbers that more than one piece has.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub doubled_serials: Vec<DoubledSerial>,
}

/// A piece, what it is, and what became of it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct JudgedPiece {
    /// Its piece number.
    pub id: Name,
    /// What became of it.
    pub verdict: PieceVerdict,
    /// What its sources say together.
    pub seen: SeenModule,
    /// Of what sorts the sources are that say anything of it.
    pub media: BTreeSet<Medium>,
    /// Why its SPD is none of its sources, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spd_fault: Option<SpdFault>,
    /// Whether its SPD, its label or the caller contradict each other in what it is. Then it is never right.
    #[serde(default, skip_serializing_if = "core::ops::Not::not")]
    pub is_held_back: bool,
    /// What its sources contradict each other about; the slot there is the piece number.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub disagreements: Vec<Disagreement>,
    /// Other pieces with its serial number. Then it is never right: one of them is a copy, or was read twice.
    #[serde(default, skip_serializing_if = "BTreeSet::is_empty")]
    pub doubled_with: BTreeSet<Name>,
}

/// A line, and how many pieces of each sort there are for it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct JudgedLine {
    /// Its id.
    pub id: Name,
    /// How many were ordered.
    pub ordered: usize,
    /// How many are right.
    pub right: usize,
    /// How many of the right ones are so without their SPD, by label or rows only.
    pub right_without_spd: usize,
    /// How many of its places are kept for pieces that may be right.
    pub not_known: usize,
    /// How many have still to come: neither right nor not known.
    pub missing: usize,
}

impl JudgedPiece {
    /// Whether its SPD was read. What is bought by its label only may be another module than the label says.
    #[must_use]
    pub fn has_spd(&self) -> bool {
        self.media.contains(&Medium::Spd)
    }

    /// Whether no serial number was read, though there is a source that would tell it: any but a label. What stands for
    /// none, nothing but zeros or eight hexadecimal Fs, is none.
    #[must_use]
    pub fn lacks_serial(&self) -> bool {
        let is_open = self.disagreements.iter().any(|one| one.about == About::Fact(ModuleFact::Serial));
        self.seen.serial.is_none() && !is_open && self.media.iter().any(|medium| *medium != Medium::Label)
    }
}

impl JudgedLine {
    /// How many of its places are open: not known, or missing.
    #[must_use]
    pub const fn open(&self) -> usize {
        self.not_known.saturating_add(self.missing)
    }
}

impl GoodsIn {
    /// Whether every piece is right, none is missing, and no SPD is damaged or unreadable.
    #[must_use]
    pub fn is_all_right(&self) -> bool {
        let is_right = |piece: &JudgedPiece| piece.verdict.is_right() && piece.spd_fault.is_none();
        self.pieces.iter().all(is_right) && self.lines.iter().all(|line| line.missing == 0)
    }

    /// The piece of this number.
    #[must_use]
    pub fn piece(&self, id: &str) -> Option<&JudgedPiece> {
        self.pieces.iter().find(|piece| piece.id == *id)
    }

    /// The line of this id.
    #[must_use]
    pub fn line(&self, id: &str) -> Option<&JudgedLine> {
        self.lines.iter().find(|line| line.id == *id)
    }
}
