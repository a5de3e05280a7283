//! The page: what is asked, the answer, what to buy, where everything goes, why it runs as it does.

use std::fmt::Write;

use slotwright::population::Occupant;
use slotwright::purchase::{CostSheet, ModuleSource, PlanLine};
use slotwright::unit::Cost;
use slotwright::{Machine, Outcome, Plan, PlanRequest, Planner, Population, RuleBook};

const WIDTH: usize = 100;

/// Plans a job and writes the page.
pub fn of(machine: &Machine, request: &PlanRequest) -> Result<String, String> {
    let rules = RuleBook::standard();
    let outcome = Planner::new(machine, &rules).plan(request).map_err(|error| error.to_string())?;
    let mut page = String::new();
    write(&mut page, machine, request, &outcome).map_err(|error| error.to_string())?;
    Ok(page)
}

fn write(page: &mut String, machine: &Machine, request: &PlanRequest, outcome: &Outcome) -> std::fmt::Result {
    writeln!(page, "{}", "=".repeat(WIDTH))?;
    writeln!(page, "MEMORY PLAN   {}", machine.platform().name)?;
    writeln!(page, "{}", "=".repeat(WIDTH))?;
    asked(page, machine, request)?;
    match outcome {
        Outcome::Optimal(plan) => {
            writeln!(page, "Proved: nothing that the request allows is better.")?;
            plan_page(page, machine, request, plan)
        }
        Outcome::Infeasible(why) => wrapped(page, "", &format!("It cannot be done. {why}")),
        Outcome::Stopped { best: Some(plan), cost_at_least, .. } => {
            let least = cost_at_least.map_or(String::new(), |cost| format!(" Any plan costs at least {cost}."));
            writeln!(page, "The search stopped before it had proved its answer.{least}")?;
            plan_page(page, machine, request, plan)
        }
        Outcome::Stopped { best: None, .. } => writeln!(page, "The search stopped without a plan."),
    }
}

fn heading(page: &mut String, text: &str) -> std::fmt::Result {
    writeln!(page, "\n{text} {}", "-".repeat(WIDTH.saturating_sub(text.chars().count() + 1)))
}

/// A text in lines of the page's width, the first behind a mark, the others indented by two.
fn wrapped(page: &mut String, mark: &str, text: &str) -> std::fmt::Result {
    for paragraph in text.lines() {
        let mut line = mark.to_owned();
        let mut empty = true;
        for word in paragraph.split_whitespace() {
            if !empty && line.chars().count() + 1 + word.chars().count() > WIDTH {
                writeln!(page, "{line}")?;
                line = "  ".to_owned();
                empty = true;
            }
            if !empty {
                line.push(' ');
            }
            line.push_str(word);
            empty = false;
        }
        writeln!(page, "{line}")?;
    }
    Ok(())
}

fn asked(page: &mut String, machine: &Machine, request: &PlanRequest) -> std::fmt::Result {
    let mut wanted = Vec::new();
    wanted.extend(request.usable_at_least_mib.map(|capacity| format!("at least {capacity} usable")));
    wanted.extend(request.usable_at_most_mib.map(|capacity| format!("at most {capacity} usable")));
    wanted.extend(request.rate_at_least_mts.map(|rate| format!("at least {rate}")));
    wanted.extend(request.free_slots_at_least.map(|slots| format!("at least {slots} slots left free")));
    wanted.extend(request.budget.map(|budget| format!("at most {budget}")));
    wrapped(page, "Asked:      ", &format!("{}.", wanted.join(", ")))?;
    let processors: Vec<String> = machine
        .processors()
        .map(|(socket, processor)| format!("{} in socket {}", processor.name, machine.platform().socket(socket).label))
        .collect();
    let present: Vec<String> =
        counted(request.present.population.modules().map(|(_, fitted)| fitted.module.to_string()));
    writeln!(page, "Processors: {}.", processors.join(", "))?;
    writeln!(page, "Fitted now: {}.", if present.is_empty() { "nothing".to_owned() } else { present.join(", ") })?;
    let (offers, shelf) = (request.offers.len(), request.shelf.len());
    writeln!(page, "Looked at:  {offers} offers, {shelf} sorts on the shelf; machines: {}.", request.machines)
}

/// Equal texts as "8 x text", in order.
fn counted(texts: impl Iterator<Item = String>) -> Vec<String> {
    let mut counts = std::collections::BTreeMap::new();
    texts.for_each(|text| *counts.entry(text).or_insert(0usize) += 1);
    counts.into_iter().map(|(text, count)| format!("{count} x {text}")).collect()
}

