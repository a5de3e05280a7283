use crate::figure::{RateObstacle, RowMemo, channel_limits};
use crate::finding::{FactName, FactValue, Place};
use crate::machine::Machine;
use crate::population::{ChannelLoad, Layout, ModuleSite};
use crate::processor::RateCell;
use crate::rule::standard::rate_tables;
use crate::rule::{Detail, Form, Hint, Report};
use crate::unit::{DataRate, Voltage};

/// Every rate at which the machine can run is above a limit.
pub(super) fn form() -> Form {
    Form::Population(Box::new(check))
}

fn check(layout: &Layout<'_>, report: &mut Report<'_>) {
    let machine = layout.machine();
    for domain in &report.running_rate(layout).domains {
        let Some(limit) = domain.limits.first().filter(|_| domain.obstacles.contains(&RateObstacle::NoStep)) else {
            continue;
        };
        report.violation(|| {
            let lowest = machine.rate_steps().first().copied().map(FactValue::RateMts);
            let detail = Detail::at_all(limit.places.iter().cloned())
                .fact(FactName::AtMost, FactValue::RateMts(limit.rate_mts))
                .fact(FactName::AskedBy, FactValue::text(&limit.cause.to_string()));
            lowest.into_iter().fold(detail, |detail, lowest| detail.fact(FactName::AtLeast, lowest))
        });
    }
}

/// A load with a limit below every rate has one wherever it is driven at that voltage.
pub(super) fn hints(machine: &Machine) -> Vec<Hint> {
    let lowest = machine.rate_steps().first().copied();
    let is_low = move |rate: DataRate| lowest.is_none_or(|lowest| rate < lowest);
    let has_low_cap = lowest.is_none() || machine.rate_caps().iter().any(|cap| is_low(cap.rate()));
    let has_low_row = rate_tables::cells(machine).any(|cell| matches!(cell, RateCell::RateMts(rate) if is_low(rate)));
    vec![Hint::barred_loads(move |load, voltage, report| {
        let own = || load.processor().is_some_and(|processor| is_low(processor.description().max_rate_mts.value));
        let graded = || live(load).any(|site| site.module.grade().is_some_and(is_low));
        if has_low_cap || own() || graded() || has_low_row && meets_low_row(load, voltage, is_low) {
            report.violation(|| Detail::at(Place::channel(load.machine().platform(), load.id())));
        }
    })]
}

fn live<'l>(load: &'l ChannelLoad<'_>) -> impl Iterator<Item = ModuleSite<'l>> {
    load.modules().filter(|site| site.machine.is_live(site.slot))
}

fn meets_low_row(load: &ChannelLoad<'_>, voltage: Option<Voltage>, is_low: impl Fn(DataRate) -> bool) -> bool {
    let mut meets = false;
    channel_limits(*load, voltage, &mut RowMemo::default(), &mut |raw| meets |= raw.rate().is_some_and(&is_low));
    meets
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use crate::finding::Place;
    use crate::module::MemoryModule;
    use crate::processor::ProcessorDescription;
    use crate::testing::{board, codes, findings, in_every_channel, machine, module, name, plain, processor};
    use crate::unit::DataRate;

    #[test]
    fn modules_too_slow_for_the_slowest_step() {
        let rates_mts = Some(BTreeSet::from([DataRate::DDR4_2400]));
        let machine = machine(board(), ProcessorDescription { rates_mts, ..processor() });
        let all = |module: &MemoryModule| in_every_channel(&machine, &[module]);
        let slow = module("32GB 2Rx4 PC4-2133P-RB1-10");
        assert_eq!(codes(&machine, &all(&plain())), [""; 0]);
        assert_eq!(codes(&machine, &all(&slow)), ["no-rate-step"]);
        let found = findings(&machine, &all(&slow));
        assert!(found[0].places.contains(&Place::Slot { slot: name("2D1") }));
        let text = found[0].to_string();
        assert!(text.ends_with("at most 2133 MT/s; asked by the modules' grade; at least 2400 MT/s)"), "{text}");
    }
}
