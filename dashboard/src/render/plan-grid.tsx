import { useMemo, useRef, useState } from 'preact/hooks';
import { type Board, type BoardRound, type BoardStop, cellKey, type Showing } from '../state/plan-board.js';
import type { Voice } from '../state/voice.js';
import { toClock } from '../state/week.js';
import { sayShortDay, sayWork } from '../state/words.js';
import { useApp } from './app-context.js';
import { type PlanDesk, usePlanDesk } from './plan-context.js';
import { ScrollRegion } from './scroll-region.js';
import { SignShape } from './sign.js';

/** A mouse that moved less than this only clicked. */
const DRAG_FROM_PX = 6;

interface Drag {
  readonly siteId: string;
  readonly fromDay: string;
  readonly fromPerson: string;
  readonly x: number;
  readonly y: number;
  moved: boolean;
}

/** Technicians by days. Stops are dragged with the mouse; by touch and keyboard they are chosen, and moved by their menu. */
export function PlanGrid({ board, showing }: { readonly board: Board; readonly showing: Showing }) {
  const { voice } = useApp();
  const desk = usePlanDesk();
  const { firstDay } = desk.plan;
  const [chosenDay, setChosenDay] = useState(firstDay);
  const grid = useRef<HTMLDivElement>(null);
  const ghost = useRef<HTMLDivElement>(null);
  const drag = useRef<Drag | null>(null);
  const mayDrag = showing === 'draft' && desk.mayPlan;
  const shownDay = board.days.some((one) => one.day === chosenDay) ? chosenDay : firstDay;

  const cellAt = (x: number, y: number): HTMLElement | null => {
    const found = document.elementFromPoint(x, y);
    return found instanceof Element ? found.closest<HTMLElement>('[data-cell]') : null;
  };

  function end(): void {
    drag.current = null;
    ghost.current?.classList.remove('drag-ghost--on');
    grid.current?.querySelector('.cell--over')?.classList.remove('cell--over');
  }

  function move(event: PointerEvent): void {
    const now = drag.current;
    if (now === null) return;
    if (!now.moved && Math.hypot(event.clientX - now.x, event.clientY - now.y) < DRAG_FROM_PX) return;
    now.moved = true;
    if (ghost.current !== null) {
      ghost.current.classList.add('drag-ghost--on');
      ghost.current.textContent = desk.siteName(now.siteId);
      ghost.current.style.transform = `translate(${event.clientX + 12}px, ${event.clientY + 8}px)`;
    }
    const over = cellAt(event.clientX, event.clientY);
    const before = grid.current?.querySelector('.cell--over') ?? null;
    if (over === before) return;
    before?.classList.remove('cell--over');
    over?.classList.add('cell--over');
  }

  function drop(event: PointerEvent): void {
    const now = drag.current;
    if (now === null || !now.moved) {
      end();
      return;
    }
    const cell = cellAt(event.clientX, event.clientY);
    const onto = document.elementFromPoint(event.clientX, event.clientY)?.closest<HTMLElement>('[data-position]');
    const day = cell?.dataset.day;
    const personId = cell?.dataset.person;
    end();
    if (day === undefined || personId === undefined) return;
    const position = onto == null ? null : Number(onto.dataset.position);
    if (day === now.fromDay && personId === now.fromPerson && position === null) return;
    desk.ask([{ kind: 'move', siteId: now.siteId, fromDay: now.fromDay, toDay: day, personId, position }]);
  }

  return (
    <div ref={grid} class="board-grid" onPointerMove={move} onPointerUp={drop} onPointerCancel={end}>
      <fieldset class="day-strip">
        <legend class="unseen">{voice.say('board.day')}</legend>
        {board.days.map(({ day, anybody }) => (
          <button
            key={day}
            type="button"
            class={anybody ? 'press' : 'press press--quiet'}
            aria-pressed={day === shownDay}
            onClick={() => setChosenDay(day)}
          >
            {sayShortDay(voice, day)}
          </button>
        ))}
      </fieldset>
      <ScrollRegion label={voice.say('board.table')} wide>
        <table class="board-table">
          <thead>
            <tr>
              <th scope="col">{voice.say('board.technician')}</th>
              {board.days.map(({ day, anybody }) => (
                <th
                  key={day}
                  scope="col"
                  class={`${anybody ? '' : 'cell--idle'} ${day === shownDay ? 'cell--day' : ''}`}
                >
                  {sayShortDay(voice, day)}
                  {day === firstDay ? <span class="soft"> {voice.say('board.today')}</span> : null}
                </th>
              ))}
            </tr>
          </thead>
          <tbody>
            {board.people.map((person) => (
              <tr key={person.id}>
                <th scope="row">{person.name}</th>
                {board.days.map(({ day, anybody }) => (
                  <td
                    key={day}
                    data-cell=""
                    data-day={day}
                    data-person={person.id}
                    class={`cell ${anybody ? '' : 'cell--idle'} ${day === shownDay ? 'cell--day' : ''}`}
                  >
                    <Cell
                      round={board.rounds.get(cellKey(person.id, day)) ?? null}
                      away={board.away.get(cellKey(person.id, day)) ?? null}
                      onGrab={(stop, event) => {
                        if (!mayDrag || event.pointerType !== 'mouse' || event.button !== 0) return;
                        drag.current = {
                          siteId: stop.siteId,
                          fromDay: day,
                          fromPerson: person.id,
                          x: event.clientX,
                          y: event.clientY,
                          moved: false,
                        };
                      }}
                    />
                  </td>
                ))}
              </tr>
            ))}
          </tbody>
        </table>
      </ScrollRegion>
      <div ref={ghost} class="drag-ghost" aria-hidden="true" />
    </div>
  );
}

