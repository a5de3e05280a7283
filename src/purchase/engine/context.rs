//! What a search stands on, and what stays the same from question to question.

use std::rc::Rc;

use crate::assess::Planner;
use crate::fill::{Contents, PlaceId, SlotModel};
use crate::finding::Severity;
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{Content, Layout, Occupant};
use crate::purchase::PlanRequest;
use crate::purchase::engine::classes::ModuleClasses;
use crate::purchase::engine::needs::Terms;
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
    pub(crate) classes: Rc<ModuleClasses<'a>>,
    /// Places that are to be empty.
    pub(crate) kept_empty: Vec<PlaceId>,
}

impl<'a> SearchContext<'a> {
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
            classes: Rc::new(classes),
            kept_empty,
        })
    }
}
