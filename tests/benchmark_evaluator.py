#!/usr/bin/env python3
"""Times one evaluation of the line beside numpy.interp on the same table in the same run.

    python3 tests/benchmark_evaluator.py

Builds the example `evaluator` in release, checks that numpy gives the same settings to 1e-12, and times numpy both
ways: one feed a call (as a controller asks) and two thousand feeds at once, which fit into the cache. Every round is
shorter than a millisecond, as those of the example, so that few are disturbed by other processes.
numpy: https://numpy.org, `numpy.interp`.
"""

import csv
import io
import statistics
import subprocess
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parent.parent
EXAMPLE = ["cargo", "run", "--release", "--quiet", "-p", "meltlaw-line", "--example", "evaluator", "--"]
LINEAR = ["pulse_current_a", "pulse_time_ms", "pulse_frequency_hz", "background_current_a", "rise_a_per_ms",
          "fall_a_per_ms", "voltage_mean_v"]
COMPUTED = ["background_time_ms", "current_mean_a", "current_rms_a"]


def example(*arguments):
    text = subprocess.run([*EXAMPLE, *arguments], cwd=ROOT, check=True, capture_output=True, text=True).stdout
    return list(csv.DictReader(io.StringIO(text)))


def evaluate(feeds, nodes, columns):
    """The seven linear quantities and the three computed from them, by the contract's rule."""
    ip, tp, f, ib, rise, fall, voltage = (np.interp(feeds, nodes, c) for c in columns)
    delta, khz = ip - ib, f / 1000.0
    mean = ib + delta * tp * khz
    ramp = 1.0 / rise + 1.0 / fall
    square = ib * ib + (2.0 * ib * delta * tp + delta * delta * tp - delta**3 * ramp / 6.0) * khz
    return ip, tp, f, ib, rise, fall, voltage, 1000.0 / f - tp, mean, np.sqrt(square)


def median_ns(calls, job):
    rounds = []
    for _ in range(501):
        start = time.perf_counter()
        job()
        rounds.append((time.perf_counter() - start) * 1e9 / calls)
    return statistics.median(rounds)


def main():
    ours = {(row["nodes"], row["precision"]): float(row["median_ns"]) for row in example()}
    print(f"numpy {np.__version__}; medians, ns per evaluation")
    for count in ("19", "200"):
        rows = example("--table", count)
        table = [r for r in rows if r["what"] == "node"]
        asked = [r for r in rows if r["what"] == "feed"]
        nodes = np.array([float(r["wire_feed_m_min"]) for r in table])
        columns = [np.array([float(r[c]) for r in table]) for c in LINEAR]
        feeds = np.array([float(r["wire_feed_m_min"]) for r in asked])
        for name, found in zip(LINEAR + COMPUTED, evaluate(feeds, nodes, columns)):
            wanted = np.array([float(r[name]) for r in asked])
            # Both round each step of the same formula in double precision.
            assert np.max(np.abs(found / wanted - 1.0)) < 1e-12, name
        single = median_ns(10, lambda: [evaluate(x, nodes, columns) for x in feeds[:10]])
        many = np.random.default_rng(1).uniform(3.0, 12.0, 2000)
        at_once = median_ns(len(many), lambda: evaluate(many, nodes, columns))
        for precision in ("f64", "f32"):
            ns = ours[count, precision]
            print(f"{count:>4} nodes {precision}: {ns:6.1f}; numpy.interp one by one {single:8.0f} ({single / ns:5.0f} times),"
                  f" 2000 at once {at_once:6.1f} ({at_once / ns:4.1f} times)")


if __name__ == "__main__":
    main()
