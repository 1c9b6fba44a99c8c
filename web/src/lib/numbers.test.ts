// SPDX-License-Identifier: Apache-2.0
import { describe, expect, it } from 'vitest';
import { decimalsFor, fixed, grouped, parseNumber, short } from './numbers';
import { fromTyped, shown, splitUnit } from './units';

describe('a number that was typed', () => {
  it('takes a comma or a point as the decimal mark', () => {
    for (const [text, value] of [['3.29', 3.29], ['3,29', 3.29], ['-12,5', -12.5], ['\u221212.5', -12.5], [' 230 ', 230], ['1 234,5', 1234.5], ['1\u202f234.5', 1234.5], ['1.234,56', 1234.56], ['1,234.56', 1234.56], ['1.234.567,8', 1234567.8], ['2e-3', 0.002], ['0', 0], ['.5', 0.5], ["1'000", 1000]] as const)
      expect(parseNumber(text), text).toBe(value);
  });
  it('is none where it could be two', () => {
    for (const text of ['', '-', '.', 'x', '1,2,3', '1.2.3', '12,34.5', '1,23.4', '3 29 V', 'nan', 'inf', '0x10', '1e', '1,2.3,4', '٣'])
      expect(parseNumber(text), text).toBeNull();
  });
});
describe('a number that is shown', () => {
  it('carries no more digits than its uncertainty', () => {
    // GUM (JCGM 100) 7.2.6: one or two digits of u, and the value to the same place.
    expect(fixed(228.4321, decimalsFor(0.8))).toBe('228.4');
    expect(fixed(228.4321, decimalsFor(0.12))).toBe('228.43');
    expect(fixed(228.4321, decimalsFor(3))).toBe('228');
    expect(fixed(0.4228, decimalsFor(0.0023))).toBe('0.4228');
  });
  it('has a real minus, no minus nought, and thin spaces', () => {
    expect(fixed(-1.5, 1)).toBe('\u22121.5');
    expect(fixed(-0.001, 1)).toBe('0.0');
    expect(grouped('1234567.89')).toBe('1\u202f234\u202f567.89');
    expect(grouped('1234')).toBe('1234');
    expect(short(0.5)).toBe('0.5');
    expect(short(463.305)).toBe('463.3');
    expect(fixed(NaN, 2)).toBe('–');
  });
});
describe('units', () => {
  it('are read behind the number', () => {
    expect(splitUnit('350 mm')).toEqual(['350 ', 'mm']);
    expect(fromTyped(12, 'in', 'mm', 'metric')).toBeCloseTo(304.8, 10);
    expect(fromTyped(1.5, 'kW', 'W', 'metric')).toBe(1500);
    expect(fromTyped(77, '°F', '°C', 'metric')).toBeCloseTo(25, 10);
    expect(fromTyped(500, 'uohm', 'mΩ', 'metric')).toBe(0.5);
    expect(fromTyped(3, 'parsec', 'm', 'metric')).toBeNull();
    expect(fromTyped(3.3, 'V', 'V', 'metric')).toBe(3.3);
  });
  it('come back from inches as they went', () => {
    for (const unit of ['mm', 'm', 'kg', 'N·m', '°C']) {
      const s = shown(20, 0.5, unit, 'inch');
      expect(s.unit).not.toBe(unit);
      expect(fromTyped(s.value, '', unit, 'inch')).toBeCloseTo(20, 9);
    }
    // Published: 0 °C = 32 °F, 100 °C = 212 °F; 1 lb = 0.45359237 kg exactly [NIST SP 811].
    expect(shown(100, null, '°C', 'inch').value).toBe(212);
    expect(shown(25, 1, '°C', 'inch').u).toBe(1.8);
    expect(shown(0.45359237, null, 'kg', 'inch').value).toBe(1);
    expect(shown(3.3, null, 'V', 'inch')).toEqual({ value: 3.3, u: null, unit: 'V' });
  });
});
