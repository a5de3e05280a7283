//! Machines and what is in them from plain tables; then a wish for each, one machine after the other, from one stock.
//!
//! Without arguments it uses the made-up tables in `examples/data`. With arguments: `many_machines MACHINES MODULES PRICES`, CSV of
//! machine, platform, processor, wish in GB; of machine, slot, label; and of id, label, price, stock.
//!
//! The loop is greedy: what an earlier machine buys or gives up changes what a later one finds, and nothing is planned for all
//! together. So it is tried in both directions, and the other direction's total is printed too.
// an example writes to the terminal
#![allow(clippy::print_stdout, clippy::print_stderr)]

use std::collections::BTreeMap;
use std::fmt::Write;
use std::process::ExitCode;

use slotwright::population::{Occupant, Population};
use slotwright::purchase::{Offers, Plan};
use slotwright::sheet::visible_lines;
use slotwright::{
    Capacity, Cost, Label, Machine, Name, Offer, Outcome, PlanRequest, Planner, Price, RuleBook, ShelfItem, reference,
};

const TABLES: [&str; 3] =
    [include_str!("data/machines.csv"), include_str!("data/inventory.csv"), include_str!("data/price_list.csv")];

fn main() -> ExitCode {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let read = |file: &String| std::fs::read_to_string(file).map_err(|error| vec![format!("{file}: {error}")]);
    let result = match arguments.as_slice() {
        [] => page(TABLES),
        [machines, modules, prices] => read(machines).and_then(|machines| {
            let (modules, prices) = (read(modules)?, read(prices)?);
            page([&machines, &modules, &prices])
        }),
        _ => Err(vec!["arguments: MACHINES MODULES PRICES, or none".to_owned()]),
    };
    match result {
        Ok(text) => {
            print!("{}", visible_lines(&text));
            ExitCode::SUCCESS
        }
        Err(problems) => {
            problems.iter().for_each(|problem| eprintln!("{}", visible_lines(problem)));
            ExitCode::from(2)
        }
    }
}

/// A machine, what is in it, and how much it shall have.
struct Job {
    name: String,
    machine: Machine,
    fitted: Population,
    wish: Capacity,
}

/// Everything in the tables, or every line that does not read.
struct Tables {
    jobs: Vec<Job>,
    offers: Offers,
}

/// The rows of a table below its head, with the places of their lines.
fn rows<'t, const N: usize>(
    table: &'static str,
    text: &'t str,
    problems: &mut Vec<String>,
) -> Vec<(String, [&'t str; N])> {
    let mut rows = Vec::new();
    for (index, line) in text.lines().enumerate().skip(1).filter(|(_, line)| !line.trim().is_empty()) {
        let place = format!("{table}, line {}", index + 1);
        let fields: Vec<&str> = line.split(',').map(str::trim).collect();
        match <[&str; N]>::try_from(fields) {
            Ok(fields) => rows.push((place, fields)),
            Err(fields) => problems.push(format!("{place}: {} fields; {N} are needed", fields.len())),
        }
    }
    rows
}

impl Tables {
    fn read([machines, modules, prices]: [&str; 3]) -> Result<Self, Vec<String>> {
        let mut problems = Vec::new();
        let mut jobs: Vec<Job> = Vec::new();
        for (place, [name, platform, processor, wish]) in rows("machines", machines, &mut problems) {
            match job(name, platform, processor, wish) {
                Ok(job) => jobs.push(job),
                Err(error) => problems.push(format!("{place}: {error}")),
            }
        }
        for (place, [machine, slot, label]) in rows("modules", modules, &mut problems) {
            let job = jobs.iter_mut().find(|job| job.name == machine).ok_or_else(|| format!("no machine {machine:?}"));
            if let Err(error) = job.and_then(|job| fit(job, slot, label)) {
                problems.push(format!("{place}: {error}"));
            }
        }
        let mut offers = Vec::new();
        for (place, fields) in rows("prices", prices, &mut problems) {
            match offer(fields) {
                Ok(offer) => offers.push(offer),
                Err(error) => problems.push(format!("{place}: {error}")),
            }
        }
        if problems.is_empty() { Ok(Self { jobs, offers: offers.into() }) } else { Err(problems) }
    }
}

fn job(name: &str, platform: &str, processor: &str, wish: &str) -> Result<Job, String> {
    let platform = reference::by_name(platform).ok_or_else(|| format!("no ready-made platform {platform:?}"))?;
    let sockets: Vec<String> = platform.sockets().iter().map(|socket| socket.label.to_string()).collect();
    let machine = Machine::builder(platform);
    let machine = sockets.iter().fold(machine, |machine, socket| machine.processor_named(socket, processor));
    let machine = machine.build().map_err(|error| error.to_string())?;
    let wish = wish.parse().map_err(|_| format!("{wish:?} is no whole number of GB"))?;
    Ok(Job { name: name.to_owned(), machine, fitted: Population::new(), wish: Capacity::from_gib(wish) })
}

fn fit(job: &mut Job, slot: &str, label: &str) -> Result<(), String> {
    let module = label.parse::<Label>().map_err(|error| error.to_string())?.to_module();
    let known = job.machine.platform().slot_named(slot).ok_or_else(|| format!("{} has no slot {slot:?}", job.name))?;
    let label = job.machine.platform().slot(known).label().clone();
    match job.fitted.put(label, Occupant::module(module)) {
        None => Ok(()),
        Some(_) => Err(format!("slot {slot} of {} is given twice", job.name)),
    }
}

fn offer([id, label, price, stock]: [&str; 4]) -> Result<Offer, String> {
    let id: Name = id.parse().map_err(|error| format!("{error}"))?;
    let module = label.parse::<Label>().map_err(|error| error.to_string())?.to_module();
    let cents = price.split_once('.').and_then(|(whole, cents)| {
        let cents = cents.parse::<u64>().ok().filter(|_| cents.len() == 2)?;
        whole.parse::<u64>().ok()?.checked_mul(100)?.checked_add(cents)
    });
    let cents = cents.ok_or_else(|| format!("{price:?} is not a price such as 29.00"))?;
    let stock = stock.parse().map_err(|_| format!("{stock:?} is no whole number"))?;
    let currency = "EUR".parse().map_err(|error| format!("{error}"))?;
    Ok(Offer::new(id, module, Price::new(cents, currency), stock))
}

/// What is planned for each machine, and what it costs together.
struct Round<'t> {
    plans: Vec<(&'t Job, Result<Plan, String>)>,
    total: Option<Cost>,
    unmet: usize,
}

/// Plans one machine after the other: what one buys is gone for the next, and what one gives up lies on its shelf.
fn round<'t>(jobs: impl Iterator<Item = &'t Job>, offers: &Offers) -> Result<Round<'t>, Vec<String>> {
    let rules = RuleBook::standard();
    let (mut offers, mut shelf): (Offers, Vec<ShelfItem>) = (offers.clone(), Vec::new());
    let mut round = Round { plans: Vec::new(), total: None, unmet: 0 };
    for job in jobs {
        let planner = Planner::new(&job.machine, &rules);
        let request = PlanRequest::new()
            .usable_at_least(job.wish)
            .present(job.fitted.clone())
            .shared_offers(&offers)
            .shelf(shelf.iter().cloned());
        let outcome = planner.plan(&request).map_err(|error| vec![format!("{}: {error}", job.name)])?;
        let plan = match outcome {
            Outcome::Optimal(plan) => plan,
            other => {
                round.unmet += 1;
                round.plans.push((job, Err(other.to_string())));
                continue;
            }
        };
        let mut after = request.after(&plan);
        after.shelf.retain(|item| item.stock > 0);
        for item in &mut after.shelf {
            // the shelf is everybody's: say whose module it was
            if let Some(slot) = item.id.as_str().strip_prefix("pulled from ") {
                item.id = Name::lossy(&format!("{} {slot}", job.name));
            }
        }
        after.offers.to_mut().retain(|offer| offer.stock > 0);
        (offers, shelf) = (after.offers, after.shelf);
        let cost = plan.cost.total;
        round.total = match round.total {
            Some(total) => Some(total.plus(cost).map_err(|error| vec![error.to_string()])?),
            None => Some(cost),
        };
        round.plans.push((job, Ok(plan)));
    }
    Ok(round)
}

