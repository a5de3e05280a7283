//! Every sort of difference between search and book, for whoever mends one of them.

use std::cell::RefCell;
use std::collections::BTreeMap;

use proptest::test_runner::TestRunner;
use slotwright::rule::{STANDARD_RULES, SeveritySetting};

use crate::boards::{bytes, config, name};
use crate::one_truth::case::Case;
use crate::one_truth::law::{BYTES, CASES, LAWS, Law, check};
use crate::one_truth::reduce;

/// The rules without any one of which the case does not fail.
fn causes(case: &Case, law: Law) -> Vec<&'static str> {
    let without = |code: &str| {
        let mut other = case.clone();
        other.settings.severities.insert(name(code), SeveritySetting::Off);
        check(&other, law).is_ok()
    };
    STANDARD_RULES.iter().map(|row| row.code).filter(|code| without(code)).collect()
}

/// Prints one small case of each sort of difference and cause. With `PROPTEST_CASES` it looks at more cases; without
/// optimisation it takes its time.
#[test]
#[ignore = "prints what differs, for a look at it"]
fn every_sort_of_difference() {
    for law in LAWS {
        let found: RefCell<BTreeMap<(String, Vec<&str>), (usize, Case)>> = RefCell::default();
        let look = |bytes: Vec<u8>| {
            let case = Case::draw(&bytes);
            if let Err(difference) = check(&case, law) {
                let key = (difference.sort, causes(&case, law));
                found.borrow_mut().entry(key).or_insert((0, case)).0 += 1;
            }
            Ok(())
        };
        TestRunner::new(config(CASES)).run(&bytes(BYTES), look).unwrap();
        for ((sort, causes), (count, case)) in found.into_inner() {
            let difference = check(&case, law).unwrap_err();
            println!(
                "##### {sort}, {count} times, not without {causes:?}\n{}\n",
                reduce::told(&case, law, &difference)
            );
        }
    }
}
