//! Figures as sentences.

use core::fmt;

use crate::figure::{
    BandwidthEstimate, DemandSort, DomainRate, Figures, FittedCapacity, InstalledCapacity, Interleave,
    InterleaveDomain, Load, MemoryBandwidth, ModeDemand, PowerDraw, RateCause, RateLimit, RateObstacle, Region,
    RunningRate, SlowestRegion, TableOwner, UsableCapacity,
};
use crate::finding::Place;
use crate::platform::{Identical, Mode};
use crate::unit::{Bandwidth, Name, Share};

/// Places as a phrase; many slots are counted rather than named.
fn places(places: &[Place]) -> String {
    const NAMED: usize = 8;
    if places.len() > NAMED && places.iter().all(|place| matches!(place, Place::Slot { .. })) {
        format!("{} slots", places.len())
    } else {
        Place::phrase(places)
    }
}

impl fmt::Display for TableOwner {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Board => f.write_str("the board's table"),
            Self::Processor { processor } => write!(f, "the table of processor {processor}"),
        }
    }
}

impl fmt::Display for RateCause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Grade => f.write_str("the modules' grade"),
            Self::ProcessorMaximum { processor } => write!(f, "the highest rate of processor {processor}"),
            Self::Row { table, module, modules_in_channel } => {
                write!(f, "{module}, {modules_in_channel} a channel, by {table}")
            }
            Self::MixRow { table, modules } => {
                let modules: Vec<_> = modules.iter().map(ToString::to_string).collect();
                write!(f, "{} in one channel, by {table}", modules.join(" with "))
            }
            Self::UnlikeGrades => f.write_str("the board's policy for mixed grades"),
            Self::Option { name } => write!(f, "the option {name}"),
            Self::PowerProfile { name } => write!(f, "the power profile {name}"),
            Self::Mode { name } => write!(f, "the mode {name}"),
            Self::Setting => f.write_str("a cap set on the machine"),
        }
    }
}

/// "at most 1866 MT/s: registered 2-rank modules, 3 a channel, by the board's table (24 slots)".
impl fmt::Display for RateLimit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "at most {}: {} ({})", self.rate_mts, self.cause, places(&self.places))?;
        match (&self.basis, &self.source) {
            (Some(basis), Some(source)) => write!(f, " [{basis}: {source}]"),
            (Some(basis), None) => write!(f, " [{basis}]"),
            (None, _) => Ok(()),
        }
    }
}

impl fmt::Display for Load {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(height) = self.stack_height.filter(|&height| height > 1) {
            write!(f, "{height}-high stacked ")?;
        }
        write!(f, "{} ", self.kind)?;
        if let Some(ranks) = self.package_ranks {
            write!(f, "{ranks}-rank ")?;
        }
        write!(f, "modules, {} a channel", self.modules_in_channel)
    }
}

impl fmt::Display for RateObstacle {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoModules => f.write_str("there are no modules"),
            Self::NotAllowed { table, load, places: at } => {
                write!(f, "{load}: not allowed by {table} ({})", places(at))
            }
            Self::NoRow { table, load, places: at } => write!(f, "{load}: no row in {table} ({})", places(at)),
            Self::MissingFact { fact, places: at } => write!(f, "the {fact} of modules is not known ({})", places(at)),
            Self::NoCommonVoltage => f.write_str("no voltage suits all modules and processors"),
            Self::NoStep => f.write_str("every rate that the machine can run at is above a limit"),
        }
    }
}

/// The rate, then what binds and what lifting it would give, a sentence each.
impl fmt::Display for DomainRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.rate_mts, self.voltage.voltage_mv) {
            (Some(rate), Some(voltage)) => write!(f, "{rate} at {voltage}.")?,
            (Some(rate), None) => write!(f, "{rate}.")?,
            (None, _) => {
                f.write_str("No rate")?;
                for (index, obstacle) in self.obstacles.iter().enumerate() {
                    write!(f, "{}{obstacle}", if index == 0 { ": " } else { "; " })?;
                }
                return f.write_str(".");
            }
        }
        for limit in self.binding() {
            write!(f, " Binding, {limit}")?;
            match limit.lifted_mts {
                Some(lifted) if Some(lifted) != self.rate_mts => write!(f, "; without it {lifted}.")?,
                _ => f.write_str("; lifting it alone changes nothing.")?,
            }
        }
        Ok(())
    }
}

