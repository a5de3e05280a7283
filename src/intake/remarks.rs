use crate::population::Remark;

/// Remarks, of which not more are kept than a person would read.
#[derive(Debug, Default)]
pub(crate) struct Remarks {
    kept: Vec<Remark>,
    more: u64,
}

impl Remarks {
    /// How many are kept; one more counts the rest.
    pub(crate) const MOST: usize = 1000;

    pub(crate) fn push(&mut self, remark: Remark) {
        if self.kept.len() < Self::MOST {
            self.kept.push(remark);
        } else {
            self.more = self.more.saturating_add(1);
        }
    }

    /// Takes over those of another.
    pub(crate) fn append(&mut self, other: Self) {
        self.more = self.more.saturating_add(other.more);
        other.kept.into_iter().for_each(|remark| self.push(remark));
    }

    pub(crate) fn into_vec(self) -> Vec<Remark> {
        let Self { mut kept, more } = self;
        if more > 0 {
            kept.push(Remark::unread("remarks", &format!("a number of {more} more"), "there are too many"));
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
            remarks.push(Remark::unread(&number.to_string(), "a part", "a reason"));
        }
        let mut other = Remarks::default();
        other.push(Remark::unread("x", "a part", "a reason"));
        remarks.append(other);
        let remarks = remarks.into_vec();
        assert_eq!(remarks.len(), Remarks::MOST + 1);
        let last = "remarks: a number of 8 more is not read: there are too many";
        assert_eq!(remarks.last().unwrap().to_string(), last);
    }
}
