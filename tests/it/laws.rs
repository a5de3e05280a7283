//! Laws that hold for every machine and request.
#![allow(clippy::unwrap_used, clippy::indexing_slicing)]

use std::collections::BTreeMap;
use std::fmt::Debug;

use proptest::prelude::*;
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;
use slotwright::assess::{Assessment, Planner};
use slotwright::fill::Arrangement;
use slotwright::finding::{Place, Severity};
use slotwright::machine::{FittedProcessor, Machine};
use slotwright::module::MemoryModule;
use slotwright::platform::{Mode, PlatformDescription, Redundancy, SlotId};
use slotwright::population::{Occupant, Population};
use slotwright::processor::{ProcessorDescription, RateCell, RateTable};
use slotwright::purchase::{ModuleSource, Outcome, Plan, PlanRequest, Requirement};
use slotwright::rule::{CountBound, CountSet, Detail, Rule, RuleBook};
use slotwright::stated::{Basis, Scope};
use slotwright::unit::{Bandwidth, Capacity, DataRate, Name, Price};

use crate::arrange_oracle::{Task, task};
use crate::boards::{self, Source, bytes, config, name};
use crate::buying_oracle::wishes;
use crate::judge;
use crate::purchase_oracle::{case, euros, request};

fn plan(machine: &Machine, request: &PlanRequest) -> Outcome {
    Planner::new(machine, &RuleBook::standard()).plan(request).unwrap()
}

fn arrange(machine: &Machine, task: &Task) -> Arrangement {
    Planner::new(machine, &RuleBook::standard()).arrange_with(&task.request()).unwrap()
}

fn assess(machine: &Machine, population: &Population) -> Assessment {
    Planner::new(machine, &RuleBook::standard()).assess(population).unwrap()
}

fn total(plan: &Plan) -> i64 {
    plan.cost.total.amount_minor()
}

/// The plan without what is said beside it.
fn bare(plan: &Plan) -> Plan {
    let mut plan = plan.clone();
    (plan.notes, plan.without_warnings, plan.accepting) = (Vec::new(), None, Vec::new());
    plan
}

/// A request on a machine of its own, with some amount of money in it.
fn priced(source: &mut Source<'_>) -> (Machine, PlanRequest) {
    let machine = boards::machine(source, 5);
    let mut request = request(source, &machine, 3);
    request.labour_per_handling.get_or_insert(euros(0));
    (machine, request)
}

/// Any modules anywhere, legal or not.
fn filled(source: &mut Source<'_>, machine: &Machine) -> Population {
    let sorts = boards::sorts(source, machine.platform().generation(), 3);
    boards::fitted(source, &boards::live(machine), &sorts, 2)
}

proptest! {
    #![proptest_config(config(150))]

    #[test]
    fn law_order_is_irrelevant(bytes in bytes(180)) {
        let mut source = Source::new(&bytes);
        let (machine, request) = priced(&mut source);
        let mut task = task(&mut source, &machine, true);
        let (planned, arranged) = (plan(&machine, &request), arrange(&machine, &task));
        let mut other = request.clone();
        other.offers.reverse();
        other.shelf.reverse();
        prop_assert_eq!(planned, plan(&machine, &other), "{}", case(&machine, &request));
        task.pieces.reverse();
        prop_assert_eq!(arranged, arrange(&machine, &task));
    }
}

/// Replaces the words that are listed.
fn in_words(text: &str, names: &BTreeMap<String, String>) -> String {
    let parts = text.split_inclusive(|c: char| !c.is_alphanumeric());
    let part = |part: &str| {
        let word = part.trim_end_matches(|c: char| !c.is_alphanumeric());
        names.get(word).map_or_else(|| part.to_owned(), |new| format!("{new}{}", &part[word.len()..]))
    };
    parts.map(part).collect()
}

/// Replaces the words that are listed, in texts and keys.
fn renamed(value: &Value, names: &BTreeMap<String, String>) -> Value {
    let new = |text: &String| in_words(text, names);
    match value {
        Value::String(text) => Value::String(new(text)),
        Value::Array(items) => items.iter().map(|item| renamed(item, names)).collect(),
        Value::Object(fields) => {
            Value::Object(fields.iter().map(|(key, value)| (new(key), renamed(value, names))).collect())
        }
        other => other.clone(),
    }
}

