use crate::finding::FactValue;
use crate::module::Stack;
use crate::population::ModuleSite;
use crate::processor::MissingFact;
use crate::rule::standard::site;
use crate::rule::{Form, Report};

/// A processor may take stacks of some heights only; height 1 is a module that is not stacked.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let Some(processor) = site::judged_by(site) else { return };
    let found = (site.module.stack().map(Stack::height), MissingFact::Stack);
    site::hold(site, processor.description().stack_heights.as_ref(), found, FactValue::StackHeight, report);
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use crate::stated::{Basis, Stated};
    use crate::testing::{self, in_every_channel, said};

    fn machine(basis: Basis) -> crate::machine::Machine {
        let mut processor = testing::processor();
        processor.stack_heights = Some(Stated::new(BTreeSet::from([1]), basis));
        processor.rank_limits.clear();
        testing::machine(testing::board(), processor)
    }

    #[test]
    fn no_stacks() {
        let machine = machine(Basis::DataSheet);
        assert!(said(&machine, &in_every_channel(&machine, &[&testing::plain()])).is_empty());
        assert_eq!(
            testing::codes(&machine, &in_every_channel(&machine, &[&testing::module("64GB 2S2Rx4 PC4-2400T-RB2-11")])),
            ["stack-accepted"]
        );
        assert_eq!(
            said(&machine, &in_every_channel(&machine, &[&testing::module("64GB 2S2Rx4 PC4-2400T-RB2-11")])),
            ["error stack-accepted"]
        );
        let bare = testing::lacking(&testing::plain(), &["stack", "package_ranks", "width"]);
        assert_eq!(said(&machine, &in_every_channel(&machine, &[&bare])), ["warning stack-accepted unknown"]);
    }

    #[test]
    fn a_list_of_what_was_tried_warns() {
        let machine = machine(Basis::MakersList);
        assert_eq!(
            said(&machine, &in_every_channel(&machine, &[&testing::module("64GB 2S2Rx4 PC4-2400T-RB2-11")])),
            ["warning stack-accepted"]
        );
    }
}
