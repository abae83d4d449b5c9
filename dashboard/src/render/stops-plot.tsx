import { formatNumber } from '../../../src/domain/texts/render.js';
import type { StopView } from '../api/views.js';
import { sitePlot } from '../state/site-plot.js';
import type { Voice } from '../state/voice.js';

const WIDTH = 320;
const HEIGHT = 230;
const DASHES = ['none', '7 4', '2 4', '10 3 2 3'];

/** Where the stops of the day lie, numbered as on the sheet, each round a line of its own stroke. */
export function StopsPlot({ stops, voice }: { readonly stops: readonly StopView[]; readonly voice: Voice }) {
  const plot = sitePlot(
    stops.map((stop) => ({ id: stop.siteId, latitude: stop.latitude, longitude: stop.longitude })),
    WIDTH,
    HEIGHT,
  );
  const names = [
    ...new Set(stops.flatMap((stop) => (stop.plan === null ? [] : [stop.plan.technicianName]))),
  ].toSorted();
  const lineOf = (name: string): string =>
    stops
      .filter((stop) => stop.plan?.technicianName === name)
      .toSorted((a, b) => (a.plan?.position ?? 0) - (b.plan?.position ?? 0))
      .map((stop, i) => {
        const point = plot.points.get(stop.siteId)!;
        return `${i === 0 ? 'M' : 'L'}${point.x.toFixed(1)} ${point.y.toFixed(1)}`;
      })
      .join(' ');
  return (
    <figure class="plot">
      <svg viewBox={`0 0 ${WIDTH} ${HEIGHT}`} role="img" aria-label={voice.say('plot.alt', { stops: stops.length })}>
        {names.map((name, i) => (
          <path key={name} class="plot-round" d={lineOf(name)} stroke-dasharray={DASHES[i % DASHES.length]} />
        ))}
        {stops.map((stop, i) => {
          const point = plot.points.get(stop.siteId)!;
          return (
            <g key={stop.siteId} transform={`translate(${point.x.toFixed(1)} ${point.y.toFixed(1)})`}>
              {stop.plan === null ? (
                <rect class="plot-stop" x="-9" y="-9" width="18" height="18" />
              ) : (
                <circle class="plot-stop plot-stop--planned" r="10" />
              )}
              <text class={stop.plan === null ? '' : 'plot-number--planned'} y="4.5" text-anchor="middle">
                {i + 1}
              </text>
            </g>
          );
        })}
        <g class="plot-scale">
          <path d={`M10 ${HEIGHT - 8} v-5 v5 h${plot.scaleBar.width.toFixed(1)} v-5`} />
          <text x={16 + plot.scaleBar.width} y={HEIGHT - 5}>
            {formatNumber(plot.scaleBar.km, voice.reader, 1)} km
          </text>
          <path d={`M${WIDTH - 14} 26 V8 l-5 7 m5 -7 l5 7`} />
        </g>
      </svg>
      <figcaption class="smallest soft">
        <ul class="legend">
          <li>
            <svg class="plot-key" viewBox="-11 -11 22 22" aria-hidden="true">
              <rect class="plot-stop" x="-9" y="-9" width="18" height="18" />
            </svg>
            {voice.say('sign.not_planned')}
          </li>
          {names.map((name, i) => (
            <li key={name}>
              <svg class="plot-key plot-key--line" viewBox="0 0 30 10" aria-hidden="true">
                <path class="plot-round" d="M0 5 H30" stroke-dasharray={DASHES[i % DASHES.length]} />
              </svg>
              {name}
            </li>
          ))}
        </ul>
      </figcaption>
    </figure>
  );
}
