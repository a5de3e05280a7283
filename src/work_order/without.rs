use std::cmp::Reverse;
use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::assess::{Assessment, Planner};
use crate::finding::{Finding, Severity};
use crate::platform::{MappedOut, SlotId};
use crate::population::{Fault, Occupant, Population, PopulationError};
use crate::purchase::{PlanRequest, RequestError, StandIn};
use crate::stated::Schema;
use crate::unit::{Capacity, DataRate, Name, Names};
use crate::work_order::evened;

/// What is left of a machine when modules fail: every way to go on without them, the fewest handlings first.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, Population, RuleBook, reference};
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// use slotwright::work_order::WithoutWay;
///
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let slots = ["A1", "B1", "C1", "D1", "A2", "B2", "C2", "D2"];
/// let population = slots.iter().try_fold(Population::new(), |all, slot| {
///     Ok::<_, slotwright::unit::NameError>(all.with(slot.parse()?, module.clone()))
/// })?;
///
/// // A1 is the first of its channel: what is in A2 has to come forward
/// let answer = planner.without(&population, &["A1".parse()?])?;
/// let best = answer.best().unwrap();
/// assert_eq!((best.way, best.handlings), (WithoutWay::MovedForward, 3));
/// assert_eq!(best.usable_mib.whole_gib(), Some(224));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct WithoutAnswer {
    /// The version of the document's form.
    pub schema: Schema,
    /// The slots of the modules that fail.
    pub slots: Vec<Name>,
    /// The ways to go on, the fewest handlings first.
    pub ways: Vec<Without>,
    /// What else is worth saying.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub notes: Vec<WithoutNote>,
    /// What may take the place of the modules, where that was asked.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub stand_ins: Vec<SlotStandIns>,
}

/// One way to go on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Without {
    /// Which way.
    pub way: WithoutWay,
    /// What is in each slot then.
    pub population: Population,
    /// The slots whose modules the firmware takes out of use.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub mapped_out: Vec<Name>,
    /// The slots whose modules are taken out.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub taken_out: Vec<Name>,
    /// The modules that move: from which slot, and to which.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub moved: Vec<(Name, Name)>,
    /// Modules taken out or put in; a move is two.
    pub handlings: usize,
    /// What is usable then.
    pub usable_mib: Capacity,
    /// The lowest running rate then, where it is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_mts: Option<DataRate>,
    /// What the rules say of it.
    pub findings: Vec<Finding>,
    /// Whether it is not known that no fewer partners do as well. Looking ends at some hundred sets of partners.
    #[serde(default, skip_serializing_if = "is_false")]
    pub is_not_proved: bool,
}

// serde hands over a reference
#[allow(clippy::trivially_copy_pass_by_ref)]
const fn is_false(value: &bool) -> bool {
    !*value
}

/// A way to go on without a module.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum WithoutWay {
    /// It stays where it is, and the firmware takes it out of use.
    MappedOut,
    /// It alone is taken out.
    TakenOut,
    /// It is taken out, and another of its channel comes forward.
    MovedForward,
    /// Partners are taken out too, so that what is left is even.
    Evened,
    /// Something that only a newer version knows; never written by this one.
    Other,
}

/// Something worth saying.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum WithoutNote {
    /// What the firmware takes out of use is not described, so that leaving the module where it is is not judged.
    MappedOutNotDescribed,
    /// The firmware takes all memory out of use: the machine does not start with it.
    DoesNotStart,
    /// Something that only a newer version knows, by its name; never written by this one.
    Other(Name),
}

/// What may take the place of the module of a slot.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SlotStandIns {
    /// The slot.
    pub slot: Name,
    /// As [`Planner::stand_ins`] gives them.
    pub stand_ins: Vec<StandIn>,
}

