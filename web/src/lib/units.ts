// SPDX-License-Identifier: Apache-2.0
// Units as shown: the project keeps metric ones; a person may read and type others.

export type System = 'metric' | 'inch';

interface Other {
  unit: string;
  to: (x: number) => number;
  from: (x: number) => number;
  /** Factor for uncertainties: no zero point. */
  scale: number;
}
const by = (unit: string, scale: number): Other => ({
  unit,
  scale,
  to: (x) => x * scale,
  from: (x) => x / scale,
});
// Exact by definition: inch 25.4 mm, pound 0.45359237 kg [NIST SP 811, appendix B.8].
const others: Record<string, Other> = {
  mm: by('in', 1 / 25.4),
  m: by('ft', 1 / 0.3048),
  kg: by('lb', 1 / 0.45359237),
  'N·m': by('lbf·in', 1 / (0.45359237 * 9.80665 * 0.0254)),
  '°C': { unit: '°F', scale: 1.8, to: (x) => x * 1.8 + 32, from: (x) => (x - 32) / 1.8 },
  K: by('°F', 1.8),
};

/** Units of the register as they are printed. */
export const printedUnit = (unit: string): string => ({ mm2: 'mm²', m2: 'm²', C: '°C', Ohm: 'Ω', mOhm: 'mΩ', uOhm: 'µΩ', A2s: 'A²s', Nm: 'N·m' })[unit] ?? unit;

export interface Shown {
  value: number;
  u: number | null;
  unit: string;
}
export function shown(value: number, u: number | null, unit: string, system: System): Shown {
  const other = system === 'inch' ? others[unit] : undefined;
  if (!other) return { value, u, unit: unit === 'a' ? 'years' : unit };
  return { value: other.to(value), u: u === null ? null : u * other.scale, unit: other.unit };
}
export function shownUnit(unit: string, system: System): string {
  return (system === 'inch' && others[unit]?.unit) || unit;
}

// What may be typed behind a number, for a field of the unit on the left.
const typed: Record<string, Record<string, (x: number) => number>> = {
  mm: { cm: (x) => x * 10, m: (x) => x * 1000, in: (x) => x * 25.4, '"': (x) => x * 25.4 },
  m: { cm: (x) => x / 100, mm: (x) => x / 1000, ft: (x) => x * 0.3048, in: (x) => x * 0.0254 },
  kg: { g: (x) => x / 1000, lb: (x) => x * 0.45359237 },
  '°C': { f: (x) => (x - 32) / 1.8, '°f': (x) => (x - 32) / 1.8, c: (x) => x },
  V: { mv: (x) => x / 1000 },
  mV: { v: (x) => x * 1000 },
  mΩ: { ohm: (x) => x * 1000, 'ω': (x) => x * 1000, 'µω': (x) => x / 1000, uohm: (x) => x / 1000, mohm: (x) => x },
  A: { ma: (x) => x / 1000, ka: (x) => x * 1000 },
  mA: { a: (x) => x * 1000 },
  Ah: { mah: (x) => x / 1000 },
  W: { kw: (x) => x * 1000 },
  kWh: { wh: (x) => x / 1000, mwh: (x) => x * 1000 },
  h: { min: (x) => x / 60, d: (x) => x * 24 },
  s: { min: (x) => x * 60, h: (x) => x * 3600 },
  'N·m': { 'lbf·in': (x) => x * 0.1129848, 'in-lb': (x) => x * 0.1129848, nm: (x) => x },
};
/** From what was typed, with a unit behind it or the shown one, to the project's unit; null where the unit is none. */
export function fromTyped(value: number, suffix: string, unit: string, system: System): number | null {
  const word = suffix.trim().toLowerCase();
  if (word === '') {
    const other = system === 'inch' ? others[unit] : undefined;
    return other ? other.from(value) : value;
  }
  if (word === unit.toLowerCase() || word === '%' || (word === 'nm' && unit === 'N·m')) return value;
  const convert = typed[unit]?.[word];
  return convert ? convert(value) : null;
}
/** The number and what stands behind it. */
export function splitUnit(text: string): [string, string] {
  const match = /^\s*([+\-\u2212]?[\d.,'\s\u00a0\u202f]+(?:[eE][+-]?\d+)?)\s*(.*)$/.exec(text);
  return match ? [match[1] ?? '', match[2] ?? ''] : [text, ''];
}
