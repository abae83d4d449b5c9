import type { ComponentChildren } from 'preact';
import { useEffect, useRef, useState } from 'preact/hooks';
import { NoConnection } from '../api/client.js';
import type { RoundStopView, RoundView } from '../api/views.js';
import type { VisitRecord } from '../api/visits.js';
import type { Outgoing } from '../state/outbox.js';
import { roundProgress } from '../state/round-order.js';
import { formatRoute } from '../state/route.js';
import { sayBy, sayDay, sayWhen } from '../state/words.js';
import { dayOf } from '../state/zone.js';
import { useApp, useLive, useNowMs } from './app-context.js';
import { LoadState } from './fault.js';
import { useOutbox } from './outbox-hooks.js';
import { RecordSheet } from './record-sheet.js';
import { StopMoves, WholeRoundMove } from './round-moves.js';
import { Sign } from './sign.js';
import { Cautions, StopWork } from './stop-work.js';
import { VesselGlyph } from './vessel-glyph.js';

const KEPT_ROUND = 'round';

/** One technician's day. A technician sees the own one; who plans sees any. */
export function RoundScreen({
  technicianId,
  day,
}: {
  readonly technicianId: string | null;
  /** Null: today. */
  readonly day: string | null;
}) {
  const app = useApp();
  const { voice, resources, cache, storage, me, setHomeZone } = app;
  const own = me.person.role === 'technician';
  const query = resources.rounds(day, null);
  const state = useLive(query);

  // What was known last opens without a signal, and what is known now is kept for that.
  useEffect(() => {
    if (!own) return;
    storage
      .kept(KEPT_ROUND)
      .then((kept) => {
        if (kept !== undefined) cache.seed(resources.rounds(null, null), kept as readonly RoundView[]);
      })
      .catch((fault: unknown) => console.warn('the device keeps nothing', fault));
  }, [own, cache, resources, storage]);
  useEffect(() => {
    if (!own || state.data === null || state.fault !== null) return;
    storage.keep(KEPT_ROUND, state.data).catch((fault: unknown) => console.warn('the device keeps nothing', fault));
  }, [own, state.data, state.fault, storage]);

  const zone = state.data?.flatMap((round) => round.stops)[0]?.site.timeZone ?? null;
  useEffect(() => {
    if (zone !== null) setHomeZone(zone);
  }, [zone, setHomeZone]);

  const rounds = state.data ?? [];
  const wanted = own
    ? me.person.id
    : (technicianId ?? rounds.find((one) => one.stops.length > 0)?.technicianId ?? rounds[0]?.technicianId);
  const round = rounds.find((one) => one.technicianId === wanted) ?? null;
  return (
    <div class="round">
      {state.data === null || !(state.fault instanceof NoConnection) ? (
        <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      ) : (
        <p class="small">
          <Sign kind="soon">{voice.say('load.no_connection')}</Sign>
        </p>
      )}
      {own ? null : <WhoseRound rounds={rounds} chosenId={round?.technicianId ?? null} day={day} />}
      {state.data === null ? null : round === null || round.stops.length === 0 ? (
        <NoRound round={round} own={own} />
      ) : (
        <RoundOfDay key={round.technicianId} round={round} rounds={rounds} roundsKey={query.key} own={own} />
      )}
      <UnsentVisits />
    </div>
  );
}

function WhoseRound({
  rounds,
  chosenId,
  day,
}: {
  readonly rounds: readonly RoundView[];
  readonly chosenId: string | null;
  readonly day: string | null;
}) {
  const { voice } = useApp();
  return (
    <nav class="whose" aria-label={voice.say('round.whose')}>
      <ul>
        <li>
          <a class="press press--plain" href={formatRoute({ screen: 'round', technicianId: null, day: null })}>
            {voice.say('round.all_rounds')}
          </a>
        </li>
        {rounds.map((round) => (
          <li key={round.technicianId}>
            <a
              class="press"
              href={formatRoute({ screen: 'round', technicianId: round.technicianId, day })}
              aria-current={round.technicianId === chosenId ? 'page' : undefined}
            >
              {round.technicianName}
            </a>
          </li>
        ))}
      </ul>
    </nav>
  );
}

function NoRound({ round, own }: { readonly round: RoundView | null; readonly own: boolean }) {
  const { voice, nowMs } = useApp();
  return (
    <div class="empty">
      <h1>{voice.say('round.empty_title')}</h1>
      <p class="say">
        {voice.say('round.empty', { day: sayDay(voice, round?.day ?? dayOf(nowMs(), voice.reader.timeZone)) })}
      </p>
      <NextRoundWords round={round} />
      {own ? null : (
        <>
          <p>{voice.say('round.empty_for')}</p>
          <a class="press" href={formatRoute({ screen: 'today' })}>
            {voice.say('round.go_today')}
          </a>
        </>
      )}
    </div>
  );
}

