"""Writes the invented demo study: trials.csv and trials.xlsx, the same rows.

A laboratory that does not exist welds 48 short beads with wire that does not exist. Nothing here was measured and
nothing here is for welding. Needs numpy and XlsxWriter (only for the XLSX): `python3 make_demo.py [FOLDER]`.
The truth stands below and in README.md, so that a fit can be held against it.
"""

import csv
import datetime
import math
import pathlib
import sys

import numpy as np

SEED = 26  # fits come out ordinary: every law has all its coefficients, none is far from the truth

# What the wire and the arc truly do.
ALPHA_MM_PER_A_S = 0.298
BETA_PER_A2_S = 5.2e-5
EXPONENT, STEEPNESS, TRIAL_SCATTER = 2.0, 8.5, 0.025
ONE_DROP_FROM_MS, MORE_DROPS_FROM_MS, REFERENCE_CURRENT_A = 1.70, 3.9, 400.0
INTERCEPT_V, SLOPE_OHM, GRADIENT_V_PER_MM, EXTENSION_OHM_PER_MM = 15.8, 0.025, 0.9, 4.5e-4
WIRE_DIAMETER_MM, SLOPE_A_PER_MS = 1.2, 600.0

# How well one trial is read (standard deviations), and what the instruments read too much in all of them.
GAIN_SE, FEED_SE, ARC_SE_MM, VOLTAGE_SE_V, TIME_SE = 0.007, 0.004, 0.15, 0.15, 0.008
GAIN_ALL, FEED_ALL, VOLTAGE_ALL_V, CTWD_ALL_MM = 0.002, -0.0015, 0.04, 0.15

# What the source of this laboratory can do; no trial leaves it.
BACKGROUND_A, PULSE_TIME_MS, FREQUENCY_HZ = (25.0, 170.0), (0.8, 6.5), (45.0, 200.0)

PULSES_COUNTED = 120
DAYS = ("day 1", "day 2", "day 3")
rng = np.random.default_rng(SEED)


def trapezoid(background_a, pulse_a, width_ms, frequency_hz):
    """Mean current and mean square current of a pulse whose ramps cross half height `width_ms` apart."""
    step, share = pulse_a - background_a, width_ms * frequency_hz / 1000
    ramp_share = step / SLOPE_A_PER_MS * frequency_hz / 1000
    mean = background_a + step * share
    square = background_a**2 + 2 * background_a * step * share + step**2 * (share - ramp_share / 3)
    return mean, square


def melted_mm_s(mean_a, square_a2, extension_mm):
    """The wire that melts, mm/s, from mean current, mean square current and extension."""
    return ALPHA_MM_PER_A_S * mean_a + BETA_PER_A2_S * extension_mm * square_a2


def background_that_melts(feed_mm_s, extension_mm, pulse_a, width_ms, frequency_hz):
    """The background current at which the wire melts as fast as it is fed, by halving; -1 where even none is too much."""

    def surplus(background_a):
        return melted_mm_s(*trapezoid(background_a, pulse_a, width_ms, frequency_hz), extension_mm) - feed_mm_s

    low, high = 0.0, pulse_a
    if surplus(low) > 0:
        return -1.0
    while high - low > 1e-10:
        middle = (low + high) / 2
        low, high = (middle, high) if surplus(middle) < 0 else (low, middle)
    return low


def sigmoid(x):
    """The logistic function."""
    return 1 / (1 + math.exp(-x))


def count_drops(pulse_a, width_ms):
    """Pulses with no drop, one drop, more drops, among those that the camera saw."""
    s = EXPONENT * math.log(pulse_a / REFERENCE_CURRENT_A) + math.log(width_ms) + TRIAL_SCATTER * rng.normal()
    at_least_one = sigmoid(STEEPNESS * (s - math.log(ONE_DROP_FROM_MS)))
    more = sigmoid(STEEPNESS * (s - math.log(MORE_DROPS_FROM_MS)))
    return rng.multinomial(PULSES_COUNTED, [1 - at_least_one, at_least_one - more, more])


def read(kind, feed_mm_s, ctwd_mm, arc_mm, mean_a, square_a2):
    """What the instruments show of a weld; returns the row and the probe's gain in this trial."""
    extension_mm = ctwd_mm - CTWD_ALL_MM - arc_mm
    gain = (1 + GAIN_ALL) * (1 + GAIN_SE * rng.normal())
    volts_off = VOLTAGE_ALL_V + VOLTAGE_SE_V * rng.normal()
    base_v = INTERCEPT_V + GRADIENT_V_PER_MM * arc_mm
    ohm = SLOPE_OHM + EXTENSION_OHM_PER_MM * extension_mm
    feed_read = feed_mm_s * 0.06 * (1 + FEED_ALL) * (1 + FEED_SE * rng.normal())
    row = {
        "kind": kind,
        "mode": "pulsed",
        "wire_feed_m_min": round(feed_read, 2),
        "ctwd_mm": ctwd_mm,
        "arc_length_mm": round(arc_mm + ARC_SE_MM * rng.normal(), 1),
        "current_mean_a": round(mean_a * gain, 1),
        "current_rms_a": round(math.sqrt(square_a2) * gain, 1),
        "voltage_mean_v": round(base_v + ohm * mean_a + volts_off, 2),
        "power_mean_w": round(gain * (base_v * mean_a + ohm * square_a2 + volts_off * mean_a)),
        "travel_speed_mm_s": round(7.0 + 0.03 * rng.normal(), 2),
        "use": "yes",
    }
    return row, gain


