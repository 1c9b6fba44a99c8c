// SPDX-License-Identifier: Apache-2.0
// Logs that were looked at and wait to be kept: they stay while one goes to another page.
import type { Look } from './api';

export interface LookedAt {
  id: number;
  file: File;
  name: string;
  look: Look | null;
  problem: string;
  state: 'reading' | 'read' | 'asks' | 'refused' | 'kept';
  sign: string;
  dates: string;
  decimal: string;
  columns: string;
  open: boolean;
}
class Looked {
  entries = $state<LookedAt[]>([]);
  next = 1;
}
export const looked = new Looked();
