// SPDX-License-Identifier: Apache-2.0
import { describe, expect, it } from 'vitest';
import { ReadingQueue, type Outcome, type Reading } from './queue';

const reading = (i: number, value = i): Reading => ({ id: `k${i}`, label: `C${i}`, name: 'voltage_V', value, before: null });
const box = (text: string | null = null): { text: string | null; load: () => string | null; save: (t: string) => void } => ({ text, load() { return this.text; }, save(t) { this.text = t; } });
const soon = (): Promise<void> => Promise.resolve();

describe('readings on their way', () => {
  it('arrive once each and in order, whatever the server does', async () => {
    let seed = 7;
    const random = (): number => ((seed = (seed * 1103515245 + 12345) % 2147483648) / 2147483648);
    for (let round = 0; round < 50; ++round) {
      const got: number[] = [];
      let done: () => void = () => undefined;
      const all = new Promise<void>((go) => (done = go));
      const queue = new ReadingQueue(box(), async (r): Promise<Outcome> => {
        for (let wait = Math.floor(random() * 6); wait > 0; --wait) await soon();
        if (random() < 0.3) return { as: 'away' };
        got.push(r.value);
        return { as: 'sent' };
      }, () => { if (got.length === 100) done(); }, soon);
      for (let i = 0; i < 100; ++i) {
        queue.add(reading(i));
        for (let wait = Math.floor(random() * 4); wait > 0; --wait) await soon();
      }
      await all;
      expect(got).toEqual(Array.from({ length: 100 }, (_, i) => i));
    }
  });
  it('outlive a reload', async () => {
    const store = box();
    const away = new ReadingQueue(store, () => new Promise(() => undefined), () => undefined, soon);
    for (let i = 0; i < 5; ++i) away.add(reading(i));
    const got: number[] = [];
    const next = new ReadingQueue(box(store.text), (r) => { got.push(r.value); return Promise.resolve({ as: 'sent' }); }, () => undefined, soon);
    expect(next.pending('C3', 'voltage_V')).toBe(3);
    await next.run();
    expect(got).toEqual([0, 1, 2, 3, 4]);
    expect(new ReadingQueue(box('not json'), () => Promise.resolve({ as: 'sent' }), () => undefined, soon).items).toEqual([]);
  });
  it('stand aside where they are refused, say why, and hold no other up', async () => {
    const got: string[] = [];
    const queue = new ReadingQueue(box(), (r) => { if (r.value === 1) return Promise.resolve({ as: 'refused', why: 'too much' }); got.push(r.label); return Promise.resolve({ as: 'sent' }); }, () => undefined, soon);
    for (let i = 0; i < 3; ++i) queue.add(reading(i));
    await new Promise((go) => setTimeout(go));
    expect(queue.items.map((r) => [r.label, r.why])).toEqual([['C1', 'too much']]);
    queue.add({ ...reading(1, 3.2), id: 'again' });
    await new Promise((go) => setTimeout(go));
    expect(queue.items).toEqual([]);
    expect(got).toEqual(['C0', 'C2', 'C1']);
  });
});
