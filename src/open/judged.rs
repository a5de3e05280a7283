use core::fmt;
use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::assess::{Assessment, Planner};
use crate::finding::{Finding, Place, Severity, Verdict};
use crate::module::MemoryModule;
use crate::population::{
    Fitted, ModuleFact, Occupant, Open, OpenError, OpenMatter, Population, PopulationError, Sited, SitedModule,
};
use crate::processor::MissingFact;
use crate::stated::Schema;
use crate::unit::{Bandwidth, Capacity, DataRate, Name};

/// What holds of a machine in every reading of its modules, and what in some.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct OpenAssessment {
    /// The version of the document's form.
    pub schema: Schema,
    /// In how many ways all modules can be read together; each was judged where `is_exact`.
    pub readings: u64,
    /// Whether every reading was judged. If not, what is known of all readings was: `every` is then certain all the same, and
    /// `some` is what may be.
    pub is_exact: bool,
    /// What holds in every reading.
    pub every: Vec<Finding>,
    /// What holds in some readings and not in all, or may.
    pub some: Vec<InSome>,
    /// The running rates that are possible, lowest first; `None` among them where there is none, or it is not known.
    pub rates_mts: Vec<Option<DataRate>>,
    /// What is usable at least and at most.
    pub usable_mib: (Capacity, Capacity),
    /// Memory bandwidth for even use, lower bound, at least and at most; absent where it is not known in some reading.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub even_swept_mbps: Option<(Bandwidth, Bandwidth)>,
    /// Facts that no report tells and that no reading fills in.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub untold: Vec<Untold>,
}

/// A finding that holds in some readings.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct InSome {
    /// The finding, as it is in the first of them.
    pub finding: Finding,
    /// As what modules are read there; of modules that are not named it does not matter, or is not known.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub when: Vec<When>,
}

/// As what modules are read.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct When {
    /// The slots of the modules.
    pub slots: Vec<Name>,
    /// What they are, one of these.
    pub are: Vec<MemoryModule>,
}

/// Facts of modules that nobody tells.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Untold {
    /// The slots of the modules.
    pub slots: Vec<Name>,
    /// The facts.
    pub facts: Vec<MissingFact>,
}

/// By what findings of unlike readings are the same; the last tells those of one reading apart.
type Key = (Name, Severity, Verdict, Vec<Place>, usize);

/// The keys of a reading's findings: a rule may say two things of one place.
fn keyed(findings: Vec<Finding>) -> Vec<(Key, Finding)> {
    let mut keyed: Vec<(Key, Finding)> = Vec::new();
    for finding in findings {
        let mut key = (finding.code.clone(), finding.severity, finding.verdict, finding.places.clone(), 0);
        while keyed.iter().any(|(known, _)| *known == key) {
            key.4 += 1;
        }
        keyed.push((key, finding));
    }
    keyed
}

/// A finding, in how many readings it is, and for each open module in which of its readings.
struct Held {
    key: Key,
    finding: Finding,
    times: u64,
    readings: Vec<BTreeSet<usize>>,
}

