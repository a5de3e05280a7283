//! The patterns of modules that a board's description names.

use crate::platform::PlatformDescription;
use crate::processor::{ModulePattern, RateTable};
use crate::stated::FieldPath;

impl PlatformDescription {
    /// The patterns of its tables, limits and rows, each with where it stands; those of its processors are theirs.
    pub(crate) fn patterns(&self) -> impl Iterator<Item = (FieldPath, &ModulePattern)> {
        let of_tables = self.rate_table.iter().flat_map(RateTable::patterns);
        let of_tables = of_tables.map(|(place, pattern)| (FieldPath::of("rate_table").join(&place), pattern));
        of_tables.chain(self.of_limits()).chain(self.of_rows()).chain(self.of_modes())
    }

    /// Those of its list of modules.
    pub(crate) fn listed(&self) -> impl Iterator<Item = (FieldPath, &ModulePattern)> {
        let listed = self.listed_modules.iter().flat_map(|list| list.value.iter().enumerate());
        listed.map(|(index, module)| (FieldPath::of("listed_modules").index(index), module))
    }

    fn of_limits(&self) -> impl Iterator<Item = (FieldPath, &ModulePattern)> {
        let limits = self.module_limits.iter().enumerate();
        let limits = limits
            .map(|(index, limit)| (FieldPath::of("module_limits").index(index).field("module"), &limit.value.module));
        let caps = self.shared_load_caps.iter().enumerate();
        let caps = caps
            .map(|(index, cap)| (FieldPath::of("shared_load_caps").index(index).field("module"), &cap.value.module));
        let pairs = self.pair_bans.iter().enumerate().flat_map(|(index, ban)| {
            let place = |which| FieldPath::of("pair_bans").index(index).field(which);
            [(place("first"), &ban.value.first), (place("second"), &ban.value.second)]
        });
        let channels = self.channel_bans.iter().enumerate().flat_map(|(ban, of)| {
            let place = move |index: usize| FieldPath::of("channel_bans").index(ban).field("modules").index(index);
            of.value.modules.iter().enumerate().map(move |(index, module)| (place(index), module))
        });
        limits.chain(caps).chain(pairs).chain(channels)
    }

    fn of_modes(&self) -> impl Iterator<Item = (FieldPath, &ModulePattern)> {
        self.modes.iter().flat_map(|mode| {
            let place =
                |index: usize| FieldPath::of("modes").named(&mode.name).field("any_of").index(index).field("module");
            mode.any_of.iter().enumerate().map(move |(index, minimum)| (place(index), &minimum.module))
        })
    }

    fn of_rows(&self) -> impl Iterator<Item = (FieldPath, &ModulePattern)> {
        self.fill_rows.iter().enumerate().flat_map(|(row, of)| {
            let slots = FieldPath::of("fill_rows").index(row).field("slots");
            let named = of.slots.iter().enumerate().filter_map(|(index, slot)| Some((index, slot.module.as_ref()?)));
            named.map(move |(index, module)| (slots.clone().index(index).field("module"), module))
        })
    }
}
