//! Where modules go: the fill order, and the best legal arrangement of given modules.

mod arrange;
mod arrangement;
mod before;
mod beside;
mod candidate;
mod choices;
mod common;
mod demand;
mod descend;
mod drive;
#[cfg(test)]
mod effort;
mod even;
mod evening;
mod exempt;
mod filters;
mod followed_row;
mod grow;
mod in_force;
mod index;
mod job;
mod legal_loads;
mod level;
mod load_facts;
mod loads;
mod looks;
mod marks;
mod mixing;
mod order;
mod pace;
mod place;
mod placed;
mod profiles;
mod rates;
mod reach;
mod reachable;
mod reasons;
mod repeats;
mod rows;
mod share_out;
mod slot_model;
mod slot_plan;
mod spares;
mod split;
mod state_space;
mod sums;
mod target;
mod text;
mod told_apart;
mod twins;
mod without;

pub use arrange::{ArrangeError, ArrangeRequest, Pieces};
pub use arrangement::{Arrangement, Illegal, Legal, NoArrangement, SlotReason, SlotUse};
pub use even::{EvenOut, EvenRequest, Evened};
pub use followed_row::FollowedRow;
pub use order::FillOrder;

pub(crate) use arrange::kept_empty;
pub(crate) use before::Before;
pub(crate) use candidate::{bare, breaks_rows, by_turn, followed, judge, spread};
pub(crate) use demand::{Demand, Present, ToMatch, Usable};
pub(crate) use in_force::{MixInForce, RulesInForce};
pub(crate) use index::{
    BesideIx, ChannelIx, ClassId, CommonIx, HeldIx, KeyIx, KindIx, LikeGroup, LowerIx, MateIx, PlaceId, PresentGroup,
    ShapeIx, SocketIx, SortIx, SpareIx, StepIx, VectorIx, WayIx,
};
pub(crate) use legal_loads::{ONE_LOAD, free_slots};
pub(crate) use level::{Level, step_under};
pub(crate) use load_facts::LoadFacts;
pub(crate) use place::place;
pub(crate) use placed::{Placed, Rank};
pub(crate) use share_out::share_out;
pub(crate) use slot_model::{Contents, SlotModel};
pub(crate) use told_apart::ToldApart;
pub(crate) use without::{fewest_without, said, said_first};
