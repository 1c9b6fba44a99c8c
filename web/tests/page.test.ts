// SPDX-License-Identifier: Apache-2.0
// The page as people use it, in a real browser on the real program.
import { spawnSync } from 'node:child_process';
import { readdirSync, readFileSync, writeFileSync } from 'node:fs';
import { createServer } from 'node:http';
import { join } from 'node:path';
import type { Page } from 'playwright-core';
import { afterAll, afterEach, beforeAll, describe, expect, it } from 'vitest';
import { command, enter, serve } from './server';
import { pages } from './shots';
import { after, b, before, contexts, end, fresh, go, home, open, settled, start, stored, watch } from './visit';

beforeAll(before);
afterEach(after);
afterAll(end);

describe('the whole job', () => {
  it('goes from an empty project to the book by clicks and keys alone', { timeout: 120000 }, async () => {
    const logs = join(home, 'cabin-logs');
    spawnSync(command, ['example', 'cabin', logs]);
    const served = await start(fresh(''));
    const page = await open(served);
    // Begin.
    await page.getByLabel('Name of the bank').fill('Shed');
    await page.getByLabel('Rated capacity of a cell').fill('105');
    await page.getByLabel('DC resistance of a cell').fill('0,8');
    await page.getByLabel('Continuous power of the bank').fill('800');
    await page.getByLabel('Groups in series').fill('4');
    await page.getByRole('button', { name: 'Begin', exact: true }).click();
    await page.getByRole('heading', { name: /^Brief/ }).waitFor();
    // Brief: a comma, a unit behind, Enter.
    await page.getByLabel(/power for ten seconds/i).fill('1,2 kW');
    await page.keyboard.press('Enter');
    await settled(page);
    // Choose: an offer.
    await page.keyboard.press('Escape');
    await page.locator('main').focus();
    await page.keyboard.press('n');
    await page.getByRole('button', { name: 'Add an offer' }).click();
    await page.getByLabel('What you call it').fill('From the neighbour');
    await page.getByLabel(/^price of one cell/).fill('35');
    await page.getByLabel(/^cells/).fill('6');
    await page.getByRole('button', { name: 'Save' }).click();
    await page.getByText('● chosen').waitFor();
    // Order says how many.
    await go(page, 'order');
    await page.getByText(/odds/).first().waitFor();
    // Receive: six cells by the keyboard.
    await go(page, 'receive');
    await page.getByLabel('Cell', { exact: true }).fill('C01');
    await page.locator('#bench-number').focus();
    for (let i = 0; i < 6; ++i) {
      await page.keyboard.type(`3,2${80 + i}`);
      await page.keyboard.press('Enter');
      await page.keyboard.type('0,4');
      await page.keyboard.press('Enter');
    }
    // Test: the testers' logs, dropped and kept.
    await go(page, 'test?tab=logs');
    await page.locator('input[type=file][multiple]').setInputFiles(['C01', 'C02', 'C03', 'C04', 'C05', 'C06'].map((c) => join(logs, 'logs', `${c}.csv`)));
    await page.getByRole('button', { name: /Keep all 6/ }).click();
    await page.getByText('6 logs are kept').waitFor();
    await settled(page);
    await page.getByText(/6 of 6 cells tested/).waitFor();
    // Match: four placed; one exchanged by keys.
    await go(page, 'match');
    const first = page.locator('g[data-cell]').first();
    const label = await first.getAttribute('data-cell');
    await first.focus();
    await page.keyboard.press('Space');
    await page.keyboard.press('ArrowRight');
    await page.keyboard.press('Space');
    await page.getByText(/changed places/).waitFor();
    await page.waitForFunction((l) => document.querySelectorAll('g[data-cell]')[0]?.getAttribute('data-cell') !== l, label);
    // Wire: the main run gets a length.
    await go(page, 'wire');
    await page.getByRole('button', { name: /mm² main/ }).first().click();
    await page.getByLabel(/length, one way/).fill('1.5');
    await page.getByRole('button', { name: 'Save', exact: true }).click();
    await page.getByRole('dialog').waitFor({ state: 'hidden' });
    await settled(page);
    // Commission: a step is signed.
    await go(page, 'commission?tab=lists');
    await page.getByLabel('You sign as').fill('Somebody');
    await page.locator('details:has(.title) > summary').first().click();
    const sign = page.locator('details:has(.title) li').first();
    await sign.getByRole('button', { name: /^Sign/ }).click();
    const note = page.getByLabel(/^(Note|What opened)/);
    await note.fill('as it should be');
    if (await page.getByLabel(/^Reading/).count()) await page.getByLabel(/^Reading/).fill('3.3');
    await page.getByRole('button', { name: 'Sign as Somebody' }).click();
    await page.getByText(/● Somebody, /).waitFor();
    // Forecast, then the book: shown in a frame, saved as PDF.
    await go(page, 'forecast');
    await page.getByText(/would be left after/).first().waitFor();
    await go(page, 'book');
    await page.getByRole('button', { name: 'Show the book' }).click();
    await page.frameLocator('iframe').getByRole('heading', { name: 'Shed' }).first().waitFor({ timeout: 30000 });
    const download = page.waitForEvent('download', { timeout: 30000 });
    await page.getByRole('button', { name: 'Save as PDF' }).click();
    const pdf = readFileSync(await (await download).path());
    expect(pdf.subarray(0, 5).toString()).toBe('%PDF-');
    expect(stored(served.file).cells).toContain('C06');
  });
});

