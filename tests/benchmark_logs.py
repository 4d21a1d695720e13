"""How long logs take to become rows, next to polars and numba in the same run: `python tests/benchmark_logs.py [--runs N]`.

Jobs, on an invented log of 60 s at 100 kHz (6 million samples): the samples in memory; the log as CSV, as Parquet (zstd) and
as raw singles, from the page cache to the row; and a folder of 40 logs of 10 s. The other side reads with polars or numpy,
two columns of singles, and reduces in one compiled pass of numba: sums, edges, medians, widths, short circuits. Both sides
are processes that have warmed up (numba has compiled, files were read once) and take turns, job by job, so that a busy
neighbour hits both.

Needs the example (`cargo build --release -p meltlaw-files --example log_speed`) and, to run this with, an interpreter with
numpy, polars and numba. Same answer: both must find the same window, pulses and short circuits, and means, currents and times
as near as their definitions allow. Ratios hold within one run only; repeat when other processes were busy.
"""

import argparse
import concurrent.futures
import json
import pathlib
import statistics
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve().parent
RELEASE = HERE.parent / "target" / "release"
RATE_HZ = 100_000
MUST = {"memory": 3.0, "csv": 3.0, "parquet": 2.0, "raw": 3.0, "folder": 3.0}
AIM = {"memory": 5.0, "csv": 4.0}
# Relative: sums of doubles in another order. A and ms: levels are followed pulse by pulse here and taken once there, so that
# now and then an edge moves by a sample and with it the ends of what a median is taken of.
WITHIN = {"current_mean_a": 1e-8, "current_rms_a": 1e-8, "voltage_mean_v": 1e-8, "power_mean_w": 1e-8}
NEAR = {"pulse_current_a": 0.02, "background_current_a": 0.02, "pulse_time_ms": 1e-3}


# ---- the logs ------------------------------------------------------------------------------------------------------


def synthesise(seconds, seed):
    """Time, current and voltage of an invented pulsed weld with noise, jitter and a few short circuits."""
    import numpy as np

    rng = np.random.default_rng(seed)
    t = np.arange(round(seconds * RATE_HZ)) / RATE_HZ
    high, low, width, ramp = 410.0, 65.0, 2.1e-3, 400e3
    ends = 0.5, seconds - 0.3
    at = ends[0] + np.cumsum(np.r_[0.002, 1 / 118 * (1 + 0.03 * rng.standard_normal(int(130 * seconds)))])
    at = at[at < ends[1] - 0.01]
    half = (high - low) / ramp / 2
    corners = np.stack([at - half, at + half, at + width - half, at + width + half], 1).ravel()
    i = np.interp(t, corners, np.tile([low, high, high, low], at.size))
    u = 15 + 0.04 * i
    for begin in at[rng.random(at.size) < 0.004]:
        short = round((begin + width + 0.0008) * RATE_HZ)
        u[short : short + 50] = 4
    burns = (t >= ends[0]) & (t < ends[1])
    i = np.where(burns, i, 0) + 4 * rng.standard_normal(t.size)
    u = np.where(burns, u, np.where(t < ends[0], 62, 0)) + 0.4 * rng.standard_normal(t.size)
    return t, i.astype("f4"), u.astype("f4")


def write_logs(folder, seconds, logs):
    """One log in three formats and a folder of shorter ones as CSV."""
    import numpy as np
    import polars as pl

    def digits(x):
        """Six significant ones, as recorders write them."""
        size = 10.0 ** (5 - np.floor(np.log10(np.maximum(np.abs(x.astype("f8")), 1e-9))))
        return np.rint(x * size) / size

    def frame(t, i, u):
        return pl.DataFrame({"time_s": t.round(5), "current_a": digits(i), "voltage_v": digits(u)})

    t, i, u = synthesise(seconds, 1)
    table = frame(t, i, u)
    table.write_csv(folder / "log.csv")
    singles = table.with_columns(pl.all().cast(pl.Float32))
    singles.write_parquet(folder / "log.parquet", compression="zstd", row_group_size=1 << 20)
    np.ascontiguousarray(singles.to_numpy()).astype("<f4").tofile(folder / "log.f32")
    (folder / "many").mkdir()
    for k in range(logs):
        frame(*synthesise(10, 100 + k)).write_csv(folder / "many" / f"log{k:02d}.csv")


# ---- the other side: one process, `benchmark_logs.py --anchor` ----------------------------------------------------------


