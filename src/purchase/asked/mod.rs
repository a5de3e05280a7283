//! What is asked: documents.

mod axis;
mod check;
mod condition;
mod mode_request;
mod offer;
mod offers;
mod problem;
mod request;
mod requirement;

pub use axis::Axis;
pub use condition::Condition;
pub use mode_request::ModeRequest;
pub use offer::{Offer, QuantityBreak, ShelfItem};
pub use offers::Offers;
pub use problem::{MustGo, RequestError, RequestProblem};
pub use request::{PlanRequest, Present};
pub use requirement::Requirement;
