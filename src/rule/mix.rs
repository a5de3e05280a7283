use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::population::{ChannelLoad, Layout, ModuleSite, SocketLoad};
use crate::processor::MissingFact;
use crate::rule::{Detail, Report, unlike_channels, unlike_processors};
use crate::stated::{Basis, Demand, Scope, Source};

/// A key, nothing for what does not take part, or the fact that is missing to tell.
pub type KeyResult = Result<Option<FactValue>, MissingFact>;

/// At most so many different keys within a scope.
#[derive(Debug, Clone, PartialEq, Eq)]
#[non_exhaustive]
pub struct MixBound {
    /// Where keys are compared.
    pub within: Scope,
    /// How many different ones may be there.
    pub at_most: usize,
    /// Whether it must or should be so.
    pub demand: Demand,
    /// What the bound rests on.
    pub basis: Basis,
    /// The text that states it.
    pub source: Option<Source>,
}

impl MixBound {
    /// A bound that is required, on an assumed basis.
    #[must_use]
    pub const fn new(within: Scope, at_most: usize) -> Self {
        Self { within, at_most, demand: Demand::Required, basis: Basis::Assumed, source: None }
    }

    setters! {
        value demand(demand: Demand);
        value basis(basis: Basis);
        some source(source: Source);
    }
}

