//! The statistical reference data sets of NIST: certified values, data and the nonlinear models.
//!
//! # Source
//! NIST StRD, see `datasets/reference/nist_strd/README.md`; the models are copied from the headers of
//! the files.

use std::f64::consts::PI;

use meltlaw::fit::least_squares::LeastSquares;
use meltlaw::fit::linear_model::LinearModel;
use nalgebra::DMatrix;

use crate::dual::Dual;
use crate::reference::text;

/// A nonlinear set.
#[derive(Debug, Clone)]
pub struct NonlinearSet {
    /// Name of the set.
    pub name: &'static str,
    /// The two certified starts, far and near.
    pub starts: [Vec<f64>; 2],
    /// Certified coefficients.
    pub certified: Vec<f64>,
    /// Certified standard errors.
    pub certified_errors: Vec<f64>,
    /// Response, in the scale that is fitted.
    pub y: Vec<f64>,
    /// Predictors.
    pub x: Vec<Vec<f64>>,
}

/// A model: coefficients and predictors to the predicted response.
pub type Model = fn(&[Dual], &[f64]) -> Dual;

/// The 27 nonlinear sets with their models.
pub const NONLINEAR: [(&str, Model); 27] = [
    ("Misra1a", |b, x| b[0] * (1.0 - (-b[1] * x[0]).exp())),
    ("Chwirut2", chwirut),
    ("Chwirut1", chwirut),
    ("Lanczos3", lanczos),
    ("Gauss1", gauss),
    ("Gauss2", gauss),
    ("DanWood", |b, x| b[0] * Dual::constant(x[0]).pow(b[1])),
    ("Misra1b", |b, x| b[0] * (1.0 - (1.0 + b[1] * x[0] / 2.0).powi(-2))),
    ("Kirby2", |b, x| (b[0] + b[1] * x[0] + b[2] * x[0].powi(2)) / (1.0 + b[3] * x[0] + b[4] * x[0].powi(2))),
    ("Hahn1", cubics),
    ("Nelson", |b, x| b[0] - b[1] * x[0] * (-b[2] * x[1]).exp()),
    ("MGH17", |b, x| b[0] + b[1] * (-b[3] * x[0]).exp() + b[2] * (-b[4] * x[0]).exp()),
    ("Lanczos1", lanczos),
    ("Lanczos2", lanczos),
    ("Gauss3", gauss),
    ("Misra1c", |b, x| b[0] * (1.0 - (1.0 + 2.0 * b[1] * x[0]).pow((-0.5).into()))),
    ("Misra1d", |b, x| b[0] * b[1] * x[0] / (1.0 + b[1] * x[0])),
    ("Roszman1", |b, x| b[0] - b[1] * x[0] - (b[2] / (x[0] - b[3])).atan() / PI),
    ("ENSO", |b, x| {
        let year = 2.0 * PI * x[0] / 12.0;
        let (slow, fast) = (2.0 * PI * x[0] / b[3], 2.0 * PI * x[0] / b[6]);
        b[0] + b[1] * year.cos()
            + b[2] * year.sin()
            + b[4] * slow.cos()
            + b[5] * slow.sin()
            + b[7] * fast.cos()
            + b[8] * fast.sin()
    }),
    ("MGH09", |b, x| b[0] * (x[0].powi(2) + x[0] * b[1]) / (x[0].powi(2) + x[0] * b[2] + b[3])),
    ("Thurber", cubics),
    ("BoxBOD", |b, x| b[0] * (1.0 - (-b[1] * x[0]).exp())),
    ("Rat42", |b, x| b[0] / (1.0 + (b[1] - b[2] * x[0]).exp())),
    ("MGH10", |b, x| b[0] * (b[1] / (x[0] + b[2])).exp()),
    ("Eckerle4", |b, x| b[0] / b[1] * (-0.5 * ((x[0] - b[2]) / b[1]).powi(2)).exp()),
    ("Rat43", |b, x| b[0] / (1.0 + (b[1] - b[2] * x[0]).exp()).pow(1.0 / b[3])),
    ("Bennett5", |b, x| b[0] * (b[1] + x[0]).pow(-1.0 / b[2])),
];

fn chwirut(b: &[Dual], x: &[f64]) -> Dual {
    (-b[0] * x[0]).exp() / (b[1] + b[2] * x[0])
}

fn lanczos(b: &[Dual], x: &[f64]) -> Dual {
    b[0] * (-b[1] * x[0]).exp() + b[2] * (-b[3] * x[0]).exp() + b[4] * (-b[5] * x[0]).exp()
}

/// Predicted − measured of one observation.
///
/// The Lanczos sets have residuals of 1e-13, 1e-6 and 1e-5 of their values: there the terms are taken off the
/// response one by one, largest first, so that almost every sum is exact.
pub fn residual(model: Model, b: &[Dual], x: &[f64], y: f64) -> f64 {
    if std::ptr::fn_addr_eq(model, lanczos as Model) {
        let term = |height: usize, rate: usize| b[height].value * (-b[rate].value * x[0]).exp();
        return ((term(4, 5) - y) + term(2, 3)) + term(0, 1);
    }
    model(b, x).value - y
}

