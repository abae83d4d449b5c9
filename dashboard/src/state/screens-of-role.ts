import type { Screen } from './route.js';

export type RoleName = 'owner' | 'dispatcher' | 'technician' | 'installer' | 'client';

/** The way through the screens for each role; the first is where the role starts. What may be done the server decides. */
export const SCREENS_OF_ROLE: Readonly<Record<RoleName, readonly Screen[]>> = {
  dispatcher: ['today', 'round', 'containers', 'alarms', 'water', 'commission'],
  owner: ['water', 'today', 'round', 'containers', 'alarms', 'commission'],
  technician: ['round', 'containers', 'alarms'],
  installer: ['commission', 'containers'],
  client: ['containers', 'water'],
};

/** A container's page belongs to the list of containers, settings to everybody. */
export function mayOpen(role: RoleName, screen: Screen): boolean {
  if (screen === 'settings' || screen === 'unknown') return true;
  if (screen === 'set-up') return role === 'owner';
  return SCREENS_OF_ROLE[role].includes(screen === 'container' ? 'containers' : screen);
}
