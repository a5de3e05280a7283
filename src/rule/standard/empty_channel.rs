use crate::finding::{FactName, FactValue, Place, Remedy};
use crate::module::MemoryModule;
use crate::platform::SlotId;
use crate::population::{ChannelLoad, Content, Layout, ModuleSite, SocketLoad, UnitLoad};
use crate::rule::{Cause, Detail, Form, LoadRules, Report, RuleBook};
use crate::stated::{Basis, Demand};
use crate::unit::Name;

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
    let units: Vec<UnitLoad<'_>> = load.units().collect();
    let without: Vec<&UnitLoad<'_>> = units.iter().filter(|unit| unit.is_empty()).collect();
    let book = report.book();
    let layout = units.first().map(UnitLoad::layout);
    report.uneven(layout, &[load.id()], Cause::Slots, (Basis::Assumed, None), Demand::Advised, || {
        let places = wired().filter(is_empty).map(|channel| Place::channel(machine.platform(), channel.id()));
        let detail = Detail::at_all(places)
            .fact(FactName::Found, FactValue::count(all - empty))
            .fact(FactName::Expected, FactValue::count(all))
            .fact(FactName::Counting, FactValue::text("channels with memory"));
        let open = could_take(load, &without, book);
        let slots: Vec<Name> =
            open.concat().iter().map(|&slot| machine.platform().slot(slot).label().clone()).collect();
        if slots.is_empty() { detail } else { detail.remedy(Remedy::AddLike { slots }) }
    });
}

/// Of units without memory those that could take one of the processor's modules: the slots of each where it would sit.
pub(super) fn could_take<'a>(load: &SocketLoad<'a>, empty: &[&UnitLoad<'a>], book: &RuleBook) -> Vec<&'a [SlotId]> {
    if empty.is_empty() {
        return Vec::new();
    }
    let rules = LoadRules::of_errors(load.machine(), book);
    let mut modules: Vec<&MemoryModule> = load.modules().filter(ModuleSite::is_live).map(|site| site.module).collect();
    modules.sort();
    modules.dedup();
    let slots_for = |unit: &&UnitLoad<'a>| {
        let rounds = (0..unit.unit().rounds.len()).map(|round| unit.slots_of(round));
        let mut rounds = rounds.filter(|slots| !slots.is_empty());
        rounds.find(|slots| modules.iter().any(|module| takes(unit.layout(), unit, slots, module, &rules)))
    };
    empty.iter().filter_map(slots_for).collect()
}

/// Whether a unit can hold a module in each of these slots without an error on its channels.
fn takes(
    layout: &Layout<'_>,
    unit: &UnitLoad<'_>,
    slots: &[SlotId],
    module: &MemoryModule,
    rules: &LoadRules<'_>,
) -> bool {
    let mut filled = layout.clone();
    slots.iter().for_each(|&slot| filled.set(slot, Content::Module(module)));
    unit.unit().channels.iter().all(|&channel| rules.allows(&ChannelLoad::new(&filled, channel)))
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
              expected 4; counted in channels with memory); put like modules into 1D1 [assumed]"
            ]
        );
    }
}
