// SPDX-License-Identifier: Apache-2.0
// What is being typed into one field: kept as a draft, saved once, with what stood there when it began.
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

export class Entry {
  typed = $state('');
  editing = $state(false);
  problem = $state('');
  private before: Value = null;
  private busy = false; // Enter saves, and leaving the field would save again

  constructor(private readonly place: Place) {
    const draft = drafts.get(place.key);
    this.typed = draft ?? '';
    this.editing = draft !== null;
    this.before = place.kept();
  }
  begin(typed: string): void {
    if (!this.editing) this.before = this.place.kept();
    this.editing = true;
    this.typed = typed;
    this.problem = '';
    drafts.put(this.place.key, typed);
  }
  done(): void {
    this.editing = false;
    this.typed = '';
    this.problem = '';
    drafts.drop(this.place.key);
  }
  async save(): Promise<void> {
    if (this.busy || !this.editing) return;
    const sent = this.typed;
    const read = this.place.read(sent);
    if ('problem' in read) {
      this.problem = read.problem;
      return;
    }
    if (read.value === this.place.kept()) return this.done();
    this.busy = true;
    try {
      await this.place.put(read.value, this.before);
      if (this.typed === sent) this.done();
      else this.before = read.value; // more was typed meanwhile: that is an edit of its own
    } catch (error) {
      this.problem = error instanceof Refused ? `${error.problem.found}. Expected: ${error.problem.expected}.` : 'Not saved yet; it is kept here.';
    } finally {
      this.busy = false;
    }
  }
}
