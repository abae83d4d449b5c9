import { useEffect, useState } from 'preact/hooks';
import type { RoundView, Today } from '../api/views.js';
import type { DryAxis } from '../state/dry-axis.js';
import { formatRoute } from '../state/route.js';
import type { Voice } from '../state/voice.js';
import { sayBy, sayDay, sayDry, sayWhen, sayWork } from '../state/words.js';
import { addDays, DAY_MS, dayOf, startOfDayMs } from '../state/zone.js';
import { AlarmLine, isHeld } from './alarm-line.js';
import { useApp, useLive } from './app-context.js';
import { DryAxisHead } from './dry-bar.js';
import { LoadState } from './fault.js';
import { lazyPart } from './lazy-part.js';
import { NothingYet } from './nothing-yet.js';
import type { Technician } from './plan-control.js';
import { Sign } from './sign.js';
import { StopSheet } from './stop-sheet.js';
import { StopsPlot } from './stops-plot.js';

// The map library comes only where tiles are set up.
const StopsMap = lazyPart(async () => (await import('./stops-map.js')).StopsMap);

/** How far the sheet looks ahead. */
const AXIS_DAYS = 7;
const FEW_WAITING = 8;
const FEW_CHANGES = 2;

/** The dispatcher's morning on one sheet. */
export function TodayScreen() {
  const { voice, me, resources, cache, setHomeZone } = useApp();
  const query = resources.today();
  const state = useLive(query);
  const today = state.data;
  const rounds = useLive(today === null ? null : resources.rounds(today.day, null)).data ?? [];
  const people = useLive(resources.people()).data;
  const zone = today?.timeZone ?? null;
  useEffect(() => {
    if (zone !== null) setHomeZone(zone);
  }, [zone, setHomeZone]);

  if (today === null) {
    return (
      <>
        <h1>{voice.say('nav.today')}</h1>
        <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      </>
    );
  }
  if (today.counts.containers === 0) {
    return (
      <div class="empty">
        <h1>{voice.say('today.no_pots_title')}</h1>
        <p class="say">{voice.say('today.no_pots')}</p>
        <NothingYet />
      </div>
    );
  }
  const here = voice.at(today.timeZone);
  const technicians = people?.filter((one) => one.role === 'technician' && one.disabledMs === null) ?? null;
  const standing = today.alarms.filter((view) => !isHeld(view));
  const held = today.alarms.length - standing.length;
  const axis: DryAxis = { fromMs: today.asOfMs, toMs: today.asOfMs + AXIS_DAYS * DAY_MS, timeZone: today.timeZone };
  return (
    <div class="today">
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      <div class="today-lede">
        <h1>{sayDay(here, today.day)}</h1>
        <Lede today={today} voice={here} />
      </div>
      <RoundsLine voice={here} technicians={technicians ?? []} rounds={rounds} />
      <section class="today-stops" aria-labelledby="stops-title">
        <div class="stops-head">
          <h2 id="stops-title">{here.say('today.stops_title')}</h2>
          <p class="smallest soft">{here.say('today.axis')}</p>
          <DryAxisHead axis={axis} />
        </div>
        {today.stops.length === 0 ? <p class="empty-line say">{here.say('today.stops_empty')}</p> : null}
        <StopSheet
          stops={today.stops}
          axis={axis}
          day={today.day}
          nowMs={today.asOfMs}
          endOfDayMs={startOfDayMs(addDays(dayOf(today.asOfMs, today.timeZone), 1), today.timeZone)}
          technicians={technicians}
          rounds={rounds}
        />
      </section>
      <div class="today-margin">
        <section aria-labelledby="alarms-title">
          <h2 id="alarms-title">{here.say('alarms.title')}</h2>
          {today.alarms.length === 0 ? <p class="small soft">{here.say('alarms.none')}</p> : null}
          <ul class="alarm-lines">
            {standing.map((view) => (
              <AlarmLine key={view.alarm.id} view={view} full={false} />
            ))}
          </ul>
          {held === 0 ? null : (
            <p class="small">
              <a class="press press--plain" href={formatRoute({ screen: 'alarms' })}>
                {here.say('today.held', { alarms: held })}
              </a>
            </p>
          )}
        </section>
        {today.stops.length < 2 ? null : (
          <section aria-labelledby="plot-title">
            <h2 id="plot-title">{here.say('plot.title')}</h2>
            {me.mapTiles == null ? (
              <StopsPlot stops={today.stops} voice={here} />
            ) : (
              <StopsMap stops={today.stops} tiles={me.mapTiles} voice={here} />
            )}
          </section>
        )}
        <UnknownPots today={today} voice={here} />
        <WaitingPots today={today} voice={here} />
      </div>
    </div>
  );
}

