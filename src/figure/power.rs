use serde::{Deserialize, Serialize};

use crate::population::Layout;
use crate::unit::Power;

/// What the modules draw at most, as far as that is known of them.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct PowerDraw {
    /// The modules in live slots whose draw is known, together.
    pub known_mw: Power,
    /// How many modules in live slots there are whose draw is not known.
    pub unknown_modules: u64,
}

impl PowerDraw {
    /// The draw of a layout.
    #[must_use]
    pub fn of(layout: &Layout<'_>) -> Self {
        let live = || layout.modules().filter(crate::population::ModuleSite::is_live);
        let unknown = live().filter(|site| site.module.power().is_none()).count();
        Self {
            known_mw: live().filter_map(|site| site.module.power()).sum(),
            unknown_modules: u64::try_from(unknown).unwrap_or(u64::MAX),
        }
    }
}
