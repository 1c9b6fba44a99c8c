// SPDX-License-Identifier: Apache-2.0
// Deep links: #/test?cell=C07. The last page is remembered for who comes back.

class Router {
  path = $state('');
  query = $state<Record<string, string>>({});

  constructor() {
    this.read();
    addEventListener('hashchange', () => this.read());
  }
  private read(): void {
    const text = location.hash.startsWith('#key=') ? '' : location.hash.replace(/^#\/?/, '');
    const [path = '', query = ''] = text.split('?');
    this.path = path || localStorage.getItem('page') || 'start';
    this.query = Object.fromEntries(new URLSearchParams(query));
    localStorage.setItem('page', this.path);
  }
  go(to: string): void {
    location.hash = to.startsWith('/') ? to : `/${to}`;
  }
  /** Writes into the address what is in sight, so that a reload and a bookmark lead back; no step for the Back key. */
  keep(name: string, value: string): void {
    const query = new URLSearchParams({ [name]: value }).toString();
    history.replaceState(null, '', `#/${this.path}?${query}`);
  }
}
export const router = new Router();
