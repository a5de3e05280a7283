//! Finds everything that makes a platform's description unusable.

use std::collections::{BTreeMap, BTreeSet};

use crate::platform::RelativeSize::{Larger, Smaller};
use crate::platform::{
    BoardProblem, ChannelGroup, DomainScheme, Mode, PlatformDescription, PlatformProblem, RankPair, Settings,
    SlotDescription, mode_problem,
};
use crate::processor::Processor;
use crate::stated::FieldPath;
use crate::unit::Name;

/// The most slots, channels and sockets on one board.
pub(crate) const AT_MOST: usize = 4096;

/// Everything that makes a description with every slot written out unusable. What is wrong with labels that a pattern gave is said of the pattern.
pub(crate) fn find(description: &PlatformDescription, is_patterned: bool) -> Vec<PlatformProblem> {
    let mut problems = Vec::new();
    board(description, is_patterned, &mut problems);
    let names = Names::of(description);
    references(description, &names, &mut problems);
    description.modes.iter().for_each(|mode| mode_problem::mode(mode, &names, &mut problems));
    description
        .domain_schemes
        .iter()
        .for_each(|scheme| mode_problem::domains(description, scheme, &names, &mut problems));
    rows(description, &names, &mut problems);
    rows_of_the_board(description, &names, &mut problems);
    for (place, pattern) in description.patterns().chain(description.listed()) {
        let problem = |problem| PlatformProblem::Pattern { place: place.clone(), problem };
        problems.extend(pattern.problems(description.generation).into_iter().map(problem));
    }
    let pairs = description.same_rank_count.iter().flat_map(|policy| policy.value.except.iter().enumerate());
    for (index, &RankPair { first, second, .. }) in pairs {
        if first == second || [first, second].iter().any(|ranks| !(1..=8).contains(ranks)) {
            problems.push(PlatformProblem::RankPair { index, first, second });
        }
    }
    for (index, limit) in description.mix_limits.iter().enumerate() {
        if limit.value.at_most == 0 {
            problems.push(PlatformProblem::MixOfNone { index });
        }
    }
    if let Some(table) = &description.rate_table {
        problems.extend(table.problems().into_iter().map(PlatformProblem::RateTable));
    }
    for processor in &description.processors {
        if processor.generation() != description.generation {
            problems.push(PlatformProblem::ProcessorGeneration { processor: processor.name().clone() });
        }
    }
    problems
}

/// Reports every name that stands twice among some, each with where it stands.
fn unique<'a>(
    what: &'static str,
    names: impl IntoIterator<Item = (FieldPath, &'a Name)>,
    problems: &mut Vec<PlatformProblem>,
) {
    let mut seen: BTreeMap<&Name, FieldPath> = BTreeMap::new();
    for (second, name) in names {
        match seen.get(name).cloned() {
            Some(first) => problems.push(PlatformProblem::GivenTwice { what, name: name.clone(), first, second }),
            None => drop(seen.insert(name, second)),
        }
    }
}

/// The names of a list's entries with where they stand.
fn entries<'a>(list: &FieldPath, names: impl Iterator<Item = &'a Name>) -> impl Iterator<Item = (FieldPath, &'a Name)> {
    names.enumerate().map(|(index, name)| (list.clone().index(index), name))
}

/// Reports every pair of slots that share a number.
fn unshared<'a>(
    what: &'static str,
    slots: impl IntoIterator<Item = &'a SlotDescription>,
    number: impl Fn(&SlotDescription) -> Option<u16>,
    problems: &mut Vec<PlatformProblem>,
) {
    let mut seen = BTreeMap::new();
    for slot in slots {
        let Some(number) = number(slot) else { continue };
        if let Some(first) = seen.insert(number, &slot.label) {
            let (first, second) = (first.clone(), slot.label.clone());
            problems.push(PlatformProblem::SameNumber { what, number, first, second });
        }
    }
}

