//! Redundancy modes, interleave domains, options and profiles.

use std::collections::BTreeSet;

use slotwright::module::{DeviceWidth, Ecc};
use slotwright::platform::{
    ChannelGroup, ChannelMinimum, DomainScheme, Domains, Identical, Mode, PlatformOption, PowerProfile, Redundancy,
    SocketDescription,
};
use slotwright::processor::ModulePattern;
use slotwright::unit::{Capacity, Name};

use crate::boards::name;
use crate::one_truth::board;
use crate::one_truth::draw::Draw;
use crate::one_truth::limits;

fn redundancy(draw: &mut Draw<'_, '_>) -> Redundancy {
    match draw.below(10) {
        0 | 1 => Redundancy::Mirrored,
        2 | 3 => Redundancy::Paired,
        4 => Redundancy::RankSparing { spare_ranks: 1 },
        5 => Redundancy::RankSparing { spare_ranks: 2 },
        6 => Redundancy::PartlyMirrored { mirrored_per_mille: draw.pick(&[250, 500]) },
        7 => Redundancy::Own { usable_per_mille: draw.pick(&[900, 500]) },
        8 => Redundancy::DeviceCorrection,
        _ => Redundancy::None,
    }
}

/// Groups of so many channels of each socket that has them; mostly of those with slots, in order.
fn groups(draw: &mut Draw<'_, '_>, sockets: &[SocketDescription], size: usize) -> Vec<ChannelGroup> {
    let mut groups = Vec::new();
    for socket in sockets {
        let also_empty = draw.once_in(10);
        let wired = board::channels(socket).filter(|channel| also_empty || !channel.slots.is_empty());
        let mut labels: Vec<Name> = wired.map(|channel| channel.label.clone()).collect();
        if draw.once_in(3) {
            draw.source.shuffle(&mut labels);
        }
        let whole = labels.chunks_exact(size);
        groups.extend(whole.map(|channels| ChannelGroup { socket: socket.label.clone(), channels: channels.to_vec() }));
    }
    groups
}

/// Now and then so many modules of one sort, or of another.
fn any_of(draw: &mut Draw<'_, '_>) -> Vec<ChannelMinimum> {
    if !draw.once_in(5) {
        return Vec::new();
    }
    let of = |ranks: ModulePattern, modules_at_least: u8| ChannelMinimum { module: ranks, modules_at_least };
    let few = of(ModulePattern::default().package_ranks_at_most(draw.pick(&[2, 1])), draw.pick(&[2, 1]));
    let many = of(ModulePattern::default().package_ranks_at_least(draw.pick(&[4, 2])), 1);
    if draw.once_in(3) { vec![few] } else { vec![few, many] }
}

/// A mode; with groups where it needs them, and now and then where it does not.
pub fn mode(draw: &mut Draw<'_, '_>, called: &str, sockets: &[SocketDescription], processors: &[Name]) -> Mode {
    let mut redundancy = redundancy(draw);
    let needs_groups = matches!(redundancy, Redundancy::Mirrored | Redundancy::Paired);
    let size = draw.pick(&[2, 2, 3, if needs_groups { 2 } else { 1 }]);
    let mut joined = if needs_groups || draw.once_in(3) { groups(draw, sockets, size) } else { Vec::new() };
    let mut identical = draw.pick(&[
        Identical::Capacity,
        Identical::Organization,
        Identical::Facts,
        Identical::Part,
        Identical::Nothing,
    ]);
    if needs_groups && joined.is_empty() {
        joined = groups(draw, sockets, 2);
    }
    if redundancy == Redundancy::Mirrored && identical == Identical::Nothing {
        identical = Identical::Capacity;
    }
    if needs_groups && joined.is_empty() {
        redundancy = Redundancy::None;
    }
    let labels = board::slots(sockets);
    let sort = draw.sort();
    let mode = Mode {
        name: name(called),
        redundancy,
        groups: joined,
        masks: if draw.once_in(6) { vec![draw.pick(&labels)] } else { Vec::new() },
        identical,
        modules_at_least: if draw.once_in(5) { Some(draw.pick(&[2, 1])) } else { None },
        any_of: any_of(draw),
        counted_ranks_at_least: if draw.once_in(5) { Some(draw.pick(&[2, 3, 4])) } else { None },
        widths: draw.once_in(6).then(|| BTreeSet::from([sort.width().unwrap_or(DeviceWidth::X4)])),
        ecc: draw.once_in(6).then(|| BTreeSet::from([sort.ecc().unwrap_or(Ecc::Ecc)])),
        processors: draw.once_in(6).then(|| draw.some(processors).into_iter().collect()),
        rate_cap_mts: draw.once_in(6).then(|| draw.rate()),
        basis: draw.basis(),
        source: draw.text(),
    };
    permitted(mode, sockets, draw)
}

