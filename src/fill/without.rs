//! Rules without which something is legal.

use crate::finding::{Finding, Severity};
use crate::rule::{Rule, RuleBook};
use crate::search::StopReason;
use crate::unit::Name;

/// The codes of the findings of a severity or above, each once, in their order.
pub(crate) fn said(findings: &[Finding], from: Severity) -> Vec<Name> {
    let mut codes: Vec<Name> = Vec::new();
    for finding in findings.iter().filter(|finding| finding.severity >= from) {
        if !codes.contains(&finding.code) {
            codes.push(finding.code.clone());
        }
    }
    codes
}

/// The codes of the errors, and after them those of all other rules that are errors.
pub(crate) fn said_first(rules: &RuleBook, findings: &[Finding]) -> Vec<Name> {
    let mut codes = said(findings, Severity::Error);
    let errors = rules.rules().filter(|rule| rule.severity() == Severity::Error).map(Rule::code);
    let others: Vec<Name> = errors.filter(|code| !codes.contains(code)).cloned().collect();
    codes.extend(others);
    codes
}

/// Those of some rules without which something is legal, while no proper part of them suffices: the first ones are given up
/// rather than the last. `None` where giving up all of them is not enough.
pub(crate) fn fewest_without(
    rules: &RuleBook,
    codes: Vec<Name>,
    mut is_legal: impl FnMut(&RuleBook) -> Result<bool, StopReason>,
) -> Result<Option<Vec<Name>>, StopReason> {
    let mut without = codes.clone();
    if !is_legal(&rules.without_all(&without))? {
        return Ok(None);
    }
    for code in codes.iter().rev() {
        let fewer: Vec<Name> = without.iter().filter(|other| *other != code).cloned().collect();
        if is_legal(&rules.without_all(&fewer))? {
            without = fewer;
        }
    }
    Ok(Some(without))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_proper_part_of_the_fewest_is_enough() {
        let own = |code: &str, severity| Rule::population(code, "own", severity, |_, _| ()).unwrap();
        let errors = ["own-a", "own-b", "own-c", "own-d"].map(|code| own(code, Severity::Error));
        let rules = errors.into_iter().chain([own("own-e", Severity::Warning)]);
        let rules = rules.fold(RuleBook::empty(), |book, rule| book.with(rule).unwrap());
        let codes = said_first(&rules, &[]);
        assert_eq!(codes.len(), 4);
        // b must go, and a or d
        let is_legal = |book: &RuleBook| {
            let is_off = |code: &str| book.get(code).is_none();
            Ok(is_off("own-b") && (is_off("own-a") || is_off("own-d")))
        };
        let fewest = fewest_without(&rules, codes.clone(), is_legal).unwrap().unwrap();
        assert_eq!(fewest.iter().map(Name::as_str).collect::<Vec<_>>(), ["own-a", "own-b"]);
        assert_eq!(fewest_without(&rules, codes, |_| Ok(false)), Ok(None));
    }
}
