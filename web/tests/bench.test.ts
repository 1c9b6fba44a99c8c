// SPDX-License-Identifier: Apache-2.0
// At the bench nothing typed is lost: whatever the hands' speed, whatever the server does.
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { after, before, end, fresh, go, open, settled, start, stored } from './visit';

beforeAll(before);
afterEach(after);
afterAll(end);

let seed = 20240607;
const random = (): number => ((seed = (seed * 1103515245 + 12345) % 2147483648) / 2147483648);

async function begin(page: Page): Promise<void> {
  await page.getByLabel('Rated capacity of a cell').fill('100');
  await page.getByLabel('DC resistance of a cell').fill('0.5');
  await page.getByLabel('Continuous power of the bank').fill('2000');
  await page.getByRole('button', { name: 'Begin', exact: true }).click();
  await page.getByRole('heading', { name: /^Brief/ }).waitFor();
  await go(page, 'receive');
}
const voltages = (file: string): Map<string, number> => new Map(String(stored(file).cells).trim().split('\n').slice(1).map((line) => [line.split(',')[0] ?? '', Number(line.split(',')[2])]));

describe('typing at the bench', () => {
  it('puts a hundred cells right at 20 to 300 ms a key on a server that is slow, fails and is reloaded meanwhile', { timeout: 300000 }, async () => {
    const served = await start(fresh(''));
    const page = await open(served, { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true });
    await begin(page);
    // Every edit takes 100 to 900 ms; one in twelve gets no answer although it may have been made.
    await page.route('**/api/changes', async (route) => {
      await new Promise((go) => setTimeout(go, 100 + 800 * random()));
      if (random() < 1 / 24) return route.abort('failed');
      if (random() < 1 / 23) {
        await route.fetch();
        return route.abort('failed'); // made, and the answer lost
      }
      await route.continue();
    });
    await page.getByText('What is asked for each cell').click();
    await page.locator('.order').getByRole('button', { name: 'Leave out' }).nth(1).click();
    await page.getByLabel('Cell', { exact: true }).fill('Q001');
    await page.locator('#bench-number').focus();
    const wanted = new Map<string, number>();
    for (let i = 1; i <= 100; ++i) {
      const text = (3.2 + i / 1000).toFixed(3);
      wanted.set(`Q${String(i).padStart(3, '0')}`, Number(text));
      for (const key of text.replace('.', i % 2 === 0 ? ',' : '.')) {
        await page.keyboard.press(key === ',' ? 'Comma' : key === '.' ? 'Period' : `Digit${key}`);
        await page.waitForTimeout(20 * 15 ** (random() ** 3)); // 20 to 300 ms, most of them quick
      }
      await page.keyboard.press('Enter');
      if (i === 50) {
        // A reload in the middle: what waits is still there, and the next cell is asked for.
        await page.reload();
        await page.waitForSelector('#bench-number');
        await page.getByLabel('Cell', { exact: true }).fill('Q051');
        await page.locator('#bench-number').focus();
      }
    }
    await expect.poll(() => page.evaluate(() => document.querySelector('nav .foot')?.textContent ?? ''), { timeout: 120000 }).toContain('all saved');
    expect(voltages(served.file)).toEqual(wanted);
  });

  it('asks about a reading three times off, and keeps it by one key more', async () => {
    const served = await start(fresh('cabin'));
    const page = await open(served);
    await go(page, 'receive');
    await page.getByText('What is asked for each cell').click();
    await page.locator('.order').getByRole('button', { name: 'Leave out' }).nth(1).click();
    await page.locator('.order li', { hasText: 'mass' }).getByRole('button', { name: 'Ask for it' }).click();
    await page.getByLabel('Cell', { exact: true }).fill('N1');
    await page.getByLabel('Cell', { exact: true }).press('Enter');
    expect(await page.evaluate(() => document.activeElement?.id)).toBe('bench-number');
    await page.keyboard.type('3.28');
    await page.keyboard.press('Enter');
    // Its voltage is on its way: its label's Enter leads to what is still empty.
    await page.getByLabel('Cell', { exact: true }).fill('N1');
    await page.getByLabel('Cell', { exact: true }).press('Enter');
    await page.getByLabel(/^mass/i).fill('19,5');
    await page.keyboard.press('Enter');
    await page.getByText(/Press Enter again to keep it/).waitFor();
    expect(await page.locator('#bench-number').inputValue()).toBe('19,5');
    await page.keyboard.press('Enter');
    await settled(page);
    expect(String(stored(served.file).cells).split('\n').find((l) => l.startsWith('N1,'))).toContain('19.5');
    // What is asked for is remembered.
    await page.reload();
    await page.waitForSelector('#bench-number');
    expect(await page.evaluate(() => localStorage.getItem('bench-order'))).toContain('mass_kg');
  });

  it('says in place what is refused, and goes on with the rest', async () => {
    const served = await start(fresh('cabin'));
    const page = await open(served);
    await go(page, 'receive');
    let first = true;
    await page.route('**/api/changes', (route) => {
      if (!first) return route.continue();
      first = false;
      return route.fulfill({ status: 422, contentType: 'application/json', body: JSON.stringify({ error: { where: '', line: 0, column: 0, found: 'a reading', expected: 'another', remedy: 'type it again' } }) });
    });
    await page.getByLabel('Cell', { exact: true }).fill('N1');
    await page.locator('#bench-number').fill('3.31');
    await page.keyboard.press('Enter');
    await page.getByLabel('Cell', { exact: true }).fill('N2');
    await page.getByLabel('Cell', { exact: true }).press('Enter');
    await page.locator('#bench-number').fill('3.32');
    await page.keyboard.press('Enter');
    await page.getByText(/N1, .*3.31 V is not saved/).waitFor();
    await expect.poll(() => voltages(served.file).get('N2')).toBe(3.32);
    await page.getByRole('button', { name: 'Correct it', exact: true }).click();
    expect(await page.locator('#bench-number').inputValue()).toBe('3.31');
    await page.keyboard.press('Enter');
    await expect.poll(() => voltages(served.file).get('N1')).toBe(3.31);
  });
});

