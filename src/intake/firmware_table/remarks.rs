use crate::population::Remark;

/// The remarks of one report, the first of them.
#[derive(Debug, Default)]
pub(crate) struct Remarks {
    kept: Vec<Remark>,
    more: usize,
}

impl Remarks {
    /// How many remarks are kept; the rest are counted.
    pub(crate) const MOST: usize = 1_000;

    /// Adds a remark; it is not even made where there are too many.
    pub(crate) fn add(&mut self, remark: impl FnOnce() -> Remark) {
        if self.kept.len() < Self::MOST {
            self.kept.push(remark());
        } else {
            self.more += 1;
        }
    }

    /// All that were kept, and one that counts the rest.
    pub(crate) fn finish(self) -> Vec<Remark> {
        let Self { mut kept, more } = self;
        if more > 0 {
            let what = if more == 1 { "1 more remark".to_owned() } else { format!("{more} more remarks") };
            kept.push(Remark::unread("the rest", &what, "only the first 1,000 are kept"));
        }
        kept
    }
}
