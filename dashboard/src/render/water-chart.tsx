import { useEffect, useRef, useState } from 'preact/hooks';
import UPlot from 'uplot';
import 'uplot/dist/uPlot.min.css';
import type { WaterColumns, Window } from '../state/chart-data.js';
import type { Theme } from '../state/theme.js';
import { type ChartColours, chartColours, timeLabels, valueLabels } from './chart-theme.js';

export type MarkKind = 'refill' | 'rain' | 'overflow' | 'drained' | 'sudden_loss' | 'visit';

export interface ChartMark {
  readonly ms: number;
  readonly kind: MarkKind;
}

export interface ChartSpanMark {
  readonly fromMs: number;
  readonly toMs: number;
  readonly words: string;
}

export interface ChartLine {
  readonly value: number;
  readonly words: string;
}

export interface WaterChartProps {
  readonly columns: WaterColumns;
  readonly window: Window;
  readonly nowMs: number;
  readonly nowWords: string;
  readonly unit: string;
  readonly lines: readonly ChartLine[];
  readonly marks: readonly ChartMark[];
  readonly findings: readonly ChartSpanMark[];
  readonly locale: string;
  readonly timeZone: string;
  readonly theme: Theme;
  readonly alt: string;
  readonly height: number;
  /** The point that the keyboard or the pointer stands on, and its words. */
  readonly point: number | null;
  readonly pointWords: string;
  /** Index into the columns of the point under the cursor; null off the chart. */
  readonly onPoint: (index: number | null) => void;
  readonly onZoom: (window: Window) => void;
  readonly onCanvas: (canvas: HTMLCanvasElement | null) => void;
}

const MARK_LANE = 24;

/** Shapes of the marks in the lane above the curve; the legend draws the same ones. */
export function markPath(kind: MarkKind): string {
  switch (kind) {
    case 'refill':
      return 'M0 -5 L5 4 L-5 4 Z';
    case 'rain':
      return 'M0 -6 Q5 1 0 5 Q-5 1 0 -6 Z';
    case 'overflow':
      return 'M-5 -2 H5 M-5 2 H5';
    case 'drained':
      return 'M0 5 L5 -4 L-5 -4 Z';
    case 'sudden_loss':
      return 'M-4 -5 L1 -1 L-2 1 L4 6';
    case 'visit':
      return 'M-4 -4 H4 V4 H-4 Z';
  }
}

export function markIsFilled(kind: MarkKind): boolean {
  return kind === 'refill' || kind === 'rain' || kind === 'drained';
}

function optionsOf(props: WaterChartProps, latest: { current: WaterChartProps }, width: number): UPlot.Options {
  const colours = chartColours();
  const axis = {
    stroke: colours.soft,
    font: colours.font,
    grid: { stroke: colours.rule, width: 1 },
    ticks: { stroke: colours.edge, width: 1 },
  };
  return {
    width,
    height: props.height,
    padding: [MARK_LANE + 6, 12, 0, 0],
    legend: { show: false },
    tzDate: (seconds) => UPlot.tzDate(new Date(seconds * 1000), props.timeZone),
    cursor: { drag: { x: true, y: false, setScale: false }, points: { size: 9, fill: colours.ink } },
    scales: {
      x: { time: true, range: () => [latest.current.window.fromMs / 1000, latest.current.window.toMs / 1000] },
      y: {
        range: (_chart, _low, high) => {
          const most = Math.max(high ?? 0, ...latest.current.lines.map((line) => line.value));
          return [0, most <= 0 ? 1 : most * 1.08];
        },
      },
    },
    axes: [
      {
        ...axis,
        size: 34,
        values: (_chart, splits) => timeLabels(splits, props.locale, props.timeZone),
      },
      {
        ...axis,
        size: 58,
        values: (_chart, splits) => valueLabels(splits, props.locale, props.unit),
      },
    ],
    series: [
      {},
      { stroke: colours.water, width: 2.5, fill: colours.waterSoft, spanGaps: false, points: { show: false } },
      { stroke: colours.ochre, width: 1, points: { show: false } },
      { stroke: colours.ochre, width: 2, dash: [7, 5], points: { show: false } },
      { stroke: colours.ochre, width: 1, points: { show: false } },
    ],
    bands: [{ series: [4, 2], fill: colours.ochreSoft }],
    hooks: {
      drawClear: [(chart) => drawFindings(chart, latest.current, colours)],
      draw: [(chart) => drawMarks(chart, latest.current, colours)],
      setCursor: [(chart) => latest.current.onPoint(chart.cursor.idx ?? null)],
      setSelect: [
        (chart) => {
          if (chart.select.width < 8) return;
          const fromMs = chart.posToVal(chart.select.left, 'x') * 1000;
          const toMs = chart.posToVal(chart.select.left + chart.select.width, 'x') * 1000;
          chart.setSelect({ left: 0, top: 0, width: 0, height: 0 }, false);
          latest.current.onZoom({ fromMs, toMs });
        },
      ],
    },
  };
}