/// Why it cannot be said what is left.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum WithoutError {
    /// The population names slots that the board does not have.
    #[error(transparent)]
    Population(#[from] PopulationError),
    /// A slot that the board does not have.
    #[error("the board has no slot {slot}; its slots are {allowed}")]
    UnknownSlot {
        /// The label given.
        slot: Name,
        /// The labels that exist.
        allowed: Names,
    },
    /// A slot without a module.
    #[error("slot {slot} holds no module that could fail")]
    NoModule {
        /// The slot.
        slot: Name,
    },
    /// The request for stand-ins makes no sense.
    #[error(transparent)]
    Request(#[from] RequestError),
}

impl WithoutAnswer {
    /// The best way in which the modules are taken out: the fewest errors, then the fewest handlings, the most usable memory, the highest
    /// rate.
    #[must_use]
    pub fn best(&self) -> Option<&Without> {
        self.ways.iter().filter(|way| way.way != WithoutWay::MappedOut).min_by_key(|way| way.rank())
    }
}

impl Without {
    fn rank(&self) -> (usize, usize, Reverse<Capacity>, Reverse<Option<DataRate>>) {
        (count(&self.findings, Severity::Error), self.handlings, Reverse(self.usable_mib), Reverse(self.rate_mts))
    }

    /// How many errors and warnings it has.
    pub(crate) fn faults(&self) -> (usize, usize) {
        faults(&self.findings)
    }
}

fn count(findings: &[Finding], severity: Severity) -> usize {
    findings.iter().filter(|finding| finding.severity == severity).count()
}

/// How many errors and warnings there are.
pub(crate) fn faults(findings: &[Finding]) -> (usize, usize) {
    (count(findings, Severity::Error), count(findings, Severity::Warning))
}

impl Planner<'_> {
    /// What is left when the modules of some slots fail: left where they are, taken out, with another brought forward, with partners
    /// taken out for evenness.
    ///
    /// # Errors
    /// Slots that the board does not have, and slots without a module.
    pub fn without(&self, population: &Population, slots: &[Name]) -> Result<WithoutAnswer, WithoutError> {
        let platform = self.machine().platform();
        let mut failing: Vec<SlotId> = Vec::new();
        for label in slots {
            let id = platform.slot_named(label.as_str()).ok_or_else(|| WithoutError::UnknownSlot {
                slot: label.clone(),
                allowed: platform.slot_labels(),
            })?;
            match population.get(label.as_str()) {
                Some(Occupant::Module(_)) => failing.push(id),
                _ => return Err(WithoutError::NoModule { slot: label.clone() }),
            }
        }
        failing.sort_unstable();
        failing.dedup();
        let found = Failing { planner: self, population, slots: failing };
        let mut notes = Vec::new();
        let mut ways: Vec<Without> = Vec::new();
        ways.extend(found.mapped_out(&mut notes)?);
        let out = found.taken_out(&[])?;
        let forward = found.moved_forward()?.filter(|way| way.faults() < out.faults());
        let base = forward.clone().unwrap_or_else(|| out.clone());
        ways.push(out);
        ways.extend(forward);
        ways.extend(evened::evened(self, &base, &found.slots)?);
        ways.sort_by_key(|way| way.handlings);
        let slots = found.slots.iter().map(|&slot| platform.slot(slot).label().clone()).collect();
        Ok(WithoutAnswer { schema: Schema, slots, ways, notes, stand_ins: Vec::new() })
    }

    /// The same of what a request says is present, with what of its shelf and offers may take the place of each module.
    ///
    /// # Errors
    /// As [`Planner::without`] and [`Planner::stand_ins`].
    pub fn without_or_replaced(&self, request: &PlanRequest, slots: &[Name]) -> Result<WithoutAnswer, WithoutError> {
        let mut answer = self.without(&request.present.population, slots)?;
        for slot in &answer.slots {
            let stand_ins = self.stand_ins(request, slot.as_str())?;
            answer.stand_ins.push(SlotStandIns { slot: slot.clone(), stand_ins });
        }
        Ok(answer)
    }
}

/// Modules that fail.
struct Failing<'f, 'a> {
    planner: &'f Planner<'a>,
    population: &'f Population,
    slots: Vec<SlotId>,
}

impl Failing<'_, '_> {
    fn label(&self, slot: SlotId) -> Name {
        self.planner.machine().platform().slot(slot).label().clone()
    }

    fn way(&self, way: WithoutWay, population: Population, assessment: Assessment) -> Without {
        Without {
            way,
            population: population.by_facts(),
            mapped_out: Vec::new(),
            taken_out: Vec::new(),
            moved: Vec::new(),
            handlings: 0,
            usable_mib: assessment.figures.usable.total_mib,
            rate_mts: assessment.figures.running_rate.rate(),
            findings: assessment.findings,
            is_not_proved: false,
        }
    }

