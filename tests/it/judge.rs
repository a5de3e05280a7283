//! How layouts compare, worked out from the documentation alone.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use std::cmp::Ordering;
use std::collections::{BTreeMap, BTreeSet};

use itertools::Itertools;
use slotwright::assess::{Assessment, Planner};
use slotwright::finding::{Fact, FactName, FactValue, Finding, Place, Severity};
use slotwright::machine::{Machine, SlotState};
use slotwright::module::MemoryModule;
use slotwright::platform::{ChannelId, SlotId};
use slotwright::population::{Fitted, Occupant, Population};
use slotwright::purchase::PlanRequest;
use slotwright::rule::STANDARD_RULES;
use slotwright::unit::{Bandwidth, DataRate, Name};

/// A difference of capacities relative to live slots, as numerator and denominator.
#[derive(Debug, Clone, Copy)]
pub struct Spread(u128, u128);

impl PartialEq for Spread {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other).is_eq()
    }
}

impl Eq for Spread {}

impl PartialOrd for Spread {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Spread {
    fn cmp(&self, other: &Self) -> Ordering {
        (self.0 * other.1).cmp(&(other.0 * self.1))
    }
}

/// The rules that are about evenness: their warnings refuse nothing that was so before and is left alone.
const ON_EVENNESS: [&str; 12] = [
    "channels-alike",
    "controllers-alike",
    "empty-channel",
    "empty-controller",
    "empty-domain",
    "even-counts",
    "listed-counts",
    "odd-channels",
    "socket-minimum",
    "sockets-alike",
    "spread-first",
    "uneven-interleave",
];

/// Whether a finding is a warning, or less, of a rule about evenness.
pub fn is_uneven(finding: &Finding) -> bool {
    finding.severity < Severity::Error && ON_EVENNESS.contains(&finding.code.as_str())
}

/// The socket of a place; none for the machine.
fn socket_of(machine: &Machine, place: &Place) -> Option<Name> {
    let platform = machine.platform();
    match place {
        Place::Machine => None,
        Place::Slot { slot } => {
            Some(platform.socket(platform.slot(platform.slot_named(slot.as_str())?).socket).label.clone())
        }
        Place::Socket { socket } | Place::Controller { socket, .. } | Place::Channel { socket, .. } => {
            Some(socket.clone())
        }
        other => panic!("{other:?}"),
    }
}

/// Whether a population carries nothing that refuses it, but for what is present already and left alone.
pub fn is_let_pass(
    planner: &Planner<'_>,
    present: &Population,
    population: &Population,
    assessment: &Assessment,
    is_refused: &dyn Fn(&Finding) -> bool,
) -> bool {
    let machine = planner.machine();
    let refusing: Vec<&Finding> = assessment.findings.iter().filter(|finding| is_refused(finding)).collect();
    if !refusing.iter().all(|finding| is_uneven(finding)) {
        return false;
    }
    if refusing.is_empty() {
        return true;
    }
    let before = assess(planner, present, present);
    let module = |population: &Population, slot: &Name| match population.get(slot.as_str()) {
        // what is faulty counts for nothing
        Some(Occupant::Module(fitted)) if fitted.fault.is_none() => Some(fitted.module.clone()),
        _ => None,
    };
    let working = || present.modules().filter(|(_, fitted)| fitted.fault.is_none());
    let untouched = |socket: Option<&Name>| {
        let platform = machine.platform();
        let slots = platform
            .slots()
            .iter()
            .filter(|slot| socket.is_none_or(|socket| platform.socket(slot.socket).label == *socket));
        slots.into_iter().all(|slot| module(present, slot.label()) == module(population, slot.label()))
    };
    let holds_some = |socket: Option<&Name>| {
        let platform = machine.platform();
        let slot = |slot: &Name| platform.slot(platform.slot_named(slot.as_str()).unwrap()).socket;
        working().any(|(label, _)| socket.is_some_and(|socket| platform.socket(slot(label)).label == *socket))
    };
    let may_stay = |socket: Option<Name>| untouched(socket.as_ref()) && holds_some(socket.as_ref());
    let all_stay = untouched(None) && working().next().is_some();
    refusing.iter().all(|finding| {
        before.findings.iter().any(|known| {
            known.code == finding.code
                && known.places == finding.places
                && known.severity < Severity::Error
                && is_refused(known)
        }) && (all_stay || finding.places.iter().all(|place| may_stay(socket_of(machine, place))))
    })
}

/// Whether a fact of a module is missing that a rule on a machine may ask for.
pub fn lacks_a_fact(machine: &Machine, module: &MemoryModule) -> bool {
    let platform = machine.platform();
    let described = module.organization().is_some()
        && module.die_density().is_some()
        && module.form_factor().is_some()
        && module.grade().is_some()
        && module.ecc().is_some()
        && module.voltages().is_some();
    let limits_height = platform.slots().iter().any(|slot| slot.description().height_limit_um.is_some());
    !described
        || module.power().is_none() && platform.description().power_budget_mw.is_some()
        || module.height().is_none() && limits_height
}

/// The modules of a population of which a fact is missing, and whether each of them runs: it is sound, and in a live slot.
fn lacking<'p>(machine: &Machine, population: &'p Population) -> impl Iterator<Item = (&'p Name, &'p Fitted, bool)> {
    let runs = |slot: &Name, fitted: &Fitted| {
        let slot = machine.platform().slot_named(slot.as_str());
        fitted.fault.is_none() && slot.is_some_and(|slot| machine.is_live(slot))
    };
    let lacking = population.modules().filter(|(_, fitted)| lacks_a_fact(machine, &fitted.module));
    lacking.map(move |(slot, fitted)| (slot, fitted, runs(slot, fitted)))
}

