use thiserror::Error;

use crate::assess::Planner;
use crate::figure::Figures;
use crate::fill::arrangement::Illegal;
use crate::fill::place::free_slots;
use crate::fill::{
    Arrangement, Demand, Legal, Placed, RulesInForce, SlotModel, SlotReason, SlotUse, by_turn, judge, place,
};
use crate::finding::Severity;
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::population::{Content, Fitted, Layout, Occupant, Population, PopulationError};
use crate::rule::RuleBook;
use crate::search::{Budget, InternalFault, StopReason};
use crate::unit::Name;

/// Equal modules and how many there are.
pub type Pieces = (MemoryModule, usize);

/// What to arrange, and around what.
///
/// ```
/// use slotwright::fill::ArrangeRequest;
/// use slotwright::module::Label;
/// use slotwright::population::Population;
///
/// let module = "16GB 2Rx4 PC4-2133P-RA0-10".parse::<Label>()?.to_module();
/// let fitted = Population::new().with("A1".parse()?, module.clone());
/// // add these four, touch nothing
/// let request = ArrangeRequest::new().add(module, 4).around(fitted);
/// # let _ = request;
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Default)]
pub struct ArrangeRequest {
    pieces: Vec<Pieces>,
    around: Population,
    keep_empty: Vec<Name>,
    nodes: Option<u64>,
}

/// Why a request to arrange makes no sense on a machine.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[non_exhaustive]
pub enum ArrangeError {
    /// The population to arrange around names slots that the machine lacks.
    #[error(transparent)]
    Population(#[from] PopulationError),
    /// A slot to keep empty that the machine lacks.
    #[error("the board has no slot {slot} to keep empty; its slots are {allowed}")]
    UnknownSlot {
        /// The label given.
        slot: Name,
        /// The labels that exist.
        allowed: String,
    },
    /// A slot to keep empty that a module stays in.
    #[error("slot {slot} is to be kept empty, but what stays where it is has a module there")]
    Occupied {
        /// The slot.
        slot: Name,
    },
}

impl ArrangeRequest {
    /// How many nodes a search may visit unless the request says otherwise.
    pub const NODES: u64 = 1_000_000;

    /// Nothing to arrange yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Adds modules to arrange.
    #[must_use]
    pub fn add(mut self, module: MemoryModule, count: usize) -> Self {
        self.pieces.push((module, count));
        self
    }

    /// Leaves everything in this population where it is.
    #[must_use]
    pub fn around(mut self, population: Population) -> Self {
        self.around = population;
        self
    }

    /// Keeps a slot empty.
    #[must_use]
    pub fn keep_empty(mut self, slot: Name) -> Self {
        self.keep_empty.push(slot);
        self
    }

    /// Lets the search visit so many nodes.
    #[must_use]
    pub fn nodes(mut self, nodes: u64) -> Self {
        self.nodes = Some(nodes);
        self
    }
}

impl Planner<'_> {
    /// The best legal arrangement of modules in an empty machine. *All* of them are placed.
    ///
    /// Best in this order: higher running rate; higher bandwidth (spread, then swept); smaller largest difference of capacity between
    /// processors, relative to their live slots; more free slots; fill order (slots by turn, occupied
    /// before empty, module of higher priority first). Where the platform has population rows for the
    /// number of modules, mode and number of processors, it chooses inside them. Warnings never decide.
    ///
    /// # Errors
    /// Never for plain pieces; see [`Planner::arrange_with`].
    pub fn arrange(&self, pieces: impl IntoIterator<Item = Pieces>) -> Result<Arrangement, ArrangeError> {
        self.arrange_with(&ArrangeRequest { pieces: pieces.into_iter().collect(), ..ArrangeRequest::default() })
    }

    /// The best legal arrangement around what stays where it is.
    ///
    /// # Errors
    /// When the population to arrange around, or a slot to keep empty, is not of this machine's board, or a
    /// slot to keep empty is occupied.
    pub fn arrange_with(&self, request: &ArrangeRequest) -> Result<Arrangement, ArrangeError> {
        let job = Job::new(self, request)?;
        let mut budget = self.budget(request.nodes.unwrap_or(ArrangeRequest::NODES));
        Ok(job.answer(self, &mut budget).unwrap_or_else(|reason| job.stopped(self, reason)))
    }
}

