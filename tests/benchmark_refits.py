"""How long 2000 refits take, next to numba and numpy in the same run: `python tests/benchmark_refits.py [--runs N]`.

Jobs: 2000 errors-in-variables refits of burn-off and 2000 ordered-logit refits of detachment (no trial scatter) to
readings and counts redrawn around the fit, on laboratories of 70, 500 and 5000 trials; and `meltlaw develop` on the lab
of 70 beside a fresh numpy process of the same job (benchmark_numpy.py --bootstrap --pandas; its imports, which are what
the job needs and count: numpy, pandas and scipy).
The larger labs repeat the rows of datasets/lab70. The two sides take turns, process by process, so that a busy neighbour
hits both; each process warms up first, so numba's compiling does not count.

Needs the release binary and the example (`cargo build --release && cargo build --release -p meltlaw --example refits`)
and an interpreter with numpy, pandas, scipy and numba (`--python`). Same answer: the spread of each refitted coefficient must agree
within the scatter of a spread from 2000 draws. Ratios hold within one run only; repeat when other processes were busy.
"""

import argparse
import json
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve().parent
LAB = HERE.parent / "datasets" / "lab70"
RELEASE = HERE.parent / "target" / "release"
REPLICATES = 2000
MUST, AIM = {"burn_off": 5.0, "detachment": 4.0}, 8.0
DEVELOP_MUST_S, DEVELOP_MUST_RATIO = 0.5, 8.0
# A standard deviation from 2000 draws has a relative standard error of 1/sqrt(2*2000) = 1.6 %; two of them, four times.
SPREADS_APART = 4 * (2 / (2 * REPLICATES)) ** 0.5


# ---- the anchors: one process per lab, `benchmark_refits.py --anchor TABLE` ----------------------------------------

GAIN_SE, FEED_SE, EXTENSION_SE_MM = 0.008, 0.004, 0.15


