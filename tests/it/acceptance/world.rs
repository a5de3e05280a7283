//! Small machines, faults and the reports that they give, worked out without the code under test: only figures are asked of the library.

use std::collections::{BTreeMap, BTreeSet};

use itertools::Itertools;
use slotwright::acceptance::WorkFault;
use slotwright::module::{Generation, Individual, MemoryModule, ModuleKind};
use slotwright::platform::{
    ChannelDescription, ChannelGroup, ControllerDescription, Identical, Mode, PlatformDescription, PowerProfile,
    RatePolicy, Redundancy, Settings, SlotDescription, SocketDescription,
};
use slotwright::population::{
    Fitted, Medium, Occupant, PlaceState, Population, Report, SeenModule, SeenPlace, SeenTotal, TotalOf,
};
use slotwright::processor::{ModulePattern, ProcessorDescription, RateTable};
use slotwright::stated::Basis;
use slotwright::unit::{DataRate, Name};
use slotwright::{Machine, Planner, RuleBook};

use crate::boards::{module, name};

/// A board of sockets x channels x slots ("1A1" to "2B2"), 2666 MT/s at one module a channel, 2400 at two and 2133 at three; a mirrored mode, one with a spare rank,
/// a profile.
pub fn machine(sockets: usize, channels: usize, slots: usize, policy: RatePolicy, mode: Option<&str>) -> Machine {
    let letter = |channel: usize| char::from(b'A' + u8::try_from(channel).unwrap());
    let slot = |s: usize, c: usize, p: usize| {
        let turn = u16::try_from((p * channels + c) * sockets + s).unwrap();
        SlotDescription::new(name(&format!("{}{}{}", s + 1, letter(c), p + 1)), u8::try_from(p).unwrap(), turn)
    };
    let channel =
        |s: usize, c: usize| ChannelDescription::new(name(&letter(c).to_string()), (0..slots).map(|p| slot(s, c, p)));
    let socket = |s: usize| {
        let controller = ControllerDescription::new(name("0"), (0..channels).map(|c| channel(s, c)));
        SocketDescription::new(name(&(s + 1).to_string()), [controller])
    };
    let group = |s: usize| ChannelGroup::new(name(&(s + 1).to_string()), ["A", "B"].map(name));
    let board = PlatformDescription::new(name("small"), Generation::Ddr4, (0..sockets).map(socket).collect())
        .rate_policy(policy)
        .modes([
            Mode::new(name("mirrored"), Redundancy::Mirrored, Basis::BoardManual)
                .identical(Identical::Capacity)
                .groups((0..sockets).map(group)),
            Mode::new(name("spare"), Redundancy::RankSparing { spare_ranks: 1 }, Basis::BoardManual),
        ])
        .power_profiles([PowerProfile::new(name("quiet"), DataRate::DDR4_1866, Basis::BoardManual)])
        .default_settings(Settings::default().mode(mode.map(name)));
    let kinds = [ModuleKind::Registered];
    let rates = RateTable::new(Basis::DataSheet).by_load(
        &ModulePattern::kind(ModuleKind::Registered),
        &[DataRate::DDR4_2666, DataRate::DDR4_2400, DataRate::DDR4_2133].map(Some),
    );
    let processor =
        ProcessorDescription::new(name("proc"), Generation::Ddr4, kinds, DataRate::DDR4_2666, Basis::DataSheet)
            .rate_table(rates)
            .build()
            .unwrap();
    let builder = Machine::builder(board.build().unwrap());
    (0..sockets).fold(builder, |builder, s| builder.processor(&(s + 1).to_string(), processor.clone())).build().unwrap()
}

/// A module of a sort, which may have a serial number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Item {
    pub sort: usize,
    pub serial: Option<usize>,
}

/// The sorts: unlike sizes, the last of a lower grade.
pub fn sorts() -> Vec<MemoryModule> {
    ["16GB 1Rx4 PC4-2666V-RC2-12", "32GB 2Rx4 PC4-2666V-RB2-12", "8GB 1Rx8 PC4-2400T-RD1-11"].map(module).to_vec()
}

/// How many sorts there are of unlike sizes.
const SIZES: usize = 3;

/// The rates of lower grades.
const LOWER: [DataRate; 2] = [DataRate::DDR4_2400, DataRate::DDR4_1866];

