//! How many modules, of what size each and together.

use crate::intake::titles::Says;
use crate::unit::Capacity;

/// One meaning of the amounts of a title.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Amount {
    pub(super) count: Option<u32>,
    pub(super) each: Option<Capacity>,
    pub(super) together: Option<Capacity>,
    /// Whether all that is said of amounts goes together.
    pub(super) is_whole: bool,
    /// Whether sizes are spoken of that are not of one lot.
    pub(super) is_several: bool,
}

/// What a title says of amounts.
#[derive(Debug, Default)]
struct Said {
    counts: Vec<u32>,
    set_of: Vec<u32>,
    sets: Vec<u32>,
    sizes: Vec<Capacity>,
    each: Vec<Capacity>,
    together: Vec<Capacity>,
    modules: Vec<(u32, Capacity)>,
}

fn add<T: Ord>(to: &mut Vec<T>, value: T) {
    if let Err(at) = to.binary_search(&value) {
        to.insert(at, value);
    }
}

/// The value where there is just one, and whether there are more.
fn one<T: Copy>(values: &[T]) -> (Option<T>, bool) {
    match values {
        [] => (None, false),
        [only] => (Some(*only), false),
        _ => (None, true),
    }
}

impl Amount {
    /// All meanings of what is said.
    pub(super) fn all<'s>(says: impl Iterator<Item = &'s Says>) -> Vec<Self> {
        let mut said = Said::default();
        let mut times = Vec::new();
        for says in says {
            match says {
                Says::Count(count) => add(&mut said.counts, *count),
                Says::SetOf(count) => add(&mut said.set_of, *count),
                Says::Sets(count) => add(&mut said.sets, *count),
                Says::Size(size) => add(&mut said.sizes, *size),
                Says::Each(size) => add(&mut said.each, *size),
                Says::Together(size) => add(&mut said.together, *size),
                Says::Modules { count, capacity_mib } => add(&mut said.modules, (*count, *capacity_mib)),
                Says::Times { count, capacity_mib } => times.push((*count, *capacity_mib)),
                Says::Label(label) => add(&mut said.each, label.capacity()),
                _ => {}
            }
        }
        let mut is_confirmed = true;
        for (count, size) in times {
            let all = size.times(u64::from(count));
            let sizes = [&said.sizes, &said.together].into_iter().flatten();
            is_confirmed &= sizes.clone().count() == 0 || sizes.into_iter().any(|said| *said == all);
            add(&mut said.modules, (count, size));
        }
        let mut all = match *said.modules.as_slice() {
            [] => said.without_modules(),
            [(count, size)] => said.of_modules(count, size),
            _ => said.of_several(),
        };
        for amount in &mut all {
            amount.is_whole &= is_confirmed;
        }
        all
    }
}

impl Said {
    /// With "4x16GB" in the title.
    fn of_modules(&self, count: u32, size: Capacity) -> Vec<Amount> {
        let is_whole = self.each.iter().all(|each| *each == size) && self.set_of.iter().all(|of| *of == count);
        let (sets, more_sets) = one(&self.sets);
        let per_sets = count.saturating_mul(sets.unwrap_or(1));
        // "lot of 8 (2x4GB)": eight modules, eight of such pairs, or two and eight is of something else; a total may decide
        let mut counts = vec![per_sets];
        for &other in self.counts.iter().filter(|other| **other != per_sets) {
            counts.push(other.saturating_mul(count));
            counts.extend((other % count == 0).then_some(other));
        }
        counts.sort_unstable();
        counts.dedup();
        let is_whole = is_whole && !more_sets && self.counts.len() <= 1;
        let amounts = counts.into_iter().map(|count_of_all| {
            let all = size.times(u64::from(count_of_all));
            let of_set = size.times(u64::from(count));
            let mut amount =
                Amount { count: Some(count_of_all), each: Some(size), together: None, is_whole, is_several: false };
            for &other in self.sizes.iter().chain(&self.together) {
                if other == all {
                    amount.together = Some(all);
                } else if other != size && other != of_set {
                    amount.is_whole = false;
                } else if self.together.contains(&other) {
                    amount.is_whole &= other == of_set && count_of_all != count;
                }
            }
            amount
        });
        let amounts: Vec<Amount> = amounts.collect();
        let fits: Vec<Amount> = amounts.iter().filter(|amount| amount.is_whole).copied().collect();
        // a total that is said decides
        let with_total: Vec<Amount> = fits.iter().filter(|amount| amount.together.is_some()).copied().collect();
        [with_total, fits].into_iter().find(|left| !left.is_empty()).unwrap_or(amounts)
    }

