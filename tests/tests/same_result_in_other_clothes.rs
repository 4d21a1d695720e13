//! The same trials told otherwise must give the same law: columns in other units, rows in another order, a
//! trial's counts on two rows. Random trials; nothing but the rounding of doubles may move a coefficient.

use meltlaw::fit::burn_off;
use meltlaw::fit::detachment::{CountedSelection, DetachmentFit, Outcome, fit};
use meltlaw::fit::errors_in_variables::{EivFit, MOST, Observation, ReadingError};
use meltlaw::fit::newton::minimise;
use meltlaw::fit::ordered_logit::{Count, CountedTrial, Likelihood, Thresholds};
use meltlaw::fit::reliability::ReadSetting;
use meltlaw::laws::{BurnOff, Law, logistic};
use meltlaw::statistics::{DrawStream, GaussHermite, Purpose};
use meltlaw::study::BurnOffForm;
use meltlaw::study::ScatterFrom;

/// Relative difference allowed: the minimisers stop at steps of 1e-11 or below, the rest is rounding times
/// conditions of 10 to 100.
const SAME: f64 = 1e-10;
const CASES: u64 = 300;
/// A whole detachment fit also seeks its scatter, by quadrature: a tenth as many keep the tests quick.
const WHOLE_FITS: u64 = 30;

fn close(name: &str, case: u64, found: &[f64], wanted: &[f64]) {
    for (f, w) in found.iter().zip(wanted) {
        assert!((f / w - 1.0).abs() <= SAME || f == w, "{name}, case {case}: {found:?} for {wanted:?}");
    }
}

/// A whole number from 0 to `below` − 1.
fn whole(stream: &mut DrawStream, below: usize) -> usize {
    ((stream.uniform() * below as f64) as usize).min(below - 1)
}

fn shuffled<T: Clone>(stream: &mut DrawStream, values: &[T]) -> Vec<T> {
    let mut out = values.to_vec();
    for i in (1..out.len()).rev() {
        out.swap(i, whole(stream, i + 1));
    }
    out
}

/// Invented burn-off trials: a wire near α = 0.3 mm/(A s), β = 5e-5 1/(A² s), all four readings in error, mean and
/// RMS by a common gain.
fn burn_off_trials(stream: &mut DrawStream, form: BurnOffForm) -> Vec<Observation> {
    let truth = [0.3, 5e-5, 4.0];
    let law = BurnOff(form);
    let count = 6 + whole(stream, 20);
    (0..count)
        .map(|_| {
            let mean = 80.0 + 200.0 * stream.uniform();
            let rms = mean * (1.0 + 0.4 * stream.uniform());
            let extension = 10.0 + 12.0 * stream.uniform();
            let feed = law.predict(&truth[..law.coefficients().len()], &[mean, rms, extension]);
            let (gain, own) = (0.01 * stream.normal(), 0.004 * stream.normal());
            let (mean, rms) = (mean * (1.0 + gain), rms * (1.0 + gain + own));
            let (y_se, extension_se) = (0.01 * feed, 0.4);
            let mut row = [0.0; MOST];
            row[..3].copy_from_slice(&[mean, rms, extension + extension_se * stream.normal()]);
            let errors = vec![
                ReadingError { standard_deviation: 0.01, direction: [mean, rms, 0.0, 0.0] },
                ReadingError { standard_deviation: extension_se, direction: [0.0, 0.0, 1.0, 0.0] },
                ReadingError { standard_deviation: 0.004 * rms, direction: [0.0, 1.0, 0.0, 0.0] },
            ];
            Observation { y: feed + y_se * stream.normal(), y_se, row, errors }
        })
        .collect()
}

/// The trials with mean current, RMS current, extension and feed in units smaller by these factors.
fn in_units(trials: &[Observation], [mean, rms, extension, feed]: [f64; 4]) -> Vec<Observation> {
    let columns = [mean, rms, extension, 1.0];
    let scaled = |values: [f64; MOST]| std::array::from_fn(|j| values[j] * columns[j]);
    trials
        .iter()
        .map(|t| Observation {
            y: t.y * feed,
            y_se: t.y_se * feed,
            row: scaled(t.row),
            errors: t.errors.iter().map(|e| ReadingError { direction: scaled(e.direction), ..*e }).collect(),
        })
        .collect()
}

