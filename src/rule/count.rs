use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::machine::Machine;
use crate::population::Layout;
use crate::rule::{Detail, Report};
use crate::stated::{Basis, Demand, Scope, Source};

/// The numbers that a count allows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CountSet {
    /// This many or more.
    AtLeast(usize),
    /// This many or fewer.
    AtMost(usize),
    /// One of these numbers.
    OneOf(Vec<usize>),
    /// An even number.
    Even,
}

/// A bound on the number of modules.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CountBound {
    /// Where modules are counted.
    pub within: Scope,
    /// The numbers allowed.
    pub allowed: CountSet,
    /// Whether a channel or processor without any module is exempt.
    pub empty_is_exempt: bool,
    /// Whether it must or should be so.
    pub demand: Demand,
    /// What the bound rests on.
    pub basis: Basis,
    /// The text that states it.
    pub source: Option<Source>,
}

impl CountBound {
    /// A bound that is required, on an assumed basis; nothing is exempt.
    #[must_use]
    pub const fn new(within: Scope, allowed: CountSet) -> Self {
        Self { within, allowed, empty_is_exempt: false, demand: Demand::Required, basis: Basis::Assumed, source: None }
    }

    /// Whether so many modules are allowed.
    #[must_use]
    pub fn allows(&self, count: usize) -> bool {
        (count == 0 && self.empty_is_exempt) || self.allowed.contains(count)
    }
}

impl CountSet {
    /// Whether it has the number.
    #[must_use]
    pub fn contains(&self, count: usize) -> bool {
        match self {
            Self::AtLeast(least) => count >= *least,
            Self::AtMost(most) => count <= *most,
            Self::OneOf(counts) => counts.contains(&count),
            Self::Even => count % 2 == 0,
        }
    }

    fn fact(&self) -> (FactName, FactValue) {
        match self {
            Self::AtLeast(least) => (FactName::AtLeast, FactValue::count(*least)),
            Self::AtMost(most) => (FactName::AtMost, FactValue::count(*most)),
            Self::OneOf(counts) => {
                (FactName::Allowed, FactValue::list(counts.iter().map(|&count| FactValue::count(count))))
            }
            Self::Even => (FactName::Allowed, FactValue::text("even numbers")),
        }
    }
}

pub(crate) type CountBounds = Box<dyn Fn(&Machine) -> Vec<CountBound> + Send + Sync>;

/// Holds the numbers of modules against bounds.
pub(crate) fn check(bounds: &CountBounds, layout: &Layout<'_>, report: &mut Report<'_>) {
    let platform = layout.machine().platform();
    for bound in bounds(layout.machine()) {
        match bound.within {
            Scope::Channel => {
                layout
                    .channels()
                    .for_each(|load| hold(&bound, load.len(), || Place::channel(platform, load.id()), report));
            }
            Scope::Socket => {
                layout
                    .sockets()
                    .for_each(|load| hold(&bound, load.len(), || Place::socket(platform, load.id()), report));
            }
            Scope::Machine => hold(&bound, layout.modules().count(), || Place::Machine, report),
        }
    }
}

fn hold(bound: &CountBound, count: usize, place: impl FnOnce() -> Place, report: &mut Report<'_>) {
    if bound.allows(count) {
        return;
    }
    let detail = || {
        let (name, value) = bound.allowed.fact();
        let remedy = match bound.allowed {
            CountSet::AtMost(_) => Remedy::RemoveModule,
            CountSet::AtLeast(_) | CountSet::OneOf(_) | CountSet::Even => Remedy::AddModules,
        };
        Detail::at(place()).fact(FactName::Found, FactValue::count(count)).fact(name, value).remedy(remedy)
    };
    report.grounded((bound.basis, bound.source.as_ref()), bound.demand, detail);
}
