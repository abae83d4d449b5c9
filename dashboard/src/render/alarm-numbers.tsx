import { useEffect, useId, useRef, useState } from 'preact/hooks';
import type { AlarmEntry, AlarmOverride } from '../api/views.js';
import type { Voice } from '../state/voice.js';
import { useApp, useBusy, useLive } from './app-context.js';
import { faultText, LoadState } from './fault.js';
import { ScrollRegion } from './scroll-region.js';

/** Where an alarm is to behave otherwise. */
export interface OverridePlace {
  readonly kind: AlarmEntry['kind'];
  readonly siteId: string;
  /** Null: the whole site. */
  readonly containerId: string | null;
}

const PRIORITIES = ['low', 'medium', 'high'] as const;

export function saySpan(voice: Voice, minutes: number | null): string {
  if (minutes === null) return voice.say('numbers.never');
  if (minutes === 0) return voice.say('numbers.at_once');
  if (minutes % 1440 === 0) return voice.say('numbers.days', { spanDays: minutes / 1440 });
  if (minutes % 60 === 0) return voice.say('numbers.hours', { spanHours: minutes / 60 });
  return voice.say('numbers.minutes', { spanMinutes: minutes });
}

/** The numbers of each alarm, everywhere and where a place wants them otherwise. */
export function AlarmNumbers({
  setting,
  onSetting,
}: {
  /** The place whose numbers are being set; null while none is. */
  readonly setting: OverridePlace | null;
  readonly onSetting: (place: OverridePlace | null) => void;
}) {
  const { voice, me, resources, cache } = useApp();
  const query = resources.alarmCatalogue();
  const state = useLive(query);
  const overrides = useLive(resources.alarmOverrides()).data ?? [];
  const sites = useLive(resources.sites()).data;
  const mayAct = me.permissions['alarms.act'] !== 'none';
  const firstSite = sites?.[0];
  return (
    <section class="numbers" aria-labelledby="numbers-title">
      <h2 id="numbers-title">{voice.say('numbers.title')}</h2>
      <p class="small soft">{voice.say('numbers.intro')}</p>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {state.data === null ? null : <Catalogue entries={state.data} />}
      <h3>{voice.say('numbers.own')}</h3>
      <Overrides overrides={overrides} onSetting={mayAct ? onSetting : null} />
      {!mayAct || state.data === null || firstSite === undefined ? null : setting === null ? (
        <button
          type="button"
          class="press"
          onClick={() => onSetting({ kind: 'dry', siteId: firstSite.id, containerId: null })}
        >
          {voice.say('numbers.set')} …
        </button>
      ) : (
        <OverrideForm place={setting} entries={state.data} onPlace={onSetting} />
      )}
    </section>
  );
}

function Catalogue({ entries }: { readonly entries: readonly AlarmEntry[] }) {
  const { voice } = useApp();
  return (
    <ScrollRegion label={voice.say('numbers.table')} wide>
      <table class="marks">
        <thead>
          <tr>
            <th scope="col">{voice.say('numbers.kind')}</th>
            <th scope="col">{voice.say('numbers.priority')}</th>
            <th scope="col">{voice.say('numbers.respond')}</th>
            <th scope="col">{voice.say('numbers.on_delay')}</th>
            <th scope="col">{voice.say('numbers.off_delay')}</th>
            <th scope="col">{voice.say('numbers.re_alarm')}</th>
            <th scope="col">{voice.say('numbers.deadband')}</th>
          </tr>
        </thead>
        <tbody>
          {entries.map((entry) => (
            <tr key={entry.kind}>
              <th scope="row">{voice.say(`alarm.kind.${entry.kind}`)}</th>
              <td>{voice.say(`numbers.priority.${entry.priority}`)}</td>
              <td>{saySpan(voice, entry.respondWithinHours * 60)}</td>
              <td>{saySpan(voice, entry.onDelayMinutes)}</td>
              <td>{saySpan(voice, entry.offDelayMinutes)}</td>
              <td>{saySpan(voice, entry.reAlarmAfterMinutes)}</td>
              <td>{entry.deadbandHours === 0 ? '–' : saySpan(voice, entry.deadbandHours * 60)}</td>
            </tr>
          ))}
        </tbody>
      </table>
    </ScrollRegion>
  );
}

/** What an override says, in words; empty where it was taken back. */
function sayNumbers(voice: Voice, row: AlarmOverride): string {
  const part = (code: 'numbers.on_delay' | 'numbers.off_delay' | 'numbers.re_alarm', minutes: number | null) =>
    minutes === null ? [] : [`${voice.say(code)} ${saySpan(voice, minutes)}`];
  return [
    ...part('numbers.on_delay', row.onDelayMinutes),
    ...part('numbers.off_delay', row.offDelayMinutes),
    ...part('numbers.re_alarm', row.reAlarmAfterMinutes),
    ...(row.deadbandHours === null
      ? []
      : [`${voice.say('numbers.deadband')} ${saySpan(voice, row.deadbandHours * 60)}`]),
    ...(row.priority === null
      ? []
      : [`${voice.say('numbers.priority')} ${voice.say(`numbers.priority.${row.priority}`)}`]),
  ].join(', ');
}

