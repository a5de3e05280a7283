//! Random choices that are the same in every run.

use slotwright::Price;

/// Numbers that are the same in every run.
#[derive(Debug)]
pub(crate) struct Source(pub(crate) u64);

impl Source {
    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mixed = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        let mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        mixed ^ (mixed >> 31)
    }

    pub(crate) fn below(&mut self, end: u64) -> u64 {
        self.next() % end
    }

    pub(crate) fn within(&mut self, least: u64, most: u64) -> u64 {
        least + self.below(most - least + 1)
    }

    pub(crate) fn once_in(&mut self, times: u64) -> bool {
        self.below(times) == 0
    }

    pub(crate) fn pick<T: Clone>(&mut self, values: &[T]) -> T {
        values[self.below(values.len() as u64) as usize].clone()
    }
}

pub(crate) fn euros(minor: u64) -> Price {
    Price::new(minor, "EUR".parse().unwrap())
}
