"""A log of a pulsed weld and what numpy makes of it. Invented numbers. Needs numpy and scipy: `python3 make_expected.py` writes
log.npy and expected.json beside it.

Definitions: the window runs from the first to the last block of 10 ms whose mean current is 20 A or more, less 0.2 s at each end.
A pulse rises where the current passes from below 35 % to above 65 % of the step; its current is the median of the central
half, the background's that of the central three fifths of the pause; width and slopes lie between crossings of levels half-way,
at a fifth and at four fifths between the background (mean of the pause before and after) and the pulse current, each crossing the
mean of the first and the last one."""

import json
import pathlib

import numpy as np
import scipy

HERE = pathlib.Path(__file__).parent
RATE, CUT = 20_000.0, 0.2


def synthesise():
    rng = np.random.default_rng(2026)
    n = int(2.4 * RATE)
    t = np.arange(n) / RATE
    background, height, width, rise, fall = 55.0, 340.0, 2.3e-3, 350.0 * 1e3, 600.0 * 1e3
    at = np.cumsum(np.r_[0.204, 1 / 95.0 * (1 + 0.02 * rng.standard_normal(200))])
    at = at[at < 2.18]
    xs = np.stack([at - height / rise / 2, at + height / rise / 2, at + width - height / fall / 2, at + width + height / fall / 2], 1)
    ys = np.tile([background, background + height, background + height, background], at.size)
    i = np.interp(t, xs.ravel(), ys, left=background, right=background)
    u = 16.0 + 0.035 * i
    for pulse in (30, 77, 120):
        k = int((at[pulse] + width + 1e-3) * RATE)
        u[k:k + int(0.6e-3 * RATE)] = 3.0
    arc = (t >= 0.2) & (t < 2.2)
    i = np.where(arc, i, 0) + 3.0 * rng.standard_normal(n)
    u = np.where(arc, u, np.where(t < 0.2, 60.0, 0.0)) + 0.3 * rng.standard_normal(n)
    return np.stack([i, u], 1).astype("<f4")


def crossing(x, a, b, level, margin, rising):
    """Mean of the first and last crossing of a level near an edge between samples a (before) and b (after)."""
    y = x if rising else -x
    near, level, far = ((level - margin, level, level + margin) if rising else (-level - margin, -level, -level + margin))
    while y[a] >= near:
        a -= 1
    while y[b] < far:
        b += 1
    k = np.flatnonzero((y[a:b] < level) & (y[a + 1:b + 1] >= level)) + a
    at = [j + (level - y[j]) / (y[j + 1] - y[j]) for j in (k[0], k[-1])]
    return sum(at) / 2


def main():
    log = synthesise()
    np.save(HERE / "log.npy", log)
    i, u = log.astype("f8").T
    block = int(0.01 * RATE)
    means = i[:i.size // block * block].reshape(-1, block).mean(1)
    on = np.flatnonzero(np.abs(means) >= 20)
    a, b = int(on[0] * block + CUT * RATE), int((on[-1] + 1) * block - CUT * RATE)
    w, v = i[a:b], u[a:b]
    expected = {
        "about": "invented; see README.md", "made_with": {"numpy": np.__version__, "scipy": scipy.__version__},
        "sample_rate_hz": RATE, "cut_ends_s": CUT, "window_s": [a / RATE, b / RATE],
        "current_mean_a": w.mean(), "current_rms_a": np.sqrt((w * w).mean()), "voltage_mean_v": v.mean(), "power_mean_w": (w * v).mean(),
    }
    expected["arc_energy_j"] = expected["power_mean_w"] * (b - a) / RATE
    short, shorts = False, 0
    for x in v:
        if not short and x < 8:
            short, shorts = True, shorts + 1
        elif short and x > 12:
            short = False
    expected["short_circuits"] = shorts
    low, high = np.median(w[w < 200]), np.median(w[w > 300])
    lo, hi = low + 0.35 * (high - low), low + 0.65 * (high - low)
    state = np.where(w > hi, 1, np.where(w < lo, -1, 0))
    k = np.flatnonzero(state)
    turn = np.flatnonzero(np.diff(state[k]))
    edges = [(k[j], k[j + 1], state[k[j + 1]] == 1) for j in turn]
    while not edges[0][2]:
        edges.pop(0)
    rows, before = [], None
    for rise, fall, after in zip(edges[0::2], edges[1::2], edges[2::2]):
        r, f, n = ((e[0] + e[1]) // 2 for e in (rise, fall, after))
        pulse, pause = f - r, n - f
        top = np.median(w[r + pulse // 4:f - pulse // 4])
        floor = np.median(w[f + pause // 5:n - pause // 5])
        base = (floor + (floor if before is None else before)) / 2
        before, step = floor, top - base
        at = lambda e, share, rising: crossing(w, e[0], e[1], base + share * step, 0.15 * step, rising)
        begins = at(rise, 0.5, True)
        slope = lambda e, rising: 0.6 * step / abs(at(e, 0.8, rising) - at(e, 0.2, rising)) * RATE / 1000
        rows.append([top, floor, (at(fall, 0.5, False) - begins) / RATE * 1e3, (at(after, 0.5, True) - begins) / RATE * 1e3, slope(rise, True), slope(fall, False)])
    top, floor, width, period, rises, falls = np.mean(rows, axis=0)
    expected |= {
        "pulses": len(rows), "pulse_current_a": top, "background_current_a": floor, "pulse_time_ms": width,
        "pulse_frequency_hz": 1000 / period, "pulse_period_sd_ms": np.std([r[3] for r in rows], ddof=1),
        "rise_a_per_ms": rises, "fall_a_per_ms": falls,
    }
    # Standard error of the mean pulse current from its autocorrelation, a window of 20 lags: an estimate by another road.
    x = np.array([r[0] for r in rows]) - top
    variance = (x @ x + 2 * sum((1 - lag / 21) * (x[:-lag] @ x[lag:]) for lag in range(1, 21))) / x.size**2
    expected["pulse_current_a_se"] = float(np.sqrt(max(variance, 0)))
    expected["pulse_current_a_se_independent"] = float(np.std(x, ddof=1) / np.sqrt(x.size))
    (HERE / "expected.json").write_text(json.dumps({k: float(v) if isinstance(v, np.floating) else v for k, v in expected.items()}, indent=1) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
