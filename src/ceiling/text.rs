//! Acceptances and ceilings as text.

use core::fmt;

use crate::ceiling::{Acceptance, Binds, Ceiling, LoadRate};
use crate::figure::RateObstacle;
use crate::module::Telling;

impl fmt::Display for LoadRate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} of {} slots in a channel: ", self.modules_in_channel, self.slots_wired)?;
        match (self.allowed, self.rate_mts) {
            (false, _) => f.write_str("not allowed"),
            (true, Some(rate)) => rate.fmt(f),
            (true, None) => {
                let is_missing = |obstacle: &RateObstacle| matches!(obstacle, RateObstacle::MissingFact { .. });
                let is_unknown = self.obstacles.is_empty() || self.obstacles.iter().any(is_missing);
                match self.range_mts {
                    Some(range) => write!(f, "rate {range}")?,
                    None => f.write_str(if is_unknown { "rate not known" } else { "no rate" })?,
                }
                for (index, obstacle) in self.obstacles.iter().enumerate() {
                    write!(f, "{}{obstacle}", if index == 0 { ": " } else { "; " })?;
                }
                Ok(())
            }
        }
    }
}

/// Where, how many, at what rate; then why no more, why not elsewhere, what is not known, and warnings.
impl fmt::Display for Acceptance {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.at_most == 0 && self.stopped.is_some() {
            write!(f, "{}: not known whether any fits", self.module)?;
        } else if self.at_most == 0 {
            write!(f, "{}: does not fit", self.module)?;
            if self.fits.is_empty() && self.refused.is_empty() {
                f.write_str("; there is no live slot")?;
            }
        } else {
            let slots = if self.refused.is_empty() {
                "every live slot".to_owned()
            } else {
                format!("slots {}", self.fits.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "))
            };
            let known = if self.unjudged.is_empty() { "" } else { ", as far as is known" };
            let most = if self.stopped.is_some() { "at least" } else { "at most" };
            write!(f, "{}: fits {slots}{known}; {most} {}, {}", self.module, self.at_most, self.capacity_mib)?;
            if self.usable_mib != self.capacity_mib {
                write!(f, " ({} usable)", self.usable_mib)?;
            }
        }
        if let Some(reason) = &self.stopped {
            write!(f, "; the search for more {reason}")?;
        }
        self.loads.iter().try_for_each(|load| write!(f, "\n  {load}"))?;
        if !self.limited_by.is_empty() {
            write!(f, "\n  {}:", if self.at_most == 0 { "why none" } else { "why no more" })?;
            self.limited_by.iter().try_for_each(|finding| write!(f, "\n    {finding}"))?;
        } else if self.at_most < self.fits.len() && self.stopped.is_none() {
            f.write_str("\n  more may fit, but no more would be usable")?;
        }
        let refused = self.refused.iter().flat_map(|refusal| &refusal.findings);
        let mut others = refused.chain(&self.unjudged).chain(&self.warnings);
        others.try_for_each(|finding| write!(f, "\n  {finding}"))
    }
}

impl fmt::Display for Binds {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Slots => f.write_str("all slots full"),
            Self::Other(name) => name.fmt(f),
            Self::Rate { limits } => {
                let limits: Vec<_> = limits.iter().map(|limit| format!("{} {}", limit.rate_mts, limit.cause)).collect();
                write!(f, "more would lower the rate: {}", limits.join("; "))
            }
            Self::Rules { codes } => {
                write!(f, "rules: {}", codes.iter().map(ToString::to_string).collect::<Vec<_>>().join(", "))
            }
        }
    }
}

/// A table, a line a row.
impl fmt::Display for Ceiling {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if let Some(reason) = &self.stopped {
            writeln!(f, "rows may be missing: the search {reason}")?;
        }
        let telling = Telling::among(self.rows.iter().map(|row| &row.module));
        for (index, row) in self.rows.iter().enumerate() {
            if index > 0 {
                f.write_str("\n")?;
            }
            write!(
                f,
                "{:<13} {:>9}  {:>8}  {:>2} x {}; {}",
                row.kind,
                row.rate_mts.to_string(),
                row.usable_mib.to_string(),
                row.count,
                telling.text(&row.module),
                row.binds
            )?;
        }
        Ok(())
    }
}
