//! The keys of `study.toml`, one a line.

/// What a value may be.
#[derive(Debug, Clone, Copy)]
pub(super) enum Kind {
    /// Text.
    Text,
    /// One of these words.
    OneOf(&'static [&'static str]),
    /// A number above zero.
    Positive,
    /// A number, zero or above.
    NotNegative,
    /// Any number.
    Number,
    /// From zero to one.
    Share,
    /// A whole number, zero or above.
    Count,
    /// A whole number, one or above.
    FromOne,
    /// Low and high.
    Range,
    /// `true` or `false`.
    Flag,
    /// First and last row.
    Rows,
    /// A list of texts.
    List,
    /// Text or a number.
    TextOrNumber,
    /// Texts by name.
    Texts,
    /// Numbers by name.
    Numbers,
}

/// A key of a section.
#[derive(Debug)]
pub(super) struct Key {
    pub(super) name: &'static str,
    pub(super) kind: Kind,
    pub(super) about: &'static str,
    /// As JSON.
    pub(super) default: Option<&'static str>,
    pub(super) required: bool,
}

/// A section of the study.
#[derive(Debug)]
pub(super) struct Section {
    pub(super) name: &'static str,
    pub(super) about: &'static str,
    pub(super) list: bool,
    pub(super) required: bool,
    pub(super) keys: &'static [Key],
}

const fn key(name: &'static str, kind: Kind, about: &'static str) -> Key {
    Key { name, kind, about, default: None, required: false }
}

const fn or(default: &'static str, key: Key) -> Key {
    Key { default: Some(default), ..key }
}

const fn must(key: Key) -> Key {
    Key { required: true, ..key }
}

const fn section(name: &'static str, about: &'static str, keys: &'static [Key]) -> Section {
    Section { name, about, list: false, required: false, keys }
}

use Kind::{
    Count, Flag, FromOne, List, NotNegative, Number, Numbers, OneOf, Positive, Range, Rows, Share, Text, TextOrNumber,
    Texts,
};

/// Stated scatter between the levels of a factor, as standard deviations.
const SCATTER: &[Key] = &[
    key("melting_relative", NotNegative, "Of the melting rate, relative."),
    key("voltage_v", NotNegative, "Of the mean voltage."),
    key("detachment_relative", NotNegative, "Of the pulse time of detachment, relative."),
];

