// SPDX-License-Identifier: Apache-2.0
// A lot of cells pasted from a spreadsheet: which column is which, and what will be changed.
import type { Cell, CellNumber, Change } from './api';
import { parseNumber } from './numbers';
import { readTable } from './tables';

export interface Pasted {
  changes: Change[];
  heads: string[]; // as they stand in the rows; empty where there are none
  columns: string[]; // what each column was taken as; '' is passed over
  rows: string[][]; // the first of them, to be looked at
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
  u_Ah: /^(u[ _]?\(?ah|uncert|±)/,
  resistance_mOhm: /(dc.*res|res.*dc|^resistance)/,
  leak_mA: /(leak|self.?dis)/,
};
const order = ['label', 'lot', 'made', 'note', 'u_Ah', 'ac_resistance_mOhm', 'resistance_mOhm', 'leak_mA', 'mass_kg', 'thickness_mm', 'capacity_Ah', 'voltage_V'];

function meaning(header: string): string {
  const h = header.trim().toLowerCase();
  const exact = order.find((name) => name.toLowerCase() === h);
  return exact ?? order.find((name) => words[name]?.test(h)) ?? '';
}

/** What a column may be taken as. */
export const meanings = (numbers: readonly CellNumber[]): { name: string; text: string }[] => [
  { name: 'label', text: 'label of the cell' }, ...numbers.map((n) => ({ name: n.name, text: n.unit ? `${n.text}, ${n.unit}` : n.text })), { name: 'lot', text: 'lot' }, { name: 'made', text: 'date of manufacture' }, { name: 'note', text: 'note' },
];
export const headKey = (head: string): string => head.trim().toLowerCase();

/** Without a header row the first column is the label and the second the voltage. `mapped` says what heads mean that a person
 *  has settled (head in small letters → meaning, '' to pass over); it comes before what the words say. */
export function readPaste(text: string, cells: readonly Cell[], numbers: readonly CellNumber[], mapped: Readonly<Record<string, string>> = {}): Pasted {
  const rows = readTable(text);
  const result: Pasted = { changes: [], heads: [], columns: [], rows: [], added: 0, changed: 0, problems: [] };
  if (rows.length === 0) return { ...result, problems: ['There is no row in it.'] };
  const first = rows[0] ?? [];
  const head = first.map((h) => mapped[headKey(h)] ?? meaning(h));
  // A first row without any number is a row of heads, known or not.
  const headed = head.includes('label') || first.every((h) => parseNumber(h) === null && h.trim() !== '' && !/^[A-Za-z]+[-_]?\d+$/.test(h.trim()));
  result.heads = headed ? first.map((h) => h.trim()) : [];
  result.columns = headed ? (head.includes('label') ? head : head.map((h, k) => (k === 0 && h === '' && mapped[headKey(first[0] ?? '')] === undefined ? 'label' : h))) : ['label', 'voltage_V', ...first.slice(2).map((_, k) => mapped[`column ${k + 3}`] ?? '')];
  if (!headed) result.columns = result.columns.map((c, k) => mapped[`column ${k + 1}`] ?? c);
  result.rows = rows.slice(headed ? 1 : 0, headed ? 7 : 6);
  const twice = result.columns.find((c, k) => c !== '' && result.columns.indexOf(c) !== k);
  if (twice) return { ...result, problems: [`Two columns are taken as ${twice === 'label' ? 'the label' : (numbers.find((n) => n.name === twice)?.text ?? twice)}. Choose one of them.`] };
  if (!result.columns.includes('label')) return { ...result, problems: ['No column is taken as the label of the cell. Choose one.'] };
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