    /// The modules stay, and the firmware takes out of use what the board's maker says.
    fn mapped_out(&self, notes: &mut Vec<WithoutNote>) -> Result<Option<Without>, PopulationError> {
        let platform = self.planner.machine().platform();
        let hands = platform.description().hands.as_ref();
        let Some(mapped) = hands.and_then(|hands| hands.value.mapped_out) else {
            notes.push(WithoutNote::MappedOutNotDescribed);
            return Ok(None);
        };
        let mut population = self.population.clone();
        for &slot in &self.slots {
            if let Some(Occupant::Module(mut fitted)) = population.take(self.label(slot).as_str()) {
                fitted.fault = Some(Fault::Failed);
                population.put(self.label(slot), Occupant::Module(fitted));
            }
        }
        let channels: BTreeSet<_> = self.slots.iter().map(|&slot| platform.slot(slot).channel).collect();
        let is_gone = |label: &Name| {
            let slot = platform.slot_named(label.as_str());
            slot.is_some_and(|slot| match mapped {
                MappedOut::Module => self.slots.contains(&slot),
                MappedOut::Channel => channels.contains(&platform.slot(slot).channel),
                MappedOut::All => true,
            })
        };
        let gone: Vec<Name> =
            population.modules().map(|(slot, _)| slot).filter(|slot| is_gone(slot)).cloned().collect();
        // what works and is out of use counts as if it were not there
        let mut counted = population.clone();
        for slot in gone.iter().filter(|slot| !self.slots.iter().any(|&failing| self.label(failing) == **slot)) {
            counted.take(slot.as_str());
        }
        if mapped == MappedOut::All {
            notes.push(WithoutNote::DoesNotStart);
        }
        let assessment = self.planner.assess(&counted)?;
        Ok(Some(Without { mapped_out: gone, ..self.way(WithoutWay::MappedOut, population, assessment) }))
    }

    /// The modules are taken out, and others move.
    fn taken_out(&self, moves: &[(SlotId, SlotId)]) -> Result<Without, PopulationError> {
        let mut population = self.population.clone();
        let taken_out: Vec<Name> = self.slots.iter().map(|&slot| self.label(slot)).collect();
        for slot in &taken_out {
            population.take(slot.as_str());
        }
        let lifted: Vec<_> =
            moves.iter().map(|&(from, to)| (to, population.take(self.label(from).as_str()))).collect();
        for (to, occupant) in lifted {
            occupant.map(|occupant| population.put(self.label(to), occupant));
        }
        let assessment = self.planner.assess(&population)?;
        let way = if moves.is_empty() { WithoutWay::TakenOut } else { WithoutWay::MovedForward };
        Ok(Without {
            handlings: taken_out.len() + 2 * moves.len(),
            moved: moves.iter().map(|&(from, to)| (self.label(from), self.label(to))).collect(),
            taken_out,
            ..self.way(way, population, assessment)
        })
    }

    /// In each channel in which a slot falls empty before one that is filled, modules come forward: the last one into the gap, or each by
    /// one place, whichever the rules like better.
    fn moved_forward(&self) -> Result<Option<Without>, PopulationError> {
        let moves = |shifts: bool| {
            let machine = self.planner.machine();
            let channels: BTreeSet<_> =
                self.slots.iter().map(|&slot| machine.platform().slot(slot).channel).collect();
            let mut moves = Vec::new();
            for channel in channels {
                let mut slots = machine.platform().channel(channel).slots.clone();
                slots.sort_by_key(|&slot| machine.platform().slot(slot).order());
                moves.extend(self.fills(&slots, shifts));
            }
            moves
        };
        let all = [moves(false), moves(true)].into_iter().filter(|moves| !moves.is_empty());
        let ways: Vec<Without> = all.map(|moves| self.taken_out(&moves)).collect::<Result<_, _>>()?;
        Ok(ways.into_iter().min_by_key(|way| (way.faults(), way.rank())))
    }

    /// How the gaps of one channel are filled, its slots by turn.
    fn fills(&self, slots: &[SlotId], shifts: bool) -> Vec<(SlotId, SlotId)> {
        let can_hold = |slot: &SlotId| {
            let device = matches!(self.population.get(self.label(*slot).as_str()), Some(Occupant::OtherDevice(_)));
            self.planner.machine().is_live(*slot) && !device
        };
        let holds = |slot: &SlotId| match self.population.get(self.label(*slot).as_str()) {
            Some(Occupant::Module(fitted)) => fitted.fault.is_none() && !self.slots.contains(slot),
            _ => false,
        };
        let places: Vec<SlotId> = slots.iter().copied().filter(can_hold).collect();
        let held: Vec<SlotId> = places.iter().copied().filter(holds).collect();
        let first = places.get(..held.len()).unwrap_or_default();
        if shifts {
            return held.iter().copied().zip(first.iter().copied()).filter(|(from, to)| from != to).collect();
        }
        let gaps = first.iter().copied().filter(|slot| !holds(slot));
        let beyond = held.iter().copied().filter(|slot| !first.contains(slot)).rev();
        beyond.zip(gaps).collect()
    }
}