type Grab = (stop: BoardStop, event: PointerEvent) => void;

function Cell({
  round,
  away,
  onGrab,
}: {
  readonly round: BoardRound | null;
  readonly away: 'away' | 'holiday' | null;
  readonly onGrab: Grab;
}) {
  const { voice } = useApp();
  const desk = usePlanDesk();
  const { aside, open, siteName, personName } = desk;
  const chosenSiteId = aside?.kind === 'stop' && aside.day === round?.day ? aside.siteId : null;
  const grab = useRef(onGrab);
  grab.current = onGrab;
  const onGrabNow = useRef<Grab>((stop, event) => grab.current(stop, event)).current;
  const note =
    away === null ? null : (
      <p class="smallest soft">{voice.say(away === 'away' ? 'board.away' : 'board.nobody_away')}</p>
    );
  // A board of hundreds of stops must not be drawn anew because one of them was opened: the same element again is left as
  // it stands.
  const work = useMemo(
    () =>
      round === null || round.stops.length === 0 ? null : (
        <RoundOfCell
          round={round}
          voice={voice}
          chosenSiteId={chosenSiteId}
          open={open}
          siteName={siteName}
          personName={personName}
          onGrab={onGrabNow}
        />
      ),
    [round, voice, chosenSiteId, open, siteName, personName, onGrabNow],
  );
  if (work === null) return note ?? <p class="smallest soft cell-free">{voice.say('board.free')}</p>;
  return (
    <>
      {note}
      {work}
    </>
  );
}

function RoundOfCell({
  round,
  voice,
  chosenSiteId,
  open,
  siteName,
  personName,
  onGrab,
}: {
  readonly round: BoardRound;
  readonly voice: Voice;
  readonly chosenSiteId: string | null;
  readonly onGrab: Grab;
} & Pick<PlanDesk, 'open' | 'siteName' | 'personName'>) {
  const day = sayShortDay(voice, round.day);
  const name = personName(round.personId);
  const { startMinute, finishMinute } = round;
  return (
    <>
      <button
        type="button"
        class="cell-head"
        onClick={() => open({ kind: 'round', personId: round.personId, day: round.day })}
      >
        <span class="unseen">{voice.say('board.round_for', { name, day })} </span>
        {startMinute === null || finishMinute === null ? null : (
          <strong>{voice.say('board.hours', { from: toClock(startMinute), to: toClock(finishMinute) })}</strong>
        )}
        <span>
          {startMinute === null || finishMinute === null
            ? voice.say('quantity.litres', { litres: round.litres })
            : voice.say('board.load', { litres: round.litres, work: sayWork(voice, finishMinute - startMinute) })}
        </span>
        <RoundMarks round={round} voice={voice} />
      </button>
      <ol class="cell-stops">
        {round.stops.map((stop, position) => (
          <li key={stop.siteId} data-position={position}>
            <StopCard
              stop={stop}
              voice={voice}
              site={siteName(stop.siteId)}
              day={day}
              name={name}
              chosen={stop.siteId === chosenSiteId}
              onGrab={(event) => onGrab(stop, event)}
              onOpen={() => open({ kind: 'stop', siteId: stop.siteId, day: round.day, personId: round.personId })}
            />
          </li>
        ))}
      </ol>
    </>
  );
}

function RoundMarks({ round, voice }: { readonly round: BoardRound; readonly voice: Voice }) {
  const marks = [
    ...(round.exceedsShift ? [voice.say('board.too_long')] : []),
    ...(round.overtimeMinutes > 0 && !round.exceedsShift
      ? [voice.say('board.overtime', { overtimeMinutes: round.overtimeMinutes })]
      : []),
    ...(round.runsDry ? [voice.say('board.runs_dry')] : []),
  ];
  return (
    <>
      {marks.map((mark) => (
        <span key={mark} class="sign sign--soon">
          <SignShape kind="soon" />
          <span>{mark}</span>
        </span>
      ))}
      {round.pinned ? <span class="sign sign--plain">{voice.say('board.pinned')}</span> : null}
    </>
  );
}

function StopCard({
  stop,
  voice,
  site,
  day,
  name,
  chosen,
  onGrab,
  onOpen,
}: {
  readonly stop: BoardStop;
  readonly voice: Voice;
  readonly site: string;
  readonly day: string;
  readonly name: string;
  readonly chosen: boolean;
  readonly onGrab: (event: PointerEvent) => void;
  readonly onOpen: () => void;
}) {
  const marks = [
    ...(stop.mark === null ? [] : [voice.say(stop.mark === 'new' ? 'board.new' : 'board.moved')]),
    ...(stop.locked ? [voice.say('board.locked')] : []),
    ...(stop.missesWindow ? [voice.say('board.misses')] : []),
  ];
  return (
    <button
      type="button"
      class={`card${stop.mark === null ? '' : ' card--changed'}${stop.isDone ? ' card--done' : ''}`}
      aria-pressed={chosen}
      onPointerDown={onGrab}
      onClick={onOpen}
    >
      <span class="card-site">
        {stop.startMinute === null ? null : <span class="card-clock">{toClock(stop.startMinute)} </span>}
        {site}
      </span>
      <span class="card-more">
        {[
          ...(stop.litres === null || stop.litres === 0 ? [] : [voice.say('quantity.litres', { litres: stop.litres })]),
          ...marks,
        ].join(' · ')}
      </span>
      <span class="unseen">
        {' '}
        {day}, {name}
      </span>
    </button>
  );
}
