//! Worked examples of the GUM and of its supplement on draws, through the least squares, the quantiles and
//! the random streams that the laws and the composer use.

use meltlaw::fit::least_squares::{LeastSquares, covariance_and_leverage, minimise};
use meltlaw::statistics::{DrawStream, Purpose, chi_squared_quantile, interval_of, mean, quantile, quantile_error};
use meltlaw_tests::csv::Table;
use meltlaw_tests::digits::digits;
use meltlaw_tests::reference::{json, number};
use nalgebra::DMatrix;

/// y = y1 + y2·(t − 20 °C).
struct Thermometer {
    readings_c: Vec<f64>,
    corrections_c: Vec<f64>,
}

impl LeastSquares for Thermometer {
    fn residual_count(&self) -> usize {
        self.readings_c.len()
    }
    fn residuals(&self, b: &[f64], out: &mut [f64]) {
        for ((t, y), e) in self.readings_c.iter().zip(&self.corrections_c).zip(out) {
            *e = b[0] + b[1] * (t - 20.0) - y;
        }
    }
    fn jacobian(&self, _: &[f64], out: &mut DMatrix<f64>) {
        for (i, t) in self.readings_c.iter().enumerate() {
            out[(i, 0)] = 1.0;
            out[(i, 1)] = t - 20.0;
        }
    }
}

#[test]
fn the_thermometer_of_annex_h3_has_its_line_and_its_uncertainty_at_30_degrees() {
    let table = Table::of("reference/gum_h3_thermometer/data.csv");
    let wanted = json("reference/gum_h3_thermometer/expected.json");
    let problem = Thermometer {
        readings_c: table.numbers("thermometer_reading_c"),
        corrections_c: table.numbers("observed_correction_c"),
    };
    let found = minimise(&problem, &[0.0, 0.0]);
    let spread = found.sum_of_squares() / (problem.residual_count() - 2) as f64;
    let (covariance, _) = covariance_and_leverage(&found.jacobian).expect("eleven different temperatures");
    let c = covariance * spread;
    // JCGM 100:2008, H.3, to 22 digits; ten are asked of doubles that cancel two (t − 20, y near y).
    let close = |value: f64, pointer: &str| {
        let want = number(&wanted, &format!("/solution/{pointer}"));
        assert!(digits(value, want) >= 10.0, "{pointer}: {value} {want}");
    };
    close(found.b[0], "y1");
    close(found.b[1], "y2");
    close(c[(0, 0)].sqrt(), "u_y1");
    close(c[(1, 1)].sqrt(), "u_y2");
    close(c[(0, 1)] / (c[(0, 0)] * c[(1, 1)]).sqrt(), "correlation");
    close(spread.sqrt(), "residual_standard_deviation");
    close(found.b[0] + 10.0 * found.b[1], "correction_at_30_c");
    close((c[(0, 0)] + 20.0 * c[(0, 1)] + 100.0 * c[(1, 1)]).sqrt(), "u_correction_at_30_c");
}

/// Seeds, and draws under each.
const SEEDS: u64 = 100;
const DRAWS_PER_SEED: u64 = 40_000;

/// The 95 % interval of the sum of four draws against the closed form, each end within four of its stated
/// standard errors under every seed; and those errors against how the ends scatter from seed to seed.
fn additive(name: &str, sum: impl Fn(&mut DrawStream) -> f64) {
    let wanted = json("reference/jcgm101_additive_model/expected.json");
    let want = [0, 1].map(|end| number(&wanted, &format!("/exact/{name}/{end}")));
    let (mut found, mut stated) = ([vec![], vec![]], [vec![], vec![]]);
    for seed in 0..SEEDS {
        let mut values: Vec<f64> =
            (0..DRAWS_PER_SEED).map(|i| sum(&mut DrawStream::new(seed, Purpose::Simulation, i))).collect();
        let interval = interval_of(&mut values, 0.95);
        for (end, probability) in [0.025, 0.975].into_iter().enumerate() {
            let error = quantile_error(&mut values, probability);
            let off = interval[end] - want[end];
            assert!(
                off.abs() <= 4.0 * error,
                "{name}, seed {seed}: {} for {}, error {error}",
                interval[end],
                want[end]
            );
            found[end].push(interval[end]);
            stated[end].push(error);
        }
    }
    let degrees = (SEEDS - 1) as f64;
    for (found, stated) in found.iter().zip(&stated) {
        let middle = mean(found);
        let scatter: f64 = found.iter().map(|v| (v - middle).powi(2)).sum();
        let variance = mean(&stated.iter().map(|e| e * e).collect::<Vec<f64>>());
        // Six such sums are tested: 0.1 % in all.
        let [low, high] = [0.000_5 / 6.0, 1.0 - 0.000_5 / 6.0].map(|p| chi_squared_quantile(p, degrees));
        let sum = scatter / variance;
        assert!(sum > low && sum < high, "{name}: {sum} outside {low} to {high}");
    }
}

