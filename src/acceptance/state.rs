//! The state of a machine under faults, and what it reports: the one place that knows.

use crate::acceptance::pieces::Piece;
use crate::figure::usable::rank_size;
use crate::figure::{RunningRate, UsableCapacity};
use crate::machine::Machine;
use crate::module::{MemoryModule, ModuleKind};
use crate::platform::Settings;
use crate::population::{Content, Layout, PlaceState, SeenModule};
use crate::unit::{Capacity, DataRate, Name};

/// Slots with planned modules that can fail to be read together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Unit {
    pub(crate) sort: UnitSort,
    /// In the board's order.
    pub(crate) slots: Vec<usize>,
}

/// What the slots of a unit have in common.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum UnitSort {
    Slot,
    Machine,
    Channel(usize),
    Socket(usize),
    Part,
}

/// A fault, by numbers of slots and units.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum Fault {
    /// A unit is read as so.
    Unread { unit: usize, reads: PlaceState },
    /// The module planned for each slot sits in the next; that of the last in the first where it is closed, else nothing
    /// is planned to leave the last.
    Move { path: Vec<usize>, is_closed: bool },
    /// The module planned for `to` still sits in `from`, where it was before, so that the one planned there could not be put in.
    Undone { from: usize, to: usize },
    /// Another module, and how it is read.
    Foreign { slot: usize, reads: PlaceState },
    /// How the machine is set, or how it reports.
    Setting(SettingFault),
}

#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum SettingFault {
    Mode(Name),
    Profile(Name),
    Cap(DataRate),
    /// Modules that run at this rate are rated for no more.
    LowerGrade(DataRate),
    RatedForRunning,
    /// By its place among the totals.
    Total(usize),
    Rate,
}

/// What is in a slot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Held {
    Empty,
    /// The module planned for that slot, which may be this one.
    Planned(usize),
    Foreign,
    /// What cannot be: two modules, or one that is put where nothing is read.
    Clash,
}

/// The places of modules and how they are read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct State {
    pub(crate) held: Vec<Held>,
    /// `InUse` where nothing is wrong.
    pub(crate) reads: Vec<PlaceState>,
}

