//! The functions of the header, in C99 that is C++98 too. `prefix_` and `PREFIX_` stand for the line's own name. Each
//! does, in the same order, what `meltlaw_line::Table` does in single precision.

/// What a caller gets.
pub(super) const TYPES: &str = "
/* What the machine is set to at a wire feed, and what that does. */
typedef struct prefix_setting {
    float pulse_current_a;
    float pulse_time_ms; /* width at half height */
    float pulse_frequency_hz;
    float background_current_a;
    float background_time_ms; /* 1000/frequency - pulse time */
    float rise_a_per_ms;
    float fall_a_per_ms; /* positive */
    float current_mean_a;
    float current_rms_a;
    float voltage_mean_v; /* between contact tip and work */
    int support;          /* PREFIX_SUPPORT_...: the weaker of both neighbouring nodes; none outside the line and in a gap */
    int standing;         /* PREFIX_STANDING_...; none outside the line and in a gap that it does not refuse */
} prefix_setting;

/* Where mean current, voltage and power of a single weld should lie when the arc length is kept. */
typedef struct prefix_band {
    float current_mean_a_low;
    float current_mean_a_high;
    float voltage_mean_v_low;
    float voltage_mean_v_high;
    float power_mean_w_low;
    float power_mean_w_high;
} prefix_band;

/* The nodes on either side of a wire feed, both the same exactly at a node; and what is known of the feed. */
typedef struct prefix_place {
    unsigned int lower;
    unsigned int upper;
    float upper_weight;
    int support;
    int standing;
} prefix_place;
";

/// The standing at a feed.
pub(super) const STANDING: &str = "
/* What confirmation welds said of a wire feed: the most cautious where ranges meet, proposed where nothing was said. */
static inline int prefix_said(float wire_feed_m_min)
{
    int standing = PREFIX_STANDING_PROPOSED;
    unsigned int i;
    for (i = 0u; i < PREFIX_STANDING_RANGES; ++i) {
        if (prefix_standing_low_m_min[i] <= wire_feed_m_min && wire_feed_m_min <= prefix_standing_high_m_min[i]) {
            standing = (int)prefix_standing_code[i]; /* the most cautious stands last */
        }
    }
    return standing;
}
";

/// The standing of a line of which nothing was said.
pub(super) const NO_STANDING: &str = "
/* What confirmation welds said of a wire feed: nothing of this line. */
static inline int prefix_said(float wire_feed_m_min)
{
    (void)wire_feed_m_min;
    return PREFIX_STANDING_PROPOSED;
}
";

/// Begins the search for the place of a feed among several nodes.
pub(super) const FIND_SEVERAL: &str = "
/* Finds the nodes beside a wire feed and says whether there is a setting. On a status other than 0 the place holds only
   support and standing. */
static inline int prefix_find(float wire_feed_m_min, prefix_place *place)
{
    unsigned int lower = 0u;
    unsigned int left = PREFIX_NODES;
    int upper_support;
";

/// Counts gaps.
pub(super) const FIND_INDEX: &str = "    unsigned int i;
";

/// Begins the search in a line of one node.
pub(super) const FIND_ONE: &str = "
/* Says whether there is a setting at a wire feed: at the only node. */
static inline int prefix_find(float wire_feed_m_min, prefix_place *place)
{
    const unsigned int lower = 0u;
";

/// The ends of the line, and what the standing says.
pub(super) const FIND_ENDS: &str = "    int status = PREFIX_STATUS_OK;
    place->support = PREFIX_SUPPORT_NONE;
    place->standing = PREFIX_STANDING_NONE;
    if (wire_feed_m_min < prefix_wire_feed_m_min[0]) {
        return PREFIX_STATUS_BELOW_RANGE;
    }
    if (wire_feed_m_min > prefix_wire_feed_m_min[PREFIX_NODES - 1u]) {
        return PREFIX_STATUS_ABOVE_RANGE;
    }
    if (!(wire_feed_m_min >= prefix_wire_feed_m_min[0])) {
        return PREFIX_STATUS_NOT_A_NUMBER; /* it compares with nothing */
    }
    place->standing = prefix_said(wire_feed_m_min);
    if (place->standing == PREFIX_STANDING_WITHDRAWN) {
        status = PREFIX_STATUS_WITHDRAWN;
    }
    if (place->standing == PREFIX_STANDING_CONTRADICTED) {
        status = PREFIX_STATUS_CONTRADICTED;
    }
";

/// The last node not above the feed, by halving.
pub(super) const FIND_LOWER: &str = "    while (left > 1u) {
        const unsigned int half = left / 2u;
        if (prefix_wire_feed_m_min[lower + half] <= wire_feed_m_min) {
            lower += half;
        }
        left -= half;
    }
";

/// At a node.
pub(super) const FIND_AT_NODE: &str = "    place->lower = lower;
    place->upper = lower;
    place->upper_weight = 0.0f;
    place->support = (int)prefix_support[lower];
";

/// Between two nodes; the gaps go into its middle.
pub(super) const FIND_BETWEEN: [&str; 2] = [
    "    if (prefix_wire_feed_m_min[lower] < wire_feed_m_min) {
        const float low = prefix_wire_feed_m_min[lower];
        const float high = prefix_wire_feed_m_min[lower + 1u];
",
    "        place->upper = lower + 1u;
        place->upper_weight = (wire_feed_m_min - low) / (high - low);
        upper_support = (int)prefix_support[lower + 1u];
        if (upper_support > place->support) {
            place->support = upper_support; /* the weaker one */
        }
    }
",
];

