//! DDR3, two sockets of four channels of three slots.

use std::sync::LazyLock;

use crate::module::{Ecc, Generation, ModuleKind, Voltages};
use crate::platform::{Platform, PlatformDescription, UnlikeVoltages, WorkedRow};
use crate::processor::{CountedRanks, ModulePattern, Processor, ProcessorDescription};
use crate::reference::build::{
    Regular, cells, check_bits, counted_ranks_at_most, densities, modes_of_pairs, processor, quad_rank, quad_rank_cap,
    quad_rank_limit, rates, rows, worked,
};
use crate::stated::{Demand, Stated};
use crate::unit::{DataRate, Name, Voltage};

/// A two-socket DDR3 board of 24 slots, "A1" to "D3" at processor "1" and "E1" to "H3" at processor "2".
///
/// Its processors: "earlier", 1600 MT/s; "later", 1866 MT/s. Both run at 1.5 V or, slower, at 1.35 V, and
/// take modules with error correction and dies of 1, 2 and 4 Gb. A quad-rank module sits before all others of its
/// channel and bars three a channel; at 1.35 V it runs at one a channel only. Its modes: "mirrored" and "paired" join
/// channels A with B, C with D and so on; "spare-rank". All of it is illustrative: a board's manual wins.
#[must_use]
pub fn ddr3_2s_4ch_3spc() -> Platform {
    static BUILT: LazyLock<Platform> = LazyLock::new(|| Platform::of_checked(description()));
    BUILT.clone()
}

pub(super) fn description() -> PlatformDescription {
    let board = Regular { sockets: 2, controllers: 1, channels: 4, slots: 3.into(), order: "" };
    let mut platform = board.describe("ddr3-2s-4ch-3spc", Generation::Ddr3);
    platform.processors = [earlier(), later()].map(Processor::of_checked).to_vec();
    platform.accepted_processors = Some(Stated::assumed(["earlier", "later"].map(Name::lossy).to_vec()));
    platform.unlike_voltages = Some(Stated::assumed(UnlikeVoltages::NotAdvised));
    platform.priority_along_channel = Some(Stated::assumed(Demand::Advised));
    platform.module_limits = vec![quad_rank_limit()];
    platform.shared_load_caps = vec![quad_rank_cap()];
    platform.modes = modes_of_pairs(&platform);
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

/// Quad-rank modules at 1.35 V, slower at one a channel and not allowed at two: Server Board S2600IP TPS 1.4 p. 31.
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
    let fixed = [(unbuffered, &[1333, 1333, 0][..]), (reduced.clone(), load_reduced)];
    let by_voltage = [
        (Voltage::V1_5, &registered, at_1_5),
        (Voltage::V1_35, &registered, at_1_35),
        (Voltage::V1_5, &quad_rank(), [1333, 1066, 0]),
        (Voltage::V1_35, &quad_rank(), [1066, 0, 0]),
    ];
    let table = by_voltage.into_iter().fold(rates(Generation::Ddr3, &fixed), |table, (voltage, modules, names)| {
        table.by_load_at(voltage, modules, &cells(Generation::Ddr3, &names))
    });
    described.rate_table = Some(table);
    described.ecc = check_bits(&[Ecc::Ecc]);
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
    let first = "A1 B1 C1 D1 E1 F1 G1 H1";
    let (quad, reduced) = ("32GB 4Rx4 PC3L-10600R-09-11-F0", "32GB 4Rx4 PC3-14900L-13-13-F1");
    rows([
        worked("16 at 1.5 V", &earlier).modules(plain, 16, "").rate(DataRate::DDR3_1600).gib(256),
        worked("24 at 1.5 V", &earlier).modules(plain, 24, "").rate(DataRate::DDR3_1333).gib(384),
        worked("16 at 1.35 V", &earlier).modules(low, 16, "").rate(DataRate::DDR3_1333).gib(256),
        worked("24 at 1.35 V", &earlier).modules(low, 24, "").rate(DataRate::DDR3_1066).gib(384),
        worked("both voltages", &earlier).modules(plain, 8, "").modules(low, 8, "").rate(DataRate::DDR3_1600),
        worked("8 quad-rank at 1.5 V", &earlier)
            .modules("32GB 4Rx4 PC3-10600R-09-11-F0", 8, first)
            .rate(DataRate::DDR3_1333),
        worked("8 quad-rank at 1.35 V", &earlier).modules(quad, 8, first).rate(DataRate::DDR3_1066),
        // two a channel take the whole to 1.5 V
        worked("16 quad-rank", &earlier).modules(quad, 16, "").rate(DataRate::DDR3_1066).gib(512),
        worked("17 quad-rank", &earlier).modules(quad, 17, "").refused_by("module-limit"),
        worked("without error correction", &earlier)
            .modules("8GB 2Rx8 PC3-12800U-11-11-B1", 8, "")
            .refused_by("ecc-accepted"),
        worked("8 mirrored", &earlier).mode("mirrored").modules(plain, 8, first).gib(128).usable(64),
        worked("2 mirrored", &[("1", "earlier")]).mode("mirrored").modules(plain, 2, "A1 B1").usable(16),
        worked("3 mirrored", &[("1", "earlier")]).mode("mirrored").modules(plain, 3, "").refused_by("mode-unmet"),
        worked("8 paired", &earlier).mode("paired").modules(plain, 8, first).gib(128).usable(128),
        worked("3 paired", &[("1", "earlier")]).mode("paired").modules(plain, 3, "").refused_by("mode-unmet"),
        worked("16 with a spare rank", &earlier).mode("spare-rank").modules(plain, 16, "").gib(256).usable(192),
        worked("1 single-rank with a spare rank", &[("1", "earlier")])
            .mode("spare-rank")
            .modules("8GB 1Rx4 PC3-12800R-11-12-A0", 1, "")
            .refused_by("spare-rank"),
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
