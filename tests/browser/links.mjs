// The tables that a page carries in its `data:` links.

import assert from 'node:assert/strict';

/** The text behind a link; fails on a link to anything but CSV. */
export function csvOf(link) {
  const [, coding, data] = link.match(/^data:text\/csv;charset=utf-8(;base64)?,(.*)$/s) ?? assert.fail(`not a link to CSV: ${link.slice(0, 60)}`);
  return coding ? Buffer.from(data, 'base64').toString('utf8') : decodeURIComponent(data);
}