def anchor():
    """Answers the same requests as the example, a line of milliseconds and of the row each."""
    import numba
    import numpy as np
    import polars as pl

    @numba.njit(fastmath=True, nogil=True)
    def middle(x, scratch):
        """Median by partition about a pivot."""
        n = x.size
        y = scratch[:n]
        y[:] = x
        first, last, wanted = 0, n - 1, n // 2
        while first < last:
            pivot, a, b = y[(first + last) // 2], first, last
            while a <= b:
                while y[a] < pivot:
                    a += 1
                while y[b] > pivot:
                    b -= 1
                if a <= b:
                    y[a], y[b] = y[b], y[a]
                    a += 1
                    b -= 1
            if wanted <= b:
                last = b
            elif wanted >= a:
                first = a
            else:
                break
        upper = float(y[wanted])
        if n % 2:
            return upper
        lower = y[0]
        for k in range(wanted):
            lower = max(lower, y[k])
        return 0.5 * (upper + float(lower))

    @numba.njit(fastmath=True, nogil=True)
    def sums(i, u):
        a = b = c = d = 0.0
        least = u[0]
        for k in range(i.size):
            x, y = float(i[k]), float(u[k])
            a += x
            b += x * x
            c += y
            d += x * y
            least = min(least, u[k])
        return a, b, c, d, least

    @numba.njit(fastmath=True, nogil=True)
    def one_pass(i, u, mid, low, high, tops, floors, widths):
        """All of it in pieces that the cache holds."""
        total = np.zeros(4)
        scratch = np.empty(1 << 16, i.dtype)
        state, crossed, pulses, shorts, short = 0, -1, 0, 0, False
        rise, fall = -1, -1
        rise_at = fall_at = 0.0
        for begin in range(0, i.size, 4096):
            piece, volts = i[begin : begin + 4096], u[begin : begin + 4096]
            a, b, c, d, least = sums(piece, volts)
            total[0] += a
            total[1] += b
            total[2] += c
            total[3] += d
            if short or least < 8.0:
                for k in range(volts.size):
                    if short and volts[k] > 12.0:
                        short = False
                    elif not short and volts[k] < 8.0:
                        short = True
                        shorts += 1
            for k in range(piece.size):
                x = piece[k]
                if state > 0:
                    if x > high:
                        crossed = -1
                        continue
                    if x < mid and crossed < 0:
                        crossed = begin + k - 1
                    if x < low:
                        state = -1
                        if rise >= 0:
                            fall, y = crossed, float(i[crossed])
                            fall_at = crossed + (mid - y) / (float(i[crossed + 1]) - y)
                        crossed = -1
                elif state < 0:
                    if x < low:
                        crossed = -1
                        continue
                    if x >= mid and crossed < 0:
                        crossed = begin + k - 1
                    if x > high:
                        state = 1
                        if fall >= 0:
                            pulse, pause = fall - rise, crossed - fall
                            tops[pulses] = middle(i[rise + pulse // 4 : fall - pulse // 4], scratch)
                            floors[pulses] = middle(i[fall + pause // 5 : crossed - pause // 5], scratch)
                            widths[pulses] = fall_at - rise_at
                            pulses += 1
                        rise, fall, y = crossed, -1, float(i[crossed])
                        rise_at = crossed + (mid - y) / (float(i[crossed + 1]) - y)
                        crossed = -1
                else:
                    state = 1 if x > high else -1 if x < low else 0
        return pulses, shorts, total

    def reduced(i, u):
        block, cut = RATE_HZ // 100, RATE_HZ // 2
        means = i[: i.size // block * block].reshape(-1, block)[:, ::10].mean(1)
        burns = np.flatnonzero(means > 20)
        window = int(burns[0] * block + cut), int((burns[-1] + 1) * block - cut)
        i, u = i[window[0] : window[1]], u[window[0] : window[1]]
        some = i[::50]
        counts, edges = np.histogram(some, bins=256)
        centres, between = (edges[1:] + edges[:-1]) / 2, (some.min() + some.max()) / 2
        low, high = (
            np.median(some[np.abs(some - centres[np.argmax(np.where(side, counts, 0))]) < 10])
            for side in (centres < between, centres >= between)
        )
        most = i.size // 100
        tops, floors, widths = np.empty(most), np.empty(most), np.empty(most)
        mid, half = (low + high) / 2, 0.15 * (high - low)
        levels = (i.dtype.type(level) for level in (mid, mid - half, mid + half))
        pulses, shorts, total = one_pass(i, u, *levels, tops, floors, widths)
        n = i.size
        return {
            "window": [w / RATE_HZ for w in window],
            "pulses": pulses,
            "short_circuits": shorts,
            "current_mean_a": total[0] / n,
            "current_rms_a": (total[1] / n) ** 0.5,
            "voltage_mean_v": total[2] / n,
            "power_mean_w": total[3] / n,
            "pulse_current_a": tops[:pulses].mean(),
            "background_current_a": floors[:pulses].mean(),
            "pulse_time_ms": widths[:pulses].mean() / RATE_HZ * 1e3,
        }

    def two(frame):
        return frame["current_a"].to_numpy(), frame["voltage_v"].to_numpy()

    names = ["current_a", "voltage_v"]
    singles = {name: pl.Float32 for name in names}

    def read(path):
        if path.suffix == ".csv":
            return two(pl.read_csv(path, columns=names, schema_overrides=singles))
        if path.suffix == ".parquet":
            return two(pl.read_parquet(path, columns=names))
        records = np.memmap(path, "<f4", "r").reshape(-1, 3)
        return np.array(records[:, 1]), np.array(records[:, 2])

    pool = concurrent.futures.ThreadPoolExecutor(2)
    kept = {}
    for request in sys.stdin:
        kind, *rest = request.split()
        path = pathlib.Path(rest[-1])
        if kind == "memory" and path not in kept:
            kept[path] = read(path)
        begun = time.perf_counter()
        if kind == "memory":
            row = reduced(*kept[path])
        elif kind == "file":
            row = reduced(*read(path))
        else:
            logs = sorted(path.glob("*.csv"))
            row = list(pool.map(lambda log: reduced(*read(log)), logs))[0]
        milliseconds = 1e3 * (time.perf_counter() - begun)
        print(milliseconds, json.dumps(row), flush=True)


# ---- turns, medians, ratios ----------------------------------------------------------------------------------------


class Side:
    """A process that answers requests."""

    def __init__(self, command):
        self.process = subprocess.Popen(list(map(str, command)), stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)

    def ask(self, request):
        print(request, file=self.process.stdin, flush=True)
        answer = self.process.stdout.readline()
        if not answer:
            sys.exit(f"`{' '.join(map(str, self.process.args))}` ended at '{request}'")
        milliseconds, row = answer.split(" ", 1)
        return float(milliseconds), json.loads(row)


def differences(ours, theirs):
    """What of two rows is not the same."""
    found = [name for name in ("window", "pulses", "short_circuits") if ours[name] != theirs[name]]
    found += [name for name, within in WITHIN.items() if abs(ours[name] / theirs[name] - 1) > within]
    return found + [name for name, near in NEAR.items() if abs(ours[name] - theirs[name]) > near]


def main():
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--runs", type=int, default=10)
    parser.add_argument("--seconds", type=float, default=60.0, help="length of the log")
    parser.add_argument("--logs", type=int, default=40, help="logs in the folder")
    parser.add_argument("--example", type=pathlib.Path, default=RELEASE / "examples" / "log_speed")
    parser.add_argument("--folder", type=pathlib.Path, help="where the logs are kept for another run; else they are removed")
    parser.add_argument("--anchor", action="store_true", help=argparse.SUPPRESS)
    asked = parser.parse_args()
    if asked.anchor:
        return anchor()
    if not asked.example.exists():
        sys.exit(f"{asked.example} is missing: cargo build --release -p meltlaw-files --example log_speed")
    with tempfile.TemporaryDirectory() as scratch:
        folder = asked.folder or pathlib.Path(scratch)
        if not (folder / "many").exists():
            folder.mkdir(exist_ok=True)
            write_logs(folder, asked.seconds, asked.logs)
        jobs = {
            "memory": f"memory {folder}/log.f32",
            "csv": f"file 2 {folder}/log.csv",
            "parquet": f"file 2 {folder}/log.parquet",
            "raw": f"file 2 {folder}/log.f32",
            "folder": f"folder 2 {folder}/many",
        }
        sides = Side([asked.example]), Side([sys.executable, __file__, "--anchor"])
        times = {job: ([], []) for job in jobs}
        apart = {}
        for turn in range(asked.runs + 1):
            for job, request in jobs.items():
                # Who comes second finds the file nearer: each is second every other time.
                order = (0, 1) if turn % 2 else (1, 0)
                asked_in_turn = {k: sides[k].ask(request) for k in order}
                answers = asked_in_turn[0], asked_in_turn[1]
                apart[job] = differences(answers[0][1], answers[1][1])
                # The first turn warms up.
                for seconds, answer in zip(times[job], answers, strict=True):
                    seconds += [answer[0]] if turn > 0 else []
    met = True
    for job, (own, other) in times.items():
        own, other = statistics.median(own), statistics.median(other)
        ratio = other / own
        met &= ratio >= MUST[job] and not apart[job]
        print(
            f"{job:8} {own:9.1f} ms   polars or numpy, and numba {other:9.1f} ms ({ratio:4.1f}x, "
            f"at least {MUST[job]:.0f}{f', aim {AIM[job]:.0f}' if job in AIM else ''})"
            f"{f'   NOT the same answer: ' + ', '.join(apart[job]) if apart[job] else ''}"
            f"{'' if ratio >= MUST[job] else '   too slow'}"
        )
    return 0 if met else 1


if __name__ == "__main__":
    sys.exit(main())