/// A rectangular draw of standard deviation 1: half width √3.
fn rectangular(stream: &mut DrawStream) -> f64 {
    3.0_f64.sqrt() * (2.0 * stream.uniform() - 1.0)
}

#[test]
fn sums_of_four_draws_have_the_intervals_of_jcgm_101() {
    // JCGM 101:2008, clause 9.2, closed forms.
    additive("gaussian_95", |s| (0..4).map(|_| s.normal()).sum());
    additive("rectangular_95", |s| (0..4).map(|_| rectangular(s)).sum());
    additive("one_dominant_95", |s| (0..3).map(|_| rectangular(s)).sum::<f64>() + 10.0 * rectangular(s));
}

/// JCGM 101:2008, clause 9.5: one draw of the gauge block's length deviation, nm. Trapezoids with inexact
/// limits are a uniform half width times a uniform.
fn gauge_block_nm(s: &mut DrawStream) -> f64 {
    let student = |s: &mut DrawStream, scale: f64, degrees: f64| {
        let z = s.normal();
        scale * z * s.student_factor(degrees)
    };
    let inexact = |s: &mut DrawStream, half: f64, by: f64| {
        let half = half + by * (2.0 * s.uniform() - 1.0);
        half * (2.0 * s.uniform() - 1.0)
    };
    let standard = 50_000_623.0 + student(s, 25.0, 18.0);
    let difference = 215.0 + student(s, 6.0, 24.0);
    let random = student(s, 4.0, 5.0);
    let systematic = student(s, 7.0, 8.0);
    let expansion = 11.5e-6 + 2e-6 * (2.0 * s.uniform() - 1.0);
    let mean_temperature = -0.1 + 0.2 * s.normal();
    let cycle = 0.5 * (2.0 * std::f64::consts::PI * s.uniform()).sin();
    let expansion_difference = inexact(s, 1e-6, 0.1e-6);
    let temperature_difference = inexact(s, 0.05, 0.025);
    standard + difference + random + systematic
        - standard * (expansion_difference * (mean_temperature + cycle) + expansion * temperature_difference)
        - 50_000_000.0
}

/// Draws of the gauge block.
const DRAWS: u64 = 100_000;

#[test]
fn the_gauge_block_of_jcgm_101_has_the_mean_and_spread_of_long_simulations() {
    let wanted = json("reference/jcgm101_gauge_block/expected.json");
    let values: Vec<f64> =
        (0..DRAWS).map(|i| gauge_block_nm(&mut DrawStream::new(1, Purpose::Simulation, i))).collect();
    let mean = mean(&values);
    let spread = (values.iter().map(|v| (v - mean).powi(2)).sum::<f64>() / (DRAWS - 1) as f64).sqrt();
    // Stored: 20 million draws by another program. Four standard errors of a mean and of a standard deviation
    // (kurtosis near 3) of our draws.
    let [want_mean, want_spread] = ["/monte_carlo/mean/0", "/monte_carlo/mean/1"].map(|p| number(&wanted, p));
    let n = DRAWS as f64;
    assert!((mean - want_mean).abs() < 4.0 * want_spread / n.sqrt(), "{mean} {want_mean}");
    assert!((spread - want_spread).abs() < 4.0 * want_spread / (2.0 * n).sqrt(), "{spread} {want_spread}");
    let mut values = values;
    // The stored quantiles scatter by 0.11 nm from one of their five runs to the next.
    for (probability, pointer) in [(0.005, "/monte_carlo/mean/4"), (0.995, "/monte_carlo/mean/5")] {
        let found = quantile(&mut values, probability);
        let error = quantile_error(&mut values, probability).hypot(0.11);
        assert!((found - number(&wanted, pointer)).abs() < 4.0 * error, "{probability}: {found}, error {error}");
    }
}