def pulsed(kind, feed_mm_s, ctwd_mm, arc_mm, pulse_a, width_ms, frequency_hz):
    """One pulsed trial, or None where the source could not have run it."""
    extension_mm = ctwd_mm - CTWD_ALL_MM - arc_mm
    background_a = background_that_melts(feed_mm_s, extension_mm, pulse_a, width_ms, frequency_hz)
    ramp_ms = (pulse_a - background_a) / SLOPE_A_PER_MS
    within = all(
        low <= value <= high
        for value, (low, high) in (
            (background_a, BACKGROUND_A), (width_ms, PULSE_TIME_MS), (frequency_hz, FREQUENCY_HZ),
        )
    )
    if not within or width_ms < ramp_ms or 1000 / frequency_hz - width_ms < ramp_ms:
        return None
    row, gain = read(kind, feed_mm_s, ctwd_mm, arc_mm, *trapezoid(background_a, pulse_a, width_ms, frequency_hz))
    width_read = round(width_ms * (1 + TIME_SE * rng.normal()), 2)
    none, one, more = count_drops(pulse_a, width_ms)
    row |= {
        "pulse_current_a": round(pulse_a * gain, 1),
        "pulse_time_ms": width_read,
        "background_current_a": round(background_a * gain, 1),
        "background_time_ms": round(1000 / frequency_hz - width_read, 2),
        "pulse_frequency_hz": round(frequency_hz, 1),
        "pulses_without_drop": int(none),
        "pulses_with_one_drop": int(one),
        "pulses_with_more_drops": int(more),
    }
    return row


def frequency_for(feed_mm_s, drop_to_wire):
    """Frequency at which the fed wire leaves in drops of this size."""
    section_mm2 = math.pi / 4 * WIRE_DIAMETER_MM**2
    return section_mm2 * feed_mm_s / (math.pi / 6 * (drop_to_wire * WIRE_DIAMETER_MM) ** 3)


def until_weldable(propose):
    """Proposes settings until the source can run one."""
    while (row := propose()) is None:
        pass
    return row


def burn_off_trials():
    """24 trials inside the one-drop window: feeds from 3.2 to 8.6 m/min, three distances, long and short arcs."""
    def propose(i):
        feed = (3.2 + 5.4 * ((7 * i) % 24 + rng.uniform(0.1, 0.9)) / 24) / 0.06
        pulse_a = rng.uniform(360, 460)
        width_ms = rng.uniform(1.25, 1.9) * ONE_DROP_FROM_MS * (REFERENCE_CURRENT_A / pulse_a) ** EXPONENT
        frequency = frequency_for(feed, rng.uniform(0.95, 1.25))
        return pulsed("B", feed, (15, 18, 22)[i % 3], rng.uniform(2.5, 6.0), pulse_a, width_ms, frequency)

    return [until_weldable(lambda i=i: propose(i)) for i in range(24)]


def detachment_trials():
    """16 trials whose pulse times cross both thresholds, at pulse currents from 310 to 470 A."""
    def propose(i):
        at_reference = math.log(0.62 * ONE_DROP_FROM_MS)
        span = math.log(1.45 * MORE_DROPS_FROM_MS) - at_reference
        width = math.exp(at_reference + span * ((5 * i) % 16 + rng.uniform(0.1, 0.9)) / 16)
        pulse_a = rng.uniform(310, 470)
        width_ms = width * (REFERENCE_CURRENT_A / pulse_a) ** EXPONENT
        return pulsed("D", rng.uniform(3.4, 6.2) / 0.06, 18, rng.uniform(3.0, 5.0), pulse_a, width_ms, rng.uniform(50, 140))

    return [until_weldable(lambda i=i: propose(i)) for i in range(16)]


def repeats():
    """One setting welded four times on different days: what repeating alone scatters."""
    return [until_weldable(lambda: pulsed("R", 5.5 / 0.06, 18, 4.0, 410.0, 2.45, 92.0)) for _ in range(4)]


def constant_current_trials():
    """Two spray arcs without pulses: for them mean and RMS agree, and no drops are counted."""
    rows = []
    for current_a, ctwd_mm, arc_mm, with_rms in ((272.0, 15, 3.4, True), (258.0, 18, 4.2, False)):
        feed = melted_mm_s(current_a, current_a**2, ctwd_mm - CTWD_ALL_MM - arc_mm)
        row, _ = read("C", feed, ctwd_mm, arc_mm, current_a, current_a**2)
        row["mode"] = "constant_current"
        if not with_rms:
            row.pop("current_rms_a")
            row["note"] = "RMS not recorded; equals the mean at constant current"
        rows.append(row)
    return rows


