//! Totals, rates and the mode that a report states, against those of a state.

use std::collections::BTreeSet;

use crate::acceptance::pieces::Piece;
use crate::acceptance::scene::Scene;
use crate::acceptance::state::{Fault, Held, SettingFault, State, Sums, as_set, foreign_module, sums};
use crate::figure::DomainRate;
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::{Mode, Platform};
use crate::population::{self, PlaceState, TotalOf};
use crate::unit::{Capacity, DataRate, Name};

/// What is needed to judge sums.
pub(crate) struct Figured<'a> {
    machine: &'a Machine,
    /// By slot: the module that is seen there, where it is another than planned.
    foreign: Vec<Option<MemoryModule>>,
    reserve: Option<Capacity>,
    /// What may be wrong with how it is set, or with how it reports.
    settings: Vec<SettingFault>,
    /// Whether a mode that may be on takes slots away that the planned one does not, so that slots must be judged with it.
    pub(crate) masks_differ: bool,
}

/// How a figure that a report states stands to that of a state.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Stands {
    Agrees,
    Differs,
    /// It tells nothing.
    Silent,
}

impl<'a> Figured<'a> {
    pub(crate) fn new(scene: &Scene<'a>, reserve: Option<Capacity>) -> Self {
        let other = |slot: usize| {
            let seen = scene.seen(slot).filter(|seen| seen.state.is_filled())?;
            let is_planned = scene.piece(slot).is_some() && scene.fits(slot, slot);
            if is_planned { None } else { foreign_module(scene.machine, scene.pieces, slot, &seen.shows()) }
        };
        let foreign = (0..scene.pieces.len()).map(other).collect();
        let mut figured =
            Self { machine: scene.machine, foreign, reserve: None, settings: Vec::new(), masks_differ: false };
        // a reserve tells nothing that is as large as what may be missing
        let smallest = || figured.sums(scene.machine, scene, &scene.state(&[])).smallest;
        figured.reserve = reserve.filter(|reserve| *reserve < smallest());
        figured
    }

    /// The faults of settings and of reporting that may explain what a state does not. What a report has wrong in itself comes
    /// last: only where nothing else explains it, or a total is short by less than a module.
    pub(crate) fn with_settings(self, scene: &Scene<'a>, state: &State, is_last: bool) -> Self {
        let sums = self.sums(self.machine, scene, state);
        let totals_off: Vec<usize> =
            (0..scene.seen.totals.len()).filter(|&at| self.total(scene, &sums, at) == Stands::Differs).collect();
        let rates_off = self.rates(scene, &sums, state, &[]) == Stands::Differs;
        let mode_off = !mode_agrees(scene, self.machine.mode());
        let mut settings: BTreeSet<SettingFault> = BTreeSet::new();
        if !totals_off.is_empty() || rates_off || mode_off || self.masks_slots(scene) {
            let others = modes(self.machine.platform()).filter(|mode| *mode != *self.machine.mode());
            settings.extend(others.map(SettingFault::Mode));
        }
        if rates_off {
            settings.extend(self.of_rates(scene));
        }
        if is_last {
            // where slots are open, they may be explained by what puts a total off
            settings.extend((0..scene.seen.totals.len()).map(SettingFault::Total));
            settings.insert(SettingFault::Rate);
        }
        for at in totals_off {
            let short = scene.seen.totals.get(at).map(|total| sums.usable.saturating_sub(total.capacity_mib));
            let is_small = short.is_some_and(|short| !short.is_zero() && short < sums.smallest);
            if is_small {
                settings.insert(SettingFault::Total(at));
            }
        }
        let masks_differ = settings.iter().any(|fault| match fault {
            SettingFault::Mode(mode) => self.masks_seen(scene, mode),
            _ => false,
        });
        Self { settings: settings.into_iter().collect(), masks_differ, ..self }
    }

    /// What may give other rates.
    fn of_rates(&self, scene: &Scene<'_>) -> Vec<SettingFault> {
        let own = self.machine.settings().power_profile.as_ref();
        let profiles = self.machine.platform().description().power_profiles.iter().map(|profile| &profile.name);
        let mut settings: Vec<SettingFault> =
            profiles.filter(|name| Some(*name) != own).cloned().map(SettingFault::Profile).collect();
        let rates: BTreeSet<DataRate> = seen_rates(scene).map(|(_, rate)| rate).collect();
        settings.extend(rates.iter().copied().map(SettingFault::Cap));
        let lower = rates.into_iter().filter(|rate| !lower_graded(scene, *rate).is_empty());
        settings.extend(lower.map(SettingFault::LowerGrade));
        settings.push(SettingFault::RatedForRunning);
        settings
    }

