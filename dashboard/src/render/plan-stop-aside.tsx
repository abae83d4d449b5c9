import { useState } from 'preact/hooks';
import type { PlanStop } from '../api/views.js';
import { daysFrom } from '../state/plan-board.js';
import { toClock } from '../state/week.js';
import { sayShare, sayShortDay } from '../state/words.js';
import { useApp, useLive } from './app-context.js';
import { LoadState } from './fault.js';
import { CheckField, SelectField, TextField } from './fields.js';
import { usePlanDesk } from './plan-context.js';
import { Sign } from './sign.js';
import { SiteTermsForm } from './site-terms.js';

/** One site in the plan: why then, why not today, and everything that can be changed about it. */
export function StopAside({
  siteId,
  day,
  personId,
}: {
  readonly siteId: string;
  /** Null: the site is looked at by itself. */
  readonly day: string | null;
  readonly personId: string | null;
}) {
  const { voice, resources, cache } = useApp();
  const desk = usePlanDesk();
  const { draft, timeZone } = desk.plan;
  const query = draft === null ? null : resources.siteStory(siteId, draft.seq);
  const story = useLive(query);
  const here = voice.at(timeZone);
  const stop =
    draft?.rounds
      .find((round) => round.day === day && round.personId === personId)
      ?.stops.find((one) => one.siteId === siteId) ?? null;
  return (
    <>
      {stop === null || day === null || personId === null ? null : (
        <>
          <p class="small soft">
            {sayShortDay(voice, day)}, {desk.personName(personId)}
          </p>
          <StopFacts stop={stop} />
          <p>
            <strong>{reasonWords(here, stop.reason)}:</strong> {here.tell(stop.why)}
          </p>
        </>
      )}
      {query === null ? null : <LoadState state={story} onAgain={() => void cache.refresh(query.key)} />}
      {story.data === null ? null : (
        <div class="small aside-story">
          {story.data.whyNotToday === null ? null : (
            <p>
              <strong>{voice.say('board.why_not_today')}:</strong> {here.tell(story.data.whyNotToday)}
            </p>
          )}
          <p>
            {story.data.lastSafeDay === null
              ? voice.say('board.safe_beyond')
              : voice.say('board.safe_until', { day: sayShortDay(voice, story.data.lastSafeDay) })}
            {story.data.lockCost === null ? null : ` ${here.tell(story.data.lockCost)}`}
          </p>
          <p class="label">{voice.say('board.all_visits')}</p>
          {story.data.visits.length === 0 ? <p>{voice.say('board.no_visits')}</p> : null}
          <ul>
            {story.data.visits.map((visit) => (
              <li key={`${visit.day} ${visit.personId}`}>
                {sayShortDay(voice, visit.day)}, {desk.personName(visit.personId)},{' '}
                {voice.say('quantity.litres', { litres: visit.litres })}{' '}
                <span class="soft">{reasonWords(here, visit.reason)}</span>
              </li>
            ))}
          </ul>
          <details class="fold">
            <summary>{voice.say('board.risk_by_day')}</summary>
            <ul class="risk-days">
              {story.data.riskByDay.map((one) => (
                <li key={one.day}>
                  <span>{sayShortDay(voice, one.day)}</span>
                  <meter min={0} max={1} value={one.chanceAnyFraction} aria-label={sayShortDay(voice, one.day)} />
                  <span>{sayShare(voice, one.chanceAnyFraction)}</span>
                </li>
              ))}
            </ul>
          </details>
        </div>
      )}
      {desk.mayPlan ? <StopMoveForm siteId={siteId} day={stop === null ? null : day} personId={personId} /> : null}
      {desk.mayPlan ? <StopWishes siteId={siteId} day={day} personId={personId} stop={stop} /> : null}
      <details class="fold">
        <summary>{voice.say('board.terms')}</summary>
        <SiteTermsForm siteId={siteId} siteName={desk.siteName(siteId)} />
      </details>
    </>
  );
}

const REASONS = [
  'locked',
  'alarm',
  'client_call',
  'must',
  'agreement',
  'carry_over',
  'care',
  'top_up',
  'frozen',
] as const;

function reasonWords(voice: ReturnType<typeof useApp>['voice'], reason: string): string {
  const known = REASONS.find((one) => one === reason);
  return known === undefined ? reason : voice.say(`board.reason.${known}`);
}

function StopFacts({ stop }: { readonly stop: PlanStop }) {
  const { voice } = useApp();
  const desk = usePlanDesk();
  const place = (where: { readonly kind: string; readonly id: string }): string =>
    where.kind === 'site' ? desk.siteName(where.id) : where.id;
  const km = new Intl.NumberFormat(voice.reader.locale, { maximumFractionDigits: 1 }).format(stop.km);
  return (
    <>
      <p>
        {voice.say('board.facts', {
          from: toClock(stop.startMinute),
          to: toClock(stop.endMinute),
          litres: stop.litres,
          km,
        })}
      </p>
      <p class="small">
        {stop.refillBefore === null
          ? null
          : `${voice.say('board.refill_before', { place: place(stop.refillBefore) })} `}
        {stop.tankLitres < 0
          ? voice.say('board.tank_short', { litres: -stop.tankLitres })
          : voice.say('board.tank_after', { litres: stop.tankLitres })}
        {stop.refillAfter === null ? null : ` ${voice.say('board.refill_after', { place: place(stop.refillAfter) })}`}
      </p>
      {stop.missesWindow ? <Sign kind="soon">{voice.say('board.misses')}</Sign> : null}
    </>
  );
}

