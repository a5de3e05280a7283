//! A case as it is asked about, and every population of it with what the rule book says.

use std::collections::BTreeSet;

use slotwright::assess::{Assessment, Planner};
use slotwright::finding::{Finding, Severity};
use slotwright::machine::Machine;
use slotwright::module::MemoryModule;
use slotwright::population::{Occupant, Population};
use slotwright::purchase::{Outcome, PlanRequest};
use slotwright::rule::RuleBook;
use slotwright::unit::{Capacity, Name};

use crate::boards;
use crate::judge;
use crate::one_truth::case::Case;

/// More than enough for a search on so small a board.
pub const NODES: u64 = 200_000;

/// Where search and book differ.
#[derive(Debug, Clone)]
pub struct Difference {
    /// Which sort of difference.
    pub sort: String,
    /// What was found, and what was expected.
    pub text: String,
}

impl Difference {
    pub fn new(sort: impl Into<String>, text: impl Into<String>) -> Self {
        Self { sort: sort.into(), text: text.into() }
    }
}

/// A module, and how many of it can be had from where.
#[derive(Debug, Clone)]
pub struct Sort {
    pub module: MemoryModule,
    pub offered: usize,
    pub price: i64,
    /// Present and not pinned.
    pub loose: usize,
}

/// A population and what the book says of it.
#[derive(Debug)]
pub struct Looked {
    pub population: Population,
    /// How many of each sort, beside what stays.
    pub counts: Vec<usize>,
    pub assessment: Assessment,
}

impl Looked {
    pub fn worst(&self) -> Option<Severity> {
        self.assessment.findings.iter().map(|finding| finding.severity).max()
    }

    /// Whether it carries nothing that refuses it where this is present, but for what was so before.
    pub fn passes(&self, asked: &Asked<'_>, present: &Population, refuse_from: Severity) -> bool {
        let is_refused = |finding: &Finding| finding.severity >= refuse_from;
        judge::is_let_pass(&asked.planner(), present, &self.population, &self.assessment, &is_refused)
    }

    pub fn usable(&self) -> Capacity {
        self.assessment.figures.usable.total_mib
    }

    pub fn codes(&self) -> BTreeSet<(Severity, &Name)> {
        self.assessment.findings.iter().map(|finding| (finding.severity, &finding.code)).collect()
    }

    pub fn shown(&self) -> String {
        let fitted = self.population.iter().map(|(slot, occupant)| format!("{slot}: {occupant}"));
        let findings = self.assessment.findings.iter().map(|finding| format!("\n    {finding}"));
        fitted.collect::<Vec<_>>().join(", ") + &findings.collect::<String>()
    }
}

/// A case as it is asked about.
#[derive(Debug)]
pub struct Asked<'c> {
    pub case: &'c Case,
    pub machine: Machine,
    pub rules: RuleBook,
}

impl<'c> Asked<'c> {
    pub fn of(case: &'c Case) -> Result<Self, Difference> {
        let machine = case.machine.clone().build().map_err(|error| Difference::new("machine", error.to_string()))?;
        let rules = RuleBook::standard().with_settings(&case.settings);
        let rules = rules.map_err(|error| Difference::new("settings", error.to_string()))?;
        Ok(Self { case, machine, rules })
    }

    pub fn planner(&self) -> Planner<'_> {
        Planner::new(&self.machine, &self.rules)
    }

    pub fn look(&self, population: Population, counts: Vec<usize>) -> Result<Looked, Difference> {
        let known = self.planner().assess(&population);
        known.map_err(|error| Difference::new("population", error.to_string()))?;
        let assessment = judge::assess(&self.planner(), &self.case.request.present.population, &population);
        Ok(Looked { population, counts, assessment })
    }

    /// Whether nothing is an error where nothing is said to run.
    pub fn has_no_error(&self, looked: &Looked) -> bool {
        judge::has_no_error(&self.planner().assess(&looked.population).unwrap())
    }

    pub fn sorts(&self) -> Vec<Sort> {
        let mut sorts: Vec<Sort> = Vec::new();
        for offer in &self.case.request.offers {
            let price = offer.unit_price.amount_minor() as i64;
            sorts.push(Sort { module: offer.module.clone(), offered: offer.stock as usize, price, loose: 0 });
        }
        let present = &self.case.request.present;
        let loose = present.population.modules().filter(|(slot, _)| !present.pinned.contains(*slot));
        // what is faulty goes, and is not there to be used
        for (_, fitted) in loose.filter(|(_, fitted)| fitted.fault.is_none()) {
            let module = &fitted.module;
            match sorts.iter_mut().find(|sort| sort.module == *module) {
                Some(sort) => sort.loose += 1,
                None => sorts.push(Sort { module: module.clone(), offered: 0, price: 0, loose: 1 }),
            }
        }
        sorts
    }

    /// What stays where it is: all but modules that are not pinned.
    pub fn fixed(&self) -> Population {
        let present = &self.case.request.present;
        let stays = |slot: &Name, occupant: &Occupant| {
            !matches!(occupant, Occupant::Module(_)) || present.pinned.contains(slot)
        };
        let all = present.population.iter().map(|(slot, occupant)| (slot.clone(), occupant.clone()));
        all.filter(|(slot, occupant)| stays(slot, occupant)).collect()
    }

    /// Every population of what can be had, with how many of each sort it has beside what stays.
    pub fn populations(&self, sorts: &[Sort]) -> Result<Vec<(Population, Vec<usize>)>, Difference> {
        let fixed = self.fixed();
        let live = boards::live(&self.machine);
        let kept = &self.case.request.present.keep_empty;
        let is_open = |slot: &Name| matches!(fixed.get(slot.as_str()), None | Some(Occupant::Blank));
        let is_free = |slot: &Name| is_open(slot) && !kept.contains(slot);
        let free: Vec<Name> = live.into_iter().filter(is_free).collect();
        let stocks: Vec<usize> = sorts.iter().map(|sort| sort.offered + sort.loose).collect();
        if !self.case.is_small(&stocks, free.len()) {
            return Err(Difference::new("size", "too many populations"));
        }
        let mut populations = vec![(fixed, vec![0; sorts.len()])];
        for slot in &free {
            let mut more = Vec::new();
            for (population, counts) in &populations {
                for (index, sort) in sorts.iter().enumerate().filter(|&(index, _)| counts[index] < stocks[index]) {
                    let mut counts = counts.clone();
                    counts[index] += 1;
                    more.push((population.clone().with(slot.clone(), sort.module.clone()), counts));
                }
            }
            populations.extend(more);
        }
        Ok(populations)
    }

    /// The same, held against the book.
    pub fn looked(&self, sorts: &[Sort]) -> Result<Vec<Looked>, Difference> {
        let populations = self.populations(sorts)?;
        populations.into_iter().map(|(population, counts)| self.look(population, counts)).collect()
    }

    pub fn plan(&self, request: &PlanRequest) -> Result<Outcome, Difference> {
        self.planner()
            .plan(&request.clone().nodes(NODES))
            .map_err(|error| Difference::new("request", error.to_string()))
    }
}

/// A case with every population of it.
#[derive(Debug)]
pub struct World<'c> {
    pub asked: Asked<'c>,
    pub sorts: Vec<Sort>,
    pub all: Vec<Looked>,
}

impl<'c> World<'c> {
    pub fn of(case: &'c Case) -> Result<Self, Difference> {
        let asked = Asked::of(case)?;
        let sorts = asked.sorts();
        let all = asked.looked(&sorts)?;
        Ok(Self { asked, sorts, all })
    }
}
