use core::fmt;

use serde::{Deserialize, Serialize};

use crate::finding::Finding;
use crate::module::MemoryModule;
use crate::purchase::ModuleSource;
use crate::unit::Name;

/// A module at hand that may not stand in for another, and why.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct NoStandIn {
    /// Where it would come from.
    pub source: ModuleSource,
    /// The module.
    pub module: MemoryModule,
    /// The first thing that is in the way.
    pub why: WhyNoStandIn,
}

/// Why a module may not stand in.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum WhyNoStandIn {
    /// None is left.
    NoneLeft,
    /// Its condition, its lead time, its kind or what is known of it is not what the request takes.
    NotWanted,
    /// With it there is a finding that is not there now and that the request refuses: the worst of them.
    NewFinding(Box<Finding>),
    /// With it memory runs at another rate than now, or not at the rate that is asked for.
    OtherRate,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// Where it would come from, and why it may not stand in.
impl fmt::Display for NoStandIn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} from {}: {}", self.module, self.source, self.why)
    }
}

impl fmt::Display for WhyNoStandIn {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoneLeft => f.write_str("none is left"),
            Self::NotWanted => f.write_str("the request does not take its condition, lead time, kind or open facts"),
            Self::NewFinding(finding) => write!(f, "{} {}: {}", finding.severity, finding.code, finding.summary),
            Self::OtherRate => f.write_str("memory would run at another rate"),
            Self::Other(name) => name.fmt(f),
        }
    }
}