/// All sections but `prior`, in the order of the study file.
pub(super) const SECTIONS: &[Section] = &[
    Section {
        required: true,
        ..section(
            "wire",
            "The wire.",
            &[
                key("designation", Text, "Free text, shown everywhere."),
                must(key(
                    "material",
                    OneOf(&["carbon-steel", "stainless-steel", "aluminium", "nickel", "copper"]),
                    "What the wire is made of.",
                )),
                must(key("diameter_mm", Positive, "Nominal diameter.")),
                key(
                    "metal_section_mm2",
                    Positive,
                    "Cored wire: the metal's cross-section; otherwise from the diameter.",
                ),
                key("density_kg_m3", Positive, "Density of the metal; default by material."),
                key("linear_mass_g_m", Positive, "Cored wire: mass per length, overrides section times density."),
            ],
        )
    },
    section(
        "gas",
        "Shielding gas in per cent by volume; the parts sum to 100.",
        &[
            key("argon", NotNegative, "Ar."),
            key("carbon_dioxide", NotNegative, "CO2."),
            key("helium", NotNegative, "He."),
            key("oxygen", NotNegative, "O2."),
            key("hydrogen", NotNegative, "H2."),
            key("nitrogen", NotNegative, "N2."),
        ],
    ),
    Section {
        required: true,
        ..section(
            "bench",
            "Geometry, and the standard errors of one trial where the table has no _se column.",
            &[
                must(key("ctwd_mm", Positive, "Contact-tip-to-work distance.")),
                or("4.0", key("arc_length_mm", NotNegative, "Wire tip to pool surface.")),
                or(
                    "\"contact-tip\"",
                    key("voltage_measured_at", OneOf(&["contact-tip", "source"]), "Where the voltage probe sat."),
                ),
                key(
                    "lead_resistance_ohm",
                    NotNegative,
                    "Resistance of the leads, where the voltage was measured at the source.",
                ),
                or("0.005", key("wire_feed_relative_se", NotNegative, "Of the measured wire feed.")),
                or(
                    "0.01",
                    key(
                        "current_relative_se",
                        NotNegative,
                        "The probe's gain in one trial, shared by all currents and power.",
                    ),
                ),
                or("0.2", key("voltage_se_v", NotNegative, "Of the mean voltage.")),
                or("0.2", key("ctwd_se_mm", NotNegative, "Of the contact-tip-to-work distance.")),
                or("0.3", key("arc_length_se_mm", NotNegative, "Of the arc length.")),
                or("0.3", key("extension_se_mm", NotNegative, "Of an extension that is measured itself.")),
                or("0.01", key("pulse_time_relative_se", NotNegative, "Of the pulse time.")),
            ],
        )
    },
    section(
        "calibration",
        "Standard uncertainties of errors common to all trials; what is not stated is not covered.",
        &[
            key("current_gain_relative", NotNegative, "Gain of the current probe."),
            key("wire_feed_gain_relative", NotNegative, "Gain of the wire feed reading."),
            key("voltage_offset_v", NotNegative, "Offset of the voltage reading."),
            key("voltage_gain_relative", NotNegative, "Gain of the voltage reading."),
            key("ctwd_offset_mm", NotNegative, "Offset of the contact-tip-to-work distance."),
            key("arc_length_offset_mm", NotNegative, "Offset of the arc length."),
            key("pulse_time_gain_relative", NotNegative, "Gain of the pulse time."),
        ],
    ),
    Section {
        list: true,
        ..section(
            "trials",
            "Trial tables, CSV, Parquet or XLSX.",
            &[
                must(key("file", Text, "Below the study's folder.")),
                key("sheet", Text, "XLSX: the sheet."),
                key("header_row", FromOne, "Row of the column names, counted from 1."),
                key("decimal", OneOf(&[".", ","]), "Decimal mark; a comma implies the separator ;."),
                key("separator", OneOf(&[",", ";", "tab"]), "Separator of a CSV file."),
                key(
                    "columns",
                    Texts,
                    "Our name = the table's name, or its letter such as @C; our suffix states the unit.",
                ),
                key(
                    "encoding",
                    OneOf(&["utf-8", "windows-1252", "iso-8859-1", "latin-1", "utf-16le", "utf-16be"]),
                    "Encoding of a CSV file; otherwise UTF-8.",
                ),
                key("thousands", OneOf(&[".", ",", "'", " "]), "Mark between thousands; otherwise none."),
                key("units_row", FromOne, "Row that holds units, counted from 1."),
                key("rows", Rows, "First and last row to read, counted as the file counts them."),
                key("scale", Numbers, "Factor by our name that brings the numbers to that name's unit."),
                key("join", OneOf(&["trial"]), "Adds columns to trials of the other tables instead of further rows."),
            ],
        )
    },
    Section {
        list: true,
        ..section(
            "logs",
            "Raw logs, reduced to trial rows on the way.",
            &[
                must(key("glob", Text, "Which files, below the study's folder.")),
                key("columns", Texts, "time, current and voltage = the log's names."),
                key("scale", Numbers, "Factor on a channel."),
                key("offset", Numbers, "Added to a channel after the factor."),
                key("delay_us", Numbers, "How much later a channel was sampled."),
                or("\"none\"", key("invert", OneOf(&["none", "current", "voltage", "both"]), "Channels turned round.")),
                key("sample_rate_hz", Positive, "Where the log has no time."),
                key("sidecar", Text, "Table with what the log does not hold, a row for each log by its name."),
                key("cut_ends_s", NotNegative, "Cut off after ignition and before the end; otherwise 0.5 s."),
                key("arc_from_a", Positive, "The arc burns from this mean current of 10 ms on; otherwise 20 A."),
                key("short_below_v", Positive, "A short circuit begins below this voltage; otherwise 8 V."),
            ],
        )
    },
    section(
        "laws",
        "Forms other than the default.",
        &[
            or("\"proportional\"", key("burn_off", OneOf(&["proportional", "offset"]), "Form of the burn-off law.")),
            key(
                "arc_voltage",
                OneOf(&["current", "current_arc", "current_arc_extension"]),
                "Form of the arc voltage law; otherwise the data decide.",
            ),
            key("reference_current_a", Positive, "Reference current of the detachment law; otherwise by material."),
            or(
                "\"adjusted_likelihood\"",
                key(
                    "trial_scatter",
                    OneOf(&["adjusted_likelihood", "likelihood"]),
                    "How the trial scatter of the detachment law is estimated.",
                ),
            ),
            or(
                "\"none\"",
                key("discrepancy", OneOf(&["none"]), "What is said of the laws' own errors; none: the laws alone."),
            ),
        ],
    ),
    section(
        "setup",
        "How torch, joint and machine were set up: free text but for the polarity.",
        &[
            or(
                "\"unknown\"",
                key(
                    "polarity",
                    OneOf(&["electrode-positive", "electrode-negative", "unknown"]),
                    "Polarity of the electrode.",
                ),
            ),
            key("joint", TextOrNumber, "Joint."),
            key("position", TextOrNumber, "Welding position by ISO 6947."),
            key("thickness_mm", TextOrNumber, "Thickness of the plate."),
            key("surface", TextOrNumber, "Surface of the plate."),
            key("torch_angle", TextOrNumber, "Angle of the torch."),
            key("nozzle", TextOrNumber, "Gas nozzle."),
            key("tip", TextOrNumber, "Contact tip."),
            key("liner", TextOrNumber, "Wire liner."),
            key("batch", TextOrNumber, "Batch of the wire."),
            key("preheat", TextOrNumber, "Preheat."),
        ],
    ),
    section(
        "source",
        "Limits of the power source and feeder; a missing one is no limit.",
        &[
            key("current_a", Range, "Bounds mean and pulse current."),
            key("background_current_a", Range, "Bounds the background current."),
            key("pulse_time_ms", Range, "Bounds the pulse time."),
            key("pulse_frequency_hz", Range, "Bounds the pulse frequency."),
            or("600.0", key("rise_a_per_ms", Positive, "Slope of the rising edge.")),
            or("600.0", key("fall_a_per_ms", Positive, "Slope of the falling edge.")),
            key("pulse_duty", Range, "Bounds pulse time times frequency."),
            or(
                "\"half-height\"",
                key(
                    "pulse_time_is",
                    OneOf(&["half-height", "flat-top", "with-rise"]),
                    "What the source means by its pulse time.",
                ),
            ),
            key("torch_rms_a", Positive, "Rating of the torch in this gas, RMS."),
            key("name", Text, "Make and type of the machine."),
            key("serial", Text, "Its serial number."),
            key("cable", Text, "Its cables."),
        ],
    ),
    section(
        "source.setting_steps",
        "Steps in which the source lets its settings be set.",
        &[
            key("pulse_current_a", Positive, "Of the pulse current."),
            key("pulse_time_ms", Positive, "Of the pulse time."),
            key("pulse_frequency_hz", Positive, "Of the pulse frequency."),
            key("background_current_a", Positive, "Of the background current."),
        ],
    ),
    Section {
        required: true,
        ..section(
            "line",
            "The line asked for.",
            &[
                must(key("wire_feed_m_min", Range, "From which to which wire feed.")),
                or("0.5", key("step_m_min", Positive, "Nodes at least this dense, plus both ends.")),
                or("1.1", key("drop_to_wire_ratio", Positive, "Target drop diameter over wire diameter.")),
                or("[0.8, 1.4]", key("drop_to_wire_limits", Range, "Within which the ratio may move.")),
                or(
                    "0.002",
                    key("interpolation_tolerance", Positive, "Largest relative melt balance error between nodes."),
                ),
                or("0.8", key("one_drop_floor", Share, "Lowest acceptable lower bound of the one-drop probability.")),
                or(
                    "0.15",
                    key(
                        "extended_by",
                        NotNegative,
                        "How far beyond the ranges of the trials a node may still be extended.",
                    ),
                ),
                or(
                    "0.02",
                    key(
                        "extended_melting_rate_relative_se",
                        Positive,
                        "Largest acceptable relative standard error of the melting rate.",
                    ),
                ),
                key("travel_speed_mm_s", Positive, "For arc energy and heat input."),
                or(
                    "\"optimised\"",
                    key(
                        "composing",
                        OneOf(&["optimised", "midpoint"]),
                        "An optimum along the whole line, or middle of the window at the mean pulse current.",
                    ),
                ),
            ],
        )
    },
    section(
        "line.weights",
        "What the optimum weighs: each preference costs its weight at the stated departure.",
        &[
            or("1", key("one_drop", NotNegative, "Chance of not one drop a tenth above the smallest possible.")),
            or("1", key("drop_size", NotNegative, "Drop diameter 10 % off the target.")),
            or(
                "1",
                key("pulse_current", NotNegative, "Pulse current off the trials' mean by a quarter of their range."),
            ),
            or("1", key("smoothness", NotNegative, "Settings bending by 60 % per (m/min)² over 1 m/min.")),
        ],
    ),
    Section {
        list: true,
        ..section(
            "line.pin",
            "Fixed values at single feeds; the background is recomposed.",
            &[
                must(key("wire_feed_m_min", Positive, "The feed; always a node.")),
                key("pulse_current_a", Positive, "Fixed pulse current."),
                key("pulse_time_ms", Positive, "Fixed pulse time."),
                key("pulse_frequency_hz", Positive, "Fixed pulse frequency."),
            ],
        )
    },
    section(
        "compare",
        "Margins within which two laws count as alike.",
        &[
            or("0.02", key("wire_feed_relative", Positive, "At equal current and extension.")),
            or("0.05", key("detachment_relative", Positive, "Of the pulse time at equal current.")),
            or("0.5", key("voltage_v", Positive, "Of the voltage.")),
            or(
                "false",
                key("shared_form", Flag, "Whether what the laws themselves get wrong is one and the same for both."),
            ),
        ],
    ),
    section(
        "confirm",
        "Margins within which confirmation welds agree with the line, settled before they are welded.",
        &[
            or("0.02", key("wire_feed_relative", Positive, "Bias of the melt balance, as a fraction of the feed.")),
            or("0.5", key("voltage_v", Positive, "Bias of the mean voltage.")),
            or("0.1", key("drops_per_pulse", Positive, "Bias of the mean number of drops per pulse.")),
            or(
                "0.05",
                key("false_accept", Share, "Chance, at most, that a line off by the margin is called confirmed."),
            ),
        ],
    ),
    section("factors", "Scatter between the levels of a factor where the data cannot tell it.", &[]),
    section("factors.day", "From day to day.", SCATTER),
    section("factors.spool", "From spool to spool of wire.", SCATTER),
    section("factors.station", "From station to station.", SCATTER),
    Section {
        list: true,
        ..section(
            "leave_out",
            "Trials that take no part, without editing the lab's file.",
            &[must(key("trials", List, "Identifiers.")), must(key("reason", Text, "Why, in one line."))],
        )
    },
    section(
        "numerics",
        "Seed, draws, confidence.",
        &[
            or("1", key("seed", Count, "Of the random streams.")),
            or("2000", key("draws", Count, "Number of draws.")),
            or("0.95", key("confidence", Number, "Of every interval, above 0.5 and at most 0.9999.")),
            or(
                "\"residuals\"",
                key(
                    "covariance_from",
                    OneOf(&["residuals", "stated_errors"]),
                    "What the covariance of burn-off and arc voltage rests on.",
                ),
            ),
        ],
    ),
];
