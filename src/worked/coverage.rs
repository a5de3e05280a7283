//! Which limits of a description its worked rows hold.

use core::cell::RefCell;
use core::fmt;
use std::collections::BTreeMap;

use serde::Serialize;

use crate::assess::{Assessment, Planner};
use crate::finding::{Severity, Verdict};
use crate::machine::Machine;
use crate::module::{DeviceWidth, Ecc, Generation, MemoryModule, ModuleKind, Stack, Voltages};
use crate::platform::{Channel, Mode, Platform, PlatformDescription, SlotId, WorkedRow};
use crate::population::{Occupant, Population};
use crate::processor::Processor;
use crate::rule::RuleBook;
use crate::stated::{Basis, FieldPath};
use crate::unit::{Capacity, DataRate, Density, Name, Voltage};
use crate::worked::loosen::{Loosened, die_densities, loosened};
use crate::worked::{check, check_row, machine_of};

/// Which limits of a description are held by its own worked rows: each stated limit is loosened by a step, and a row that held before and
/// does not now has noticed.
///
/// ```
/// use slotwright::{reference, worked};
///
/// let coverage = worked::coverage(&reference::ddr3_1s_uneven(), worked::PROBES);
/// let of = |place: &str| coverage.limits.iter().find(|limit| limit.place.to_string() == place).unwrap();
/// assert!(of("shared_load_caps[0]").is_held());
/// // no row is of unbuffered modules: ask the manual
/// assert!(of("processors[plain].kinds").to_string().contains("not held. Ask the manual: "));
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct Coverage {
    /// Every limit that could be loosened.
    pub limits: Vec<CoveredLimit>,
}

/// A stated limit, and what came of loosening it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct CoveredLimit {
    /// The limit.
    pub place: FieldPath,
    /// By what it was loosened.
    pub step: String,
    /// What came of it.
    pub held: Held,
}

/// Whether a limit is held by worked rows.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum Held {
    /// These rows notice.
    Held {
        /// The names of the rows.
        rows: Vec<Name>,
    },
    /// No row notices, though a population tells the two apart: look it up in the manual, and write the row.
    #[non_exhaustive]
    NotHeld {
        /// What to ask the manual.
        question: ProbeQuestion,
    },
    /// No row notices, and none of the populations tried tells the two apart. That is no proof that none does.
    #[non_exhaustive]
    NoneFound {
        /// How many populations were tried.
        tried: usize,
    },
    /// No population can tell the two apart.
    NoPopulationDiffers,
}

/// What to ask the manual: whether so many modules work, and at which rate. What the description says of them is not the answer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct ProbeQuestion {
    /// The processor in each socket.
    pub processors: BTreeMap<Name, Name>,
    /// The mode, where it is not the independent one.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mode: Option<Name>,
    /// The modules, and in which slots.
    pub modules: Vec<(MemoryModule, Vec<Name>)>,
}

impl CoveredLimit {
    /// Whether a worked row notices.
    #[must_use]
    pub fn is_held(&self) -> bool {
        matches!(self.held, Held::Held { .. })
    }
}

impl fmt::Display for ProbeQuestion {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, (module, slots)) in self.modules.iter().enumerate() {
            let count = slots.len();
            let slots = slots.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ");
            write!(f, "{}{count} x {module} in {slots}", if index > 0 { ", and " } else { "" })?;
        }
        let mut processors: Vec<String> = self.processors.values().map(ToString::to_string).collect();
        processors.dedup();
        write!(f, ", processor {}", processors.join(" and "))?;
        if let Some(mode) = &self.mode {
            write!(f, ", mode {mode}")?;
        }
        f.write_str(": does the machine start, and at which rate?")
    }
}

impl fmt::Display for CoveredLimit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({}): ", self.place, self.step)?;
        match &self.held {
            Held::Held { rows } => {
                let rows: Vec<String> = rows.iter().map(ToString::to_string).collect();
                write!(f, "held by {}", rows.join("; "))
            }
            Held::NotHeld { question } => write!(f, "not held. Ask the manual: {question}"),
            Held::NoneFound { tried } => {
                write!(f, "no row notices, and none of {tried} populations tells the two apart")
            }
            Held::NoPopulationDiffers => f.write_str("no population differs"),
        }
    }
}

impl fmt::Display for Coverage {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let held = self.limits.iter().filter(|limit| limit.is_held()).count();
        write!(f, "{held} of {} limits are held by worked rows.", self.limits.len())?;
        self.limits.iter().try_for_each(|limit| write!(f, "\n- {limit}"))
    }
}

/// How many populations are tried for a limit that no row notices, unless the caller says otherwise.
pub const PROBES: usize = 400;

