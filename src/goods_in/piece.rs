use serde::{Deserialize, Serialize};

use crate::goods_in::SpdFault;
use crate::module::{FoundLabel, Label};
use crate::population::{Medium, SeenModule};
use crate::unit::Name;

/// A module that has come, and what is said of it.
///
/// ```
/// use slotwright::goods_in::Piece;
/// use slotwright::module::Label;
/// use slotwright::population::{Medium, SeenModule};
/// use slotwright::Name;
///
/// let found = Label::found("32gb 2rx4 pc4-2400t-r")?;
/// let piece = Piece::new(Name::new("017")?).found(&found).said(Medium::Rows, SeenModule::new().serial(Name::new("7A12")?));
/// assert_eq!(piece.said.len(), 2);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Piece {
    /// Its piece number: what the caller has written on it, or on its bag. Unique in a delivery.
    pub id: Name,
    /// What each source says of it.
    pub said: Vec<PieceSource>,
    /// Why its SPD is none of these, where there is one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub spd_fault: Option<SpdFault>,
}

/// What one source says of a piece.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct PieceSource {
    /// What sort of source it is.
    pub medium: Medium,
    /// What it says.
    pub module: SeenModule,
}

impl PieceSource {
    /// What a source of this sort says.
    #[must_use]
    pub const fn new(medium: Medium, module: SeenModule) -> Self {
        Self { medium, module }
    }

    /// Whether it says anything at all: a label that could not be read does not.
    pub(crate) fn is_read(&self) -> bool {
        self.module != SeenModule::new()
    }
}

impl Piece {
    /// A piece of which nothing is said yet.
    #[must_use]
    pub const fn new(id: Name) -> Self {
        Self { id, said: Vec::new(), spd_fault: None }
    }

    /// Adds what a source says of it.
    #[must_use]
    pub fn said(mut self, medium: Medium, module: SeenModule) -> Self {
        self.said.push(PieceSource::new(medium, module));
        self
    }

    /// Adds what its SPD says, or why it says nothing that can be relied on.
    #[must_use]
    pub fn spd(mut self, spd: Result<SeenModule, SpdFault>) -> Self {
        match spd {
            Ok(module) => self.said.push(PieceSource::new(Medium::Spd, module)),
            Err(fault) => self.spd_fault = self.spd_fault.max(Some(fault)),
        }
        self
    }

    /// Adds what its label says.
    #[must_use]
    pub fn label(self, label: &Label) -> Self {
        self.said(Medium::Label, SeenModule::of(label.module()))
    }

    /// Adds what its label says, read as it was found.
    #[must_use]
    pub fn found(self, found: &FoundLabel) -> Self {
        self.said(Medium::Label, SeenModule::of(&found.module))
    }
}
