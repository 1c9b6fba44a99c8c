// SPDX-License-Identifier: Apache-2.0
import { describe, expect, it } from 'vitest';
import { following, implausible, odd } from './bench';

describe('at the bench', () => {
  it('the next label follows its last number', () => {
    for (const [a, b] of [['C09', 'C10'], ['P1a', 'P2a'], ['099', '100'], ['crate', 'crate1'], ['A-7-009x', 'A-7-010x']] as const) expect(following(a)).toBe(b);
  });
  it('a reading three times off is asked about: against the lot where there is one, else against the sheet', () => {
    const lot = [3.28, 3.281, 3.279];
    expect(implausible(3.3, 'V', lot, null)).toBe('');
    expect(implausible(32.8, 'V', lot, null)).toContain('10 times this lot’s 3.28 V');
    expect(implausible(0.328, 'V', lot, null)).toContain('1/10 of this lot’s');
    expect(implausible(41, 'kg', [], 4.1)).toContain('10 times the sheet’s 4.1 kg');
    expect(implausible(4.2, 'kg', [], 4.1)).toBe('');
    expect(implausible(99, 'mm', [], null)).toBe('');
    expect(implausible(-3.28, 'V', lot, null)).toContain('lies below');
  });
  it('a low cell is said at once, an unlike one against its lot', () => {
    expect(odd('voltage_V', 1.9, 'V', [])?.tone).toBe('stop');
    expect(odd('voltage_V', 2.4, 'V', [])?.tone).toBe('caution');
    expect(odd('mass_kg', 4.11, 'kg', [4.1, 4.11, 4.12, 4.1, 4.11, 4.12, 4.1, 4.11])).toBeNull();
    expect(odd('mass_kg', 4.6, 'kg', [4.1, 4.11, 4.12, 4.1, 4.11, 4.12, 4.1, 4.11])?.text).toContain('Far from this lot’s 4.11 kg');
  });
});