impl State {
    /// What the planned population becomes under faults, in whatever order they are named.
    pub(crate) fn of(pieces: &[Option<Piece<'_>>], units: &[Unit], faults: &[Fault]) -> Self {
        let own = |(slot, piece): (usize, &Option<Piece<'_>>)| match piece {
            Some(_) => Held::Planned(slot),
            None => Held::Empty,
        };
        let held: Vec<Held> = pieces.iter().enumerate().map(own).collect();
        let mut state = Self { reads: vec![PlaceState::InUse; held.len()], held };
        let unit = |at: &usize| units.get(*at).map_or(&[][..], |unit| unit.slots.as_slice());
        // what leaves its slot
        for fault in faults {
            match fault {
                Fault::Move { path, is_closed } => {
                    let leaving = path.len() - usize::from(!is_closed);
                    path.iter().take(leaving).for_each(|&slot| state.put(slot, Held::Empty));
                }
                Fault::Unread { unit: at, reads: PlaceState::Absent } => {
                    if let [slot] = unit(at) {
                        state.put(*slot, Held::Empty);
                    }
                }
                Fault::Undone { from, to } => {
                    state.put(*from, Held::Empty);
                    state.put(*to, Held::Empty);
                }
                Fault::Unread { .. } | Fault::Foreign { .. } | Fault::Setting(_) => {}
            }
        }
        // what comes
        for fault in faults {
            if let Fault::Move { path, is_closed } = fault {
                for (&from, &to) in path.iter().zip(path.iter().skip(1)) {
                    state.come(to, from);
                }
                if let (true, Some(&last), Some(&first)) = (is_closed, path.last(), path.first()) {
                    state.come(first, last);
                }
            }
        }
        for fault in faults {
            if let Fault::Undone { from, to } = fault {
                state.come(*from, *to);
            }
            if let Fault::Foreign { slot, reads } = fault {
                if let Some(place) = state.reads.get_mut(*slot) {
                    *place = *reads;
                }
                let is_own = state.held(*slot) == Held::Planned(*slot) || state.held(*slot) == Held::Empty;
                state.put(*slot, if is_own { Held::Foreign } else { Held::Clash });
            }
        }
        // how it is read: nothing at all goes before failed, that before not in use
        for reads in [PlaceState::NotInUse, PlaceState::Failed, PlaceState::Absent] {
            for fault in faults {
                match fault {
                    Fault::Unread { unit: at, reads: own } if *own == reads => {
                        let slots = unit(at);
                        if reads != PlaceState::Absent || slots.len() > 1 {
                            slots.iter().for_each(|&slot| state.read(slot, reads));
                        }
                    }
                    _ => {}
                }
            }
        }
        state
    }

    pub(crate) fn held(&self, slot: usize) -> Held {
        self.held.get(slot).copied().unwrap_or(Held::Empty)
    }

    pub(crate) fn reads(&self, slot: usize) -> PlaceState {
        self.reads.get(slot).copied().unwrap_or(PlaceState::Unknown)
    }

    fn put(&mut self, slot: usize, held: Held) {
        if let Some(place) = self.held.get_mut(slot) {
            *place = held;
        }
    }

    fn come(&mut self, to: usize, from: usize) {
        let held = if self.held(to) == Held::Empty { Held::Planned(from) } else { Held::Clash };
        self.put(to, held);
    }

    fn read(&mut self, slot: usize, reads: PlaceState) {
        // a module that came is seen where it came to
        let is_own = matches!(self.held(slot), Held::Planned(own) if own == slot) || self.held(slot) == Held::Empty;
        if reads == PlaceState::Absent && !is_own {
            self.put(slot, Held::Clash);
        }
        if let Some(place) = self.reads.get_mut(slot) {
            *place = reads;
        }
    }
}

/// The states that a slot with a planned module, here or from elsewhere, may be read in.
pub(crate) fn may_read(machine: &Machine, slot: usize, piece: &Piece<'_>, reads: PlaceState) -> Readable {
    let is_live = || machine.platform().slot_ids().nth(slot).is_some_and(|slot| machine.is_live(slot));
    match reads {
        PlaceState::InUse if piece.fault.is_some() || !is_live() => Readable::Any,
        PlaceState::InUse if piece.module.is_none() => Readable::Filled,
        reads => Readable::Only(reads),
    }
}

/// In which states a slot may be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Readable {
    Only(PlaceState),
    /// Present, whatever becomes of it: a device that is no plain memory.
    Filled,
    /// A slot that is not live, or a module that is known to be faulty.
    Any,
}

impl Readable {
    pub(crate) fn allows(self, state: PlaceState) -> bool {
        match self {
            Self::Only(only) => state == only,
            Self::Filled => state.is_filled(),
            Self::Any => true,
        }
    }

    /// What a report of it says.
    pub(crate) fn written(self) -> PlaceState {
        match self {
            Self::Only(only) => only,
            Self::Filled => PlaceState::InUse,
            Self::Any => PlaceState::NotInUse,
        }
    }
}

/// What a machine sums up and runs at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Sums {
    pub(crate) usable: Capacity,
    pub(crate) rate: RunningRate,
    /// Whether a module in use is of unknown size, so that nothing can be summed up.
    pub(crate) is_open: bool,
    /// The smallest module in use, or the smallest rank that a mode of the board may spare.
    pub(crate) smallest: Capacity,
}

/// The machine as it is set under faults.
pub(crate) fn as_set(machine: &Machine, faults: &[Fault]) -> Machine {
    let change = |settings: &mut Settings| {
        for fault in faults {
            match fault {
                Fault::Setting(SettingFault::Mode(mode)) => settings.mode = Some(mode.clone()),
                Fault::Setting(SettingFault::Profile(profile)) => settings.power_profile = Some(profile.clone()),
                Fault::Setting(SettingFault::Cap(cap)) => settings.rate_cap_mts = Some(*cap),
                _ => {}
            }
        }
    };
    let is_set = |fault: &Fault| {
        matches!(fault, Fault::Setting(SettingFault::Mode(_) | SettingFault::Profile(_) | SettingFault::Cap(_)))
    };
    if faults.iter().any(is_set) { machine.set_otherwise(change) } else { machine.clone() }
}

