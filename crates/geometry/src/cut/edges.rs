//! Maps from edges, for meshes in which edges are looked up some ten thousand times a cut.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

/// A map from pairs of vertices; only ever looked into, never walked through.
pub(super) type EdgeMap<V> = HashMap<[u32; 2], V, BuildHasherDefault<EdgeHasher>>;

/// Multiplicative hashing (Knuth, The Art of Computer Programming 3, 6.4), which suits vertex numbers
/// that no adversary chose.
#[derive(Default)]
pub(super) struct EdgeHasher(u64);

impl EdgeHasher {
    fn mix(&mut self, word: u64) {
        /// 2⁶⁴ over the golden ratio, made odd.
        const MULTIPLIER: u64 = 0x9e37_79b9_7f4a_7c15;
        self.0 = (self.0.rotate_left(26) ^ word).wrapping_mul(MULTIPLIER);
    }
}

impl Hasher for EdgeHasher {
    fn finish(&self) -> u64 {
        // The table is indexed by the low bits, which the multiplication mixes least.
        self.0 ^ (self.0 >> 32)
    }

    fn write(&mut self, bytes: &[u8]) {
        for chunk in bytes.chunks(8) {
            let mut word = [0; 8];
            word[..chunk.len()].copy_from_slice(chunk);
            self.mix(u64::from_le_bytes(word));
        }
    }

    fn write_usize(&mut self, _length: usize) {
        // Every key has two vertices.
    }
}
