use core::fmt;

use crate::population::{ChannelLoad, Layout, ModuleSite, SocketLoad};
use crate::rule::count::{self, CountBounds};
use crate::rule::{Mix, Report};

/// What a rule looks at, and how. The check of a whole layout is derived from it.
pub(crate) enum Form {
    Module(Box<dyn Fn(&ModuleSite<'_>, &mut Report<'_>) + Send + Sync>),
    Channel(Box<dyn Fn(&ChannelLoad<'_>, &mut Report<'_>) + Send + Sync>),
    Socket(Box<dyn Fn(&SocketLoad<'_>, &mut Report<'_>) + Send + Sync>),
    Mix(Mix),
    Count(CountBounds),
    Population(Box<dyn Fn(&Layout<'_>, &mut Report<'_>) + Send + Sync>),
}

impl Form {
    /// Holds a whole layout against the rule.
    pub(crate) fn check(&self, layout: &Layout<'_>, report: &mut Report<'_>) {
        match self {
            Self::Module(check) => layout.modules().for_each(|site| check(&site, report.look_at([site]))),
            Self::Channel(check) => {
                layout.channels().for_each(|load| check(&load, report.look_at(load.modules())));
            }
            Self::Socket(check) => layout.sockets().for_each(|load| check(&load, report.look_at(load.modules()))),
            Self::Mix(mix) => mix.check(layout, report),
            Self::Count(bounds) => count::check(bounds, layout, report),
            Self::Population(check) => check(layout, report.look_at(layout.modules())),
        }
    }

    /// Whether it looks at single modules alone.
    pub(crate) const fn is_of_modules(&self) -> bool {
        matches!(self, Self::Module(_))
    }

    /// What the rule looks at, as a word.
    pub(crate) fn word(&self) -> &'static str {
        match self {
            Self::Module(_) => "module",
            Self::Channel(_) => "channel",
            Self::Socket(_) => "socket",
            Self::Mix(_) => "mix",
            Self::Count(_) => "count",
            Self::Population(_) => "population",
        }
    }
}

impl fmt::Debug for Form {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}