/// Coefficients, then standard errors, sum of squares and condition.
fn told(found: &EivFit) -> (Vec<f64>, Vec<f64>, [f64; 2]) {
    let errors = found.stated_covariance.diagonal().iter().map(|v| v.sqrt()).collect();
    (found.b.clone(), errors, [found.sum_of_squares(), found.condition])
}

#[test]
fn burn_off_is_the_same_in_other_units_and_in_another_order() {
    for case in 0..CASES {
        let mut stream = DrawStream::new(1, Purpose::Simulation, case);
        let form = if case % 3 == 0 { BurnOffForm::Offset } else { BurnOffForm::Proportional };
        let trials = burn_off_trials(&mut stream, form);
        let (b, errors, rest) = told(&burn_off::fit(form, &trials).expect("invented trials determine the law"));

        let again = told(&burn_off::fit(form, &shuffled(&mut stream, &trials)).expect("the same trials"));
        close("order", case, &again.0, &b);
        close("order, standard errors", case, &again.1, &errors);
        close("order, sum of squares and condition", case, &again.2, &rest);

        let units: [f64; 4] = std::array::from_fn(|_| 10.0_f64.powi(whole(&mut stream, 25) as i32 - 12));
        let [mean, rms, extension, feed] = units;
        let again = told(&burn_off::fit(form, &in_units(&trials, units)).expect("the same trials"));
        let back = [mean / feed, extension * rms * rms / feed, 1.0 / feed];
        let in_first_units = |values: &[f64]| values.iter().zip(back).map(|(v, f)| v * f).collect::<Vec<f64>>();
        close("units", case, &in_first_units(&again.0), &b);
        close("units, standard errors", case, &in_first_units(&again.1), &errors);
        close("units, sum of squares and condition", case, &again.2, &rest);
    }
}

/// How far trials lie from the law, in units of their scatter.
const SHIFTS: [f64; 4] = [1.0, -1.0, 0.5, -0.5];

/// Invented counted trials near n = 1.8, k = 14, thresholds 1.2 and 3 ms at 400 A, scattered by `scatter`.
fn counted_trials(stream: &mut DrawStream, scatter: f64) -> CountedSelection {
    let count = 10 + whole(stream, 20);
    let mut selection =
        CountedSelection { used: vec![], read: vec![], counts: vec![], left_out: vec![], prior: vec![] };
    for i in 0..count {
        let log_current = if i % 2 == 0 { -0.12 } else { 0.08 } + 0.04 * stream.uniform();
        // From below the first threshold to above the second, in order, so that both are crossed.
        let at = 0.05 + 1.25 * (i as f64 + stream.uniform()) / count as f64;
        let a = |threshold: f64| 14.0 * (at + scatter * SHIFTS[(7 * i + 3) % 4] - threshold);
        let (above_first, above_second) = (logistic(a(1.2_f64.ln())), logistic(a(3.0_f64.ln())));
        let (mut none, mut one, mut more) = (0.0, 0.0, 0.0);
        for _ in 0..100 {
            let u = stream.uniform();
            if u < above_second {
                more += 1.0;
            } else if u < above_first {
                one += 1.0;
            } else {
                none += 1.0;
            }
        }
        selection.used.push(i);
        selection.read.push(ReadSetting {
            log_current,
            log_time: at - 1.8 * log_current,
            current_variance: 0.0,
            time_variance: 0.0,
        });
        selection.counts.push(Count::Classes { none, one, more });
    }
    selection
}

fn fitted(selection: &CountedSelection) -> Option<DetachmentFit> {
    match fit(selection, 0.95, ScatterFrom::AdjustedLikelihood, None) {
        Outcome::Fitted(found) => Some(*found),
        Outcome::Bounded(_) => None,
    }
}

/// Exponent, steepness, threshold times at the reference current and scatter, and the standard errors of q.
fn told_counts(found: &DetachmentFit) -> (Vec<f64>, Vec<f64>) {
    (found.natural().to_vec(), found.covariance_q.diagonal().iter().map(|v| v.sqrt()).collect())
}