/// What the rules say of a population where this is present. What runs is evidence; modules of which a fact is missing
/// all run, or none of them does.
pub fn assess(planner: &Planner<'_>, present: &Population, population: &Population) -> Assessment {
    let in_use = lacking(planner.machine(), present).any(|(.., runs)| runs);
    let assessed = if in_use { planner.assess_in_use(population) } else { planner.assess(population) };
    assessed.unwrap()
}

/// The same request where modules of which a fact is missing all run, or none of them does; those that do run in slots
/// of one form and height at processors of one description.
pub fn with_evidence(machine: &Machine, mut request: PlanRequest) -> PlanRequest {
    let of = |runs: bool| -> Vec<Name> {
        let all = lacking(machine, &request.present.population).filter(|&(_, fitted, other)| {
            // what is faulty is planned nowhere
            fitted.fault.is_none() && other == runs
        });
        all.map(|(slot, ..)| slot.clone()).collect()
    };
    let (running, mut other) = (of(true), of(false));
    if running.is_empty() {
        return request;
    }
    request.offers.to_mut().retain(|offer| !lacks_a_fact(machine, &offer.module));
    request.shelf.retain(|item| !lacks_a_fact(machine, &item.module));
    let platform = machine.platform();
    let likeness = |slot: SlotId| {
        let slot = platform.slot(slot);
        let described = slot.description();
        (machine.processor(slot.socket), described.form_factor, described.height_limit_um)
    };
    if !machine.live_slots().map(likeness).all_equal() {
        other.extend(running);
    }
    let present = &mut request.present;
    let kept = present.population.iter().filter(|(slot, _)| !other.contains(slot));
    present.population = kept.map(|(slot, occupant)| (slot.clone(), occupant.clone())).collect();
    present.pinned.retain(|slot| !other.contains(slot));
    present.credits.retain(|slot, _| !other.contains(slot));
    request
}

/// Whether nothing is an error.
pub fn has_no_error(assessment: &Assessment) -> bool {
    assessment.from_severity(Severity::Error).next().is_none()
}

pub fn modules(population: &Population) -> BTreeSet<&MemoryModule> {
    population.modules().map(|(_, fitted)| &fitted.module).collect()
}

