//! A machine, settings of the rules and a request, so small that every population can be looked at.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};
use slotwright::finding::Severity;
use slotwright::machine::{FittedProcessor, Machine, MachineDescription};
use slotwright::module::{Generation, MemoryModule};
use slotwright::platform::{
    FillPriority, Mode, PlatformDescription, PlatformOption, RatePolicy, Settings, SocketDescription,
};
use slotwright::population::{DeviceSort, Fault, Fitted, Occupant, OtherDevice, Population};
use slotwright::processor::Processor;
use slotwright::purchase::{Offer, PlanRequest};
use slotwright::rule::{RuleSettings, STANDARD_RULES, SeveritySetting};
use slotwright::unit::{Capacity, Name, Voltage};

use crate::boards::{self, Source, name};
use crate::judge;
use crate::one_truth::draw::Draw;
use crate::one_truth::{board, limits, modes, modules, processor, rows};
use crate::purchase_oracle::euros;

/// The most populations of a case.
const MOST_POPULATIONS: usize = 300;

#[derive(Debug, Clone, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Case {
    pub machine: MachineDescription,
    pub settings: RuleSettings,
    /// Everything that can be had is in its offers and among what is present.
    pub request: PlanRequest,
}

/// The codes on which the search has its own methods, drawn more often than the others.
const WEIGHTY: [&str; 16] = [
    "channels-alike",
    "sockets-alike",
    "fill-row",
    "mode-unmet",
    "rate-not-allowed",
    "empty-domain",
    "uneven-interleave",
    "empty-channel",
    "socket-minimum",
    "position-order",
    "rate-unused",
    "listed-counts",
    "mode-channel",
    "spare-rank",
    "priority-order",
    "empty-controller",
];

pub const SETTINGS: [SeveritySetting; 4] =
    [SeveritySetting::Note, SeveritySetting::Warning, SeveritySetting::Error, SeveritySetting::Off];

fn settings(draw: &mut Draw<'_, '_>) -> RuleSettings {
    let mut severities = BTreeMap::new();
    for _ in 0..draw.pick(&[0, 1, 3, 0, 6]) {
        let row = draw.below(STANDARD_RULES.len());
        let code = if draw.once_in(2) { draw.pick(&WEIGHTY) } else { STANDARD_RULES[row].code };
        severities.insert(name(code), draw.pick(&SETTINGS));
    }
    RuleSettings::default().severities(severities).unknown_is_error(draw.once_in(6))
}

/// What the machine is set to: some of it, by names that the platform knows.
fn set(
    draw: &mut Draw<'_, '_>,
    modes: &[Mode],
    (schemes, profiles): (&[Name], &[Name]),
    processors: &[Processor],
    slots: &[Name],
) -> Settings {
    // what one processor does not supply makes no machine
    let suits_all =
        |voltage: &Voltage| processors.iter().all(|own| own.description().voltages_mv.value.contains(*voltage));
    let voltages: Vec<Voltage> = processors[0].description().voltages_mv.value.iter().filter(suits_all).collect();
    let independent = draw.once_in(8).then(|| name(Mode::INDEPENDENT));
    let scheme = if schemes.is_empty() || draw.once_in(6) { None } else { Some(draw.pick(schemes)) };
    {
        let mut changed = Settings::default()
            .mode(if modes.is_empty() { None } else { independent.or_else(|| Some(draw.pick(modes).name)) })
            .domain_scheme(scheme)
            .power_profile(if profiles.is_empty() { None } else { Some(draw.pick(profiles)) })
            .rate_cap(draw.maybe(Draw::rate))
            .voltage(if voltages.is_empty() { None } else { draw.maybe(|draw| draw.pick(&voltages)) });
        changed.closed_slots =
            slots.iter().filter(|_| draw.once_in(24)).map(|slot| (slot.clone(), name("damaged"))).collect();
        changed
    }
}

