import { useState } from 'preact/hooks';
import { type Board, cellKey, daysFrom, giveEdits } from '../state/plan-board.js';
import { formatRoute } from '../state/route.js';
import { toClock } from '../state/week.js';
import { sayShortDay } from '../state/words.js';
import { useApp } from './app-context.js';
import { SelectField } from './fields.js';
import { usePlanDesk } from './plan-context.js';

/** One round: its stops in order, and the ways to split it, merge it or hold it. */
export function RoundAside({
  board,
  personId,
  day,
}: {
  readonly board: Board;
  readonly personId: string;
  readonly day: string;
}) {
  const { voice } = useApp();
  const desk = usePlanDesk();
  const round = board.rounds.get(cellKey(personId, day));
  if (round === undefined) return null;
  return (
    <>
      <p class="small soft">{sayShortDay(voice, day)}</p>
      <ol class="aside-stops">
        {round.stops.map((stop) => (
          <li key={stop.siteId}>
            <button
              type="button"
              class="press press--plain"
              onClick={() => desk.open({ kind: 'stop', siteId: stop.siteId, day, personId })}
            >
              {stop.startMinute === null ? null : `${toClock(stop.startMinute)} `}
              {desk.siteName(stop.siteId)}
            </button>
          </li>
        ))}
      </ol>
      <p>
        <a class="press" href={formatRoute({ screen: 'round', technicianId: personId, day })}>
          {voice.say('board.open_round')}
        </a>
      </p>
      {!desk.mayPlan || desk.plan.draft === null ? null : (
        <>
          <GiveForm board={board} personId={personId} day={day} />
          <button
            type="button"
            class="press"
            disabled={desk.busy}
            onClick={() => desk.ask([{ kind: round.pinned ? 'release' : 'pin', personId, day }])}
          >
            {voice.say(round.pinned ? 'board.release' : 'board.pin')}
          </button>
        </>
      )}
    </>
  );
}

function GiveForm({
  board,
  personId,
  day,
}: {
  readonly board: Board;
  readonly personId: string;
  readonly day: string;
}) {
  const { voice } = useApp();
  const desk = usePlanDesk();
  const round = board.rounds.get(cellKey(personId, day))!;
  const others = board.people.filter((person) => person.id !== personId);
  const [from, setFrom] = useState(0);
  const [who, setWho] = useState(others[0]?.id ?? personId);
  const [toDay, setToDay] = useState(day);
  if (who === personId && others.length > 0 && toDay === day) setWho(others[0]!.id);
  return (
    <form
      class="aside-form"
      aria-label={voice.say('board.give')}
      onSubmit={(event) => {
        event.preventDefault();
        const stopsThere = board.rounds.get(cellKey(who, toDay))?.stops.length ?? 0;
        desk.ask(giveEdits(round, from, { personId: who, day: toDay, stopsThere }));
      }}
    >
      <h3>{voice.say('board.give')}</h3>
      <SelectField
        label={voice.say('board.give_from')}
        value={String(from)}
        options={round.stops.map((stop, i) => ({
          value: String(i),
          words: i === 0 ? voice.say('board.give_all') : `${i + 1} ${desk.siteName(stop.siteId)}`,
        }))}
        onValue={(value) => setFrom(Number(value))}
      />
      <SelectField
        label={voice.say('board.give_to')}
        value={who}
        options={board.people.map((person) => ({ value: person.id, words: person.name }))}
        onValue={setWho}
      />
      <SelectField
        label={voice.say('board.move_day')}
        value={toDay}
        options={daysFrom(desk.plan.firstDay, desk.plan.dayCount).map((value) => ({
          value,
          words: sayShortDay(voice, value),
        }))}
        onValue={setToDay}
      />
      <button type="submit" class="press press--first" disabled={desk.busy}>
        {voice.say('board.see')}
      </button>
    </form>
  );
}
