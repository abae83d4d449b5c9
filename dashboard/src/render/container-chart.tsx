import type { ComponentChildren } from 'preact';
import { useMemo, useRef, useState } from 'preact/hooks';
import { formatLength, formatTemperature, formatVolume } from '../../../src/domain/texts/render.js';
import type { ContainerDetail, Series, VisitView } from '../api/views.js';
import {
  type ChartUnits,
  extent,
  GAP_MS,
  lastValue,
  measuredPoints,
  resolutionOf,
  SPANS,
  type Span,
  shownLength,
  shownVolume,
  steadyWindow,
  type WaterColumns,
  type WaterMeasure,
  type Window,
  waterColumns,
  windowOf,
} from '../state/chart-data.js';
import { toCsv } from '../state/csv.js';
import { type Fan, forecastFan } from '../state/forecast-fan.js';
import { themeOf } from '../state/theme.js';
import type { Voice } from '../state/voice.js';
import { sayShare } from '../state/words.js';
import { useApp, useLive } from './app-context.js';
import { Legend, SeriesTable, Strips } from './chart-parts.js';
import { LoadState } from './fault.js';
import { saveFile } from './save-file.js';
import { type ChartMark, type ChartSpanMark, type MarkKind, WaterChart } from './water-chart.js';

const DAY_MS = 86_400_000;
/** Windows are asked for in steps, so that a minute that passes does not ask for another series. */
const WINDOW_STEP_MS = 900_000;
const MARKS: readonly MarkKind[] = ['refill', 'rain', 'overflow', 'drained', 'sudden_loss', 'visit'];

