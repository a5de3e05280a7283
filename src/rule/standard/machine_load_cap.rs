use crate::population::Layout;
use crate::rule::standard::shared_load_cap;
use crate::rule::{Form, Report};
use crate::stated::Scope;

/// The same as a cap around a processor, for boards where one module of a sort caps every channel of the
/// whole machine. Apart from it, so that the search can judge the other one processor by processor.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let caps = layout.machine().platform().description().shared_load_caps.iter();
    for cap in caps.filter(|cap| cap.value.within == Scope::Machine) {
        shared_load_cap::hold(cap, &layout.channels(), report);
    }
}

#[cfg(test)]
mod tests {
    use crate::finding::Place;
    use crate::module::ModuleKind;
    use crate::platform::SharedLoadCap;
    use crate::processor::ModulePattern;
    use crate::stated::{Basis, Scope, Stated};
    use crate::testing::{self, in_every_channel, name, said};

    #[test]
    fn one_module_caps_the_whole_machine() {
        let (mut board, mut processor) = (testing::board(), testing::processor());
        let module = ModulePattern::kind(ModuleKind::Registered).ranks(4);
        let cap = SharedLoadCap { module, within: Scope::Machine, modules_per_channel: 2 };
        board.shared_load_caps = vec![Stated::new(cap, Basis::BoardManual)];
        processor.rank_limits.clear();
        let machine = testing::machine(board, processor);
        let (quad, plain, vague) = (testing::quad(), testing::plain(), testing::vague());
        for clean in [[&quad, &quad].as_slice(), &[&plain, &plain, &plain]] {
            assert!(said(&machine, &in_every_channel(&machine, clean)).is_empty());
        }
        let three = in_every_channel(&machine, &[&quad, &plain, &plain]);
        assert_eq!(testing::codes(&machine, &three), ["machine-load-cap"]);
        assert_eq!(said(&machine, &three), ["error machine-load-cap"]);
        let unknown = in_every_channel(&machine, &[&vague, &plain, &plain]);
        assert_eq!(said(&machine, &unknown), ["warning machine-load-cap unknown"]);

        // two a channel at processor 1 with the quad-rank module, three in one channel of processor 2
        let apart =
            in_every_channel(&machine, &[&plain, &plain]).with(name("2A3"), plain.clone()).with(name("1A1"), quad);
        let found = testing::findings(&machine, &apart);
        let found = found.iter().find(|finding| finding.code == *"machine-load-cap").unwrap();
        assert_eq!(Place::phrase(&found.places), "channel A of processor 2");
    }
}