describe('at the bench', () => {
  it('takes sixteen cells on a phone by the keyboard: type, Enter, next cell', async () => {
    const served = await start(fresh(''));
    const page = await open(served, { viewport: { width: 390, height: 844 }, hasTouch: true, isMobile: true });
    await page.getByLabel('Rated capacity of a cell').fill('100');
    await page.getByLabel('DC resistance of a cell').fill('0.5');
    await page.getByLabel('Continuous power of the bank').fill('2000');
    await page.getByRole('button', { name: 'Begin', exact: true }).click();
    await page.getByRole('heading', { name: /^Brief/ }).waitFor();
    await go(page, 'receive');
    await page.getByText('What is asked for each cell').click();
    await page.locator('.order').getByRole('button', { name: 'Leave out' }).nth(1).click(); // voltage only
    await page.getByLabel('Cell', { exact: true }).fill('P01');
    await page.locator('#bench-number').focus();
    for (let i = 1; i <= 16; ++i) {
      await page.keyboard.type(`3,${3000 + i}`.replace('3,3', '3,2'));
      await page.keyboard.press('Enter');
    }
    const box = await page.locator('#bench-number').boundingBox();
    expect(box?.height).toBeGreaterThanOrEqual(44);
    expect(await page.evaluate(() => document.documentElement.scrollWidth)).toBeLessThanOrEqual(390);
    await settled(page);
    const cells = String(stored(served.file).cells).trim().split('\n').slice(1);
    expect(cells).toHaveLength(16);
    expect(cells[0]).toMatch(/^P01,,3\.2001,/);
    expect(cells[15]).toMatch(/^P16,,3\.2016,/);
  });

  it('says at once what is odd, and keeps what was typed through a closed tab', async () => {
    const served = await start(fresh('cabin'));
    const page = await open(served);
    await go(page, 'receive');
    await page.locator('#bench-number').fill('1,8');
    await page.getByText(/Below 2 V/).waitFor();
    await page.locator('#bench-number').fill('three');
    await page.locator('#bench-number').press('Enter');
    await page.getByText(/is not a number/).waitFor();
    await page.locator('#bench-number').fill('3,2');
    await page.reload();
    await go(page, 'receive');
    await expect.poll(() => page.locator('#bench-number').inputValue()).toBe('3,2');
  });

  it('takes a lot pasted from a spreadsheet', async () => {
    const served = await start(fresh('cabin'));
    const page = await open(served);
    await go(page, 'receive');
    await page.getByRole('button', { name: 'Paste from a spreadsheet' }).click();
    await page.getByRole('textbox', { name: 'The copied rows' }).fill('label\tvoltage_V\tmass_kg\nN1\t3,3\t2,0\nN2\t3.31\t2.1\nN3\tx\t2');
    await page.getByText(/2 cells are new, 0 change/).waitFor();
    await page.getByText(/Row 4: “x”/).waitFor();
    await page.getByRole('button', { name: 'Keep 2 cells' }).click();
    await settled(page);
    expect(stored(served.file).cells).toContain('N2,,3.31,,2.1');
  });
});

