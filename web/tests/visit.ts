// SPDX-License-Identifier: Apache-2.0
// What tests in the browser share: programs on projects of their own, pages that must not fail, what is on disk.
import { spawnSync } from 'node:child_process';
import { mkdirSync, readFileSync } from 'node:fs';
import { join } from 'node:path';
import type { Browser, BrowserContext, Page } from 'playwright-core';
import { expect } from 'vitest';
import { browser, command, example, folder, serve, tidy, type Served } from './server';

export let b: Browser;
export let home: string;
const running: Served[] = [];
export const contexts: BrowserContext[] = [];
const faults: string[] = [];

export async function before(): Promise<void> {
  home = folder();
  b = await browser();
}
/** After each test: everything is closed, and no page failed or asked another host. */
export async function after(): Promise<void> {
  for (const c of contexts.splice(0)) await c.close();
  for (const s of running.splice(0)) await s.stop();
  expect(faults.splice(0)).toEqual([]);
}
export async function end(): Promise<void> {
  await b.close();
  tidy(home);
}

export async function start(file: string, args: string[] = []): Promise<Served> {
  const served = await serve(file, args);
  running.push(served);
  return served;
}
let number = 0;
export const fresh = (name: string): string => {
  const into = join(home, String(number++));
  mkdirSync(into);
  return name === '' ? join(into, 'new.packhouse') : example(name, into);
};
/** A page that fails the test for any error in it and any request to another host. */
export async function open(served: Served, options: Parameters<Browser['newContext']>[0] = {}): Promise<Page> {
  const context = await b.newContext({ acceptDownloads: true, ...options });
  contexts.push(context);
  const page = await context.newPage();
  watch(page, served);
  await page.goto(served.link);
  return page;
}
export function watch(page: Page, served: Served): void {
  page.setDefaultTimeout(25000);
  page.on('pageerror', (error) => faults.push(String(error)));
  page.on('request', (request) => {
    const url = new URL(request.url());
    if (url.protocol.startsWith('http') && url.origin !== served.address) faults.push(`asked ${request.url()}`);
  });
}

export const go = async (page: Page, path: string): Promise<void> => {
  await page.evaluate((to) => { location.hash = to; }, `/${path}`);
  await page.waitForSelector('h1');
};
export const settled = async (page: Page): Promise<void> => {
  await page.waitForFunction(() => document.querySelector('nav .foot')?.textContent?.includes('all saved'));
};
export const stored = (file: string): Record<string, unknown> => {
  const out = join(home, `text-${number++}`);
  const run = spawnSync(command, ['export', file, out], { encoding: 'utf8' });
  expect(run.stderr).toBe('');
  return { toml: readFileSync(join(out, 'project.toml'), 'utf8'), cells: readFileSync(join(out, 'cells.csv'), 'utf8') };
};
