// SPDX-License-Identifier: Apache-2.0
// Every cell's discharge curve, asked for once a plan.
import type { components } from '../api/types';
import { get } from './api';
import { desk } from './desk.svelte';

type Curves = components['schemas']['Curves'];
export type Curve = Curves['cells'][number];

class Kept {
  all = $state.raw<Curve[]>([]);
  private revision = -1;
  private asking = false;
  of(label: string): Curve | undefined {
    return this.all.find((c) => c.label === label);
  }
  async load(): Promise<void> {
    if (this.asking || this.revision === desk.planRevision) return;
    this.asking = true;
    try {
      const answer = await get<Curves>('curves');
      this.all = answer.cells;
      this.revision = answer.revision;
    } catch (error) {
      desk.fail(error);
    } finally {
      this.asking = false;
    }
  }
}
export const curves = new Kept();
