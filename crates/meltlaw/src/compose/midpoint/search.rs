//! Two small helpers of the rule: the nearest place that fits, and values put on their limits.

/// The place nearest to `from` on the way to `goal` that fits: steps, then bisection of the step that
/// crosses over; `None` where no step fits.
pub(super) fn first_that_fits(from: f64, goal: f64, steps: usize, fits: impl Fn(f64) -> bool) -> Option<f64> {
    if from == goal {
        return None;
    }
    let at = |i: usize| if i == steps { goal } else { from + (goal - from) * (i as f64 / steps as f64) };
    let first = (1..=steps).find(|&i| fits(at(i)))?;
    let (mut outside, mut inside) = (at(first - 1), at(first));
    for _ in 0..60 {
        let middle = f64::midpoint(outside, inside);
        if middle == outside || middle == inside {
            break;
        }
        if fits(middle) { inside = middle } else { outside = middle }
    }
    Some(inside)
}

/// The limit itself where a value lies on it up to `rounding`.
pub(super) fn on_limit(value: f64, limits: Option<[f64; 2]>, rounding: f64) -> f64 {
    limits.into_iter().flatten().find(|limit| (value - limit).abs() < rounding * limit.max(1.0)).unwrap_or(value)
}