impl fmt::Display for RunningRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.domains.as_slice() {
            [one] => one.fmt(f),
            many => many.iter().enumerate().try_for_each(|(index, domain)| {
                let sockets: Vec<_> = domain.sockets.iter().map(ToString::to_string).collect();
                write!(f, "{}Processor {}: {domain}", if index == 0 { "" } else { "\n" }, sockets.join(", "))
            }),
        }
    }
}

/// The capacity, then the slots whose modules cannot be used.
impl fmt::Display for FittedCapacity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.total_mib)?;
        match self.not_live.as_slice() {
            [] => Ok(()),
            slots => write!(f, ", some of it where it cannot be used ({})", places(slots)),
        }
    }
}

/// How much memory is fitted, installed and usable.
#[derive(Debug, Clone, Copy)]
pub struct Amounts<'f>(pub(crate) &'f Figures);

/// "384 GB installed and usable", "128 GB usable of 256 GB installed, in the mirrored mode (288 GB fitted)".
impl fmt::Display for Amounts<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Figures { fitted, installed, usable, .. } = self.0;
        let is_independent = usable.mode == Mode::INDEPENDENT;
        if usable.total_mib == installed.total_mib {
            write!(f, "{} installed and usable", installed.total_mib)?;
        } else {
            write!(f, "{} usable of {} installed", usable.total_mib, installed.total_mib)?;
        }
        if !is_independent {
            write!(f, ", in the {} mode", usable.mode)?;
        }
        if fitted.total_mib == installed.total_mib { Ok(()) } else { write!(f, " ({} fitted)", fitted.total_mib) }
    }
}

impl fmt::Display for InstalledCapacity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.total_mib)?;
        for (index, socket) in self.sockets.iter().enumerate() {
            let before = if index == 0 { ": " } else { ", " };
            let modules = if socket.modules == 1 { "module" } else { "modules" };
            let (held, count, label) = (socket.capacity_mib, socket.modules, &socket.socket);
            write!(f, "{before}{held} in {count} {modules} at processor {label}")?;
        }
        if !self.other_devices_mib.is_zero() {
            write!(f, "; {} on other devices", self.other_devices_mib)?;
        }
        Ok(())
    }
}

fn list<T: fmt::Display>(items: impl IntoIterator<Item = T>) -> String {
    items.into_iter().map(|item| item.to_string()).collect::<Vec<_>>().join(", ")
}

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
        write!(f, "{} {} ({})", self.capacity_mib, ways(self.ways), channels(&self.channels))
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

/// The domains, then the scheme in force where it is another than the one set.
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
        match self.domains.iter().find(|domain| domain.scheme != self.scheme) {
            Some(domain) => write!(f, "; {} is set, but falls back to {}", self.scheme, domain.scheme),
            None => Ok(()),
        }
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

impl fmt::Display for Identical {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Nothing => "nothing in particular",
            Self::Capacity => "modules of the same capacity",
            Self::Organization => "modules of the same capacity, ranks, stack and device width",
            Self::Facts => "the same modules",
        })
    }
}

impl fmt::Display for DemandSort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Processors(names) => write!(f, "a processor that offers it ({})", list(names)),
            Self::Identical(identical) => write!(f, "{identical}, slot by slot, in the channels that it joins"),
            Self::ModulesAtLeast(least) => write!(f, "at least {least} modules in a channel that holds any"),
            Self::CountedRanksAtLeast(least) => write!(f, "at least {least} ranks in a channel that holds modules"),
            Self::Widths(widths) => write!(f, "device widths {}", list(widths)),
            Self::Ecc(ecc) => write!(f, "check bits {}", list(ecc)),
        }
    }
}

