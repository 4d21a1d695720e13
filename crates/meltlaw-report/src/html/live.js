// The line at any wire feed, by the rule of the line file: settings, voltage and interval ends are linear in
// wire feed between two nodes; background time, mean and RMS current, drop and melting rate follow from them.
// Numbers are printed as the program prints them, to the last digit.
"use strict";
(() => {
  const line = JSON.parse(document.getElementById("line-data").textContent);
  const element = (id) => document.getElementById(id);
  const feeds = line.columns.wire_feed_m_min;
  const MINUS = "\u2212";

  // ---- numbers as printed -------------------------------------------------------------------------------

  // Rounded exactly as the number is stored, a tie to the even digit; toFixed alone sends ties upwards.
  function decimals(size, places) {
    const rounded = size.toFixed(places);
    const long = size.toFixed(90);
    const cut = long.slice(0, long.length - 90 + places);
    const tie = /^50*$/.test(long.slice(long.length - 90 + places));
    return tie && /[02468]\.?$/.test(cut) ? cut.replace(/\.$/, "") : rounded;
  }

  function fixed(value, places) {
    if (!Number.isFinite(value)) return "unknown";
    const step = 10 ** -places;
    const size = Math.abs(value);
    const text = places >= 0 ? decimals(size, Math.min(places, 17)) : (Math.round(size / step) * step).toFixed(0);
    return value < 0 && /[1-9]/.test(text) ? MINUS + text : text;
  }

  // Places that leave two digits on an error.
  function placesFor(error) {
    if (!(Number.isFinite(error) && error > 0)) return 3;
    return 1 - Number(error.toExponential(1).split("e")[1]);
  }

  function interval(low, high) {
    const places = placesFor(Math.abs(high - low) / 2);
    return `${fixed(low, places)} to ${fixed(high, places)}`;
  }

  // ---- the line between its nodes -----------------------------------------------------------------------

  function place(feed) {
    const last = feeds.length - 1;
    if (Number.isNaN(feed)) return { status: "not_a_number" };
    if (feed < feeds[0]) return { status: "below_range" };
    if (feed > feeds[last]) return { status: "above_range" };
    let index = last;
    while (feeds[index] > feed) index -= 1;
    let weight = 0;
    if (feeds[index] !== feed) {
      const [low, high] = [feeds[index], feeds[index + 1]];
      if (line.gaps.some((gap) => gap.from < high && gap.to > low)) return { status: "unsupported_gap" };
      weight = (feed - low) / (high - low);
    }
    if (line.withdrawn.some(([low, high]) => low <= feed && feed <= high)) return { status: "withdrawn" };
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

  function support({ index, weight }) {
    const words = weight > 0 ? [line.support[index], line.support[index + 1]] : [line.support[index]];
    return words.every((word) => word === "measured") ? "measured" : "extended";
  }

  function noSetting(status, feed) {
    if (status === "withdrawn") {
      const [low, high] = line.withdrawn.find(([low, high]) => low <= feed && feed <= high);
      return `the line was withdrawn from ${low} to ${high} m/min`;
    }
    const range = `the line goes from ${feeds[0]} to ${feeds[feeds.length - 1]} m/min`;
    if (status === "not_a_number") return `${range}; the wire feed is not a number`;
    const distance = (gap) => Math.max(gap.from - feed, feed - gap.to, 0);
    // Just beside a node the nearest gap explains why, and so it does between two nodes that it parts.
    const gap = line.gaps.reduce((best, gap) => (best && distance(best) <= distance(gap) ? best : gap), null);
    return gap && (status === "unsupported_gap" || distance(gap) <= 0.02)
      ? `${range}; no setting from ${gap.from} to ${gap.to} m/min: ${gap.reason}`
      : `${range}; it lies outside the range asked for; ask for a wider [line].wire_feed_m_min and develop again`;
  }

  // ---- words beside the numbers -------------------------------------------------------------------------

  function beside(s, quantity, value, item) {
    if (item === "times_the_wire") return `${fixed(value / line.wire.diameter_mm, 3)} times the wire`;
    if (item.words !== undefined) return item.words;
    if (item.share) {
      const share = s[item.share.key];
      return share === null ? null : led(item.share.words, `${fixed(100 * share, 2)}\u00a0%`);
    }
    const { words, key, places } = item.interval;
    const [low, high] = ["low", "high"].map((end) => s[`${key}_${end}`]);
    if (low === undefined || low === null || high === undefined || high === null) return null;
    const [from, to] = [quantity.factor * low, quantity.factor * high];
    const ends = places === null ? interval(from, to) : `${fixed(from, places)} to ${fixed(to, places)}`;
    return led(words, `${ends} (${line.confidence})`);
  }

  const led = (words, text) => (words === "" ? text : `${words} ${text}`);

  // ---- the page -----------------------------------------------------------------------------------------

  function showNumbers(s, pinned) {
    for (const quantity of line.quantities) {
      const row = document.querySelector(`#setting-values tr[data-key="${quantity.key}"]`);
      if (!row) continue;
      const value = s === null ? null : s[quantity.key];
      const known = value !== null && value !== undefined;
      row.querySelector(".value").textContent = known ? fixed(quantity.factor * value, quantity.places) : "–";
      row.querySelector(".pin").textContent = known && pinned.includes(quantity.key) ? line.pin_mark : "";
      row.querySelector(".beside").textContent = known
        ? quantity.beside
            .map((item) => beside(s, quantity, value, item))
            .filter((text) => text !== null)
            .join("; ")
        : "";
    }
  }

  function list(id, items) {
    const list = element(id);
    list.replaceChildren(
      ...items.map((item) => {
        const entry = document.createElement("li");
        entry.textContent = item;
        return entry;
      }),
    );
    list.hidden = items.length === 0;
  }

  function cornersOf(s) {
    const { time_ms, lead_ms } = line.waveform;
    const delta = s.pulse_current_a - s.background_current_a;
    const [rise, fall] = [delta / s.rise_a_per_ms, delta / s.fall_a_per_ms];
    const top = s.pulse_time_ms - (rise + fall) / 2;
    const [low, high] = [s.background_current_a, s.pulse_current_a];
    const corners = [[0, low]];
    let start = lead_ms;
    for (; start < time_ms; start += 1000 / s.pulse_frequency_hz) {
      corners.push([start, low], [start + rise, high], [start + rise + top, high], [start + rise + top + fall, low]);
    }
    corners.push([start, low]);
    const inside = corners.filter(([t]) => t < time_ms);
    const [[t0, i0], [t1, i1]] = [inside[inside.length - 1], corners[inside.length]];
    return [...inside, [time_ms, i0 + ((i1 - i0) * (time_ms - t0)) / (t1 - t0)]];
  }

  function showWaveform(s) {
    const { time_ms, current_a, edges } = line.waveform;
    const [left, top, right, bottom] = edges;
    const points = (corners) =>
      corners
        .map(([t, i]) => [left + (t / time_ms) * (right - left), bottom - (i / current_a) * (bottom - top)])
        .map((at) => at.map(Math.round).join(","))
        .join(" ");
    const corners = s === null ? [] : cornersOf(s);
    const mean = s === null ? [] : [0, time_ms].map((t) => [t, s.current_mean_a]);
    element("waveform-current").setAttribute("points", points(corners));
    element("waveform-mean").setAttribute("points", points(mean));
    const seen = s === null ? "no setting" : waveformSeen(s);
    element("waveform-seen").textContent = seen;
    element("waveform-words").textContent = `${seen}.`;
    const csv = ["time_ms,current_a", ...corners.map((corner) => corner.join(","))].join("\n");
    element("waveform-data").href = `data:text/csv;charset=utf-8,${encodeURIComponent(`${csv}\n`)}`;
  }

  function waveformSeen(s) {
    const delta = s.pulse_current_a - s.background_current_a;
    const ramps = delta / s.rise_a_per_ms + delta / s.fall_a_per_ms;
    return (
      `${fixed(s.pulse_current_a, 0)} A on top for ${fixed(s.pulse_time_ms - ramps / 2, 2)} ms and ramps of ` +
      `${fixed(ramps, 2)} ms together, ${fixed(s.pulse_frequency_hz, 0)} times a second; the pulse takes ` +
      `${fixed(0.1 * s.pulse_time_ms * s.pulse_frequency_hz, 0)} % of the time`
    );
  }

  // One upright line in each figure over wire feed, at the feed that is read.
  const cursors = [...document.querySelectorAll("figure[data-over='wire_feed_m_min'] svg")].map((svg) => {
    const cursor = document.createElementNS(svg.namespaceURI, "line");
    cursor.setAttribute("class", "cursor");
    cursor.setAttribute("y1", line.feed_figures.edges[1]);
    cursor.setAttribute("y2", line.feed_figures.edges[3]);
    svg.append(cursor);
    return cursor;
  });

  function showCursors(feed) {
    const { from_m_min, to_m_min, edges } = line.feed_figures;
    const inside = feed >= from_m_min && feed <= to_m_min;
    const x = edges[0] + ((feed - from_m_min) / (to_m_min - from_m_min)) * (edges[2] - edges[0]);
    for (const cursor of cursors) {
      cursor.setAttribute("visibility", inside ? "visible" : "hidden");
      if (inside) for (const end of ["x1", "x2"]) cursor.setAttribute(end, x.toFixed(1));
    }
  }

  function show(feed) {
    const at = place(feed);
    const ok = at.status === "ok";
    const s = ok ? setting(at, feed) : null;
    const pinned = ok && at.weight === 0 ? line.pinned[at.index] : [];
    showNumbers(s, pinned);
    showWaveform(s);
    showCursors(feed);
    element("setting-feed").textContent = Number.isNaN(feed) ? "no wire feed" : `${feed} m/min`;
    element("feed-inches").textContent = Number.isNaN(feed) ? "" : `${fixed(feed / 0.0254, 1)} in/min`;
    const status = element("setting-status");
    status.dataset.support = ok ? support(at) : "none";
    status.textContent = ok
      ? line.support_words[support(at)]
      : `no setting (${at.status}): ${noSetting(at.status, feed)}`;
    const limits = ok ? both(line.limits, at) : [];
    const notes = ok ? both(line.notes, at).filter((note) => !note.startsWith("pinned by the study")) : [];
    list("setting-limits", [...limits.map((limit) => `at a limit: ${limit}`), ...notes]);
  }

  const [number, range] = [element("feed"), element("feed-range")];
  const read = (field) => (field.value.trim() === "" ? NaN : Number(field.value));
  number.addEventListener("input", () => {
    if (!Number.isNaN(read(number))) range.value = number.value;
    show(read(number));
  });
  range.addEventListener("input", () => {
    number.value = range.value;
    show(read(range));
  });
  for (const control of document.querySelectorAll("#setting [hidden].controls")) control.hidden = false;
  show(read(number));
})();
