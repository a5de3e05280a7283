//! What reports say together of each slot, once it is known which slots their places are.

use std::collections::{BTreeMap, BTreeSet};

use crate::platform::{Platform, Slot, SlotId};
use crate::population::observed::combine::{Combined, Witness, serial};
use crate::population::observed::readings::{RankNumber, Readings};
use crate::population::observed::sockets::Sockets;
use crate::population::{
    About, Assumed, Disagreement, LeansOn, Medium, ModuleFact, PlaceState, Placement, Report, Said, SeenModule,
    SeenPlace, SeenTotal, Sited, SitedModule, SitedProcessor, SitedSlot, UnplacedPlace,
};
use crate::stated::Schema;
use crate::unit::{DataRate, Name};

/// A place of a report, on a slot.
#[derive(Clone, Copy)]
struct Sighting<'r> {
    report: &'r Report,
    place: &'r SeenPlace,
}

/// Reports with their placements, on the way to what is in each slot.
pub(crate) struct Laying<'r> {
    platform: &'r Platform,
    laid: Vec<(&'r Report, Placement)>,
    /// The reports that tell where modules sit.
    base: Vec<&'r Report>,
    assumed: Vec<Assumed>,
    disagreements: Vec<Disagreement>,
    /// Places on a slot in which another module is, by report and id.
    apart: BTreeSet<(Name, Name)>,
}

