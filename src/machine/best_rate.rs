//! The highest rate that any legal load of one module a channel can reach.

use std::collections::BTreeSet;

use itertools::{Itertools, iproduct};

use crate::machine::Machine;
use crate::machine::identity::unlike;
use crate::module::{DeviceWidth, Ecc, MemoryModule, Organization, Stack, Voltages};
use crate::platform::{RatePolicy, SocketId};
use crate::processor::{ModulePattern, Processor, RateCell, RateLookup, RateTable};
use crate::stated::Basis;
use crate::unit::{DataRate, Density, Name, Voltage};

impl Machine {
    /// The highest rate that a processor's memory can run at with one module in each channel, whatever the
    /// modules: the processor's and the board's tables, the processor's highest rate and the caps in force
    /// decide. It is what relative bandwidths are measured against. With one rate for the whole machine it is
    /// the lowest of the processors'. `None` where there is no processor, or no load of one module is allowed.
    ///
    /// ```
    /// use slotwright::machine::Machine;
    /// use slotwright::reference;
    /// use slotwright::unit::DataRate;
    ///
    /// let platform = reference::ddr4_2s_4ch_3spc();
    /// let socket = platform.socket_named("1").unwrap();
    /// let machine = Machine::builder(platform).processor_named("1", "later").build()?;
    /// assert_eq!(machine.best_rate(socket), Some(DataRate::DDR4_2400));
    /// # Ok::<(), slotwright::machine::MachineError>(())
    /// ```
    #[must_use]
    pub fn best_rate(&self, socket: SocketId) -> Option<DataRate> {
        let rates = self.best_rates();
        let own = rates.get(socket.index()).copied().flatten();
        match self.platform().description().rate_policy {
            RatePolicy::PerSocket => own,
            RatePolicy::PerMachine => own.and_then(|_| {
                let present = self.processors().map(|(id, _)| rates.get(id.index()).copied().flatten());
                present.collect::<Option<Vec<_>>>()?.into_iter().min()
            }),
        }
    }

    pub(super) fn find_best_rates(&self) -> Vec<Option<DataRate>> {
        let mut known: Vec<(&Processor, Vec<u8>, Option<DataRate>)> = Vec::new();
        let of_socket = |id: SocketId| {
            let processor = self.processor(id)?;
            let wired = self.slots_wired(id);
            if let Some((_, _, rate)) = known.iter().find(|(p, w, _)| *p == processor && *w == wired) {
                return *rate;
            }
            let rate = self.best_rate_of(processor, &wired);
            known.push((processor, wired, rate));
            rate
        };
        self.platform().socket_ids().map(of_socket).collect()
    }

    /// The highest grade of module that the board lets pass.
    pub(crate) fn highest_grade(&self) -> Option<DataRate> {
        let highest = self.platform().description().highest_grade_mts.as_ref();
        highest.filter(|highest| highest.basis != Basis::MakersList).map(|highest| highest.value)
    }

    /// The different numbers of slots that a socket's channels have wired.
    fn slots_wired(&self, id: SocketId) -> Vec<u8> {
        let channels = self.platform().socket(id).channels.iter().map(|&id| self.platform().channel(id).slots.len());
        let wired: BTreeSet<u8> = channels.filter_map(|slots| u8::try_from(slots).ok()).filter(|&n| n > 0).collect();
        wired.into_iter().collect()
    }

    fn best_rate_of(&self, processor: &Processor, wired: &[u8]) -> Option<DataRate> {
        let caps = self.rate_caps().iter().map(crate::machine::RateCap::rate);
        let limit = caps.chain(self.highest_grade()).fold(processor.description().max_rate_mts.value, DataRate::min);
        let step = |limit: DataRate| self.rate_steps().iter().rev().copied().find(|&step| step <= limit);
        let top = step(limit)?;
        let tables: Vec<&RateTable> = self
            .platform()
            .description()
            .rate_table
            .iter()
            .chain(processor.description().rate_table.as_ref())
            .collect();
        if tables.is_empty() {
            return Some(top);
        }
        let mut best: Option<DataRate> = None;
        let taken = |module: &MemoryModule| {
            self.highest_grade().is_none_or(|highest| module.grade().is_none_or(|grade| grade <= highest))
        };
        let highest = self.highest_grade().map_or(processor.description().max_rate_mts.value, |own| {
            own.min(processor.description().max_rate_mts.value)
        });
        for module in witnesses(processor, &tables, highest).filter(taken) {
            let own = module.voltages().into_iter().flat_map(Voltages::iter);
            for voltage in own.filter(|&voltage| self.supplies(processor, voltage)) {
                best = best.max(rate_of(&module, &tables, wired, voltage).and_then(|rate| step(rate.min(limit))));
                if best == Some(top) {
                    return best;
                }
            }
        }
        best
    }
}