    fn masks_slots(&self, scene: &Scene<'_>) -> bool {
        modes(self.machine.platform()).any(|mode| mode != *self.machine.mode() && self.masks_seen(scene, &mode))
    }

    /// Whether a mode takes away a slot whose module is not read as in use.
    fn masks_seen(&self, scene: &Scene<'_>, mode: &Name) -> bool {
        let other = as_set(self.machine, &[Fault::Setting(SettingFault::Mode(mode.clone()))]);
        self.machine.platform().slot_ids().enumerate().any(|(at, slot)| {
            let is_used =
                scene.seen(at).is_none_or(|seen| matches!(seen.state, PlaceState::InUse | PlaceState::Unknown));
            scene.piece(at).is_some() && !is_used && self.machine.is_live(slot) && !other.is_live(slot)
        })
    }

    /// The faults of settings that may be added to others.
    pub(crate) fn settings(&self, faults: &[Fault]) -> impl Iterator<Item = Fault> {
        let has = |is: fn(&SettingFault) -> bool| {
            faults.iter().any(|fault| matches!(fault, Fault::Setting(setting) if is(setting)))
        };
        let mode = has(|setting| matches!(setting, SettingFault::Mode(_)));
        let profile = has(|setting| matches!(setting, SettingFault::Profile(_)));
        let cap = has(|setting| matches!(setting, SettingFault::Cap(_)));
        self.settings
            .iter()
            .filter(move |setting| match setting {
                SettingFault::Mode(_) => !mode,
                SettingFault::Profile(_) => !profile,
                SettingFault::Cap(_) => !cap,
                _ => true,
            })
            .cloned()
            .map(Fault::Setting)
    }

    pub(crate) fn sums(&self, machine: &Machine, scene: &Scene<'_>, state: &State) -> Sums {
        sums(machine, scene.pieces, state, &self.foreign)
    }

    /// Whether all that a report sums up is that of a state.
    pub(crate) fn agrees(&self, scene: &Scene<'_>, state: &State, faults: &[Fault]) -> bool {
        let machine = as_set(self.machine, faults);
        let sums = self.sums(&machine, scene, state);
        self.agrees_with(scene, machine.mode(), (state, &sums), faults)
    }

    /// The same where a state is summed up already.
    pub(crate) fn agrees_with(
        &self,
        scene: &Scene<'_>,
        mode: &str,
        (state, sums): (&State, &Sums),
        faults: &[Fault],
    ) -> bool {
        let excused = |at: usize| faults.contains(&Fault::Setting(SettingFault::Total(at)));
        mode_agrees(scene, mode)
            && (0..scene.seen.totals.len()).all(|at| excused(at) || self.total(scene, sums, at) != Stands::Differs)
            && self.rates(scene, sums, state, faults) != Stands::Differs
    }

    /// How a total stands.
    pub(crate) fn total(&self, scene: &Scene<'_>, sums: &Sums, at: usize) -> Stands {
        let Some(total) = scene.seen.totals.get(at).filter(|_| !sums.is_open) else { return Stands::Silent };
        let is_exact = match total.of {
            TotalOf::Firmware => Some(total.capacity_mib == sums.usable),
            // no reserve makes more memory of it
            TotalOf::OperatingSystem if total.capacity_mib > sums.usable => Some(false),
            TotalOf::OperatingSystem => self.reserve.map(|reserve| {
                total.capacity_mib <= sums.usable && sums.usable.saturating_sub(total.capacity_mib) <= reserve
            }),
            TotalOf::Domain(_) => None,
        };
        match is_exact {
            None => Stands::Silent,
            Some(true) => Stands::Agrees,
            Some(false) => Stands::Differs,
        }
    }

