// What a screen reader, a keyboard or tired eyes would stumble over, by the rules of axe-core.

import assert from 'node:assert/strict';
import { readFileSync } from 'node:fs';
import { createRequire } from 'node:module';
import { test } from 'node:test';
import { browser, open } from './chromium.mjs';
import { report } from './places.mjs';

const axe = readFileSync(createRequire(import.meta.url).resolve('axe-core/axe.min.js'), 'utf8');
const started = await browser();

for (const scheme of ['light', 'dark']) {
  for (const width of [390, 1280]) {
    test(`no rule is broken at ${width} px, ${scheme}, folded parts opened`, async () => {
      // The page forbids scripts; this one stands outside the page.
      const { page, close } = await open(started, report, { width, scheme, before: axe });
      await page.evaluate(() => document.querySelectorAll('details').forEach((d) => (d.open = true)));
      const { violations, passes } = await page.evaluate(() => axe.run(document, { resultTypes: ['violations'] }));
      await close();
      assert.ok(passes.length > 15, `only ${passes.length} rules had anything to look at`);
      const told = violations.flatMap((rule) =>
        rule.nodes.map((node) => `${rule.id}: ${node.target.join(' ')}: ${node.failureSummary.replace(/\s+/g, ' ')}`),
      );
      assert.deepEqual(told.slice(0, 20), [], `${told.length} places`);
    });
  }
}
