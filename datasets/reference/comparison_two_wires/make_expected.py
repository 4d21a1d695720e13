"""Two invented wires, feed over exact currents and exact heat in the extension: what general libraries say of their
difference. Nothing here was measured. Needs numpy, scipy, statsmodels: `python3 make_expected.py` writes data.csv and
expected.json beside it."""

import csv
import json
import pathlib

import numpy as np
import scipy
import statsmodels
import statsmodels.api as sm
from scipy import integrate, optimize, stats

HERE = pathlib.Path(__file__).parent
rng = np.random.default_rng(20)


def weld(alpha, beta, scatter, count):
    current = rng.uniform(110, 260, count).round(1)
    heated = (rng.uniform(11, 18, count) * (current * rng.uniform(1.1, 1.3, count)) ** 2).round(0)
    feed = (alpha * current + beta * heated + scatter * rng.normal(size=count)).round(4)
    return current, heated, feed


def law(wire):
    current, heated, feed = wire
    return sm.OLS(feed, np.column_stack([current, heated])).fit()


def log_likelihood_ratio(wires, laws):
    """2 ln of one law for both against one for each, each wire with a spread of its own."""

    def both(scaled):
        b = scaled * laws[0].params
        return sum(
            len(feed) * np.log(np.sum((feed - b[0] * current - b[1] * heated) ** 2))
            for current, heated, feed in wires
        )

    best = min(
        (optimize.minimize(both, start, method="Nelder-Mead", options={"xatol": 1e-12, "fatol": 1e-13, "maxiter": 20000}) for start in ([1, 1], [1.01, 0.99])),
        key=lambda r: r.fun,
    )
    each = sum(len(w[2]) * np.log(f.ssr) for w, f in zip(wires, laws))
    return best.fun - each


def straight_line_band(covariance, low, high, degrees, level):
    """Quantile of the largest |t| over an interval of a straight line of two coefficients (W. Liu, 2010): the largest
    projection on an arc of directions of half angle `half`, by quadrature over the direction."""
    root = np.linalg.cholesky(covariance)
    a, b = root.T @ np.array([1.0, low]), root.T @ np.array([1.0, high])
    half = np.arccos(a @ b / np.linalg.norm(a) / np.linalg.norm(b)) / 2

    def held(c):
        # |projection| <= c for every direction in the arc; by symmetry over a quarter of the circle.
        def inside(angle):
            reach = 1.0 if angle <= half else np.cos(min(angle - half, np.pi / 2))
            return stats.f.cdf((c / max(reach, 1e-300)) ** 2 / 2, 2, degrees)

        return integrate.quad(inside, 0, np.pi / 2, points=[half], epsabs=1e-12)[0] / (np.pi / 2)

    return optimize.brentq(lambda c: held(c) - level, 1.0, 10.0, xtol=1e-10)


def main():
    wires = [weld(0.300, 5.2e-5, 0.9, 22), weld(0.304, 5.25e-5, 0.6, 18)]
    laws = [law(w) for w in wires]
    with (HERE / "data.csv").open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(["wire", "current_mean_a", "extension_rms_squared_mm_a2", "wire_feed_mm_s"])
        for name, wire in zip("ab", wires):
            table.writerows([name, *row] for row in zip(*wire))
    place = np.array([180.0, 7.0e5])
    second = laws[1].get_prediction(place[None, :])
    sums = [float(place @ f.params) for f in laws]
    se = [float(np.sqrt(place @ f.cov_params() @ place)) for f in laws]
    # Against a wire that is known exactly the difference is Student's t with the other's degrees.
    exact = sums[1] * 0.985
    degrees = int(laws[1].df_resid)
    margins = [0.005, 0.01, 0.0144, 0.0155, 0.02, 0.03]
    tests = []
    for margin in margins:
        limit = margin * exact
        lower = stats.t.sf((sums[1] - exact + limit) / se[1], degrees)
        upper = stats.t.cdf((sums[1] - exact - limit) / se[1], degrees)
        tests.append({"margin": margin, "p_lower": lower, "p_upper": upper, "alike": bool(max(lower, upper) < 0.05)})
    line = np.array([[0.5, -0.02], [-0.02, 0.002]])
    expected = {
        "about": "invented; see README.md",
        "made_with": {"numpy": np.__version__, "scipy": scipy.__version__, "statsmodels": statsmodels.__version__},
        "laws": [
            {"params": f.params.tolist(), "covariance": np.asarray(f.cov_params()).tolist(), "degrees": int(f.df_resid), "trials": int(f.nobs)}
            for f in laws
        ],
        "place": place.tolist(),
        "against_exact": {
            "first": exact,
            "interval_of_second_90": second.conf_int(alpha=0.1)[0].tolist(),
            "two_one_sided_tests": tests,
        },
        "likelihood_ratio": float(log_likelihood_ratio(wires, laws)),
        "straight_line": {
            "covariance": line.tolist(), "from": 2.0, "to": 9.0, "degrees": degrees,
            "critical_90": float(straight_line_band(line, 2.0, 9.0, degrees, 0.9)),
        },
    }
    (HERE / "expected.json").write_text(json.dumps(expected, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
