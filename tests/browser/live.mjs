// The part of the page that reads the line at any wire feed says what `meltlaw at` says, letter by letter.

import assert from 'node:assert/strict';
import { spawnSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { blocks, row, spaced } from './at_text.mjs';
import { browser, open } from './chromium.mjs';
import { program, report, result } from './places.mjs';

const HOW_MANY = 20;

const started = await browser();
const file = join(result, 'line.json');

/** Feeds over the whole range and beyond: ends, nodes, gaps, what lies between. */
function feeds() {
  const { nodes, unsupported } = JSON.parse(readFileSync(file, 'utf8'));
  const at = nodes.map((node) => node.wire_feed_m_min);
  const [low, high] = [at[0], at.at(-1)];
  const gaps = unsupported.map(({ wire_feed_m_min: [from, to] }) => (from + to) / 2);
  const chosen = [low, high, at[1], at[Math.floor(at.length / 2)], ...gaps.slice(0, 4), low - 0.5, high + 0.5, 2 * high];
  // Steps of the golden ratio fill a range evenly whatever their number.
  for (let step = 1; chosen.length < HOW_MANY; step += 1) {
    const inside = low + ((step * 0.6180339887) % 1) * (high - low);
    chosen.push(Number(inside.toFixed(step % 4)));
  }
  return chosen.slice(0, HOW_MANY).map(String);
}

/** What the page shows after a wire feed was entered in one of its controls. Runs in the page. */
function entered([id, feed]) {
  const control = document.getElementById(id);
  control.value = feed;
  control.dispatchEvent(new Event('input', { bubbles: true }));
  const text = (row, selector) => row.querySelector(selector)?.textContent ?? '';
  return {
    feed: document.getElementById('feed').value,
    status: document.getElementById('setting-status').textContent,
    rows: [...document.querySelectorAll('#setting-values tr[data-key]')].map((row) => ({
      key: row.dataset.key,
      name: text(row, 'th'),
      value: text(row, '.value'),
      parts: ['.value', '.unit', '.beside'].map((selector) => text(row, selector)),
    })),
  };
}

const opened = await open(started, report);
const missing = (await opened.page.locator('#setting').count()) === 0 && 'the page has no part that reads the line at any wire feed yet';

test(`the page says what the program says at ${HOW_MANY} wire feeds`, { skip: missing }, async () => {
  const asked = feeds();
  const answers = blocks(file, asked);
  let compared = 0;
  for (const [place, feed] of asked.entries()) {
    const [head, ...lines] = answers[place];
    const shown = await opened.page.evaluate(entered, ['feed', feed]);
    const none = head.match(/no setting \(\w+\)/);
    if (none) {
      // The reason follows on the program's next lines.
      assert.equal(spaced(shown.status), spaced(`${none[0]}: ${lines.join(' ')}`), `at ${feed} m/min`);
      for (const { name, value } of shown.rows) assert.doesNotMatch(value, /\d/, `${name} at ${feed} m/min`);
      continue;
    }
    assert.match(head, new RegExp(`  ${shown.status.match(/^\w+/)[0]}`), `support at ${feed} m/min`);
    assert.ok(shown.rows.length >= 15, `${shown.rows.length} rows`);
    // Sentences on the support stand before the rows, and a broken line of one may begin as a row does.
    const rows = lines.slice(lines.findIndex((line) => line.trim() === 'to be set'));
    for (const { name, parts } of shown.rows) {
      assert.equal(spaced(`${name} ${parts.join(' ')}`), row(rows, name), `${name} at ${feed} m/min`);
      compared += 1;
    }
  }
  console.log(`${compared} rows compared`);
  assert.ok(compared > 10 * 15, `only ${compared} rows compared`);
  assert.deepEqual([...opened.seen.messages, ...opened.seen.errors], []);
});

test('the page notes what the program notes, at nodes and between them', { skip: missing }, async () => {
  const asked = feeds();
  const { stdout } = spawnSync(program, ['--json', 'at', file, ...asked], { encoding: 'utf8', maxBuffer: 1 << 26 });
  const known = JSON.parse(stdout).at.filter(({ status }) => status === 'ok');
  let compared = 0;
  for (const { wire_feed_m_min, setting } of known) {
    await opened.page.evaluate(entered, ['feed', String(wire_feed_m_min)]);
    const shown = await opened.page.locator('#setting-limits li').allTextContents();
    const notes = setting.notes.filter((note) => !note.startsWith('pinned by the study'));
    assert.deepEqual(shown.filter((text) => !text.startsWith('at a limit')).map(spaced), notes.map(spaced), `at ${wire_feed_m_min} m/min`);
    compared += notes.length;
  }
  console.log(`${compared} notes compared`);
});

test('the range control and the number field go together', { skip: missing }, async () => {
  const { page } = opened;
  const [low, high] = await page.locator('#feed-range').evaluate((range) => [Number(range.min), Number(range.max)]);
  const middle = ((low + high) / 2).toFixed(2);
  const byRange = await page.evaluate(entered, ['feed-range', middle]);
  const byNumber = await page.evaluate(entered, ['feed', byRange.feed]);
  assert.deepEqual(byRange, byNumber);
  assert.equal(await page.locator('#feed-range').inputValue(), byRange.feed);
  // By keyboard as well as by mouse: one step of the range is one reading.
  await page.locator('#feed-range').focus();
  await page.keyboard.press('ArrowRight');
  assert.ok(Number(await page.locator('#feed').inputValue()) > Number(byRange.feed));
});

test('no number is no setting, and the next number is one again', { skip: missing }, async () => {
  const { page } = opened;
  const [feed] = feeds();
  const before = await page.evaluate(entered, ['feed', feed]);
  for (const wrong of ['', '-3', '0', '1e9']) {
    const shown = await page.evaluate(entered, ['feed', wrong]);
    assert.match(shown.status, /no setting/, `"${wrong}"`);
    for (const { name, value } of shown.rows) assert.doesNotMatch(value, /\d/, `${name} at "${wrong}"`);
  }
  assert.deepEqual(await page.evaluate(entered, ['feed', feed]), before);
  assert.deepEqual([...opened.seen.messages, ...opened.seen.errors], []);
});