/// The largest difference between processors present that have live slots.
pub fn spread(machine: &Machine, assessment: &Assessment) -> Spread {
    let platform = machine.platform();
    let sockets: Vec<(u128, u128)> = assessment
        .figures
        .installed
        .sockets
        .iter()
        .map(|socket| {
            let id = platform.socket_named(socket.socket.as_str()).unwrap();
            let live = platform.socket(id).slots.iter().filter(|&&slot| machine.is_live(slot)).count();
            (u128::from(socket.capacity_mib.mib()), live as u128)
        })
        .filter(|&(_, live)| live > 0)
        .collect();
    let pairs = sockets.iter().flat_map(|&a| sockets.iter().map(move |&b| (a, b)));
    pairs.map(|(a, b)| Spread((a.0 * b.1).abs_diff(b.0 * a.1), a.1 * b.1)).max().unwrap_or(Spread(0, 1))
}

/// How many processors have no memory.
pub fn bare(assessment: &Assessment) -> usize {
    assessment.figures.installed.sockets.iter().filter(|socket| socket.modules == 0).count()
}

/// Both bounds of the bandwidth, in the order in which they decide: spread, then swept. Held against another
/// method by themselves.
pub fn bandwidth(assessment: &Assessment) -> (Bandwidth, Bandwidth) {
    let bandwidth = &assessment.figures.bandwidth;
    (bandwidth.spread_mbps, bandwidth.swept_mbps)
}

pub fn rate(assessment: &Assessment) -> Option<DataRate> {
    assessment.figures.running_rate.rate()
}

/// Whether an error of a channel by itself bars it.
fn bars_channel(finding: &Finding) -> bool {
    let code = finding.code.as_str();
    let within_channel = |fact: &Fact| {
        fact.name == FactName::Counting
            && matches!(&fact.value, FactValue::Text(text) if text.as_str().ends_with("one channel"))
    };
    finding.severity == Severity::Error
        && (matches!(code, "rate-not-allowed" | "no-rate-step")
            || STANDARD_RULES.iter().any(|row| {
                row.code == code
                    && match row.scope {
                        "module" | "channel" => true,
                        "mix" => finding.facts.iter().any(within_channel),
                        _ => false,
                    }
            }))
}

/// Looks at channels by themselves, and remembers what it saw.
#[derive(Debug)]
pub struct Channels<'p, 'm> {
    planner: &'p Planner<'m>,
    seen: BTreeMap<Vec<(Name, Occupant)>, bool>,
}

impl<'p, 'm> Channels<'p, 'm> {
    pub fn new(planner: &'p Planner<'m>) -> Self {
        Self { planner, seen: BTreeMap::new() }
    }

    fn legal(&mut self, content: &[(Name, Occupant)]) -> bool {
        if let Some(&known) = self.seen.get(content) {
            return known;
        }
        let alone: Population = content.iter().cloned().collect();
        let counted = |finding: &Finding| {
            finding.severity == Severity::Error
                && finding.code.as_str() == "listed-counts"
                && finding.places.iter().any(|place| matches!(place, Place::Channel { .. }))
        };
        let findings = self.planner.assess(&alone).unwrap().findings;
        let legal = !findings.iter().any(|finding| bars_channel(finding) || counted(finding));
        self.seen.insert(content.to_vec(), legal);
        legal
    }

