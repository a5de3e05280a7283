use serde::{Deserialize, Serialize};

use crate::figure::rate_range::rate_range;
use crate::figure::running_voltage::running_voltage;
use crate::figure::{
    Load, RateCause, RateLimit, RateObstacle, RateRange, Raw, RowMemo, RunningVoltage, Table, TableOwner,
    channel_limits,
};
use crate::finding::Place;
use crate::machine::{Machine, RateCap};
use crate::module::MemoryModule;
use crate::platform::{RatePolicy, SlotId, UnlikeGrades};
use crate::population::{Layout, SocketLoad};
use crate::processor::{MixRow, Processor, RateRow, RateTable};
use crate::stated::{Basis, Source};
use crate::unit::{DataRate, Name};

/// The rate at which memory runs, with every limit on it.
///
/// One rate for the machine, or one for each processor where the board's policy says so.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::{DataRate, Population};
///
/// let population = Population::new().with("A1".parse()?, module);
/// let running = planner.assess(&population)?.figures.running_rate;
/// assert_eq!(running.rate(), Some(DataRate::DDR4_2400));
/// assert!(running.domains[0].binding().all(|limit| limit.rate_mts == DataRate::DDR4_2400));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct RunningRate {
    /// One entry for the machine, or one for each processor present that has memory.
    pub domains: Vec<DomainRate>,
}

/// The memory that runs at one rate.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct DomainRate {
    /// The sockets whose memory it is.
    pub sockets: Vec<Name>,
    /// The running rate: the highest step not above any limit. Absent where there is an obstacle.
    pub rate_mts: Option<DataRate>,
    /// Between which rates it is, where a missing fact of a module is all that stands in the way.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub range_mts: Option<RateRange>,
    /// The voltage, and why.
    pub voltage: RunningVoltage,
    /// Every limit, lowest first; limits of equal cause and value are one.
    pub limits: Vec<RateLimit>,
    /// Why there is no rate.
    pub obstacles: Vec<RateObstacle>,
}

impl RunningRate {
    /// The running rate of a layout.
    #[must_use]
    pub fn of(layout: &Layout<'_>) -> Self {
        let machine = layout.machine();
        let domains = match machine.platform().description().rate_policy {
            RatePolicy::PerMachine => vec![domain_rate(machine, layout.sockets())],
            RatePolicy::PerSocket => layout
                .sockets()
                .filter(|socket| !socket.is_empty())
                .map(|socket| domain_rate(machine, std::iter::once(socket)))
                .collect(),
        };
        Self { domains }
    }

    /// The lowest rate of any domain; absent where some domain has none, or there is no memory.
    #[must_use]
    pub fn rate(&self) -> Option<DataRate> {
        let rates: Option<Vec<_>> = self.domains.iter().map(|domain| domain.rate_mts).collect();
        rates?.into_iter().min()
    }

    /// Between which rates that is, where missing facts of modules are all that keeps it from being known.
    #[must_use]
    pub fn range(&self) -> Option<RateRange> {
        let own = |domain: &DomainRate| {
            domain.range_mts.or(domain.rate_mts.map(|rate| RateRange { at_least_mts: Some(rate), at_most_mts: rate }))
        };
        let all: Vec<RateRange> = self.domains.iter().map(own).collect::<Option<_>>()?;
        let at_most_mts = all.iter().map(|range| range.at_most_mts).min()?;
        let at_least_mts = all.iter().map(|range| range.at_least_mts).collect::<Option<Vec<_>>>();
        let at_least_mts = at_least_mts.and_then(|all| all.into_iter().min());
        self.rate().is_none().then_some(RateRange { at_least_mts, at_most_mts })
    }
}

impl DomainRate {
    /// The limits below the next step above the running rate.
    pub fn binding(&self) -> impl Iterator<Item = &RateLimit> {
        self.limits.iter().filter(|limit| limit.binding)
    }
}