fn through<T: Serialize + DeserializeOwned>(value: &T, names: &BTreeMap<String, String>) -> T {
    serde_json::from_value(renamed(&serde_json::to_value(value).unwrap(), names)).unwrap()
}

proptest! {
    #![proptest_config(config(150))]

    #[test]
    fn law_renaming_renames_the_answer(bytes in bytes(180)) {
        let mut source = Source::new(&bytes);
        let (machine, request) = priced(&mut source);
        let slots = machine.platform().slots().iter().map(slotwright::platform::Slot::label);
        let ids = request.offers.iter().map(|offer| &offer.id).chain(request.shelf.iter().map(|item| &item.id));
        let names = slots.chain(ids).map(|name| (name.to_string(), format!("renamed {name}"))).collect();
        let found = plan(&through(&machine, &names), &through(&request, &names));
        prop_assert_eq!(found, through(&plan(&machine, &request), &names), "{}", case(&machine, &request));
    }
}

/// Puts lists into an order that does not hang on labels.
fn without_order(value: &Value) -> Value {
    match value {
        Value::Array(items) => {
            let mut items: Vec<_> = items.iter().map(without_order).collect();
            items.sort_by_key(ToString::to_string);
            Value::Array(items)
        }
        // of several things that would help a remedy names the first
        Value::Object(fields) => {
            let stay = fields.iter().filter(|(key, _)| *key != "remedy");
            stay.map(|(key, value)| (key.clone(), without_order(value))).collect()
        }
        other => other.clone(),
    }
}

/// A symmetry of a machine: where each slot, channel and socket goes.
#[derive(Debug, Default)]
pub struct Symmetry {
    pub slots: BTreeMap<String, String>,
    pub channels: BTreeMap<(String, String), (String, String)>,
    pub sockets: BTreeMap<String, String>,
}

impl Symmetry {
    /// Whether each slot comes as late by turn in its channel as the one that it goes to.
    pub fn keeps_rounds(&self, machine: &Machine) -> bool {
        let platform = machine.platform();
        let round = |label: &str| {
            let slot = platform.slot(platform.slot_named(label).unwrap());
            let others = platform.channel(slot.channel).slots.iter();
            others.filter(|&&other| platform.slot(other).order() < slot.order()).count()
        };
        self.slots.iter().all(|(from, to)| round(from) == round(to))
    }

    fn swap_channels(&mut self, platform: &PlatformDescription, a: (usize, usize), b: (usize, usize)) {
        let channel = |(socket, channel): (usize, usize)| &platform.sockets[socket].controllers[0].channels[channel];
        for (from, to) in [(a, b), (b, a)] {
            let key =
                |(s, c): (usize, usize)| (platform.sockets[s].label.to_string(), channel((s, c)).label.to_string());
            self.channels.insert(key(from), key(to));
            for (one, other) in channel(from).slots.iter().zip(&channel(to).slots) {
                self.slots.insert(one.label.to_string(), other.label.to_string());
            }
        }
    }

    pub fn map(&self, value: &Value) -> Value {
        match value {
            Value::Array(items) => items.iter().map(|item| self.map(item)).collect(),
            Value::Object(fields) => {
                let mut mapped: serde_json::Map<_, _> = fields
                    .iter()
                    .map(|(key, value)| (self.slots.get(key).unwrap_or(key).clone(), self.map(value)))
                    .collect();
                let text = |field: &str| fields.get(field).and_then(Value::as_str).map(str::to_owned);
                if let (Some(socket), Some(channel)) = (text("socket"), text("channel")) {
                    let key = (socket, channel);
                    let (socket, channel) = self.channels.get(&key).unwrap_or(&key).clone();
                    mapped.insert("socket".to_owned(), socket.into());
                    mapped.insert("channel".to_owned(), channel.into());
                } else if let Some(socket) = text("socket") {
                    mapped.insert("socket".to_owned(), self.sockets.get(&socket).unwrap_or(&socket).clone().into());
                }
                if let Some(Value::Array(sockets)) = fields.get("sockets") {
                    let of = |label: &Value| match label {
                        Value::String(label) => self.sockets.get(label).unwrap_or(label).clone().into(),
                        other => self.map(other),
                    };
                    mapped.insert("sockets".to_owned(), sockets.iter().map(of).collect());
                }
                Value::Object(mapped)
            }
            Value::String(text) => Value::String(in_words(text, &self.slots)),
            other => other.clone(),
        }
    }
}

