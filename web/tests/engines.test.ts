// SPDX-License-Identifier: Apache-2.0
// Every part that the lock file names runs on the least Node that package.json asks for (Debian 12's own), on 20 and on 22.
import { execFileSync } from 'node:child_process';
import { readFileSync } from 'node:fs';
import semver from 'semver';
import { expect, test } from 'vitest';

const web = new URL('..', import.meta.url).pathname;
const own = JSON.parse(readFileSync(`${web}package.json`, 'utf8')) as { engines: { node: string } };
const lock = JSON.parse(readFileSync(`${web}package-lock.json`, 'utf8')) as { packages: Record<string, { engines?: { node?: string } }> };
const least = semver.minVersion(own.engines.node)?.version ?? '';

test('every part of the lock file takes the least Node asked for, and those after it', () => {
  expect(least).not.toBe('');
  const parts = Object.entries(lock.packages).filter(([path]) => path !== '');
  expect(parts.length).toBeGreaterThan(100);
  for (const node of [least, '20.20.0', '22.12.0'])
    expect(parts.filter(([, part]) => part.engines?.node && !semver.satisfies(node, part.engines.node)).map(([path, part]) => `${path} wants ${part.engines?.node}, not ${node}`)).toEqual([]);
});

test('the Node that runs this is one that is asked for', () => {
  expect(semver.satisfies(process.versions.node, own.engines.node)).toBe(true);
});

test('tools/setup reads the same figure', () => {
  const script = readFileSync(`${web}../tools/setup`, 'utf8');
  const line = /sed -n '(s[^']+)' web\/package\.json/.exec(script)?.[1] ?? '';
  const read = execFileSync('sed', ['-n', line, `${web}package.json`], { encoding: 'utf8' }).trim();
  expect(semver.coerce(read)?.version).toBe(least);
});
