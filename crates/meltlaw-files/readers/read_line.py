"""Settings of a line.json at wire feed speeds in m/min: python3 read_line.py LINE.json 6.5 7.0
Whether the file was damaged or edited is not asked here: check_line.py and `meltlaw at` ask it."""
import json, math, sys
LINEAR = ["pulse_current_a", "pulse_time_ms", "pulse_frequency_hz", "background_current_a", "rise_a_per_ms",
          "fall_a_per_ms", "voltage_mean_v"]

def load(path):
    line = json.load(open(path, encoding="utf-8-sig"))
    if line.get("format") != "meltlaw-line" or line.get("format_version") != 2:
        raise ValueError(f"{path}: {line.get('format')} {line.get('format_version')} found, meltlaw-line 2 needed")
    return line

def setting(line, feed):
    """(0, setting), or (1 below, 2 above the range, 3 in a gap, 4 no number, 5 withdrawn, 6 contradicted) and None."""
    nodes = line["nodes"]
    if math.isnan(feed):
        return 4, None
    if not nodes or not nodes[0]["wire_feed_m_min"] <= feed <= nodes[-1]["wire_feed_m_min"]:
        return 2 if nodes and feed > nodes[-1]["wire_feed_m_min"] else 1, None
    low = [node for node in nodes if node["wire_feed_m_min"] <= feed][-1]
    high = [node for node in nodes if node["wire_feed_m_min"] >= feed][0]
    start, end = low["wire_feed_m_min"], high["wire_feed_m_min"]
    said = [s["state"] for s in line["standing"] if s["wire_feed_m_min"][0] <= feed <= s["wire_feed_m_min"][1]]
    if not {"proposed", "confirmed"}.issuperset(said):
        return 5 if "withdrawn" in said else 6, None
    gaps = [gap["wire_feed_m_min"] for gap in line["unsupported"]]
    if start < end and any(first < end and last > start for first, last in gaps):
        return 3, None
    weight = (feed - start) / (end - start) if start < end else 0.0
    s = {name: low[name] + weight * (high[name] - low[name]) for name in LINEAR}
    step, per_ms = s["pulse_current_a"] - s["background_current_a"], s["pulse_frequency_hz"] / 1000
    ramps = step / s["rise_a_per_ms"] + step / s["fall_a_per_ms"]
    square = 2 * s["background_current_a"] * step * s["pulse_time_ms"] + step**2 * (s["pulse_time_ms"] - ramps / 6)
    return 0, s | {"background_time_ms": 1 / per_ms - s["pulse_time_ms"],
                   "current_mean_a": s["background_current_a"] + step * s["pulse_time_ms"] * per_ms,
                   "current_rms_a": math.sqrt(s["background_current_a"]**2 + square * per_ms),
                   "support": max(low["support"], high["support"], key=("covered", "extended", "carried").index)}

for feed in sys.argv[2:] if __name__ == "__main__" else []:
    print(feed, *setting(load(sys.argv[1]), float(feed)))