#[test]
fn detachment_is_the_same_in_other_units_and_in_another_order() {
    let mut fits = 0;
    for case in 0..WHOLE_FITS {
        let mut stream = DrawStream::new(2, Purpose::Simulation, case);
        let selection = counted_trials(&mut stream, if case % 2 == 0 { 0.0 } else { 0.06 });
        let Some(first) = fitted(&selection) else { continue };
        fits += 1;
        let (b, errors) = told_counts(&first);

        let rows: Vec<usize> = shuffled(&mut stream, &(0..selection.used.len()).collect::<Vec<usize>>());
        let other = CountedSelection {
            used: rows.clone(),
            read: rows.iter().map(|&i| selection.read[i]).collect(),
            counts: rows.iter().map(|&i| selection.counts[i]).collect(),
            left_out: vec![],
            prior: vec![],
        };
        let again = told_counts(&fitted(&other).expect("the same trials"));
        close("order", case, &again.0, &b);
        close("order, standard errors", case, &again.1, &errors);

        // Pulse times in another unit: thresholds in it, the rest as it was.
        let factor = 10.0_f64.powi(whole(&mut stream, 25) as i32 - 12);
        let mut other = selection.clone();
        other.read.iter_mut().for_each(|r| r.log_time += factor.ln());
        let again = told_counts(&fitted(&other).expect("the same trials"));
        let [n, k, one, more, tau] = [again.0[0], again.0[1], again.0[2], again.0[3], again.0[4]];
        close("unit of time", case, &[n, k, one / factor, more / factor, tau], &b);
        close("unit of time, standard errors", case, &again.1, &errors);
    }
    assert!(fits > WHOLE_FITS * 9 / 10, "only {fits} of {WHOLE_FITS} had a fit");
}

#[test]
fn counts_on_two_rows_without_scatter_count_as_on_one() {
    let rule = GaussHermite::new(31);
    let mut fits = 0;
    for case in 0..CASES {
        let mut stream = DrawStream::new(3, Purpose::Simulation, case);
        let selection = counted_trials(&mut stream, 0.0);
        let whole_trials: Vec<CountedTrial> = (selection.read.iter().zip(&selection.counts))
            .map(|(r, &count)| CountedTrial {
                log_current: r.log_current,
                log_time: r.log_time,
                unknown: [0.0; 3],
                count,
            })
            .collect();
        let mut split = Vec::new();
        for trial in &whole_trials {
            let Count::Classes { none, one, more } = trial.count else { unreachable!("classes were counted") };
            let part = [none, one, more].map(|n| (n * stream.uniform()).floor());
            for [none, one, more] in [part, [none - part[0], one - part[1], more - part[2]]] {
                split.push(CountedTrial { count: Count::Classes { none, one, more }, ..*trial });
            }
        }
        let still = [0.0, 0.0, 0.0, 0.0, f64::NEG_INFINITY];
        let found = |trials: &[CountedTrial]| {
            let likelihood = Likelihood {
                trials,
                rule: &rule,
                thresholds: Thresholds::Both,
                with_unknown: false,
                free: vec![0, 1, 2, 3],
                fixed: still,
            };
            minimise(&likelihood, &[2.0, 2.0, 0.2, -0.1], 1.0)
        };
        let (one_row, two_rows) = (found(&whole_trials), found(&split));
        assert_eq!(one_row.converged, two_rows.converged, "case {case}");
        if !one_row.converged {
            continue;
        }
        fits += 1;
        close("two rows", case, &two_rows.x, &one_row.x);
        close("two rows, likelihood", case, &[two_rows.value], &[one_row.value]);
        let errors = |m: &meltlaw::fit::newton::CurvedMinimum| -> Vec<f64> {
            m.inverse_hessian().expect("definite at a minimum").diagonal().iter().map(|v| v.sqrt()).collect()
        };
        close("two rows, standard errors", case, &errors(&two_rows), &errors(&one_row));
    }
    assert!(fits > CASES * 9 / 10, "only {fits} of {CASES} had a fit");
}
