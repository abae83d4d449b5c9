import { useState } from 'preact/hooks';
import type { PlanTotals, Supposed, UrgentOffer } from '../api/views.js';
import { daysFrom } from '../state/plan-board.js';
import { toClock } from '../state/week.js';
import { sayShare } from '../state/words.js';
import { useApp, useLive } from './app-context.js';
import { SelectField, TextField } from './fields.js';
import { usePlanDesk } from './plan-context.js';
import { ScrollRegion } from './scroll-region.js';
import { Sign } from './sign.js';

/** Somebody is ill, or a truck has broken down: what it would cost first, then it is entered and the plan follows. */
export function SickAside() {
  const { voice, client, cache, resources, announce } = useApp();
  const desk = usePlanDesk();
  const { firstDay, dayCount, people } = desk.plan;
  const trucks = useLive(resources.crew()).data?.trucks ?? [];
  const [who, setWho] = useState(`person ${people[0]?.id ?? ''}`);
  const [fromDay, setFromDay] = useState(firstDay);
  const [toDay, setToDay] = useState(firstDay);
  const [answer, setAnswer] = useState<Supposed | null>(null);
  const [kind = '', ...rest] = who.split(' ');
  const id = rest.join(' ');
  const name = kind === 'person' ? desk.personName(id) : (trucks.find((one) => one.id === id)?.name ?? id);
  const changed = (set: () => void) => {
    set();
    setAnswer(null);
  };
  return (
    <form
      class="aside-form"
      onSubmit={(event) => {
        event.preventDefault();
        desk.run(async () => {
          const days = daysFrom(firstDay, dayCount).filter((day) => day >= fromDay && day <= toDay);
          setAnswer((await client.send('POST', '/plan/what-if', { withoutPersonId: id, days })) as unknown as Supposed);
        });
      }}
    >
      <SelectField
        label={voice.say('board.sick_who')}
        value={who}
        options={[
          ...people.map((one) => ({ value: `person ${one.id}`, words: one.name })),
          ...trucks.map((one) => ({ value: `truck ${one.id}`, words: one.name })),
        ]}
        onValue={(value) => changed(() => setWho(value))}
      />
      <TextField
        label={voice.say('board.sick_from')}
        type="date"
        value={fromDay}
        required
        onValue={(value) => changed(() => setFromDay(value))}
      />
      <TextField
        label={voice.say('board.sick_to')}
        type="date"
        value={toDay}
        min={fromDay}
        required
        onValue={(value) => changed(() => setToDay(value))}
      />
      {kind === 'person' ? (
        <button type="submit" class="press" disabled={desk.busy}>
          {voice.say('board.sick_see')}
        </button>
      ) : null}
      {desk.busy ? <p role="status">{voice.say('board.working')}</p> : null}
      {answer === null ? null : <Comparison answer={answer} />}
      {desk.mayPlan ? (
        <button
          type="button"
          class="press press--first"
          disabled={desk.busy || toDay < fromDay}
          onClick={() =>
            desk.run(async () => {
              const personId = kind === 'person' ? id : null;
              const truckId = kind === 'truck' ? id : null;
              await client.send('POST', '/absences', { personId, truckId, fromDay, toDay, reason: null });
              await client.send('POST', '/plan/run', {});
              desk.open(null);
              await Promise.all([cache.refresh('plan'), cache.refresh('crew')]);
              announce(voice.say('board.sick_did', { who: name }));
            })
          }
        >
          {voice.say('board.sick_do')}
        </button>
      ) : null}
    </form>
  );
}

/** An alarm at ten: who could still go today, and what each way would cost. */
export function UrgentAside({ siteId: asked }: { readonly siteId: string | null }) {
  const { voice, client, cache, announce } = useApp();
  const desk = usePlanDesk();
  const sites = desk.plan.sites.toSorted((a, b) => a.name.localeCompare(b.name));
  const [siteId, setSiteId] = useState(asked ?? sites[0]?.id ?? '');
  const [offers, setOffers] = useState<readonly UrgentOffer[] | null>(null);
  const site = desk.siteName(siteId);

  function take(offer: UrgentOffer): void {
    desk.run(async () => {
      const { refused } = (await client.send('POST', '/plan/offers/accept', {
        siteId,
        personId: offer.personId,
      })) as unknown as { readonly refused: readonly { readonly code: string; readonly params: object }[] };
      const [first] = refused;
      if (first !== undefined) {
        announce(voice.tell(first as Parameters<typeof voice.tell>[0]));
        return;
      }
      desk.open(null);
      await Promise.all([cache.refresh('plan'), cache.refresh('today')]);
      announce(voice.say('board.offer_did', { name: desk.personName(offer.personId), site }));
    });
  }

  return (
    <form
      class="aside-form"
      onSubmit={(event) => {
        event.preventDefault();
        desk.run(async () => {
          const answer = (await client.send('POST', '/plan/offers', { siteId })) as unknown as {
            readonly items: readonly UrgentOffer[];
          };
          setOffers(answer.items);
        });
      }}
    >
      <SelectField
        label={voice.say('board.urgent_site')}
        value={siteId}
        options={sites.map((one) => ({ value: one.id, words: one.name }))}
        onValue={(value) => {
          setSiteId(value);
          setOffers(null);
        }}
      />
      <button type="submit" class="press press--first" disabled={desk.busy || siteId === ''}>
        {voice.say('board.urgent_ask')}
      </button>
      {offers === null ? null : (
        <ol class="offers">
          {offers.length === 0 ? <li>{voice.say('board.urgent_none')}</li> : null}
          {offers.map((offer) => (
            <li key={`${offer.personId} ${offer.position}`} class="offer">
              <Offer offer={offer} />
              {desk.mayPlan ? (
                <button type="button" class="press" disabled={desk.busy} onClick={() => take(offer)}>
                  {voice.say('board.offer_take', { name: desk.personName(offer.personId) })}
                </button>
              ) : null}
            </li>
          ))}
        </ol>
      )}
    </form>
  );
}