    /// "4x8GB" and "2x16GB": more lots than one, but where a total is said that each of them gives.
    fn of_several(&self) -> Vec<Amount> {
        let totals: Vec<Capacity> = self.sizes.iter().chain(&self.together).copied().collect();
        let whole = |&(count, size): &(u32, Capacity)| {
            let all = size.times(u64::from(count));
            let is_total = !totals.is_empty() && totals.iter().all(|total| *total == all) && self.counts.is_empty();
            is_total.then_some(Amount {
                count: Some(count),
                each: Some(size),
                together: Some(all),
                is_whole: true,
                is_several: false,
            })
        };
        let several = Amount { is_whole: true, is_several: true, ..Amount::default() };
        self.modules.iter().map(whole).collect::<Option<Vec<Amount>>>().unwrap_or_else(|| vec![several])
    }

    fn without_modules(&self) -> Vec<Amount> {
        let (each, more_each) = one(&self.each);
        let (together, more_together) = one(&self.together);
        let (count, more_counts) = one(&self.counts);
        let (set_of, more_set_of) = one(&self.set_of);
        let (sets, more_sets) = one(&self.sets);
        let of_sets = set_of.map(|of| of.saturating_mul(sets.unwrap_or(1)));
        let is_whole = !(more_each || more_together || more_counts || more_set_of || more_sets);
        let mut amount = Amount { count: count.or(of_sets), each, together, is_whole, is_several: false };
        amount.is_whole &= count.is_none() || of_sets.is_none() || count == of_sets || count == set_of;
        amount.is_whole &= count.zip(sets).is_none_or(|(count, sets)| sets > 0 && count % sets == 0);
        let is_multiple = |of: Capacity, all: Capacity| all > of && of.mib() > 0 && all.mib() % of.mib() == 0;
        match (self.sizes.as_slice(), each, together) {
            ([], ..) => {}
            (&[size], None, None) => {
                amount.each = Some(size);
                let all = amount.count.filter(|_| set_of.is_some()).map(u64::from);
                if let Some(of) = all.filter(|count| *count > 1 && size.mib() % count == 0) {
                    // "64GB kit of 4": four of 64 GB, or four of 16 GB
                    let part = Capacity::from_mib(size.mib() / of);
                    return vec![amount, Amount { each: Some(part), together: Some(size), ..amount }];
                }
            }
            (&[size], Some(each), _) if size == each => {}
            (&[size], Some(each), _) if is_multiple(each, size) && together.is_none_or(|all| all == size) => {
                amount.together = Some(size);
            }
            (&[size], None, Some(together)) if size == together => {}
            (&[size], None, Some(together)) if is_multiple(size, together) => amount.each = Some(size),
            (&[first, second], None, None)
                if amount.count.is_some_and(|count| first.times(u64::from(count)) == second) =>
            {
                (amount.each, amount.together) = (Some(first), Some(second));
            }
            (&[first, second], Some(each), None) if each == first && is_multiple(first, second) => {
                amount.together = Some(second);
            }
            (&[_], ..) => amount.is_whole = false,
            _ => amount.is_several = true,
        }
        if let (None, Some(count), Some(all)) = (amount.each, amount.count.map(u64::from), amount.together) {
            let part = all.mib().checked_div(count).filter(|_| all.mib() % count.max(1) == 0);
            amount.each = part.map(Capacity::from_mib);
        }
        if let (Some(count), Some(each), Some(all)) = (amount.count, amount.each, amount.together) {
            amount.is_whole &= each.times(u64::from(count)) == all;
        }
        vec![amount]
    }
}
