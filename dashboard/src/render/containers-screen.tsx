import { useMemo, useState } from 'preact/hooks';
import type { ContainerItem } from '../api/views.js';
import { toCsv } from '../state/csv.js';
import { formatRoute } from '../state/route.js';
import { searchIndex, searchRows } from '../state/search.js';
import type { Voice } from '../state/voice.js';
import { sayDry, sayWhen } from '../state/words.js';
import { DAY_MS } from '../state/zone.js';
import { useApp, useLive, useNowMs } from './app-context.js';
import { LoadState } from './fault.js';
import { NothingYet } from './nothing-yet.js';
import { saveFile } from './save-file.js';
import { Sign } from './sign.js';
import { VesselGlyph } from './vessel-glyph.js';

const SORTS = ['dry', 'name', 'site'] as const;
type Sort = (typeof SORTS)[number];

/** As many rows as a screen can use before a person would rather search. */
const STEP_ROWS = 60;

/** Every pot, found as one types. */
export function ContainersScreen() {
  const { voice, resources, cache } = useApp();
  const nowMs = useNowMs();
  const query = resources.containers();
  const state = useLive(query);
  const [typed, setTyped] = useState('');
  const [sort, setSort] = useState<Sort>('dry');
  const [most, setMost] = useState(STEP_ROWS);
  const rows = state.data ?? [];
  const index = useMemo(
    () =>
      searchIndex(
        rows.filter((row) => row.removedOn === null),
        (row) => [row.name, row.place, row.siteName, row.accountName, row.id],
      ),
    [state.data],
  );
  const found = useMemo(() => sortRows(searchRows(index, typed), sort), [index, typed, sort]);

  return (
    <div class="containers">
      <div class="containers-head">
        <h1>{voice.say('containers.title')}</h1>
        <div class="field containers-search">
          <label for="search">{voice.say('containers.search')}</label>
          <input
            id="search"
            type="search"
            autocomplete="off"
            value={typed}
            onInput={(event) => {
              setTyped(event.currentTarget.value);
              setMost(STEP_ROWS);
            }}
          />
        </div>
        <div class="field">
          <label for="sort">{voice.say('containers.sort')}</label>
          <select id="sort" value={sort} onChange={(event) => setSort(event.currentTarget.value as Sort)}>
            {SORTS.map((one) => (
              <option key={one} value={one}>
                {voice.say(`containers.sort.${one}`)}
              </option>
            ))}
          </select>
        </div>
        <button
          type="button"
          class="press"
          disabled={found.length === 0}
          onClick={() => saveFile('containers.csv', 'text/csv', csvOf(found))}
        >
          {voice.say('containers.csv')}
        </button>
      </div>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {state.data === null ? null : index.length === 0 ? (
        <div class="empty">
          <p class="say">{voice.say('containers.none')}</p>
          <NothingYet />
        </div>
      ) : (
        <p class="small soft" role="status">
          {found.length === 0
            ? voice.say('containers.none_found')
            : voice.say('containers.found', { found: found.length, pots: index.length })}
        </p>
      )}
      <ul class="containers-rows">
        {found.slice(0, most).map((row) => (
          <Row key={row.id} row={row} voice={voice} nowMs={nowMs} />
        ))}
      </ul>
      {found.length > most ? (
        <button type="button" class="press" onClick={() => setMost(most + STEP_ROWS * 5)}>
          {voice.say('containers.more', { pots: found.length - most })}
        </button>
      ) : null}
    </div>
  );
}

function dryMs(row: ContainerItem): number {
  return row.status?.forecast.dry?.p50Ms ?? Number.POSITIVE_INFINITY;
}

function sortRows(rows: readonly ContainerItem[], sort: Sort): readonly ContainerItem[] {
  const byName = (a: ContainerItem, b: ContainerItem): number => a.name.localeCompare(b.name);
  return rows.toSorted((a, b) => {
    if (sort === 'name') return byName(a, b);
    if (sort === 'site') return a.siteName.localeCompare(b.siteName) || byName(a, b);
    const [dryA, dryB] = [dryMs(a), dryMs(b)];
    return dryA === dryB ? byName(a, b) : dryA - dryB;
  });
}

