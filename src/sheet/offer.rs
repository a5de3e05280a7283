//! What a customer is offered.

use core::fmt;

use serde::Serialize;
use thiserror::Error;

use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::population::ReportDate;
use crate::purchase::{ModuleSource, Plan};
use crate::sheet::{Cell, Column, Section, Sheet, Table};
use crate::unit::{Capacity, Cost, Name, Price};

/// What a customer is offered: modules, figures and the seller's own prices. It has no place for suppliers, bins or what anything cost.
///
/// ```
/// # use slotwright::{Capacity, Label, Machine, Offer, PlanRequest, Planner, RuleBook, reference};
/// # let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// # let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// # let offer = Offer::new("lot-7".parse()?, module, slotwright::Price::new(4_500, "EUR".parse()?), 40).supplier(slotwright::Name::new("Harbour Lots")?);
/// # let rules = RuleBook::standard();
/// # let planner = Planner::new(&machine, &rules);
/// # let outcome = planner.plan(&PlanRequest::new().usable_at_least(Capacity::from_gib(128)).offer(offer))?;
/// # let plan = outcome.optimal().unwrap();
/// use slotwright::population::ReportDate;
/// use slotwright::sheet::CustomerOffer;
/// use slotwright::Price;
///
/// let euro = "EUR".parse()?;
/// let offer = CustomerOffer::of(&machine, plan, "Host 7", |_| Price::new(5_900, euro))?
///     .work(Price::new(4_000, euro))
///     .valid_until("2026-12-24".parse::<ReportDate>()?);
/// let text = offer.sheet().to_text(80);
/// assert!(text.contains("276.00 EUR"));
/// assert!(!text.contains("lot-7") && !text.contains("Harbour") && !text.contains("45.00"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct CustomerOffer {
    /// What it is for.
    pub title: String,
    /// The machine's description.
    pub platform: Name,
    /// How many machines alike.
    pub machines: u32,
    /// The modules that are sold.
    pub lines: Vec<CustomerLine>,
    /// What the work costs, if it is a line of its own.
    pub work: Option<Price>,
    /// What is credited for what is taken back.
    pub credit: Option<Price>,
    /// Until when it holds, in the seller's word.
    pub valid_until: Option<ReportDate>,
    /// How much memory each machine then has.
    pub usable_mib: Capacity,
    /// How it then runs, in words.
    pub runs: String,
    /// What to mind: findings, in words.
    pub to_mind: Vec<String>,
}

/// A line of an offer to a customer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[non_exhaustive]
pub struct CustomerLine {
    /// The module.
    pub module: MemoryModule,
    /// How many.
    pub quantity: usize,
    /// What one is sold for.
    pub unit_price: Price,
}

/// Amounts of money that cannot be added up.
#[derive(Debug, Clone, PartialEq, Eq, Error, Serialize)]
#[error("the prices of the offer are in {first} and in {second}; one offer has one currency")]
#[non_exhaustive]
pub struct CurrenciesDiffer {
    /// The currency of the first price.
    pub first: String,
    /// Another one.
    pub second: String,
}

impl CustomerOffer {
    /// What a plan fits into the machines, at the seller's prices. What is bought in excess of that is none of the customer's.
    ///
    /// # Errors
    /// When the prices are not of one currency.
    pub fn of(
        machine: &Machine,
        plan: &Plan,
        title: impl Into<String>,
        price: impl Fn(&MemoryModule) -> Price,
    ) -> Result<Self, CurrenciesDiffer> {
        let machines = usize::try_from(plan.machines).unwrap_or(usize::MAX);
        let mut lines: Vec<CustomerLine> = Vec::new();
        for slot in plan
            .slots
            .iter()
            .filter(|slot| !matches!(slot.source, ModuleSource::Stays | ModuleSource::MovesFrom { .. }))
        {
            match lines.iter_mut().find(|line| line.module == slot.module) {
                Some(line) => line.quantity = line.quantity.saturating_add(machines),
                None => lines.push(CustomerLine {
                    unit_price: price(&slot.module),
                    module: slot.module.clone(),
                    quantity: machines,
                }),
            }
        }
        let rate = plan.running_rate().map_or("at a rate that is not known".to_owned(), |rate| format!("at {rate}"));
        let offer = Self {
            title: title.into(),
            platform: machine.platform().name().clone(),
            machines: plan.machines,
            lines,
            work: None,
            credit: None,
            valid_until: None,
            usable_mib: plan.assessment.figures.usable.total_mib,
            runs: rate,
            to_mind: plan.assessment.findings.iter().map(ToString::to_string).collect(),
        };
        offer.checked()
    }

