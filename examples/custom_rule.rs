//! A caller's own rules change a plan: the same request under the rules of the trade, then with four
//! more. Prints both plans and the lines in which they differ.
//!
//! ```sh
//! cargo run --example custom_rule
//! ```

// an example talks to the terminal
#![allow(clippy::print_stderr)]

use std::collections::BTreeSet;
use std::error::Error;
use std::io::Write;
use std::process::ExitCode;

use slotwright::finding::{FactName, FactValue};
use slotwright::rule::{CountBound, CountSet, Detail, Hint, MixBound, Rule, RuleBookError};
use slotwright::sheet::visible_lines;
use slotwright::stated::Scope;
use slotwright::{
    Capacity, Label, Machine, Offer, Outcome, Place, PlanRequest, Planner, Price, RuleBook, Severity, reference,
};

fn main() -> ExitCode {
    match text() {
        Ok(text) => match std::io::stdout().write_all(text.as_bytes()) {
            Ok(()) => ExitCode::SUCCESS,
            Err(_) => ExitCode::FAILURE,
        },
        Err(error) => {
            eprintln!("{}", visible_lines(&error.to_string()));
            ExitCode::FAILURE
        }
    }
}

/// Both plans and what differs.
pub(crate) fn text() -> Result<String, Box<dyn Error>> {
    let machine = Machine::builder(reference::ddr4_2s_4ch_3spc())
        .processor_named("1", "later")
        .processor_named("2", "later")
        .build()?;
    let request = PlanRequest::new().usable_at_least(Capacity::from_gib(384)).offers(offers()?);
    let (trade, own) = (RuleBook::standard(), own_rules()?);
    let before = summary(&Planner::new(&machine, &trade).plan(&request)?);
    let after = summary(&Planner::new(&machine, &own).plan(&request)?);
    let gone = before.iter().filter(|line| !after.contains(line)).map(|line| format!("- {line}"));
    let new = after.iter().filter(|line| !before.contains(line)).map(|line| format!("+ {line}"));
    let difference: Vec<String> = gone.chain(new).collect();
    Ok(format!(
        "Under the rules of the trade:\n  {}\n\nWith four rules of our own:\n  {}\n\nThe difference:\n{}\n",
        before.join("\n  "),
        after.join("\n  "),
        difference.join("\n")
    ))
}

/// The rules of the trade and four more, in declared form: the search uses them as it uses its own. What a form cannot
/// say, a hint does.
fn own_rules() -> Result<RuleBook, RuleBookError> {
    let least = Capacity::from_gib(16);
    let no_small_modules = Rule::module(
        "own-no-small-modules",
        "modules below 16 GB are thrown away by the next upgrade",
        Severity::Error,
        move |site, report| {
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
    let room_for_more = Rule::count(
        "own-two-thirds-full",
        "at most 8 modules to a processor, so that the next upgrade has slots",
        Severity::Error,
        CountBound::new(Scope::Socket, CountSet::AtMost(8)),
    )?;
    let one_region = Rule::socket(
        "own-one-region",
        "we deliver no processor whose channels hold unlike amounts",
        Severity::Error,
        |load, report| {
            let held = load.channels().map(|channel| channel.modules().map(|site| site.module.capacity()).sum());
            let held: BTreeSet<Capacity> = held.filter(|held: &Capacity| !held.is_zero()).collect();
            if held.len() > 1 {
                report.violation(|| Detail::at(Place::socket(load.machine().platform(), load.id())));
            }
        },
    )?
    // of a rule on whole processors a search knows no more than it is told: this saves it those that the rule refuses.
    // The hint bars sets of channels too that a processor does not permit; ours permits any
    .hinting(|_| vec![Hint::one_region()])
    .uniform()
    .blind_to_identity();
    RuleBook::standard().with(no_small_modules)?.with(one_grade)?.with(room_for_more)?.with(one_region)
}

/// Total, lines of the order, rate.
fn summary(outcome: &Outcome) -> Vec<String> {
    let Some(plan) = outcome.optimal() else { return vec![outcome.to_string()] };
    let total = plan.assessment.figures.installed.total_mib;
    let mut lines: Vec<String> =
        plan.lines.iter().map(|line| format!("{} x {} from {}", line.quantity, line.module, line.source)).collect();
    let rate = plan.running_rate().map_or("a rate that is not known".to_owned(), |rate| rate.to_string());
    lines.push(format!("{total} in {} modules at {rate}, {}", plan.slots.len(), plan.cost.total));
    lines
}

/// Made up.
fn offers() -> Result<Vec<Offer>, Box<dyn Error>> {
    let currency = "EUR".parse()?;
    let offer = |id: &str, label: &str, cents: u64, stock: u32| -> Result<Offer, Box<dyn Error>> {
        Ok(Offer::new(id.parse()?, label.parse::<Label>()?.to_module(), Price::new(cents, currency), stock))
    };
    Ok(vec![
        offer("crate-1", "8GB 1Rx8 PC4-2133P-RD0-10", 500, 40)?,
        offer("crate-2", "16GB 2Rx4 PC4-2133P-RA0-10", 1_450, 32)?,
        offer("crate-3", "32GB 2Rx4 PC4-2400T-RB2-11", 3_300, 6)?,
        offer("crate-4", "32GB 2Rx4 PC4-2666V-RB2-12", 3_600, 20)?,
    ])
}
