//! Which methods a result rests on, told by its records.

use meltlaw::laws::FittedLaw;
use meltlaw::record::{LawsRecord, LineRecord, Provenance};
use serde::Serialize;

/// A method, where it was used and where it was published.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Method {
    /// In words.
    pub words: String,
    /// The laws that it was used for, or `line`.
    pub used_in: Vec<&'static str>,
    /// Keys of its sources; empty where it is common practice or derived in the program's documentation.
    pub sources: Vec<&'static str>,
}

type Asked = fn(&FittedLaw) -> bool;

/// Methods that the record of a law tells, each with its sources.
const OF_LAWS: &[(&str, &[&str], Asked)] = &[
    (
        "fitted with errors in all variables, by maximum likelihood under the stated errors",
        &["boggs1987", "york2004"],
        least_squares,
    ),
    ("least squares by Levenberg and Marquardt's method in a region of trust", &["more1978"], least_squares),
    ("ordered logit of the drops per pulse", &["mccullagh1980"], |law| law.ended.usable && law.counts.is_some()),
    ("trial scatter integrated out by Gauss-Hermite quadrature", &["golub1969"], scatters),
    ("trial scatter by the likelihood adjusted for the coefficients fitted beside it", &["cox1987"], adjusted),
    ("settings corrected for their stated errors by regression calibration", &["fuller1987"], |law| {
        law.ended.usable && law.counts.is_some()
    }),
    ("classes that separate found by a linear programme: the law is bounded only", &["albert1984"], |law| {
        law.ended.how == "separated"
    }),
    ("intervals by Student's t at Welch and Satterthwaite's degrees of freedom", &["satterthwaite1946"], |law| {
        method(law, "t,")
    }),
    ("intervals by the profile of the likelihood", &[], |law| method(law, "profile")),
    ("scatter between blocks as a random effect", &["henderson1953", "satterthwaite1946"], |law| {
        law.between_blocks.is_some()
    }),
    ("prior knowledge stated in the study", &[], |law| law.coefficients.values().any(|c| c.prior.is_some())),
    ("readings taken as settings where the trials alone do not determine the law", &["berkson1950"], undetermined),
    ("outliers by Rosner's test", &["rosner1983"], |law| asked(law, "outliers")),
    ("normality of the residuals by Shapiro and Wilk's test", &["royston1995"], |law| asked(law, "normality")),
    ("collinearity by condition indices", &["belsley1980"], |law| asked(law, "collinearity")),
    ("refit with bounded influence of single trials beside it", &["yohai1987", "rousseeuw1984"], |law| {
        law.robust.is_some()
    }),
    ("other forms compared by the corrected Akaike criterion", &["hurvich1989"], |law| {
        law.candidates.iter().any(|c| c.aicc.is_some())
    }),
];

/// The methods of a result, in the order of the work.
pub(super) fn used(laws: &LawsRecord, line: &LineRecord, provenance: &Provenance) -> Vec<Method> {
    let mut methods: Vec<Method> = Vec::new();
    for (name, law) in laws.laws.by_name().into_iter().filter(|(_, law)| law.ended.usable) {
        let words = format!("form {}: {}", law.form, law.equation);
        methods.push(Method { words, used_in: vec![name], sources: Vec::new() });
    }
    for (words, sources, holds) in OF_LAWS {
        let used_in: Vec<_> = laws.laws.by_name().into_iter().filter(|(_, l)| holds(l)).map(|(name, _)| name).collect();
        if !used_in.is_empty() {
            methods.push(Method { words: (*words).to_owned(), used_in, sources: sources.to_vec() });
        }
    }
    if !laws.calibration.is_empty() {
        let used_in =
            laws.laws.by_name().into_iter().filter(|(_, law)| law.ended.usable).map(|(name, _)| name).collect();
        let words = "errors common to all trials as type B uncertainties".to_owned();
        methods.push(Method { words, used_in, sources: vec!["jcgm100"] });
    }
    methods.extend(of_line(line, provenance));
    methods
}

fn of_line(record: &LineRecord, provenance: &Provenance) -> Vec<Method> {
    let line = &record.line;
    if line.nodes.is_empty() {
        return Vec::new();
    }
    let any = |has: fn(&meltlaw::line::Node) -> bool| line.nodes.iter().any(has);
    let cloud = record.laws.by_name().into_iter().any(|(_, law)| law.cloud.is_some());
    let rule = line.composing.as_ref().map(|c| c.rule.as_str());
    let counted = |node: &meltlaw::line::Node| node.one_drop_probability.interval_error.is_some();
    let draws = format!("intervals by {} draws of all coefficients, seed {}", provenance.draws, provenance.seed);
    let methong = record.transition_current.as_ref().is_some_and(|band| band.source.contains("Methong"));
    let transition: &[&'static str] = if methong { &["methong2018"] } else { &[] };
    let told: [(bool, &str, &[&'static str]); 8] = [
        (
            rule == Some("optimised"),
            "settings are an optimum along the line, limits kept by relaxed barriers",
            &["hauser2006"],
        ),
        (rule == Some("midpoint"), "settings by the midpoint rule", &[]),
        (cloud, "support judged by where the trials of each law lie together", &["mahalanobis1936"]),
        (provenance.draws > 0, &draws, &["jcgm101"]),
        (any(counted), "errors of interval ends because there are only so many draws", &["david2003"]),
        (any(|n| n.arc_energy_kj_mm.is_some()), "arc energy from the mean instantaneous power", &["iso18491"]),
        (any(|n| n.heat_input_kj_mm.is_some()), "heat input with a thermal efficiency of 0.8", &["iso17671"]),
        (record.transition_current.is_some(), "transition current as a band (common practice)", transition),
    ];
    let method = |words: &str, sources: &[&'static str]| Method {
        words: words.to_owned(),
        used_in: vec!["line"],
        sources: sources.to_vec(),
    };
    told.into_iter().filter(|(holds, ..)| *holds).map(|(_, words, sources)| method(words, sources)).collect()
}

/// Burn-off and arc voltage are fitted to readings, detachment to counts.
fn least_squares(law: &FittedLaw) -> bool {
    law.ended.usable && law.counts.is_none()
}

fn scatters(law: &FittedLaw) -> bool {
    law.ended.usable && law.coefficients.contains_key("trial_scatter")
}

fn adjusted(law: &FittedLaw) -> bool {
    scatters(law) && (method(law, "adjusted likelihood") || method(law, "likelihood adjusted"))
}

fn undetermined(law: &FittedLaw) -> bool {
    least_squares(law)
        && law.coefficients.values().filter_map(|c| c.prior.as_ref()).any(|prior| prior.without.is_none())
}

/// Whether the interval of any coefficient was made in a way that these words are part of.
fn method(law: &FittedLaw, words: &str) -> bool {
    law.coefficients.values().any(|c| c.interval_method.contains(words))
}

/// Whether a test was made, and not only named with a reason why it could not be.
fn asked(law: &FittedLaw, test: &str) -> bool {
    law.tests.get(test).is_some_and(|test| test.statistic.is_some() || test.effect.is_some())
}
