//! Figures as sentences.

use core::fmt;

use crate::figure::{
    BandwidthEstimate, DemandSort, DomainRate, InstalledCapacity, Interleave, InterleaveDomain, Load, MemoryBandwidth,
    ModeDemand, PowerDraw, RateCause, RateLimit, RateObstacle, Region, RunningRate, TableOwner, UsableCapacity,
};
use crate::finding::Place;
use crate::platform::Identical;
use crate::unit::Bandwidth;

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
            Self::Row { table, module, modules_in_channel, running_voltage_mv } => {
                let at = running_voltage_mv.map_or_else(String::new, |voltage| format!(" at {voltage}"));
                write!(f, "{module}, {modules_in_channel} a channel{at}, by {table}")
            }
            Self::MixRow { table, modules, running_voltage_mv } => {
                let modules: Vec<_> = modules.iter().map(ToString::to_string).collect();
                let at = running_voltage_mv.map_or_else(String::new, |voltage| format!(" at {voltage}"));
                write!(f, "{} in one channel{at}, by {table}", modules.join(" with "))
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

impl fmt::Display for InstalledCapacity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.total_mib)?;
        for (index, socket) in self.sockets.iter().enumerate() {
            let before = if index == 0 { ": " } else { ", " };
            write!(f, "{before}{} in {} at processor {}", socket.capacity_mib, socket.modules, socket.socket)?;
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

/// "128 GB at 4 ways".
impl fmt::Display for Region {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let ways = if self.ways == 1 { "way" } else { "ways" };
        write!(f, "{} at {} {ways}", self.capacity_mib, self.ways)
    }
}

/// The regions, the first filled first.
impl fmt::Display for InterleaveDomain {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let processors = if self.sockets.len() == 1 { "processor" } else { "processors" };
        write!(f, "{processors} {}: ", list(&self.sockets))?;
        if self.regions.is_empty() { f.write_str("no memory") } else { f.write_str(&list(&self.regions)) }
    }
}

/// The domains, then the scheme in force where it is another than the one set.
impl fmt::Display for Interleave {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let domains: Vec<_> = self.domains.iter().map(ToString::to_string).collect();
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

/// Both bounds for even use, what that is of the machine's best, the sum over processors where that is more, and the peak;
/// then what limits.
impl fmt::Display for MemoryBandwidth {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.sockets.iter().all(|socket| socket.rate_mts.is_none()) {
            return f.write_str("not known, for there is no running rate");
        }
        let sum = Bounds(self.swept_mbps, self.spread_mbps);
        let even = self.even_swept_mbps.zip(self.even_spread_mbps).map(|(swept, spread)| Bounds(swept, spread));
        let differ = even.as_ref() != Some(&sum);
        match even {
            None => f.write_str("not known for even use of all processors, for one with memory has no running rate")?,
            Some(even) => {
                write!(f, "{even}{}", if differ { " for even use of all processors" } else { "" })?;
                match (self.relative_swept, self.relative_spread) {
                    (Some(swept), Some(spread)) if swept != spread => write!(f, ", {swept} to {spread}")?,
                    (_, Some(share)) => write!(f, ", {share}")?,
                    (_, None) => {}
                }
                write!(f, " of the board's {}", self.best_mbps)?;
            }
        }
        if differ {
            write!(f, "; {sum} with each on its own memory")?;
            for socket in &self.sockets {
                let own = socket.relative_spread.map_or_else(|| "nothing".to_owned(), |share| share.to_string());
                write!(f, ", processor {} at {own} of its best", socket.socket)?;
            }
        }
        write!(f, "; peak of the channels filled {}", self.peak_mbps)?;
        for socket in &self.sockets {
            if let Some(slowest) = &socket.slowest {
                let ways = if slowest.ways == 1 { "way" } else { "ways" };
                let (share, processor) = (slowest.share, &socket.socket);
                write!(f, "; processor {processor}: {share} of its memory at only {} {ways}", slowest.ways)?;
            }
        }
        Ok(())
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
    use crate::figure::{BandwidthEstimate, RunningRate};
    use crate::population::Layout;
    use crate::testing::{clean, module, plain, population};
    use crate::unit::Bandwidth;

    #[test]
    fn an_estimate_is_a_range_where_its_bounds_differ() {
        let gbps = |gbps: u64| Bandwidth::from_mbps(gbps * 1000, 1).unwrap();
        let estimate = |swept, spread| BandwidthEstimate { swept_mbps: gbps(swept), spread_mbps: gbps(spread) };
        assert_eq!(estimate(12, 12).to_string(), format!("about {}", gbps(12)));
        assert_eq!(estimate(9, 12).to_string(), format!("about {} to {}", gbps(9), gbps(12)));
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
