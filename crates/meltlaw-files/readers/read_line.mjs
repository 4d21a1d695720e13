// Settings of a line.json at wire feed speeds in m/min: node read_line.mjs LINE.json 6.5 7.0
import { createHash } from "node:crypto";
import { readFileSync } from "node:fs";
const LINEAR = ["pulse_current_a", "pulse_time_ms", "pulse_frequency_hz", "background_current_a", "rise_a_per_ms",
  "fall_a_per_ms", "voltage_mean_v"];

// RFC 8785: members sorted by UTF-16 code units, everything else as JSON.stringify writes it.
export const canonical = (v) => Array.isArray(v) ? `[${v.map(canonical)}]` : v === null || typeof v !== "object"
  ? JSON.stringify(v) : `{${Object.keys(v).sort().map((k) => `${JSON.stringify(k)}:${canonical(v[k])}`)}}`;

export function load(path) {
  const { checksum, ...content } = JSON.parse(readFileSync(path, "utf8"));
  if (content.format !== "meltlaw-line" || content.format_version !== 2)
    throw new Error(`${path}: ${content.format} ${content.format_version} found, meltlaw-line 2 needed`);
  if (createHash("sha256").update(canonical(content)).digest("hex") !== checksum)
    throw new Error(`${path}: the checksum is another: damaged or edited, take the original again`);
  return content;
}

// { status: 0, ... }; 1 below, 2 above the range, 3 in a gap, 4 no number, 5 withdrawn, 6 contradicted: set nothing.
export function setting({ nodes, unsupported, standing }, feed) {
  const of = (part) => part.wire_feed_m_min;
  if (Number.isNaN(feed) || nodes.length === 0 || feed < of(nodes[0])) return { status: Number.isNaN(feed) ? 4 : 1 };
  if (feed > of(nodes.at(-1))) return { status: 2 };
  const low = nodes.findLast(n => of(n) <= feed), high = nodes.find(n => of(n) >= feed), start = of(low), end = of(high);
  const said = standing.filter((s) => of(s)[0] <= feed && feed <= of(s)[1]).map((s) => s.state);
  const refused = said.includes("withdrawn") ? 5 : said.every((word) => /^(proposed|confirmed)$/.test(word)) ? 0 : 6;
  if (refused) return { status: refused };
  if (start < end && unsupported.some((gap) => of(gap)[0] < end && of(gap)[1] > start)) return { status: 3 };
  const weight = start < end ? (feed - start) / (end - start) : 0;
  const s = Object.fromEntries(LINEAR.map((name) => [name, low[name] + weight * (high[name] - low[name])]));
  const background = s.background_current_a, step = s.pulse_current_a - background, perMs = s.pulse_frequency_hz / 1000;
  const above = step * s.pulse_time_ms, ramps = step ** 3 * (1 / s.rise_a_per_ms + 1 / s.fall_a_per_ms) / 6;
  return { status: 0, ...s, background_time_ms: 1 / perMs - s.pulse_time_ms, current_mean_a: background + above * perMs,
    current_rms_a: Math.sqrt(background ** 2 + ((2 * background + step) * above - ramps) * perMs),
    support: ["carried", "extended", "covered"].find((word) => [low, high].some((node) => node.support === word)) };
}

if (process.argv[1]?.endsWith("read_line.mjs"))
  for (const feed of process.argv.slice(3)) console.log(feed, setting(load(process.argv[2]), Number(feed)));