def anchor(table, runs):
    """Medians of numba and numpy on one table, as one JSON object."""
    import numba
    import numpy as np

    with open(table, encoding="utf-8") as file:
        header = file.readline().strip().split(",")
        wanted = {name: header.index(name) for name in header if name not in ("trial", "mode")}
        rows = np.genfromtxt(file, delimiter=",", usecols=list(wanted.values()))
    column = dict(zip(wanted, rows.T.copy(), strict=True))
    feed, mean, rms = column["wire_feed_m_min"] / 0.06, column["current_mean_a"], column["current_rms_a"]
    extension = column["ctwd_mm"] - column["arc_length_mm"]
    log_current, log_time = np.log(column["pulse_current_a"] / 400), np.log(column["pulse_time_ms"])
    none, one, more = (column[f"pulses_{name}"] for name in ("without_drop", "with_one_drop", "with_more_drops"))

    @numba.njit(fastmath=True)
    def fit_burn_off(w, current, length, square, gain, true_length):
        """Gauss-Newton on the coefficients with each trial's gain and extension taken along."""
        alpha = beta = 0.0
        for step in range(25):
            s11 = s12 = s22 = r1 = r2 = 0.0
            for i in range(w.size):
                if step == 0:
                    gain[i] = 1.0
                    true_length[i] = length[i]
                    weight = 1.0 / (w[i] * w[i])
                    p, q, e = current[i], length[i] * square[i], w[i]
                else:
                    g, l = gain[i], true_length[i]
                    p, q = current[i] * g, l * square[i] * g * g
                    by_gain, by_length = alpha * current[i] + 2 * beta * l * square[i] * g, beta * square[i] * g * g
                    sd = FEED_SE * w[i]
                    weight = 1.0 / (sd * sd + GAIN_SE**2 * by_gain * by_gain + EXTENSION_SE_MM**2 * by_length * by_length)
                    e = w[i] - alpha * p - beta * q - by_gain * (1 - g) - by_length * (length[i] - l)
                s11 += weight * p * p
                s12 += weight * p * q
                s22 += weight * q * q
                r1 += weight * p * e
                r2 += weight * q * e
            determinant = s11 * s22 - s12 * s12
            da, db = (s22 * r1 - s12 * r2) / determinant, (s11 * r2 - s12 * r1) / determinant
            if step > 0:
                for i in range(w.size):
                    g, l = gain[i], true_length[i]
                    p, q = current[i] * g, l * square[i] * g * g
                    by_gain, by_length = alpha * current[i] + 2 * beta * l * square[i] * g, beta * square[i] * g * g
                    sd = FEED_SE * w[i]
                    weight = 1.0 / (sd * sd + GAIN_SE**2 * by_gain * by_gain + EXTENSION_SE_MM**2 * by_length * by_length)
                    e = w[i] - alpha * p - beta * q - by_gain * (1 - g) - by_length * (length[i] - l)
                    e = (e - da * p - db * q) * weight
                    gain[i] = 1 + GAIN_SE**2 * by_gain * e
                    true_length[i] = length[i] + EXTENSION_SE_MM**2 * by_length * e
            alpha += da
            beta += db
            if step > 0 and abs(da) < 1e-10 * abs(alpha) and abs(db) < 1e-10 * abs(beta):
                break
        return alpha, beta

    @numba.njit(fastmath=True)
    def refit_burn_off(w, current, rms, length, count, seed):
        np.random.seed(seed)
        n = w.size
        gain, true_length = np.empty(n), np.empty(n)
        alpha, beta = fit_burn_off(w, current, length, rms * rms, gain, true_length)
        out = np.empty((count, 2))
        w1, current1, square1, length1 = np.empty(n), np.empty(n), np.empty(n), np.empty(n)
        for replicate in range(count):
            for i in range(n):
                read = 1 + GAIN_SE * np.random.standard_normal()
                length1[i] = length[i] + EXTENSION_SE_MM * np.random.standard_normal()
                melted = alpha * current[i] + beta * length[i] * rms[i] * rms[i]
                w1[i] = melted * (1 + FEED_SE * np.random.standard_normal())
                current1[i] = current[i] * read
                square1[i] = (rms[i] * read) ** 2
            out[replicate, 0], out[replicate, 1] = fit_burn_off(w1, current1, length1, square1, gain, true_length)
        return out

    @numba.njit(fastmath=True)
    def fit_logit(x, y, none, one, more, b, information):
        """Fisher scoring from b, in place; b = (slope of x, slope of y, first cut, second cut)."""
        score = np.empty(4)
        for _ in range(30):
            information[:] = 0.0
            score[:] = 0.0
            for i in range(x.size):
                eta = b[0] * x[i] + b[1] * y[i]
                up1, up2 = 1 / (1 + np.exp(b[2] - eta)), 1 / (1 + np.exp(b[3] - eta))
                p0, p1, p2 = max(1 - up1, 1e-12), max(up1 - up2, 1e-12), max(up2, 1e-12)
                d1, d2 = up1 * (1 - up1), up2 * (1 - up2)
                g1, g2 = d1 * (one[i] / p1 - none[i] / p0), d2 * (more[i] / p2 - one[i] / p1)
                pulses = none[i] + one[i] + more[i]
                a, c, cross = pulses * d1 * d1 * (1 / p0 + 1 / p1), pulses * d2 * d2 * (1 / p1 + 1 / p2), -pulses * d1 * d2 / p1
                both = a + c + 2 * cross
                score[0] += (g1 + g2) * x[i]
                score[1] += (g1 + g2) * y[i]
                score[2] -= g1
                score[3] -= g2
                information[0, 0] += both * x[i] * x[i]
                information[0, 1] += both * x[i] * y[i]
                information[1, 1] += both * y[i] * y[i]
                information[0, 2] -= (a + cross) * x[i]
                information[1, 2] -= (a + cross) * y[i]
                information[0, 3] -= (c + cross) * x[i]
                information[1, 3] -= (c + cross) * y[i]
                information[2, 2] += a
                information[2, 3] += cross
                information[3, 3] += c
            for i in range(4):
                for j in range(i):
                    information[i, j] = information[j, i]
            for i in range(4):
                for j in range(i + 1, 4):
                    factor = information[j, i] / information[i, i]
                    for k in range(i, 4):
                        information[j, k] -= factor * information[i, k]
                    score[j] -= factor * score[i]
            largest = 0.0
            for i in range(3, -1, -1):
                for k in range(i + 1, 4):
                    score[i] -= information[i, k] * score[k]
                score[i] /= information[i, i]
                largest = max(largest, abs(score[i]))
            for i in range(4):
                b[i] += score[i]
            if largest < 1e-9:
                break

    @numba.njit
    def refit_logit(x, y, none, one, more, start, count, seed):
        np.random.seed(seed)
        n = x.size
        information = np.empty((4, 4))
        base = start.copy()
        fit_logit(x, y, none, one, more, base, information)
        out = np.empty((count, 4))
        none1, one1, more1 = np.empty(n), np.empty(n), np.empty(n)
        for replicate in range(count):
            for i in range(n):
                pulses = int(none[i] + one[i] + more[i])
                eta = base[0] * x[i] + base[1] * y[i]
                up1, up2 = 1 / (1 + np.exp(base[2] - eta)), 1 / (1 + np.exp(base[3] - eta))
                dropped = np.random.binomial(pulses, up1)
                doubles = np.random.binomial(dropped, min(1.0, up2 / up1))
                none1[i], one1[i], more1[i] = pulses - dropped, dropped - doubles, doubles
            out[replicate] = base
            fit_logit(x, y, none1, one1, more1, out[replicate], information)
        return out

    start = np.array([16.0, 8.0, 5.0, 12.0])
    numpy_parts = numpy_refits(np, feed, mean, rms, extension, log_current, log_time, np.stack([none, one, more], -1), start)
    jobs = {
        ("burn_off", "numba"): lambda: refit_burn_off(feed, mean, rms, extension, REPLICATES, 1),
        ("detachment", "numba"): lambda: refit_logit(log_current, log_time, none, one, more, start, REPLICATES, 1),
        ("burn_off", "numpy"): numpy_parts[0],
        ("detachment", "numpy"): numpy_parts[1],
    }
    found = {"burn_off": {}, "detachment": {}}
    for (law, side), job in jobs.items():
        drawn, seconds = job(), []
        for _ in range(runs):
            begun = time.perf_counter()
            job()
            seconds.append(time.perf_counter() - begun)
        if law == "detachment":
            # As meltlaw counts them: n, ln k, s1, ln(s2 - s1).
            slope = drawn[:, 1]
            drawn = np.stack(
                [drawn[:, 0] / slope, np.log(slope), drawn[:, 2] / slope, np.log((drawn[:, 3] - drawn[:, 2]) / slope)], -1
            )
        found[law][side] = {"median_s": statistics.median(seconds), "sd": drawn.std(axis=0, ddof=1).tolist()}
    print(json.dumps(found))


