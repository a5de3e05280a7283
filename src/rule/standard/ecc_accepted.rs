use crate::finding::FactValue;
use crate::population::ModuleSite;
use crate::processor::MissingFact;
use crate::rule::standard::site;
use crate::rule::{Form, Report};

/// Most servers take modules with check bits only; which widths is the processor's to say.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let Some(processor) = site::judged_by(site) else { return };
    let found = (site.module.ecc(), MissingFact::Ecc);
    site::hold(site, processor.description().ecc.as_ref(), found, FactValue::Ecc, report);
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use crate::module::{Ecc, MemoryModule};
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, in_every_channel, said};

    fn machine(basis: Basis) -> crate::machine::Machine {
        let mut processor = testing::processor();
        processor.ecc = Some(Stated::new(BTreeSet::from([Ecc::Ecc]), basis));
        processor.rank_limits.clear();
        testing::machine(testing::board(), processor)
    }

    fn plain_64() -> MemoryModule {
        testing::plain().to_builder().ecc(Ecc::None).build().unwrap()
    }

    #[test]
    fn modules_without_check_bits() {
        let machine = machine(Basis::DataSheet);
        assert!(said(&machine, &in_every_channel(&machine, &[&testing::plain()])).is_empty());
        assert_eq!(testing::codes(&machine, &in_every_channel(&machine, &[&plain_64()])), ["ecc-accepted"]);
        assert_eq!(said(&machine, &in_every_channel(&machine, &[&plain_64()])), ["error ecc-accepted"]);
        let bare = testing::lacking(&testing::plain(), &["ecc"]);
        assert_eq!(said(&machine, &in_every_channel(&machine, &[&bare])), ["warning ecc-accepted unknown"]);
    }

    #[test]
    fn a_list_of_what_was_tried_warns() {
        let machine = machine(Basis::MakersList);
        assert_eq!(said(&machine, &in_every_channel(&machine, &[&plain_64()])), ["warning ecc-accepted"]);
    }
}