impl Planner<'_> {
    /// How many readings [`Planner::assess_open`] judges at most; of more it says what may be.
    pub const OPEN_READINGS: u64 = 512;

    /// Judges a machine of which reports leave something open, in all readings of its modules together. What runs is
    /// evidence: use [`Planner::narrow`] first.
    ///
    /// # Errors
    /// Where what is open is the size of a module, or whether it is there; or its kind or generation, of more than
    /// [`Planner::OPEN_READINGS`] readings.
    pub fn assess_open(&self, sited: &Sited) -> Result<OpenAssessment, OpenError> {
        let open: Vec<&SitedModule> = sited.modules.iter().filter(|module| module.readings.len() > 1).collect();
        let ways = open.iter().try_fold(1_u64, |ways, module| {
            let more = u64::try_from(module.readings.len()).ok()?;
            ways.checked_mul(more).filter(|ways| *ways <= Self::OPEN_READINGS)
        });
        let sized = sited.population();
        match (ways, sized) {
            // something else than facts that readings can tell is open
            (_, Err(error)) if error.open.iter().any(is_unread) => Err(error),
            (None, Err(error)) => Err(error),
            (None, Ok(population)) => Ok(self.judge_common(sited, &open, &population)),
            (Some(ways), sized) => Ok(self.judge_each(sited, &open, ways, sized.ok())),
        }
    }

    fn assess_known(&self, population: &Population) -> Option<Assessment> {
        let assessed: Result<Assessment, PopulationError> = self.assess_in_use(population);
        assessed.ok()
    }

    /// Judges every reading. `common` is what all have in common, where that is a population.
    fn judge_each(
        &self,
        sited: &Sited,
        open: &[&SitedModule],
        ways: u64,
        common: Option<Population>,
    ) -> OpenAssessment {
        let mut held: Vec<Held> = Vec::new();
        let mut figures = Range::default();
        let mut chosen = vec![0_usize; open.len()];
        for _ in 0..ways {
            let population = read_as(sited, open, &chosen);
            if let Some(assessment) = self.assess_known(&population) {
                figures.add(&assessment);
                for (key, finding) in keyed(assessment.findings) {
                    let at = held.iter().position(|held| held.key == key).unwrap_or_else(|| {
                        held.push(Held { key, finding, times: 0, readings: vec![BTreeSet::new(); open.len()] });
                        held.len() - 1
                    });
                    if let Some(held) = held.get_mut(at) {
                        held.times += 1;
                        held.readings.iter_mut().zip(&chosen).for_each(|(readings, &reading)| {
                            readings.insert(reading);
                        });
                    }
                }
            }
            step(&mut chosen, open);
        }
        let (every, some): (Vec<Held>, Vec<Held>) = held.into_iter().partition(|held| held.times == ways);
        let when = |readings: &Vec<BTreeSet<usize>>| {
            let told = open.iter().zip(readings).filter(|(module, readings)| readings.len() < module.readings.len());
            let when = told.map(|(module, readings)| When {
                slots: module.slots.clone(),
                are: readings.iter().filter_map(|&at| module.readings.get(at).cloned()).collect(),
            });
            when.collect()
        };
        let mut some: Vec<InSome> =
            some.into_iter().map(|held| InSome { when: when(&held.readings), finding: held.finding }).collect();
        // what holds in every reading is told by the facts that all have in common, where these suffice
        let common = common.filter(|_| ways > 1).and_then(|population| self.assess_known(&population));
        let common = keyed(common.map_or(Vec::new(), |common| common.findings));
        let text = |held: Held| {
            let told = common.iter().find(|(key, _)| *key == held.key);
            told.map_or(held.finding, |(_, finding)| finding.clone())
        };
        let mut every: Vec<Finding> = every.into_iter().map(text).collect();
        every.sort_by(|one, other| other.severity.cmp(&one.severity).then_with(|| one.cmp(other)));
        some.sort_by(|one, other| {
            other.finding.severity.cmp(&one.finding.severity).then_with(|| one.finding.cmp(&other.finding))
        });
        figures.finish(ways, true, every, some, untold(sited))
    }

    /// Too many readings: what is broken with the facts that all have in common is broken in every reading, and what cannot be
    /// judged with these may be.
    fn judge_common(&self, sited: &Sited, open: &[&SitedModule], population: &Population) -> OpenAssessment {
        let mut figures = Range::default();
        let (mut every, mut some) = (Vec::new(), Vec::new());
        if let Some(assessment) = self.assess_known(population) {
            figures.add(&assessment);
            for finding in assessment.findings {
                if finding.verdict == Verdict::Violated {
                    every.push(finding);
                } else {
                    some.push(InSome { finding, when: Vec::new() });
                }
            }
        }
        let ways = open
            .iter()
            .fold(1_u64, |ways, module| ways.saturating_mul(u64::try_from(module.readings.len()).unwrap_or(u64::MAX)));
        figures.finish(ways, false, every, some, untold(sited))
    }
}

/// Whether readings cannot tell what is open.
fn is_unread(open: &Open) -> bool {
    open.about.iter().any(|(matter, answers)| match matter {
        OpenMatter::Fact(ModuleFact::Capacity) => answers.is_empty(),
        OpenMatter::Fact(_) => false,
        _ => true,
    })
}

/// The next choice of a reading for each module, the last one first.
fn step(chosen: &mut [usize], open: &[&SitedModule]) {
    for (at, module) in chosen.iter_mut().zip(open).rev() {
        *at += 1;
        if *at < module.readings.len() {
            return;
        }
        *at = 0;
    }
}

/// What sits where, with each open module read as chosen.
fn read_as(sited: &Sited, open: &[&SitedModule], chosen: &[usize]) -> Population {
    let mut population = Population::new();
    for slot in &sited.slots {
        let Some(module) = slot.module.and_then(|at| sited.modules.get(at)) else { continue };
        let place = open.iter().position(|open| open.slots.contains(&slot.slot));
        let reading = place.and_then(|place| chosen.get(place)).copied().unwrap_or_default();
        if let Some(reading) = module.readings.get(reading) {
            let fitted = Fitted::new(reading.clone()).fault(slot.fault());
            population.put(slot.slot.clone(), Occupant::Module(fitted));
        } else if let Some(device) = sited.other_device(slot) {
            population.put(slot.slot.clone(), Occupant::OtherDevice(device));
        }
    }
    population
}

