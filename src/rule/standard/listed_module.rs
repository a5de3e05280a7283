use crate::finding::Remedy;
use crate::population::ModuleSite;
use crate::rule::standard::site;
use crate::rule::{Form, Report};

/// A maker may list the modules that it has tried; a list goes by facts, by part numbers or by both.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let listed = site.machine.platform().description().listed_modules.as_ref();
    let Some(list) = listed.filter(|_| site::judged_by(site).is_some()) else { return };
    let mut missing = None;
    for line in &list.value {
        match line.matches(site.module) {
            Ok(true) => return,
            Ok(false) => {}
            Err(fact) => missing = Some(fact),
        }
    }
    match missing {
        Some(fact) => report.unknown(fact, || vec![site::place(site)]),
        None => report.stated(list, || site::about(site).remedy(Remedy::ReplaceModule)),
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Severity;
    use crate::machine::Machine;
    use crate::population::{Layout, Population};
    use crate::processor::ModulePattern;
    use crate::rule::RuleBook;
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, in_every_channel, name, said};
    use crate::unit::Capacity;

    /// Lists every module of 16 GB, and one of 32 GB by its part number.
    fn machine() -> Machine {
        let of = |gib: u32| ModulePattern::default().capacity(Capacity::from_gib(gib));
        let mut board = testing::board();
        let list = vec![of(16), of(32).part_number(name("PN-32"))];
        board.listed_modules = Some(Stated::new(list, Basis::MakersList));
        testing::machine(board, testing::processor())
    }

    fn strict(machine: &Machine, population: &Population) -> Vec<String> {
        let rules = RuleBook::standard().with_severity("listed-module", Severity::Error).unwrap();
        let findings = rules.check(&Layout::new(machine, population).unwrap());
        findings.iter().map(|finding| format!("{} {} {:?}", finding.severity, finding.code, finding.verdict)).collect()
    }

    #[test]
    fn modules_on_and_off_the_list() {
        let machine = machine();
        let numbered = |number: &str| testing::plain().to_builder().part_number(name(number)).build().unwrap();
        for listed in [testing::module("16GB 2Rx8 PC4-2400T-RE2-11"), numbered("PN-32")] {
            assert!(said(&machine, &in_every_channel(&machine, &[&listed])).is_empty());
        }
        for unlisted in [testing::module("8GB 1Rx8 PC4-2400T-RD2-11"), numbered("PN-33")] {
            let population = in_every_channel(&machine, &[&unlisted]);
            assert_eq!(testing::codes(&machine, &population), ["listed-module"]);
            assert_eq!(said(&machine, &population), ["warning listed-module"]);
        }
    }

    // a rule that is no error by itself says nothing of what it cannot judge; made an error, it does
    #[test]
    fn an_unknown_part_number() {
        let machine = machine();
        let population = testing::clean_population(&machine);
        assert!(said(&machine, &population).is_empty());
        assert_eq!(strict(&machine, &population), vec!["warning listed-module Unknown"; 8]);
        let large = testing::module("64GB 4Rx4 PC4-2400T-RB2-11");
        let population = in_every_channel(&machine, &[&large]);
        assert_eq!(strict(&machine, &population), vec!["error listed-module Violated"; 8]);
    }
}
