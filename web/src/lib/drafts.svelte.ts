// SPDX-License-Identifier: Apache-2.0
// What was typed and is not saved: it outlives a closed tab and a server that has ended.

const prefix = 'draft:';
const confirmedPrefix = 'confirmed:';
const kept = (): string[] => Object.keys(localStorage).filter((k) => k.startsWith(prefix)).map((k) => k.slice(prefix.length));

class Drafts {
  count = $state(kept().length);
  get(key: string): string | null {
    return localStorage.getItem(prefix + key);
  }
  put(key: string, text: string): void {
    try {
      localStorage.setItem(prefix + key, text);
      localStorage.removeItem(confirmedPrefix + key);
    } catch {
      /* a full store loses the draft, not the edit */
    }
    this.count = kept().length;
  }
  /** It was confirmed (Enter, or the field was left): once the page is open again it is sent without being asked. */
  confirm(key: string): void {
    try {
      localStorage.setItem(confirmedPrefix + key, '1');
    } catch {
      /* as above */
    }
  }
  confirmed(key: string): boolean {
    return localStorage.getItem(confirmedPrefix + key) !== null;
  }
  drop(key: string): void {
    localStorage.removeItem(prefix + key);
    localStorage.removeItem(confirmedPrefix + key);
    this.count = kept().length;
  }
}
export const drafts = new Drafts();
