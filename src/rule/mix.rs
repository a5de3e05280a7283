use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::machine::Machine;
use crate::population::{ChannelLoad, Layout, ModuleSite, SocketLoad};
use crate::processor::MissingFact;
use crate::rule::{Detail, Report};
use crate::stated::{Basis, Demand, Scope, Source};

/// A key, nothing for what does not take part, or the fact that is missing to tell.
pub type KeyResult = Result<Option<FactValue>, MissingFact>;

/// At most so many different keys within a scope.
#[derive(Debug, Clone, PartialEq, Eq)]
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
}

/// From what a key is read.
pub(crate) enum MixOf {
    Modules(Box<dyn Fn(&ModuleSite<'_>) -> KeyResult + Send + Sync>),
    /// Populated channels.
    Channels(Box<dyn Fn(&ChannelLoad<'_>) -> KeyResult + Send + Sync>),
    /// Processors that are present.
    Sockets(Box<dyn Fn(&SocketLoad<'_>) -> KeyResult + Send + Sync>),
}

type Bounds = Box<dyn Fn(&Machine) -> Vec<MixBound> + Send + Sync>;

/// How many different keys a channel, a processor or the machine may hold.
pub(crate) struct Mix {
    pub(crate) of: MixOf,
    pub(crate) bounds: Bounds,
}

impl Mix {
    pub(crate) fn check(&self, layout: &Layout<'_>, report: &mut Report<'_>) {
        for bound in (self.bounds)(layout.machine()) {
            match bound.within {
                Scope::Channel => layout.channels().for_each(|load| {
                    if let MixOf::Modules(key) = &self.of {
                        let place = |site: &ModuleSite<'_>| Place::slot(load.machine().platform(), site.slot);
                        hold(&bound, load.modules().map(|site| (key(&site), place(&site))), report);
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
        match &self.of {
            MixOf::Modules(key) => {
                let sites = sockets.flat_map(|socket| socket.modules());
                hold(bound, sites.map(|site| (key(&site), Place::slot(site.machine.platform(), site.slot))), report);
            }
            MixOf::Channels(key) => {
                let channels = sockets.flat_map(|socket| socket.channels()).filter(|load| !load.is_empty());
                hold(
                    bound,
                    channels.map(|load| (key(&load), Place::channel(load.machine().platform(), load.id()))),
                    report,
                );
            }
            MixOf::Sockets(key) => {
                hold(
                    bound,
                    sockets.map(|load| (key(&load), Place::socket(load.machine().platform(), load.id()))),
                    report,
                );
            }
        }
    }
}

/// Counts the different keys and reports where they are too many. The most frequent keys are taken for
/// the expected ones; the places of the others are named.
fn hold(bound: &MixBound, keys: impl Iterator<Item = (KeyResult, Place)> + Clone, report: &mut Report<'_>) {
    let mut seen: Vec<(FactValue, usize)> = Vec::new();
    let mut missing: Option<(MissingFact, usize)> = None;
    for (key, _) in keys.clone() {
        match key {
            Ok(Some(key)) => match seen.iter_mut().find(|(known, _)| *known == key) {
                Some((_, count)) => *count += 1,
                None => seen.push((key, 1)),
            },
            Ok(None) => {}
            Err(fact) => missing = missing.map_or(Some((fact, 1)), |(first, count)| Some((first, count + 1))),
        }
    }
    if seen.len() > bound.at_most {
        let detail = || {
            seen.sort_by(|a, b| b.1.cmp(&a.1).then_with(|| a.0.cmp(&b.0)));
            let (expected, others) = seen.split_at_checked(bound.at_most).unwrap_or((&[], &seen));
            let odd = |key: &FactValue| others.iter().any(|(other, _)| other == key);
            let places = keys.clone().filter_map(|(key, place)| key.ok().flatten().filter(&odd).map(|_| place));
            let values = |of: &[(FactValue, usize)]| FactValue::list(of.iter().map(|(key, _)| key.clone()));
            Detail::at_all(places)
                .fact(FactName::Found, values(others))
                .fact(FactName::With, values(expected))
                .fact(FactName::AtMost, FactValue::count(bound.at_most))
                .fact(FactName::Counting, FactValue::text(&format!("different ones in one {}", bound.within)))
                .remedy(Remedy::UseLikeModules)
        };
        report.grounded((bound.basis, bound.source.as_ref()), bound.demand, detail);
    } else if let Some((fact, _)) = missing.filter(|(_, count)| seen.len() + count > bound.at_most) {
        let places = || keys.filter(|(key, _)| key.is_err()).map(|(_, place)| place).collect();
        report.unknown_bound((bound.basis, bound.demand), fact, places);
    }
}
