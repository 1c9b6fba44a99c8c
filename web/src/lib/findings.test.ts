// SPDX-License-Identifier: Apache-2.0
import { describe, expect, it } from 'vitest';
import type { Finding } from './api';
import { causes, counted, placeWords } from './findings';

const finding = (id: string, severity: Finding['severity'], where: string): Finding => ({ id, severity, what: id, where, measured: '', limit: '', why: '', remedy: '', basis: '' });

describe('findings', () => {
  it('of one cause are one, with all its places; the worst comes first', () => {
    const list = causes([finding('note-1', 'note', ''), finding('lead-reversed', 'stop', 'A, pin 2'), finding('cold', 'caution', 'C1'), finding('lead-reversed', 'stop', 'A, pin 3'), finding('lead-reversed', 'stop', 'A, pin 3')]);
    expect(list.map((c) => [c.id, c.findings.length])).toEqual([['lead-reversed', 3], ['cold', 1], ['note-1', 1]]);
    expect(list[0]?.places).toEqual(['A, pin 2', 'A, pin 3']);
  });
  it('are counted in words', () => {
    expect(counted([])).toBe('');
    expect(counted([finding('a', 'note', '')])).toBe('1 note');
    expect(counted([finding('a', 'note', ''), finding('b', 'stop', ''), finding('c', 'caution', ''), finding('d', 'caution', '')])).toBe('1 stop, 2 cautions and 1 note');
  });
  it('name a setting by its words, never by its key', () => {
    const settings = [{ path: 'wiring.pack_fuse_A', text: 'rating of each pack’s fuse' }];
    expect(placeWords('[wiring] pack_fuse_A', settings)).toBe('rating of each pack’s fuse');
    expect(placeWords('[wiring] other_thing_A', settings)).toBe('other thing A');
    expect(placeWords('[layout]', settings)).toBe('');
    expect(placeWords('C07', settings)).toBe('C07');
  });
});
