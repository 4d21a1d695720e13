//! Errors in variables against published and 50-digit solutions, through the routine of the burn-off law.

use meltlaw::fit::errors_in_variables::{EivFit, MOST, Observation, ReadingError, fit};
use meltlaw::laws::{BurnOff, CoefficientName, Law};
use meltlaw::study::BurnOffForm;
use meltlaw_tests::csv::Table;
use meltlaw_tests::digits::{digits, fewest_digits};
use meltlaw_tests::reference::{json, number, numbers};

/// Digits asked of coefficients and of standard errors: the references hold 18, and the minimum is found
/// to the rounding of doubles.
const COEFFICIENT_DIGITS: f64 = 10.0;
const ERROR_DIGITS: f64 = 8.0;

const fn name(name: &'static str) -> CoefficientName {
    CoefficientName { name, unit: "1" }
}

/// y = a + b·x.
struct StraightLine;

impl Law for StraightLine {
    fn coefficients(&self) -> &'static [CoefficientName] {
        const { &[name("intercept"), name("slope")] }
    }
    fn quantities(&self) -> usize {
        1
    }
    fn predict(&self, b: &[f64], row: &[f64]) -> f64 {
        b[0] + b[1] * row[0]
    }
    fn gradient(&self, _: &[f64], row: &[f64], out: &mut [f64]) {
        out.copy_from_slice(&[1.0, row[0]]);
    }
    fn gradient_by_row(&self, b: &[f64], _: &[f64], out: &mut [f64]) {
        out[0] = b[1];
    }
}

/// y = b1 + b2·(exp(b3·x) − 1)².
struct GuideExample;

impl Law for GuideExample {
    fn coefficients(&self) -> &'static [CoefficientName] {
        const { &[name("b1"), name("b2"), name("b3")] }
    }
    fn quantities(&self) -> usize {
        1
    }
    fn predict(&self, b: &[f64], row: &[f64]) -> f64 {
        b[0] + b[1] * (b[2] * row[0]).exp_m1().powi(2)
    }
    fn gradient(&self, b: &[f64], row: &[f64], out: &mut [f64]) {
        let less_one = (b[2] * row[0]).exp_m1();
        out.copy_from_slice(&[1.0, less_one * less_one, 2.0 * b[1] * less_one * (less_one + 1.0) * row[0]]);
    }
    fn gradient_by_row(&self, b: &[f64], row: &[f64], out: &mut [f64]) {
        let less_one = (b[2] * row[0]).exp_m1();
        out[0] = 2.0 * b[1] * less_one * (less_one + 1.0) * b[2];
    }
}

/// An observation whose quantities err independently.
fn observation(y: f64, y_se: f64, quantities: &[(f64, f64)]) -> Observation {
    let mut row = [0.0; MOST];
    let mut errors = Vec::new();
    for (i, &(value, standard_deviation)) in quantities.iter().enumerate() {
        row[i] = value;
        let mut direction = [0.0; MOST];
        direction[i] = 1.0;
        errors.push(ReadingError { standard_deviation, direction });
    }
    Observation { y, y_se, row, errors }
}

fn standard_errors(fit: &EivFit) -> Vec<f64> {
    fit.stated_covariance.diagonal().iter().map(|v| v.sqrt()).collect()
}

#[test]
fn pearsons_points_with_yorks_weights_give_the_published_line() {
    let table = Table::of("reference/eiv_pearson_york/data.csv");
    let wanted = json("reference/eiv_pearson_york/expected.json");
    let columns = ["x", "weight_x", "y", "weight_y"].map(|c| table.numbers(c));
    let observations: Vec<Observation> = (0..table.rows.len())
        .map(|i| observation(columns[2][i], columns[3][i].powf(-0.5), &[(columns[0][i], columns[1][i].powf(-0.5))]))
        .collect();
    let found = fit(&StraightLine, &observations, &[6.0, -0.5]).expect("a line through ten points");
    let line = ["/solution/intercept", "/solution/slope"].map(|p| number(&wanted, p));
    assert!(fewest_digits(&found.b, &line) >= COEFFICIENT_DIGITS, "{:?}", found.b);
    assert!(digits(found.sum_of_squares(), number(&wanted, "/solution/weighted_sum_of_squares")) >= COEFFICIENT_DIGITS);
    assert!(
        digits(found.chi_squared_per_degree(), number(&wanted, "/solution/reduced_chi_square")) >= COEFFICIENT_DIGITS
    );
    // Convention: Gauss–Newton at the adjusted points, as given and scaled by χ² per degree.
    let convention = "/standard_errors/york_2004_adjusted_points";
    let stated = ["intercept", "slope"].map(|c| number(&wanted, &format!("{convention}/{c}")));
    let errors = standard_errors(&found);
    assert!(fewest_digits(&errors, &stated) >= ERROR_DIGITS, "{errors:?}");
    assert!(
        digits(found.stated_covariance[(0, 1)], number(&wanted, &format!("{convention}/covariance"))) >= ERROR_DIGITS
    );
    let scaled: Vec<f64> = errors.iter().map(|e| e * found.chi_squared_per_degree().sqrt()).collect();
    let convention = "/standard_errors/york_2004_times_sqrt_reduced_chi_square";
    let stated = ["intercept", "slope"].map(|c| number(&wanted, &format!("{convention}/{c}")));
    assert!(fewest_digits(&scaled, &stated) >= ERROR_DIGITS, "{scaled:?}");
}

