//! The limits on the running rate, each with its cause.

use serde::{Deserialize, Serialize};

use crate::finding::Place;
use crate::module::{MemoryModule, ModuleKind};
use crate::platform::SlotId;
use crate::population::ChannelLoad;
use crate::processor::{MissingFact, MixRow, ModulePattern, Processor, RateCell, RateLookup, RateRow, RateTable};
use crate::stated::{Basis, Source};
use crate::unit::{DataRate, Name, Voltage};

/// Whose rate table it is.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum TableOwner {
    /// The board's.
    Board,
    /// A processor's.
    Processor {
        /// Its name.
        processor: Name,
    },
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// Why a rate is limited.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum RateCause {
    /// The grade of modules.
    Grade,
    /// The highest rate of a processor's controllers.
    #[non_exhaustive]
    ProcessorMaximum {
        /// Its name.
        processor: Name,
    },
    /// A row for a load.
    #[non_exhaustive]
    Row {
        /// Whose table.
        table: TableOwner,
        /// The modules that the row speaks of.
        module: ModulePattern,
        /// How many modules share a channel.
        modules_in_channel: u8,
        /// The running voltage that the row speaks of; any where absent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        running_voltage_mv: Option<Voltage>,
    },
    /// A row for a channel of unlike modules.
    #[non_exhaustive]
    MixRow {
        /// Whose table.
        table: TableOwner,
        /// The modules that the row speaks of.
        modules: Vec<ModulePattern>,
        /// The running voltage that the row speaks of; any where absent.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        running_voltage_mv: Option<Voltage>,
    },
    /// The board's policy for mixed grades.
    UnlikeGrades,
    /// An option that is fitted.
    #[non_exhaustive]
    Option {
        /// Its name.
        name: Name,
    },
    /// The power profile.
    #[non_exhaustive]
    PowerProfile {
        /// Its name.
        name: Name,
    },
    /// The redundancy mode.
    #[non_exhaustive]
    Mode {
        /// Its name.
        name: Name,
    },
    /// A cap that someone has set.
    Setting,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// A limit on the running rate.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RateLimit {
    /// Why.
    pub cause: RateCause,
    /// The highest rate that it allows.
    pub rate_mts: DataRate,
    /// Where: slots for modules and loads, sockets for processors, the machine for the rest.
    pub places: Vec<Place>,
    /// What it rests on; absent for what is a fact of a module or a setting.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub basis: Option<Basis>,
    /// The text that states it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub source: Option<Source>,
    /// Whether it is binding: below the next step above the running rate.
    pub binding: bool,
    /// For a binding limit: the running rate if it alone were lifted.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lifted_mts: Option<DataRate>,
}

/// A load as rate tables see it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Load {
    /// The module's kind.
    pub kind: ModuleKind,
    /// Its package ranks.
    pub package_ranks: Option<u8>,
    /// The height of its stack.
    pub stack_height: Option<u32>,
    /// How many modules share the channel.
    pub modules_in_channel: u64,
}

/// Why there is no running rate.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum RateObstacle {
    /// No module is in a live slot.
    NoModules,
    /// A table bars the load.
    #[non_exhaustive]
    NotAllowed {
        /// Whose table.
        table: TableOwner,
        /// The load.
        load: Load,
        /// The slots of its modules.
        places: Vec<Place>,
    },
    /// There is a table, but no row for the load.
    #[non_exhaustive]
    NoRow {
        /// Whose table.
        table: TableOwner,
        /// The load.
        load: Load,
        /// The slots of its modules.
        places: Vec<Place>,
    },
    /// A fact of a module is needed and not known.
    #[non_exhaustive]
    MissingFact {
        /// Which.
        fact: MissingFact,
        /// The slots of the modules.
        places: Vec<Place>,
    },
    /// No voltage suits everything.
    NoCommonVoltage,
    /// Every step that the rate can take is above a limit.
    NoStep,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// A rate table and the processor whose it is; the board's where absent.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Table<'a> {
    pub(crate) table: &'a RateTable,
    pub(crate) processor: Option<&'a Processor>,
}

