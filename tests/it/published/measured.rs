//! Measured bandwidths beside what the figures say. Nothing is tuned to come near: the table shows how far off
//! the model is.

use std::fmt::Write;

use expect_test::expect_file;
use slotwright::figure::MemoryBandwidth;
use slotwright::population::Population;
use slotwright::unit::Share;

use crate::published::interleave::{ddr4, figures, machine, of_certain_sets, put};

const MODULE: &str = "32GB 2Rx4 PC4-2400T-RB2-11";

/// What was measured, in per cent of the same machine fully and evenly filled (or of the peak where that is said),
/// and the shares that the figures give.
struct Line {
    text: &'static str,
    measured: i64,
    bandwidth: MemoryBandwidth,
}

/// Eight channels that permit certain sets only, with a module in each of these.
fn eight(channels: &str) -> MemoryBandwidth {
    let slots: String = channels.chars().map(|channel| format!("1{channel}1 ")).collect();
    let machine = machine([1, 8, 1], of_certain_sets(), None);
    figures(&machine, &put(Population::new(), MODULE, &slots)).bandwidth
}

/// Six channels that permit every set, with so many modules in fill order.
fn six(modules: usize) -> MemoryBandwidth {
    let order = "1A1 1B1 1C1 1D1 1E1 1F1 1A2 1B2 1C2 1D2 1E2 1F2";
    let slots: Vec<&str> = order.split(' ').take(modules).collect();
    figures(&machine([1, 6, 2], ddr4(), None), &put(Population::new(), MODULE, &slots.join(" "))).bandwidth
}

/// Two processors of eight channels, one module in each.
fn sixteen() -> MemoryBandwidth {
    let slots: String = "ABCDEFGH".chars().map(|channel| format!("1{channel}1 2{channel}1 ")).collect();
    figures(&machine([2, 8, 2], ddr4(), None), &put(Population::new(), MODULE, &slots)).bandwidth
}

/// Per cent in tenths, rounded down.
fn tenths(share: Option<Share>) -> i64 {
    let (numerator, denominator) = share.unwrap().into();
    i64::try_from(numerator * 1000 / denominator).unwrap()
}

fn lines() -> Vec<Line> {
    let line = |text, measured, bandwidth| Line { text, measured, bandwidth };
    vec![
        // T: Thomas-Krenn wiki, memory performance of 7002/7003
        line("8 slots, 8 modules (T)", 100, eight("ABCDEFGH")),
        line("8 slots, 4 modules in C D G H (T)", 54, eight("CDGH")),
        line("8 slots, 2 modules in C D (T)", 28, eight("CD")),
        // common practice, no source; which populations were measured is not said
        line("6 channels x 2, 12 modules", 100, six(12)),
        line("6 channels x 2, 6 modules", 97, six(6)),
        line("6 channels x 2, unbalanced, the lowest: 7 modules", 67, six(7)),
        line("6 channels x 2, unbalanced: 8 modules", 67, six(8)),
        line("8 channels, one module of 8 lost, sets permitted", 70, eight("ABCDEFG")),
        line("16 modules on 2 x 8, of the peak (226 of 341 GB/s)", 66, sixteen()),
    ]
}

#[test]
fn measured_lines_beside_both_bounds() {
    let mut table =
        format!("{:<52}{:>9}{:>8}{:>8}{:>9}{:>9}\n", "per cent", "measured", "swept", "spread", "off by", "off by");
    for Line { text, measured, bandwidth } in lines() {
        let shares = [tenths(bandwidth.relative_swept), tenths(bandwidth.relative_spread)];
        let shown = |tenths: i64| format!("{}.{}", tenths / 10, tenths % 10);
        let off = shares.map(|share| {
            let off = share - measured * 10;
            format!("{}{}", if off < 0 { "-" } else { "+" }, shown(off.abs()))
        });
        let [swept, spread] = shares.map(shown);
        writeln!(table, "{text:<52}{measured:>9}{swept:>8}{spread:>8}{:>9}{:>9}", off[0], off[1]).unwrap();
        assert!(bandwidth.swept_mbps <= bandwidth.spread_mbps);
    }
    expect_file!["../golden/measured_bandwidth.txt"].assert_eq(&table);
}