/// The sorts, then those of the lower grades.
fn sorts_of_all_grades() -> Vec<MemoryModule> {
    let again = |rate: &DataRate| {
        let lower = |own: MemoryModule| {
            let told = MemoryModule::builder(own.generation(), own.kind(), own.capacity());
            let told = told.package_ranks(own.package_ranks()).stack(own.stack()).width(own.width());
            let told = told.die_density(own.die_density()).form_factor(own.form_factor()).ecc(own.ecc());
            told.voltages(own.voltages().cloned()).grade(*rate).build().unwrap()
        };
        sorts().into_iter().map(lower).collect::<Vec<_>>()
    };
    sorts().into_iter().chain(LOWER.iter().flat_map(again)).collect()
}

/// A fault as it is enumerated here, by numbers of slots.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Injected {
    Unread(BTreeSet<usize>, PlaceState),
    Wrong(usize, usize),
    Cycle(Vec<usize>),
    Undone(usize, usize),
    Foreign(usize, Item, PlaceState),
    Mode(&'static str),
    Profile,
    Cap(DataRate),
    Rated,
    /// Modules at these sockets are rated for no more, and the report gives the running rate as the rated one.
    Lower(BTreeSet<usize>, DataRate),
    /// The firmware's total is short by less than a module or rank; how much it then says is no part of the fault.
    Total,
}

/// What a report shows of a slot: state, module, rate.
type Shown = (PlaceState, Option<Item>, Option<DataRate>);

/// What a report shows.
pub type View = (Vec<Shown>, u64);

pub struct World {
    pub machine: Machine,
    pub rules: RuleBook,
    pub plan: Vec<Option<Item>>,
    sorts: Vec<MemoryModule>,
    labels: Vec<Name>,
    /// Whether reports tell serial numbers.
    pub serials: bool,
    /// Whether reports give the running rate as the rated one, too.
    pub running_for_rated: bool,
    /// What was there before, where that is known.
    pub before: Vec<Option<Item>>,
}

impl World {
    pub fn new(machine: Machine, plan: Vec<Option<usize>>, serials: bool) -> Self {
        let labels = machine.platform().slots().iter().map(|slot| slot.label().clone()).collect();
        let item = |(slot, sort): (usize, Option<usize>)| Some(Item { sort: sort?, serial: serials.then_some(slot) });
        let plan = plan.into_iter().enumerate().map(item).collect();
        Self {
            machine,
            rules: RuleBook::standard(),
            plan,
            sorts: sorts_of_all_grades(),
            labels,
            serials,
            running_for_rated: false,
            before: Vec::new(),
        }
    }

