//! What is bought, and what is taken from the shelf.

use std::collections::BTreeMap;

use slotwright::{Name, Offer};

use super::linear::{Compare, Term, Variable};
use super::{Form, Program, minor};

impl Program<'_> {
    pub(super) fn stock(&mut self) {
        let request = self.request;
        let slots = self.slots() * i64::from(request.machines);
        let mut charges: BTreeMap<&Name, Variable> = BTreeMap::new();
        for (supplier, charge) in &request.supplier_charges {
            charges.insert(supplier, self.linear.binary(minor(Some(*charge))));
        }
        for item in &request.shelf {
            let Some(part) = self.part(&item.module) else { continue };
            let taken = self.linear.integer(minor(item.unit_value), 0, i64::from(item.stock).min(slots));
            self.supply[part].push((taken, 1));
        }
        for offer in &request.offers {
            assert!(offer.minimum_quantity <= 1 && offer.return_cost.is_none());
            let Some(part) = self.part(&offer.module) else { continue };
            let charge = offer.supplier.as_ref().and_then(|supplier| charges.get(supplier).copied());
            let bought = self.offer(offer, slots, charge);
            if let Some(worth) = offer.surplus_value {
                let over = self.linear.integer(-minor(Some(worth)), 0, i64::from(offer.stock));
                self.linear.row(bought.iter().copied().chain([(over, -1)]), Compare::AtLeast, 0);
                self.supply[part].push((over, -1));
            }
            self.supply[part].extend(bought);
        }
    }

    /// The packs of an offer at each of its prices, as units.
    fn offer(&mut self, offer: &Offer, slots: i64, charge: Option<Variable>) -> Vec<Term> {
        let pack = i64::from(offer.pack);
        // a pack that reaches beyond the last slot is the last of use, unless a break is
        let useful = if offer.breaks.is_empty() { (slots + pack - 1) / pack } else { i64::MAX };
        let prices = [(0, offer.unit_price)].into_iter().chain(offer.breaks.iter().map(|s| (s.from, s.unit_price)));
        let ends = offer.breaks.iter().map(|step| step.from - 1).chain([offer.stock]);
        let (mut units, mut steps) = (Vec::new(), Vec::new());
        for ((from, price), to) in prices.zip(ends) {
            let least = (i64::from(from) + pack - 1) / pack;
            let most = (i64::from(to.min(offer.stock)) / pack).min(useful);
            if most < least || most == 0 {
                continue;
            }
            let cost = minor(Some(price)) * pack;
            let is_simple = pack == 1 && offer.breaks.is_empty() && charge.is_none() && offer.surplus_value.is_none();
            let packs = if is_simple && self.form == Form::Tight {
                self.linear.real(cost, most)
            } else {
                self.linear.integer(cost, 0, most)
            };
            if !offer.breaks.is_empty() {
                let is_reached = self.linear.binary(0);
                self.linear.row([(packs, 1), (is_reached, -most)], Compare::AtMost, 0);
                if least > 0 {
                    self.linear.row([(packs, 1), (is_reached, -least)], Compare::AtLeast, 0);
                }
                steps.push((is_reached, 1));
            }
            if let Some(charge) = charge {
                self.linear.row([(packs, 1), (charge, -most)], Compare::AtMost, 0);
            }
            units.push((packs, pack));
        }
        if steps.len() > 1 {
            self.linear.row(steps, Compare::AtMost, 1);
        }
        units
    }
}
