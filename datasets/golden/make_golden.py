"""Writes the golden files of the current format: python3 datasets/golden/make_golden.py PROGRAM
Needs study.toml, trials.csv and the "study" of expected.json in the newest folder vN. Never run again for a version
that was released."""
import importlib.util, json, pathlib, re, subprocess, sys, tempfile

HERE = pathlib.Path(__file__).resolve().parent
FOLDER = max((p for p in HERE.iterdir() if p.is_dir()), key=lambda p: int(p.name[1:]))
reader = importlib.util.spec_from_file_location(
    "check_line", HERE.parents[1] / "crates/meltlaw-files/readers/check_line.py")
check_line = importlib.util.module_from_spec(reader)
reader.loader.exec_module(check_line)
FEEDS = {"line.json": [3.9, 4.0, 4.37, 5.0, 6.5, 7.0, 7.1],
         "line_in_parts.json": [3.9, 4.5, 5.0, 5.1, 5.8, 6.0, 6.1, 6.2, 6.5, 6.7, 7.0, 7.1]}


def program(*arguments):
    done = subprocess.run([sys.argv[1], *map(str, arguments)], capture_output=True, text=True, check=False)
    if done.returncode not in (0, 4):
        raise SystemExit(done.stderr)
    return done.stdout


def in_parts(line):
    """The line with all that a reader may meet, under a new checksum."""
    nodes = {node["wire_feed_m_min"]: node for node in line["nodes"]}
    nodes[5.0]["support"], nodes[7.0]["support"] = "extended", "carried"
    line["unsupported"] = [
        {"wire_feed_m_min": [3.0, 4.0], "limits": ["data_low"], "reason": "invented: below the trials"},
        {"wire_feed_m_min": [5.2, 5.7], "limits": ["one_drop_low"], "reason": "invented: a gap between two nodes"}]
    said = {"rule": "invented", "evidence": "invented welds C1 to C4", "date": "2026-01-15", "by": "nobody"}
    line["standing"] = [
        {"state": "confirmed", "wire_feed_m_min": [4.0, 5.0]} | said,
        {"state": "proposed", "wire_feed_m_min": [5.7, 6.2]},
        {"state": "withdrawn", "wire_feed_m_min": [6.2, 6.6]} | said,
        {"state": "contradicted", "wire_feed_m_min": [6.6, 6.8]} | said,
        {"state": "proposed", "wire_feed_m_min": [6.8, 7.0]}]
    line["later_member"] = {"words": "a member that no program knows"}
    del line["checksum"]
    line["checksum"] = check_line.checksum(line)
    return line


def answers(path, feeds):
    for answer in json.loads(program("at", path, *feeds, "--json"))["at"]:
        kept = {name: answer[name] for name in ("wire_feed_m_min", "status")}
        yield kept | ({"setting": answer["setting"]} if answer["status"] == "ok" else {"code": answer["code"]})


with tempfile.TemporaryDirectory() as out:
    program("develop", FOLDER, "--out", f"{out}/result")
    for name in ("laws.json", "line.json"):
        (FOLDER / name).write_bytes(pathlib.Path(out, "result", name).read_bytes())
parts = in_parts(json.loads((FOLDER / "line.json").read_text("utf-8")))
# The program writes 0.00005 and 5e-6 where Python writes 5e-05 and 5e-06.
text = json.dumps(parts, indent=2, ensure_ascii=False) + "\n"
text = re.sub(r"(\d)(?:\.(\d+))?e-05", r"0.0000\1\2", text)
text = re.sub(r"e-0(\d)", r"e-\1", text)
(FOLDER / "line_in_parts.json").write_text(text, "utf-8")
laws = json.loads((FOLDER / "laws.json").read_text("utf-8"))["laws"]
expected = json.loads((FOLDER / "expected.json").read_text("utf-8")) | {
    "laws": {law: {n: c["value"] for n, c in fitted["coefficients"].items()} for law, fitted in laws.items()},
    "at": {file: list(answers(FOLDER / file, feeds)) for file, feeds in FEEDS.items()}}
(FOLDER / "expected.json").write_text(json.dumps(expected, indent=1, ensure_ascii=False) + "\n", "utf-8")