/// A machine without rows that name slots, and a symmetry of it where there is one.
pub fn symmetric(source: &mut Source<'_>) -> Option<(Machine, Symmetry)> {
    let machine = boards::machine(source, 8);
    let mut description = machine.description().clone();
    let mut platform = PlatformDescription::from(description.platform.clone());
    platform.fill_rows.clear();
    platform.options.clear();
    platform.modes.iter_mut().for_each(|mode| mode.masks.clear());
    description.options.clear();
    let shape = |socket: usize| -> Vec<usize> {
        platform.sockets[socket].controllers[0].channels.iter().map(|channel| channel.slots.len()).collect()
    };
    let mut symmetry = Symmetry::default();
    let like = platform.sockets.len() == 2 && shape(0) == shape(1) && description.processors.len() == 2;
    if like && source.once_in(2) {
        for channel in 0..shape(0).len() {
            symmetry.swap_channels(&platform, (0, channel), (1, channel));
        }
        let labels = [0, 1].map(|socket: usize| platform.sockets[socket].label.to_string());
        symmetry.sockets = labels.iter().cloned().zip(labels.iter().rev().cloned()).collect();
    } else {
        // permitted sets, domains and groups tell channels apart
        platform.domain_schemes.clear();
        // where processors must be alike they are compared slot by slot by turn, which the exchange does not keep
        platform.sockets_alike = None;
        platform.default_settings.domain_scheme = None;
        platform
            .modes
            .iter_mut()
            .for_each(|mode| *mode = Mode::new(name("mode"), Redundancy::None, Basis::BoardManual));
        let socket = (0..platform.sockets.len()).find(|&socket| shape(socket).len() > 1)?;
        let slots = shape(socket);
        let other = (1..slots.len()).find(|&channel| slots[channel] == slots[0])?;
        symmetry.swap_channels(&platform, (socket, 0), (socket, other));
    }
    // closed slots tell channels apart
    description.settings.closed_slots.clear();
    if symmetry.sockets.is_empty() {
        for fitted in description.processors.values_mut() {
            if let FittedProcessor::Described(processor) = fitted {
                let without = ProcessorDescription::from(processor.clone()).interleave(None);
                *processor = without.build().unwrap();
            }
        }
    }
    description.platform = platform.build().unwrap();
    Some((description.build().unwrap(), symmetry))
}

/// The rate tables of a machine.
fn tables(machine: &Machine) -> impl Iterator<Item = &RateTable> {
    let processors = machine.processors().filter_map(|(_, processor)| processor.description().rate_table.as_ref());
    processors.chain(machine.platform().description().rate_table.as_ref())
}

/// Whether no two rows that could speak of one module rise with load.
fn falls(table: &RateTable) -> bool {
    let rows: Vec<_> = table
        .rows
        .iter()
        .filter_map(|row| match row.cell {
            RateCell::RateMts(rate) => Some((serde_json::to_value(row).unwrap(), row.modules_in_channel, rate)),
            RateCell::NotAllowed => None,
        })
        .collect();
    let meet = |a: &Value, b: &Value, part: &str| {
        a[part].as_object().unwrap().iter().all(|(key, value)| b[part].get(key).is_none_or(|other| other == value))
    };
    let rises = |(a, fewer, low): &(Value, u8, DataRate), (b, more, high): &(Value, u8, DataRate)| {
        fewer < more && low < high && meet(a, b, "module") && meet(a, b, "channel")
    };
    table.mixes.is_empty() && !rows.iter().any(|a| rows.iter().any(|b| rises(a, b)))
}

