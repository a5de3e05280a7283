//! DDR4, two sockets of four channels of two slots.

use std::sync::LazyLock;

use std::collections::BTreeSet;

use crate::module::{Generation, ModuleKind};
use crate::platform::{Platform, PlatformDescription, WorkedRow};
use crate::processor::{ModulePattern, Processor, ProcessorDescription};
use crate::reference::build::{
    Rates, Regular, counted_ranks_at_most, densities, modes_of_pairs, processor, quad_rank_first, rates, rows, worked,
};
use crate::stated::{Demand, Stated};
use crate::unit::{DataRate, Name};

/// A two-socket DDR4 board of 16 slots, "A1" to "D2" at processor "1" and "E1" to "H2" at processor "2".
///
/// Its processors: "earlier", 2133 MT/s, no stacked modules; "later", 2400 MT/s. Both take dies of 4 and
/// 8 Gb. A quad-rank registered module sits before all others of its channel. Its modes: "mirrored" and "paired" join
/// channels A with B, C with D and so on; "spare-rank". All of it is illustrative: a board's manual wins.
#[must_use]
pub fn ddr4_2s_4ch_2spc() -> Platform {
    static BUILT: LazyLock<Platform> = LazyLock::new(|| Platform::of_checked(description()));
    BUILT.clone()
}

pub(super) fn description() -> PlatformDescription {
    let board = Regular { sockets: 2, controllers: 1, channels: 4, slots: 2.into(), order: "" };
    let mut platform = board.describe("ddr4-2s-4ch-2spc", Generation::Ddr4);
    platform.processors = [earlier(), later()].map(Processor::of_checked).to_vec();
    platform.accepted_processors = Some(Stated::assumed(["earlier", "later"].map(Name::lossy).to_vec()));
    platform.priority_along_channel = Some(Stated::assumed(Demand::Advised));
    platform.module_limits = vec![Stated::assumed(quad_rank_first())];
    platform.modes = modes_of_pairs(&platform);
    platform.worked_rows = worked_rows();
    platform
}

fn earlier() -> ProcessorDescription {
    let registered = ModulePattern::kind(ModuleKind::Registered);
    let load_reduced = ModulePattern::kind(ModuleKind::LoadReduced);
    let table =
        [(registered.clone(), &[2133, 1866][..]), (registered.ranks(4), &[1866, 1600]), (load_reduced, &[2133, 2133])];
    let mut described = with_rates("earlier", DataRate::DDR4_2133, &table);
    described.stack_heights = Some(Stated::assumed(BTreeSet::from([1])));
    described
}

fn later() -> ProcessorDescription {
    let registered = ModulePattern::kind(ModuleKind::Registered);
    let load_reduced = ModulePattern::kind(ModuleKind::LoadReduced);
    let table =
        [(registered.clone(), &[2400, 2133][..]), (registered.ranks(4), &[2133, 1866]), (load_reduced, &[2400, 2400])];
    with_rates("later", DataRate::DDR4_2400, &table)
}

fn with_rates(name: &str, max_rate: DataRate, table: &[Rates]) -> ProcessorDescription {
    let kinds = [ModuleKind::Registered, ModuleKind::LoadReduced];
    let mut described = processor(name, Generation::Ddr4, &kinds, max_rate);
    described.rate_table = Some(rates(Generation::Ddr4, table));
    described.die_densities_mbit = densities(&[4, 8]);
    described.rank_limits = counted_ranks_at_most(8);
    described
}

/// Common practice, no source.
fn worked_rows() -> Vec<WorkedRow> {
    let earlier = [("1", "earlier"), ("2", "earlier")];
    let later = [("1", "later"), ("2", "later")];
    let (registered, reduced) = ("32GB 2Rx4 PC4-2400T-RB2-11", "64GB 4DRx4 PC4-2400T-LD1-11");
    let first = "A1 B1 C1 D1 E1 F1 G1 H1";
    let single = "8GB 1Rx8 PC4-2400T-RD1-11";
    rows([
        worked("8 registered", &later).modules(registered, 8, first).rate(DataRate::DDR4_2400).gib(256),
        worked("16 registered", &later).modules(registered, 16, "").rate(DataRate::DDR4_2133).gib(512),
        worked("16 registered, earlier", &earlier).modules(registered, 16, "").rate(DataRate::DDR4_1866).gib(512),
        worked("16 load-reduced", &later).modules(reduced, 16, "").rate(DataRate::DDR4_2400).gib(1024),
        worked("3 at one processor", &[("1", "later")]).modules(registered, 3, "A1 B1 C1").gib(96),
        worked("quad-rank first", &later)
            .modules("32GB 4Rx4 PC4-2133P-RA0-10", 8, first)
            .modules(registered, 8, "A2 B2 C2 D2 E2 F2 G2 H2")
            .rate(DataRate::DDR4_1866)
            .gib(512),
        worked("8 mirrored", &later).mode("mirrored").modules(registered, 8, first).gib(256).usable(128),
        worked("3 mirrored", &[("1", "later")]).mode("mirrored").modules(registered, 3, "").refused_by("mode-unmet"),
        worked("8 paired", &later).mode("paired").modules(registered, 8, first).gib(256).usable(256),
        worked("3 paired", &[("1", "later")]).mode("paired").modules(registered, 3, "").refused_by("mode-unmet"),
        worked("16 with a spare rank", &later).mode("spare-rank").modules(registered, 16, "").usable(384),
        worked("16 single-rank with a spare rank", &later)
            .mode("spare-rank")
            .modules(single, 16, "")
            .gib(128)
            .usable(64),
        worked("1 single-rank with a spare rank", &[("1", "later")])
            .mode("spare-rank")
            .modules(single, 1, "")
            .refused_by("spare-rank"),
        worked("two kinds", &later).modules(registered, 8, "").modules(reduced, 8, "").refused_by("kind-mix"),
        worked("16 Gb dies", &later).modules("32GB 1Rx4 PC4-3200AA-RC2-12", 8, "").refused_by("die-density"),
    ])
}
