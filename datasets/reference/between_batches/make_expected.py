"""Batches with errors of their own: what general libraries say of how far they scatter. Invented numbers. Needs numpy,
scipy, pandas, statsmodels: `python3 make_expected.py` writes expected.json beside it."""

import json
import pathlib

import numpy as np
import pandas as pd
import scipy
import statsmodels
import statsmodels.formula.api as smf
from scipy import optimize, stats
from statsmodels.stats.meta_analysis import combine_effects

HERE = pathlib.Path(__file__).parent
rng = np.random.default_rng(21)

CASES = {
    "four_batches": ([1.012, 0.981, 1.034, 0.997], [2.1e-5, 3.4e-5, 1.8e-5, 4.0e-5]),
    "six_batches_precise": ([10.2, 9.7, 10.9, 10.1, 9.4, 10.6], [0.001, 0.002, 0.001, 0.003, 0.002, 0.001]),
    "three_that_agree": ([5.00, 5.01, 4.99], [0.01, 0.02, 0.015]),
}


def profile(values, variances, level):
    """Ends of the variance between groups by the profile of Q."""
    values, variances = np.array(values), np.array(variances)

    def scatter(h2):
        w = 1 / (variances + h2)
        return np.sum(w * (values - np.sum(w * values) / np.sum(w)) ** 2)

    def at(probability):
        wanted = stats.chi2.ppf(probability, len(values) - 1)
        if scatter(0) <= wanted:
            return 0.0
        return optimize.brentq(lambda h2: scatter(h2) - wanted, 0, 1e4, xtol=1e-16, rtol=1e-13)

    tail = (1 - level) / 2
    return [at(1 - tail), at(tail)]


def main():
    expected = {
        "about": "invented; see README.md",
        "made_with": {"numpy": np.__version__, "scipy": scipy.__version__, "statsmodels": statsmodels.__version__},
    }
    for name, (values, variances) in CASES.items():
        # Tighter than 1e-7, the estimating equation may end a rounding below zero, which statsmodels takes for "no scatter".
        found = combine_effects(np.array(values), np.array(variances), method_re="iterated", use_t=True, atol=1e-7)
        expected[name] = {
            "values": values, "variances": variances, "between": float(found.tau2), "mean": float(found.mean_effect_re),
            "standard_error_hksj": float(found.sd_eff_w_re_hksj), "interval_95": profile(values, variances, 0.95),
        }
    # Balanced raw readings: groups by their means with the pooled variance must give the REML answer of a mixed model.
    groups, each = 6, 8
    level = rng.normal(0, 0.4, groups)
    readings = (10 + level[:, None] + rng.normal(0, 0.5, (groups, each))).round(4)
    frame = pd.DataFrame({"y": readings.ravel(), "batch": np.repeat(np.arange(groups), each)})
    model = smf.mixedlm("y ~ 1", frame, groups=frame["batch"]).fit(reml=True, method="lbfgs", maxiter=500, gtol=1e-12)
    expected["mixed_model"] = {
        "readings": readings.tolist(), "between": float(model.cov_re.iloc[0, 0]), "within": float(model.scale),
        "mean": float(model.fe_params.iloc[0]), "standard_error": float(model.bse_fe.iloc[0]),
    }
    # A new group where the groups' own errors vanish: Student's t.
    values = [0.302, 0.297, 0.311, 0.300]
    k, s = len(values), float(np.std(values, ddof=1))
    half = float(stats.t.ppf(0.975, k - 1)) * s * float(np.sqrt(1 + 1 / k))
    expected["new_group"] = {"values": values, "interval_95": [float(np.mean(values)) - half, float(np.mean(values)) + half]}
    (HERE / "expected.json").write_text(json.dumps(expected, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