proptest! {
    #![proptest_config(config(300))]

    #[test]
    fn law_symmetry_maps_figures_and_findings(bytes in bytes(140)) {
        let mut source = Source::new(&bytes);
        let Some((machine, symmetry)) = symmetric(&mut source) else { return Ok(()) };
        if !symmetry.keeps_rounds(&machine) {
            return Ok(());
        }
        let population = filled(&mut source, &machine);
        let value = |assessment: &Assessment| serde_json::to_value(assessment).unwrap();
        let mapped = serde_json::from_value(symmetry.map(&serde_json::to_value(&population).unwrap())).unwrap();
        let wanted = without_order(&symmetry.map(&value(&assess(&machine, &population))));
        let found = without_order(&value(&assess(&machine, &mapped)));
        prop_assert_eq!(found, wanted, "{:?}\n{:?}\n{}", symmetry, population, serde_json::to_string(&machine).unwrap());
    }

    #[test]
    fn law_adding_a_module_never_raises_the_rate(bytes in bytes(140)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 6);
        let before = filled(&mut source, &machine);
        let empty: Vec<_> =
            boards::live(&machine).into_iter().filter(|slot| before.get(slot.as_str()).is_none()).collect();
        if empty.is_empty() || !tables(&machine).all(falls) {
            return Ok(());
        }
        let slot = source.pick(&empty);
        let module = boards::any_module(&mut source, machine.platform().generation());
        let after = before.clone().with(slot, module);
        let voltages = |assessment: &Assessment| -> Vec<_> {
            assessment.figures.running_rate.domains.iter().filter_map(|domain| domain.voltage.voltage_mv).collect()
        };
        let (one, two) = (assess(&machine, &before), assess(&machine, &after));
        let voltages_stay = voltages(&two).iter().all(|voltage| voltages(&one).iter().all(|other| voltage == other));
        let rate = |assessment: &Assessment| assessment.figures.running_rate.rate();
        if judge::has_no_error(&one) && rate(&one).is_some() && voltages_stay {
            prop_assert!(rate(&two) <= rate(&one), "{before:?}\n{after:?}\n{}", serde_json::to_string(&machine).unwrap());
        }
    }

    #[test]
    fn law_explanations_replay(bytes in bytes(140)) {
        let mut source = Source::new(&bytes);
        let machine = boards::machine(&mut source, 6);
        let population = filled(&mut source, &machine);
        for domain in assess(&machine, &population).figures.running_rate.domains {
            let Some(rate) = domain.rate_mts else { continue };
            let under = |cap: Option<DataRate>| {
                machine.rate_steps().iter().copied().filter(|&step| cap.is_none_or(|cap| step <= cap)).max()
            };
            prop_assert_eq!(under(domain.binding().map(|limit| limit.rate_mts).min()), Some(rate));
            for (index, limit) in domain.limits.iter().enumerate().filter(|(_, limit)| limit.binding) {
                let others = domain.limits.iter().enumerate().filter(|&(other, _)| other != index);
                prop_assert_eq!(limit.lifted_mts, under(others.map(|(_, limit)| limit.rate_mts).min()));
            }
            for place in domain.limits.iter().flat_map(|limit| &limit.places) {
                if let Place::Slot { slot } = place {
                    prop_assert!(matches!(population.get(slot.as_str()), Some(Occupant::Module(_))));
                }
            }
        }
    }
}

/// The modules of a population, to be arranged anew.
fn as_task(population: &Population) -> Task {
    let pieces: Vec<(MemoryModule, usize)> =
        population.modules().map(|(_, fitted)| (fitted.module.clone(), 1)).collect();
    Task { pieces, ..Task::default() }
}

