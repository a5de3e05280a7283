use crate::figure::filled_socket;
use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::SocketLoad;
use crate::rule::{Detail, Form, Report};

/// A channel without memory beside channels with memory gives its bandwidth away. A processor without any memory
/// is spoken of by another rule.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    let Some(filled) = filled_socket(load) else { return };
    let empty = filled.caps.iter().filter(|&&cap| cap == 0).count();
    if empty == 0 || empty == filled.caps.len() {
        return;
    }
    report.violation(|| {
        let channels = filled.caps.iter().enumerate().filter(|&(_, &cap)| cap == 0);
        let places: Vec<Place> = channels.filter_map(|(channel, _)| filled.place(load.machine(), channel)).collect();
        Detail::at_all(places)
            .fact(FactName::Found, FactValue::count(filled.caps.len() - empty))
            .fact(FactName::Expected, FactValue::count(filled.caps.len()))
            .fact(FactName::Counting, FactValue::text("channels with memory"))
            .remedy(Remedy::AddModules)
    });
}

#[cfg(test)]
mod tests {
    use crate::population::Population;
    use crate::testing::{all_findings, clean, clean_population, plain, population};

    #[test]
    fn channels_without_memory() {
        let machine = clean();
        let found = |population: &Population| -> Vec<String> {
            let findings = all_findings(&machine, population);
            findings.iter().filter(|f| f.code == "empty-channel").map(ToString::to_string).collect()
        };
        assert_eq!(found(&clean_population(&machine)), [""; 0]);
        let plain = plain();
        let three = population(&[("1A1", &plain), ("1B1", &plain), ("1C1", &plain)]);
        assert_eq!(
            found(&three),
            [
                "note empty-channel: a channel has no memory and gives its bandwidth away (channel D of processor 1; found 3; \
              expected 4; counted in channels with memory); add modules"
            ]
        );
    }
}
