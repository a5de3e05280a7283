use core::fmt;

use serde::{Deserialize, Serialize};

use crate::acceptance::{AcceptanceError, Step};
use crate::assess::Planner;
use crate::finding::{Finding, Severity};
use crate::machine::Machine;
use crate::population::{Layout, Occupant, Population};
use crate::stated::Schema;
use crate::unit::{Capacity, DataRate, Name, Names};

/// Which module is to be tested by swapping it with another; also its document.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SwapRequest {
    /// What is in each slot now.
    pub population: Population,
    /// The slot whose module is not read.
    pub suspect: Name,
    /// A slot whose module works, to swap with; one is chosen where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub with: Option<Name>,
}

impl SwapRequest {
    /// Tests the module of a slot.
    #[must_use]
    pub fn new(population: Population, suspect: Name) -> Self {
        Self { population, suspect, with: None }
    }

    setters! {
        some with(with: Name);
    }
}

/// How to find out whether a fault follows a module, or stays with its slot or processor.
///
/// The states are legal: none carries an error that was not there before. Before any swap, look into both slots and at both edges; power off and cords
/// out. The platform maker's manual, local rules and qualified people decide.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SwapTest {
    /// The version of the document's form.
    pub schema: Schema,
    /// What comes before any swap.
    pub first: Step,
    /// The slots to look into.
    pub look_into: Vec<Name>,
    /// The state that there is, then those to try one after the other: a swap within the processor, where there is one, then one with another.
    pub states: Vec<SwapState>,
}

/// One state of a swap test.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct SwapState {
    /// What is in each slot.
    pub population: Population,
    /// The slot in which the suspect module is.
    pub module_in: Name,
    /// What is expected if all is well: the fault was a contact.
    pub if_gone: Expected,
    /// What is expected if the fault is the module's: it is not read.
    pub if_module: Expected,
    /// What is expected if the fault is that of the slot where it was found.
    pub if_slot: Expected,
}

/// What a machine is expected to report.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Expected {
    /// The slot that is not read; none where all are.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unread: Option<Name>,
    /// What can be used, in MiB.
    pub usable_mib: Capacity,
    /// At which rate it runs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rate_mts: Option<DataRate>,
}

/// What a swap test comes to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case")]
#[non_exhaustive]
pub enum SwapVerdict {
    /// It follows the module: exchange that.
    FollowsModule,
    /// It stays with the slot: close it, or have board and processor looked at.
    StaysWithSlot,
    /// Whatever sits at the processor is not read there: have it and its contacts looked at.
    StaysWithProcessor,
    /// It is gone: it was a contact. Watch the counters, and return nothing.
    Gone,
    /// What was seen fits none of these.
    Unclear,
}

impl fmt::Display for SwapVerdict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(match self {
            Self::FollowsModule => "it follows the module: exchange that",
            Self::StaysWithSlot => "it stays with the slot: close it, or have board and processor looked at",
            Self::StaysWithProcessor => "it stays with the processor: have it and its contacts looked at",
            Self::Gone => "it is gone: a contact; watch the counters, and return nothing",
            Self::Unclear => "what was seen fits neither module nor slot",
        })
    }
}

impl Planner<'_> {
    /// The states of a swap test for a module that is not read.
    ///
    /// ```
    /// use slotwright::acceptance::{SwapRequest, SwapVerdict};
    /// use slotwright::population::Population;
    /// use slotwright::{Label, Machine, Planner, RuleBook, reference};
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let population = Population::new().with("A1".parse()?, module.clone()).with("B1".parse()?, module);
    /// let test = Planner::new(&machine, &rules).swap_test(&SwapRequest::new(population, "A1".parse()?))?;
    /// assert_eq!(test.states[1].module_in, *"B1");
    /// // after the swap the module of A1, now in B1, is not read
    /// assert_eq!(test.verdict(&[vec!["A1".parse()?], vec!["B1".parse()?]]), SwapVerdict::FollowsModule);
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// A population that does not fit the board; a suspect slot, or one to swap with, that the board lacks or that holds no module; no swap that
    /// leaves a legal population.
    pub fn swap_test(&self, request: &SwapRequest) -> Result<SwapTest, AcceptanceError> {
        let machine = self.machine();
        Layout::new(machine, &request.population).map_err(AcceptanceError::Planned)?;
        let filled: Names = request.population.modules().map(|(slot, _)| slot).collect();
        let is_filled = |slot: &Name| matches!(request.population.get(slot.as_str()), Some(Occupant::Module(_)));
        for slot in std::iter::once(&request.suspect).chain(&request.with) {
            if !is_filled(slot) {
                return Err(AcceptanceError::Slot { slot: slot.clone(), why: "it holds no module", allowed: filled });
            }
        }
        let errors = self.errors(&request.population);
        let socket = |slot: &Name| {
            let id = machine.platform().slot_named(slot.as_str());
            id.map(|id| machine.platform().slot(id).socket)
        };
        let swapped = |other: &Name| {
            let population = swap(&request.population, &request.suspect, other)?;
            let is_legal = self.errors(&population).iter().all(|finding| errors.contains(finding));
            is_legal.then_some((other.clone(), population))
        };
        let mut others: Vec<&Name> = match &request.with {
            Some(with) => vec![with],
            None => filled.iter().filter(|slot| **slot != request.suspect).collect(),
        };
        // like modules first: what they make of figures and rules stays as it is
        let facts = |slot: &Name| match request.population.get(slot.as_str()) {
            Some(Occupant::Module(fitted)) => Some(&fitted.module),
            _ => None,
        };
        let channel =
            |slot: &Name| machine.platform().slot_named(slot.as_str()).map(|id| machine.platform().slot(id).channel);
        others.sort_by_key(|slot| (facts(slot) != facts(&request.suspect), channel(slot) == channel(&request.suspect)));
        let near = others.iter().copied().filter(|slot| socket(slot) == socket(&request.suspect)).find_map(swapped);
        let far = others.iter().copied().filter(|slot| socket(slot) != socket(&request.suspect)).find_map(swapped);
        let found: Vec<(Name, Population)> = near.into_iter().chain(far).collect();
        if found.is_empty() {
            let why = "no swap of its module leaves a legal population";
            return Err(AcceptanceError::Slot { slot: request.suspect.clone(), why, allowed: Names::default() });
        }
        let look_into = std::iter::once(&request.suspect).chain(found.iter().map(|(slot, _)| slot)).cloned().collect();
        let first = (request.suspect.clone(), request.population.clone());
        let states = std::iter::once(first).chain(found);
        let states = states.map(|(slot, population)| swap_state(machine, population, slot, &request.suspect));
        Ok(SwapTest { schema: Schema, first: Step::Look, look_into, states: states.collect() })
    }

    /// The errors of a population, for comparison.
    fn errors(&self, population: &Population) -> Vec<Finding> {
        let assessment = self.assess(population);
        assessment.map(|own| own.from_severity(Severity::Error).cloned().collect()).unwrap_or_default()
    }
}