proptest! {
    #![proptest_config(config(200))]

    #[test]
    fn law_nothing_present_is_arrange(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let (machine, mut request) = priced(&mut source);
        request.present = slotwright::purchase::Present::default();
        request.free_slots_at_least = None;
        // arranging knows nothing of what is required of a placing
        request.bandwidth_at_least_mbps = None;
        if machine.mode_description().is_some_and(|mode| mode.spare_ranks() > 0) {
            (request.usable_at_least_mib, request.usable_at_most_mib) = (None, None);
        }
        if let Outcome::Optimal(plan) = plan(&machine, &request) {
            match arrange(&machine, &as_task(&plan.population)) {
                // a better one that the request refuses says nothing
                Arrangement::Best(legal) if legal.assessment.from_severity(request.refuse_from).next().is_none() => {
                    let advised = request.refuse_from == Severity::Error && !machine.platform().description().fill_rows.is_empty();
                    if !advised {
                        prop_assert_eq!(legal.population, plan.population, "{}", case(&machine, &request));
                    }
                }
                Arrangement::Best(_) => {}
                other => prop_assert!(false, "{other:?}\n{}", case(&machine, &request)),
            }
        }
    }

    #[test]
    fn law_extra_offer_never_costs_more(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let (machine, request) = priced(&mut source);
        if let Some((extra, rest)) = request.offers.split_last() {
            let without = { let mut changed = request.clone(); changed.offers = rest.to_vec().into(); changed };
            if let Outcome::Optimal(before) = plan(&machine, &without) {
                let after = plan(&machine, &request);
                let cheaper = after.optimal().is_some_and(|after| total(after) <= total(&before));
                prop_assert!(cheaper, "{extra:?} {after:?}\n{}", case(&machine, &request));
            }
        }
    }

    #[test]
    fn law_unused_offer_removed_changes_nothing(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let (machine, request) = priced(&mut source);
        if let Outcome::Optimal(before) = plan(&machine, &request) {
            for index in 0..request.offers.len() {
                let mut without = request.clone();
                let removed = ModuleSource::Offer { id: without.offers.to_mut().remove(index).id };
                if before.lines.iter().all(|line| line.source != removed) {
                    let after = plan(&machine, &without);
                    let same = after.optimal().map(bare);
                    prop_assert_eq!(same, Some(bare(&before)), "{:?}\n{}", removed, case(&machine, &request));
                }
            }
        }
    }

    #[test]
    fn law_looser_requirement_never_costs_more(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let (machine, request) = priced(&mut source);
        if let Outcome::Optimal(before) = plan(&machine, &request) {
            for looser in looser(&request) {
                let after = plan(&machine, &looser);
                let cheaper = after.optimal().is_some_and(|after| total(after) <= total(&before));
                prop_assert!(cheaper, "{}\nlooser {}\n{after:?}", case(&machine, &request), case(&machine, &looser));
            }
        }
    }

    // what is uneven is judged by where modules could sit without an error: a rule that bars the place takes the warning away
    #[test]
    fn law_further_error_rule_never_costs_less(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let (machine, request) = priced(&mut source);
        let Outcome::Optimal(before) = plan(&machine, &request) else { return Ok(()) };
        for rule in further_rules(&before.population) {
            let rules = RuleBook::standard().with(rule.clone()).unwrap();
            let planner = Planner::new(&machine, &rules);
            match planner.plan(&request).unwrap() {
                Outcome::Optimal(after) => {
                    let dearer = total(&after) >= total(&before);
                    prop_assert!(dearer || was_uneven(&machine, &request, &after), "{rule:?}\n{}", case(&machine, &request));
                    prop_assert!(judge::has_no_error(&after.assessment));
                    prop_assert!(judge::has_no_error(&planner.assess(&after.population).unwrap()));
                }
                Outcome::Infeasible(_) | Outcome::Stopped { .. } => {}
            }
        }
    }
}

/// The request with each requirement looser or gone.
fn looser(request: &PlanRequest) -> Vec<PlanRequest> {
    let mut all = Vec::new();
    let mut with = |change: &dyn Fn(&mut PlanRequest)| {
        let mut looser = request.clone();
        change(&mut looser);
        if looser != *request {
            all.push(looser);
        }
    };
    with(&|request| request.usable_at_least_mib = None);
    with(&|request| {
        request.usable_at_least_mib = request.usable_at_least_mib.map(|c| c.saturating_sub(Capacity::from_gib(8)));
    });
    with(&|request| request.usable_at_most_mib = None);
    with(&|request| request.rate_at_least_mts = None);
    with(&|request| request.free_slots_at_least = request.free_slots_at_least.and_then(|slots| slots.checked_sub(1)));
    with(&|request| request.kinds = None);
    with(&|request| request.one_part_number = None);
    with(&|request| request.conditions = None);
    with(&|request| request.lead_time_at_most_days = None);
    with(&|request| {
        request.spares = request.spares.saturating_sub(1);
        request.spares_per_part &= request.spares > 0;
    });
    with(&|request| request.spares_per_part = false);
    with(&|request| request.budget = None);
    with(&|request| request.known_facts_only = false);
    with(&|request| request.refuse_from = Severity::Error);
    with(&|request| request.present.pinned.clear());
    all
}

