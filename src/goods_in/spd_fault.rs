use core::fmt;

use serde::{Deserialize, Serialize};

/// Why the SPD of a piece is none of its sources. The piece is judged by its other ones, and that is said.
///
/// ```
/// use slotwright::goods_in::{Delivery, OrderLine, Piece};
/// use slotwright::intake::spd::SpdImage;
/// use slotwright::module::Label;
/// use slotwright::Name;
///
/// let label: Label = "32GB 2Rx4 PC4-2400T-RB2-11".parse()?;
/// let image = [0xff; 512];
/// let spd = SpdImage::read(&image).map_err(Into::into).and_then(|image| image.sound_module());
/// let piece = Piece::new(Name::new("1")?).label(&label).spd(spd);
/// let answer = Delivery::new().line(OrderLine::of_module(Name::new("A")?, label.module(), 1)).piece(piece).judge()?;
/// assert_eq!(answer.pieces[0].to_string(), "1: right for A (label only; its SPD could not be read)");
/// assert!(!answer.is_all_right());
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SpdFault {
    /// It could not be read, or what was read is no content of an SPD.
    Unreadable,
    /// A checksum in it fails.
    Damaged,
}

/// `its SPD is damaged`
impl fmt::Display for SpdFault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Unreadable => "its SPD could not be read",
            Self::Damaged => "its SPD is damaged",
        })
    }
}
