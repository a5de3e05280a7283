//! Single cases that brute force has found, as small as they get.
#![allow(clippy::unwrap_used)]

use serde_json::Value;
use slotwright::machine::Machine;

use crate::arrange_oracle::{self, Task};
use crate::purchase_oracle;

fn read(text: &str) -> (Machine, Value) {
    let case: Value = serde_json::from_str(text).unwrap();
    (serde_json::from_value(case["machine"].clone()).unwrap(), case)
}

// One unit at no price and a pack of two, of which one is left over: 2 x 4 - 1.
#[test]
fn the_surplus_of_a_pack_lowers_the_cost() {
    let (machine, case) = read(include_str!("cases/surplus_of_a_pack.json"));
    purchase_oracle::compare(&machine, &serde_json::from_value(case["request"].clone()).unwrap()).unwrap();
}

// One module a channel has a row at the running voltage, two have none.
#[test]
fn channels_of_unlike_turns_are_filled_for_the_rate() {
    let (machine, case) = read(include_str!("cases/rate_by_voltage.json"));
    let pieces = serde_json::from_value(case["pieces"].clone()).unwrap();
    arrange_oracle::compare(&machine, &Task { pieces, ..Task::default() }).unwrap();
}
