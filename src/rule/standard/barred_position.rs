use crate::finding::{FactName, FactValue, Remedy};
use crate::population::ModuleSite;
use crate::rule::standard::site;
use crate::rule::{Form, Report};

/// Some sorts of module never sit in some positions of a channel: quad-rank ones in the third, say.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    if site::judged_by(site).is_none() {
        return;
    }
    // where positions are not known, a note says so
    let Some(position) = site.slot().position() else { return };
    let limits = site.machine.platform().description().module_limits.iter();
    for limit in limits.filter(|limit| limit.value.barred_positions.contains(&position)) {
        match limit.value.module.matches(site.module) {
            Err(fact) => report.unknown(fact, || vec![site::place(site)]),
            Ok(true) => report.stated(limit, || {
                site::about(site)
                    .fact(FactName::Found, FactValue::text(&format!("position {position}")))
                    .fact(FactName::With, FactValue::text(&limit.value.module.to_string()))
                    .remedy(Remedy::MoveModule)
            }),
            Ok(false) => {}
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::module::ModuleKind;
    use crate::platform::ModuleLimit;
    use crate::processor::ModulePattern;
    use crate::stated::{Basis, Stated};
    use crate::testing::{self, in_every_channel, said};

    fn machine(basis: Basis) -> crate::machine::Machine {
        let (mut board, mut processor) = (testing::board(), testing::processor());
        let module = ModulePattern::kind(ModuleKind::Registered).ranks(4);
        board.module_limits = vec![Stated::new(
            ModuleLimit { module, at_most_per_channel: None, barred_positions: vec![2], first_in_channel: false },
            basis,
        )];
        processor.rank_limits.clear();
        testing::machine(board, processor)
    }

    #[test]
    fn no_quad_rank_module_in_the_third_slot() {
        let (machine, quad) = (machine(Basis::BoardManual), testing::quad());
        assert!(said(&machine, &in_every_channel(&machine, &[&quad, &quad])).is_empty());
        let third = in_every_channel(&machine, &[&quad, &quad, &quad]);
        assert_eq!(testing::codes(&machine, &third), ["barred-position"]);
        assert_eq!(
            testing::findings(&machine, &third)[0].to_string(),
            "error barred-position: a module of this sort does not go into this position (slot 1A3; module 32GB 4Rx4 \
             DDR4-2400 registered; found position 2; with registered 4-rank modules); move the module [board manual]"
        );
    }

    #[test]
    fn unknown_ranks_and_a_makers_list() {
        let (vague, quad) = (testing::vague(), testing::quad());
        let strict = machine(Basis::BoardManual);
        assert!(said(&strict, &in_every_channel(&strict, &[&vague, &vague])).is_empty());
        let unknown = in_every_channel(&strict, &[&vague, &vague, &vague]);
        assert_eq!(said(&strict, &unknown), ["warning barred-position unknown"]);
        let lenient = machine(Basis::MakersList);
        let third = in_every_channel(&lenient, &[&quad, &quad, &quad]);
        assert_eq!(said(&lenient, &third), ["warning barred-position"]);
    }
}