fn platform(draw: &mut Draw<'_, '_>, processors: &[Processor]) -> PlatformDescription {
    let sockets = board::sockets(draw);
    let called = ["proc", "proc-2"].map(name);
    let mut named = Vec::new();
    if draw.once_in(3) {
        named.push(modes::mode(draw, "mode", &sockets, &called));
        if draw.once_in(4) {
            named.push(modes::mode(draw, "mode-2", &sockets, &called));
        }
    }
    let domain_schemes = if draw.once_in(8) { modes::domain_scheme(draw, &sockets) } else { Vec::new() };
    let mut options: Vec<PlatformOption> = Vec::new();
    if draw.once_in(6) {
        options.push(modes::option(draw, "option", &sockets));
    }
    if !options.is_empty() && draw.once_in(3) {
        options.push(modes::option(draw, "option-2", &sockets));
    }
    let power_profiles: Vec<_> = draw.maybe(modes::power_profile).into_iter().collect();
    let names = |names: Vec<&Name>| -> Vec<Name> { names.into_iter().cloned().collect() };
    let schemes = names(domain_schemes.iter().map(|scheme| &scheme.name).collect());
    let profiles = names(power_profiles.iter().map(|profile| &profile.name).collect());
    let fitting = names(options.iter().map(|option| &option.name).collect());
    let default_settings = set(draw, &named, (&schemes, &profiles), processors, &board::slots(&sockets));
    let mode = default_settings.mode.clone();
    let described = processors.to_vec();
    let worked =
        |draw: &mut Draw<'_, '_>| vec![rows::worked_row(draw, &sockets, &described, &named, mode.as_ref(), &fitting)];
    let once = draw.one_in.div_ceil(2);
    PlatformDescription::new(name("board"), draw.generation, sockets.clone())
        .position_basis(draw.once_in(6).then(|| draw.basis()))
        .turn_basis(draw.once_in(6).then(|| draw.basis()))
        .accepted_processors(draw.limit(|draw| draw.some(&called)))
        .processors_alike(draw.limit(Draw::demand))
        .rate_table(if draw.once_in(once) { Some(limits::rate_table(draw)) } else { None })
        .rate_policy(if draw.once_in(4) { RatePolicy::PerSocket } else { RatePolicy::PerMachine })
        .highest_grade(draw.limit(Draw::rate))
        .unlike_grades(draw.frequent(limits::unlike_grades))
        .unlike_voltages(draw.limit(limits::unlike_voltages))
        .rank_limits(draw.limits(limits::rank_limit))
        .module_limits(draw.limits(limits::module_limit))
        .shared_load_caps(draw.limits(limits::shared_load_cap))
        .mix_limits(draw.limits(limits::mix_limit))
        .neighbouring_sizes(draw.limit(Draw::scope))
        .same_rank_count(draw.limit(limits::same_rank_count))
        .pair_bans(draw.limits(limits::pair_ban))
        .channel_bans(draw.limits(limits::channel_ban))
        .listed_modules(draw.limit(limits::listed_modules))
        .capacity_cap(draw.limit(|draw| limits::capacity(draw, 5)))
        .position_order(draw.limit(limits::position_order))
        .fill_priority(draw.pick(&[FillPriority::RanksFirst, FillPriority::CapacityFirst]))
        .priority_along_channel(draw.limit(Draw::demand))
        .fill_rows(if draw.once_in(once) { rows::fill_rows(draw, &sockets, &named, mode.as_ref()) } else { Vec::new() })
        .count_rows(if draw.once_in(once) { rows::count_rows(draw, &named, mode.as_ref()) } else { Vec::new() })
        .memory_per_processor(draw.limit(Draw::demand))
        .channels_alike(draw.limit(Draw::demand))
        .controllers_alike(draw.frequent(Draw::demand))
        .sockets_alike(draw.limit(Draw::demand))
        .even_counts(draw.limit(Draw::demand))
        .blanks(draw.limit(Draw::demand))
        .power_budget(draw.limit(limits::power))
        .worked_rows(draw.maybe(worked).unwrap_or_default())
        .processors(described)
        .modes(named)
        .domain_schemes(domain_schemes)
        .options(options)
        .power_profiles(power_profiles)
        .default_settings(default_settings)
}

