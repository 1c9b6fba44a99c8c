// SPDX-License-Identifier: Apache-2.0
// Pictures of every page, both themes, a phone's width and a laptop's (and 768 between): `npm run shots`, into web/shots.
import { mkdirSync } from 'node:fs';
import { browser, example, folder, serve, tidy } from './server';

export const pages = ['start', 'brief', 'choose', 'size', 'order', 'receive', 'test', 'match', 'wire', 'commission', 'forecast', 'watch', 'book', 'worksheets', 'findings', 'devices'];

export async function shots(out: string, only: string[] = pages): Promise<string[]> {
  mkdirSync(out, { recursive: true });
  const home = folder();
  const served = await serve(example('smallholding', home));
  const b = await browser();
  const made: string[] = [];
  const context = await b.newContext();
  const first = await context.newPage();
  await first.goto(served.link);
  await first.waitForSelector('nav ol');
  const state = await context.storageState();
  for (const width of [1440, 768, 390])
    for (const theme of ['light', 'dark'] as const) {
      const c = await b.newContext({ viewport: { width, height: width === 390 ? 844 : 900 }, colorScheme: theme, storageState: state, reducedMotion: 'reduce' });
      const page = await c.newPage();
      page.on('pageerror', (e) => console.error(String(e)));
      page.on('console', (m) => { if (m.type() === 'error') console.error(m.text()); });
      for (const name of only) {
        await page.goto(`${served.address}/#/${name}`);
        await page.waitForSelector('h1');
        await page.waitForTimeout(name === 'size' || name === 'test' ? 1200 : 400);
        const path = `${out}/${name}-${width}-${theme}.png`;
        await page.screenshot({ path, fullPage: true });
        made.push(path);
      }
      await c.close();
    }
  await b.close();
  await served.stop();
  tidy(home);
  return made;
}
