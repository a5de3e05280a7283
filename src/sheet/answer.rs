//! The answer to a request: what is asked, what to buy, where everything goes, why it runs as it does.

use crate::figure::RateLimit;
use crate::finding::{Finding, Severity};
use crate::population::Population;
use crate::purchase::{Outcome, Plan, PlanNote, StopReason, WhyNot};
use crate::sheet::job::is_assumed;
use crate::sheet::{Job, Section, Sheet, buying, slots, wishes};
use crate::unit::DataRate;

/// Texts between commas; `nothing` where there are none.
pub(super) fn listed<T: ToString>(texts: impl IntoIterator<Item = T>, nothing: &str) -> String {
    let texts: Vec<String> = texts.into_iter().map(|text| text.to_string()).collect();
    if texts.is_empty() { nothing.to_owned() } else { texts.join(", ") }
}

/// The modules of a population as "8 x text"; `nothing` where there are none.
pub(super) fn counted(population: &Population, nothing: &str) -> String {
    let telling = population.telling();
    let mut counts = std::collections::BTreeMap::new();
    for (_, fitted) in population.modules() {
        *counts.entry(telling.text(&fitted.module)).or_insert(0_usize) += 1;
    }
    listed(counts.into_iter().map(|(text, count)| format!("{count} x {text}")), nothing)
}

impl Job<'_> {
    /// The answer to the request on one sheet: what was asked, the result and what proves it, the order, the slots before and
    /// after, the running rate with what binds it, findings, what the answer rests on. Where nothing can be done: why not, and
    /// what could be.
    #[must_use]
    pub fn answer(&self, outcome: &Outcome) -> Sheet {
        let open = self.questions.filter(|questions| !questions.questions.is_empty());
        let mut head = self.asked();
        if open.is_some() {
            head = head.entry(
                "Open",
                "Reports leave facts open that decide what is bought or moved; see below what to find out.",
            );
        }
        let mut sheet = Sheet::new(format!("MEMORY PLAN   {}", self.title));
        let find_out = open.map(|questions| Section::new("TO FIND OUT FIRST").lines(&questions.to_string()));
        match outcome {
            Outcome::Optimal(plan) => {
                let proof = "Proved: no plan that the request allows is better.";
                sheet = sheet.section(result(head, plan, proof)).section(find_out.unwrap_or_default());
                self.planned(sheet, plan)
            }
            Outcome::Infeasible(why) => {
                let mut said = "It cannot be done.".to_owned();
                if open.is_some() {
                    said = format!("NOT DECIDED: what is open above decides. With no more than is known: {said}");
                }
                sheet = sheet.section(head.entry("Result", said)).section(find_out.unwrap_or_default());
                sheet.section(infeasible(why)).section(self.foundation([]))
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
                let find_out = find_out.unwrap_or_default();
                match best {
                    Some(plan) => {
                        let head = result(head, plan, &format!("{said} This is the best plan so far."));
                        self.planned(sheet.section(head).section(find_out), plan)
                    }
                    None => sheet
                        .section(head.entry("Result", format!("{said} No plan was found so far.")))
                        .section(find_out)
                        .section(self.foundation([])),
                }
            }
        }
    }

    /// The machine and what is wished for.
    pub(super) fn asked(&self) -> Section {
        let platform = self.machine.platform();
        let processors = self
            .machine
            .processors()
            .map(|(socket, processor)| format!("{} in socket {}", processor.name(), platform.socket(socket).label));
        let options = listed(self.machine.options().map(|option| &option.name), "none");
        Section::plain()
            .entry("Machine", format!("{}, {} mode; options: {options}", platform.name(), self.machine.mode()))
            .entry("Processors", listed(processors, "none"))
            .entry("Fitted now", counted(&self.request.present.population, "nothing"))
            .entry("Asked", wishes::wishes(self.request).join("; "))
    }

    fn planned(&self, sheet: Sheet, plan: &Plan) -> Sheet {
        sheet
            .section(buying::order(self.request, plan))
            .section(buying::money(self.request, plan))
            .section(slots::before_and_after(self.machine, &self.request.present.population, plan))
            .section(running_rate(plan))
            .section(findings(plan))
            .section(self.foundation(self.assumed_of(plan)))
            .section(Section::new("SIGNED").blanks(["Buyer", "Date"]).blanks(["Technician", "Date"]))
    }

    /// What a plan says of itself, and what in it is assumed.
    pub(super) fn assumed_of(&self, plan: &Plan) -> Vec<String> {
        let mut assumed: Vec<String> = plan
            .notes
            .iter()
            .map(|note| match note {
                // the limits are said above; here it is enough that they are assumed
                PlanNote::Assumed { limit } => format!("assumed, no source: {}", limit.cause),
                other => other.to_string(),
            })
            .collect();
        let findings = plan.assessment.findings.iter().filter(|finding| is_assumed(finding.basis));
        let codes: Vec<_> = findings.map(|finding| &finding.code).collect();
        if !codes.is_empty() {
            assumed.push(format!("findings that rest on something assumed: {}", listed(codes, "none")));
        }
        assumed.push("the labels as given, and the stock and prices of the offers".to_owned());
        assumed
    }
}

