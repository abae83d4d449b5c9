import { formatNumber, formatVolume } from '../../../src/domain/texts/render.js';
import type { ReviewItem, WaterReview } from '../api/views.js';
import { figuresOf, type ReviewFigures } from '../state/review.js';
import type { Voice } from '../state/voice.js';
import { ScrollRegion } from './scroll-region.js';

/** Closer than this to what the weather explains is no difference: as two months of the same pot differ anyway; a guess. */
const LEAST_BEYOND = 0.1;

/** Visits, meter, cost and thirst of a period, against the one before and its weather. */
export function WaterReviewPart({
  review,
  items,
  total,
  head,
  voice,
  linkOf,
}: {
  readonly review: WaterReview;
  readonly items: readonly ReviewItem[];
  readonly total: ReviewItem;
  readonly head: string;
  readonly voice: Voice;
  readonly linkOf: (item: ReviewItem) => string;
}) {
  const price = review.pricePerM3;
  const figures = figuresOf(total, price);
  return (
    <section aria-labelledby="review-title" class="review">
      <h2 id="review-title">{voice.say('review.title')}</h2>
      <ul class="review-words">
        {sentencesOf(total, figures, voice).map((words) => (
          <li key={words}>{words}</li>
        ))}
        {figures.cost === null || figures.lossCost === null ? null : (
          <li class="no-print">
            {voice.say('review.cost', {
              cost: sayMoney(figures.cost, review.currency, voice),
              lossCost: sayMoney(figures.lossCost, review.currency, voice),
            })}
          </li>
        )}
      </ul>
      <ScrollRegion label={voice.say('review.table')} wide>
        <table class="figures">
          <caption class="smallest soft">{voice.say('review.caption')}</caption>
          <thead>
            <tr>
              <th scope="col">{head}</th>
              <th scope="col">{voice.say('review.col.visits')}</th>
              <th scope="col">{voice.say('review.col.per_visit')}</th>
              <th scope="col">{voice.say('review.col.meter')}</th>
              <th scope="col">{voice.say('review.col.took')}</th>
              {price === null ? null : (
                <th scope="col" class="no-print">
                  {voice.say('review.col.cost')}
                </th>
              )}
              {price === null ? null : (
                <th scope="col" class="no-print">
                  {voice.say('review.col.loss')}
                </th>
              )}
              <th scope="col">{voice.say('review.col.dry')}</th>
              <th scope="col">{voice.say('review.col.per_pot_mm')}</th>
              <th scope="col">{voice.say('review.col.beyond')}</th>
            </tr>
          </thead>
          <tbody>
            {items.map((item) => (
              <tr key={item.id}>
                <th scope="row">
                  <a href={linkOf(item)}>{item.name}</a>
                </th>
                <Cells item={item} review={review} voice={voice} />
              </tr>
            ))}
          </tbody>
          <tfoot>
            <tr>
              <th scope="row">{voice.say('water.total')}</th>
              <Cells item={total} review={review} voice={voice} />
            </tr>
          </tfoot>
        </table>
      </ScrollRegion>
    </section>
  );
}

export function sayMoney(amount: number, currency: string, voice: Voice): string {
  return new Intl.NumberFormat(voice.reader.locale, { style: 'currency', currency }).format(amount);
}

function Cells({
  item,
  review,
  voice,
}: {
  readonly item: ReviewItem;
  readonly review: WaterReview;
  readonly voice: Voice;
}) {
  const figures = figuresOf(item, review.pricePerM3);
  const volume = (litres: number | null): string => (litres === null ? '–' : formatVolume(litres, voice.reader));
  // The printed page goes to the client, whom the firm's own cost is no business of.
  const money = (amount: number | null) => (
    <td class="no-print">{amount === null ? '–' : sayMoney(amount, review.currency, voice)}</td>
  );
  return (
    <>
      <td>{formatNumber(item.visits, voice.reader, 0)}</td>
      <td>{volume(figures.litresPerVisit)}</td>
      <td>{volume(item.meterLitres)}</td>
      <td>{volume(item.tookLitres)}</td>
      {review.pricePerM3 === null ? null : money(figures.cost)}
      {review.pricePerM3 === null ? null : money(figures.lossCost)}
      <td>{formatNumber(item.dryHours, voice.reader, 0)}</td>
      <td>{figures.litresPerPotMm === null ? '–' : sayPerMm(figures.litresPerPotMm, voice)}</td>
      <td>{figures.beyondWeatherFraction === null ? '–' : sayShare(figures.beyondWeatherFraction, voice)}</td>
    </>
  );
}

/** Litres a millimetre are mostly below one, where whole tenths would say nothing. */
const sayPerMm = (litres: number, voice: Voice): string => formatNumber(litres, voice.reader, 2);

const sayShare = (fraction: number, voice: Voice): string =>
  new Intl.NumberFormat(voice.reader.locale, { style: 'percent', signDisplay: 'exceptZero' }).format(fraction);

function sentencesOf(total: ReviewItem, figures: ReviewFigures, voice: Voice): readonly string[] {
  const words: string[] = [
    voice.say('review.visits', { visits: total.visits, meterLitres: total.meterLitres, tookLitres: total.tookLitres }),
  ];
  words.push(
    total.dryHours === 0
      ? voice.say('review.never_dry')
      : voice.say('review.dry', {
          standHours: total.dryHours,
          shareFraction: total.containerDays === 0 ? null : total.dryHours / (24 * total.containerDays),
        }),
  );
  if (total.before !== null && total.before.containerDays > 0 && figures.litresPerPotDay !== null) {
    words.push(
      voice.say('review.before', {
        nowLitres: figures.litresPerPotDay,
        beforeLitres: total.before.uptakeLitres / total.before.containerDays,
      }),
    );
  }
  const beyond = figures.beyondWeatherFraction;
  if (beyond !== null) {
    words.push(
      Math.abs(beyond) < LEAST_BEYOND
        ? voice.say('review.as_weather')
        : voice.say(beyond > 0 ? 'review.more_than_weather' : 'review.less_than_weather', {
            shareFraction: Math.abs(beyond),
          }),
    );
  }
  return words;
}
