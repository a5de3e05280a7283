//! DDR3, one socket of three channels, two of three slots and one of two.

use std::sync::LazyLock;

use crate::module::{Generation, ModuleKind};
use crate::platform::{Platform, PlatformDescription, SlotsPerChannel, WorkedRow};
use crate::processor::{ModulePattern, Processor, ProcessorDescription};
use crate::reference::build::{
    Regular, counted_ranks_at_most, densities, processor, quad_rank, quad_rank_cap, quad_rank_limit, rates, rows,
    worked,
};
use crate::stated::{Demand, Stated};
use crate::unit::DataRate;

/// A one-socket DDR3 board of 8 slots at processor "1": channels A and B have three, C has two.
///
/// Its processor "plain": registered modules, 1333 MT/s, 1.5 V, dies of 1 and 2 Gb. A quad-rank module sits before
/// all others of its channel and bars three a channel. All of it is illustrative: a board's manual wins.
#[must_use]
pub fn ddr3_1s_uneven() -> Platform {
    static BUILT: LazyLock<Platform> = LazyLock::new(|| Platform::of_checked(description()));
    BUILT.clone()
}

pub(super) fn description() -> PlatformDescription {
    let slots = SlotsPerChannel::Each(vec![3, 3, 2]);
    let board = Regular { sockets: 1, controllers: 1, channels: 3, slots, order: "" };
    let mut platform = board.describe("ddr3-1s-uneven", Generation::Ddr3);
    platform.processors = vec![Processor::of_checked(plain())];
    platform.priority_along_channel = Some(Stated::assumed(Demand::Advised));
    platform.module_limits = vec![quad_rank_limit()];
    platform.shared_load_caps = vec![quad_rank_cap()];
    platform.worked_rows = worked_rows();
    platform
}

fn plain() -> ProcessorDescription {
    let registered = ModulePattern::kind(ModuleKind::Registered);
    let mut described = processor("plain", Generation::Ddr3, &[ModuleKind::Registered], DataRate::DDR3_1333);
    let table = [(registered, &[1333, 1066, 800][..]), (quad_rank(), &[1066, 800, 0])];
    described.rate_table = Some(rates(Generation::Ddr3, &table));
    described.die_densities_mbit = densities(&[1, 2]);
    described.rank_limits = counted_ranks_at_most(8);
    described
}

/// Common practice, no source.
fn worked_rows() -> Vec<WorkedRow> {
    let one = [("1", "plain")];
    let (dual, quad) = ("8GB 2Rx4 PC3-10600R-09-10-E1", "16GB 4Rx4 PC3-8500R-07-10-F0");
    rows([
        worked("3 dual-rank", &one).modules(dual, 3, "A1 B1 C1").rate(DataRate::DDR3_1333).gib(24),
        worked("6 dual-rank", &one).modules(dual, 6, "A1 B1 C1 A2 B2 C2").rate(DataRate::DDR3_1066).gib(48),
        worked("8 dual-rank", &one).modules(dual, 8, "").rate(DataRate::DDR3_800).gib(64),
        worked("6 quad-rank", &one).modules(quad, 6, "A1 B1 C1 A2 B2 C2").rate(DataRate::DDR3_800).gib(96),
        worked("quad-rank and 3 a channel", &one)
            .modules(quad, 1, "")
            .modules(dual, 6, "")
            .refused_by("shared-load-cap"),
        worked("8 quad-rank", &one).modules(quad, 8, "").refused_by("channel-ranks"),
    ])
}