fn gauss(b: &[Dual], x: &[f64]) -> Dual {
    let bell = |height: Dual, middle: Dual, width: Dual| height * (-((x[0] - middle) / width).powi(2)).exp();
    b[0] * (-b[1] * x[0]).exp() + bell(b[2], b[3], b[4]) + bell(b[5], b[6], b[7])
}

fn cubics(b: &[Dual], x: &[f64]) -> Dual {
    let [x1, x2, x3] = [x[0], x[0].powi(2), x[0].powi(3)];
    (b[0] + b[1] * x1 + b[2] * x2 + b[3] * x3) / (1.0 + b[4] * x1 + b[5] * x2 + b[6] * x3)
}

/// A nonlinear set as a least-squares problem, with exact derivatives.
#[derive(Debug)]
pub struct Nonlinear<'a>(pub &'a NonlinearSet, pub Model);

impl LeastSquares for Nonlinear<'_> {
    fn residual_count(&self) -> usize {
        self.0.y.len()
    }
    fn residuals(&self, b: &[f64], out: &mut [f64]) {
        let b: Vec<Dual> = b.iter().map(|b| Dual::constant(*b)).collect();
        for ((x, y), e) in self.0.x.iter().zip(&self.0.y).zip(out) {
            *e = residual(self.1, &b, x, *y);
        }
    }
    fn jacobian(&self, b: &[f64], out: &mut DMatrix<f64>) {
        let dual = Dual::variables(b);
        for (i, x) in self.0.x.iter().enumerate() {
            let by = (self.1)(&dual, x).by;
            for j in 0..b.len() {
                out[(i, j)] = by[j];
            }
        }
    }
}

/// Line of the files at which the data begin, counted from 1.
const DATA_FROM: usize = 61;

fn data(text: &str) -> (Vec<f64>, Vec<Vec<f64>>) {
    text.lines()
        .skip(DATA_FROM - 1)
        .map(|line| line.split_whitespace().map(|w| w.parse::<f64>().expect("data are numbers")).collect::<Vec<f64>>())
        .filter(|row| !row.is_empty())
        .map(|row| (row[0], row[1..].to_vec()))
        .unzip()
}

/// Reads a nonlinear set.
pub fn nonlinear(name: &'static str) -> NonlinearSet {
    let text = text(&format!("reference/nist_strd/nonlinear/{name}.dat"));
    let mut set = NonlinearSet {
        name,
        starts: [vec![], vec![]],
        certified: vec![],
        certified_errors: vec![],
        y: vec![],
        x: vec![],
    };
    for line in text.lines().take(DATA_FROM - 1) {
        let Some((left, right)) = line.split_once('=') else { continue };
        let left = left.trim();
        let values: Vec<f64> = right.split_whitespace().map_while(|w| w.parse().ok()).collect();
        if left.starts_with('b') && left[1..].parse::<usize>().is_ok() && values.len() == 4 {
            set.starts[0].push(values[0]);
            set.starts[1].push(values[1]);
            set.certified.push(values[2]);
            set.certified_errors.push(values[3]);
        }
    }
    (set.y, set.x) = data(&text);
    if name == "Nelson" {
        set.y.iter_mut().for_each(|y| *y = y.ln());
    }
    set
}

/// The 11 linear sets: degree of the polynomial (0: the predictors as they stand) and whether there is an
/// intercept.
pub const LINEAR: [(&str, usize, bool); 11] = [
    ("Norris", 1, true),
    ("Pontius", 2, true),
    ("NoInt1", 1, false),
    ("NoInt2", 1, false),
    ("Filip", 10, true),
    ("Longley", 0, true),
    ("Wampler1", 5, true),
    ("Wampler2", 5, true),
    ("Wampler3", 5, true),
    ("Wampler4", 5, true),
    ("Wampler5", 5, true),
];

/// Reads a linear set.
pub fn linear(name: &str, degree: usize, intercept: bool) -> LinearModel {
    let (y, x) = data(&text(&format!("reference/nist_strd/linear/{name}.dat")));
    let rows: Vec<Vec<f64>> = x
        .iter()
        .map(|row| {
            let mut out = if intercept { vec![1.0] } else { vec![] };
            match degree {
                0 => out.extend(row),
                _ => out.extend(powers(row[0], degree)),
            }
            out
        })
        .collect();
    LinearModel { design: DMatrix::from_fn(y.len(), rows[0].len(), |i, j| rows[i][j]), y }
}

