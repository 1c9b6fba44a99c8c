// SPDX-License-Identifier: Apache-2.0
import { describe, expect, it } from 'vitest';
import { layoutsFor, layoutWords, seriesFor } from './layouts';

describe('from the need to a layout', () => {
  it('4, 8 and 16 cells in series make 12, 24 and 48 V', () => {
    expect([12, 24, 48].map((v) => seriesFor(v as 12))).toEqual([4, 8, 16]);
  });
  it('gives the ways to lay out the fewest strings that hold what is wanted', () => {
    // 16 × 3.2 V × 280 Ah = 14.336 kWh a string: 20 kWh wants two.
    const all = layoutsFor(48, 20, 280);
    expect(all.map((l) => [l.packs, l.series, l.parallel, l.cells])).toEqual([[2, 16, 1, 32], [1, 16, 2, 32]]);
    expect(all[0]?.nominal_kWh).toBeCloseTo(28.672, 6);
    expect(layoutsFor(48, 14.336, 280).map((l) => l.cells)).toEqual([16]);
    expect(layoutsFor(48, 20, 280, 20).map((l) => l.cells)).toEqual([16]); // no more than there are
    expect(layoutsFor(48, 20, 280, 8)).toEqual([]);
    expect(layoutsFor(12, 0, 100)).toEqual([]);
  });
  it('says what each costs', () => {
    expect(layoutWords({ packs: 1, series: 16, parallel: 2, cells: 32, nominal_kWh: 28.7 })).toContain('2 cells in parallel are seen as one: a weak one hides');
    expect(layoutWords({ packs: 2, series: 16, parallel: 1, cells: 32, nominal_kWh: 28.7 })).toContain('2 BMS, 2 pack fuses');
  });
});