impl<'r> Laying<'r> {
    pub(crate) fn new(platform: &'r Platform, laid: Vec<(&'r Report, Placement)>) -> Self {
        let mut laying = Self {
            platform,
            laid,
            base: Vec::new(),
            assumed: Vec::new(),
            disagreements: Vec::new(),
            apart: BTreeSet::new(),
        };
        laying.choose_base();
        laying
    }

    /// The newest machine reports of one start tell where modules sit; without one, all reports do.
    fn choose_base(&mut self) {
        let all: Vec<&Report> = self.laid.iter().map(|(report, _)| *report).collect();
        let machines: Vec<&Report> = all
            .iter()
            .copied()
            .filter(|report| report.medium == Medium::Machine && !report.places.is_empty())
            .collect();
        let is_older = |report: &&Report| {
            machines.iter().any(|other| {
                other.date.as_ref().zip(report.date.as_ref()).is_some_and(|(other, own)| other.is_later_than(own))
            })
        };
        let newest: Vec<&Report> = machines.iter().copied().filter(|report| !is_older(report)).collect();
        let Some(first) = newest.first().copied() else {
            self.base = all;
            return;
        };
        let of_start = |report: &&&Report| is_of_one_start(report, first);
        self.base = machines.iter().filter(of_start).copied().collect();
        let others: Vec<&Report> = newest.into_iter().filter(|report| !is_of_one_start(report, first)).collect();
        if !others.is_empty() {
            let names = others.iter().map(|report| report.name.clone()).collect();
            self.assumed.push(Assumed::UnlikeStarts { taken: first.name.clone(), others: names });
            self.base.extend(others);
        }
        for report in &self.base {
            if report.is_incomplete {
                self.assumed.push(Assumed::Incomplete { report: report.name.clone() });
            }
        }
    }

    fn is_base(&self, report: &Report) -> bool {
        self.base.iter().any(|base| base.name == report.name)
    }

    /// Every place that is on a slot, the most trusted report first.
    fn sightings(&self) -> BTreeMap<SlotId, Vec<Sighting<'r>>> {
        let mut sightings: BTreeMap<SlotId, Vec<Sighting<'r>>> = BTreeMap::new();
        for (report, placement) in &self.laid {
            for place in &report.places {
                let slot = placement.slots.get(&place.id).and_then(|label| self.platform.slot_named(label.as_str()));
                if let Some(slot) = slot {
                    sightings.entry(slot).or_default().push(Sighting { report, place });
                }
            }
        }
        sightings
    }

    pub(crate) fn sited(mut self) -> Sited {
        let sightings = self.sightings();
        let serials = Serials::of(self.laid.iter().map(|(report, _)| *report));
        let mut slots = Vec::new();
        let mut found: Vec<(usize, Combined)> = Vec::new();
        let mut joined: BTreeSet<(Name, Name)> = BTreeSet::new();
        for (slot, all) in &sightings {
            let label = self.platform.slot(*slot).label().clone();
            let base: Vec<Sighting<'r>> = all.iter().copied().filter(|one| self.is_base(one.report)).collect();
            if base.is_empty() {
                continue;
            }
            let state = self.state(&base, &label);
            self.note_states(state, &base, all, &label);
            let mut sited = SitedSlot {
                slot: label.clone(),
                state,
                module: None,
                serial: None,
                running_rate_mts: self.running_rate(&base, &label),
                running_voltage_mv: base.iter().find_map(|one| one.place.running_voltage_mv),
                is_held_back: false,
            };
            let witnesses = self.witnesses(&base, all, &serials, &mut joined);
            if !witnesses.is_empty() && (state.is_filled() || state == PlaceState::Unknown) {
                let mut combined = Combined::of(&witnesses, &label);
                sited.serial = combined.seen.serial.take();
                combined.said_by.remove(&ModuleFact::Serial);
                sited.is_held_back = combined.is_held_back;
                found.push((slots.len(), combined));
            } else if state.is_filled() {
                found.push((slots.len(), Combined::default()));
            }
            slots.push(sited);
        }
        let mut modules = Vec::new();
        for (place, combined) in found {
            self.disagreements.extend(combined.disagreements);
            if let Some(slot) = slots.get_mut(place) {
                slot.module = Some(group(&mut modules, &slot.slot, combined.seen, combined.said_by));
            }
        }
        let unplaced = self.unplaced(&joined);
        let untold = self.untold(&slots);
        let mut sited = Sited {
            schema: Schema,
            platform: self.platform.name().clone(),
            slots,
            modules,
            processors: self.processors(),
            totals: self.totals(),
            mode: self.base.iter().find_map(|report| report.mode.clone()),
            placements: self.laid.into_iter().map(|(_, placement)| placement).collect(),
            untold,
            unplaced,
            disagreements: self.disagreements,
            assumed: self.assumed,
        };
        sited.placements.retain(|placement| !placement.slots.is_empty());
        sited
    }

    /// What is in a slot, by the newest of the base that states it.
    fn state(&mut self, base: &[Sighting<'r>], label: &Name) -> PlaceState {
        let stated: Vec<(&Report, PlaceState)> = base
            .iter()
            .filter(|one| one.place.state != PlaceState::Unknown)
            .map(|one| (one.report, one.place.state))
            .collect();
        self.newest(&stated, label, About::State).unwrap_or(PlaceState::Unknown)
    }

    /// Notes what less trusted reports of the same start say against the state of a slot.
    fn note_states(&mut self, state: PlaceState, base: &[Sighting<'r>], all: &[Sighting<'r>], label: &Name) {
        let Some(first) = base.first() else { return };
        let told = |one: &Sighting<'r>| match (one.place.state, &one.place.module) {
            (PlaceState::Unknown, Some(_)) => "a module".to_owned(),
            (state, _) => state.to_string(),
        };
        let is_against = |one: &&Sighting<'r>| {
            let is_filled = one.place.state.is_filled() || one.place.module.is_some();
            let unlike = match one.place.state {
                PlaceState::Unknown => is_filled && state == PlaceState::Absent,
                own => own != state,
            };
            !base.iter().any(|own| own.report.name == one.report.name)
                && is_of_one_start(one.report, first.report)
                && state != PlaceState::Unknown
                && unlike
        };
        let against: Vec<&Sighting<'r>> = all.iter().filter(is_against).collect();
        if against.is_empty() {
            return;
        }
        let said = |one: &Sighting<'r>| Said {
            report: one.report.name.clone(),
            medium: one.report.medium,
            value: Name::lossy(&told(one)),
        };
        self.disagreements.push(Disagreement {
            slot: label.clone(),
            about: About::State,
            said: std::iter::once(first).chain(against).map(said).collect(),
            taken: Some(Name::lossy(&state.to_string())),
            is_note: true,
        });
    }

    fn running_rate(&mut self, base: &[Sighting<'r>], label: &Name) -> Option<DataRate> {
        let stated: Vec<(&Report, DataRate)> =
            base.iter().filter_map(|one| Some((one.report, one.place.running_rate_mts?))).collect();
        self.newest(&stated, label, About::RunningRate)
    }

    /// What the newest report says; nothing where one that is not known to be older says another thing.
    fn newest<T: PartialEq + Copy + ToString>(
        &mut self,
        stated: &[(&Report, T)],
        label: &Name,
        about: About,
    ) -> Option<T> {
        let is_older = |report: &Report| {
            stated.iter().any(|(other, _)| {
                other.date.as_ref().zip(report.date.as_ref()).is_some_and(|(other, own)| other.is_later_than(own))
            })
        };
        let newest: Vec<&(&Report, T)> = stated.iter().filter(|(report, _)| !is_older(report)).collect();
        let (_, first) = newest.first()?;
        let is_open = newest.iter().any(|(_, other)| other != first);
        if stated.iter().any(|(_, other)| other != first) {
            let said = |(report, value): &(&Report, T)| Said {
                report: report.name.clone(),
                medium: report.medium,
                value: Name::lossy(&value.to_string()),
            };
            self.disagreements.push(Disagreement {
                slot: label.clone(),
                about,
                said: stated.iter().map(said).collect(),
                taken: (!is_open).then(|| Name::lossy(&first.to_string())),
                is_note: !is_open,
            });
        }
        (!is_open).then_some(*first)
    }

    /// Who tells what the module of a slot is: the first base report and those of one start with it by the slot, all
    /// others by the serial number. The most trusted first.
    fn witnesses(
        &mut self,
        base: &[Sighting<'r>],
        all: &[Sighting<'r>],
        serials: &Serials<'r>,
        joined: &mut BTreeSet<(Name, Name)>,
    ) -> Vec<Witness<'r>> {
        let told = |one: &Sighting<'r>| one.place.module.is_some();
        let Some(first) = base.iter().find(|one| told(one)).or(base.first()) else { return Vec::new() };
        let mut sightings: Vec<Sighting<'r>> =
            all.iter().copied().filter(|one| is_of_one_start(one.report, first.report)).collect();
        // a serial number that the machine does not report there is of another module
        let own = serials.of_place(first);
        let is_other = |one: &Sighting<'r>| {
            one.report.medium != Medium::Machine
                && own.is_some()
                && serials.of_place(one).is_some_and(|number| Some(number) != own)
        };
        for other in sightings.iter().filter(|one| is_other(one)) {
            self.apart.insert((other.report.name.clone(), other.place.id.clone()));
        }
        sightings.retain(|one| !is_other(one));
        let own: BTreeSet<String> = sightings.iter().filter_map(|one| serials.of_place(one)).collect();
        for other in own.iter().flat_map(|own| serials.with(own)) {
            let is_known = sightings.iter().any(|one| one.report.name == other.report.name);
            let unlike = sightings.iter().any(|one| {
                let modules = one.place.module.as_ref().zip(other.place.module.as_ref());
                modules.is_some_and(|(one, other)| one.contradicts(other, ModuleFact::Maker))
            });
            if !is_known && !unlike {
                sightings.push(other);
                joined.insert((other.report.name.clone(), other.place.id.clone()));
            }
        }
        let trust = |one: &Sighting<'r>| self.laid.iter().position(|(report, _)| report.name == one.report.name);
        sightings.sort_by_key(trust);
        let witness = |one: Sighting<'r>| Some(Witness { report: one.report, module: one.place.module.as_ref()? });
        sightings.into_iter().filter_map(witness).collect()
    }

    fn unplaced(&self, joined: &BTreeSet<(Name, Name)>) -> Vec<UnplacedPlace> {
        let mut unplaced = Vec::new();
        for (report, placement) in &self.laid {
            for place in &report.places {
                let is_apart = !self.apart.is_empty() && self.apart.contains(&(report.name.clone(), place.id.clone()));
                let is_placed = placement.slots.contains_key(&place.id) && !is_apart;
                let is_told = place.state.is_filled() || place.module.is_some();
                if !is_placed && is_told && !joined.contains(&(report.name.clone(), place.id.clone())) {
                    unplaced.push(UnplacedPlace {
                        report: report.name.clone(),
                        id: place.id.clone(),
                        texts: place.texts().cloned().collect(),
                        state: place.state,
                        module: place.module.clone(),
                    });
                }
            }
        }
        unplaced
    }

    /// Slots of which no report says anything. Where a complete one names its places, these are empty.
    fn untold(&mut self, slots: &[SitedSlot]) -> Vec<Name> {
        let named: BTreeSet<&Name> = slots.iter().map(|slot| &slot.slot).collect();
        let missing = self.platform.slots().iter().map(Slot::label).filter(|label| !named.contains(label));
        let missing: Vec<Name> = missing.cloned().collect();
        let is_whole = |report: &&&Report| {
            matches!(report.medium, Medium::Machine | Medium::Rows)
                && !report.is_incomplete
                && !report.places.is_empty()
        };
        match self.base.iter().find(is_whole) {
            Some(_) if missing.is_empty() => Vec::new(),
            Some(report) => {
                self.assumed.push(Assumed::Empty { report: report.name.clone(), slots: missing.len() });
                Vec::new()
            }
            None => missing,
        }
    }

    fn processors(&self) -> Vec<SitedProcessor> {
        let mut found: BTreeMap<_, SitedProcessor> = BTreeMap::new();
        for report in &self.base {
            for (socket, seen) in Sockets::of(report, self.platform).seen() {
                let entry = found.entry(socket).or_insert_with(|| SitedProcessor {
                    socket: self.platform.socket(socket).label.clone(),
                    is_present: None,
                    text: None,
                });
                entry.is_present = entry.is_present.or(seen.is_present);
                entry.text = entry.text.take().or_else(|| seen.text.clone());
            }
        }
        found.into_values().collect()
    }

    fn totals(&self) -> Vec<SeenTotal> {
        let mut totals: Vec<SeenTotal> = Vec::new();
        for total in self.base.iter().flat_map(|report| &report.totals) {
            if !totals.contains(total) {
                totals.push(total.clone());
            }
        }
        totals
    }
}

