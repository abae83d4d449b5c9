import { useEffect, useState } from 'preact/hooks';
import { NoConnection } from '../api/client.js';
import type { LevelNow } from '../api/views.js';
import type { Voice } from '../state/voice.js';
import { useApp, useBusy, useLive, useNowMs } from './app-context.js';
import { faultText } from './fault.js';
import { Sign } from './sign.js';

/** As long as a fill or a calibration takes. */
const HURRY_MINUTES = 20;
/** A level that has not risen by this much says that no water arrives; as the refill detector's smallest rise. */
const LEAST_RISE_MM = 3;
/** After so many readings and so long something should have been seen; the hose takes a while to lay. A judgement, no source. */
const PATIENCE_READINGS = 2;
const PATIENCE_MS = 90_000;

/** The last reading before somebody asked the node to hurry, and when that was. */
interface Start {
  readonly levelMm: number;
  readonly timeMs: number;
  readonly askedMs: number;
}

/**
 * What the sensor says while somebody stands at the pot. A node that can be asked to report fast is asked with a press;
 * until it speaks the page says when its word is to be expected.
 */
export function LiveLevel({
  containerId,
  voice,
  filling,
  onReading,
}: {
  readonly containerId: string;
  readonly voice: Voice;
  /** Litres that are to go in; null where it is only looked at. */
  readonly filling: number | null;
  readonly onReading?: (levelMm: number, timeMs: number) => void;
}) {
  const app = useApp();
  const { resources, client, cache, announce, stream } = app;
  const nowMs = useNowMs(5_000);
  const [busy, run] = useBusy();
  const query = resources.levelNow(containerId);
  const state = useLive(query);
  const level = state.data;
  const last = level?.readings.at(-1) ?? null;
  const [start, setStart] = useState<Start | null>(null);
  const watching = level?.fastUntilMs != null && level.fastUntilMs > nowMs;
  useEffect(() => {
    if (last !== null) onReading?.(last.levelMm, last.timeMs);
  }, [last?.timeMs]);

  if (state.fault instanceof NoConnection || stream === 'broken') {
    return <p class="small soft">{voice.say('level.no_signal')}</p>;
  }
  if (level === null) return null;
  if (level.nodeId === null) return <p class="small soft">{voice.say('level.no_node')}</p>;

  function hurry(): void {
    run(async () => {
      try {
        await client.send('POST', `/containers/${encodeURIComponent(containerId)}/fast-report`, {
          minutes: HURRY_MINUTES,
        });
        if (last !== null) setStart({ levelMm: last.levelMm, timeMs: last.timeMs, askedMs: app.nowMs() });
        await cache.refresh(query.key);
      } catch (fault) {
        announce(faultText(voice, fault));
      }
    });
  }

  return (
    <div class="live-level">
      {last === null ? null : (
        <p>
          <strong class="live-figure">{voice.say('level.now', { levelMm: last.levelMm, litres: last.litres })}</strong>{' '}
          <span class="small soft">{voice.say('level.at', { atMs: last.timeMs })}</span>
        </p>
      )}
      {filling === null || start === null || last === null ? null : (
        <Rise level={level} start={start} last={last} filling={filling} voice={voice} />
      )}
      {watching ? (
        <Sign kind="good">{voice.say('level.watching', { untilMs: level.fastUntilMs })}</Sign>
      ) : (
        <p class="small">
          {level.nextMs === null ? voice.say('level.never') : voice.say('level.next', { nextMs: level.nextMs })}{' '}
          <button type="button" class="press" aria-label={voice.say('level.hurry')} disabled={busy} onClick={hurry}>
            {voice.say('level.hurry')}
          </button>
        </p>
      )}
    </div>
  );
}

/** How far it has risen since the filling began, and a warning where it does not. */
function Rise({
  level,
  start,
  last,
  filling,
  voice,
}: {
  readonly level: LevelNow;
  readonly start: Start;
  readonly last: LevelNow['readings'][number];
  readonly filling: number;
  readonly voice: Voice;
}) {
  const first = level.readings.find((reading) => reading.timeMs >= start.timeMs);
  const since = level.readings.filter((reading) => reading.timeMs > start.timeMs);
  const risenMm = last.levelMm - start.levelMm;
  const risenLitres = first === undefined ? 0 : last.litres - first.litres;
  if (risenMm < LEAST_RISE_MM && since.length >= PATIENCE_READINGS && last.timeMs - start.askedMs >= PATIENCE_MS) {
    return (
      <p role="alert">
        <Sign kind="now">{voice.say('level.not_rising')}</Sign>
      </p>
    );
  }
  if (since.length === 0) return null;
  const share = Math.min(1, Math.max(0, filling <= 0 ? 1 : risenLitres / filling));
  return (
    <div role="status">
      <p>{voice.say('level.risen', { risenMm, risenLitres, plannedLitres: filling })}</p>
      <span class="rise-bar" aria-hidden="true">
        <i style={{ width: `${(share * 100).toFixed(0)}%` }} />
      </span>
    </div>
  );
}