fn swap(population: &Population, one: &Name, other: &Name) -> Option<Population> {
    if one == other {
        return None;
    }
    let mut swapped = population.clone();
    let (first, second) = (swapped.take(one.as_str())?, swapped.take(other.as_str())?);
    swapped.put(one.clone(), second);
    swapped.put(other.clone(), first);
    Some(swapped)
}

fn swap_state(machine: &Machine, population: Population, module_in: Name, suspect: &Name) -> SwapState {
    let without = |slot: Option<&Name>| {
        let mut rest = population.clone();
        slot.and_then(|slot| rest.take(slot.as_str()));
        let figures = Layout::new(machine, &rest).map(|layout| crate::figure::Figures::of(&layout));
        let (usable_mib, rate_mts) = figures
            .map(|figures| (figures.usable.total_mib, figures.running_rate.rate()))
            .unwrap_or((Capacity::ZERO, None));
        Expected { unread: slot.cloned(), usable_mib, rate_mts }
    };
    let (if_gone, if_module, if_slot) = (without(None), without(Some(&module_in)), without(Some(suspect)));
    SwapState { population, module_in, if_gone, if_module, if_slot }
}

impl SwapTest {
    /// What it comes to, from the slots that were not read in each state, in their order; states that were not tried are left out.
    #[must_use]
    pub fn verdict(&self, unread: &[Vec<Name>]) -> SwapVerdict {
        let tried: Vec<(&SwapState, &Vec<Name>)> = self.states.iter().zip(unread).skip(1).collect();
        let Some(suspect) = self.look_into.first().filter(|_| !tried.is_empty()) else { return SwapVerdict::Unclear };
        let all =
            |holds: &dyn Fn(&SwapState, &[Name]) -> bool| tried.iter().all(|(state, unread)| holds(state, unread));
        if all(&|_, unread| unread.is_empty()) {
            SwapVerdict::Gone
        } else if all(&|state, unread| unread == [state.module_in.clone()]) {
            SwapVerdict::FollowsModule
        } else if all(&|_, unread| unread == [suspect.clone()]) {
            SwapVerdict::StaysWithSlot
        } else if tried.len() > 1 && all(&|_, unread| unread.contains(suspect)) {
            // more than its slot, and never the module elsewhere
            let is_elsewhere = |(state, unread): &(&SwapState, &Vec<Name>)| unread.contains(&state.module_in);
            let near = tried.first().is_some_and(is_elsewhere);
            let far = tried.last().is_some_and(is_elsewhere);
            if near && !far { SwapVerdict::StaysWithProcessor } else { SwapVerdict::Unclear }
        } else {
            SwapVerdict::Unclear
        }
    }
}

impl fmt::Display for Expected {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.unread {
            Some(slot) => write!(f, "slot {slot} is not read, {} can be used", self.usable_mib)?,
            None => write!(f, "all slots are read, {} can be used", self.usable_mib)?,
        }
        self.rate_mts.map_or(Ok(()), |rate| write!(f, " at {rate}"))
    }
}

/// What to do first, then each state with what it may show, a line each.
impl fmt::Display for SwapTest {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let slots = self.look_into.iter().map(Name::as_str).collect::<Vec<_>>().join(", ");
        write!(f, "{} ({slots}), and at the edges of the modules", self.first)?;
        for (at, state) in self.states.iter().enumerate().skip(1) {
            let from = self.look_into.first().map_or("?", Name::as_str);
            write!(f, "\n{at}. swap the modules of {from} and {}", state.module_in)?;
            write!(f, "\n   if the module is at fault: {}", state.if_module)?;
            write!(f, "\n   if the slot is at fault: {}", state.if_slot)?;
            write!(f, "\n   if it was a contact: {}", state.if_gone)?;
        }
        Ok(())
    }
}
