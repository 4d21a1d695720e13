// What the tests look at: the program, the demo study and where they may write. `run` states them.

import { mkdirSync } from 'node:fs';
import { join, resolve } from 'node:path';

const needed = (name) => {
  const value = process.env[name];
  if (!value) throw new Error(`${name} is not set: start the tests with tests/browser/run PROGRAM DEMO`);
  return resolve(value);
};

export const program = needed('MELTLAW_PROGRAM');
export const demo = needed('MELTLAW_DEMO');
export const result = join(demo, 'result');
export const report = join(result, 'report.html');

/** A folder below the one that takes what the tests write. */
export function folder(name) {
  const path = join(needed('MELTLAW_WRITTEN'), name);
  mkdirSync(path, { recursive: true });
  return path;
}