struct Job<'a> {
    machine: &'a Machine,
    request: &'a ArrangeRequest,
    around: Layout<'a>,
    /// Modules that no rule in force tells apart are one class.
    classes: Vec<&'a MemoryModule>,
    /// By class: the modules to arrange and how many of each, in the order of their facts.
    pieces: Vec<Vec<(&'a MemoryModule, usize)>>,
    demand: Demand,
    /// Modules of the population around in slots that cannot be used.
    stranded: bool,
}

impl<'a> Job<'a> {
    /// How many nodes a first arrangement may take once a search has stopped.
    const FIRST_NODES: u64 = 20_000;

    fn new(planner: &Planner<'a>, request: &'a ArrangeRequest) -> Result<Self, ArrangeError> {
        let machine = planner.machine();
        let around = Layout::new(machine, &request.around)?;
        let by_identity = RulesInForce::new(machine, planner.rules(), Severity::Error).reads_identity();
        let facts = |module: &MemoryModule| if by_identity { module.clone() } else { module.without_identity() };
        let all = request.pieces.iter().map(|(module, _)| module);
        let all = all.chain(request.around.modules().map(|(_, fitted)| &fitted.module));
        let mut classes: Vec<(MemoryModule, &MemoryModule)> = all.map(|module| (facts(module), module)).collect();
        // the first in order stands for its class
        classes.sort();
        classes.dedup_by(|a, b| a.0 == b.0);
        let class_of = |module: &MemoryModule| classes.binary_search_by(|(known, _)| known.cmp(&facts(module))).ok();
        let mut counts = vec![0usize; classes.len()];
        let mut pieces: Vec<Vec<(&'a MemoryModule, usize)>> = vec![Vec::new(); classes.len()];
        let mut add = |class: Option<usize>, count: usize| {
            if let Some(place) = class.and_then(|class| counts.get_mut(class)) {
                // more than a number says find no slot either
                *place = place.saturating_add(count);
            }
        };
        for (module, count) in &request.pieces {
            let class = class_of(module);
            add(class, *count);
            if let Some(pieces) = class.and_then(|class| pieces.get_mut(class)) {
                pieces.push((module, *count));
            }
        }
        pieces.iter_mut().for_each(|pieces| pieces.sort_by_key(|(module, _)| *module));
        let platform = machine.platform();
        let live: Vec<_> =
            machine.live_slots().filter(|&slot| !matches!(around.get(slot), Content::Other(_))).collect();
        let mut pinned = Vec::new();
        for (place, &slot) in live.iter().enumerate() {
            if let Some(module) = around.get(slot).module() {
                add(class_of(module), 1);
                pinned.push((place, class_of(module)));
            }
        }
        for slot in &request.keep_empty {
            let Some(id) = platform.slot_named(slot.as_str()) else {
                let allowed = platform.slot_labels();
                return Err(ArrangeError::UnknownSlot { slot: slot.clone(), allowed });
            };
            if around.get(id).module().is_some() {
                return Err(ArrangeError::Occupied { slot: slot.clone() });
            }
            pinned.extend(live.iter().position(|&other| other == id).map(|place| (place, None)));
        }
        let stranded = around.modules().any(|site| !machine.is_live(site.slot));
        let demand = Demand { counts: counts.into_iter().enumerate().collect(), pinned, ..Demand::default() };
        let classes = classes.into_iter().map(|(_, module)| module).collect();
        Ok(Self { machine, request, around, classes, pieces, demand, stranded })
    }

    /// What cannot be arranged: the other devices.
    fn fixed(&self) -> Layout<'a> {
        let mut fixed = Layout::empty(self.machine);
        for (slot, device) in self.around.other_devices() {
            fixed.set(slot, Content::Other(device));
        }
        fixed
    }

