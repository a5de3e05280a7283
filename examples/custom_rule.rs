//! A caller's own rules change a plan: the same request under the rules of the trade, then with two more.

// an example talks to the terminal
#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::error::Error;

use slotwright::finding::{FactName, FactValue};
use slotwright::rule::{Detail, MixBound, Rule};
use slotwright::stated::Scope;
use slotwright::{Capacity, Label, Machine, Offer, Place, PlanRequest, Planner, Price, RuleBook, Severity, reference};

fn main() -> Result<(), Box<dyn Error>> {
    let machine = Machine::builder(reference::ddr4_2s_4ch_3spc())
        .processor_named("1", "later")
        .processor_named("2", "later")
        .build()?;
    let request = PlanRequest::new().usable_at_least(Capacity::from_gib(256)).offers(offers()?);

    let trade = RuleBook::standard();
    println!("Under the rules of the trade:\n{}\n", Planner::new(&machine, &trade).plan(&request)?);

    // In declared form, so that the search uses the rules as it uses its own.
    let no_small_modules = Rule::module(
        "own-no-small-modules",
        "modules below 32 GB are thrown away by the next upgrade",
        Severity::Error,
        |site, report| {
            let least = Capacity::from_gib(32);
            if site.module.capacity() < least {
                report.violation(|| {
                    Detail::at(Place::slot(site.machine.platform(), site.slot))
                        .fact(FactName::Found, FactValue::CapacityMib(site.module.capacity()))
                        .fact(FactName::AtLeast, FactValue::CapacityMib(least))
                });
            }
        },
    )?
    .uniform()
    .blind_to_identity();
    let one_grade = Rule::mix(
        "own-one-grade",
        "one grade to a machine keeps our spares simple",
        Severity::Error,
        MixBound::new(Scope::Machine, 1),
        |site| Ok(site.module.grade().map(FactValue::RateMts)),
    )?
    .blind_to_identity();
    let own = RuleBook::standard().with(no_small_modules)?.with(one_grade)?;
    println!("With two rules of our own:\n{}", Planner::new(&machine, &own).plan(&request)?);
    Ok(())
}

fn offers() -> Result<Vec<Offer>, Box<dyn Error>> {
    let currency = "EUR".parse()?;
    let offer = |id: &str, label: &str, cents: u64, stock: u32| -> Result<Offer, Box<dyn Error>> {
        Ok(Offer::new(id.parse()?, label.parse::<Label>()?.to_module(), Price::new(cents, currency), stock))
    };
    Ok(vec![
        offer("crate-1", "16GB 2Rx4 PC4-2133P-RA0-10", 1_450, 32)?,
        offer("crate-2", "32GB 2Rx4 PC4-2400T-RB2-11", 3_600, 5)?,
        offer("crate-3", "32GB 2Rx4 PC4-2666V-RB2-12", 3_900, 20)?,
    ])
}
