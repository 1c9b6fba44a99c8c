// SPDX-License-Identifier: Apache-2.0
import { pages, shots } from './shots';

const only = process.argv.slice(2).filter((a) => pages.includes(a));
await shots('shots', only.length > 0 ? only : pages);