fn board(description: &PlatformDescription, is_patterned: bool, problems: &mut Vec<PlatformProblem>) {
    let channels_of = |socket: usize| {
        description.sockets.get(socket).into_iter().flat_map(|s| &s.controllers).flat_map(|c| &c.channels)
    };
    let channels = || (0..description.sockets.len()).flat_map(channels_of);
    let slots = || channels().flat_map(|channel| &channel.slots);
    if slots().next().is_none() {
        problems.push(PlatformProblem::NoSlots);
    }
    let counts = [("sockets", description.sockets.len()), ("channels", channels().count()), ("slots", slots().count())];
    for (what, found) in counts.into_iter().filter(|&(_, found)| found > AT_MOST) {
        problems.push(PlatformProblem::TooMany { what, found, at_most: AT_MOST });
    }
    let sockets = FieldPath::of("sockets");
    unique("socket", entries(&sockets, description.sockets.iter().map(|socket| &socket.label)), problems);
    let (mut channels_at, mut slots_at) = (Vec::new(), Vec::new());
    for (number, socket) in description.sockets.iter().enumerate() {
        let controllers = sockets.clone().index(number).field("controllers");
        let labels = socket.controllers.iter().map(|controller| &controller.label);
        unique("controller", entries(&controllers, labels), problems);
        channels_at.clear();
        for (index, controller) in socket.controllers.iter().enumerate() {
            let list = controllers.clone().index(index).field("channels");
            for (index, channel) in controller.channels.iter().enumerate() {
                let at = list.clone().index(index);
                let slots = at.clone().field("slots");
                slots_at.extend(
                    channel.slots.iter().enumerate().map(|(index, slot)| (slots.clone().index(index), &slot.label)),
                );
                channels_at.push((at, &channel.label));
            }
        }
        unique("channel", channels_at.drain(..), problems);
    }
    // collisions of a pattern are said of the pattern; those of single slots that differ from it are not
    if !is_patterned {
        unique("slot", slots_at, problems);
    }
    unshared("turn", slots(), |slot| slot.turn, problems);
    for channel in channels() {
        unshared("position", &channel.slots, |slot| slot.position.map(u16::from), problems);
    }
}

/// Checks the rows for maps: slots or sockets of the board, each once.
fn rows_of_the_board(description: &PlatformDescription, names: &Names<'_>, problems: &mut Vec<PlatformProblem>) {
    let mut seen = BTreeSet::new();
    let allowed: crate::unit::Names = names.slots_in_order.iter().copied().collect();
    for (row, of) in description.rows.iter().enumerate() {
        for (index, name) in of.iter().enumerate() {
            let place = FieldPath::of("rows").index(row).index(index);
            let name = name.clone();
            if !names.slots.contains(&name) && !names.sockets.contains(&name) {
                let allowed = allowed.clone();
                problems.push(PlatformProblem::Board(BoardProblem::Unknown { place, what: "slot", name, allowed }));
            } else if !seen.insert(name.clone()) {
                problems.push(PlatformProblem::Board(BoardProblem::Repeated { place, what: "slot", name }));
            }
        }
    }
}

/// The names that a description may refer to.
pub(super) struct Names<'a> {
    pub(super) slots: BTreeSet<&'a Name>,
    slots_in_order: Vec<&'a Name>,
    pub(super) sockets: BTreeSet<&'a Name>,
    pub(super) processors: BTreeSet<&'a Name>,
    pub(super) options: BTreeSet<&'a Name>,
    pub(super) profiles: BTreeSet<&'a Name>,
    pub(super) modes: BTreeSet<&'a Name>,
    pub(super) schemes: BTreeSet<&'a Name>,
    /// The channels by socket and label, and whether they have slots.
    pub(super) channels: BTreeMap<(&'a Name, &'a Name), bool>,
}

impl<'a> Names<'a> {
    fn of(description: &'a PlatformDescription) -> Self {
        let sockets = &description.sockets;
        let channels =
            sockets.iter().flat_map(|socket| &socket.controllers).flat_map(|controller| &controller.channels);
        let by_socket = sockets.iter().flat_map(|socket| {
            let channels = socket.controllers.iter().flat_map(|controller| &controller.channels);
            channels.map(|channel| ((&socket.label, &channel.label), !channel.slots.is_empty()))
        });
        let slots_in_order: Vec<&Name> = channels.flat_map(|channel| &channel.slots).map(|slot| &slot.label).collect();
        Self {
            slots: slots_in_order.iter().copied().collect(),
            slots_in_order,
            sockets: sockets.iter().map(|socket| &socket.label).collect(),
            processors: description.processors.iter().map(Processor::name).collect(),
            options: description.options.iter().map(|option| &option.name).collect(),
            profiles: description.power_profiles.iter().map(|profile| &profile.name).collect(),
            modes: description.modes.iter().map(|mode| &mode.name).collect(),
            schemes: description.domain_schemes.iter().map(|scheme| &scheme.name).collect(),
            channels: by_socket.collect(),
        }
    }

    fn mode(&self, place: &FieldPath, mode: Option<&Name>, problems: &mut Vec<PlatformProblem>) {
        if let Some(name) = mode.filter(|name| **name != *Mode::INDEPENDENT) {
            known(&self.modes, &place.clone().field("mode"), "mode", [name], problems);
        }
    }

    pub(super) fn scheme(&self, place: &FieldPath, scheme: Option<&Name>, problems: &mut Vec<PlatformProblem>) {
        if let Some(name) = scheme.filter(|name| **name != *DomainScheme::ONE_PER_PROCESSOR) {
            known(&self.schemes, place, "domain scheme", [name], problems);
        }
    }

