// SPDX-License-Identifier: Apache-2.0
import { beforeEach, describe, expect, it, vi } from 'vitest';

const stored = new Map<string, string>();
vi.stubGlobal('localStorage', { getItem: (k: string) => stored.get(k) ?? null, setItem: (k: string, v: string) => stored.set(k, v), removeItem: (k: string) => stored.delete(k) });
const { Entry, unsent } = await import('./entry.svelte');
type Value = string | number | null;

describe('a field', () => {
  let kept: Value = 1;
  const puts: [Value, Value][] = [];
  let answer: () => Promise<boolean> = () => Promise.resolve(true);
  const make = () => new Entry({
    key: 'k',
    kept: () => kept,
    read: (t) => (t === '' ? { value: null } : Number.isNaN(Number(t)) ? { problem: 'no number' } : { value: Number(t) }),
    put: (after, before) => { puts.push([after, before]); return answer().then((ok) => { kept = after; return ok; }); },
  });
  beforeEach(() => { stored.clear(); puts.length = 0; kept = 1; answer = () => Promise.resolve(true); });

  it('saves once, with what stood there when typing began', async () => {
    const e = make();
    e.begin('2');
    kept = 5; // somebody else, meanwhile
    await Promise.all([e.save(), e.save()]);
    expect(puts).toEqual([[2, 1]]);
    expect(e.editing).toBe(false);
    expect(stored.size).toBe(0);
  });
  it('keeps what is typed while it saves as an edit of its own', async () => {
    const e = make();
    e.begin('2');
    const saving = e.save();
    e.begin('23');
    await saving;
    expect([e.typed, e.editing]).toEqual(['23', true]);
    await e.save();
    expect(puts).toEqual([[2, 1], [23, 2]]);
  });
  it('sends what was confirmed while an earlier value was on its way, without being asked again', async () => {
    const e = make();
    e.begin('2');
    const saving = e.save();
    e.begin('23');
    await e.save(); // Enter, while the first is still on its way
    expect(puts).toEqual([[2, 1]]);
    await saving;
    expect(puts).toEqual([[2, 1], [23, 2]]);
    expect(stored.size).toBe(0);
  });
  it('sends after a reload what was confirmed and not acknowledged, and once only', async () => {
    const e = make();
    e.begin('9');
    answer = () => Promise.reject(new Error('gone'));
    await e.save();
    answer = () => Promise.resolve(true);
    puts.length = 0;
    make();
    for (const u of [...unsent]) void u.save();
    await new Promise((go) => setTimeout(go));
    expect(puts).toEqual([[9, 1]]);
    expect(stored.size).toBe(0);
  });
  it('keeps the draft where it cannot be saved, and says why', async () => {
    const e = make();
    e.begin('x');
    await e.save();
    expect(e.problem).toBe('no number');
    e.begin('7');
    answer = () => Promise.reject(new Error('gone'));
    await e.save();
    expect(e.problem).toContain('kept here');
    expect(make().typed).toBe('7');
  });
});