function drawFindings(chart: UPlot, props: WaterChartProps, colours: ChartColours): void {
  const { ctx, bbox } = chart;
  ctx.save();
  ctx.beginPath();
  ctx.rect(bbox.left, bbox.top, bbox.width, bbox.height);
  ctx.clip();
  for (const finding of props.findings) {
    const left = chart.valToPos(finding.fromMs / 1000, 'x', true);
    const right = chart.valToPos(finding.toMs / 1000, 'x', true);
    ctx.strokeStyle = colours.clay;
    ctx.globalAlpha = 0.35;
    ctx.lineWidth = devicePixelRatio;
    const step = 9 * devicePixelRatio;
    ctx.beginPath();
    for (let x = left - bbox.height; x < right; x += step) {
      const start = Math.max(x, left);
      const end = Math.min(x + bbox.height, right);
      if (end <= start) continue;
      ctx.moveTo(start, bbox.top + bbox.height - (start - x));
      ctx.lineTo(end, bbox.top + bbox.height - (end - x));
    }
    ctx.stroke();
  }
  ctx.restore();
}

function drawMarks(chart: UPlot, props: WaterChartProps, colours: ChartColours): void {
  const { ctx, bbox } = chart;
  const ratio = devicePixelRatio;
  const right = bbox.left + bbox.width;
  ctx.save();
  ctx.font = colours.font.replace('13px', `${13 * ratio}px`);
  ctx.textBaseline = 'bottom';
  for (const line of props.lines) {
    const y = chart.valToPos(line.value, 'y', true);
    ctx.strokeStyle = colours.ink;
    ctx.fillStyle = colours.ink;
    ctx.lineWidth = 1.25 * ratio;
    ctx.setLineDash([2 * ratio, 4 * ratio]);
    ctx.beginPath();
    ctx.moveTo(bbox.left, y);
    ctx.lineTo(right, y);
    ctx.stroke();
    ctx.textAlign = 'right';
    const wide = ctx.measureText(line.words).width;
    ctx.fillStyle = colours.paper;
    ctx.fillRect(right - wide - 8 * ratio, y - 17 * ratio, wide + 8 * ratio, 14 * ratio);
    ctx.fillStyle = colours.ink;
    ctx.fillText(line.words, right - 4 * ratio, y - 2 * ratio);
  }
  ctx.setLineDash([]);
  const nowX = chart.valToPos(props.nowMs / 1000, 'x', true);
  if (nowX >= bbox.left && nowX <= right) {
    ctx.strokeStyle = colours.ink;
    ctx.lineWidth = 1.5 * ratio;
    ctx.beginPath();
    ctx.moveTo(nowX, bbox.top - MARK_LANE * ratio);
    ctx.lineTo(nowX, bbox.top + bbox.height);
    ctx.stroke();
    ctx.fillStyle = colours.ink;
    ctx.textAlign = 'left';
    ctx.fillText(props.nowWords, nowX + 5 * ratio, bbox.top - 8 * ratio);
  }
  for (const mark of props.marks) {
    const x = chart.valToPos(mark.ms / 1000, 'x', true);
    if (x < bbox.left || x > right) continue;
    ctx.save();
    ctx.translate(x, bbox.top - (mark.kind === 'visit' ? 24 : 10) * ratio);
    ctx.scale(ratio, ratio);
    const shape = new Path2D(markPath(mark.kind));
    const loss = mark.kind === 'sudden_loss' || mark.kind === 'drained';
    ctx.strokeStyle = mark.kind === 'visit' ? colours.ink : loss ? colours.clay : colours.water;
    ctx.fillStyle = ctx.strokeStyle;
    ctx.lineWidth = 2;
    if (markIsFilled(mark.kind)) ctx.fill(shape);
    ctx.stroke(shape);
    ctx.restore();
  }
  ctx.restore();
}