/// What is asked for, and where it is not so.
impl fmt::Display for ModeDemand {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.demand)?;
        if !self.unmet.is_empty() {
            write!(f, ": not so at {}", places(&self.unmet))?;
        }
        if !self.unknown.is_empty() {
            write!(f, ": not known of {}", places(&self.unknown))?;
        }
        Ok(())
    }
}

/// The capacity and the mode, then what the mode asks for and is not met.
impl fmt::Display for UsableCapacity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} in the {} mode", self.total_mib, self.mode)?;
        self.unmet().try_for_each(|demand| write!(f, "; it asks for {demand}"))
    }
}

impl fmt::Display for PowerDraw {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.unknown_modules {
            0 => write!(f, "{} at most", self.known_mw),
            1 => write!(f, "{} and what one more module draws, which is not known", self.known_mw),
            unknown => write!(f, "{} and what {unknown} more modules draw, which is not known", self.known_mw),
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::figure::{BandwidthEstimate, Figures, RunningRate};
    use crate::machine::Machine;
    use crate::platform::Identical;
    use crate::population::Layout;
    use crate::testing::{board, clean, mask, mirrored, module, plain, population, processor};
    use crate::unit::Bandwidth;

    #[test]
    fn an_estimate_is_a_range_where_its_bounds_differ() {
        let gbps = |gbps: u64| Bandwidth::from_mbps(gbps * 1000, 1).unwrap();
        let estimate = |swept, spread| BandwidthEstimate { swept_mbps: gbps(swept), spread_mbps: gbps(spread) };
        assert_eq!(estimate(12, 12).to_string(), format!("about {}", gbps(12)));
        assert_eq!(estimate(9, 12).to_string(), format!("about {} to {}", gbps(9), gbps(12)));
    }

    #[test]
    fn fitted_installed_and_usable_are_three_amounts() {
        let plain = plain();
        let amounts = |machine: &Machine, slots: &[&str]| {
            let fitted: Vec<_> = slots.iter().map(|slot| (*slot, &plain)).collect();
            let population = population(&fitted);
            let figures = Figures::of(&Layout::new(machine, &population).unwrap());
            (figures.amounts().to_string(), figures.fitted.to_string())
        };
        let both = amounts(&clean(), &["1A1", "1B1"]);
        assert_eq!(both, ("64 GB installed and usable".to_owned(), "64 GB".to_owned()));
        let halved = amounts(&mirrored(Identical::Organization), &["1A1", "1B1"]);
        assert_eq!(halved.0, "32 GB usable of 64 GB installed, in the mirrored mode");
        let mut board = board();
        board.options = vec![mask(&board, "riser", 2)];
        let masked = Machine::builder(board.build().unwrap()).processor("1", processor().build().unwrap());
        let stranded = amounts(&masked.option("riser").build().unwrap(), &["1A1", "1A3"]);
        assert_eq!(stranded.0, "32 GB installed and usable (64 GB fitted)");
        assert_eq!(stranded.1, "64 GB, some of it where it cannot be used (slot 1A3)");
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
             processor 2: all 32 GB not interleaved (channel C)"
        );
        assert_eq!(text(&["1A1", "1C1"]), "processor 1: all 64 GB at 2 ways (channels A, C); processor 2: no memory");
    }

    #[test]
    fn a_binding_limit_says_what_lifting_it_gives() {
        let (machine, plain, slow) = (clean(), plain(), module("32GB 2Rx4 PC4-2133P-RB0-10"));
        let text = |population| RunningRate::of(&Layout::new(&machine, &population).unwrap()).to_string();
        let one = text(population(&[("1A1", &plain), ("1B1", &slow)]));
        assert!(one.contains("; without it 2400 MT/s."), "{one}");
        let all = text(population(&[("1A1", &plain), ("1B1", &plain)]));
        assert!(all.contains("; lifting it alone changes nothing."), "{all}");
    }
}
