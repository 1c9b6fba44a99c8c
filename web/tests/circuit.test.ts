// SPDX-License-Identifier: Apache-2.0
// A bank begun from what is needed, and its circuit changed where it is drawn.
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { after, before, end, fresh, go, open, start, stored } from './visit';

beforeAll(before);
afterEach(after);
afterAll(end);

describe('from the need', () => {
  it('layouts that fit stand side by side, and one is picked', async () => {
    const served = await start(fresh(''));
    const page = await open(served);
    await page.getByLabel('Rated capacity of a cell').fill('280');
    await page.getByLabel('DC resistance of a cell').fill('0.3');
    await page.getByLabel('Continuous power of the bank').fill('4000');
    await page.getByLabel('Energy wanted').fill('20');
    await page.getByRole('radio', { name: /One pack of 16S2P/ }).waitFor();
    await page.getByRole('radio', { name: /2 packs of 16S1P/ }).check();
    await page.getByRole('button', { name: 'Begin', exact: true }).click();
    await page.getByRole('heading', { name: /^Brief/ }).waitFor();
    const toml = String(stored(served.file).toml);
    expect(toml).toMatch(/packs = 2/);
    expect(toml).toMatch(/series = 16/);
  });
});

describe('the circuit', () => {
  it('is changed on the single line, by choices and units, and shows where a check fails', async () => {
    const served = await start(fresh('smallholding'));
    const page = await open(served, { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true });
    await go(page, 'wire');
    const line = page.getByRole('group', { name: /Single-line diagram/ });
    await line.getByRole('button', { name: /^pack fuse/ }).first().click();
    expect(await page.getByRole('dialog').getByLabel('Kind').evaluate((e) => e.tagName)).toBe('SELECT');
    await page.getByRole('dialog').getByLabel(/breaking capacity/).fill('1,5 kA');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await line.getByRole('button', { name: /^pack fuse.*stop/ }).first().waitFor();
    await line.getByRole('button', { name: /50 mm² main/ }).click();
    await page.getByRole('dialog').getByLabel(/length, one way/).fill('long');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByText('is not a number in m').waitFor();
    await page.getByRole('dialog').getByLabel(/length, one way/).fill('10 ft');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await line.getByRole('button', { name: /main, 3.05 m/ }).waitFor();
    // Nothing in the drawing is smaller than twelve pixels, and nothing to press lower than 44.
    const [text, low] = await line.evaluate((e) => [Math.min(...[...e.querySelectorAll('*')].filter((x) => (x.textContent ?? '').trim() !== '').map((x) => parseFloat(getComputedStyle(x).fontSize))), Math.min(...[...e.querySelectorAll('button')].map((x) => x.getBoundingClientRect().height))]);
    expect(text).toBeGreaterThanOrEqual(12);
    expect(low).toBeGreaterThanOrEqual(44);
  });
});