/** Water over time, from hours to years, with everything that happened and what is to come. */
export function ContainerChart({
  detail,
  visits,
  voice,
}: {
  readonly detail: ContainerDetail;
  readonly visits: readonly VisitView[];
  readonly voice: Voice;
}) {
  const { resources, cache, nowMs, me, look } = useApp();
  const units = me.person.units;
  const [span, setSpan] = useState<Span>('2w');
  const [zoom, setZoom] = useState<readonly Window[]>([]);
  const [measure, setMeasure] = useState<WaterMeasure>('litres');
  const [openedMs] = useState(nowMs);
  const canvas = useRef<HTMLCanvasElement | null>(null);
  const anchorMs = Math.max(openedMs, detail.status?.atMs ?? 0);
  const window_ = zoom[zoom.length - 1] ?? windowOf(span, Math.ceil(anchorMs / WINDOW_STEP_MS) * WINDOW_STEP_MS);
  const asked = steadyWindow(
    { fromMs: window_.fromMs, toMs: Math.min(window_.toMs, anchorMs + DAY_MS) },
    WINDOW_STEP_MS,
  );
  const resolution = resolutionOf(window_);
  const query =
    asked.fromMs < asked.toMs ? resources.series(detail.container.id, asked.fromMs, asked.toMs, resolution) : null;
  const state = useLive(query);
  const last = useRef<Series | null>(null);
  if (state.data !== null) last.current = state.data;
  const series = state.data ?? last.current;

  const columns = useMemo(
    () => (series === null ? null : columnsOf(series, detail, measure, units, anchorMs, window_.toMs)),
    [series, detail, measure, units, anchorMs, window_.toMs],
  );
  const marks = useMemo<readonly ChartMark[]>(
    () => [
      ...(series?.events ?? []).map((event) => ({ ms: event.startMs, kind: event.kind })),
      ...visits.map((view) => ({ ms: view.visit.happenedMs, kind: 'visit' as const })),
    ],
    [series, visits],
  );
  const findings = useMemo<readonly ChartSpanMark[]>(
    () =>
      detail.findings.map((finding) => ({
        fromMs: finding.onsetMs ?? finding.openedMs,
        toMs: finding.closedMs ?? anchorMs,
        words: voice.say(`finding.kind.${finding.kind}`),
      })),
    [detail, anchorMs, voice],
  );
  const lines = useMemo(() => {
    const { overflowMm, wickFootMm } = detail.container.reservoir;
    const capacity = detail.status?.capacityLitres ?? null;
    const dead = detail.status?.deadLitres ?? null;
    const of = (mm: number, litres: number | null): number | null =>
      measure === 'level' ? shownLength(mm, units) : litres === null ? null : shownVolume(litres, units);
    return [
      { value: of(overflowMm, capacity), words: voice.say('pot.chart_invert') },
      { value: of(wickFootMm, dead), words: voice.say('pot.chart_foot') },
    ].filter((line): line is { value: number; words: string } => line.value !== null);
  }, [detail, measure, units, voice]);

  const unit = measure === 'litres' ? (units.volume === 'L' ? 'L' : 'gal') : units.length;
  const theme = themeOf(look, matchMedia('(prefers-color-scheme: dark)').matches);
  const common = { locale: voice.reader.locale, timeZone: voice.reader.timeZone, theme };
  const shown = marks.map((mark) => mark.kind);
  return (
    <section class="chart-block" aria-labelledby="chart-title">
      <div class="chart-head">
        <h2 id="chart-title">{voice.say('pot.chart_title')}</h2>
        <Toggle
          legend={voice.say('pot.chart_title')}
          value={measure}
          choices={(['litres', 'level'] as const).map((value) => ({ value, words: voice.say(`pot.chart_${value}`) }))}
          onChoose={setMeasure}
        />
        <Toggle
          legend={voice.say('pot.chart_span')}
          value={zoom.length === 0 ? span : null}
          choices={SPANS.map((value) => ({ value, words: voice.say(`pot.chart_span.${value}`) }))}
          onChoose={(next) => {
            setZoom([]);
            setSpan(next);
          }}
        />
        {zoom.length === 0 ? null : (
          <button type="button" class="press" onClick={() => setZoom(zoom.slice(0, -1))}>
            {voice.say('pot.chart_back')}
          </button>
        )}
      </div>
      {query === null ? null : <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />}
      {series === null || columns === null ? null : (
        <>
          <PointWords columns={columns} series={series} measure={measure} voice={voice} units={units}>
            {(onPoint, point, pointWords) => (
              <WaterChart
                columns={columns}
                window={window_}
                nowMs={anchorMs}
                nowWords={voice.say('pot.chart_now')}
                unit={unit}
                lines={lines}
                marks={marks}
                findings={findings}
                alt={altOf(columns, measure, window_, voice, units)}
                height={300}
                onPoint={onPoint}
                point={point}
                pointWords={pointWords}
                onZoom={(next) => setZoom([...zoom, next])}
                onCanvas={(made) => {
                  canvas.current = made;
                }}
                {...common}
              />
            )}
          </PointWords>
          <Legend kinds={MARKS.filter((kind) => shown.includes(kind))} findings={findings} voice={voice} />
          {series.timeMs.length === 0 ? <p class="soft">{voice.say('pot.chart_empty')}</p> : null}
          <Strips series={series} window={window_} units={units} voice={voice} common={common} />
          <p class="smallest soft">{voice.say('pot.chart_hint')}</p>
          <div class="chart-out">
            <button
              type="button"
              class="press"
              onClick={() => saveFile(`${detail.container.id}.csv`, 'text/csv', csvOf(series))}
            >
              {voice.say('pot.chart_csv')}
            </button>
            <button
              type="button"
              class="press"
              onClick={() =>
                canvas.current?.toBlob((blob) => {
                  if (blob !== null) saveFile(`${detail.container.id}.png`, 'image/png', blob);
                })
              }
            >
              {voice.say('pot.chart_png')}
            </button>
          </div>
          <SeriesTable series={series} voice={voice} />
        </>
      )}
    </section>
  );
}

function columnsOf(
  series: Series,
  detail: ContainerDetail,
  measure: WaterMeasure,
  units: ChartUnits,
  nowMs: number,
  endMs: number,
): WaterColumns {
  const { times, values } = measuredPoints(series, measure);
  const inUnit = (value: number): number =>
    measure === 'litres' ? shownVolume(value, units) : shownLength(value, units);
  return waterColumns(
    times,
    values.map((value) => (value === null ? null : inUnit(value))),
    fanOf(detail, measure, units, nowMs, endMs),
    nowMs,
    endMs,
    GAP_MS[series.resolution],
  );
}

function fanOf(
  detail: ContainerDetail,
  measure: WaterMeasure,
  units: ChartUnits,
  nowMs: number,
  endMs: number,
): Fan | null {
  const status = detail.status;
  const dry = status?.forecast.dry ?? null;
  if (status === null || dry === null || status.levelMm === null || status.litres === null || endMs <= nowMs)
    return null;
  const rate = status.forecast.rateLitresPerDay;
  const { wickFootMm } = detail.container.reservoir;
  const litresPerMm =
    status.levelMm > wickFootMm ? (status.litres - status.deadLitres) / (status.levelMm - wickFootMm) : 1;
  const shown =
    measure === 'litres'
      ? {
          value: shownVolume(status.litres, units),
          footValue: shownVolume(status.deadLitres, units),
          slopePerMs: rate === null ? null : -shownVolume(rate, units) / DAY_MS,
        }
      : {
          value: shownLength(status.levelMm, units),
          footValue: shownLength(wickFootMm, units),
          slopePerMs: rate === null ? null : -shownLength(rate / litresPerMm, units) / DAY_MS,
        };
  return forecastFan({ nowMs, dry, endMs, ...shown });
}

