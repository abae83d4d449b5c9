import { useState } from 'preact/hooks';
import { formatNumber, formatVolume } from '../../../src/domain/texts/render.js';
import type { WaterReview, WaterSum } from '../api/views.js';
import { toCsv } from '../state/csv.js';
import { addMonths, monthOf, monthSpan } from '../state/months.js';
import { figuresOf, sumItems } from '../state/review.js';
import { formatRoute } from '../state/route.js';
import type { Voice } from '../state/voice.js';
import { addFigures } from '../state/water-balance.js';
import { sayMonth } from '../state/words.js';
import { dayOf } from '../state/zone.js';
import { useApp, useLive } from './app-context.js';
import { BalanceBars } from './balance-bars.js';
import { LoadState } from './fault.js';
import { NothingYet } from './nothing-yet.js';
import { saveFile } from './save-file.js';
import { ScrollRegion } from './scroll-region.js';
import { WaterReviewPart } from './water-review.js';

type By = 'account' | 'site' | 'container';

const MONTHS_BACK = 12;
/** Less than this is not worth a word. */
const LEAST_SAID_LITRES = 0.5;

/** The account of the water: all accounts, one account's sites, one site's pots; a month at a time. */
export function WaterScreen({
  accountId,
  siteId,
}: {
  readonly accountId: string | null;
  readonly siteId: string | null;
}) {
  const { voice, resources, cache, nowMs, me } = useApp();
  const thisMonth = monthOf(dayOf(nowMs(), voice.reader.timeZone));
  const [month, setMonth] = useState(thisMonth);
  const span = monthSpan(month);
  const by: By = siteId !== null ? 'container' : accountId !== null ? 'site' : 'account';
  const query = resources.water({ by, ...span, byMonth: false, accountId });
  const state = useLive(query);
  const containers = useLive(siteId === null && accountId === null ? null : resources.containers()).data;
  const reviewQuery = resources.waterReview({ by, ...span, accountId });
  const review = useLive(reviewQuery).data;
  const history = useLive(
    resources.water({
      by,
      from: monthSpan(addMonths(thisMonth, 1 - MONTHS_BACK)).from,
      to: monthSpan(thisMonth).to,
      byMonth: true,
      accountId,
    }),
  ).data;

  const ofSite = (id: string): boolean =>
    siteId === null || containers?.find((row) => row.id === id)?.siteId === siteId;
  const rows = (state.data?.items ?? [])
    .filter((row) => ofSite(row.id))
    .toSorted((a, b) => pouredLitres(b) - pouredLitres(a));
  const total = siteId === null ? (state.data?.total ?? null) : sumOf(rows);
  const reviewed = (review?.items ?? []).filter((item) => ofSite(item.id) && item.containers > 0);
  const reviewTotal = siteId === null ? (review?.total ?? null) : sumItems(reviewed);
  const linkOf = (row: { readonly id: string }): string =>
    by === 'account'
      ? formatRoute({ screen: 'water', accountId: row.id, siteId: null })
      : by === 'site'
        ? formatRoute({ screen: 'water', accountId, siteId: row.id })
        : formatRoute({ screen: 'container', containerId: row.id });
  const accountName = containers?.find((row) => row.accountId === accountId)?.accountName ?? accountId;
  const siteName = containers?.find((row) => row.siteId === siteId)?.siteName ?? siteId;
  const months = [...new Set((history?.items ?? []).map((row) => row.month).filter((one) => one !== null))].toSorted();
  return (
    <div class="water">
      <header class="water-head">
        <nav aria-label={voice.say('water.title')} class="water-path small">
          {accountId === null ? null : (
            <a href={formatRoute({ screen: 'water', accountId: null, siteId: null })}>
              {voice.say('water.all_accounts')}
            </a>
          )}
          {siteId === null ? null : (
            <a href={formatRoute({ screen: 'water', accountId, siteId: null })}>{accountName}</a>
          )}
        </nav>
        <h1>{siteId !== null ? siteName : accountId !== null ? accountName : voice.say('water.title')}</h1>
        <div class="water-month">
          <button
            type="button"
            class="press"
            aria-label={voice.say('water.month_before')}
            onClick={() => setMonth(addMonths(month, -1))}
          >
            ‹
          </button>
          <strong aria-live="polite">{sayMonth(voice, month)}</strong>
          <button
            type="button"
            class="press"
            aria-label={voice.say('water.month_after')}
            disabled={month >= thisMonth}
            onClick={() => setMonth(addMonths(month, 1))}
          >
            ›
          </button>
        </div>
        {accountId === null ? null : (
          <button type="button" class="press no-print" onClick={() => window.print()}>
            {voice.say('review.print')}
          </button>
        )}
        {review === null || review.firmName === '' ? null : (
          <p class="print-only">{voice.say('review.from', { firm: review.firmName })}</p>
        )}
      </header>
      <LoadState state={state} onAgain={() => void cache.refresh(query.key)} />
      {state.data === null ? null : total === null || rows.length === 0 ? (
        <div class="empty">
          <p class="say">
            {months.length === 0
              ? voice.say('water.none')
              : voice.say('water.none_period', { period: sayMonth(voice, month) })}
          </p>
          {months.length === 0 ? <NothingYet /> : null}
        </div>
      ) : (
        <>
          <Lede total={total} period={sayMonth(voice, month)} voice={voice} />
          <BalanceBars figures={total} voice={voice} heading="h2" />
          <p class="small soft">{voice.say('water.uncertain', { sdLitres: total.sdLitres })}</p>
          <section aria-labelledby="by-title">
            <div class="water-table-head">
              <h2 id="by-title">{voice.say(`water.by.${by}`)}</h2>
              <button
                type="button"
                class="press"
                onClick={() => saveFile(`water-${month}-by-${by}.csv`, 'text/csv', csvOf(by, rows, review))}
              >
                {voice.say('water.csv')}
              </button>
            </div>
            <SumTable
              head={voice.say(`water.col.name.${by}`)}
              caption={voice.say('water.sort_hint')}
              rows={rows}
              total={total}
              voice={voice}
              linkOf={linkOf}
              nameOf={(row) => row.name}
            />
          </section>
          {review === null || reviewTotal === null ? null : (
            <>
              <WaterReviewPart
                review={review}
                items={reviewed.toSorted((a, b) => b.tookLitres - a.tookLitres)}
                total={reviewTotal}
                head={voice.say(`water.col.name.${by}`)}
                voice={voice}
                linkOf={linkOf}
              />
              {me.person.role !== 'owner' || review.pricePerM3 !== null ? null : (
                <p class="small no-print">
                  {voice.say('review.no_tariff')}{' '}
                  <a class="big-link" href={formatRoute({ screen: 'set-up', code: null })}>
                    {voice.say('review.set_tariff')}
                  </a>
                </p>
              )}
            </>
          )}
          <p class="print-only small">{voice.say('review.printed')}</p>
        </>
      )}
      {months.length < 2 ? null : (
        <section aria-labelledby="months-title">
          <h2 id="months-title">{voice.say('water.months_title')}</h2>
          <SumTable
            head={voice.say('water.col.month')}
            caption={null}
            rows={months.map((one) => ({
              ...sumOf((history?.items ?? []).filter((row) => row.month === one && ofSite(row.id)))!,
              id: one,
              month: one,
            }))}
            total={null}
            voice={voice}
            linkOf={null}
            nameOf={(row) => sayMonth(voice, row.id)}
          />
        </section>
      )}
    </div>
  );
}