/// Rules that the plan breaks, of every form.
fn further_rules(population: &Population) -> Vec<Rule> {
    let Some((slot, _)) = population.modules().next() else { return Vec::new() };
    let (slot, most) = (slot.clone(), population.modules().count());
    let (one, two) = (slot.clone(), slot);
    let machine_count = CountBound::new(Scope::Machine, CountSet::AtMost(most.saturating_sub(1)));
    vec![
        Rule::module("own-module", "not there", Severity::Error, move |site, report| {
            if *site.slot().label() == one {
                report.violation(|| Detail::at(Place::Machine));
            }
        })
        .unwrap(),
        Rule::channel("own-channel", "two at most", Severity::Error, |load, report| {
            if load.len() > 1 {
                report.violation(|| Detail::at(Place::Machine));
            }
        })
        .unwrap(),
        Rule::socket("own-socket", "an even number", Severity::Error, |load, report| {
            if load.len() % 2 == 1 {
                report.violation(|| Detail::at(Place::Machine));
            }
        })
        .unwrap(),
        Rule::count("own-count", "fewer", Severity::Error, machine_count).unwrap(),
        Rule::population("own-population", "not there", Severity::Error, move |layout, report| {
            let platform = layout.machine().platform();
            let label = |slot: SlotId| platform.slot(slot).label().clone();
            if layout.modules().any(|site| label(site.slot) == two) {
                report.violation(|| Detail::at(Place::Machine));
            }
        })
        .unwrap(),
    ]
}

/// Whether nothing but what is uneven refuses a plan under the standard rules.
fn was_uneven(machine: &Machine, request: &PlanRequest, plan: &Plan) -> bool {
    let rules = RuleBook::standard();
    let assessment = judge::assess(&Planner::new(machine, &rules), &request.present.population, &plan.population);
    let mut refusing = assessment.from_severity(request.refuse_from).peekable();
    refusing.peek().is_some() && refusing.all(judge::is_uneven)
}

/// The request with every amount of money so many times as large.
fn scaled(request: &PlanRequest, by: u64) -> PlanRequest {
    let times = |price: Price| price.times(by).unwrap();
    let mut scaled = request.clone();
    scaled.budget = request.budget.map(times);
    scaled.labour_per_handling = request.labour_per_handling.map(times);
    scaled.present.credits.values_mut().for_each(|credit| *credit = times(*credit));
    scaled.supplier_charges.values_mut().for_each(|charge| *charge = times(*charge));
    for offer in &mut scaled.offers {
        offer.unit_price = times(offer.unit_price);
        offer.breaks.iter_mut().for_each(|step| step.unit_price = times(step.unit_price));
        offer.surplus_value = offer.surplus_value.map(times);
        offer.return_cost = offer.return_cost.map(times);
    }
    scaled.shelf.iter_mut().for_each(|item| item.unit_value = item.unit_value.map(times));
    scaled
}

/// What a plan does, without money.
fn deeds(plan: &Plan) -> impl PartialEq + Debug + use<> {
    let lines: Vec<_> = plan.lines.iter().map(|line| (line.source.clone(), line.quantity)).collect();
    let pulled: Vec<_> = plan.pulled.iter().map(|pulled| pulled.slot.clone()).collect();
    (plan.population.clone(), plan.slots.clone(), lines, pulled, plan.to_shelf.clone(), plan.handlings)
}

