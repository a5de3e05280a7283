//! What can be wrong with redundancy modes and domain schemes.

use std::collections::BTreeSet;

use crate::platform::check::{Names, known};
use crate::platform::{DomainScheme, Domains, Identical, Mode, PlatformDescription, PlatformProblem, Redundancy};
use crate::stated::FieldPath;
use crate::unit::Name;

/// Everything that makes a mode unusable.
pub(super) fn mode(mode: &Mode, names: &Names<'_>, problems: &mut Vec<PlatformProblem>) {
    let place = FieldPath::of("modes").named(&mode.name);
    let of = |field| place.clone().field(field);
    if mode.name == *Mode::INDEPENDENT {
        problems.push(PlatformProblem::Reserved { place: of("name"), what: "mode", name: mode.name.clone() });
    }
    names.groups(&of("groups"), &mode.groups, problems);
    known(&names.slots, &of("masks"), "slot", &mode.masks, problems);
    let sets = [
        ("widths", mode.widths.as_ref().is_some_and(BTreeSet::is_empty)),
        ("ecc", mode.ecc.as_ref().is_some_and(BTreeSet::is_empty)),
        ("processors", mode.processors.as_ref().is_some_and(BTreeSet::is_empty)),
    ];
    for (list, _) in sets.into_iter().filter(|(_, empty)| *empty) {
        problems.push(PlatformProblem::Empty { place: of(list) });
    }
    let mut sizes: Vec<usize> = mode.groups.iter().map(|group| group.channels.len()).collect();
    sizes.sort_unstable();
    sizes.dedup();
    let mut group_size = |found, allowed| {
        problems.push(PlatformProblem::GroupSize { mode: mode.name.clone(), found, allowed });
    };
    let (smallest, largest) = (sizes.first().copied().unwrap_or(0), sizes.last().copied().unwrap_or(0));
    if smallest != largest {
        group_size(largest, "all groups of a mode must have as many");
    }
    match mode.redundancy {
        Redundancy::Paired if smallest < 2 => {
            group_size(smallest, "channels that work in step come in groups of 2 or more");
        }
        Redundancy::Mirrored if smallest < 2 => {
            group_size(smallest, "a mirror needs groups of 2 or more channels");
        }
        Redundancy::Mirrored if mode.identical == Identical::Nothing => {
            problems.push(PlatformProblem::UnequalMirror { mode: mode.name.clone() });
        }
        _ => {}
    }
    for minimum in mode.any_of.iter().filter(|minimum| minimum.modules_at_least == 0) {
        let (what, found) = ("a least number of modules a channel", minimum.modules_at_least.into());
        problems.push(PlatformProblem::ModeNumber { mode: mode.name.clone(), what, found, least: 1, most: 255 });
    }
    let number = match mode.redundancy {
        Redundancy::PartlyMirrored { mirrored_per_mille } => {
            ("a mirror in thousandths", mirrored_per_mille.into(), 1, 500)
        }
        Redundancy::Own { usable_per_mille } => ("a usable part in thousandths", usable_per_mille.into(), 1, 1000),
        Redundancy::RankSparing { spare_ranks } => ("a number of spare ranks", spare_ranks, 1, 64),
        Redundancy::None | Redundancy::Paired | Redundancy::Mirrored | Redundancy::DeviceCorrection => return,
    };
    let (what, found, least, most) = number;
    if !(least..=most).contains(&found) {
        problems.push(PlatformProblem::ModeNumber { mode: mode.name.clone(), what, found, least, most });
    }
}

/// Everything that makes a domain scheme unusable.
pub(super) fn domains(
    description: &PlatformDescription,
    scheme: &DomainScheme,
    names: &Names<'_>,
    problems: &mut Vec<PlatformProblem>,
) {
    let place = FieldPath::of("domain_schemes").named(&scheme.name);
    let of = |field| place.clone().field(field);
    if scheme.name == *DomainScheme::ONE_PER_PROCESSOR {
        let what = "domain scheme";
        problems.push(PlatformProblem::Reserved { place: of("name"), what, name: scheme.name.clone() });
    }
    names.scheme(&of("falls_back_to"), scheme.falls_back_to.as_ref(), problems);
    if let Domains::Groups { groups, .. } = &scheme.domains {
        names.groups(&of("domains").field("groups").field("groups"), groups, problems);
        let holds = |socket: &Name, channel: &Name| {
            groups.iter().any(|group| group.socket == *socket && group.channels.contains(channel))
        };
        for (&(socket, channel), _) in names.channels.iter().filter(|(_, has_slots)| **has_slots) {
            if !holds(socket, channel) {
                let (scheme, socket, channel) = (scheme.name.clone(), socket.clone(), channel.clone());
                problems.push(PlatformProblem::LeftOut { scheme, socket, channel });
            }
        }
    }
    counts(scheme, problems);
    let next = |name: &Name| description.domain_schemes.iter().find(|other| other.name == *name);
    let Some(to) = &scheme.falls_back_to else { return };
    let mut fall_back = |why| {
        problems.push(PlatformProblem::FallBack { scheme: scheme.name.clone(), to: to.clone(), why });
    };
    let grouped = next(to).is_some_and(|other| other.domains != Domains::OnePerProcessor);
    if scheme.domains == Domains::AllProcessors && grouped {
        fall_back("one domain for all processors falls back to one for each");
    } else if next(to).is_some_and(|other| other.domains == Domains::AllProcessors) {
        fall_back("it would need more than this scheme does");
    } else {
        let mut at = next(to);
        for _ in 0..=description.domain_schemes.len() {
            at = at.and_then(|scheme| next(scheme.falls_back_to.as_ref()?));
        }
        if at.is_some() {
            fall_back("the schemes fall back in a circle");
        }
    }
}

/// What is wrong with the numbers of modules at which a scheme holds.
fn counts(scheme: &DomainScheme, problems: &mut Vec<PlatformProblem>) {
    let Some(counts) = &scheme.counts else { return };
    if scheme.domains == Domains::OnePerProcessor {
        problems.push(PlatformProblem::CountsOfOneDomain { scheme: scheme.name.clone() });
    } else if counts.is_empty() {
        problems.push(PlatformProblem::Empty {
            place: FieldPath::of("domain_schemes").named(&scheme.name).field("counts"),
        });
    }
    let mut before = 0;
    for &found in counts {
        if found <= before {
            problems.push(PlatformProblem::SchemeCount { scheme: scheme.name.clone(), found, before });
        }
        before = found;
    }
}
