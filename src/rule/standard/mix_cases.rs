//! What holds of every rule on unlike modules whose bounds are stated limits.

use crate::finding::{Severity, Verdict};
use crate::machine::Machine;
use crate::module::MemoryModule;
use crate::platform::PlatformDescription;
use crate::processor::{MixLimit, MixProperty, ProcessorDescription};
use crate::rule::RuleBook;
use crate::stated::{Basis, Scope, Stated};
use crate::testing::{self, board, by_socket, clean, codes, findings, in_every_channel, plain, processor, verdicts};

const NOTHING: [&str; 0] = [];

fn limits(property: MixProperty, within: Scope, at_most: u8, basis: Basis) -> Vec<Stated<MixLimit>> {
    vec![Stated::new(MixLimit { property, within, at_most }, basis)]
}

fn board_limited(property: MixProperty, within: Scope, at_most: u8, basis: Basis) -> Machine {
    // densities are told apart by the rules on trial alone
    let processor = ProcessorDescription { die_densities_mbit: None, ..processor() };
    let mix_limits = limits(property, within, at_most, basis);
    testing::machine(PlatformDescription { mix_limits, ..board() }, processor)
}

fn only(severity: Severity, verdict: Verdict, code: &str) -> Vec<(Severity, Verdict, String)> {
    vec![(severity.min(RuleBook::standard().get(code).unwrap().severity()), verdict, code.to_owned())]
}

/// The plain module with another one, stated by board or processor, in a scope, on a basis.
pub(super) fn hold(code: &str, property: MixProperty, other: &MemoryModule) {
    hold_between(code, property, &plain(), other);
}

pub(super) fn hold_between(code: &str, property: MixProperty, first: &MemoryModule, other: &MemoryModule) {
    let machine = |within, at_most, basis| board_limited(property, within, at_most, basis);
    let strict = machine(Scope::Channel, 1, Basis::BoardManual);
    assert_eq!(codes(&strict, &in_every_channel(&strict, &[first])), NOTHING);
    assert_eq!(codes(&strict, &in_every_channel(&strict, &[other])), NOTHING);
    let mixed = in_every_channel(&strict, &[first, other]);
    assert_eq!(verdicts(&strict, &mixed), only(Severity::Error, Verdict::Violated, code));
    // one finding for each channel, at the slot of the odd one
    let found = findings(&strict, &mixed);
    assert_eq!((found.len(), found[0].places.len()), (8, 1));

    let listed = machine(Scope::Channel, 1, Basis::MakersList);
    assert_eq!(verdicts(&listed, &mixed), only(Severity::Warning, Verdict::Violated, code));
    let mix_limits = limits(property, Scope::Channel, 1, Basis::DataSheet);
    let by_processor = ProcessorDescription { mix_limits, die_densities_mbit: None, ..processor() };
    let by_processor = testing::machine(board(), by_processor);
    assert_eq!(verdicts(&by_processor, &mixed), only(Severity::Error, Verdict::Violated, code));
    assert_eq!(codes(&machine(Scope::Machine, 2, Basis::BoardManual), &mixed), NOTHING);

    let apart = by_socket(&strict, &[first], &[other]);
    let breaks = |within| codes(&machine(within, 1, Basis::BoardManual), &apart).iter().any(|found| found == code);
    assert_eq!([Scope::Channel, Scope::Socket, Scope::Machine].map(breaks), [false, false, true]);
}

/// Nothing is said where no limit is stated.
pub(super) fn hold_no_default(other: &MemoryModule) {
    assert_eq!(codes(&clean(), &in_every_channel(&clean(), &[&plain(), other])), NOTHING);
}

/// One value for the machine where no limit is stated.
pub(super) fn hold_default(code: &str, severity: Severity, other: &MemoryModule) {
    let mixed = in_every_channel(&clean(), &[&plain(), other]);
    assert_eq!(verdicts(&clean(), &mixed), [(severity, Verdict::Violated, code.to_owned())]);
}

/// A module that lacks the fact leaves the rule open, unless it is alone or the limit makes no error.
pub(super) fn hold_unknown(code: &str, property: MixProperty, bare: &MemoryModule) {
    let machine = |at_most, basis| board_limited(property, Scope::Channel, at_most, basis);
    let strict = machine(1, Basis::BoardManual);
    let beside = in_every_channel(&strict, &[&plain(), bare]);
    assert_eq!(verdicts(&strict, &beside), only(Severity::Warning, Verdict::Unknown, code));
    assert_eq!(codes(&strict, &in_every_channel(&strict, &[bare])), NOTHING);
    assert_eq!(codes(&machine(2, Basis::BoardManual), &beside), NOTHING);
    assert_eq!(codes(&machine(1, Basis::MakersList), &beside), NOTHING);
}
