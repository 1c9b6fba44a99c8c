// SPDX-License-Identifier: Apache-2.0
// Every page in a second browser. Where Firefox is not installed (apt-get install firefox-esr) this is skipped, and says so.
import { expect, it } from 'vitest';
import { Firefox, firefox, installed } from './firefox';
import { example, folder, serve, tidy } from './server';
import { pages } from './shots';

if (!installed) console.warn(`Skipped: ${firefox} is not installed.`);

it.skipIf(!installed)('every page stands in Firefox too, on a laptop and on a phone’s width, without an error', { timeout: 240000 }, async () => {
  const home = folder();
  const served = await serve(example('smallholding', home));
  const browser = await Firefox.start();
  try {
    await browser.go(served.link);
    await expect.poll(() => browser.ask<number>("document.querySelectorAll('nav ol li').length"), { timeout: 40000 }).toBe(12);
    for (const width of [1280, 500]) {
      await browser.size(width, 900);
      for (const name of pages) {
        await browser.ask(`(location.hash = '/${name}', 1)`);
        await expect.poll(() => browser.ask<number>(`(location.hash === '#/${name}' && document.querySelector('main h1') && (document.querySelector('main h1').textContent.toLowerCase().includes('${name === 'start' ? 'smallholding' : name === 'devices' ? 'phone' : name}')) ? 1 : 0)`), { timeout: 40000, message: name }).toBe(1);
        expect(await browser.ask<number>('document.documentElement.scrollWidth - innerWidth'), `${name} at ${width}`).toBeLessThanOrEqual(0);
      }
    }
    // The embedded type is the one in use, and a sheet opens, holds the focus and gives it back.
    expect(await browser.ask<string>("document.fonts.ready.then((f) => [...f].filter((x) => x.status === 'loaded').map((x) => x.family.replace(/\"/g, '')).join())")).toContain('Commissioner');
    await browser.ask("(location.hash = '/size', 1)");
    await expect.poll(() => browser.ask<number>("document.querySelectorAll('.figure').length")).toBeGreaterThan(2);
    await browser.ask("(document.querySelector('.figure').focus(), document.querySelector('.figure').click(), 1)");
    await expect.poll(() => browser.ask<number>("document.querySelectorAll('dialog[open]').length")).toBe(1);
    await browser.ask("([...document.querySelectorAll('dialog[open] button')].find((b) => b.textContent === 'Close').click(), 1)");
    await expect.poll(() => browser.ask<string>('document.activeElement.className')).toContain('figure');
    expect(browser.faults).toEqual([]);
  } finally {
    await browser.stop();
    await served.stop();
    tidy(home);
  }
});