fn machine(draw: &mut Draw<'_, '_>) -> Machine {
    let mut processors = vec![processor::processor(draw, "proc").build().unwrap()];
    if draw.once_in(5) {
        processors.push(processor::processor(draw, "proc-2").build().unwrap());
    }
    let platform = platform(draw, &processors);
    let labels: Vec<Name> = platform.sockets.iter().map(|socket: &SocketDescription| socket.label.clone()).collect();
    let absent = if labels.len() > 1 && draw.once_in(5) { Some(draw.below(labels.len())) } else { None };
    let schemes: Vec<Name> = platform.domain_schemes.iter().map(|scheme| scheme.name.clone()).collect();
    let profiles: Vec<Name> = platform.power_profiles.iter().map(|profile| profile.name.clone()).collect();
    let options: Vec<Name> = platform.options.iter().map(|option| option.name.clone()).collect();
    let slots = board::slots(&platform.sockets);
    let own = if draw.once_in(5) {
        set(draw, &platform.modes, (&schemes, &profiles), &processors, &slots)
    } else {
        Settings::default()
    };
    let mut machine = MachineDescription::new(platform.build().unwrap()).settings(own);
    for (index, label) in labels.iter().enumerate().filter(|&(index, _)| Some(index) != absent) {
        let second = index == 1 && processors.len() > 1 || processors.len() > 1 && draw.once_in(8);
        let processor = processors[usize::from(second)].clone();
        let fitted = if draw.once_in(6) {
            FittedProcessor::Named(processor.name().to_string())
        } else {
            FittedProcessor::Described(processor)
        };
        machine.processors.insert(label.to_string(), fitted);
    }
    for option in options {
        if !draw.once_in(3) {
            machine = machine.option(option.as_str());
        }
    }
    machine.build().unwrap()
}

/// In how many ways so many of each sort can lie in so many slots.
fn populations(stocks: &[usize], slots: usize) -> usize {
    let Some((&first, rest)) = stocks.split_first() else { return 1 };
    let mut ways = 0;
    let mut choose = 1;
    for taken in 0..=first.min(slots) {
        ways += choose * populations(rest, slots - taken);
        choose = choose * (slots - taken) / (taken + 1);
    }
    ways
}

/// A device that is no plain memory.
fn other_device(draw: &mut Draw<'_, '_>) -> OtherDevice {
    let sort = draw.pick(&[DeviceSort::Persistent, DeviceSort::Expander, DeviceSort::Hybrid]);
    let capacity = Capacity::from_gib(draw.pick(&[128, 8, 16]));
    OtherDevice::new(sort, capacity, name("device")).may_be_removed(draw.once_in(3))
}

