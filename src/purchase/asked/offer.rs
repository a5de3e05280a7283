use serde::{Deserialize, Serialize};

use crate::module::MemoryModule;
use crate::purchase::Condition;
use crate::unit::{Name, Price};

/// A module on offer.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::purchase::QuantityBreak;
/// use slotwright::{Offer, Price};
///
/// let euro = "EUR".parse()?;
/// let offer = Offer::new("lot-7".parse()?, module, Price::new(4_500, euro), 40)
///     .pack(4)
///     .breaks([QuantityBreak::new(8, Price::new(4_200, euro))]);
/// assert_eq!((offer.price_at(4), offer.price_at(8)), (Price::new(4_500, euro), Price::new(4_200, euro)));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct Offer {
    /// Unique among the offers.
    pub id: Name,
    /// The module: its facts, or its label.
    pub module: MemoryModule,
    /// The price of one.
    pub unit_price: Price,
    /// How many there are.
    pub stock: u32,
    /// Sold in packs of so many.
    #[serde(default = "one", skip_serializing_if = "is_one")]
    pub pack: u32,
    /// The fewest units that are sold.
    #[serde(default = "one", skip_serializing_if = "is_one")]
    pub minimum_quantity: u32,
    /// Lower prices for larger orders; each holds for *all* units that are kept of the order.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub breaks: Vec<QuantityBreak>,
    /// Who sells it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub supplier: Option<Name>,
    /// What state the modules are in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub condition: Option<Condition>,
    /// How many days they take to arrive.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub lead_time_days: Option<u32>,
    /// What sending back one unit costs. The order is then paid as if it were of the units kept, at their number's
    /// price. Nothing can be sent back where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub return_cost: Option<Price>,
    /// What a unit is worth that is kept and not fitted; nothing where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub surplus_value: Option<Price>,
    /// The caller's own data; it travels to the plan's lines untouched.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub data: Option<String>,
}

/// A unit price from some quantity on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct QuantityBreak {
    /// The least quantity.
    pub from: u32,
    /// The price of one.
    pub unit_price: Price,
}

impl QuantityBreak {
    /// From so many units on each costs this.
    #[must_use]
    pub fn new(from: u32, unit_price: Price) -> Self {
        Self { from, unit_price }
    }
}

/// A module that is owned and not fitted.
///
/// ```
/// # use slotwright::{Label, Machine, Planner, RuleBook, reference};
/// #
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// use slotwright::{Price, ShelfItem};
///
/// let item = ShelfItem::new("bin 4".parse()?, module, 3).unit_value(Price::new(2_500, "EUR".parse()?));
/// assert_eq!(item.stock, 3);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(deny_unknown_fields)]
#[non_exhaustive]
pub struct ShelfItem {
    /// Unique on the shelf.
    pub id: Name,
    /// The module: its facts, or its label.
    pub module: MemoryModule,
    /// How many there are.
    pub stock: u32,
    /// What one is worth; using it costs that. Nothing where absent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub unit_value: Option<Price>,
    /// What state the modules are in.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub condition: Option<Condition>,
    /// The caller's own data; it travels to the plan's lines untouched.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub data: Option<String>,
}

const fn one() -> u32 {
    1
}

// serde hands over a reference
#[allow(clippy::trivially_copy_pass_by_ref)]
const fn is_one(pack: &u32) -> bool {
    *pack == 1
}

impl Offer {
    /// An offer of single units at one price.
    #[must_use]
    pub fn new(id: Name, module: MemoryModule, unit_price: Price, stock: u32) -> Self {
        Self {
            id,
            module,
            unit_price,
            stock,
            pack: 1,
            minimum_quantity: 1,
            breaks: Vec::new(),
            supplier: None,
            condition: None,
            lead_time_days: None,
            return_cost: None,
            surplus_value: None,
            data: None,
        }
    }

    setters! {
        value pack(pack: u32);
        value minimum_quantity(minimum_quantity: u32);
        each breaks(breaks: QuantityBreak);
        some supplier(supplier: Name);
        some condition(condition: Condition);
        some lead_time(lead_time_days: u32);
        some return_cost(return_cost: Price);
        some surplus_value(surplus_value: Price);
        some data(data: String);
    }

    /// The unit price of an order of so many.
    #[must_use]
    pub fn price_at(&self, quantity: u32) -> Price {
        let reached = self.breaks.iter().rev().find(|step| quantity >= step.from);
        reached.map_or(self.unit_price, |step| step.unit_price)
    }
}

impl ShelfItem {
    /// So many modules that are owned, of no stated value.
    #[must_use]
    pub fn new(id: Name, module: MemoryModule, stock: u32) -> Self {
        Self { id, module, stock, unit_value: None, condition: None, data: None }
    }

    setters! {
        some unit_value(unit_value: Price);
        some condition(condition: Condition);
        some data(data: String);
    }
}