    pub fn planner(&self) -> Planner<'_> {
        Planner::new(&self.machine, &self.rules)
    }

    fn occupant(&self, item: Item) -> Occupant {
        let fitted = Fitted::new(self.sorts[item.sort].clone());
        let id = item.serial.map(|serial| Individual::new(name(&format!("5A{serial:04}"))));
        Occupant::Module(fitted.individual(id))
    }

    pub fn population(&self) -> Population {
        self.population_of(&self.plan)
    }

    pub fn population_of(&self, items: &[Option<Item>]) -> Population {
        let filled = self.labels.iter().zip(items).filter_map(|(label, item)| Some((label.clone(), (*item)?)));
        filled.map(|(label, item)| (label, self.occupant(item))).collect()
    }

    fn planned(&self) -> impl Iterator<Item = usize> + '_ {
        (0..self.plan.len()).filter(|&slot| self.plan[slot].is_some())
    }

    /// Every single fault that shows.
    pub fn faults(&self) -> Vec<Injected> {
        let mut faults = Vec::new();
        let platform = self.machine.platform();
        let mut units: BTreeSet<BTreeSet<usize>> = self.planned().map(|slot| BTreeSet::from([slot])).collect();
        let mut add = |key: &dyn Fn(usize) -> String| {
            let mut by_key: BTreeMap<String, BTreeSet<usize>> = BTreeMap::new();
            self.planned().for_each(|slot| {
                by_key.entry(key(slot)).or_default().insert(slot);
            });
            units.extend(by_key.into_values());
        };
        add(&|slot| format!("{:?}", platform.slots()[slot].channel));
        add(&|slot| format!("{:?}", platform.slots()[slot].socket));
        add(&|slot| self.plan[slot].unwrap().sort.to_string());
        add(&|_| "the whole machine".to_owned());
        for unit in units {
            for reads in [PlaceState::Absent, PlaceState::Failed, PlaceState::NotInUse] {
                faults.push(Injected::Unread(unit.clone(), reads));
            }
        }
        for from in self.planned() {
            for to in (0..self.plan.len()).filter(|&to| to != from && self.plan[to] != self.plan[from]) {
                faults.push(Injected::Wrong(from, to));
            }
        }
        let mut paths: Vec<Vec<usize>> = self.planned().map(|slot| vec![slot]).collect();
        while let Some(path) = paths.pop() {
            if path.len() > 1 {
                faults.push(Injected::Cycle(path.clone()));
            }
            let is_new = |next: &usize| {
                *next > path[0] && path.iter().all(|&slot| slot != *next && self.plan[slot] != self.plan[*next])
            };
            let next: Vec<usize> = self.planned().filter(is_new).collect();
            paths.extend(next.into_iter().map(|next| [path.clone(), vec![next]].concat()));
        }
        let mut others: BTreeSet<Item> = self.plan.iter().copied().flatten().collect();
        others.insert(Item { sort: 2, serial: self.serials.then_some(99) });
        if self.running_for_rated {
            // the grade of a module that is not the planned one is not known
            let lower = |item: &Item| {
                (1..=LOWER.len()).map(|at| Item { sort: item.sort + at * SIZES, ..*item }).collect::<Vec<_>>()
            };
            let all: Vec<Item> = others.iter().flat_map(lower).collect();
            others.extend(all);
        }
        for slot in 0..self.plan.len() {
            for &item in &others {
                for reads in [PlaceState::InUse, PlaceState::Failed, PlaceState::NotInUse] {
                    faults.push(Injected::Foreign(slot, item, reads));
                }
            }
        }
        for mode in ["independent", "mirrored", "spare"].into_iter().filter(|mode| *mode != self.machine.mode()) {
            faults.push(Injected::Mode(mode));
        }
        faults.extend([Injected::Profile, Injected::Rated]);
        let caps = [DataRate::DDR4_1866, DataRate::DDR4_2133, DataRate::DDR4_2400, DataRate::DDR4_2666];
        let is_seen = |rate: &DataRate| !self.running_for_rated || *rate != DataRate::DDR4_2133;
        faults.extend(caps.into_iter().filter(is_seen).map(Injected::Cap));
        // a move to an empty slot, from one into which something else was to come
        for (from, to) in
            (0..self.before.len()).tuple_combinations().flat_map(|(one, other)| [(one, other), (other, one)])
        {
            let is_refilled = self.plan[from].is_some() && self.plan[from] != self.plan[to];
            if self.before[from].is_some()
                && self.before[from] == self.plan[to]
                && self.before[to].is_none()
                && is_refilled
            {
                faults.push(Injected::Undone(from, to));
            }
        }
        if self.running_for_rated {
            let sockets = (0..platform.sockets().len()).powerset().filter(|sockets| !sockets.is_empty());
            for sockets in sockets {
                let lower = |rate| Injected::Lower(sockets.iter().copied().collect(), rate);
                faults.extend(LOWER.map(lower));
            }
        }
        faults
    }

    /// What a report shows under faults; nothing where they cannot be together.
    pub fn view(&self, faults: &[Injected]) -> Option<View> {
        let settings = |is: fn(&Injected) -> bool| faults.iter().filter(|fault| is(fault)).count();
        if settings(|fault| matches!(fault, Injected::Mode(_))) > 1
            || settings(|fault| matches!(fault, Injected::Cap(_))) > 1
        {
            return None;
        }
        let (items, states) = self.placed(faults)?;
        let machine = self.set(faults);
        let used = |slot: usize| items[slot].filter(|_| states[slot] == PlaceState::InUse);
        let in_use = (0..items.len()).filter_map(|slot| Some((self.labels[slot].clone(), self.occupant(used(slot)?))));
        let figures = Planner::new(&machine, &self.rules).assess(&in_use.collect()).unwrap().figures;
        let rate = |slot: usize| {
            let item = used(slot)?;
            if faults.contains(&Injected::Rated) {
                return self.sorts[item.sort].grade();
            }
            let platform = machine.platform();
            let socket = |slot: usize| platform.slots()[slot].socket;
            let domains = &figures.running_rate.domains;
            let domain =
                |slot| domains.iter().find(|domain| domain.sockets.contains(&platform.socket(socket(slot)).label));
            let own = domain(slot)?;
            // a module holds all that run with it
            let holds = |sockets: &BTreeSet<usize>| {
                let mut used = (0..items.len()).filter(|&slot| used(slot).is_some());
                used.any(|slot| domain(slot) == Some(own) && sockets.contains(&socket(slot).index()))
            };
            let lower = faults.iter().filter_map(|fault| match fault {
                Injected::Lower(sockets, rate) if holds(sockets) => Some(*rate),
                _ => None,
            });
            lower.chain([own.rate_mts?]).min()
        };
        // where the running rate is given as the rated one, the grade of a module in use is not told
        let told = |slot: usize| {
            let is_hidden = self.running_for_rated && states[slot] == PlaceState::InUse;
            items[slot].map(|item| if is_hidden { Item { sort: item.sort % SIZES, ..item } } else { item })
        };
        let shown = |slot: usize| (states[slot], told(slot), rate(slot));
        Some(((0..items.len()).map(shown).collect(), figures.usable.total_mib.mib()))
    }

    /// The smallest rank of a module in use, in MiB, under faults that can be.
    pub fn smallest(&self, faults: &[Injected]) -> Option<u64> {
        let (items, states) = self.placed(faults)?;
        let used = items.iter().zip(states).filter(|(_, state)| *state == PlaceState::InUse);
        let rank = |item: &Item| {
            let module = &self.sorts[item.sort];
            module.capacity().mib() / u64::from(module.package_ranks().unwrap())
        };
        used.filter_map(|(item, _)| item.as_ref().map(rank)).min()
    }

    /// What sits in each slot, and how it is read.
    fn placed(&self, faults: &[Injected]) -> Option<(Vec<Option<Item>>, Vec<PlaceState>)> {
        let mut moves: Vec<(usize, usize)> = Vec::new();
        let mut undone: Vec<(usize, usize)> = Vec::new();
        let mut gone: BTreeSet<usize> = BTreeSet::new();
        for fault in faults {
            match fault {
                Injected::Wrong(from, to) => moves.push((*from, *to)),
                Injected::Undone(from, to) => {
                    moves.push((*to, *from));
                    undone.push((*from, *to));
                }
                Injected::Cycle(path) => {
                    moves.extend((0..path.len()).map(|at| (path[at], path[(at + 1) % path.len()])));
                }
                Injected::Unread(slots, PlaceState::Absent) if slots.len() == 1 => gone.extend(slots),
                _ => {}
            }
        }
        // of equal modules the first went to the first slot
        let is_crossed = |(one, other): (&(usize, usize), &(usize, usize))| {
            self.plan[one.1] == self.plan[other.1] && (one.0 < other.0) != (one.1 < other.1)
        };
        if undone.iter().tuple_combinations().any(is_crossed) {
            return None;
        }
        // a module has one fate
        let not_put_in = undone.iter().map(|(from, _)| *from);
        let fates = moves.iter().map(|(from, _)| *from).chain(gone.iter().copied());
        let fates: Vec<usize> = fates.chain(not_put_in).collect();
        if fates.iter().collect::<BTreeSet<_>>().len() < fates.len() {
            return None;
        }
        let mut items = self.plan.clone();
        fates.iter().for_each(|&slot| items[slot] = None);
        let mut came = BTreeSet::new();
        for (from, to) in moves {
            if items[to].is_some() {
                return None;
            }
            items[to] = self.plan[from];
            came.insert(to);
        }
        let mut states: Vec<PlaceState> = vec![PlaceState::InUse; items.len()];
        for fault in faults {
            if let Injected::Foreign(slot, item, reads) = fault {
                // another than the one that is there
                // what nothing tells from the module planned there is no other
                let is_hidden = item.sort >= SIZES;
                if is_hidden && self.plan[*slot].is_some_and(|own| own.sort == item.sort % SIZES) {
                    return None;
                }
                let is_same = |own: Item| own.sort % SIZES == item.sort % SIZES && own.serial == item.serial;
                if items[*slot].is_some_and(is_same) || !came.insert(*slot) {
                    return None;
                }
                items[*slot] = Some(*item);
                states[*slot] = *reads;
            }
        }
        for reads in [PlaceState::NotInUse, PlaceState::Failed, PlaceState::Absent] {
            for fault in faults {
                match fault {
                    Injected::Unread(slots, own) if *own == reads => {
                        if reads == PlaceState::Absent {
                            // of one slot, what was planned for it is gone already
                            if slots.len() == 1 {
                                continue;
                            }
                            // what came is seen where it came to
                            if slots.iter().any(|slot| came.contains(slot)) {
                                return None;
                            }
                            slots.iter().for_each(|&slot| items[slot] = None);
                        }
                        slots.iter().for_each(|&slot| states[slot] = reads);
                    }
                    _ => {}
                }
            }
        }
        for slot in 0..items.len() {
            if items[slot].is_none() {
                states[slot] = PlaceState::Absent;
            }
        }
        Some((items, states))
    }

    fn set(&self, faults: &[Injected]) -> Machine {
        let mut description = self.machine.description().clone();
        for fault in faults {
            match fault {
                Injected::Mode(mode) => description.settings.mode = Some(name(mode)),
                Injected::Profile => description.settings.power_profile = Some(name("quiet")),
                Injected::Cap(rate) => description.settings.rate_cap_mts = Some(*rate),
                _ => {}
            }
        }
        description.build().unwrap()
    }

    /// The report of a view, which tells of modules no more than sizes, grades and serial numbers where it is `short`.
    pub fn report(&self, view: &View, short: bool) -> Report {
        let (slots, total) = view;
        let report = Report::new(name("after"), Medium::Machine);
        let place = |(slot, (state, item, rate)): (usize, &Shown)| {
            let seen = item.map(|item| {
                let whole = SeenModule::of(&self.sorts[item.sort]);
                let whole = if self.running_for_rated { whole.clone().grade(rate.or(whole.grade_mts)) } else { whole };
                let few = || SeenModule::new().capacity(whole.capacity_mib).grade(whole.grade_mts);
                let serial = item.serial.map(|serial| name(&format!("5A{serial:04}")));
                if short { few() } else { whole.clone() }.serial(serial)
            });
            let label = self.labels[slot].clone();
            SeenPlace::new(label.clone(), *state).locator(label).module(seen).running_rate(*rate)
        };
        let total = SeenTotal::new(TotalOf::Firmware, slotwright::Capacity::from_mib(*total));
        report.places(slots.iter().enumerate().map(place)).totals([total])
    }

    fn label(&self, slot: usize) -> &str {
        self.labels[slot].as_str()
    }

    /// A fault in words that are compared.
    pub fn words(&self, fault: &Injected) -> String {
        let list =
            |slots: &mut dyn Iterator<Item = &usize>| slots.map(|slot| self.label(*slot)).collect::<Vec<_>>().join(" ");
        match fault {
            Injected::Unread(slots, reads) => format!("unread {} {reads:?}", list(&mut slots.iter())),
            Injected::Undone(from, to) => format!("undone {} {}", self.label(*from), self.label(*to)),
            Injected::Wrong(from, to) => format!("wrong {} {}", self.label(*from), self.label(*to)),
            Injected::Cycle(path) => format!("cycle {}", list(&mut path.iter())),
            Injected::Foreign(slot, ..) => format!("foreign {}", self.label(*slot)),
            Injected::Mode(mode) => format!("mode {mode}"),
            Injected::Profile => "profile quiet".to_owned(),
            Injected::Cap(rate) => format!("cap {rate}"),
            Injected::Rated => "rated".to_owned(),
            Injected::Lower(_, rate) => format!("lower {rate}"),
            Injected::Total => "total".to_owned(),
        }
    }
}

