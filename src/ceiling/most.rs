use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::ceiling::accepts::{most, sits};
use crate::ceiling::sorts;
use crate::figure::{RateLimit, RunningRate, UsableCapacity};
use crate::fill::{ArrangeRequest, Arrangement, SlotModel};
use crate::finding::Severity;
use crate::module::{MemoryModule, ModuleKind};
use crate::population::{Layout, Occupant, Population};
use crate::unit::{Capacity, DataRate, Name};

/// The most memory by kind and running rate.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct Ceiling {
    /// A row for each kind and each rate below which more fits, the highest rate first.
    pub rows: Vec<CeilingRow>,
}

/// The most memory of one kind at one running rate, with modules of one sort.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
pub struct CeilingRow {
    /// The kind.
    pub kind: ModuleKind,
    /// The running rate of the witness.
    pub rate_mts: DataRate,
    /// How much that is.
    pub capacity_mib: Capacity,
    /// How much of it can be used in the machine's redundancy mode: the rows are of the most of this.
    pub usable_mib: Capacity,
    /// The module.
    pub module: MemoryModule,
    /// How many of it.
    pub count: usize,
    /// Where they sit.
    pub witness: Population,
    /// Why it is no more of this module at this rate.
    pub binds: Binds,
}

/// What keeps further modules of a sort out.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
pub enum Binds {
    /// Every usable slot is full.
    Slots,
    /// Further modules would lower the rate: these limits.
    Rate {
        /// The limits of the fuller machine that lie below the rate.
        limits: Vec<RateLimit>,
    },
    /// Rules.
    Rules {
        /// Their codes; none where no single cause was found.
        codes: Vec<Name>,
    },
}

impl Planner<'_> {
    /// The most memory by kind and rate that standard modules of the kinds and die densities that the
    /// processors take can give: modules of one sort, at the processors' highest rate. That such modules
    /// are made is not said.
    ///
    /// ```
    /// use slotwright::assess::Planner;
    /// use slotwright::machine::Machine;
    /// use slotwright::module::ModuleKind;
    /// use slotwright::reference;
    /// use slotwright::rule::RuleBook;
    /// use slotwright::unit::Capacity;
    ///
    /// let machine = Machine::builder(reference::ddr4_1s_2ch_2spc_unbuffered()).processor_named("1", "earlier").build()?;
    /// let rules = RuleBook::standard();
    /// let ceiling = Planner::new(&machine, &rules).ceiling();
    /// assert!(ceiling.rows.iter().all(|row| row.kind == ModuleKind::Unbuffered));
    /// # Ok::<(), slotwright::machine::MachineError>(())
    /// ```
    #[must_use]
    pub fn ceiling(&self) -> Ceiling {
        self.ceiling_of(&sorts::standard(self.machine()))
    }

    /// The same with these modules to choose from, as many of each as one likes.
    #[must_use]
    pub fn ceiling_of(&self, modules: &[MemoryModule]) -> Ceiling {
        let mut kinds: Vec<ModuleKind> = modules.iter().map(MemoryModule::kind).collect();
        kinds.sort_unstable();
        kinds.dedup();
        let rows = kinds.into_iter().flat_map(|kind| {
            let of_kind: Vec<_> = modules.iter().filter(|module| module.kind() == kind).collect();
            self.rows_of(&of_kind)
        });
        Ceiling { rows: rows.collect() }
    }

    fn rows_of(&self, modules: &[&MemoryModule]) -> Vec<CeilingRow> {
        let machine = self.machine();
        let grids: Vec<(&MemoryModule, SlotModel<'_>)> = modules
            .iter()
            .map(|&module| {
                (module, SlotModel::new(machine, self.rules(), Severity::Error, vec![module], Layout::empty(machine)))
            })
            .filter(|(_, grid)| (0..grid.slots.len()).any(|slot| grid.admits(slot, 0)))
            .collect();
        let mut rows: Vec<CeilingRow> = Vec::new();
        for level in (0..machine.rate_steps().len()).rev().filter_map(|level| i32::try_from(level).ok()) {
            let reached = grids.iter().filter(|(_, grid)| level <= grid.top_level).filter_map(|(module, grid)| {
                let (count, at) = most(grid, Some(level))?;
                let usable = UsableCapacity::of(&grid.layout(&at)).total_mib;
                Some((
                    usable,
                    module.capacity().times(u64::try_from(count).ok()?),
                    std::cmp::Reverse(count),
                    *module,
                    grid,
                    at,
                ))
            });
            let best = reached.max_by(|a, b| (a.0, a.1, a.2).cmp(&(b.0, b.1, b.2)).then_with(|| b.3.cmp(a.3)));
            let Some((usable_mib, capacity_mib, std::cmp::Reverse(count), module, grid, at)) = best else { continue };
            if rows.last().is_some_and(|row| row.usable_mib >= usable_mib) {
                continue;
            }
            let layout = grid.layout(&at);
            let Some(rate_mts) = RunningRate::of(&layout).rate() else { continue };
            let witness = population(grid, &at);
            let binds = self.binds(grid, module, count, rate_mts);
            rows.push(CeilingRow {
                kind: module.kind(),
                rate_mts,
                capacity_mib,
                usable_mib,
                module: module.clone(),
                count,
                witness,
                binds,
            });
        }
        rows
    }

    fn binds(&self, grid: &SlotModel<'_>, module: &MemoryModule, count: usize, rate: DataRate) -> Binds {
        if count == grid.slots.len() {
            return Binds::Slots;
        }
        if let Some(fuller) = (count + 1..=grid.slots.len()).find_map(|more| sits(grid, more, None)) {
            let figure = RunningRate::of(&grid.layout(&fuller));
            let limits =
                figure.domains.into_iter().flat_map(|domain| domain.limits).filter(|limit| limit.rate_mts < rate);
            return Binds::Rate { limits: limits.collect() };
        }
        let codes = match self.arrange_with(&ArrangeRequest::new().add(module.clone(), count + 1)) {
            Ok(Arrangement::Illegal(illegal)) => illegal.legal_without,
            Ok(Arrangement::Best(_) | Arrangement::Stopped) | Err(_) => Vec::new(),
        };
        Binds::Rules { codes }
    }
}

fn population(grid: &SlotModel<'_>, at: &[Option<usize>]) -> Population {
    let platform = grid.machine.platform();
    let filled = grid.slots.iter().zip(at).filter_map(|(slot, class)| {
        let module = grid.classes.get((*class)?)?;
        Some((platform.slot(slot.id).label.clone(), Occupant::module((*module).clone())))
    });
    filled.collect()
}
