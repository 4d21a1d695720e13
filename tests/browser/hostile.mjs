// Markup, script and endless names in every text of a study: they show as text, and nothing of them runs.

import assert from 'node:assert/strict';
import { readdirSync } from 'node:fs';
import { join } from 'node:path';
import { test } from 'node:test';
import { browser, open } from './chromium.mjs';
import { develop } from './hostile_study.mjs';
import { csvOf } from './links.mjs';
import { lost } from './lost.mjs';
import { report } from './places.mjs';

const MARKUP = {
  study_file: '<img src=x onerror=planted=1>.toml',
  name: `</title></style></script><script>planted=1</script> & "name" 'of' ]]> <!-- --> <base href=//x>`,
  designation: '</svg><img src=x onerror="planted=1"> &lt;b&gt; ${planted=1} <a href="javascript:planted=1">G3Si1</a>',
  csv_file: '</script><svg onload=planted=1>.csv',
  xlsx_file: '"onfocus="planted=1" autofocus tabindex="1.xlsx',
  sheet: '<i onclick=planted=1>"a" & b',
  mapped_column: '</th><th onclick=planted=1>I avg & "x"',
  unknown_columns: ['<script>planted=1</script>', "'onmouseover='planted=1"],
  other_cell: '=HYPERLINK("javascript:planted=1")',
  prior_source: '<a href="javascript:planted=1">note</a> <style>*{display:none}</style> <iframe src=x>',
  trial: (own) => `${own}<img src=x onerror=planted=1></text></svg><script>planted=1</script>]]>"'`,
  block: (own) => `<b onclick=planted=1>${own}</b><!--`,
  note: (own) => `<form action=x><button autofocus onfocus=planted=1>${own}</button></form> note & <meta http-equiv=refresh content=0>`,
};

// Letters without a place to break, as long as a name may be; the widest letter there is.
const long = (start, length = 120, end = '') => start + 'W'.repeat(length - start.length - end.length) + end;
const LONG = {
  study_file: long('study', 120, '.toml'),
  name: long('N'),
  designation: long('D'),
  csv_file: long('table', 120, '.csv'),
  xlsx_file: long('book', 120, '.xlsx'),
  sheet: long('S', 31),
  mapped_column: long('I'),
  unknown_columns: [long('U', 300), long('V', 300)],
  other_cell: long('C', 2000),
  prior_source: long('P'),
  trial: (own) => long(own),
  block: (own) => long(own.replace(' ', '')),
  note: (own) => long(own.replace(/ /g, ''), 1000),
};

const started = await browser();
const markup = develop('<img src=x onerror=planted=1>', MARKUP);
const endless = develop('long', LONG);

/** Runs in the page: everything that could act. */
const acting = () => {
  const count = (selector) => document.querySelectorAll(selector).length;
  const kinds = ['script', 'style', 'img', 'iframe', 'object', 'embed', 'link', 'base', 'meta', 'form', 'button', 'input', 'b', 'i'];
  const attributes = [...document.querySelectorAll('*')].flatMap((e) => e.getAttributeNames().map((name) => [name, e.getAttribute(name)]));
  return {
    ...Object.fromEntries(kinds.map((kind) => [kind, count(kind)])),
    handlers: attributes.filter(([name]) => name.startsWith('on')).length,
    autofocus: count('[autofocus]'),
    scripted: attributes.filter(([name, value]) => /^(href|src|action|data|xlink:href)$/.test(name) && /^\s*javascript:/i.test(value)).length,
  };
};