proptest! {
    #![proptest_config(config(150))]

    #[test]
    fn law_money_scales(bytes in bytes(160), by in 2_u64..50) {
        let mut source = Source::new(&bytes);
        let (machine, request) = priced(&mut source);
        let (one, many) = (plan(&machine, &request), plan(&machine, &scaled(&request, by)));
        match (one.optimal(), many.optimal()) {
            (Some(one), Some(many)) => {
                prop_assert_eq!(total(one) * i64::try_from(by).unwrap(), total(many));
                prop_assert_eq!(deeds(one), deeds(many), "{}", case(&machine, &request));
            }
            (one, many) => prop_assert_eq!(one.is_some(), many.is_some()),
        }
    }

    #[test]
    fn law_larger_budget_never_worsens(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let (machine, request) = priced(&mut source);
        let proved = plan(&machine, &request);
        let mut before: (Option<i64>, i64) = (None, i64::MIN);
        let mut done = false;
        for nodes in [0, 1, 3, 10, 30, 100, 300, 1_000, 10_000] {
            let limited = plan(&machine, &request.clone().nodes(nodes));
            let text = || format!("{nodes} nodes: {limited:?}\n{}", case(&machine, &request));
            match &limited {
                Outcome::Optimal(found) => {
                    prop_assert_eq!(Some(bare(found)), proved.optimal().map(bare), "{}", text());
                    done = true;
                }
                Outcome::Infeasible(_) => {
                    prop_assert!(proved.optimal().is_none(), "{}", text());
                    done = true;
                }
                Outcome::Stopped { best, cost_at_least, .. } => {
                    prop_assert!(!done, "{}", text());
                    let (best, bound) = (best.as_ref().map(total), cost_at_least.amount_minor());
                    let worse = before.0.is_some_and(|known| best.is_none_or(|best| best > known));
                    prop_assert!(!worse && bound >= before.1, "{} after {before:?}", text());
                    if let Some(proved) = proved.optimal().map(total) {
                        let fits = best.is_none_or(|best| best >= proved) && bound <= proved;
                        prop_assert!(fits, "{}", text());
                    }
                    before = (best, bound);
                }
            }
        }
    }
}

/// A requirement one step tighter, where it has steps.
fn tighter(machine: &Machine, requirement: &Requirement) -> Option<Requirement> {
    Some(match requirement {
        Requirement::UsableAtLeastMib(capacity) => {
            Requirement::UsableAtLeastMib(Capacity::from_mib(capacity.mib() + 1))
        }
        Requirement::UsableAtMostMib(capacity) => {
            Requirement::UsableAtMostMib(Capacity::from_mib(capacity.mib().checked_sub(1)?))
        }
        Requirement::RateAtLeastMts(rate) => {
            Requirement::RateAtLeastMts(machine.rate_steps().iter().copied().filter(|step| step > rate).min()?)
        }
        Requirement::BandwidthAtLeastMbps(bandwidth) => {
            Requirement::BandwidthAtLeastMbps(*bandwidth + Bandwidth::from_mbps(1, 1_000_000)?)
        }
        Requirement::FreeSlotsAtLeast(slots) => Requirement::FreeSlotsAtLeast(slots + 1),
        Requirement::Budget(price) => {
            Requirement::Budget(Price::new(price.amount_minor().checked_sub(1)?, price.currency()))
        }
        Requirement::LeadTimeAtMostDays(days) => Requirement::LeadTimeAtMostDays(days.checked_sub(1)?),
        Requirement::Spares(spares) => Requirement::Spares(spares + 1),
        Requirement::SparesPerPart(spares) => Requirement::SparesPerPart(spares + 1),
        _ => return None,
    })
}

proptest! {
    #![proptest_config(config(400))]

    #[test]
    fn law_relaxations_are_tight(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let (machine, request) = priced(&mut source);
        let Outcome::Infeasible(why) = plan(&machine, &request) else { return Ok(()) };
        let feasible = |request: &PlanRequest| plan(&machine, request).optimal().is_some();
        for reachable in &why.reachable {
            let text = || format!("{reachable:?}\n{}", case(&machine, &request));
            let Some(best) = reachable.best() else { continue };
            prop_assert!(feasible(&wishes::with(request.clone(), best)), "{}", text());
            if let Some(tighter) = tighter(&machine, best) {
                prop_assert!(!feasible(&wishes::with(request.clone(), &tighter)), "{}", text());
            }
            let shown = reachable.witness().is_some_and(|witness| {
                let rules = RuleBook::standard();
                let planner = Planner::new(&machine, &rules);
                let assessment = judge::assess(&planner, &request.present.population, &witness.population);
                assessment.from_severity(request.refuse_from).all(|finding| witness.was_so_before.contains(finding))
            });
            prop_assert!(shown, "{}", text());
        }
        prop_assert!(!feasible(&wishes::held_to(&request, &why.clash)), "{why:?}\n{}", case(&machine, &request));
        for index in 0..why.clash.len() {
            let mut part = why.clash.clone();
            part.remove(index);
            prop_assert!(feasible(&wishes::held_to(&request, &part)), "{part:?} of {why:?}\n{}", case(&machine, &request));
        }
    }
}

