use serde::{Deserialize, Serialize};

use crate::acceptance::{AcceptanceCheck, AcceptanceRequest, SwapRequest, SwapTest, sound_report};
use crate::assess::{Assessment, ModeLeft, Planner};
use crate::ceiling::{Acceptance, Ceiling};
use crate::fill::{ArrangeRequest, Arrangement, EvenOut, EvenRequest, FillOrder};
use crate::module::MemoryModule;
use crate::open::{OpenAssessment, Questions};
use crate::population::{self, Layout, Observed, Population, Report, Sited};
use crate::purchase::{
    Axis, BreakEvenOutcome, Frontier, ModeAnswer, ModeRequest, Outcome, Plan, PlanRequest, Plans, Savings, Stages,
    StandIn, TotalsNear,
};
use crate::question::QuestionError;
use crate::unit::{Capacity, Name};
use crate::work_order::{FoundBad, HaltAt, OrderRequest, WayBack, WithoutAnswer, WorkOrder};

/// What is asked: a verb of [`Planner`] and what it needs.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(rename_all = "snake_case", deny_unknown_fields)]
#[non_exhaustive]
pub enum Ask {
    /// The best plan, or why there is none.
    #[default]
    Plan,
    /// So many of the best plans.
    Plans(usize),
    /// The plans that nothing beats on some axes.
    Frontier(Vec<Axis>),
    /// Between which prices of an offer the best plan stays the best.
    BreakEven(String),
    /// What accepting warnings would save.
    Savings,
    /// This request now and another one later.
    Stages(Box<PlanRequest>),
    /// What may replace the module in a slot.
    StandIns(String),
    /// The even totals around a wish.
    TotalsNear {
        /// The wish: usable memory.
        wish_mib: Capacity,
    },
    /// The request once a plan is carried out.
    After(Box<Plan>),
    /// Where a module fits, how many, and how fast.
    Accepts(MemoryModule),
    /// The most memory by kind and rate, of the modules that the standards know.
    Ceiling,
    /// The most memory of these modules.
    CeilingOf(Vec<MemoryModule>),
    /// Which slots so many modules fill.
    FillOrder(usize),
    /// The best slots for given modules.
    Arrange(ArrangeRequest),
    /// What would make a population even.
    EvenOut(EvenRequest),
    /// Figures and findings of a population.
    Assess(Population),
    /// The same of one that runs in the machine.
    AssessInUse(Population),
    /// Which redundancy modes a population meets.
    Modes(Population),
    /// How a population comes to meet the machine's redundancy mode.
    MeetMode(ModeRequest),
    /// What reports say is in the machine, laid on its board and narrowed by what runs.
    Lay(Observed),
    /// The same with answers to what is open.
    Settle {
        /// What is sited.
        sited: Box<Sited>,
        /// The answers.
        answers: Vec<population::Answer>,
    },
    /// What holds of a machine in every reading of its modules, and what in some.
    AssessOpen(Box<Sited>),
    /// What to find out before a plan is signed.
    Questions(Box<Sited>),
    /// What hands do to come from one population to another.
    WorkOrder(Box<OrderRequest>),
    /// The way back from a halt of an order.
    WayBack {
        /// The order.
        order: Box<WorkOrder>,
        /// The halt.
        halt: HaltAt,
        /// What was found bad.
        #[serde(default)]
        bad: Vec<FoundBad>,
    },
    /// The way back from after so many steps of an order.
    WayBackAfter {
        /// The order.
        order: Box<WorkOrder>,
        /// How many steps were done, blanks counted.
        steps: usize,
        /// What was found bad.
        #[serde(default)]
        bad: Vec<FoundBad>,
    },
    /// What is left when the modules of some slots fail.
    Without {
        /// What is fitted.
        population: Population,
        /// The slots.
        slots: Vec<Name>,
    },
    /// What a sound machine reports of a population.
    ExpectedReport(Population),
    /// Whether a machine reports what was planned, and why not.
    Acceptance(Box<AcceptanceRequest>),
    /// How to find out whether a fault follows a module or stays with its slot.
    SwapTest(SwapRequest),
}

