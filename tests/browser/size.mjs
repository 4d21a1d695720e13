// How large the demo's report is and how soon it shows. Times are told, not judged: they belong to the machine.

import assert from 'node:assert/strict';
import { statSync } from 'node:fs';
import { test } from 'node:test';
import { browser, open } from './chromium.mjs';
import { report } from './places.mjs';

const LARGEST_BYTES = 1.5e6;
const RUNS = 9;

const started = await browser();
const median = (values) => values.sort((a, b) => a - b)[Math.floor(values.length / 2)];

test('the report is small', async () => {
  const bytes = statSync(report).size;
  const times = [];
  for (let run = 0; run < RUNS; run += 1) {
    const { page, close } = await open(started, report);
    times.push(
      await page.evaluate(async () => {
        const paints = () => performance.getEntriesByName('first-contentful-paint');
        while (paints().length === 0) await new Promise((wake) => setTimeout(wake, 10));
        const [navigation] = performance.getEntriesByType('navigation');
        return { paint: paints()[0].startTime, loaded: navigation.loadEventEnd };
      }),
    );
    await close();
  }
  const [paint, loaded] = ['paint', 'loaded'].map((name) => median(times.map((time) => time[name])).toFixed(0));
  console.log(`report.html: ${bytes} bytes; first paint ${paint} ms, loaded ${loaded} ms (medians of ${RUNS})`);
  assert.ok(bytes <= LARGEST_BYTES, `${bytes} bytes`);
});
