//! Advice on an upgrade: the plan, what comes close to it, how firm the prices are, what accepting warnings would
//! save, and why a bolder wish cannot be had.
//!
//! ```sh
//! cargo run --example upgrade
//! cargo run --example upgrade -- QUESTION GB MT/S
//! ```
//!
//! QUESTION is a document as of `plan_json`; GB and MT/S are the bolder wish. Without arguments: the made-up machine,
//! shelf and price list in `examples/data/upgrade.json`, and 768 GB at 2400 MT/s.
// an example writes to the terminal
#![allow(clippy::print_stdout, clippy::print_stderr)]

#[allow(dead_code)]
mod paper;

use std::collections::BTreeMap;
use std::error::Error;
use std::process::ExitCode;

use paper::{Paper, counted, listed};
use slotwright::figure::DomainRate;
use slotwright::purchase::{Beyond, BreakEven, BreakEvenOutcome, ModuleSource, PlanLine, PlanNote};
use slotwright::question::Question;
use slotwright::sheet::visible_lines;
use slotwright::{Capacity, Cost, DataRate, Offer, Outcome, Plan, PlanRequest, Planner, Price, Severity};

const QUESTION: &str = include_str!("../data/upgrade.json");

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let result = match arguments.as_slice() {
        [] => demo(),
        [file, gib, rate] => given(file, gib, rate),
        _ => Err("arguments: QUESTION GB MT/S, or none".into()),
    };
    match result {
        Ok(text) => {
            print!("{}", visible_lines(&text));
            ExitCode::SUCCESS
        }
        Err(error) => {
            eprintln!("{}", visible_lines(&error.to_string()));
            ExitCode::from(2)
        }
    }
}

/// What is printed without arguments.
pub(crate) fn demo() -> Result<String, Box<dyn Error>> {
    advice(QUESTION, Capacity::from_gib(768), DataRate::DDR4_2400)
}

fn given(file: &str, gib: &str, rate: &str) -> Result<String, Box<dyn Error>> {
    let text = std::fs::read_to_string(file).map_err(|error| format!("{file}: {error}"))?;
    let gib = gib.parse().map_err(|_| format!("{gib:?} is no whole number of GB"))?;
    let rate: u32 = rate.parse().map_err(|_| format!("{rate:?} is no whole number of MT/s"))?;
    let rate = DataRate::from_mts(rate)?;
    advice(&text, Capacity::from_gib(gib), rate)
}

/// The advice on a question, and on a bolder wish.
pub(crate) fn advice(text: &str, wish: Capacity, rate: DataRate) -> Result<String, Box<dyn Error>> {
    let question: Question = serde_json::from_str(text).map_err(|error| error.to_string())?;
    let (machine, rules) = question.context().map_err(|error| error.to_string())?;
    let planner = Planner::new(&machine, &rules);
    let request = question.request.as_ref().ok_or("the question has no request")?;

    let mut paper = Paper::default();
    present(&mut paper, &planner, request)?;
    let best = planner.plans(request, 3)?;
    let Some((plan, others)) = best.plans.split_first() else {
        planner.plan(request)?.to_string().lines().for_each(|said| paper.line(said));
        return Ok(paper.finish());
    };
    paper.heading("WHAT I WOULD DO");
    proposal(&mut paper, request, plan);
    paper.heading("WHAT COMES CLOSE");
    others.iter().for_each(|other| runner_up(&mut paper, plan, other));
    if best.stopped.is_some() {
        paper.line("The search stopped before it was through; there may be others.");
    }
    paper.heading("HOW FIRM THE PRICES ARE");
    prices(&mut paper, &planner, request, plan)?;
    paper.heading("WHAT ACCEPTING WARNINGS WOULD SAVE");
    warnings(&mut paper, &planner, request, plan)?;
    paper.heading(&format!("AND {wish} AT {rate}?"));
    bolder(&mut paper, plan, &planner.plan(&request.clone().usable_at_least(wish).rate_at_least(rate))?);
    paper.line("");
    paper.line(
        "Before anyone opens the machine: the platform maker's manual, local rules and qualified people decide. Shut \
         down, unplug every cord, wear a wrist strap; modules stay hot after shut-down.",
    );
    Ok(paper.finish())
}

fn present(paper: &mut Paper, planner: &Planner<'_>, request: &PlanRequest) -> Result<(), Box<dyn Error>> {
    let population = &request.present.population;
    let figures = planner.assess(population)?.figures;
    let modules = counted(population.modules().map(|(_, fitted)| fitted.module.to_string()), "nothing");
    let holds = format!("The machine holds {modules}: {}", figures.installed.total_mib);
    match figures.running_rate.rate() {
        Some(rate) => paper.line(&format!("{holds}, at {rate}.")),
        None => paper.line(&format!("{holds}.")),
    }
    let mut wishes = Vec::new();
    wishes.extend(request.usable_at_least_mib.map(|capacity| format!("at least {capacity}")));
    wishes.extend(request.rate_at_least_mts.map(|rate| format!("at {rate} or more")));
    wishes.extend(request.lead_time_at_most_days.map(|days| format!("within {days} days")));
    wishes.extend(request.budget.map(|budget| format!("for {budget} at most")));
    let each = if request.spares_per_part { "part" } else { "sort of module" };
    wishes.extend((request.spares > 0).then(|| format!("{} spares of each {each}", request.spares)));
    wishes
        .extend((request.machines > 1).then(|| format!("in each of {} machines; money is for all", request.machines)));
    paper.line(&format!("Asked for: {}.", listed(&wishes, "nothing in particular")));
    Ok(())
}