/// Loosens each stated limit of a platform by a step (the next rate, one more, one more member of a list, a ban removed, required to
/// advised), and looks for a worked row that notices. Where none does, at most so many populations are tried for one that would.
///
/// Evenness that is advised, figures such as interleave sets, and what a mode joins are no limits here.
#[must_use]
pub fn coverage(platform: &Platform, probes: usize) -> Coverage {
    let description = platform.description();
    let rules = RuleBook::standard();
    let before: Vec<bool> = check(platform).iter().map(crate::worked::WorkedResult::holds).collect();
    let probe = Probe::new(platform, rules.clone());
    let limit = |loosened: Loosened| {
        let changed = loosened.description.build().ok()?;
        let of = (loosened.processor.as_ref(), loosened.mode.as_ref());
        let rows = changed.description().worked_rows.iter().zip(&before).filter(|(row, held)| **held && is_of(row, of));
        let noticed = rows.filter(|(row, _)| !check_row(&changed, row, &rules).holds());
        let rows: Vec<Name> = noticed.map(|(row, _)| row.name.clone()).collect();
        let held = match rows.is_empty() {
            false => Held::Held { rows },
            true if loosened.is_moot => Held::NoPopulationDiffers,
            true => probe.tell_apart(of, &changed, probes),
        };
        Some(CoveredLimit { place: loosened.place, step: loosened.step, held })
    };
    Coverage { limits: loosened(description).into_iter().filter_map(limit).collect() }
}

/// The machines to try: each processor of the platform in every socket, in the independent mode and in each other; then those of the
/// worked rows.
fn machines(platform: &Platform) -> Vec<WorkedRow> {
    let mut all: Vec<WorkedRow> = Vec::new();
    let mut add = |row: WorkedRow| {
        let is_like = |known: &WorkedRow| {
            (&known.processors, &known.mode, &known.options) == (&row.processors, &row.mode, &row.options)
        };
        if !all.iter().any(is_like) {
            all.push(row);
        }
    };
    let modes = platform.description().modes.iter().map(|mode| Some(mode.name.clone()));
    for mode in std::iter::once(None).chain(modes) {
        for processor in &platform.description().processors {
            let sockets = platform.sockets().iter().map(|socket| (socket.label.clone(), processor.name().clone()));
            add(WorkedRow::new(processor.name().clone(), sockets, Basis::Assumed).mode(mode.clone()));
        }
    }
    for row in &platform.description().worked_rows {
        let bare = WorkedRow::new(row.name.clone(), row.processors.clone(), row.basis).mode(row.mode.clone());
        add(bare.options(row.options.iter().cloned()));
    }
    all
}

/// Whether a row is of a processor and a mode, where these are given.
fn is_of(row: &WorkedRow, (processor, mode): (Option<&Name>, Option<&Name>)) -> bool {
    processor.is_none_or(|name| row.processors.values().any(|one| one == name))
        && mode.is_none_or(|mode| row.mode.as_ref() == Some(mode))
}

/// Populations that may tell two descriptions apart.
struct Probe {
    machines: Vec<(WorkedRow, Machine)>,
    modules: Vec<MemoryModule>,
    rules: RuleBook,
    /// How the platform judges each machine's populations, as far as they were looked at.
    known: RefCell<Vec<Vec<Option<Seen>>>>,
}

/// What two descriptions must agree on.
type Seen = (Vec<Name>, Option<DataRate>, Capacity);

impl Probe {
    fn new(platform: &Platform, rules: RuleBook) -> Self {
        let machines = machines(platform).into_iter();
        let machines: Vec<_> =
            machines.filter_map(|row| Some((row.clone(), machine_of(platform, &row).ok()?))).collect();
        let known = RefCell::new(vec![Vec::new(); machines.len()]);
        Self { machines, modules: modules(platform.description()), rules, known }
    }

    /// Looks for a population that a changed description judges otherwise, in the machines of a processor and a mode where these are given.
    fn tell_apart(&self, of: (Option<&Name>, Option<&Name>), changed: &Platform, probes: usize) -> Held {
        let mut tried = 0;
        let mut known = self.known.borrow_mut();
        for ((row, machine), known) in self.machines.iter().zip(known.iter_mut()).filter(|((row, _), _)| is_of(row, of))
        {
            let Ok(other) = machine_of(changed, row) else { continue };
            let (before, after) = (Planner::new(machine, &self.rules), Planner::new(&other, &self.rules));
            let seen =
                |planner: Planner<'_>, population: &Population| planner.assess(population).ok().map(|seen| key(&seen));
            for (index, population) in self.populations(machine).enumerate() {
                if tried == probes {
                    return Held::NoneFound { tried };
                }
                tried += 1;
                if known.len() == index {
                    known.push(seen(before, &population));
                }
                let judged = seen(after, &population);
                if known.get(index).is_some_and(|seen| *seen != judged) {
                    return Held::NotHeld { question: question(row, &population) };
                }
            }
        }
        Held::NoneFound { tried }
    }

