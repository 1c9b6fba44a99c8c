// SPDX-License-Identifier: Apache-2.0
// A table of readings that is typed in row by row (joints, sense pins). What is typed stands at once and is kept in the
// browser until the whole table is on disk; typing never waits for it.
import { get, Refused } from './api';
import { desk } from './desk.svelte';
import { readTable, writePlainCsv } from './tables';

export class Rows {
  rows = $state.raw<string[][]>([]);
  loaded = $state(false);
  waiting = $state(false);
  problem = $state('');
  private dirty = false;
  private running = false;

  constructor(private readonly name: string, private readonly head: string[], private readonly keys: number) {}
  private get store(): string {
    return `rows:${desk.state?.file ?? ''}:${this.name}`;
  }
  async load(): Promise<void> {
    const kept = localStorage.getItem(this.store);
    if (kept !== null) {
      this.rows = readTable(kept).slice(1);
      this.dirty = true;
    }
    let there: string[][] = [];
    try {
      const table = readTable((await get<{ text: string | null }>('series', { name: this.name })).text ?? '');
      const at = this.head.map((h) => (table[0] ?? []).findIndex((c) => c.trim() === h));
      there = table.slice(1).map((r) => at.map((k) => (k < 0 ? '' : (r[k] ?? '').trim())));
    } catch (error) {
      if (!(error instanceof Refused)) {
        desk.fail(error);
        setTimeout(() => void this.load(), 1500);
        return;
      } // a table that is not there is empty
    }
    // What was typed while this was asked for, or waits from before, stands over what is there.
    const mine = new Set(this.rows.map((r) => r.slice(0, this.keys).join('\n')));
    this.rows = [...there.filter((r) => !mine.has(r.slice(0, this.keys).join('\n'))), ...this.rows];
    this.loaded = true;
    if (this.dirty) await this.send();
  }
  find(...key: string[]): string[] | undefined {
    return this.rows.find((r) => key.every((k, i) => r[i] === k));
  }
  put(row: string[]): void {
    const same = (r: string[]): boolean => r.slice(0, this.keys).every((k, i) => k === row[i]);
    this.rows = this.rows.some(same) ? this.rows.map((r) => (same(r) ? row : r)) : [...this.rows, row];
    this.changed();
  }
  remove(...key: string[]): void {
    this.rows = this.rows.filter((r) => !key.every((k, i) => r[i] === k));
    this.changed();
  }
  private changed(): void {
    this.dirty = true;
    localStorage.setItem(this.store, writePlainCsv([this.head, ...this.rows]));
    if (this.loaded) void this.send(); // else it is sent with what is there already
  }
  private async send(): Promise<void> {
    if (this.running) return;
    this.running = this.waiting = true;
    try {
      while (this.dirty) {
        this.dirty = false;
        this.problem = '';
        const text = this.rows.length === 0 ? null : writePlainCsv([this.head, ...this.rows]);
        try {
          await desk.change([{ what: 'series', name: this.name, after: text }], this.name === 'joints.csv' ? 'joint readings' : 'sense lead readings');
        } catch (error) {
          if (error instanceof Refused) {
            this.problem = error.message;
            return;
          }
          this.dirty = true;
          await new Promise((go) => setTimeout(go, 900));
        }
      }
      localStorage.removeItem(this.store);
    } finally {
      this.running = this.waiting = false;
    }
  }
}
export const joints = new Rows('joints.csv', ['joint', 'current_A', 'mV'], 1);
export const pins = new Rows('sense.csv', ['pack', 'pin', 'volts'], 2);
