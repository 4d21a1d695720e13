//! The published sources that the program's own documentation names. A test holds each against the file that names it:
//! nothing is cited here that does not stand there.

use serde::Serialize;

use super::methods::Method;

/// A published source.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Reference {
    /// Its key in BibTeX.
    pub key: &'static str,
    /// What it is.
    pub kind: Kind,
    /// Authors as BibTeX wants them; empty for standards.
    pub authors: &'static str,
    /// Title; none where the documentation does not know it.
    pub title: Option<&'static str>,
    /// Journal, publisher, or where it is found.
    pub container: &'static str,
    /// Volume.
    pub volume: &'static str,
    /// First page, or pages.
    pub pages: &'static str,
    /// Year; empty where the documentation states none.
    pub year: &'static str,
    /// Digital object identifier; empty where none was seen.
    pub doi: &'static str,
    /// Whether its details were written down from memory and not seen.
    pub from_memory: bool,
}

/// What a source is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum Kind {
    /// An article in a journal.
    Article,
    /// A book.
    Book,
    /// A standard, a report or anything else.
    Other,
}

impl Reference {
    /// As one line of text.
    pub fn text(&self) -> String {
        let mut parts: Vec<String> = Vec::new();
        parts.extend(
            (!self.authors.is_empty()).then(|| self.authors.replace(" and others", " et al.").replace(" and ", "; ")),
        );
        parts.extend(self.title.map(str::to_owned));
        parts.extend((!self.container.is_empty()).then(|| [self.container, self.volume].join(" ").trim().to_owned()));
        let places = [(self.year, self.year), (self.pages, self.pages)];
        parts.extend(places.into_iter().filter(|(text, _)| !text.is_empty()).map(|(text, _)| text.to_owned()));
        parts.extend((!self.doi.is_empty()).then(|| format!("doi {}", self.doi)));
        let memory = if self.from_memory { " (details from memory)" } else { "" };
        format!("{}{memory}", parts.join(", "))
    }
}

/// The sources of these methods, by key, each once.
pub(super) fn of(methods: &[Method]) -> Vec<Reference> {
    let named = |reference: &&Reference| methods.iter().any(|method| method.sources.contains(&reference.key));
    ALL.iter().filter(named).copied().collect()
}

