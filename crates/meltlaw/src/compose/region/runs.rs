//! Stretches of one variable in which a number is not negative.

/// Stretches over ascending points, ends to `tolerance` from inside. Between points a stretch is found where the
/// number has a maximum there that reaches zero.
pub(super) fn runs(points: &[f64], tolerance: f64, number: impl Fn(f64) -> f64) -> Vec<[f64; 2]> {
    let values: Vec<f64> = points.iter().map(|&p| number(p)).collect();
    let inside = |i: usize| values[i] >= 0.0;
    let edge = |mut yes: f64, mut no: f64| {
        while (no - yes).abs() > tolerance {
            let middle = f64::midpoint(yes, no);
            if number(middle) >= 0.0 { yes = middle } else { no = middle }
        }
        yes
    };
    let mut found: Vec<[f64; 2]> = Vec::new();
    let mut open: Option<f64> = None;
    for i in 0..points.len() {
        if inside(i) && open.is_none() {
            open = Some(if i > 0 { edge(points[i], points[i - 1]) } else { points[0] });
        }
        if let Some(start) = open.filter(|_| inside(i) && (i + 1 == points.len() || !inside(i + 1))) {
            let end = if i + 1 < points.len() { edge(points[i], points[i + 1]) } else { points[i] };
            found.push([start, end]);
            open = None;
        }
        let peak = i > 0
            && i + 1 < points.len()
            && (i - 1..=i + 1).all(|k| !inside(k))
            && values[i] >= values[i - 1]
            && values[i] >= values[i + 1];
        if peak && values[i] > -0.2 {
            let top = highest([points[i - 1], points[i + 1]], tolerance, &number, true);
            if number(top) >= 0.0 {
                found.push([edge(top, points[i - 1]), edge(top, points[i + 1])]);
            }
        }
    }
    found
}

/// Where a number with one maximum has it, by golden sections; the first place that is not negative if that will
/// do.
pub(super) fn highest([mut a, mut b]: [f64; 2], tolerance: f64, number: impl Fn(f64) -> f64, any_inside: bool) -> f64 {
    const GOLDEN: f64 = 0.618_033_988_749_894_9;
    let (mut c, mut d) = (b - GOLDEN * (b - a), a + GOLDEN * (b - a));
    let (mut at_c, mut at_d) = (number(c), number(d));
    while (b - a).abs() > tolerance {
        if any_inside && at_c.max(at_d) >= 0.0 {
            break;
        }
        if at_c > at_d {
            (b, d, at_d) = (d, c, at_c);
            c = b - GOLDEN * (b - a);
            at_c = number(c);
        } else {
            (a, c, at_c) = (c, d, at_d);
            d = a + GOLDEN * (b - a);
            at_d = number(d);
        }
    }
    if at_c > at_d { c } else { d }
}

/// So many points evenly from one end to the other, another among them.
pub(super) fn even([low, high]: [f64; 2], count: usize, also: Option<f64>) -> Vec<f64> {
    let mut points: Vec<f64> = (0..count).map(|i| low + (high - low) * i as f64 / (count - 1).max(1) as f64).collect();
    points.extend(also.filter(|p| (low..=high).contains(p)));
    points.sort_by(f64::total_cmp);
    points.dedup();
    points
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn stretches_are_found_also_between_points() {
        // Not negative on [0.21, 0.22] only: between the points 0, 0.1, …, 1.
        let thin = |x: f64| 0.005 - (x - 0.215_f64).abs();
        let found = runs(&even([0.0, 1.0], 11, None), 1e-6, thin);
        assert_eq!(found.len(), 1);
        assert!((found[0][0] - 0.21).abs() < 1e-6 && (found[0][1] - 0.22).abs() < 1e-6, "{found:?}");
        // Two stretches, one open at the end of the points.
        let found = runs(&even([0.0, 1.0], 11, None), 1e-6, |x| (x - 0.35) * (x - 0.75));
        assert_eq!(found.len(), 2);
        assert!((found[0][1] - 0.35).abs() < 1e-6 && found[1][1] == 1.0);
    }
}