function Offer({ offer }: { readonly offer: UrgentOffer }) {
  const { voice } = useApp();
  const desk = usePlanDesk();
  const later = offer.later.map((one) =>
    voice.say('board.offer_later_one', { site: desk.siteName(one.siteId), minutes: String(Math.round(one.minutes)) }),
  );
  return (
    <>
      <p>
        <strong>
          {voice.say('board.offer', {
            name: desk.personName(offer.personId),
            clock: toClock(offer.arrivalMinute),
          })}
        </strong>
      </p>
      <p class="small">
        {voice.say('board.offer_cost', { extraMinutes: offer.extraMinutes, overtimeMinutes: offer.overtimeMinutes })}{' '}
        {voice.say('board.offer_order', { position: offer.position + 1 })}{' '}
        {voice.say('board.offer_risk', {
          before: sayShare(voice, offer.riskBeforeFraction),
          after: sayShare(voice, offer.riskAfterFraction),
        })}{' '}
        {offer.riskMovedPots < 0.005 ? null : voice.say('board.offer_moved', { pots: offer.riskMovedPots })}
      </p>
      {later.length === 0 ? null : <p class="small">{voice.say('board.offer_later', { sites: later.join(', ') })}</p>}
      {offer.missed.length === 0 ? null : (
        <p class="small">
          <Sign kind="now">
            {voice.say('board.offer_missed', { sites: offer.missed.map((id) => desk.siteName(id)).join(', ') })}
          </Sign>
        </p>
      )}
      {offer.exceedsShift ? <Sign kind="now">{voice.say('board.offer_long')}</Sign> : null}
      {offer.runsDry ? <Sign kind="now">{voice.say('board.offer_dry')}</Sign> : null}
    </>
  );
}

/** A copy of the plan under another sky, with fewer hands or another risk. */
export function WhatIfAside() {
  const { voice, client } = useApp();
  const desk = usePlanDesk();
  const [hotter, setHotter] = useState('');
  const [without, setWithout] = useState('');
  const [risk, setRisk] = useState('');
  const [answer, setAnswer] = useState<Supposed | null>(null);
  return (
    <form
      class="aside-form"
      onSubmit={(event) => {
        event.preventDefault();
        desk.run(async () => {
          setAnswer(null);
          setAnswer(
            (await client.send('POST', '/plan/what-if', {
              hotterByC: hotter === '' ? null : Number(hotter),
              withoutPersonId: without === '' ? null : without,
              dryRiskFraction: risk === '' ? null : Number(risk) / 100,
            })) as unknown as Supposed,
          );
        });
      }}
    >
      <TextField
        label={voice.say('board.if_hotter')}
        type="number"
        min="0"
        max="20"
        step="any"
        value={hotter}
        onValue={setHotter}
      />
      <SelectField
        label={voice.say('board.if_without')}
        value={without}
        options={[
          { value: '', words: voice.say('board.if_nobody') },
          ...desk.plan.people.map((one) => ({ value: one.id, words: one.name })),
        ]}
        onValue={setWithout}
      />
      <TextField
        label={voice.say('board.if_risk')}
        type="number"
        min="0.1"
        max="50"
        step="any"
        value={risk}
        onValue={setRisk}
      />
      <p class="smallest soft">{voice.say('board.if_as_agreed')}</p>
      <button type="submit" class="press press--first" disabled={desk.busy}>
        {voice.say('board.if_see')}
      </button>
      {desk.busy ? <p role="status">{voice.say('board.working')}</p> : null}
      {answer === null ? null : (
        <>
          <Comparison answer={answer} />
          <p class="smallest soft">{voice.say('board.if_note')}</p>
        </>
      )}
    </form>
  );
}

function Comparison({ answer }: { readonly answer: Supposed }) {
  const { voice } = useApp();
  const number = (value: number, digits = 0): string =>
    new Intl.NumberFormat(voice.reader.locale, { maximumFractionDigits: digits }).format(value);
  const litres = (value: number): string => voice.say('quantity.litres', { litres: value });
  const row = (words: string, of: (totals: PlanTotals) => string) => (
    <tr>
      <th scope="row">{words}</th>
      <td>{of(answer.asIs)}</td>
      <td>{of(answer.supposed)}</td>
    </tr>
  );
  return (
    <ScrollRegion label={voice.say('board.if_table')} wide>
      <table class="marks">
        <thead>
          <tr>
            <th scope="col">
              <span class="unseen">{voice.say('board.if_table')}</span>
            </th>
            <th scope="col">{voice.say('board.if_as_is')}</th>
            <th scope="col">{voice.say('board.if_then')}</th>
          </tr>
        </thead>
        <tbody>
          {row(voice.say('board.if_truck_days'), (one) => number(one.truckDays))}
          {row(voice.say('board.if_stops'), (one) => number(one.stops))}
          {row(voice.say('board.if_km'), (one) => number(one.km))}
          {row(voice.say('board.if_drive'), (one) => number(one.driveMinutes / 60, 1))}
          {row(voice.say('board.if_overtime'), (one) => number(one.overtimeMinutes / 60, 1))}
          {row(voice.say('board.if_litres'), (one) => litres(one.litres))}
          <tr>
            <th scope="row">{voice.say('board.if_risks')}</th>
            <td>{number(answer.risksAsIs.length)}</td>
            <td>{number(answer.risksSupposed.length)}</td>
          </tr>
        </tbody>
      </table>
    </ScrollRegion>
  );
}
