// SPDX-License-Identifier: Apache-2.0
// At the bench: what comes next, and whether a reading can be meant as it was typed. Knows no page.
import { short } from './numbers';

/** "C09" → "C10". */
export function following(label: string): string {
  const m = /^(.*?)(\d+)(\D*)$/.exec(label);
  return m ? `${m[1]}${String(Number(m[2]) + 1).padStart((m[2] ?? '').length, '0')}${m[3]}` : `${label}1`;
}

const median = (list: readonly number[]): number => [...list].sort((a, b) => a - b)[Math.floor(list.length / 2)] ?? 0;

/** The question to ask where a value is three times off the lot (three readings or more) or the sheet; '' where none. */
export function implausible(value: number, unit: string, others: readonly number[], sheet: number | null): string {
  const usual = others.length >= 3 ? median(others) : sheet;
  if (usual === null || !(usual > 0)) return '';
  const ratio = value / usual;
  if (ratio < 3 && ratio > 1 / 3) return '';
  const times = ratio >= 3 ? `${short(ratio, 2)} times` : value > 0 ? `1/${short(1 / ratio, 2)} of` : '';
  return `${short(value, 5)} ${unit}${times ? ` is ${times} ${others.length >= 3 ? 'this lot’s' : 'the sheet’s'} ${short(usual, 4)} ${unit}` : ` lies below ${others.length >= 3 ? 'this lot’s' : 'the sheet’s'} ${short(usual, 4)} ${unit}`}. Press Enter again to keep it, or correct it.`;
}

/** What looks odd already while it is typed: against this lot, not against a book. [common practice, no source for 2 V, 2.5 V] */
export function odd(name: string, value: number, unit: string, others: readonly number[]): { tone: 'stop' | 'caution'; text: string } | null {
  if (name === 'voltage_V' && value < 2) return { tone: 'stop', text: 'Below 2 V: keep it apart, do not charge it, claim it.' };
  if (name === 'voltage_V' && value < 2.5) return { tone: 'caution', text: 'Below 2.5 V: charge slowly and watched, test it first.' };
  if (others.length < 8) return null;
  const middle = median(others);
  const mad = median(others.map((v) => Math.abs(v - middle)));
  return mad > 0 && Math.abs((0.6745 * (value - middle)) / mad) > 3.5 ? { tone: 'caution', text: `Far from this lot’s ${short(middle, 4)} ${unit}: measure again.` } : null; // modified z-score [NIST-EDA 1.3.5.17]
}