/// "384 GB running at 2400 MT/s for 259.40 EUR."
fn result(head: Section, plan: &Plan, proof: &str) -> Section {
    let total = plan.assessment.figures.usable.total_mib;
    let rate = plan.running_rate().map_or("at a rate that is not known".to_owned(), |rate| format!("at {rate}"));
    let (each, together) = match plan.machines {
        1 => (String::new(), ""),
        machines => (format!("{machines} machines, each: "), " together"),
    };
    let head = head.entry("Result", format!("{each}{total} running {rate} for {}{together}. {proof}", plan.cost.total));
    match &plan.without_warnings {
        Some(clean) => head.entry("", format!("The cheapest plan without warnings costs {}.", clean.cost.total)),
        None => head,
    }
}

fn running_rate(plan: &Plan) -> Section {
    let figures = &plan.assessment.figures;
    let mut section = Section::new("RUNNING RATE AND WHAT BINDS IT");
    for domain in &figures.running_rate.domains {
        let (Some(rate), Some(voltage)) = (domain.rate_mts, domain.voltage.voltage_mv) else {
            section = section.line(domain.to_string());
            continue;
        };
        section = section
            .line(format!("{rate} at {voltage}, processors {}.", listed(&domain.sockets, "none")))
            .items(domain.binding().map(|limit| binding(limit, rate)));
    }
    section
        .entry("Memory", format!("{}.", figures.amounts()))
        .entry("Interleave", figures.interleave.to_string())
        .entry("Bandwidth", format!("{}. An estimate: programs see less.", figures.bandwidth))
        .entry("Free slots", format!("{}: {}", plan.free_slots.len(), listed(&plan.free_slots, "none")))
}

fn binding(limit: &RateLimit, rate: DataRate) -> String {
    match limit.lifted_mts.filter(|lifted| *lifted != rate) {
        Some(lifted) => format!("{limit}; without it {lifted}"),
        None => format!("{limit}; lifting it alone does not help"),
    }
}

pub(super) fn findings(plan: &Plan) -> Section {
    let mark = |finding: &Finding| match (plan.was_so_before.contains(finding), finding.severity) {
        (true, _) => " (was so before)",
        (false, Severity::Warning | Severity::Error) => " (accepted)",
        (false, Severity::Note) => "",
    };
    let section = Section::new("FINDINGS");
    if plan.assessment.findings.is_empty() {
        return section.line("None.");
    }
    section.items(plan.assessment.findings.iter().map(|finding| format!("{finding}{}", mark(finding))))
}

fn infeasible(why: &WhyNot) -> Section {
    let mut section = Section::new("WHY NOT, AND WHAT COULD BE DONE").lines(&why.to_string());
    for reachable in &why.reachable {
        if let (Some(best), Some(witness)) = (reachable.best(), reachable.witness()) {
            section =
                section.items([format!("{best}, for example: {}", counted(&witness.population, "an empty machine"))]);
        }
    }
    section
}
