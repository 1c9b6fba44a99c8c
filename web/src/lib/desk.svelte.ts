// SPDX-License-Identifier: Apache-2.0
// What lies open, on this side: the project, its plan, and what goes on. Every edit goes through `change`.
import { Conflicted, get, Gone, listen, newKey, post, Refused, Stranger, token, Turned } from './api';
import type { Change, ConflictOf, Figure, Finding, Known, Plan, Planned, Project, State } from './api';
import type { System } from './units';

type Side =
  | { kind: 'why'; title: string; figure: Figure; path: string }
  | { kind: 'finding'; finding: Finding; others: Finding[] }
  | { kind: 'cell'; label: string }
  | { kind: 'setting'; path: string };

export interface Message {
  id: number;
  tone: 'done' | 'caution' | 'stop';
  text: string;
}

class Desk {
  state = $state<State | null>(null);
  project = $state.raw<Project | null>(null);
  plan = $state.raw<Plan | null>(null);
  planRevision = $state(0);
  known = $state.raw<Known | null>(null);
  why = $state<string | null>(null); // why there is no plan
  door = $state<'opening' | 'open' | 'stranger' | 'gone'>('opening');
  saving = $state(0);
  planning = $state(false);
  side = $state<Side | null>(null);
  conflict = $state<{ conflict: ConflictOf; mine: () => Promise<void>; theirs: () => void } | null>(null);
  messages = $state<Message[]>([]);
  progress = $state<Record<string, { state: string; progress: number }>>({});
  system = $state<System>((localStorage.getItem('units') as System | null) ?? 'metric');
  theme = $state(localStorage.getItem('theme') ?? 'system');
  private next = 1;
  private asking = 0;
  private listening: AbortController | null = null;

  say(text: string, tone: Message['tone'] = 'done'): void {
    const id = this.next++;
    this.messages.push({ id, tone, text });
    if (tone === 'done') setTimeout(() => this.unsay(id), 5000);
  }
  unsay(id: number): void {
    this.messages = this.messages.filter((m) => m.id !== id);
  }
  /** Says what went wrong, once, where no field can. */
  fail(error: unknown): void {
    if (error instanceof Gone) this.away();
    else if (error instanceof Stranger) this.door = 'stranger';
    else if (error instanceof DOMException && error.name === 'AbortError') return;
    else this.say(error instanceof Error ? error.message : String(error), 'stop');
  }

  /** It does not answer: said, and asked again until it does. */
  private away(): void {
    this.door = 'gone';
    clearTimeout(this.asking);
    this.asking = window.setTimeout(() => void this.open(), 1200);
  }

  setUnits(system: System): void {
    this.system = system;
    localStorage.setItem('units', system);
  }
  setTheme(theme: string): void {
    this.theme = theme;
    localStorage.setItem('theme', theme);
    document.documentElement.dataset.theme = theme;
  }

  async open(): Promise<void> {
    try {
      const key = /#key=([0-9a-f]+)/.exec(location.hash)?.[1];
      if (key) {
        history.replaceState(null, '', location.pathname);
        try {
          token.set((await post<{ token: string }>('enter', { key })).token);
        } catch (error) {
          if (!(error instanceof Turned)) throw error; // a used link: what is kept here may still hold
        }
      }
      this.state = await get<State>('state');
      this.known ??= await get<Known>('known');
      await this.refresh();
      this.door = 'open';
      void this.follow();
    } catch (error) {
      this.fail(error);
    }
  }

  /** The project as it is now; the plan as soon as it is made. */
  async refresh(): Promise<void> {
    this.state = await get<State>('state');
    if (!this.state.begun) {
      this.project = null;
      this.plan = null;
      return;
    }
    this.project = await get<Project>('project');
    await this.replan(this.project.revision);
  }
  private async replan(revision: number): Promise<void> {
    if (this.planRevision >= revision && this.plan) return;
    this.planning = true;
    try {
      const planned = await get<Planned>('plan', { at: revision });
      if (planned.revision < this.planRevision) return;
      this.planRevision = planned.revision;
      this.why = planned.why;
      if (planned.plan) this.plan = planned.plan;
    } finally {
      this.planning = false;
    }
  }

