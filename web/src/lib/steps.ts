// SPDX-License-Identifier: Apache-2.0
// The path: the steps of the job in order, and how each stands.
import type { Finding, Plan, Project } from './api';

export const steps = ['brief', 'choose', 'size', 'order', 'receive', 'test', 'match', 'wire', 'commission', 'forecast', 'watch', 'book'] as const;
export type StepName = (typeof steps)[number];
export const titleOf = (step: string): string => step.charAt(0).toUpperCase() + step.slice(1);

export type Mark = 'done' | 'open' | 'caution' | 'stop';
export const marks: Record<Mark, string> = { done: '●', open: '◐', caution: '▲', stop: '■' };
export const markWords: Record<Mark, string> = { done: 'done', open: 'open', caution: 'caution', stop: 'stop' };

export interface Standing {
  step: StepName;
  mark: Mark;
  status: string;
}

const plural = (n: number, one: string, many = one + 's'): string => `${n} ${n === 1 ? one : many}`;

/** How far each step is, from what was told and worked out; a finding that says stop or caution shows first. */
export function standings(project: Project | null, plan: Plan | null, signed: number): Standing[] {
  const given = (path: string): boolean => project?.given[path] !== undefined;
  const places = Number(project?.given['layout.packs'] ?? 1) * Number(project?.given['layout.series'] ?? 16) * Number(project?.given['layout.parallel'] ?? 1);
  const cells = project?.cells ?? [];
  const tested = plan?.test.cells.filter((c) => c.standing === 'tested').length ?? 0;
  const read = cells.filter((c) => c.voltage_V !== null).length;
  const state: Record<StepName, [boolean, string]> = {
    brief: [given('bus.power_W'), given('bus.power_W') ? `${Number(project?.given['bus.power_W']) / 1000} kW at the bus` : 'power not set'],
    choose: [(project?.offers ?? []).some((o) => o.chosen), plural(project?.offers.length ?? 0, 'offer')],
    size: [(plan?.size.sizes.length ?? 0) > 0, (plan?.size.sizes.length ?? 0) > 0 ? 'a year simulated' : 'house data missing'],
    order: [(project?.offers ?? []).some((o) => o.chosen), plan?.order.figures.order ? `${plan.order.figures.order.value} cells` : 'no offer yet'],
    receive: [cells.length > 0 && read === cells.length, cells.length === 0 ? 'no cells yet' : `${read} of ${cells.length} read`],
    test: [cells.length > 0 && tested === cells.length, cells.length === 0 ? 'no cells yet' : `${tested} of ${cells.length} tested`],
    match: [plan?.match.arrangement != null, plan?.match.arrangement ? `${places} placed` : `${places} places`],
    wire: [plan?.wire.circuit.given ?? false, plan?.wire.circuit.given ? plural(plan.wire.runs.length, 'run') : 'assumed'],
    commission: [signed > 0, signed > 0 ? `${signed} signed` : 'nothing signed'],
    forecast: [plan?.forecast.figures.present_value !== undefined, plan?.forecast.years.length ? 'to year 20' : 'no price yet'],
    watch: [false, 'once it runs'],
    book: [plan?.match.arrangement != null, 'to print'],
  };
  return steps.map((step) => {
    const ours = (plan?.findings ?? []).filter((f) => f.step === step);
    const worst: Mark | null = ours.some((f) => f.severity === 'stop') ? 'stop' : ours.some((f) => f.severity === 'caution') ? 'caution' : null;
    const [done, status] = state[step];
    return { step, status, mark: worst ?? (done ? 'done' : 'open') };
  });
}

/** The first step that still wants something. */
export function nextStep(list: readonly Standing[]): Standing | undefined {
  return list.find((s) => s.mark === 'stop') ?? list.find((s) => s.mark === 'open');
}

// Where a setting is asked for.
const tables: Record<string, StepName> = {
  project: 'brief', bus: 'brief', layout: 'brief', place: 'commission', cell: 'choose', site: 'size', tariff: 'size', dispatch: 'size', order: 'order',
  tester: 'test', test: 'test', logs: 'test', queue: 'test', match: 'match', wiring: 'wire', joint: 'wire', bms: 'commission', charge: 'commission',
  inverter: 'commission', balancer: 'commission', rules: 'commission', storage: 'commission', use: 'forecast', future: 'forecast',
};
/** Where to go for a finding: its step, and the cell or setting that it names. */
export function placeOf(finding: Finding): string {
  const cell = /^([^\s,\[]+)/.exec(finding.where)?.[1] ?? '';
  const table = /\[(\w+)\]\s*(\w+)?/.exec(finding.where);
  if (table) return `/${tables[table[1] ?? ''] ?? finding.step ?? 'brief'}${table[2] ? `?setting=${table[1]}.${table[2]}` : ''}`;
  const step = finding.step ?? 'findings';
  return (step === 'test' || step === 'receive') && cell ? `/${step}?cell=${encodeURIComponent(cell)}` : `/${step}`;
}
