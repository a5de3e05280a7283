//! DDR3, one socket of three channels of three slots.

use std::sync::LazyLock;

use crate::module::{Ecc, Generation, ModuleKind};
use crate::platform::{ModuleLimit, Platform, PlatformDescription, WorkedRow};
use crate::processor::{ModulePattern, Processor, ProcessorDescription};
use crate::reference::build::{
    Regular, check_bits, counted_ranks_at_most, densities, processor, quad_rank, quad_rank_cap, quad_rank_limit, rates,
    rows, worked,
};
use crate::stated::{Demand, Stated};
use crate::unit::DataRate;

/// A one-socket DDR3 board of 9 slots, "A1" to "C3" at processor "1".
///
/// Its processor "plain": registered and unbuffered modules, all with error correction, 1333 MT/s, 1.5 V, dies of
/// 1 and 2 Gb. A quad-rank module sits before all others of its channel and bars three a channel. All of it is
/// illustrative: a board's manual wins.
#[must_use]
pub fn ddr3_1s_3ch_3spc() -> Platform {
    static BUILT: LazyLock<Platform> = LazyLock::new(|| Platform::of_checked(description()));
    BUILT.clone()
}

pub(super) fn description() -> PlatformDescription {
    let board = Regular { sockets: 1, controllers: 1, channels: 3, slots: 3.into(), order: "" };
    let mut platform = board.describe("ddr3-1s-3ch-3spc", Generation::Ddr3);
    platform.processors = vec![Processor::of_checked(plain())];
    platform.priority_along_channel = Some(Stated::assumed(Demand::Advised));
    platform.module_limits = vec![quad_rank_limit(), two_unbuffered()];
    platform.shared_load_caps = vec![quad_rank_cap()];
    platform.worked_rows = worked_rows();
    platform
}

/// At most two unbuffered modules a channel. Common practice, no source.
fn two_unbuffered() -> Stated<ModuleLimit> {
    Stated::assumed(ModuleLimit {
        module: ModulePattern::kind(ModuleKind::Unbuffered),
        at_most_per_channel: Some(2),
        barred_positions: Vec::new(),
        first_in_channel: false,
    })
}

fn plain() -> ProcessorDescription {
    let (registered, unbuffered) = (ModuleKind::Registered, ModuleKind::Unbuffered);
    let mut described = processor("plain", Generation::Ddr3, &[registered, unbuffered], DataRate::DDR3_1333);
    let table = [
        (ModulePattern::kind(registered), &[1333, 1066, 800][..]),
        (quad_rank(), &[1066, 800, 0]),
        (ModulePattern::kind(unbuffered), &[1333, 1066, 0]),
    ];
    described.rate_table = Some(rates(Generation::Ddr3, &table));
    described.die_densities_mbit = densities(&[1, 2]);
    described.rank_limits = counted_ranks_at_most(8);
    described.ecc = check_bits(&[Ecc::Ecc]);
    described
}

/// Common practice, no source.
fn worked_rows() -> Vec<WorkedRow> {
    let one = [("1", "plain")];
    let (dual, quad) = ("8GB 2Rx4 PC3-10600R-09-10-E1", "16GB 4Rx4 PC3-8500R-07-10-F0");
    let unbuffered = "4GB 2Rx8 PC3-10600E-09-10-B0";
    rows([
        worked("3 dual-rank", &one).modules(dual, 3, "A1 B1 C1").rate(DataRate::DDR3_1333).gib(24),
        worked("6 dual-rank", &one).modules(dual, 6, "A1 B1 C1 A2 B2 C2").rate(DataRate::DDR3_1066).gib(48),
        worked("9 dual-rank", &one).modules(dual, 9, "").rate(DataRate::DDR3_800).gib(72),
        worked("3 quad-rank", &one).modules(quad, 3, "A1 B1 C1").rate(DataRate::DDR3_1066).gib(48),
        worked("6 quad-rank", &one).modules(quad, 6, "A1 B1 C1 A2 B2 C2").rate(DataRate::DDR3_800).gib(96),
        worked("7 quad-rank", &one).modules(quad, 7, "").refused_by("module-limit"),
        worked("6 unbuffered", &one).modules(unbuffered, 6, "").rate(DataRate::DDR3_1066).gib(24),
        worked("7 unbuffered", &one).modules(unbuffered, 7, "").refused_by("module-limit"),
        worked("quad-rank and 2 a channel", &one)
            .modules(quad, 1, "A1")
            .modules(dual, 5, "B1 C1 A2 B2 C2")
            .rate(DataRate::DDR3_800)
            .gib(56),
        worked("quad-rank and 3 a channel", &one)
            .modules(quad, 1, "")
            .modules(dual, 6, "")
            .refused_by("shared-load-cap"),
        worked("without error correction", &one)
            .modules("4GB 2Rx8 PC3-10600U-09-10-B0", 3, "")
            .refused_by("ecc-accepted"),
        worked("4 Gb dies", &one).modules("16GB 2Rx4 PC3-10600R-09-11-E2", 3, "").refused_by("die-density"),
        worked("two kinds", &one).modules(dual, 3, "").modules(unbuffered, 3, "").refused_by("kind-mix"),
    ])
}
