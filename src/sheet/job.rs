use crate::acceptance::RecordedTest;
use crate::machine::Machine;
use crate::open::Questions;
use crate::population::{ReportDate, Sited};
use crate::purchase::PlanRequest;
use crate::sheet::Section;
use crate::stated::Basis;

/// What sheets of one piece of work have in common: its title, the machine, what was asked, and what it rests on.
///
/// ```
/// use slotwright::sheet::Job;
/// use slotwright::{Capacity, Label, Machine, Offer, Outcome, PlanRequest, Planner, Price, RuleBook, reference};
///
/// let machine = Machine::builder(reference::ddr4_2s_4ch_3spc()).processor_named("1", "later").build()?;
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let offer = Offer::new("lot-7".parse()?, module, Price::new(4_500, "EUR".parse()?), 40);
/// let request = PlanRequest::new().usable_at_least(Capacity::from_gib(128)).offer(offer);
/// let outcome = Planner::new(&machine, &RuleBook::standard()).plan(&request)?;
///
/// let job = Job::new("Order 12: one machine", &machine, &request);
/// let page = job.answer(&outcome).to_text(100);
/// assert!(page.contains("128 GB running at 2400 MT/s for 180.00 EUR. Proved"));
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone)]
#[non_exhaustive]
pub struct Job<'a> {
    /// What it is called.
    pub title: &'a str,
    /// The machine.
    pub machine: &'a Machine,
    /// What was asked.
    pub request: &'a PlanRequest,
    /// What reports tell of the machine, where what is present was read from these.
    pub sited: Option<&'a Sited>,
    /// What is to be found out first.
    pub questions: Option<&'a Questions>,
    /// Tests that were run on the machine, in the caller's word.
    pub tests: &'a [RecordedTest],
    /// Dates, in the caller's word, each with what it is of.
    pub dates: Vec<(String, ReportDate)>,
}

impl<'a> Job<'a> {
    /// A job on a machine.
    #[must_use]
    pub const fn new(title: &'a str, machine: &'a Machine, request: &'a PlanRequest) -> Self {
        Self { title, machine, request, sited: None, questions: None, tests: &[], dates: Vec::new() }
    }

    setters! {
        some sited(sited: &'a Sited);
        some questions(questions: &'a Questions);
        value tests(tests: &'a [RecordedTest]);
    }

    /// Adds a date, and what it is of: "prices of".
    #[must_use]
    pub fn date(mut self, of: impl Into<String>, date: ReportDate) -> Self {
        self.dates.push((of.into(), date));
        self
    }

    /// What every sheet ends with: what it rests on, and who decides.
    pub(super) fn foundation(&self, assumed: impl IntoIterator<Item = String>) -> Section {
        let mut section = Section::new("WHAT THIS RESTS ON");
        let platform = self.machine.platform();
        let mut text = format!("description {}", platform.name());
        let gaps = platform.gaps().len();
        text.push_str(&match gaps {
            0 => "; nothing is left out of it".to_owned(),
            1 => "; 1 optional fact is left out of it".to_owned(),
            _ => format!("; {gaps} optional facts are left out of it"),
        });
        text.push_str("; what is marked assumed in it has no source");
        section = section.items([text]);
        let processors = self.machine.processors().map(|(socket, processor)| {
            format!("processor {} in socket {}", processor.name(), platform.socket(socket).label)
        });
        let processors: Vec<String> = processors.collect();
        section = section.items((!processors.is_empty()).then(|| processors.join(", ")));
        section = section.items(assumed);
        if let Some(sited) = self.sited {
            section = section
                .items(sited.assumed.iter().map(|assumed| format!("of what is reported: {assumed}")))
                .items(sited.disagreements.iter().map(|one| format!("reports disagree: {one}")))
                .items(sited.held_back().map(|slot| format!("the module in {slot} is held back")))
                .items(self.open_facts(sited));
        }
        section
            .items(self.dates.iter().map(|(of, date)| format!("{of} {date}")))
            .items(["The platform maker's manual, local rules and qualified people decide."])
    }

    /// The facts that reports leave open, slots of the same together.
    fn open_facts(&self, sited: &Sited) -> Vec<String> {
        let mut open: Vec<(String, Vec<&str>)> = Vec::new();
        for slot in &sited.slots {
            let Some(module) = sited.module_in(slot.slot.as_str()) else { continue };
            let facts = module.open_facts();
            if facts.is_empty() {
                continue;
            }
            let facts: Vec<String> = facts.iter().map(ToString::to_string).collect();
            let facts = facts.join(", ");
            match open.iter_mut().find(|(known, _)| *known == facts) {
                Some((_, slots)) => slots.push(slot.slot.as_str()),
                None => open.push((facts, vec![slot.slot.as_str()])),
            }
        }
        open.into_iter().map(|(facts, slots)| format!("open: {facts} of what is in {}", slots.join(", "))).collect()
    }
}

/// Whether a basis is none at all.
pub(super) const fn is_assumed(basis: Option<Basis>) -> bool {
    matches!(basis, Some(Basis::Assumed))
}