/// One limit on one place of one channel, before limits of equal cause and value are put together.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Raw<'a> {
    Grade { rate: DataRate, slot: SlotId },
    Row { by: Table<'a>, row: &'a RateRow, module: &'a MemoryModule, slot: SlotId },
    Mix { by: Table<'a>, row: &'a MixRow, module: &'a MemoryModule, slot: SlotId },
    NoRow { by: Table<'a>, module: &'a MemoryModule, count: usize, slot: SlotId },
    Missing { fact: MissingFact, slot: SlotId },
}

impl<'a> Raw<'a> {
    /// The table that bars the load, and the module whose row says so.
    pub(crate) fn barred_by(&self) -> Option<(Table<'a>, &'a MemoryModule)> {
        match *self {
            Self::Row { by, row, module, .. } => (row.cell == RateCell::NotAllowed).then_some((by, module)),
            Self::Mix { by, row, module, .. } => (row.cell == RateCell::NotAllowed).then_some((by, module)),
            Self::Grade { .. } | Self::NoRow { .. } | Self::Missing { .. } => None,
        }
    }

    /// The rate that it allows: `None` where it allows none.
    pub(crate) fn rate(&self) -> Option<DataRate> {
        let cell = match self {
            Self::Grade { rate, .. } => return Some(*rate),
            Self::Row { row, .. } => row.cell,
            Self::Mix { row, .. } => row.cell,
            Self::NoRow { .. } | Self::Missing { .. } => return None,
        };
        match cell {
            RateCell::RateMts(rate) => Some(rate),
            RateCell::NotAllowed => None,
        }
    }

    /// Whether a table bars the load.
    pub(crate) fn is_barred(&self) -> bool {
        self.barred_by().is_some()
    }
}

/// The row that a table was last asked for: channels are mostly alike.
#[derive(Default)]
pub(crate) struct RowMemo<'a>(Option<Asked<'a>>);

struct Asked<'a> {
    table: &'a RateTable,
    module: &'a MemoryModule,
    load: (usize, (u8, Option<Voltage>)),
    row: RateLookup<&'a RateRow>,
}

impl<'a> RowMemo<'a> {
    fn row(
        &mut self,
        table: &'a RateTable,
        module: &'a MemoryModule,
        load: (usize, (u8, Option<Voltage>)),
    ) -> RateLookup<&'a RateRow> {
        if let Some(asked) = &self.0 {
            let same_load = std::ptr::eq(asked.table, table) && asked.load == load;
            if same_load && (std::ptr::eq(asked.module, module) || asked.module == module) {
                return asked.row;
            }
        }
        let row = table.row(module, load.0, load.1);
        self.0 = Some(Asked { table, module, load, row });
        row
    }
}

/// Every limit that the modules and tables set on one channel at one voltage.
pub(crate) fn channel_limits<'a>(
    load: ChannelLoad<'a>,
    voltage: Option<Voltage>,
    memo: &mut RowMemo<'a>,
    visit: &mut impl FnMut(Raw<'a>),
) {
    let machine = load.machine();
    let live = || load.modules().filter(move |site| machine.is_live(site.slot));
    let count = live().count();
    for site in live() {
        visit(match site.module.grade() {
            Some(rate) => Raw::Grade { rate, slot: site.slot },
            None => Raw::Missing { fact: MissingFact::Grade, slot: site.slot },
        });
    }
    let board = machine.platform().description().rate_table.as_ref().map(|table| Table { table, processor: None });
    let own = load.processor().and_then(|processor| {
        Some(Table { table: processor.description().rate_table.as_ref()?, processor: Some(processor) })
    });
    for by in board.into_iter().chain(own) {
        table_limits(load, by, (count, voltage), memo, visit);
    }
}

fn table_limits<'a>(
    load: ChannelLoad<'a>,
    by: Table<'a>,
    (count, voltage): (usize, Option<Voltage>),
    memo: &mut RowMemo<'a>,
    visit: &mut impl FnMut(Raw<'a>),
) {
    let machine = load.machine();
    let key = (load.slots_wired(), voltage);
    let live = || load.modules().filter(move |site| machine.is_live(site.slot));
    if !by.table.mixes.is_empty() && count > 1 {
        let modules: Vec<_> = live().map(|site| site.module).collect();
        let found = by.table.mix_row(&modules, key);
        if found != RateLookup::Absent {
            return live().for_each(|site| {
                visit(match found {
                    RateLookup::Row(row) => Raw::Mix { by, row, module: site.module, slot: site.slot },
                    RateLookup::Unknown(fact) => Raw::Missing { fact, slot: site.slot },
                    RateLookup::Absent => Raw::NoRow { by, module: site.module, count, slot: site.slot },
                });
            });
        }
    }
    for site in live() {
        let row = memo.row(by.table, site.module, (count, key));
        visit(match row {
            RateLookup::Row(row) => Raw::Row { by, row, module: site.module, slot: site.slot },
            RateLookup::Absent => Raw::NoRow { by, module: site.module, count, slot: site.slot },
            RateLookup::Unknown(fact) => Raw::Missing { fact, slot: site.slot },
        });
    }
}

impl TableOwner {
    pub(crate) fn of(by: Table<'_>) -> Self {
        by.processor.map_or(Self::Board, |processor| Self::Processor { processor: processor.name().clone() })
    }
}

impl Load {
    pub(crate) fn of(module: &MemoryModule, modules_in_channel: usize) -> Self {
        Self {
            kind: module.kind(),
            package_ranks: module.package_ranks(),
            stack_height: module.stack().map(crate::module::Stack::height),
            modules_in_channel: u64::try_from(modules_in_channel).unwrap_or(u64::MAX),
        }
    }
}