const fn article(
    key: &'static str,
    authors: &'static str,
    title: &'static str,
    [container, volume, pages, year]: [&'static str; 4],
) -> Reference {
    Reference {
        key,
        kind: Kind::Article,
        authors,
        title: Some(title),
        container,
        volume,
        pages,
        year,
        doi: "",
        from_memory: false,
    }
}

const fn book(
    key: &'static str,
    authors: &'static str,
    title: &'static str,
    [publisher, year]: [&'static str; 2],
) -> Reference {
    Reference { kind: Kind::Book, ..article(key, authors, title, [publisher, "", "", year]) }
}

const fn standard(key: &'static str, title: &'static str, number: &'static str, year: &'static str) -> Reference {
    Reference { kind: Kind::Other, ..article(key, "", title, [number, "", "", year]) }
}

impl Reference {
    const fn with_doi(self, doi: &'static str) -> Self {
        Self { doi, ..self }
    }
}

const JRSS: &str = "Journal of the Royal Statistical Society B";
const JASA: &str = "Journal of the American Statistical Association";

/// All of them, by key. Their details were compared with public lists of references; one that was not seen is to say
/// `from_memory`.
const ALL: &[Reference] = &[
    article(
        "albert1984",
        "Albert, A. and Anderson, J. A.",
        "On the existence of maximum likelihood estimates in logistic regression models",
        ["Biometrika", "71", "1–10", "1984"],
    ),
    book(
        "belsley1980",
        "Belsley, D. A. and Kuh, E. and Welsch, R. E.",
        "Regression Diagnostics: Identifying Influential Data and Sources of Collinearity",
        ["Wiley", "1980"],
    )
    .with_doi("10.1002/0471725153"),
    article("berkson1950", "Berkson, J.", "Are there two regressions?", [JASA, "45", "164–180", "1950"]),
    article(
        "boggs1987",
        "Boggs, P. T. and Byrd, R. H. and Schnabel, R. B.",
        "A stable and efficient algorithm for nonlinear orthogonal distance regression",
        ["SIAM Journal on Scientific and Statistical Computing", "8", "1052–1078", "1987"],
    )
    .with_doi("10.1137/0908085"),
    article(
        "cox1987",
        "Cox, D. R. and Reid, N.",
        "Parameter orthogonality and approximate conditional inference",
        [JRSS, "49", "1–39", "1987"],
    ),
    book("david2003", "David, H. A. and Nagaraja, H. N.", "Order Statistics, 3rd edition", ["Wiley", "2003"]),
    book("fuller1987", "Fuller, W. A.", "Measurement Error Models", ["Wiley", "1987"])
        .with_doi("10.1002/9780470316665"),
    article(
        "golub1969",
        "Golub, G. H. and Welsch, J. H.",
        "Calculation of Gauss quadrature rules",
        ["Mathematics of Computation", "23", "221–230", "1969"],
    )
    .with_doi("10.1090/S0025-5718-69-99647-1"),
    Reference {
        kind: Kind::Other,
        ..article(
            "hauser2006",
            "Hauser, J. and Saccon, A.",
            "A barrier function method for the optimization of trajectory functionals with constraints",
            ["Proceedings of the 45th IEEE Conference on Decision and Control", "", "", "2006"],
        )
    },
    article(
        "henderson1953",
        "Henderson, C. R.",
        "Estimation of variance and covariance components",
        ["Biometrics", "9", "226–252", "1953"],
    ),
    article(
        "hurvich1989",
        "Hurvich, C. M. and Tsai, C.-L.",
        "Regression and time series model selection in small samples",
        ["Biometrika", "76", "297–307", "1989"],
    ),
    standard(
        "iso17671",
        "Welding – Recommendations for welding of metallic materials – Part 1: General guidance for arc welding",
        "ISO/TR 17671-1:2002",
        "2002",
    ),
    standard(
        "iso18491",
        "Welding and allied processes – Guidelines for measurement of welding energies",
        "ISO/TR 18491:2015",
        "2015",
    ),
    standard(
        "jcgm100",
        "Evaluation of measurement data – Guide to the expression of uncertainty in measurement",
        "JCGM 100:2008",
        "2008",
    ),
    standard(
        "jcgm101",
        "Evaluation of measurement data – Supplement 1 to the Guide to the expression of uncertainty in measurement – Propagation of distributions using a Monte Carlo method",
        "JCGM 101:2008",
        "2008",
    ),
    article(
        "knapp2003",
        "Knapp, G. and Hartung, J.",
        "Improved tests for a random effects meta-regression with a single covariate",
        ["Statistics in Medicine", "22", "2693–2710", "2003"],
    )
    .with_doi("10.1002/sim.1482"),
    article(
        "krishnamoorthy2007",
        "Krishnamoorthy, K. and Lu, F. and Mathew, T.",
        "A parametric bootstrap approach for ANOVA with unequal variances: fixed and random models",
        ["Computational Statistics and Data Analysis", "51", "5731–5742", "2007"],
    ),
    book("liu2010", "Liu, W.", "Simultaneous Inference in Regression", ["Chapman and Hall/CRC", "2010"]),
    article(
        "mahalanobis1936",
        "Mahalanobis, P. C.",
        "On the generalised distance in statistics",
        ["Proceedings of the National Institute of Sciences of India", "2", "49–55", "1936"],
    ),
    article("mccullagh1980", "McCullagh, P.", "Regression models for ordinal data", [JRSS, "42", "109–142", "1980"]),
    article(
        "methong2018",
        "Methong, T. and Shigeta, M. and Tanaka, M. and Ikeda, R. and Matsushita, M. and Poopat, B.",
        "Visualization of gas metal arc welding on globular to spray transition current",
        ["Science and Technology of Welding and Joining", "23", "87–94", "2018"],
    )
    .with_doi("10.1080/13621718.2017.1344454"),
    article(
        "montielolea2019",
        "Montiel Olea, J. L. and Plagborg-Møller, M.",
        "Simultaneous confidence bands: theory, implementation, and an application to SVARs",
        ["Journal of Applied Econometrics", "34", "1–17", "2019"],
    )
    .with_doi("10.1002/jae.2656"),
    Reference {
        kind: Kind::Other,
        ..article(
            "more1978",
            "Moré, J. J.",
            "The Levenberg–Marquardt algorithm: implementation and theory",
            ["Numerical Analysis, Springer, Lecture Notes in Mathematics", "630", "105–116", "1978"],
        )
    }
    .with_doi("10.1007/BFb0067700"),
    article(
        "nagashima2019",
        "Nagashima, K. and Noma, H. and Furukawa, T. A.",
        "Prediction intervals for random-effects meta-analysis: a confidence distribution approach",
        ["Statistical Methods in Medical Research", "28", "1689–1702", "2019"],
    )
    .with_doi("10.1177/0962280218773520"),
    article(
        "paule1982",
        "Paule, R. C. and Mandel, J.",
        "Consensus values and weighting factors",
        ["Journal of Research of the National Bureau of Standards", "87", "377–385", "1982"],
    )
    .with_doi("10.6028/jres.087.022"),
    article(
        "rosner1983",
        "Rosner, B.",
        "Percentage points for a generalized ESD many-outlier procedure",
        ["Technometrics", "25", "165–172", "1983"],
    ),
    article("rousseeuw1984", "Rousseeuw, P. J.", "Least median of squares regression", [JASA, "79", "871–880", "1984"])
        .with_doi("10.1080/01621459.1984.10477105"),
    article(
        "royston1995",
        "Royston, P.",
        "Remark AS R94: a remark on algorithm AS 181: the W-test for normality",
        ["Applied Statistics", "44", "547–551", "1995"],
    ),
    article(
        "satterthwaite1946",
        "Satterthwaite, F. E.",
        "An approximate distribution of estimates of variance components",
        ["Biometrics Bulletin", "2", "110–114", "1946"],
    ),
    article(
        "schuirmann1987",
        "Schuirmann, D. J.",
        "A comparison of the two one-sided tests procedure and the power approach for assessing the equivalence of average bioavailability",
        ["Journal of Pharmacokinetics and Biopharmaceutics", "15", "657–680", "1987"],
    )
    .with_doi("10.1007/BF01068419"),
    article(
        "viechtbauer2007",
        "Viechtbauer, W.",
        "Confidence intervals for the amount of heterogeneity in meta-analysis",
        ["Statistics in Medicine", "26", "37–52", "2007"],
    )
    .with_doi("10.1002/sim.2514"),
    article(
        "wilks1938",
        "Wilks, S. S.",
        "The large-sample distribution of the likelihood ratio for testing composite hypotheses",
        ["Annals of Mathematical Statistics", "9", "60–62", "1938"],
    )
    .with_doi("10.1214/aoms/1177732360"),
    article(
        "yohai1987",
        "Yohai, V. J.",
        "High breakdown-point and high efficiency robust estimates for regression",
        ["Annals of Statistics", "15", "642–656", "1987"],
    ),
    article(
        "york2004",
        "York, D. and Evensen, N. M. and López Martínez, M. and De Basabe Delgado, J.",
        "Unified equations for the slope, intercept, and standard errors of the best straight line",
        ["American Journal of Physics", "72", "367–375", "2004"],
    ),
];

#[cfg(test)]
#[path = "references_tests.rs"]
mod tests;