describe('places', () => {
  it('are exchanged by dragging, and taken back', async () => {
    const served = await start(fresh('smallholding'));
    const page = await open(served, { viewport: { width: 1600, height: 1400 } });
    await go(page, 'match');
    const labels = (): Promise<string[]> => page.locator('g[data-cell]').evaluateAll((all) => all.map((g) => g.getAttribute('data-cell') ?? ''));
    await page.locator('g[data-cell]').first().waitFor();
    const before = await labels();
    const cells = page.locator('g[data-cell]');
    await cells.nth(20).scrollIntoViewIfNeeded();
    const from = await cells.nth(0).boundingBox(), to = await cells.nth(20).boundingBox();
    if (!from || !to) throw new Error('no cells');
    await page.mouse.move(from.x + from.width / 2, from.y + from.height / 2);
    await page.mouse.down();
    await page.mouse.move(from.x + from.width / 2 + 20, from.y + from.height / 2 + 5, { steps: 3 });
    await page.mouse.move(to.x + to.width / 2, to.y + to.height / 2, { steps: 6 });
    await page.getByText(/If .* changed places/).waitFor();
    await page.mouse.up();
    await page.getByText(`${before[0]} and ${before[20]} changed places`).waitFor();
    await expect.poll(async () => (await labels())[0]).toBe(before[20]);
    await settled(page);
    expect((await labels())[20]).toBe(before[0]);
    expect((await labels()).filter((l, i) => l !== before[i])).toHaveLength(2);
    await page.getByText('Arranged by hand').waitFor();
    await page.locator('main').focus();
    await page.keyboard.press('Control+z');
    await expect.poll(labels).toEqual(before);
    await page.keyboard.press('Control+Shift+z');
    await expect.poll(async () => (await labels())[0]).toBe(before[20]);
    expect(stored(served.file).toml).toContain('places = ');
  });

  it('can be pinned and left out by keys, and compared', async () => {
    const served = await start(fresh('smallholding'));
    const page = await open(served);
    await go(page, 'match');
    await page.getByRole('button', { name: 'Lay this one aside' }).click();
    const cell = page.locator('g[data-cell]').nth(3);
    const label = await cell.getAttribute('data-cell');
    await cell.focus();
    await page.keyboard.press('i');
    await page.getByText(`${label} is pinned at`).waitFor();
    const out = await page.locator('g[data-cell]').nth(5).getAttribute('data-cell');
    await page.locator('g[data-cell]').nth(5).focus();
    await page.keyboard.press('o');
    await page.getByRole('button', { name: `${out} – bring back` }).waitFor();
    await expect.poll(() => page.locator(`g[data-cell="${out}"]`).count()).toBe(0);
    await page.getByRole('row', { name: /Arrangement 1/ }).waitFor();
    const toml = String(stored(served.file).toml);
    expect(toml).toContain(`fixed = "${label}@`);
    expect(toml).toContain(`kept_out = "${out}"`);
  });
});

describe('two at once', () => {
  it('see each other’s edits, and choose when they edit one thing', async () => {
    const served = await start(fresh('cabin'));
    const one = await open(served);
    await go(one, 'brief');
    const two = await one.context().newPage();
    watch(two, served);
    await two.goto(`${served.address}/#/brief`);
    const field = (p: Page) => p.getByLabel(/continuous design power/i);
    await field(two).waitFor();
    // One begins to write, two saves meanwhile.
    await field(one).fill('1111');
    await field(two).fill('2222');
    await field(two).press('Enter');
    await settled(two);
    await expect.poll(() => one.evaluate(() => document.querySelector('nav .foot')?.textContent)).toContain('typed, not saved');
    await field(one).press('Enter');
    const dialog = one.getByRole('dialog', { name: /Changed elsewhere/ });
    await dialog.getByText('2222').waitFor();
    await dialog.getByText('1111').waitFor();
    await dialog.getByRole('button', { name: 'Use mine' }).click();
    await expect.poll(() => field(two).inputValue()).toBe('1111');
    // And the other way: theirs is kept.
    await field(one).fill('3333');
    await field(two).fill('4444');
    await field(two).press('Enter');
    await settled(two);
    await field(one).press('Enter');
    await one.getByRole('button', { name: 'Keep theirs' }).click();
    await settled(one);
    expect(stored(served.file).toml).toContain('power_W = 4444');
  });
});

