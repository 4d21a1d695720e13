// The report on A4 paper: black on white whatever the screen, nothing wider than the page, no controls.

import assert from 'node:assert/strict';
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { browser, open } from './chromium.mjs';
import { folder, report } from './places.mjs';

// A4 less the margins that the style sheet asks for, 210 mm - 2 * 13 mm, in CSS pixels of 1/96 inch.
const PRINTED_WIDTH_PX = Math.floor((184 / 25.4) * 96);
// WCAG 2.2, success criterion 1.4.3, for text of ordinary size.
const LEAST_CONTRAST = 4.5;

const started = await browser();

/** Opens the report as it is laid out on paper. */
async function onPaper(scheme) {
  const opened = await open(started, report, { width: PRINTED_WIDTH_PX, height: 1000, scheme });
  await opened.page.emulateMedia({ media: 'print', colorScheme: scheme });
  return opened;
}

/** Runs in the page: contrast of each piece of text against white, and what does not belong on paper. */
function printed() {
  const shown = (e) => e.checkVisibility({ visibilityProperty: true });
  const luminance = ([r, g, b]) => {
    const linear = (v) => (v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4);
    return 0.2126 * linear(r / 255) + 0.7152 * linear(g / 255) + 0.0722 * linear(b / 255);
  };
  const parts = (colour) => colour.match(/[\d.]+/g).map(Number);
  const againstWhite = (colour) => 1.05 / (luminance(parts(colour)) + 0.05);
  const named = (e) => `${e.tagName.toLowerCase()} ${e.textContent.trim().slice(0, 50)}`;
  const ownText = (e) => [...e.childNodes].some((n) => n.nodeType === Node.TEXT_NODE && n.data.trim());
  const texts = [...document.querySelectorAll('body *')].filter((e) => ownText(e) && shown(e));
  const body = getComputedStyle(document.body);
  return {
    ground: body.backgroundColor,
    ink: body.color,
    contrasts: texts.map((e) => {
      const style = getComputedStyle(e);
      return [named(e), againstWhite(e instanceof SVGElement ? style.fill : style.color)];
    }),
    drawings: [...document.querySelectorAll('figure svg > rect:first-of-type')].map((e) => getComputedStyle(e).fill),
    controls: [...document.querySelectorAll('nav, a[download], input, select, button, textarea, [type=range]')].filter(shown).map(named),
    silent: [...document.querySelectorAll('details:not([open])')]
      .filter((e) => shown(e) && !getComputedStyle(e.querySelector('summary'), '::after').content.includes('folded away'))
      .map(named),
    tooWide: [...document.querySelectorAll('figure, figure svg, table, tr, p, li')]
      .filter((e) => shown(e) && e.getBoundingClientRect().right > innerWidth + 1)
      .map((e) => `${named(e)} ends at ${Math.round(e.getBoundingClientRect().right)} of ${innerWidth} px`),
    figures: [...document.querySelectorAll('figure')].filter((e) => !e.closest('details:not([open])') && !shown(e)).length,
  };
}

for (const scheme of ['light', 'dark']) {
  test(`on paper from a ${scheme} screen`, async () => {
    const { page, close } = await onPaper(scheme);
    const saw = await page.evaluate(printed);
    await close();
    assert.equal(saw.ground, 'rgb(255, 255, 255)');
    assert.equal(saw.ink, 'rgb(0, 0, 0)');
    const pale = saw.contrasts.filter(([, contrast]) => !(contrast >= LEAST_CONTRAST));
    assert.deepEqual(pale, [], 'text too pale for white paper');
    assert.deepEqual([...new Set(saw.drawings)], ['rgb(255, 255, 255)'], 'figures are not drawn on white');
    assert.deepEqual(saw.controls, [], 'controls on paper');
    assert.deepEqual(saw.silent, [], 'a folded part is left out of the print without a word');
    assert.deepEqual(saw.tooWide, [], 'wider than the page');
    assert.equal(saw.figures, 0, 'figures missing on paper');
  });
}

test('the printed pages are the same from a light and a dark screen', async () => {
  const pages = [];
  for (const scheme of ['light', 'dark']) {
    const { page, close } = await onPaper(scheme);
    const pdf = await page.pdf({ preferCSSPageSize: true, printBackground: true });
    await close();
    writeFileSync(join(folder('screenshots'), `printed_${scheme}.pdf`), pdf);
    pages.push(pdf.toString('latin1'));
  }
  const [light, dark] = pages;
  const count = light.match(/\/Type\s*\/Page\b(?!s)/g)?.length ?? 0;
  console.log(`printed on ${count} pages`);
  assert.ok(count > 3 && count < 100, `${count} pages`);
  // A4 in points, as Chromium rounds it.
  for (const [, width, height] of light.matchAll(/\/MediaBox\s*\[0 0 ([\d.]+) ([\d.]+)\]/g)) {
    assert.ok(Math.abs(width - 595.28) < 1 && Math.abs(height - 841.89) < 1, `a page of ${width} by ${height} points`);
  }
  const undated = (pdf) => pdf.replace(/\/(CreationDate|ModDate) \([^)]*\)/g, '');
  assert.ok(undated(light) === undated(dark), 'a dark screen changes what is printed');
});