/// The same of what is answered.
pub fn words(fault: &WorkFault) -> String {
    let list = |slots: &[Name]| slots.iter().map(Name::as_str).collect::<Vec<_>>().join(" ");
    match fault {
        WorkFault::Unread { slots, reads, .. } | WorkFault::PartUnread { slots, reads } => {
            format!("unread {} {reads:?}", list(slots))
        }
        WorkFault::WrongSlot { from, to } => format!("wrong {from} {to}"),
        WorkFault::MoveUndone { from, to } => format!("undone {from} {to}"),
        WorkFault::Swapped { first, second } => format!("cycle {first} {second}"),
        WorkFault::Rotated { slots } => format!("cycle {}", list(slots)),
        WorkFault::WrongPart { slot, .. } | WorkFault::Unplanned { slot, .. } => format!("foreign {slot}"),
        WorkFault::Mode { runs } => format!("mode {runs}"),
        WorkFault::PowerProfile { runs } => format!("profile {runs}"),
        WorkFault::RateCap { rate_mts } => format!("cap {rate_mts}"),
        WorkFault::LowerGrade { rate_mts, .. } => format!("lower {rate_mts}"),
        WorkFault::RatedForRunning => "rated".to_owned(),
        WorkFault::TotalAtFault { of: TotalOf::Firmware } => "total".to_owned(),
        other => format!("{other:?}"),
    }
}
