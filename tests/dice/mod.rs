//! Random numbers for tests that write random cases; the same on every machine.

#![allow(dead_code, reason = "each test takes what it needs")]

/// SplitMix64: small, and the same everywhere.
pub struct Dice(pub u64);

impl Dice {
    /// 64 random bits.
    pub fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// From 0 up to 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Even between two ends.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// Even on the scale of logarithms.
    pub fn spread(&mut self, low: f64, high: f64) -> f64 {
        low * libm::pow(high / low, self.unit())
    }

    /// A whole number below `n`.
    pub fn below(&mut self, n: usize) -> usize {
        (self.next() % n as u64) as usize
    }

    /// Whether something with this share of chances comes about.
    pub fn chance(&mut self, share: f64) -> bool {
        self.unit() < share
    }
}