function showMeasure(value: number, measure: WaterMeasure, voice: Voice, units: ChartUnits): string {
  // The columns are already in the person's unit; turning back keeps one way of rounding on the page.
  return measure === 'litres'
    ? formatVolume(value / shownVolume(1, units), voice.reader)
    : formatLength(value / shownLength(1, units), voice.reader);
}

function altOf(columns: WaterColumns, measure: WaterMeasure, window: Window, voice: Voice, units: ChartUnits): string {
  const range = extent(columns.measured);
  const now = lastValue(columns.measured);
  const what = voice.say(measure === 'litres' ? 'pot.chart_litres' : 'pot.chart_level');
  const show = (value: number): string => showMeasure(value, measure, voice, units);
  return voice.say('pot.chart_alt', {
    what,
    fromMs: window.fromMs,
    toMs: window.toMs,
    lowest: range === null ? null : show(range.lowest),
    highest: range === null ? null : show(range.highest),
    now: now === null ? null : show(now),
  });
}

/** The numbers behind the point under the cursor; a region of its own, so that moving about does not draw the page anew. */
function PointWords({
  columns,
  series,
  measure,
  voice,
  units,
  children,
}: {
  readonly columns: WaterColumns;
  readonly series: Series;
  readonly measure: WaterMeasure;
  readonly voice: Voice;
  readonly units: ChartUnits;
  readonly children: (
    onPoint: (index: number | null) => void,
    point: number | null,
    words: string,
  ) => ComponentChildren;
}) {
  const [index, setIndex] = useState<number | null>(null);
  const second = index === null ? undefined : columns.seconds[index];
  const words = second === undefined || index === null ? ' ' : wordsAt(index, second * 1000);

  function wordsAt(at: number, ms: number): string {
    const show = (value: number): string => showMeasure(value, measure, voice, units);
    const middle = columns.middle[at];
    const low = columns.early[at];
    const high = columns.late[at];
    const values: string[] = [];
    if (middle != null && low != null && high != null) {
      values.push(voice.say('pot.chart_expected', { value: show(middle), low: show(low), high: show(high) }));
    } else {
      const row = series.timeMs.indexOf(ms);
      const litres = series.litres[row] ?? null;
      const level = series.levelMm[row] ?? null;
      const moisture = series.moistureFraction[row] ?? null;
      const temperature = series.temperatureC[row] ?? null;
      if (litres !== null) values.push(formatVolume(litres, voice.reader));
      if (level !== null) values.push(formatLength(level, voice.reader));
      if (moisture !== null) values.push(sayShare(voice, moisture));
      if (temperature !== null) values.push(formatTemperature(temperature, voice.reader));
    }
    return voice.say('pot.chart_point', { atMs: ms, values: values.length === 0 ? null : values.join(', ') });
  }

  return (
    <>
      <p class="chart-point small" aria-hidden="true">
        {words}
      </p>
      {children(setIndex, index, words)}
    </>
  );
}

function Toggle<Value extends string>({
  legend,
  value,
  choices,
  onChoose,
}: {
  readonly legend: string;
  readonly value: Value | null;
  readonly choices: readonly { readonly value: Value; readonly words: string }[];
  readonly onChoose: (value: Value) => void;
}) {
  return (
    <fieldset class="toggle" aria-label={legend}>
      {choices.map((choice) => (
        <button
          key={choice.value}
          type="button"
          class="press toggle-choice"
          aria-pressed={choice.value === value}
          onClick={() => onChoose(choice.value)}
        >
          {choice.words}
        </button>
      ))}
    </fieldset>
  );
}

/** SI units, as in all our files. */
function csvOf(series: Series): string {
  return toCsv(
    ['time', 'level_mm', 'litres', 'moisture_fraction', 'temperature_c', 'battery_v'],
    series.timeMs.map((ms, i) => [
      new Date(ms).toISOString(),
      series.levelMm[i] ?? null,
      series.litres[i] ?? null,
      series.moistureFraction[i] ?? null,
      series.temperatureC[i] ?? null,
      series.batteryV[i] ?? null,
    ]),
  );
}