def welded():
    """All trials in the order welded: kinds and distances spread over the days, shuffled within a day, a new tip each day."""
    by_kind = {"B": burn_off_trials(), "D": detachment_trials(), "R": repeats(), "C": constant_current_trials()}
    days = [[] for _ in DAYS]
    for kind, rows in by_kind.items():
        for i, row in enumerate(rows):
            row.pop("kind")
            days[(i + i // 3) % len(DAYS)].append({"trial": f"{kind}{i + 1:02d}"} | row)

    ordered = []
    for day, rows in zip(DAYS, days, strict=True):
        tip_minutes = 0.0
        for i in rng.permutation(len(rows)):
            tip_minutes += rng.uniform(0.5, 1.1)
            ordered.append(rows[i] | {"run_order": len(ordered) + 1, "block": day, "tip_minutes": round(tip_minutes, 1)})
    return ordered


def constant_voltage_trials(rows):
    """Two spray arcs at constant voltage, welded last, to hold the pulsed line beside: drops ripple the current a little."""
    ripple, added = 0.04, []
    for current_a, arc_mm, with_power in ((246.0, 3.8, True), (274.0, 4.3, False)):
        square_a2 = current_a**2 * (1 + ripple**2)
        feed = melted_mm_s(current_a, square_a2, 18 - CTWD_ALL_MM - arc_mm)
        row, _ = read("V", feed, 18, arc_mm, current_a, square_a2)
        row.pop("kind")
        row["mode"] = "constant_voltage"
        if not with_power:
            row.pop("power_mean_w")
            row["note"] = "power not logged"
        last = (rows + added)[-1]
        added.append({
            "trial": f"V{len(added) + 1:02d}", "run_order": last["run_order"] + 1, "block": last["block"],
            "tip_minutes": round(last["tip_minutes"] + rng.uniform(0.5, 1.1), 1),
        } | row)
    return added


def mishaps(rows):
    """Two things that happen in every laboratory, entered as they should be."""
    by_name = {row["trial"]: row for row in rows}
    by_name["B06"] |= {
        "pulses_without_drop": None, "pulses_with_one_drop": None, "pulses_with_more_drops": None,
        "note": "camera did not trigger, drops not counted",
    }
    slipped = by_name["B17"]
    slipped |= {
        "use": "no", "note": "wire slipped in the feed rolls",
        "wire_feed_m_min": round(slipped["wire_feed_m_min"] * 1.05, 2),
    }


COLUMNS = {
    "trial": None, "run_order": 0, "block": None, "tip_minutes": 1, "mode": None, "wire_feed_m_min": 2,
    "current_mean_a": 1, "current_rms_a": 1, "voltage_mean_v": 2, "power_mean_w": 0, "ctwd_mm": 0, "arc_length_mm": 1,
    "pulse_current_a": 1, "pulse_time_ms": 2, "background_current_a": 1, "background_time_ms": 2,
    "pulse_frequency_hz": 1, "pulses_without_drop": 0, "pulses_with_one_drop": 0, "pulses_with_more_drops": 0,
    "travel_speed_mm_s": 2, "use": None, "note": None,
}


def write_csv(path, rows):
    def text(value, decimals):
        if value is None:
            return ""
        return value if decimals is None else f"{value:.{decimals}f}"

    with path.open("w", newline="", encoding="utf-8") as file:
        table = csv.writer(file, lineterminator="\n")
        table.writerow(COLUMNS)
        table.writerows([text(row.get(name), decimals) for name, decimals in COLUMNS.items()] for row in rows)


def write_xlsx(path, rows):
    import xlsxwriter  # only here, so that the CSV needs no more than numpy

    with xlsxwriter.Workbook(str(path)) as book:
        # A fixed date, so that the same rows give the same bytes.
        book.set_properties({"title": "Invented demo trials, not for welding", "created": datetime.datetime(2026, 1, 1)})
        sheet, bold = book.add_worksheet("Trials"), book.add_format({"bold": True})
        sheet.freeze_panes(1, 1)
        for column, (name, decimals) in enumerate(COLUMNS.items()):
            sheet.set_column(column, column, max(9, len(name) + 1))
            sheet.write_string(0, column, name, bold)
            shown = book.add_format({"num_format": "0." + "0" * decimals if decimals else "0"})
            for line, row in enumerate(rows, start=1):
                value = row.get(name)
                if value is None:
                    continue
                if decimals is None:
                    sheet.write_string(line, column, value)
                else:
                    sheet.write_number(line, column, value, shown)


def main():
    folder = pathlib.Path(sys.argv[1] if len(sys.argv) > 1 else pathlib.Path(__file__).parent)
    rows = welded()
    rows += constant_voltage_trials(rows)
    mishaps(rows)
    write_csv(folder / "trials.csv", rows)
    write_xlsx(folder / "trials.xlsx", rows)


if __name__ == "__main__":
    main()
