//! Figures as sentences.

use core::fmt;

use crate::figure::{DomainRate, InstalledCapacity, Load, RateCause, RateLimit, RateObstacle, RunningRate, TableOwner};
use crate::finding::Place;

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
