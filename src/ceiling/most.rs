use std::cmp::Reverse;
use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::ceiling::accepts::{demand, most, usable_from};
use crate::ceiling::sorts;
use crate::figure::{RateLimit, RunningRate};
use crate::fill::{ArrangeRequest, Arrangement, ClassId, Contents, Demand, Level, SlotModel, place};
use crate::finding::Severity;
use crate::module::{MemoryModule, ModuleKind};
use crate::population::{Layout, Occupant, Population};
use crate::search::{Budget, StopReason, wide};
use crate::stated::Schema;
use crate::unit::{Capacity, DataRate, Name};

/// The most memory by kind and running rate.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let most = planner.ceiling_of(&[module]);
/// let largest = most.rows.iter().map(|row| row.capacity_mib).max();
/// assert_eq!(largest.and_then(|capacity| capacity.whole_gib()), Some(384));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Ceiling {
    /// The version of the document's form.
    pub schema: Schema,
    /// A row for each kind and each rate below which more fits, the highest rate first.
    pub rows: Vec<CeilingRow>,
    /// Why the search ended before it was through, if it did: rows may be missing then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}

/// The most memory of one kind at one running rate, with modules of one sort.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
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
#[non_exhaustive]
pub enum Binds {
    /// Every usable slot is full.
    Slots,
    /// Further modules would lower the rate: these limits.
    #[non_exhaustive]
    Rate {
        /// The limits of the fuller machine that lie below the rate.
        limits: Vec<RateLimit>,
    },
    /// Rules.
    #[non_exhaustive]
    Rules {
        /// Their codes; none where no single cause was found.
        codes: Vec<Name>,
    },
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
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
        let kinds: BTreeSet<ModuleKind> = modules.iter().map(MemoryModule::kind).collect();
        let mut ceiling = Ceiling { schema: Schema, rows: Vec::new(), stopped: None };
        let mut budget = self.budget(Self::CEILING_NODES);
        for kind in kinds {
            let of_kind: Vec<_> = modules.iter().filter(|module| module.kind() == kind).collect();
            if let Err(reason) = self.add_rows(&of_kind, &mut ceiling.rows, &mut budget) {
                ceiling.stopped = Some(reason);
                break;
            }
        }
        ceiling
    }

    /// How many nodes the search of [`Planner::ceiling`] may visit.
    pub const CEILING_NODES: u64 = 5_000_000;

    fn add_rows(
        &self,
        modules: &[&MemoryModule],
        rows: &mut Vec<CeilingRow>,
        budget: &mut Budget<'_>,
    ) -> Result<(), StopReason> {
        let machine = self.machine();
        let mut models: Vec<SlotModel<'_>> = Vec::new();
        for &module in modules {
            let model = SlotModel::new(machine, self.rules(), Severity::Error, vec![module], Layout::empty(machine));
            let fits = model.slots.ids().any(|place| model.admits(place, ClassId::ONLY));
            models.extend(fits.then_some(model));
        }
        // what could hold most first: the rest is mostly passed over
        models.sort_by_key(|model| Reverse(model.classes.get(ClassId::ONLY).map(|module| module.capacity())));
        let mut before = None;
        for level in (0..machine.rate_steps().len()).rev().map(Level::step) {
            let above = before.map_or(0, |before: Capacity| before.mib() + 1);
            let best = best_at(level, above, &models, budget)?;
            let Some((reached, model)) = best else { continue };
            let (count, module) = (reached.count.0, reached.module.0);
            let mut demand = demand(count, Some(level));
            demand.usable = usable_from(model, reached.usable_mib.mib());
            let Some(placed) = place(model, model, &demand, budget)? else { continue };
            let Some(rate_mts) = placed.rate else { continue };
            before = Some(reached.usable_mib);
            rows.push(CeilingRow {
                kind: module.kind(),
                rate_mts,
                capacity_mib: reached.capacity_mib,
                usable_mib: reached.usable_mib,
                module: module.clone(),
                count,
                witness: population(model, &placed.at),
                binds: self.binds(model, module, count, rate_mts, budget)?,
            });
        }
        Ok(())
    }

    /// Why it is no more than so many modules at this rate.
    fn binds(
        &self,
        model: &SlotModel<'_>,
        module: &MemoryModule,
        count: usize,
        rate: DataRate,
        budget: &mut Budget<'_>,
    ) -> Result<Binds, StopReason> {
        if count == model.slots.len() {
            return Ok(Binds::Slots);
        }
        for more in count + 1..=model.slots.len() {
            let any = Demand { any_will_do: true, ..demand(more, None) };
            if place(model, model, &any, budget)?.is_none() {
                continue;
            }
            let Some(fuller) = place(model, model, &demand(more, None), budget)? else { continue };
            let figure = RunningRate::of(&model.layout(&fuller.at));
            let limits =
                figure.domains.into_iter().flat_map(|domain| domain.limits).filter(|limit| limit.rate_mts < rate);
            return Ok(Binds::Rate { limits: limits.collect() });
        }
        let codes = match self.arrange_with(&ArrangeRequest::new().piece(module.clone(), count + 1)) {
            Ok(Arrangement::Illegal(illegal)) => illegal.legal_without,
            Ok(Arrangement::Stopped { reason, .. }) => return Err(reason),
            // just so many do not fit in any way, or the request would make no sense
            Ok(Arrangement::Best(_)) | Err(_) => Vec::new(),
        };
        Ok(Binds::Rules { codes })
    }
}

/// How far modules of one sort get at one level: what is better is greater.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
struct Reached<'m> {
    usable_mib: Capacity,
    capacity_mib: Capacity,
    count: Reverse<usize>,
    module: Reverse<&'m MemoryModule>,
}

/// The model that gets farthest at a level, with at least so many MiB usable.
fn best_at<'m, 'a>(
    level: Level,
    least: u64,
    models: &'m [SlotModel<'a>],
    budget: &mut Budget<'_>,
) -> Result<Option<(Reached<'a>, &'m SlotModel<'a>)>, StopReason> {
    let mut best: Option<(Reached<'a>, &'m SlotModel<'a>)> = None;
    for model in models.iter().filter(|model| level <= model.top_level) {
        let least = best.as_ref().map_or(least, |(reached, _)| least.max(reached.usable_mib.mib()));
        let Some(&module) = model.classes.get(ClassId::ONLY) else { continue };
        let Some(most) = most(model, Some(level), least, budget)? else { continue };
        let reached = Reached {
            usable_mib: most.usable_mib,
            capacity_mib: module.capacity().times(wide(most.count)),
            count: Reverse(most.count),
            module: Reverse(module),
        };
        if best.as_ref().is_none_or(|(best, _)| reached > *best) {
            best = Some((reached, model));
        }
    }
    Ok(best)
}

fn population(model: &SlotModel<'_>, at: &Contents) -> Population {
    let platform = model.machine.platform();
    let filled = model.slots.values().iter().zip(at.values()).filter_map(|(slot, class)| {
        let module = model.classes.get((*class)?)?;
        Some((platform.slot(slot.id).label().clone(), Occupant::module((*module).clone())))
    });
    filled.collect()
}
