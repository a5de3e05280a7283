use core::fmt;

use serde::{Deserialize, Serialize};

use crate::unit::Name;

/// Which machine a report is of, as far as it says so. Placeholders are left out.
#[derive(Debug, Clone, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct MachineIdentity {
    /// Who made it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maker: Option<Name>,
    /// What it is called.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub product: Option<Name>,
    /// Its serial number.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub serial: Option<Name>,
    /// What its board is called.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub board: Option<Name>,
    /// The version of its firmware.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub firmware: Option<Name>,
}

impl MachineIdentity {
    /// Of which nothing is known.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    setters! {
        some maker(maker: Name);
        some product(product: Name);
        some serial(serial: Name);
        some board(board: Name);
        some firmware(firmware: Name);
    }
}

impl fmt::Display for MachineIdentity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self { maker, product, serial, board, firmware } = self;
        let mut parts: Vec<String> = Vec::new();
        parts.extend(
            maker.iter().chain(product).map(ToString::to_string).reduce(|maker, product| format!("{maker} {product}")),
        );
        parts.extend(serial.as_ref().map(|serial| format!("serial {serial}")));
        parts.extend(board.as_ref().map(|board| format!("board {board}")));
        parts.extend(firmware.as_ref().map(|firmware| format!("firmware {firmware}")));
        f.write_str(if parts.is_empty() { "a machine that is not named" } else { "" })?;
        f.write_str(&parts.join(", "))
    }
}
