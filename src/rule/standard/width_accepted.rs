use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::MissingFact;
use crate::rule::standard::site;
use crate::rule::{Form, Report};

/// A processor may take modules of some device widths only.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let Some(processor) = site::judged_by(site) else { return };
    let found = (site.module.width(), MissingFact::Width);
    site::hold(site, processor.description().widths.as_ref(), found, FactValue::Width, report);
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use crate::module::DeviceWidth;
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, in_every_channel, said};

    fn machine(basis: Basis) -> crate::machine::Machine {
        let mut processor = testing::processor();
        processor.widths = Some(Stated::new(BTreeSet::from([DeviceWidth::X4]), basis));
        processor.rank_limits.clear();
        testing::machine(testing::board(), processor)
    }

    #[test]
    fn x4_only() {
        let machine = machine(Basis::DataSheet);
        assert!(said(&machine, &in_every_channel(&machine, &[&testing::plain()])).is_empty());
        assert_eq!(
            testing::codes(&machine, &in_every_channel(&machine, &[&testing::module("16GB 2Rx8 PC4-2400T-RE2-11")])),
            ["width-accepted"]
        );
        assert_eq!(
            said(&machine, &in_every_channel(&machine, &[&testing::module("16GB 2Rx8 PC4-2400T-RE2-11")])),
            ["error width-accepted"]
        );
        assert_eq!(
            said(&machine, &in_every_channel(&machine, &[&testing::vague()])),
            ["warning width-accepted unknown"]
        );
    }

    #[test]
    fn a_list_of_what_was_tried_warns() {
        let machine = machine(Basis::MakersList);
        assert_eq!(
            said(&machine, &in_every_channel(&machine, &[&testing::module("16GB 2Rx8 PC4-2400T-RE2-11")])),
            ["warning width-accepted"]
        );
    }
}
