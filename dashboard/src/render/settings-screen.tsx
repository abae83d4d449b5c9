import { useRef, useState } from 'preact/hooks';
import type { Preferences } from '../api/views.js';
import { LOOKS } from '../state/theme.js';
import { useApp, useBusy } from './app-context.js';
import { faultText } from './fault.js';
import { lazyPart } from './lazy-part.js';
import { OwnDoors } from './own-doors.js';
import { AddressesSection, CalendarSection, FirmSection } from './settings-addresses.js';
import { CrewSection } from './settings-crew.js';
import { NodesSection } from './settings-nodes.js';
import { PlacesSection } from './settings-places.js';
import { ToldSection } from './settings-told.js';
import { SiteTermsSection } from './site-terms.js';

const OwnerPart = lazyPart(async () => (await import('./owner-part.js')).OwnerPart);

interface Choice<Value extends string> {
  readonly value: Value;
  readonly words: string;
}

function Choices<Value extends string>({
  name,
  legend,
  value,
  choices,
  onChoose,
}: {
  readonly name: string;
  readonly legend: string;
  readonly value: Value;
  readonly choices: readonly Choice<Value>[];
  readonly onChoose: (value: Value) => void;
}) {
  return (
    <fieldset class="choices">
      <legend class="label">{legend}</legend>
      <div class="choices-row">
        {choices.map((choice) => (
          <label key={choice.value} class="choice">
            <input
              type="radio"
              name={name}
              value={choice.value}
              checked={choice.value === value}
              onChange={() => onChoose(choice.value)}
            />
            <span>{choice.words}</span>
          </label>
        ))}
      </div>
    </fieldset>
  );
}

/** How the page speaks to a person, how the person is told, and, for those who plan, what there is to plan with. */
export function SettingsScreen() {
  const { voice, me, client, look, outbox, setLook, setMe, signOut, announce, nowMs } = useApp();
  const [busy, run] = useBusy();
  const sending = useRef<Promise<void>>(Promise.resolve());
  const [unsent, setUnsent] = useState(false);
  const { units, language } = me.person;
  const may = (action: string): boolean => (me.permissions[action] ?? 'none') !== 'none';

  /** The page changes at once; what is sent follows in the order of the choices, so that quick ones are not lost. */
  function keep(next: Preferences): void {
    const before = me;
    setMe({ ...me, person: { ...me.person, ...next }, now: { ...me.now, businessMs: nowMs() } });
    sending.current = sending.current.then(async () => {
      try {
        await client.send('PUT', '/preferences', next);
        announce(voice.say('settings.kept'));
      } catch (fault) {
        setMe(before);
        announce(voice.say('settings.not_kept', { detail: faultText(voice, fault) }));
      }
    });
  }

  return (
    <div class={may('crew.write') ? 'settings settings--firm' : 'settings'} aria-busy={busy}>
      <h1>{voice.say('settings.title')}</h1>
      <div class="settings-column">
        <section class="settings-part" aria-labelledby="self-title">
          <h2 id="self-title">{voice.say('settings.self')}</h2>
          <p class="small soft">{voice.say('settings.intro')}</p>
          <Choices
            name="volume"
            legend={voice.say('settings.volume')}
            value={units.volume}
            choices={(['L', 'US_gal'] as const).map((value) => ({
              value,
              words: voice.say(`settings.volume.${value}`),
            }))}
            onChoose={(volume) => keep({ language, units: { ...units, volume } })}
          />
          <Choices
            name="length"
            legend={voice.say('settings.length')}
            value={units.length}
            choices={(['mm', 'in'] as const).map((value) => ({ value, words: voice.say(`settings.length.${value}`) }))}
            onChoose={(length) => keep({ language, units: { ...units, length } })}
          />
          <Choices
            name="temperature"
            legend={voice.say('settings.temperature')}
            value={units.temperature}
            choices={(['Cel', 'degF'] as const).map((value) => ({
              value,
              words: voice.say(`settings.temperature.${value}`),
            }))}
            onChoose={(temperature) => keep({ language, units: { ...units, temperature } })}
          />
          <Choices
            name="language"
            legend={voice.say('settings.language')}
            value={language}
            choices={(['en', 'es'] as const).map((value) => ({
              value,
              words: voice.say(`settings.language.${value}`),
            }))}
            onChoose={(next) => keep({ language: next, units })}
          />
          <Choices
            name="look"
            legend={voice.say('settings.look')}
            value={look}
            choices={LOOKS.map((value) => ({ value, words: voice.say(`settings.look.${value}`) }))}
            onChoose={setLook}
          />
        </section>
        {may('contacts.own') ? (
          <>
            <ToldSection />
            <AddressesSection />
            <CalendarSection />
          </>
        ) : null}
        <div class="settings-part">
          <OwnDoors />
        </div>
        <section class="settings-out">
          <p>
            {voice.say('settings.signed_in_as', { name: me.person.name, role: voice.say(`role.${me.person.role}`) })}
          </p>
          {unsent ? <p role="alert">{voice.say('settings.unsent', { visits: outbox.items.length })}</p> : null}
          <button
            type="button"
            class="press"
            disabled={busy}
            onClick={() => {
              if (outbox.items.length > 0) {
                setUnsent(true);
                return;
              }
              run(async () => {
                try {
                  await signOut();
                } catch (fault) {
                  announce(voice.say('settings.not_kept', { detail: faultText(voice, fault) }));
                }
              });
            }}
          >
            {voice.say('settings.sign_out')}
          </button>
        </section>
      </div>
      {may('crew.write') ? (
        <div class="settings-column">
          <CrewSection />
          <PlacesSection />
          <SiteTermsSection />
          <NodesSection />
          {may('contacts.firm') ? <FirmSection /> : null}
          {may('people.write') ? <OwnerPart /> : null}
        </div>
      ) : null}
    </div>
  );
}