    /// So many of each sort in every channel, full ones first; the first sort in as many slots as there are, by turn, and behind empty
    /// slots; then two sorts, in every channel and in unlike ones.
    fn populations<'p>(&'p self, machine: &'p Machine) -> impl Iterator<Item = Population> + 'p {
        let platform = machine.platform();
        let label = |slot: SlotId| platform.slot(slot).label().clone();
        let of_channel = |channel: &Channel| -> Vec<Name> {
            channel.slots.iter().copied().filter(|&slot| machine.is_live(slot)).map(label).collect()
        };
        let channels: Vec<Vec<Name>> = platform.channels().iter().map(of_channel).collect();
        let most = channels.iter().map(Vec::len).max().unwrap_or(0);
        let by_turn: Vec<Name> = machine.live_slots().map(label).collect();
        let fill = move |fill: Fill<'_>| -> Population {
            let in_channel = |index: usize, slots: &'_ [Name]| -> Vec<(Name, &MemoryModule)> {
                let first = slots.iter().cloned();
                match fill {
                    Fill::All { module, count } => first.take(count).map(|slot| (slot, module)).collect(),
                    Fill::ByTurn { module, count } => {
                        let own = by_turn.iter().take(count).filter(|slot| slots.contains(slot));
                        own.map(|slot| (slot.clone(), module)).collect()
                    }
                    Fill::FromEnd { module, count } => {
                        let own = by_turn.iter().rev().take(count).filter(|slot| slots.contains(slot));
                        own.map(|slot| (slot.clone(), module)).collect()
                    }
                    Fill::Behind { module } => first.skip(1).map(|slot| (slot, module)).collect(),
                    Fill::Mixed { one, other } => {
                        let last = slots.len().saturating_sub(1);
                        first.enumerate().map(|(at, slot)| (slot, if at == last { other } else { one })).collect()
                    }
                    Fill::Unlike { one, other } => {
                        first.map(|slot| (slot, if index == 0 { other } else { one })).collect()
                    }
                }
            };
            let slots = channels.iter().enumerate().flat_map(|(index, slots)| in_channel(index, slots));
            slots.map(|(slot, module)| (slot, Occupant::module(module.clone()))).collect()
        };
        let all = machine.live_slots().count();
        let alone =
            (1..=most).rev().flat_map(|count| self.modules.iter().map(move |module| Fill::All { module, count }));
        let first = self.modules.first().into_iter().flat_map(move |module| {
            let by_turn = (1..all).map(move |count| Fill::ByTurn { module, count });
            let from_end = (1..all).map(move |count| Fill::FromEnd { module, count });
            by_turn.chain(from_end).chain((most > 1).then_some(Fill::Behind { module }))
        });
        let pairs = self.modules.iter().enumerate().flat_map(move |(index, one)| {
            let mixed = |one, other| [Fill::Mixed { one, other }, Fill::Mixed { one: other, other: one }];
            self.modules.iter().take(index).flat_map(move |other| {
                mixed(one, other)
                    .into_iter()
                    .take(if most > 1 { 2 } else { 0 })
                    .chain([Fill::Unlike { one: other, other: one }])
            })
        });
        alone.chain(first).chain(pairs).map(fill)
    }
}

