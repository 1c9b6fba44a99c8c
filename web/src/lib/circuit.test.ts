// SPDX-License-Identifier: Apache-2.0
import { describe, expect, it } from 'vitest';
import { circuitField, circuitValue, endWords, kindWords } from './circuit';

describe('a row of the circuit', () => {
  it('takes commas and units, and keeps what the table wants', () => {
    const length = circuitField('length_m', []);
    expect(circuitValue(length, '2,5', 'metric')).toBe('2.5');
    expect(circuitValue(length, '10 ft', 'metric')).toBe('3.048'); // 1 ft = 0.3048 m exactly [NIST SP 811]
    expect(circuitValue(length, '10', 'inch')).toBe('3.048');
    expect(circuitValue(length, '350 mm', 'metric')).toBe('0.35');
    expect(circuitValue(length, 'long', 'metric')).toBeNull();
    expect(circuitValue(length, '', 'metric')).toBe('');
    expect(circuitValue(circuitField('run', []), '2,5', 'metric')).toBe('2,5');
  });
  it('has choices where there are some, in words', () => {
    expect(circuitField('at', ['main', 'solar']).choices).toEqual([['main', 'main'], ['solar', 'solar']]);
    expect(kindWords('solar-controller')).toBe('solar charge controller');
    expect(endWords('pack')).toBe('each pack');
    expect(endWords('shed')).toBe('shed');
  });
});
