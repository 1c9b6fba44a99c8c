// SPDX-License-Identifier: Apache-2.0
// What our charts look like, as data: fine ink lines, direct labels, no legends. Knows no library.
import { grouped, short } from './numbers';

export type Tone = 'ink' | 'quiet' | 'rule' | 'press' | 'copper' | 'moss' | 'amber' | 'brick' | 'porcelain' | 'sheet' | 'wash';
export interface ChartOptions {
  series: Record<string, unknown>[];
  [key: string]: unknown;
}
export interface Line {
  name: string;
  points: (number | null)[][];
  tone?: Tone;
  dash?: boolean;
  width?: number;
  label?: string; // written at its end
  area?: boolean;
  faint?: boolean;
}
interface Axes {
  x: string;
  y: string;
  xMin?: number;
  xMax?: number;
  yMin?: number;
  yMax?: number;
  right?: number;
  zoom?: boolean;
  band?: { low: number[][]; high: number[][]; tone: Tone };
  marks?: { x?: number; y?: number; label: string; tone?: Tone }[];
}

/** Real minus, thin spaces, no trailing noise. */
const axisNumber = (v: number): string => grouped(short(v, 4));

const axis = (name: string, min?: number, max?: number): Record<string, unknown> => ({
  type: 'value',
  name,
  nameLocation: 'end',
  nameTextStyle: { color: 'tone:quiet', fontSize: 13 },
  min,
  max,
  axisLine: { show: true, lineStyle: { color: 'tone:quiet' } },
  axisTick: { show: false },
  axisLabel: { color: 'tone:quiet', fontSize: 13, hideOverlap: true, formatter: (v: number) => axisNumber(v) },
  splitLine: { lineStyle: { color: 'tone:rule' } },
  scale: min === undefined,
});
const markLine = (marks: Axes['marks']): Record<string, unknown> | undefined =>
  marks && marks.length > 0
    ? {
        silent: true,
        symbol: 'none',
        animation: false,
        data: [...marks].sort((a, b) => (a.x ?? 0) - (b.x ?? 0)).map((m, i, all) => ({
          ...(m.x !== undefined ? { xAxis: m.x } : { yAxis: m.y }),
          lineStyle: { color: `tone:${m.tone ?? 'quiet'}`, type: [5, 4], width: 1 },
          // Upright marks are written above the drawing, the left one to the left and the right one to the right.
          label: { formatter: m.label, color: `tone:${m.tone ?? 'quiet'}`, fontSize: 12, ...(m.x !== undefined ? { position: 'end', rotate: 0, align: all.length > 1 && i === 0 ? 'right' : all.length > 1 ? 'left' : 'center', distance: 4 } : { position: 'insideStartTop' }) },
        })),
      }
    : undefined;

export function linePlot(lines: Line[], given: Axes): ChartOptions {
  // An axis that starts where it is told ends where the lines do.
  const furthest = lines.reduce((most, l) => Math.max(most, Number(l.points.at(-1)?.[0] ?? 0)), 0);
  const axes: Axes = given.xMin !== undefined && given.xMax === undefined && furthest > given.xMin ? { ...given, xMax: furthest } : given;
  const labelled = lines.some((l) => l.label);
  const series: Record<string, unknown>[] = [];
  if (axes.band) {
    // A band as two stacked lines: the lower one unseen, the difference filled.
    const high = new Map(axes.band.high.map((p) => [p[0], p[1]]));
    series.push(
      { type: 'line', data: axes.band.low, stack: 'band', symbol: 'none', silent: true, lineStyle: { opacity: 0 }, stackStrategy: 'all' },
      { type: 'line', data: axes.band.low.map((p) => [p[0], (high.get(p[0] ?? 0) ?? 0) - (p[1] ?? 0)]), stack: 'band', symbol: 'none', silent: true, lineStyle: { opacity: 0 }, stackStrategy: 'all', areaStyle: { color: `tone:${axes.band.tone}`, opacity: 0.22 } },
    );
  }
  lines.forEach((l, i) =>
    series.push({
      type: 'line',
      name: l.name,
      data: l.points,
      symbol: 'none',
      lineStyle: { color: `tone:${l.tone ?? 'ink'}`, width: l.width ?? 1.4, type: l.dash ? [6, 4] : 'solid', opacity: l.faint ? 0.45 : 1 },
      itemStyle: { color: `tone:${l.tone ?? 'ink'}` },
      emphasis: { focus: 'none', lineStyle: { width: 2.6, opacity: 1, color: 'tone:press' } },
      triggerLineEvent: true,
      areaStyle: l.area ? { color: `tone:${l.tone ?? 'ink'}`, opacity: 0.1 } : undefined,
      endLabel: l.label ? { show: true, formatter: l.label, color: `tone:${l.tone ?? 'ink'}`, fontSize: 13, distance: 6 } : undefined,
      labelLayout: l.label ? { moveOverlap: 'shiftY' } : undefined,
      markLine: i === 0 ? markLine(axes.marks) : undefined,
    }),
  );
  return {
    grid: { left: 8, right: axes.right ?? (labelled ? 110 : 24), top: axes.marks?.some((m) => m.x !== undefined) ? 54 : 30, bottom: axes.zoom ? 44 : 28, containLabel: true },
    xAxis: { ...axis(axes.x, axes.xMin, axes.xMax), nameLocation: 'middle', nameGap: 28, splitLine: { show: false } },
    yAxis: { ...axis(axes.y, axes.yMin, axes.yMax), nameGap: axes.marks?.some((m) => m.x !== undefined) ? 32 : 15, nameTextStyle: { color: 'tone:quiet', align: 'left', fontSize: 13 } },
    tooltip: { trigger: lines.length > 8 ? 'item' : 'axis', renderMode: 'richText', backgroundColor: 'tone:sheet', borderColor: 'tone:rule', textStyle: { color: 'tone:ink', fontSize: 13 } },
    dataZoom: axes.zoom ? [{ type: 'inside' }, { type: 'slider', height: 16, bottom: 4, borderColor: 'tone:rule', fillerColor: 'tone:wash', handleStyle: { color: 'tone:press' }, textStyle: { color: 'tone:quiet' } }] : undefined,
    series,
  };
}

