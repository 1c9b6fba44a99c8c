// SPDX-License-Identifier: Apache-2.0
// docs/api/openapi.yaml held to the real answers: every path, every schema.
import { readFileSync } from 'node:fs';
import Ajv2020, { type ValidateFunction } from 'ajv/dist/2020';
import { afterAll, beforeAll, describe, expect, it } from 'vitest';
import { parse } from 'yaml';
import { enter, example, folder, serve, tidy, type Served } from './server';

const document = parse(readFileSync(new URL('../../docs/api/openapi.yaml', import.meta.url), 'utf8')) as {
  paths: Record<string, Record<string, { responses: Record<string, { $ref?: string; content?: Record<string, { schema?: object }> }> }>>;
  components: { responses: Record<string, { content?: Record<string, { schema?: object }> }>; schemas: Record<string, object> };
};
const ajv = new Ajv2020({ strict: false, allErrors: false, validateFormats: false });
ajv.addSchema({ $id: 'api', components: document.components });
const compiled = new Map<string, ValidateFunction>();

function schemaOf(path: string, method: string, status: number): ValidateFunction | null {
  const key = `${method} ${path} ${status}`;
  const known = compiled.get(key);
  if (known) return known;
  const response = document.paths[path]?.[method]?.responses[String(status)];
  const resolved = response?.$ref ? document.components.responses[response.$ref.split('/').pop() ?? ''] : response;
  const schema = resolved?.content?.['application/json']?.schema;
  if (!schema) return null;
  const absolute = JSON.parse(JSON.stringify(schema).replace(/"#\/components/g, '"api#/components')) as object;
  const validate = ajv.compile(absolute);
  compiled.set(key, validate);
  return validate;
}

let home: string;
let served: Served;
let headers: Record<string, string>;
const seen = new Set<string>();

async function call(method: 'get' | 'post', path: string, body?: unknown, query = '', expected = 200): Promise<Record<string, unknown>> {
  const bytes = body instanceof Uint8Array;
  const answer = await fetch(`${served.address}${path}${query}`, {
    method: method.toUpperCase(),
    headers: { ...headers, ...(bytes ? { 'Content-Type': 'application/octet-stream' } : {}) },
    ...(method === 'post' ? { body: bytes ? (body as Uint8Array<ArrayBuffer>) : JSON.stringify(body ?? {}) } : {}),
  });
  const text = await answer.text();
  expect(answer.status, `${method} ${path}: ${text.slice(0, 300)}`).toBe(expected);
  seen.add(`${method} ${path}`);
  const json = JSON.parse(text) as Record<string, unknown>;
  const validate = schemaOf(path, method, expected);
  expect(validate, `no schema for ${method} ${path} ${expected}`).not.toBeNull();
  const ok = validate?.(json);
  expect(ok, `${method} ${path}: ${JSON.stringify(validate?.errors?.slice(0, 3))}`).toBe(true);
  return json;
}

beforeAll(async () => {
  home = folder();
  served = await serve(example('smallholding', home), ['--lan-address', '127.0.0.2']);
  headers = await enter(served);
});
afterAll(async () => {
  await served.stop();
  tidy(home);
});

describe('the API', () => {
  it('answers as it is described', async () => {
    seen.add('post /api/enter');
    const state = await call('get', '/api/state');
    const project = await call('get', '/api/project');
    await call('get', '/api/plan', undefined, `?at=${state.revision as number}`);
    await call('get', '/api/known');
    await call('post', '/api/reckon', { name: 'ampacity', inputs: { insulation: 'xlpe', method: 'F', area: '70mm2', ambient: '40C' } });
    await call('post', '/api/reckon', { name: 'nothing', inputs: {} }, '', 422);
    await call('get', '/api/series', undefined, '?name=runs.csv');
    await call('get', '/api/circuit-tables');
    await call('get', '/api/checklists');
    await call('get', '/api/curves');
    await call('get', '/api/year');
    await call('get', '/api/drawing', undefined, '?name=circuit');
    const logs = project.logs as { name: string }[];
    const series = await call('get', '/api/logs', undefined, `?name=${logs[0]?.name}&points=200`);
    expect((series.lines as { values: number[] }[])[0]?.values.length).toBeLessThanOrEqual(200);
    await call('get', '/api/logs', undefined, '?name=none.csv', 422);
    const log = new TextEncoder().encode('time_s,voltage_V,current_A\n0,3.3,0\n60,3.3,0\n120,3.2,10\n180,3.2,10\n');
    await call('post', '/api/logs/look', log, '?name=X.csv');
    await call('post', '/api/logs/look', new TextEncoder().encode('nothing at all'), '?name=X.csv', 422);
    await call('post', '/api/logs/keep', log, '?name=X.csv&key=k1');
    const png = Uint8Array.from(atob('iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAAAAAA6fptVAAAACklEQVR42mNgAAAAAgAB5Sfe/AAAAABJRU5ErkJggg=='), (c) => c.charCodeAt(0));
    await call('post', '/api/photos/keep', png, '?cell=C01');
    await call('post', '/api/photos/keep', new TextEncoder().encode('<svg onload=alert(1)>'), '?cell=C01', 422);
    const photo = await fetch(`${served.address}/api/photos?name=C01~1.png`, { headers });
    expect(photo.status).toBe(200);
    expect(photo.headers.get('content-disposition')).toBe('attachment');
    expect(new Uint8Array(await photo.arrayBuffer())).toEqual(png);
    seen.add('get /api/photos');
    await call('post', '/api/changes', { changes: [{ what: 'setting', name: 'project.note', after: 'a note' }], words: 'note', key: 'k2' });
    await call('post', '/api/changes', { changes: [{ what: 'setting', name: 'project.note', before: 'another', after: 'b' }] }, '', 409);
    await call('post', '/api/changes', { changes: [{ what: 'setting', name: 'bus.power_W', after: -5 }] }, '', 422);
    await call('post', '/api/undo');
    await call('post', '/api/redo');
    await call('post', '/api/what-if/places', { a: 'C01', b: 'C02' });
    await call('post', '/api/what-if/places', { a: 'C01', b: 'nobody' }, '', 422);
    await call('post', '/api/what-if/plan', { changes: [{ what: 'setting', name: 'use.rate_percent', after: 6 }] });
    await call('post', '/api/exchange', { a: 'C01', b: 'C02', key: 'k3' });
    await call('post', '/api/sign', { what: 'nothing', by: 'me' }, '', 422);
    const lists = (await call('get', '/api/checklists')).lists as { steps: { id: string; expected: unknown; needs_note: boolean; held_by: string[] }[] }[];
    const free = lists.flatMap((l) => l.steps).find((s) => s.expected === null && s.held_by.length === 0);
    await call('post', '/api/sign', { what: free?.id, by: 'a test', note: 'as it should be' });
    const ticket = await call('post', '/api/ticket', { document: 'cells.csv' });
    const csv = await fetch(served.address + (ticket.address as string));
    expect(csv.headers.get('content-disposition')).toContain('attachment');
    expect(await csv.text()).toContain('label,lot');
    await call('post', '/api/ticket', { document: 'etc/passwd' }, '', 422);
    const started = await call('post', '/api/jobs', { kind: 'rehearsals' });
    await call('post', '/api/jobs', { kind: 'wonders' }, '', 422);
    const job = async (id: unknown): Promise<Record<string, unknown>> => call('get', '/api/jobs', undefined, `?id=${id as string}`);
    for (let now = await job(started.id); now.state !== 'done'; now = await job(started.id)) {
      expect(now.state).not.toBe('failed');
      await new Promise((go) => setTimeout(go, 50));
    }
    expect(((await job(started.id)).result as { rehearsals: unknown[] }).rehearsals.length).toBeGreaterThan(5);
    await call('post', '/api/begin', { example: 'cabin' }, '', 422);
    await call('get', '/api/pairing');
    const code = await call('post', '/api/pairing/open');
    await call('post', '/api/pair', { code: code.code, name: 'a phone' });
    await call('post', '/api/pair', { code: '00000000', name: 'a phone' }, '', 401);
    await call('post', '/api/pairing/close');
    const devices = (await call('get', '/api/state')).devices as { id: string; paired: boolean }[];
    const phone = devices.find((d) => d.paired)?.id;
    await call('post', '/api/devices/role', { id: phone, role: 'owner' });
    await call('post', '/api/devices/revoke', { id: phone });
    await call('post', '/api/link');
    await call('post', '/api/jobs/stop', { id: 'none' });
    const events = await fetch(`${served.address}/api/events`, { headers });
    expect(events.headers.get('content-type')).toContain('text/event-stream');
    await events.body?.cancel();
    seen.add('get /api/events');
    const described = Object.entries(document.paths).flatMap(([path, methods]) => Object.keys(methods).map((m) => `${m} ${path}`));
    expect(described.filter((d) => !seen.has(d))).toEqual([]);
  });

  it('stops long work, and says so', async () => {
    const { id } = await call('post', '/api/jobs', { kind: 'years', futures: 20000 });
    await call('post', '/api/jobs/stop', { id });
    for (let i = 0; i < 200; ++i) {
      const now = await call('get', '/api/jobs', undefined, `?id=${id as string}`);
      if (now.state === 'stopped') return;
      expect(['waiting', 'running']).toContain(now.state);
      await new Promise((go) => setTimeout(go, 20));
    }
    expect.fail('it did not stop');
  });

  it('tells who listens of what others change', async () => {
    const stop = new AbortController();
    const events = await fetch(`${served.address}/api/events`, { headers, signal: stop.signal });
    const reader = events.body?.getReader();
    const revision = (await call('post', '/api/changes', { changes: [{ what: 'setting', name: 'project.note', after: String(Math.random()) }] })).revision;
    let text = '';
    while (!text.includes(`"planned":${revision as number}`)) text += new TextDecoder().decode((await reader?.read())?.value);
    expect(text).toContain(`"revision":${revision as number}`);
    stop.abort();
  });
});
