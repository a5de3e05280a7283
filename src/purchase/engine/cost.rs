//! What a plan costs: one reckoning for the bound of a search, for the exact cost, and for the page.

use std::iter::Sum;
use std::ops::Add;

/// An amount of money in minor units; wide enough for any sum of a checked request.
pub(crate) type Amount = i128;

/// What a plan's cost is made of. The total is the sum of all, so that what is reckoned and what is printed cannot differ.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(crate) struct CostParts {
    /// What is bought and kept.
    pub(crate) purchases: Amount,
    /// What sending the rest of orders back costs.
    pub(crate) returns: Amount,
    /// Charges of suppliers for orders.
    pub(crate) charges: Amount,
    /// The value of what is used from the shelf.
    pub(crate) shelf: Amount,
    /// Labour for handlings.
    pub(crate) labour: Amount,
    /// Credit for what is pulled: not above zero.
    pub(crate) credit: Amount,
    /// What is bought and not fitted is worth so much: not above zero.
    pub(crate) surplus: Amount,
}

impl CostParts {
    pub(crate) fn total(&self) -> Amount {
        let Self { purchases, returns, charges, shelf, labour, credit, surplus } = self;
        purchases + returns + charges + shelf + labour + credit + surplus
    }
}

impl Add for CostParts {
    type Output = Self;

    fn add(self, other: Self) -> Self {
        Self {
            purchases: self.purchases + other.purchases,
            returns: self.returns + other.returns,
            charges: self.charges + other.charges,
            shelf: self.shelf + other.shelf,
            labour: self.labour + other.labour,
            credit: self.credit + other.credit,
            surplus: self.surplus + other.surplus,
        }
    }
}

impl Sum for CostParts {
    fn sum<Parts: Iterator<Item = Self>>(parts: Parts) -> Self {
        parts.fold(Self::default(), Self::add)
    }
}

/// What handlings cost, in so many like machines.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Labour {
    pub(crate) each: Amount,
    pub(crate) machines: u32,
}

impl Labour {
    /// So many handlings in each machine.
    pub(crate) fn of(self, handlings: usize) -> CostParts {
        CostParts { labour: self.each * self.in_all(handlings), ..CostParts::default() }
    }

    /// So many modules pulled from each machine, each at a credit.
    pub(crate) fn pulled(self, modules: usize, credit: Amount) -> CostParts {
        CostParts { credit: -credit * self.in_all(modules), ..self.of(modules) }
    }

    /// So many of something in each machine.
    fn in_all(self, each: usize) -> Amount {
        // a machine has no more than 2^16 slots
        Amount::try_from(each).unwrap_or(Amount::from(u32::MAX)) * Amount::from(self.machines)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn parts_sum_to_the_total() {
        let labour = Labour { each: 150, machines: 3 };
        let parts = labour.of(4) + labour.pulled(2, 500);
        assert_eq!((parts.labour, parts.credit), (150 * 18, -3000));
        let bought = CostParts { purchases: 9000, returns: 20, charges: 490, shelf: 70, surplus: -45, ..parts };
        assert_eq!(bought.total(), 9000 + 20 + 490 + 70 + 2700 - 3000 - 45);
        assert_eq!([bought, bought].into_iter().sum::<CostParts>().total(), 2 * bought.total());
    }
}
