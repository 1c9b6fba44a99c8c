// SPDX-License-Identifier: Apache-2.0
// A lot of cells pasted from a spreadsheet: which column is which, and what will be changed.
import type { Cell, CellNumber, Change } from './api';
import { parseNumber } from './numbers';
import { readTable } from './tables';

export interface Pasted {
  changes: Change[];
  columns: string[]; // what each column was taken as; '' is passed over
  added: number;
  changed: number;
  problems: string[];
}

const words: Record<string, RegExp> = {
  label: /^(label|cell|name|id|nr|no|zelle|#)$/,
  lot: /^(lot|batch|crate|charge|seller)$/,
  made: /^(made|date|built|produced)/,
  note: /^(note|remark|comment)/,
  voltage_V: /^(voltage|volt|ocv|u)\b|_v$|\[v\]|\(v\)/,
  ac_resistance_mOhm: /(ac|1 ?khz|impedance|\bir\b)/,
  mass_kg: /(mass|weight|kg)/,
  thickness_mm: /(thick|mm)/,
  capacity_Ah: /(capac|ah)/,
  u_Ah: /^(u|uncert)/,
  resistance_mOhm: /(dc.*res|res.*dc|^resistance)/,
  leak_mA: /(leak|self.?dis)/,
};
const order = ['label', 'lot', 'made', 'note', 'u_Ah', 'ac_resistance_mOhm', 'resistance_mOhm', 'leak_mA', 'mass_kg', 'thickness_mm', 'capacity_Ah', 'voltage_V'];

function meaning(header: string): string {
  const h = header.trim().toLowerCase();
  const exact = order.find((name) => name.toLowerCase() === h);
  return exact ?? order.find((name) => words[name]?.test(h)) ?? '';
}

/** Without a header row the first column is the label and the second the voltage. */
export function readPaste(text: string, cells: readonly Cell[], numbers: readonly CellNumber[]): Pasted {
  const rows = readTable(text);
  const result: Pasted = { changes: [], columns: [], added: 0, changed: 0, problems: [] };
  if (rows.length === 0) return { ...result, problems: ['There is no row in it.'] };
  const head = (rows[0] ?? []).map(meaning);
  const headed = head.includes('label');
  result.columns = headed ? head : ['label', 'voltage_V', ...(rows[0] ?? []).slice(2).map(() => '')];
  const byLabel = new Map(cells.map((c) => [c.label, c]));
  const seen = new Set<string>();
  rows.slice(headed ? 1 : 0).forEach((row, i) => {
    const line = i + (headed ? 2 : 1);
    const fields: Record<string, string | number | null> = {};
    let ok = true;
    if (row.length > result.columns.length) {
      result.problems.push(`Row ${line}: ${row.length} fields under ${result.columns.length} heads; are there decimal commas between commas?`);
      return;
    }
    result.columns.forEach((name, k) => {
      const raw = (row[k] ?? '').trim();
      if (name === '' || raw === '') return;
      const number = numbers.find((n) => n.name === name);
      if (!number) {
        fields[name] = raw;
        return;
      }
      const value = parseNumber(raw);
      if (value === null || value < number.min || value > number.max) {
        result.problems.push(`Row ${line}: “${raw}” as ${number.text}; expected ${number.min} to ${number.max} ${number.unit}.`);
        ok = false;
      } else fields[name] = value;
    });
    const label = String(fields.label ?? '');
    if (label === '') result.problems.push(`Row ${line}: no label.`), (ok = false);
    if (seen.has(label)) result.problems.push(`Row ${line}: “${label}” stands twice.`), (ok = false);
    seen.add(label);
    if (!ok) return;
    const before = byLabel.get(label);
    if (!before) {
      result.changes.push({ what: 'cell', name: label, after: fields });
      ++result.added;
      return;
    }
    let touched = false;
    for (const [name, value] of Object.entries(fields)) {
      if (name === 'label' || before[name as keyof Cell] === value) continue;
      result.changes.push({ what: 'cell', name: label, field: name, before: before[name as keyof Cell], after: value });
      touched = true;
    }
    if (touched) ++result.changed;
  });
  return result;
}
