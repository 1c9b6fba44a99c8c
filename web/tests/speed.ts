// SPDX-License-Identifier: Apache-2.0
// How fast the page is, as ratios against the figures asked for (perf/page). Never asserted.
import { writeFileSync } from 'node:fs';
import { join } from 'node:path';
import { spawnSync } from 'node:child_process';
import { browser, command, enter, example, folder, serve, tidy } from './server';

const median = (list: number[]): number => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)] ?? NaN;
const line = (what: string, ms: number, asked: number): void => console.log(`${what.padEnd(62)} ${ms.toFixed(1).padStart(8)} ms   asked ${String(asked).padStart(5)} ms   ${(ms / asked).toFixed(2).padStart(5)} x`);

const home = folder();
const b = await browser();

/** From asking for the page until a person can use it: the path is there and the sentence of the step too. */
async function first(file: string, times: number): Promise<number[]> {
  const took: number[] = [];
  for (let i = 0; i < times; ++i) {
    const served = await serve(file);
    const context = await b.newContext();
    const page = await context.newPage();
    await page.goto('about:blank');
    const began = performance.now();
    await page.goto(served.link, { waitUntil: 'commit' });
    await page.waitForFunction(() => (document.querySelector('main .lead')?.textContent ?? '').length > 20 && document.querySelectorAll('nav ol li').length === 12, undefined, { polling: 'raf' });
    took.push(performance.now() - began);
    await context.close();
    await served.stop();
  }
  return took;
}

const smallholding = example('smallholding', home);
line('first page usable, fresh browser, smallholding (median of 7)', median(await first(smallholding, 7)), 1000);

// 522 cells for fifteen packs of sixteen pairs, as measured elsewhere.
const text = join(home, 'large');
spawnSync(command, ['export', smallholding, text]);
const { readFileSync, rmSync } = await import('node:fs');
let seed = 1;
const random = (): number => ((seed = (seed * 1103515245 + 12345) % 2147483648) / 2147483648);
const normal = (): number => Math.sqrt(-2 * Math.log(random() + 1e-12)) * Math.cos(2 * Math.PI * random());
rmSync(join(text, 'logs'), { recursive: true });
writeFileSync(join(text, 'project.toml'), readFileSync(join(text, 'project.toml'), 'utf8').replace(/^packs = .*$/m, 'packs = 15').replace(/^parallel = .*$/m, 'parallel = 2').replace(/^power_W = .*$/m, 'power_W = 60000'));
rmSync(join(text, 'runs.csv'), { force: true });
rmSync(join(text, 'devices.csv'), { force: true });
writeFileSync(join(text, 'cells.csv'), 'label,lot,voltage_V,capacity_Ah,u_Ah,resistance_mOhm\n' + Array.from({ length: 522 }, (_, i) => `L${String(i + 1).padStart(3, '0')},lot,3.28,${(232 + 3.5 * normal()).toFixed(2)},0.7,${(0.42 + 0.01 * normal()).toFixed(4)}`).join('\n') + '\n');
const large = join(home, 'large.packhouse');
const made = spawnSync(command, ['import', text, large], { encoding: 'utf8' });
if (made.status !== 0) throw new Error(made.stderr);
line('first page usable, 522 cells (median of 5)', median(await first(large, 5)), 1000);

for (const [file, what] of [[smallholding, 'smallholding'], [large, '522 cells']] as const) {
  const served = await serve(file);
  const headers = await enter(served);
  const ask = async (path: string, body: unknown): Promise<Response> => fetch(served.address + path, { method: 'POST', headers, body: JSON.stringify(body) });
  const plan = (await (await fetch(`${served.address}/api/plan`, { headers })).json()) as { plan: { match: { arrangement: { packs: { groups: { cells: string[] }[] }[] } } } };
  const cells = plan.plan.match.arrangement.packs.flatMap((p) => p.groups.flatMap((g) => g.cells));
  for (const [path, words] of [['/api/what-if/places', 'what an exchange would do'], ['/api/exchange', 'an exchange, kept on disk']] as const) {
    const took: number[] = [];
    for (let i = 0; i < 50; ++i) {
      const began = performance.now();
      const answer = await ask(path, { a: cells[i % cells.length], b: cells[(i * 7 + 3) % cells.length] });
      await answer.text();
      if (answer.status !== 200) throw new Error(`${path} ${answer.status}`);
      took.push(performance.now() - began);
    }
    line(`${words}, ${what} (median of 50)`, median(took), 50);
  }
  const took: number[] = [];
  for (let i = 0; i < 20; ++i) {
    const began = performance.now();
    await (await ask('/api/what-if/plan', { changes: [{ what: 'setting', name: 'use.rate_percent', after: 2 + i / 10 }] })).text();
    took.push(performance.now() - began);
  }
  line(`a slider under Forecast, ${what} (median of 20)`, median(took), 200);
  await served.stop();
}

// A swap as a person sees it: from letting go of the second cell until it stands there.
const served = await serve(smallholding);
const page = await (await b.newContext({ viewport: { width: 1600, height: 1300 } })).newPage();
await page.goto(served.link);
await page.evaluate(() => { location.hash = '/match'; });
await page.waitForSelector('g[data-cell]');
const seen = await page.evaluate(async () => {
  const took: number[] = [];
  for (let i = 0; i < 50; ++i) {
    const cells = [...document.querySelectorAll<SVGGElement>('g[data-cell]')];
    const a = cells[i % cells.length], c = cells[(i * 7 + 3) % cells.length];
    if (!a || !c || a === c) continue;
    const label = c.dataset.cell ?? '';
    const press = (e: Element): void => { e.dispatchEvent(new KeyboardEvent('keydown', { key: ' ', bubbles: true })); };
    press(a);
    await new Promise((go) => requestAnimationFrame(go));
    const began = performance.now();
    press(c);
    while ([...document.querySelectorAll<SVGGElement>('g[data-cell]')][i % cells.length]?.dataset.cell !== label) {
      await new Promise((go) => setTimeout(go, 1));
      if (performance.now() - began > 3000) break;
    }
    took.push(performance.now() - began);
    await new Promise((go) => setTimeout(go, 250));
  }
  return took;
});
line('a swap as it is seen, smallholding (median of 50)', median(seen), 50);
await served.stop();
await b.close();
tidy(home);
