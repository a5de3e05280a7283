//! The patterns of modules that a board's description names.

use crate::platform::PlatformDescription;
use crate::processor::{ModulePattern, RateTable};

impl PlatformDescription {
    /// The patterns of its tables, limits and rows, each with where it stands; those of its processors are theirs.
    pub(crate) fn patterns(&self) -> impl Iterator<Item = (String, &ModulePattern)> {
        let of_tables = self.rate_table.iter().flat_map(RateTable::patterns);
        of_tables.chain(self.of_limits()).chain(self.of_rows()).chain(self.of_modes())
    }

    /// Those of its list of modules.
    pub(crate) fn listed(&self) -> impl Iterator<Item = (String, &ModulePattern)> {
        let listed = self.listed_modules.iter().flat_map(|list| list.value.iter().enumerate());
        listed.map(|(index, module)| (format!("listed module {index}"), module))
    }

    fn of_limits(&self) -> impl Iterator<Item = (String, &ModulePattern)> {
        let limits = self.module_limits.iter().enumerate();
        let limits = limits.map(|(index, limit)| (format!("module limit {index}"), &limit.value.module));
        let caps = self.shared_load_caps.iter().enumerate();
        let caps = caps.map(|(index, cap)| (format!("shared load cap {index}"), &cap.value.module));
        let pairs = self.pair_bans.iter().enumerate().flat_map(|(index, ban)| {
            let place = |which: &str| format!("the {which} of pair ban {index}");
            [(place("first"), &ban.value.first), (place("second"), &ban.value.second)]
        });
        let channels = self.channel_bans.iter().enumerate().flat_map(|(ban, of)| {
            let place = move |index: usize| format!("module {index} of channel ban {ban}");
            of.value.modules.iter().enumerate().map(move |(index, module)| (place(index), module))
        });
        limits.chain(caps).chain(pairs).chain(channels)
    }

    fn of_modes(&self) -> impl Iterator<Item = (String, &ModulePattern)> {
        self.modes.iter().flat_map(|mode| {
            let place = |index: usize| format!("minimum {index} of mode {}", mode.name);
            mode.any_of.iter().enumerate().map(move |(index, minimum)| (place(index), &minimum.module))
        })
    }

    fn of_rows(&self) -> impl Iterator<Item = (String, &ModulePattern)> {
        self.fill_rows.iter().enumerate().flat_map(|(row, of)| {
            let named = of.slots.iter().filter_map(|slot| Some((&slot.slot, slot.module.as_ref()?)));
            named.map(move |(slot, module)| (format!("slot {slot} of fill row {row}"), module))
        })
    }
}