fn request(draw: &mut Draw<'_, '_>, machine: &Machine) -> PlanRequest {
    let slots = boards::live(machine);
    let mut sorts = draw.sorts.clone();
    // one of another generation, which the rules may let be
    if draw.once_in(12) {
        let others = [Generation::Ddr3, Generation::Ddr4, Generation::Ddr5];
        let others: Vec<_> = others.into_iter().filter(|&other| other != draw.generation).collect();
        let other = draw.pick(&others);
        sorts.truncate(2);
        sorts.extend(modules::sorts(draw.source, other, 1));
    }
    let mut stocks: Vec<usize> = sorts.iter().map(|_| slots.len() - draw.below(slots.len().max(1)) / 2).collect();
    let severities = [Severity::Warning, Severity::Error, Severity::Note];
    let mut request = PlanRequest::new().savings_nodes(0).refuse_from(draw.pick(&severities));
    let mut free = slots.len();
    let mut loose = vec![0; sorts.len()];
    if draw.once_in(4) && !slots.is_empty() {
        let mut present = Population::new();
        for slot in &slots {
            if draw.once_in(3) {
                let sort = draw.below(sorts.len());
                present = present.with(slot.clone(), sorts[sort].clone());
                if draw.once_in(8) {
                    let fault = draw.pick(&[Fault::Failed, Fault::Suspect]);
                    present.put(slot.clone(), Occupant::Module(Fitted::new(sorts[sort].clone()).fault(fault)));
                } else if draw.once_in(3) {
                    loose[sort] += 1;
                } else {
                    request.present.pinned.insert(slot.clone());
                    free -= 1;
                }
            } else if draw.once_in(24) {
                present.put(slot.clone(), Occupant::OtherDevice(other_device(draw)));
                free -= 1;
            } else if draw.once_in(12) {
                present.put(slot.clone(), Occupant::Blank);
            }
        }
        // a slot that cannot be used may hold a module all the same
        let dead = machine
            .platform()
            .slots()
            .iter()
            .map(slotwright::platform::Slot::label)
            .find(|label| !slots.contains(label));
        if let Some(slot) = dead.filter(|_| draw.once_in(2)) {
            let sort = draw.below(sorts.len());
            present = present.with(slot.clone(), sorts[sort].clone());
            if draw.once_in(3) && !machine.settings().closed_slots.contains_key(slot) {
                request.present.pinned.insert(slot.clone());
            } else {
                loose[sort] += 1;
            }
        }
        request.present.population = present;
    }
    for slot in &slots {
        let held = request.present.population.get(slot.as_str());
        let stays = request.present.pinned.contains(slot) || matches!(held, Some(Occupant::OtherDevice(_)));
        let is_free = held.is_none();
        if draw.once_in(40) && !stays && (is_free || draw.once_in(2)) {
            request.present.keep_empty.insert(slot.clone());
        }
    }
    let most = draw.pick(&[60, 120, 60, MOST_POPULATIONS]);
    let with_loose = |stocks: &[usize]| -> Vec<usize> { stocks.iter().zip(&loose).map(|(a, b)| a + b).collect() };
    while populations(&with_loose(&stocks), free) > most && stocks.iter().any(|&stock| stock > 0) {
        let largest = (0..stocks.len()).max_by_key(|&index| stocks[index]).unwrap();
        stocks[largest] -= 1;
    }
    for (index, (sort, stock)) in sorts.iter().zip(stocks).enumerate().filter(|(_, (_, stock))| *stock > 0) {
        let price = euros(1 + draw.below(9));
        request.offers.push(Offer::new(name(&format!("o{index}")), sort.clone(), price, stock as u32));
    }
    if !draw.once_in(4) {
        request.usable_at_least_mib = Some(limits::capacity(draw, 6));
    }
    if draw.once_in(8) {
        request.usable_at_most_mib = Some(limits::capacity(draw, 4));
    }
    if draw.once_in(8) {
        request.rate_at_least_mts = Some(draw.rate());
    }
    judge::with_evidence(machine, request)
}

/// Settings of the rules, a machine, and modules that its limits speak of.
pub fn world<'s, 'b>(source: &'s mut Source<'b>) -> (RuleSettings, Machine, Draw<'s, 'b>) {
    let generation = source.pick(&[Generation::Ddr4, Generation::Ddr5, Generation::Ddr3]);
    let sorts: Vec<MemoryModule> = modules::sorts(source, generation, 3);
    let one_in = source.pick(&[10, 6, 14, 20]);
    let mut draw = Draw { source, one_in, generation, sorts };
    // what the rules are set to comes first, so that few bytes suffice
    let settings = settings(&mut draw);
    let machine = machine(&mut draw);
    (settings, machine, draw)
}

impl Case {
    pub fn draw(bytes: &[u8]) -> Self {
        let mut source = Source::new(bytes);
        let (settings, machine, mut draw) = world(&mut source);
        let request = request(&mut draw, &machine);
        Self { machine: machine.into(), settings, request }
    }

    /// The most populations that it may have; more is not looked at.
    pub fn is_small(&self, stocks: &[usize], slots: usize) -> bool {
        slots <= board::MOST_SLOTS && populations(stocks, slots) <= 8 * MOST_POPULATIONS
    }
}
