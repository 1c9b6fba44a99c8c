// SPDX-License-Identifier: Apache-2.0
// The circuit's two tables as a person fills them in: words for columns, choices for what is a choice, numbers with units.
import { parseNumber } from './numbers';
import { fromTyped, splitUnit, type System } from './units';

export interface CircuitField {
  text: string;
  unit?: string;
  choices?: readonly (readonly [value: string, words: string])[];
  hint?: string;
}
export const kinds: readonly (readonly [string, string])[] = [
  ['fuse', 'fuse'], ['breaker', 'circuit breaker'], ['isolator', 'isolator'], ['contactor', 'contactor'], ['precharge', 'precharge'], ['shunt', 'shunt'], ['bms', 'BMS'], ['inverter', 'inverter'], ['charger', 'charger'], ['solar-controller', 'solar charge controller'],
];
export const kindWords = (kind: string): string => kinds.find(([k]) => k === kind)?.[1] ?? kind.replace(/-/g, ' ');
const ends: readonly (readonly [string, string])[] = [['pack', 'each pack'], ['bus', 'bus'], ['inverter', 'inverter'], ['charger', 'charger'], ['solar', 'solar charge controller'], ['earth', 'earth']];
export const endWords = (end: string): string => ends.find(([e]) => e === end)?.[1] ?? end;

/** What a column of runs.csv or devices.csv asks, by its head; `runs` are the names a device may stand in. */
export function circuitField(head: string, runs: readonly string[]): CircuitField {
  const fields: Record<string, CircuitField> = {
    run: { text: 'name of the run' }, from: { text: 'from', choices: ends.slice(0, 2) }, to: { text: 'to', choices: ends.slice(1) },
    length_m: { text: 'length, one way', unit: 'm' }, area_mm2: { text: 'cross-section', unit: 'mm²', hint: 'empty: a section is proposed' }, awg: { text: 'or gauge', unit: 'AWG' },
    class: { text: 'strands', choices: [['', 'usual: fine'], ['2', 'stranded (class 2)'], ['5', 'fine-stranded (class 5)']] },
    insulation: { text: 'insulation', choices: [['', 'as given below'], ['pvc', 'PVC, 70 °C'], ['xlpe', 'XLPE, 90 °C']] },
    method: { text: 'laid', choices: [['', 'as given below'], ['C', 'on a surface'], ['F', 'in free air, two touching']] },
    ambient_C: { text: 'air around it', unit: '°C' }, circuits: { text: 'pairs side by side' },
    grouping: { text: 'pairs lie', choices: [['', 'as given below'], ['bunched', 'bunched'], ['wall', 'side by side on a wall or floor'], ['tray', 'on a perforated tray'], ['ladder', 'on a ladder']] },
    terminal_C: { text: 'temperature rating of the terminals', unit: '°C' }, current_A: { text: 'current', unit: 'A', hint: 'empty: found from the design power' }, surge_A: { text: 'current for ten seconds', unit: 'A' },
    device: { text: 'name of the device' }, kind: { text: 'kind', choices: kinds }, at: { text: 'in run', choices: runs.map((r) => [r, r] as const) },
    rated_A: { text: 'rated current', unit: 'A' }, rated_V_dc: { text: 'rated voltage, direct current', unit: 'V' }, breaking_kA_dc: { text: 'breaking capacity, direct current', unit: 'kA' },
    curve: { text: 'characteristic', choices: [['', 'not given'], ['gG', 'gG'], ['aR', 'aR'], ['gR', 'gR'], ['gPV', 'gPV'], ['gBat', 'gBat'], ['B', 'B'], ['C', 'C'], ['D', 'D']] },
    polarised: { text: 'polarity matters', choices: [['', 'not given'], ['yes', 'yes'], ['no', 'no']] },
  };
  return fields[head] ?? { text: head.replace(/_/g, ' ') };
}

/** What was typed, as the table keeps it: a metric number with a point, or the text; null where a number was asked for and none was typed. */
export function circuitValue(field: CircuitField, typed: string, system: System): string | null {
  const raw = typed.trim();
  if (raw === '' || field.unit === undefined || field.unit === 'AWG') return raw;
  const [digits, suffix] = splitUnit(raw);
  const value = parseNumber(digits);
  const metric = value === null ? null : fromTyped(value, suffix, field.unit, system);
  return metric === null ? null : String(Number(metric.toPrecision(10)));
}
