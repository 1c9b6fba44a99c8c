// SPDX-License-Identifier: Apache-2.0
import { describe, expect, it } from 'vitest';
import type { Cell, CellNumber } from './api';
import { readPaste } from './paste';
import { harmless, readTable, writeCsv, writePlainCsv, writeTabs } from './tables';

describe('a table', () => {
  it('is read with tabs, semicolons or commas, quotes and any line end', () => {
    expect(readTable('a\tb\r\n1\t2\r\n')).toEqual([['a', 'b'], ['1', '2']]);
    expect(readTable('\ufeffa;b\n1,5;2')).toEqual([['a', 'b'], ['1,5', '2']]);
    expect(readTable('a,"b,""c"\n\n1,"x\ny"')).toEqual([['a', 'b,"c'], ['1', 'x\ny']]);
    expect(readTable('')).toEqual([]);
  });
  it('comes back as it was written', () => {
    const rows = [['label', 'note'], ['C01', 'a, "b"'], ['C02', 'two\nlines']];
    expect(readTable(writePlainCsv(rows))).toEqual(rows);
  });
  it('runs nothing in a spreadsheet, and leaves numbers numbers', () => {
    for (const bad of ['=HYPERLINK("x")', '+cmd', '-cmd', '@x', '\tx', '\uff1dx']) expect(harmless(bad)).toBe(`'${bad}`);
    for (const good of ['-12.5', '\u221212.5', '+3', 'C01', '', '1e-3']) expect(harmless(good)).toBe(good);
    expect(writeCsv([['=1+1', '\u221212.5']])).toBe("'=1+1,-12.5\r\n");
    expect(writeTabs([['a\tb', '=x']])).toBe("a b\t'=x");
  });
});

const numbers: CellNumber[] = [
  { name: 'voltage_V', unit: 'V', text: 'voltage at arrival', min: -1, max: 6 },
  { name: 'mass_kg', unit: 'kg', text: 'mass', min: 0, max: 1000 },
];
const cell = (label: string, voltage_V: number | null): Cell => ({ label, lot: null, made: null, note: null, voltage_V, ac_resistance_mOhm: null, mass_kg: null, thickness_mm: null, capacity_Ah: null, u_Ah: null, resistance_mOhm: null, leak_mA: null });

describe('a lot pasted from a spreadsheet', () => {
  it('finds its columns by their heads, adds what is new and changes what differs', () => {
    const p = readPaste('Cell\tVoltage [V]\tmass_kg\tremark\nC01\t3,291\t4,1\tok\nC02\t3.28\t4.2\t', [cell('C01', 3.291), cell('C03', 3.3)], numbers);
    expect(p.columns).toEqual(['label', 'voltage_V', 'mass_kg', 'note']);
    expect(p.problems).toEqual([]);
    expect([p.added, p.changed]).toEqual([1, 1]);
    expect(p.changes).toContainEqual({ what: 'cell', name: 'C02', after: { label: 'C02', voltage_V: 3.28, mass_kg: 4.2 } });
    expect(p.changes).toContainEqual({ what: 'cell', name: 'C01', field: 'mass_kg', before: null, after: 4.1 });
    expect(p.changes.some((c) => c.field === 'voltage_V')).toBe(false);
  });
  it('takes two bare columns as label and voltage', () => {
    const p = readPaste('A1\t3.29\nA2\t3.30', [], numbers);
    expect(p.added).toBe(2);
    expect(p.changes[0]).toEqual({ what: 'cell', name: 'A1', after: { label: 'A1', voltage_V: 3.29 } });
  });
  it('says row by row what it leaves out', () => {
    const p = readPaste('label\tvoltage_V\nC01\tthree\nC02\t3290\n\t3.2\nC03\t3.3\nC03\t3.3', [], numbers);
    expect(p.added).toBe(1);
    expect(p.problems.map((x) => x.slice(0, 6))).toEqual(['Row 2:', 'Row 3:', 'Row 4:', 'Row 6:']);
  });
  it('takes no row with more fields than heads: a decimal comma between commas would be two', () => {
    const p = readPaste('label,voltage_V,mass_kg\nC01,3,280,4,1\nC02,3.28,4.1', [], numbers);
    expect(p.added).toBe(1);
    expect(p.problems[0]).toContain('Row 2: 5 fields under 3 heads');
  });
  it('lets a head that nobody knows be settled by hand, once', () => {
    const rows = 'Zelle\tRi\tUo\nC01\t4,2\t3,29';
    expect(readPaste(rows, [], numbers).columns).toEqual(['label', '', '']);
    expect(readPaste(rows, [], numbers).rows).toEqual([['C01', '4,2', '3,29']]);
    const p = readPaste(rows, [], numbers, { ri: 'mass_kg', uo: 'voltage_V' });
    expect(p.changes[0]).toEqual({ what: 'cell', name: 'C01', after: { label: 'C01', mass_kg: 4.2, voltage_V: 3.29 } });
    expect(readPaste(rows, [], numbers, { ri: 'voltage_V', uo: 'voltage_V' }).problems[0]).toContain('Two columns');
    expect(readPaste('A1\t3.29\t4.1', [], numbers, { 'column 3': 'mass_kg' }).changes[0]?.after).toEqual({ label: 'A1', voltage_V: 3.29, mass_kg: 4.1 });
    expect(readPaste('kg\tnumber plate\n4\tx1', [], numbers, { 'number plate': '', kg: 'mass_kg' }).problems[0]).toContain('No column is taken as the label');
  });
  it('finds nothing in nothing', () => {
    expect(readPaste(' \n', [], numbers).problems).toHaveLength(1);
  });
});