/** The chart library draws; this keeps it fed, sized, and in reach of the keyboard. */
export function WaterChart(props: WaterChartProps) {
  const place = useRef<HTMLDivElement>(null);
  const chart = useRef<UPlot | null>(null);
  const latest = useRef(props);
  const [width, setWidth] = useState(0);
  latest.current = props;

  useEffect(() => {
    if (place.current === null) return undefined;
    const watcher = new ResizeObserver((entries) => {
      const entry = entries[0];
      if (entry !== undefined) setWidth(Math.floor(entry.contentRect.width));
    });
    watcher.observe(place.current);
    return () => watcher.disconnect();
  }, []);

  const { theme, unit, locale, timeZone, height } = props;
  useEffect(() => {
    if (place.current === null || width === 0) return undefined;
    const made = new UPlot(optionsOf(latest.current, latest, width), dataOf(latest.current.columns), place.current);
    chart.current = made;
    latest.current.onCanvas(made.ctx.canvas);
    return () => {
      latest.current.onCanvas(null);
      made.destroy();
      chart.current = null;
    };
  }, [width, theme, unit, locale, timeZone, height]);

  useEffect(() => {
    chart.current?.setData(dataOf(props.columns));
  }, [props.columns, props.window.fromMs, props.window.toMs, props.lines, props.marks, props.findings]);

  function step(by: number): void {
    const drawn = chart.current;
    if (drawn === null) return;
    const { seconds } = latest.current.columns;
    const from = drawn.cursor.idx ?? (by > 0 ? -1 : seconds.length);
    const index = Math.min(seconds.length - 1, Math.max(0, from + by));
    const second = seconds[index];
    if (second === undefined) return;
    drawn.setCursor({ left: drawn.valToPos(second, 'x'), top: drawn.over.clientHeight / 2 });
  }

  return (
    // To the keyboard and to screen readers the chart is a slider along time that says the figures where it stands.
    <div
      ref={place}
      class="chart"
      role="slider"
      aria-label={props.alt}
      aria-orientation="horizontal"
      aria-valuemin={0}
      aria-valuemax={Math.max(0, props.columns.seconds.length - 1)}
      aria-valuenow={props.point ?? Math.max(0, props.columns.seconds.length - 1)}
      aria-valuetext={props.pointWords}
      tabIndex={0}
      onKeyDown={(event) => {
        const by = event.key === 'ArrowRight' ? 1 : event.key === 'ArrowLeft' ? -1 : 0;
        if (by === 0) return;
        event.preventDefault();
        step(event.shiftKey ? by * 10 : by);
      }}
    />
  );
}

function dataOf(columns: WaterColumns): UPlot.AlignedData {
  const { seconds, measured, early, middle, late } = columns;
  return [seconds, measured, early, middle, late] as unknown as UPlot.AlignedData;
}
