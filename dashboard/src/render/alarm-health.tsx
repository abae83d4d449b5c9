import { useState } from 'preact/hooks';
import { formatNumber } from '../../../src/domain/texts/render.js';
import type { AlarmPerformance } from '../api/views.js';
import { type HealthFigure, healthFigures, mergeActors } from '../state/alarm-health.js';
import { formatRoute } from '../state/route.js';
import { DAY_MS } from '../state/zone.js';
import type { OverridePlace } from './alarm-numbers.js';
import { useApp, useLive, useNowMs } from './app-context.js';
import { LoadState } from './fault.js';
import { ScrollRegion } from './scroll-region.js';
import { Sign } from './sign.js';

const PERIODS = [7, 30, 90] as const;
type Period = (typeof PERIODS)[number];
const HOUR_MS = 3_600_000;

/** How the alarms did against the figures of the standards, and what would make them quieter. */
export function AlarmHealth({ onSet }: { readonly onSet: (place: OverridePlace) => void }) {
  const { voice, resources, cache } = useApp();
  const [days, setDays] = useState<Period>(30);
  // By the hour: a figure over weeks need not move with every minute.
  const toMs = Math.ceil(useNowMs(60_000) / HOUR_MS) * HOUR_MS;
  const query = resources.alarmPerformance(toMs - days * DAY_MS, toMs);
  const state = useLive(query);
  return (
    <section class="health" aria-labelledby="health-title">
      <div class="health-head">
        <h2 id="health-title">{voice.say('health.title')}</h2>
        <div class="field">
          <label for="health-days">{voice.say('health.period')}</label>
          <select
            id="health-days"
            value={days}
            onChange={(event) => setDays(PERIODS.find((one) => String(one) === event.currentTarget.value) ?? 30)}
          >
            {PERIODS.map((one) => (
              <option key={one} value={one}>
                {voice.say(`health.days.${one}`)}
              </option>
            ))}
          </select>
        </div>
      </div>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {state.data === null ? null : <Figures answer={state.data} />}
      {state.data === null ? null : <Actors answer={state.data} onSet={onSet} />}
    </section>
  );
}

function Figures({ answer }: { readonly answer: AlarmPerformance }) {
  const { voice } = useApp();
  const { performance } = answer;
  const number = (value: number, digits: number): string => formatNumber(value, voice.reader, digits);
  const share = (value: number): string => `${number(value * 100, 1)} %`;
  const shown = (figure: HealthFigure, value: number): string =>
    figure.unit === 'share' ? share(value) : number(value, figure.unit === 'rate' ? 1 : 0);
  const figures = healthFigures(answer);
  const over = figures.filter((figure) => !figure.within).length;
  if (performance.alarms === 0) return <p class="say health-lede">{voice.say('health.lede_quiet')}</p>;
  return (
    <>
      <p class="say health-lede">
        {voice.say('health.lede', {
          alarms: performance.alarms,
          perDay: number(performance.perOperatorDay, 1),
          operators: performance.operators,
          worst: number(performance.mostInTenMinutes, 0),
        })}{' '}
        {over === 0 ? voice.say('health.good') : voice.say('health.bad', { over })}
      </p>
      <ScrollRegion label={voice.say('health.table')} wide>
        <table class="marks">
          <thead>
            <tr>
              <th scope="col">{voice.say('health.measure')}</th>
              <th scope="col">{voice.say('health.here')}</th>
              <th scope="col">{voice.say('health.mark')}</th>
              <th scope="col">
                <span class="unseen">{voice.say('health.within')}</span>
              </th>
            </tr>
          </thead>
          <tbody>
            {figures.map((figure) => (
              <tr key={figure.name}>
                <th scope="row">{voice.say(`health.${figure.name}`)}</th>
                <td>{shown(figure, figure.here)}</td>
                <td>
                  {figure.mark === 0
                    ? voice.say('health.none')
                    : voice.say('health.at_most', { figure: shown(figure, figure.mark) })}
                </td>
                <td>
                  <Sign kind={figure.within ? 'good' : 'soon'}>
                    {voice.say(figure.within ? 'health.within' : 'health.beyond')}
                  </Sign>
                </td>
              </tr>
            ))}
            <tr>
              <th scope="row">{voice.say('health.priority')}</th>
              <td>{priorities(performance.priorityFractions, share)}</td>
              <td>{voice.say('health.about', { figures: priorities(answer.targets.priorityFractions, share) })}</td>
              <td />
            </tr>
          </tbody>
        </table>
      </ScrollRegion>
      <p class="smallest soft">{voice.say('health.source')}</p>
    </>
  );
}

function priorities(
  parts: { readonly low: number; readonly medium: number; readonly high: number },
  share: (value: number) => string,
): string {
  return [parts.low, parts.medium, parts.high].map(share).join(' · ');
}

function Actors({
  answer,
  onSet,
}: {
  readonly answer: AlarmPerformance;
  readonly onSet: (place: OverridePlace) => void;
}) {
  const { voice } = useApp();
  const actors = mergeActors(answer.performance);
  return (
    <>
      <h3>{voice.say('health.actors')}</h3>
      {actors.length === 0 ? <p class="small soft">{voice.say('health.actors_none')}</p> : null}
      <ul class="actors">
        {actors.map((actor) => {
          const kind = voice.say(`alarm.kind.${actor.kind}`);
          const { siteId } = actor;
          const place = actor.containerName ?? actor.siteName ?? voice.say('alarm.place.crew');
          return (
            <li key={actor.alarmId} class="actor">
              <div>
                <p>
                  <strong>{kind}</strong>{' '}
                  {actor.containerId === null ? (
                    place
                  ) : (
                    <>
                      <a href={formatRoute({ screen: 'container', containerId: actor.containerId })}>{place}</a>
                      <span class="soft"> · {actor.siteName}</span>
                    </>
                  )}
                </p>
                <p class="small soft">
                  {[
                    ...(actor.times === 0 ? [] : [voice.say('health.actor_times', { times: actor.times })]),
                    ...actor.ways.map((way) => voice.say(`health.actor_${way}`)),
                  ].join(' · ')}
                </p>
                <p class="small">{actor.cures.map((code) => voice.tell({ code, params: {} })).join(' ')}</p>
              </div>
              {siteId === null ? null : (
                <button
                  type="button"
                  class="press"
                  aria-label={voice.say('health.actor_set_for', { kind, place })}
                  onClick={() => onSet({ kind: actor.kind, siteId, containerId: actor.containerId })}
                >
                  {voice.say('health.actor_set')}
                </button>
              )}
            </li>
          );
        })}
      </ul>
    </>
  );
}
