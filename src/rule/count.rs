use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::machine::Machine;
use crate::population::Layout;
use crate::rule::{Detail, Report};
use crate::stated::{Basis, Demand, Scope, Source};

/// The numbers that a count allows.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
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
#[non_exhaustive]
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

    setters! {
        value empty_is_exempt(empty_is_exempt: bool);
        value demand(demand: Demand);
        value basis(basis: Basis);
        some source(source: Source);
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

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use proptest::sample::{select, subsequence};

    use super::*;
    use crate::finding::Severity;
    use crate::population::Population;
    use crate::rule::{Rule, RuleBook};
    use crate::testing::{board_of, machine, name, plain, processor};

    const LABELS: [&str; 8] = ["1A1", "1A2", "1B1", "1B2", "2A1", "2A2", "2B1", "2B2"];

    fn sets() -> impl Strategy<Value = CountSet> {
        prop_oneof![
            (0_usize..9).prop_map(CountSet::AtLeast),
            (0_usize..9).prop_map(CountSet::AtMost),
            subsequence((0..9).collect::<Vec<_>>(), 0..5).prop_map(CountSet::OneOf),
            Just(CountSet::Even),
        ]
    }

    /// The numbers up to 8 that a set allows, written out.
    fn written_out(set: &CountSet) -> Vec<usize> {
        match set {
            CountSet::AtLeast(least) => (*least..=8).collect(),
            CountSet::AtMost(most) => (0..=*most).collect(),
            CountSet::OneOf(counts) => counts.clone(),
            CountSet::Even => vec![0, 2, 4, 6, 8],
        }
    }

    proptest! {
        #[test]
        fn law_declared_form_and_check_agree(
            filled in subsequence(LABELS.to_vec(), 0..=8),
            within in select(vec![Scope::Channel, Scope::Socket, Scope::Machine]),
            allowed in sets(),
            empty_is_exempt in any::<bool>(),
        ) {
            let scopes: &[&str] = match within {
                Scope::Channel => &["1A", "1B", "2A", "2B"],
                Scope::Socket => &["1", "2"],
                Scope::Machine => &[""],
            };
            let numbers = written_out(&allowed);
            let counts = scopes.iter().map(|scope| filled.iter().filter(|label| label.starts_with(*scope)).count());
            let broken = counts.filter(|count| !numbers.contains(count) && (*count > 0 || !empty_is_exempt)).count();

            let bound = CountBound { empty_is_exempt, ..CountBound::new(within, allowed) };
            let rules = RuleBook::empty().with(Rule::count("own", "own", Severity::Error, bound).unwrap()).unwrap();
            let machine = machine(board_of(2, 2, 2), processor());
            let population = filled.iter().fold(Population::new(), |all, label| all.with(name(label), plain()));
            let found = rules.check(&Layout::new(&machine, &population).unwrap());
            prop_assert_eq!(found.len(), broken);
        }
    }
}