function Row({ row, voice, nowMs }: { readonly row: ContainerItem; readonly voice: Voice; readonly nowMs: number }) {
  const { status } = row;
  const fraction =
    status === null || status.litres === null || status.capacityLitres <= 0
      ? null
      : status.litres / status.capacityLitres;
  const dry = status?.forecast.dry ?? null;
  return (
    <li class="containers-row">
      <VesselGlyph fraction={fraction} />
      <p class="containers-name">
        <a href={formatRoute({ screen: 'container', containerId: row.id })}>{row.name}</a>
        {row.place === null ? null : <span class="soft"> · {row.place}</span>}
      </p>
      <p class="containers-where small soft">
        {row.siteName} · {row.accountName}
      </p>
      <p class="containers-water">
        {status === null || status.litres === null
          ? voice.say('today.left_unknown')
          : voice.say('quantity.litres_of', { litres: status.litres, capacityLitres: status.capacityLitres })}
      </p>
      <p class="containers-rate small soft">
        {status?.forecast.rateLitresPerDay == null
          ? ''
          : voice.say('today.draws', { rateLitresPerDay: status.forecast.rateLitresPerDay })}
      </p>
      <p class="containers-dry" title={sayDry(voice, dry, nowMs)}>
        {dry?.p10Ms == null || dry.p50Ms == null
          ? sayDry(voice, dry, nowMs)
          : dry.p50Ms <= nowMs
            ? voice.say('dry.now')
            : voice.say('dry.short', { p50: sayWhen(voice, dry.p50Ms, nowMs) })}
      </p>
      <p class="containers-state">
        {status?.forecast.knowledge !== 'known' || dry?.p10Ms == null || dry.p10Ms > nowMs + DAY_MS ? null : (
          <Sign kind={dry.p50Ms !== null && dry.p50Ms <= nowMs ? 'now' : 'soon'}>
            {voice.say(dry.p50Ms !== null && dry.p50Ms <= nowMs ? 'sign.dry' : 'sign.dry_soon')}
          </Sign>
        )}
        {row.findings.map((finding) => (
          <Sign key={finding.kind} kind={finding.severity === 'high' ? 'now' : 'soon'}>
            {voice.say(`finding.kind.${finding.kind}`)}
          </Sign>
        ))}
        {status === null || status.forecast.knowledge !== 'known' ? (
          <Sign kind="unknown">{voice.say(`knowledge.${status?.forecast.knowledge ?? 'no_node'}`)}</Sign>
        ) : row.findings.length === 0 && (dry?.p10Ms == null || dry.p10Ms > nowMs + DAY_MS) ? (
          <Sign kind="good">{voice.say('containers.in_order')}</Sign>
        ) : null}
      </p>
    </li>
  );
}

/** SI units, as in all our files. */
function csvOf(rows: readonly ContainerItem[]): string {
  const iso = (ms: number | null | undefined): string | null => (ms == null ? null : new Date(ms).toISOString());
  return toCsv(
    [
      'container',
      'name',
      'place',
      'site',
      'account',
      'knowledge',
      'level_mm',
      'litres',
      'capacity_litres',
      'rate_l_per_day',
      'dry_p10',
      'dry_p50',
      'dry_p90',
      'last_reading',
      'findings',
    ],
    rows.map((row) => [
      row.id,
      row.name,
      row.place,
      row.siteName,
      row.accountName,
      row.status?.forecast.knowledge ?? null,
      row.status?.levelMm ?? null,
      row.status?.litres ?? null,
      row.status?.capacityLitres ?? null,
      row.status?.forecast.rateLitresPerDay ?? null,
      iso(row.status?.forecast.dry?.p10Ms),
      iso(row.status?.forecast.dry?.p50Ms),
      iso(row.status?.forecast.dry?.p90Ms),
      iso(row.status?.lastReadingMs),
      row.findings.map((finding) => finding.kind).join(' '),
    ]),
  );
}
