import type { FastifyRequest } from 'fastify';
import type { Action, Principal, Subject } from '../domain/access.js';

/**
 * What a route asks for. `public`: nothing. `signed_in`: a session or a token, whatever the role. `session_only`: a session,
 * since it is about the log-in itself, which no token may touch. Otherwise an action of the permission matrix; `about` names the person or account that the request is about, where its reach depends on it.
 */
export type Access =
  | 'public'
  | 'signed_in'
  | 'session_only'
  | { readonly action: Action; readonly about?: 'own' | 'technician' | 'account' };

const read = (action: Action): Access => ({ action });
const REGISTRY_READ = read('registry.read');
const REGISTRY_WRITE = read('registry.write');
const CONTAINERS_READ = read('containers.read');
const COMMISSION = read('container.commission');
const PEOPLE_WRITE = read('people.write');
const ALARMS_ACT = read('alarms.act');
const ROUNDS_WRITE = read('rounds.write');
const PLAN_READ = read('plan.read');
const PLAN_WRITE = read('plan.write');

const OWN_CONTACTS: Access = { action: 'contacts.own', about: 'own' };
const OWN_TOKENS: Access = { action: 'tokens.write', about: 'own' };
const FIRM_CONTACTS = read('contacts.firm');
const CREW_READ = read('crew.read');
const CREW_WRITE = read('crew.write');
const UNDELIVERED = read('undelivered.act');

