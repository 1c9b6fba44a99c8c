// SPDX-License-Identifier: Apache-2.0
// What passed and what was skipped and why, in one line: node tools/test-summary.mjs CTEST.xml [VITEST.json]
import { existsSync, readFileSync } from 'node:fs';

const [ctest, vitest] = process.argv.slice(2);
const passed = new Map();
const skipped = new Map(); // reason → count
let failed = 0;
const count = (map, key, by = 1) => map.set(key, (map.get(key) ?? 0) + by);

if (!existsSync(ctest)) {
  console.error(`test-summary: ${ctest} is missing: ctest has not run to its end`);
  process.exit(1);
}
for (const [, head, body] of readFileSync(ctest, 'utf8').matchAll(/<testcase ([^>]*)>([\s\S]*?)<\/testcase>/g)) {
  if (/status="run"/.test(head)) count(passed, 'C++');
  else if (/<skipped/.test(body)) {
    const why = /Skipped\n([^\n]*)/.exec(body)?.[1]?.trim();
    count(skipped, (why || 'no reason given').replaceAll('&quot;', '"').replaceAll('&apos;', "'").replaceAll('&amp;', '&'));
  } else failed += 1;
}
// Where a test of the page stands says what it needs: src/ is logic, api asks the program, the others drive a browser.
const kind = (file) => (/\/src\//.test(file) ? "page's logic" : /\/api\.test/.test(file) ? 'API' : /\/engines\.test/.test(file) ? "page's parts" : 'browser');
if (vitest) {
  if (!existsSync(vitest)) {
    console.error(`test-summary: ${vitest} is missing: the page's tests have not run to their end`);
    process.exit(1);
  }
  for (const file of JSON.parse(readFileSync(vitest, 'utf8')).testResults) {
    if (file.assertionResults.length === 0 && file.status !== 'passed') failed += 1;
    for (const test of file.assertionResults) {
      if (test.status === 'passed') count(passed, kind(file.name));
      else if (test.status === 'failed') failed += 1;
      else count(skipped, `${kind(file.name)}: ${test.status}`);
    }
  }
}
const all = [...passed.values()].reduce((a, b) => a + b, 0);
const left = [...skipped.values()].reduce((a, b) => a + b, 0);
const list = (map, between) => [...map].map(([what, n]) => `${what}${between}${n}`).join(', ');
console.log(`Passed: ${list(passed, ' ')}. Skipped: ${left === 0 ? 'none' : [...skipped].map(([why, n]) => `${n} (${why})`).join(', ')}.`);
console.log(`${all} passed, ${failed} failed, ${left} skipped`);
process.exit(failed > 0 ? 1 : 0);
