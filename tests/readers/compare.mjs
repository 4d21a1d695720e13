// The reader in plain JavaScript against the program: node compare.mjs PROGRAM LINE.json ...
// As compare.py: 50 feeds and every node of each line, the same status, the same settings to 1e-12 relative.
import assert from "node:assert/strict";
import { spawnSync } from "node:child_process";
import { createHash } from "node:crypto";
import { mkdtempSync, readFileSync, rmSync, writeFileSync } from "node:fs";
import { tmpdir } from "node:os";
import { join } from "node:path";
import { canonical, load, setting } from "../../crates/meltlaw-files/readers/read_line.mjs";

function feedsOf(line) {
  const nodes = line.nodes.map((node) => node.wire_feed_m_min);
  const low = nodes[0], high = nodes.at(-1), beyond = 0.05 * (high - low);
  return Array.from({ length: 50 }, (_, i) => low - beyond + ((high - low + 2 * beyond) * i) / 49).concat(nodes);
}

// What `at --json` says of each feed; status 4 is usual, since some have no setting.
function byProgram(program, path, feeds) {
  const run = spawnSync(program, ["at", path, ...feeds.map(String), "--json"], { encoding: "utf8", maxBuffer: 1e9 });
  assert.ok([0, 4].includes(run.status), run.stderr);
  return JSON.parse(run.stdout).at;
}

function compare(program, path) {
  const line = load(path), feeds = feedsOf(line), answers = byProgram(program, path, feeds), seen = new Set();
  assert.equal(answers.length, feeds.length);
  feeds.forEach((feed, i) => {
    const { status, ...found } = setting(line, feed), answer = answers[i];
    assert.equal(status, answer.code ?? 0, `${path} at ${feed}`);
    seen.add(status);
    for (const [name, value] of Object.entries(found)) {
      const meant = answer.setting[name];
      const same = typeof meant === "string" ? value === meant : Math.abs(value - meant) <= 1e-12 * Math.abs(meant);
      assert.ok(same, `${path} at ${feed}: ${name} is ${value}, ${meant} was meant`);
    }
  });
  assert.deepEqual(setting(line, NaN), { status: 4 });
  console.log(`${path}: ${feeds.length} feeds, status ${[...seen].sort()}`);
  return seen;
}

// The line with stretches that confirmation welds contradict or that were withdrawn, over gaps too, and carried laws.
function refusedLine(path, folder) {
  const line = load(path), low = line.nodes[0].wire_feed_m_min, high = line.nodes.at(-1).wire_feed_m_min;
  const said = [["proposed", 0, 1], ["contradicted", 0.1, 0.5], ["withdrawn", 0.4, 0.6], ["contradicted", 0.8, 0.8]];
  line.standing = said.map(([state, start, end]) =>
    ({ state, wire_feed_m_min: [low + start * (high - low), low + end * (high - low)] }));
  line.nodes.at(-1).support = "carried";
  const checksum = createHash("sha256").update(canonical(line)).digest("hex"), changed = join(folder, "refused.json");
  writeFileSync(changed, JSON.stringify({ ...line, checksum }));
  return changed;
}

// Another format, a newer version and an edited number.
function refuses(path) {
  const folder = mkdtempSync(join(tmpdir(), "meltlaw-"));
  const changes = [
    [(line) => (line.format = "meltlaw-laws"), /meltlaw-laws/],
    [(line) => (line.format_version = 3), /meltlaw-line 3/],
    [(line) => (line.nodes[0].pulse_current_a += 1), /damaged or edited/],
  ];
  for (const [change, complaint] of changes) {
    const line = JSON.parse(readFileSync(path, "utf8"));
    change(line);
    writeFileSync(join(folder, "other.json"), JSON.stringify(line));
    assert.throws(() => load(join(folder, "other.json")), complaint);
  }
  rmSync(folder, { recursive: true });
}

const [program, ...paths] = process.argv.slice(2);
paths.forEach((path) => compare(program, path));
const folder = mkdtempSync(join(tmpdir(), "meltlaw-"));
const seen = compare(program, refusedLine(paths[0], folder));
assert.ok([0, 5, 6].every((status) => seen.has(status)), [...seen].join());
rmSync(folder, { recursive: true });
refuses(paths[0]);