/** By whatever hand. */
const pouredLitres = (row: WaterSum): number => row.refillCrewLitres + row.refillOtherLitres;

function sumOf(rows: readonly WaterSum[]): WaterSum | null {
  const first = rows[0];
  if (first === undefined) return null;
  const sum = (pick: (row: WaterSum) => number): number => rows.reduce((total, row) => total + pick(row), 0);
  return {
    id: first.id,
    name: first.name,
    month: first.month,
    ...addFigures(rows),
    // Independent pots: variances add.
    sdLitres: Math.sqrt(sum((row) => row.sdLitres ** 2)),
    containers: sum((row) => row.containers),
    containerDays: sum((row) => row.containerDays),
  };
}

/** The period in plain words. */
function Lede({ total, period, voice }: { readonly total: WaterSum; readonly period: string; readonly voice: Voice }) {
  return (
    <p class="lede say">
      {voice.say('water.lede_all', {
        period,
        pots: total.containers,
        inLitres: total.refillCrewLitres + total.refillOtherLitres + total.rainLitres,
        crewLitres: total.refillCrewLitres,
        rainLitres: total.rainLitres,
      })}{' '}
      {total.containerDays === 0
        ? null
        : voice.say('water.lede_per_pot', {
            upLitres: total.uptakeLitres,
            perPotLitres: total.uptakeLitres / total.containerDays,
          })}{' '}
      {total.leakLitres + total.overflowLitres < LEAST_SAID_LITRES
        ? voice.say('water.lede_no_loss')
        : voice.say('water.lede_loss', { leakLitres: total.leakLitres, overflowLitres: total.overflowLitres })}{' '}
      {Math.abs(total.unexplainedLitres) < LEAST_SAID_LITRES
        ? null
        : voice.say('water.lede_unexplained', { unexplainedLitres: Math.abs(total.unexplainedLitres) })}
    </p>
  );
}