    /// How the running rates stand together.
    fn rates(&self, scene: &Scene<'_>, sums: &Sums, state: &State, faults: &[Fault]) -> Stands {
        if faults.contains(&Fault::Setting(SettingFault::Rate)) {
            return Stands::Agrees;
        }
        if sums.is_open {
            return Stands::Silent;
        }
        let is_rated = faults.contains(&Fault::Setting(SettingFault::RatedForRunning));
        let mut stands = Stands::Silent;
        for (slot, rate) in seen_rates(scene) {
            let expected = if is_rated { self.grade(scene, state, slot) } else { expected(scene, sums, faults, slot) };
            match expected {
                Some(expected) if expected != rate => return Stands::Differs,
                Some(_) => stands = Stands::Agrees,
                None if is_rated => return Stands::Differs,
                None => {}
            }
        }
        stands
    }

    fn grade(&self, scene: &Scene<'_>, state: &State, slot: usize) -> Option<DataRate> {
        match state.held(slot) {
            Held::Planned(from) => scene.piece(from).and_then(|piece| piece.facts.grade_mts),
            Held::Foreign => self.foreign.get(slot).and_then(Option::as_ref).and_then(MemoryModule::grade),
            Held::Empty | Held::Clash => None,
        }
    }
}

/// The rate that a slot runs at in a state.
fn expected(scene: &Scene<'_>, sums: &Sums, faults: &[Fault], slot: usize) -> Option<DataRate> {
    let domain = domain_of(scene, &sums.rate.domains, slot)?;
    let is_of = |other: &usize| domain_of(scene, &sums.rate.domains, *other) == Some(domain);
    let slower = faults.iter().filter_map(|fault| match fault {
        Fault::Setting(SettingFault::LowerGrade(slow)) => Some(*slow),
        _ => None,
    });
    let slower = slower.filter(|slow| lower_graded(scene, *slow).iter().any(is_of));
    slower.chain([domain.rate_mts?]).min()
}

/// The domain of the running rate that a slot belongs to.
fn domain_of<'d>(scene: &Scene<'_>, domains: &'d [DomainRate], slot: usize) -> Option<&'d DomainRate> {
    let platform = scene.machine.platform();
    let label = &platform.socket(platform.slots().get(slot)?.socket).label;
    domains.iter().find(|domain| domain.sockets.contains(label))
}

/// The running rates that are told of slots in use.
pub(crate) fn seen_rates<'s>(scene: &'s Scene<'_>) -> impl Iterator<Item = (usize, DataRate)> + 's {
    let told = scene.seen.slots.iter().enumerate().filter(|(_, seen)| seen.state == PlaceState::InUse);
    told.filter_map(|(slot, seen)| Some((slot, seen.rate?)))
}

/// The slots in use that run at a rate and whose modules may be rated for no more, though more is planned: wherever they were to sit.
pub(crate) fn lower_graded(scene: &Scene<'_>, rate: DataRate) -> Vec<usize> {
    let may_be = |slot: usize| {
        let told = scene.seen(slot).and_then(|seen| seen.module).and_then(|module| module.grade_mts);
        let is_more = |own: DataRate| own > rate;
        let is_planned = |(piece, own): (usize, &Option<Piece<'_>>)| {
            own.as_ref().is_some_and(|own| own.facts.grade_mts.is_none_or(is_more)) && scene.fits(slot, piece)
        };
        told.is_none_or(|told| told == rate)
            && (scene.piece(slot).is_none() || scene.pieces.iter().enumerate().any(is_planned))
    };
    seen_rates(scene).filter(|(slot, own)| *own == rate && may_be(*slot)).map(|(slot, _)| slot).collect()
}

/// The modes of a board, the independent one first.
pub(crate) fn modes(platform: &Platform) -> impl Iterator<Item = Name> + '_ {
    std::iter::once(Name::lossy(Mode::INDEPENDENT))
        .chain(platform.description().modes.iter().map(|mode| mode.name.clone()))
}

/// The mode of the board that a report names, where it names one.
pub(crate) fn named_mode(scene: &Scene<'_>) -> Option<Name> {
    let told = population::folded(scene.seen.mode.as_ref()?.as_str());
    modes(scene.machine.platform()).find(|mode| population::folded(mode.as_str()) == told)
}

fn mode_agrees(scene: &Scene<'_>, mode: &str) -> bool {
    named_mode(scene).is_none_or(|named| named == *mode)
}
