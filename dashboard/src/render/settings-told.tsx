import { useEffect, useState } from 'preact/hooks';
import type { ContactRules } from '../api/views.js';
import { useApp, useBusy, useLive } from './app-context.js';
import { faultText, LoadState } from './fault.js';
import { CheckField, ClockField, HoursRows, SelectField, SpanRows } from './fields.js';

const PRIORITIES = ['low', 'medium', 'high'] as const;
/** What the form begins with; common practice, no source. */
const USUAL_DAY = { fromMinute: 7 * 60, toMinute: 16 * 60 };
const USUAL_WEEK = [1, 2, 3, 4, 5].map((weekday) => ({ weekday, ...USUAL_DAY }));
const NIGHT = { fromMinute: 20 * 60, toMinute: 6 * 60 };

/** When and about what one is told. */
export function ToldSection() {
  const { voice, resources, cache } = useApp();
  const query = resources.contactRules();
  const state = useLive(query);
  return (
    <section class="settings-part" aria-labelledby="told-title" id="told">
      <h2 id="told-title">{voice.say('told.title')}</h2>
      <p class="small soft">{voice.say('told.intro')}</p>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {state.data === null ? null : <RulesForm rules={state.data} />}
    </section>
  );
}

function RulesForm({ rules }: { readonly rules: ContactRules }) {
  const { voice, me, client, cache, resources, announce } = useApp();
  const [busy, run] = useBusy();
  const [draft, setDraft] = useState(rules);
  useEffect(() => setDraft(rules), [rules]);
  const sites = useLive(resources.sites()).data ?? [];
  const standIns = useLive(resources.standIns()).data ?? [];
  const hearsOfAlarms = me.permissions['alarms.read'] !== 'none';
  const entries = useLive(hearsOfAlarms ? resources.alarmCatalogue() : null).data ?? [];
  const set = (next: Partial<ContactRules>): void => setDraft({ ...draft, ...next });
  const { quiet, siteIds, kinds, working } = draft;

  return (
    <form
      class="rules"
      onSubmit={(event) => {
        event.preventDefault();
        run(async () => {
          try {
            const { personId: _personId, ...body } = draft;
            await client.send('PUT', '/contact-rules', body);
            announce(voice.say('told.kept'));
            await cache.refresh('contact-rules');
          } catch (fault) {
            announce(voice.say('settings.not_kept', { detail: faultText(voice, fault) }));
          }
        });
      }}
    >
      <div class="sheet-fields">
        <SelectField
          label={voice.say('told.priority')}
          value={draft.minimumPriority}
          options={PRIORITIES.map((value) => ({ value, words: voice.say(`numbers.priority.${value}`) }))}
          onValue={(value) => set({ minimumPriority: PRIORITIES.find((one) => one === value) ?? 'low' })}
        />
        <SelectField
          label={voice.say('told.zone')}
          value={draft.timeZone}
          options={[...new Set([draft.timeZone, voice.reader.timeZone, ...sites.map((site) => site.timeZone)])].map(
            (value) => ({ value, words: value }),
          )}
          onValue={(timeZone) => set({ timeZone })}
        />
        <ClockField
          label={voice.say('told.digest')}
          minute={draft.digestMinute}
          onMinute={(digestMinute) => set({ digestMinute })}
        />
      </div>
      <fieldset class="rows">
        <legend class="label">{voice.say('told.working')}</legend>
        <CheckField
          label={voice.say('told.working_on')}
          checked={working !== null}
          onChecked={(checked) => set({ working: checked ? (rules.working ?? USUAL_WEEK) : null })}
        />
        {working === null ? null : (
          <HoursRows
            legend={voice.say('told.working_hours')}
            hours={working}
            onHours={(hours) => set({ working: hours })}
            usual={USUAL_DAY}
          />
        )}
      </fieldset>
      <fieldset class="rows">
        <legend class="label">{voice.say('told.quiet')}</legend>
        <CheckField
          label={voice.say('told.quiet_on')}
          checked={quiet !== null}
          onChecked={(checked) => set({ quiet: checked ? (rules.quiet ?? NIGHT) : null })}
        />
        {quiet === null ? null : (
          <div class="row">
            <ClockField
              label={voice.say('told.from')}
              minute={quiet.fromMinute}
              onMinute={(fromMinute) => set({ quiet: { ...quiet, fromMinute } })}
            />
            <ClockField
              label={voice.say('told.to')}
              minute={quiet.toMinute}
              onMinute={(toMinute) => set({ quiet: { ...quiet, toMinute } })}
            />
          </div>
        )}
      </fieldset>
      <fieldset class="rows">
        <legend class="label">{voice.say('told.sites')}</legend>
        <div class="choices-row">
          {(['all', 'some'] as const).map((way) => (
            <label key={way} class="choice">
              <input
                type="radio"
                name="told-sites"
                checked={(siteIds === null) === (way === 'all')}
                onChange={() => set({ siteIds: way === 'all' ? null : (rules.siteIds ?? []) })}
              />
              <span>{voice.say(`told.sites_${way}`)}</span>
            </label>
          ))}
        </div>
        {siteIds === null ? null : (
          <div class="choices-row">
            {sites.map((site) => (
              <CheckField
                key={site.id}
                label={site.name}
                checked={siteIds.includes(site.id)}
                onChecked={(checked) =>
                  set({ siteIds: checked ? [...siteIds, site.id] : siteIds.filter((id) => id !== site.id) })
                }
              />
            ))}
          </div>
        )}
      </fieldset>
      {entries.length === 0 ? null : (
        <fieldset class="rows">
          <legend class="label">{voice.say('told.kinds')}</legend>
          <div class="choices-row">
            {entries.map(({ kind }) => (
              <CheckField
                key={kind}
                label={voice.say(`alarm.kind.${kind}`)}
                checked={kinds?.includes(kind) ?? true}
                onChecked={(checked) => {
                  const wanted = entries
                    .map((one) => one.kind)
                    .filter((one) => (one === kind ? checked : (kinds?.includes(one) ?? true)));
                  // All of them means those to come as well.
                  set({ kinds: wanted.length === entries.length ? null : wanted });
                }}
              />
            ))}
          </div>
        </fieldset>
      )}
      <SpanRows
        legend={voice.say('told.away')}
        none={voice.say('told.away_none')}
        add={voice.say('told.away_add')}
        spans={draft.away}
        onSpans={(away) => set({ away })}
      />
      {standIns.length === 0 ? null : (
        <SelectField
          label={voice.say('told.stand_in')}
          value={draft.standInId ?? ''}
          options={[
            { value: '', words: voice.say('told.stand_in_none') },
            ...standIns.map((one) => ({ value: one.id, words: one.name })),
          ]}
          onValue={(value) => set({ standInId: value === '' ? null : value })}
        />
      )}
      <button type="submit" class="press press--first" disabled={busy}>
        {voice.say('told.save')}
      </button>
    </form>
  );
}
