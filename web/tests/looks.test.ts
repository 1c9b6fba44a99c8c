// SPDX-License-Identifier: Apache-2.0
// Every page as it looks and as it is read out, both themes, a phone's width and a laptop's.
import { existsSync, readFileSync, writeFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { pages, shots } from './shots';
import { after, before, contexts, end, fresh, go, open, start } from './visit';

beforeAll(before);
afterEach(after);
afterAll(end);

describe('accessibility', () => {
  const axe = readFileSync(new URL('../node_modules/axe-core/axe.min.js', import.meta.url), 'utf8');
  interface Violation { id: string; nodes: { html: string; failureSummary?: string }[] }
  for (const theme of ['light', 'dark'] as const)
    it(`is clean on every page, ${theme}`, { timeout: 900000 }, async () => {
      const served = await start(fresh('smallholding'), ['--lan-address', '127.0.0.2']);
      for (const width of [1280, 390]) {
        const context = contexts[0] ?? (await (async () => { const p = await open(served, { colorScheme: theme, reducedMotion: 'reduce', bypassCSP: true, viewport: { width, height: 900 } }); await p.getByText('Where it stands').waitFor(); return p.context(); })());
        const page = context.pages()[0] as Page;
        await page.setViewportSize({ width, height: 900 });
        for (const name of [...pages, 'test?tab=cells', 'test?tab=logs', 'test?tab=queue', 'test?tab=limits', 'test?tab=claim', 'commission?tab=lists', 'commission?tab=pins', 'commission?tab=joints', 'commission?tab=rehearsals', 'commission?tab=place', 'commission?tab=balance', 'worksheets?name=ampacity']) {
          await page.goto(`${served.address}/#/start`);
          await go(page, name);
          await page.waitForTimeout(120);
          if (width > 1000) for (const d of await page.locator('main details > summary').all()) await d.click({ timeout: 500 }).catch(() => undefined);
          if (width === 390) expect(await page.evaluate(() => document.documentElement.scrollWidth), `${name} is wider than the phone`).toBeLessThanOrEqual(390);
          await page.evaluate(axe);
          const found = await page.evaluate(async () => ((await (window as unknown as { axe: { run: (d: Document, o: object) => Promise<{ violations: Violation[] }> } }).axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa', 'best-practice'] })).violations).map((v) => `${v.id}: ${v.nodes.slice(0, 2).map((n) => `${n.html.slice(0, 160)} ${n.failureSummary?.slice(0, 200) ?? ''}`).join(' | ')}`));
          expect(found, `${name} ${theme} ${width}`).toEqual([]);
        }
        // The side sheet and the dialogs too: a figure's why, a finding, a cell's card, an offer, a run, a paste, the keys.
        const dialogs: [string, (p: Page) => Promise<void>][] = [
          ['size', (p) => p.locator('.figure').first().click()],
          ['start', (p) => p.locator('button.what').first().click()],
          ['receive', (p) => p.locator('.table tbody button').first().click()],
          ['choose', (p) => p.getByRole('button', { name: /^Edit/ }).first().click()],
          ['wire', (p) => p.getByRole('button', { name: /mm²/ }).first().click()],
          ['receive', async (p) => { await p.getByRole('button', { name: 'Paste from a spreadsheet' }).click(); await p.locator('#paste').fill('Cell\tRi\tV\nX1\t0,2\t3,3'); }],
          ['brief', async (p) => { await p.locator('main').focus(); await p.keyboard.press('?'); }],
        ];
        for (const [name, show] of dialogs) {
          await go(page, name);
          await show(page);
          await page.getByRole('dialog').waitFor();
          await page.evaluate(axe);
          const dialog = await page.evaluate(async () => ((await (window as unknown as { axe: { run: (d: Document, o: object) => Promise<{ violations: Violation[] }> } }).axe.run(document, { runOnly: ['wcag2a', 'wcag2aa', 'wcag21a', 'wcag21aa', 'wcag22aa'] })).violations).map((v) => `${v.id}: ${v.nodes[0]?.html.slice(0, 160)}`));
          expect(dialog, `the dialog of ${name} ${theme} ${width}`).toEqual([]);
          expect(await page.evaluate(() => { const d = document.querySelector('dialog[open]'); return (d?.scrollWidth ?? 0) - (d?.clientWidth ?? 0); }), `the dialog of ${name} is wider than it may be`).toBeLessThanOrEqual(0);
          await page.keyboard.press('Escape');
          await page.getByRole('dialog').waitFor({ state: 'hidden' });
        }
      }
    });

  it('keeps focus in a sheet and gives it back', async () => {
    const served = await start(fresh('cabin'));
    const page = await open(served);
    await go(page, 'brief');
    const figure = page.locator('.figure').first();
    await figure.focus();
    await page.keyboard.press('Enter');
    await page.getByRole('dialog').waitFor();
    for (let i = 0; i < 12; ++i) {
      await page.keyboard.press('Tab');
      expect(await page.evaluate(() => document.querySelector('dialog[open]')?.contains(document.activeElement))).toBe(true);
    }
    await page.keyboard.press('Escape');
    await expect.poll(() => figure.evaluate((f) => f === document.activeElement)).toBe(true);
  });
});

describe('every page', () => {
  it('is pictured at a phone’s and a laptop’s width in both themes', { timeout: 900000 }, async () => {
    const out = new URL('../shots', import.meta.url).pathname;
    const made = await shots(out);
    expect(made).toHaveLength(pages.length * 6);
    for (const path of made) expect(existsSync(path)).toBe(true);
    writeFileSync(join(out, 'README.txt'), 'Pictures that the tests made of every page; not kept in the repository.\n');
  });
});
