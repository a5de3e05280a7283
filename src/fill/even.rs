use std::collections::BTreeSet;

use serde::{Deserialize, Serialize};

use crate::assess::Planner;
use crate::figure::MemoryBandwidth;
use crate::fill::ArrangeError;
use crate::fill::evening::{Evening, Way, bandwidth};
use crate::module::MemoryModule;
use crate::population::{Layout, Occupant, Population};
use crate::search::StopReason;
use crate::stated::Schema;
use crate::unit::Name;

/// What to even out.
///
/// ```
/// use slotwright::fill::EvenRequest;
/// use slotwright::population::Population;
///
/// // nothing may be put into A3
/// let request = EvenRequest::new(Population::new()).keep_empty(["A3".parse()?]);
/// # let _ = request;
/// # Ok::<(), slotwright::unit::NameError>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct EvenRequest {
    /// The version of the document's form.
    #[serde(default)]
    pub schema: Schema,
    /// What is fitted.
    pub population: Population,
    /// Slots that stay empty.
    #[serde(default)]
    pub keep_empty: BTreeSet<Name>,
    /// How many nodes each of the searches may visit.
    #[serde(default = "EvenRequest::default_nodes")]
    pub nodes: u64,
}

impl EvenRequest {
    /// How many nodes each of the searches may visit unless the request says otherwise.
    pub const NODES: u64 = 1_000_000;

    const fn default_nodes() -> u64 {
        Self::NODES
    }

    /// To even out what is fitted.
    #[must_use]
    pub fn new(population: Population) -> Self {
        Self { schema: Schema, population, keep_empty: BTreeSet::new(), nodes: Self::NODES }
    }

    setters! {
        each keep_empty(keep_empty: Name);
        value nodes(nodes: u64);
    }
}

/// What would make a population even: the same capacity in every channel that takes memory, of every processor.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::Population;
///
/// let population = Population::new().with("A1".parse()?, module.clone()).with("B1".parse()?, module.clone());
/// let even = planner.even_out(&population)?;
/// assert!(!even.is_even);
/// assert_eq!(even.adding.unwrap().added, [(module, 2)]); // one in each of the other channels
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct EvenOut {
    /// The version of the document's form.
    pub schema: Schema,
    /// Whether it is even already; nothing is proposed then.
    pub is_even: bool,
    /// Its bandwidth as it is.
    pub bandwidth: MemoryBandwidth,
    /// The fewest further modules of the sorts present that make it even, with everything else left where it is;
    /// absent where none do.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub adding: Option<Evened>,
    /// The fewest moves that make it even, with nothing added; absent where none do.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub moving: Option<Evened>,
    /// The fewest modules to take out, with everything else left where it is; absent where that does not make it even, or
    /// would leave nothing.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taking_out: Option<Evened>,
    /// Why a search ended before it had looked at everything, if one did: what is absent may exist then.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped: Option<StopReason>,
}

/// An even population, and how it comes about.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Evened {
    /// What sits in each slot then. Of modules that move it is not said which one comes to which slot.
    pub population: Population,
    /// The modules added: each sort, and how many of it.
    pub added: Vec<(MemoryModule, usize)>,
    /// How many modules change their slots.
    pub moves: usize,
    /// The slots whose modules are taken out: faulty ones in any case, and those that sit where they cannot be used, unless
    /// they move.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub taken_out: Vec<Name>,
    /// The bandwidth then.
    pub bandwidth: MemoryBandwidth,
}

impl Evened {
    /// The same with what is known of each module that a population has in the same slot.
    fn keeping(mut self, before: &Population) -> Self {
        for (slot, fitted) in before.modules() {
            let stays = |now: &Occupant| matches!(now, Occupant::Module(now) if now.module == fitted.module);
            if fitted.fault.is_none() && self.population.get(slot.as_str()).is_some_and(stays) {
                self.population.put(slot.clone(), Occupant::Module(fitted.clone()));
            }
        }
        self
    }
}

impl Planner<'_> {
    /// What would make a population even, under the rules in force (errors; warnings never decide): the fewest
    /// further modules of sorts that are present, the fewest moves alone, and the fewest modules to take out. Of as many
    /// modules, the choice that arranges best in the [documented order](Planner::arrange).
    ///
    /// ```
    /// use slotwright::assess::Planner;
    /// use slotwright::machine::Machine;
    /// use slotwright::module::Label;
    /// use slotwright::population::{Occupant, Population};
    /// use slotwright::reference;
    /// use slotwright::rule::RuleBook;
    ///
    /// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
    /// let rules = RuleBook::standard();
    /// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
    /// let slots = ["A1", "B1", "C1", "D1", "A2", "B2"];
    /// let uneven: Population = slots.iter().map(|slot| (slot.parse().unwrap(), Occupant::module(module.clone()))).collect();
    ///
    /// let even = Planner::new(&machine, &rules).even_out(&uneven)?;
    /// let adding = even.adding.unwrap();
    /// assert_eq!(adding.added, [(module, 2)]); // 2-2-1-1 to 2-2-2-2
    /// assert_eq!(even.bandwidth.spread_mbps.to_string(), "57.6 GB/s");
    /// assert_eq!(adding.bandwidth.spread_mbps.to_string(), "76.8 GB/s");
    /// assert_eq!(even.moving, None); // six modules make no even four channels
    /// assert_eq!(even.taking_out.unwrap().taken_out.len(), 2); // four do
    /// # Ok::<(), Box<dyn std::error::Error>>(())
    /// ```
    ///
    /// # Errors
    /// All slot labels of the population that the machine's board does not have.
    pub fn even_out(&self, population: &Population) -> Result<EvenOut, ArrangeError> {
        self.even_out_with(&EvenRequest::new(population.clone()))
    }

    /// The same with what a request says beside the population.
    ///
    /// # Errors
    /// As [`Planner::even_out`]; and a slot to keep empty that the board lacks, or that holds a module.
    pub fn even_out_with(&self, request: &EvenRequest) -> Result<EvenOut, ArrangeError> {
        let layout = Layout::new(self.machine(), &request.population)?;
        let bandwidth = bandwidth(&layout);
        let job = Evening::new(self, &layout, &request.keep_empty)?;
        let is_even = job.is_even();
        let mut even =
            EvenOut { schema: Schema, is_even, bandwidth, adding: None, moving: None, taking_out: None, stopped: None };
        if is_even {
            return Ok(even);
        }
        let ways =
            [(&mut even.adding, Way::Adding), (&mut even.moving, Way::Moving), (&mut even.taking_out, Way::TakingOut)];
        for (found, way) in ways {
            // each has nodes of its own, so that one does not hide the other
            match job.find(way, &mut self.budget(request.nodes)) {
                Ok(evened) => *found = evened.map(|evened| evened.keeping(&request.population)),
                Err(reason) => even.stopped = Some(reason),
            }
        }
        Ok(even)
    }
}