    fn grid(&self, rules: &'a RuleBook) -> SlotModel<'a> {
        SlotModel::new(self.machine, rules, Severity::Error, self.classes.clone(), self.fixed())
    }

    fn answer(&self, planner: &Planner<'a>, budget: &mut Budget) -> Result<Arrangement, StopReason> {
        let grid = self.grid(planner.rules());
        if !self.stranded {
            if let Some(placed) = place(&grid, &grid, &self.demand, budget)? {
                return Ok(Arrangement::Best(self.legal(planner, &grid, &placed, budget)?));
            }
        }
        self.illegal(planner, &grid, budget).map(Arrangement::Illegal)
    }

    /// How far a search came that ended before it was through: a legal arrangement, if one is soon found.
    fn stopped(&self, planner: &Planner<'a>, reason: StopReason) -> Arrangement {
        let grid = self.grid(planner.rules());
        let mut budget = Budget::new(Self::FIRST_NODES, None);
        let (at, left_over) = by_turn(&grid, &self.demand);
        let mut first = || {
            let placed = judge(&grid, &grid, &self.demand, at.clone(), &mut budget).ok().flatten()?;
            self.legal(planner, &grid, &placed, &mut budget).ok()
        };
        let best = if left_over == 0 && !self.stranded { first() } else { None };
        Arrangement::Stopped { reason, best: best.map(Box::new) }
    }

    fn legal(
        &self,
        planner: &Planner<'a>,
        grid: &SlotModel<'a>,
        placed: &Placed,
        budget: &mut Budget,
    ) -> Result<Legal, StopReason> {
        let label = |slot: usize| {
            let slot = grid.slots.get(slot).map(|slot| slot.id);
            slot.map_or(Name::lossy(""), |id| self.machine.platform().slot(id).label.clone())
        };
        let population = self.population(grid, &placed.at);
        let assessment = planner.assess(&population);
        let assessment = assessment.map_err(|_| StopReason::Internal { fault: InternalFault::NotOnTheBoard })?;
        let reasons = reasons(planner, grid, &self.demand, placed);
        Ok(Legal {
            population,
            assessment,
            slots: reasons
                .into_iter()
                .enumerate()
                .map(|(slot, reason)| SlotUse { slot: label(slot), reason })
                .collect(),
            free_slots: free_slots(grid, &placed.at, budget)?.into_iter().map(label).collect(),
        })
    }

    /// The placing as a population; what stays keeps what is known of it, and of modules that work alike the first in
    /// the order of their facts comes first by turn.
    fn population(&self, grid: &SlotModel<'_>, at: &[Option<usize>]) -> Population {
        let mut population = self.request.around.clone();
        let mut left = self.pieces.clone();
        for (slot, class) in grid.slots.iter().zip(at) {
            let label = &self.machine.platform().slot(slot.id).label;
            if matches!(population.get(label.as_str()), Some(Occupant::Module(_))) {
                continue;
            }
            let pieces = class.and_then(|class| left.get_mut(class)).into_iter().flatten();
            if let Some((module, count)) = pieces.into_iter().find(|(_, count)| *count > 0) {
                *count -= 1;
                let fitted = Fitted { module: (*module).clone(), individual: None };
                population.put(label.clone(), Occupant::Module(fitted));
            }
        }
        population
    }

    fn illegal(&self, planner: &Planner<'a>, grid: &SlotModel<'a>, budget: &mut Budget) -> Result<Illegal, StopReason> {
        let (at, left_over) = by_turn(grid, &self.demand);
        let by_turn = self.population(grid, &at);
        let findings = match planner.assess(&by_turn) {
            Ok(assessment) => assessment.findings,
            Err(_) => return Err(StopReason::Internal { fault: InternalFault::NotOnTheBoard }),
        };
        let legal_without = if left_over == 0 && !self.stranded {
            self.legal_without(planner.rules(), &findings, budget)?
        } else {
            Vec::new()
        };
        Ok(Illegal { by_turn, left_over, findings, legal_without })
    }

    /// A smallest set of rules, found by giving up as few as possible, without which an arrangement is
    /// legal.
    fn legal_without(
        &self,
        rules: &'a RuleBook,
        findings: &[crate::finding::Finding],
        budget: &mut Budget,
    ) -> Result<Vec<Name>, StopReason> {
        let mut codes: Vec<Name> = Vec::new();
        let said = findings.iter().filter(|finding| finding.severity == Severity::Error).map(|finding| &finding.code);
        let others = rules.rules().filter(|rule| rule.severity() == Severity::Error).map(crate::rule::Rule::code);
        for code in said.chain(others) {
            if !codes.contains(code) {
                codes.push(code.clone());
            }
        }
        for code in &codes {
            if self.is_legal_without(rules, std::slice::from_ref(code), budget)? {
                return Ok(vec![code.clone()]);
            }
        }
        let mut without = codes.clone();
        if !self.is_legal_without(rules, &without, budget)? {
            return Ok(Vec::new());
        }
        for code in codes.iter().rev() {
            let fewer: Vec<Name> = without.iter().filter(|other| *other != code).cloned().collect();
            if self.is_legal_without(rules, &fewer, budget)? {
                without = fewer;
            }
        }
        Ok(without)
    }

    fn is_legal_without(&self, rules: &RuleBook, codes: &[Name], budget: &mut Budget) -> Result<bool, StopReason> {
        let mut fewer = rules.clone();
        for code in codes {
            if let Ok(book) = fewer.clone().without(code.as_str()) {
                fewer = book;
            }
        }
        let grid = SlotModel::new(self.machine, &fewer, Severity::Error, self.classes.clone(), self.fixed());
        let demand = Demand { any_will_do: true, ..self.demand.clone() };
        Ok(place(&grid, &grid, &demand, budget)?.is_some())
    }
}

/// Why each usable slot holds what it holds.
fn reasons(planner: &Planner<'_>, grid: &SlotModel<'_>, demand: &Demand, placed: &Placed) -> Vec<SlotReason> {
    let last = placed.at.iter().rposition(Option::is_some);
    let row = grid
        .rows
        .groups
        .iter()
        .flat_map(|group| &group.rows)
        .filter(|row| row.slots.iter().all(|&(slot, _)| placed.at.get(slot).is_some_and(Option::is_some)));
    let rows: Vec<_> = row.collect();
    let reason = |slot: usize, class: Option<usize>| {
        if demand.pinned.iter().any(|&(pinned, _)| pinned == slot) {
            return SlotReason::Pinned;
        }
        if class.is_some() {
            let by_row = rows.iter().find(|row| row.slots.iter().any(|&(other, _)| other == slot));
            let index = by_row.and_then(|row| row.index);
            return index.map_or(SlotReason::Turn, |row| SlotReason::Row { row });
        }
        if last.is_none_or(|last| slot > last) {
            return SlotReason::NotNeeded;
        }
        left_empty(planner, grid, demand, placed, slot)
    };
    placed.at.iter().enumerate().map(|(slot, &class)| reason(slot, class)).collect()
}

/// What would go wrong if the next module by turn sat in an empty slot.
fn left_empty(
    planner: &Planner<'_>,
    grid: &SlotModel<'_>,
    demand: &Demand,
    placed: &Placed,
    slot: usize,
) -> SlotReason {
    let movable = |&(other, class): &(usize, &Option<usize>)| {
        other > slot && class.is_some() && !demand.pinned.iter().any(|&(pinned, _)| pinned == other)
    };
    let Some((next, &class)) = placed.at.iter().enumerate().find(movable) else { return SlotReason::NotNeeded };
    let mut at = placed.at.clone();
    if let Some(place) = at.get_mut(slot) {
        *place = class;
    }
    if let Some(place) = at.get_mut(next) {
        *place = None;
    }
    let moved = planner.assess_layout(&grid.layout(&at));
    let refused = moved.findings.into_iter().find(|finding| finding.severity >= grid.in_force.threshold);
    let Figures { running_rate, bandwidth, .. } = &moved.figures;
    match refused {
        Some(finding) => SlotReason::Refused { code: finding.code },
        None if running_rate.rate() < placed.rate => SlotReason::KeepsRate,
        None if (bandwidth.spread_mbps, bandwidth.swept_mbps) < placed.bandwidth => SlotReason::KeepsBandwidth,
        None => SlotReason::KeepsBalance,
    }
}
