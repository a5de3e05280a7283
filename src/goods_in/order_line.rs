use serde::{Deserialize, Serialize};

use crate::module::MemoryModule;
use crate::population::SeenModule;
use crate::purchase::{ModuleSource, Plan};
use crate::unit::Name;

/// A line of an order: so many modules of some facts.
///
/// ```
/// use slotwright::goods_in::OrderLine;
/// use slotwright::module::{Generation, Label};
/// use slotwright::population::SeenModule;
/// use slotwright::{Capacity, Name};
///
/// let label: Label = "32GB 2Rx4 PC4-2400T-RB2-11".parse()?;
/// let line = OrderLine::of_module(Name::new("lot-7")?, label.module(), 8);
/// assert_eq!(line.quantity, 8);
/// // of other modules no more may be agreed than this
/// let wanted = SeenModule::new().generation(Generation::Ddr4).capacity(Capacity::from_gib(32));
/// assert_eq!(OrderLine::new(Name::new("lot-8")?, wanted, 4).wanted.kind, None);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct OrderLine {
    /// What the order calls it. Unique in a delivery.
    pub id: Name,
    /// What it states. A piece has to agree with every fact that stands here, and with no other; it has to offer
    /// every voltage that stands here, and may offer more. A sort of device that is not stated is plain memory.
    pub wanted: SeenModule,
    /// How many were ordered; at least 1, at most [`OrderLine::MAX_QUANTITY`].
    pub quantity: usize,
}

impl OrderLine {
    /// How many modules a line may order. More is taken for a slip of the pen; common practice, no source.
    pub const MAX_QUANTITY: usize = 1_000_000;

    /// So many modules of which the order states these facts.
    #[must_use]
    pub const fn new(id: Name, wanted: SeenModule, quantity: usize) -> Self {
        Self { id, wanted, quantity }
    }

    /// So many of a module; all its known facts are stated.
    #[must_use]
    pub fn of_module(id: Name, module: &MemoryModule, quantity: usize) -> Self {
        Self::new(id, SeenModule::of(module), quantity)
    }

    /// What a plan orders: a line for each offer, by its id. What is taken from a shelf does not come in; what is to be
    /// sent back does.
    #[must_use]
    pub fn of_plan(plan: &Plan) -> Vec<Self> {
        let line = |line: &crate::purchase::PlanLine| match &line.source {
            ModuleSource::Offer { id } if line.quantity > 0 => {
                Some(Self::of_module(id.clone(), &line.module, line.quantity))
            }
            _ => None,
        };
        plan.lines.iter().filter_map(line).collect()
    }
}
