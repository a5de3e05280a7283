use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::population::{ChannelLoad, SocketLoad};
use crate::rule::{Detail, Form, Report};

/// A channel without memory beside channels with memory gives its bandwidth away. A processor without any memory
/// is spoken of by another rule.
pub(super) fn form() -> Form {
    Form::Socket(Box::new(check))
}

fn check(load: &SocketLoad<'_>, report: &mut Report<'_>) {
    let machine = load.machine();
    let wired = || load.channels().filter(|channel| !channel.channel().slots.is_empty());
    let is_empty = |channel: &ChannelLoad<'_>| !channel.modules().any(|site| site.is_live());
    let (all, empty) = (wired().count(), wired().filter(is_empty).count());
    if empty == 0 || empty == all {
        return;
    }
    report.violation(|| {
        Detail::at_all(wired().filter(is_empty).map(|channel| Place::channel(machine.platform(), channel.id())))
            .fact(FactName::Found, FactValue::count(all - empty))
            .fact(FactName::Expected, FactValue::count(all))
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
