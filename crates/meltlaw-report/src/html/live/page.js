// What the page shows of a setting: its rows, its waveform, a mark in every figure.

const element = (id) => document.getElementById(id);

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
  const noted = ok ? notes(at, s).filter((note) => !note.startsWith("pinned by the study")) : [];
  list("setting-limits", [...limits.map((limit) => `at a limit: ${limit}`), ...noted]);
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
