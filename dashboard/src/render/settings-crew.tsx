import { useState } from 'preact/hooks';
import type { Crew } from '../api/views.js';
import { sayWeekdays, toClock, wordsOf } from '../state/week.js';
import { useApp, useBusy, useLive } from './app-context.js';
import { faultText, LoadState } from './fault.js';
import { ClockField, HoursRows, SelectField, TextField } from './fields.js';

type Member = Crew['people'][number];

const USUAL_SHIFT = { fromMinute: 7 * 60, toMinute: 16 * 60 };
const MIDDAY = 12 * 60;

/** How each technician works, and who or what is away. */
export function CrewSection() {
  const { voice, resources, cache } = useApp();
  const [changing, setChanging] = useState<string | null>(null);
  const query = resources.crew();
  const state = useLive(query);
  const crew = state.data;
  return (
    <section class="settings-part" aria-labelledby="crew-title" id="crew">
      <h2 id="crew-title">{voice.say('crew.title')}</h2>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {crew !== null && crew.people.length === 0 ? <p class="small">{voice.say('crew.none')}</p> : null}
      <ul class="actors">
        {crew?.people.map((member) => (
          <li key={member.personId} class={changing === member.personId ? 'actor actor--open' : 'actor'}>
            <div>
              <p>
                <strong>{member.name}</strong>
              </p>
              <p class="small soft">
                <MemberLine member={member} crew={crew} />
              </p>
            </div>
            {changing === member.personId ? (
              <MemberForm member={member} crew={crew} onDone={() => setChanging(null)} />
            ) : (
              <button
                type="button"
                class="press"
                aria-label={voice.say('crew.change_for', { name: member.name })}
                onClick={() => setChanging(member.personId)}
              >
                {voice.say('crew.change')}
              </button>
            )}
          </li>
        ))}
      </ul>
      {crew === null ? null : <Away crew={crew} />}
    </section>
  );
}

function MemberLine({ member, crew }: { readonly member: Member; readonly crew: Crew }) {
  const { voice } = useApp();
  const { shifts, truckId, skills } = member.terms;
  const [first] = shifts;
  const days = sayWeekdays(
    shifts.map((shift) => shift.weekday),
    voice.reader.locale,
  );
  const alike = shifts.every((one) => one.fromMinute === first?.fromMinute && one.toMinute === first.toMinute);
  const hours =
    first === undefined
      ? voice.say('crew.no_days')
      : alike
        ? voice.say('crew.days', { days, from: toClock(first.fromMinute), to: toClock(first.toMinute) })
        : voice.say('crew.several', { days });
  const truck = crew.trucks.find((one) => one.id === truckId)?.name;
  return <>{[hours, ...(truck === undefined ? [] : [truck]), ...skills].join(' · ')}</>;
}

function MemberForm({
  member,
  crew,
  onDone,
}: {
  readonly member: Member;
  readonly crew: Crew;
  readonly onDone: () => void;
}) {
  const { voice, client, cache, announce } = useApp();
  const [busy, run] = useBusy();
  const [terms, setTerms] = useState(member.terms);
  const [skills, setSkills] = useState(member.terms.skills.join(', '));
  const set = (next: Partial<Member['terms']>): void => setTerms({ ...terms, ...next });
  return (
    <form
      class="sheet"
      aria-label={voice.say('crew.change_for', { name: member.name })}
      onSubmit={(event) => {
        event.preventDefault();
        run(async () => {
          try {
            const { personId, ...body } = terms;
            await client.send('PUT', `/crew/${encodeURIComponent(personId)}`, { ...body, skills: wordsOf(skills) });
            announce(voice.say('crew.kept', { name: member.name }));
            await cache.refresh('crew');
            onDone();
          } catch (fault) {
            announce(voice.say('settings.not_kept', { detail: faultText(voice, fault) }));
          }
        });
      }}
    >
      <HoursRows
        legend={voice.say('crew.shifts')}
        hours={terms.shifts}
        usual={USUAL_SHIFT}
        onHours={(shifts) => set({ shifts })}
      />
      <div class="sheet-fields">
        <ClockField
          label={voice.say('crew.pause')}
          minute={terms.pause?.fromMinute ?? MIDDAY}
          onMinute={(fromMinute) => set({ pause: { fromMinute, minutes: terms.pause?.minutes ?? 0 } })}
        />
        <TextField
          label={voice.say('crew.pause_minutes')}
          type="number"
          min="0"
          max="240"
          required
          value={String(terms.pause?.minutes ?? 0)}
          onValue={(text) =>
            set({
              pause: Number(text) > 0 ? { fromMinute: terms.pause?.fromMinute ?? MIDDAY, minutes: Number(text) } : null,
            })
          }
        />
        <TextField
          label={voice.say('crew.overtime')}
          type="number"
          min="0"
          max="480"
          required
          value={String(terms.overtimeMinutes)}
          onValue={(text) => set({ overtimeMinutes: Number(text) })}
        />
        <SelectField
          label={voice.say('crew.truck')}
          value={terms.truckId ?? ''}
          options={[
            { value: '', words: voice.say('crew.truck_any') },
            ...crew.trucks.map((truck) => ({ value: truck.id, words: truck.name })),
          ]}
          onValue={(value) => set({ truckId: value === '' ? null : value })}
        />
      </div>
      <TextField label={voice.say('crew.skills')} value={skills} onValue={setSkills} />
      <div class="alarm-acts">
        <button type="submit" class="press press--first" disabled={busy}>
          {voice.say('crew.save')}
        </button>
        <button type="button" class="press press--plain" onClick={onDone}>
          {voice.say('place.cancel')}
        </button>
      </div>
    </form>
  );
}