/// The lowest rate of the module's rows over the channels; `None` where some channel has none.
fn rate_of(module: &MemoryModule, tables: &[&RateTable], wired: &[u8], voltage: Voltage) -> Option<DataRate> {
    let mut lowest: Option<DataRate> = None;
    for &slots in wired {
        for table in tables {
            let RateLookup::Row(row) = table.row(module, 1, (slots, Some(voltage))) else { return None };
            let RateCell::RateMts(rate) = row.cell else { return None };
            lowest = Some(lowest.map_or(rate, |lowest| lowest.min(rate)));
        }
    }
    lowest
}

/// One module of every sort that the tables can tell apart and that the processor takes by itself.
fn witnesses<'p>(
    processor: &'p Processor,
    tables: &[&'p RateTable],
    grade: DataRate,
) -> impl Iterator<Item = MemoryModule> + use<'p> {
    let densities: Vec<Density> = match &processor.description().die_densities_mbit {
        Some(limit) => limit.value.iter().copied().collect(),
        None => Density::STANDARD.to_vec(),
    };
    let kinds = processor.description().kinds.value.iter().copied();
    let sorts = iproduct!(kinds, organizations(processor), densities, further_facts(processor, tables, grade));
    sorts.filter_map(|(kind, organization, density, further)| {
        let facts = MemoryModule::builder(processor.generation(), kind, organization.capacity(density));
        let facts = facts.organization(organization).grade(further.grade);
        let facts = facts.voltages(further.voltages).ecc(further.ecc).class(further.class);
        facts.maker(further.maker).part_number(further.part_number).build().ok()
    })
}

/// What else rows can ask of a module.
#[derive(Clone)]
struct FurtherFacts {
    class: Option<Name>,
    grade: DataRate,
    voltages: Voltages,
    ecc: Ecc,
    maker: Name,
    part_number: Name,
}

/// Every choice of these facts that the rows of tables can tell apart: what they name, and something that they do not.
fn further_facts(processor: &Processor, tables: &[&RateTable], grade: DataRate) -> Vec<FurtherFacts> {
    let patterns = || tables.iter().flat_map(|table| &table.rows).map(|row| &row.module);
    let grades: Vec<DataRate> =
        patterns().filter_map(|pattern| pattern.grade_mts).chain([grade]).sorted_unstable().dedup().collect();
    let takes_ecc = |ecc: &Ecc| processor.description().ecc.as_ref().is_none_or(|limit| limit.value.contains(ecc));
    let check_bits = processor.generation().check_bits().iter().copied().filter(takes_ecc);
    // what no row asks for, one value does for
    let check_bits = match patterns().any(|pattern| pattern.ecc.is_some()) {
        true => check_bits.collect_vec(),
        false => check_bits.take(1).collect(),
    };
    let named = |name: fn(&ModulePattern) -> Option<&Name>| -> Vec<Name> {
        let named: BTreeSet<&Name> = patterns().filter_map(name).collect();
        let other = unlike(&named);
        named.into_iter().cloned().chain([other]).collect()
    };
    let in_use = patterns().any(|pattern| pattern.class.is_some() || pattern.without_class);
    let classes = named(|pattern| pattern.class.as_ref()).into_iter().filter(|_| in_use);
    let classes = classes.map(Some).chain([None]).collect_vec();
    let (makers, parts) = (named(|pattern| pattern.maker.as_ref()), named(|pattern| pattern.part_number.as_ref()));
    let all = iproduct!(classes, grades, voltages(processor, patterns()), check_bits, makers, parts);
    all.map(|(class, grade, voltages, ecc, maker, part_number)| FurtherFacts {
        class,
        grade,
        voltages,
        ecc,
        maker,
        part_number,
    })
    .collect()
}

/// The voltages of modules: every choice of those that patterns name with all others that the processor supplies.
fn voltages<'p>(processor: &Processor, patterns: impl Iterator<Item = &'p ModulePattern>) -> Vec<Voltages> {
    let supplied = &processor.description().voltages_mv.value;
    let named: BTreeSet<Voltage> = patterns.filter_map(|pattern| pattern.voltage_mv).collect();
    let others = supplied.iter().filter(|voltage| !named.contains(voltage)).collect_vec();
    let choices = named.iter().copied().powerset();
    choices.filter_map(|chosen| Voltages::new(chosen.into_iter().chain(others.iter().copied()))).collect()
}

/// Every organization of which the processor takes modules; the usual numbers of ranks first.
fn organizations(processor: &Processor) -> Vec<Organization> {
    let takes_width =
        |width: &DeviceWidth| processor.description().widths.as_ref().is_none_or(|limit| limit.value.contains(width));
    let takes_stack = |stack: &Stack| {
        processor.description().stack_heights.as_ref().is_none_or(|limit| limit.value.contains(&stack.height()))
    };
    let widths = DeviceWidth::ALL.iter().copied().filter(takes_width);
    let stacks = Stack::ALL.iter().copied().filter(takes_stack);
    iproduct!([2, 1, 4, 8, 3, 5, 6, 7], stacks, widths)
        .map(|(package_ranks, stack, width)| Organization { package_ranks, stack, width })
        .collect()
}