fn domain_rate<'a>(machine: &'a Machine, sockets: impl Iterator<Item = SocketLoad<'a>> + Clone) -> DomainRate {
    let platform = machine.platform();
    let voltage = running_voltage(sockets.clone());
    let mut gathered = Gathered { machine, limits: Vec::new(), obstacles: Vec::new() };
    let mut grades: Option<(DataRate, DataRate)> = None;
    let (mut any, mut memo) = (false, RowMemo::default());
    for load in sockets.clone().flat_map(|socket| socket.channels()) {
        channel_limits(load, voltage.voltage_mv, &mut memo, &mut |raw| {
            any = true;
            if let Raw::Grade { rate, .. } = raw {
                grades = Some(grades.map_or((rate, rate), |(low, high)| (low.min(rate), high.max(rate))));
            }
            gathered.add(raw);
        });
    }
    if !any {
        gathered.obstacles.push(RateObstacle::NoModules);
    } else if voltage.voltage_mv.is_none() {
        gathered.obstacles.push(match voltage.missing() {
            Some(fact) => RateObstacle::MissingFact { fact, places: voltage.unknown.clone() },
            None => RateObstacle::NoCommonVoltage,
        });
    }
    for socket in sockets.clone() {
        if let Some(processor) = socket.processor() {
            gathered.processor(processor, Place::socket(platform, socket.id()));
        }
    }
    if let (Some(stated), Some((low, high))) = (&platform.description().unlike_grades, grades) {
        if let (UnlikeGrades::LowerToMts(rate), true) = (stated.value, low != high) {
            gathered.limit(RateCause::UnlikeGrades, rate, Some((stated.basis, stated.source.clone())), Place::Machine);
        }
    }
    machine.rate_caps().iter().for_each(|cap| gathered.cap(cap));
    let labels = sockets.clone().map(|socket| platform.socket(socket.id()).label.clone()).collect();
    let mut domain = gathered.decide(labels, voltage);
    domain.range_mts = rate_range(machine, sockets, &domain);
    domain
}

/// What a limit rests on.
type Grounds = Option<(Basis, Option<Source>)>;

/// Where a limit came from, to put equal ones together without comparing patterns.
#[derive(Clone, Copy, PartialEq)]
enum Origin {
    Grade,
    Row(*const RateRow),
    Mix(*const MixRow),
    Other,
}

struct Gathered<'a> {
    machine: &'a Machine,
    limits: Vec<(Origin, RateLimit)>,
    obstacles: Vec<RateObstacle>,
}

impl<'a> Gathered<'a> {
    fn add(&mut self, raw: Raw<'a>) {
        match raw {
            Raw::Grade { rate, slot } => self.place(Origin::Grade, rate, slot, || (RateCause::Grade, None)),
            Raw::Row { by, row, module, slot } => match raw.rate() {
                Some(rate) => self.place(Origin::Row(row), rate, slot, || {
                    let (module, modules_in_channel) = (row.module.clone(), row.modules_in_channel);
                    let running_voltage_mv = row.channel.running_voltage_mv;
                    let table = TableOwner::of(by);
                    (RateCause::Row { table, module, modules_in_channel, running_voltage_mv }, Some(by.table))
                }),
                None => self.barred(by, module, usize::from(row.modules_in_channel), slot),
            },
            Raw::Mix { by, row, module, slot } => match raw.rate() {
                Some(rate) => self.place(Origin::Mix(row), rate, slot, || {
                    let (modules, running_voltage_mv) = (row.modules.clone(), row.channel.running_voltage_mv);
                    (RateCause::MixRow { table: TableOwner::of(by), modules, running_voltage_mv }, Some(by.table))
                }),
                None => self.barred(by, module, row.modules.len(), slot),
            },
            Raw::NoRow { by, module, count, slot } => {
                let (table, load) = (TableOwner::of(by), Load::of(module, count));
                self.obstacle(RateObstacle::NoRow { table, load, places: Vec::new() }, slot);
            }
            Raw::Missing { fact, slot } => {
                self.obstacle(RateObstacle::MissingFact { fact, places: Vec::new() }, slot);
            }
        }
    }

