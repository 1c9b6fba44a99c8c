// SPDX-License-Identifier: Apache-2.0
// A second browser: Firefox as Debian has it, driven by WebDriver BiDi (https://w3c.github.io/webdriver-bidi).
import { spawn, type ChildProcess } from 'node:child_process';
import { existsSync, mkdtempSync, rmSync } from 'node:fs';
import { createRequire } from 'node:module';
import { tmpdir } from 'node:os';
import { join } from 'node:path';

export const firefox = process.env.FIREFOX ?? '/usr/bin/firefox-esr';
export const installed = existsSync(firefox);

interface Socket { on: (event: string, then: (data: Buffer) => void) => void; send: (text: string) => void; close: () => void }
const { ws } = createRequire(import.meta.url)('playwright-core/lib/utilsBundle') as { ws: new (address: string) => Socket };

export class Firefox {
  faults: string[] = [];
  private next = 1;
  private readonly waiting = new Map<number, { done: (value: unknown) => void; fail: (error: Error) => void }>();
  private context = '';
  private constructor(private readonly process: ChildProcess, private readonly socket: Socket, private readonly profile: string) {
    socket.on('message', (data) => {
      const m = JSON.parse(data.toString()) as { id?: number; result?: unknown; error?: string; message?: string; method?: string; params?: { level?: string; text?: string } };
      if (m.method === 'log.entryAdded' && m.params?.level === 'error') this.faults.push(m.params.text ?? '');
      const w = m.id === undefined ? undefined : this.waiting.get(m.id);
      if (!w) return;
      if (m.error) w.fail(new Error(`${m.error}: ${m.message}`));
      else w.done(m.result);
    });
  }
  static async start(): Promise<Firefox> {
    const profile = mkdtempSync(join(tmpdir(), 'packhouse-firefox-'));
    const child = spawn(firefox, ['--headless', '--no-remote', '--remote-debugging-port', '0', '--profile', profile], { stdio: ['ignore', 'ignore', 'pipe'] });
    const address = await new Promise<string>((done, fail) => {
      let said = '';
      child.stderr.on('data', (d: Buffer) => {
        said += d.toString();
        const at = /WebDriver BiDi listening on (ws:\S+)/.exec(said)?.[1];
        if (at) done(at);
      });
      child.on('exit', () => fail(new Error(`Firefox ended: ${said}`)));
      setTimeout(() => fail(new Error(`Firefox did not start: ${said}`)), 60000).unref();
    });
    const socket = new ws(`${address}/session`);
    await new Promise<void>((done) => socket.on('open', () => done()));
    const browser = new Firefox(child, socket, profile);
    await browser.send('session.new', { capabilities: {} });
    await browser.send('session.subscribe', { events: ['log.entryAdded'] });
    browser.context = (await browser.send<{ contexts: { context: string }[] }>('browsingContext.getTree', {})).contexts[0]?.context ?? '';
    return browser;
  }
  send<T>(method: string, params: object): Promise<T> {
    const id = this.next++;
    return new Promise<T>((done, fail) => {
      this.waiting.set(id, { done: done as (value: unknown) => void, fail });
      this.socket.send(JSON.stringify({ id, method, params }));
    });
  }
  async go(url: string): Promise<void> {
    await this.send('browsingContext.navigate', { context: this.context, url, wait: 'complete' });
  }
  async size(width: number, height: number): Promise<void> {
    await this.send('browsingContext.setViewport', { context: this.context, viewport: { width, height } });
  }
  /** A value from the page; what is asked for must be a string or a number. */
  async ask<T extends string | number>(expression: string): Promise<T> {
    const answer = await this.send<{ type: string; result: { value?: unknown }; exceptionDetails?: { text: string } }>('script.evaluate', { expression, target: { context: this.context }, awaitPromise: true });
    if (answer.type !== 'success') throw new Error(answer.exceptionDetails?.text ?? 'no answer');
    return answer.result.value as T;
  }
  async stop(): Promise<void> {
    this.socket.close();
    await new Promise<void>((done) => { this.process.removeAllListeners('exit'); this.process.on('exit', () => done()); this.process.kill('SIGTERM'); });
    rmSync(this.profile, { recursive: true, force: true });
  }
}
