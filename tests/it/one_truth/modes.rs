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
        5 => Redundancy::RankSparing { spare_ranks: draw.pick(&[2, 3]) },
        6 => Redundancy::PartlyMirrored { mirrored_per_mille: draw.pick(&[250, 500, 333, 1]) },
        7 => Redundancy::Own { usable_per_mille: draw.pick(&[900, 500, 1000, 1]) },
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
        groups.extend(whole.map(|channels| ChannelGroup::new(socket.label.clone(), channels.to_vec())));
    }
    groups
}

/// Now and then so many modules of one sort, or of another.
fn any_of(draw: &mut Draw<'_, '_>) -> Vec<ChannelMinimum> {
    if !draw.once_in(5) {
        return Vec::new();
    }
    let of = |ranks: ModulePattern, modules_at_least: u8| ChannelMinimum::new(ranks, modules_at_least);
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
    let mode = {
        let mut changed = Mode::new(name(called), redundancy, draw.basis())
            .groups(joined)
            .masks(if draw.once_in(6) { vec![draw.pick(&labels)] } else { Vec::new() })
            .identical(identical)
            .modules_at_least(if draw.once_in(5) { Some(draw.pick(&[2, 1])) } else { None })
            .any_of(any_of(draw))
            .counted_ranks_at_least(if draw.once_in(5) { Some(draw.pick(&[2, 3, 4])) } else { None })
            .rate_cap(draw.once_in(6).then(|| draw.rate()))
            .source(draw.text());
        changed.widths = draw.once_in(6).then(|| BTreeSet::from([sort.width().unwrap_or(DeviceWidth::X4)]));
        changed.ecc = draw.once_in(6).then(|| BTreeSet::from([sort.ecc().unwrap_or(Ecc::Ecc)]));
        changed.processors = draw.once_in(6).then(|| draw.some(processors).into_iter().collect());
        changed
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
    {
        let mut changed = mode;
        changed.groups = pairs;
        changed.redundancy = redundancy;
        changed
    }
}

/// Half the channels of each socket are a domain, and the others are another; or one domain for each, or for all.
pub fn domain_scheme(draw: &mut Draw<'_, '_>, sockets: &[SocketDescription]) -> Vec<DomainScheme> {
    let mut parts = Vec::new();
    for socket in sockets {
        let labels: Vec<Name> = board::channels(socket).map(|channel| channel.label.clone()).collect();
        let cut = draw.below(labels.len()) + 1;
        for part in [&labels[..cut], &labels[cut..]].into_iter().filter(|part| !part.is_empty()) {
            parts.push(ChannelGroup::new(socket.label.clone(), part.to_vec()));
        }
    }
    let grouped = Domains::Groups { groups: parts, needs_memory_in_each: draw.once_in(2) };
    let domains = match draw.below(6) {
        4 => Domains::AllProcessors,
        5 => Domains::OnePerProcessor,
        _ => grouped,
    };
    let may_count = domains != Domains::OnePerProcessor && draw.once_in(3);
    let mut scheme = DomainScheme::new(name("scheme"), domains, draw.basis())
        .source(draw.text())
        .counts(may_count.then(|| counts(draw)));
    let mut schemes = Vec::new();
    match draw.below(4) {
        2 => scheme.falls_back_to = Some(name(DomainScheme::ONE_PER_PROCESSOR)),
        3 => {
            let further =
                DomainScheme::new(name("scheme-2"), Domains::OnePerProcessor, draw.basis()).source(draw.text());
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
    PlatformOption::new(name(called), draw.basis())
        .masks(if draw.once_in(4) { Vec::new() } else { vec![draw.pick(&labels)] })
        .rate_cap(draw.once_in(3).then(|| draw.rate()))
        .capacity_cap(cap)
        .source(draw.text())
}

pub fn power_profile(draw: &mut Draw<'_, '_>) -> PowerProfile {
    PowerProfile::new(name("profile"), draw.rate(), draw.basis())
}
