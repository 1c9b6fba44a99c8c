// SPDX-License-Identifier: Apache-2.0
import { mount } from 'svelte';
import App from './App.svelte';
import { desk } from './lib/desk.svelte';
import './app.css';

// The chart library empties its own box by innerHTML = ''. That, and nothing else, is let through.
interface TrustedTypes { createPolicy: (name: string, rules: { createHTML: (text: string) => string | null }) => unknown }
(window as { trustedTypes?: TrustedTypes }).trustedTypes?.createPolicy('default', { createHTML: (text) => (text === '' ? '' : null) });

document.documentElement.dataset.theme = desk.theme;
mount(App, { target: document.getElementById('page') as HTMLElement });
void desk.open();
// A link opened in another tab of this browser brings a token for this one too.
addEventListener('storage', (event) => {
  if (event.key === 'packhouse-token' && desk.door !== 'open') void desk.open();
});