describe('a server that ends', () => {
  it('leaves what was typed in the page, says so, and takes it up again', { timeout: 60000 }, async () => {
    const file = fresh('cabin');
    const served = await serve(file);
    const page = await open(served);
    await go(page, 'brief');
    await page.getByLabel(/continuous design power/i).fill('1234');
    await served.stop();
    await page.getByText('Packhouse has stopped.').waitFor();
    await page.getByLabel(/continuous design power/i).press('Enter');
    await page.getByText(/kept here/).waitFor();
    expect(stored(file).toml).not.toContain('1234');
    const again = await start(file, ['--port', String(served.port)]);
    const other = await page.context().newPage();
    watch(other, again);
    await other.goto(again.link);
    await other.getByRole('main').waitFor();
    // The first tab takes the new token up by itself; its field still has what was typed.
    await expect.poll(() => page.getByText('Packhouse has stopped.').count(), { timeout: 10000 }).toBe(0);
    await expect.poll(() => page.getByLabel(/continuous design power/i).inputValue()).toBe('1234');
    await page.getByLabel(/continuous design power/i).press('Enter');
    await settled(page);
    expect(stored(file).toml).toContain('power_W = 1234');
  });

  it('does not let a stranger in', async () => {
    const served = await start(fresh('cabin'));
    await open(served);
    const context = await b.newContext();
    contexts.push(context);
    const stranger = await context.newPage();
    await stranger.goto(served.link); // the same link, used before
    await stranger.getByText('This page needs the link').waitFor();
    expect(await stranger.locator('nav').count()).toBe(0);
  });
});

