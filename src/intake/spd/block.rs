use crate::intake::spd::SpdImage;
use crate::module::Generation;
use crate::population::{Remark, Remarked};
use crate::unit::Name;

/// A part of an SPD image that a checksum covers.
///
/// Sources: JESD21-C 4.1.2.L-6 section 8.1.53, JESD400-5C section 7; public decoders for DDR3.
///
/// ```
/// use slotwright::intake::spd::SpdImage;
///
/// let mut bytes = [0; 256];
/// (bytes[2], bytes[126], bytes[127]) = (0x0c, 0x34, 0x12);
/// let image = SpdImage::read(&bytes)?;
/// let [base, module] = image.blocks()[..] else { panic!() };
/// assert_eq!((base.first, base.last, base.stored), (0, 125, 0x1234));
/// assert!(!base.is_sound() && module.is_sound());
/// # Ok::<(), slotwright::intake::spd::SpdError>(())
/// ```
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub struct SpdBlock {
    /// Its first byte.
    pub first: usize,
    /// Its last byte.
    pub last: usize,
    /// The checksum as stored.
    pub stored: u16,
    /// The checksum as worked out.
    pub computed: u16,
}

impl SpdBlock {
    /// Whether the checksum is right. That of nothing but zeros is.
    #[must_use]
    pub const fn is_sound(&self) -> bool {
        self.stored == self.computed
    }

    /// Whether it covers this byte.
    #[must_use]
    pub const fn covers(&self, byte: usize) -> bool {
        self.first <= byte && byte <= self.last
    }

    pub(crate) fn remark(&self) -> Option<Remark> {
        let at = Name::lossy(&format!("bytes {} to {}", self.first, self.last));
        let says = Remarked::Checksum { what: at.clone(), stored: self.stored.into(), computed: self.computed.into() };
        (!self.is_sound()).then(|| Remark::new(at, says))
    }
}

/// The 16-bit checksum of SPD: polynomial 0x1021, from 0, the highest bit first.
pub(crate) fn crc(bytes: &[u8]) -> u16 {
    // two bytes at a time, in their sixteen steps at once
    let step = |crc: u16, word: u16| {
        let mixed = crc ^ word;
        let mixed = mixed ^ (mixed >> 4) ^ (mixed >> 8) ^ (mixed >> 11) ^ (mixed >> 12);
        mixed ^ (mixed << 5) ^ (mixed << 12)
    };
    // a zero before the first byte changes nothing
    let (odd, pairs) = bytes.split_at(bytes.len() % 2);
    let start = odd.iter().fold(0, |crc, &byte| step(crc, byte.into()));
    pairs.chunks_exact(2).fold(start, |crc, pair| match *pair {
        [high, low] => step(crc, u16::from_be_bytes([high, low])),
        _ => crc,
    })
}

impl SpdImage {
    /// The blocks of the image that a checksum covers, as far as the image reaches. Manufacturing data is in none, but for DDR3 images whose byte
    /// 0 says so.
    #[must_use]
    pub fn blocks(&self) -> Vec<SpdBlock> {
        let places: &[(usize, usize, usize)] = match self.generation() {
            Generation::Ddr3 if self.byte(0).is_ok_and(|byte| byte & 0x80 != 0) => &[(0, 116, 126)],
            Generation::Ddr3 => &[(0, 125, 126)],
            Generation::Ddr4 if self.device().is_some() => &[(0, 125, 126), (128, 253, 254), (256, 317, 318)],
            Generation::Ddr4 => &[(0, 125, 126), (128, 253, 254)],
            Generation::Ddr5 => &[(0, 509, 510)],
        };
        let block = |&(first, last, at): &(usize, usize, usize)| {
            let stored = self.word(at).ok()?;
            let computed = crc(self.kept().get(first..=last)?);
            Some(SpdBlock { first, last, stored, computed })
        };
        places.iter().filter_map(block).collect()
    }

    /// Whether every checksum in the image is right.
    #[must_use]
    pub fn is_sound(&self) -> bool {
        self.blocks().iter().all(SpdBlock::is_sound)
    }
}
