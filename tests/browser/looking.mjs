// The report on a telephone, a bench PC and a wide screen, light and dark: nothing cut off, nothing to pan for.

import assert from 'node:assert/strict';
import { join } from 'node:path';
import { test } from 'node:test';
import { browser, open } from './chromium.mjs';
import { lost } from './lost.mjs';
import { folder, report } from './places.mjs';

// Smaller letters cannot be read on a telephone without spreading the page.
const SMALLEST_LETTERS_PX = 8;

const started = await browser();
const screenshots = folder('screenshots');

for (const scheme of ['light', 'dark']) {
  for (const width of [390, 1280, 1920]) {
    test(`${width} px wide, ${scheme}`, async () => {
      const { page, seen, close } = await open(started, report, { width, scheme });
      const saw = await page.evaluate(lost);
      // For people only: a machine short of memory may fail to take one, and the page is none the worse.
      await page
        .screenshot({ path: join(screenshots, `${width}_${scheme}.png`), fullPage: true })
        .catch((error) => console.log(`no screenshot at ${width} px, ${scheme}: ${error.message.split('\n')[0]}`));
      await page.evaluate(() => document.querySelectorAll('details').forEach((d) => (d.open = true)));
      const unfolded = await page.evaluate(lost);
      await close();

      assert.ok(saw.over <= 0, `the page is ${saw.over} px wider than the window`);
      assert.ok(unfolded.over <= 0, `unfolded, the page is ${unfolded.over} px wider than the window`);
      assert.deepEqual([...saw.cut, ...unfolded.cut], [], 'text is cut off');
      for (const figure of saw.figures) {
        assert.ok(figure.shown, `${figure.id} is not to be seen`);
        assert.deepEqual(figure.outside, [], `${figure.id}: text beyond the drawing's edge`);
        assert.ok(figure.smallest >= SMALLEST_LETTERS_PX, `${figure.id}: letters of ${figure.smallest.toFixed(1)} px`);
      }
      assert.deepEqual([...seen.messages, ...seen.errors], []);
    });
  }
}

test('light and dark are what they say, and figures go with them', async () => {
  const [light, dark] = [await colours('light'), await colours('dark')];
  assert.ok(light.paper > 0.9 && light.ink < 0.2, JSON.stringify(light));
  assert.ok(dark.paper < 0.1 && dark.ink > 0.7, JSON.stringify(dark));
  assert.deepEqual([light.drawing, dark.drawing], [light.paper, dark.paper], 'figures have a ground of their own');
});

/** Lightness of the page's ground, its text and the ground of the first figure, from 0 to 1. */
async function colours(scheme) {
  const { page, close } = await open(started, report, { scheme });
  const seen = await page.evaluate(() => {
    const lightness = (colour) => colour.match(/\d+/g).slice(0, 3).reduce((sum, part) => sum + part / 765, 0);
    const body = getComputedStyle(document.body);
    return {
      paper: lightness(body.backgroundColor),
      ink: lightness(body.color),
      drawing: lightness(getComputedStyle(document.querySelector('figure svg rect')).fill),
    };
  });
  await close();
  return seen;
}
