//! DDR4, one socket of two channels of two slots, for unbuffered modules.

use std::sync::LazyLock;

use std::collections::BTreeSet;

use crate::module::{Ecc, Generation, ModuleKind};
use crate::platform::{FillPriority, Platform, PlatformDescription, WorkedRow};
use crate::processor::{ModulePattern, Processor, ProcessorDescription};
use crate::reference::build::{Regular, counted_ranks_at_most, densities, processor, rates, rows, worked};
use crate::stated::Stated;
use crate::unit::DataRate;

/// A one-socket DDR4 board of 4 slots, "A1" to "B2" at processor "1", for unbuffered modules with or without
/// error correction.
///
/// Its processors, both 2666 MT/s and four ranks a channel: "earlier", dies of 4 and 8 Gb; "later", dies of
/// 16 Gb too. All of it is illustrative: a board's manual wins.
#[must_use]
pub fn ddr4_1s_2ch_2spc_unbuffered() -> Platform {
    static BUILT: LazyLock<Platform> = LazyLock::new(|| Platform::of_checked(description()));
    BUILT.clone()
}

pub(super) fn description() -> PlatformDescription {
    let board = Regular { sockets: 1, controllers: 1, channels: 2, slots: 2.into(), order: "" };
    let mut platform = board.describe("ddr4-1s-2ch-2spc-unbuffered", Generation::Ddr4);
    let (earlier, later) = (with("earlier", &[4, 8]), with("later", &[4, 8, 16]));
    platform.processors = [earlier, later].map(Processor::of_checked).to_vec();
    platform.fill_priority = FillPriority::CapacityFirst;
    platform.worked_rows = worked_rows();
    platform
}

fn with(name: &str, gbit: &[u32]) -> ProcessorDescription {
    let mut described = processor(name, Generation::Ddr4, &[ModuleKind::Unbuffered], DataRate::DDR4_2666);
    let table = [(ModulePattern::kind(ModuleKind::Unbuffered), &[2666, 2666][..])];
    described.rate_table = Some(rates(Generation::Ddr4, &table));
    described.die_densities_mbit = densities(gbit);
    described.ecc = Some(Stated::assumed(BTreeSet::from([Ecc::None, Ecc::Ecc])));
    described.rank_limits = counted_ranks_at_most(4);
    described
}

/// Common practice, no source.
fn worked_rows() -> Vec<WorkedRow> {
    let (earlier, later) = ([("1", "earlier")], [("1", "later")]);
    let (of_8, of_16) = ("8GB 1Rx8 PC4-2666V-ED1-11", "16GB 2Rx8 PC4-2666V-EB1-11");
    let of_32 = "32GB 2Rx8 PC4-3200AA-EE1-11";
    rows([
        worked("1 module", &earlier).modules(of_16, 1, "A1").rate(DataRate::DDR4_2666).gib(16),
        worked("2 modules", &earlier).modules(of_16, 2, "A1 B1").rate(DataRate::DDR4_2666).gib(32),
        worked("4 modules", &earlier).modules(of_16, 4, "").rate(DataRate::DDR4_2666).gib(64),
        worked("two sizes", &earlier).modules(of_16, 2, "A1 B1").modules(of_8, 2, "A2 B2").gib(48),
        worked("4 x 32 GB", &later).modules(of_32, 4, "").rate(DataRate::DDR4_2666).gib(128),
        worked("16 Gb dies, earlier", &earlier).modules(of_32, 4, "").refused_by("die-density"),
        worked("with and without error correction", &earlier)
            .modules(of_16, 2, "")
            .modules("16GB 2Rx8 PC4-2666V-UB1-11", 2, "")
            .refused_by("ecc-mix"),
        worked("registered", &earlier).modules("16GB 2Rx8 PC4-2666V-RE1-11", 2, "").refused_by("kind-accepted"),
        worked("small-outline", &earlier).modules("16GB 2Rx8 PC4-2666V-TB1-11", 2, "").refused_by("form-factor"),
    ])
}