/// The mode; a mirror of groups of three where that is permitted, else of two.
fn permitted(mode: Mode, sockets: &[SocketDescription], draw: &mut Draw<'_, '_>) -> Mode {
    let mut alone = slotwright::platform::PlatformDescription::new(name("alone"), draw.generation, sockets.to_vec());
    alone.modes = vec![mode.clone()];
    if alone.build().is_ok() {
        return mode;
    }
    let pairs = groups(draw, sockets, 2);
    let redundancy = if pairs.is_empty() { Redundancy::None } else { mode.redundancy };
    Mode { groups: pairs, redundancy, ..mode }
}

/// Half the channels of each socket are a domain, and the others are another; or one domain for each, or for all.
pub fn domain_scheme(draw: &mut Draw<'_, '_>, sockets: &[SocketDescription]) -> Vec<DomainScheme> {
    let mut parts = Vec::new();
    for socket in sockets {
        let labels: Vec<Name> = board::channels(socket).map(|channel| channel.label.clone()).collect();
        let cut = draw.below(labels.len()) + 1;
        for part in [&labels[..cut], &labels[cut..]].into_iter().filter(|part| !part.is_empty()) {
            parts.push(ChannelGroup { socket: socket.label.clone(), channels: part.to_vec() });
        }
    }
    let grouped = Domains::Groups { groups: parts, needs_memory_in_each: draw.once_in(2) };
    let domains = match draw.below(6) {
        4 => Domains::AllProcessors,
        5 => Domains::OnePerProcessor,
        _ => grouped,
    };
    let may_count = domains != Domains::OnePerProcessor && draw.once_in(3);
    let mut scheme = DomainScheme {
        name: name("scheme"),
        domains,
        counts: may_count.then(|| counts(draw)),
        falls_back_to: None,
        basis: draw.basis(),
        source: draw.text(),
    };
    let mut schemes = Vec::new();
    match draw.below(4) {
        2 => scheme.falls_back_to = Some(name(DomainScheme::ONE_PER_PROCESSOR)),
        3 => {
            let further = DomainScheme {
                name: name("scheme-2"),
                domains: Domains::OnePerProcessor,
                counts: None,
                falls_back_to: None,
                basis: draw.basis(),
                source: draw.text(),
            };
            scheme.falls_back_to = Some(further.name.clone());
            schemes.push(further);
        }
        _ => {}
    }
    schemes.push(scheme);
    schemes
}

/// Some of the numbers of modules that a processor can have.
fn counts(draw: &mut Draw<'_, '_>) -> Vec<u16> {
    let counts: BTreeSet<u16> = (0..draw.below(2) + 1).map(|_| draw.below(5) as u16 + 1).collect();
    counts.into_iter().collect()
}

pub fn option(draw: &mut Draw<'_, '_>, called: &str, sockets: &[SocketDescription]) -> PlatformOption {
    let labels = board::slots(sockets);
    let cap: Option<Capacity> = draw.once_in(3).then(|| limits::capacity(draw, 3));
    PlatformOption {
        name: name(called),
        masks: if draw.once_in(4) { Vec::new() } else { vec![draw.pick(&labels)] },
        rate_cap_mts: draw.once_in(3).then(|| draw.rate()),
        capacity_cap_mib: cap,
        basis: draw.basis(),
        source: draw.text(),
    }
}

pub fn power_profile(draw: &mut Draw<'_, '_>) -> PowerProfile {
    PowerProfile { name: name("profile"), rate_cap_mts: draw.rate(), basis: draw.basis() }
}
