// SPDX-License-Identifier: Apache-2.0
// What a choice is called: the project keeps a short key, a person reads words.

const words: Record<string, string> = {
  'cell.chemistry/lfp': 'lithium iron phosphate',
  'layout.take_off/same-end': 'both at the same end', 'layout.take_off/diagonal': 'at opposite ends', 'layout.take_off/star': 'each pack to one point',
  'layout.aim/most-energy': 'most energy in the bank', 'layout.aim/even-packs': 'packs as equal as can be',
  'bms.sensor_on/cell': 'on a cell', 'bms.sensor_on/wall': 'on the box’s wall',
  'balancer.kind/bleeds': 'bleeds the fullest cell', 'balancer.kind/moves': 'moves charge to the emptiest cell',
  'balancer.works/charging': 'only while charging', 'balancer.works/always': 'always',
  'wiring.insulation/pvc': 'PVC, 70 °C', 'wiring.insulation/xlpe': 'XLPE, 90 °C',
  'wiring.method/C': 'on a surface', 'wiring.method/F': 'in free air, two touching',
  'wiring.grouping/bunched': 'bunched', 'wiring.grouping/wall': 'side by side on a wall or floor', 'wiring.grouping/tray': 'on a perforated tray', 'wiring.grouping/ladder': 'on a ladder',
  'logs.sign/auto': 'found by itself', 'logs.sign/discharge-positive': 'positive current discharges', 'logs.sign/charge-positive': 'positive current charges',
  'logs.dates/auto': 'found by itself', 'logs.dates/dmy': 'day, month, year', 'logs.dates/mdy': 'month, day, year', 'logs.dates/ymd': 'year, month, day',
  'logs.decimal/auto': 'found by itself',
  'match.lots/free': 'mixed freely', 'match.lots/together-in-pack': 'kept together within a pack', 'match.lots/apart-in-group': 'kept apart within a group',
  'match.lot_is/seller-lot': 'the seller’s lot', 'match.lot_is/test-channel': 'the tester’s channel', 'match.lot_is/date-made': 'the date of manufacture',
  'dispatch.rule/self-use': 'self-consumption', 'dispatch.rule/shift': 'time of use: buy when it is cheap', 'dispatch.rule/shave': 'peak shaving', 'dispatch.rule/follow': 'follow the hourly price',
  'site.at_home/usual': 'mornings and evenings', 'site.at_home/all-day': 'all day', 'site.at_home/evenings': 'evenings only',
  'use.law/naumann-2018': 'Naumann 2018', 'use.law/schimpe-2018': 'Schimpe 2018',
};
const everywhere: Record<string, string> = {
  'not-said': 'not known yet', yes: 'yes', no: 'no', on: 'on', off: 'off', pvc: 'PVC', xlpe: 'XLPE', lfp: 'lithium iron phosphate', C: 'on a surface', F: 'in free air',
  grubbs: 'Grubbs’ test', mad: 'modified z-score (median)', two: 'either side', max: 'the highest', min: 'the lowest',
  'naumann-2018': 'Naumann 2018', 'naumann-2020': 'Naumann 2020', 'schimpe-2018': 'Schimpe 2018', 'wang-2011': 'Wang 2011', 'same-end': 'both at the same end', diagonal: 'at opposite ends', star: 'each pack to one point',
};

/** The words of a choice of a setting (`layout.aim`, `most-energy`); without words of its own the key, its hyphens as spaces. */
export function choiceWords(path: string, choice: string): string {
  return words[`${path}/${choice}`] ?? everywhere[choice] ?? choice.replace(/-/g, ' ');
}
