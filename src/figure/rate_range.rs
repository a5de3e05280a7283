use serde::{Deserialize, Serialize};

use crate::figure::{DomainRate, RateCause, RateLimit, RateObstacle};
use crate::machine::Machine;
use crate::population::{ChannelLoad, SocketLoad};
use crate::processor::{RateCell, RateLookup};
use crate::unit::{DataRate, Voltage};

/// Between which rates memory runs, where a fact of a module is not known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RateRange {
    /// The lowest rate that the rows give which may speak of the modules. Absent where a grade or a voltage is not known, or
    /// where a row may bar the load or be missing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub at_least_mts: Option<DataRate>,
    /// The highest step under every limit that is known.
    pub at_most_mts: DataRate,
}

/// The bounds that rows which may speak of a load set.
struct Bounds<'m> {
    machine: &'m Machine,
    /// `None` where nothing bounds the rate from below.
    least: Option<DataRate>,
    most: DataRate,
}

/// Between which rates a domain runs, where missing facts are all that keeps its rate from being known.
pub(super) fn rate_range<'a>(
    machine: &'a Machine,
    sockets: impl Iterator<Item = SocketLoad<'a>>,
    domain: &DomainRate,
) -> Option<RateRange> {
    let only_facts = domain.obstacles.iter().all(|obstacle| matches!(obstacle, RateObstacle::MissingFact { .. }));
    if domain.obstacles.is_empty() || !only_facts {
        return None;
    }
    let voltage = domain.voltage.voltage_mv;
    // without a voltage, no row is known to speak of the load
    let holds = |limit: &&RateLimit| {
        voltage.is_some() || !matches!(limit.cause, RateCause::Row { .. } | RateCause::MixRow { .. })
    };
    let most = domain.limits.iter().find(holds)?.rate_mts;
    let mut bounds = Bounds { machine, least: voltage.map(|_| most), most };
    if voltage.is_some() {
        sockets.flat_map(|socket| socket.channels()).for_each(|load| bounds.channel(load, voltage));
    }
    let step_under = |rate: DataRate| machine.rate_steps().iter().rev().copied().find(|&step| step <= rate);
    Some(RateRange { at_least_mts: bounds.least.and_then(step_under), at_most_mts: step_under(bounds.most)? })
}

impl Bounds<'_> {
    fn channel(&mut self, load: ChannelLoad<'_>, voltage: Option<Voltage>) {
        let live = load.modules().filter(|site| self.machine.is_live(site.slot));
        let modules: Vec<_> = live.map(|site| site.module).collect();
        if modules.iter().any(|module| module.grade().is_none()) {
            self.least = None;
        }
        let key = (load.slots_wired(), voltage);
        let own = load.processor().and_then(|processor| processor.description().rate_table.as_ref());
        for table in self.machine.platform().description().rate_table.as_ref().into_iter().chain(own) {
            match table.mix_row(&modules, key) {
                RateLookup::Row(_) if modules.len() > 1 => {}
                RateLookup::Unknown(_) if modules.len() > 1 => self.least = None,
                _ => modules.iter().for_each(|module| {
                    if matches!(table.row(module, modules.len(), key), RateLookup::Unknown(_)) {
                        self.cells(&table.open_cells(module, modules.len(), key));
                    }
                }),
            }
        }
    }

    /// Takes the bounds of one load, of which one cell counts; `None` where it may be that none does.
    fn cells(&mut self, cells: &[Option<RateCell>]) {
        let rate = |cell: &Option<RateCell>| match cell {
            Some(RateCell::RateMts(rate)) => Some(*rate),
            Some(RateCell::NotAllowed) | None => None,
        };
        let least: Option<DataRate> =
            cells.iter().map(rate).collect::<Option<Vec<_>>>().and_then(|all| all.into_iter().min());
        self.least = self.least.zip(least).map(|(a, b)| a.min(b));
        if !cells.contains(&None) {
            self.most = cells.iter().filter_map(rate).max().map_or(self.most, |most| most.min(self.most));
        }
    }
}
