import { useEffect, useState } from 'preact/hooks';
import type { SiteTerms } from '../api/views.js';
import { WEEKDAYS, weekdayName, wordsOf } from '../state/week.js';
import { useApp, useBusy, useLive } from './app-context.js';
import { faultText, LoadState } from './fault.js';
import { CheckField, HoursRows, SelectField, SpanRows, TextField } from './fields.js';
import { YearDayRows } from './year-days.js';

const MORNING = { fromMinute: 7 * 60, toMinute: 12 * 60 };

/** Hours and agreements, one site at a time. */
export function SiteTermsSection() {
  const { voice, resources } = useApp();
  const sites = useLive(resources.sites()).data ?? [];
  const [chosen, setChosen] = useState<string | null>(null);
  const sorted = sites.toSorted((a, b) => a.name.localeCompare(b.name));
  const site = sorted.find((one) => one.id === chosen) ?? sorted[0];
  if (site === undefined) return null;
  return (
    <section class="settings-part" aria-labelledby="terms-title" id="terms">
      <h2 id="terms-title">{voice.say('terms.title')}</h2>
      <SelectField
        label={voice.say('terms.site')}
        value={site.id}
        options={sorted.map((one) => ({ value: one.id, words: one.name }))}
        onValue={setChosen}
      />
      <SiteTermsForm key={site.id} siteId={site.id} siteName={site.name} />
    </section>
  );
}

/** When and by whom one site may be worked at. */
export function SiteTermsForm({ siteId, siteName }: { readonly siteId: string; readonly siteName: string }) {
  const { resources, cache } = useApp();
  const query = resources.siteTerms(siteId);
  const state = useLive(query);
  return (
    <>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {state.data === null ? null : <TermsForm terms={state.data} siteName={siteName} />}
    </>
  );
}

function TermsForm({ terms, siteName }: { readonly terms: SiteTerms; readonly siteName: string }) {
  const { voice, resources, client, cache, announce } = useApp();
  const [busy, run] = useBusy();
  const [draft, setDraft] = useState(terms);
  const [skills, setSkills] = useState(terms.skills.join(', '));
  const people = useLive(resources.crew()).data?.people ?? [];
  useEffect(() => {
    setDraft(terms);
    setSkills(terms.skills.join(', '));
  }, [terms]);
  const set = (next: Partial<SiteTerms>): void => setDraft({ ...draft, ...next });
  const { wateringWeekdays } = draft;
  return (
    <form
      class="rules"
      aria-label={siteName}
      onSubmit={(event) => {
        event.preventDefault();
        run(async () => {
          try {
            const { siteId, ...body } = draft;
            await client.send('PUT', `/sites/${encodeURIComponent(siteId)}/terms`, {
              ...body,
              skills: wordsOf(skills),
            });
            announce(voice.say('terms.kept', { site: siteName }));
            await cache.refresh(`site-terms/${siteId}`);
          } catch (fault) {
            announce(voice.say('settings.not_kept', { detail: faultText(voice, fault) }));
          }
        });
      }}
    >
      <HoursRows
        legend={voice.say('terms.hours')}
        hours={draft.hours}
        usual={MORNING}
        onHours={(hours) => set({ hours })}
      />
      {draft.hours.length > 0 ? null : <p class="small soft">{voice.say('terms.hours_any')}</p>}
      <fieldset class="rows">
        <legend class="label">{voice.say('terms.watering')}</legend>
        <div class="choices-row">
          <CheckField
            label={voice.say('terms.watering_any')}
            checked={wateringWeekdays === null}
            onChecked={(checked) => set({ wateringWeekdays: checked ? null : [...WEEKDAYS] })}
          />
          {wateringWeekdays === null
            ? null
            : WEEKDAYS.map((weekday) => (
                <CheckField
                  key={weekday}
                  label={weekdayName(weekday, voice.reader.locale, 'short')}
                  checked={wateringWeekdays.includes(weekday)}
                  onChecked={(checked) =>
                    set({
                      wateringWeekdays: checked
                        ? [...wateringWeekdays, weekday].toSorted((a, b) => a - b)
                        : wateringWeekdays.filter((one) => one !== weekday),
                    })
                  }
                />
              ))}
        </div>
      </fieldset>
      <SpanRows
        legend={voice.say('terms.closed')}
        none={voice.say('terms.closed_none')}
        add={voice.say('terms.closed_add')}
        spans={draft.closed}
        onSpans={(closed) => set({ closed })}
      />
      <TextField label={voice.say('terms.skills')} value={skills} onValue={setSkills} />
      {people.length === 0 ? null : (
        <fieldset class="rows">
          <legend class="label">{voice.say('terms.forbidden')}</legend>
          <div class="choices-row">
            {people.map((one) => (
              <CheckField
                key={one.personId}
                label={one.name}
                checked={draft.forbiddenPeople.includes(one.personId)}
                onChecked={(checked) =>
                  set({
                    forbiddenPeople: checked
                      ? [...draft.forbiddenPeople, one.personId]
                      : draft.forbiddenPeople.filter((id) => id !== one.personId),
                  })
                }
              />
            ))}
          </div>
        </fieldset>
      )}
      <TextField
        label={voice.say('terms.every')}
        type="number"
        min="1"
        max="366"
        value={draft.visitEveryDays === null ? '' : String(draft.visitEveryDays)}
        onValue={(text) => set({ visitEveryDays: text.trim() === '' ? null : Number(text) })}
      />
      <YearDayRows
        legend={voice.say('terms.replant')}
        days={draft.replantOn}
        onDays={(replantOn) => set({ replantOn })}
      />
      <button type="submit" class="press press--first" disabled={busy}>
        {voice.say('terms.save')}
      </button>
    </form>
  );
}
