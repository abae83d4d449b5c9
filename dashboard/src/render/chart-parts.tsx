import { useMemo, useState } from 'preact/hooks';
import {
  formatInstant,
  formatLength,
  formatNumber,
  formatTemperature,
  formatVolume,
} from '../../../src/domain/texts/render.js';
import type { Series } from '../api/views.js';
import { type ChartUnits, extent, lastValue, shownTemperature, type Window } from '../state/chart-data.js';
import type { Voice } from '../state/voice.js';
import { sayShare } from '../state/words.js';
import { ScrollRegion } from './scroll-region.js';
import { StripChart } from './strip-chart.js';
import { type ChartSpanMark, type MarkKind, markIsFilled, markPath } from './water-chart.js';

const TABLE_ROWS = 200;

export function Legend({
  kinds,
  findings,
  voice,
}: {
  readonly kinds: readonly MarkKind[];
  readonly findings: readonly ChartSpanMark[];
  readonly voice: Voice;
}) {
  return (
    <ul class="legend smallest" aria-label={voice.say('pot.legend')}>
      <li>
        <i class="legend-fan" aria-hidden="true" />
        {voice.say('pot.chart_fan')}
      </li>
      {kinds.map((kind) => (
        <li key={kind}>
          <svg class={`legend-mark legend-mark--${kind}`} viewBox="-8 -8 16 16" aria-hidden="true">
            <path
              d={markPath(kind)}
              fill={markIsFilled(kind) ? 'currentColor' : 'none'}
              stroke="currentColor"
              stroke-width="2"
            />
          </svg>
          {kind === 'visit' ? voice.say('pot.chart_visit') : voice.say(`event.kind.${kind}`)}
        </li>
      ))}
      {[...new Set(findings.map((finding) => finding.words))].map((words) => (
        <li key={words}>
          <i class="legend-finding" aria-hidden="true" />
          {words}
        </li>
      ))}
    </ul>
  );
}

/** Soil, temperature and battery below the water, each low and on the same axis. */
export function Strips({
  series,
  window,
  units,
  voice,
  common,
}: {
  readonly series: Series;
  readonly window: Window;
  readonly units: ChartUnits;
  readonly voice: Voice;
  readonly common: { readonly locale: string; readonly timeZone: string; readonly theme: 'light' | 'dark' | 'sun' };
}) {
  const seconds = useMemo(() => series.timeMs.map((ms) => ms / 1000), [series]);
  const strips = useMemo(
    () => [
      {
        words: voice.say('pot.chart_moisture'),
        unit: '%',
        values: series.moistureFraction.map((value) => (value === null ? null : value * 100)),
      },
      {
        words: voice.say('pot.chart_temperature'),
        unit: units.temperature === 'Cel' ? '°C' : '°F',
        values: series.temperatureC.map((value) => (value === null ? null : shownTemperature(value, units))),
      },
      { words: voice.say('pot.chart_battery'), unit: 'V', values: series.batteryV },
    ],
    [series, units, voice],
  );
  return (
    <div class="strips">
      {strips.map((strip) => {
        const range = extent(strip.values);
        const now = lastValue(strip.values);
        const show = (value: number | null): string =>
          value === null ? '–' : `${formatNumber(value, voice.reader, 1)} ${strip.unit}`;
        return range === null ? null : (
          <figure key={strip.words}>
            <figcaption class="small">
              <strong>{strip.words}</strong> {show(now)}
            </figcaption>
            <StripChart
              seconds={seconds}
              values={strip.values}
              window={window}
              unit={strip.unit}
              alt={voice.say('pot.chart_alt', {
                what: strip.words,
                fromMs: window.fromMs,
                toMs: window.toMs,
                lowest: show(range.lowest),
                highest: show(range.highest),
                now: show(now),
              })}
              {...common}
            />
          </figure>
        );
      })}
    </div>
  );
}

/** The same figures for eyes that do not read charts. */
export function SeriesTable({ series, voice }: { readonly series: Series; readonly voice: Voice }) {
  const [open, setOpen] = useState(false);
  const rows = series.timeMs.length;
  return (
    <details class="fold" onToggle={(event) => setOpen(event.currentTarget.open)}>
      <summary>{voice.say('pot.table')}</summary>
      {open ? (
        <ScrollRegion label={voice.say('pot.table')} wide={false}>
          <table class="figures">
            <caption class="smallest soft">{voice.say('pot.table_step', { rows: Math.min(rows, TABLE_ROWS) })}</caption>
            <thead>
              <tr>
                <th scope="col">{voice.say('pot.table_time')}</th>
                <th scope="col">{voice.say('pot.chart_litres')}</th>
                <th scope="col">{voice.say('pot.chart_level')}</th>
                <th scope="col">{voice.say('pot.chart_moisture')}</th>
                <th scope="col">{voice.say('pot.chart_temperature')}</th>
                <th scope="col">{voice.say('pot.chart_battery')}</th>
              </tr>
            </thead>
            <tbody>
              {series.timeMs
                .map((ms, i) => ({ ms, i }))
                .slice(-TABLE_ROWS)
                .toReversed()
                .map(({ ms, i }) => {
                  const show = (value: number | null | undefined, format: (value: number) => string): string =>
                    value == null ? '–' : format(value);
                  return (
                    <tr key={ms}>
                      <th scope="row">{formatInstant(ms, voice.reader)}</th>
                      <td>{show(series.litres[i], (value) => formatVolume(value, voice.reader))}</td>
                      <td>{show(series.levelMm[i], (value) => formatLength(value, voice.reader))}</td>
                      <td>{show(series.moistureFraction[i], (value) => sayShare(voice, value))}</td>
                      <td>{show(series.temperatureC[i], (value) => formatTemperature(value, voice.reader))}</td>
                      <td>{show(series.batteryV[i], (value) => `${formatNumber(value, voice.reader, 2)} V`)}</td>
                    </tr>
                  );
                })}
            </tbody>
          </table>
        </ScrollRegion>
      ) : null}
    </details>
  );
}
