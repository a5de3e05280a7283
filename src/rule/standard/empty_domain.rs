use crate::figure::filled_socket;
use crate::finding::{FactName, FactValue, Remedy};
use crate::machine::Machine;
use crate::population::SocketLoad;
use crate::rule::{Detail, Form, Hint, Report};

/// A domain of the scheme that the machine is set to, or of the first that holds at the processor's number of modules, has no
/// memory, although its processor has some. Firmware may fall back to another scheme then.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

/// Where the scheme set divides no processor's memory.
pub(super) fn idle(machine: &Machine) -> bool {
    machine.processors().all(|(id, _)| machine.wiring(id).is_none_or(|wiring| wiring.divisions.is_empty()))
}

pub(super) fn hints(_: &Machine) -> Vec<Hint> {
    vec![Hint::memory_in_each_domain()]
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    let Some(filled) = filled_socket(load).filter(|filled| !filled.is_empty()) else { return };
    let Some(scheme) = filled.scheme_asked() else { return };
    for domain in filled.empty_domains() {
        report.violation(|| {
            Detail::at_all(filled.places(load.machine(), domain))
                .fact(FactName::AskedBy, FactValue::text(scheme.as_str()))
                .remedy(Remedy::AddModules)
        });
    }
}

#[cfg(test)]
mod tests {
    use crate::machine::Machine;
    use crate::platform::{ChannelGroup, DomainScheme, Domains, Settings};
    use crate::stated::Basis;
    use crate::testing::{board, clean_population, codes, findings, name, plain, population, processor};

    fn halves(counts: Option<Vec<u16>>) -> Machine {
        let mut board = board();
        let group = |socket: &str, channels: [&str; 2]| ChannelGroup {
            socket: name(socket),
            channels: channels.map(name).to_vec(),
        };
        let groups = ["1", "2"].into_iter().flat_map(|socket| [group(socket, ["A", "B"]), group(socket, ["C", "D"])]);
        board.domain_schemes = vec![DomainScheme {
            name: name("halves"),
            domains: Domains::Groups { groups: groups.collect(), needs_memory_in_each: true },
            counts,
            falls_back_to: None,
            basis: Basis::BoardManual,
            source: None,
        }];
        let processor = processor().build().unwrap();
        let machine =
            Machine::builder(board.build().unwrap()).processor("1", processor.clone()).processor("2", processor);
        machine.settings(Settings { domain_scheme: Some(name("halves")), ..Settings::default() }).build().unwrap()
    }

    #[test]
    fn a_half_without_memory() {
        let machine = halves(None);
        assert_eq!(codes(&machine, &clean_population(&machine)), [""; 0]);
        let plain = plain();
        let one = population(&[("1A1", &plain), ("1B1", &plain), ("2A1", &plain), ("2C1", &plain)]);
        let found: Vec<_> =
            findings(&machine, &one).iter().map(ToString::to_string).filter(|t| t.contains("domain")).collect();
        assert_eq!(
            found,
            [
                "warning empty-domain: a domain of the scheme set has no memory (channels C of processor 1, D of processor 1; \
              asked by halves); add modules"
            ]
        );
    }

    /// Two modules in one half: no scheme holds at two where it holds at four.
    #[test]
    fn a_scheme_that_does_not_hold_asks_for_nothing() {
        let plain = plain();
        let one = population(&[("1A1", &plain), ("1B1", &plain), ("2A1", &plain), ("2B1", &plain)]);
        let asked = |counts: &[u16]| codes(&halves(Some(counts.to_vec())), &one).contains(&"empty-domain".to_owned());
        assert_eq!((asked(&[2, 4]), asked(&[4])), (true, false));
    }
}