fn plan_page(page: &mut String, machine: &Machine, request: &PlanRequest, plan: &Plan) -> std::fmt::Result {
    let installed = plan.assessment.figures.installed.total_mib;
    let rate = plan.running_rate().map_or("an unknown rate".to_owned(), |rate| rate.to_string());
    writeln!(page, "Result:     {installed} at {rate} for {}.", plan.cost.total)?;
    money(page, plan)?;
    slots(page, machine, &request.present.population, plan)?;
    heading(page, "WHY THIS RATE")?;
    wrapped(page, "", &plan.assessment.figures.running_rate.to_string())?;
    heading(page, "FINDINGS")?;
    if plan.assessment.findings.is_empty() {
        writeln!(page, "None.")?;
    }
    plan.assessment.findings.iter().try_for_each(|finding| wrapped(page, "", &finding.to_string()))?;
    heading(page, "ASSUMPTIONS AND NOTES")?;
    plan.notes.iter().try_for_each(|note| wrapped(page, "- ", &note.to_string()))?;
    for text in [
        "The plan rests on the description of the machine and on the labels as given. The platform maker's manual, \
         local rules and qualified people decide.",
        "By hand (common practice, no source): shut down, unplug every cord and wait as the maker says; wear a wrist \
         strap; modules stay hot after shut-down; hold them by the edges; match the notch to the key, which may face \
         the other way in the next slot; press both ends evenly, never force; lid and air baffle before power.",
    ] {
        wrapped(page, "- ", text)?;
    }
    heading(page, "SIGNED")?;
    writeln!(
        page,
        "\nBuyer ______________________________   Technician ______________________________   Date __________"
    )
}

fn money(page: &mut String, plan: &Plan) -> std::fmt::Result {
    heading(page, "WHAT TO BUY AND TAKE")?;
    writeln!(page, "{:<4}{:<10}{:<16}{:<34}{:>16}{:>18}", "qty", "from", "supplier", "module", "each", "line")?;
    for line in &plan.lines {
        let PlanLine { source, module, quantity, unit_price, line_price, supplier, .. } = line;
        let from = match source {
            ModuleSource::Offer { id } | ModuleSource::Shelf { id } => id.to_string(),
            ModuleSource::Stays | ModuleSource::MovesFrom { .. } => source.to_string(),
        };
        let supplier = supplier.as_ref().map_or("(own shelf)".to_owned(), ToString::to_string);
        let amount = |price: &Option<slotwright::Price>| price.map_or(String::new(), |price| price.to_string());
        let (each, all) = (amount(unit_price), amount(line_price));
        writeln!(page, "{quantity:<4}{from:<10}{supplier:<16}{:<34}{each:>16}{all:>18}", module.to_string())?;
    }
    for charge in &plan.charges {
        writeln!(page, "    charge of {:<66}{:>18}", charge.supplier, charge.charge.to_string())?;
    }
    let CostSheet { purchases: _, charges: _, shelf: _, labour, credit, surplus, total } = &plan.cost;
    let mut line = |what: &str, cost: &Cost| writeln!(page, "{what:<80}{:>18}", cost.to_string());
    if labour.amount_minor() != 0 {
        line(&format!("    labour, {} handlings a machine", plan.handlings), labour)?;
    }
    if credit.amount_minor() != 0 {
        line("    credit for what is pulled", credit)?;
    }
    if surplus.amount_minor() != 0 {
        line("    worth of what goes to the shelf", surplus)?;
    }
    line("TOTAL", total)?;
    for pulled in &plan.pulled {
        writeln!(page, "Pulled from {}: {}", pulled.slot, pulled.module)?;
    }
    for surplus in &plan.to_shelf {
        writeln!(page, "To the shelf: {} x {} of {}", surplus.quantity, surplus.module, surplus.id)?;
    }
    Ok(())
}

fn slots(page: &mut String, machine: &Machine, before: &Population, plan: &Plan) -> std::fmt::Result {
    heading(page, "WHERE EVERYTHING GOES")?;
    let platform = machine.platform();
    for &slot in platform.fill_order() {
        let slot = platform.slot(slot);
        let planned = plan.slots.iter().find(|planned| planned.slot == slot.label);
        let held = match before.get(slot.label.as_str()) {
            Some(Occupant::Module(fitted)) => fitted.module.to_string(),
            Some(other) => other.to_string(),
            None => "-".to_owned(),
        };
        let (after, how) = match planned {
            Some(planned) => (planned.module.to_string(), planned.source.to_string()),
            None if plan.free_slots.contains(&slot.label) => ("-".to_owned(), "free".to_owned()),
            None => ("-".to_owned(), String::new()),
        };
        let marking = slot.marking.as_ref().map_or(String::new(), ToString::to_string);
        let change = if held == after { format!("{held:<33}") } else { format!("{held:<33}-> {after}") };
        let channel = &platform.channel(slot.channel).label;
        writeln!(
            page,
            "[ ] {:<5}{:<7}proc {} ch {channel}  {change:<71}{how}",
            slot.label.as_str(),
            marking,
            platform.socket(slot.socket).label
        )?;
    }
    writeln!(page, "{} slots stay free.", plan.free_slots.len())
}
