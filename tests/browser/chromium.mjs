// Starts Debian's Chromium and opens files from disk, with everything written down that a page does.

import { pathToFileURL } from 'node:url';
import { after } from 'node:test';
import { chromium } from 'playwright-core';

// Without these Chromium asks its maker's servers for news at every start, which an offline bench refuses.
const QUIET = [
  '--disable-gpu',
  '--disable-quic',
  '--no-first-run',
  '--disable-background-networking',
  '--disable-component-update',
  '--disable-sync',
];

/** A browser that ends with the tests of the file that asked for it. */
export async function browser() {
  const started = await chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    // Chromium refuses to run as root with its sandbox.
    chromiumSandbox: process.getuid() !== 0,
    args: QUIET,
  });
  after(() => started.close());
  return started;
}

/**
 * Opens one file from disk in a window of its own.
 *
 * `seen` holds what happened since: `requests` (addresses), `messages` (errors and warnings on the console, what the
 * content-security policy refuses among them), `errors` (thrown in the page) and `dialogs`.
 */
export async function open(started, file, { width = 1280, height = 900, scheme = 'light', scripts = true, before } = {}) {
  const context = await started.newContext({
    viewport: { width, height },
    colorScheme: scheme,
    javaScriptEnabled: scripts,
  });
  if (before) await context.addInitScript({ content: before });
  const page = await context.newPage();
  const seen = { requests: [], messages: [], errors: [], dialogs: [] };
  // The protocol itself: playwright's own event for requests leaves some out, that for a page's icon among them.
  const protocol = await context.newCDPSession(page);
  await protocol.send('Network.enable');
  protocol.on('Network.requestWillBeSent', ({ request }) => seen.requests.push(request.url));
  page.on('console', (said) => {
    if (!['error', 'warning'].includes(said.type())) return;
    // One of a kind is enough to fail by.
    const message = `${said.type()}: ${said.text()}`.slice(0, 160);
    if (!seen.messages.includes(message)) seen.messages.push(message);
  });
  page.on('pageerror', (error) => seen.errors.push(String(error)));
  page.on('dialog', (dialog) => {
    seen.dialogs.push(dialog.message());
    return dialog.dismiss();
  });
  page.on('popup', (other) => seen.requests.push(`a window of its own: ${other.url()}`));
  const address = pathToFileURL(file).href;
  await page.goto(address, { waitUntil: 'load' });
  // Sections off the screen are laid out when they are reached; here all are, so that their text can be read.
  await page.evaluate(() => document.querySelectorAll('section').forEach((s) => (s.style.contentVisibility = 'visible')));
  return { page, seen, address, close: () => context.close() };
}