/// Whether nothing was moved between two reports, so that a slot is one place in both.
fn is_of_one_start(one: &Report, other: &Report) -> bool {
    one.name == other.name || one.start.is_some() && one.start == other.start
}

/// Places by the serial numbers of their modules. A number that comes twice in a report matches nothing.
struct Serials<'r> {
    places: BTreeMap<String, Vec<Sighting<'r>>>,
    /// By report.
    doubled: BTreeMap<&'r Name, BTreeSet<String>>,
}

impl<'r> Serials<'r> {
    fn of(reports: impl Iterator<Item = &'r Report>) -> Self {
        let mut serials = Self { places: BTreeMap::new(), doubled: BTreeMap::new() };
        for report in reports {
            let mut seen = BTreeSet::new();
            for place in &report.places {
                if let Some(number) = number(place) {
                    if !seen.insert(number.clone()) {
                        serials.doubled.entry(&report.name).or_default().insert(number.clone());
                    }
                    serials.places.entry(number).or_default().push(Sighting { report, place });
                }
            }
        }
        serials
    }

    fn of_place(&self, one: &Sighting<'_>) -> Option<String> {
        number(one.place).filter(|number| !self.is_doubled(one, number))
    }

    fn is_doubled(&self, one: &Sighting<'_>, number: &str) -> bool {
        self.doubled.get(&one.report.name).is_some_and(|doubled| doubled.contains(number))
    }

