"""Writes an invented family of wires: three diameters of one specification, two further batches of one of them.

A laboratory that does not exist welds wires that do not exist. Nothing here was measured and nothing here is for
welding. Uses the process of the demo study beside it. Needs numpy: `python3 make_family.py [FOLDER]`.
"""

import pathlib
import sys

import numpy as np

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent / "demo"))
import make_demo as demo  # noqa: E402

SEED = 41

# Folder, diameter, and by which factor alpha, beta and both thresholds truly lie off the scaling.
WIRES = (
    ("wire-09", 0.9, 1.012, 0.985, 0.990),
    ("wire-10", 1.0, 0.991, 1.008, 1.012),
    ("wire-12", 1.2, 1.000, 1.000, 1.000),
    ("wire-12-b", 1.2, 1.004, 1.006, 0.994),
    ("wire-12-c", 1.2, 1.032, 1.028, 0.965),
)
ALPHA, BETA = demo.ALPHA_MM_PER_A_S, demo.BETA_PER_A2_S
ONE, MORE = demo.ONE_DROP_FROM_MS, demo.MORE_DROPS_FROM_MS

STUDY = """# An invented study: the wire, the laboratory and every number are made up. NOT FOR WELDING.

name = "{name} (invented)"

[wire]
designation = "ISO 14341-A: G3Si1 (invented family)"
material = "carbon-steel"
diameter_mm = {diameter}

[gas]
argon = 92.0
carbon_dioxide = 8.0

[bench]
ctwd_mm = 18.0
arc_length_mm = 4.0
wire_feed_relative_se = 0.004
current_relative_se = 0.007
voltage_se_v = 0.15
ctwd_se_mm = 0.0
arc_length_se_mm = 0.15
pulse_time_relative_se = 0.008

[calibration]
current_gain_relative = 0.003
wire_feed_gain_relative = 0.002
voltage_offset_v = 0.05

[[trials]]
file = "trials.csv"

[source]
current_a = [20.0, 500.0]
background_current_a = [20.0, 200.0]
rise_a_per_ms = 1500.0
fall_a_per_ms = 1500.0

[line]
wire_feed_m_min = [{slow}, {fast}]

[compare]
wire_feed_relative = 0.02
detachment_relative = 0.10
voltage_v = 0.5
"""


def settle(diameter, alpha, beta, threshold):
    """Makes the demo's process that of a wire of the family."""
    d = diameter / 1.2
    demo.WIRE_DIAMETER_MM, demo.SLOPE_A_PER_MS = diameter, 1500.0
    demo.ALPHA_MM_PER_A_S, demo.BETA_PER_A2_S = ALPHA * alpha / d**2, BETA * beta / d**4
    demo.ONE_DROP_FROM_MS, demo.MORE_DROPS_FROM_MS = ONE * threshold * d**2, MORE * threshold * d**2
    demo.BACKGROUND_A, demo.PULSE_TIME_MS, demo.FREQUENCY_HZ = (20.0, 200.0), (0.4, 9.0), (30.0, 330.0)


def burn_off_trials(d):
    """The demo's trials at feeds of the same melted volume."""

    def propose(i):
        feed = (3.2 + 5.4 * ((7 * i) % 24 + demo.rng.uniform(0.1, 0.9)) / 24) / 0.06 / d**2
        pulse_a = demo.rng.uniform(360, 460)
        width_ms = demo.rng.uniform(1.25, 1.9) * demo.ONE_DROP_FROM_MS * (400 / pulse_a) ** demo.EXPONENT
        frequency = demo.frequency_for(feed, demo.rng.uniform(0.95, 1.25))
        return demo.pulsed("B", feed, (15, 18, 22)[i % 3], demo.rng.uniform(2.5, 6.0), pulse_a, width_ms, frequency)

    return [demo.until_weldable(lambda i=i: propose(i)) for i in range(24)]


def detachment_trials(d):
    """The demo's sweep across both thresholds at feeds of the same melted volume."""

    def propose(i):
        low, high = np.log(0.62 * demo.ONE_DROP_FROM_MS), np.log(1.45 * demo.MORE_DROPS_FROM_MS)
        width = np.exp(low + (high - low) * ((5 * i) % 16 + demo.rng.uniform(0.1, 0.9)) / 16)
        pulse_a = demo.rng.uniform(310, 470)
        feed = demo.rng.uniform(3.4, 6.2) / 0.06 / d**2
        width_ms = width * (400 / pulse_a) ** demo.EXPONENT
        frequency = demo.rng.uniform(50, 140) / d**2
        return demo.pulsed("D", feed, 18, demo.rng.uniform(3.0, 5.0), pulse_a, width_ms, frequency)

    return [demo.until_weldable(lambda i=i: propose(i)) for i in range(16)]


def main():
    folder = pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else pathlib.Path(__file__).parent)
    for place, (name, diameter, alpha, beta, threshold) in enumerate(WIRES):
        demo.rng = np.random.default_rng(SEED + place)
        settle(diameter, alpha, beta, threshold)
        d = diameter / 1.2
        rows = []
        for kind, welded in (("B", burn_off_trials(d)), ("D", detachment_trials(d))):
            for i, row in enumerate(welded):
                row.pop("kind")
                rows.append({"trial": f"{kind}{i + 1:02d}", "run_order": len(rows) + 1, "use": "yes"} | row)
        (folder / name).mkdir(parents=True, exist_ok=True)
        demo.write_csv(folder / name / "trials.csv", rows)
        slow, fast = (round(feed / d**2, 1) for feed in (3.6, 8.0))
        text = STUDY.format(name=f"Solid wire {diameter} mm, {name}", diameter=diameter, slow=slow, fast=fast)
        (folder / name / "study.toml").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    main()
