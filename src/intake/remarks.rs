use crate::population::Remark;

/// Remarks, of which not more are kept than a person would read.
#[derive(Debug, Default)]
pub(crate) struct Remarks {
    kept: Vec<Remark>,
    more: u64,
}

impl Remarks {
    /// How many are kept; one more counts the rest.
    pub(crate) const MOST: usize = 1_000;

    /// Adds a remark; it is not even made where there are too many.
    pub(crate) fn add(&mut self, remark: impl FnOnce() -> Remark) {
        if self.kept.len() < Self::MOST {
            self.kept.push(remark());
        } else {
            self.more = self.more.saturating_add(1);
        }
    }

    /// Takes over those of another.
    #[cfg(feature = "redfish")]
    pub(crate) fn append(&mut self, other: Self) {
        self.more = self.more.saturating_add(other.more);
        other.kept.into_iter().for_each(|remark| self.add(|| remark));
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_rest_is_counted() {
        let mut remarks = Remarks::default();
        for number in 0..Remarks::MOST + 7 {
            remarks.add(|| Remark::unread(&number.to_string(), "a part", "a reason"));
        }
        let remarks = remarks.finish();
        assert_eq!(remarks.len(), Remarks::MOST + 1);
        let last = "the rest: 7 more remarks is not read: only the first 1,000 are kept";
        assert_eq!(remarks.last().unwrap().to_string(), last);
    }
}
