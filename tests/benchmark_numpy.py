"""The numerical core of `meltlaw develop` in numpy and scipy, as one fresh process: what a good script would do.

Reads the table, fits burn-off with errors in variables and detachment by ordered logit, takes 2000 draws of each, solves
19 nodes for each draw and prints quantiles as one JSON object. It does less than meltlaw: no arc voltage, no trial
scatter, no checks, no files, no report. `--bootstrap` refits 2000 simulated laboratories per law instead of drawing
coefficients from their covariance. `--pandas` reads the
table with pandas. Used by the benchmarks: `python benchmark_numpy.py TABLE [--bootstrap] [--pandas]`.
"""

import csv
import json
import sys

import numpy as np
from scipy.special import expit

GAIN_SE, FEED_SE, EXTENSION_SE_MM = 0.008, 0.004, 0.15
DRAWS, FEEDS_M_MIN, EXTENSION_MM, DIAMETER_MM, SLOPE_A_PER_MS = 2000, np.linspace(3.5, 8.0, 19), 14.0, 1.2, 600.0


def read(path):
    """The columns as arrays by name; text columns are left out."""
    if "--pandas" in sys.argv[2:]:
        import pandas

        table = pandas.read_csv(path)
        return {name: table[name].to_numpy(float) for name in table if name not in ("trial", "mode")}
    with open(path, newline="", encoding="utf-8") as file:
        rows = list(csv.DictReader(file))
    return {name: np.array([float(row[name]) for row in rows]) for name in rows[0] if name not in ("trial", "mode")}


def fit_burn_off(feed, mean, rms, extension):
    """feed = a·g·mean + b·l·(g·rms)², g and l unknown in each trial. The last axis is trials, leading axes are laboratories."""
    square, gain, length = rms**2, np.ones_like(mean), extension
    (a, b), _, _ = weighted_fit(mean, extension * square, feed, feed)
    for _ in range(30):
        by_gain, by_length = a * mean + 2 * b * length * square * gain, b * square * gain**2
        spread = np.sqrt((FEED_SE * feed) ** 2 + (GAIN_SE * by_gain) ** 2 + (EXTENSION_SE_MM * by_length) ** 2)
        target = feed - by_gain * (1 - gain) - by_length * (extension - length)
        before = a
        (a, b), normal, miss = weighted_fit(mean * gain, length * square * gain**2, target, spread)
        gain = 1 + GAIN_SE**2 * by_gain * miss / spread
        length = extension + EXTENSION_SE_MM**2 * by_length * miss / spread
        if np.abs(a / before - 1).max() < 1e-11:
            break
    per_degree = (miss**2).sum(axis=-1) / (feed.shape[-1] - 2)
    return np.concatenate([a, b], axis=-1), np.linalg.inv(normal) * per_degree[..., None, None]


def weighted_fit(first, second, target, spread):
    """Both coefficients of target = a·first + b·second, the normal matrix, and the residuals over their spread."""
    terms = np.stack([first, second], axis=-1) / spread[..., None]
    turned = np.swapaxes(terms, -1, -2)
    normal = turned @ terms
    found = np.linalg.solve(normal, turned @ (target / spread)[..., None])
    return (found[..., 0, :], found[..., 1, :]), normal, target / spread - (terms @ found)[..., 0]


def fit_detachment(log_current, log_time, counts, start):
    """Ordered logit on counts (…, trials, 3) by Fisher scoring; coefficients of log_current and log_time, then the two cuts."""
    one, none = np.ones_like(log_time), np.zeros_like(log_time)
    first, second = np.stack([log_current, log_time, -one, none], 1), np.stack([log_current, log_time, none, -one], 1)
    total = counts.sum(axis=-1)
    b = np.broadcast_to(start, counts.shape[:-2] + (4,)).copy()
    for _ in range(40):
        up1, up2 = expit(b @ first.T), expit(b @ second.T)
        slope1, slope2 = up1 * (1 - up1), up2 * (1 - up2)
        p0, p1, p2 = np.maximum(1 - up1, 1e-12), np.maximum(up1 - up2, 1e-12), np.maximum(up2, 1e-12)
        score1 = slope1 * (counts[..., 1] / p1 - counts[..., 0] / p0)
        score2 = slope2 * (counts[..., 2] / p2 - counts[..., 1] / p1)
        score = score1 @ first + score2 @ second
        cross = -total * slope1 * slope2 / p1
        information = (
            weighted_products(total * slope1**2 * (1 / p0 + 1 / p1), first, first)
            + weighted_products(total * slope2**2 * (1 / p1 + 1 / p2), second, second)
            + weighted_products(cross, first, second) + weighted_products(cross, second, first)
        )
        step = np.linalg.solve(information, score[..., None])[..., 0]
        b += step
        if np.abs(step).max() < 1e-9:
            break
    return b, np.linalg.inv(information)


