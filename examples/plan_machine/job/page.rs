//! The page: what is asked, the answer, what to buy, where everything goes, why it runs as it does.

use slotwright::figure::RateLimit;
use slotwright::open::Questions;
use slotwright::purchase::{PlanNote, StopReason, WhyNot};
use slotwright::stated::Basis;
use slotwright::{DataRate, Outcome, Plan, Severity};

use super::paper::{Paper, WIDTH, counted, listed};
use super::{Job, order, slot_map};

/// The page of an outcome.
pub(crate) fn of(job: &Job, outcome: &Outcome, questions: Option<&Questions>) -> String {
    let mut paper = Paper::default();
    paper.rule();
    paper.line(&format!("MEMORY PLAN   {}", job.title));
    paper.rule();
    asked(&mut paper, job);
    if let Some(questions) = questions.filter(|questions| !questions.questions.is_empty()) {
        paper
            .entry("Open", "Reports leave facts open that decide what is bought or moved; see below what to find out.");
        to_find_out(&mut paper, questions);
    }
    match outcome {
        Outcome::Optimal(plan) => {
            let proof = "Proved: no plan that the request allows is better.";
            planned(&mut paper, job, plan, proof);
        }
        Outcome::Infeasible(why) => {
            if questions.is_some_and(|questions| !questions.questions.is_empty()) {
                paper.entry("", "NOT DECIDED: what is open above decides. With no more than is known:");
            }
            infeasible(&mut paper, why);
        }
        Outcome::Stopped { best, cost_at_least, reason, .. } => {
            let mut said = match reason {
                StopReason::Cancelled => "NOT PROVED: the search was cancelled.".to_owned(),
                reason => format!("NOT PROVED: the search {reason}."),
            };
            if outcome.is_cost_proved() {
                said.push_str(" No plan costs less, though another of this cost may be better in other respects.");
            } else {
                said.push_str(&format!(" Any plan costs at least {cost_at_least}."));
            }
            match best {
                Some(plan) => planned(&mut paper, job, plan, &format!("{said} This is the best plan so far.")),
                None => paper.entry("Result", &format!("{said} No plan was found so far.")),
            }
        }
    }
    paper.finish()
}

fn asked(paper: &mut Paper, job: &Job) {
    let (machine, request) = (&job.machine, &job.request);
    let platform = machine.platform();
    let processors: Vec<String> = machine
        .processors()
        .map(|(socket, processor)| format!("{} in socket {}", processor.name(), platform.socket(socket).label))
        .collect();
    let options: Vec<_> = machine.options().map(|option| &option.name).collect();
    paper.entry(
        "Machine",
        &format!("{}, {} mode; options: {}", platform.name(), machine.mode(), listed(&options, "none")),
    );
    paper.entry("Processors", &listed(&processors, "none"));
    let fitted = request.present.population.modules().map(|(_, fitted)| fitted.module.to_string());
    paper.entry("Fitted now", &counted(fitted, "nothing"));
    let mut wanted = Vec::new();
    wanted.extend(request.usable_at_least_mib.map(|capacity| format!("at least {capacity} usable")));
    wanted.extend(request.usable_at_most_mib.map(|capacity| format!("at most {capacity} usable")));
    wanted.extend(request.rate_at_least_mts.map(|rate| format!("at least {rate}")));
    wanted.extend(request.free_slots_at_least.map(|slots| format!("at least {slots} slots left free")));
    wanted.extend(request.budget.map(|budget| format!("at most {budget}")));
    wanted.extend(
        request.kinds.iter().map(|kinds| format!("only {}", listed(&kinds.iter().collect::<Vec<_>>(), "none"))),
    );
    wanted.extend(request.one_part_number.map(|scope| format!("one part only in each {scope}")));
    wanted.extend(request.lead_time_at_most_days.map(|days| format!("within {days} days")));
    wanted.extend(
        request.conditions.iter().map(|all| format!("only {}", listed(&all.iter().collect::<Vec<_>>(), "none"))),
    );
    let each = if request.spares_per_part { "part" } else { "sort of module" };
    wanted.extend((request.spares > 0).then(|| format!("{} spares of each {each}", request.spares)));
    wanted.extend(request.known_facts_only.then(|| "modules of known facts only".to_owned()));
    wanted.push(format!("no {} from the rules", request.refuse_from));
    paper.entry("Asked", &wanted.join("; "));
    if request.machines > 1 {
        paper.entry("Machines", &format!("{} alike; money and quantities are for all of them", request.machines));
    }
    let (offers, shelf) = (request.offers.len(), request.shelf.len());
    paper.entry("Looked at", &format!("offers: {offers}; sorts on the shelf: {shelf}"));
}

fn to_find_out(paper: &mut Paper, questions: &Questions) {
    paper.heading("TO FIND OUT FIRST");
    for line in questions.to_string().lines() {
        paper.line(line);
    }
    paper.line("");
}

fn planned(paper: &mut Paper, job: &Job, plan: &Plan, proof: &str) {
    let (total, rate) = (plan.assessment.figures.usable.total_mib, plan.running_rate());
    let rate = rate.map_or("at a rate that is not known".to_owned(), |rate| format!("at {rate}"));
    let (each, together) = match plan.machines {
        1 => (String::new(), ""),
        machines => (format!("{machines} machines, each: "), " together"),
    };
    paper.entry("Result", &format!("{each}{total} running {rate} for {}{together}. {proof}", plan.cost.total));
    if let Some(clean) = &plan.without_warnings {
        paper.entry("", &format!("The cheapest plan without warnings costs {}.", clean.cost.total));
    }
    order::write(paper, &job.request, plan);
    slot_map::write(paper, &job.machine, &job.request.present.population, plan);
    running_rate(paper, plan);
    findings(paper, plan);
    assumptions(paper, job, plan);
    by_hand(paper, &format!("{total} {rate}"));
    signatures(paper);
}

