// The demo study with texts of somebody's choice in every place that takes text. Gas, pins, bench and numerics
// take numbers or one of a few words and refuse all else.

import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync, rmSync, writeFileSync } from 'node:fs';
import { dirname, join } from 'node:path';
import { demo, folder, program, result } from './places.mjs';
import { workbook } from './workbook.mjs';

const quoted = (cell) => (/[",]/.test(cell) ? `"${cell.replaceAll('"', '""')}"` : cell);

/** Rows of the demo's table as objects; it holds no quoted cell. */
function demoTrials() {
  const [head, ...rows] = readFileSync(join(demo, 'trials.csv'), 'utf8').trimEnd().split('\n').filter((line) => !line.startsWith('#'));
  const names = head.split(',');
  return rows.map((row) => Object.fromEntries(row.split(',').map((cell, at) => [names[at], cell])));
}

/**
 * Writes and develops the study. `texts` has `study_file`, `name`, `designation`, `csv_file`, `xlsx_file`, `sheet`,
 * `mapped_column`, `unknown_columns` (2), `other_cell`, `prior_source`, and `trial`, `block` and `note` as functions of the
 * demo's own text. Returns the result folder with what the program printed.
 */
export function develop(name, texts) {
  const root = join(folder('hostile'), name);
  rmSync(root, { recursive: true, force: true });
  const at = (path) => {
    mkdirSync(dirname(join(root, path)), { recursive: true });
    return join(root, path);
  };
  const trials = demoTrials().map((row, place) => {
    const { current_mean_a, ...rest } = row;
    const leftOut = place % 16 === 5;
    return {
      ...rest,
      trial: texts.trial(row.trial),
      block: texts.block(row.block),
      use: leftOut ? 'no' : 'yes',
      note: texts.note(row.note),
      [texts.mapped_column]: (Number(current_mean_a) / 1000).toFixed(4),
      [texts.unknown_columns[0]]: texts.other_cell,
      [texts.unknown_columns[1]]: '1',
    };
  });
  const names = Object.keys(trials[0]);
  const cells = trials.map((row) => names.map((key) => row[key]));
  const [inText, inWorkbook] = [cells.slice(0, 36), cells.slice(36)];
  writeFileSync(at(texts.csv_file), [names, ...inText].map((row) => row.map(quoted).join(',')).join('\n'));
  writeFileSync(at(texts.xlsx_file), workbook(texts.sheet, [names, ...inWorkbook]));
  writeFileSync(at(texts.study_file), studyText(texts));
  const developed = spawnSync(program, ['develop', join(root, texts.study_file), '--out', join(root, 'result')], { encoding: 'utf8' });
  return { result: join(root, 'result'), status: developed.status, said: developed.stdout + developed.stderr };
}

function studyText(texts) {
  const text = JSON.stringify;
  const alpha = JSON.parse(readFileSync(join(result, 'laws.json'), 'utf8')).laws.burn_off.coefficients.alpha_mm_per_a_s;
  const table = (file, sheet) =>
    `[[trials]]\nfile = ${text(file)}\n${sheet ? `sheet = ${text(sheet)}\n` : ''}columns = { current_mean_ka = ${text(texts.mapped_column)} }\n`;
  const tables = `${table(texts.csv_file)}\n${table(texts.xlsx_file, texts.sheet)}`;
  const prior = `[prior.burn_off.alpha_mm_per_a_s]\nmean = ${alpha.value}\nstandard_deviation = ${alpha.standard_error}\nsource = ${text(texts.prior_source)}\n`;
  const pin = '[[line.pin]]\nwire_feed_m_min = 6.0\npulse_time_ms = 2.7\n';
  const replaced = (study, pattern, by) => {
    if (!pattern.test(study)) throw new Error(`the demo study has no ${pattern}`);
    return study.replace(pattern, () => by);
  };
  let study = readFileSync(join(demo, 'study.toml'), 'utf8');
  study = replaced(study, /^name = .*$/m, `name = ${text(texts.name)}`);
  study = replaced(study, /^designation = .*$/m, `designation = ${text(texts.designation)}`);
  study = replaced(study, /^\[\[trials\]\]\nfile = .*$/m, tables);
  return `${study}\n${pin}\n${prior}`;
}
