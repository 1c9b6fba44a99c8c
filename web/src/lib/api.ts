// SPDX-License-Identifier: Apache-2.0
// The one way to the server. Types come from docs/api/openapi.yaml (npm run types).
import type { components } from '../api/types';

type S = components['schemas'];
export type Cell = S['Cell'];
export type CellNumber = S['CellNumber'];
export type CellResult = S['CellResult'];
export type Change = S['Change'];
export type Drawing = S['Drawing'];
export type Effect = S['Effect'];
export type Arrangement = S['Arrangement'];
export type Figure = S['Figure'];
export type Finding = S['Finding'];
export type Known = S['Known'];
export type Look = S['Look'];
export type Offer = S['Offer'];
export type Plan = S['Plan'];
export type Planned = S['Planned'];
export type Project = S['Project'];
export type Reckoning = S['Reckoning'];
export type Setting = S['Setting'];
export type State = S['State'];
export type Job = S['Job'];
export type Event = S['Event'];
export type WhatIfPlan = S['WhatIfPlan'];
export type Problem = S['Error']['error'];
export type ConflictOf = S['Conflict']['conflict'];

/** What was sent cannot be used: found, expected, to do. */
export class Refused extends Error {
  constructor(readonly problem: Problem) {
    super(`${problem.where ? problem.where + ': ' : ''}${problem.found}. Expected: ${problem.expected}. ${problem.remedy}.`);
  }
}
/** Somebody else changed the same thing. */
export class Conflicted extends Error {
  constructor(readonly conflict: ConflictOf) {
    super(conflict.sentence);
  }
}
/** The server does not answer. */
export class Gone extends Error {}
/** It does not know this browser. */
export class Stranger extends Error {}
export class Turned extends Error {
  constructor(readonly status: number, why: string) {
    super(why);
  }
}

const tokenName = 'packhouse-token';
export const token = {
  get: (): string => localStorage.getItem(tokenName) ?? '',
  set: (value: string): void => localStorage.setItem(tokenName, value),
  clear: (): void => localStorage.removeItem(tokenName),
};

async function send(path: string, init: RequestInit): Promise<Response> {
  const headers: Record<string, string> = { 'X-Packhouse': '1', ...(init.headers as Record<string, string>) };
  if (token.get()) headers['X-Packhouse-Token'] = token.get();
  let response: Response;
  try {
    response = await fetch(path, { ...init, headers, cache: 'no-store', credentials: 'omit', redirect: 'error' });
  } catch (error) {
    if (init.signal?.aborted) throw error;
    throw new Gone('the server does not answer');
  }
  if (response.ok) return response;
  if (response.status === 401 && !path.startsWith('/api/pair') && !path.startsWith('/api/enter')) throw new Stranger('not let in');
  const text = await response.text();
  let body: Record<string, unknown> = {};
  try {
    body = JSON.parse(text) as Record<string, unknown>;
  } catch {
    /* an empty body */
  }
  if (body.conflict) throw new Conflicted(body.conflict as ConflictOf);
  if (body.error) throw new Refused(body.error as Problem);
  const by: Record<number, string> = { 403: 'This device may not do that.', 413: 'The file is too large: 64 MB at most, 16 MB from another device.' };
  throw new Turned(response.status, typeof body.why === 'string' ? body.why : (by[response.status] ?? `The server refused (${response.status}).`));
}

export async function get<T>(path: string, query: Record<string, string | number> = {}, signal?: AbortSignal): Promise<T> {
  const text = new URLSearchParams(Object.entries(query).map(([k, v]) => [k, String(v)])).toString();
  const response = await send(`/api/${path}${text ? `?${text}` : ''}`, { method: 'GET', signal: signal ?? null });
  return (await response.json()) as T;
}
export async function getBytes(path: string, query: Record<string, string>): Promise<Blob> {
  const response = await send(`/api/${path}?${new URLSearchParams(query).toString()}`, { method: 'GET' });
  return response.blob();
}
export async function post<T>(path: string, body: unknown, signal?: AbortSignal): Promise<T> {
  const response = await send(`/api/${path}`, {
    method: 'POST',
    body: JSON.stringify(body),
    headers: { 'Content-Type': 'application/json' },
    signal: signal ?? null,
  });
  return (await response.json()) as T;
}
export async function postBytes<T>(path: string, query: Record<string, string>, bytes: Blob): Promise<T> {
  const response = await send(`/api/${path}?${new URLSearchParams(query).toString()}`, {
    method: 'POST',
    body: bytes,
    headers: { 'Content-Type': 'application/octet-stream' },
  });
  return (await response.json()) as T;
}

/** The stream of events, until it ends or is aborted. EventSource cannot carry a token; fetch can. */
export async function listen(onEvent: (event: Event) => void, signal: AbortSignal): Promise<void> {
  const response = await send('/api/events', { method: 'GET', signal });
  const reader = response.body?.getReader();
  if (!reader) return;
  const decoder = new TextDecoder();
  let rest = '';
  for (;;) {
    const { done, value } = await reader.read();
    if (done) return;
    rest += decoder.decode(value, { stream: true });
    const parts = rest.split('\n\n');
    rest = parts.pop() ?? '';
    for (const part of parts) if (part.startsWith('data: ')) onEvent(JSON.parse(part.slice(6)) as Event);
  }
}

export const newKey = (): string => Array.from(crypto.getRandomValues(new Uint8Array(12)), (b) => b.toString(16).padStart(2, '0')).join('');