def weighted_products(weight, left, right):
    """Σ over trials of weight · left · rightᵀ, for all laboratories at once."""
    products = (left[:, :, None] * right[:, None, :]).reshape(len(left), 16)
    return (weight @ products).reshape(weight.shape[:-1] + (4, 4))


def multivariate_t(rng, centre, covariance, degrees):
    normal = rng.standard_normal((DRAWS, centre.size)) @ np.linalg.cholesky(covariance).T
    return centre + normal * np.sqrt(degrees / rng.chisquare(degrees, DRAWS))[:, None]


def balancing_background(feed_mm_s, a, b, pulse_a, width_ms, frequency):
    """The background current that melts what is fed, by Newton, for (nodes, draws) at once."""
    share, background = width_ms * frequency / 1000, np.full(np.broadcast_shapes(feed_mm_s.shape, a.shape), 100.0)
    for _ in range(20):
        step = pulse_a - background
        per_square = share - step / SLOPE_A_PER_MS * frequency / 3000
        square = background**2 + 2 * background * step * share + step**2 * per_square
        by_square = 2 * background + 2 * (step - background) * share - 2 * step * per_square + step**2 * frequency / 3000 / SLOPE_A_PER_MS
        excess = a * (background + step * share) + b * EXTENSION_MM * square - feed_mm_s
        move = excess / (a * (1 - share) + b * EXTENSION_MM * by_square)
        background = background - move
        if np.abs(move).max() < 1e-10:
            break
    return background


def main():
    table, bootstrap, rng = read(sys.argv[1]), "--bootstrap" in sys.argv[2:], np.random.default_rng(1)
    feed, mean, rms = table["wire_feed_m_min"] / 0.06, table["current_mean_a"], table["current_rms_a"]
    extension = table["ctwd_mm"] - table["arc_length_mm"]
    log_current, log_time = np.log(table["pulse_current_a"] / 400), np.log(table["pulse_time_ms"])
    counts = np.stack([table[f"pulses_{name}"] for name in ("without_drop", "with_one_drop", "with_more_drops")], axis=-1)
    burn, burn_covariance = fit_burn_off(feed, mean, rms, extension)
    logit, logit_covariance = fit_detachment(log_current, log_time, counts, np.array([16.0, 8.0, 5.0, 12.0]))
    if bootstrap:
        size = (DRAWS, feed.size)
        gain = 1 + GAIN_SE * rng.standard_normal(size)
        melted = (burn[0] * mean + burn[1] * extension * rms**2) * (1 + FEED_SE * rng.standard_normal(size))
        burn_draws, _ = fit_burn_off(melted, mean * gain, rms * gain, extension + EXTENSION_SE_MM * rng.standard_normal(size))
        up1, up2 = expit(logit[:2] @ [log_current, log_time] - logit[2]), expit(logit[:2] @ [log_current, log_time] - logit[3])
        chances = np.stack([1 - up1, up1 - up2, up2], axis=-1)
        simulated = rng.multinomial(counts.sum(axis=-1).astype(int), chances, size=size).astype(float)
        logit_draws, _ = fit_detachment(log_current, log_time, simulated, logit)
    else:
        burn_draws = multivariate_t(rng, burn, burn_covariance, feed.size - 2)
        logit_draws = multivariate_t(rng, logit, logit_covariance, feed.size - 4)

    pulse_a = 400 * np.exp(log_current.mean())
    width_ms = np.exp(((logit[2] + logit[3]) / 2 - logit[0] * log_current.mean()) / logit[1])
    nodes_mm_s = FEEDS_M_MIN[:, None] / 0.06
    frequency = np.pi / 4 * DIAMETER_MM**2 * nodes_mm_s / (np.pi / 6 * (1.1 * DIAMETER_MM) ** 3)
    a, b = burn_draws.T
    background = balancing_background(nodes_mm_s, a, b, pulse_a, width_ms, frequency)
    eta = logit_draws[:, :2] @ [log_current.mean(), np.log(width_ms)]
    one_drop = expit(eta - logit_draws[:, 2]) - expit(eta - logit_draws[:, 3])
    ends = [0.025, 0.5, 0.975]
    print(json.dumps({
        "burn_off": burn.tolist(), "logit": logit.tolist(),
        "burn_off_quantiles": np.quantile(burn_draws, ends, axis=0).tolist(),
        "background_quantiles": np.quantile(background, ends, axis=1).tolist(),
        "one_drop_quantiles": np.quantile(one_drop, ends).tolist(),
    }))


if __name__ == "__main__":
    main()
