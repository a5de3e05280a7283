use std::ops::{Deref, DerefMut};
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use crate::purchase::Offer;

/// A list of offers that requests share: a clone of a request copies none. It is read and changed as a list; where others
/// share it, a change copies it first.
///
/// ```
/// use slotwright::purchase::{Offer, Offers, PlanRequest};
/// use slotwright::{Capacity, Label, Price};
///
/// let module = "32GB 2Rx4 PC4-2400T-RB2-11".parse::<Label>()?.to_module();
/// let market: Offers = [Offer::new("lot-7".parse()?, module, Price::new(4_500, "EUR".parse()?), 40)].into_iter().collect();
/// let small = PlanRequest::new().usable_at_least(Capacity::from_gib(128)).shared_offers(&market);
/// let large = PlanRequest::new().usable_at_least(Capacity::from_gib(512)).shared_offers(&market);
/// assert!(std::ptr::eq(&small.offers[0], &large.offers[0]));
///
/// let mut dearer = large.clone();
/// dearer.offers[0].stock = 3;
/// assert_eq!(large.offers[0].stock, 40);
/// # Ok::<(), Box<dyn std::error::Error>>(())
/// ```
#[derive(Debug, Clone, Default, PartialEq, Eq, Hash, Serialize, Deserialize)]
#[cfg_attr(feature = "schemars", derive(schemars::JsonSchema))]
#[serde(transparent)]
pub struct Offers(Arc<Vec<Offer>>);

impl Offers {
    /// Adds an offer.
    pub fn push(&mut self, offer: Offer) {
        self.to_mut().push(offer);
    }

    /// The list itself, to change; where others share it, it is copied first.
    pub fn to_mut(&mut self) -> &mut Vec<Offer> {
        Arc::make_mut(&mut self.0)
    }
}

impl Deref for Offers {
    type Target = [Offer];

    fn deref(&self) -> &[Offer] {
        &self.0
    }
}

impl DerefMut for Offers {
    fn deref_mut(&mut self) -> &mut [Offer] {
        self.to_mut()
    }
}

impl From<Vec<Offer>> for Offers {
    fn from(offers: Vec<Offer>) -> Self {
        Self(Arc::new(offers))
    }
}

impl FromIterator<Offer> for Offers {
    fn from_iter<I: IntoIterator<Item = Offer>>(offers: I) -> Self {
        offers.into_iter().collect::<Vec<_>>().into()
    }
}

impl Extend<Offer> for Offers {
    fn extend<I: IntoIterator<Item = Offer>>(&mut self, offers: I) {
        self.to_mut().extend(offers);
    }
}

impl<'o> IntoIterator for &'o Offers {
    type Item = &'o Offer;
    type IntoIter = std::slice::Iter<'o, Offer>;

    fn into_iter(self) -> Self::IntoIter {
        self.0.iter()
    }
}

impl<'o> IntoIterator for &'o mut Offers {
    type Item = &'o mut Offer;
    type IntoIter = std::slice::IterMut<'o, Offer>;

    fn into_iter(self) -> Self::IntoIter {
        self.iter_mut()
    }
}