def numpy_refits(np, feed, mean, rms, extension, log_current, log_time, counts, start):
    """The two jobs in numpy, all replicates at once in chunks, with the fits of benchmark_numpy.py."""
    import benchmark_numpy as fits
    from scipy.special import expit

    def chunks():
        at_once = max(1, min(REPLICATES, 100_000 // feed.size))
        return [min(at_once, REPLICATES - begun) for begun in range(0, REPLICATES, at_once)]

    def burn_off():
        rng = np.random.default_rng(1)
        (a, b), _ = fits.fit_burn_off(feed, mean, rms, extension)
        out = []
        for count in chunks():
            size = (count, feed.size)
            gain = 1 + GAIN_SE * rng.standard_normal(size)
            melted = (a * mean + b * extension * rms**2) * (1 + FEED_SE * rng.standard_normal(size))
            length = extension + EXTENSION_SE_MM * rng.standard_normal(size)
            out.append(fits.fit_burn_off(melted, mean * gain, rms * gain, length)[0])
        return np.concatenate(out)

    def detachment():
        rng = np.random.default_rng(1)
        base, _ = fits.fit_detachment(log_current, log_time, counts, start)
        eta = base[0] * log_current + base[1] * log_time
        up1, up2 = expit(eta - base[2]), expit(eta - base[3])
        chances = np.stack([1 - up1, up1 - up2, up2], axis=-1)
        out = []
        for count in chunks():
            drawn = rng.multinomial(counts.sum(axis=-1).astype(int), chances, size=(count, feed.size)).astype(float)
            out.append(fits.fit_detachment(log_current, log_time, drawn, base)[0])
        return np.concatenate(out)

    return burn_off, detachment


# ---- turns, medians, ratios ----------------------------------------------------------------------------------------


def run(command):
    """Wall seconds and output of one process; stops everything where it fails."""
    begun = time.perf_counter()
    done = subprocess.run(list(map(str, command)), capture_output=True, text=True, check=False)
    if done.returncode != 0:
        sys.exit(f"`{' '.join(map(str, command))}` ended with status {done.returncode}:\n{done.stderr}")
    return time.perf_counter() - begun, done.stdout


def repeat_rows(folder, trials):
    """A table of that many trials from the rows of lab70, trial names made unique."""
    header, *rows = (LAB / "lab70.csv").read_text(encoding="utf-8").splitlines()
    lines = [f"R{i:05d},{rows[i % len(rows)].split(',', 1)[1]}" for i in range(trials)]
    path = pathlib.Path(folder) / f"lab{trials}.csv"
    path.write_text("\n".join([header, *lines]) + "\n", encoding="utf-8")
    return path


def refits(asked, folder):
    """Prints the medians and ratios of the refits; true where all limits are met and the answers agree."""
    met = True
    for trials in asked.trials:
        table = LAB / "lab70.csv" if trials == 70 else repeat_rows(folder, trials)
        inner = 5 if trials < 1000 else 1
        ours, theirs = [], []
        for _ in range(asked.runs if trials < 1000 else max(1, asked.runs // 3)):
            ours.append(json.loads(run([asked.example, table, "--runs", inner])[1]))
            theirs.append(json.loads(run([asked.python, __file__, "--anchor", table, "--runs", inner])[1]))
        for law, must in MUST.items():
            own = statistics.median(o[law]["median_s"] for o in ours)
            other = {side: statistics.median(t[law][side]["median_s"] for t in theirs) for side in ("numba", "numpy")}
            apart = max(abs(a / b - 1) for a, b in zip(ours[-1][law]["sd"], theirs[-1][law]["numba"]["sd"], strict=True))
            ratio = other["numba"] / own
            same = apart < SPREADS_APART and not any(o[law]["failed"] for o in ours)
            met &= same and ratio >= must
            print(
                f"{law:11} {trials:5} trials {1e3 * own:9.2f} ms   numba {1e3 * other['numba']:9.2f} ms ({ratio:4.1f}x)   "
                f"numpy {1e3 * other['numpy']:9.2f} ms ({other['numpy'] / own:4.1f}x)   "
                f"{1e9 * own / trials / REPLICATES:5.1f} ns per trial   spreads {100 * apart:.1f} % apart"
                f"{'' if same else ': NOT the same answer'}{'' if ratio >= must else f'   under {must:.0f}x'}"
            )
    return met


def develop(asked, folder):
    """Prints the same for `develop` against a fresh numpy process."""
    result = pathlib.Path(folder) / "result"
    ours, theirs = [], []
    for turn in range(-1, asked.runs):
        pair = (
            run([asked.binary, "develop", LAB / "study70.toml", "--out", result, "--force"])[0],
            run([asked.python, HERE / "benchmark_numpy.py", LAB / "lab70.csv", "--bootstrap", "--pandas"])[0],
        )
        if turn >= 0:
            ours.append(pair[0])
            theirs.append(pair[1])
    own, other = statistics.median(ours), statistics.median(theirs)
    met = own < DEVELOP_MUST_S and other >= DEVELOP_MUST_RATIO * own
    print(
        f"develop        70 trials {1e3 * own:9.2f} ms   fresh numpy process {1e3 * other:9.2f} ms ({other / own:4.1f}x)"
        f"{'' if met else f'   limits: {DEVELOP_MUST_S} s and {DEVELOP_MUST_RATIO:.0f}x'}"
    )
    return met


def main():
    arguments = argparse.ArgumentParser(description="Times refits next to numba and numpy in the same run.")
    arguments.add_argument("--runs", type=int, default=7, help="turns to take the median of (default 7)")
    arguments.add_argument("--trials", type=int, nargs="+", default=[70, 500, 5000], help="sizes of laboratory")
    arguments.add_argument("--python", default=sys.executable, help="interpreter with numpy, pandas, scipy and numba")
    arguments.add_argument("--binary", type=pathlib.Path, default=RELEASE / "meltlaw", help="the program")
    arguments.add_argument("--example", type=pathlib.Path, default=RELEASE / "examples" / "refits", help="the example")
    arguments.add_argument("--strict", action="store_true", help="status 1 where a limit is missed")
    arguments.add_argument("--anchor", type=pathlib.Path, help=argparse.SUPPRESS)
    asked = arguments.parse_args()
    if asked.anchor:
        return anchor(asked.anchor, asked.runs)
    for path in (asked.binary, asked.example):
        if not path.is_file():
            sys.exit(f"no program at {path}: build it with `cargo build --release` and `cargo build --release -p meltlaw --example refits`")
    print(f"{REPLICATES} refits; medians of {asked.runs} turns; limits: burn-off 5x numba, detachment 4x numba, aim {AIM:.0f}x")
    with tempfile.TemporaryDirectory() as folder:
        met = refits(asked, folder)
        met &= develop(asked, folder)
    return 1 if asked.strict and not met else 0


if __name__ == "__main__":
    sys.exit(main())
