// SPDX-License-Identifier: Apache-2.0
// One cause, one finding: what was noticed in several places for one reason is said once, with its places.
import type { Finding } from './api';

export interface Cause {
  id: string;
  severity: Finding['severity'];
  findings: Finding[];
  places: string[];
}
const rank: Record<Finding['severity'], number> = { stop: 0, caution: 1, note: 2 };

/** Causes, the worst first; within one severity in the order in which they were found. */
export function causes(findings: readonly Finding[]): Cause[] {
  const by = new Map<string, Cause>();
  for (const finding of findings) {
    const key = `${finding.severity} ${finding.id}`;
    const cause = by.get(key) ?? { id: finding.id, severity: finding.severity, findings: [], places: [] };
    cause.findings.push(finding);
    if (finding.where && !cause.places.includes(finding.where)) cause.places.push(finding.where);
    by.set(key, cause);
  }
  return [...by.values()].sort((a, b) => rank[a.severity] - rank[b.severity]);
}

/** "2 cautions and 3 notes". */
export function counted(list: readonly { severity: Finding['severity'] }[]): string {
  const of = (s: Finding['severity'], one: string): string => {
    const n = list.filter((f) => f.severity === s).length;
    return n === 0 ? '' : `${n} ${one}${n === 1 ? '' : 's'}`;
  };
  const parts = [of('stop', 'stop'), of('caution', 'caution'), of('note', 'note')].filter((p) => p !== '');
  return parts.length < 2 ? parts.join('') : `${parts.slice(0, -1).join(', ')} and ${parts.at(-1)}`;
}

/** A place as a person says it: "[wiring] pack_fuse_A" is the setting's own words. */
export function placeWords(where: string, settings: readonly { path: string; text: string }[]): string {
  const setting = /^\[(\w+)\]\s*(\w+)?$/.exec(where);
  if (!setting) return where;
  if (!setting[2]) return '';
  return settings.find((s) => s.path === `${setting[1]}.${setting[2]}`)?.text ?? setting[2].replace(/_/g, ' ');
}