#[test]
fn the_example_of_the_odrpack_guide_with_exact_abscissae_is_solved() {
    let table = Table::of("reference/eiv_odrpack_guide_explicit/data.csv");
    let wanted = json("reference/eiv_odrpack_guide_explicit/expected.json");
    let columns = ["x", "y", "x_fixed"].map(|c| table.numbers(c));
    let observations: Vec<Observation> = (0..table.rows.len())
        .map(|i| observation(columns[1][i], 1.0, &[(columns[0][i], if columns[2][i] > 0.0 { 0.0 } else { 1.0 })]))
        .collect();
    let found =
        fit(&GuideExample, &observations, &numbers(&wanted, "/start")).expect("the guide's example has a minimum");
    let solution = numbers(&wanted, "/solution/beta");
    assert!(fewest_digits(&found.b, &solution) >= COEFFICIENT_DIGITS, "{:?} {:?}", found.b, found.ending);
    assert!(digits(found.sum_of_squares(), number(&wanted, "/solution/weighted_sum_of_squares")) >= COEFFICIENT_DIGITS);
    // The printed report of the guide agrees to the digits that it has right.
    assert!(fewest_digits(&found.b, &numbers(&wanted, "/published/beta")) >= 5.5);
    // odrpack's covariance is Gauss–Newton over coefficients and errors together, scaled: ours to the digits
    // that its stopping rule leaves (its second coefficient agrees to 9).
    let scale = found.chi_squared_per_degree().sqrt();
    let errors: Vec<f64> = standard_errors(&found).iter().map(|e| e * scale).collect();
    assert!(fewest_digits(&errors, &numbers(&wanted, "/odrpack/sd_beta")) >= 6.0, "{errors:?}");
}

#[test]
fn burn_off_with_independent_errors_in_all_four_columns_is_solved() {
    let table = Table::of("reference/eiv_burn_off_invented/data.csv");
    let wanted = json("reference/eiv_burn_off_invented/expected.json");
    let column = |c: &str| (table.numbers(c), table.numbers(&format!("{c}_se")));
    let (mean, rms, extension, feed) =
        (column("current_mean_a"), column("current_rms_a"), column("extension_mm"), column("wire_feed_mm_s"));
    let observations: Vec<Observation> = (0..table.rows.len())
        .map(|i| {
            observation(
                feed.0[i],
                feed.1[i],
                &[(mean.0[i], mean.1[i]), (rms.0[i], rms.1[i]), (extension.0[i], extension.1[i])],
            )
        })
        .collect();
    let law = BurnOff(BurnOffForm::Proportional);
    let start = meltlaw::fit::errors_in_variables::linear_start(&law, &observations).expect("independent columns");
    let found = fit(&law, &observations, &start).expect("fourteen rows");
    let solution = ["/solution/alpha_mm_per_a_s", "/solution/beta_per_a2_s"].map(|p| number(&wanted, p));
    assert!(fewest_digits(&found.b, &solution) >= COEFFICIENT_DIGITS, "{:?}", found.b);
    assert!(digits(found.sum_of_squares(), number(&wanted, "/solution/weighted_sum_of_squares")) >= COEFFICIENT_DIGITS);
    let convention = "/standard_errors/gauss_newton_at_fitted_points";
    let stated = ["alpha", "beta"].map(|c| number(&wanted, &format!("{convention}/{c}")));
    let errors = standard_errors(&found);
    assert!(fewest_digits(&errors, &stated) >= ERROR_DIGITS, "{errors:?}");
    let correlation = found.stated_covariance[(0, 1)] / (errors[0] * errors[1]);
    assert!(
        digits(correlation, number(&wanted, &format!("{convention}/correlation"))) >= ERROR_DIGITS,
        "{correlation}"
    );
}
