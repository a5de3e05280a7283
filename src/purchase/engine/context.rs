//! What a search stands on, and what stays the same from question to question.

use std::cell::RefCell;
use std::collections::HashMap;
use std::rc::Rc;

use crate::assess::Planner;
use crate::fill::{ClassId, Contents, PlaceId, SlotModel};
use crate::finding::Severity;
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{Content, Layout, Occupant};
use crate::purchase::PlanRequest;
use crate::purchase::engine::classes::ModuleClasses;
use crate::purchase::engine::needs::Terms;
use crate::purchase::engine::stock::{Stock, SupplierId};
use crate::purchase::engine::table::LeastCosts;
use crate::rule::RuleBook;
use crate::search::{Budget, Index, StopReason};

/// Steps of work that asking the rules what they say of a machine's slots and classes comes to.
const ONE_MODEL: u64 = 20_000;

/// The class of the present module in each place.
fn at_first(classes: &ModuleClasses<'_>, places: usize) -> Contents {
    let mut at = Contents::filled(None, places);
    for class in classes.all.values() {
        for place in class.present.iter().filter_map(|unit| unit.place) {
            at.get_mut(place).into_iter().for_each(|held| *held = Some(class.twin));
        }
    }
    at
}

/// The modules present that work, and have to leave their slots.
fn going<'a>(
    machine: &Machine,
    request: &'a PlanRequest,
    may_stay: impl Fn(SlotId) -> bool,
) -> Vec<(SlotId, &'a MemoryModule)> {
    let working = request.present.population.modules().filter(|(_, fitted)| fitted.fault.is_none());
    let in_slot =
        working.filter_map(|(label, fitted)| Some((machine.platform().slot_named(label.as_str())?, &fitted.module)));
    in_slot.filter(|(slot, _)| !may_stay(*slot)).collect()
}

/// The machine's slots, and what modules can come from.
pub(crate) struct SearchContext<'a> {
    /// Under the rules that refuse plans.
    pub(crate) model: SlotModel<'a>,
    /// Under the planner's rules, of which errors alone say whether a slot is free.
    pub(crate) errors: SlotModel<'a>,
    pub(crate) classes: ModuleClasses<'a>,
    /// Places that are to be empty.
    pub(crate) kept_empty: Vec<PlaceId>,
    /// What the stock of a class costs at least where some suppliers are left out.
    least_costs: RefCell<HashMap<(ClassId, Vec<SupplierId>), Rc<LeastCosts>>>,
}

impl<'a> SearchContext<'a> {
    /// The most cost tables that are kept.
    const MOST_TABLES: usize = 64;

    /// A context for plans under some rules, with slots free as the planner's rules say.
    pub(crate) fn new(
        planner: &Planner<'a>,
        rules: &'a RuleBook,
        request: &'a PlanRequest,
        terms: &Terms,
        budget: &mut Budget<'_>,
    ) -> Result<Self, StopReason> {
        let machine = planner.machine();
        let mut fixed = Layout::empty(machine);
        for (label, occupant) in request.present.population.iter() {
            let Some(slot) = machine.platform().slot_named(label.as_str()) else { continue };
            match occupant {
                Occupant::OtherDevice(device) => fixed.set(slot, Content::Other(device)),
                Occupant::Blank => fixed.set(slot, Content::Blank),
                Occupant::Module(_) => {}
            }
        }
        budget.work(ONE_MODEL)?;
        let bare = SlotModel::new(machine, rules, request.refuse_from, Vec::new(), fixed.clone());
        let places: Vec<SlotId> = bare.slots.values().iter().map(|slot| slot.id).collect();
        let classes = ModuleClasses::new(machine, request, (&bare.in_force, terms), (&places, &fixed), budget)?;
        let is_kept = |&id: &SlotId| request.present.keep_empty.contains(machine.platform().slot(id).label());
        let kept_empty =
            (0..).zip(&places).filter(|(_, id)| is_kept(id)).map(|(place, _)| PlaceId::of(place)).collect();
        let modules: Vec<&'a MemoryModule> = classes.all.values().iter().map(|class| class.module).collect();
        budget.work(ONE_MODEL)?;
        let mut model = SlotModel::under(machine, Rc::clone(&bare.in_force), modules.clone(), fixed.clone());
        let at_first = at_first(&classes, places.len());
        let going = going(machine, request, |slot| {
            places.iter().zip(at_first.values()).any(|(id, held)| *id == slot && held.is_some())
        });
        model.remember(at_first.clone(), going);
        budget.work(ONE_MODEL)?;
        Ok(Self {
            model,
            errors: SlotModel::new(machine, planner.rules(), Severity::Error, modules, fixed),
            classes,
            kept_empty,
            least_costs: RefCell::new(HashMap::new()),
        })
    }

    /// The stock of a class without that of some suppliers, and what it costs at least.
    pub(crate) fn least_costs(
        &self,
        class: ClassId,
        without: &[SupplierId],
        spares: u32,
        budget: &mut Budget<'_>,
    ) -> Result<(Vec<Stock<'a>>, Rc<LeastCosts>), StopReason> {
        let market = &self.classes.market;
        let entry = self.classes.all.get(class).ok_or(StopReason::INTERNAL_RANGE)?;
        let sells = |stock: &Stock<'a>| market.charging(*stock).filter(|supplier| without.contains(supplier));
        let all = entry.stocks(market);
        // of the suppliers left out only those matter who sell some of it
        let mut barred: Vec<SupplierId> = all.iter().filter_map(sells).collect();
        barred.sort_unstable();
        barred.dedup();
        let stocks: Vec<Stock<'a>> = all.into_iter().filter(|stock| sells(stock).is_none()).collect();
        let key = (class, barred);
        if let Some(known) = self.least_costs.borrow().get(&key) {
            return Ok((stocks, Rc::clone(known)));
        }
        let most = self.classes.in_all(self.model.slots.len()).ok_or(StopReason::INTERNAL_RANGE)?;
        let costs = Rc::new(LeastCosts::new(&stocks, most, spares, budget)?);
        let mut kept = self.least_costs.borrow_mut();
        if kept.len() >= Self::MOST_TABLES {
            kept.clear();
        }
        kept.insert(key, Rc::clone(&costs));
        Ok((stocks, costs))
    }
}