    fn with<'s>(&'s self, number: &'s str) -> impl Iterator<Item = Sighting<'r>> + 's {
        let places = self.places.get(number).into_iter().flatten().copied();
        places.filter(move |one| !self.is_doubled(one, number))
    }
}

fn number(place: &SeenPlace) -> Option<String> {
    serial(place.module.as_ref()?.serial.as_ref()?.as_str())
}

/// Puts a module with its like: modules of one part number, of no unlike makers and facts, are one unknown.
fn group(modules: &mut Vec<SitedModule>, slot: &Name, seen: SeenModule, said_by: BTreeMap<ModuleFact, Name>) -> usize {
    let known = modules.iter().position(|module| {
        let parts = module.seen.part_number.is_some() && seen.part_number.is_some();
        parts && module.seen.device == seen.device && !module.seen.is_unlike(&seen)
    });
    match known.and_then(|at| Some((at, modules.get_mut(at)?))) {
        Some((at, module)) => {
            module.join(slot.clone(), &seen, &said_by);
            at
        }
        None => {
            modules.push(SitedModule {
                slots: vec![slot.clone()],
                seen,
                said_by,
                readings: Vec::new(),
                leans_on: BTreeSet::new(),
            });
            modules.len() - 1
        }
    }
}

impl SitedModule {
    /// Takes a slot and what is said of its module in.
    pub(crate) fn join(&mut self, slot: Name, seen: &SeenModule, said_by: &BTreeMap<ModuleFact, Name>) {
        self.slots.push(slot);
        for fact in ModuleFact::ALL {
            let is_better = !self.seen.has(fact)
                || self.seen.inferred.contains(&fact) && !seen.inferred.contains(&fact)
                || fact == ModuleFact::Capacity && self.seen.capacity_mib.is_none();
            if seen.has(fact) && is_better {
                self.seen.take(fact, seen);
                if let Some(report) = said_by.get(&fact) {
                    self.said_by.insert(fact, report.clone());
                }
            }
        }
    }
}

impl Sited {
    /// Works out what its modules can be.
    pub(crate) fn read(&mut self) {
        self.assumed
            .retain(|assumed| !matches!(assumed, Assumed::RankNumberDropped { .. } | Assumed::RefusedInUse { .. }));
        for module in &mut self.modules {
            module.leans_on.clear();
            module.readings.clear();
            if module.seen.device.is_some() {
                continue;
            }
            let Readings { modules, rank_number } = Readings::of(&module.seen);
            module.readings = modules;
            match rank_number {
                RankNumber::NotAsked => {}
                RankNumber::Leant => {
                    module.leans_on.insert(LeansOn::RankNumber);
                }
                RankNumber::Dropped => self.assumed.push(Assumed::RankNumberDropped {
                    slots: module.slots.clone(),
                    number: module.seen.rank_number.unwrap_or_default(),
                }),
            }
        }
        self.assumed.sort();
        self.assumed.dedup();
        self.disagreements.sort();
    }
}
