// SPDX-License-Identifier: Apache-2.0
// What is being typed into one field. Nothing typed is lost: what was confirmed while an earlier value is still on its way
// is sent after it; what could not be sent is kept in the browser and sent again once the page is open and served.
import { Refused } from './api';
import { drafts } from './drafts.svelte';

export type Value = string | number | null;
interface Place {
  key: string; // of its draft
  kept: () => Value;
  /** What the text means; a string in `problem` where it means nothing. */
  read: (typed: string) => { value: Value } | { problem: string };
  put: (after: Value, before: Value) => Promise<boolean>;
}

/** What was confirmed and could not be sent: tried again once the server answers. */
export const unsent = new Set<Entry>();

export class Entry {
  typed = $state('');
  editing = $state(false);
  problem = $state('');
  waiting = $state(false); // confirmed, not yet acknowledged
  private before: Value = null;
  private busy = false;
  private again = false; // confirmed once more while busy

  constructor(private readonly place: Place) {
    const draft = drafts.get(place.key);
    this.typed = draft ?? '';
    this.editing = draft !== null;
    this.before = place.kept();
    // The field of before is gone: this one sends what it left.
    for (const e of [...unsent]) if (e.place.key === place.key) unsent.delete(e);
    if (draft !== null && drafts.confirmed(place.key)) queueMicrotask(() => void this.save());
  }
  begin(typed: string): void {
    if (!this.editing) this.before = this.place.kept();
    this.editing = true;
    this.typed = typed;
    this.problem = '';
    unsent.delete(this);
    drafts.put(this.place.key, typed);
  }
  done(): void {
    this.editing = false;
    this.typed = '';
    this.problem = '';
    this.waiting = false;
    this.again = false;
    unsent.delete(this);
    drafts.drop(this.place.key);
  }
  async save(): Promise<void> {
    if (!this.editing) return;
    if (this.busy) {
      this.again = true;
      drafts.confirm(this.place.key);
      return;
    }
    const sent = this.typed;
    const read = this.place.read(sent);
    if ('problem' in read) {
      this.problem = read.problem;
      return;
    }
    if (read.value === this.place.kept()) return this.done();
    this.busy = this.waiting = true;
    unsent.delete(this);
    drafts.confirm(this.place.key);
    let failed = false;
    try {
      await this.place.put(read.value, this.before);
      if (this.typed === sent) this.done();
      else this.before = read.value; // more was typed meanwhile: that is an edit of its own
    } catch (error) {
      failed = true;
      if (!(error instanceof Refused)) unsent.add(this);
      this.problem = error instanceof Refused ? `${error.problem.found}. Expected: ${error.problem.expected}.` : 'Not saved yet; it is kept here.';
    } finally {
      this.busy = this.waiting = false;
    }
    if (this.again && this.editing) {
      this.again = false;
      if (!failed || this.typed !== sent) await this.save();
    }
  }
}