    /// The channels that take memory: of their slots that a module could sit in, modules of one sort fill some without an
    /// error on the channel by itself, or none of them is closed.
    pub fn with_memory(&mut self, others: &Population, sorts: &[MemoryModule]) -> Vec<ChannelId> {
        let machine = self.planner.machine();
        let platform = machine.platform();
        let is_closed = |slot: &SlotId| matches!(machine.slot_state(*slot), SlotState::Closed { .. });
        let mut taking = Vec::new();
        for (id, channel) in platform.channel_ids().zip(platform.channels()) {
            let is_open = |slot: &SlotId| {
                let occupant = others.get(platform.slot(*slot).label().as_str());
                machine.is_live(*slot) && !matches!(occupant, Some(Occupant::OtherDevice(_)))
            };
            let open: Vec<SlotId> = channel.slots.iter().copied().filter(is_open).collect();
            let kept = channel.slots.iter().filter(|slot| !open.contains(slot)).filter_map(|slot| {
                let label = platform.slot(*slot).label();
                Some((label.clone(), others.get(label.as_str())?.clone()))
            });
            let kept: Vec<(Name, Occupant)> =
                kept.filter(|(_, held)| matches!(held, Occupant::OtherDevice(_))).collect();
            let mut takes = !open.is_empty() && !channel.slots.iter().any(is_closed);
            for (sort, filled) in sorts.iter().cartesian_product(1_usize..1 << open.len()) {
                let put = open.iter().enumerate().filter(|(index, _)| filled >> index & 1 == 1);
                let put = put.map(|(_, slot)| (platform.slot(*slot).label().clone(), Occupant::module(sort.clone())));
                let mut content: Vec<(Name, Occupant)> = kept.iter().cloned().chain(put).collect();
                content.sort();
                takes = takes || self.legal(&content);
            }
            taking.extend(takes.then_some(id));
        }
        taking
    }

    /// The free slots: empty and live, and filled by some extension of their channel with modules of
    /// the sorts present that is legal on the channel by itself.
    pub fn free_slots(&mut self, population: &Population) -> BTreeSet<Name> {
        let machine = self.planner.machine();
        let platform = machine.platform();
        let sorts = modules(population);
        let mut free = BTreeSet::new();
        for channel in platform.channels() {
            let (mut kept, mut empty) = (Vec::new(), Vec::new());
            for &slot in &channel.slots {
                let label = platform.slot(slot).label();
                match population.get(label.as_str()) {
                    Some(Occupant::Blank) | None if machine.is_live(slot) => empty.push(label.clone()),
                    Some(occupant) => kept.push((label.clone(), occupant.clone())),
                    None => {}
                }
            }
            let mut extensions = vec![(kept, Vec::new())];
            for slot in &empty {
                let mut next = extensions.clone();
                for (content, filled) in &extensions {
                    for sort in &sorts {
                        let mut content = content.clone();
                        content.push((slot.clone(), Occupant::module((*sort).clone())));
                        content.sort();
                        let mut filled = filled.clone();
                        filled.push(slot.clone());
                        next.push((content, filled));
                    }
                }
                extensions = next;
            }
            for (content, filled) in extensions {
                if filled.iter().any(|slot| !free.contains(slot)) && self.legal(&content) {
                    free.extend(filled);
                }
            }
        }
        free
    }
}

/// Compares two populations by fill order: less comes first.
pub fn fill_order(machine: &Machine, by_turn: &[Name], a: &Population, b: &Population) -> Ordering {
    let at = |population: &Population, slot: &Name| match population.get(slot.as_str()) {
        Some(Occupant::Module(fitted)) => Some(fitted.module.clone()),
        _ => None,
    };
    let priority = machine.platform().description().fill_priority;
    by_turn
        .iter()
        .map(|slot| match (at(a, slot), at(b, slot)) {
            (Some(a), Some(b)) => priority.compare(&a, &b).then_with(|| a.cmp(&b)),
            (Some(_), None) => Ordering::Less,
            (None, Some(_)) => Ordering::Greater,
            (None, None) => Ordering::Equal,
        })
        .find(|order| order.is_ne())
        .unwrap_or(Ordering::Equal)
}

/// Whether the population breaks the platform's printed rows.
pub fn breaks_rows(assessment: &Assessment) -> bool {
    let broken = |finding: &Finding| {
        finding.code.as_str() == "fill-row" && finding.verdict == slotwright::finding::Verdict::Violated
    };
    assessment.findings.iter().any(broken)
}
