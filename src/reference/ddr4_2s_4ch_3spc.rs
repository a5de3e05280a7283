//! DDR4, two sockets of four channels of three slots.

use std::sync::LazyLock;

use std::collections::BTreeSet;

use crate::module::{DeviceWidth, Ecc, Generation, ModuleKind};
use crate::platform::{Mode, Platform, PlatformDescription, Redundancy, WorkedRow};
use crate::processor::{CountedRanks, ModulePattern, Processor, ProcessorDescription};
use crate::reference::build::{
    Rates, Regular, counted_ranks_at_most, densities, mode, modes_of_pairs, processor, quad_rank_cap, quad_rank_limit,
    rates, rows, worked,
};
use crate::stated::{Demand, Stated};
use crate::unit::{DataRate, Name};

const KINDS: [ModuleKind; 2] = [ModuleKind::Registered, ModuleKind::LoadReduced];

/// A two-socket DDR4 board of 24 slots, "A1" to "D3" at processor "1" and "E1" to "H3" at processor "2".
///
/// Its processors: "earlier", 2133 MT/s, no stacked modules; "later", 2400 MT/s. Both take dies of 4 and
/// 8 Gb. A quad-rank registered module sits before all others of its channel and bars three a channel. Its modes: "mirrored" and "paired" join channels A with B, C with D and so on; "spare-rank" and
/// "device-correction". All of it is illustrative: a board's manual wins.
#[must_use]
pub fn ddr4_2s_4ch_3spc() -> Platform {
    static BUILT: LazyLock<Platform> = LazyLock::new(|| Platform::of_checked(description()));
    BUILT.clone()
}

pub(super) fn description() -> PlatformDescription {
    let board = Regular { sockets: 2, controllers: 1, channels: 4, slots: 3.into(), order: "" };
    let mut platform = board.describe("ddr4-2s-4ch-3spc", Generation::Ddr4);
    platform.processors = [earlier(), later()].map(Processor::of_checked).to_vec();
    platform.accepted_processors = Some(Stated::assumed(["earlier", "later"].map(Name::lossy).to_vec()));
    platform.priority_along_channel = Some(Stated::assumed(Demand::Advised));
    platform.blanks = Some(Stated::assumed(Demand::Advised));
    platform.module_limits = vec![quad_rank_limit()];
    platform.shared_load_caps = vec![quad_rank_cap()];
    platform.modes = modes(&platform);
    platform.worked_rows = worked_rows();
    platform
}

fn modes(board: &PlatformDescription) -> Vec<Mode> {
    let correcting = Mode {
        widths: Some(BTreeSet::from([DeviceWidth::X4])),
        ecc: Some(BTreeSet::from([Ecc::Ecc])),
        ..mode("device-correction", Redundancy::DeviceCorrection)
    };
    let mut modes = modes_of_pairs(board);
    modes.push(correcting);
    modes
}

fn earlier() -> ProcessorDescription {
    let registered = ModulePattern::kind(ModuleKind::Registered);
    let mut described = with_rates(
        "earlier",
        DataRate::DDR4_2133,
        &[
            (registered.clone(), &[2133, 2133, 1600]),
            (registered.ranks(4), &[2133, 1866, 0]),
            (ModulePattern::kind(ModuleKind::LoadReduced), &[2133, 2133, 1600]),
        ],
    );
    described.stack_heights = Some(Stated::assumed(BTreeSet::from([1])));
    described
}

/// Rates of registered and 4-rank load-reduced modules: Denneman, NUMA Deep Dive 4 (2016). Stacked ones
/// are slower at three a channel: common practice, no source.
fn later() -> ProcessorDescription {
    let registered = ModulePattern::kind(ModuleKind::Registered);
    let load_reduced = ModulePattern::kind(ModuleKind::LoadReduced);
    with_rates(
        "later",
        DataRate::DDR4_2400,
        &[
            (registered.clone(), &[2400, 2400, 1866]),
            (registered.ranks(4), &[2133, 1866, 0]),
            (load_reduced.clone(), &[2400, 2400, 2133]),
            (load_reduced.clone().stacked(2), &[2400, 2400, 1600]),
            (load_reduced.stacked(4), &[2400, 2400, 1600]),
        ],
    )
}

