// SPDX-License-Identifier: Apache-2.0
// Readings on their way: kept in the order in which they were typed, sent one after the other, each until it is
// acknowledged. What is kept outlives a reload. Knows no page and no server: both are passed in.

export interface Reading {
  id: string; // also the key under which the server makes it once only
  label: string;
  name: string; // the field: voltage_V
  value: number;
  /** What stood there when it was typed, for two who edit one thing; null where nothing did. */
  before: number | null;
  why?: string; // why it was refused
  request?: string; // as it was first sent: sent again under its key it must be the same
}
export interface Store {
  load: () => string | null;
  save: (text: string) => void;
}
/** 'sent': it is on disk, or settled otherwise. 'refused': it will not be taken as it is. 'away': try later. */
export type Outcome = { as: 'sent' } | { as: 'refused'; why: string } | { as: 'away' };

export class ReadingQueue {
  items: Reading[] = [];
  private running = false;

  constructor(private readonly store: Store, private readonly send: (reading: Reading, keep: () => void) => Promise<Outcome>, private readonly changed: () => void, private readonly pause: () => Promise<void>) {
    try {
      const kept = JSON.parse(store.load() ?? '[]') as unknown;
      if (Array.isArray(kept)) this.items = kept.filter((r): r is Reading => typeof r === 'object' && r !== null && typeof (r as Reading).label === 'string' && typeof (r as Reading).value === 'number');
    } catch {
      /* what cannot be read is none */
    }
  }
  private keep(): void {
    this.store.save(JSON.stringify(this.items));
    this.changed();
  }
  add(reading: Reading): void {
    // An earlier reading of the same field that was refused is replaced by this one.
    this.items = this.items.filter((r) => !(r.why !== undefined && r.label === reading.label && r.name === reading.name));
    this.items.push(reading);
    this.keep();
    void this.run();
  }
  drop(id: string): void {
    this.items = this.items.filter((r) => r.id !== id);
    this.keep();
  }
  /** The value that is on its way to a field; undefined where none is. */
  pending(label: string, name: string): number | undefined {
    return this.items.filter((r) => r.why === undefined && r.label === label && r.name === name).at(-1)?.value;
  }
  async run(): Promise<void> {
    if (this.running) return;
    this.running = true;
    try {
      for (;;) {
        const next = this.items.find((r) => r.why === undefined);
        if (!next) return;
        const outcome = await this.send(next, () => this.keep());
        if (outcome.as === 'sent') this.items = this.items.filter((r) => r.id !== next.id);
        else if (outcome.as === 'refused') this.items = this.items.map((r) => (r.id === next.id ? { ...r, why: outcome.why } : r));
        else await this.pause();
        this.keep();
      }
    } finally {
      this.running = false;
    }
  }
}
