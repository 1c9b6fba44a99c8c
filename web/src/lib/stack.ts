// SPDX-License-Identifier: Apache-2.0
// A table that stands as stacked rows on a phone: each cell knows its column's head (app.css writes it before the value).

export function stack(table: HTMLTableElement): { destroy: () => void } {
  table.classList.add('stack');
  const name = (): void => {
    const heads = [...table.querySelectorAll('thead th')].map((th) => (th.querySelector('.unseen') && th.children.length === 1 && th.textContent === th.querySelector('.unseen')?.textContent ? '' : (th.textContent ?? '').replace(/[↓↑]/g, '').trim()));
    for (const row of table.querySelectorAll<HTMLTableRowElement>('tbody tr'))
      [...row.cells].forEach((cell, k) => {
        const head = k === 0 ? '' : (heads[k] ?? '');
        if (cell.dataset.head !== head) cell.dataset.head = head;
        const empty = (cell.textContent ?? '').trim() === '' && cell.querySelector('input, select, button') === null;
        if (empty !== ('empty' in cell.dataset)) {
          if (empty) cell.dataset.empty = '';
          else delete cell.dataset.empty;
        }
      });
  };
  name();
  const watch = new MutationObserver(name);
  watch.observe(table, { childList: true, subtree: true, characterData: true });
  return { destroy: () => watch.disconnect() };
}