/// From what a key is read.
pub(crate) enum MixOf {
    Modules(Box<dyn Fn(&ModuleSite<'_>) -> KeyResult + Send + Sync>),
    /// Populated channels.
    Channels(Box<dyn Fn(&ChannelLoad<'_>) -> KeyResult + Send + Sync>),
    /// Populated channels, or those that the mode joins: the facts of their modules over the rounds that each two have.
    Loads(ModuleFact),
    /// Processors with memory: what their channels hold; slot by slot where a bound is required and `by_slot` set.
    Processors {
        fact: ModuleFact,
        by_slot: bool,
    },
}

/// What of a module makes loads the same or not.
pub(crate) type ModuleFact = Box<dyn Fn(&MemoryModule) -> FactValue + Send + Sync>;

pub(crate) type MixBounds = Box<dyn Fn(&Machine) -> Vec<MixBound> + Send + Sync>;

/// How many different keys a channel, a processor or the machine may hold.
pub(crate) struct Mix {
    pub(crate) of: MixOf,
    pub(crate) bounds: MixBounds,
}

impl Mix {
    pub(crate) fn check(&self, layout: &Layout<'_>, report: &mut Report<'_>) {
        for bound in (self.bounds)(layout.machine()) {
            match bound.within {
                Scope::Channel => layout.channels().for_each(|load| {
                    if let MixOf::Modules(key) = &self.of {
                        report.look_at(load.modules());
                        hold(&bound, load.modules(), (key, same_module, slot), report);
                    }
                }),
                Scope::Socket => layout.sockets().for_each(|load| self.hold_in(&bound, std::iter::once(load), report)),
                Scope::Machine => self.hold_in(&bound, layout.sockets(), report),
            }
        }
    }

    fn hold_in<'a>(
        &self,
        bound: &MixBound,
        sockets: impl Iterator<Item = SocketLoad<'a>> + Clone,
        report: &mut Report<'_>,
    ) {
        report.look_at(sockets.clone().flat_map(|socket| socket.modules()));
        match &self.of {
            MixOf::Modules(key) => {
                hold(bound, sockets.flat_map(|socket| socket.modules()), (key, same_module, slot), report);
            }
            MixOf::Channels(key) => hold_channels(bound, sockets, key, report),
            MixOf::Loads(fact) => unlike_channels::hold(bound, sockets, fact, report),
            MixOf::Processors { fact, by_slot } => unlike_processors::hold(bound, sockets, (fact, *by_slot), report),
        }
    }
}

fn hold_channels<'a>(
    bound: &MixBound,
    sockets: impl Iterator<Item = SocketLoad<'a>> + Clone,
    key: impl Fn(&ChannelLoad<'_>) -> KeyResult,
    report: &mut Report<'_>,
) {
    let channels = sockets.flat_map(|socket| socket.channels()).filter(|load| !load.is_empty());
    let place = |load: &ChannelLoad<'_>| Place::channel(load.machine().platform(), load.id());
    hold(bound, channels, (|load: &ChannelLoad<'a>| key(load), |_, _| false, place), report);
}

fn slot(site: &ModuleSite<'_>) -> Place {
    Place::slot(site.machine.platform(), site.slot)
}

/// Whether two modules are equal in all that is known of them.
fn same_module(a: &ModuleSite<'_>, b: &ModuleSite<'_>) -> bool {
    a.module.is_like(b.module)
}

/// Counts the different keys and reports where they are too many. The most frequent keys are taken for
/// the expected ones; the places of the others are named. Items that are the same have the same key, known
/// or not.
pub(crate) fn hold<T>(
    bound: &MixBound,
    items: impl Iterator<Item = T> + Clone,
    (key, same, place): (impl Fn(&T) -> KeyResult, impl Fn(&T, &T) -> bool, impl Fn(&T) -> Place),
    report: &mut Report<'_>,
) {
    let mut seen: Vec<(FactValue, usize)> = Vec::new();
    let mut missing: Vec<(MissingFact, T)> = Vec::new();
    for item in items.clone() {
        match key(&item) {
            Ok(Some(key)) => match seen.iter_mut().find(|(known, _)| *known == key) {
                Some((_, count)) => *count += 1,
                None => seen.push((key, 1)),
            },
            Ok(None) => {}
            Err(fact) => {
                if !missing.iter().any(|(_, other)| same(other, &item)) {
                    missing.push((fact, item));
                }
            }
        }
    }
    if seen.len() > bound.at_most {
        let detail = || {
            seen.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
            let (expected, others) = seen.split_at_checked(bound.at_most).unwrap_or((&[], &seen));
            let odd = |key: &FactValue| others.iter().any(|(other, _)| other == key);
            let places = items.filter(|item| key(item).ok().flatten().is_some_and(|key| odd(&key)));
            let values = |of: &[(FactValue, usize)]| FactValue::list(of.iter().map(|(key, _)| key.clone()));
            Detail::at_all(places.map(|item| place(&item)))
                .fact(FactName::Found, values(others))
                .fact(FactName::With, values(expected))
                .fact(FactName::AtMost, FactValue::count(bound.at_most))
                .fact(FactName::Counting, FactValue::text(&format!("one {}", bound.within)))
                .remedy(Remedy::UseLikeModules)
        };
        report.grounded((bound.basis, bound.source.as_ref()), bound.demand, detail);
    } else if let Some(&(fact, _)) = missing.first().filter(|_| seen.len() + missing.len() > bound.at_most) {
        let places = || items.filter(|item| key(item).is_err()).map(|item| place(&item)).collect();
        report.unknown_bound((bound.basis, bound.demand), fact, places);
    }
}

#[cfg(test)]
mod tests {
    use std::collections::{BTreeMap, BTreeSet};

    use proptest::collection::vec;
    use proptest::option;
    use proptest::prelude::*;
    use proptest::sample::select;

    use super::*;
    use crate::finding::{Finding, Severity, Verdict};
    use crate::population::Population;
    use crate::rule::{Rule, RuleBook};
    use crate::testing::{board_of, lacking, machine, module, name, plain, processor};

    type Filling = BTreeMap<String, MemoryModule>;

    fn modules() -> Vec<MemoryModule> {
        vec![
            plain(),
            module("16GB 2Rx4 PC4-2400T-RA2-11"),
            module("16GB 2Rx8 PC4-2400T-RE2-11"),
            module("8GB 1Rx16 PC4-2400T-RA2-11"),
            lacking(&plain(), &["width"]),
            lacking(&module("16GB 1Rx4 PC4-2400T-RC2-11"), &["width"]),
        ]
    }

    /// Slots "1A1" to "2B2": a label says where its slot is.
    fn fillings() -> impl Strategy<Value = Filling> {
        let labels = ["1A1", "1A2", "1B1", "1B2", "2A1", "2A2", "2B1", "2B2"];
        vec(option::of(select(modules())), 8).prop_map(move |modules| {
            let slots = labels.iter().zip(modules);
            slots.filter_map(|(label, module)| Some(((*label).to_owned(), module?))).collect()
        })
    }

    /// How many letters of a slot's label name the scope that it is in.
    fn letters(within: Scope) -> usize {
        match within {
            Scope::Channel => 2,
            Scope::Socket => 1,
            Scope::Machine => 0,
        }
    }

    fn findings(rule: Rule, filling: &Filling) -> Vec<Finding> {
        let machine = machine(board_of(2, 2, 2), processor());
        let population: Population = filling
            .iter()
            .fold(Population::new(), |population, (label, module)| population.with(name(label), module.clone()));
        RuleBook::empty().with(rule).unwrap().check(&Layout::new(&machine, &population).unwrap())
    }

    fn slots(finding: &Finding) -> BTreeSet<String> {
        let label = |place: &Place| match place {
            Place::Slot { slot } => slot.to_string(),
            other => other.to_string(),
        };
        finding.places.iter().map(label).collect()
    }

    /// The slots of each width in one scope, most frequent width first, and the slots of no known width.
    fn by_width(filling: &Filling, scope: &str) -> (Vec<BTreeSet<String>>, BTreeSet<String>) {
        let (mut known, mut bare) = (BTreeMap::<_, BTreeSet<_>>::new(), BTreeSet::new());
        for (label, module) in filling.iter().filter(|(label, _)| label.starts_with(scope)) {
            match module.width() {
                Some(width) => known.entry(width).or_default().insert(label.clone()),
                None => bare.insert(label.clone()),
            };
        }
        let mut known: Vec<_> = known.into_values().collect();
        known.sort_by_key(|slots| std::cmp::Reverse(slots.len()));
        (known, bare)
    }

    fn different(filling: &Filling, slots: &BTreeSet<String>) -> usize {
        slots.iter().map(|slot| &filling[slot]).collect::<BTreeSet<_>>().len()
    }

    proptest! {
        #[test]
        fn law_declared_form_and_check_agree(
            filling in fillings(),
            within in select(vec![Scope::Channel, Scope::Socket, Scope::Machine]),
            at_most in 0_usize..3,
        ) {
            let rule = Rule::mix("own", "own", Severity::Error, MixBound::new(within, at_most), |site| {
                Ok(Some(FactValue::Width(site.module.width().ok_or(MissingFact::Width)?)))
            });
            let found = findings(rule.unwrap(), &filling);
            let of = |verdict| found.iter().filter(move |finding| finding.verdict == verdict).map(slots);

            let scopes: BTreeSet<&str> = filling.keys().map(|label| &label[..letters(within)]).collect();
            let (mut sizes, mut open) = (Vec::new(), Vec::new());
            for scope in scopes {
                let (known, bare) = by_width(&filling, scope);
                if known.len() > at_most {
                    // the modules to be changed are as few as can be
                    sizes.push(known.iter().skip(at_most).map(BTreeSet::len).sum::<usize>());
                    let named = of(Verdict::Violated).find(|slots| slots.iter().all(|slot| slot.starts_with(scope)));
                    let left = known.iter().filter(|slots| named.iter().any(|named| slots.is_disjoint(named)));
                    prop_assert_eq!(left.count(), at_most);
                // equal modules are of one width, whichever it is
                } else if !bare.is_empty() && known.len() + different(&filling, &bare) > at_most {
                    open.push(bare);
                }
            }
            let mut found_sizes: Vec<_> = of(Verdict::Violated).map(|slots| slots.len()).collect();
            found_sizes.sort_unstable();
            sizes.sort_unstable();
            prop_assert_eq!(found_sizes, sizes);
            prop_assert_eq!(of(Verdict::Unknown).collect::<BTreeSet<_>>(), open.into_iter().collect());
        }

        #[test]
        fn law_declared_form_and_check_agree_on_channels(
            filling in fillings(),
            within in select(vec![Scope::Socket, Scope::Machine]),
            at_most in 0_usize..3,
        ) {
            let rule = Rule::channel_mix("own", "own", Severity::Error, MixBound::new(within, at_most), |load| {
                Ok(Some(FactValue::count(load.len())))
            });
            let found = findings(rule.unwrap(), &filling);
            let mut channels = BTreeMap::<&str, usize>::new();
            filling.keys().for_each(|label| *channels.entry(&label[..2]).or_default() += 1);
            let mut scopes = BTreeMap::<&str, BTreeSet<usize>>::new();
            for (channel, count) in channels {
                scopes.entry(&channel[..letters(within)]).or_default().insert(count);
            }
            prop_assert_eq!(found.len(), scopes.values().filter(|counts| counts.len() > at_most).count());
        }
    }
}