    /// Adds a place to the limit of this origin and rate, or begins one.
    fn place(
        &mut self,
        origin: Origin,
        rate: DataRate,
        slot: SlotId,
        cause: impl FnOnce() -> (RateCause, Option<&'a RateTable>),
    ) {
        let place = Place::slot(self.machine.platform(), slot);
        if let Some((_, limit)) = self.limits.iter_mut().find(|(from, limit)| *from == origin && limit.rate_mts == rate)
        {
            limit.places.push(place);
            return;
        }
        let (cause, table) = cause();
        // unlike processors, or equal ones described twice, may say the same
        if let Some((_, limit)) =
            self.limits.iter_mut().find(|(_, limit)| limit.cause == cause && limit.rate_mts == rate)
        {
            limit.places.push(place);
            return;
        }
        self.limits
            .push((origin, new_limit(cause, rate, table.map(|table| (table.basis, table.source.clone())), place)));
    }

    fn barred(&mut self, by: Table<'_>, module: &MemoryModule, count: usize, slot: SlotId) {
        let (table, load) = (TableOwner::of(by), Load::of(module, count));
        self.obstacle(RateObstacle::NotAllowed { table, load, places: Vec::new() }, slot);
    }

    fn obstacle(&mut self, obstacle: RateObstacle, slot: SlotId) {
        let place = Place::slot(self.machine.platform(), slot);
        let same = |known: &RateObstacle| match (known, &obstacle) {
            (RateObstacle::NoRow { table, load, .. }, RateObstacle::NoRow { table: t, load: l, .. })
            | (RateObstacle::NotAllowed { table, load, .. }, RateObstacle::NotAllowed { table: t, load: l, .. }) => {
                table == t && load == l
            }
            (RateObstacle::MissingFact { fact, .. }, RateObstacle::MissingFact { fact: f, .. }) => fact == f,
            _ => false,
        };
        let index = self.obstacles.iter().position(same).unwrap_or_else(|| {
            self.obstacles.push(obstacle.clone());
            self.obstacles.len() - 1
        });
        if let Some(
            RateObstacle::NoRow { places, .. }
            | RateObstacle::NotAllowed { places, .. }
            | RateObstacle::MissingFact { places, .. },
        ) = self.obstacles.get_mut(index)
        {
            // the board's table and the processor's may lack the same fact of one module
            if !places.contains(&place) {
                places.push(place);
            }
        }
    }

    fn processor(&mut self, processor: &Processor, place: Place) {
        let max = &processor.description().max_rate_mts;
        let cause = RateCause::ProcessorMaximum { processor: processor.name().clone() };
        self.limit(cause, max.value, Some((max.basis, max.source.clone())), place);
    }

    fn cap(&mut self, cap: &RateCap) {
        let (cause, basis) = match cap {
            RateCap::Option { name, rate_mts } => {
                (RateCause::Option { name: name.clone() }, Some((rate_mts.basis, rate_mts.source.clone())))
            }
            RateCap::PowerProfile { name, rate_mts } => {
                (RateCause::PowerProfile { name: name.clone() }, Some((rate_mts.basis, rate_mts.source.clone())))
            }
            RateCap::Mode { name, rate_mts } => {
                (RateCause::Mode { name: name.clone() }, Some((rate_mts.basis, rate_mts.source.clone())))
            }
            RateCap::Setting { .. } => (RateCause::Setting, None),
        };
        self.limit(cause, cap.rate(), basis, Place::Machine);
    }

    fn limit(&mut self, cause: RateCause, rate: DataRate, basis: Grounds, place: Place) {
        match self.limits.iter_mut().find(|(_, limit)| limit.cause == cause && limit.rate_mts == rate) {
            Some((_, limit)) => limit.places.push(place),
            None => self.limits.push((Origin::Other, new_limit(cause, rate, basis, place))),
        }
    }

    fn decide(self, sockets: Vec<Name>, voltage: RunningVoltage) -> DomainRate {
        let Self { machine, limits, mut obstacles } = self;
        let mut limits: Vec<_> = limits.into_iter().map(|(_, limit)| limit).collect();
        limits.sort_by(|a, b| (a.rate_mts, &a.cause).cmp(&(b.rate_mts, &b.cause)));
        let steps = machine.rate_steps();
        let highest_under =
            |cap: Option<DataRate>| steps.iter().rev().copied().find(|&step| cap.is_none_or(|cap| step <= cap));
        let running = highest_under(limits.first().map(|limit| limit.rate_mts));
        if running.is_none() {
            obstacles.push(RateObstacle::NoStep);
        }
        let next = steps.iter().copied().find(|&step| running.is_none_or(|rate| step > rate));
        let lowest = limits.first().map_or(DataRate::DDR3_800, |limit| limit.rate_mts);
        for index in 0..limits.len() {
            let lowest_other = limits.get(usize::from(index == 0)).map(|limit| limit.rate_mts);
            if let Some(limit) = limits.get_mut(index) {
                limit.binding = next.map_or(limit.rate_mts == lowest, |next| limit.rate_mts < next);
                limit.lifted_mts = if limit.binding { highest_under(lowest_other) } else { None };
            }
        }
        let rate_mts = running.filter(|_| obstacles.is_empty());
        DomainRate { sockets, rate_mts, range_mts: None, voltage, limits, obstacles }
    }
}

fn new_limit(cause: RateCause, rate_mts: DataRate, basis: Grounds, place: Place) -> RateLimit {
    let (basis, source) = basis.map_or((None, None), |(basis, source)| (Some(basis), source));
    let mut places = Vec::with_capacity(8);
    places.push(place);
    RateLimit { cause, rate_mts, places, basis, source, binding: false, lifted_mts: None }
}
