// SPDX-License-Identifier: Apache-2.0
// The bench's readings on their way to the server, kept in this browser until each is on disk.
import { Conflicted, Gone, newKey, post, Refused, Stranger, Turned } from './api';
import type { Change } from './api';
import { desk } from './desk.svelte';
import { ReadingQueue, type Outcome, type Reading } from './queue';

class Outbox {
  items = $state.raw<Reading[]>([]);
  private readonly queue: ReadingQueue;
  private missed = 0;

  constructor() {
    // One store a project: another file opened in the same browser gets none of it.
    const key = (): string => `bench-queue:${desk.state?.file ?? ''}`;
    this.queue = new ReadingQueue(
      { load: () => localStorage.getItem(key()), save: (text) => (text === '[]' ? localStorage.removeItem(key()) : localStorage.setItem(key(), text)) },
      (reading, keep) => this.send(reading, keep),
      () => (this.items = [...this.queue.items]),
      () => new Promise((go) => setTimeout(go, 700)),
    );
    this.items = [...this.queue.items];
  }
  get waiting(): number {
    return this.items.filter((r) => r.why === undefined).length;
  }
  get refused(): Reading[] {
    return this.items.filter((r) => r.why !== undefined);
  }
  add(label: string, name: string, value: number): void {
    const kept = (desk.project?.cells.find((c) => c.label === label) as Record<string, unknown> | undefined)?.[name];
    this.queue.add({ id: newKey(), label, name, value, before: this.queue.pending(label, name) ?? (typeof kept === 'number' ? kept : null) });
  }
  drop(id: string): void {
    this.queue.drop(id);
  }
  pending(label: string, name: string): number | undefined {
    return this.items.filter((r) => r.why === undefined && r.label === label && r.name === name).at(-1)?.value;
  }
  resume(): void {
    void this.queue.run();
  }

  private async send(r: Reading, keep: () => void): Promise<Outcome> {
    const text = desk.known?.cell_numbers.find((n) => n.name === r.name)?.text ?? r.name;
    const there = desk.project?.cells.some((c) => c.label === r.label);
    const change: Change = there ? { what: 'cell', name: r.label, field: r.name, before: r.before, after: r.value } : { what: 'cell', name: r.label, before: null, after: { label: r.label, [r.name]: r.value } };
    if (r.request === undefined) {
      r.request = JSON.stringify({ changes: [change], words: `${text} of ${r.label}`, key: r.id });
      keep();
    }
    try {
      const { revision } = await post<{ revision: number }>('changes', JSON.parse(r.request) as Record<string, unknown>);
      this.missed = 0;
      await desk.refreshAfter(revision).catch((e: unknown) => desk.fail(e)); // it is on disk; only the view is late
      return { as: 'sent' };
    } catch (error) {
      if (error instanceof Refused) return { as: 'refused', why: `${error.problem.found}. Expected: ${error.problem.expected}.` };
      if (error instanceof Conflicted) {
        await desk.settle(error.conflict, [change], `${text} of ${r.label}`);
        return { as: 'sent' };
      }
      if (error instanceof Turned && error.status !== 429 && error.status < 500) return { as: 'refused', why: error.message };
      // One answer that is lost is no server that has stopped: that is said once several are.
      if (error instanceof Stranger || (error instanceof Gone && ++this.missed >= 3)) desk.fail(error);
      return { as: 'away' };
    }
  }
}

let made: Outbox | null = null;
/** Made once the project's name is known. */
export const outbox = {
  get box(): Outbox {
    return (made ??= new Outbox());
  },
  get waiting(): number {
    return desk.state ? this.box.waiting : 0;
  },
};
