// SPDX-License-Identifier: Apache-2.0
// What was typed and is not saved: it outlives a closed tab and a server that has ended.

const prefix = 'draft:';
const kept = (): string[] => Object.keys(localStorage).filter((k) => k.startsWith(prefix)).map((k) => k.slice(prefix.length));

class Drafts {
  count = $state(kept().length);
  get(key: string): string | null {
    return localStorage.getItem(prefix + key);
  }
  put(key: string, text: string): void {
    try {
      localStorage.setItem(prefix + key, text);
    } catch {
      /* a full store loses the draft, not the edit */
    }
    this.count = kept().length;
  }
  drop(key: string): void {
    localStorage.removeItem(prefix + key);
    this.count = kept().length;
  }
}
export const drafts = new Drafts();