fn with_rates(name: &str, max_rate: DataRate, rows: &[Rates]) -> ProcessorDescription {
    let mut described = processor(name, Generation::Ddr4, &KINDS, max_rate);
    described.rate_table = Some(rates(Generation::Ddr4, rows));
    described.die_densities_mbit = densities(&[4, 8]);
    described.rank_limits = counted_ranks_at_most(8);
    described.counted_ranks = vec![CountedRanks {
        module: ModulePattern::kind(ModuleKind::LoadReduced).ranks(4),
        modules_in_channel: Some(3),
        ranks: 2,
    }];
    described
}

const FIRST: &str = "A1 B1 C1 D1 E1 F1 G1 H1";
const REGISTERED: &str = "32GB 2Rx4 PC4-2400T-RB2-11";
const BOTH_LATER: [(&str, &str); 2] = [("1", "later"), ("2", "later")];
const BOTH_EARLIER: [(&str, &str); 2] = [("1", "earlier"), ("2", "earlier")];

/// Common practice, no source.
fn worked_rows() -> Vec<WorkedRow> {
    let second = format!("{FIRST} A2 B2 C2 D2 E2 F2 G2 H2");
    let stacked = "128GB 2S4Rx4 PC4-2400U-LB1-11";
    rows([
        worked("8 registered", &BOTH_LATER).modules(REGISTERED, 8, FIRST).rate(DataRate::DDR4_2400).gib(256),
        worked("16 registered", &BOTH_LATER).modules(REGISTERED, 16, &second).rate(DataRate::DDR4_2400).gib(512),
        worked("24 registered", &BOTH_LATER).modules(REGISTERED, 24, "").rate(DataRate::DDR4_1866).gib(768),
        worked("8 registered, earlier", &BOTH_EARLIER).modules(REGISTERED, 8, FIRST).rate(DataRate::DDR4_2133),
        worked("24 registered, earlier", &BOTH_EARLIER).modules(REGISTERED, 24, "").rate(DataRate::DDR4_1600).gib(768),
        worked("5 at one processor", &[("1", "later")])
            .modules(REGISTERED, 5, "A1 B1 C1 D1 A2")
            .rate(DataRate::DDR4_2400)
            .gib(160),
        worked("grade 3200", &BOTH_LATER).modules("32GB 2Rx4 PC4-3200AA-RB2-12", 16, "").rate(DataRate::DDR4_2400),
        worked("grade 2133", &BOTH_LATER).modules("16GB 2Rx4 PC4-2133P-RA0-10", 16, "").rate(DataRate::DDR4_2133),
        worked("16 Gb dies", &BOTH_LATER).modules("64GB 2Rx4 PC4-3200AA-RB2-14", 8, "").refused_by("die-density"),
        worked("24 load-reduced", &BOTH_LATER)
            .modules("64GB 4DRx4 PC4-2400T-LD1-11", 24, "")
            .rate(DataRate::DDR4_2133)
            .gib(1536),
        worked("24 stacked", &BOTH_LATER).modules(stacked, 24, "").rate(DataRate::DDR4_1600).gib(3072),
        worked("8 stacked, earlier", &BOTH_EARLIER).modules(stacked, 8, "").refused_by("stack-accepted"),
        worked("8 mirrored", &BOTH_LATER).mode("mirrored").modules(REGISTERED, 8, FIRST).gib(256).usable(128),
        worked("4 mirrored", &BOTH_LATER).mode("mirrored").modules(REGISTERED, 4, "A1 B1 E1 F1").usable(64),
        worked("3 mirrored", &[("1", "later")]).mode("mirrored").modules(REGISTERED, 3, "").refused_by("mode-unmet"),
        worked("16 with a spare rank", &BOTH_LATER)
            .mode("spare-rank")
            .modules("8GB 2Rx8 PC4-2133P-RE0-10", 16, &second)
            .usable(96),
        worked("16 single-rank with a spare rank", &BOTH_LATER)
            .mode("spare-rank")
            .modules("8GB 1Rx8 PC4-2400T-RD1-11", 16, &second)
            .usable(64),
        worked("8 single-rank with a spare rank", &BOTH_LATER)
            .mode("spare-rank")
            .modules("8GB 1Rx8 PC4-2400T-RD1-11", 8, "")
            .usable(32),
        worked("quad-rank and 3 a channel", &[("1", "later")])
            .modules("32GB 4Rx4 PC4-2133P-RA0-10", 1, "")
            .modules(REGISTERED, 8, "")
            .refused_by("shared-load-cap"),
        worked("12 registered 4-rank", &[("1", "later")])
            .modules("32GB 4Rx4 PC4-2133P-RA0-10", 12, "")
            .refused_by("channel-ranks"),
    ])
}