/// The page for three tables.
pub(crate) fn page(tables: [&str; 3]) -> Result<String, Vec<String>> {
    let Tables { jobs, offers } = Tables::read(tables)?;
    let [forward, back] = [round(jobs.iter(), &offers)?, round(jobs.iter().rev(), &offers)?];
    let rank = |round: &Round<'_>| (round.unmet, round.total.map(Cost::amount_minor));
    let (best, other, how) = match rank(&back) < rank(&forward) {
        true => (back, forward, "from the last to the first"),
        false => (forward, back, "in the order of the list"),
    };
    let mut page = String::new();
    // writing to a text does not fail
    let _ = write_page(&mut page, &best, &other, how);
    Ok(page)
}

fn write_page(page: &mut String, best: &Round<'_>, other: &Round<'_>, how: &str) -> std::fmt::Result {
    let amount = |total: Option<Cost>| total.map_or_else(|| "nothing".to_owned(), |total| total.to_string());
    writeln!(page, "{} machines, {how}: {}", best.plans.len(), amount(best.total))?;
    for (job, plan) in &best.plans {
        let held: Capacity = job.fitted.modules().map(|(_, fitted)| fitted.module.capacity()).sum();
        writeln!(page, "\n{}: {held} now, {} wished", job.name, job.wish)?;
        let plan = match plan {
            Ok(plan) => plan,
            Err(why) => {
                why.lines().try_for_each(|line| writeln!(page, "  {line}"))?;
                continue;
            }
        };
        let figures = &plan.assessment.figures;
        let rate = figures.running_rate.rate().map_or_else(String::new, |rate| format!(" at {rate}"));
        writeln!(page, "  {}{rate} for {}, {} handlings", figures.usable.total_mib, plan.cost.total, plan.handlings)?;
        let mut taken: BTreeMap<String, Vec<String>> = BTreeMap::new();
        for line in &plan.lines {
            let each = format!("{} x {}", line.quantity, line.module);
            taken.entry(each).or_default().push(line.source.to_string());
        }
        taken.iter().try_for_each(|(each, from)| match from.as_slice() {
            [one] => writeln!(page, "  {each} from {one}"),
            many => writeln!(page, "  {each} each from {}", many.join(", ")),
        })?;
        let mut pulled: BTreeMap<String, Vec<&str>> = BTreeMap::new();
        plan.pulled.iter().for_each(|out| pulled.entry(out.module.to_string()).or_default().push(out.slot.as_str()));
        pulled.iter().try_for_each(|(module, slots)| writeln!(page, "  out: {module} from {}", slots.join(", ")))?;
    }
    writeln!(page, "\nThe other way round: {}, {} of the wishes unmet.", amount(other.total), other.unmet)?;
    writeln!(page, "Each machine is planned by itself, on what those before it left: all together may cost less.")
}
