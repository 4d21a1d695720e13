//! What the function block does at each call. It does, in the same order, what `meltlaw_line::Table` does in single
//! precision; `{word}` stands for the code of a status or standing, `{nodes}` for the number of nodes.
//!
//! Loops are `WHILE`: there is an open compiler whose `FOR` without `BY` takes no turn where there is but one.

/// Nothing holds until all is found.
pub(super) const BEGIN: &str = "
Valid := FALSE;
Support := 0;
lower_node := 1;
upper_node := 1;
upper_weight := 0.0;
found_status := {not_a_number};
found_standing := {proposed};
";

/// The standing at the feed.
pub(super) const STANDING: &str = "
(* The most cautious range stands last. *)
range := 1;
WHILE range <= {standing_ranges} DO
    IF (standing_low_m_min[range] <= wire_feed_m_min) AND (wire_feed_m_min <= standing_high_m_min[range]) THEN
        found_standing := standing_code[range];
    END_IF;
    range := range + 1;
END_WHILE;
";

/// The ends of the line.
pub(super) const ENDS: &str = "
(* What is not a number compares with nothing and leaves the status as it is. *)
IF wire_feed_m_min < node_wire_feed_m_min[1] THEN
    found_status := {below_range};
ELSIF wire_feed_m_min > node_wire_feed_m_min[{nodes}] THEN
    found_status := {above_range};
ELSIF wire_feed_m_min >= node_wire_feed_m_min[1] THEN
    found_status := {ok};
";

/// The nodes on either side, of several.
pub(super) const PLACE: &str = "    node := 2;
    WHILE node <= {nodes} DO
        IF node_wire_feed_m_min[node] <= wire_feed_m_min THEN
            lower_node := node;
        END_IF;
        node := node + 1;
    END_WHILE;
    upper_node := lower_node;
    feed_low_m_min := node_wire_feed_m_min[lower_node];
    IF feed_low_m_min < wire_feed_m_min THEN
        upper_node := lower_node + 1;
        feed_high_m_min := node_wire_feed_m_min[upper_node];
        upper_weight := (wire_feed_m_min - feed_low_m_min) / (feed_high_m_min - feed_low_m_min);
";

/// A gap takes the whole stretch between its neighbours.
pub(super) const GAPS: &str = "        range := 1;
        WHILE range <= {gaps} DO
            IF (gap_low_m_min[range] < feed_high_m_min) AND (gap_high_m_min[range] > feed_low_m_min) THEN
                found_status := {unsupported_gap};
            END_IF;
            range := range + 1;
        END_WHILE;
";

/// Ends the search between nodes.
pub(super) const PLACE_END: &str = "    END_IF;
";

/// A withdrawn range, and the end of the search.
pub(super) const SEARCH_END: &str = "    IF (found_status = {ok}) AND (found_standing = {standing_withdrawn}) THEN
        found_status := {withdrawn};
    END_IF;
END_IF;
Status := found_status;
Standing := found_standing;

IF found_status = {ok} THEN
    Support := node_support[lower_node];
    IF node_support[upper_node] > Support THEN
        Support := node_support[upper_node];
    END_IF;
";

/// A number that is linear between nodes.
pub(super) const LINEAR: &str = "    {output} := {table}[lower_node]
        + upper_weight * ({table}[upper_node] - {table}[lower_node]);
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
";

/// The end.
pub(super) const END: &str = "
    Valid := TRUE;
END_IF;

END_FUNCTION_BLOCK
";