describe('joints and sense leads', () => {
  it('are typed in at the bench, pin by pin and joint by joint, checked as they are typed', { timeout: 60000 }, async () => {
    const served = await start(fresh('cabin'));
    const page = await open(served, { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true });
    await go(page, 'commission?tab=pins');
    const box = page.locator('#pin-V');
    await box.fill('3,31');
    await page.getByText(/● step 3.31 V/).waitFor();
    await box.press('Enter');
    await box.fill('-6.61');
    await page.getByText(/The sign is turned/).waitFor();
    await box.fill('9,93');
    await page.getByText(/Two steps at once/).waitFor();
    for (const v of ['6,62', '9,93', '13,24', '16,55', '19,86', '23,17', '26,48']) {
      await box.fill(v);
      await box.press('Enter');
    }
    await settled(page);
    await page.getByText('every sense lead is where it should be').waitFor();
    await go(page, 'commission?tab=joints');
    await page.getByLabel('Current that flows').fill('20');
    const mV = page.locator('#joint-mV');
    for (const v of ['1,0', '2,4']) {
      await mV.fill(v);
      await mV.press('Enter');
    }
    await mV.fill('9');
    await page.getByText(/times the expected/).waitFor();
    await mV.press('Enter');
    await settled(page);
    await expect.poll(() => page.getByText(/3 of 9 joints are measured/).count()).toBe(1);
    const headers = await page.evaluate(async () => (await (await fetch('/api/series?name=joints.csv', { headers: { 'X-Packhouse': '1', 'X-Packhouse-Token': localStorage.getItem('packhouse-token') ?? '' } })).json()) as { text: string });
    expect(headers.text).toBe('joint,current_A,mV\nA-minus,20,1\nA-01/02,20,2.4\nA-02/03,20,9\n');
  });
});
