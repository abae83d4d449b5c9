import { useState } from 'preact/hooks';
import type { RoundStopView, TaskView } from '../api/views.js';
import { formatRoute } from '../state/route.js';
import { byPot, type PotWork } from '../state/stops.js';
import type { Voice } from '../state/voice.js';
import { sayBy, sayWhen } from '../state/words.js';
import { GettingIn } from './getting-in.js';
import { LiveLevel } from './live-level.js';
import { Sign } from './sign.js';
import { VesselGlyph } from './vessel-glyph.js';

/** Cautions that the server names beside the work; all of them stand in the catalogue. */
export function Cautions({
  codes,
  title,
  voice,
}: {
  readonly codes: readonly string[];
  readonly title: string;
  readonly voice: Voice;
}) {
  if (codes.length === 0) return null;
  return (
    <section class="cautions">
      <h3>
        <Sign kind="soon">{title}</Sign>
      </h3>
      <ul>
        {codes.map((code) => (
          <li key={code}>{voice.tell({ code, params: {} })}</li>
        ))}
      </ul>
    </section>
  );
}

/** Everything there is to know at one stop: how to get in, and the work pot by pot. */
export function StopWork({
  view,
  voice,
  nowMs,
}: {
  readonly view: RoundStopView;
  readonly voice: Voice;
  readonly nowMs: number;
}) {
  const { site } = view;
  return (
    <>
      <div class="getting-in">
        <GettingIn view={view} />
        <p>{voice.say(site.tap ? 'round.tap' : 'round.no_tap')}</p>
        <a
          class="press"
          href={`geo:${site.latitude},${site.longitude}?q=${site.latitude},${site.longitude}(${encodeURIComponent(site.siteName)})`}
          aria-label={voice.say('round.find_for', { site: site.siteName })}
        >
          {voice.say('round.find')}
        </a>
      </div>
      <Cautions codes={site.cautions} title={voice.say('round.cautions')} voice={voice} />
      <ul class="work-pots">
        {byPot(view.tasks).map((work) => (
          <PotWorkItem key={work.pot.containerId} work={work} voice={voice} nowMs={nowMs} />
        ))}
      </ul>
    </>
  );
}

function PotWorkItem({
  work,
  voice,
  nowMs,
}: {
  readonly work: PotWork<TaskView>;
  readonly voice: Voice;
  readonly nowMs: number;
}) {
  const { pot, tasks } = work;
  const refill = tasks.find((task) => task.kind === 'refill');
  const others = tasks.filter((task) => task !== refill);
  const bring = [...new Map(tasks.flatMap((task) => task.bring).map((message) => [message.code, message])).values()];
  return (
    <li class="work-pot">
      <VesselGlyph fraction={pot.fillFraction} />
      <div class="work-pot-name">
        <h3>
          <a href={formatRoute({ screen: 'container', containerId: pot.containerId })}>{pot.name}</a>
        </h3>
        {pot.place === null ? null : <p class="work-place">{pot.place}</p>}
      </div>
      {refill === undefined ? null : (
        <p class="work-fill">
          <span class="small">{voice.say('round.fill')}</span>{' '}
          <strong>{refill.litres === null ? '' : voice.say('quantity.litres', { litres: refill.litres })}</strong>
        </p>
      )}
      <div class="work-more">
        <p class="small">
          {pot.litres === null
            ? voice.say('round.left_unknown')
            : voice.say('round.left', { litres: pot.litres, capacityLitres: pot.capacityLitres })}
          {refill === undefined || pot.litres === null ? null : <> {voice.say('round.stop_at_overflow')}</>}
        </p>
        {others.length === 0 ? null : (
          <ul class="work-also">
            {others.map((task) => (
              <li key={task.id}>{voice.say(`task.${task.kind}`)}</li>
            ))}
          </ul>
        )}
        {bring.length === 0 ? null : (
          <p class="small">
            <strong>{voice.say('round.bring')}: </strong>
            {bring.map((message) => voice.tell(message)).join(', ')}
          </p>
        )}
        {refill === undefined ? null : <Filling containerId={pot.containerId} litres={refill.litres} voice={voice} />}
        {refill === undefined ? null : <p class="print-only">{voice.say('round.poured_blank')}</p>}
        <details class="work-why">
          <summary>{voice.say('round.why')}</summary>
          {tasks.map((task) => (
            <div key={task.id} class="small">
              <p>{task.reason.map((message) => voice.tell(message)).join(' ')}</p>
              {task.expect === null ? null : (
                <p class="soft">
                  {voice.say('round.expect')}: {voice.tell(task.expect)}
                </p>
              )}
              <p class="soft">{sayWhenDue(voice, task.dueByMs, nowMs)}</p>
            </div>
          ))}
        </details>
      </div>
    </li>
  );
}

/** About what comes out of a hose, as the crew's tasks are timed; no source. */
const PUMP_LITRES_PER_MINUTE = 12;

/** The pump's minutes, and what the sensor says meanwhile, once somebody wants to see it. */
function Filling({
  containerId,
  litres,
  voice,
}: {
  readonly containerId: string;
  readonly litres: number | null;
  readonly voice: Voice;
}) {
  const [open, setOpen] = useState(false);
  return (
    <details class="work-why no-print" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>
        {litres === null
          ? voice.say('level.watch')
          : voice.say('level.watch_for', { pumpMinutes: Math.max(1, litres / PUMP_LITRES_PER_MINUTE) })}
      </summary>
      {open ? <LiveLevel containerId={containerId} voice={voice} filling={litres ?? 0} /> : null}
    </details>
  );
}

function sayWhenDue(voice: Voice, dueByMs: number, nowMs: number): string {
  return dueByMs <= nowMs
    ? voice.say('when.was_due', { when: sayWhen(voice, dueByMs, nowMs) })
    : sayBy(voice, dueByMs, nowMs);
}