/// What is kept of each offer and shelf item.
fn kept(plan: &Plan) -> BTreeMap<&ModuleSource, (usize, &PlanLine)> {
    plan.lines.iter().map(|line| (&line.source, (line.quantity - line.returned, line))).collect()
}

fn line(line: &PlanLine) -> String {
    let PlanLine { source, module, quantity, returned, .. } = line;
    let what = match source {
        ModuleSource::Shelf { id } => format!("take {quantity} x {module} from {id}"),
        source => format!("buy {quantity} x {module} ({source})"),
    };
    let back = if *returned > 0 { format!(", send {returned} back") } else { String::new() };
    let price = line.line_price.map_or(String::new(), |price| format!(", {price}"));
    let days = line.lead_time_days.map_or(String::new(), |days| format!(", {days} days"));
    let condition = line.condition.map_or(String::new(), |condition| format!(", {condition}"));
    format!("{what}{back}{price}{condition}{days}")
}

fn proposal(paper: &mut Paper, request: &PlanRequest, plan: &Plan) {
    let figures = &plan.assessment.figures;
    let rate = plan.running_rate().map_or("a rate that is not known".to_owned(), |rate| rate.to_string());
    let usable = figures.usable.total_mib;
    paper.line(&format!("{usable} at {rate}, for {}. Proved: nothing that does it is cheaper.", plan.cost.total));
    plan.lines.iter().for_each(|bought| paper.item("-", &line(bought)));
    for charge in &plan.charges {
        paper.item("-", &format!("{} charges {} for the order", charge.supplier, charge.charge));
    }
    if plan.cost.returns.amount_minor() > 0 {
        paper.item("-", &format!("sending back costs {}", plan.cost.returns));
    }
    if !plan.pulled.is_empty() {
        let pulled = counted(plan.pulled.iter().map(|pulled| pulled.module.to_string()), "nothing");
        let credit = Cost::new(-plan.cost.credit.amount_minor(), plan.cost.credit.currency());
        paper.item("-", &format!("pull {pulled}; credit {credit}"));
    }
    let stay = plan.slots.iter().filter(|slot| slot.source == ModuleSource::Stays);
    let stay: Vec<String> = stay.map(|slot| slot.module.to_string()).collect();
    if !stay.is_empty() {
        paper.item("-", &format!("leave {} where they are", counted(stay.into_iter(), "nothing")));
    }
    if request.labour_per_handling.is_some() {
        paper.item("-", &format!("{} handlings, {}", plan.handlings, plan.cost.labour));
    }
    for left in &plan.to_shelf {
        paper.item("-", &format!("{} x {} of {} are left for the shelf", left.quantity, left.module, left.id));
    }
    for spare in &plan.spares {
        let at_hand = spare.bought + spare.on_shelf + spare.pulled;
        paper.item("-", &format!("{at_hand} x {} are then at hand as spares", spare.module));
    }
    paper.line("What holds the rate there:");
    for limit in figures.running_rate.domains.iter().flat_map(DomainRate::binding) {
        paper.item("-", &limit.to_string());
    }
    for note in plan.notes.iter().filter(|note| !matches!(note, PlanNote::Assumed { .. })) {
        paper.item("-", &note.to_string());
    }
}

/// "1.00 EUR more", "2.00 EUR less".
fn against(plan: &Plan, other: &Plan) -> String {
    let minor = other.cost.total.amount_minor() - plan.cost.total.amount_minor();
    let amount = Cost::new(minor.abs(), other.cost.total.currency());
    match minor {
        0 => "the same money".to_owned(),
        1.. => format!("{amount} more"),
        _ => format!("{amount} less"),
    }
}

/// What another plan buys and takes instead.
fn instead(plan: &Plan, other: &Plan) -> String {
    let (ours, theirs) = (kept(plan), kept(other));
    let units = |of: &BTreeMap<&ModuleSource, (usize, &PlanLine)>, source: &ModuleSource| {
        of.get(source).map_or(0, |(units, _)| *units)
    };
    let more_of = |of: &BTreeMap<&ModuleSource, (usize, &PlanLine)>, than: &BTreeMap<_, _>| {
        let more = of.iter().filter(|(source, (count, _))| *count > units(than, source));
        let more =
            more.map(|(source, (count, line))| format!("{} x {} ({source})", count - units(than, source), line.module));
        more.collect::<Vec<_>>()
    };
    match (more_of(&ours, &theirs).as_slice(), more_of(&theirs, &ours).as_slice()) {
        ([], []) => "the same modules otherwise placed".to_owned(),
        (fewer, []) => format!("without {}", listed(fewer, "")),
        ([], more) => format!("{} besides", listed(more, "")),
        (fewer, more) => format!("{} instead of {}", listed(more, ""), listed(fewer, "")),
    }
}