    fn checked(self) -> Result<Self, CurrenciesDiffer> {
        let mut prices = self.lines.iter().map(|line| line.unit_price).chain(self.work).chain(self.credit);
        let Some(first) = prices.next() else { return Ok(self) };
        match prices.find(|price| price.currency() != first.currency()) {
            None => Ok(self),
            Some(other) => {
                Err(CurrenciesDiffer { first: first.currency().to_string(), second: other.currency().to_string() })
            }
        }
    }

    setters! {
        some work(work: Price);
        some credit(credit: Price);
        some valid_until(valid_until: ReportDate);
    }

    /// The sum; `None` where currencies differ or it is beyond all bounds.
    #[must_use]
    pub fn total(&self) -> Option<Cost> {
        let offer = self.clone().checked().ok()?;
        let mut total: i64 = 0;
        let mut currency = None;
        for line in &offer.lines {
            let each = i64::try_from(line.unit_price.amount_minor()).ok()?;
            total = total.checked_add(each.checked_mul(i64::try_from(line.quantity).ok()?)?)?;
            currency = currency.or(Some(line.unit_price.currency()));
        }
        for (price, sign) in [(offer.work, 1), (offer.credit, -1)] {
            let Some(price) = price else { continue };
            total = total.checked_add(i64::try_from(price.amount_minor()).ok()?.checked_mul(sign)?)?;
            currency = currency.or(Some(price.currency()));
        }
        Some(Cost::new(total, currency?))
    }

    /// The sheet.
    #[must_use]
    pub fn sheet(&self) -> Sheet {
        let mut table = Table::new([
            Column::count("qty"),
            Column::text("description"),
            Column::money("each"),
            Column::money("line"),
        ]);
        let cost = |price: Price| Cell::Money(price.into());
        for line in &self.lines {
            let minor = i64::try_from(line.unit_price.amount_minor()).unwrap_or(i64::MAX);
            let all = minor.saturating_mul(i64::try_from(line.quantity).unwrap_or(i64::MAX));
            let line_price = Cost::new(all, line.unit_price.currency());
            table.row([
                Cell::count(line.quantity),
                Cell::text(&line.module),
                cost(line.unit_price),
                Cell::Money(line_price),
            ]);
        }
        if let Some(work) = self.work {
            table.row([Cell::Empty, Cell::text("fitting and test"), Cell::Empty, cost(work)]);
        }
        if let Some(credit) = self.credit {
            let minor = i64::try_from(credit.amount_minor()).unwrap_or(i64::MAX);
            let back = Cost::new(minor.saturating_neg(), credit.currency());
            table.row([
                Cell::Empty,
                Cell::text("credit for what is taken back, after acceptance"),
                Cell::Empty,
                Cell::Money(back),
            ]);
        }
        table.row([
            Cell::Empty,
            Cell::text("TOTAL"),
            Cell::Empty,
            self.total().map_or(Cell::text("not to be added up"), Cell::Money),
        ]);
        let machines = if self.machines == 1 { String::new() } else { format!("{} machines, each: ", self.machines) };
        let head = Section::plain()
            .entry("Machine", self.platform.to_string())
            .entry("Result", format!("{machines}{} running {}", self.usable_mib, self.runs));
        let head = match &self.valid_until {
            Some(date) => head.entry("Valid until", date.to_string()),
            None => head,
        };
        let to_mind = if self.to_mind.is_empty() { vec!["nothing".to_owned()] } else { self.to_mind.clone() };
        Sheet::new(format!("OFFER   {}", self.title))
            .section(head)
            .section(Section::new("PRICES").table(table))
            .section(Section::new("TO MIND").items(to_mind))
            .section(Section::new("WHAT THIS RESTS ON").items([
                format!("description {} of the machine, and its processors as given", self.platform),
                "modules as described; another module of equal facts may come in place of one".to_owned(),
                "The platform maker's manual, local rules and qualified people decide.".to_owned(),
            ]))
            .section(Section::new("ACCEPTED").blanks(["Customer", "Date"]))
    }
}

/// As text of 80 characters.
impl fmt::Display for CustomerOffer {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.sheet().to_text(80))
    }
}
