import { WHOLE_FLEET } from '../../domain/access.js';
import type { Address } from '../../domain/notify.js';
import type { Person, UnitPreferences } from '../../domain/registry.js';
import { CATALOGUES } from '../../domain/texts/catalogues.js';
import type { App } from '../context.js';
import { METRIC_UNITS } from '../people/people.js';
import type { Voice } from './outbox-runner.js';
import { mostUsedZone } from './round-views.js';

const LOCALES: Readonly<Record<Person['language'], string>> = { en: 'en-GB', es: 'es' };

/** The zone of most sites, in which people are told who have set none. */
export async function firmZone(app: App): Promise<string> {
  return mostUsedZone(await app.store.registry.sites(WHOLE_FLEET));
}

/** How an address is spoken to: its person's language, units and zone; SI units and the firm's zone for the firm's. */
export async function voiceOfAddress(app: App, address: Address): Promise<Voice> {
  const person = address.personId === null ? null : await app.store.people.person(address.personId);
  if (person !== null) return voiceOfPerson(app, person);
  return voice('en', METRIC_UNITS, await firmZone(app));
}

export async function voiceOfPerson(app: App, person: Person): Promise<Voice> {
  const rules = await app.store.notify.rules(person.id);
  return voice(person.language, person.units, rules?.timeZone ?? (await firmZone(app)));
}

function voice(language: Person['language'], units: UnitPreferences, timeZone: string): Voice {
  return { catalogue: CATALOGUES[language], reader: { locale: LOCALES[language], units, timeZone } };
}
