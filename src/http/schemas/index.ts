/**
 * What goes over the wire, as types: the dashboard and other callers import these with `import type`.
 * Bodies are named `...Body`; what comes back has the plain name.
 */
export type * from './access.js';
export type * from './alarms.js';
export type * from './changes.js';
export type * from './commissioning.js';
export type * from './common.js';
export type * from './contacts.js';
export type * from './crew.js';
export type * from './ingest.js';
export type * from './people.js';
export type * from './plan.js';
export type * from './pots.js';
export type * from './registry.js';
export type * from './tokens.js';
export type * from './work.js';