fn running_rate(paper: &mut Paper, plan: &Plan) {
    let domains = &plan.assessment.figures.running_rate.domains;
    paper.heading("RUNNING RATE AND WHAT BINDS IT");
    for domain in domains {
        let (Some(rate), Some(voltage)) = (domain.rate_mts, domain.voltage.voltage_mv) else {
            paper.line(&domain.to_string());
            continue;
        };
        paper.line(&format!("{rate} at {voltage}, processors {}.", listed(&domain.sockets, "none")));
        domain.binding().for_each(|limit| paper.item("-", &binding(limit, rate)));
    }
    let figures = &plan.assessment.figures;
    paper.entry("Memory", &format!("{}.", figures.amounts()));
    paper.entry("Interleave", &figures.interleave.to_string());
    paper.entry("Bandwidth", &format!("{}. An estimate: programs see less.", figures.bandwidth));
    let free: Vec<_> = plan.free_slots.iter().collect();
    paper.entry("Free slots", &format!("{}: {}", free.len(), listed(&free, "none")));
}

fn binding(limit: &RateLimit, rate: DataRate) -> String {
    match limit.lifted_mts.filter(|lifted| *lifted != rate) {
        Some(lifted) => format!("{limit}; without it {lifted}"),
        None => format!("{limit}; lifting it alone does not help"),
    }
}

fn findings(paper: &mut Paper, plan: &Plan) {
    paper.heading("FINDINGS");
    for finding in &plan.assessment.findings {
        let mark = match (plan.was_so_before.contains(finding), finding.severity) {
            (true, _) => " (was so before)",
            (false, Severity::Warning | Severity::Error) => " (accepted)",
            (false, Severity::Note) => "",
        };
        paper.item("-", &format!("{finding}{mark}"));
    }
    if plan.assessment.findings.is_empty() {
        paper.line("None.");
    }
}

fn assumptions(paper: &mut Paper, job: &Job, plan: &Plan) {
    paper.heading("ASSUMPTIONS");
    if let Some(sited) = &job.sited {
        sited.assumed.iter().for_each(|assumed| paper.item("-", &format!("of what is reported: {assumed}")));
        sited.disagreements.iter().for_each(|one| paper.item("-", &format!("reports disagree: {one}")));
        sited.held_back().for_each(|slot| paper.item("-", &format!("the module in {slot} is held back")));
    }
    for note in &plan.notes {
        // the limits are said above; here it is enough that they are assumed
        match note {
            PlanNote::Assumed { limit, .. } => paper.item("-", &format!("assumed, no source: {}", limit.cause)),
            other => paper.item("-", &other.to_string()),
        }
    }
    let assumed = plan.assessment.findings.iter().filter(|finding| finding.basis == Some(Basis::Assumed));
    let codes: Vec<_> = assumed.map(|finding| &finding.code).collect();
    if !codes.is_empty() {
        paper.item("-", &format!("findings that rest on something assumed: {}", listed(&codes, "none")));
    }
    paper.item(
        "-",
        "The plan rests on the description of the machine, on the labels as given and on the stock and prices of the \
         offers. The platform maker's manual, local rules and qualified people decide.",
    );
}

fn by_hand(paper: &mut Paper, afterwards: &str) {
    paper.heading("BY HAND (common practice; the maker's manual wins)");
    for step in [
        "Shut down, unplug every power cord, and wait as long as the maker says.",
        "Wear a wrist strap. Modules stay hot after shut-down. Hold them by the edges.",
        "Tag each module that comes out with its slot, and lay it on an antistatic tray.",
        "Match the notch to the key; where the map says \"turned\" the key faces the other way.",
        "Press both ends evenly until both latches click. Never force a module.",
        "Blanks, air baffle and lid go back before power. The first start can be long.",
    ] {
        paper.item("[ ]", step);
    }
    paper.item("[ ]", &format!("Read what the machine reports: it should be {afterwards}."));
}

fn signatures(paper: &mut Paper) {
    paper.heading("SIGNED");
    paper.line("");
    for (left, right) in [("Buyer", "Date"), ("Technician", "Date")] {
        let blank = |word: &str, width: usize| "_".repeat(width.saturating_sub(word.chars().count() + 1));
        paper.line(&format!("{left} {}  {right} {}", blank(left, WIDTH / 2), blank(right, WIDTH / 2 - 2)));
        paper.line("");
    }
}

fn infeasible(paper: &mut Paper, why: &WhyNot) {
    paper.entry("Result", "It cannot be done.");
    paper.heading("WHY NOT, AND WHAT COULD BE DONE");
    why.to_string().lines().for_each(|line| paper.line(line));
    for reachable in &why.reachable {
        if let (Some(best), Some(witness)) = (reachable.best(), reachable.witness()) {
            let modules = witness.population.modules().map(|(_, fitted)| fitted.module.to_string());
            paper.item("-", &format!("{best}, for example: {}", counted(modules, "an empty machine")));
        }
    }
}