  private async follow(): Promise<void> {
    this.listening?.abort();
    const listening = (this.listening = new AbortController());
    try {
      await listen((event) => {
        if (event.job) this.progress = { ...this.progress, [event.job]: { state: event.state ?? '', progress: event.progress ?? 0 } };
        if ((event.revision ?? 0) > (this.project?.revision ?? 0)) void this.refresh().catch((e: unknown) => this.fail(e));
        else if ((event.planned ?? 0) > this.planRevision) void this.replan(event.planned ?? 0).catch((e: unknown) => this.fail(e));
      }, listening.signal);
    } catch (error) {
      if (listening.signal.aborted) return;
      if (error instanceof Stranger) return this.fail(error);
    }
    if (listening.signal.aborted) return;
    this.away();
  }

  /** Makes edits and waits until they are on disk. Throws Refused for the field to show; a conflict is shown with both
   *  values, and true comes back once it is settled for ours. */
  async change(changes: Change[], words: string): Promise<boolean> {
    ++this.saving;
    const key = newKey();
    try {
      const { revision } = await this.patiently(() => post<{ revision: number }>('changes', { changes, words, key }));
      await this.refreshAfter(revision);
      return true;
    } catch (error) {
      if (error instanceof Conflicted) return await this.settle(error.conflict, changes, words);
      if (error instanceof Refused) throw error;
      this.fail(error);
      throw error;
    } finally {
      --this.saving;
    }
  }
  /** Shows both values and waits for whose is to stand; true where ours was put in its place. */
  async settle(conflict: ConflictOf, changes: Change[], words: string): Promise<boolean> {
    await this.refresh();
    // Two who set the same thing alike do not disagree.
    if (changes.length === 1 && JSON.stringify(conflict.mine) === JSON.stringify(conflict.theirs)) return true;
    this.conflict?.theirs(); // one question at a time
    return await new Promise<boolean>((settled) => {
      this.conflict = {
        conflict,
        mine: async () => {
          this.conflict = null;
          const plain = changes.map(({ before: _before, ...rest }) => rest as Change);
          settled(await this.change(plain, words).catch(() => false));
        },
        theirs: () => {
          this.conflict = null;
          settled(false);
        },
      };
    });
  }
  /** Sends again, with the same key, while the server is away: an answer that was lost makes nothing twice. */
  private async patiently<T>(send: () => Promise<T>): Promise<T> {
    for (let attempt = 0; ; ++attempt) {
      try {
        return await send();
      } catch (error) {
        if (!(error instanceof Gone) || attempt >= 2) throw error;
        await new Promise((done) => setTimeout(done, 400));
      }
    }
  }
  async refreshAfter(revision: number): Promise<void> {
    if ((this.project?.revision ?? 0) < revision) this.project = await get<Project>('project');
    this.state = await get<State>('state');
    void this.replan(revision).catch((e: unknown) => this.fail(e));
  }

  async set(path: string, after: string | number | null, before?: string | number | null): Promise<boolean> {
    const change: Change = { what: 'setting', name: path, after };
    if (before !== undefined) change.before = before;
    return this.change([change], path);
  }
  async undo(): Promise<void> {
    await this.back('undo', this.state?.undo ?? '', 'Undone');
  }
  async redo(): Promise<void> {
    await this.back('redo', this.state?.redo ?? '', 'Redone');
  }
  private async back(way: 'undo' | 'redo', words: string, said: string): Promise<void> {
    if (!words) return;
    try {
      const { revision } = await post<{ revision: number }>(way, {});
      await this.refreshAfter(revision);
      this.say(`${said}: ${words}.`);
    } catch (error) {
      this.fail(error);
    }
  }

  setting(path: string): { value: string | number | undefined; given: boolean } {
    const given = this.project?.given[path];
    if (given !== undefined) return { value: given, given: true };
    const setting = this.known?.settings.find((s) => s.path === path);
    if (!setting || setting.fallback === null) return { value: undefined, given: false };
    return { value: setting.kind === 'number' || setting.kind === 'whole' ? Number(setting.fallback) : setting.fallback, given: false };
  }
  get currency(): string {
    return String(this.setting('project.currency').value ?? 'EUR');
  }
  get owner(): boolean {
    return this.state?.role === 'owner';
  }
}

export const desk = new Desk();
