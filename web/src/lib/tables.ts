// SPDX-License-Identifier: Apache-2.0
// Tables to and from spreadsheets: tabs on the clipboard, commas in files.

/** Rows of fields; tabs where the first line has one, else semicolons or commas. Quotes as in RFC 4180. */
export function readTable(text: string): string[][] {
  const bare = text.replace(/^\ufeff/, '').replace(/\r\n?/g, '\n');
  const first = bare.slice(0, bare.indexOf('\n') < 0 ? bare.length : bare.indexOf('\n'));
  const mark = first.includes('\t') ? '\t' : first.includes(';') ? ';' : ',';
  const rows: string[][] = [];
  let row: string[] = [];
  let field = '';
  let quoted = false;
  for (let i = 0; i < bare.length; ++i) {
    const c = bare[i];
    if (quoted) {
      if (c === '"' && bare[i + 1] === '"') (field += '"'), ++i;
      else if (c === '"') quoted = false;
      else field += c;
    } else if (c === '"' && field === '') quoted = true;
    else if (c === mark) row.push(field), (field = '');
    else if (c === '\n') row.push(field), rows.push(row), (row = []), (field = '');
    else field += c;
  }
  if (field !== '' || row.length > 0) row.push(field), rows.push(row);
  return rows.filter((r) => r.some((f) => f.trim() !== ''));
}

/** What a spreadsheet would run is made a text; a number stays a number. */
export function harmless(field: string): string {
  const number = /^[+\-\u2212]?\d[\d.,]*([eE][+-]?\d+)?$/.test(field);
  return !number && /^[=+\-@\t\r\n\uff1d\uff0b\uff0d\uff20]/.test(field) ? `'${field}` : field;
}
function quotedField(field: string): string {
  const safe = harmless(field);
  return /[",\n\r]/.test(safe) ? `"${safe.replace(/"/g, '""')}"` : safe;
}
export function writeCsv(rows: readonly (readonly string[])[]): string {
  return rows.map((r) => r.map((f) => quotedField(f.replace(/\u2212/g, '-').replace(/\u202f/g, ''))).join(',')).join('\r\n') + '\r\n';
}
export function writeTabs(rows: readonly (readonly string[])[]): string {
  return rows.map((r) => r.map((f) => harmless(f.replace(/[\t\n\r]+/g, ' '))).join('\t')).join('\n');
}
/** A table of the project, kept as the engine writes it: no prefix, since it is read back. */
export function writePlainCsv(rows: readonly (readonly string[])[]): string {
  return rows.map((r) => r.map((f) => (/[",\n\r]/.test(f) ? `"${f.replace(/"/g, '""')}"` : f)).join(',')).join('\n') + '\n';
}

export function saveFile(name: string, content: BlobPart, type: string): void {
  const address = URL.createObjectURL(new Blob([content], { type }));
  const link = document.createElement('a');
  link.href = address;
  link.download = name;
  link.click();
  setTimeout(() => URL.revokeObjectURL(address), 10000);
}
