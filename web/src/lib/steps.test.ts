// SPDX-License-Identifier: Apache-2.0
import { describe, expect, it } from 'vitest';
import type { Finding, Plan, Project } from './api';
import { nextStep, placeOf, standings, steps } from './steps';

const finding = (where: string, step: string, severity: Finding['severity'] = 'caution'): Finding => ({ id: 'x', severity, what: '', where, measured: '', limit: '', why: '', remedy: '', basis: '', step });

describe('the path', () => {
  it('shows every step, and the worst finding of each', () => {
    const list = standings(null, { findings: [finding('a', 'wire', 'stop'), finding('b', 'wire'), finding('c', 'test')], test: { cells: [] }, size: { sizes: [] }, order: { figures: {} }, match: {}, wire: { circuit: {}, runs: [] }, forecast: { figures: {}, years: [] } } as unknown as Plan, 0);
    expect(list.map((s) => s.step)).toEqual([...steps]);
    expect(list.find((s) => s.step === 'wire')?.mark).toBe('stop');
    expect(list.find((s) => s.step === 'test')?.mark).toBe('caution');
    expect(list.find((s) => s.step === 'brief')?.mark).toBe('open');
    expect(nextStep(list)?.step).toBe('wire');
  });
  it('says how far the cells are', () => {
    const project = { given: {}, cells: [{ voltage_V: 3.2 }, { voltage_V: null }], offers: [], signatures: [] } as unknown as Project;
    expect(standings(project, null, 0).find((s) => s.step === 'receive')?.status).toBe('1 of 2 read');
  });
});
describe('a finding leads', () => {
  it('to the setting or the cell that it names, else to its step', () => {
    expect(placeOf(finding('[charge] per_cell_V', 'commission'))).toBe('/commission?setting=charge.per_cell_V');
    expect(placeOf(finding('C07', 'test'))).toBe('/test?cell=C07');
    expect(placeOf(finding('C07, line 3', 'test'))).toBe('/test?cell=C07');
    expect(placeOf(finding('main', 'wire'))).toBe('/wire');
  });
});