/// The request with all that a plan of it reaches asked for.
fn asking_for_all_of(request: &PlanRequest, plan: &Plan) -> PlanRequest {
    let figures = &plan.assessment.figures;
    let mut asked = request
        .clone()
        .usable_at_least(figures.usable.total_mib)
        .usable_at_most(figures.usable.total_mib)
        .bandwidth_at_least(figures.bandwidth.swept_mbps)
        .free_slots_at_least(plan.free_slots.len());
    asked.rate_at_least_mts = plan.running_rate();
    asked.budget = u64::try_from(total(plan)).ok().map(|total| Price::new(total, plan.cost.total.currency()));
    asked
}

proptest! {
    #![proptest_config(config(200))]

    #[test]
    fn law_asking_for_what_a_plan_has_changes_nothing(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let (machine, request) = priced(&mut source);
        let Outcome::Optimal(first) = plan(&machine, &request) else { return Ok(()) };
        let asked = asking_for_all_of(&request, &first);
        let again = plan(&machine, &asked);
        let text = || format!("{}\nthen {}\n{again:?}", case(&machine, &request), case(&machine, &asked));
        prop_assert_eq!(again.optimal().map(bare), Some(bare(&first)), "{}", text());
    }
}

proptest! {
    #![proptest_config(config(200))]

    #[test]
    fn law_planning_again_changes_nothing(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let (machine, mut request) = priced(&mut source);
        // a credit above what the same module comes to elsewhere is money for nothing, time and again
        let prices = request.offers.iter().flat_map(|offer| {
            offer.breaks.iter().map(|step| step.unit_price).chain([offer.unit_price])
        });
        let values = request.shelf.iter().map(|item| item.unit_value.map_or(0, Price::amount_minor));
        let lowest = prices.map(Price::amount_minor).chain(values).min().unwrap_or(0);
        let clamp = |amount: &mut Price| *amount = Price::new(amount.amount_minor().min(lowest), amount.currency());
        request.present.credits.values_mut().for_each(clamp);
        request.offers.iter_mut().filter_map(|offer| offer.surplus_value.as_mut()).for_each(clamp);
        let Outcome::Optimal(first) = plan(&machine, &request) else { return Ok(()) };
        let next = request.after(&first);
        let again = plan(&machine, &next);
        let text = || format!("{}\nthen {}\n{again:?}", case(&machine, &request), case(&machine, &next));
        let Some(second) = again.optimal() else { return Err(TestCaseError::fail(text())) };
        prop_assert!(second.population == first.population && second.handlings == 0, "{}", text());
        prop_assert!(total(second) == 0 && second.lines.is_empty() && second.pulled.is_empty(), "{}", text());
    }

    #[test]
    fn law_documents_read_back(bytes in bytes(160)) {
        let mut source = Source::new(&bytes);
        let (machine, request) = priced(&mut source);
        let task = task(&mut source, &machine, true);
        let arrangement = arrange(&machine, &task);
        same_again(&PlatformDescription::from(machine.platform().clone()))?;
        same_again(&machine)?;
        same_again(&request.present.population)?;
        same_again(&request)?;
        same_again(&plan(&machine, &request))?;
        same_again(&arrangement)?;
        same_again(&assess(&machine, &task.around))?;
    }
}

fn same_again<T: Serialize + DeserializeOwned + PartialEq + Debug>(value: &T) -> Result<(), TestCaseError> {
    let text = serde_json::to_string(value).unwrap();
    let read: T = serde_json::from_str(&text).map_err(|error| TestCaseError::fail(format!("{error}: {text}")))?;
    prop_assert_eq!(&read, value);
    Ok(())
}

/// A slot's label sorts as it did before it was renamed.
#[test]
fn renaming_keeps_the_order() {
    let mut labels: Vec<Name> = ["1A1", "1B1", "o0"].map(name).to_vec();
    let renamed = labels.iter().map(|label| name(&format!("renamed {label}")));
    let renamed: Vec<_> = renamed.collect();
    labels.sort();
    assert!(renamed.is_sorted());
}
