// The line at any wire feed, by the rule of the line file: settings, voltage and interval ends are linear in wire feed
// between two nodes; background time, mean and RMS current, drop and melting rate follow from them.

const line = JSON.parse(document.getElementById("line-data").textContent);
const feeds = line.columns.wire_feed_m_min;

// The range that must not be used at a feed, withdrawn before contradicted.
const refusedAt = (feed) => line.refused.find(({ from, to }) => from <= feed && feed <= to);

function place(feed) {
  const last = feeds.length - 1;
  if (Number.isNaN(feed)) return { status: "not_a_number" };
  if (feed < feeds[0]) return { status: "below_range" };
  if (feed > feeds[last]) return { status: "above_range" };
  const refused = refusedAt(feed);
  if (refused) return { status: refused.status };
  let index = last;
  while (feeds[index] > feed) index -= 1;
  let weight = 0;
  if (feeds[index] !== feed) {
    const [low, high] = [feeds[index], feeds[index + 1]];
    if (line.gaps.some((gap) => gap.from < high && gap.to > low)) return { status: "unsupported_gap" };
    weight = (feed - low) / (high - low);
  }
  return { status: "ok", index, weight };
}

// Mean and mean square of a trapezoid over its period.
function moments(s) {
  const f = s.pulse_frequency_hz / 1000;
  const [tp, ib] = [s.pulse_time_ms, s.background_current_a];
  const delta = s.pulse_current_a - ib;
  const ramp = 1 / s.rise_a_per_ms + 1 / s.fall_a_per_ms;
  const above = 2 * ib * delta * tp + delta * delta * tp - (delta * delta * delta * ramp) / 6;
  return { mean: ib + delta * tp * f, meanSquare: ib * ib + above * f };
}

function setting({ index, weight }, feed) {
  const s = {};
  for (const [name, values] of Object.entries(line.columns)) {
    const [low, high] = [values[index], weight > 0 ? values[index + 1] : values[index]];
    s[name] = low === null || high === null ? null : low + weight * (high - low);
  }
  const { mean, meanSquare } = moments(s);
  s.background_time_ms = 1000 / s.pulse_frequency_hz - s.pulse_time_ms;
  s.current_mean_a = mean;
  s.current_rms_a = Math.sqrt(meanSquare);
  if (weight > 0) follow(s, feed);
  return s;
}

// What follows from wire feed, frequency and power.
function follow(s, feed) {
  const { section_mm2, density_kg_m3, linear_mass_g_m } = line.wire;
  const speed = feed / 0.06; // mm/s
  s.drop_diameter_mm = Math.cbrt((6 * section_mm2 * speed) / (Math.PI * s.pulse_frequency_hz));
  s.melting_rate_kg_h =
    linear_mass_g_m === null ? density_kg_m3 * section_mm2 * speed * 3600e-9 : linear_mass_g_m * speed * 3.6e-3;
  for (const end of ["", "_low", "_high"]) {
    const power = s[`power_mean_w${end}`];
    if (power !== undefined && power !== null) {
      s[`energy_per_melted_wire_mj_kg${end}`] = (power * 3600e-6) / s.melting_rate_kg_h;
    }
  }
}

function both(lists, { index, weight }) {
  return weight > 0 ? [...new Set([...lists[index], ...lists[index + 1]])] : lists[index];
}

// Between two nodes a note is worked out for the setting, or names the node that has it.
function notes({ index, weight }, s) {
  if (weight === 0) return line.notes[index];
  const { off_best_pulse, others } = line.notes_between[index];
  if (!off_best_pulse) return others;
  const { exponent, pulse_current_a, pulse_time_ms, notably, words } = line.best_pulse;
  const off = exponent * Math.log(s.pulse_current_a / pulse_current_a) + Math.log(s.pulse_time_ms / pulse_time_ms);
  if (Math.abs(off) <= notably) return others;
  const sign = off < 0 ? "-" : "+";
  return [`${words[0]}${sign}${decimals(Math.abs(100 * Math.expm1(off)), 1)}${words[1]}`, ...others];
}

function support({ index, weight }) {
  const words = weight > 0 ? [line.support[index], line.support[index + 1]] : [line.support[index]];
  return ["carried", "extended", "covered"].find((word) => words.includes(word));
}

function noSetting(status, feed) {
  if (status === "withdrawn" || status === "contradicted") return refusedAt(feed).reason;
  const range = `the line goes from ${feeds[0]} to ${feeds[feeds.length - 1]} m/min`;
  if (status === "not_a_number") return `${range}; the wire feed is not a number`;
  const distance = (gap) => Math.max(gap.from - feed, feed - gap.to, 0);
  // Just beside a node the nearest gap explains why, and so it does between two nodes that it parts.
  const gap = line.gaps.reduce((best, gap) => (best && distance(best) <= distance(gap) ? best : gap), null);
  return gap && (status === "unsupported_gap" || distance(gap) <= 0.02)
    ? `${range}; no setting from ${gap.from} to ${gap.to} m/min: ${gap.reason}`
    : `${range}; it lies outside the range asked for; ask for a wider [line].wire_feed_m_min and develop again`;
}