/// How a board is filled to try it.
#[derive(Clone, Copy)]
enum Fill<'p> {
    /// So many in every channel.
    All { module: &'p MemoryModule, count: usize },
    /// So many in all, by turn.
    ByTurn { module: &'p MemoryModule, count: usize },
    /// So many in all, in the slots that are last by turn.
    FromEnd { module: &'p MemoryModule, count: usize },
    /// In all slots but the first of each channel.
    Behind { module: &'p MemoryModule },
    /// Full channels of one, with another last.
    Mixed { one: &'p MemoryModule, other: &'p MemoryModule },
    /// Full channels of one, the first of another.
    Unlike { one: &'p MemoryModule, other: &'p MemoryModule },
}

fn key(seen: &Assessment) -> Seen {
    let errors = seen
        .findings
        .iter()
        .filter(|finding| finding.severity == Severity::Error && finding.verdict == Verdict::Violated);
    let mut codes: Vec<Name> = errors.map(|finding| finding.code.clone()).collect();
    codes.sort();
    codes.dedup();
    (codes, seen.figures.running_rate.rate(), seen.figures.usable.total_mib)
}

fn question(row: &WorkedRow, population: &Population) -> ProbeQuestion {
    let mut modules: Vec<(MemoryModule, Vec<Name>)> = Vec::new();
    for (slot, fitted) in population.modules() {
        match modules.iter_mut().find(|(module, _)| *module == fitted.module) {
            Some((_, slots)) => slots.push(slot.clone()),
            None => modules.push((fitted.module.clone(), vec![slot.clone()])),
        }
    }
    let mode = row.mode.clone().filter(|mode| *mode != *Mode::INDEPENDENT);
    ProbeQuestion { processors: row.processors.clone(), mode, modules }
}

/// The modules of the worked rows; then those that differ in one fact from a plain one, of each kind.
fn modules(description: &PlatformDescription) -> Vec<MemoryModule> {
    let generation = description.generation;
    let mut all: Vec<MemoryModule> = Vec::new();
    let mut add = |module: MemoryModule| {
        if !all.contains(&module) {
            all.push(module);
        }
    };
    description.worked_rows.iter().flat_map(|row| &row.modules).for_each(|modules| add(modules.module.clone()));
    let of = |processor: &Processor| {
        (processor.description().max_rate_mts.value, processor.description().die_densities_mbit.clone())
    };
    let highest = description.processors.iter().map(|processor| of(processor).0).max();
    let rates = generation.rates();
    let highest = highest.or(rates.last().copied()).unwrap_or(DataRate::DDR4_3200);
    // a density that all processors take, where they say so
    let is_taken = |density: Density| {
        description.processors.iter().all(|processor| of(processor).1.is_none_or(|list| list.value.contains(&density)))
    };
    let densities: Vec<Density> = die_densities(generation).iter().map(|&gbit| Density::from_gbit(gbit)).collect();
    let usual = densities.iter().copied().rev().find(|&density| is_taken(density)).or(densities.first().copied());
    let ecc = if generation == Generation::Ddr5 { Ecc::Ec8 } else { Ecc::Ecc };
    let plain = |kind| Sort {
        kind,
        ranks: if kind == ModuleKind::LoadReduced { 4 } else { 2 },
        stack: Stack::Single,
        width: if kind == ModuleKind::Unbuffered { DeviceWidth::X8 } else { DeviceWidth::X4 },
        density: usual.unwrap_or(Density::from_gbit(8)),
        ecc: if kind == ModuleKind::Unbuffered { Ecc::None } else { ecc },
        grade: highest,
        voltages: vec![generation.voltage()],
    };
    let kinds = [ModuleKind::Registered, ModuleKind::LoadReduced, ModuleKind::Unbuffered];
    kinds.map(plain).iter().filter_map(|sort| sort.module(generation)).for_each(&mut add);
    for sort in kinds.map(plain) {
        let mut vary = |change: &dyn Fn(&mut Sort)| {
            let mut changed = sort.clone();
            change(&mut changed);
            changed.module(generation).into_iter().for_each(&mut add);
        };
        [1, 2, 4].iter().for_each(|&ranks| vary(&|sort| sort.ranks = ranks));
        DeviceWidth::ALL.iter().for_each(|&width| vary(&|sort| sort.width = width));
        densities.iter().for_each(|&density| vary(&|sort| sort.density = density));
        generation.check_bits().iter().for_each(|&ecc| vary(&|sort| sort.ecc = ecc));
        let next = rates.iter().copied().filter(|rate| *rate > highest).take(1);
        next.for_each(|rate| vary(&|sort| sort.grade = rate));
        generation.voltages().iter().for_each(|&voltage| vary(&|sort| sort.voltages = vec![voltage]));
        let stacks = [Stack::Stacked2, Stack::Stacked4, Stack::Stacked8];
        stacks.iter().for_each(|&stack| vary(&|sort| (sort.stack, sort.ranks) = (stack, 2)));
    }
    all
}

/// The facts of a module to try.
#[derive(Clone)]
struct Sort {
    kind: ModuleKind,
    ranks: u8,
    stack: Stack,
    width: DeviceWidth,
    density: Density,
    ecc: Ecc,
    grade: DataRate,
    voltages: Vec<Voltage>,
}

impl Sort {
    fn module(&self, generation: Generation) -> Option<MemoryModule> {
        let devices = u64::from(64 / self.width.bits()) * u64::from(self.ranks) * u64::from(self.stack.height());
        let mib = u64::from(self.density.mbit()) / 8 * devices;
        let module = MemoryModule::builder(generation, self.kind, Capacity::from_mib(mib))
            .package_ranks(self.ranks)
            .stack(self.stack)
            .width(self.width)
            .die_density(self.density)
            .ecc(self.ecc)
            .grade(self.grade)
            .voltages(Voltages::new(self.voltages.iter().copied()));
        module.build().ok()
    }
}
