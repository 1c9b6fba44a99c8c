// SPDX-License-Identifier: Apache-2.0
// From the need to a layout: which counts of cells in series and in parallel give the voltage and the energy that are wanted.
// Nominal voltage of a lithium iron phosphate cell 3.2 V; strings of 4, 8 and 16 for 12, 24 and 48 V devices [common practice, no source].

export const nominalCell_V = 3.2;
export const deviceVoltages = [12, 24, 48] as const;
export type DeviceVoltage = (typeof deviceVoltages)[number];
export const seriesFor = (volts: DeviceVoltage): number => volts / 3;

export interface Layout {
  packs: number;
  series: number;
  parallel: number;
  cells: number;
  nominal_kWh: number;
}

/** Layouts that hold at least the energy wanted with the fewest cells, packs first; `cells` bounds them where cells are at hand. */
export function layoutsFor(volts: DeviceVoltage, wanted_kWh: number, cell_Ah: number, cells = Infinity): Layout[] {
  const series = seriesFor(volts);
  const string_kWh = (series * nominalCell_V * cell_Ah) / 1000;
  if (!(string_kWh > 0) || !(wanted_kWh > 0)) return [];
  const needed = Math.ceil(wanted_kWh / string_kWh - 1e-9);
  const strings = Math.min(needed, Math.floor(cells / series));
  if (strings < 1 || strings > 512) return [];
  const all: Layout[] = [];
  for (let parallel = 1; parallel <= Math.min(strings, 8); ++parallel) {
    if (strings % parallel !== 0) continue;
    all.push({ packs: strings / parallel, series, parallel, cells: strings * series, nominal_kWh: strings * string_kWh });
  }
  return all.filter((l) => l.packs <= 32);
}

/** What a layout costs and gives, in words. */
export function layoutWords(l: Layout): string[] {
  return [
    l.packs === 1 ? 'one BMS' : `${l.packs} BMS, ${l.packs} pack fuses`,
    l.parallel === 1 ? 'every cell is seen by its BMS' : `${l.parallel} cells in parallel are seen as one: a weak one hides`,
    l.packs === 1 ? 'a pack that opens stops everything' : 'one pack may be off, the others carry on',
    l.parallel === 1 ? 'no neighbour in parallel feeds a cell that fails' : `a cell that fails is fed by ${l.parallel - 1 === 1 ? 'its neighbour' : `its ${l.parallel - 1} neighbours`} without a fuse between`,
  ];
}
