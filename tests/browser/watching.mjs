// The tests would prove nothing if they overlooked a bad page: here is one, and all of it must be seen.

import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { browser, open } from './chromium.mjs';
import { lost } from './lost.mjs';
import { folder } from './places.mjs';

const started = await browser();

test('requests, messages, errors, dialogs and lost text are noticed', async () => {
  const file = join(folder('watching'), 'bad.html');
  writeFileSync(
    file,
    `<!doctype html><title>bad</title><img src="absent.png">
    <p style="width: 3000px">too wide</p><p style="width: 40px; overflow: hidden; white-space: nowrap">cut off in the middle</p>
    <figure id="f"><svg viewBox="0 0 200 100" width="200"><text x="190" y="50" font-size="5">beyond the edge</text></svg></figure>
    <script>console.error('said'); console.warn('warned'); alert('asked'); throw new Error('thrown');</script>`,
  );
  const { page, seen, close } = await open(started, file, { width: 390 });
  const saw = await page.evaluate(lost);
  await close();
  assert.ok(seen.requests.some((address) => address.endsWith('absent.png')), 'a request for a file');
  for (const said of ['error: said', 'warning: warned']) assert.ok(seen.messages.includes(said), said);
  assert.match(seen.errors.join(), /thrown/);
  assert.deepEqual(seen.dialogs, ['asked']);
  assert.ok(saw.over > 1000, 'a page wider than the window');
  assert.equal(saw.cut.length, 1, 'text cut off');
  assert.deepEqual(saw.figures.map((f) => [f.outside, f.smallest]), [[['beyond the edge'], 5]], 'small letters beyond the edge');
});
