// The report as a file that is opened from disk: nothing fetched, nothing complained about, readable without scripts.

import assert from 'node:assert/strict';
import { test } from 'node:test';
import { browser, open } from './chromium.mjs';
import { csvOf } from './links.mjs';
import { report } from './places.mjs';

const started = await browser();

// What stands on the page for a reader, folded parts included.
const contents = () => ({
  verdict: document.querySelector('#verdict .verdict')?.innerText ?? '',
  headings: [...document.querySelectorAll('main h2')].map((h) => h.textContent),
  sections: [...document.querySelectorAll('main > section')].map((s) => [s.id, s.innerText.length]),
  cells: [...document.querySelectorAll('main table')].map((t) => t.querySelectorAll('tbody td').length),
  figures: [...document.querySelectorAll('main figure')].map((f) => ({
    id: f.id,
    texts: f.querySelectorAll('svg text').length,
    title: f.querySelector('svg > title')?.textContent ?? '',
    words: f.querySelector('svg > desc')?.textContent ?? '',
    caption: f.querySelector('figcaption')?.innerText ?? '',
    data: f.querySelector('a[download]')?.getAttribute('href')?.length ?? 0,
  })),
});

test('the report is one request, and nothing is said on the console', async () => {
  const { page, seen, address, close } = await open(started, report);
  // A late request or error would come within the first moments.
  await page.waitForTimeout(500);
  assert.deepEqual(seen, { requests: [address], messages: [], errors: [], dialogs: [] });
  const loaded = await page.evaluate(() => performance.getEntriesByType('resource').map((entry) => entry.name));
  assert.deepEqual(loaded, [], 'something was loaded besides the page');
  await close();
});

test('without scripts the same page is there to read', async () => {
  const live = await open(started, report);
  const still = await open(started, report, { scripts: false });
  const [scripted, without] = [await live.page.evaluate(contents), await still.page.evaluate(contents)];
  assert.deepEqual(still.seen, { requests: [still.address], messages: [], errors: [], dialogs: [] });

  assert.match(without.verdict, /m\/min/, 'the verdict names no range');
  assert.ok(without.headings.length >= 10, `only ${without.headings.length} headings`);
  assert.deepEqual(without.headings, scripted.headings);
  for (const [id, length] of without.sections) assert.ok(length > 80, `section ${id} shows ${length} characters`);
  assert.ok(without.cells.length > 5 && without.cells.every((count) => count > 0), 'a table without cells');
  assert.ok(without.figures.length > 10, `only ${without.figures.length} figures`);
  for (const figure of without.figures) {
    assert.ok(figure.texts > 3 && figure.data > 100, `${figure.id}: no texts or no data`);
    assert.ok(figure.title && figure.words.length > 20 && figure.caption.length > 40, `${figure.id}: not told in words`);
  }
  const controls = still.page.locator('input, select, button, textarea');
  for (const control of await controls.all()) {
    assert.equal(await control.isVisible(), false, 'a control that does nothing without scripts is shown');
  }
  await Promise.all([live.close(), still.close()]);
});

test('every figure and every finding says what is expected, what is seen and what to do', async () => {
  const { page, close } = await open(started, report);
  const [blank, without] = await page.evaluate(() => {
    const near = (e) => e.closest('figure, li, section').id || e.closest('figure, li, section').textContent.trim().slice(0, 40);
    return [
      [...document.querySelectorAll('dl.reading')]
        .filter((dl) => dl.children.length !== 6 || [...dl.querySelectorAll('dd')].some((dd) => !dd.textContent.trim()))
        .map(near),
      [...document.querySelectorAll('figure')].filter((figure) => !figure.querySelector('dl.reading')).map(near),
    ];
  });
  assert.deepEqual([blank, without], [[], []]);
  await close();
});

test('every link within the page leads somewhere, every CSV link holds a table', async () => {
  const { page, close } = await open(started, report);
  const [lost, tables] = await page.evaluate(() => [
    [...document.querySelectorAll('a[href^="#"]')].map((a) => a.hash.slice(1)).filter((id) => !document.getElementById(id)),
    [...document.querySelectorAll('a[download]')].map((a) => [a.download, a.getAttribute('href')]),
  ]);
  assert.deepEqual(lost, []);
  for (const [name, address] of tables) {
    const lines = csvOf(address).trimEnd().split('\n');
    assert.ok(lines.length > 1 && lines[0].includes(','), `${name} holds no table`);
  }
  await close();
});
