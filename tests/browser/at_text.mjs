// What `meltlaw at` prints, taken apart: one block for each wire feed.

import { spawnSync } from 'node:child_process';
import { program } from './places.mjs';

/** Blanks of any kind and number as one: the page holds some together that the terminal does not. */
export const spaced = (text) => text.replace(/\s+/g, ' ').trim();

/** Runs `meltlaw at` once for all feeds; returns the lines of each block, its head first. */
export function blocks(line, feeds) {
  const { stdout, stderr, status } = spawnSync(program, ['at', line, ...feeds], { encoding: 'utf8' });
  // 4: some feed has no setting, which is asked for here.
  if (![0, 4].includes(status)) throw new Error(`at ended with ${status}: ${stderr}`);
  const found = [];
  let inside = false;
  for (const text of stdout.split('\n')) {
    if (/^(! )?\S+ m\/min {2}/.test(text)) {
      found.push([text]);
      inside = true;
    } else if (text.startsWith('  ')) {
      if (inside) found.at(-1).push(text);
    } else {
      inside = false;
    }
  }
  if (found.length !== feeds.length) throw new Error(`${found.length} blocks for ${feeds.length} feeds:\n${stdout}`);
  return found;
}

/**
 * The first row of a quantity by the page's own name for it: `  name   value unit   the rest`, blanks as one. What
 * stands beside the value goes on below it, a part a line, where it is long.
 */
export function row(block, name) {
  const start = block.findIndex((text) => text.startsWith('  ') && text.trimStart().startsWith(`${name} `));
  if (start < 0) return undefined;
  const more = [];
  while (/^ {20}/.test(block[start + more.length + 1] ?? '')) more.push(spaced(block[start + more.length + 1]));
  return [spaced(block[start]), ...more].join('; ');
}