/// A gap takes the whole stretch between its neighbours.
pub(super) const FIND_GAPS: &str = "        for (i = 0u; i < PREFIX_GAPS; ++i) {
            if (prefix_gap_low_m_min[i] < high && prefix_gap_high_m_min[i] > low) {
                place->support = PREFIX_SUPPORT_NONE;
                if (status == PREFIX_STATUS_OK) {
                    place->standing = PREFIX_STANDING_NONE;
                    status = PREFIX_STATUS_UNSUPPORTED_GAP;
                }
                return status;
            }
        }
";

/// Ends the search, and gives the answers.
pub(super) const ANSWERS: &str = "    return status;
}

/* The standing of a wire feed; none outside the line and in a gap that it does not refuse. */
static inline int prefix_standing(float wire_feed_m_min)
{
    prefix_place place = {0u, 0u, 0.0f, 0, 0};
    (void)prefix_find(wire_feed_m_min, &place);
    return place.standing;
}

/* Linear in wire feed between the nodes of a place. */
static inline float prefix_between(const float *values, const prefix_place *place)
{
    const float low = values[place->lower];
    const float high = values[place->upper];
    return low + place->upper_weight * (high - low);
}

static inline float prefix_square_root(float value)
{
#ifdef __cplusplus
    return std::sqrt(value);
#else
    return sqrtf(value);
#endif
}

/* The setting at a wire feed. On any status but PREFIX_STATUS_OK its numbers are not written; support and standing are told
   on every status. */
static inline int prefix_evaluate(float wire_feed_m_min, prefix_setting *setting)
{
    prefix_place place = {0u, 0u, 0.0f, 0, 0};
    const int status = prefix_find(wire_feed_m_min, &place);
    setting->support = place.support;
    setting->standing = place.standing;
    if (status == PREFIX_STATUS_OK) {
        const float pulse = prefix_between(prefix_pulse_current_a, &place);
        const float time = prefix_between(prefix_pulse_time_ms, &place);
        const float frequency = prefix_between(prefix_pulse_frequency_hz, &place);
        const float background = prefix_between(prefix_background_current_a, &place);
        const float rise = prefix_between(prefix_rise_a_per_ms, &place);
        const float fall = prefix_between(prefix_fall_a_per_ms, &place);
        /* mean and mean square of the trapezoid, times in ms and frequency in kHz */
        const float step = pulse - background;
        const float frequency_khz = frequency / 1000.0f;
        const float ramp = 1.0f / rise + 1.0f / fall;
        const float above = 2.0f * background * step * time + step * step * time - step * step * step * ramp / 6.0f;
        setting->pulse_current_a = pulse;
        setting->pulse_time_ms = time;
        setting->pulse_frequency_hz = frequency;
        setting->background_current_a = background;
        setting->background_time_ms = 1000.0f / frequency - time;
        setting->rise_a_per_ms = rise;
        setting->fall_a_per_ms = fall;
        setting->current_mean_a = background + step * time * frequency_khz;
        setting->current_rms_a = prefix_square_root(background * background + above * frequency_khz);
        setting->voltage_mean_v = prefix_between(prefix_voltage_mean_v, &place);
    }
    return status;
}

/* Where the readings of a weld at a wire feed should lie, for alarms. On any status but PREFIX_STATUS_OK nothing is
   written. */
static inline int prefix_check_band(float wire_feed_m_min, prefix_band *band)
{
    prefix_place place = {0u, 0u, 0.0f, 0, 0};
    const int status = prefix_find(wire_feed_m_min, &place);
    if (status == PREFIX_STATUS_OK) {
        band->current_mean_a_low = prefix_between(prefix_next_weld_current_mean_a_low, &place);
        band->current_mean_a_high = prefix_between(prefix_next_weld_current_mean_a_high, &place);
        band->voltage_mean_v_low = prefix_between(prefix_next_weld_voltage_mean_v_low, &place);
        band->voltage_mean_v_high = prefix_between(prefix_next_weld_voltage_mean_v_high, &place);
        band->power_mean_w_low = prefix_between(prefix_next_weld_power_mean_w_low, &place);
        band->power_mean_w_high = prefix_between(prefix_next_weld_power_mean_w_high, &place);
    }
    return status;
}
";
