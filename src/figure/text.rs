//! Figures as sentences.

use core::fmt;

use itertools::Itertools;

use crate::figure::{
    DemandSort, DomainRate, Figures, FittedCapacity, InstalledCapacity, Load, ModeDemand, PowerDraw, RateCause,
    RateLimit, RateObstacle, RateRange, RunningRate, TableOwner, UsableCapacity,
};
use crate::finding::Place;
use crate::platform::{ChannelMinimum, Identical, Mode};
use crate::processor::MissingFact;

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
            Self::Other(name) => name.fmt(f),
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
            Self::Other(name) => name.fmt(f),
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
            Self::MissingFact { fact, places: at } => {
                let verb = if matches!(fact, MissingFact::PackageRanks | MissingFact::Voltages) { "are" } else { "is" };
                write!(f, "the {fact} of modules {verb} not known ({})", places(at))
            }
            Self::NoCommonVoltage => f.write_str("no voltage suits all modules and processors"),
            Self::Other(name) => name.fmt(f),
            Self::NoStep => f.write_str("every rate that the machine can run at is above a limit"),
        }
    }
}

/// Not known, but between two rates.
impl fmt::Display for RateRange {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let at_most = self.at_most_mts;
        match self.at_least_mts {
            Some(at_least) if at_least == at_most => write!(f, "{at_most}, as far as is known"),
            Some(at_least) => write!(f, "not known, from {at_least} to {at_most}"),
            None => write!(f, "not known, at most {at_most}"),
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
                match self.range_mts {
                    Some(range) => write!(f, "{range}")?,
                    None => f.write_str("No rate")?,
                }
                for (index, obstacle) in self.obstacles.iter().enumerate() {
                    write!(f, "{}{obstacle}", if index == 0 { ": " } else { "; " })?;
                }
                f.write_str(".")?;
                let Some(range) = self.range_mts else { return Ok(()) };
                let mut limits = self.binding().filter(|limit| limit.rate_mts <= range.at_most_mts);
                return limits.try_for_each(|limit| write!(f, " Binding, {limit}."));
            }
        }
        for limit in self.binding() {
            write!(f, " Binding, {limit}")?;
            match limit.lifted_mts {
                Some(lifted) if Some(lifted) != self.rate_mts => write!(f, "; without it {lifted}.")?,
                _ => f.write_str("; lifting it alone does not help.")?,
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
            if usable.unmet().next().is_some() {
                f.write_str(", which is not met")?;
            }
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

pub(crate) fn list<T: fmt::Display>(items: impl IntoIterator<Item = T>) -> String {
    items.into_iter().map(|item| item.to_string()).collect::<Vec<_>>().join(", ")
}

impl fmt::Display for Identical {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Nothing => "nothing in particular",
            Self::Capacity => "modules of the same capacity",
            Self::Organization => "modules of the same capacity, ranks, stack and device width",
            Self::Facts => "the same modules",
            Self::Part => "modules of one part and maker, and alike in all other facts but power",
        })
    }
}

impl fmt::Display for ChannelMinimum {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "at least {} of {}", self.modules_at_least, self.module)
    }
}

impl fmt::Display for DemandSort {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Processors(names) => write!(f, "a processor that offers it ({})", list(names)),
            Self::Identical(identical) => write!(f, "{identical}, slot by slot, in the channels that it joins"),
            Self::ModulesAtLeast(least) => write!(f, "at least {least} modules in a channel that holds any"),
            Self::AnyOf(minimums) => write!(f, "{} in a channel that holds any", minimums.iter().join(" or ")),
            Self::Partners(per_mille) => {
                let (whole, tenth) = (per_mille / 10, per_mille % 10);
                write!(f, "a partner in another of the channels that it joins for {whole}.{tenth} % of what they hold")
            }
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
    use crate::figure::{Figures, RunningRate};
    use crate::machine::Machine;
    use crate::platform::Identical;
    use crate::population::Layout;
    use crate::testing::{board, clean, mask, mirrored, module, plain, population, processor};

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
    fn a_binding_limit_says_what_lifting_it_gives() {
        let (machine, plain, slow) = (clean(), plain(), module("32GB 2Rx4 PC4-2133P-RB0-10"));
        let text = |population| RunningRate::of(&Layout::new(&machine, &population).unwrap()).to_string();
        let one = text(population(&[("1A1", &plain), ("1B1", &slow)]));
        assert!(one.contains("; without it 2400 MT/s."), "{one}");
        let all = text(population(&[("1A1", &plain), ("1B1", &plain)]));
        assert!(all.contains("; lifting it alone does not help."), "{all}");
    }
}
