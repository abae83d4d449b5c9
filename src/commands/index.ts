import type { Command } from './command.js';

/** What the top-level help lists; the command itself is loaded when it is called for. */
export interface CommandEntry {
  readonly name: string;
  readonly summary: string;
  load(): Promise<Command>;
}

/** In the order in which somebody new needs them. */
export const COMMANDS: readonly CommandEntry[] = [
  {
    name: 'demo',
    summary: 'a made-up firm with 120 containers, live, on this machine only',
    load: async () => (await import('./demo.js')).demo,
  },
  {
    name: 'serve',
    summary: 'run the server: MQTT broker, analysis, alarms, API and pages',
    load: async () => (await import('./serve.js')).serve,
  },
  {
    name: 'owner add',
    summary: 'make an owner, who can then sign in and add everybody else',
    load: async () => (await import('./owner-add.js')).ownerAdd,
  },
  {
    name: 'owner password',
    summary: 'give somebody a new password from the machine itself',
    load: async () => (await import('./owner-password.js')).ownerPassword,
  },
  {
    name: 'import',
    summary: 'load a fleet, a history of readings and weather from files',
    load: async () => (await import('./import.js')).importCommand,
  },
  {
    name: 'node add',
    summary: 'make a sensor node’s MQTT credentials',
    load: async () => (await import('./node-add.js')).nodeAdd,
  },
  {
    name: 'node revoke',
    summary: 'take the MQTT credentials of a lost or stolen node away',
    load: async () => (await import('./node-revoke.js')).nodeRevoke,
  },
  {
    name: 'backup',
    summary: 'copy the store while it is in use, and check the copy',
    load: async () => (await import('./backup.js')).backup,
  },
  {
    name: 'drill',
    summary: 'restore a backup aside, check it from end to end, and remove it again',
    load: async () => (await import('./drill.js')).drill,
  },
  {
    name: 'rekey',
    summary: 'seal gate codes and contacts with a new key',
    load: async () => (await import('./rekey.js')).rekey,
  },
  {
    name: 'replay',
    summary: 'say what the program would have known at chosen moments of a history',
    load: async () => (await import('./replay.js')).replay,
  },
  {
    name: 'score',
    summary: 'compare what replay said with the truth of a simulated fleet',
    load: async () => (await import('./score.js')).score,
  },
];