/** Every change as it was made, the newest first. */
function Overrides({
  overrides,
  onSetting,
}: {
  readonly overrides: readonly AlarmOverride[];
  readonly onSetting: ((place: OverridePlace) => void) | null;
}) {
  const { voice, resources } = useApp();
  const sites = useLive(resources.sites()).data;
  const pots = useLive(overrides.length === 0 ? null : resources.containers()).data;
  const people = useLive(resources.people()).data;
  if (overrides.length === 0) return <p class="small soft">{voice.say('numbers.own_none')}</p>;
  const current = new Set<AlarmOverride>();
  const seen = new Set<string>();
  for (const row of overrides.toReversed()) {
    if (!seen.has(row.id)) current.add(row);
    seen.add(row.id);
  }
  return (
    <ul class="actors">
      {overrides.toReversed().map((row) => {
        const site = sites?.find((one) => one.id === row.siteId)?.name ?? row.siteId;
        const pot =
          row.containerId === null ? null : (pots?.find((one) => one.id === row.containerId)?.name ?? row.containerId);
        const numbers = sayNumbers(voice, row);
        const kind = voice.say(`alarm.kind.${row.kind}`);
        const place = pot ?? site;
        return (
          <li key={`${row.id} ${row.changedMs}`} class={current.has(row) ? 'actor' : 'actor actor--past'}>
            <div>
              <p>
                <strong>{kind}</strong> {place}
                <span class="soft"> · {pot === null ? voice.say('numbers.whole_site') : site}</span>
              </p>
              <p class="small">{numbers === '' ? voice.say('numbers.back') : numbers}</p>
              <p class="smallest soft">
                {voice.say('numbers.changed', {
                  name: people?.find((one) => one.id === row.changedBy)?.name ?? row.changedBy,
                  atMs: row.changedMs,
                  reason: row.reason,
                })}
              </p>
            </div>
            {onSetting === null || !current.has(row) ? null : (
              <button
                type="button"
                class="press"
                aria-label={voice.say('health.actor_set_for', { kind, place })}
                onClick={() => onSetting({ kind: row.kind, siteId: row.siteId, containerId: row.containerId })}
              >
                {voice.say('health.actor_set')}
              </button>
            )}
          </li>
        );
      })}
    </ul>
  );
}

const emptyIsNull = (text: string): number | null => (text.trim() === '' ? null : Number(text));

