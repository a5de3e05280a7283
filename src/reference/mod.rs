//! Ready-made platforms, with processors, to try things on and to start a description from.
//!
//! Vendor-neutral and illustrative: they show what boards of a class are like. No board is just like
//! one of them: a board's manual wins. What has no published source is assumed, and says so.

mod build;
mod ddr4_2s_4ch_3spc;

pub use ddr4_2s_4ch_3spc::ddr4_2s_4ch_3spc;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn descriptions_are_checked() {
        assert_eq!(ddr4_2s_4ch_3spc::description().build(), Ok(ddr4_2s_4ch_3spc()));
    }
}
