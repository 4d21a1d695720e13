//! Annex H.1 of the GUM, the end gauge: first-order propagation with exact derivatives, and the whole
//! distribution through the random streams that the composer uses.

use meltlaw::statistics::{DrawStream, Purpose, student_t_quantile};
use meltlaw_tests::csv::Table;
use meltlaw_tests::digits::digits;
use meltlaw_tests::dual::Dual;
use meltlaw_tests::reference::{json, number};

/// l = l_s + d − l_s·(δα·θ + α_s·δθ), nm; d and θ are sums of their parts.
fn length_nm(x: &[Dual]) -> Dual {
    let difference = x[1] + x[2] + x[3];
    let temperature = x[6] + x[7];
    x[0] + difference - x[0] * (x[5] * temperature + x[4] * x[8])
}

/// The inputs are stored with ten to eleven digits, and the degrees of freedom hold their fourth powers.
const INPUT_DIGITS: f64 = 8.5;

struct Inputs {
    estimates: Vec<f64>,
    uncertainties: Vec<f64>,
    /// Degrees of freedom; infinite where none are given.
    degrees: Vec<f64>,
}

fn inputs() -> Inputs {
    let table = Table::of("reference/gum_h1_end_gauge/inputs.csv");
    let degrees = table.words("degrees_of_freedom");
    Inputs {
        estimates: table.numbers("estimate"),
        uncertainties: table.numbers("standard_uncertainty"),
        degrees: degrees.iter().map(|w| table.number(w).unwrap_or(f64::INFINITY)).collect(),
    }
}

/// u by the law of propagation and its degrees by Welch and Satterthwaite, over some of the inputs.
fn combined(inputs: &Inputs, which: std::ops::Range<usize>) -> (f64, f64) {
    let by = length_nm(&Dual::variables(&inputs.estimates)).by;
    let parts: Vec<f64> = which.clone().map(|i| (by[i] * inputs.uncertainties[i]).powi(2)).collect();
    let variance: f64 = parts.iter().sum();
    let spread: f64 = parts.iter().zip(&inputs.degrees[which]).map(|(v, nu)| v * v / nu).sum();
    (variance.sqrt(), variance * variance / spread)
}

#[test]
fn the_end_gauge_has_its_length_uncertainty_and_interval() {
    let wanted = json("reference/gum_h1_end_gauge/expected.json");
    let want = |what: &str| number(&wanted, &format!("/solution/{what}"));
    let inputs = inputs();
    let length = length_nm(&Dual::variables(&inputs.estimates)).value;
    assert!(digits(length, want("l_nm")) > INPUT_DIGITS);
    let (u, nu) = combined(&inputs, 0..9);
    assert!(digits(u, want("u_first_order_nm")) > INPUT_DIGITS, "{u}");
    assert!(digits(nu, want("effective_degrees_of_freedom")) > INPUT_DIGITS, "{nu}");
    let (u_difference, nu_difference) = combined(&inputs, 1..4);
    assert!(digits(u_difference, want("u_difference_nm")) > INPUT_DIGITS);
    assert!(digits(nu_difference, want("degrees_of_freedom_difference")) > INPUT_DIGITS);
    // JCGM 100:2008, G.4.1: degrees are rounded down. The quantile is the one of every interval here; eight
    // digits are what its routine is asked for.
    let expanded = student_t_quantile(0.995, nu.floor()) * u;
    assert!(digits(expanded, want("U99_nm")) >= 8.0, "{expanded}");
    // As published, from memory: 32 nm, 16 degrees, 93 nm (from the rounded 32 nm).
    assert!((u.round() - number(&wanted, "/published/u_nm")).abs() < 0.5);
    assert!((student_t_quantile(0.995, 16.0) * 32.0 - number(&wanted, "/published/U99_nm")).abs() < 0.6);
}

#[test]
fn draws_show_the_second_order_of_the_end_gauge() {
    let wanted = json("reference/gum_h1_end_gauge/expected.json");
    let want = |what: &str| number(&wanted, &format!("/solution/{what}"));
    let inputs = inputs();
    let draws = 100_000_u64;
    let values: Vec<f64> = (0..draws)
        .map(|i| {
            let mut stream = DrawStream::new(1, Purpose::Simulation, i);
            // The second order depends on the variances alone: normal draws for every input.
            let x: Vec<Dual> = (inputs.estimates.iter().zip(&inputs.uncertainties))
                .map(|(x, u)| Dual::constant(x + u * stream.normal()))
                .collect();
            length_nm(&x).value - want("l_nm")
        })
        .collect();
    let mean = meltlaw::statistics::mean(&values);
    let moment = |power: i32| values.iter().map(|v| (v - mean).powi(power)).sum::<f64>() / draws as f64;
    let (variance, n) = (moment(2), draws as f64);
    // Standard error of a standard deviation: √((kurtosis − 1)/(4n))·s.
    let error = variance.sqrt() * ((moment(4) / (variance * variance) - 1.0) / (4.0 * n)).sqrt();
    let u = want("u_with_second_order_nm");
    assert!((variance.sqrt() - u).abs() < 4.0 * error, "{} for {u}, error {error}", variance.sqrt());
    // And the first order alone would be rejected: 31.66 nm is 2.1 nm lower.
    assert!((variance.sqrt() - want("u_first_order_nm")).abs() > 10.0 * error);
    assert!(mean.abs() < 4.0 * u / n.sqrt(), "{mean}");
}
