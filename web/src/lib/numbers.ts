// SPDX-License-Identifier: Apache-2.0
// Numbers as people type and read them: decimal comma or point, a unit behind, never more digits than are sure.

export const thin = '\u202f';

/** A number typed by hand; null where it is none. One comma or one point is the decimal mark, whichever it is; with both,
 *  the last one is, if the other only ever stands before three digits. "1,234" alone is taken as 1.234, since nobody types
 *  thousands of a cell's figures with a comma: the field says at once what was understood. */
export function parseNumber(typed: string): number | null {
  let text = typed.trim().replace(/[\s\u00a0\u202f']/g, '').replace(/\u2212/g, '-');
  if (!/^[+-]?[\d.,]+([eE][+-]?\d+)?$/.test(text)) return null;
  const [mantissa = '', exponent] = text.split(/[eE]/);
  const commas = (mantissa.match(/,/g) ?? []).length;
  const points = (mantissa.match(/\./g) ?? []).length;
  let plain = mantissa;
  if (commas > 0 && points > 0) {
    const decimal = mantissa.lastIndexOf(',') > mantissa.lastIndexOf('.') ? ',' : '.';
    const other = decimal === ',' ? '.' : ',';
    const whole = mantissa.slice(0, mantissa.lastIndexOf(decimal));
    if (whole.includes(decimal)) return null;
    if (!/^[+-]?\d{1,3}(\D\d{3})+$/.test(whole)) return null;
    plain = whole.split(other).join('') + '.' + mantissa.slice(mantissa.lastIndexOf(decimal) + 1);
  } else if (commas > 1 || points > 1) {
    return null;
  } else {
    plain = mantissa.replace(',', '.');
  }
  if (!/\d/.test(plain)) return null;
  text = exponent === undefined ? plain : `${plain}e${exponent}`;
  const value = Number(text);
  return Number.isFinite(value) ? value : null;
}

/** Decimals that a value with this standard uncertainty carries: its first digit, two where that is 1 or 2. */
export function decimalsFor(u: number): number {
  if (!(u > 0) || !Number.isFinite(u)) return 3;
  const exponent = Math.floor(Math.log10(u));
  const leading = u / 10 ** exponent;
  return Math.max(0, -exponent + (leading < 2.95 ? 1 : 0));
}

export function fixed(value: number, decimals: number): string {
  if (!Number.isFinite(value)) return '–';
  const text = value.toFixed(Math.min(Math.max(0, decimals), 12));
  return /[1-9]/.test(text) ? text.replace('-', '\u2212') : text.replace('-', '');
}

export function significant(value: number, digits: number): string {
  if (!Number.isFinite(value)) return '–';
  if (value === 0) return '0';
  return fixed(value, Math.max(0, digits - 1 - Math.floor(Math.log10(Math.abs(value)))));
}

/** A value without uncertainty: three digits, and no zeros that say nothing. */
export function short(value: number, digits = Math.abs(value) >= 100 ? 4 : 3): string {
  const text = significant(value, digits);
  return text.includes('.') ? text.replace(/0+$/, '').replace(/\.$/, '') : text;
}

/** Large whole numbers with thin spaces between thousands. */
export function grouped(text: string): string {
  const [whole = '', rest] = text.split('.');
  const spaced = whole.length > 4 ? whole.replace(/\B(?=(\d{3})+(?!\d))/g, '\u202f') : whole;
  return rest === undefined ? spaced : `${spaced}.${rest}`;
}