fn runner_up(paper: &mut Paper, plan: &Plan, other: &Plan) {
    let (ours, theirs) = (&plan.assessment.figures, &other.assessment.figures);
    let mut unlike = Vec::new();
    if ours.usable.total_mib != theirs.usable.total_mib {
        unlike.push(theirs.usable.total_mib.to_string());
    }
    if plan.running_rate() != other.running_rate() {
        unlike.extend(other.running_rate().map(|rate| rate.to_string()));
    }
    if plan.free_slots.len() != other.free_slots.len() {
        unlike.push(format!("{} slots left free, not {}", other.free_slots.len(), plan.free_slots.len()));
    }
    let gives = if unlike.is_empty() { String::new() } else { format!(" It gives {}.", unlike.join(", ")) };
    paper.item("-", &format!("{}, {}: {}.{gives}", other.cost.total, against(plan, other), instead(plan, other)));
}

/// The break-even of the plan's main offer, and of the one outside it that needs the smallest discount.
fn prices(paper: &mut Paper, planner: &Planner<'_>, request: &PlanRequest, plan: &Plan) -> Result<(), Box<dyn Error>> {
    let bought = plan.lines.iter().filter(|line| matches!(line.source, ModuleSource::Offer { .. }));
    let main = bought.max_by_key(|line| line.line_price.map(Price::amount_minor));
    if let Some(ModuleSource::Offer { id }) = main.map(|line| &line.source) {
        let firm = planner.break_even(request, id.as_str())?;
        paper.line(&firm.to_string());
        if let Some(even) = firm.known() {
            beyond(paper, plan, &even.below, "Below");
            beyond(paper, plan, &even.above, "Above");
        }
    }
    let is_outside = |offer: &&Offer| {
        !plan.lines.iter().any(|line| matches!(&line.source, ModuleSource::Offer { id } if *id == offer.id))
    };
    let (mut nearest, mut unknown) = (None::<(u64, BreakEven)>, 0);
    for offer in request.offers.iter().filter(is_outside) {
        let even = match planner.break_even(request, offer.id.as_str())? {
            BreakEvenOutcome::Known(even) => even,
            BreakEvenOutcome::Infeasible { .. } => continue,
            BreakEvenOutcome::Stopped { .. } => {
                unknown += 1;
                continue;
            }
        };
        unknown += usize::from(matches!(even.below, Beyond::Unknown { .. }));
        let discount = even.price.amount_minor() - even.from.amount_minor();
        if even.below.plan().is_some() && nearest.as_ref().is_none_or(|(known, _)| discount < *known) {
            nearest = Some((discount, even));
        }
    }
    match nearest {
        Some((_, even)) => {
            paper.line(&even.to_string());
            beyond(paper, plan, &even.below, "Then");
        }
        None if unknown == 0 => paper.line("No other offer would come in at any price."),
        None => {}
    }
    if unknown > 0 {
        paper.line(&format!("Of {unknown} offers it is not known when they would come in: the search stopped."));
    }
    Ok(())
}

fn beyond(paper: &mut Paper, plan: &Plan, beyond: &Beyond, when: &str) {
    if let Some(other) = beyond.plan() {
        paper.item("-", &format!("{when}: {}.", instead(plan, other)));
    }
}

fn warnings(
    paper: &mut Paper,
    planner: &Planner<'_>,
    request: &PlanRequest,
    plan: &Plan,
) -> Result<(), Box<dyn Error>> {
    let savings = planner.savings(request)?;
    for saving in &savings.accepting {
        paper.line(&saving.to_string());
        paper.item("-", &format!("{}.", instead(plan, &saving.plan)));
        for finding in saving.plan.assessment.from_severity(Severity::Warning) {
            paper.item("-", &format!("But {}: {}.", finding.summary, listed(&finding.places, "somewhere")));
        }
    }
    if savings.stopped.is_some() {
        paper.line("The search stopped before it was through: there may be more to save.");
    } else if savings.accepting.is_empty() {
        paper.line("Nothing: the cheapest plan has no warnings anyway.");
    }
    Ok(())
}

fn bolder(paper: &mut Paper, plan: &Plan, outcome: &Outcome) {
    match outcome {
        Outcome::Optimal(bolder) => {
            paper.line(&format!("It can be done, for {} ({}):", bolder.cost.total, against(plan, bolder)));
            bolder.lines.iter().for_each(|bought| paper.item("-", &line(bought)));
        }
        Outcome::Infeasible(why) => why.to_string().lines().for_each(|said| paper.line(said)),
        Outcome::Stopped { reason, .. } => paper.line(&format!("That is not known: the search {reason}.")),
    }
}
