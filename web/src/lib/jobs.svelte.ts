// SPDX-License-Identifier: Apache-2.0
// Long work: started, watched, stopped; what it found is kept while the page is open.
import { get, post, type Job } from './api';
import { desk } from './desk.svelte';

export class Work<T> {
  state = $state<'none' | 'waiting' | 'running' | 'done' | 'stopped' | 'failed'>('none');
  progress = $state(0);
  result = $state.raw<T | null>(null);
  why = $state('');
  private id = '';
  constructor(private readonly kind: 'years' | 'rehearsals') {}

  async start(more: Record<string, unknown> = {}): Promise<void> {
    this.state = 'waiting';
    this.progress = 0;
    this.why = '';
    try {
      this.id = (await post<{ id: string }>('jobs', { kind: this.kind, ...more })).id;
      const id = this.id;
      while (id === this.id) {
        const job = await get<Job>('jobs', { id });
        this.state = job.state;
        this.progress = Math.max(job.progress, desk.progress[id]?.progress ?? 0);
        if (job.state === 'done') this.result = job.result as T;
        if (job.state === 'failed') this.why = job.why;
        if (job.state !== 'running' && job.state !== 'waiting') return;
        await new Promise((go) => setTimeout(go, 150));
      }
    } catch (error) {
      this.state = 'failed';
      this.why = error instanceof Error ? error.message : '';
      desk.fail(error);
    }
  }
  async stop(): Promise<void> {
    try {
      await post('jobs/stop', { id: this.id });
    } catch (error) {
      desk.fail(error);
    }
  }
  get busy(): boolean {
    return this.state === 'waiting' || this.state === 'running';
  }
}

export interface Rehearsal {
  name: string;
  title: string;
  seen: string;
  caught_by: string;
  caught_s: number | null;
  times_s: number[];
  traces: { name: string; unit: string; values: number[] }[];
}
export interface Band { tenth: number; half: number; nine_tenths: number }
export interface Years {
  revision: number;
  currency: string;
  rule: string;
  from: { load: string; sun: string; prices: string };
  futures: { count: number; capacity: Band[]; saving: Band[]; present_value: Band; share_that_pays: number };
  swings: { assumption: string; value_lower: number; value_higher: number }[];
  bank_and_panels: { solar_factor: number; nominal_kWh: number; self_sufficiency: number; saving_year: number }[];
  wear: { what: string; capacity_low: number; capacity_high: number; saving_first_year: number }[];
  pack_ends: { pack: string; weakest: string; capacity_Ah: number; years: number; spare: string; years_with_spare: number }[];
  foresight: { solved: boolean; cost: number | null; rule_cost: number; share: number | null; rules: { rule: string; cost: number; share: number | null }[] };
  money: { present_value: number | null };
}
export const years = new Work<Years>('years');
export const rehearsals = new Work<{ revision: number; rehearsals: Rehearsal[]; defer: string }>('rehearsals');
