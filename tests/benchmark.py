"""How long meltlaw takes, next to a numpy script in the same run: `python tests/benchmark.py [BINARY] [--runs N]`.

Times, as whole processes with the files in the page cache: `develop` on the invented lab of 70 trials (19 nodes, 2000
draws, report written), `at` on its line, and benchmark_numpy.py once with coefficients drawn from their covariance,
as meltlaw does, and once with 2000 refits of each law. The commands take turns, so that a busy neighbour hits all alike.
Needs the release binary; the comparison also needs numpy and scipy (`--python` names another interpreter that has
them). Ratios hold within one run only; repeat when other processes were busy.
"""

import argparse
import json
import os
import pathlib
import platform
import statistics
import subprocess
import sys
import tempfile
import time

HERE = pathlib.Path(__file__).resolve().parent
LAB = HERE.parent / "datasets" / "lab70"
DEVELOP_MUST_S, DEVELOP_AIM_S, AT_MUST_S = 0.5, 0.08, 0.02


def run(command):
    """Wall seconds and output of one process; stops everything where it fails."""
    begun = time.perf_counter()
    done = subprocess.run(command, capture_output=True, text=True, check=False)
    wall = time.perf_counter() - begun
    if done.returncode != 0:
        sys.exit(f"`{' '.join(map(str, command))}` ended with status {done.returncode}:\n{done.stderr}")
    return wall, done.stdout


def take_turns(commands, runs):
    """Wall seconds of each command in `runs` rounds after one warm-up round, and its last output."""
    walls, output = {name: [] for name in commands}, {}
    for turn in range(-1, runs):
        for name, command in commands.items():
            wall, output[name] = run(command)
            if turn >= 0:
                walls[name].append(wall)
    return walls, output


def busy_cores(seconds=1.0):
    """Cores that other processes use while this one sleeps; None where the system does not tell."""
    def busy():
        fields = [int(field) for field in pathlib.Path("/proc/stat").read_text().split("\n", 1)[0].split()[1:9]]
        return sum(fields) - fields[3] - fields[4]

    try:
        before = busy()
        time.sleep(seconds)
        return (busy() - before) / os.sysconf("SC_CLK_TCK") / seconds
    except OSError:
        return None


def numpy_versions(python):
    """Versions of what the script needs, or None where it is not installed."""
    asked = "import sys, numpy, scipy; print(sys.version.split()[0], numpy.__version__, scipy.__version__)"
    done = subprocess.run([python, "-c", asked], capture_output=True, text=True, check=False)
    return "Python {}, numpy {}, scipy {}".format(*done.stdout.split()) if done.returncode == 0 else None


def burn_off_apart(result, numpy_output):
    """Largest relative difference of α and β between the two programs."""
    coefficients = json.loads((result / "laws.json").read_text(encoding="utf-8"))["laws"]["burn_off"]["coefficients"]
    ours = [coefficients[name]["value"] for name in ("alpha_mm_per_a_s", "beta_per_a2_s")]
    return max(abs(a / b - 1) for a, b in zip(ours, json.loads(numpy_output)["burn_off"], strict=True))


def main():
    arguments = argparse.ArgumentParser(description="Times meltlaw next to a numpy script in the same run.")
    arguments.add_argument("binary", nargs="?", type=pathlib.Path, default=HERE.parent / "target" / "release" / "meltlaw")
    arguments.add_argument("--runs", type=int, default=7, help="rounds to take the median of, at least 5 (default 7)")
    arguments.add_argument("--python", default=sys.executable, help="interpreter with numpy and scipy (default: this one)")
    arguments.add_argument("--strict", action="store_true", help="status 1 where a time limit is missed")
    asked = arguments.parse_args()
    runs, binary = max(5, asked.runs), asked.binary.resolve()
    if not binary.is_file():
        sys.exit(f"no program at {asked.binary}: build it with `cargo build --release`, or name another")

    versions, cores = numpy_versions(asked.python), len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count()
    print(f"{run([binary, '--version'])[1].strip()}; {platform.system()} {platform.machine()}, {cores} cores")
    print(versions or "numpy or scipy not found: no comparison")
    neighbours = busy_cores()
    if neighbours is not None:
        print(f"other processes use {neighbours:.2f} cores{'; the times will be long, repeat later' if neighbours > 0.3 else ''}")

    with tempfile.TemporaryDirectory() as folder:
        result = pathlib.Path(folder) / "result"
        commands = {
            "develop": [binary, "develop", LAB / "study70.toml", "--out", result, "--force"],
            "at": [binary, "at", result / "line.json", "5.5"],
        }
        if versions:
            script = [asked.python, HERE / "benchmark_numpy.py", LAB / "lab70.csv"]
            commands |= {"numpy, drawing": script, "numpy, refitting": [*script, "--bootstrap"]}
        walls, output = take_turns(commands, runs)
        line = json.loads((result / "line.json").read_text(encoding="utf-8"))
        print(f"\n70 trials, {len(line['nodes'])} nodes, {line['provenance']['draws']} draws; {runs} runs each, wall time of the process")
        if versions:
            apart = burn_off_apart(result, output["numpy, drawing"])
            print(f"burn-off coefficients {apart:.0e} apart{'' if apart < 1e-5 else ': NOT the same answer, the ratio means nothing'}")

    median = {name: statistics.median(times) for name, times in walls.items()}
    print(f"\n{'':18} {'median':>9} {'least':>9} {'most':>9}")
    for name, times in walls.items():
        print(f"{name:18} {1000 * median[name]:6.1f} ms {1000 * min(times):6.1f} ms {1000 * max(times):6.1f} ms")
    for name in list(median)[2:]:
        print(f"develop is {median[name] / median['develop']:.1f} times as fast as the script ({name.removeprefix('numpy, ')})")
    met = median["develop"] <= DEVELOP_MUST_S and median["at"] <= AT_MUST_S
    print(
        f"limits: develop {1000 * DEVELOP_MUST_S:.0f} ms (aim {1000 * DEVELOP_AIM_S:.0f}), at {1000 * AT_MUST_S:.0f} ms: "
        f"{'met' if met else 'missed'}"
    )
    return 1 if asked.strict and not met else 0


if __name__ == "__main__":
    sys.exit(main())
