//! DDR4, two sockets of eight channels of two slots.

use std::sync::LazyLock;

use crate::module::{DeviceWidth, Generation, ModuleKind};
use crate::platform::{Domains, PairBan, Platform, PlatformDescription, WorkedRow};
use crate::processor::{
    InterleaveSet, InterleaveSets, MixProperty, ModulePattern, PermittedSet, Processor, ProcessorDescription,
};
use crate::reference::build::{
    Regular, counted_ranks_at_most, densities, domains, one_of, processor, rates, rows, scheme, worked,
};
use crate::stated::{Demand, Scope, Stated};
use crate::unit::{Capacity, DataRate, Density, Name};

/// A two-socket DDR4 board of 32 slots, "A1" to "H2" at processor "1" and "I1" to "P2" at processor "2";
/// four controllers of two channels each.
///
/// Its processors: "plain", 3200 MT/s at one and two modules a channel; "capped", 2933 MT/s. Both take dies
/// of 8 and 16 Gb and interleave over certain sets of channels only. A channel takes one device width, a processor no
/// two modules of 16 or 32 GB of which one is of 8 Gb x4 dies and one of 16 Gb x8 dies, the machine no stacked modules
/// of 128 and 256 GB together. Its domain schemes: "halves", "quarters" and
/// "together". All of it is illustrative: a board's manual wins.
#[must_use]
pub fn ddr4_2s_8ch_2spc() -> Platform {
    static BUILT: LazyLock<Platform> = LazyLock::new(|| Platform::of_checked(description()));
    BUILT.clone()
}

pub(super) fn description() -> PlatformDescription {
    let board = Regular { sockets: 2, controllers: 4, channels: 8, slots: 2.into(), order: "C D G H A B E F" };
    let mut platform = board.describe("ddr4-2s-8ch-2spc", Generation::Ddr4);
    let plain = with("plain", DataRate::DDR4_3200);
    let capped = with("capped", DataRate::DDR4_2933);
    platform.processors = [plain, capped].map(Processor::of_checked).to_vec();
    platform.processors_alike = Some(Stated::assumed(Demand::Required));
    platform.priority_along_channel = Some(Stated::assumed(Demand::Advised));
    platform.mix_limits = vec![one_of(MixProperty::Width, Scope::Channel)];
    platform.pair_bans = pair_bans();
    platform.domain_schemes = vec![
        scheme("halves", domains(&platform, 4), None),
        scheme("quarters", domains(&platform, 2), Some("halves")),
        scheme("together", Domains::AllProcessors, None),
    ];
    platform.worked_rows = worked_rows();
    platform
}

/// SR645/SR665 memory rules.
fn pair_bans() -> Vec<Stated<PairBan>> {
    let of = |gib: u32| ModulePattern { capacity_mib: Some(Capacity::from_gib(gib)), ..ModulePattern::default() };
    let dies = |gib: u32, width: DeviceWidth, gbit: u32| ModulePattern {
        width: Some(width),
        die_density_mbit: Some(Density::from_gbit(gbit)),
        ..of(gib)
    };
    let of_size = |gib: u32| PairBan {
        first: dies(gib, DeviceWidth::X4, 8),
        second: dies(gib, DeviceWidth::X8, 16),
        within: Scope::Socket,
    };
    let stacked =
        |height: u32| PairBan { first: of(128).stacked(height), second: of(256).stacked(4), within: Scope::Machine };
    [of_size(16), of_size(32), stacked(2), stacked(4)].map(Stated::assumed).to_vec()
}

/// The sets that the trade describes for one family of such processors: 8; 6 where equal; 4; pairs. Source of the
/// sets: Thomas-Krenn wiki, memory performance of 7002/7003.
fn interleave() -> Option<Stated<InterleaveSets>> {
    let names = |letters: &str| letters.chars().map(|letter| Name::lossy(&letter.to_string())).collect::<Vec<_>>();
    let set = |letters: &str| PermittedSet::of(InterleaveSet::Channels(names(letters)));
    let mut permitted = vec![set("ABCDEFGH"), set("ACDEGH").if_equal()];
    permitted.extend(["ABCD", "EFGH", "CDGH", "AB", "CD", "EF", "GH"].map(set));
    Some(Stated::assumed(InterleaveSets { channels: names("ABCDEFGH"), permitted }))
}

fn with(name: &str, max_rate: DataRate) -> ProcessorDescription {
    let kinds = [ModuleKind::Registered, ModuleKind::LoadReduced];
    let mut described = processor(name, Generation::Ddr4, &kinds, max_rate);
    let load_reduced = ModulePattern::kind(ModuleKind::LoadReduced);
    let table = [
        (ModulePattern::kind(ModuleKind::Registered), &[3200, 3200][..]),
        (load_reduced.clone(), &[3200, 3200]),
        (load_reduced.clone().stacked(2), &[3200, 2933]),
        (load_reduced.stacked(4), &[3200, 2933]),
    ];
    described.rate_table = Some(rates(Generation::Ddr4, &table));
    described.die_densities_mbit = densities(&[8, 16]);
    described.rank_limits = counted_ranks_at_most(8);
    described.interleave = interleave();
    described
}

/// Common practice, no source.
fn worked_rows() -> Vec<WorkedRow> {
    let plain = [("1", "plain"), ("2", "plain")];
    let capped = [("1", "capped"), ("2", "capped")];
    let one = [("1", "plain")];
    let first = "A1 B1 C1 D1 E1 F1 G1 H1 I1 J1 K1 L1 M1 N1 O1 P1";
    let (of_32, of_64) = ("32GB 2Rx8 PC4-3200AA-RE3-12", "64GB 2Rx4 PC4-3200AA-RB2-14");
    rows([
        worked("8 x 32 GB", &plain).modules(of_32, 8, "C1 D1 G1 H1 K1 L1 O1 P1").rate(DataRate::DDR4_3200).gib(256),
        worked("16 x 32 GB", &plain).modules(of_32, 16, first).rate(DataRate::DDR4_3200).gib(512),
        worked("32 x 64 GB", &plain).modules(of_64, 32, "").rate(DataRate::DDR4_3200).gib(2048),
        worked("32 x 64 GB, capped", &capped).modules(of_64, 32, "").rate(DataRate::DDR4_2933).gib(2048),
        worked("32 x 128 GB load-reduced", &plain)
            .modules("128GB 4DRx4 PC4-3200AA-LD3-12", 32, "")
            .rate(DataRate::DDR4_3200)
            .gib(4096),
        worked("32 x 256 GB stacked", &plain)
            .modules("256GB 2S4Rx4 PC4-3200AC-LB1-12", 32, "")
            .rate(DataRate::DDR4_2933)
            .gib(8192),
        worked("x4 and x8, a channel each", &one).modules(of_64, 1, "C1").modules(of_32, 1, "D1").gib(96),
        worked("8 Gb x4 and 16 Gb x8", &one)
            .modules("32GB 2Rx4 PC4-3200AA-RB2-12", 1, "")
            .modules(of_32, 1, "")
            .refused_by("pair-ban"),
        worked("two sizes of stacked", &one)
            .modules("128GB 2S2Rx4 PC4-3200AC-LB1-12", 1, "")
            .modules("256GB 2S4Rx4 PC4-3200AC-LB1-12", 1, "")
            .refused_by("pair-ban"),
        worked("4 Gb dies", &plain).modules("16GB 2Rx4 PC4-2133P-RA0-10", 16, "").refused_by("die-density"),
        worked("unbuffered", &plain).modules("16GB 2Rx8 PC4-2666V-EB1-11", 16, "").refused_by("kind-accepted"),
    ])
}
