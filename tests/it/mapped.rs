//! A symmetry of a board maps plans onto plans.

use std::cmp::Reverse;
use std::collections::BTreeMap;
use std::fmt::Debug;

use proptest::prelude::*;
use serde_json::Value;
use slotwright::assess::Planner;
use slotwright::machine::Machine;
use slotwright::population::Population;
use slotwright::purchase::{ModuleSource, Outcome, Plan, PlanRequest};
use slotwright::rule::RuleBook;

use crate::boards::{Source, bytes, config};
use crate::judge;
use crate::laws::{Symmetry, symmetric};
use crate::purchase_oracle::{case, request};

fn plan(machine: &Machine, request: &PlanRequest) -> Outcome {
    Planner::new(machine, &RuleBook::standard()).plan(request).unwrap()
}

/// A board on which two channels, or two processors, stand in the other order; every label and turn goes with them.
fn listed_otherwise(source: &mut Source<'_>, machine: &Machine) -> Machine {
    let mut document = serde_json::to_value(machine).unwrap();
    let sockets = document["platform"]["sockets"].as_array_mut().unwrap();
    if sockets.len() > 1 && source.once_in(2) {
        sockets.swap(0, 1);
    } else {
        for socket in sockets {
            let channels = socket["controllers"][0]["channels"].as_array_mut().unwrap();
            let last = channels.len() - 1;
            channels.swap(0, last);
        }
    }
    serde_json::from_value(document).unwrap()
}

fn through<T: serde::Serialize + serde::de::DeserializeOwned>(value: &T, symmetry: &Symmetry) -> T {
    serde_json::from_value(symmetry.map(&serde_json::to_value(value).unwrap())).unwrap()
}

/// The same machine with the labels of the slots exchanged, and their turns with them: what was said of one slot is said
/// of its image.
fn relabelled(machine: &Machine, symmetry: &Symmetry) -> Machine {
    let slots_alone = Symmetry { slots: symmetry.slots.clone(), ..Symmetry::default() };
    through(machine, &slots_alone)
}

/// What is bought and used.
fn lines(plan: &Plan) -> Vec<(ModuleSource, usize, usize)> {
    plan.lines.iter().map(|line| (line.source.clone(), line.quantity, line.returned)).collect()
}

/// What comes before fill order where plans are compared.
fn before_fill_order(machine: &Machine, plan: &Plan) -> impl PartialEq + Debug + use<> {
    (
        plan.cost.clone().total,
        judge::breaks_rows(&plan.assessment),
        Reverse(plan.running_rate()),
        judge::bandwidth(&plan.assessment),
        judge::spread(machine, &plan.assessment),
        judge::modules(&plan.population).len(),
        plan.free_slots.len(),
        plan.handlings,
    )
}

/// Everything that a symmetry leaves as it is.
fn unmoved(machine: &Machine, plan: &Plan) -> impl PartialEq + Debug + use<> {
    let money: Value = serde_json::to_value(&plan.cost).unwrap();
    (
        before_fill_order(machine, plan),
        lines(plan),
        money,
        plan.pulled.len(),
        plan.to_shelf.clone(),
        plan.charges.clone(),
    )
}

/// Slot by slot what is in it, in words.
fn by_slot(population: &Population) -> BTreeMap<String, Value> {
    population.iter().map(|(slot, held)| (slot.to_string(), serde_json::to_value(held).unwrap())).collect()
}

proptest! {
    #![proptest_config(config(300))]

    #[test]
    fn law_a_symmetry_of_the_board_maps_plans(bytes in bytes(200)) {
        let mut source = Source::new(&bytes);
        let Some((machine, symmetry)) = symmetric(&mut source) else { return Ok(()) };
        let request = request(&mut source, &machine, 3);
        let text = || format!("{symmetry:?}\n{}", case(&machine, &request));
        let planned = plan(&machine, &request);
        let is_some = planned.optimal().is_some();

        // the order in which a description lists its parts is no fact
        let other = listed_otherwise(&mut source, &machine);
        let found = plan(&other, &request);
        prop_assert_eq!(found.optimal().is_some(), is_some, "listed otherwise\n{}", text());
        if let (Some(found), Some(wanted)) = (found.optimal(), planned.optimal()) {
            prop_assert_eq!(unmoved(&other, found), unmoved(&machine, wanted), "listed otherwise\n{}", text());
            prop_assert_eq!(&found.population, &wanted.population, "listed otherwise\n{}", text());
        }

        // labels and turns exchanged: the plan goes with them
        let (other, asked) = (relabelled(&machine, &symmetry), through(&request, &symmetry));
        let found = plan(&other, &asked);
        prop_assert_eq!(found.optimal().is_some(), is_some, "turns exchanged\n{}", text());
        if let (Some(found), Some(wanted)) = (found.optimal(), planned.optimal()) {
            prop_assert_eq!(unmoved(&other, found), unmoved(&machine, wanted), "turns exchanged\n{}", text());
            let image: Population = through(&wanted.population, &symmetry);
            prop_assert_eq!(by_slot(&found.population), by_slot(&image), "turns exchanged\n{}", text());
        }

        // turns stay where they are: what comes before fill order is the same, where they say the same of rounds
        if !symmetry.keeps_rounds(&machine) {
            return Ok(());
        }
        let found = plan(&machine, &asked);
        prop_assert_eq!(found.optimal().is_some(), is_some, "turns stay\n{}", text());
        if let (Some(found), Some(wanted)) = (found.optimal(), planned.optimal()) {
            let (found, wanted) = (before_fill_order(&machine, found), before_fill_order(&machine, wanted));
            prop_assert_eq!(found, wanted, "turns stay\n{}", text());
        }
    }
}