const BEST = 'best';

/** The way to move a stop by touch and keyboard: choose where, see what it brings, then do it. */
function StopMoveForm({
  siteId,
  day,
  personId,
}: {
  readonly siteId: string;
  /** Null: the site has no stop to move and gets one. */
  readonly day: string | null;
  readonly personId: string | null;
}) {
  const { voice } = useApp();
  const desk = usePlanDesk();
  const { firstDay, dayCount, draft, people } = desk.plan;
  const [toDay, setToDay] = useState(day ?? firstDay);
  const [who, setWho] = useState(personId ?? people[0]?.id ?? '');
  const [where, setWhere] = useState(BEST);
  const target = draft?.rounds.find((round) => round.day === toDay && round.personId === who);
  const stops = (target?.stops ?? []).filter((stop) => stop.siteId !== siteId || toDay !== day);
  if (draft === null || people.length === 0) return null;
  return (
    <form
      class="aside-form"
      aria-label={voice.say(day === null ? 'board.add' : 'board.move')}
      onSubmit={(event) => {
        event.preventDefault();
        const position = where === BEST ? null : Number(where);
        desk.ask([
          day === null
            ? { kind: 'add', siteId, day: toDay, personId: who, position }
            : { kind: 'move', siteId, fromDay: day, toDay, personId: who, position },
        ]);
      }}
    >
      <h3>{voice.say(day === null ? 'board.add' : 'board.move')}</h3>
      <SelectField
        label={voice.say('board.move_day')}
        value={toDay}
        options={daysFrom(firstDay, dayCount).map((value) => ({ value, words: sayShortDay(voice, value) }))}
        onValue={(value) => {
          setToDay(value);
          setWhere(BEST);
        }}
      />
      <SelectField
        label={voice.say('board.move_who')}
        value={who}
        options={people.map((person) => ({ value: person.id, words: person.name }))}
        onValue={(value) => {
          setWho(value);
          setWhere(BEST);
        }}
      />
      <SelectField
        label={voice.say('board.move_where')}
        value={where}
        options={[
          { value: BEST, words: voice.say('board.best_place') },
          { value: '0', words: voice.say('board.first') },
          ...stops.map((stop, i) => ({
            value: String(i + 1),
            words: voice.say('board.after', { site: desk.siteName(stop.siteId) }),
          })),
        ]}
        onValue={setWhere}
      />
      <button type="submit" class="press press--first" disabled={desk.busy}>
        {voice.say('board.see')}
      </button>
    </form>
  );
}

/** What holds for this site in every plan, until it is taken back. */
function StopWishes({
  siteId,
  day,
  personId,
  stop,
}: {
  readonly siteId: string;
  readonly day: string | null;
  readonly personId: string | null;
  readonly stop: PlanStop | null;
}) {
  const { voice } = useApp();
  const desk = usePlanDesk();
  const wishes = desk.plan.draft?.wishes ?? [];
  const held = wishes.find((one) => one.kind === 'not_before' && one.siteId === siteId);
  const [before, setBefore] = useState(held?.kind === 'not_before' ? held.day : '');
  if (desk.plan.draft === null) return null;
  return (
    <div class="aside-form">
      <h3>{voice.say('board.other')}</h3>
      {stop === null || day === null || personId === null ? null : (
        <>
          <button
            type="button"
            class="press"
            disabled={desk.busy}
            onClick={() =>
              desk.ask([
                stop.locked ? { kind: 'unlock', siteId, day } : { kind: 'lock', siteId, day, personId, position: null },
              ])
            }
          >
            {voice.say(stop.locked ? 'board.unlock' : 'board.lock')}
          </button>
          <button
            type="button"
            class="press"
            disabled={desk.busy}
            onClick={() => desk.ask([{ kind: 'drop', siteId, day }])}
          >
            {voice.say('board.drop')}
          </button>
        </>
      )}
      <fieldset class="rows">
        <legend class="label">{voice.say('terms.forbidden')}</legend>
        <div class="choices-row">
          {desk.plan.people.map((person) => {
            const isForbidden = wishes.some(
              (one) => one.kind === 'forbid' && one.siteId === siteId && one.personId === person.id,
            );
            return (
              <CheckField
                key={person.id}
                label={person.name}
                checked={isForbidden}
                onChecked={() => desk.ask([{ kind: isForbidden ? 'permit' : 'forbid', siteId, personId: person.id }])}
              />
            );
          })}
        </div>
      </fieldset>
      <form
        class="row"
        onSubmit={(event) => {
          event.preventDefault();
          desk.ask([before === '' ? { kind: 'any_day', siteId } : { kind: 'not_before', siteId, day: before }]);
        }}
      >
        <TextField label={voice.say('board.not_before')} type="date" value={before} onValue={setBefore} />
        <button type="submit" class="press" disabled={desk.busy}>
          {voice.say('board.not_before_see')}
        </button>
      </form>
    </div>
  );
}
