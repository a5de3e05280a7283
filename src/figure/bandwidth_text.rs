//! Interleave and bandwidth as sentences.

use core::fmt;

use crate::figure::text::list;
use crate::figure::{
    BandwidthEstimate, Interleave, InterleaveDomain, MemoryBandwidth, Region, SetsGrounds, SlowestRegion,
};
use crate::finding::Place;
use crate::stated::Basis;
use crate::unit::{Bandwidth, Name, Share};

/// Channels by their labels: "channels A, B"; with their processors where more than one has some.
fn channels(places: &[Place]) -> String {
    let mut by_socket: Vec<(&Name, Vec<&Name>)> = Vec::new();
    for place in places {
        let Place::Channel { socket, channel } = place else { continue };
        match by_socket.iter_mut().find(|(known, _)| *known == socket) {
            Some((_, labels)) => labels.push(channel),
            None => by_socket.push((socket, vec![channel])),
        }
    }
    let several = by_socket.len() > 1;
    let of_socket = |(socket, labels): &(&Name, Vec<&Name>)| match several {
        true => format!("{} of processor {socket}", list(labels)),
        false => list(labels),
    };
    let word = if places.len() == 1 { "channel" } else { "channels" };
    format!("{word} {}", by_socket.iter().map(of_socket).collect::<Vec<_>>().join("; "))
}

/// How a region is interleaved: "at 4 ways", or not at all.
fn ways(ways: u32) -> String {
    if ways == 1 { "not interleaved".to_owned() } else { format!("at {ways} ways") }
}

/// "128 GB at 4 ways (channels A, B, C, D)", "32 GB not interleaved (channel A)"; channels of several processors with theirs.
impl fmt::Display for Region {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} ({})", self.brief(), channels(&self.channels))
    }
}

impl Region {
    /// Its text without its channels: "128 GB at 4 ways".
    pub(crate) fn brief(&self) -> String {
        format!("{} {}", self.capacity_mib, ways(self.ways))
    }
}

/// The regions, the first filled first; that one holds everything is said.
impl fmt::Display for InterleaveDomain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let processors = if self.sockets.len() == 1 { "processor" } else { "processors" };
        write!(f, "{processors} {}: ", list(&self.sockets))?;
        match self.regions.as_slice() {
            [] => f.write_str("no memory"),
            [one] => write!(f, "all {one}"),
            many => f.write_str(&list(many)),
        }
    }
}

/// The domains, then the scheme in force where it is another than the one set, and what is assumed of sets of channels.
impl fmt::Display for Interleave {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let is_part =
            |domain: &InterleaveDomain| self.domains.iter().filter(|other| other.sockets == domain.sockets).count() > 1;
        let text = |domain: &InterleaveDomain| match is_part(domain) {
            true => format!("domain of {}: {domain}", channels(&domain.channels)),
            false => domain.to_string(),
        };
        let domains: Vec<_> = self.domains.iter().map(text).collect();
        f.write_str(&domains.join("; "))?;
        if let Some(domain) = self.domains.iter().find(|domain| domain.scheme != self.scheme) {
            write!(f, "; {} is set, but falls back to {}", self.scheme, domain.scheme)?;
        }
        // of one channel there is no set
        let joins_channels = |grounds: &&SetsGrounds| {
            let is_of_them =
                |domain: &&InterleaveDomain| domain.sockets.iter().any(|one| grounds.sockets.contains(one));
            self.domains.iter().filter(is_of_them).any(|domain| domain.channels.len() > 1)
        };
        let assumed = self.sets.iter().filter(|grounds| grounds.basis == Basis::Assumed).filter(joins_channels);
        for grounds in assumed {
            let what = if grounds.listed { "permitted sets" } else { "any set of channels" };
            match self.sets.len() {
                1 => write!(f, " [{what}, assumed]")?,
                _ => write!(f, " [{what}, assumed of sockets {}]", list(&grounds.sockets))?,
            }
        }
        Ok(())
    }
}

/// Two bounds.
#[derive(PartialEq)]
struct Bounds(Bandwidth, Bandwidth);

impl fmt::Display for Bounds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Self(swept, spread) = self;
        if swept == spread { write!(f, "{spread}") } else { write!(f, "{swept} (swept) to {spread} (spread)") }
    }
}

/// A share, or both bounds of it.
fn share(swept: Option<Share>, spread: Option<Share>) -> Option<String> {
    match (swept, spread) {
        (Some(swept), Some(spread)) if swept != spread => Some(format!("{swept} to {spread}")),
        (_, spread) => spread.map(|share| share.to_string()),
    }
}