function SumTable({
  head,
  caption,
  rows,
  total,
  voice,
  linkOf,
  nameOf,
}: {
  readonly head: string;
  readonly caption: string | null;
  readonly rows: readonly WaterSum[];
  readonly total: WaterSum | null;
  readonly voice: Voice;
  readonly linkOf: ((row: WaterSum) => string) | null;
  readonly nameOf: (row: WaterSum) => string;
}) {
  const most = Math.max(...rows.map(pouredLitres), 1);
  const cells = (row: WaterSum) => (
    <>
      <td>{formatNumber(row.containers, voice.reader, 0)}</td>
      <td>{formatVolume(row.refillCrewLitres, voice.reader)}</td>
      <td>{formatVolume(row.refillOtherLitres, voice.reader)}</td>
      <td>{formatVolume(row.rainLitres, voice.reader)}</td>
      <td>{formatVolume(row.uptakeLitres, voice.reader)}</td>
      <td>{formatVolume(row.leakLitres, voice.reader)}</td>
      <td>{formatVolume(row.overflowLitres, voice.reader)}</td>
      <td>{formatVolume(row.unexplainedLitres, voice.reader)}</td>
      <td>{row.containerDays === 0 ? '–' : formatVolume(pouredLitres(row) / row.containerDays, voice.reader)}</td>
    </>
  );
  return (
    <ScrollRegion label={head} wide>
      <table class="figures">
        {caption === null ? null : <caption class="smallest soft">{caption}</caption>}
        <thead>
          <tr>
            <th scope="col">{head}</th>
            <th scope="col">{voice.say('water.col.pots')}</th>
            <th scope="col">{voice.say('water.col.crew')}</th>
            <th scope="col">{voice.say('water.col.other')}</th>
            <th scope="col">{voice.say('water.col.rain')}</th>
            <th scope="col">{voice.say('water.col.uptake')}</th>
            <th scope="col">{voice.say('water.col.leak')}</th>
            <th scope="col">{voice.say('water.col.overflow')}</th>
            <th scope="col">{voice.say('water.col.unexplained')}</th>
            <th scope="col">{voice.say('water.col.per_pot')}</th>
          </tr>
        </thead>
        <tbody>
          {rows.map((row) => (
            <tr key={row.id}>
              <th scope="row">
                {linkOf === null ? nameOf(row) : <a href={linkOf(row)}>{nameOf(row)}</a>}
                <span class="crew-bar" aria-hidden="true">
                  <i style={{ width: `${((pouredLitres(row) / most) * 100).toFixed(1)}%` }} />
                </span>
              </th>
              {cells(row)}
            </tr>
          ))}
        </tbody>
        {total === null ? null : (
          <tfoot>
            <tr>
              <th scope="row">{voice.say('water.total')}</th>
              {cells(total)}
            </tr>
          </tfoot>
        )}
      </table>
    </ScrollRegion>
  );
}

/** Litres, as in all our files. */
function csvOf(by: By, rows: readonly WaterSum[], review: WaterReview | null): string {
  const reviewed = new Map(review?.items.map((item) => [item.id, item]));
  return toCsv(
    [
      by,
      'name',
      'containers',
      'container_days',
      'opening_l',
      'refill_crew_l',
      'refill_other_l',
      'rain_l',
      'uptake_l',
      'leak_l',
      'overflow_l',
      'drained_l',
      'unexplained_l',
      'closing_l',
      'sd_l',
      'visits',
      'meter_l',
      'dry_hours',
      'pot_mm',
      'weather_l',
      'cost',
      'loss_cost',
      'currency',
    ],
    rows.map((row) => {
      const item = reviewed.get(row.id);
      const figures = item === undefined ? null : figuresOf(item, review?.pricePerM3 ?? null);
      return [
        row.id,
        row.name,
        row.containers,
        row.containerDays,
        row.openingLitres,
        row.refillCrewLitres,
        row.refillOtherLitres,
        row.rainLitres,
        row.uptakeLitres,
        row.leakLitres,
        row.overflowLitres,
        row.drainedLitres,
        row.unexplainedLitres,
        row.closingLitres,
        row.sdLitres,
        item?.visits ?? null,
        item?.meterLitres ?? null,
        item?.dryHours ?? null,
        item?.potMm ?? null,
        item?.weatherLitres ?? null,
        figures?.cost ?? null,
        figures?.lossCost ?? null,
        figures?.cost == null ? null : (review?.currency ?? null),
      ];
    }),
  );
}
