//! Lookup tables of the Modality and VOI LUT modules (PS3.3 C.11.1.1, C.11.2.1.1).

/// A table that maps values beginning at `first`.
#[derive(Clone, Debug, PartialEq)]
pub struct LookupTable {
    /// First mapped input.
    pub first: i32,
    /// Entries.
    pub entries: Vec<u16>,
    /// Bits of an entry.
    pub bits: u16,
    /// Explanation given by the file.
    pub explanation: String,
}

impl LookupTable {
    /// A table from its descriptor and data.
    ///
    /// A first descriptor value of 0 means 65536 entries; the second is signed when `signed`.
    /// 8-bit entries may be packed two to a word: told by the number of bytes. `None` when the
    /// data are too short.
    #[must_use]
    pub fn new(
        descriptor: [u16; 3],
        data: &[u8],
        signed: bool,
        explanation: String,
    ) -> Option<LookupTable> {
        let count = if descriptor[0] == 0 {
            65_536
        } else {
            usize::from(descriptor[0])
        };
        let first = if signed {
            i32::from(descriptor[1].cast_signed())
        } else {
            i32::from(descriptor[1])
        };
        let bits = descriptor[2];
        let entries: Vec<u16> = if data.len() >= 2 * count {
            data.chunks_exact(2)
                .take(count)
                .map(|b| u16::from_le_bytes([b[0], b[1]]))
                .collect()
        } else if bits <= 8 && data.len() >= count {
            data[..count].iter().map(|b| u16::from(*b)).collect()
        } else {
            return None;
        };
        Some(LookupTable {
            first,
            entries,
            bits: bits.clamp(1, 16),
            explanation,
        })
    }

    /// The entry of a value; values beyond either end take the end's entry.
    #[must_use]
    pub fn map(&self, value: f64) -> f64 {
        let at =
            (value.round() - f64::from(self.first)).clamp(0.0, (self.entries.len() - 1) as f64);
        f64::from(self.entries[at as usize])
    }

    /// Largest entry the bits allow.
    #[must_use]
    pub fn top(&self) -> f64 {
        f64::from((1u32 << self.bits) - 1)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn descriptors_follow_the_standard() {
        let data: Vec<u8> = (0..=255u8).collect();
        let packed = LookupTable::new([256, 0xFFFE, 8], &data, true, String::new());
        assert!(
            packed
                .as_ref()
                .is_some_and(|t| t.first == -2 && t.map(-2.0) == 0.0 && t.map(3.0) == 5.0)
        );
        assert!(packed.is_some_and(|t| t.map(-99.0) == 0.0 && t.map(9_999.0) == 255.0));
        let wide = vec![1u8; 131_072];
        assert_eq!(
            LookupTable::new([0, 0, 16], &wide, false, String::new()).map(|t| t.entries.len()),
            Some(65_536)
        );
        assert!(LookupTable::new([256, 0, 16], &data, false, String::new()).is_none());
    }
}