/// How much of a processor's memory is in the regions of fewest ways.
fn slower_part(f: &mut fmt::Formatter<'_>, socket: &Name, slowest: &SlowestRegion) -> fmt::Result {
    let ways_text = ways(slowest.ways);
    match slowest.share >= Share::WHOLE {
        true => write!(f, "; processor {socket}: all of its memory {ways_text}, one region after another"),
        false => {
            let only = if slowest.ways == 1 { ways_text } else { format!("at only {} ways", slowest.ways) };
            let channels = channels(&slowest.channels);
            write!(f, "; processor {socket}: {} of its memory {only} ({channels})", slowest.share)
        }
    }
}

/// Both bounds for even use, what that is of the machine's best, the sum over processors where that is more, what each
/// processor reaches of its own best where that is not the same, and the peak; then what limits.
impl fmt::Display for MemoryBandwidth {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.sockets.iter().all(|socket| socket.rate_mts.is_none()) {
            return f.write_str("not known, for there is no running rate");
        }
        let sum = Bounds(self.swept_mbps, self.spread_mbps);
        let even = self.even_swept_mbps.zip(self.even_spread_mbps).map(|(swept, spread)| Bounds(swept, spread));
        let differ = even.as_ref() != Some(&sum);
        let of_board = (self.relative_swept, self.relative_spread);
        match even {
            None => f.write_str("not known for even use of all processors, for one with memory has no running rate")?,
            Some(even) => {
                write!(f, "{even}{}", if differ { " for even use of all processors" } else { "" })?;
                if let Some(share) = share(of_board.0, of_board.1) {
                    write!(f, ", {share}")?;
                }
                write!(f, " of the board's {}", self.best_mbps)?;
            }
        }
        if differ {
            write!(f, "; {sum} with each on its own memory")?;
        }
        if self.sockets.iter().any(|socket| (socket.relative_swept, socket.relative_spread) != of_board) {
            for (index, socket) in self.sockets.iter().enumerate() {
                let own = share(socket.relative_swept, socket.relative_spread);
                let own = own.unwrap_or_else(|| "no known share".to_owned());
                let before = if index == 0 && !differ { ";" } else { "," };
                write!(f, "{before} processor {} at {own} of its best", socket.socket)?;
            }
        }
        write!(f, "; peak of the channels filled {}", self.peak_mbps)?;
        let slower = self.sockets.iter().filter_map(|socket| Some((&socket.socket, socket.slowest.as_ref()?)));
        slower.into_iter().try_for_each(|(socket, slowest)| slower_part(f, socket, slowest))
    }
}

impl fmt::Display for BandwidthEstimate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.swept_mbps == self.spread_mbps {
            write!(f, "about {}", self.spread_mbps)
        } else {
            write!(f, "about {} to {}", self.swept_mbps, self.spread_mbps)
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::figure::{BandwidthEstimate, Figures};
    use crate::population::Layout;
    use crate::testing::{clean, plain, population};
    use crate::unit::Bandwidth;

    #[test]
    fn an_estimate_is_a_range_where_its_bounds_differ() {
        let gbps = |gbps: u64| Bandwidth::from_mbps(gbps * 1000, 1).unwrap();
        let estimate = |swept, spread| BandwidthEstimate { swept_mbps: gbps(swept), spread_mbps: gbps(spread) };
        assert_eq!(estimate(12, 12).to_string(), format!("about {}", gbps(12)));
        assert_eq!(estimate(9, 12).to_string(), format!("about {} to {}", gbps(9), gbps(12)));
    }

    #[test]
    fn each_region_names_its_channels() {
        let (machine, plain) = (clean(), plain());
        let text = |slots: &[&str]| {
            let fitted: Vec<_> = slots.iter().map(|slot| (*slot, &plain)).collect();
            let population = population(&fitted);
            Figures::of(&Layout::new(&machine, &population).unwrap()).interleave.to_string()
        };
        assert_eq!(
            text(&["1A1", "1A2", "1B1", "2C1"]),
            "processor 1: 64 GB at 2 ways (channels A, B), 32 GB not interleaved (channel A); \
             processor 2: all 32 GB not interleaved (channel C) [any set of channels, assumed]"
        );
        assert_eq!(
            text(&["1A1", "1C1"]),
            "processor 1: all 64 GB at 2 ways (channels A, C); processor 2: no memory [any set of channels, assumed]"
        );
    }
}
