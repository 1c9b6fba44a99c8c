// SPDX-License-Identifier: Apache-2.0
// For tests: the real program on a project of its own, and a browser of Debian's.
import { spawn, spawnSync, type ChildProcess } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { tmpdir } from 'node:os';
import { join } from 'node:path';
import { chromium, type Browser } from 'playwright-core';

const root = new URL('../..', import.meta.url).pathname;
export const command = process.env.PACKHOUSE ?? ['build-test/packhouse', 'build/packhouse'].map((p) => join(root, p)).find((p) => existsSync(p)) ?? 'packhouse';

export interface Served {
  address: string; // http://127.0.0.1:PORT
  link: string;
  port: number;
  file: string;
  folder: string;
  lan: string;
  process: ChildProcess;
  stop: () => Promise<void>;
}

export const folder = (): string => mkdtempSync(join(tmpdir(), 'packhouse-web-'));

/** A project file of an invented example. */
export function example(name: string, into: string): string {
  const text = join(into, name);
  const file = join(into, `${name}.packhouse`);
  for (const args of [['example', name, text], ['import', text, file]]) {
    const run = spawnSync(command, args, { encoding: 'utf8' });
    if (run.status !== 0) throw new Error(run.stderr);
  }
  return file;
}

export async function serve(file: string, args: string[] = []): Promise<Served> {
  const child = spawn(command, ['serve', file, '--no-open', ...args], { stdio: ['ignore', 'pipe', 'pipe'] });
  let said = '';
  let wrong = '';
  child.stderr.on('data', (d: Buffer) => (wrong += d.toString()));
  const link = await new Promise<string>((done, fail) => {
    child.stdout.on('data', (d: Buffer) => {
      said += d.toString();
      if (said.includes('Ctrl+C')) done(said.split('\n')[0] ?? '');
    });
    child.on('exit', (code) => fail(new Error(`ended with ${code}: ${wrong}`)));
    setTimeout(() => fail(new Error(`did not start: ${said}${wrong}`)), 20000).unref();
  });
  const address = link.slice(0, link.indexOf('/#'));
  return {
    address,
    link,
    port: Number(address.slice(address.lastIndexOf(':') + 1)),
    file,
    folder: file.slice(0, file.lastIndexOf('/')),
    lan: /Other devices: (\S+)/.exec(said)?.[1] ?? '',
    process: child,
    stop: () => new Promise((done) => {
      if (child.exitCode !== null) return done();
      child.removeAllListeners('exit');
      child.on('exit', () => done());
      child.kill('SIGTERM');
    }),
  };
}

export async function browser(): Promise<Browser> {
  return chromium.launch({
    executablePath: process.env.CHROMIUM ?? '/usr/bin/chromium',
    args: ['--no-sandbox', '--disable-gpu', '--disable-quic', '--no-first-run', '--disable-background-networking', '--disable-component-update', '--disable-sync'],
  });
}

/** A token by the link's key, for requests without a page. */
export async function enter(served: Served): Promise<Record<string, string>> {
  const headers = { 'X-Packhouse': '1', Origin: served.address, 'Content-Type': 'application/json' };
  const answer = await fetch(`${served.address}/api/enter`, { method: 'POST', headers, body: JSON.stringify({ key: served.link.split('key=')[1] }) });
  const { token } = (await answer.json()) as { token: string };
  return { ...headers, 'X-Packhouse-Token': token };
}
export const tidy = (path: string): void => rmSync(path, { recursive: true, force: true });