function OverrideForm({
  place,
  entries,
  onPlace,
}: {
  readonly place: OverridePlace;
  readonly entries: readonly AlarmEntry[];
  readonly onPlace: (place: OverridePlace | null) => void;
}) {
  const { voice, client, cache, resources, announce } = useApp();
  const [busy, run] = useBusy();
  const [fault, setFault] = useState<string | null>(null);
  const form = useRef<HTMLFormElement>(null);
  const id = useId();
  const sites = useLive(resources.sites()).data ?? [];
  const pots = useLive(resources.containers()).data ?? [];
  const overrides = useLive(resources.alarmOverrides()).data ?? [];
  const entry = entries.find((one) => one.kind === place.kind)!;
  const current = overrides.findLast(
    (row) => row.kind === place.kind && row.siteId === place.siteId && row.containerId === place.containerId,
  );
  const own = pots.filter((pot) => pot.siteId === place.siteId && pot.removedOn === null);
  const where =
    pots.find((pot) => pot.id === place.containerId)?.name ??
    sites.find((one) => one.id === place.siteId)?.name ??
    place.siteId;
  const kind = voice.say(`alarm.kind.${place.kind}`);

  useEffect(() => {
    form.current?.scrollIntoView({ block: 'nearest' });
    form.current?.querySelector('select')?.focus();
  }, []);

  function send(numbers: object, reason: string, done: string): void {
    run(async () => {
      try {
        await client.send('POST', '/alarms/overrides', { ...place, ...numbers, reason });
        announce(done);
        await Promise.all([cache.refresh('alarm-overrides'), cache.refresh('alarms')]);
        onPlace(null);
      } catch (error) {
        setFault(faultText(voice, error));
      }
    });
  }

  const value = (name: string): string => String(new FormData(form.current!).get(name) ?? '');
  const number = (
    name: 'onDelayMinutes' | 'offDelayMinutes' | 'reAlarmAfterMinutes' | 'deadbandHours',
    label: 'numbers.on_delay_in' | 'numbers.off_delay_in' | 'numbers.re_alarm_in' | 'numbers.deadband_in',
  ) => (
    <div class="field">
      <label for={`${id}-${name}`}>{voice.say(label)}</label>
      <input
        key={`${place.kind} ${place.siteId} ${place.containerId}`}
        id={`${id}-${name}`}
        name={name}
        type="number"
        min="0"
        step={name === 'deadbandHours' ? 'any' : '1'}
        inputMode="decimal"
        defaultValue={current?.[name] == null ? '' : String(current[name])}
        aria-describedby={`${id}-${name}-wide`}
      />
      <span id={`${id}-${name}-wide`} class="smallest soft">
        {voice.say('numbers.as_wider', {
          figure: name === 'deadbandHours' ? saySpan(voice, entry.deadbandHours * 60) : saySpan(voice, entry[name]),
        })}
      </span>
    </div>
  );

  return (
    <form
      ref={form}
      class="sheet"
      aria-label={voice.say('numbers.set_title')}
      onSubmit={(event) => {
        event.preventDefault();
        const priority = value('priority');
        send(
          {
            onDelayMinutes: emptyIsNull(value('onDelayMinutes')),
            offDelayMinutes: emptyIsNull(value('offDelayMinutes')),
            reAlarmAfterMinutes: emptyIsNull(value('reAlarmAfterMinutes')),
            deadbandHours: emptyIsNull(value('deadbandHours')),
            priority: priority === '' ? null : priority,
          },
          value('reason'),
          voice.say('numbers.did', { kind, place: where }),
        );
      }}
      onKeyDown={(event) => {
        if (event.key === 'Escape') onPlace(null);
      }}
    >
      <div class="sheet-fields">
        <div class="field">
          <label for={`${id}-kind`}>{voice.say('numbers.kind')}</label>
          <select
            id={`${id}-kind`}
            value={place.kind}
            onChange={(event) => onPlace({ ...place, kind: event.currentTarget.value as OverridePlace['kind'] })}
          >
            {entries.map((one) => (
              <option key={one.kind} value={one.kind}>
                {voice.say(`alarm.kind.${one.kind}`)}
              </option>
            ))}
          </select>
        </div>
        <div class="field">
          <label for={`${id}-site`}>{voice.say('numbers.site')}</label>
          <select
            id={`${id}-site`}
            value={place.siteId}
            onChange={(event) => onPlace({ ...place, siteId: event.currentTarget.value, containerId: null })}
          >
            {sites.map((site) => (
              <option key={site.id} value={site.id}>
                {site.name}
              </option>
            ))}
          </select>
        </div>
        <div class="field">
          <label for={`${id}-pot`}>{voice.say('numbers.pot')}</label>
          <select
            id={`${id}-pot`}
            value={place.containerId ?? ''}
            onChange={(event) =>
              onPlace({ ...place, containerId: event.currentTarget.value === '' ? null : event.currentTarget.value })
            }
          >
            <option value="">{voice.say('numbers.whole_site')}</option>
            {own.map((pot) => (
              <option key={pot.id} value={pot.id}>
                {pot.name}
              </option>
            ))}
          </select>
        </div>
        {number('onDelayMinutes', 'numbers.on_delay_in')}
        {number('offDelayMinutes', 'numbers.off_delay_in')}
        {number('reAlarmAfterMinutes', 'numbers.re_alarm_in')}
        {number('deadbandHours', 'numbers.deadband_in')}
        <div class="field">
          <label for={`${id}-priority`}>{voice.say('numbers.priority_in')}</label>
          <select
            key={`${place.kind} ${place.siteId} ${place.containerId}`}
            id={`${id}-priority`}
            name="priority"
            defaultValue={current?.priority ?? ''}
          >
            <option value="">{voice.say('numbers.priority_same')}</option>
            {PRIORITIES.map((one) => (
              <option key={one} value={one}>
                {voice.say(`numbers.priority.${one}`)}
              </option>
            ))}
          </select>
        </div>
      </div>
      <div class="field">
        <label for={`${id}-reason`}>{voice.say('numbers.reason')}</label>
        <input id={`${id}-reason`} name="reason" required maxLength={500} />
      </div>
      {fault === null ? null : (
        <p role="alert" class="small">
          {voice.say('today.did_fail', { detail: fault })}
        </p>
      )}
      <div class="alarm-acts">
        <button type="submit" class="press press--first" disabled={busy}>
          {voice.say('numbers.save')}
        </button>
        {current === undefined ? null : (
          <button
            type="button"
            class="press"
            disabled={busy}
            onClick={() => {
              if (form.current?.reportValidity() !== true) return;
              send({}, value('reason'), voice.say('numbers.did_back', { kind, place: where }));
            }}
          >
            {voice.say('numbers.take_back')}
          </button>
        )}
        <button type="button" class="press press--plain" onClick={() => onPlace(null)}>
          {voice.say('alarms.cancel')}
        </button>
      </div>
    </form>
  );
}