function NextRoundWords({ round }: { readonly round: RoundView | null }) {
  const { voice } = useApp();
  const next = round?.nextRound ?? null;
  if (next === null) return null;
  const { day, stops, firstSiteName: site } = next;
  return <p>{voice.say('round.next_round', { day: sayDay(voice, day), stops, site })}</p>;
}

function RoundOfDay({
  round,
  rounds,
  roundsKey,
  own,
}: {
  readonly round: RoundView;
  readonly rounds: readonly RoundView[];
  readonly roundsKey: string;
  readonly own: boolean;
}) {
  const app = useApp();
  const { voice, me } = app;
  const nowMs = useNowMs();
  const outgoing = useOutbox();
  const [firstId, setFirstId] = useState<string | null>(null);
  const [recording, setRecording] = useState<RoundStopView | null>(null);
  const [openedMs] = useState(() => app.nowMs());
  const nextTitle = useRef<HTMLHeadingElement>(null);
  const recordedHere = new Set(outgoing.filter((item) => item.refusal === null).map((item) => item.body.stopId));
  const { done, next, rest } = roundProgress(round.stops, recordedHere, firstId);
  const left = [...(next === null ? [] : [next]), ...rest];
  const mayRecord = me.permissions['visits.write'] !== 'none';
  const mayMove = me.permissions['rounds.write'] !== 'none';
  useOpenWhilePrinting();

  return (
    <>
      <header class="round-head">
        <h1>
          {own ? voice.say('round.title') : voice.say('round.title_of', { name: round.technicianName })}
          <span class="soft"> {sayDay(voice, round.day)}</span>
        </h1>
        <div class="round-progress">
          <span class="round-pots" aria-hidden="true">
            {done.map((view) => (
              <VesselGlyph key={view.stop.id} fraction={1} />
            ))}
            {left.map((view) => (
              <VesselGlyph key={view.stop.id} fraction={0} />
            ))}
          </span>
          <p>
            {left.length === 0
              ? voice.say('round.all_done', { stops: done.length })
              : voice.say('round.progress', {
                  done: done.length,
                  stops: done.length + left.length,
                  litres: left.reduce((sum, view) => sum + view.site.litres, 0),
                })}
          </p>
        </div>
        {own ? null : (
          <div class="round-tools no-print">
            <button type="button" class="press" onClick={() => window.print()}>
              {voice.say('round.print')}
            </button>
            {mayMove ? <WholeRoundMove round={round} rounds={rounds} roundsKey={roundsKey} /> : null}
          </div>
        )}
      </header>
      {next === null ? (
        <div class="say empty-line">
          <p>{voice.say('round.all_done_more')}</p>
          <NextRoundWords round={round} />
        </div>
      ) : (
        <section class="next-stop" aria-labelledby="next-title">
          <p class="next-when">
            <span>{voice.say('round.next')}</span>
            <DueSign view={next} nowMs={nowMs} />
          </p>
          <h2 id="next-title" ref={nextTitle} tabIndex={-1}>
            {next.site.siteName}
          </h2>
          {mayMove ? <StopMoves view={next} round={round} rounds={rounds} roundsKey={roundsKey} /> : null}
          <StopWork view={next} voice={voice.at(next.site.timeZone)} nowMs={nowMs} />
          {mayRecord ? (
            <div class="next-act no-print">
              <button type="button" class="press press--first press--large" onClick={() => setRecording(next)}>
                {voice.say('round.done_here')}
              </button>
            </div>
          ) : null}
        </section>
      )}
      {rest.length === 0 ? null : (
        <section aria-labelledby="then-title">
          <h2 id="then-title">{voice.say('round.then')}</h2>
          {firstId === null ? null : (
            <button type="button" class="press press--plain no-print" onClick={() => setFirstId(null)}>
              {voice.say('round.back_to_order')}
            </button>
          )}
          <ol class="then-stops">
            {rest.map((view, index) => (
              <li key={view.stop.id}>
                <ThenStop
                  view={view}
                  turn={index}
                  nowMs={nowMs}
                  moves={mayMove ? <StopMoves view={view} round={round} rounds={rounds} roundsKey={roundsKey} /> : null}
                  onMakeNext={() => {
                    setFirstId(view.stop.id);
                    nextTitle.current?.focus();
                    window.scrollTo(0, 0);
                  }}
                />
              </li>
            ))}
          </ol>
        </section>
      )}
      {done.length === 0 ? null : <DoneStops done={done} outgoing={outgoing} />}
      <Cautions codes={round.cautions} title={voice.say('round.cautions_round')} voice={voice} />
      {recording === null ? null : (
        <RecordSheet
          view={recording}
          technicianId={round.technicianId}
          startedMs={openedMs}
          onClose={(recorded) => {
            setRecording(null);
            if (!recorded) return;
            setFirstId(null);
            window.scrollTo(0, 0);
            nextTitle.current?.focus({ preventScroll: true });
          }}
        />
      )}
    </>
  );
}

/** Between two of the later stops a tap finds its way. */
const INSIDE_EVERY_MS = 60;

