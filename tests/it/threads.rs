//! What may be handed from one thread to another.

use slotwright::assess::{Assessment, Planner, Progress, SearchSize, SharedPlanner, StopReason};
use slotwright::ceiling::{Acceptance, Ceiling};
use slotwright::figure::Figures;
use slotwright::fill::{ArrangeError, ArrangeRequest, Arrangement, EvenOut, FillOrder, NoArrangement};
use slotwright::finding::{Finding, Place};
use slotwright::machine::{Machine, MachineDescription, MachineError};
use slotwright::module::{Label, LabelError, MemoryModule, ModuleError};
use slotwright::platform::{Platform, PlatformDescription, PlatformError};
use slotwright::population::{Layout, Population, PopulationError};
use slotwright::processor::{Processor, ProcessorDescription, ProcessorError};
use slotwright::purchase::{
    BreakEven, BreakEvenOutcome, Frontier, ModeAnswer, ModeChange, Offer, Outcome, Plan, PlanRequest, Plans,
    RequestError, RequestProblem, Requirement, Savings, Sequence, ShelfItem, Stages, StandIn, TotalsNear, WhyNot,
};
use slotwright::question::{Answer, Question, QuestionError};
use slotwright::rule::{Hint, Rule, RuleBook, RuleBookError, RuleSettings};
use slotwright::unit::{Capacity, Cost, DataRate, Name, Price};
use slotwright::worked::WorkedResult;

const fn crosses<T: Send + Sync + 'static>() {}
const fn crosses_for_a_time<T: Send + Sync>() {}

/// Holds while the crate's tests compile.
#[test]
fn every_answer_is_send_and_sync() {
    const {
        // questions
        crosses::<Machine>();
        crosses::<SharedPlanner>();
        crosses::<Question>();
        crosses::<Answer>();
        crosses::<QuestionError>();
        crosses::<MachineDescription>();
        crosses::<Platform>();
        crosses::<PlatformDescription>();
        crosses::<Processor>();
        crosses::<ProcessorDescription>();
        crosses::<MemoryModule>();
        crosses::<Label>();
        crosses::<Population>();
        crosses::<ArrangeRequest>();
        crosses::<PlanRequest>();
        crosses::<Offer>();
        crosses::<ShelfItem>();
        crosses::<Requirement>();
        crosses::<RuleBook>();
        crosses::<RuleSettings>();
        crosses::<Rule>();
        crosses::<Hint>();
        // answers
        crosses::<Assessment>();
        crosses::<Figures>();
        crosses::<Finding>();
        crosses::<Place>();
        crosses::<Acceptance>();
        crosses::<Ceiling>();
        crosses::<FillOrder>();
        crosses::<Arrangement>();
        crosses::<EvenOut>();
        crosses::<Outcome>();
        crosses::<Plan>();
        crosses::<WhyNot>();
        crosses::<Plans>();
        crosses::<Frontier>();
        crosses::<BreakEven>();
        crosses::<BreakEvenOutcome>();
        crosses::<Savings>();
        crosses::<Stages>();
        crosses::<Sequence>();
        crosses::<StandIn>();
        crosses::<ModeChange>();
        crosses::<ModeAnswer>();
        crosses::<TotalsNear>();
        crosses::<WorkedResult>();
        crosses::<Progress>();
        crosses::<StopReason>();
        crosses::<SearchSize>();
        crosses::<(Capacity, Cost, DataRate, Name, Price)>();
        // errors
        crosses::<ArrangeError>();
        crosses::<NoArrangement>();
        crosses::<LabelError>();
        crosses::<MachineError>();
        crosses::<ModuleError>();
        crosses::<PlatformError>();
        crosses::<PopulationError>();
        crosses::<ProcessorError>();
        crosses::<RequestError>();
        crosses::<RequestProblem>();
        crosses::<RuleBookError>();
        // what borrows
        crosses_for_a_time::<Planner<'_>>();
        crosses_for_a_time::<Layout<'_>>();
    }
}