/// What follows from what is in use. `foreign` gives the module of a slot that holds another than planned.
pub(crate) fn sums<'a>(
    machine: &'a Machine,
    pieces: &[Option<Piece<'a>>],
    state: &State,
    foreign: &'a [Option<MemoryModule>],
) -> Sums {
    let mut layout = Layout::empty(machine);
    let mut smallest: Option<Capacity> = None;
    let mut is_open = false;
    for (at, slot) in machine.platform().slot_ids().enumerate() {
        if state.reads(at) != PlaceState::InUse || !machine.is_live(slot) {
            continue;
        }
        let module = match state.held(at) {
            Held::Planned(from) => {
                let piece = pieces.get(from).and_then(Option::as_ref).filter(|piece| piece.fault.is_none());
                piece.and_then(|piece| piece.module)
            }
            Held::Foreign => {
                let foreign = foreign.get(at).and_then(Option::as_ref);
                is_open |= foreign.is_none();
                foreign
            }
            Held::Empty | Held::Clash => None,
        };
        if let Some(module) = module {
            layout.set(slot, Content::Module(module));
            smallest = Some(smallest.map_or(module.capacity(), |least| least.min(module.capacity())));
        }
    }
    let smallest = smallest.unwrap_or(Capacity::ZERO);
    let spares = machine.platform().description().modes.iter().any(|mode| mode.spare_ranks() > 0);
    let smallest = if spares { smallest_rank(&layout).map_or(smallest, |rank| rank.min(smallest)) } else { smallest };
    Sums { usable: UsableCapacity::of(&layout).total_mib, rate: RunningRate::of(&layout), is_open, smallest }
}

/// The smallest counted rank of a layout.
fn smallest_rank(layout: &Layout<'_>) -> Option<Capacity> {
    let ranks = layout.channels().flat_map(|channel| {
        let lines = channel.processor().map_or(&[][..], |processor| processor.description().counted_ranks.as_slice());
        let count = channel.len();
        channel.modules().map(move |site| rank_size(lines, site.module, count).0).collect::<Vec<_>>()
    });
    ranks.min().map(Capacity::from_mib)
}

/// A module of which a report tells some facts. The others are those of a planned module that it may be a like of, or what the one planned there has;
/// where none is planned, what all planned modules of its generation have in common.
pub(crate) fn foreign_module(
    machine: &Machine,
    pieces: &[Option<Piece<'_>>],
    slot: usize,
    shows: &SeenModule,
) -> Option<MemoryModule> {
    if shows.device.is_some() {
        return None;
    }
    let own = pieces.get(slot).and_then(Option::as_ref);
    let is_like = |piece: &&Piece<'_>| !piece.facts.is_unlike(shows);
    let like = pieces.iter().flatten().filter(|piece| piece.module.is_some()).find(is_like);
    let planned = like.or(own).and_then(|piece| piece.module);
    let generation = shows.generation.unwrap_or(machine.platform().generation());
    let planned = planned.filter(|planned| planned.generation() == generation);
    let mut all = pieces.iter().flatten().filter_map(|piece| piece.module).filter(|own| own.generation() == generation);
    let common = |own: &MemoryModule| (own.form_factor(), own.ecc(), own.voltages().cloned());
    let shared = all.next().filter(|first| all.all(|other| common(other) == common(first)));
    let beside = planned.or(shared);
    let kind = shows.kind.or(planned.map(MemoryModule::kind)).unwrap_or(ModuleKind::Registered);
    let capacity = shows.capacity_mib?;
    let told = MemoryModule::builder(generation, kind, capacity)
        .package_ranks(shows.package_ranks)
        .stack(shows.stack)
        .width(shows.width)
        .die_density(shows.die_density_mbit)
        .grade(shows.grade_mts)
        .form_factor(shows.form_factor.or(beside.and_then(MemoryModule::form_factor)))
        .ecc(shows.ecc.or(beside.and_then(MemoryModule::ecc)))
        .voltages(shows.voltages_mv.clone().or(beside.and_then(|beside| beside.voltages().cloned())))
        .part_number(shows.part_number.clone())
        .maker(shows.maker.clone());
    let filled = planned.filter(|planned| planned.capacity() == capacity).map(|planned| {
        told.clone()
            .package_ranks(shows.package_ranks.or(planned.package_ranks()))
            .stack(shows.stack.or(planned.stack()))
            .width(shows.width.or(planned.width()))
            .die_density(shows.die_density_mbit.or(planned.die_density()))
            .grade(shows.grade_mts.or(planned.grade()))
    });
    let bare = || MemoryModule::builder(generation, kind, capacity).grade(shows.grade_mts).build().ok();
    filled.and_then(|filled| filled.build().ok()).or_else(|| told.build().ok()).or_else(bare)
}