/** Who may use which route. A route that is not in this table cannot be registered. */
export const ACCESS: Readonly<Record<string, Access>> = {
  'POST /api/v1/session': 'public',
  'GET /api/v1/session': 'signed_in',
  'DELETE /api/v1/session': 'session_only',
  'PUT /api/v1/preferences': 'session_only',
  'PUT /api/v1/password': 'session_only',
  'GET /api/v1/second-factor': 'session_only',
  'POST /api/v1/second-factor': 'session_only',
  'POST /api/v1/second-factor/confirm': 'session_only',
  'POST /api/v1/second-factor/drop': 'session_only',
  // The link is what is asked for.
  'POST /api/v1/invitations/look': 'public',
  'POST /api/v1/invitations/accept': 'public',
  'GET /api/v1/changes': 'signed_in',
  // Only while nobody is there; the code on the server's console is what is asked for.
  'GET /api/v1/set-up': 'public',
  'POST /api/v1/set-up': 'public',
  'GET /api/v1/firm': 'signed_in',
  'PUT /api/v1/firm': read('firm.write'),

  'GET /api/v1/people': read('people.read'),
  'POST /api/v1/people': PEOPLE_WRITE,
  'PUT /api/v1/people/:id': PEOPLE_WRITE,
  'PUT /api/v1/people/:id/password': PEOPLE_WRITE,
  'POST /api/v1/people/:id/invitation': PEOPLE_WRITE,
  'GET /api/v1/people/doors': PEOPLE_WRITE,
  'DELETE /api/v1/people/:id/sessions': PEOPLE_WRITE,
  'DELETE /api/v1/people/:id/second-factor': PEOPLE_WRITE,
  'GET /api/v1/tokens': OWN_TOKENS,
  'POST /api/v1/tokens': OWN_TOKENS,
  'DELETE /api/v1/tokens/:id': OWN_TOKENS,
  'GET /api/v1/audit': read('audit.read'),
  'GET /api/v1/edits': read('audit.read'),

  'GET /api/v1/accounts': REGISTRY_READ,
  'POST /api/v1/accounts': REGISTRY_WRITE,
  'PUT /api/v1/accounts/:id': REGISTRY_WRITE,
  'GET /api/v1/accounts/:id/personal-data': read('personal.write'),
  'POST /api/v1/accounts/:id/erase': read('personal.write'),
  'GET /api/v1/sites': REGISTRY_READ,
  'POST /api/v1/sites': REGISTRY_WRITE,
  'PUT /api/v1/sites/:id': REGISTRY_WRITE,
  'GET /api/v1/sites/:id/terms': CREW_READ,
  'PUT /api/v1/sites/:id/terms': CREW_WRITE,
  'GET /api/v1/crew': CREW_READ,
  'PUT /api/v1/crew/:id': CREW_WRITE,
  'POST /api/v1/absences': CREW_WRITE,
  'DELETE /api/v1/absences/:id': CREW_WRITE,
  'POST /api/v1/depots': CREW_WRITE,
  'PUT /api/v1/depots/:id': CREW_WRITE,
  'POST /api/v1/trucks': CREW_WRITE,
  'PUT /api/v1/trucks/:id': CREW_WRITE,
  'GET /api/v1/sites/:id/access': { action: 'access.read', about: 'own' },
  'PUT /api/v1/sites/:id/access': read('access.write'),
  'GET /api/v1/access-looks': read('audit.read'),
  'GET /api/v1/gateways': REGISTRY_READ,
  'POST /api/v1/gateways': COMMISSION,
  'PUT /api/v1/gateways/:id': REGISTRY_WRITE,
  'GET /api/v1/nodes': REGISTRY_READ,
  'POST /api/v1/nodes': COMMISSION,
  'PUT /api/v1/nodes/:id': COMMISSION,
  'GET /api/v1/assignments': REGISTRY_READ,
  'POST /api/v1/assignments': COMMISSION,
  'POST /api/v1/assignments/swap': COMMISSION,
  'PUT /api/v1/assignments/:id': COMMISSION,
  'POST /api/v1/assignments/:id/end': COMMISSION,
  'DELETE /api/v1/assignments/:id': COMMISSION,
  'POST /api/v1/credentials': read('credentials.write'),
  'DELETE /api/v1/credentials/:id': read('credentials.write'),

  'GET /api/v1/containers': { action: 'containers.read', about: 'account' },
  'POST /api/v1/containers': COMMISSION,
  'GET /api/v1/containers/:id': CONTAINERS_READ,
  'PUT /api/v1/containers/:id': COMMISSION,
  'GET /api/v1/containers/:id/series': CONTAINERS_READ,
  'GET /api/v1/commissioning': COMMISSION,
  'GET /api/v1/containers/:id/commissioning': COMMISSION,
  'POST /api/v1/first-table': COMMISSION,
  'GET /api/v1/containers/:id/pours': CONTAINERS_READ,
  'POST /api/v1/containers/:id/pours': COMMISSION,
  'GET /api/v1/containers/:id/level': CONTAINERS_READ,
  'POST /api/v1/containers/:id/fast-report': read('nodes.hurry'),
  'GET /api/v1/containers/:id/explanation': CONTAINERS_READ,
  'GET /api/v1/containers/:id/ledger': CONTAINERS_READ,
  'GET /api/v1/containers/:id/ledger/:day': CONTAINERS_READ,
  'GET /api/v1/containers/:id/corrections': CONTAINERS_READ,
  'POST /api/v1/containers/:id/events': read('events.correct'),
  'POST /api/v1/events/:id/correction': read('events.correct'),
  'GET /api/v1/water': { action: 'water.read', about: 'account' },
  'GET /api/v1/water/review': { action: 'water.read', about: 'account' },
  'GET /api/v1/weather': CONTAINERS_READ,
  'POST /api/v1/weather': read('weather.write'),
  'GET /api/v1/quarantine': read('quarantine.read'),
  'POST /api/v1/quarantine/rerun': read('quarantine.rerun'),

  'GET /api/v1/today': read('tasks.read'),
  'GET /api/v1/rounds': { action: 'rounds.read', about: 'technician' },
  'POST /api/v1/rounds/stops': ROUNDS_WRITE,
  'PUT /api/v1/rounds/stops/:id': ROUNDS_WRITE,
  'DELETE /api/v1/rounds/stops/:id': ROUNDS_WRITE,
  'POST /api/v1/rounds/stops/:id/set-out': { action: 'visits.write', about: 'own' },
  'GET /api/v1/plan': PLAN_READ,
  'GET /api/v1/plan/lookback': PLAN_READ,
  'POST /api/v1/plan/run': PLAN_WRITE,
  'POST /api/v1/plan/changes': PLAN_WRITE,
  'POST /api/v1/plan/undo': PLAN_WRITE,
  'POST /api/v1/plan/publish': PLAN_WRITE,
  'POST /api/v1/plan/what-if': PLAN_READ,
  'GET /api/v1/plan/sites/:id': PLAN_READ,
  'POST /api/v1/plan/offers': PLAN_READ,
  'POST /api/v1/plan/offers/accept': PLAN_WRITE,
  'GET /api/v1/tasks': read('tasks.read'),
  'POST /api/v1/tasks': read('tasks.write'),
  'GET /api/v1/tasks/:id': read('tasks.read'),
  'POST /api/v1/tasks/:id/cancel': read('tasks.write'),
  'GET /api/v1/visits': read('visits.read'),
  'GET /api/v1/visits/:id': read('visits.read'),
  'PUT /api/v1/visits/:id': { action: 'visits.write', about: 'technician' },
  'GET /api/v1/alerts': { action: 'alerts.read', about: 'own' },
  'POST /api/v1/alerts/:id/read': { action: 'alerts.read', about: 'own' },

  'GET /api/v1/contact-rules': OWN_CONTACTS,
  'PUT /api/v1/contact-rules': OWN_CONTACTS,
  'GET /api/v1/stand-ins': OWN_CONTACTS,
  'GET /api/v1/push-key': OWN_CONTACTS,
  'GET /api/v1/addresses': OWN_CONTACTS,
  'POST /api/v1/addresses': OWN_CONTACTS,
  'DELETE /api/v1/addresses/:id': OWN_CONTACTS,
  'GET /api/v1/calendar': OWN_CONTACTS,
  'POST /api/v1/calendar': OWN_CONTACTS,
  'DELETE /api/v1/calendar': OWN_CONTACTS,
  // Calendars send no cookie; the token in the address is what is asked for.
  'GET /api/v1/calendars/:token': 'public',
  'GET /api/v1/firm-addresses': FIRM_CONTACTS,
  'POST /api/v1/firm-addresses': FIRM_CONTACTS,
  'DELETE /api/v1/firm-addresses/:id': FIRM_CONTACTS,
  'GET /api/v1/undelivered': UNDELIVERED,
  'POST /api/v1/undelivered/:id/send': UNDELIVERED,

  'GET /api/v1/alarms': read('alarms.read'),
  'GET /api/v1/alarms/performance': ALARMS_ACT,
  'GET /api/v1/alarms/catalogue': read('alarms.read'),
  'GET /api/v1/alarms/overrides': read('alarms.read'),
  'POST /api/v1/alarms/overrides': ALARMS_ACT,
  'GET /api/v1/alarms/:id': read('alarms.read'),
  'POST /api/v1/alarms/:id/acknowledge': ALARMS_ACT,
  'POST /api/v1/alarms/:id/shelve': ALARMS_ACT,
  'POST /api/v1/alarms/:id/unshelve': ALARMS_ACT,
  'POST /api/v1/alarms/:id/suppress': ALARMS_ACT,
  'POST /api/v1/alarms/:id/unsuppress': ALARMS_ACT,
  'POST /api/v1/alarms/:id/out-of-service': ALARMS_ACT,
  'POST /api/v1/alarms/:id/return-to-service': ALARMS_ACT,
  'POST /api/v1/alarms/:id/reset': ALARMS_ACT,
};

/** The table's entry for a route; HEAD asks for what GET does. @throws Error where the table lacks it */
export function accessOf(method: string, url: string): Access {
  const entry = ACCESS[`${method === 'HEAD' ? 'GET' : method} ${url}`];
  if (entry === undefined)
    throw new Error(`${method} ${url} is not in the access table, so nobody knows who may use it`);
  return entry;
}

/** The person or account that a request is about, as far as the route's entry says. */
export function subjectOf(access: Access, who: Principal, request: FastifyRequest): Subject {
  if (typeof access === 'string') return { accountId: null, personId: null };
  switch (access.about) {
    case 'own':
      return { accountId: null, personId: who.personId };
    case 'technician':
      return {
        accountId: null,
        personId: field(request.query, 'technicianId') ?? field(request.body, 'technicianId') ?? who.personId,
      };
    case 'account':
      return { accountId: field(request.query, 'accountId'), personId: null };
    default:
      return { accountId: null, personId: null };
  }
}

function field(values: unknown, name: string): string | null {
  if (typeof values !== 'object' || values === null) return null;
  const value: unknown = Reflect.get(values, name);
  return typeof value === 'string' ? value : null;
}
