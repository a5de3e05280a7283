use crate::finding::{Place, Remedy};
use crate::population::Layout;
use crate::rule::{Detail, Form, Report};

/// A machine does not start without a module in a slot that works.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    if !layout.modules().any(|site| layout.machine().is_live(site.slot)) {
        report.violation(|| Detail::at(Place::Machine).remedy(Remedy::AddModules));
    }
}

#[cfg(test)]
mod tests {
    use crate::machine::Machine;
    use crate::population::Population;
    use crate::testing::{board, clean, codes, plain, population, processor};

    #[test]
    fn an_empty_machine() {
        assert_eq!(codes(&clean(), &Population::new()), ["no-memory", "socket-minimum"]);
        assert_eq!(codes(&clean(), &population(&[("1A1", &plain()), ("2A1", &plain())])), [""; 0]);
    }

    #[test]
    fn a_module_at_an_absent_processor_is_no_memory() {
        let machine = Machine::builder(board().build().unwrap()).processor("1", processor().build().unwrap());
        let machine = machine.build().unwrap();
        let found = codes(&machine, &population(&[("2A1", &plain())]));
        assert!(found.contains(&"no-memory".to_owned()), "{found:?}");
    }
}
