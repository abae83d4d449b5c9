import type { PlanChange, PlanConsequences, PlanEdit } from '../api/views.js';
import type { ToldStop } from '../state/plan-board.js';
import type { Voice } from '../state/voice.js';
import { toClock } from '../state/week.js';
import { sayShortDay } from '../state/words.js';
import { useApp } from './app-context.js';
import { type PlanDesk, usePlanDesk } from './plan-context.js';
import { Sign } from './sign.js';

/** What a change would bring, before it is done: what it breaks, what is worth knowing, who goes where. */
export function BringsAside({
  edits,
  answer,
}: {
  readonly edits: readonly PlanEdit[];
  readonly answer: PlanConsequences;
}) {
  const { voice: home } = useApp();
  const desk = usePlanDesk();
  const voice = home.at(desk.plan.timeZone);
  const broken = answer.effects.filter((one) => one.severity === 'broken');
  const notes = answer.effects.filter((one) => one.severity !== 'broken');
  const isRefused = answer.refused.length > 0;
  const minutes = Math.round(answer.extraDriveMinutes);
  return (
    <>
      {isRefused ? (
        <div role="alert">
          <p>{voice.say('board.refused')}</p>
          <ul class="effects">
            {answer.refused.map((message) => (
              <li key={message.code}>
                <Sign kind="now">{voice.tell(message)}</Sign>
              </li>
            ))}
          </ul>
        </div>
      ) : (
        <>
          <p>
            {answer.effects.length === 0 ? `${voice.say('board.nothing')} ` : ''}
            {minutes === 0
              ? voice.say('board.cost_same')
              : voice.say(minutes > 0 ? 'board.cost' : 'board.cost_less', { driveMinutes: Math.abs(minutes) })}
          </p>
          <Effects title={voice.say('board.broken_by')} kind="now" effects={broken} voice={voice} />
          <Effects title={voice.say('board.notes')} kind="plain" effects={notes} voice={voice} />
          {answer.changes.length === 0 ? null : (
            <>
              <h3>{voice.say('board.for_people')}</h3>
              <ChangeList changes={answer.changes} most={12} />
            </>
          )}
        </>
      )}
      <div class="alarm-acts">
        {isRefused ? null : (
          <button type="button" class="press press--first" disabled={desk.busy} onClick={() => desk.apply(edits)}>
            {voice.say(broken.length === 0 ? 'board.do_it' : 'board.do_anyway')}
          </button>
        )}
        <button type="button" class="press" onClick={() => desk.open(null)}>
          {voice.say('board.leave_it')}
        </button>
      </div>
    </>
  );
}

function Effects({
  title,
  kind,
  effects,
  voice,
}: {
  readonly title: string;
  readonly kind: 'now' | 'plain';
  readonly effects: PlanConsequences['effects'];
  readonly voice: Voice;
}) {
  if (effects.length === 0) return null;
  return (
    <>
      <h3>{title}</h3>
      <ul class="effects">
        {effects.map((one) => (
          <li
            key={`${one.siteId} ${one.personId} ${one.day} ${one.message.code} ${JSON.stringify(one.message.params)}`}
          >
            <Sign kind={kind}>{voice.tell(one.message)}</Sign>
          </li>
        ))}
      </ul>
    </>
  );
}

/** Differences in words, so many of them. */
export function ChangeList({ changes, most }: { readonly changes: readonly PlanChange[]; readonly most: number }) {
  const { voice } = useApp();
  const desk = usePlanDesk();
  return (
    <ul class="effects small">
      {changes.slice(0, most).map((change) => (
        <li key={`${change.kind} ${change.siteId} ${change.from?.day} ${change.to?.day}`}>
          {sayChange(voice, desk, change)}
        </li>
      ))}
    </ul>
  );
}

function sayChange(voice: Voice, desk: PlanDesk, change: PlanChange): string {
  const place = (told: ToldStop | null): string | null =>
    told === null
      ? null
      : voice.say('board.when_who', {
          day: sayShortDay(voice, told.day),
          clock: toClock(told.startMinute),
          name: desk.personName(told.personId),
        });
  return voice.say(`board.change.${change.kind}`, {
    site: desk.siteName(change.siteId),
    from: place(change.from),
    to: place(change.to),
  });
}
