use serde::Serialize;
use thiserror::Error;

/// Why bytes are no SPD image of DDR3, DDR4 or DDR5.
///
/// ```
/// use slotwright::intake::spd::{SpdError, SpdImage};
///
/// assert_eq!(SpdImage::read(&[0; 512]), Err(SpdError::Blank { byte: 0 }));
/// let mut image = [0; 256];
/// image[2] = 0x08;
/// assert_eq!(SpdImage::read(&image).unwrap_err().to_string(), "the image is of DDR2 (byte 2 is 0x08); DDR3, DDR4 and DDR5 are read");
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SpdError {
    /// Too few bytes to tell what the module is.
    #[error("the image has {found} bytes; at least {needed} are needed")]
    TooShort {
        /// How many there are.
        found: usize,
        /// How many are needed: 128, or 512 for DDR5.
        needed: usize,
    },
    /// Nothing was ever written, or nothing was read: every byte is 0x00 or 0xff.
    #[error("every byte of the image is {byte:#04x}: nothing is written there, or nothing was read")]
    Blank {
        /// The byte.
        byte: u8,
    },
    /// An image of another sort of memory.
    #[error("the image is of {name} (byte 2 is {key:#04x}); DDR3, DDR4 and DDR5 are read")]
    OtherGeneration {
        /// Byte 2.
        key: u8,
        /// What it stands for.
        name: &'static str,
    },
    /// A byte 2 that stands for no sort of memory.
    #[error("byte 2 of the image is {key:#04x}, which is no known sort of memory")]
    UnknownKey {
        /// Byte 2.
        key: u8,
    },
}

impl From<SpdError> for crate::goods_in::SpdFault {
    fn from(_: SpdError) -> Self {
        Self::Unreadable
    }
}