describe('bad input', () => {
  const corpus = ['<img src=x onerror=window.hurt=1>', '"><svg/onload=window.hurt=1>', "'; DROP TABLE cell;--", '=HYPERLINK("http://x")', '\u202eevil', 'a\u200bb', '🔋 Ω', '{{7*7}}', '${1+1}', '</script><script>window.hurt=1</script>', 'x'.repeat(200), "javascript:window.hurt=1"];
  it('shows every label as it is, on every page, in the book and its frame', { timeout: 120000 }, async () => {
    const served = await start(fresh('smallholding'));
    const headers = await enter(served);
    // Signs that nobody sees or that turn the writing round are refused in a label, and stay what they are in a note.
    const labels = corpus.filter((l) => !/[\u200b\u202e]/.test(l));
    for (const label of corpus.filter((l) => !labels.includes(l))) {
      const no = await fetch(`${served.address}/api/changes`, { method: 'POST', headers, body: JSON.stringify({ changes: [{ what: 'cell', name: label, after: { label } }] }) });
      expect(no.status, label).toBe(422);
    }
    const changes = labels.map((label, i) => ({ what: 'cell', name: label, after: { label, lot: corpus[(i + 1) % corpus.length]?.slice(0, 100), note: corpus[(i + 2) % corpus.length], voltage_V: 3.28, capacity_Ah: 231 + i / 10, u_Ah: 0.5, resistance_mOhm: 0.42 } }));
    changes.push({ what: 'setting', name: 'project.name', after: corpus[0] } as never, { what: 'setting', name: 'project.note', after: corpus[1] } as never);
    const put = await fetch(`${served.address}/api/changes`, { method: 'POST', headers, body: JSON.stringify({ changes, words: corpus[0] }) });
    expect(put.status, await put.text()).toBe(200);
    const long = await fetch(`${served.address}/api/changes`, { method: 'POST', headers, body: JSON.stringify({ changes: [{ what: 'cell', name: 'y'.repeat(10000), after: { label: 'y'.repeat(10000) } }] }) });
    expect(long.status).toBe(422);
    const { key } = (await (await fetch(`${served.address}/api/link`, { method: 'POST', headers, body: '{}' })).json()) as { key: string };
    const context = await b.newContext();
    contexts.push(context);
    const page = await context.newPage();
    watch(page, served);
    await page.goto(`${served.address}/#key=${key}`);
    for (const name of pages) {
      await go(page, name);
      await page.waitForTimeout(150);
      expect(await page.evaluate(() => (window as unknown as { hurt?: number }).hurt), name).toBeUndefined();
      expect(await page.locator('main img[src="x"], main svg[onload]').count(), name).toBe(0);
    }
    expect(await page.title()).toContain(corpus[0]);
    await go(page, 'receive');
    await page.getByRole('button', { name: '<img src=x onerror=window.hurt=1>', exact: true }).first().click();
    await page.getByRole('dialog').getByText(`Cell ${corpus[0]}`).waitFor();
    await page.keyboard.press('Escape');
    await go(page, 'book');
    await page.getByRole('button', { name: 'Show the book' }).click();
    const frame = page.frameLocator('iframe');
    await frame.getByText(corpus[1] as string).first().waitFor({ timeout: 30000 });
    expect(await page.evaluate(() => (window as unknown as { hurt?: number }).hurt)).toBeUndefined();
    const cells = String(stored(served.file).cells);
    for (const label of labels.filter((l) => !/[",\n]/.test(l) && !/^[=+\-@]/.test(l))) expect(cells).toContain(label);
  });

  it('keeps a file that cannot be used out, and says why', async () => {
    const served = await start(fresh('cabin'));
    const page = await open(served);
    await go(page, 'test?tab=logs');
    const drop = page.locator('input[type=file][multiple]');
    const put = async (name: string, bytes: Buffer): Promise<void> => drop.setInputFiles({ name, mimeType: 'text/csv', buffer: bytes });
    await put('empty.csv', Buffer.from(''));
    await page.getByRole('region', { name: 'empty.csv' }).getByText('cannot be read').waitFor();
    await put('cut.csv', Buffer.from('time_s,voltage_V,current_A\n0,3.3,0\n60,3.'));
    await page.getByRole('region', { name: 'cut.csv' }).getByText(/read|cannot be read/).first().waitFor();
    await put('picture.csv', Buffer.from([0x89, 0x50, 0x4e, 0x47, 0, 0, 0, 1, 2, 3]));
    await page.getByRole('region', { name: 'picture.csv' }).getByText('cannot be read').waitFor();
    await put('two.csv', Buffer.from('time;voltage;current\n01/02/2024 10:00;3.3;1\n02/02/2024 10:00;3.2;1\n03/02/2024 10:00;3.1;1\n'));
    await page.getByRole('region', { name: 'two.csv' }).locator('.box, [role=alert], strong').first().waitFor();
    const large = join(home, 'large.csv');
    writeFileSync(large, Buffer.alloc(65 * 1024 * 1024, '1,2,3\n'));
    await drop.setInputFiles(large);
    await page.getByRole('region', { name: 'large.csv' }).getByText(/too large/).waitFor();
    expect(await page.evaluate(() => (document.querySelector('nav .foot')?.textContent ?? '').includes('all saved'))).toBe(true);
    await go(page, 'size');
    await page.getByRole('listitem').filter({ hasText: 'prices.csv' }).locator('input[type=file]').setInputFiles({ name: 'prices.csv', mimeType: 'text/csv', buffer: Buffer.from('what,is\nthis,now\n') });
    await page.waitForTimeout(500);
    expect(String(stored(served.file).toml)).toContain('[project]');
  });

  it('asks where a log can be read in two ways, and takes the answer', async () => {
    const served = await start(fresh('cabin'));
    const page = await open(served);
    await go(page, 'test?tab=logs');
    const log = Buffer.from(`Zeit;Spannung;Strom\n${Array.from({ length: 200 }, (_, i) => `${i * 60};3,${300 - i};${i < 100 ? '5,0' : '-5,0'}`).join('\n')}\n`);
    await page.locator('input[type=file][multiple]').setInputFiles({ name: 'Z1.csv', mimeType: 'text/csv', buffer: log });
    const entry = page.getByRole('region', { name: 'Z1.csv' });
    await entry.getByText('can be read in two ways').waitFor();
    await entry.getByRole('button', { name: /Use this reading.*time in s, current in A/ }).click();
    await entry.getByRole('button', { name: /Use this reading.*positive current discharges/ }).click(); // it asks one thing at a time
    await entry.getByText('200 rows').first().waitFor();
    await entry.getByRole('button', { name: /^Keep and add cell Z1/ }).click();
    await entry.getByText(/^●\s*kept$/).waitFor();
    const toml = String(stored(served.file).toml);
    expect(toml).toContain('columns = "time=Zeit[s]; current=Strom[A]"');
    expect(toml).toContain('sign = "discharge-positive"');
  });

  it('refuses a value outside its range in words, in the field', async () => {
    const served = await start(fresh('cabin'));
    const page = await open(served);
    await go(page, 'brief');
    const field = page.getByLabel(/continuous design power/i);
    await field.fill('-5');
    await field.press('Enter');
    await page.getByText(/Expected: .*number from 1 to/).waitFor();
    await field.fill('abc');
    await field.press('Enter');
    await page.getByText('is not a number').waitFor();
    await field.press('Escape');
    expect(await field.inputValue()).not.toBe('abc');
  });
});

describe('a hostile page in the same browser', () => {
  it('reads nothing and changes nothing', async () => {
    const served = await start(fresh('cabin'));
    const page = await open(served);
    await page.getByText('Where it stands').waitFor();
    const before = stored(served.file);
    const target = served.address;
    const evil = createServer((_, response) => {
      response.setHeader('Content-Type', 'text/html');
      response.end(`<!doctype html><title>evil</title>
        <form id="f" method="post" enctype="text/plain" target="sink" action="${target}/api/changes"><input name='{"changes":[{"what":"setting","name":"bus.power_W","after":1}],"x":"' value='"}'></form>
        <iframe name="sink"></iframe><iframe id="framed" src="${target}/"></iframe>
        <script>window.got = [];</script>
        <script src="${target}/api/state" onload="got.push('script')"></script>
        <img src="${target}/icon.svg" onload="got.push('img')">`);
    });
    await new Promise<void>((done) => evil.listen(0, '127.0.0.1', done));
    const port = (evil.address() as { port: number }).port;
    // The same browser, so what cookies or storage there were would be at hand.
    const hostile = await page.context().newPage();
    await hostile.goto(`http://127.0.0.1:${port}/`);
    await hostile.evaluate(async (to) => {
      const got = (window as unknown as { got: string[] }).got;
      const body = JSON.stringify({ changes: [{ what: 'setting', name: 'bus.power_W', after: 1 }] });
      const tries: [string, RequestInit][] = [
        ['/api/state', {}], ['/api/project', { credentials: 'include' }], ['/', {}],
        ['/api/state', { headers: { 'X-Packhouse': '1' } }],
        ['/api/changes', { method: 'POST', body }], ['/api/changes', { method: 'POST', body, headers: { 'Content-Type': 'application/json', 'X-Packhouse': '1' } }],
        ['/api/enter', { method: 'POST', body: '{"key":"0"}' }], ['/api/events', {}],
      ];
      for (const [path, init] of tries) {
        try { const r = await fetch(to + path, init); got.push(`read ${path} ${r.status} ${(await r.text()).length}`); } catch { /* as it should be */ }
        try { const r = await fetch(to + path, { ...init, mode: 'no-cors', headers: {} }); if (r.type !== 'opaque') got.push(`no-cors ${path}`); } catch { /* as it should be */ }
      }
      (document.getElementById('f') as HTMLFormElement).submit();
      await new Promise((done) => setTimeout(done, 500));
      try { if ((document.getElementById('framed') as HTMLIFrameElement).contentDocument?.body.textContent) got.push('frame'); } catch { /* as it should be */ }
    }, target);
    expect(await hostile.evaluate(() => (window as unknown as { got: string[] }).got)).toEqual([]);
    const framed = hostile.frames().find((f) => f.url().startsWith(target));
    if (framed) expect(await framed.locator('nav, h1').count()).toBe(0);
    // Another server on another port gets no cookie of ours: there is none.
    expect(await page.context().cookies()).toEqual([]);
    expect(stored(served.file)).toEqual(before);
    await new Promise((done) => evil.close(done));
  });
});

describe('what the page is made of', () => {
  it('weighs less than 450 kB in all, gzipped, and is what web/dist holds', () => {
    const run = spawnSync(command, ['serve', '--parts'], { encoding: 'utf8' });
    const parts = [...run.stdout.matchAll(/^(\S+)\s+(\d+) bytes, (\d+) gzipped$/gm)].map((m) => ({ path: m[1] ?? '', raw: Number(m[2]), gz: Number(m[3]) }));
    expect(parts.reduce((sum, p) => sum + p.gz, 0)).toBeLessThan(450 * 1024);
    expect(parts.length).toBeLessThan(14);
    const dist = new URL('../dist/', import.meta.url).pathname;
    const files = readdirSync(dist, { recursive: true, withFileTypes: true }).filter((f) => f.isFile()).map((f) => join(f.parentPath ?? f.path, f.name));
    expect(parts.map((p) => p.path).sort()).toEqual(files.map((f) => f.slice(dist.length - 1)).sort());
    for (const p of parts) expect(p.raw, p.path).toBe(readFileSync(join(dist, p.path)).length);
    const text = files.filter((f) => /\.(js|html|css)$/.test(f)).map((f) => readFileSync(f, 'utf8')).join('\n');
    const addresses = [...text.matchAll(/https?:\/\/[a-z0-9.-]+/gi)].map((m) => m[0]).filter((a) => !/w3\.org|svelte\.dev|127\.0\.0\.1|echarts|github\.com|localhost/.test(a));
    expect(addresses).toEqual([]);
    expect(text).not.toMatch(/@import/);
    // The type family comes from the program itself.
    expect([...text.matchAll(/@font-face\s*{[^}]*}/g)].every((m) => /url\("?\/assets\/page-[^)]*\.woff2"?\)/.test(m[0]) || /url\("?\.\/page/.test(m[0]))).toBe(true);
    expect(text).toMatch(/@font-face/);
  });

  it('stays smooth with half a million points: the server thins, no peak is lost', { timeout: 60000 }, async () => {
    const file = fresh('cabin');
    const served = await start(file);
    const headers = await enter(served);
    await fetch(`${served.address}/api/changes`, { method: 'POST', headers, body: JSON.stringify({ changes: [{ what: 'setting', name: 'logs.sign', after: 'discharge-positive' }] }) });
    const rows = ['time_s,voltage_V,current_A'];
    for (let i = 0; i < 500000; ++i) rows.push(`${i},${i === 271828 ? '2.600' : (3.3 + 0.05 * Math.sin(i / 9000)).toFixed(4)},${i % 20000 < 10000 ? '5.0' : '-5.0'}`);
    const keep = await fetch(`${served.address}/api/logs/keep?name=C01.csv`, { method: 'POST', headers: { ...headers, 'Content-Type': 'application/octet-stream' }, body: rows.join('\n') });
    expect(keep.status, await keep.text()).toBe(200);
    const ask = async (query: string): Promise<{ rows: number; lines: { time_s: number[]; values: number[] }[] }> => (await fetch(`${served.address}/api/logs?name=C01.csv&points=2000${query}`, { headers })).json() as never;
    const whole = await ask('');
    expect(whole.lines[0]?.values.length).toBeLessThanOrEqual(2000);
    const near = await ask('&from=271000&to=272500');
    expect(near.rows).toBeLessThan(whole.rows);
    // The dip of one row stays, unless the reader took it for dirt and said so: then nothing dips at all.
    const dips = [Math.min(...(whole.lines[0]?.values ?? [])), Math.min(...(near.lines[0]?.values ?? []))];
    expect(Math.abs((dips[0] ?? 0) - (dips[1] ?? 1)) < 0.06 || dips[0] === 2.6).toBe(true);
  });

  it('prints without what is only for the screen', async () => {
    const served = await start(fresh('smallholding'));
    const page = await open(served);
    await go(page, 'commission');
    await page.emulateMedia({ media: 'print' });
    expect(await page.locator('nav').isVisible()).toBe(false);
    expect(await page.locator('main button:visible').count()).toBe(0);
    expect(await page.getByRole('heading', { name: /^Commission/ }).isVisible()).toBe(true);
  });
});