export interface Dot {
  name: string;
  x: number;
  y: number;
  tone: Tone;
  symbol: string;
}
export function dotPlot(dots: Dot[], axes: Axes & { brush?: boolean }): ChartOptions {
  return {
    grid: { left: 8, right: 24, top: axes.marks?.length ? 40 : 30, bottom: 28, containLabel: true },
    // Room on every side, so that no mark stands half on an axis.
    xAxis: { ...axis(axes.x, axes.xMin, axes.xMax), nameLocation: 'middle', nameGap: 28, boundaryGap: ['6%', '6%'] },
    yAxis: { ...axis(axes.y, axes.yMin, axes.yMax), boundaryGap: ['10%', '10%'], nameTextStyle: { color: 'tone:quiet', align: 'left', fontSize: 13 } },
    tooltip: { trigger: 'item', renderMode: 'richText', backgroundColor: 'tone:sheet', borderColor: 'tone:rule', textStyle: { color: 'tone:ink', fontSize: 13 } },
    brush: axes.brush ? { xAxisIndex: 0, brushStyle: { color: 'tone:wash', borderColor: 'tone:press', opacity: 0.4 }, outOfBrush: { colorAlpha: 0.25 }, throttleType: 'debounce', throttleDelay: 100 } : undefined,
    series: [
      {
        type: 'scatter',
        symbolSize: 9,
        data: dots.map((d) => ({ name: d.name, value: [d.x, d.y], symbol: d.symbol, itemStyle: { color: `tone:${d.tone}` } })),
        markLine: markLine(axes.marks),
      },
    ],
  };
}

export interface Histogram { from: number; width: number; counts: number[] }
/** A histogram on a true axis of the quantity, with what it is held against drawn in. */
export function histogramPlot(h: Histogram, unit: string, marks: Axes['marks'] = []): ChartOptions {
  const to = h.from + h.width * h.counts.length;
  const xs = [h.from, to, ...marks.flatMap((m) => (m.x === undefined ? [] : [m.x]))];
  const pad = 0.03 * (Math.max(...xs) - Math.min(...xs));
  return {
    grid: { left: 8, right: 28, top: marks.length ? 40 : 30, bottom: 28, containLabel: true },
    xAxis: { ...axis(unit, Math.min(...xs) - pad, Math.max(...xs) + pad), nameLocation: 'middle', nameGap: 28, splitLine: { show: false }, axisLabel: { color: 'tone:quiet', fontSize: 13, hideOverlap: true, showMinLabel: false, showMaxLabel: false, formatter: (v: number) => axisNumber(v) } },
    yAxis: { ...axis('cells'), scale: false, minInterval: 1, nameTextStyle: { color: 'tone:quiet', align: 'left', fontSize: 13 } },
    tooltip: { trigger: 'item', renderMode: 'richText', backgroundColor: 'tone:sheet', borderColor: 'tone:rule', textStyle: { color: 'tone:ink' }, formatter: (p: { value: number[] }) => `${axisNumber(p.value[0] ?? 0)} to ${axisNumber((p.value[0] ?? 0) + h.width)} ${unit}: ${p.value[1]}` },
    series: [
      {
        type: 'line',
        step: 'end',
        symbol: 'none',
        data: [[h.from, 0], ...h.counts.map((n, i) => [h.from + i * h.width, n]).flatMap(([x = 0, n = 0]) => [[x, n], [x + h.width, n]]), [to, 0]],
        lineStyle: { color: 'tone:ink', width: 1.4 },
        areaStyle: { color: 'tone:ink', opacity: 0.12 },
        markLine: markLine(marks),
      },
    ],
  };
}

/** The next of 1, 2, 5 times a power of ten. */
function niceStep(least: number): number {
  const power = 10 ** Math.floor(Math.log10(Math.max(least, 1e-12)));
  return ([1, 2, 5].find((k) => k * power >= least * 0.999) ?? 10) * power;
}

