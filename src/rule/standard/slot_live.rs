use crate::finding::{FactName, FactValue, Remedy};
use crate::machine::SlotState;
use crate::population::ModuleSite;
use crate::rule::standard::site;
use crate::rule::{Form, Report};

/// A slot is unusable without its processor, where the machine's settings close it, or where an option that is fitted or the
/// mode takes it away. On whatever basis that is said, nothing is planned with such a slot; so it weighs the same.
pub(super) fn form() -> Form {
    Form::Module(Box::new(check))
}

fn check(site: &ModuleSite<'_>, report: &mut Report<'_>) {
    let platform = site.machine.platform();
    match site.machine.slot_state(site.slot) {
        SlotState::Live => {}
        SlotState::NoProcessor => report.violation(|| {
            let socket = &platform.socket(site.slot().socket).label;
            site::about(site)
                .fact(FactName::Found, FactValue::text(&format!("no processor in socket {socket}")))
                .remedy(Remedy::FitProcessor)
        }),
        SlotState::Closed { reason } => report.violation(|| {
            site::about(site)
                .fact(FactName::Found, FactValue::text(&format!("a closed slot: {reason}")))
                .remedy(Remedy::MoveModule)
        }),
        SlotState::Masked { option } => {
            let detail = || {
                site::about(site)
                    .fact(FactName::Found, FactValue::text("a slot that an option takes away"))
                    .fact(FactName::AskedBy, FactValue::Text(option.clone()))
                    .remedy(Remedy::MoveModule)
            };
            match platform.description().options.iter().find(|described| described.name == *option) {
                Some(described) => {
                    report.settled((described.basis, described.source.as_ref()), detail);
                }
                None => report.violation(detail),
            }
        }
        SlotState::NotInMode { mode } => {
            let detail = || {
                site::about(site)
                    .fact(FactName::Found, FactValue::text("a slot that the mode takes away"))
                    .fact(FactName::AskedBy, FactValue::Text(mode.clone()))
                    .remedy(Remedy::MoveModule)
            };
            match site.machine.mode_description() {
                Some(described) => {
                    report.settled((described.basis, described.source.as_ref()), detail);
                }
                None => report.violation(detail),
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::machine::Machine;
    use crate::platform::PlatformOption;
    use crate::stated::Basis;
    use crate::testing::{self, name, said};

    #[test]
    fn slots_of_an_absent_processor() {
        let processor = testing::processor().build().unwrap();
        let machine = Machine::builder(testing::board().build().unwrap()).processor("1", processor).build().unwrap();
        let population = testing::clean_population(&machine);
        assert!(said(&machine, &population).is_empty());
        // of a kind that no processor would take: only the slot is reported
        let odd = testing::module("16GB 2Rx8 PC4-2400T-EE2-11");
        let population = population.with(name("2A2"), odd);
        assert_eq!(testing::codes(&machine, &population), ["slot-live"]);
        assert_eq!(
            testing::findings(&machine, &population)[0].to_string(),
            "error slot-live: the slot cannot be used (slot 2A2; module 16GB 2Rx8 DDR4-2400 unbuffered; found no \
             processor in socket 2); fit the processor, or use slots of one that is present"
        );
    }

    fn masked(basis: Basis) -> Machine {
        let mut board = testing::board();
        // another option, which rests on something else
        board.options.push(PlatformOption { basis: Basis::Assumed, ..testing::mask(&testing::board(), "riser", 2) });
        board.options.push(PlatformOption { basis, ..testing::mask(&testing::board(), "heat sink", 1) });
        let processor = testing::processor().build().unwrap();
        let machine =
            Machine::builder(board.build().unwrap()).processor("1", processor.clone()).processor("2", processor);
        machine.option("heat sink").build().unwrap()
    }

    #[test]
    fn slots_that_an_option_takes_away() {
        let machine = masked(Basis::BoardManual);
        let population = testing::clean_population(&machine);
        assert!(said(&machine, &population).is_empty());
        let second = |machine: &Machine| {
            let slots = machine.platform().slots().iter().filter(|slot| slot.position() == Some(1));
            slots.fold(testing::clean_population(machine), |all, slot| all.with(slot.label().clone(), testing::plain()))
        };
        assert_eq!(testing::codes(&machine, &second(&machine)), ["slot-live"]);
        let finding = testing::findings(&machine, &second(&machine)).remove(0).to_string();
        assert!(finding.starts_with("error") && finding.contains("asked by heat sink"), "{finding}");
        assert!(finding.ends_with("[board manual]"), "{finding}");
        let machine = masked(Basis::MakersList);
        // nothing is planned there, on whatever basis
        assert_eq!(said(&machine, &second(&machine)), ["error slot-live"]);
    }
}
