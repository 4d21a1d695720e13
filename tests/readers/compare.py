"""The reader in plain Python against the program: compare.py PROGRAM LINE.json ...

At 50 feeds from beyond one end of each line to beyond the other, and at every node: the same status, and the same
settings to 1e-12 relative (the same operations in another order differ by some units in the last place).
"""

import json
import pathlib
import subprocess
import sys
import tempfile

READERS = pathlib.Path(__file__).resolve().parents[2] / "crates/meltlaw-files/readers"
sys.path.insert(0, str(READERS))
from check_line import checksum  # noqa: E402
from read_line import load, setting  # noqa: E402


def feeds_of(line):
    nodes = [node["wire_feed_m_min"] for node in line["nodes"]]
    low, high = nodes[0], nodes[-1]
    beyond = 0.05 * (high - low)
    return [low - beyond + (high - low + 2 * beyond) * i / 49 for i in range(50)] + nodes


def by_program(program, path, feeds):
    """What `at --json` says of each feed; status 4 is usual, since some have no setting."""
    run = subprocess.run([program, "at", path, *map(repr, feeds), "--json"], capture_output=True, text=True)
    assert run.returncode in (0, 4), run.stderr
    return json.loads(run.stdout)["at"]


def compare(program, path):
    line = load(path)
    assert checksum(line) == line["checksum"], path
    feeds, seen = feeds_of(line), set()
    for feed, answer in zip(feeds, by_program(program, path, feeds), strict=True):
        status, found = setting(line, feed)
        assert status == answer.get("code", 0), (path, feed, status, answer)
        seen.add(status)
        for name, value in (found or {}).items():
            meant = answer["setting"][name]
            same = value == meant if isinstance(meant, str) else abs(value - meant) <= 1e-12 * abs(meant)
            assert same, (path, feed, name, value, meant)
    assert setting(line, float("nan")) == (4, None)
    print(f"{path}: {len(feeds)} feeds, status {sorted(seen)}")
    return seen


def refused_line(path, folder):
    """The line with stretches that confirmation welds contradict or that were withdrawn, over gaps too, and carried laws."""
    line = load(path)
    low, high = (line["nodes"][i]["wire_feed_m_min"] for i in (0, -1))
    said = [("proposed", 0.0, 1.0), ("contradicted", 0.1, 0.5), ("withdrawn", 0.4, 0.6), ("contradicted", 0.8, 0.8)]
    line["standing"] = [
        {"state": state, "wire_feed_m_min": [low + start * (high - low), low + end * (high - low)]}
        for state, start, end in said
    ]
    line["nodes"][-1]["support"] = "carried"
    line["checksum"] = checksum(line)
    changed = folder / "refused.json"
    changed.write_text(json.dumps(line), encoding="utf-8")
    return str(changed)


def refuses(path, folder):
    """Another format, a newer version and an edited number."""
    line = load(path)
    for name, change in [("format", "meltlaw-laws"), ("format_version", 3)]:
        other = folder / "other.json"
        other.write_text(json.dumps(line | {name: change}), encoding="utf-8")
        try:
            load(other)
        except ValueError as error:
            assert str(change) in str(error), error
        else:
            raise AssertionError(f"{name} {change} was read")
    line["nodes"][0]["pulse_current_a"] += 1
    assert checksum(line) != line["checksum"]


def main():
    program, paths = sys.argv[1], sys.argv[2:]
    for reader in READERS.iterdir():
        if reader.is_file():
            lines = reader.read_text(encoding="utf-8").count("\n")
            assert lines <= 40, f"{reader.name} has {lines} lines, 40 were promised"
    for path in paths:
        compare(program, path)
    with tempfile.TemporaryDirectory() as folder:
        assert {0, 5, 6} <= compare(program, refused_line(paths[0], pathlib.Path(folder)))
        refuses(paths[0], pathlib.Path(folder))


if __name__ == "__main__":
    main()
