use serde::{Deserialize, Serialize};

use crate::figure::{Raw, RowMemo, channel_limits};
use crate::finding::Place;
use crate::population::{ModuleSite, SocketLoad};
use crate::processor::MissingFact;
use crate::unit::{Name, Voltage};

/// The voltage at which memory runs: the one that is set, else the lowest that all modules, the processors and the load
/// support.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::{Population, Voltage};
///
/// let population = Population::new().with("A1".parse()?, module);
/// assert_eq!(planner.assess(&population)?.figures.running_rate.domains[0].voltage.voltage_mv, Some(Voltage::V1_2));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RunningVoltage {
    /// The voltage; absent where none suits everything, where nothing is fitted, or where it cannot be
    /// told.
    pub voltage_mv: Option<Voltage>,
    /// Voltages that something present would run at and that something else rules out.
    pub ruled_out: Vec<RuledOut>,
    /// Slots of modules whose voltages are not known.
    pub unknown: Vec<Place>,
}

/// A voltage that is ruled out.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RuledOut {
    /// The voltage.
    pub voltage_mv: Voltage,
    /// By what.
    pub cause: VoltageCause,
    /// Where.
    pub places: Vec<Place>,
}

/// What rules a voltage out.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
#[non_exhaustive]
pub enum VoltageCause {
    /// Modules that do not run at it.
    Modules,
    /// A processor that does not supply it.
    #[non_exhaustive]
    Processor {
        /// Its name.
        processor: Name,
    },
    /// A rate table that bars the load at it.
    Load,
    /// Another voltage that is set.
    Setting,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// Finds the running voltage of some processors' memory.
pub(crate) fn running_voltage<'a>(sockets: impl Iterator<Item = SocketLoad<'a>> + Clone) -> RunningVoltage {
    let machine_sites = || {
        sockets
            .clone()
            .flat_map(|socket| socket.modules())
            .filter(|site: &ModuleSite<'_>| site.machine.is_live(site.slot))
    };
    let place = |site: ModuleSite<'_>| Place::slot(site.machine.platform(), site.slot);
    let unknown: Vec<_> = machine_sites().filter(|site| site.module.voltages().is_none()).map(place).collect();
    let mut wanted: Vec<Voltage> = Vec::new();
    for site in machine_sites() {
        for voltage in site.module.voltages().into_iter().flat_map(crate::module::Voltages::iter) {
            if !wanted.contains(&voltage) {
                wanted.push(voltage);
            }
        }
    }
    wanted.sort_unstable();
    let mut ruled_out = Vec::new();
    let mut suitable = Vec::new();
    for &voltage_mv in &wanted {
        let before = ruled_out.len();
        let against = |site: &ModuleSite<'_>| site.module.voltages().is_some_and(|known| !known.contains(voltage_mv));
        if machine_sites().any(|site| against(&site)) {
            let places = machine_sites().filter(against).map(place).collect();
            ruled_out.push(RuledOut { voltage_mv, cause: VoltageCause::Modules, places });
        }
        let set = sockets.clone().find_map(|socket| socket.machine().settings().voltage_mv);
        if set.is_some_and(|set| set != voltage_mv) {
            ruled_out.push(RuledOut { voltage_mv, cause: VoltageCause::Setting, places: vec![Place::Machine] });
        }
        for socket in sockets.clone() {
            if let Some(processor) =
                socket.processor().filter(|p| !p.description().voltages_mv.value.contains(voltage_mv))
            {
                let places = vec![Place::socket(socket.machine().platform(), socket.id())];
                let cause = VoltageCause::Processor { processor: processor.name().clone() };
                ruled_out.push(RuledOut { voltage_mv, cause, places });
            }
        }
        if ruled_out.len() == before {
            suitable.push(voltage_mv);
        }
    }
    let chosen = choose(sockets, &suitable, &mut ruled_out);
    RunningVoltage { voltage_mv: chosen.filter(|_| unknown.is_empty()), ruled_out, unknown }
}

/// The lowest suitable voltage at which no table bars the load; the lowest of all where all are barred,
/// for the rate then says so.
fn choose<'a>(
    sockets: impl Iterator<Item = SocketLoad<'a>> + Clone,
    suitable: &[Voltage],
    ruled_out: &mut Vec<RuledOut>,
) -> Option<Voltage> {
    let (&lowest, others) = suitable.split_first()?;
    if others.is_empty() {
        return Some(lowest);
    }
    let mut barred = Vec::new();
    for &voltage_mv in suitable {
        let mut memo = RowMemo::default();
        let mut places = Vec::new();
        for load in sockets.clone().flat_map(|socket| socket.channels()) {
            let platform = load.machine().platform();
            channel_limits(load, Some(voltage_mv), &mut memo, &mut |raw| {
                if let (true, Raw::Row { slot, .. } | Raw::Mix { slot, .. }) = (raw.is_barred(), raw) {
                    places.push(Place::slot(platform, slot));
                }
            });
        }
        if places.is_empty() {
            ruled_out.append(&mut barred);
            return Some(voltage_mv);
        }
        barred.push(RuledOut { voltage_mv, cause: VoltageCause::Load, places });
    }
    Some(lowest)
}

impl RunningVoltage {
    /// Whether modules are there and no voltage suits them, the processors and each other.
    #[must_use]
    pub fn is_conflict(&self) -> bool {
        self.voltage_mv.is_none() && self.unknown.is_empty() && !self.ruled_out.is_empty()
    }

    /// The fact that is missing, where the voltage cannot be told.
    pub(crate) fn missing(&self) -> Option<MissingFact> {
        (!self.unknown.is_empty()).then_some(MissingFact::Voltages)
    }
}

#[cfg(test)]
mod tests {
    use crate::figure::RunningRate;
    use crate::module::{MemoryModule, Voltages};
    use crate::population::{Layout, Population};
    use crate::testing::{clean, lacking, plain, population};
    use crate::unit::Voltage;

    fn is_conflict(population: &Population) -> bool {
        RunningRate::of(&Layout::new(&clean(), population).unwrap()).domains[0].voltage.is_conflict()
    }

    #[test]
    fn a_conflict_is_known_and_of_modules() {
        let at = |voltage: Voltage| plain().to_builder().voltages(Voltages::new([voltage]).unwrap()).build().unwrap();
        let fitted = |module: &MemoryModule| population(&[("1A1", module)]);
        assert!(is_conflict(&fitted(&at(Voltage::V1_1))));
        assert!(!is_conflict(&fitted(&at(Voltage::V1_2))));
        assert!(!is_conflict(&fitted(&lacking(&plain(), &["voltages_mv"]))));
        assert!(!is_conflict(&Population::default()));
    }
}