/// x, x², … each rounded once: a power of a rounded power would cost Filip half a digit.
fn powers(x: f64, degree: usize) -> Vec<f64> {
    let next = |&(value, rest): &(f64, f64)| {
        let product = value * x;
        let rest = value.mul_add(x, -product) + rest * x;
        Some((product + rest, rest - ((product + rest) - product)))
    };
    std::iter::successors(Some((x, 0.0)), next).take(degree).map(|(value, _)| value).collect()
}

/// A column of numbers with certified mean and standard deviation.
#[derive(Debug, Clone)]
pub struct Univariate {
    /// Its values against a constant.
    pub model: LinearModel,
    /// Certified mean.
    pub mean: f64,
    /// Certified standard deviation.
    pub standard_deviation: f64,
}

/// The univariate sets that are here (PiDigits is not), with the digits of mean and standard deviation that their
/// data rounded to doubles allow (exact rational arithmetic on them).
pub const UNIVARIATE: [(&str, [f64; 2]); 8] = [
    ("Lew", [16.0, 15.4]),
    ("Lottery", [15.2, 15.4]),
    ("Mavro", [16.0, 13.1]),
    ("Michelso", [16.0, 13.8]),
    ("NumAcc1", [16.0, 16.0]),
    ("NumAcc2", [16.0, 15.6]),
    ("NumAcc3", [16.0, 9.5]),
    ("NumAcc4", [16.0, 8.3]),
];

/// Reads a univariate set.
pub fn univariate(name: &str) -> Univariate {
    let text = text(&format!("reference/nist_strd/univariate/{name}.dat"));
    let certified = |what: &str| {
        let line = text.lines().find(|l| l.starts_with(what)).expect("a certified value has its line");
        let after = line.split_once(':').expect("a colon before the value").1;
        after.split_whitespace().find_map(|w| w.parse().ok()).expect("a certified value is a number")
    };
    let (mean, standard_deviation) = (certified("Sample Mean"), certified("Sample Standard Deviation"));
    let y: Vec<f64> = text
        .lines()
        .skip_while(|l| !l.starts_with("Data: Y"))
        .skip(2)
        .filter(|l| !l.trim().is_empty())
        .map(|l| l.trim().parse().expect("data are numbers"))
        .collect();
    Univariate { model: LinearModel { design: DMatrix::from_element(y.len(), 1, 1.0), y }, mean, standard_deviation }
}

/// Values in groups with their certified analysis of variance.
#[derive(Debug, Clone)]
pub struct AnalysisOfVariance {
    /// Values against a constant, the mean of the first group, and what each other group adds to it: means near
    /// 10¹² that differ by tenths keep their differences only so.
    pub model: LinearModel,
    /// Values per group.
    pub sizes: Vec<f64>,
    /// Certified sum of squares between groups.
    pub between: f64,
    /// Certified sum of squares within groups.
    pub within: f64,
    /// Certified residual standard deviation.
    pub residual_spread: f64,
}

/// The analyses of variance, with the digits of the sum of squares between groups and of the residual standard
/// deviation that their data rounded to doubles allow (exact rational arithmetic on them).
pub const ANOVA: [(&str, [f64; 2]); 11] = [
    ("SiRstv", [14.0, 13.4]),
    ("AtmWtAg", [10.2, 11.2]),
    ("SmLs01", [15.2, 15.6]),
    ("SmLs02", [15.2, 15.6]),
    ("SmLs03", [15.3, 15.6]),
    ("SmLs04", [10.1, 10.6]),
    ("SmLs05", [9.9, 10.6]),
    ("SmLs06", [9.9, 10.6]),
    ("SmLs07", [4.0, 4.6]),
    ("SmLs08", [3.9, 4.6]),
    ("SmLs09", [3.9, 4.6]),
];

/// Reads an analysis of variance.
pub fn analysis_of_variance(name: &str) -> AnalysisOfVariance {
    let text = text(&format!("reference/nist_strd/anova/{name}.dat"));
    let certified = |what: &str, place: usize| {
        let line = text.lines().take(DATA_FROM - 1).find(|l| l.trim_start().starts_with(what));
        let line = line.unwrap_or_else(|| panic!("{name}: no line {what}"));
        let numbers: Vec<f64> = line.split_whitespace().filter_map(|w| w.parse().ok()).collect();
        numbers[place]
    };
    // After the words stand the degrees of freedom, then the sum of squares.
    let (between, within) = (certified("Between", 1), certified("Within", 1));
    let residual_spread = certified("Standard Deviation", 0);
    let (groups, values) = data(&text);
    let y: Vec<f64> = values.iter().map(|v| v[0]).collect();
    let count = groups.iter().fold(0.0, |a: f64, g| a.max(*g)) as usize;
    let design = DMatrix::from_fn(y.len(), count, |i, j| if j == 0 || groups[i] as usize == j + 1 { 1.0 } else { 0.0 });
    let sizes = (1..=count).map(|j| groups.iter().filter(|g| **g as usize == j).count() as f64).collect();
    AnalysisOfVariance { model: LinearModel { design, y }, sizes, between, within, residual_spread }
}
