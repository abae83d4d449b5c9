/**
 * Where the page stands, kept behind the `#` of the address: it needs nothing from the server, so a bookmark, a reload
 * without a signal and the link in an alert all open the same screen.
 */
export type Route =
  | { readonly screen: 'today' }
  | { readonly screen: 'round'; readonly technicianId: string | null; readonly day: string | null }
  | { readonly screen: 'containers' }
  | { readonly screen: 'container'; readonly containerId: string }
  | { readonly screen: 'alarms' }
  | { readonly screen: 'water'; readonly accountId: string | null; readonly siteId: string | null }
  | { readonly screen: 'settings' }
  /** A pot that is being set up; `new` for one that is not there yet, null for the list. */
  | { readonly screen: 'commission'; readonly containerId: string | null }
  /** The firm's first steps; the code lets the first owner in. */
  | { readonly screen: 'set-up'; readonly code: string | null }
  /** Where the link of an invitation leads, before anybody is signed in. */
  | { readonly screen: 'welcome'; readonly token: string }
  | { readonly screen: 'unknown'; readonly path: string };

export type Screen = Route['screen'];

export function parseRoute(hash: string): Route | null {
  const path = hash.replace(/^#?\/?/, '');
  if (path === '') return null;
  const [screen, first, second] = path.split('/').map(decodePart);
  switch (screen) {
    case 'today':
    case 'alarms':
    case 'settings':
      return { screen };
    case 'round':
      return {
        screen,
        technicianId: first ?? null,
        day: second !== undefined && /^\d{4}-\d\d-\d\d$/.test(second) ? second : null,
      };
    case 'commission':
      return { screen, containerId: first ?? null };
    case 'set-up':
      return { screen, code: first ?? null };
    case 'containers':
      return first === undefined ? { screen } : { screen: 'container', containerId: first };
    case 'water':
      return { screen, accountId: first ?? null, siteId: second ?? null };
    case 'welcome':
      return first === undefined ? { screen: 'unknown', path } : { screen, token: first };
    default:
      return { screen: 'unknown', path };
  }
}

export function formatRoute(route: Route): string {
  const path = (...parts: readonly (string | null)[]): string =>
    `#/${parts
      .filter((part) => part !== null)
      .map(encodeURIComponent)
      .join('/')}`;
  switch (route.screen) {
    case 'container':
      return path('containers', route.containerId);
    case 'round':
      return path('round', route.technicianId, route.technicianId === null ? null : route.day);
    case 'water':
      return path('water', route.accountId, route.accountId === null ? null : route.siteId);
    case 'welcome':
      return path('welcome', route.token);
    case 'commission':
      return path('commission', route.containerId);
    case 'set-up':
      return path('set-up', route.code);
    case 'unknown':
      return `#/${route.path}`;
    case 'today':
    case 'containers':
    case 'alarms':
    case 'settings':
      return path(route.screen);
  }
}

function decodePart(part: string): string | undefined {
  if (part === '') return undefined;
  try {
    return decodeURIComponent(part);
  } catch (error) {
    if (error instanceof URIError) return part;
    throw error;
  }
}
