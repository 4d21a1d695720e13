//! Sums, ends and counts of samples, many side by side.
//!
//! Each is a loop of its own over what the cache holds: a compiler makes vectors of a loop that does one thing, and four
//! such loops are several times as fast as one that does four. Order and results are the same on every processor.

use std::array;

use pulp::Simd;

/// Sums side by side.
const LANES: usize = 16;

/// Σ of something of both, in doubles.
#[inline(always)]
pub(super) fn sum(x: &[f32], y: &[f32], of: impl Fn(f64, f64) -> f64) -> f64 {
    let (xs, last_x) = x.as_chunks::<LANES>();
    let (ys, last_y) = y.as_chunks::<LANES>();
    let mut sums = [0.0_f64; LANES];
    for (x, y) in xs.iter().zip(ys) {
        for lane in 0..LANES {
            sums[lane] += of(f64::from(x[lane]), f64::from(y[lane]));
        }
    }
    for (lane, (x, y)) in last_x.iter().zip(last_y).enumerate() {
        sums[lane] += of(f64::from(*x), f64::from(*y));
    }
    let halves: [f64; LANES / 2] = array::from_fn(|k| sums[k] + sums[k + LANES / 2]);
    let quarters: [f64; LANES / 4] = array::from_fn(|k| halves[k] + halves[k + LANES / 4]);
    (quarters[0] + quarters[2]) + (quarters[1] + quarters[3])
}

/// Smallest and largest; +∞ and −∞ of none.
#[inline(always)]
pub(super) fn range<S: Simd>(simd: S, x: &[f32]) -> [f32; 2] {
    around(simd, x, |x| [x, x], |x| [x, x])
}

/// How many samples lie below a threshold, the largest of them and the smallest of the others.
#[inline(always)]
pub(super) fn parted<S: Simd>(simd: S, x: &[f32], threshold: f32) -> (usize, [f32; 2]) {
    let none = [f32::INFINITY, f32::NEG_INFINITY];
    let (border, nones) = (simd.splat_f32s(threshold), none.map(|x| simd.splat_f32s(x)));
    let [over, under] = around(
        simd,
        x,
        |x| {
            let below = simd.less_than_f32s(x, border);
            [simd.select_f32s(below, nones[0], x), simd.select_f32s(below, x, nones[1])]
        },
        |x| if x < threshold { [none[0], x] } else { [x, none[1]] },
    );
    (count(x, |x| x < threshold), [under, over])
}

/// The smallest of one and the largest of another thing that every sample gives.
#[inline(always)]
fn around<S: Simd>(
    simd: S,
    x: &[f32],
    of: impl Fn(S::f32s) -> [S::f32s; 2],
    of_one: impl Fn(f32) -> [f32; 2],
) -> [f32; 2] {
    // Four chains each: the next minimum need not wait for the last one.
    let (chunks, rest) = S::as_simd_f32s(x);
    let (fours, others) = chunks.as_chunks::<4>();
    let mut low = [simd.splat_f32s(f32::INFINITY); 4];
    let mut high = [simd.splat_f32s(f32::NEG_INFINITY); 4];
    for four in fours {
        for k in 0..4 {
            let [a, b] = of(four[k]);
            (low[k], high[k]) = (simd.min_f32s(low[k], a), simd.max_f32s(high[k], b));
        }
    }
    for x in others {
        let [a, b] = of(*x);
        (low[0], high[0]) = (simd.min_f32s(low[0], a), simd.max_f32s(high[0], b));
    }
    let low = simd.min_f32s(simd.min_f32s(low[0], low[1]), simd.min_f32s(low[2], low[3]));
    let high = simd.max_f32s(simd.max_f32s(high[0], high[1]), simd.max_f32s(high[2], high[3]));
    let mut ends = [simd.reduce_min_f32s(low), simd.reduce_max_f32s(high)];
    for x in rest {
        let [a, b] = of_one(*x);
        ends = [if a < ends[0] { a } else { ends[0] }, if b > ends[1] { b } else { ends[1] }];
    }
    ends
}

/// How many are so; of at most 2³² samples.
#[inline(always)]
pub(super) fn count(x: &[f32], is: impl Fn(f32) -> bool) -> usize {
    let mut found = 0_u32;
    for x in x {
        found += u32::from(is(*x));
    }
    found as usize
}