    /// Reports groups of unknown channels, of none, and groups that overlap.
    pub(super) fn groups(&self, place: &FieldPath, groups: &[ChannelGroup], problems: &mut Vec<PlatformProblem>) {
        let mut seen = BTreeSet::new();
        for (index, group) in groups.iter().enumerate() {
            let place_of = |field| place.clone().index(index).field(field);
            known(&self.sockets, &place_of("socket"), "socket", [&group.socket], problems);
            if group.channels.is_empty() {
                problems.push(PlatformProblem::Empty { place: place_of("channels") });
            }
            for channel in &group.channels {
                let socket = &group.socket;
                if self.sockets.contains(socket) && !self.channels.contains_key(&(socket, channel)) {
                    let what = "channel";
                    problems.push(PlatformProblem::Unknown {
                        place: place_of("channels"),
                        what,
                        name: channel.clone(),
                    });
                } else if !seen.insert((socket, channel)) {
                    let (socket, channel) = (socket.clone(), channel.clone());
                    problems.push(PlatformProblem::Overlap { place: place_of("channels"), socket, channel });
                }
            }
        }
    }
}

/// Reports every name that is not among the known ones.
pub(super) fn known<'a>(
    among: &BTreeSet<&Name>,
    place: &FieldPath,
    what: &'static str,
    names: impl IntoIterator<Item = &'a Name>,
    problems: &mut Vec<PlatformProblem>,
) {
    for name in names {
        if !among.contains(name) {
            problems.push(PlatformProblem::Unknown { place: place.clone(), what, name: name.clone() });
        }
    }
}

fn references(description: &PlatformDescription, names: &Names<'_>, problems: &mut Vec<PlatformProblem>) {
    let of = FieldPath::of;
    unique("processor", entries(&of("processors"), description.processors.iter().map(Processor::name)), problems);
    unique("option", entries(&of("options"), description.options.iter().map(|one| &one.name)), problems);
    unique(
        "power profile",
        entries(&of("power_profiles"), description.power_profiles.iter().map(|one| &one.name)),
        problems,
    );
    unique("mode", entries(&of("modes"), description.modes.iter().map(|one| &one.name)), problems);
    for option in &description.options {
        known(&names.slots, &of("options").named(&option.name).field("masks"), "slot", &option.masks, problems);
    }
    let schemes = description.domain_schemes.iter().map(|scheme| &scheme.name);
    unique("domain scheme", entries(&of("domain_schemes"), schemes), problems);
    let Settings { mode, domain_scheme, power_profile, rate_cap_mts: _, voltage_mv: _, closed_slots } =
        &description.default_settings;
    let settings = of("default_settings");
    names.mode(&settings, mode.as_ref(), problems);
    names.scheme(&settings.clone().field("domain_scheme"), domain_scheme.as_ref(), problems);
    known(&names.profiles, &settings.clone().field("power_profile"), "power profile", power_profile, problems);
    known(&names.slots, &settings.field("closed_slots"), "slot", closed_slots.keys(), problems);
}

fn rows(description: &PlatformDescription, names: &Names<'_>, problems: &mut Vec<PlatformProblem>) {
    for (index, row) in description.fill_rows.iter().enumerate() {
        let place = FieldPath::of("fill_rows").index(index);
        let slots = place.clone().field("slots");
        known(&names.slots, &slots, "slot", row.slots.iter().map(|slot| &slot.slot), problems);
        unique("slot", entries(&slots, row.slots.iter().map(|slot| &slot.slot)), problems);
        if row.slots.is_empty() {
            problems.push(PlatformProblem::Empty { place: slots });
        }
        names.mode(&place, row.mode.as_ref(), problems);
        let marks = |size| row.slots.iter().any(|slot| slot.size == Some(size));
        for (marked, missing) in [(Larger, Smaller), (Smaller, Larger)] {
            if marks(marked) && !marks(missing) {
                problems.push(PlatformProblem::OneSize { index, marked, missing });
            }
        }
    }
    for (index, row) in description.count_rows.iter().enumerate() {
        let place = FieldPath::of("count_rows").index(index);
        if row.counts.is_empty() {
            problems.push(PlatformProblem::Empty { place: place.clone().field("counts") });
        }
        names.mode(&place, row.mode.as_ref(), problems);
    }
    for row in &description.worked_rows {
        let place = FieldPath::of("worked_rows").named(&row.name);
        let of = |field| place.clone().field(field);
        known(&names.sockets, &of("processors"), "socket", row.processors.keys(), problems);
        known(&names.processors, &of("processors"), "processor", row.processors.values(), problems);
        known(&names.options, &of("options"), "option", &row.options, problems);
        names.mode(&place, row.mode.as_ref(), problems);
        known(&names.slots, &of("modules"), "slot", row.modules.iter().flat_map(|modules| &modules.slots), problems);
        if row.modules.iter().all(|modules| modules.count == 0) {
            problems.push(PlatformProblem::Empty { place: of("modules") });
        }
    }
}