test('markup in every text shows as text and nothing of it runs', async () => {
  assert.ok([0, 4].includes(markup.status), markup.said);
  const clean = await open(started, report);
  const { page, seen, address, close } = await open(started, join(markup.result, 'report.html'));
  await page.evaluate(() => document.querySelectorAll('details').forEach((d) => (d.open = true)));
  await page.waitForTimeout(300);
  assert.deepEqual(seen, { requests: [address], messages: [], errors: [], dialogs: [] });
  assert.equal(await page.evaluate(() => typeof globalThis.planted), 'undefined', 'a planted script ran');
  assert.deepEqual(await page.evaluate(acting), await clean.page.evaluate(acting));

  assert.equal(await page.title(), `${MARKUP.name} – report`);
  assert.equal(await page.locator('h1').textContent(), MARKUP.name);
  // As a reader sees it, without what scripts and styles hold.
  const text = await page.evaluate(() => document.body.innerText);
  const shown = {
    designation: MARKUP.designation,
    'study file': MARKUP.study_file,
    'table file': MARKUP.csv_file,
    workbook: MARKUP.xlsx_file,
    sheet: MARKUP.sheet,
    'mapped column': MARKUP.mapped_column,
    'unknown column': MARKUP.unknown_columns[0],
    'second unknown column': MARKUP.unknown_columns[1],
    'source of a statement': MARKUP.prior_source,
    'trial identifier': MARKUP.trial('R01'),
    'note of a trial left out': MARKUP.note(''),
  };
  for (const [what, needed] of Object.entries(shown)) assert.ok(text.includes(needed), `${what} is not shown: ${needed}`);
  // Blocks stand in full in the data of the figures only.
  const data = await page.evaluate(() => [...document.querySelectorAll('a[download]')].map((a) => a.getAttribute('href')));
  const tables = data.map(csvOf);
  assert.ok(tables.some((table) => table.includes(MARKUP.block('day 1'))), 'blocks are in no data');
  await Promise.all([close(), clean.close()]);
});

test('drawings of that study opened by themselves are well formed and run nothing', async () => {
  const plots = readdirSync(join(markup.result, 'plots')).filter((name) => name.endsWith('.svg'));
  assert.ok(plots.length > 10);
  const { page, seen, close } = await open(started, join(markup.result, 'plots', plots[0]));
  for (const plot of plots) {
    seen.requests.length = 0;
    await page.goto(`file://${encodeURI(join(markup.result, 'plots', plot))}`);
    const found = await page.evaluate(() => ({
      root: document.documentElement.localName,
      broken: document.getElementsByTagName('parsererror').length,
      strangers: [...new Set([...document.querySelectorAll('*')].map((e) => e.localName))].filter(
        (name) => !['svg', 'title', 'desc', 'text', 'rect', 'circle', 'line', 'polyline', 'polygon', 'path', 'g'].includes(name),
      ),
      planted: typeof globalThis.planted,
    }));
    assert.deepEqual(found, { root: 'svg', broken: 0, strangers: [], planted: 'undefined' }, plot);
    assert.equal(seen.requests.length, 1, `${plot} asks for ${seen.requests}`);
  }
  assert.deepEqual([...seen.messages, ...seen.errors, ...seen.dialogs], []);
  await close();
});

for (const [kind, study] of Object.entries({ markup, 'endless names': endless })) {
  for (const width of [390, 1280]) {
    test(`${kind} at ${width} px: nothing to pan for, nothing cut off`, async () => {
      assert.ok([0, 4].includes(study.status), study.said);
      const { page, close } = await open(started, join(study.result, 'report.html'), { width });
      await page.evaluate(() => document.querySelectorAll('details').forEach((d) => (d.open = true)));
      const saw = await page.evaluate(lost);
      await close();
      assert.ok(saw.over <= 0, `the page is ${saw.over} px wider than the window`);
      assert.deepEqual(saw.cut, []);
      assert.deepEqual(saw.figures.filter((f) => f.outside.length).map((f) => [f.id, f.outside]), [], 'text beyond a drawing');
    });
  }
}

test('what is no single short line is refused, and so is text where a word or number belongs', () => {
  const refused = {
    'a name of two lines': { name: 'one\ntwo' },
    'a name that turns the direction of text': { name: 'a\u202Eb' },
    'a designation of 121 characters': { designation: 'W'.repeat(121) },
    'an identifier of 121 characters': { trial: (own) => long(own, 121) },
    'a file name of 121 characters': { csv_file: long('t', 121, '.csv') },
    'a source of 121 characters': { prior_source: 'W'.repeat(121) },
  };
  for (const [what, texts] of Object.entries(refused)) {
    const { status, said } = develop('refused', { ...MARKUP, ...texts });
    assert.equal(status, 3, `${what}: ${said}`);
  }
});
