//! What the function block does at each call. It does, in the same order, what `meltlaw_line::Table` does in single
//! precision; `{word}` stands for the code of a status, `{key}` for what ends the names of the tables.

/// Nothing holds until all is found. What identifies the line is written at each call, so that memory of an older line
/// cannot show through.
pub(super) const BEGIN: &str = "
valid := FALSE;
support := 0;
standing := 0;
found_status := {not_a_number};
lower_node := 1;
upper_node := 1;
upper_weight := 0.0;

(* What is not a number compares with nothing and leaves the status as it is. *)
IF wire_feed_m_min < {first_m_min} THEN
    found_status := {below_range};
ELSIF wire_feed_m_min > {last_m_min} THEN
    found_status := {above_range};
ELSIF wire_feed_m_min >= {first_m_min} THEN
    found_status := {ok};
    standing := {proposed};
";

/// A range of standing; the most cautious range stands last.
pub(super) const STANDING: &str =
    "    IF ({low} <= wire_feed_m_min) AND (wire_feed_m_min <= {high}) THEN standing := {code}; END_IF;
";

/// The last node not above the feed among several, by halving.
pub(super) const SEARCH: &str = "
    nodes_left := {nodes};
    WHILE nodes_left > 1 DO
        half := nodes_left / 2;
        IF NODE_WIRE_FEED_M_MIN_{key}[lower_node + half] <= wire_feed_m_min THEN
            lower_node := lower_node + half;
        END_IF;
        nodes_left := nodes_left - half;
    END_WHILE;
    upper_node := lower_node;
    feed_low_m_min := NODE_WIRE_FEED_M_MIN_{key}[lower_node];
    IF feed_low_m_min < wire_feed_m_min THEN
        upper_node := lower_node + 1;
        feed_high_m_min := NODE_WIRE_FEED_M_MIN_{key}[upper_node];
        upper_weight := (wire_feed_m_min - feed_low_m_min) / (feed_high_m_min - feed_low_m_min);
";

/// A gap takes the whole stretch between its neighbours.
pub(super) const GAP: &str =
    "        IF ({low} < feed_high_m_min) AND ({high} > feed_low_m_min) THEN found_status := {unsupported_gap}; END_IF;
";

/// Ends the search among several nodes.
pub(super) const SEARCH_END: &str = "    END_IF;
";

/// The weaker support of the nodes on either side.
pub(super) const SUPPORT: &str = "
    support := NODE_SUPPORT_{key}[lower_node];
    IF NODE_SUPPORT_{key}[upper_node] > support THEN
        support := NODE_SUPPORT_{key}[upper_node];
    END_IF;
";

/// The support that all nodes have.
pub(super) const ONE_SUPPORT: &str = "
    support := NODE_SUPPORT_{key};
";

/// What a gap leaves unknown, what the standing refuses, and the end of the search.
pub(super) const REFUSALS: &str = "
    IF found_status = {unsupported_gap} THEN
        support := 0;
    END_IF;
    IF standing = {standing_withdrawn} THEN
        found_status := {withdrawn};
    ELSIF standing = {standing_contradicted} THEN
        found_status := {contradicted};
    ELSIF found_status = {unsupported_gap} THEN
        standing := 0;
    END_IF;
END_IF;
status := found_status;

IF found_status = {ok} THEN
";

/// A number that is linear between nodes.
pub(super) const LINEAR: &str = "    {output} := {table}[lower_node]
        + upper_weight * ({table}[upper_node] - {table}[lower_node]);
";

/// A number that is the same at all nodes.
pub(super) const CONSTANT: &str = "    {output} := {table};
";

/// What follows from the settings.
pub(super) const FOLLOWS: &str = "
    (* Mean and mean square of the trapezoid, times in ms and frequency in kHz. *)
    background_time_ms := (1000.0 / pulse_frequency_hz) - pulse_time_ms;
    frequency_khz := pulse_frequency_hz / 1000.0;
    step_a := pulse_current_a - background_current_a;
    ramp_ms_per_a := (1.0 / rise_a_per_ms) + (1.0 / fall_a_per_ms);
    current_mean_a := background_current_a + (step_a * pulse_time_ms * frequency_khz);
    above_a2_ms := (2.0 * background_current_a * step_a * pulse_time_ms) + (step_a * step_a * pulse_time_ms);
    above_a2_ms := above_a2_ms - (step_a * step_a * step_a * ramp_ms_per_a / 6.0);
    current_rms_a := SQRT((background_current_a * background_current_a) + (above_a2_ms * frequency_khz));

    valid := TRUE;
END_IF;

END_FUNCTION_BLOCK
";
