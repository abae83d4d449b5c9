import {
  type DivIcon,
  divIcon,
  type LatLngBoundsExpression,
  map as makeMap,
  marker,
  polyline,
  tileLayer,
} from 'leaflet';
import styles from 'leaflet/dist/leaflet.css?url';
import { useEffect, useRef } from 'preact/hooks';
import type { StopView } from '../api/views.js';
import type { Voice } from '../state/voice.js';

const DASHES = [undefined, '9 6', '2 6', '12 4 2 4'] as const;
/** One stop alone is shown with the streets around it. */
const CLOSEST_ZOOM = 15;
const TOUCH_PX = 44;

/** The stops of the day on a map, numbered as on the sheet; a stop of the map leads to its place on the sheet. */
export function StopsMap({
  stops,
  tiles,
  voice,
}: {
  readonly stops: readonly StopView[];
  readonly tiles: { readonly template: string; readonly attribution: string };
  readonly voice: Voice;
}) {
  const place = useRef<HTMLDivElement>(null);
  const key = JSON.stringify(
    stops.map((stop) => [stop.siteId, stop.latitude, stop.longitude, stop.plan?.technicianName, stop.plan?.position]),
  );
  useEffect(() => {
    if (place.current === null) return undefined;
    bringStyles();
    const map = makeMap(place.current, { scrollWheelZoom: false, attributionControl: true });
    map.attributionControl.setPrefix(false);
    tileLayer(tiles.template, { attribution: escapeHtml(tiles.attribution), maxZoom: 19 }).addTo(map);
    const bounds: LatLngBoundsExpression = stops.map((stop) => [stop.latitude, stop.longitude]);
    map.fitBounds(bounds, { padding: [30, 30], maxZoom: CLOSEST_ZOOM, animate: false });
    const names = [...new Set(stops.flatMap((stop) => (stop.plan === null ? [] : [stop.plan.technicianName])))];
    names.toSorted().forEach((name, i) => {
      const round = stops
        .filter((stop) => stop.plan?.technicianName === name)
        .toSorted((a, b) => (a.plan?.position ?? 0) - (b.plan?.position ?? 0));
      const dashArray = DASHES[i % DASHES.length];
      polyline(
        round.map((stop): [number, number] => [stop.latitude, stop.longitude]),
        { className: 'map-round', interactive: false, ...(dashArray === undefined ? {} : { dashArray }) },
      ).addTo(map);
    });
    stops.forEach((stop, i) => {
      const words = voice.say('plot.stop', { number: i + 1, site: stop.siteName });
      const one = marker([stop.latitude, stop.longitude], { icon: iconOf(i + 1, stop.plan !== null), title: words });
      one.addTo(map);
      one.getElement()?.setAttribute('aria-label', words);
      one.on('click', () => leadTo(stop.siteId));
      one.on('keypress', () => leadTo(stop.siteId));
    });
    return () => void map.remove();
  }, [key, tiles.template, tiles.attribution, voice.reader.locale]);
  return <section ref={place} class="stops-map" aria-label={voice.say('plot.map')} />;
}

function iconOf(number: number, isPlanned: boolean): DivIcon {
  return divIcon({
    className: 'map-stop',
    iconSize: [TOUCH_PX, TOUCH_PX],
    html: `<span class="${isPlanned ? 'map-mark map-mark--planned' : 'map-mark'}">${number}</span>`,
  });
}

function leadTo(siteId: string): void {
  const heading = document.getElementById(`stop-${siteId}`);
  if (heading === null) return;
  heading.tabIndex = -1;
  heading.scrollIntoView({ block: 'center' });
  heading.focus({ preventScroll: true });
}

function escapeHtml(text: string): string {
  return text.replace(/[&<>"]/g, (sign) => `&#${sign.charCodeAt(0)};`);
}

/** The library's own rules, once, and only where a map is shown. */
function bringStyles(): void {
  if (document.querySelector('link[data-map]') !== null) return;
  const link = document.createElement('link');
  link.rel = 'stylesheet';
  link.href = styles;
  link.dataset.map = '';
  document.head.append(link);
}
