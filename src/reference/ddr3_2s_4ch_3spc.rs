//! DDR3, two sockets of four channels of three slots.

use crate::module::{Generation, ModuleKind, Voltages};
use crate::platform::{ModuleLimit, Platform, PlatformDescription, SharedLoadCap, UnlikeVoltages, WorkedRow};
use crate::processor::{CountedRanks, ModulePattern, Processor, ProcessorDescription};
use crate::reference::build::{Regular, cells, counted_ranks_at_most, densities, processor, rates, rows, worked};
use crate::stated::{Demand, Scope, Stated};
use crate::unit::{DataRate, Name, Voltage};

/// A two-socket DDR3 board of 24 slots, "A1" to "D3" at processor "1" and "E1" to "H3" at processor "2".
///
/// Its processors: "earlier", 1600 MT/s; "later", 1866 MT/s. Both run at 1.5 V or, slower, at 1.35 V, and
/// take dies of 1, 2 and 4 Gb. All of it is illustrative: a board's manual wins.
#[must_use]
pub fn ddr3_2s_4ch_3spc() -> Platform {
    Platform::of_checked(description())
}

pub(super) fn description() -> PlatformDescription {
    let board = Regular { sockets: 2, controllers: 1, channels: 4, slots: 3, order: &[0, 1, 2, 3] };
    let mut platform = board.describe("ddr3-2s-4ch-3spc", Generation::Ddr3);
    platform.processors = [earlier(), later()].map(Processor::of_checked).to_vec();
    platform.accepted_processors = Some(Stated::assumed(["earlier", "later"].map(Name::lossy).to_vec()));
    platform.unlike_voltages = Some(Stated::assumed(UnlikeVoltages::NotAdvised));
    platform.priority_along_channel = Some(Stated::assumed(Demand::Advised));
    let quad_rank = || ModulePattern::kind(ModuleKind::Registered).ranks(4);
    platform.module_limits = vec![Stated::assumed(ModuleLimit {
        module: quad_rank(),
        at_most_per_channel: Some(2),
        barred_positions: vec![2],
        first_in_channel: false,
    })];
    platform.shared_load_caps =
        vec![Stated::assumed(SharedLoadCap { module: quad_rank(), within: Scope::Socket, modules_per_channel: 2 })];
    platform.worked_rows = worked_rows();
    platform
}

fn earlier() -> ProcessorDescription {
    let (at_1_5, at_1_35) = ([1600, 1600, 1333], [1333, 1333, 1066]);
    with_rates("earlier", DataRate::DDR3_1600, at_1_5, at_1_35, &[1333, 1333, 1066])
}

/// Rates at 1.5 V and of load-reduced modules: Denneman, Memory Deep Dive (2015). Those at 1.35 V are from
/// memory.
fn later() -> ProcessorDescription {
    let (at_1_5, at_1_35) = ([1866, 1866, 1333], [1600, 1600, 1066]);
    with_rates("later", DataRate::DDR3_1866, at_1_5, at_1_35, &[1866, 1866, 1333])
}

fn with_rates(
    name: &str,
    max_rate: DataRate,
    at_1_5: [u32; 3],
    at_1_35: [u32; 3],
    load_reduced: &'static [u32],
) -> ProcessorDescription {
    let kinds = [ModuleKind::Unbuffered, ModuleKind::Registered, ModuleKind::LoadReduced];
    let [unbuffered, registered, reduced] = kinds.map(ModulePattern::kind);
    let mut described = processor(name, Generation::Ddr3, &kinds, max_rate);
    let fixed = [
        (unbuffered, &[1333, 1333, 0][..]),
        (registered.clone().ranks(4), &[1333, 1066, 0]),
        (reduced.clone(), load_reduced),
    ];
    let table = rates(Generation::Ddr3, &fixed)
        .by_load_at(Voltage::V1_5, &registered, &cells(Generation::Ddr3, &at_1_5))
        .by_load_at(Voltage::V1_35, &registered, &cells(Generation::Ddr3, &at_1_35));
    described.rate_table = Some(table);
    described.voltages_mv.value =
        Voltages::new([Voltage::V1_35, Voltage::V1_5]).unwrap_or(Voltages::only(Voltage::V1_5));
    described.die_densities_mbit = densities(&[1, 2, 4]);
    described.rank_limits = counted_ranks_at_most(8);
    let counted =
        |ranks, modules_in_channel| CountedRanks { module: reduced.clone().ranks(ranks), modules_in_channel, ranks: 2 };
    described.counted_ranks = vec![counted(4, Some(3)), counted(8, None)];
    described
}

/// Common practice, no source.
fn worked_rows() -> Vec<WorkedRow> {
    let earlier = [("1", "earlier"), ("2", "earlier")];
    let later = [("1", "later"), ("2", "later")];
    let (plain, low) = ("16GB 2Rx4 PC3-12800R-11-12-E2", "16GB 2Rx4 PC3L-12800R-11-12-E2");
    let (quad, reduced) = ("32GB 4Rx4 PC3L-10600R-09-11-F0", "32GB 4Rx4 PC3-14900L-13-13-F1");
    rows([
        worked("16 at 1.5 V", &earlier).modules(plain, 16, "").rate(DataRate::DDR3_1600).gib(256),
        worked("24 at 1.5 V", &earlier).modules(plain, 24, "").rate(DataRate::DDR3_1333).gib(384),
        worked("16 at 1.35 V", &earlier).modules(low, 16, "").rate(DataRate::DDR3_1333).gib(256),
        worked("24 at 1.35 V", &earlier).modules(low, 24, "").rate(DataRate::DDR3_1066).gib(384),
        worked("both voltages", &earlier).modules(plain, 8, "").modules(low, 8, "").rate(DataRate::DDR3_1600),
        worked("8 quad-rank", &earlier).modules(quad, 8, "A1 B1 C1 D1 E1 F1 G1 H1").rate(DataRate::DDR3_1333),
        worked("16 quad-rank", &earlier).modules(quad, 16, "").rate(DataRate::DDR3_1066).gib(512),
        worked("17 quad-rank", &earlier).modules(quad, 17, "").refused_by("module-limit"),
        worked("quad-rank and 3 a channel", &earlier)
            .modules(quad, 1, "")
            .modules(low, 20, "")
            .refused_by("shared-load-cap"),
        worked("16 of 1866", &later)
            .modules("16GB 2Rx4 PC3-14900R-13-12-E2", 16, "")
            .rate(DataRate::DDR3_1866)
            .gib(256),
        worked("24 of 1866", &later).modules("16GB 2Rx4 PC3-14900R-13-12-E2", 24, "").rate(DataRate::DDR3_1333),
        worked("24 load-reduced", &later).modules(reduced, 24, "").rate(DataRate::DDR3_1333).gib(768),
        worked("24 load-reduced, earlier", &earlier).modules(reduced, 24, "").rate(DataRate::DDR3_1066).gib(768),
    ])
}