/** What a value hangs on: each assumption lower (outlined) and higher (filled), the widest above. The axis is the change of
 *  the value, or with `from` the value itself, its bars starting at what it is now. */
export function swingPlot(swings: { name: string; low: number; high: number }[], now: number, unit: string, from?: { axis: string; zero: string }): ChartOptions {
  const sorted = [...swings].sort((a, b) => Math.abs(a.high - a.low) - Math.abs(b.high - b.low));
  const half = (pick: (s: { low: number; high: number }) => number, filled: boolean, name: string): Record<string, unknown> => ({
    type: 'bar',
    name,
    stack: name,
    barWidth: 11,
    barGap: '-100%',
    data: sorted.map((s) => pick(s) - now),
    itemStyle: filled ? { color: 'tone:ink' } : { color: 'tone:porcelain', borderColor: 'tone:ink', borderWidth: 1.4 },
    markLine: from && filled ? { silent: true, symbol: 'none', animation: false, data: [{ xAxis: -now, lineStyle: { color: 'tone:brick', type: [5, 4], width: 1 }, label: { formatter: from.zero, color: 'tone:brick', fontSize: 12, position: 'end', rotate: 0, align: 'left', distance: 4 } }] } : undefined,
  });
  const ends = sorted.flatMap((s) => [s.low - now, s.high - now]);
  const zero = from ? now : 0; // what the axis calls its number at the bars' foot
  const step = niceStep((Math.max(0, ...ends) - Math.min(0, ...ends, from ? -now : 0)) / 5);
  const lowest = Math.floor((Math.min(0, ...ends, from ? -now : 0) + zero) / step - 0.2) * step - zero;
  const highest = Math.ceil((Math.max(0, ...ends) + zero) / step + 0.05) * step - zero;
  return {
    grid: { left: 8, right: 32, top: from ? 28 : 10, bottom: 34, containLabel: true },
    yAxis: { type: 'category', data: sorted.map((s) => s.name), axisTick: { show: false }, axisLine: { show: false }, axisLabel: { color: 'tone:ink', fontSize: 13, width: (globalThis.innerWidth ?? 1200) < 600 ? 108 : 180, overflow: 'break', lineHeight: 15 } },
    xAxis: { ...axis(from ? `${from.axis}, ${unit}` : `change, ${unit}`, lowest, highest), interval: step, scale: false, nameLocation: 'middle', nameGap: 26, axisLabel: { color: 'tone:quiet', fontSize: 13, hideOverlap: true, formatter: (v: number) => axisNumber(Math.round((v + zero) / step) * step) } },
    tooltip: { trigger: 'axis', renderMode: 'richText', backgroundColor: 'tone:sheet', borderColor: 'tone:rule', textStyle: { color: 'tone:ink' }, valueFormatter: (v: number) => axisNumber(v + zero) },
    series: [half((s) => s.low, false, 'lower'), half((s) => s.high, true, 'higher')],
  };
}

/** Days across, hours upwards; dark where it is full. */
export function dayMap(share: number[]): ChartOptions {
  const days = Math.floor(share.length / 24);
  const months = ['Jan', 'Feb', 'Mar', 'Apr', 'May', 'Jun', 'Jul', 'Aug', 'Sep', 'Oct', 'Nov', 'Dec'];
  const starts = [0, 31, 59, 90, 120, 151, 181, 212, 243, 273, 304, 334];
  return {
    grid: { left: 8, right: 60, top: 16, bottom: 24, containLabel: true },
    xAxis: { type: 'category', data: Array.from({ length: days }, (_, d) => d), axisTick: { show: false }, axisLine: { lineStyle: { color: 'tone:quiet' } }, axisLabel: { color: 'tone:quiet', interval: (i: number) => starts.includes(i), formatter: (v: string) => months[starts.indexOf(Number(v))] ?? '' } },
    yAxis: { type: 'category', data: Array.from({ length: 24 }, (_, h) => h), axisTick: { show: false }, axisLine: { lineStyle: { color: 'tone:quiet' } }, axisLabel: { color: 'tone:quiet', interval: 5 } },
    tooltip: { renderMode: 'richText', backgroundColor: 'tone:sheet', borderColor: 'tone:rule', textStyle: { color: 'tone:ink' }, formatter: (p: { value: number[] }) => `day ${(p.value[0] ?? 0) + 1}, ${p.value[1]}:00\n${Math.round(100 * (p.value[2] ?? 0))} % full` },
    visualMap: { min: 0, max: 1, calculable: false, orient: 'vertical', right: 0, top: 'middle', itemHeight: 110, itemWidth: 12, text: ['full', 'empty'], textStyle: { color: 'tone:quiet' }, inRange: { color: ['tone:sheet', 'tone:ink'] } },
    series: [{ type: 'heatmap', data: share.map((v, i) => [Math.floor(i / 24), i % 24, v]), progressive: 0, emphasis: { itemStyle: { borderColor: 'tone:ink', borderWidth: 1 } } }],
  };
}
