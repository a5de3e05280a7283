//! What a board offers: sockets, controllers, channels and slots, and its tables and policies.
//!
//! A [`Platform`] is a checked [`PlatformDescription`]; the description is also its document.

mod board;
mod check;
mod description;
mod fill_rows;
mod gaps;
mod hands;
mod index;
mod map;
mod mode_problem;
mod modes;
mod options;
mod pattern;
mod patterns;
mod policies;
mod problem;
mod row_lines;
mod sizes;
mod warning;
mod worked_row;

pub use board::{
    ChannelDescription, ControllerDescription, KeyFacing, SlotAddress, SlotDescription, SocketDescription,
};
pub use description::PlatformDescription;
pub use fill_rows::{CountRow, FillRow, FillSlot};
pub(crate) use gaps::Matters;
pub use gaps::{Gap, Harm};
pub use hands::{FirmwareNeed, Hands, Latches, MappedOut, NeededBy};
pub use index::{Channel, ChannelId, Platform, Slot, SlotId, Socket, SocketId};
pub use map::SlotMap;
pub use modes::{ChannelGroup, ChannelMinimum, DomainScheme, Domains, Identical, Mode, Redundancy};
pub use options::{PlatformOption, PowerProfile, Settings};
pub use pattern::{
    AddressPattern, BoardPattern, BoardProblem, ChannelEnd, ChannelLabels, KeyFacings, LabelPattern, LabelPatternError,
    LabelPiece, ProcessorTurns, SlotAt, SlotLabels, SlotOverride, SlotsPerChannel, Turns,
};
pub use policies::{
    ChannelBan, FillPriority, ModuleLimit, PairBan, PositionOrder, RankPair, RanksMeet, RatePolicy, SameRankCount,
    SharedLoadCap, UnlikeGrades, UnlikeVoltages,
};
pub use problem::{PlatformError, PlatformProblem};
pub use row_lines::RowLineError;
pub use sizes::RelativeSize;
pub(crate) use sizes::TwoSizes;
pub use warning::PlatformWarning;
pub use worked_row::{WorkedModules, WorkedRow};
