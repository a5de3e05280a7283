//! Between which prices of an offer a plan stays the best.

use proptest::prelude::*;
use slotwright::assess::Planner;
use slotwright::machine::Machine;
use slotwright::population::Population;
use slotwright::purchase::{Beyond, BreakEven, BreakEvenOutcome, ModuleSource, Offer, Outcome, Plan, PlanRequest};
use slotwright::rule::RuleBook;
use slotwright::unit::{Name, Price};

use super::market::amount;
use super::worlds;
use crate::boards::{self, Source, bytes};
use crate::purchase_oracle::case;

/// What a plan does, whatever it costs.
#[derive(Debug, PartialEq)]
struct Deeds {
    population: Population,
    sources: Vec<(Name, ModuleSource)>,
    pulled: Vec<Name>,
    lines: Vec<(ModuleSource, usize, usize)>,
}

fn deeds(plan: &Plan) -> Deeds {
    Deeds {
        population: plan.population.clone(),
        sources: plan.slots.iter().map(|slot| (slot.slot.clone(), slot.source.clone())).collect(),
        pulled: plan.pulled.iter().map(|pulled| pulled.slot.clone()).collect(),
        lines: plan.lines.iter().map(|line| (line.source.clone(), line.quantity, line.returned)).collect(),
    }
}

fn prices(offer: &Offer) -> impl Iterator<Item = i64> + '_ {
    [offer.unit_price]
        .into_iter()
        .chain(offer.breaks.iter().map(|step| step.unit_price))
        .map(|price| amount(Some(price)))
}

/// The lowest price of a single unit at which no unit is sold for less than it is worth.
fn lowest(offer: &Offer) -> i64 {
    amount(Some(offer.unit_price)) - prices(offer).min().unwrap() + amount(offer.surplus_value)
}

/// The request at another price of an offer; those of larger orders move along.
fn at(request: &PlanRequest, offer: &Name, price: i64) -> PlanRequest {
    let mut request = request.clone();
    let offer = request.offers.iter_mut().find(|other| other.id == *offer).unwrap();
    let by = price - amount(Some(offer.unit_price));
    let moved = |price: Price| Price::new(u64::try_from(amount(Some(price)) + by).unwrap(), price.currency());
    offer.unit_price = moved(offer.unit_price);
    for step in &mut offer.breaks {
        step.unit_price = moved(step.unit_price);
    }
    request
}

/// A plan without what is said beside it.
fn itself(plan: &Plan) -> Plan {
    let mut plan = plan.clone();
    (plan.notes, plan.without_warnings, plan.accepting) = (Vec::new(), None, Vec::new());
    plan
}

fn plan(planner: &Planner<'_>, request: &PlanRequest) -> Option<Plan> {
    match planner.plan(request).unwrap() {
        Outcome::Optimal(plan) => Some(itself(&plan)),
        Outcome::Infeasible(_) => None,
        stopped => panic!("{stopped:?}"),
    }
}

/// What is said to be best beyond, against planning again there.
fn compare_beyond(beyond: &Beyond, again: Option<Plan>) -> Result<(), TestCaseError> {
    match beyond {
        Beyond::Plan(plan) => {
            prop_assert_eq!(Some(itself(plan)), again);
        }
        Beyond::Nothing => prop_assert!(again.is_none()),
        other => return Err(TestCaseError::fail(format!("{other:?}"))),
    }
    Ok(())
}

fn compare_found(planner: &Planner<'_>, request: &PlanRequest, found: &BreakEven) -> Result<(), TestCaseError> {
    let id = &found.offer;
    let offer = request.offers.iter().find(|offer| offer.id == *id).unwrap();
    let now = plan(planner, request).unwrap();
    prop_assert_eq!(deeds(&found.plan), deeds(&now));
    prop_assert_eq!(found.price, offer.unit_price);
    let kept = now.lines.iter().filter(|line| matches!(&line.source, ModuleSource::Offer { id: other } if other == id));
    prop_assert_eq!(found.quantity, kept.map(|line| line.quantity - line.returned).sum::<usize>());
    let (from, to, lowest) = (amount(Some(found.from)), amount(Some(found.to)), lowest(offer));
    for price in lowest..lowest + 40 {
        let same = plan(planner, &at(request, id, price)).is_some_and(|plan| deeds(&plan) == deeds(&now));
        prop_assert_eq!(same, (from..=to).contains(&price), "{} at {}: {} to {}", id, price, from, to);
    }
    for end in [from, to] {
        prop_assert_eq!(plan(planner, &at(request, id, end)).map(|plan| deeds(&plan)), Some(deeds(&now)), "at {}", end);
    }
    if from == lowest {
        prop_assert_eq!(&found.below, &Beyond::NoLimit);
    } else {
        compare_beyond(&found.below, plan(planner, &at(request, id, from - 1)))?;
    }
    if found.above != Beyond::NoLimit {
        compare_beyond(&found.above, plan(planner, &at(request, id, to + 1)))?;
    } else {
        let raised = planner.plan(&at(request, id, to + 1));
        prop_assert!(raised.is_err(), "{} could be dearer than {}", id, to);
    }
    Ok(())
}

/// Holds the break-even prices of every offer against planning at every price.
pub fn compare(machine: &Machine, request: &PlanRequest) -> Result<(), TestCaseError> {
    let rules = RuleBook::standard();
    let planner = Planner::new(machine, &rules);
    for offer in &request.offers {
        let held = match planner.break_even(request, offer.id.as_str()).unwrap() {
            BreakEvenOutcome::Known(found) => compare_found(&planner, request, &found)
                .map_err(|error| TestCaseError::fail(format!("{error}\n{} {} {}", found.offer, found.from, found.to))),
            BreakEvenOutcome::Stopped { reason, .. } => Err(TestCaseError::fail(format!("the search {reason}"))),
            BreakEvenOutcome::Infeasible { .. } => match plan(&planner, request) {
                Some(plan) => Err(TestCaseError::fail(format!("{plan:?}"))),
                None => Ok(()),
            },
        };
        held.map_err(|error| TestCaseError::fail(format!("{error}\n{}", case(machine, request))))?;
    }
    Ok(())
}

proptest! {
    #![proptest_config(boards::config(40))]

    #[test]
    fn break_even_prices_are_what_planning_at_every_price_finds(bytes in bytes(200)) {
        let (machine, request) = worlds::world(&mut Source::new(&bytes), 4, 2);
        compare(&machine, &request)?;
    }
}
