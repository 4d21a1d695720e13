//! The statistical reference data sets of NIST: certified values, data and the nonlinear models.
//!
//! # Source
//! NIST StRD, see `datasets/reference/nist_strd/README.md`; the models are copied from the headers of
//! the files.

use std::f64::consts::PI;

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

/// A linear set.
#[derive(Debug, Clone)]
pub struct LinearSet {
    /// Name of the set.
    pub name: &'static str,
    /// Response.
    pub y: Vec<f64>,
    /// Row by row, one entry per coefficient.
    pub design: Vec<Vec<f64>>,
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
pub fn linear(name: &'static str, degree: usize, intercept: bool) -> LinearSet {
    let (y, x) = data(&text(&format!("reference/nist_strd/linear/{name}.dat")));
    let design = x
        .iter()
        .map(|row| {
            let mut out = if intercept { vec![1.0] } else { vec![] };
            match degree {
                0 => out.extend(row),
                _ => out.extend((1..=degree).map(|p| row[0].powi(i32::try_from(p).expect("a small degree")))),
            }
            out
        })
        .collect();
    LinearSet { name, y, design }
}