/** The day in one paragraph of plain words. */
function Lede({ today, voice }: { readonly today: Today; readonly voice: Voice }) {
  const { counts } = today;
  const [all, setAll] = useState(false);
  const shown = all ? today.overnight : today.overnight.slice(0, FEW_CHANGES);
  const rest = today.overnight.length - shown.length;
  const sentences = [
    today.overnight.length === 0
      ? voice.say('today.overnight_quiet', { sinceMs: today.overnightSinceMs })
      : `${voice.say('today.overnight_title', { sinceMs: today.overnightSinceMs })}:`,
    ...shown.map((change) => voice.tell(change.message)),
  ];
  return (
    <>
      <p class="lede say">
        {counts.needVisit === 0
          ? voice.say('today.calm')
          : voice.say('today.need', {
              pots: counts.needVisit,
              stops: counts.stops,
              litres: counts.litres,
              work: sayWork(voice, counts.minutes),
            })}{' '}
        {counts.needVisit === 0
          ? null
          : counts.stopsNotPlanned === 0
            ? voice.say('today.all_planned')
            : voice.say('today.not_planned', { stops: counts.stopsNotPlanned })}{' '}
        {counts.alarms === 0
          ? voice.say('today.no_alarms')
          : voice.say('today.alarms', { alarms: counts.alarms, unacknowledged: counts.alarmsUnacknowledged })}{' '}
        {counts.unknown === 0 ? null : voice.say('today.unknown', { pots: counts.unknown })}{' '}
        {voice.say('today.wait', { pots: counts.canWait })}
      </p>
      <p class="overnight say">
        {sentences.join(' ')}{' '}
        {rest > 0 ? (
          <button type="button" class="press press--plain" onClick={() => setAll(true)}>
            {voice.say('today.overnight_more', { changes: rest })}
          </button>
        ) : null}
      </p>
    </>
  );
}

function RoundsLine({
  voice,
  technicians,
  rounds,
}: {
  readonly voice: Voice;
  readonly technicians: readonly Technician[];
  readonly rounds: readonly RoundView[];
}) {
  if (technicians.length === 0) return null;
  return (
    <nav class="rounds-line" aria-label={voice.say('today.rounds_title')}>
      <ul>
        {technicians.map((technician) => {
          const round = rounds.find((one) => one.technicianId === technician.id);
          const empty = round === undefined || round.stops.length === 0;
          return (
            <li key={technician.id}>
              <a href={formatRoute({ screen: 'round', technicianId: technician.id, day: null })}>
                <strong>{technician.name}</strong>
                <span class={empty ? 'soft' : ''}>
                  {empty
                    ? voice.say('today.round_empty')
                    : voice.say('today.round_load', {
                        stops: round.stops.length,
                        litres: round.litres,
                        work: sayWork(voice, round.minutes),
                      })}
                </span>
              </a>
            </li>
          );
        })}
      </ul>
    </nav>
  );
}

function UnknownPots({ today, voice }: { readonly today: Today; readonly voice: Voice }) {
  return (
    <section aria-labelledby="unknown-title">
      <h2 id="unknown-title">{voice.say('today.unknown_title')}</h2>
      {today.unknown.length === 0 ? <p class="small soft">{voice.say('today.unknown_none')}</p> : null}
      <ul class="pot-lines">
        {today.unknown.map(({ pot, why, visitByMs }) => (
          <li key={pot.containerId} class="pot-item">
            <p>
              <a href={formatRoute({ screen: 'container', containerId: pot.containerId })}>{pot.name}</a>
              <span class="soft"> · {pot.siteName}</span>
            </p>
            <p class="small">
              <Sign kind="unknown">{voice.say(`knowledge.${pot.knowledge}`)}</Sign>
            </p>
            <p class="small">{voice.tell(why)}</p>
            <p class="smallest soft">
              {pot.lastReadingMs === null
                ? voice.say('today.never_heard')
                : voice.say('today.last_heard', { atMs: pot.lastReadingMs })}
              {visitByMs === null ? null : (
                <>
                  {' · '}
                  {voice.say('today.unknown_by', {
                    when: sayBy(voice, visitByMs, today.asOfMs),
                  })}
                </>
              )}
            </p>
          </li>
        ))}
      </ul>
    </section>
  );
}

function WaitingPots({ today, voice }: { readonly today: Today; readonly voice: Voice }) {
  const [all, setAll] = useState(false);
  const shown = all ? today.waiting : today.waiting.slice(0, FEW_WAITING);
  return (
    <section aria-labelledby="waiting-title">
      <h2 id="waiting-title">{voice.say('today.waiting_title')}</h2>
      {today.waiting.length === 0 ? <p class="small soft">{voice.say('today.waiting_none')}</p> : null}
      <ul class="wait-lines">
        {shown.map(({ pot, untilMs }) => (
          <li key={pot.containerId} class="wait-item" title={sayDry(voice, pot.dry, today.asOfMs)}>
            <a href={formatRoute({ screen: 'container', containerId: pot.containerId })}>
              {pot.name}
              <span class="soft"> · {pot.siteName}</span>
            </a>
            <span class="no-wrap">
              {untilMs === null
                ? voice.say('today.waiting_open')
                : voice.say('when.until', { when: sayWhen(voice, untilMs, today.asOfMs) })}
            </span>
          </li>
        ))}
      </ul>
      {today.waiting.length > FEW_WAITING ? (
        <button type="button" class="press" aria-expanded={all} onClick={() => setAll(!all)}>
          {all ? voice.say('today.waiting_few') : voice.say('today.waiting_all', { pots: today.waiting.length })}
        </button>
      ) : null}
    </section>
  );
}