/** Absences of today and later; one more is entered in a line. */
export function Away({ crew }: { readonly crew: Crew }) {
  const { voice, client, cache, announce } = useApp();
  const [busy, run] = useBusy();
  const [who, setWho] = useState('');
  const [fromDay, setFromDay] = useState('');
  const [toDay, setToDay] = useState('');
  const [reason, setReason] = useState('');
  const nameOf = (personId: string | null, truckId: string | null): string =>
    crew.people.find((one) => one.personId === personId)?.name ??
    crew.trucks.find((one) => one.id === truckId)?.name ??
    personId ??
    truckId ??
    voice.say('away.everybody');
  const options = [
    { value: '', words: voice.say('away.everybody') },
    ...crew.people.map((one) => ({ value: `person ${one.personId}`, words: one.name })),
    ...crew.trucks.map((one) => ({ value: `truck ${one.id}`, words: one.name })),
  ];

  function act(work: () => Promise<string>): void {
    run(async () => {
      try {
        announce(await work());
      } catch (fault) {
        announce(voice.say('settings.not_kept', { detail: faultText(voice, fault) }));
      }
      await cache.refresh('crew');
    });
  }

  return (
    <>
      <h3>{voice.say('away.title')}</h3>
      {crew.absences.length === 0 ? <p class="small soft">{voice.say('away.none')}</p> : null}
      <ul class="actors">
        {crew.absences.map((one) => {
          const name = nameOf(one.personId, one.truckId);
          return (
            <li key={one.id} class="actor">
              <p>
                <strong>{name}</strong> {voice.say('away.span', { from: one.fromDay, to: one.toDay })}
                {one.reason === null ? null : <span class="soft"> · {one.reason}</span>}
              </p>
              <button
                type="button"
                class="press press--plain"
                disabled={busy}
                aria-label={voice.say('away.take_back_for', { who: name, from: one.fromDay })}
                onClick={() =>
                  act(async () => {
                    await client.send('DELETE', `/absences/${encodeURIComponent(one.id)}`, null);
                    return voice.say('away.did_take_back', { who: name });
                  })
                }
              >
                {voice.say('away.take_back')}
              </button>
            </li>
          );
        })}
      </ul>
      <form
        class="row"
        onSubmit={(event) => {
          event.preventDefault();
          act(async () => {
            const [kind = '', ...id] = who.split(' ');
            const last = toDay === '' ? fromDay : toDay;
            const personId = kind === 'person' ? id.join(' ') : null;
            const truckId = kind === 'truck' ? id.join(' ') : null;
            const why = reason.trim() === '' ? null : reason.trim();
            await client.send('POST', '/absences', { personId, truckId, fromDay, toDay: last, reason: why });
            setFromDay('');
            setToDay('');
            setReason('');
            return voice.say('away.did', { who: nameOf(personId, truckId), from: fromDay, to: last });
          });
        }}
      >
        <SelectField label={voice.say('away.who')} value={who} options={options} onValue={setWho} />
        <TextField label={voice.say('told.first_day')} type="date" value={fromDay} required onValue={setFromDay} />
        <TextField
          label={voice.say('told.last_day')}
          type="date"
          value={toDay}
          {...(fromDay === '' ? {} : { min: fromDay })}
          onValue={setToDay}
        />
        <TextField label={voice.say('away.reason')} value={reason} onValue={setReason} />
        <button type="submit" class="press" disabled={busy}>
          {voice.say('away.add')}
        </button>
      </form>
    </>
  );
}