/// What is answered: as a document, that of its verb.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(untagged)]
#[non_exhaustive]
#[allow(clippy::large_enum_variant)]
pub enum Answer {
    /// To [`Ask::Plan`].
    Plan(Outcome),
    /// To [`Ask::Plans`].
    Plans(Plans),
    /// To [`Ask::Frontier`].
    Frontier(Frontier),
    /// To [`Ask::BreakEven`].
    BreakEven(BreakEvenOutcome),
    /// To [`Ask::Savings`].
    Savings(Savings),
    /// To [`Ask::Stages`].
    Stages(Stages),
    /// To [`Ask::StandIns`].
    StandIns(Vec<StandIn>),
    /// To [`Ask::TotalsNear`].
    TotalsNear(TotalsNear),
    /// To [`Ask::After`].
    After(PlanRequest),
    /// To [`Ask::Accepts`].
    Accepts(Acceptance),
    /// To [`Ask::Ceiling`] and [`Ask::CeilingOf`].
    Ceiling(Ceiling),
    /// To [`Ask::FillOrder`]; nothing where there are not so many live slots.
    FillOrder(Option<FillOrder>),
    /// To [`Ask::Arrange`].
    Arrange(Arrangement),
    /// To [`Ask::EvenOut`].
    EvenOut(EvenOut),
    /// To [`Ask::Assess`] and [`Ask::AssessInUse`].
    Assessment(Assessment),
    /// To [`Ask::Modes`].
    Modes(Vec<ModeLeft>),
    /// To [`Ask::MeetMode`].
    MeetMode(ModeAnswer),
    /// To [`Ask::Lay`] and [`Ask::Settle`].
    Sited(Sited),
    /// To [`Ask::AssessOpen`].
    OpenAssessment(OpenAssessment),
    /// To [`Ask::Questions`].
    Questions(Questions),
    /// To [`Ask::WorkOrder`].
    WorkOrder(WorkOrder),
    /// To [`Ask::WayBack`] and [`Ask::WayBackAfter`].
    WayBack(WayBack),
    /// To [`Ask::Without`].
    Without(WithoutAnswer),
    /// To [`Ask::ExpectedReport`].
    ExpectedReport(Report),
    /// To [`Ask::Acceptance`].
    Acceptance(AcceptanceCheck),
    /// To [`Ask::SwapTest`].
    SwapTest(SwapTest),
}

impl Ask {
    /// Asks a planner, about a request where what is asked is about one.
    pub(crate) fn of(&self, planner: Planner<'_>, request: Option<&PlanRequest>) -> Result<Answer, QuestionError> {
        let request = || request.ok_or(QuestionError::NoRequest);
        let of = |ask| move |error| QuestionError::Population { ask, error };
        let accept = |ask| move |error| QuestionError::Acceptance { ask, error };
        let arrange = |ask, population| move |error| QuestionError::Arrange { ask, population, error };
        Ok(match self {
            Self::Plan => Answer::Plan(planner.plan(request()?)?),
            Self::Plans(most) => Answer::Plans(planner.plans(request()?, *most)?),
            Self::Frontier(axes) => Answer::Frontier(planner.frontier(request()?, axes.iter().copied())?),
            Self::BreakEven(offer) => Answer::BreakEven(planner.break_even(request()?, offer)?),
            Self::Savings => Answer::Savings(planner.savings(request()?)?),
            Self::Stages(later) => Answer::Stages(planner.stages(request()?, later)?),
            Self::StandIns(slot) => Answer::StandIns(planner.stand_ins(request()?, slot)?),
            Self::TotalsNear { wish_mib } => Answer::TotalsNear(planner.totals_near(request()?, *wish_mib)?),
            Self::After(plan) => Answer::After(request()?.after(plan)),
            Self::Accepts(module) => Answer::Accepts(planner.accepts(module)),
            Self::Ceiling => Answer::Ceiling(planner.ceiling()),
            Self::CeilingOf(modules) => Answer::Ceiling(planner.ceiling_of(modules)),
            Self::FillOrder(count) => Answer::FillOrder(planner.fill_order(*count)),
            Self::Arrange(request) => {
                Answer::Arrange(planner.arrange_with(request).map_err(arrange("arrange", "around"))?)
            }
            Self::EvenOut(request) => {
                Answer::EvenOut(planner.even_out_with(request).map_err(arrange("even_out", "population"))?)
            }
            Self::Assess(population) => Answer::Assessment(planner.assess(population).map_err(of("assess"))?),
            Self::AssessInUse(population) => {
                Answer::Assessment(planner.assess_in_use(population).map_err(of("assess_in_use"))?)
            }
            Self::Modes(population) => Answer::Modes(planner.modes(population).map_err(of("modes"))?),
            Self::MeetMode(request) => {
                Answer::MeetMode(planner.meet_mode_with(request).map_err(|error| QuestionError::Mode { error })?)
            }
            Self::Lay(observed) => Answer::Sited(planner.narrow(&observed.on(planner.machine().platform())?)),
            Self::Settle { sited, answers } => Answer::Sited(planner.narrow(&sited.settle(answers.iter().cloned())?)),
            Self::AssessOpen(sited) => Answer::OpenAssessment(planner.assess_open(sited)?),
            Self::Questions(sited) => Answer::Questions(planner.questions(sited, request()?)?),
            Self::WorkOrder(request) => Answer::WorkOrder(planner.work_order(request)?),
            Self::WayBack { order, halt, bad } => Answer::WayBack(planner.way_back(order, halt, bad)?),
            Self::WayBackAfter { order, steps, bad } => Answer::WayBack(planner.way_back_after(order, *steps, bad)?),
            Self::Without { population, slots } => Answer::Without(planner.without(population, slots)?),
            Self::ExpectedReport(population) => {
                Layout::new(planner.machine(), population).map_err(of("expected_report"))?;
                Answer::ExpectedReport(sound_report(planner.machine(), population))
            }
            Self::Acceptance(request) => Answer::Acceptance(planner.acceptance(request).map_err(accept("acceptance"))?),
            Self::SwapTest(request) => Answer::SwapTest(planner.swap_test(request).map_err(accept("swap_test"))?),
        })
    }
}
