import type { RoundView, StopView, TaskView } from '../api/views.js';
import type { DryAxis } from '../state/dry-axis.js';
import { formatRoute } from '../state/route.js';
import { byPot, dueBand, type PotWork } from '../state/stops.js';
import type { Voice } from '../state/voice.js';
import { sayBy, sayDry, sayWhen, sayWork } from '../state/words.js';
import { useApp } from './app-context.js';
import { DryBar } from './dry-bar.js';
import { PlanControl, type Technician } from './plan-control.js';
import { Sign } from './sign.js';
import { VesselGlyph } from './vessel-glyph.js';

/** The stops along a staff gauge, by the moment they are due. */
export function StopSheet({
  stops,
  axis,
  day,
  nowMs,
  endOfDayMs,
  technicians,
  rounds,
}: {
  readonly stops: readonly StopView[];
  readonly axis: DryAxis;
  readonly day: string;
  readonly nowMs: number;
  readonly endOfDayMs: number;
  /** Null while they are not yet known. */
  readonly technicians: readonly Technician[] | null;
  readonly rounds: readonly RoundView[];
}) {
  const { voice } = useApp();
  return (
    <ol class="staff">
      {stops.map((stop, number) => {
        const here = voice.at(stop.timeZone);
        const band = dueBand(stop.dueByMs, nowMs, endOfDayMs);
        return (
          <li key={stop.siteId} class={`stop stop--${band}`}>
            <article aria-labelledby={`stop-${stop.siteId}`}>
              <header class="stop-head">
                <p class="stop-due">
                  {band === 'overdue' ? <Sign kind="now">{here.say('sign.overdue')}</Sign> : null}
                  {band === 'today' ? <Sign kind="soon">{here.say('sign.due_today')}</Sign> : null}
                  {band === 'later' ? <Sign kind="plain">{here.say('sign.later')}</Sign> : null}
                  <span>
                    {band === 'overdue'
                      ? here.say('when.was_due', { when: sayWhen(here, stop.dueByMs, nowMs) })
                      : sayBy(here, stop.dueByMs, nowMs)}
                  </span>
                </p>
                <div class="stop-site">
                  <h3>
                    <span class="stop-number" aria-hidden="true">
                      {number + 1}
                    </span>{' '}
                    <span id={`stop-${stop.siteId}`}>{stop.siteName}</span>
                  </h3>
                  <p class="small soft">
                    {stop.accountName} · {here.say(stop.tap ? 'today.tap' : 'today.no_tap')}
                  </p>
                </div>
                <p class="stop-sum">
                  {stop.litres > 0
                    ? here.say('today.stop_sum', { litres: stop.litres, work: sayWork(here, stop.minutes) })
                    : sayWork(here, stop.minutes)}
                </p>
                <PlanControl stop={stop} day={day} technicians={technicians} rounds={rounds} />
              </header>
              <ul class="stop-pots">
                {byPot(stop.tasks).map((work) => (
                  <PotLine key={work.pot.containerId} work={work} axis={axis} voice={here} nowMs={nowMs} />
                ))}
              </ul>
            </article>
          </li>
        );
      })}
    </ol>
  );
}

function PotLine({
  work,
  axis,
  voice,
  nowMs,
}: {
  readonly work: PotWork<TaskView>;
  readonly axis: DryAxis;
  readonly voice: Voice;
  readonly nowMs: number;
}) {
  const { pot } = work;
  const refill = work.tasks.find((task) => task.kind === 'refill');
  const others = work.tasks.filter((task) => task !== refill);
  const evidence = work.tasks.flatMap((task) => task.reason.slice(1));
  return (
    <li class="pot-line">
      <VesselGlyph fraction={pot.fillFraction} />
      <div class="pot-what">
        <p class="pot-name">
          <a href={formatRoute({ screen: 'container', containerId: pot.containerId })}>{pot.name}</a>
          {pot.place === null ? null : <span class="soft"> · {pot.place}</span>}
        </p>
        <p class="small">
          {pot.litres === null
            ? voice.say('today.left_unknown')
            : voice.say('today.left', { litres: pot.litres, capacityLitres: pot.capacityLitres })}
          {refill === undefined ? (
            <>
              {pot.rateLitresPerDay === null ? null : (
                <> · {voice.say('today.draws', { rateLitresPerDay: pot.rateLitresPerDay })}</>
              )}
              {' · '}
              {sayDry(voice, pot.dry, nowMs)}
            </>
          ) : null}
        </p>
        {work.tasks.map((task) => (
          <p key={task.id} class="small pot-why">
            {task.kind === 'refill' ? null : <strong>{voice.say(`task.${task.kind}`)}: </strong>}
            {task.reason.slice(0, 1).map((message) => voice.tell(message))}
          </p>
        ))}
        {evidence.length === 0 ? null : (
          <details class="fold fold--evidence">
            <summary>{voice.say('today.evidence')}</summary>
            <ul class="evidence small">
              {evidence.map((message) => (
                <li key={message.code}>{voice.tell(message)}</li>
              ))}
            </ul>
          </details>
        )}
      </div>
      <DryBar axis={axis} dry={pot.dry} />
      <p class="pot-fill">
        {refill?.litres == null ? null : voice.say('today.fill', { litres: refill.litres })}
        {others.length === 0 || refill !== undefined ? null : voice.say(`task.${others[0]!.kind}`)}
      </p>
    </li>
  );
}
