// SPDX-License-Identifier: Apache-2.0
// The chart library, dressed in our tokens. Loaded when the first chart is shown.
import { BarChart, CustomChart, HeatmapChart, LineChart, ScatterChart } from 'echarts/charts';
import { BrushComponent, DataZoomComponent, GridComponent, MarkLineComponent, MarkPointComponent, TooltipComponent, VisualMapComponent } from 'echarts/components';
import * as echarts from 'echarts/core';
import { CanvasRenderer, SVGRenderer } from 'echarts/renderers';
import { saveFile } from './tables';
import type { ChartOptions, Tone } from './plots';

echarts.use([BarChart, CustomChart, HeatmapChart, LineChart, ScatterChart, BrushComponent, DataZoomComponent, GridComponent, MarkLineComponent, MarkPointComponent, TooltipComponent, VisualMapComponent, CanvasRenderer, SVGRenderer]);

export type { ChartOptions } from './plots';
export interface Chart {
  set: (option: ChartOptions) => void;
  png: (file: string) => Promise<void>;
  end: () => void;
}

function tokens(): Record<Tone, string> {
  const style = getComputedStyle(document.documentElement);
  const of = (name: string): string => style.getPropertyValue(`--${name}`).trim();
  const all = {} as Record<Tone, string>;
  for (const name of ['ink', 'quiet', 'rule', 'press', 'copper', 'moss', 'amber', 'brick', 'porcelain', 'sheet', 'wash'] as const) all[name] = of(name);
  return all;
}

/** Tones in an option stand as "tone:ink": they are made colours here, so that a theme changes them. */
function coloured<T>(value: T, tones: Record<Tone, string>): T {
  if (typeof value === 'string') return (value.startsWith('tone:') ? tones[value.slice(5) as Tone] : value) as T;
  if (Array.isArray(value)) {
    return (value.length > 200 && typeof value[0] !== 'object' ? value : value.map((v: unknown) => (Array.isArray(v) && v.every((x) => typeof x === 'number') ? v : coloured(v, tones)))) as T;
  }
  if (value && typeof value === 'object') return Object.fromEntries(Object.entries(value).map(([k, v]) => [k, coloured(v as unknown, tones)])) as T;
  return value;
}

function dressed(option: ChartOptions): echarts.EChartsCoreOption {
  const tones = tokens();
  const still = matchMedia('(prefers-reduced-motion: reduce)').matches;
  const family = getComputedStyle(document.body).fontFamily;
  return {
    animation: !still && option.series.length < 20,
    animationDuration: 120,
    animationDurationUpdate: 120,
    textStyle: { fontFamily: family, color: tones.ink, fontSize: 13 },
    ...coloured(option, tones),
  };
}

export function draw(node: HTMLElement, on: { onzoom?: ((from: number, to: number) => void) | undefined; onpick?: ((name: string) => void) | undefined; onbrush?: ((indices: number[]) => void) | undefined }): Chart {
  const chart = echarts.init(node, null, { renderer: 'canvas' });
  const watch = new ResizeObserver(() => chart.resize());
  watch.observe(node);
  const dark = matchMedia('(prefers-color-scheme: dark)');
  let last: ChartOptions | null = null;
  const again = (): void => {
    if (last) chart.setOption(dressed(last), { notMerge: true });
  };
  dark.addEventListener('change', again);
  if (on.onzoom) {
    let timer = 0;
    chart.on('datazoom', () => {
      clearTimeout(timer);
      timer = window.setTimeout(() => {
        const axis = (chart.getOption().dataZoom as { startValue: number; endValue: number }[])[0];
        if (axis) on.onzoom?.(axis.startValue, axis.endValue);
      }, 120);
    });
  }
  if (on.onpick) chart.on('click', (event) => on.onpick?.(event.seriesName === undefined || event.name !== '' ? event.name : event.seriesName));
  if (on.onbrush)
    chart.on('brushSelected', (event: unknown) => {
      const batch = (event as { batch?: { selected?: { dataIndex: number[] }[] }[] }).batch?.[0]?.selected?.[0];
      on.onbrush?.(batch?.dataIndex ?? []);
    });
  return {
    set: (option) => {
      last = option;
      chart.setOption(dressed(option), { notMerge: true });
      if (on.onbrush) chart.dispatchAction({ type: 'takeGlobalCursor', key: 'brush', brushOption: { brushType: 'rect', brushMode: 'single' } });
    },
    png: async (file) => {
      const address = chart.getDataURL({ type: 'png', pixelRatio: 2, backgroundColor: tokens().porcelain });
      const bytes = Uint8Array.from(atob(address.slice(address.indexOf(',') + 1)), (c) => c.charCodeAt(0));
      saveFile(`${file}.png`, bytes, 'image/png');
      await Promise.resolve();
    },
    end: () => {
      watch.disconnect();
      dark.removeEventListener('change', again);
      // Its painter may still be at work in the next frames, and does not look whether it was disposed of.
      setTimeout(() => chart.dispose(), 3000);
    },
  };
}

export function svg(option: ChartOptions, file: string): void {
  const chart = echarts.init(null as unknown as HTMLElement, null, { renderer: 'svg', ssr: true, width: 900, height: 420 });
  chart.setOption({ ...dressed(option), animation: false, backgroundColor: tokens().porcelain });
  saveFile(`${file}.svg`, chart.renderToSVGString(), 'image/svg+xml');
  chart.dispose();
}