/** A stop after the next one. What is folded away in it is drawn once the screen stands, one stop after the other. */
function ThenStop({
  view,
  turn,
  nowMs,
  moves,
  onMakeNext,
}: {
  readonly view: RoundStopView;
  readonly turn: number;
  readonly nowMs: number;
  readonly moves: ComponentChildren;
  readonly onMakeNext: () => void;
}) {
  const { voice } = useApp();
  const [inside, setInside] = useState(false);
  useEffect(() => {
    const timer = setTimeout(() => setInside(true), INSIDE_EVERY_MS * (turn + 1));
    return () => clearTimeout(timer);
  }, [turn]);
  return (
    <details class="then-stop">
      <summary>
        <strong>{view.site.siteName}</strong>
        <span class="small">
          <DueSign view={view} nowMs={nowMs} />
          <span class="soft">
            {voice.say('quantity.litres', { litres: view.site.litres })} ·{' '}
            {voice.say('quantity.pots', { pots: new Set(view.tasks.map((task) => task.containerId)).size })}
          </span>
        </span>
      </summary>
      {inside ? (
        <>
          {moves}
          <StopWork view={view} voice={voice.at(view.site.timeZone)} nowMs={nowMs} />
          <button
            type="button"
            class="press no-print"
            aria-label={voice.say('round.make_next_for', { site: view.site.siteName })}
            onClick={onMakeNext}
          >
            {voice.say('round.make_next')}
          </button>
        </>
      ) : null}
    </details>
  );
}

function DueSign({ view, nowMs }: { readonly view: RoundStopView; readonly nowMs: number }) {
  const { voice: home } = useApp();
  const voice = home.at(view.site.timeZone);
  const { dueByMs } = view.site;
  return dueByMs <= nowMs ? (
    <Sign kind="now">{voice.say('when.was_due', { when: sayWhen(voice, dueByMs, nowMs) })}</Sign>
  ) : (
    <Sign kind="soon">{sayBy(voice, dueByMs, nowMs)}</Sign>
  );
}

function DoneStops({
  done,
  outgoing,
}: {
  readonly done: readonly RoundStopView[];
  readonly outgoing: readonly Outgoing<VisitRecord>[];
}) {
  const { voice } = useApp();
  return (
    <section aria-labelledby="done-title">
      <h2 id="done-title">{voice.say('round.done_list')}</h2>
      <ul class="done-stops">
        {done.map((view) => {
          const waiting = outgoing.find((item) => item.body.stopId === view.stop.id);
          const happenedMs = view.visit?.happenedMs ?? waiting?.body.happenedMs ?? null;
          return (
            <li key={view.stop.id}>
              <Sign kind="good">{view.site.siteName}</Sign>
              <span class="small soft">
                {happenedMs === null ? null : voice.at(view.site.timeZone).say('record.at', { atMs: happenedMs })}
                {waiting === undefined ? null : <> · {voice.say('record.waits')}</>}
              </span>
            </li>
          );
        })}
      </ul>
    </section>
  );
}

/** What the server has not taken yet, and what it refused, with its words. */
function UnsentVisits() {
  const { voice, outbox } = useApp();
  const outgoing = useOutbox();
  const refused = outgoing.filter((item) => item.refusal !== null);
  const waiting = outgoing.length - refused.length;
  if (outgoing.length === 0) return null;
  return (
    <section class="unsent" role="status">
      {waiting === 0 ? null : <Sign kind="soon">{voice.say('record.outbox', { visits: waiting })}</Sign>}
      <ul>
        {refused.map((item) => (
          <li key={item.id} class="notice">
            <strong>
              {item.body.siteName} {voice.at(item.body.timeZone).say('record.at', { atMs: item.body.happenedMs })}
            </strong>
            <Sign kind="now">{voice.say('record.refused', { detail: item.refusal })}</Sign>
            <div class="alarm-acts">
              <button
                type="button"
                class="press"
                onClick={() => void outbox.add(item.id, item.body, Date.now()).then(() => outbox.flush())}
              >
                {voice.say('record.try_again')}
              </button>
              <button type="button" class="press" onClick={() => void outbox.discard(item.id)}>
                {voice.say('record.discard')}
              </button>
            </div>
          </li>
        ))}
      </ul>
    </section>
  );
}

/** On paper every stop is open. */
function useOpenWhilePrinting(): void {
  useEffect(() => {
    const opened: HTMLDetailsElement[] = [];
    const open = (): void => {
      for (const fold of document.querySelectorAll<HTMLDetailsElement>('.round details:not([open])')) {
        fold.open = true;
        opened.push(fold);
      }
    };
    const close = (): void => {
      for (const fold of opened.splice(0)) fold.open = false;
    };
    addEventListener('beforeprint', open);
    addEventListener('afterprint', close);
    return () => {
      removeEventListener('beforeprint', open);
      removeEventListener('afterprint', close);
    };
  }, []);
}
