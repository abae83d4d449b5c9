import { useEffect, useRef, useState } from 'preact/hooks';
import UPlot from 'uplot';
import type { Window } from '../state/chart-data.js';
import type { Theme } from '../state/theme.js';
import { chartColours, timeLabels, valueLabels } from './chart-theme.js';

/** A low chart of one more quantity under the water, on the same axis of time. */
export function StripChart({
  seconds,
  values,
  window,
  unit,
  alt,
  locale,
  timeZone,
  theme,
}: {
  readonly seconds: readonly number[];
  readonly values: readonly (number | null)[];
  readonly window: Window;
  readonly unit: string;
  readonly alt: string;
  readonly locale: string;
  readonly timeZone: string;
  readonly theme: Theme;
}) {
  const place = useRef<HTMLDivElement>(null);
  const [width, setWidth] = useState(0);

  useEffect(() => {
    if (place.current === null) return undefined;
    const watcher = new ResizeObserver((entries) => {
      const entry = entries[0];
      if (entry !== undefined) setWidth(Math.floor(entry.contentRect.width));
    });
    watcher.observe(place.current);
    return () => watcher.disconnect();
  }, []);

  useEffect(() => {
    if (place.current === null || width === 0) return undefined;
    const colours = chartColours();
    const axis = { stroke: colours.soft, font: colours.font, ticks: { stroke: colours.edge, width: 1 } };
    const chart = new UPlot(
      {
        width,
        height: 104,
        padding: [8, 12, 0, 0],
        legend: { show: false },
        cursor: { show: false },
        tzDate: (second) => UPlot.tzDate(new Date(second * 1000), timeZone),
        scales: { x: { time: true, range: () => [window.fromMs / 1000, window.toMs / 1000] } },
        axes: [
          {
            ...axis,
            size: 32,
            grid: { stroke: colours.rule, width: 1 },
            values: (_chart, splits) => timeLabels(splits, locale, timeZone),
          },
          {
            ...axis,
            size: 58,
            space: 26,
            grid: { show: false },
            values: (_chart, splits) => valueLabels(splits, locale, unit),
          },
        ],
        series: [{}, { stroke: colours.ink, width: 1.5, spanGaps: false, points: { show: false } }],
      },
      [seconds, values] as unknown as UPlot.AlignedData,
      place.current,
    );
    return () => chart.destroy();
  }, [width, seconds, values, window.fromMs, window.toMs, unit, locale, timeZone, theme]);

  return <div ref={place} class="chart chart--strip" role="img" aria-label={alt} />;
}