/// Facts that no reading has.
fn untold(sited: &Sited) -> Vec<Untold> {
    let of = |module: &SitedModule| {
        let first = module.readings.first()?;
        let missing = [
            (MissingFact::FormFactor, first.form_factor().is_none()),
            (MissingFact::Ecc, first.ecc().is_none()),
            (MissingFact::Grade, first.grade().is_none()),
            (MissingFact::Voltages, first.voltages().is_none()),
            (MissingFact::Height, first.height().is_none()),
        ];
        let facts: Vec<MissingFact> = missing.into_iter().filter(|(_, is)| *is).map(|(fact, _)| fact).collect();
        (!facts.is_empty()).then(|| Untold { slots: module.slots.clone(), facts })
    };
    sited.modules.iter().filter_map(of).collect()
}

/// Figures over readings.
#[derive(Default)]
struct Range {
    rates: BTreeSet<Option<DataRate>>,
    usable: Option<(Capacity, Capacity)>,
    even: Option<(Bandwidth, Bandwidth)>,
    even_is_open: bool,
}

impl Range {
    fn add(&mut self, assessment: &Assessment) {
        let figures = &assessment.figures;
        if figures.running_rate.domains.is_empty() {
            self.rates.insert(None);
        }
        self.rates.extend(figures.running_rate.domains.iter().map(|domain| domain.rate_mts));
        let usable = figures.usable.total_mib;
        self.usable = Some(self.usable.map_or((usable, usable), |(least, most)| (least.min(usable), most.max(usable))));
        match figures.bandwidth.even_swept_mbps {
            Some(even) => {
                self.even = Some(self.even.map_or((even, even), |(least, most)| (least.min(even), most.max(even))));
            }
            None => self.even_is_open = true,
        }
    }

    fn finish(
        self,
        readings: u64,
        is_exact: bool,
        every: Vec<Finding>,
        some: Vec<InSome>,
        untold: Vec<Untold>,
    ) -> OpenAssessment {
        OpenAssessment {
            schema: Schema,
            readings,
            is_exact,
            every,
            some,
            rates_mts: self.rates.into_iter().collect(),
            usable_mib: self.usable.unwrap_or_default(),
            even_swept_mbps: self.even.filter(|_| !self.even_is_open && is_exact),
            untold,
        }
    }
}

impl fmt::Display for OpenAssessment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.readings, self.is_exact) {
            (1, _) => f.write_str("Judged: nothing is open that a reading could tell")?,
            (ways, true) => write!(f, "Judged in each of {ways} readings")?,
            (ways, false) => write!(f, "Not judged in each of {ways} readings: what they have in common was")?,
        }
        let (least, most) = self.usable_mib;
        if least == most {
            write!(f, "\nUsable: {least}")?;
        } else {
            write!(f, "\nUsable: {least} to {most}")?;
        }
        let rate = |rate: &Option<DataRate>| rate.map_or("not known".to_owned(), |rate| rate.to_string());
        write!(f, "\nRunning rate: {}", self.rates_mts.iter().map(rate).collect::<Vec<_>>().join(" or "))?;
        match self.even_swept_mbps {
            Some((least, most)) if least == most => write!(f, "\nBandwidth for even use, estimated: {least} at least")?,
            Some((least, most)) => write!(f, "\nBandwidth for even use, estimated: {least} to {most} at least")?,
            None => {}
        }
        self.every.iter().try_for_each(|finding| write!(f, "\n{finding}"))?;
        for InSome { finding, when } in &self.some {
            let how = if self.is_exact { "in some readings" } else { "perhaps" };
            write!(f, "\n{how}: {finding}")?;
            for When { slots, are } in when {
                let slots = slots.iter().map(Name::as_str).collect::<Vec<_>>().join(", ");
                let mut are: Vec<String> = are.iter().map(ToString::to_string).collect();
                are.dedup();
                write!(f, "\n    where {slots} is {}", are.join(" or "))?;
            }
        }
        for Untold { slots, facts } in &self.untold {
            let slots = slots.iter().map(Name::as_str).collect::<Vec<_>>().join(", ");
            let facts = facts.iter().map(ToString::to_string).collect::<Vec<_>>().join(", ");
            write!(f, "\nnot told of {slots}: {facts}")?;
        }
        Ok(())
    }
}
